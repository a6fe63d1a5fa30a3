"""The screw: what its dial reads, and moves that arrive from one side whatever the slack."""

import math
from collections.abc import Callable
from itertools import accumulate

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.calc import screw
from assistant.calc.screw import DialReads, Direction, Position, Screw, Turns
from assistant.errors import OutOfRange
from assistant.quantity import Length
from tests.calc.golden import rows
from tests.calc.strategies import lengths, offsets, pitches

divisions = st.integers(10, 500)
screws = st.builds(
    Screw, pitches, divisions, st.sampled_from(DialReads), backlash=lengths(0.0, 1.5)
)
turnings = st.lists(st.floats(-20.0, 20.0), max_size=6)
approaches = st.sampled_from(Direction)


def wandered(head: Screw, turned: list[float]) -> Position:
    """The position after any turning to and fro from zero."""
    position = screw.zeroed(head)
    for total in turned:
        position = screw.after(head, position, Turns(total, head.divisions))
    return position


@pytest.mark.parametrize("row", rows("threads_per_inch"), ids=lambda row: row["divisions"])
def test_threads_per_inch_give_the_published_pitch(row: dict[str, str]) -> None:
    got = Screw.from_threads_per_inch(float(row["threads"]), int(row["divisions"]))

    assert got.pitch.inches == pytest.approx(float(row["pitch_in"]), rel=1e-15)


@pytest.mark.parametrize("row", rows("screw_dials"), ids=lambda row: row["division_mm"])
def test_a_division_reads_what_the_published_dial_does(row: dict[str, str]) -> None:
    reads, count = DialReads(row["reads"]), int(row["divisions"])
    pitch, division = (Length(float(row[f"{name}_mm"])) for name in ("pitch", "division"))

    got = screw.division_reads(Screw(pitch, count, reads))
    assert got.mm == pytest.approx(division.mm, rel=1e-14)
    back = screw.from_division(division, count, reads)
    assert back.pitch.mm == pytest.approx(pitch.mm, rel=1e-14)


@pytest.mark.parametrize("row", rows("dial_figures"), ids=lambda row: row["reads"])
def test_a_dial_of_diameter_shows_twice_the_travel(row: dict[str, str]) -> None:
    head = Screw(Length(2.54), 100, DialReads(row["reads"]))
    got = screw.dial_figures(head, Length.from_inches(float(row["travel_in"])))

    assert got.inches == pytest.approx(float(row["figures_in"]), rel=1e-14)


@pytest.mark.parametrize("row", rows("backlash"))
def test_a_move_is_turned_as_worked_by_hand(row: dict[str, str]) -> None:
    head = Screw(Length(1.0), 100, backlash=Length(float(row["backlash_mm"])))
    start = Position(Length(float(row["handle_mm"])), Length(float(row["slide_mm"])))
    target, approach = Length(float(row["target_mm"])), Direction[row["approach"].upper()]

    got = [turns.total for turns in screw.moves(head, start, target, approach)]

    assert got == pytest.approx([float(total) for total in row["turns"].split()], abs=1e-12)


@given(screws, turnings, offsets, approaches)
def test_from_anywhere_a_move_arrives_at_the_place_from_the_side_asked(
    head: Screw, turned: list[float], target: Length, approach: Direction
) -> None:
    start = wandered(head, turned)
    made = screw.moves(head, start, target, approach)
    *_, end = accumulate(made, lambda place, turns: screw.after(head, place, turns), initial=start)

    assert end.slide.mm == pytest.approx(target.mm, abs=1e-8)
    # The slack lies as the approach leaves it, so the last movement came from that side.
    slack = head.backlash.mm if approach is Direction.BACK else 0.0
    assert (end.slide - end.handle).mm == pytest.approx(slack, abs=1e-8)
    assert all(turns.total * approach.value > 0 for turns in made[-1:])


@given(screws, turnings, offsets, approaches)
def test_a_slide_past_its_place_goes_back_beyond_it_by_whole_turns(
    head: Screw, turned: list[float], target: Length, approach: Direction
) -> None:
    start = wandered(head, turned)
    made = screw.moves(head, start, target, approach)

    assert len(made) == 2 or (target - start.slide).mm * approach.value >= -1e-8
    for back, again in [made] if len(made) == 2 else []:
        beyond = screw.after(head, start, back)
        assert (target - beyond.slide).mm * approach.value > -1e-8
        assert again.total == math.copysign(again.whole, approach.value)
        assert abs(again.total) * head.pitch.mm > head.backlash.mm


