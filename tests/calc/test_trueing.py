"""What the cone is now, by every way of measuring it, and the move that trues it."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from scipy import stats

from assistant.calc import setover, taper, trueing
from assistant.calc.taper import Taper
from assistant.calc.tolerance import Tolerance
from assistant.calc.trueing import Contact, Correction, Finding, MeasuredLength, Plunger, Verdict
from assistant.errors import OutOfRange, UnknownName, WrongKind
from assistant.quantity import MM_PER_INCH, Angle, Length
from assistant.tables import instruments
from tests.calc.golden import rows
from tests.calc.strategies import (
    ball_lengths,
    diameters,
    half_angles,
    lengths,
    standards,
    tapers,
    tolerances,
)

Row = dict[str, str]
Floats = np.ndarray[tuple[int], np.dtype[np.float64]]

CONE = Taper(Angle.from_degrees(1.5))
DRAWS = 100_000


def exactly(mm: float) -> MeasuredLength:
    return MeasuredLength(Length(mm), Length(0.0))


def found(row: Row) -> float:
    first, second, run = (float(row[name]) for name in ("first_mm", "second", "run_mm"))
    a, b, over = exactly(first), exactly(second), exactly(run)
    match row["method"]:
        case "diameters":
            return trueing.from_diameters(a, b, over).half_angle.rad
        case "carriage":
            return trueing.from_diameters_by_carriage(a, b, over).half_angle.rad
        case "indicator square to bed":
            return trueing.from_indicator(a, over, Plunger.SQUARE_TO_BED).half_angle.rad
        case "indicator square to work":
            return trueing.from_indicator(a, over, Plunger.SQUARE_TO_WORK).half_angle.rad
        case "shake, large end":
            return trueing.from_shake(CONE, a, over, Contact.LARGE_END).half_angle.rad
        case "shake, small end":
            return trueing.from_shake(CONE, a, over, Contact.SMALL_END).half_angle.rad
        case "blue, large end":
            return trueing.from_blue(CONE, a, over, Contact.LARGE_END).half_angle.rad
        case "blue, small end":
            return trueing.from_blue(CONE, a, over, Contact.SMALL_END).half_angle.rad
        case "blue resolves":
            return trueing.blue_resolves(a.length, over.length).rad
    raise AssertionError(row["method"])


@pytest.mark.parametrize("row", rows("trueing"))
def test_a_half_angle_matches_the_published_and_worked_rows(row: Row) -> None:
    assert found(row) == pytest.approx(float(row["half_angle_rad"]), rel=1e-12)


@pytest.mark.parametrize("row", rows("rollers"))
def test_rollers_match_the_circles_drawn_against_the_side(row: Row) -> None:
    cone = Taper(Angle.from_degrees(float(row["half_angle_deg"])))
    small, roller = Length(float(row["small_mm"])), Length(float(row["roller_mm"]))
    low, high = float(row["over_low_mm"]), float(row["over_high_mm"])

    by_rollers = trueing.from_rollers(exactly(high), exactly(low), exactly(float(row["height_mm"])))

    assert by_rollers.half_angle.rad == pytest.approx(cone.half_angle.rad, rel=1e-12)
    assert trueing.over_rollers(small, roller, cone).mm == pytest.approx(low, rel=1e-13)
    assert trueing.small_end_from_rollers(Length(low), roller, cone).mm == pytest.approx(
        small.mm, rel=1e-12
    )


@pytest.mark.parametrize("row", rows("sine_bar"))
def test_a_sine_bar_matches_the_published_stacks(row: Row) -> None:
    bar, stack = float(row["bar_in"]), float(row["stack_in"])
    half = Angle.from_degrees(float(row["included_deg"]) / 2)

    got = trueing.sine_bar_stack(Taper(half), Length.from_inches(bar))
    back = trueing.from_sine_bar(
        exactly(got.mm), exactly(bar * MM_PER_INCH), exactly(0.0), Length(60.0)
    )

    assert got.inches == pytest.approx(stack, abs=float(row["within_in"]))
    assert back.half_angle.rad == pytest.approx(half.rad, rel=1e-12)


def test_a_cone_that_rises_towards_the_blocks_is_less_than_the_stack_says() -> None:
    level = trueing.from_sine_bar(exactly(10.0), exactly(100.0), exactly(0.0), Length(50.0))
    rising = trueing.from_sine_bar(exactly(10.0), exactly(100.0), exactly(0.05), Length(50.0))

    assert level.half_angle.rad - rising.half_angle.rad == pytest.approx(math.atan(0.001) / 2)


@pytest.mark.parametrize("row", rows("moves"))
def test_the_move_matches_the_worked_rows(row: Row) -> None:
    target = Taper(Angle.from_degrees(float(row["target_deg"])))
    now = Finding(Angle.from_degrees(float(row["now_deg"])), Angle(0.0), Angle(0.0))

    move = trueing.move(target, now, Length(float(row["ball_length_mm"])))

    # The two smallest moves are left of degrees that were rounded on their way to radians.
    assert move.length.mm == pytest.approx(float(row["move_mm"]), rel=1e-12, abs=1e-13)


@given(diameters, tapers, lengths(5.0, 100.0))
def test_two_diameters_of_a_cone_give_its_half_angle(
    large: Length, cone: Taper, axial: Length
) -> None:
    small = large.mm - axial.mm * cone.rate
    assume(small > 0.1)

    got = trueing.from_diameters(exactly(large.mm), exactly(small), exactly(axial.mm))

    assert got.half_angle.rad == pytest.approx(cone.half_angle.rad, abs=1e-13)


@given(diameters, diameters, lengths(250.0, 500.0))
def test_diameters_the_other_way_round_are_the_same_cone_reversed(
    one: Length, other: Length, axial: Length
) -> None:
    a, b, over = exactly(one.mm), exactly(other.mm), exactly(axial.mm)

    for formula in (trueing.from_diameters, trueing.from_diameters_by_carriage):
        assert formula(a, b, over).half_angle == -formula(b, a, over).half_angle


@given(half_angles, lengths(10.0, 500.0))
def test_both_plungers_and_a_sine_bar_agree_on_a_bar(half: Angle, travel: Length) -> None:
    bed = trueing.from_indicator(
        exactly(travel.mm * math.tan(half.rad)), exactly(travel.mm), Plunger.SQUARE_TO_BED
    )
    work = trueing.from_indicator(
        exactly(travel.mm * math.sin(half.rad)), exactly(travel.mm), Plunger.SQUARE_TO_WORK
    )
    blocks = trueing.sine_bar_stack(Taper(half), travel)
    bar = trueing.from_sine_bar(exactly(blocks.mm), exactly(travel.mm), exactly(0.0), Length(50.0))

    assert bed.half_angle.rad == pytest.approx(half.rad, rel=1e-12)
    assert work.half_angle.rad == pytest.approx(half.rad, rel=1e-12)
    assert bar.half_angle.rad == pytest.approx(half.rad, rel=1e-12)


@given(lengths(3.0, 200.0), lengths(2.0, 25.0), tapers)
def test_the_small_end_comes_back_from_the_rollers(
    small: Length, roller: Length, cone: Taper
) -> None:
    over = trueing.over_rollers(small, roller, cone)

    assert trueing.small_end_from_rollers(over, roller, cone).mm == pytest.approx(
        small.mm, rel=1e-12
    )


@given(tapers, half_angles, ball_lengths)
def test_the_move_makes_the_set_over_of_now_that_of_the_target(
    target: Taper, now: Angle, long: Length
) -> None:
    move = trueing.move(target, Finding(now, Angle(0.0), Angle(0.0)), long)

    there = setover.set_over(Taper(now), long) + move.length
    assert there.mm == pytest.approx(setover.set_over(target, long).mm, rel=1e-12, abs=1e-12)


@given(half_angles, ball_lengths)
def test_a_true_cone_needs_no_move(half: Angle, long: Length) -> None:
    now = Finding(half, Angle(0.0), Angle(0.0))

    assert trueing.move(Taper(half), now, long).length == Length(0.0)


@pytest.mark.parametrize(
    ("contact", "way", "sign"),
    [(Contact.LARGE_END, Correction.LESS, -1), (Contact.SMALL_END, Correction.MORE, 1)],
)
def test_blue_shake_and_the_move_agree_on_the_way(
    contact: Contact, way: Correction, sign: int
) -> None:
    shake = trueing.from_shake(CONE, exactly(0.05), exactly(60.0), contact)
    blue = trueing.from_blue(CONE, exactly(0.005), exactly(20.0), contact)

    assert trueing.correction(contact) is way
    for now in (shake, blue):
        assert trueing.move(CONE, now, Length(200.0)).length.mm * sign > 0


def test_a_rub_along_the_whole_length_asks_for_no_change() -> None:
    assert trueing.correction(Contact.WHOLE_LENGTH) is Correction.NONE


def close_to(mm: float, standard: float, rng: np.random.Generator) -> Floats:
    return rng.normal(mm, standard, DRAWS)


def stated(mm: float, standard: float) -> MeasuredLength:
    return MeasuredLength(Length(mm), Length(standard))


def coverage(half_angles: Floats, formula: Finding) -> float:
    """The share of drawn half angles within the stated margin of the true one."""
    return float(np.mean(np.abs(half_angles - formula.half_angle.rad) <= formula.margin.rad))


@pytest.mark.parametrize("length_standard", [0.0, 0.05, 0.5])
@pytest.mark.parametrize("steep", [30.1, 35.0, 90.0])
def test_diameters_cover_their_truth_95_times_in_100(steep: float, length_standard: float) -> None:
    rng = np.random.default_rng(3)
    large, small = close_to(steep, 0.002, rng), close_to(30.0, 0.003, rng)
    run = close_to(100.0, length_standard, rng)
    args = (stated(steep, 0.002), stated(30.0, 0.003), stated(100.0, length_standard))

    axial = np.arctan((large - small) / (2 * run))
    slant = np.arcsin((large - small) / (2 * run))

    assert 0.94 <= coverage(axial, trueing.from_diameters(*args)) <= 0.96
    assert 0.94 <= coverage(slant, trueing.from_diameters_by_carriage(*args)) <= 0.96
    assert 0.94 <= coverage(axial, trueing.from_rollers(*args)) <= 0.96


@pytest.mark.parametrize("rise", [0.5, 2.5, 25.0])
def test_an_indicator_covers_its_truth_95_times_in_100(rise: float) -> None:
    rng = np.random.default_rng(5)
    share = close_to(rise, 0.004, rng) / close_to(60.0, 0.1, rng)
    args = (stated(rise, 0.004), stated(60.0, 0.1))

    by_bed = trueing.from_indicator(*args, Plunger.SQUARE_TO_BED)
    by_work = trueing.from_indicator(*args, Plunger.SQUARE_TO_WORK)

    assert 0.94 <= coverage(np.arctan(share), by_bed) <= 0.96
    assert 0.94 <= coverage(np.arcsin(share), by_work) <= 0.96


@pytest.mark.parametrize("blocks", [2.0, 12.7, 60.0])
def test_a_sine_bar_covers_its_truth_95_times_in_100(blocks: float) -> None:
    rng = np.random.default_rng(7)
    tilt = np.arcsin(close_to(blocks, 0.001, rng) / close_to(127.0, 0.005, rng))
    level = np.arctan(close_to(0.0, 0.002, rng) / 60.0)

    formula = trueing.from_sine_bar(
        stated(blocks, 0.001), stated(127.0, 0.005), stated(0.0, 0.002), Length(60.0)
    )

    assert 0.94 <= coverage((tilt - level) / 2, formula) <= 0.96


@pytest.mark.parametrize(("contact", "sign"), [(Contact.LARGE_END, 1), (Contact.SMALL_END, -1)])
def test_shake_and_blue_cover_their_truth_95_times_in_100(contact: Contact, sign: int) -> None:
    rng = np.random.default_rng(11)
    half = CONE.half_angle.rad
    shake = np.arctan(close_to(0.08, 0.01, rng) / (2 * close_to(60.0, 1.0, rng)))
    blue = np.arctan(close_to(0.006, 0.0005, rng) / close_to(25.0, 1.0, rng))

    by_shake = trueing.from_shake(CONE, stated(0.08, 0.01), stated(60.0, 1.0), contact)
    by_blue = trueing.from_blue(CONE, stated(0.006, 0.0005), stated(25.0, 1.0), contact)

    assert 0.94 <= coverage(half + sign * shake, by_shake) <= 0.96
    assert 0.94 <= coverage(half + sign * blue, by_blue) <= 0.96


def test_the_move_covers_its_truth_95_times_in_100() -> None:
    rng = np.random.default_rng(13)
    now = np.arctan((close_to(35.0, 0.002, rng) - close_to(30.0, 0.002, rng)) / 200)
    drawn = 250.0 * (math.sin(CONE.half_angle.rad) - np.sin(now))

    formula = trueing.from_diameters(stated(35.0, 0.002), stated(30.0, 0.002), stated(100.0, 0.0))
    move = trueing.move(CONE, formula, Length(250.0))

    margin = move.standard.mm * trueing.SIGMAS_95
    assert 0.94 <= float(np.mean(np.abs(drawn - move.length.mm) <= margin)) <= 0.96


def test_an_instruments_limit_is_taken_as_any_error_up_to_it() -> None:
    drawn = np.random.default_rng(17).uniform(-0.004, 0.004, DRAWS)

    assert trueing.standard_from_limit(Length(0.004)).mm == pytest.approx(drawn.std(), rel=0.01)


def test_the_margin_is_the_normal_distributions_95_per_cent() -> None:
    assert pytest.approx(stats.norm.ppf(0.975), rel=1e-15) == trueing.SIGMAS_95


@pytest.mark.parametrize("row", rows("instruments"))
def test_instruments_come_with_their_published_limit(row: Row) -> None:
    instrument = instruments.find(row["instrument"])

    assert instrument.standard.mm * math.sqrt(3) == pytest.approx(float(row["limit_mm"]))
    assert (instrument.source, instrument.from_memory) == (row["source"], False)


def test_a_rule_of_thumb_is_marked_as_remembered_and_halved() -> None:
    instrument = instruments.find("dial indicator, 0.01 mm")

    assert (instrument.standard, instrument.from_memory) == (Length(0.0075), True)
    with pytest.raises(UnknownName, match="I know no instrument ruler"):
        instruments.find("ruler")


# A 1.5 degree cone over 100 mm with a margin of about 0.05, 0.48 and 4.8 minutes.
@pytest.mark.parametrize(
    ("standard", "off_minutes", "expected"),
    [
        (0.001, 0.0, Verdict.WITHIN),
        (0.001, 0.9, Verdict.WITHIN),
        (0.001, 1.1, Verdict.OUTSIDE),
        (0.01, 0.9, Verdict.UNPROVED),
        (0.01, -1.1, Verdict.UNPROVED),
        (0.01, -1.6, Verdict.OUTSIDE),
        (0.1, 0.0, Verdict.UNPROVED),
        (0.1, 5.0, Verdict.UNPROVED),
    ],
)
def test_a_verdict_allows_for_the_margin(
    standard: float, off_minutes: float, expected: Verdict
) -> None:
    half = CONE.half_angle + Angle.from_degrees(0, off_minutes)
    small = 30.0 - 200.0 * math.tan(half.rad)
    measured = (stated(30.0, standard), stated(small, standard), stated(100.0, 0.01))

    now = trueing.from_diameters(*measured)

    assert trueing.verdict(now, CONE, Tolerance(Angle.from_degrees(0, 1))) is expected


def test_a_proof_within_tolerance_is_wrong_at_most_once_in_forty() -> None:
    # The cone lies just outside; how often is it called within?
    allowed = Tolerance(Angle.from_degrees(0, 1))
    rng = np.random.default_rng(19)
    half = CONE.half_angle.rad + allowed.half_angle.rad * 1.0001
    margin = trueing.from_diameters(
        stated(30.0, 0.004), stated(30.0 - 200 * math.tan(half), 0.004), stated(100.0, 0.0)
    )
    drawn = half + rng.normal(0.0, margin.standard.rad, 4000)

    called = [
        trueing.verdict(
            Finding(Angle(float(rad)), margin.from_readings, margin.from_length), CONE, allowed
        )
        for rad in drawn
    ]

    assert called.count(Verdict.WITHIN) / len(called) == pytest.approx(0.025, abs=0.008)


@given(diameters, tapers, lengths(10.0, 100.0), standards, standards, tolerances)
def test_the_gauge_length_needed_just_proves_the_tolerance(
    large: Length,
    cone: Taper,
    axial: Length,
    reading: Length,
    length: Length,
    tolerance: Tolerance,
) -> None:
    def over(axial_mm: float) -> Finding:
        # Both ends far from nothing: what is asked is the slope alone.
        high = 1e6 + large.mm
        low = high - axial_mm * cone.rate
        return trueing.from_diameters(
            MeasuredLength(Length(high), reading),
            MeasuredLength(Length(low), reading),
            MeasuredLength(Length(axial_mm), length),
        )

    needed = trueing.gauge_length_needed(over(axial.mm), axial, tolerance)
    assume(1e-3 < needed.mm < 1e4)

    assert over(needed.mm).margin.rad == pytest.approx(tolerance.half_angle.rad, rel=1e-4)
    assert trueing.can_prove(over(needed.mm * 1.001), tolerance)
    assert not trueing.can_prove(over(needed.mm * 0.999), tolerance)


@given(diameters, tapers, lengths(10.0, 100.0), standards, standards, tolerances)
def test_the_instrument_needed_just_proves_the_tolerance(
    large: Length,
    cone: Taper,
    axial: Length,
    reading: Length,
    length: Length,
    tolerance: Tolerance,
) -> None:
    high = large.mm + axial.mm * cone.rate

    def by(standard: Length) -> Finding:
        return trueing.from_diameters(
            MeasuredLength(Length(high), standard),
            MeasuredLength(large, standard),
            MeasuredLength(axial, length),
        )

    now = by(reading)
    assume(now.from_length.rad * trueing.SIGMAS_95 < tolerance.half_angle.rad * 0.999)

    needed = trueing.instrument_needed(now, reading, tolerance)

    assert by(needed).margin.rad == pytest.approx(tolerance.half_angle.rad, rel=1e-9)


def test_no_instrument_makes_up_for_a_badly_known_length() -> None:
    now = trueing.from_diameters(stated(40.0, 0.002), stated(30.0, 0.002), stated(50.0, 1.0))

    with pytest.raises(OutOfRange, match="measure the length better"):
        trueing.instrument_needed(now, Length(0.002), Tolerance(Angle.from_degrees(0, 1)))


def test_readings_without_uncertainty_need_no_instrument() -> None:
    now = trueing.from_diameters(exactly(40.0), exactly(30.0), stated(50.0, 0.001))

    with pytest.raises(OutOfRange, match="uncertainty from the readings"):
        trueing.instrument_needed(now, Length(0.002), Tolerance(Angle.from_degrees(0, 1)))


@pytest.mark.parametrize(
    "refused",
    [
        lambda: trueing.from_diameters(exactly(300.0), exactly(1.0), exactly(100.0)),
        lambda: trueing.from_diameters_by_carriage(exactly(300.0), exactly(1.0), exactly(100.0)),
        lambda: trueing.from_diameters_by_carriage(exactly(300.0), exactly(1.0), exactly(170.0)),
        lambda: trueing.from_diameters(exactly(30.0), exactly(25.0), exactly(0.0)),
        lambda: trueing.from_diameters(exactly(-30.0), exactly(25.0), exactly(10.0)),
        lambda: trueing.from_sine_bar(exactly(100.0), exactly(100.0), exactly(0.0), Length(50.0)),
        lambda: trueing.from_sine_bar(exactly(-1.0), exactly(100.0), exactly(0.0), Length(50.0)),
        lambda: trueing.small_end_from_rollers(Length(20.0), Length(10.0), CONE),
        lambda: trueing.from_shake(CONE, exactly(-0.1), exactly(60.0), Contact.LARGE_END),
        lambda: trueing.from_shake(CONE, exactly(0.1), exactly(60.0), Contact.WHOLE_LENGTH),
        lambda: trueing.from_blue(CONE, exactly(0.0), exactly(60.0), Contact.LARGE_END),
        lambda: trueing.from_blue(CONE, exactly(0.005), exactly(60.0), Contact.WHOLE_LENGTH),
        lambda: trueing.move(CONE, Finding(Angle(0.1), Angle(0.0), Angle(0.0)), Length(0.0)),
        lambda: Finding(Angle.from_degrees(45), Angle(0.0), Angle(0.0)),
        lambda: Finding(Angle(0.1), Angle(-1e-9), Angle(0.0)),
        lambda: Finding(Angle(0.1), Angle(0.0), Angle(-1e-9)),
        lambda: MeasuredLength(Length(1.0), Length(-0.001)),
    ],
)
def test_what_the_formulas_do_not_hold_for_is_refused_in_a_sentence(refused: object) -> None:
    assert callable(refused)
    with pytest.raises(OutOfRange) as caught:
        refused()

    assert caught.value.name
    assert str(caught.value).startswith(f"The {caught.value.name} must be ")


def test_a_bare_length_is_no_measurement() -> None:
    with pytest.raises(WrongKind, match="must be given as a measured length, not as Length"):
        trueing.from_diameters(Length(30.0), exactly(25.0), exactly(100.0))  # type: ignore[arg-type]


def test_trueing_and_taper_agree_on_two_diameters() -> None:
    lengths = (Length(30.0), Length(25.0), Length(100.0))

    axial = trueing.from_diameters(*(exactly(length.mm) for length in lengths))

    assert axial.half_angle.rad == pytest.approx(taper.from_diameters(*lengths).half_angle.rad)
