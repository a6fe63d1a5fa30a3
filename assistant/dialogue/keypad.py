"""The keypad scheme: what the sixteen keys mean, as one table, and a number being keyed.

A letter and a digit choose a function; a function with numbers then asks for each in turn.

    A  the taper         B  the length        C  questions        D  mending and the set-up

While a number is keyed:

    0-9 digits     * point     # enter     A fraction bar: 5 A 8, or 3 A 5 A 8 for 3 5/8
    C  the other unit: millimetres or inches     D  rub out one key, then leave
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from assistant.calc.setover import End
from assistant.errors import NotUnderstood
from assistant.events import Key
from assistant.language import requests as r
from assistant.language.meaning import MEANINGS
from assistant.language.requests import AngleIs, Measure, Question, Request, Unit

_LETTERS = (Key.A, Key.B, Key.C, Key.D)
_MARKS = {Key.STAR: ".", Key.A: "/"}


@dataclass(frozen=True, slots=True)
class Slot:
    """A number a function needs: its label on the screen and the question asked for it."""

    label: str
    question: str
    # The unit a number without one is in; None for the job's; a slot of no unit is a number.
    unit: Unit | None = None
    is_measure: bool = False


def _length(label: str, question: str) -> Slot:
    return Slot(label, question, is_measure=True)


@dataclass(frozen=True, slots=True)
class Function:
    """What a letter and a digit do: the numbers asked for, and the request they make."""

    build: Callable[..., Request]
    slots: tuple[Slot, ...] = ()


def _just(request: Request) -> Callable[[], Request]:
    return lambda: request


def _degrees(build: Callable[[Fraction], Request]) -> Callable[[Fraction, Fraction], Request]:
    return lambda degrees, minutes: build(degrees + minutes / 60)


def _named(system: str) -> Callable[[Fraction], Request]:
    return lambda size: MEANINGS["system_first"](system, size)


_ANGLE = (Slot("DEGREES", "How many degrees?"), Slot("AND MINUTES", "And minutes?"))
_BALL = _length("BALL DIAMETER", "What ball diameter?")

FUNCTIONS: dict[str, Function] = {
    "A1": Function(
        lambda run: r.TaperByRatio(Fraction(1), run),
        (Slot("TAPER 1 IN", "One in what?"),),
    ),
    "A2": Function(_named("morse"), (Slot("MORSE", "Morse number?"),)),
    "A3": Function(_degrees(r.TaperByHalfAngle), _ANGLE),
    "A4": Function(_degrees(r.TaperByIncludedAngle), _ANGLE),
    "A5": Function(
        r.TaperPerFoot,
        (Slot("PER FOOT", "How much per foot?", Unit.INCH, is_measure=True),),
    ),
    "A6": Function(
        r.TaperByDiameters,
        (
            _length("LARGE END", "Large end?"),
            _length("SMALL END", "Small end?"),
            _length("APART", "How far apart?"),
        ),
    ),
    "A7": Function(r.TaperByRatio, (Slot("RISE", "Rise?"), Slot("IN", "In what length?"))),
    "A8": Function(_named("jarno"), (Slot("JARNO", "Jarno number?"),)),
    "A9": Function(
        _named("brown and sharpe"),
        (Slot("BROWN & SHARPE", "Brown and Sharpe number?"),),
    ),
    "A0": Function(_named("metric"), (Slot("METRIC TAPER", "Metric taper size?"),)),
    "B1": Function(
        r.BetweenBalls,
        (_length("BETWEEN BALLS", "What length between the balls?"),),
    ),
    "B2": Function(
        r.OverBalls,
        (_length("OVER BALLS", "What reading over the balls?"), _BALL),
    ),
    "B3": Function(r.BallDiameter, (_BALL,)),
    "C1": Function(_just(r.Ask(Question.SET_OVER))),
    "C2": Function(_just(r.Ask(Question.TURNS))),
    "C3": Function(_just(r.Ask(Question.SIDE))),
    "C4": Function(_just(r.Ask(Question.STATUS))),
    "C5": Function(_just(r.Ask(Question.WHY))),
    "C0": Function(_just(r.Ask(Question.HELP))),
    "CC": Function(_just(r.Ask(Question.AGAIN))),
    "D1": Function(_just(r.Undo())),
    "D2": Function(_just(r.Units(Unit.MILLIMETRE))),
    "D3": Function(_just(r.Units(Unit.INCH))),
    "D4": Function(_just(r.SmallEnd(End.TAILSTOCK))),
    "D5": Function(_just(r.SmallEnd(End.HEADSTOCK))),
    "D6": Function(r.ScrewPitch, (_length("SCREW PITCH", "What screw pitch?"),)),
    "D7": Function(r.ThreadsPerInch, (Slot("THREADS/INCH", "How many threads per inch?"),)),
    "D8": Function(r.Divisions, (Slot("DIVISIONS", "How many divisions?"),)),
    "D9": Function(_just(r.NewJob())),
    "DD": Function(_just(r.Cancel())),
}

# With nothing being keyed and no number asked for, these two answer.
PLAIN_ANSWERS: dict[Key, Request] = {Key.HASH: r.Yes(), Key.STAR: r.No()}
ANGLE_ANSWERS: dict[Key, Request] = {
    Key.ONE: r.AngleKind(AngleIs.HALF),
    Key.TWO: r.AngleKind(AngleIs.INCLUDED),
}


@dataclass(frozen=True, slots=True)
class Entry:
    """Keys pressed so far that do not make a request yet.

    `chosen` is the letter and digit of the function, `filled` its numbers entered already,
    `typed` the number being keyed as figures: "142.5", "3/5/8".
    """

    chosen: str
    filled: tuple[Any, ...] = ()
    typed: str = ""
    unit: Unit | None = None

    @property
    def slot(self) -> Slot | None:
        """The number being asked for, once the function is chosen."""
        function = FUNCTIONS.get(self.chosen)
        return function.slots[len(self.filled)] if function else None


def begin(key: Key, asked: str | None, job_unit: Unit) -> Entry | Request | None:
    """Return what the first key of a run begins.

    `asked` is the function whose number the assistant has just asked for: its digits can
    be keyed at once.

    Raises:
        NotUnderstood: The key begins nothing here.
    """
    if key in _LETTERS:
        return Entry(key)
    if asked is not None:
        return press(Entry(asked), key, job_unit)
    if key in PLAIN_ANSWERS:
        return PLAIN_ANSWERS[key]
    raise NotUnderstood(f"key {key}")


def press(entry: Entry, key: Key, job_unit: Unit) -> Entry | Request | None:
    """Return what a further key makes: more entry, a whole request, or None for left.

    Raises:
        NotUnderstood: There is no such function, or no number was keyed. The entry stands.
        BenchError: The numbers make no request, such as a Morse number 9.
    """
    if entry.slot is None:
        return _choose(entry, key)
    if key is Key.HASH:
        return _enter(entry)
    if key is Key.D:
        if not entry.typed:
            return None
        return replace(entry, typed=entry.typed[:-1])
    if key is Key.C:
        usual = entry.slot.unit or job_unit
        other = Unit.INCH if usual is Unit.MILLIMETRE else Unit.MILLIMETRE
        return (
            replace(entry, unit=None if entry.unit else other) if entry.slot.is_measure else entry
        )
    if key is Key.B:
        return entry
    return replace(entry, typed=entry.typed + _MARKS.get(key, key))


def _choose(entry: Entry, key: Key) -> Entry | Request | None:
    chosen = entry.chosen + key
    function = FUNCTIONS.get(chosen)
    if function is None:
        if key is Key.D:
            return None
        raise NotUnderstood(f"keys {' '.join(chosen)}")
    return Entry(chosen) if function.slots else function.build()


def _enter(entry: Entry) -> Entry | Request:
    function, slot = FUNCTIONS[entry.chosen], entry.slot
    assert slot is not None
    # Minutes left out are none.
    typed = "0" if not entry.typed and slot is _ANGLE[1] else entry.typed
    value = keyed_number(typed)
    filled = (*entry.filled, Measure(value, entry.unit) if slot.is_measure else value)
    if len(filled) < len(function.slots):
        return Entry(entry.chosen, filled)
    return function.build(*filled)


def keyed_number(typed: str) -> Fraction:
    """Return the number of figures keyed: 142.5, 5/8, or 3/5/8 for three and five eighths.

    Raises:
        NotUnderstood: They are no number.
    """
    parts = typed.split("/")
    try:
        match parts:
            case [number]:
                return Fraction(number)
            case [numerator, denominator]:
                return Fraction(int(numerator), int(denominator))
            case [whole, numerator, denominator]:
                return int(whole) + Fraction(int(numerator), int(denominator))
    except (ValueError, ZeroDivisionError):
        pass
    raise NotUnderstood(f"number {typed or 'nothing'}")
