"""What can be meant, however it was said or keyed."""

from collections.abc import Callable
from dataclasses import dataclass, fields
from enum import StrEnum
from fractions import Fraction
from typing import Any

from assistant.calc.screw import DialReads
from assistant.calc.setover import End, ToolPost
from assistant.calc.trueing import Contact
from assistant.errors import Ambiguous
from assistant.quantity import Length
from assistant.tables.cutting import Tool


class Unit(StrEnum):
    """A unit of length as people name it. Two of them are not to be trusted."""

    MILLIMETRE = "mm"
    INCH = "in"
    THOU = "thou"
    MICRON = "micron"
    MIL = "mil"
    TENTH = "tenth"


_MM_PER: dict[Unit, Fraction] = {
    Unit.MILLIMETRE: Fraction(1),
    Unit.INCH: Fraction("25.4"),
    Unit.THOU: Fraction("0.0254"),
    Unit.MICRON: Fraction("0.001"),
}

# Each means one thing to one shop and another to the next, many times larger: what it may be.
_UNCLEAR: dict[Unit, tuple[tuple[Unit, Fraction], ...]] = {
    Unit.MIL: ((Unit.MILLIMETRE, Fraction(1)), (Unit.THOU, Fraction(1))),
    Unit.TENTH: ((Unit.MILLIMETRE, Fraction(1, 10)), (Unit.THOU, Fraction(1, 10))),
}


@dataclass(frozen=True, slots=True)
class Measure:
    """A length as said: an exact number, and its unit unless the job supplies it."""

    value: Fraction
    unit: Unit | None = None

    def length(self, job_unit: Unit) -> Length:
        """Return the length.

        Raises:
            Ambiguous: The unit said is two things to two shops.
        """
        unit = self.unit or job_unit
        if unit in _UNCLEAR:
            raise Ambiguous(f"a {unit}", [f"{share} {clear}" for clear, share in _UNCLEAR[unit]])
        return Length(float(self.value * _MM_PER[unit]))

    def meanings(self, job_unit: Unit) -> "tuple[Measure, ...]":
        """Return what it may mean: one measure, or one for each shop that says its unit.

        In a millimetre job a mil is a millimetre; it is read back as one.
        """
        if self.unit is None or self.unit not in _UNCLEAR:
            return (self,)
        may_be = _UNCLEAR[self.unit]
        if self.unit is Unit.MIL and job_unit is Unit.MILLIMETRE:
            may_be = may_be[:1]
        return tuple(Measure(self.value * share, unit) for unit, share in may_be)


class Request:
    """Anything meant by one utterance or one run of keys."""

    __slots__ = ()


class Fact(Request):
    """A request that states something about the job."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class TaperByRatio(Fact):
    """Rise on diameter in run of length, one in twenty."""

    rise: Fraction
    run: Fraction


@dataclass(frozen=True, slots=True)
class TaperPerFoot(Fact):
    """Change of diameter in a foot; inches when no unit was said."""

    change: Measure


@dataclass(frozen=True, slots=True)
class TaperByHalfAngle(Fact):
    """The angle between axis and side."""

    degrees: Fraction


@dataclass(frozen=True, slots=True)
class TaperByIncludedAngle(Fact):
    """The angle between opposite sides."""

    degrees: Fraction


@dataclass(frozen=True, slots=True)
class TaperByAngle(Fact):
    """An angle, not said whether half or included."""

    degrees: Fraction


@dataclass(frozen=True, slots=True)
class TaperByDiameters(Fact):
    """Two diameters and how far apart they are along the axis."""

    large: Measure
    small: Measure
    apart: Measure


@dataclass(frozen=True, slots=True)
class TaperByName(Fact):
    """A standard taper, its size as its table spells it."""

    system: str
    size: str


@dataclass(frozen=True, slots=True)
class BetweenBalls(Fact):
    """The length between the two ball centres."""

    length: Measure


@dataclass(frozen=True, slots=True)
class OverBalls(Fact):
    """A reading over both seated balls, perhaps with their diameter."""

    reading: Measure
    ball: Measure | None = None


@dataclass(frozen=True, slots=True)
class BallDiameter(Fact):
    """The diameter of both balls."""

    diameter: Measure


@dataclass(frozen=True, slots=True)
class WorkLength(Fact):
    """The work's own length, face to face."""

    length: Measure


@dataclass(frozen=True, slots=True)
class Mouth(Fact):
    """The mouth of both centre holes."""

    diameter: Measure


@dataclass(frozen=True, slots=True)
class Pilot(Fact):
    """The pilot of both centre holes."""

    diameter: Measure


@dataclass(frozen=True, slots=True)
class WorkDiameter(Fact):
    """The diameter being cut."""

    diameter: Measure


