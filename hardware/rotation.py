"""From the pulses of a spindle sensor to whether it turns, and how fast."""

from collections import deque

# Slower than this is a chuck turned by hand: common practice, no source.
SLOWEST_RPM = 20.0
# Faster than a manual lathe turns, common practice, no source: closer pulses are bounce.
FASTEST_RPM = 4_000.0
# What the speed is averaged over, or one turn if that takes longer.
AVERAGED_S = 1.0


class Rotation:
    """A spindle that gives pulses. Time comes in as a number, and never runs backwards.

    It turns once two pulses came no further apart than at SLOWEST_RPM, and has stopped when
    none has come for as long.

    Args:
        pulses_per_turn: One or more; they need not be evenly spaced around the turn.
    """

    def __init__(self, pulses_per_turn: int = 1) -> None:
        self._per_turn = pulses_per_turn
        self._longest_s = 60 / (SLOWEST_RPM * pulses_per_turn)
        self._shortest_s = 60 / (FASTEST_RPM * pulses_per_turn)
        self._pulses_s: deque[float] = deque()
        self._turning = False

    def edge(self, closed: bool, now_s: float) -> None:
        """Take an edge: each closing is a pulse, unless it bounces."""
        self._forget(now_s)
        if not closed or (self._pulses_s and now_s - self._pulses_s[-1] < self._shortest_s):
            return
        self._pulses_s.append(now_s)
        while len(self._pulses_s) > self._per_turn + 1 and now_s - self._pulses_s[0] > AVERAGED_S:
            self._pulses_s.popleft()

    def settle(self, now_s: float) -> bool | None:
        """Return whether it turns, if that has changed since it was last asked."""
        self._forget(now_s)
        turning = len(self._pulses_s) > 1
        if turning == self._turning:
            return None
        self._turning = turning
        return turning

    def settles_in_s(self, now_s: float) -> float | None:
        """Return how long to wait before asking again; None when only a pulse can change it."""
        if not self._pulses_s:
            return None
        return max(0.0, self._pulses_s[-1] + self._longest_s - now_s)

    def rpm(self, now_s: float) -> float | None:
        """Return the turns in a minute; None when it does not turn.

        Whole turns over the time they took, or what there is of the first turn. The turn not
        yet at its end has taken long enough to bound the speed of a spindle that runs down.
        """
        pulses_s = tuple(self._pulses_s)  # in one go: it may be asked from another thread
        intervals = len(pulses_s) - 1
        if intervals < 1 or now_s - pulses_s[-1] >= self._longest_s:
            return None
        counted = intervals // self._per_turn * self._per_turn or intervals
        rpm = 60 * counted / self._per_turn / (pulses_s[-1] - pulses_s[-1 - counted])
        if len(pulses_s) < self._per_turn:
            return rpm
        return min(rpm, 60 / max(now_s - pulses_s[-self._per_turn], self._shortest_s))

    def _forget(self, now_s: float) -> None:
        if self._pulses_s and now_s - self._pulses_s[-1] >= self._longest_s:
            self._pulses_s.clear()