@given(screws, offsets, approaches)
def test_a_slide_that_has_arrived_needs_no_move(
    head: Screw, target: Length, approach: Direction
) -> None:
    place = screw.zeroed(head, approach)
    for turns in screw.moves(head, place, target, approach):
        place = screw.after(head, place, turns)

    assert screw.moves(head, place, target, approach) == ()


@given(screws, turnings, approaches)
def test_return_to_zero_ends_as_the_screw_was_zeroed(
    head: Screw, turned: list[float], approach: Direction
) -> None:
    place = wandered(head, turned)
    for turns in screw.return_to_zero(head, place, approach):
        place = screw.after(head, place, turns)

    zero = screw.zeroed(head, approach)
    assert place.slide.mm == pytest.approx(zero.slide.mm, abs=1e-8)
    assert place.handle.mm == pytest.approx(zero.handle.mm, abs=1e-8)


@given(screws, turnings)
def test_turning_to_and_fro_keeps_the_slide_within_the_backlash(
    head: Screw, turned: list[float]
) -> None:
    slack = wandered(head, turned)

    assert -1e-9 <= (slack.slide - slack.handle).mm <= head.backlash.mm + 1e-9


@given(pitches, divisions, offsets)
def test_the_dial_s_kind_does_not_change_the_turns(pitch: Length, count: int, way: Length) -> None:
    by_travel, by_diameter = (Screw(pitch, count, reads) for reads in DialReads)

    assert screw.turns(by_travel, way) == screw.turns(by_diameter, way)
    doubled = screw.dial_figures(by_diameter, way)
    assert doubled == screw.dial_figures(by_travel, way) * 2


@given(pitches, divisions, st.integers(-90, 90), st.floats(0.0, 1.0))
def test_turns_counted_at_the_handle_split_into_the_same_count(
    pitch: Length, count: int, whole: int, part: float
) -> None:
    odd = math.copysign(part * count * 0.999, whole)
    got = screw.turned(Screw(pitch, count), whole, odd)

    assert got.whole + got.divisions / count == pytest.approx(whole + odd / count, rel=1e-14)
    assert got.whole * got.divisions >= 0


@pytest.mark.parametrize(
    ("total", "places", "spoken"),
    [
        (6.99999999999, 1, (7, 0.0)),  # not 6 turns and 50.0 divisions
        (6.99999999999, 4, (7, 0.0)),
        (-6.99999999999, 1, (-7, 0.0)),
        (2.345, 2, (2, 17.25)),
        (2.3451, 2, (2, 17.26)),
        (0.0009, 1, (0, 0.0)),
        (-0.0009, 1, (0, 0.0)),
        (-1.5, 0, (-1, -25.0)),
        (0.001, 1, (0, 0.1)),  # 0.05 divisions: half goes up
    ],
)
def test_turns_are_rounded_before_they_are_split(
    total: float, places: int, spoken: tuple[int, float]
) -> None:
    got = Turns(total, 50).rounded(places)

    assert got == spoken
    assert math.copysign(1, got[1]) == 1 or got[1] < 0  # never minus nought divisions


def test_a_screw_that_cannot_be_is_refused_by_name() -> None:
    refusals: dict[str, Callable[[], object]] = {
        "pitch of the screw": lambda: Screw(Length(0.0), 50),
        "divisions of the dial": lambda: Screw(Length(1.0), 0),
        "backlash": lambda: Screw(Length(1.0), 50, backlash=Length(-0.1)),
        "threads per inch": lambda: Screw.from_threads_per_inch(0.0, 50),
        "division of the dial": lambda: screw.from_division(Length(0.0), 50, DialReads.TRAVEL),
        "divisions": lambda: screw.turned(Screw(Length(1.0), 50), 3, -10.0),
        "turns": lambda: Turns(math.inf, 50),
    }
    for field, made in refusals.items():
        with pytest.raises(OutOfRange) as caught:
            made()
        assert caught.value.name == field


def test_a_slide_further_ahead_than_its_backlash_is_refused() -> None:
    head = Screw(Length(1.0), 100, backlash=Length(0.1))

    with pytest.raises(OutOfRange, match="between 0 and the backlash"):
        screw.after(head, Position(Length(0.0), Length(0.2)), Turns(1.0, 100))