@dataclass(frozen=True, slots=True)
class MaterialIs(Fact):
    """What the work is made of, as the table of cutting speeds names it."""

    name: str


@dataclass(frozen=True, slots=True)
class ToolIs(Fact):
    """What the tool is made of."""

    tool: Tool


@dataclass(frozen=True, slots=True)
class RunningAt(Fact):
    """The spindle speed the lathe is set to."""

    rpm: Fraction


@dataclass(frozen=True, slots=True)
class WithinAngle(Fact):
    """How far the half angle may be out, either way."""

    degrees: Fraction


@dataclass(frozen=True, slots=True)
class ScrewPitch(Fact):
    """How far one turn of the head's screw moves it."""

    pitch: Measure


@dataclass(frozen=True, slots=True)
class ThreadsPerInch(Fact):
    """The same for an inch screw."""

    threads: Fraction


@dataclass(frozen=True, slots=True)
class Divisions(Fact):
    """How many divisions the screw's dial has."""

    divisions: Fraction


@dataclass(frozen=True, slots=True)
class DialIs(Fact):
    """What the figures on the screw's dial count."""

    reads: DialReads


@dataclass(frozen=True, slots=True)
class Backlash(Fact):
    """How far the screw turns before the slide follows, as travel."""

    travel: Measure


@dataclass(frozen=True, slots=True)
class BacklashDivisions(Fact):
    """The same in divisions of the dial."""

    divisions: Fraction


@dataclass(frozen=True, slots=True)
class HeadTravel(Fact):
    """How far the head goes to one side."""

    travel: Measure


@dataclass(frozen=True, slots=True)
class ToolPostAt(Fact):
    """Which side of the work the tool is on."""

    tool_post: ToolPost


@dataclass(frozen=True, slots=True)
class SmallEnd(Fact):
    """Which end of the bed the small end of the taper is at."""

    end: End


@dataclass(frozen=True, slots=True)
class Units(Fact):
    """Inches or millimetres for numbers said without a unit."""

    unit: Unit


@dataclass(frozen=True, slots=True)
class Bare(Request):
    """A measure alone: the answer to whatever was asked."""

    measure: Measure


class AngleIs(StrEnum):
    """Which angle of the cone was meant."""

    HALF = "half angle"
    INCLUDED = "included angle"


@dataclass(frozen=True, slots=True)
class AngleKind(Request):
    """Says which angle was meant."""

    kind: AngleIs


class Question(StrEnum):
    """What can be asked."""

    SET_OVER = "set-over"
    TURNS = "turns"
    SIDE = "side"
    AGAIN = "again"
    STATUS = "status"
    NEXT = "next"
    WHY = "why"
    HELP = "help"
    CORRECTION = "correction"
    SPEED = "speed"
    FIT = "fit"
    SCREW = "screw"
    DUE = "due"
    CAUTIONS = "cautions"


@dataclass(frozen=True, slots=True)
class Ask(Request):
    """Asks for something."""

    question: Question


@dataclass(frozen=True, slots=True)
class Yes(Request):
    """Agrees."""


@dataclass(frozen=True, slots=True)
class No(Request):
    """Contradicts what was taken last, perhaps with what is right."""

    instead: tuple[Fact, ...] | Measure | None = None


@dataclass(frozen=True, slots=True)
class Undo(Request):
    """Goes back some steps."""

    steps: int = 1


@dataclass(frozen=True, slots=True)
class Cancel(Request):
    """Leaves the question open or the number half keyed."""


class Topic(StrEnum):
    """What can be put right by name."""

    TAPER = "taper"
    LENGTH = "length"
    BALL = "ball"
    HEAD = "head"


@dataclass(frozen=True, slots=True)
class Correct(Request):
    """Asks for a fact again, in place of the one that was taken."""

    topic: Topic


@dataclass(frozen=True, slots=True)
class Choice(Request):
    """Picks the first or the second of two meanings."""

    number: int


@dataclass(frozen=True, slots=True)
class ChoiceOfUnit(Request):
    """Picks the meaning that is in a unit."""

    unit: Unit


@dataclass(frozen=True, slots=True)
class SetUpHead(Request):
    """Goes through the head's screw, dial, travel and tool post."""


@dataclass(frozen=True, slots=True)
class HeadSet(Request):
    """The head stands where it was asked to."""


@dataclass(frozen=True, slots=True)
class HeadAtZero(Request):
    """The head stands at its zero, brought there from the usual side."""


@dataclass(frozen=True, slots=True)
class SpindleStarted(Request):
    """The spindle turns."""


@dataclass(frozen=True, slots=True)
class SpindleStopped(Request):
    """The spindle stands."""


