"""What is due at the ball, the tailstock and the head, and when it may be spoken of.

No clock: time comes in as seconds gone by. Three things are kept apart, because undo treats
them apart: what the clock and the spindle did (`Run`, never undone), what the operator
reported (`Care`, part of the job), and what was said about it (`Nagging`, not undone).
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from assistant.errors import OutOfRange
from assistant.language.requests import Warmth


@dataclass(frozen=True, slots=True)
class Intervals:
    """How often; the user's settings. The defaults are cautious: common practice, no source."""

    # Oil after so much running or so many turns of the work on the ball, whichever comes first.
    oil_s: float = 600.0
    oil_turns: float = 3000.0
    # A warm ball brings oiling forward no further than this, a cool one puts it off no
    # further than this share of the interval.
    shortest_oil_s: float = 120.0
    longest_oil_share: float = 1.5
    # The end pressure is checked early in the first cut, then as the work warms.
    first_ease_s: float = 60.0
    ease_s: float = 300.0
    # Something due is spoken of again after so long, so many times in all, and after it was
    # put off not for so long.
    again_s: float = 120.0
    most_times: int = 3
    put_off_s: float = 300.0


@dataclass(frozen=True, slots=True)
class Run:
    """What the clock and the spindle did: seconds awake, seconds turning, turns of the work."""

    turning: bool = False
    awake_s: float = 0.0
    ran_s: float = 0.0
    ball_turns: float = 0.0

    def passed(self, seconds: float, rpm: float) -> "Run":
        """Return the run after so many seconds; they wear the ball only while it turns.

        Raises:
            OutOfRange: The seconds or the turns a minute are less than nothing.
        """
        for name, value in (("time gone by", seconds), ("spindle speed", rpm)):
            if not value >= 0:
                raise OutOfRange(name, value, "0 or more")
        later = replace(self, awake_s=self.awake_s + seconds)
        if not self.turning:
            return later
        turns = self.ball_turns + rpm * seconds / 60
        return replace(later, ran_s=self.ran_s + seconds, ball_turns=turns)


class Due(StrEnum):
    """What can be due."""

    OIL = "oil the ball"
    EASE = "ease the tailstock"
    HEAD_OVER = "head still set over"


@dataclass(frozen=True, slots=True)
class Care:
    """What the operator reported of the ball, the tailstock and the head."""

    # The run's readings when the ball was last oiled and last felt, and the tailstock eased.
    oiled_at_s: float = 0.0
    oiled_at_turns: float = 0.0
    felt_at_s: float = 0.0
    eased_at_s: float = 0.0
    # The oil interval in force, as a share of the one in the settings.
    oil_share: float = 1.0
    eased_this_part: bool = False
    # Reported to be wanted now, whatever the intervals say.
    wants_oil: bool = False
    wants_ease: bool = False
    head_over: bool = False

    def oiled(self, run: Run) -> "Care":
        """Return the care once the ball was oiled."""
        return replace(self, oiled_at_s=run.ran_s, oiled_at_turns=run.ball_turns, wants_oil=False)

    def felt(self, warmth: Warmth, run: Run, intervals: Intervals) -> "Care":
        """Return the care once the ball was felt: warm, it wants oil now and twice as often.

        Cool, the interval grows by a tenth, but only after half of it has been run since the
        ball was last felt: saying it twice proves no more than saying it once.
        """
        ran_s = run.ran_s - self.felt_at_s
        felt = replace(self, felt_at_s=run.ran_s)
        if warmth is not Warmth.COOL:
            shortest = min(1.0, intervals.shortest_oil_s / intervals.oil_s)
            return replace(felt, oil_share=max(self.oil_share / 2, shortest), wants_oil=True)
        if ran_s < self.oil_share * intervals.oil_s / 2:
            return self
        return replace(felt, oil_share=min(self.oil_share * 1.1, intervals.longest_oil_share))

    def eased(self, run: Run) -> "Care":
        """Return the care once the tailstock was eased, or its pressure found right."""
        return replace(self, eased_at_s=run.ran_s, eased_this_part=True, wants_ease=False)

    def roughed(self) -> "Care":
        """Return the care after a roughing pass, which warms the work: check the pressure."""
        return replace(self, wants_ease=True)

    def head_left_over(self) -> "Care":
        """Return the care when a job ends with the head set over."""
        return replace(self, head_over=True)

    def head_home(self) -> "Care":
        """Return the care once the head is at zero, or set for the next job."""
        return replace(self, head_over=False)

    def next_part(self, run: Run) -> "Care":
        """Return the care for a new piece: it is cold, so easing starts anew; oil counts on."""
        return replace(self, eased_at_s=run.ran_s, eased_this_part=False, wants_ease=False)


def due(care: Care, run: Run, intervals: Intervals) -> tuple[Due, ...]:
    """Return what is due now, the most pressing first."""
    found = []
    since_oil_s = run.ran_s - care.oiled_at_s
    since_oil_turns = run.ball_turns - care.oiled_at_turns
    if (
        care.wants_oil
        or since_oil_s >= care.oil_share * intervals.oil_s
        or since_oil_turns >= care.oil_share * intervals.oil_turns
    ):
        found.append(Due.OIL)
    ease_s = intervals.ease_s if care.eased_this_part else intervals.first_ease_s
    if care.wants_ease or run.ran_s - care.eased_at_s >= ease_s:
        found.append(Due.EASE)
    if care.head_over:
        found.append(Due.HEAD_OVER)
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Told:
    """How often one thing was spoken of, and until when it is not."""

    times: int = 0
    quiet_until_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Nagging:
    """What was said about what is due. Times are seconds awake."""

    told: Mapping[Due, Told] = field(default_factory=dict)

    def said(self, which: Collection[Due], run: Run, intervals: Intervals) -> "Nagging":
        """Return the nagging once these were spoken of."""
        until = run.awake_s + intervals.again_s
        return self._with({one: Told(self._of(one).times + 1, until) for one in which})

    def put_off(self, which: Collection[Due], run: Run, intervals: Intervals) -> "Nagging":
        """Return the nagging once these were put off: quiet now, and counted afresh after."""
        until = run.awake_s + intervals.put_off_s
        return self._with({one: Told(0, max(until, self._of(one).quiet_until_s)) for one in which})

    def dropped(self, still_due: Collection[Due]) -> "Nagging":
        """Return the nagging without what is no longer due."""
        return Nagging({one: told for one, told in self.told.items() if one in still_due})

    def _of(self, one: Due) -> Told:
        return self.told.get(one, Told())

    def _with(self, changed: Mapping[Due, Told]) -> "Nagging":
        return Nagging({**self.told, **changed})


def to_say(
    now_due: Collection[Due], nagging: Nagging, run: Run, intervals: Intervals
) -> tuple[Due, ...]:
    """Return those of what is due that may be spoken of now.

    At once the first time, then every `again_s` until it was said `most_times`, counted from
    when it fell due or was last put off.
    """
    return tuple(
        one
        for one in now_due
        if (told := nagging.told.get(one)) is None
        or (told.times < intervals.most_times and run.awake_s >= told.quiet_until_s)
    )
