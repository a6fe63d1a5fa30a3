"""The head's screw: travel as turns and divisions, and every move made from the same side.

Forward is towards larger numbers, to whichever side of the axis the screw goes that way. A
turn of the screw always moves the slide by one pitch; what the dial's figures say about it
is another matter (`DialReads`).

With backlash b the handle and the slide part company. Both are counted as travel from the
same zero: turning forward pushes the slide along where the two agree, and turning back pulls
it along where the slide stands b ahead of the handle. In between, the slide stays where it is.
"""

import math
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import Enum, StrEnum
from typing import Self

from assistant.calc.limits import not_negative, of_kind, positive, pure_number
from assistant.errors import OutOfRange, WrongKind
from assistant.quantity import MM_PER_INCH, Length

NO_BACKLASH = Length(0.0)

# Far below what any screw can set and far above the noise of the arithmetic.
SAME_PLACE = Length(1e-9)


class DialReads(StrEnum):
    """What the figures on a dial count: the slide's travel, or twice that."""

    TRAVEL = "travel"
    DIAMETER = "diameter"


class Direction(Enum):
    """The way a handle is turned, and its sign."""

    FORWARD = 1
    BACK = -1


def _dial(divisions: int) -> int:
    if isinstance(divisions, bool) or not isinstance(divisions, int):
        raise WrongKind("divisions of the dial", divisions, "a whole number")
    if divisions < 1:
        raise OutOfRange("divisions of the dial", divisions, "1 or more")
    return divisions


@dataclass(frozen=True, slots=True)
class Screw:
    """A screw and its dial. The pitch is the slide's real travel in one turn.

    Raises:
        OutOfRange: The pitch is zero or less, there is no division, or the backlash is
            less than zero.
        WrongKind: A field is of another kind.
    """

    pitch: Length
    divisions: int
    reads: DialReads = DialReads.TRAVEL
    backlash: Length = NO_BACKLASH

    def __post_init__(self) -> None:
        positive("pitch of the screw", self.pitch)
        _dial(self.divisions)
        of_kind("dial", self.reads, DialReads)
        not_negative("backlash", self.backlash)

    @classmethod
    def from_threads_per_inch(
        cls,
        threads: float,
        divisions: int,
        reads: DialReads = DialReads.TRAVEL,
        backlash: Length = NO_BACKLASH,
    ) -> Self:
        """Return an inch screw: its pitch is one inch over the threads in an inch."""
        if pure_number("threads per inch", threads) <= 0:
            raise OutOfRange("threads per inch", threads, "more than 0")
        return cls(Length(MM_PER_INCH / threads), divisions, reads, backlash)


@dataclass(frozen=True, slots=True)
class Turns:
    """How far a handle is turned; negative is backwards, in both parts.

    Raises:
        OutOfRange: The turns are no finite number, or the dial has no division.
        WrongKind: A field is no number.
    """

    total: float
    divisions_per_turn: int

    def __post_init__(self) -> None:
        pure_number("turns", self.total)
        _dial(self.divisions_per_turn)

    @property
    def whole(self) -> int:
        """The whole turns."""
        return math.trunc(self.total)

    @property
    def divisions(self) -> float:
        """The divisions of the dial beyond the whole turns."""
        return math.fmod(self.total, 1) * self.divisions_per_turn

    def rounded(self, places: int) -> tuple[int, float]:
        """Return whole turns and divisions as they are to be spoken; for the voice alone.

        Rounded once, half away from zero, before the split: 6.99999999999 turns of a
        50-division dial are 7 turns, not 6 turns and 50.0 divisions.
        """
        exact = Decimal(f"{self.total * self.divisions_per_turn:.9f}")
        total = exact.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
        whole = int(total / self.divisions_per_turn)
        return whole, float(total - whole * self.divisions_per_turn) + 0.0


def turns(screw: Screw, travel: Length) -> Turns:
    """Return the turns of the handle that move the slide by a travel, backlash taken up.

    N = travel / pitch. What the dial reads does not enter: a dial that reads diameter is
    engraved with other figures on the same screw. Valid for any travel, signed.

    Raises:
        WrongKind: The travel is no length, or the screw no screw.

    Source: the definition of pitch; checked against tests/golden/screw_turns.csv.
    """
    pitch = of_kind("screw", screw, Screw).pitch
    return Turns(of_kind("travel", travel, Length).mm / pitch.mm, screw.divisions)


def travel(screw: Screw, handle: Turns) -> Length:
    """Return the travel that turns of the handle give, backlash taken up.

    travel = N * pitch: the reverse of `turns`. Valid for any turns, signed.

    Raises:
        WrongKind: They are no turns, or the screw is no screw.

    Source: the definition of pitch; checked against tests/golden/screw_turns.csv.
    """
    return of_kind("screw", screw, Screw).pitch * of_kind("turns", handle, Turns).total


def turned(screw: Screw, whole: int, divisions: float) -> Turns:
    """Return the turns that were made, from whole turns and divisions as counted at the handle.

    N = whole + divisions / (divisions in a turn), both of one sign. Divisions may be more
    than a turn of them.

    Raises:
        OutOfRange: The one is forward and the other back, or a number is not finite.
        WrongKind: The screw is no screw, or a number is none.

    Source: the definition; checked against tests/golden/screw_turns.csv.
    """
    in_a_turn = of_kind("screw", screw, Screw).divisions
    if pure_number("whole turns", whole) * pure_number("divisions", divisions) < 0:
        raise OutOfRange("divisions", divisions, "turned the same way as the whole turns")
    return Turns(whole + divisions / in_a_turn, in_a_turn)


