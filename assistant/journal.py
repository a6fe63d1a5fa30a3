"""Requests as lines of the journal, both directions: one line of readable JSON each.

    {"BetweenBalls": {"length": "142.5 mm"}}

Numbers are kept exactly as they were said, with their unit if they had one: "142.5", "1/3 in".
Where the lines are kept is the business of a port.
"""

import json
import math
import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from types import UnionType
from typing import Any, get_args, get_origin, get_type_hints

from assistant.errors import JournalUnreadable
from assistant.language.requests import Measure, Request, Unit

# Everything that reading damaged text can run into.
_DAMAGE = (ValueError, TypeError, LookupError, ArithmeticError, RecursionError)

# No exponents: damage must not make a number that takes all day to write out.
_NUMBER = r"-?[0-9]{1,400}(?:\.[0-9]{1,400}|/[0-9]{1,400})?"
_FRACTION = re.compile(_NUMBER)
_MEASURE = re.compile(rf"({_NUMBER})(?: ([a-z]+))?")


def to_line(request: Request) -> str:
    """Return a request as one line of text."""
    return json.dumps(_plain(request), allow_nan=False)


def from_line(line: str) -> Request:
    """Return the request that a line holds.

    A field that a line lacks, written before there was one, takes its default.

    Raises:
        JournalUnreadable: The line is damaged, or from a version that knew other requests.
    """
    try:
        return _request(json.loads(line))
    except _DAMAGE as error:
        raise JournalUnreadable(line) from error


def _plain(value: Any) -> Any:
    match value:
        case Request():
            names = (field.name for field in fields(value))  # type: ignore[arg-type]  # see KINDS
            return {type(value).__name__: {name: _plain(getattr(value, name)) for name in names}}
        case Measure(number, unit):
            return _figures(number) if unit is None else f"{_figures(number)} {unit}"
        case Fraction():
            return _figures(value)
        case tuple():
            return [_plain(item) for item in value]
    return value


def _figures(value: Fraction) -> str:
    """Return a number as a decimal where that is exact, and otherwise as a fraction."""
    decimal = f"{Decimal(value.numerator) / Decimal(value.denominator):f}"
    return decimal if Fraction(decimal) == value else str(value)


def _request(plain: Any) -> Request:
    ((name, given),) = _of(dict, plain).items()
    kind = KINDS[name]
    kinds = get_type_hints(kind)
    return kind(**{name: _value(kinds[name], item) for name, item in _of(dict, given).items()})


def _value(kind: Any, plain: Any) -> Any:
    """Return what a field of a kind holds, from what stands for it in the line."""
    if isinstance(kind, UnionType):
        return _one_of(get_args(kind), plain)
    if get_origin(kind) is tuple:
        return tuple(_value(get_args(kind)[0], item) for item in _of(list, plain))
    if issubclass(kind, Request):
        return _of(kind, _request(plain))
    if issubclass(kind, StrEnum):
        return kind(_of(str, plain))
    if kind is Measure:
        number, unit = _matched(_MEASURE, plain)
        return Measure(Fraction(number), None if unit is None else Unit(unit))
    if kind is Fraction:
        _matched(_FRACTION, plain)
        return Fraction(plain)
    if kind is float:
        return _finite(_of(int | float, plain))
    return _of(kind, plain)


def _one_of(kinds: tuple[Any, ...], plain: Any) -> Any:
    for kind in kinds:
        try:
            return _value(kind, plain)
        except _DAMAGE:
            continue
    raise ValueError(plain)


def _finite(number: float) -> float:
    if not math.isfinite(number):
        raise ValueError(number)
    return float(number)


def _of(kind: Any, plain: Any) -> Any:
    """Return the value if it is of the kind; true is no number here."""
    if not isinstance(plain, kind) or (isinstance(plain, bool) and kind is not bool):
        raise TypeError(plain)
    return plain


def _matched(pattern: re.Pattern[str], plain: Any) -> tuple[str | Any, ...]:
    found = pattern.fullmatch(_of(str, plain))
    if found is None:
        raise ValueError(plain)
    return found.groups()


def _kinds(kind: type[Request]) -> Iterator[type[Request]]:
    if is_dataclass(kind):
        yield kind
    for narrower in kind.__subclasses__():
        yield from _kinds(narrower)


KINDS: dict[str, type[Request]] = {kind.__name__: kind for kind in _kinds(Request)}
