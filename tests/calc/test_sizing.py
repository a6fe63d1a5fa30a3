"""To size: infeed and stand-off, diameters along the cone, passes and their time."""

import math

import pytest
from hypothesis import given

from assistant.calc import sizing, taper
from assistant.calc.sizing import Passes
from assistant.calc.taper import Taper
from assistant.errors import OutOfRange
from assistant.quantity import Angle, Duration, Feed, Length, SpindleSpeed
from tests.calc.golden import rows
from tests.calc.strategies import diameters, lengths, offsets, tapers

Row = dict[str, str]


@pytest.mark.parametrize("row", rows("sizing"))
def test_an_infeed_matches_the_published_and_drawn_rows(row: Row) -> None:
    cone = Taper(Angle.from_degrees(float(row["half_angle_deg"])))
    infeed, change = Length(float(row["infeed_mm"])), Length(float(row["diameter_mm"]))

    assert sizing.diameter_for_infeed(cone, infeed).mm == pytest.approx(change.mm, rel=1e-12)
    assert sizing.infeed_for_diameter(cone, change).mm == pytest.approx(infeed.mm, rel=1e-12)
    if row["stand_off_mm"]:  # none on the cylinder of the published row
        stand_off = Length(float(row["stand_off_mm"]))
        assert sizing.stand_off_for_infeed(cone, infeed).mm == pytest.approx(stand_off.mm)
        assert sizing.infeed_for_stand_off(cone, stand_off).mm == pytest.approx(infeed.mm)


@pytest.mark.parametrize("row", rows("stations"))
def test_a_diameter_along_a_standard_taper_is_the_published_one(row: Row) -> None:
    cone = taper.from_per_foot(Length.from_inches(float(row["per_foot_in"])))
    large, station, diameter = (
        Length.from_inches(float(row[name])) for name in ("large_in", "station_in", "diameter_in")
    )
    within = float(row["within_in"])

    assert sizing.diameter_at(cone, large, station).inches == pytest.approx(
        diameter.inches, abs=within
    )
    assert sizing.station_of(cone, large, diameter).inches == pytest.approx(
        station.inches, abs=within / cone.rate
    )


@given(tapers, offsets)
def test_infeed_and_stand_off_are_each_others_reverse(cone: Taper, stand_off: Length) -> None:
    there = sizing.infeed_for_stand_off(cone, stand_off)
    and_back = sizing.stand_off_for_infeed(cone, there)
    assert and_back.mm == pytest.approx(stand_off.mm, rel=1e-12, abs=1e-300)


@given(tapers, offsets)
def test_infeed_and_diameter_are_each_others_reverse(cone: Taper, change: Length) -> None:
    there = sizing.infeed_for_diameter(cone, change)
    and_back = sizing.diameter_for_infeed(cone, there)
    assert and_back.mm == pytest.approx(change.mm, rel=1e-12, abs=1e-300)


@given(tapers, diameters, diameters)
def test_stations_and_diameters_are_each_others_reverse(
    cone: Taper, large: Length, diameter: Length
) -> None:
    station = sizing.station_of(cone, large, diameter)
    # Beyond the large end the subtraction adds; towards the point figures cancel.
    assert sizing.diameter_at(cone, large, station).mm == pytest.approx(diameter.mm, rel=1e-12)


@given(tapers, lengths(0.01, 2.0), lengths(50.0, 300.0))
def test_a_gauge_goes_on_by_as_far_as_its_diameter_moves(
    cone: Taper, infeed: Length, large: Length
) -> None:
    """Two formulas, one fact: what the fixed diameter loses is what the stand-off finds."""
    moved = sizing.stand_off_for_infeed(cone, infeed)
    lost = sizing.diameter_for_infeed(cone, infeed)

    assert lost.mm == pytest.approx(moved.mm * cone.rate, rel=1e-12)
    new_large = Length(large.mm + 100.0 - lost.mm)
    assert sizing.station_of(cone, Length(large.mm + 100.0), new_large).mm == pytest.approx(
        moved.mm, rel=1e-6, abs=1e-9
    )


@pytest.mark.parametrize("row", rows("passes"))
def test_passes_match_the_hand_worked_rows(row: Row) -> None:
    got = sizing.passes_left(Length(float(row["infeed_mm"])), Length(float(row["depth_mm"])))

    assert got.full == int(row["full"])
    assert got.last.mm == pytest.approx(float(row["last_mm"]), abs=1e-12)


@given(lengths(0.0, 50.0), lengths(0.005, 5.0))
def test_the_passes_add_up_to_the_infeed(infeed: Length, depth: Length) -> None:
    got = sizing.passes_left(infeed, depth)

    assert got.full * depth.mm + got.last.mm == pytest.approx(infeed.mm, abs=depth.mm * 2e-9)
    assert 0 <= got.last.mm < depth.mm


def test_a_whole_number_of_passes_leaves_no_last_one() -> None:
    # 0.3 / 0.1 is 2.9999999999999996: without care it is two passes and one of 0.0999...
    assert sizing.passes_left(Length(0.3), Length(0.1)) == Passes(3, Length(0.0))


@pytest.mark.parametrize("row", rows("pass_times"))
def test_a_pass_takes_as_long_as_worked_by_hand(row: Row) -> None:
    got = sizing.pass_time(
        Length(float(row["length_mm"])),
        Feed(float(row["feed_mm_per_rev"])),
        SpindleSpeed(float(row["rpm"])),
    )

    assert got.s == pytest.approx(float(row["seconds"]), rel=1e-12)


def test_twice_the_feed_takes_half_the_time() -> None:
    slow = sizing.pass_time(Length(100.0), Feed(0.1), SpindleSpeed(250.0))

    assert sizing.pass_time(Length(100.0), Feed(0.2), SpindleSpeed(250.0)) == Duration(slow.s / 2)


def test_a_station_beyond_the_point_is_refused_with_where_it_is() -> None:
    with pytest.raises(OutOfRange) as caught:
        sizing.diameter_at(taper.from_ratio(20), Length(10.0), Length(200.0))

    assert str(caught.value) == ("The station must be before the cone's point at 200 mm, not 200.")


@pytest.mark.parametrize(
    ("infeed", "depth", "name"),
    [(-0.1, 0.1, "infeed to go"), (1.0, 0.0, "depth of cut"), (1e300, 1e-300, "depth of cut")],
)
def test_passes_that_cannot_be_counted_are_refused(infeed: float, depth: float, name: str) -> None:
    with pytest.raises(OutOfRange) as caught:
        sizing.passes_left(Length(infeed), Length(depth))

    assert caught.value.name == name


def test_a_cylinder_is_the_limit_of_a_slender_cone() -> None:
    slender = Taper(Angle(1e-9))

    assert sizing.diameter_for_infeed(slender, Length(0.5)).mm == pytest.approx(1.0, rel=1e-15)
    assert math.isclose(sizing.infeed_for_diameter(slender, Length(1.0)).mm, 0.5)
