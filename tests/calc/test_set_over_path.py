"""From a stated taper and a length to the turns of the screw: published values, and laws."""

import math
from itertools import pairwise

import pytest
from hypothesis import assume, given

from assistant.calc import ball_centres, setover, taper
from assistant.calc.screw import Screw, Turns, travel, turns
from assistant.calc.setover import End, Side, ToolPost
from assistant.calc.taper import Taper
from assistant.errors import OutOfRange
from assistant.quantity import Angle, Length
from assistant.tables import standard_tapers
from tests.calc.golden import rows
from tests.calc.strategies import ball_lengths, balls, diameters, offsets, pitches, tapers


def _printed_to(figures: str) -> float:
    """Return one unit of the last figure printed; diameters and lengths are rounded too."""
    return max(10.0 ** -len(figures.partition(".")[2]), 1e-9) if "." in figures else 1e-9


@pytest.mark.parametrize("row", rows("cone_series"), ids=lambda row: f"1 in {row['one_in']}")
def test_the_cone_angle_of_1_in_n_is_the_published_one(row: dict[str, str]) -> None:
    published = Angle.from_degrees(
        *(float(row[part]) for part in ("degrees", "minutes", "seconds"))
    )
    got = taper.from_ratio(float(row["one_in"])).included_angle
    # Printed to a ten-thousandth of a second of arc.
    assert got.degrees * 3600 == pytest.approx(published.degrees * 3600, abs=6e-5)


@pytest.mark.parametrize("row", rows("per_foot"))
def test_the_taper_per_foot_of_two_diameters_is_the_published_one(row: dict[str, str]) -> None:
    large, small, apart = (
        Length.from_inches(float(row[name])) for name in ("large_in", "small_in", "length_in")
    )
    got = taper.from_diameters(large, small, apart).per_foot.inches
    assert got == pytest.approx(float(row["per_foot_in"]), abs=_printed_to(row["per_foot_in"]))


@pytest.mark.parametrize("row", rows("set_over"))
def test_the_set_over_is_the_sine_of_the_handbook_examples(row: dict[str, str]) -> None:
    length = Length.from_inches(float(row["length_in"]))
    if row["per_foot_in"]:
        cone = taper.from_per_foot(Length.from_inches(float(row["per_foot_in"])))
    else:
        cone = taper.from_diameters(
            Length.from_inches(float(row["large_in"])),
            Length.from_inches(float(row["small_in"])),
            Length.from_inches(float(row["taper_length_in"])),
        )
    assert setover.set_over(cone, length).inches == pytest.approx(float(row["sine_in"]), rel=1e-12)
    handbook = setover.handbook_set_over(cone, length).inches
    assert handbook == pytest.approx(float(row["printed_in"]), abs=_printed_to(row["printed_in"]))


@pytest.mark.parametrize("row", rows("over_balls"))
def test_the_length_over_balls_is_less_by_half_of_each(row: dict[str, str]) -> None:
    reading, head, tail = (
        Length(float(row[name])) for name in ("reading_mm", "headstock_mm", "tailstock_mm")
    )
    got = ball_centres.length_over_balls(reading, head, tail)
    assert got.mm == pytest.approx(float(row["length_mm"]), rel=1e-12)


@pytest.mark.parametrize("row", rows("screw_turns"))
def test_turns_and_divisions_are_those_worked_from_the_pitch(row: dict[str, str]) -> None:
    screw = Screw(Length(float(row["pitch_mm"])), int(row["divisions"]))
    got = turns(screw, Length(float(row["travel_mm"])))
    assert got.whole == int(row["whole"])
    assert got.divisions == pytest.approx(float(row["odd"]), abs=1e-9)


def test_morse_2_has_its_published_rate() -> None:
    # 0.59941 in per foot, read at johnfsworkshop.org (table of tapers).
    assert standard_tapers.find("morse", "2").taper.per_foot.inches == pytest.approx(0.59941)


@given(tapers)
def test_every_way_of_stating_a_taper_gives_it_back(cone: Taper) -> None:
    for again in (
        taper.from_half_angle(cone.half_angle),
        taper.from_included_angle(cone.included_angle),
        taper.from_rate(cone.rate),
        taper.from_ratio(cone.one_in),
        taper.from_per_foot(cone.per_foot),
    ):
        assert again.half_angle.rad == pytest.approx(cone.half_angle.rad, rel=1e-12)


@given(diameters, diameters, ball_lengths)
def test_swapping_the_ends_is_refused(one: Length, other: Length, apart: Length) -> None:
    assume(one < other)
    with pytest.raises(OutOfRange):
        taper.from_diameters(one, other, apart)


@given(tapers, ball_lengths)
def test_the_set_over_and_what_is_left_of_the_bed_make_the_length(
    cone: Taper, length: Length
) -> None:
    offset = setover.set_over(cone, length).mm
    along = length.mm * math.cos(cone.half_angle.rad)
    assert math.hypot(offset, along) == pytest.approx(length.mm, rel=1e-12)
    assert offset < setover.handbook_set_over(cone, length).mm


@given(tapers, ball_lengths)
def test_twice_the_length_needs_twice_the_set_over(cone: Taper, length: Length) -> None:
    twice = setover.set_over(cone, length * 2).mm
    assert twice == pytest.approx(2 * setover.set_over(cone, length).mm, rel=1e-12)


def test_turning_either_the_work_or_the_tool_post_round_reverses_the_side() -> None:
    around = [
        setover.side(End.TAILSTOCK, ToolPost.FRONT),
        setover.side(End.HEADSTOCK, ToolPost.FRONT),
        setover.side(End.HEADSTOCK, ToolPost.REAR),
        setover.side(End.TAILSTOCK, ToolPost.REAR),
    ]
    assert around[0] is Side.TOWARDS_OPERATOR
    assert all(one is not other for one, other in pairwise(around))


@given(ball_lengths, balls, balls)
def test_equal_balls_or_not_the_reading_is_the_length_and_half_of_each(
    length: Length, head: Length, tail: Length
) -> None:
    assume(length > (head + tail) * 0.5)  # or there is no work between the balls
    reading = length + (head + tail) * 0.5
    got = ball_centres.length_over_balls(reading, head, tail)
    assert got.mm == pytest.approx(length.mm, rel=1e-9)


@given(pitches, offsets)
def test_turning_the_screw_by_its_turns_travels_the_distance(pitch: Length, way: Length) -> None:
    screw = Screw(pitch, 50)
    assert travel(screw, turns(screw, way)).mm == pytest.approx(way.mm, abs=1e-12)


@given(pitches, offsets)
def test_whole_turns_and_divisions_make_up_the_turns(pitch: Length, way: Length) -> None:
    got: Turns = turns(Screw(pitch, 50), abs(way))
    assert got.whole + got.divisions / 50 == pytest.approx(got.total, abs=1e-9)
    assert 0 <= got.divisions < 50