@dataclass(frozen=True, slots=True)
class TookCut(Request):
    """A pass was taken, so deep square to the bed."""

    depth: Measure


@dataclass(frozen=True, slots=True)
class Measured(Request):
    """Two diameters of the cone just turned, and how far apart along it."""

    large: Measure
    small: Measure
    apart: Measure


@dataclass(frozen=True, slots=True)
class IndicatorMoved(Request):
    """How an indicator square to the bed changed along a parallel bar between the balls."""

    change: Measure
    over: Measure


@dataclass(frozen=True, slots=True)
class BlueAt(Request):
    """Where the work bears in the gauge."""

    contact: Contact


@dataclass(frozen=True, slots=True)
class StandsOff(Request):
    """How much further on the gauge has to go."""

    distance: Measure


@dataclass(frozen=True, slots=True)
class Oiled(Request):
    """The tailstock ball was oiled."""


class Warmth(StrEnum):
    """How warm the tailstock ball is to the operator."""

    COOL = "cool"
    WARM = "warm"
    HOT = "hot"


@dataclass(frozen=True, slots=True)
class BallIs(Request):
    """How warm the tailstock ball is."""

    warmth: Warmth


@dataclass(frozen=True, slots=True)
class Eased(Request):
    """The tailstock was eased."""


@dataclass(frozen=True, slots=True)
class PutOff(Request):
    """Not now: remind me later."""


@dataclass(frozen=True, slots=True)
class NewJob(Request):
    """Forgets this job's taper and length, and keeps the head."""


@dataclass(frozen=True, slots=True)
class NextPart(Request):
    """The same job on another part, perhaps with its length between balls."""

    length: Measure | None = None


@dataclass(frozen=True, slots=True)
class RepeatJob(Request):
    """Takes up a finished job again by its number."""

    number: int


@dataclass(frozen=True, slots=True)
class FinishJob(Request):
    """The job is done and is kept."""


class VoiceChange(StrEnum):
    """How replies can be changed."""

    QUIETER = "quieter"
    LOUDER = "louder"
    MUTE = "mute"
    BRIEF = "brief"
    FULL = "full"


@dataclass(frozen=True, slots=True)
class ChangeVoice(Request):
    """Changes how replies sound, or how much they say."""

    change: VoiceChange


@dataclass(frozen=True, slots=True)
class StopListening(Request):
    """Take no spoken word but the one that ends this."""


@dataclass(frozen=True, slots=True)
class Listen(Request):
    """Take spoken words again."""


@dataclass(frozen=True, slots=True)
class Facts(Request):
    """Several facts in one breath."""

    facts: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class RunSoFar(Request):
    """What the spindle and the clock have done. Nobody says it: the journal keeps it."""

    turning: bool
    ran_s: float
    ball_turns: float
    awake_s: float


@dataclass(frozen=True, slots=True)
class Either(Request):
    """Words that mean two things: one of them was meant."""

    meanings: tuple[Request, ...]


@dataclass(frozen=True, slots=True)
class Unsure(Request):
    """Words that may have been misheard: what they were taken for, the surest first."""

    readings: tuple[Request, ...]


# Facts that stand by themselves; an angle of unknown kind does not.
PLAIN_FACTS: tuple[type[Fact], ...] = (
    TaperByRatio,
    TaperPerFoot,
    TaperByHalfAngle,
    TaperByIncludedAngle,
    TaperByDiameters,
    TaperByName,
    BetweenBalls,
    OverBalls,
    BallDiameter,
    WorkLength,
    Mouth,
    Pilot,
    WorkDiameter,
    MaterialIs,
    ToolIs,
    RunningAt,
    WithinAngle,
    ScrewPitch,
    ThreadsPerInch,
    Divisions,
    DialIs,
    Backlash,
    BacklashDivisions,
    HeadTravel,
    ToolPostAt,
    SmallEnd,
    Units,
)


def clear_meanings(request: Request, job_unit: Unit) -> tuple[Any, ...]:
    """Return what a request may mean: one, or two where a unit in it means two things."""
    first = with_measures(request, lambda measure: measure.meanings(job_unit)[0])
    second = with_measures(request, lambda measure: measure.meanings(job_unit)[-1])
    return (first,) if first == second else (first, second)


def with_measures(value: Any, changed: Callable[[Measure], Measure]) -> Any:
    """Return a request with every measure in it changed."""
    if isinstance(value, Measure):
        return changed(value)
    if isinstance(value, tuple):
        return tuple(with_measures(item, changed) for item in value)
    if not isinstance(value, Request):
        return value
    parts = (getattr(value, field.name) for field in fields(value))  # type: ignore[arg-type]
    return type(value)(*(with_measures(part, changed) for part in parts))
