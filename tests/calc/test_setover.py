"""The set-over's way back, its handbook form, its side, the head's zero and its travel."""

import pytest
from hypothesis import given

from assistant.calc import setover, taper
from assistant.calc.setover import End, Side, ToolPost
from assistant.calc.taper import Taper
from assistant.errors import OutOfRange
from assistant.quantity import Length
from tests.calc.golden import rows
from tests.calc.strategies import ball_lengths, offsets, tapers


@pytest.mark.parametrize("row", rows("handbook_difference"), ids=lambda row: row["one_in"])
def test_the_handbook_is_over_by_the_difference_worked_apart(row: dict[str, str]) -> None:
    cone, length = taper.from_ratio(float(row["one_in"])), Length(float(row["length_mm"]))
    got = setover.handbook_difference(cone, length)

    assert got.mm == pytest.approx(float(row["difference_mm"]), rel=1e-13)


@pytest.mark.parametrize("row", rows("head_zero"), ids=lambda row: row["reading_mm"])
def test_the_head_s_zero_is_added_to_its_reading(row: dict[str, str]) -> None:
    reading, zero, over = (Length(float(row[f"{n}_mm"])) for n in ("reading", "zero", "set_over"))

    assert setover.true_set_over(reading, zero).mm == pytest.approx(over.mm, abs=1e-12)
    assert setover.head_reading(over, zero).mm == pytest.approx(reading.mm, abs=1e-12)


def test_the_tailstock_end_too_small_is_put_right_by_moving_away() -> None:
    # US Coast Guard General Subjects exam bank, question 642, coastguardexams.com: with the
    # work too small at the tailstock, move it away from the operator.
    assert setover.side(End.TAILSTOCK, ToolPost.FRONT) is Side.TOWARDS_OPERATOR


@given(tapers, ball_lengths)
def test_the_set_over_of_a_taper_turns_that_taper(cone: Taper, length: Length) -> None:
    over = setover.set_over(cone, length)

    for either_side in (over, -over):
        got = setover.taper_turned(either_side, length)
        assert got.half_angle.rad == pytest.approx(cone.half_angle.rad, rel=1e-13)


@given(tapers, ball_lengths)
def test_the_handbook_s_set_over_is_the_true_one_and_the_difference(
    cone: Taper, length: Length
) -> None:
    true, over = setover.set_over(cone, length), setover.handbook_difference(cone, length)

    assert over.mm > 0
    assert (true + over).mm == pytest.approx(setover.handbook_set_over(cone, length).mm, rel=1e-15)


@given(offsets, offsets)
def test_the_reading_for_a_set_over_gives_that_set_over(over: Length, zero: Length) -> None:
    got = setover.true_set_over(setover.head_reading(over, zero), zero)

    assert got.mm == pytest.approx(over.mm, abs=1e-13)


@pytest.mark.parametrize("over_mm", [0.0, 200.0, -250.0])
def test_a_set_over_of_nothing_or_of_the_whole_length_turns_nothing(over_mm: float) -> None:
    with pytest.raises(OutOfRange) as caught:
        setover.taper_turned(Length(over_mm), Length(200.0))

    assert caught.value.name == "set-over"


@pytest.mark.parametrize("over_mm", [15.0, -15.0, 0.0])
def test_the_head_reaches_its_travel_to_both_sides(over_mm: float) -> None:
    assert setover.within_travel(Length(over_mm), Length(15.0)) == Length(over_mm)


@pytest.mark.parametrize("over_mm", [15.01, -15.01])
def test_the_head_reaches_no_further(over_mm: float) -> None:
    with pytest.raises(OutOfRange, match="no more than the head's 15 mm travel"):
        setover.within_travel(Length(over_mm), Length(15.0))
