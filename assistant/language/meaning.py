"""What each rule of the grammars means: one table, by the rule's name or alias."""

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any

from assistant.calc.screw import DialReads
from assistant.calc.setover import End, ToolPost
from assistant.calc.trueing import Contact
from assistant.errors import NotUnderstood, OutOfRange
from assistant.language import requests as r
from assistant.language.requests import (
    AngleIs,
    Measure,
    Question,
    Request,
    Topic,
    Unit,
    VoiceChange,
)
from assistant.tables import standard_tapers
from assistant.tables.cutting import Tool

_DIGITS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_TEENS = (
    "ten", "eleven", "twelve", "thirteen", "fourteen",
    "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
# Any word of a kind can stand where another does.
KINDS_OF_FIGURE = (_DIGITS, _TEENS, _TENS)

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


def _first(first: Any, *_rest: Any) -> Any:
    return first


def _last(*parts: Any) -> Any:
    """Pass the meaning on; an article may have come with it."""
    return parts[-1]


def _joined(*parts: str | int) -> int:
    """Read numbers as written side by side: one forty two, one oh five."""
    return int("".join(str(_value(part)) for part in parts))


def _decimals(*parts: str | int) -> Fraction:
    written = "".join(str(_value(part)) for part in parts)
    return Fraction(int(written), 10 ** len(written))


def _number(*parts: int | Fraction) -> Fraction:
    """Add a whole number to its decimals or fraction, either of which may be missing."""
    if len(parts) == 2 and parts[1] >= 1:
        raise OutOfRange("fraction after a whole number", float(parts[1]), "less than one")
    return Fraction(sum(parts))


def _shorthand(*words: str) -> Measure:
    """Read nineteen oh five as 19.05, seventeen eight as 17.8, twenty five eight as 25.8."""
    *said, last = words
    unit = last if isinstance(last, Unit) else None
    figures = said if unit else words
    pair = 1 if figures[0] in _TEENS or _value(figures[1]) == 0 else 2
    whole = sum(_value(word) for word in figures[:pair])
    return Measure(whole + _decimals(*figures[pair:]), unit)


def _measure(value: Fraction | Measure, *rest: Any) -> Measure:
    """Join a number to the unit said after it; an article may stand between."""
    if isinstance(value, Measure):
        return replace(value, unit=rest[0]) if rest else value
    unit = rest[-1] if rest else None
    return Measure(Fraction(value), unit if isinstance(unit, Unit) else None)


_SMALL_PARTS = {"tenth": 10, "tenths": 10, "hundredth": 100, "hundredths": 100} | dict.fromkeys(
    ("thou", "thousandth", "thousandths"), 1000
)


def _small_part(count: Fraction, part: str, *rest: Any) -> Measure:
    return Measure(count / _SMALL_PARTS[part], rest[-1])


def _share_of_degree(per_degree: int) -> Callable[..., Fraction]:
    return lambda count, *_words: Fraction(count) / per_degree


def _angle(*parts: Fraction) -> Fraction:
    """Add degrees, minutes and seconds up; what follows degrees must be less than one."""
    if len(parts) > 1 and sum(parts[1:]) >= 1:
        raise OutOfRange("part of a degree", float(sum(parts[1:])), "less than 1 degree")
    return sum(parts, Fraction())


def _minutes_alone(*parts: Any) -> Fraction:
    minutes = sum(_value(part) for part in parts)
    if minutes >= 60:
        raise OutOfRange("minutes of an angle", str(minutes), "less than 60")
    return Fraction(minutes, 60)


def standard_taper(system: str, size: Fraction) -> r.TaperByName:
    """Find a taper by its number, which tables spell 2, 4-1/2 or 0.6.

    Raises:
        UnknownName: The system has no such size.
    """
    whole, part = divmod(size, 1)
    known = standard_tapers.sizes(system)
    spellings = (str(size), f"{whole}-{part}", f"{float(size):g}")
    spelt = next((one for one in spellings if one in known), spellings[-1])
    return r.TaperByName(system, standard_tapers.find(system, spelt).size)


def _measured_run_on(large: Measure, small: Measure, apart: Measure) -> r.Measured:
    """Take a distance that no pause parts from the diameter before it.

    A figure alone may be the diameter's last: seventeen eight apart is no 17, 8 apart.
    """
    if apart.unit is None and apart.value < 10:
        raise NotUnderstood("that without a distance apart")
    return r.Measured(large, small, apart)


def _choice(word: str) -> r.Choice:
    number = _value(word)
    if number > 2:
        raise OutOfRange("choice", str(number), "one or two")
    return r.Choice(number)


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


MEANINGS: dict[str, Callable[..., Any]] = {
    # grammars/number.lark
    "pair": lambda *parts: sum(_value(part) for part in parts),
    "hundreds": lambda count, rest=0: 100 * _value(count) + _value(rest),
    "thousands": lambda count, rest=0: 1000 * _value(count) + _value(rest),
    "joined": _joined,
    "whole": _value,
    "part": _last,
    "small": _value,
    "count": _value,
    "counted_parts": lambda numerator, parts: Fraction(_value(numerator), parts),
    "decimals": _decimals,
    "fraction": _last,
    "one_part": lambda *words: Fraction(1, _PARTS[words[-1]]),
    "denominator": lambda word: _PARTS[word],
    "thirty_seconds": _always(32),
    "sixty_fourths": _always(64),
    "number": _number,
    # grammars/length.lark, grammars/angle.lark
    "unit": lambda word: _UNITS[word],
    "measure": _measure,
    "one": _always(Fraction(1)),
    "one_unit": lambda *parts: Measure(Fraction(1), parts[-1]),
    "unit_and_part": lambda count, unit, part: Measure(Fraction(count) + part, unit),
    "small_part": _small_part,
    "shorthand": _shorthand,
    "degrees": _share_of_degree(1),
    "minutes": _share_of_degree(60),
    "seconds": _share_of_degree(3600),
    "minutes_alone": _minutes_alone,
    "angle": _angle,
    # grammars/taper.lark
    "taper": _last,
    "taper_counted": _first,
    "taper_ranging": _last,
    "ratio": r.TaperByRatio,
    "per_foot": lambda change, *_words: r.TaperPerFoot(change),
    "half_angle": r.TaperByHalfAngle,
    "included_angle": r.TaperByIncludedAngle,
    "angle_of_some_kind": r.TaperByAngle,
    "diameters": r.TaperByDiameters,
    "diameters_small_first": lambda small, large, apart: r.TaperByDiameters(large, small, apart),
    "size_first": lambda size, system: standard_taper(system, size),
    "system_first": standard_taper,
    "pipe": _always(r.TaperByName("pipe", "1:16")),
    "morse": _always("morse"),
    "jarno": _always("jarno"),
    "metric": _always("metric"),
    "brown_and_sharpe": _always("brown and sharpe"),
    "jacobs": _always("jacobs"),
    "steep": _always("steep"),
    "metric_pin": _always("metric pin"),
    "inch_pin": _always("inch pin"),
    # grammars/ball_length.lark
    "between_balls": r.BetweenBalls,
    "over_balls": r.OverBalls,
    "ball_diameter": r.BallDiameter,
    "work_length": r.WorkLength,
    "mouth": r.Mouth,
    "pilot": r.Pilot,
    # grammars/head.lark
    "screw_pitch": r.ScrewPitch,
    "threads_per_inch": lambda threads, *_words: r.ThreadsPerInch(threads),
    "divisions": lambda count, *_words: r.Divisions(count),
    "backlash": r.Backlash,
    "backlash_divisions": lambda count, *_words: r.BacklashDivisions(count),
    "no_backlash": _always(r.Backlash(Measure(Fraction(0)))),
    "head_travel": r.HeadTravel,
    "dial_travel": _always(r.DialIs(DialReads.TRAVEL)),
    "dial_diameter": _always(r.DialIs(DialReads.DIAMETER)),
    "post_front": _always(r.ToolPostAt(ToolPost.FRONT)),
    "post_rear": _always(r.ToolPostAt(ToolPost.REAR)),
    "small_at_tailstock": _always(r.SmallEnd(End.TAILSTOCK)),
    "large_at_tailstock": _always(r.SmallEnd(End.HEADSTOCK)),
    # grammars/question.lark
    "ask_set_over": _always(r.Ask(Question.SET_OVER)),
    "ask_turns": _always(r.Ask(Question.TURNS)),
    "ask_side": _always(r.Ask(Question.SIDE)),
    "ask_again": _always(r.Ask(Question.AGAIN)),
    "ask_status": _always(r.Ask(Question.STATUS)),
    "ask_next": _always(r.Ask(Question.NEXT)),
    "ask_why": _always(r.Ask(Question.WHY)),
    "ask_help": _always(r.Ask(Question.HELP)),
    "ask_correction": _always(r.Ask(Question.CORRECTION)),
    "ask_speed": _always(r.Ask(Question.SPEED)),
    "ask_fit": _always(r.Ask(Question.FIT)),
    "ask_screw": _always(r.Ask(Question.SCREW)),
    "ask_due": _always(r.Ask(Question.DUE)),
    "ask_cautions": _always(r.Ask(Question.CAUTIONS)),
    # grammars/answer.lark
    "yes": _always(r.Yes()),
    "no": _always(r.No()),
    "undo": lambda steps="one": r.Undo(_value(steps)),
    "cancel": _always(r.Cancel()),
    "metric_units": _always(r.Units(Unit.MILLIMETRE)),
    "inch_units": _always(r.Units(Unit.INCH)),
    # grammars/work.lark
    "work_diameter": r.WorkDiameter,
    "material_is": lambda *parts: r.MaterialIs(parts[-1]),
    "tool_is": r.ToolIs,
    "running_at": lambda rpm, *_words: r.RunningAt(Fraction(rpm)),
    "within_angle": r.WithinAngle,
    "mild_steel": _always("mild steel"),
    "stainless": _always("stainless steel"),
    "tool_steel": _always("tool steel"),
    "cast_iron": _always("cast iron"),
    "brass": _always("brass"),
    "bronze": _always("bronze"),
    "aluminium": _always("aluminium"),
    "carbide": _always(Tool.CARBIDE),
    "high_speed_steel": _always(Tool.HIGH_SPEED_STEEL),
    # grammars/done.lark
    "head_set": _always(r.HeadSet()),
    "head_at_zero": _always(r.HeadAtZero()),
    "started": _always(r.SpindleStarted()),
    "stopped": _always(r.SpindleStopped()),
    "took_cut": lambda *parts: r.TookCut(parts[-1]),
    "measured": r.Measured,
    "measured_run_on": _measured_run_on,
    "indicator": r.IndicatorMoved,
    "blue_large": _always(r.BlueAt(Contact.LARGE_END)),
    "blue_small": _always(r.BlueAt(Contact.SMALL_END)),
    "blue_all": _always(r.BlueAt(Contact.WHOLE_LENGTH)),
    "stands_off": r.StandsOff,
    # grammars/care.lark
    "oiled": _always(r.Oiled()),
    "ball_cool": _always(r.BallIs(r.Warmth.COOL)),
    "ball_warm": _always(r.BallIs(r.Warmth.WARM)),
    "ball_hot": _always(r.BallIs(r.Warmth.HOT)),
    "eased": _always(r.Eased()),
    "put_off": _always(r.PutOff()),
    # grammars/job.lark
    "next_part": r.NextPart,
    "finish_job": _always(r.FinishJob()),
    "repeat_job": r.RepeatJob,
    "new_job": _always(r.NewJob()),
    "correct_taper": _always(r.Correct(Topic.TAPER)),
    "correct_length": _always(r.Correct(Topic.LENGTH)),
    "correct_ball": _always(r.Correct(Topic.BALL)),
    "correct_head": _always(r.Correct(Topic.HEAD)),
    "set_up_head": _always(r.SetUpHead()),
    # grammars/voice.lark
    "quieter": _always(r.ChangeVoice(VoiceChange.QUIETER)),
    "louder": _always(r.ChangeVoice(VoiceChange.LOUDER)),
    "mute": _always(r.ChangeVoice(VoiceChange.MUTE)),
    "brief": _always(r.ChangeVoice(VoiceChange.BRIEF)),
    "full": _always(r.ChangeVoice(VoiceChange.FULL)),
    "stop_listening": _always(r.StopListening()),
    "listen": _always(r.Listen()),
    # grammars/said.lark
    "facts": _facts,
    "run_on": _facts,
    "correction": _correction,
    "bare": r.Bare,
    "kind_half": _always(r.AngleKind(AngleIs.HALF)),
    "kind_included": _always(r.AngleKind(AngleIs.INCLUDED)),
    "choice_first": _always(r.Choice(1)),
    "choice_second": _always(r.Choice(2)),
    "choice_number": _choice,
    "choice_of_unit": r.ChoiceOfUnit,
    "ready": _last,
    "asked_which": _last,
}
