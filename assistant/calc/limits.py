"""Refusing input a formula does not hold for, in one line at the top of the formula."""

from typing import TypeVar

from assistant.errors import OutOfRange, WrongKind
from assistant.quantity import Angle, Length

Q = TypeVar("Q")

# Steeper than this nobody turns between centres; it is the sine and tangent forms' domain,
# not a promise that a head can reach it. Common practice, no source.
STEEPEST_HALF_ANGLE = Angle.from_degrees(45)


def of_kind(name: str, value: Q, kind: type[Q]) -> Q:
    """Return the value, refused by name unless it is of that kind of quantity."""
    if not isinstance(value, kind):
        raise WrongKind(name, value, f"a {kind.__name__.lower()}")
    return value


def positive(name: str, length: Length) -> float:
    """Return a length's millimetres, refused unless it is more than nothing."""
    if of_kind(name, length, Length).mm <= 0:
        raise OutOfRange(name, length.mm, "more than 0 mm")
    return length.mm


def not_negative(name: str, length: Length) -> float:
    """Return a length's millimetres, refused when it is less than nothing."""
    if of_kind(name, length, Length).mm < 0:
        raise OutOfRange(name, length.mm, "0 mm or more")
    return length.mm