def from_division(
    division: Length, divisions: int, reads: DialReads, backlash: Length = NO_BACKLASH
) -> Screw:
    """Return the screw whose dial has so many divisions that each read so much.

    pitch = division * divisions, and half of that where the dial reads diameter. Valid for
    a division of more than 0.

    Raises:
        OutOfRange: The division is zero or less, or there is none.
        WrongKind: A value is of another kind.

    Source: the definition; checked against tests/golden/screw_dials.csv.
    """
    figures = positive("division of the dial", division) * _dial(divisions)
    return Screw(Length(figures / _figures_per_travel(reads)), divisions, reads, backlash)


def division_reads(screw: Screw) -> Length:
    """Return what one division of the dial reads: travel, or diameter.

    division = pitch / divisions, and twice that where the dial reads diameter.

    Raises:
        WrongKind: It is no screw.

    Source: the definition; checked against tests/golden/screw_dials.csv.
    """
    return dial_figures(screw, of_kind("screw", screw, Screw).pitch * (1 / screw.divisions))


def dial_figures(screw: Screw, travel: Length) -> Length:
    """Return by how much the dial's figures change over a travel.

    figures = travel, or 2 * travel where the dial reads diameter. Valid for any travel.

    Raises:
        WrongKind: The travel is no length, or the screw no screw.

    Source: the definition; checked against tests/golden/screw_dials.csv.
    """
    factor = _figures_per_travel(of_kind("screw", screw, Screw).reads)
    return of_kind("travel", travel, Length) * factor


def _figures_per_travel(reads: DialReads) -> int:
    return 2 if of_kind("dial", reads, DialReads) is DialReads.DIAMETER else 1


@dataclass(frozen=True, slots=True)
class Position:
    """Where the handle has been turned to and where the slide stands, both as travel.

    The job goes by the slide. How far it stands ahead of the handle says which way the screw
    last turned: nothing after forward, the whole backlash after back.

    Raises:
        WrongKind: A field is no length.
    """

    handle: Length
    slide: Length

    def __post_init__(self) -> None:
        of_kind("handle", self.handle, Length)
        of_kind("slide", self.slide, Length)


def zeroed(screw: Screw, approach: Direction = Direction.FORWARD) -> Position:
    """Return the position of a slide that has just been brought to its zero from one side.

    slide = 0, and handle = 0 after forward or -b after back.

    Raises:
        WrongKind: It is no screw, or no direction.

    Source: the definition.
    """
    return Position(_handle_at(screw, Length(0.0), approach), Length(0.0))


def after(screw: Screw, position: Position, handle: Turns) -> Position:
    """Return the position after the handle is turned, however the slack lies.

    The handle moves by N * pitch; slide = max(slide, handle) going forward, and
    min(slide, handle + b) going back. Valid for slide - handle of 0 to b.

    Raises:
        OutOfRange: The slide stands where this screw's backlash does not let it.
        WrongKind: A value is of another kind.

    Source: the definition of backlash; checked against tests/golden/backlash.csv.
    """
    slack = of_kind("position", position, Position).slide - position.handle
    backlash = of_kind("screw", screw, Screw).backlash
    if not -SAME_PLACE <= slack <= backlash + SAME_PLACE:
        limit = f"between 0 and the backlash, {backlash.mm:g} mm"
        raise OutOfRange("slide's distance ahead of the handle", slack.mm, limit)
    moved = travel(screw, handle)
    hand = position.handle + moved
    if moved.mm >= 0:
        return Position(hand, max(position.slide, hand))
    return Position(hand, min(position.slide, hand + backlash))


def moves(
    screw: Screw,
    position: Position,
    target: Length,
    approach: Direction = Direction.FORWARD,
) -> tuple[Turns, ...]:
    """Return how to turn the handle so that the slide arrives at a place from one side.

    N = (target + slack - handle) / pitch, slack being 0 forward and -b back, in one move where
    the slide stands short of the target; past it, first back by N less P turns and then P
    turns on, P the least whole number of turns longer than the backlash, so that the dial
    reads the same at both ends of it. None when the slide is there and was so brought.

    Raises:
        WrongKind: A value is of another kind.

    Source: arriving from one side is common practice, no source; the sums are the definition
    of backlash, checked against tests/golden/backlash.csv.
    """
    sign = of_kind("approach", approach, Direction).value
    handle = of_kind("position", position, Position).handle
    short = (of_kind("target", target, Length) - position.slide) * sign
    needed = turns(screw, _handle_at(screw, target, approach) - handle)
    if short >= -SAME_PLACE:
        there = abs(travel(screw, needed)) <= SAME_PLACE
        return () if there else (needed,)
    past = sign * (math.floor(screw.backlash.mm / screw.pitch.mm) + 1)
    back = Turns(needed.total - past, screw.divisions)
    return back, Turns(float(past), screw.divisions)


def return_to_zero(
    screw: Screw, position: Position, approach: Direction = Direction.FORWARD
) -> tuple[Turns, ...]:
    """Return how to turn the handle so that the slide arrives at its zero from one side.

    The `moves` to target = 0.

    Raises:
        WrongKind: A value is of another kind.

    Source: the definition.
    """
    return moves(screw, position, Length(0.0), approach)


def _handle_at(screw: Screw, slide: Length, approach: Direction) -> Length:
    """Return where the handle stands when it has just brought the slide to a place."""
    backlash = of_kind("screw", screw, Screw).backlash
    return (
        slide if of_kind("approach", approach, Direction) is Direction.FORWARD else slide - backlash
    )
