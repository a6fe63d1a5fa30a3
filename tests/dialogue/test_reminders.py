"""What is due and when it is spoken of: examples at the bench, and laws over any session."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.dialogue.reminders import Care, Due, Intervals, Nagging, Run, due, to_say
from assistant.errors import OutOfRange
from assistant.language.requests import Warmth

SHOP = Intervals()
TURNING = Run(turning=True)


def ran(seconds: float, rpm: float = 100.0) -> Run:
    return TURNING.passed(seconds, rpm)


# What is due


def test_nothing_is_due_on_cold_work_that_has_not_turned() -> None:
    assert due(Care(), Run().passed(86_400.0, 200.0), SHOP) == ()


@pytest.mark.parametrize(
    ("seconds", "rpm", "is_due"),
    [
        (599.0, 100.0, False),
        (600.0, 100.0, True),
        # 3000 turns at 500 a minute are 360 seconds.
        (359.0, 500.0, False),
        (361.0, 500.0, True),
    ],
)
def test_oil_is_due_by_running_time_or_by_turns_of_the_ball(
    seconds: float, rpm: float, is_due: bool
) -> None:
    assert (Due.OIL in due(Care(), ran(seconds, rpm), SHOP)) is is_due


def test_oiling_counts_from_the_oiling() -> None:
    run = ran(700.0)
    oiled = Care().oiled(run)

    assert Due.OIL not in due(oiled, run.passed(599.0, 100.0), SHOP)
    assert Due.OIL in due(oiled, run.passed(600.0, 100.0), SHOP)


def test_a_warm_ball_wants_oil_now_and_twice_as_often() -> None:
    run = ran(100.0)
    warm = Care().felt(Warmth.WARM, run, SHOP)
    oiled = warm.oiled(run)

    assert Due.OIL in due(warm, run, SHOP)
    assert Due.OIL not in due(oiled, run.passed(299.0, 100.0), SHOP)
    assert Due.OIL in due(oiled, run.passed(300.0, 100.0), SHOP)


def test_the_interval_shortens_to_the_shortest_and_no_further() -> None:
    care = Care()
    for _ in range(9):
        care = care.felt(Warmth.HOT, TURNING, SHOP)

    assert care.oil_share * SHOP.oil_s == SHOP.shortest_oil_s


def test_a_cool_ball_lengthens_the_interval_by_a_tenth() -> None:
    assert Care().felt(Warmth.COOL, ran(600.0), SHOP).oil_share == 1.1


def test_cool_said_twice_lengthens_the_interval_once() -> None:
    run = ran(600.0)
    once = Care().felt(Warmth.COOL, run, SHOP)

    assert once.felt(Warmth.COOL, run.passed(10.0, 100.0), SHOP) == once


def test_the_interval_lengthens_to_the_longest_and_no_further() -> None:
    care, run = Care(), TURNING
    for _ in range(9):
        run = run.passed(1000.0, 10.0)
        care = care.felt(Warmth.COOL, run, SHOP)

    assert care.oil_share == SHOP.longest_oil_share


def test_the_tailstock_is_eased_early_in_the_first_cut_then_as_the_work_warms() -> None:
    assert due(Care(), ran(59.0), SHOP) == ()
    assert due(Care(), ran(60.0), SHOP) == (Due.EASE,)

    eased = Care().eased(ran(60.0))
    assert due(eased, ran(359.0), SHOP) == ()
    assert due(eased, ran(360.0), SHOP) == (Due.EASE,)


def test_a_roughing_pass_makes_an_ease_check_due() -> None:
    roughed = Care().eased(TURNING).roughed()

    assert due(roughed, TURNING, SHOP) == (Due.EASE,)
    assert due(roughed.eased(TURNING), TURNING, SHOP) == ()


def test_the_next_part_is_cold_but_the_ball_is_as_dry_as_it_was() -> None:
    run = ran(590.0)
    care = Care().eased(ran(400.0)).roughed().next_part(run)

    assert due(care, run, SHOP) == ()
    assert due(care, ran(600.0), SHOP) == (Due.OIL,)
    assert due(care, ran(650.0), SHOP) == (Due.OIL, Due.EASE)


def test_a_head_left_over_is_due_until_it_is_home() -> None:
    left = Care().head_left_over()

    assert due(left, Run(), SHOP) == (Due.HEAD_OVER,)
    assert due(left.head_home(), Run(), SHOP) == ()


@pytest.mark.parametrize(("seconds", "rpm"), [(-1.0, 100.0), (1.0, -100.0), (float("nan"), 1.0)])
def test_time_and_turns_run_only_forwards(seconds: float, rpm: float) -> None:
    with pytest.raises(OutOfRange):
        TURNING.passed(seconds, rpm)


# When it is spoken of


def test_a_reminder_is_said_at_once_then_again_then_no_more() -> None:
    now_due, nagging, said_at = (Due.OIL,), Nagging(), []
    for second in range(1000):
        run = Run(awake_s=float(second))
        if which := to_say(now_due, nagging, run, SHOP):
            nagging = nagging.said(which, run, SHOP)
            said_at.append(second)

    assert said_at == [0, 120, 240]


def test_put_off_is_quiet_for_its_while_and_then_reminds_again() -> None:
    said = Nagging().said((Due.OIL,), Run(), SHOP)
    put_off = said.put_off((Due.OIL,), Run(awake_s=10.0), SHOP)

    assert to_say((Due.OIL,), put_off, Run(awake_s=309.0), SHOP) == ()
    assert to_say((Due.OIL,), put_off, Run(awake_s=310.0), SHOP) == (Due.OIL,)


def test_putting_off_brings_nothing_forward() -> None:
    hasty = replace(SHOP, again_s=120.0, put_off_s=1.0)
    put_off = Nagging().said((Due.OIL,), Run(), hasty).put_off((Due.OIL,), Run(), hasty)

    assert to_say((Due.OIL,), put_off, Run(awake_s=119.0), hasty) == ()
    assert to_say((Due.OIL,), put_off, Run(awake_s=120.0), hasty) == (Due.OIL,)


def test_putting_one_off_leaves_the_others() -> None:
    put_off = Nagging().put_off((Due.OIL,), Run(), SHOP)

    assert to_say((Due.OIL, Due.EASE), put_off, Run(), SHOP) == (Due.EASE,)


def test_what_was_settled_is_said_at_once_when_it_falls_due_again() -> None:
    said = Nagging().said((Due.OIL, Due.EASE), Run(), SHOP)
    settled = said.dropped((Due.EASE,))

    assert to_say((Due.OIL, Due.EASE), settled, Run(awake_s=1.0), SHOP) == (Due.OIL,)


# Laws


@dataclass(frozen=True)
class Session:
    """One bench: all three parts, and when each reminder was said since it last fell due."""

    intervals: Intervals
    run: Run = field(default_factory=Run)
    care: Care = field(default_factory=Care)
    nagging: Nagging = field(default_factory=Nagging)
    said_at: dict[Due, list[float]] = field(default_factory=dict)

    @property
    def due(self) -> tuple[Due, ...]:
        return due(self.care, self.run, self.intervals)


Move = Callable[[Session], Session]


def _cared(change: Callable[[Care, Run, Intervals], Care]) -> Move:
    return lambda at: replace(at, care=change(at.care, at.run, at.intervals))


def _felt(warmth: Warmth) -> Move:
    return _cared(lambda care, run, intervals: care.felt(warmth, run, intervals))


def _passed(seconds: float, rpm: float) -> Move:
    return lambda at: replace(at, run=at.run.passed(seconds, rpm))


def _turning(turning: bool) -> Move:
    return lambda at: replace(at, run=replace(at.run, turning=turning))


def _put_off(at: Session) -> Session:
    nagging = at.nagging.put_off(at.due, at.run, at.intervals)
    # Putting off begins a new count.
    return replace(at, nagging=nagging, said_at={one: [] for one in at.due})


REPORTS: list[Move] = [
    _cared(lambda care, run, intervals: care.oiled(run)),
    _cared(lambda care, run, intervals: care.eased(run)),
    _cared(lambda care, run, intervals: care.roughed()),
    _cared(lambda care, run, intervals: care.head_left_over()),
    _cared(lambda care, run, intervals: care.head_home()),
    _cared(lambda care, run, intervals: care.next_part(run)),
    *map(_felt, Warmth),
]
seconds_gone = st.floats(0.0, 2000.0)
speeds = st.floats(0.0, 2000.0)
passing = st.builds(_passed, seconds_gone, speeds)
spindle = st.sampled_from([_turning(True), _turning(False)])
sessions = st.lists(passing | spindle | st.sampled_from(REPORTS) | st.just(_put_off), max_size=30)
intervals = st.builds(
    Intervals,
    oil_s=st.floats(60.0, 3600.0),
    oil_turns=st.floats(500.0, 20_000.0),
    shortest_oil_s=st.floats(10.0, 600.0),
    longest_oil_share=st.floats(1.0, 3.0),
    first_ease_s=st.floats(5.0, 300.0),
    ease_s=st.floats(5.0, 900.0),
    again_s=st.floats(1.0, 600.0),
    most_times=st.integers(1, 5),
    put_off_s=st.floats(1.0, 1200.0),
)


def after(moves: Sequence[Move], chosen: Intervals) -> Session:
    """Return the session after these moves, everything said as soon as it may be."""
    at = Session(chosen)
    for move in moves:
        at = move(at)
        at = replace(
            at,
            nagging=at.nagging.dropped(at.due),
            said_at={one: times for one, times in at.said_at.items() if one in at.due},
        )
        which = to_say(at.due, at.nagging, at.run, chosen)
        at = replace(
            at,
            nagging=at.nagging.said(which, at.run, chosen),
            said_at={
                **at.said_at,
                **{one: [*at.said_at.get(one, []), at.run.awake_s] for one in which},
            },
        )
    return at


@given(sessions, intervals)
def test_no_reminder_is_said_more_often_than_the_settings_allow(
    moves: list[Move], chosen: Intervals
) -> None:
    for times in after(moves, chosen).said_at.values():
        assert len(times) <= chosen.most_times


@given(sessions, intervals)
def test_no_reminder_is_said_again_too_soon(moves: list[Move], chosen: Intervals) -> None:
    for times in after(moves, chosen).said_at.values():
        for earlier, later in pairwise(times):
            assert later >= earlier + chosen.again_s


@given(sessions, intervals)
def test_what_falls_due_was_said_at_once_unless_it_was_put_off(
    moves: list[Move], chosen: Intervals
) -> None:
    at = after(moves, chosen)

    assert set(at.said_at) == set(at.due) == set(at.nagging.told)
    assert to_say(at.due, at.nagging, at.run, chosen) == ()


@given(sessions, intervals, seconds_gone, speeds)
def test_running_settles_nothing(
    moves: list[Move], chosen: Intervals, seconds: float, rpm: float
) -> None:
    at = after(moves, chosen)
    later = _passed(seconds, rpm)(at)

    assert set(later.due) >= set(at.due)


@given(sessions, intervals, seconds_gone, speeds)
def test_a_standing_spindle_makes_nothing_due(
    moves: list[Move], chosen: Intervals, seconds: float, rpm: float
) -> None:
    standing = _turning(False)(after(moves, chosen))

    assert _passed(seconds, rpm)(standing).due == standing.due


@given(sessions, intervals, speeds)
def test_time_standing_still_changes_nothing(
    moves: list[Move], chosen: Intervals, rpm: float
) -> None:
    at = after(moves, chosen)

    assert _passed(0.0, rpm)(at) == at


@given(sessions, intervals)
def test_every_put_off_ends(moves: list[Move], chosen: Intervals) -> None:
    put_off = _put_off(after(moves, chosen))
    long_after = replace(put_off.run, turning=False).passed(
        chosen.put_off_s + chosen.again_s + 1.0, 0.0
    )

    assert to_say(put_off.due, put_off.nagging, long_after, chosen) == put_off.due


@given(sessions, intervals)
def test_oiling_settles_oil_and_easing_settles_ease(moves: list[Move], chosen: Intervals) -> None:
    at = after(moves, chosen)

    assert Due.OIL not in due(at.care.oiled(at.run), at.run, chosen)
    assert Due.EASE not in due(at.care.eased(at.run), at.run, chosen)


@given(sessions, intervals)
def test_the_oil_interval_stays_between_its_bounds(moves: list[Move], chosen: Intervals) -> None:
    share = after(moves, chosen).care.oil_share

    assert min(1.0, chosen.shortest_oil_s / chosen.oil_s) <= share <= chosen.longest_oil_share


@given(sessions, intervals, st.sampled_from([Warmth.WARM, Warmth.HOT]))
def test_warmth_never_makes_oil_due_later(
    moves: list[Move], chosen: Intervals, warmth: Warmth
) -> None:
    at = after(moves, chosen)
    warm = at.care.felt(warmth, at.run, chosen)

    assert warm.oil_share <= at.care.oil_share
    assert Due.OIL in due(warm, at.run, chosen)
