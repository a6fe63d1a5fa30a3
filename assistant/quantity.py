"""Quantities that carry their unit: frozen, compared and added only with their own kind.

Nothing here rounds. Words become quantities in assistant.language, and quantities become
words in assistant.language.phrasing.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Self

from assistant.errors import OutOfRange, WrongKind

MM_PER_INCH = 25.4  # exact by definition: international yard and pound agreement, 1959


def in_words(kind: type) -> str:
    """Return a class's name in words: "spindle speed" of SpindleSpeed."""
    return "".join(f" {c.lower()}" if c.isupper() else c for c in kind.__name__).strip()


class Quantity:
    """A float with its unit in the field name, refused when it is no finite real number."""

    __slots__ = ()

    # The one field's name; every subclass is a dataclass, which sets it.
    __match_args__: ClassVar[tuple[str, ...]]

    @property
    def number(self) -> float:
        """The bare number, in the unit its field names."""
        (field,) = self.__match_args__
        return float(getattr(self, field))

    @property
    def unit(self) -> str:
        """The unit in words: "m per min"."""
        (field,) = self.__match_args__
        return field.replace("_", " ")

    def __post_init__(self) -> None:
        (field,) = self.__match_args__
        value = getattr(self, field)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise WrongKind(self._named(field), value, "a real number")
        if not math.isfinite(value):
            raise OutOfRange(self._named(field), value, "a finite number")

    def _named(self, field: str) -> str:
        # Worked out for an error only: a step of the conversation makes hundreds of quantities.
        return f"{in_words(type(self))} ({field})"

    if not TYPE_CHECKING:  # the type checker must go on refusing an Angle's .mm

        def __getattr__(self, name: str) -> float:
            # Only reached for a field this kind lacks: an Angle asked for its .mm.
            if name.startswith("_"):
                raise AttributeError(name)
            raise WrongKind(name, self, f"a quantity that has {name}")


@dataclass(frozen=True, slots=True, order=True)
class Length(Quantity):
    """A length or a distance, signed where a formula says so."""

    mm: float

    @classmethod
    def from_inches(cls, inches: float) -> Self:
        """Return the length of so many inches."""
        return cls(inches * MM_PER_INCH)

    @property
    def inches(self) -> float:
        """The length in inches."""
        return self.mm / MM_PER_INCH

    def __add__(self, other: "Length") -> "Length":
        return Length(self.mm + other.mm)

    def __sub__(self, other: "Length") -> "Length":
        return Length(self.mm - other.mm)

    def __neg__(self) -> "Length":
        return Length(-self.mm)

    def __abs__(self) -> "Length":
        return Length(abs(self.mm))

    def __mul__(self, factor: float) -> "Length":
        return Length(self.mm * factor)

    __rmul__ = __mul__


@dataclass(frozen=True, slots=True, order=True)
class Angle(Quantity):
    """A plane angle."""

    rad: float

    @classmethod
    def from_degrees(cls, degrees: float, minutes: float = 0.0, seconds: float = 0.0) -> Self:
        """Return the angle of degrees, minutes and seconds, all of one sign."""
        return cls(math.radians(degrees + minutes / 60 + seconds / 3600))

    @property
    def degrees(self) -> float:
        """The angle in degrees."""
        return math.degrees(self.rad)

    @property
    def minutes(self) -> float:
        """The whole angle in minutes of arc."""
        return self.degrees * 60

    @property
    def degrees_minutes_seconds(self) -> tuple[int, int, float]:
        """Whole degrees, whole minutes, and seconds with their fraction, all of one sign."""
        minutes, seconds = divmod(abs(self.degrees) * 3600, 60)
        sign = -1 if self.rad < 0 else 1
        return sign * int(minutes // 60), sign * int(minutes % 60), sign * seconds

    def __add__(self, other: "Angle") -> "Angle":
        return Angle(self.rad + other.rad)

    def __sub__(self, other: "Angle") -> "Angle":
        return Angle(self.rad - other.rad)

    def __neg__(self) -> "Angle":
        return Angle(-self.rad)

    def __abs__(self) -> "Angle":
        return Angle(abs(self.rad))

    def __mul__(self, factor: float) -> "Angle":
        return Angle(self.rad * factor)

    __rmul__ = __mul__


@dataclass(frozen=True, slots=True, order=True)
class SurfaceSpeed(Quantity):
    """The speed of a surface past the tool, or past what it rubs on."""

    m_per_min: float

    @classmethod
    def from_feet_per_minute(cls, feet: float) -> Self:
        """Return the speed of so many feet a minute."""
        return cls(feet * 12 * MM_PER_INCH / 1000)

    @property
    def feet_per_minute(self) -> float:
        """The speed in feet a minute."""
        return self.m_per_min * 1000 / (12 * MM_PER_INCH)


@dataclass(frozen=True, slots=True, order=True)
class SpindleSpeed(Quantity):
    """Whole turns in a minute; no radians anywhere."""

    rpm: float


@dataclass(frozen=True, slots=True, order=True)
class Feed(Quantity):
    """The carriage's movement in one turn of the work."""

    mm_per_rev: float

    @classmethod
    def from_inches_per_rev(cls, inches: float) -> Self:
        """Return the feed of so many inches a turn."""
        return cls(inches * MM_PER_INCH)


@dataclass(frozen=True, slots=True, order=True)
class Duration(Quantity):
    """A length of time."""

    s: float


@dataclass(frozen=True, slots=True, order=True)
class Force(Quantity):
    """A push or a load."""

    newtons: float


@dataclass(frozen=True, slots=True, order=True)
class Power(Quantity):
    """Heat or work in a second."""

    watts: float


@dataclass(frozen=True, slots=True, order=True)
class Modulus(Quantity):
    """A material's stiffness, Young's modulus."""

    gpa: float


@dataclass(frozen=True, slots=True, order=True)
class TemperatureRise(Quantity):
    """A difference of temperature; negative is colder."""

    kelvin: float


@dataclass(frozen=True, slots=True, order=True)
class Temperature(Quantity):
    """A temperature, as a thermometer reads it."""

    celsius: float

    def __sub__(self, other: "Temperature") -> TemperatureRise:
        return TemperatureRise(self.celsius - other.celsius)


@dataclass(frozen=True, slots=True, order=True)
class Expansion(Quantity):
    """A metal's linear growth, in millionths of its length for each kelvin."""

    per_million_per_kelvin: float

    @property
    def per_kelvin(self) -> float:
        """The growth as a share of the length for each kelvin."""
        return self.per_million_per_kelvin / 1e6
