"""Quantities that carry their unit: frozen, compared and added only with their own kind.

Nothing here rounds. Words become quantities in assistant.language, and quantities become
words in assistant.language.phrasing.
"""

import math
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Self

from assistant.errors import OutOfRange, WrongKind

MM_PER_INCH = 25.4  # exact by definition: international yard and pound agreement, 1959


class _Quantity:
    """A float with its unit in the field name, refused when it is no finite real number."""

    __slots__ = ()

    def __post_init__(self) -> None:
        for field in fields(self):  # type: ignore[arg-type]  # every subclass is a dataclass
            value = getattr(self, field.name)
            name = f"{type(self).__name__.lower()} ({field.name})"
            if isinstance(value, bool) or not isinstance(value, int | float):
                raise WrongKind(name, value, "a real number")
            if not math.isfinite(value):
                raise OutOfRange(name, value, "a finite number")

    if not TYPE_CHECKING:  # the type checker must go on refusing an Angle's .mm

        def __getattr__(self, name: str) -> float:
            # Only reached for a field this kind lacks: an Angle asked for its .mm.
            if name.startswith("_"):
                raise AttributeError(name)
            raise WrongKind(name, self, f"a quantity that has {name}")


@dataclass(frozen=True, slots=True, order=True)
class Length(_Quantity):
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
class Angle(_Quantity):
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
