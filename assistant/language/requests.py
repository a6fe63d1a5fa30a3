"""What can be meant, however it was said or keyed."""

from dataclasses import dataclass, fields, is_dataclass
from enum import StrEnum
from fractions import Fraction
from typing import Any

from assistant.calc.setover import End
from assistant.errors import Ambiguous
from assistant.quantity import Length


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

# Each means one thing to one shop and another to the next, many times larger.
_UNCLEAR: dict[Unit, tuple[str, str]] = {
    Unit.MIL: ("a millimetre", "a thou"),
    Unit.TENTH: ("a tenth of a thou", "a tenth of a millimetre"),
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
            raise Ambiguous(f"a {unit}", _UNCLEAR[unit])
        return Length(float(self.value * _MM_PER[unit]))


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
    WHY = "why"
    HELP = "help"


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


@dataclass(frozen=True, slots=True)
class NewJob(Request):
    """Forgets this job's taper and length, and keeps the head."""


@dataclass(frozen=True, slots=True)
class Facts(Request):
    """Several facts in one breath."""

    facts: tuple[Fact, ...]


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
    ScrewPitch,
    ThreadsPerInch,
    Divisions,
    SmallEnd,
    Units,
)


def described(request: Request) -> dict[str, Any]:
    """Return a request as plain values: its name and its fields."""
    return {"request": _name(request), **_fields(request)}


def _name(request: Request) -> str:
    """TaperByRatio is taper_by_ratio."""
    letters = (f"_{c.lower()}" if c.isupper() else c for c in type(request).__name__)
    return "".join(letters).removeprefix("_")


def _plain(value: Any) -> Any:
    if isinstance(value, tuple):
        return [described(item) for item in value]
    if isinstance(value, Fraction):
        return int(value) if value.denominator == 1 else float(value)
    return _fields(value) if is_dataclass(value) else value


def _fields(value: Any) -> dict[str, Any]:
    return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
