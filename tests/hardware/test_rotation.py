"""The spindle from its pulses: running, standing, and how fast."""

from collections.abc import Sequence
from itertools import accumulate

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from hardware.rotation import FASTEST_RPM, SLOWEST_RPM, Rotation

rpms = st.floats(SLOWEST_RPM * 1.01, FASTEST_RPM * 0.99)
per_turns = st.integers(1, 8)


def pulses(rpm: float, per_turn: int, count: int, start_s: float = 10.0) -> list[float]:
    return [start_s + n * 60 / rpm / per_turn for n in range(count)]


def taken(rotation: Rotation, times_s: Sequence[float]) -> list[bool]:
    """Return the starts and stops that pulses at these times show."""
    seen = []
    for at_s in times_s:
        seen.append(rotation.settle(at_s))
        rotation.edge(True, at_s)
        seen.append(rotation.settle(at_s))
        rotation.edge(False, at_s + 1e-4)
    return [change for change in seen if change is not None]


@given(rpms, per_turns, st.integers(2, 40))
def test_even_pulses_give_the_speed_and_a_silence_the_stop(
    rpm: float, per_turn: int, count: int
) -> None:
    rotation, times_s = Rotation(per_turn), pulses(rpm, per_turn, count)

    assert taken(rotation, times_s) == [True]
    assert rotation.rpm(times_s[-1]) == pytest.approx(rpm, rel=1e-6)

    wait_s = rotation.settles_in_s(times_s[-1])
    assert wait_s == pytest.approx(60 / SLOWEST_RPM / per_turn)
    stopped_s = times_s[-1] + 60 / SLOWEST_RPM / per_turn + 1e-6
    assert rotation.rpm(stopped_s) is None
    assert rotation.settle(stopped_s) is False
    assert rotation.settles_in_s(stopped_s) is None


@given(rpms, st.lists(st.floats(0.5, 1.5), min_size=2, max_size=6), st.integers(1, 20))
def test_sensors_unevenly_around_the_turn_give_the_speed_over_whole_turns(
    rpm: float, gaps: list[float], turns: int
) -> None:
    turn_s = 60 / rpm
    shares = [gap / sum(gaps) for gap in gaps]
    times_s = list(accumulate([turn_s * share for share in shares] * turns, initial=10.0))
    rotation = Rotation(len(gaps))
    shortest, longest = 60 / FASTEST_RPM / len(gaps), 60 / SLOWEST_RPM / len(gaps)
    assume(all(shortest < turn_s * share < longest for share in shares))
    taken(rotation, times_s)

    assert rotation.rpm(times_s[-1]) == pytest.approx(rpm, rel=1e-6)


@given(rpms, st.lists(st.floats(1e-6, 0.9), max_size=5))
def test_bounce_at_a_pulse_changes_nothing(rpm: float, bounces: list[float]) -> None:
    clean = pulses(rpm, 1, 10)
    shortest_s = 60 / FASTEST_RPM
    bouncing = sorted({*clean, *(at_s + share * shortest_s for at_s in clean for share in bounces)})
    rotation = Rotation(1)

    assert taken(rotation, bouncing) == [True]
    assert rotation.rpm(clean[-1]) == pytest.approx(rpm, rel=1e-6)


def test_a_chuck_turned_by_hand_is_not_turning() -> None:
    rotation = Rotation(1)

    assert taken(rotation, [10.0, 14.0, 18.0, 22.0]) == []


def test_a_spindle_that_runs_down_is_not_faster_than_its_unfinished_turn() -> None:
    # 600 turns a minute, then nothing for half a second: 120 at the most.
    rotation = Rotation(1)
    last_s = pulses(600, 1, 10)[-1]
    taken(rotation, pulses(600, 1, 10))

    assert rotation.rpm(last_s + 0.05) == pytest.approx(600)
    assert rotation.rpm(last_s + 0.5) == pytest.approx(120)


def test_a_stop_and_a_new_start_are_both_seen_when_nobody_asked_between() -> None:
    rotation = Rotation(1)

    assert taken(rotation, [*pulses(300, 1, 5), *pulses(60, 1, 5, start_s=100.0)]) == [
        True,
        False,
        True,
    ]
    assert rotation.rpm(104.0) == pytest.approx(60)
