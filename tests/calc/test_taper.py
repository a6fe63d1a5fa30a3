"""Every way the trade states a taper: published values, the way back, and what is refused."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.calc import taper
from assistant.calc.taper import Taper
from assistant.errors import OutOfRange
from assistant.quantity import Angle, Length
from tests.calc.golden import rows
from tests.calc.strategies import ball_lengths, diameters, tapers


@pytest.mark.parametrize("row", rows("cone_angles"), ids=lambda row: row["included_degrees"])
def test_the_ratio_of_a_standard_angle_is_the_published_one(row: dict[str, str]) -> None:
    got = taper.from_included_angle(Angle.from_degrees(float(row["included_degrees"])))

    assert got.one_in == pytest.approx(float(row["one_in"]), abs=5e-8)


@pytest.mark.parametrize("row", rows("per_foot_angles"), ids=lambda row: row["per_foot_in"])
def test_the_angle_of_a_taper_per_foot_is_the_published_one(row: dict[str, str]) -> None:
    cone = taper.from_per_foot(Length.from_inches(float(row["per_foot_in"])))
    published = Angle.from_degrees(
        *(float(row[part]) for part in ("degrees", "minutes", "seconds"))
    )
    got = {"half": cone.half_angle, "included": cone.included_angle}[row["angle"]]

    assert abs(got - published).degrees * 3600 <= float(row["tolerance_seconds"])


@pytest.mark.parametrize("row", rows("per_inch"), ids=lambda row: row["included_degrees"])
def test_the_taper_per_inch_of_an_angle_is_the_published_one(row: dict[str, str]) -> None:
    published = Length.from_inches(float(row["per_inch_in"]))
    stated = taper.from_included_angle(Angle.from_degrees(float(row["included_degrees"])))

    # The old table doubles a half angle's tangent of five figures, some of them cut off.
    assert stated.per_inch.inches == pytest.approx(published.inches, abs=2e-5)
    assert taper.from_per_inch(published).rate == pytest.approx(stated.rate, abs=2e-5)


@pytest.mark.parametrize("row", rows("slant"), ids=lambda row: row["slant_mm"][:6])
def test_two_diameters_over_a_slant_give_the_angle_worked_otherwise(row: dict[str, str]) -> None:
    large, small, slant = (Length(float(row[f"{end}_mm"])) for end in ("large", "small", "slant"))
    got = taper.from_diameters_over_slant(large, small, slant)

    assert got.half_angle.rad == pytest.approx(float(row["half_angle_rad"]), rel=1e-14)


@given(tapers, diameters, ball_lengths)
def test_diameters_a_length_apart_give_the_taper_back(
    cone: Taper, small: Length, apart: Length
) -> None:
    large = small + apart * cone.rate
    got = taper.from_diameters(large, small, apart)

    # What is left of the small diameter's figures in the difference bounds the agreement.
    assert got.rate == pytest.approx(cone.rate, rel=1e-15 * large.mm / (large - small).mm + 1e-14)


@given(tapers)
def test_per_cent_and_per_inch_give_the_taper_back(cone: Taper) -> None:
    for again in (taper.from_per_cent(cone.per_cent), taper.from_per_inch(cone.per_inch)):
        assert again.half_angle.rad == pytest.approx(cone.half_angle.rad, rel=1e-14)


@given(tapers, diameters, ball_lengths)
def test_a_length_along_the_side_gives_the_taper_and_along_the_axis_a_slimmer_one(
    cone: Taper, small: Length, apart: Length
) -> None:
    large = small + apart * (2 * math.sin(cone.half_angle.rad))
    lost = 1e-15 * large.mm / (large - small).mm + 1e-14

    over_slant = taper.from_diameters_over_slant(large, small, apart)
    assert over_slant.half_angle.rad == pytest.approx(cone.half_angle.rad, rel=2 * lost)
    assert taper.from_diameters(large, small, apart).half_angle < over_slant.half_angle


@given(st.floats(-6.28, 6.28))
def test_degrees_minutes_and_seconds_make_the_angle_up(rad: float) -> None:
    degrees, minutes, seconds = Angle(rad).degrees_minutes_seconds

    assert Angle.from_degrees(degrees, minutes, seconds).rad == pytest.approx(rad, rel=1e-14)
    assert abs(minutes) < 60
    assert abs(seconds) < 60
    assert {value < 0 for value in (degrees, minutes, seconds) if value} <= {rad < 0}


REFUSALS: dict[str, tuple[Callable[[], Taper], str]] = {
    "a half angle of nothing": (lambda: taper.from_half_angle(Angle(0.0)), "half angle"),
    "a half angle of 45 degrees": (lambda: Taper(Angle.from_degrees(45)), "half angle"),
    "a rate of nothing": (lambda: taper.from_rate(0.0), "taper rate"),
    "a rate of 2": (lambda: taper.from_rate(2.0), "half angle"),
    "one in nothing": (lambda: taper.from_ratio(0.0), "run of the ratio"),
    "nothing in twenty": (lambda: taper.from_ratio(20.0, rise=0.0), "rise of the ratio"),
    "nothing per cent": (lambda: taper.from_per_cent(0.0), "taper rate"),
    "nothing per foot": (lambda: taper.from_per_foot(Length(0.0)), "taper per foot"),
    "less than nothing per inch": (lambda: taper.from_per_inch(Length(-1.0)), "taper per inch"),
    "ends alike": (
        lambda: taper.from_diameters(Length(20.0), Length(20.0), Length(50.0)),
        "large diameter",
    ),
    "no length between": (
        lambda: taper.from_diameters(Length(30.0), Length(20.0), Length(0.0)),
        "length between the diameters",
    ),
    "a slant shorter than the step": (
        lambda: taper.from_diameters_over_slant(Length(30.0), Length(20.0), Length(5.0)),
        "length along the side",
    ),
}


@pytest.mark.parametrize("case", REFUSALS.values(), ids=REFUSALS.keys())
def test_what_is_no_taper_is_refused_by_name(case: tuple[Callable[[], Taper], str]) -> None:
    stated, field = case
    with pytest.raises(OutOfRange) as caught:
        stated()

    assert caught.value.name == field
