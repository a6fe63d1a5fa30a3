"""The next part of another length: the same taper, a new set-over."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.calc import next_part, setover
from assistant.calc.taper import Taper
from assistant.calc.tolerance import Tolerance
from assistant.errors import OutOfRange, WrongKind
from assistant.quantity import Angle, Length
from tests.calc.golden import rows
from tests.calc.strategies import ball_lengths, tapers, tolerances

Row = dict[str, str]


@pytest.mark.parametrize("row", rows("next_part"))
def test_the_next_part_matches_the_worked_rows(row: Row) -> None:
    cone = Taper(Angle.from_degrees(float(row["half_angle_deg"])))
    length, new = Length(float(row["length_mm"])), Length(float(row["new_length_mm"]))

    # 199.9 is no exact number in binary, and the differences of 200 from it feel that.
    assert next_part.new_set_over(cone, new).mm == pytest.approx(float(row["new_set_over_mm"]))
    assert next_part.move_from_here(cone, length, new).mm == pytest.approx(
        float(row["move_mm"]), rel=1e-12
    )
    assert next_part.angle_error(cone, length, new).rad == pytest.approx(
        float(row["error_rad"]), rel=1e-12
    )


@pytest.mark.parametrize("row", rows("lengths_allowed"))
def test_the_length_allowed_matches_the_worked_rows(row: Row) -> None:
    cone = Taper(Angle.from_degrees(float(row["half_angle_deg"])))
    allowed = Tolerance(Angle.from_degrees(0, float(row["tolerance_min"])))

    got = next_part.length_allowed(cone, Length(float(row["length_mm"])), allowed)

    assert got.mm == pytest.approx(float(row["length_allowed_mm"]), rel=1e-12)


@pytest.mark.parametrize("row", rows("length_errors"))
def test_the_same_set_over_on_another_length_errs_by_the_published_ratio(row: Row) -> None:
    slender = Taper(Angle(1e-3))
    thought, true = (Length.from_inches(float(row[n])) for n in ("length_in", "true_length_in"))

    error = next_part.angle_error(slender, thought, true)

    turned = Taper(slender.half_angle + error)
    assert turned.rate / slender.rate == pytest.approx(
        float(row["rate_ratio"]), abs=float(row["within"])
    )


@given(tapers, ball_lengths, ball_lengths)
def test_the_move_leads_from_the_old_set_over_to_the_new(
    cone: Taper, length: Length, new: Length
) -> None:
    there = setover.set_over(cone, length) + next_part.move_from_here(cone, length, new)

    assert there.mm == pytest.approx(next_part.new_set_over(cone, new).mm, rel=1e-12, abs=1e-12)


@given(tapers, ball_lengths, ball_lengths)
def test_there_and_back_is_no_move(cone: Taper, length: Length, new: Length) -> None:
    there = next_part.move_from_here(cone, length, new)

    assert next_part.move_from_here(cone, new, length) == -there


@given(tapers, ball_lengths, st.floats(0.92, 1.5))
def test_the_error_is_what_the_old_set_over_turns_on_the_new_length(
    cone: Taper, length: Length, share: float
) -> None:
    new = length * share
    turned = setover.taper_turned(setover.set_over(cone, length), new)

    error = next_part.angle_error(cone, length, new)

    assert (cone.half_angle + error).rad == pytest.approx(turned.half_angle.rad, rel=1e-12)


@given(tapers, ball_lengths, st.floats(-1e-6, 1e-6).filter(lambda d: abs(d) > 1e-9))
def test_a_small_error_is_as_the_rule_says(cone: Taper, length: Length, share: float) -> None:
    """Relative error of the tangent's rate: minus dL / L."""
    new = length * (1 + share)
    exact_share = (new.mm - length.mm) / length.mm

    error = next_part.angle_error(cone, length, new)

    # d(tan a)/tan a = e / (sin a cos a) and d(sin a)/sin a = e / tan a: the rule is on the sine.
    assert error.rad == pytest.approx(-exact_share * cone.rate / 2, rel=1e-5)


@given(st.floats(1e-3, 0.7).map(Angle).map(Taper), ball_lengths, tolerances)
def test_the_length_allowed_uses_up_the_tolerance_on_the_shorter_side(
    cone: Taper, length: Length, allowed: Tolerance
) -> None:
    room = next_part.length_allowed(cone, length, allowed)

    shorter = next_part.angle_error(cone, length, length - room)
    longer = next_part.angle_error(cone, length, length + room)

    assert shorter.rad == pytest.approx(allowed.half_angle.rad, rel=1e-8)
    assert -allowed.half_angle.rad <= longer.rad < 0


@given(tapers, ball_lengths)
def test_a_part_of_the_same_length_needs_nothing(cone: Taper, length: Length) -> None:
    assert next_part.move_from_here(cone, length, length) == Length(0.0)
    assert next_part.angle_error(cone, length, length) == Angle(0.0)


def test_a_part_too_short_for_the_set_over_is_refused_with_the_shortest() -> None:
    with pytest.raises(OutOfRange) as caught:
        next_part.angle_error(Taper(Angle.from_degrees(30)), Length(200.0), Length(100.0))

    assert str(caught.value) == (
        "The new length must be more than 141.421 mm at this set-over, not 100."
    )


@pytest.mark.parametrize(("length", "new"), [(0.0, 200.0), (200.0, 0.0), (-1.0, 200.0)])
def test_a_length_of_nothing_is_refused(length: float, new: float) -> None:
    cone = Taper(Angle(0.02))
    for formula in (next_part.move_from_here, next_part.angle_error):
        with pytest.raises(OutOfRange, match="length"):
            formula(cone, Length(length), Length(new))


def test_a_bare_number_is_no_length() -> None:
    with pytest.raises(WrongKind, match="new length must be given as a length, not as float"):
        next_part.move_from_here(Taper(Angle(0.02)), Length(200.0), 180.0)  # type: ignore[arg-type]
