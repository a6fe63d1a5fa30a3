"""What stays from job to job: the offset head, and the shop with its limits and instruments."""

from dataclasses import dataclass, field
from fractions import Fraction

from assistant.calc import cutting
from assistant.calc.screw import Screw
from assistant.calc.setover import ToolPost
from assistant.calc.tolerance import Tolerance
from assistant.dialogue.reminders import Intervals
from assistant.quantity import Angle, Length, SpindleSpeed
from assistant.tables import instruments

# Common practice, no source: a minute of arc is scrap, the work is thin and held at a slant.
CLOSE = Tolerance(Angle.from_degrees(0, minutes=1))
LIGHT_CUT = Length(0.25)
FINISHING_CUT = Length(0.05)


@dataclass(frozen=True, slots=True)
class Head:
    """The offset head: its screw, how far it goes to one side, and what it is used with.

    `confirmed` is whether anyone said that this is the head on the lathe, and `told` what of
    its screw was stated, which confirms it once that is all that turns need;
    `backlash_divisions` its backlash where that was told so; `per_turn` what a turn was found to
    move it, where that is not the pitch.
    """

    screw: Screw
    travel: Length
    steepest: Angle
    tool_post: ToolPost = ToolPost.FRONT
    confirmed: bool = False
    told: frozenset[str] = frozenset()
    backlash_divisions: Fraction | None = None
    per_turn: Length | None = None

    @property
    def known(self) -> bool:
        """Whether turns told for this head are no guess."""
        return self.confirmed or self.told >= {"pitch", "divisions"}


@dataclass(frozen=True, slots=True)
class Shop:
    """The limits of this shop and what it measures with; all of them settings."""

    intervals: Intervals = field(default_factory=Intervals)
    cap: SpindleSpeed = cutting.DEFAULT_CAP
    light_cut: Length = LIGHT_CUT
    finishing_cut: Length = FINISHING_CUT
    tolerance: Tolerance = CLOSE
    diameter_standard: Length = field(
        default_factory=lambda: instruments.find("outside micrometer").standard
    )
    apart_standard: Length = field(default_factory=lambda: instruments.find("calliper").standard)
    indicator_standard: Length = field(
        default_factory=lambda: instruments.find("dial indicator, 0.01 mm").standard
    )
    says_keys: bool = False
    # The word it must be called by; empty where all that is heard is said to it.
    called: str = ""
