"""A tolerance is the same however it is stated."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.calc import tolerance
from assistant.calc.taper import Taper
from assistant.calc.tolerance import Tolerance
from assistant.errors import OutOfRange, UnknownName, WrongKind
from assistant.quantity import Angle, Length
from assistant.tables import cone_angle_grades
from tests.calc.golden import rows
from tests.calc.strategies import lengths, tapers

Row = dict[str, str]
STEP_OF_GRADES, STEP_OF_LENGTHS = 1.6, 1.25


@pytest.mark.parametrize("row", rows("tolerance"))
def test_an_error_over_a_length_matches_the_worked_rows(row: Row) -> None:
    cone = Taper(Angle.from_degrees(float(row["half_angle_deg"])))
    error, axial = Length(float(row["error_mm"])), Length(float(row["axial_mm"]))
    expected = Angle(float(row["tolerance_rad"]))

    assert tolerance.from_diameter_error(error, axial, cone).half_angle.rad == pytest.approx(
        expected.rad, rel=1e-12
    )
    assert tolerance.diameter_error(expected, axial, cone).mm == pytest.approx(error.mm, rel=1e-12)


@given(lengths(1e-6, 1.0), lengths(5.0, 1000.0), tapers)
def test_a_tolerance_over_a_length_comes_back(error: Length, axial: Length, cone: Taper) -> None:
    allowed = tolerance.from_diameter_error(error, axial, cone)

    back = tolerance.diameter_error(allowed.half_angle, axial, cone)

    assert back.mm == pytest.approx(error.mm, rel=1e-12)


@given(lengths(1e-6, 1.0), lengths(5.0, 1000.0), tapers)
def test_the_shallow_side_never_errs_by_more(error: Length, axial: Length, cone: Taper) -> None:
    allowed = tolerance.from_diameter_error(error, axial, cone)

    shallow = tolerance.diameter_error(-allowed.half_angle, axial, cone)

    assert -error.mm * (1 + 1e-12) <= shallow.mm < 0


@given(st.floats(1e-7, 1.5))
def test_a_zone_is_four_tolerances_and_an_included_one_two(rad: float) -> None:
    assert tolerance.from_zone(Angle(rad)).half_angle.rad * 4 == pytest.approx(rad)
    assert tolerance.from_included_angle(Angle(rad)).half_angle.rad * 2 == pytest.approx(rad)


@pytest.mark.parametrize("row", rows("cone_angle_zones"))
def test_a_grade_matches_the_remembered_table(row: Row) -> None:
    length = Length(float(row["cone_length_mm"]))
    zone = cone_angle_grades.find(row["grade"], length)

    assert zone.from_memory
    assert zone.width.rad * 1e6 == pytest.approx(float(row["microradians"]))
    assert zone.width.degrees * 3600 == pytest.approx(float(row["arcsec"]), abs=0.05)
    assert tolerance.zone_over_length(zone.width, length).mm * 1000 == pytest.approx(
        float(row["over_length_um"]), abs=0.0051
    )


def test_grades_and_lengths_step_by_preferred_numbers() -> None:
    ends = [Length(mm) for mm in (10.0, 16.0, 25.0, 40.0, 63.0, 100.0, 160.0, 250.0, 400.0, 630.0)]
    widths = [
        [cone_angle_grades.find(grade, end).width.rad for end in ends]
        for grade in cone_angle_grades.grades()
    ]

    for finer, coarser in pairwise(widths):
        assert [b / a for a, b in zip(finer, coarser, strict=True)] == pytest.approx(
            [STEP_OF_GRADES] * len(ends), rel=0.03
        )
    for row in widths:
        assert [a / b for a, b in pairwise(row)] == pytest.approx(
            [STEP_OF_LENGTHS] * (len(ends) - 1), rel=0.03
        )


def test_a_length_on_the_edge_of_a_band_belongs_to_the_shorter() -> None:
    assert cone_angle_grades.find("AT6", Length(63.0)).width == Angle(160e-6)
    assert cone_angle_grades.find("AT6", Length(63.0001)).width == Angle(125e-6)


@pytest.mark.parametrize("mm", [0.0, -1.0, 6.0, 631.0])
def test_a_length_no_grade_covers_is_refused(mm: float) -> None:
    with pytest.raises(OutOfRange, match="The cone length must be more than"):
        cone_angle_grades.find("AT6", Length(mm))


def test_a_grade_not_in_the_table_is_refused_with_those_that_are() -> None:
    with pytest.raises(UnknownName) as caught:
        cone_angle_grades.find("AT2", Length(50.0))

    assert caught.value.known == ("AT4", "AT5", "AT6", "AT7", "AT8")


@pytest.mark.parametrize("degrees", [0.0, -1.0, 45.0, 90.0])
def test_a_tolerance_of_nothing_or_of_everything_is_refused(degrees: float) -> None:
    with pytest.raises(OutOfRange, match="The tolerance must be"):
        Tolerance(Angle.from_degrees(degrees))


def test_a_tolerance_is_an_angle() -> None:
    with pytest.raises(WrongKind, match="must be given as an angle, not as Length"):
        Tolerance(Length(1.0))  # type: ignore[arg-type]


@pytest.mark.parametrize("degrees", [45.0, -45.0, 170.0])
def test_an_angle_error_beyond_any_taper_is_refused(degrees: float) -> None:
    with pytest.raises(OutOfRange, match="angle error"):
        tolerance.diameter_error(Angle.from_degrees(degrees), Length(10.0), Taper(Angle(0.1)))


def test_one_minute_on_the_half_angle_is_58_microns_over_100_mm() -> None:
    # 2 * 100 mm * 0.000290888 rad (pi / 10800), worked by hand for a slender cone.
    error = tolerance.diameter_error(Angle.from_degrees(0, 1), Length(100.0), Taper(Angle(1e-4)))

    assert error.mm == pytest.approx(200 * math.pi / 10800, rel=1e-6)
