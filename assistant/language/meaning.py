"""What each rule of the grammars means: one table, by the rule's name or alias."""

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from assistant.calc.setover import End
from assistant.errors import OutOfRange
from assistant.language import requests as r
from assistant.language.requests import AngleIs, Measure, Question, Request, Unit
from assistant.tables import standard_tapers

_DIGITS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_TEENS = (
    "ten", "eleven", "twelve", "thirteen", "fourteen",
    "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")

WHOLE_NUMBERS: dict[str, int] = (
    dict.fromkeys(("zero", "oh", "nought"), 0)
    | {word: value for value, word in enumerate(_DIGITS, 1)}
    | {word: value for value, word in enumerate(_TEENS, 10)}
    | {word: 10 * value for value, word in enumerate(_TENS, 2)}
    | {"a": 1}
)

_PARTS: dict[str, int] = {
    "half": 2, "halves": 2, "quarter": 4, "quarters": 4, "fourth": 4, "fourths": 4,
    "eighth": 8, "eighths": 8, "sixteenth": 16, "sixteenths": 16,
}  # fmt: skip

_UNITS: dict[str, Unit] = (
    dict.fromkeys(("inch", "inches"), Unit.INCH)
    | dict.fromkeys(("millimetre", "millimetres", "millimeter", "millimeters"), Unit.MILLIMETRE)
    | dict.fromkeys(("thou", "thousandth", "thousandths"), Unit.THOU)
    | dict.fromkeys(("micron", "microns"), Unit.MICRON)
    | dict.fromkeys(("mil", "mils"), Unit.MIL)
    | dict.fromkeys(("tenth", "tenths"), Unit.TENTH)
)


def _value(part: str | int) -> int:
    return WHOLE_NUMBERS[part] if isinstance(part, str) else part


def _joined(*parts: str | int) -> int:
    """Read numbers as written side by side: one forty two, one oh five."""
    return int("".join(str(_value(part)) for part in parts))


def _decimals(*parts: str | int) -> Fraction:
    written = "".join(str(_value(part)) for part in parts)
    return Fraction(int(written), 10 ** len(written))


def _number(*parts: int | Fraction) -> Fraction:
    """Add a whole number to its decimals or fraction, either of which may be missing."""
    if len(parts) == 2 and parts[1] >= 1:
        raise OutOfRange("fraction after a whole number", str(parts[1]), "less than one")
    return Fraction(sum(parts))


def _angle(*parts: Any) -> Fraction:
    """Add degrees, minutes and seconds up, in degrees; numbers and units alternate."""
    per_degree = {"d": 1, "m": 60, "s": 3600}
    pairs = zip(parts[::2], parts[1::2], strict=True)
    return sum((number / per_degree[unit[0]] for number, unit in pairs), Fraction())


def _standard(system: str, size: Fraction) -> Request:
    """Find a taper by its number, which tables spell 2 or 4-1/2."""
    whole, part = divmod(size, 1)
    spelt = f"{whole}-{part}" if whole and part else str(size)
    return r.TaperByName(system, standard_tapers.find(system, spelt).size)


def _facts(*facts: r.Fact) -> Request:
    return facts[0] if len(facts) == 1 else r.Facts(facts)


def _correction(*parts: Any) -> Request:
    """No, and what is right instead; the word for no may come along."""
    instead = parts[-1]
    if isinstance(instead, r.Facts):
        return r.No(instead.facts)
    return r.No(instead if isinstance(instead, Measure) else (instead,))


def _always(value: Any) -> Callable[..., Any]:
    return lambda *_words: value


def _same(value: Any) -> Any:
    return value


MEANINGS: dict[str, Callable[..., Any]] = {
    # grammars/number.lark
    "pair": lambda *parts: sum(_value(part) for part in parts),
    "hundreds": lambda count, rest=0: 100 * _value(count) + _value(rest),
    "thousands": lambda count, rest=0: 1000 * _value(count) + _value(rest),
    "joined": _joined,
    "whole": _value,
    "decimals": _decimals,
    "fraction": lambda numerator, parts: Fraction(_value(numerator), parts),
    "one_part": lambda *words: Fraction(1, _PARTS[words[-1]]),
    "denominator": lambda word: _PARTS[word],
    "thirty_seconds": _always(32),
    "sixty_fourths": _always(64),
    "number": _number,
    # grammars/length.lark, grammars/angle.lark
    "unit": lambda word: _UNITS[word],
    "measure": Measure,
    "angle": _angle,
    # grammars/taper.lark
    "ratio": r.TaperByRatio,
    "per_foot": r.TaperPerFoot,
    "half_angle": r.TaperByHalfAngle,
    "included_angle": r.TaperByIncludedAngle,
    "angle_of_some_kind": r.TaperByAngle,
    "diameters": r.TaperByDiameters,
    "diameters_small_first": lambda small, large, apart: r.TaperByDiameters(large, small, apart),
    "size_first": lambda size, system: _standard(system, size),
    "system_first": _standard,
    "morse": _always("morse"),
    "jarno": _always("jarno"),
    "metric": _always("metric"),
    "brown_and_sharpe": _always("brown and sharpe"),
    # grammars/ball_length.lark
    "between_balls": r.BetweenBalls,
    "over_balls": r.OverBalls,
    "ball_diameter": r.BallDiameter,
    # grammars/head.lark
    "screw_pitch": r.ScrewPitch,
    "threads_per_inch": lambda threads, *_words: r.ThreadsPerInch(threads),
    "divisions": r.Divisions,
    "small_at_tailstock": _always(r.SmallEnd(End.TAILSTOCK)),
    "large_at_tailstock": _always(r.SmallEnd(End.HEADSTOCK)),
    # grammars/question.lark
    "ask_set_over": _always(r.Ask(Question.SET_OVER)),
    "ask_turns": _always(r.Ask(Question.TURNS)),
    "ask_side": _always(r.Ask(Question.SIDE)),
    "ask_again": _always(r.Ask(Question.AGAIN)),
    "ask_status": _always(r.Ask(Question.STATUS)),
    "ask_why": _always(r.Ask(Question.WHY)),
    "ask_help": _always(r.Ask(Question.HELP)),
    # grammars/answer.lark
    "yes": _always(r.Yes()),
    "no": _always(r.No()),
    "undo": lambda steps="one": r.Undo(_value(steps)),
    "cancel": _always(r.Cancel()),
    "metric_units": _always(r.Units(Unit.MILLIMETRE)),
    "inch_units": _always(r.Units(Unit.INCH)),
    "new_job": _always(r.NewJob()),
    # grammars/said.lark
    "facts": _facts,
    "correction": _correction,
    "bare": r.Bare,
    "kind_half": _always(r.AngleKind(AngleIs.HALF)),
    "kind_included": _always(r.AngleKind(AngleIs.INCLUDED)),
    "ready": _same,
    "asked_measure": _same,
    "asked_angle_kind": _same,
}
