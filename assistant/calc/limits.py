"""Refusing input a formula does not hold for, in one line at the top of the formula."""

import math
from typing import TypeVar

from assistant.errors import OutOfRange, WrongKind
from assistant.quantity import Angle, Length, Quantity, in_words

Q = TypeVar("Q")

# Steeper than this nobody turns between centres; it is the sine and tangent forms' domain,
# not a promise that a head can reach it. Common practice, no source.
STEEPEST_HALF_ANGLE = Angle.from_degrees(45)


def of_kind(name: str, value: Q, kind: type[Q]) -> Q:
    """Return the value, refused by name unless it is of that kind of quantity.

    Raises:
        WrongKind: It is of another kind, or a bare number.
    """
    if not isinstance(value, kind):
        words = in_words(kind)
        raise WrongKind(name, value, f"{'an' if words[0] in 'aeiou' else 'a'} {words}")
    return value


def positive(name: str, quantity: Quantity, kind: type[Quantity] = Length) -> float:
    """Return a quantity's number in its own unit, refused unless it is more than nothing.

    Raises:
        WrongKind: It is not of the kind; a length unless said otherwise.
        OutOfRange: It is zero or less.
    """
    if of_kind(name, quantity, kind).number <= 0:
        raise OutOfRange(name, quantity.number, f"more than 0 {quantity.unit}")
    return quantity.number


def not_negative(name: str, quantity: Quantity, kind: type[Quantity] = Length) -> float:
    """Return a quantity's number in its own unit, refused when it is less than nothing.

    Raises:
        WrongKind: It is not of the kind; a length unless said otherwise.
        OutOfRange: It is less than zero.
    """
    if of_kind(name, quantity, kind).number < 0:
        raise OutOfRange(name, quantity.number, f"0 {quantity.unit} or more")
    return quantity.number


def pure_number(name: str, number: float) -> float:
    """Return a number without a unit, refused unless it is finite and real.

    Raises:
        WrongKind: It is no real number.
        OutOfRange: It is not finite.
    """
    if isinstance(number, bool) or not isinstance(number, int | float):
        raise WrongKind(name, number, "a real number")
    if not math.isfinite(number):
        raise OutOfRange(name, number, "a finite number")
    return number
