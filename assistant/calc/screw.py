"""The head's screw: travel as turns and divisions, and every move made from the same side.

Travel forward is towards larger numbers, whichever side of the axis the user calls that. A
turn of the screw always moves the slide by one pitch; what the dial says about it is another
matter (`DialReads`).
"""

import math
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from typing import Self

from assistant.calc.limits import not_negative, of_kind, positive, pure_number
from assistant.errors import OutOfRange, WrongKind
from assistant.quantity import MM_PER_INCH, Length

NO_BACKLASH = Length(0.0)


class DialReads(StrEnum):
    """What the figures on a dial count: the slide's travel, or twice that."""

    TRAVEL = "travel"
    DIAMETER = "diameter"


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
