"""The keypad scheme: what the sixteen keys mean, as one table, and a number being keyed.

A letter and one more key choose a function, or a letter, a second letter and a digit; a
function with numbers then asks for each in turn.

    A  the taper         B  the length, the part     C  questions     D  mending, set-up
    a letter and # or *  what was just done at the lathe

While a number is keyed:

    0-9 digits     * point     # enter     A fraction bar: 5 A 8, or 3 A 5 A 8 for 3 5/8
    C  the other unit: millimetres or inches     D  rub out one key, then leave
    B  the next in a list
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from types import MappingProxyType
from typing import Any

from assistant.calc.screw import DialReads
from assistant.calc.setover import End, ToolPost
from assistant.calc.trueing import Contact
from assistant.errors import NotUnderstood, OutOfRange
from assistant.events import Key
from assistant.language import requests as r
from assistant.language.requests import AngleIs, Measure, Question, Request, Topic, Unit
from assistant.tables import cutting, standard_tapers
from assistant.tables.cutting import Tool

_LETTERS = (Key.A, Key.B, Key.C, Key.D)
_MARKS = {Key.STAR: ".", Key.A: "/"}

# More than anybody means; a key held down or leant on makes more.
MOST_FIGURES = 9


@dataclass(frozen=True, slots=True)
class Slot:
    """A number a function needs: its label on the screen and the question asked for it."""

    label: str
    question: str
    # The unit a number without one is in; None for the job's; a slot of no unit is a number.
    unit: Unit | None = None
    is_measure: bool = False
    # A count is a whole number, 1 or more; a choice is the name that a count picks.
    is_count: bool = False
    choices: tuple[str, ...] = ()
    # Entered empty, it is None.
    is_optional: bool = False


def _length(label: str, question: str, optional: bool = False) -> Slot:
    return Slot(label, question, is_measure=True, is_optional=optional)


def _count(label: str, question: str) -> Slot:
    return Slot(label, question, is_count=True)


@dataclass(frozen=True, slots=True)
class Function:
    """What a run of keys does: its name, the request it makes, the numbers asked for.

    The tag is the name in the four characters that a key has on the screen.
    """

    name: str
    tag: str
    build: Callable[..., Request]
    slots: tuple[Slot, ...] = ()


@dataclass(frozen=True, slots=True)
class Page:
    """What a letter, or two, lead to."""

    name: str
    tag: str = ""


def _just(name: str, tag: str, request: Request) -> Function:
    return Function(name, tag, lambda: request)


def _ask(name: str, tag: str, question: Question) -> Function:
    return _just(name, tag, r.Ask(question))


def _angle(name: str, tag: str, build: Callable[[Fraction], Request]) -> Function:
    return Function(
        name, tag, lambda degrees, minutes: build(degrees + Fraction(minutes or 0) / 60), _ANGLE
    )


def _standard(name: str, tag: str, system: str, question: str) -> Function:
    return Function(name, tag, lambda size: _sized(system, size), (Slot(name.upper(), question),))


def _sized(system: str, size: Fraction) -> Request:
    """Find a taper by its number, which tables spell 2, 4-1/2 or 0.6."""
    whole, part = divmod(size, 1)
    spellings = (str(size), f"{whole}-{part}", f"{float(size):g}")
    known = standard_tapers.sizes(system)
    spelt = next((one for one in spellings if one in known), spellings[-1])
    return r.TaperByName(system, standard_tapers.find(system, spelt).size)


_ANGLE = (
    Slot("DEGREES", "How many degrees?"),
    Slot("AND MINUTES", "And minutes?", is_optional=True),
)
_CONE = (
    _length("LARGE END", "Large end?"),
    _length("SMALL END", "Small end?"),
    _length("APART", "How far apart?"),
)
_BALL = "BALL DIAMETER", "What ball diameter?"
MATERIALS = tuple(dict.fromkeys(name for tool in Tool for name in cutting.materials(tool)))

PAGES: dict[str, Page] = {
    "A": Page("the taper"),
    "AA": Page("more tapers", "more"),
    "AB": Page("what was found", "find"),
    "B": Page("the length, the part"),
    "BA": Page("the work", "work"),
    "BB": Page("the ball", "warm"),
    "C": Page("questions"),
    "CA": Page("more questions", "more"),
    "D": Page("mending, set-up"),
    "DA": Page("the head", "head"),
    "DB": Page("ask me again for", "fix"),
    "DC": Page("how I talk", "talk"),
}

FUNCTIONS: dict[str, Function] = {
    "A1": Function(
        "1 in n",
        "1:n",
        lambda run: r.TaperByRatio(Fraction(1), run),
        (Slot("TAPER 1 IN", "One in what?"),),
    ),
    "A2": _standard("Morse", "Mors", "morse", "Morse number?"),
    "A3": _angle("half angle", "half", r.TaperByHalfAngle),
    "A4": _angle("included angle", "incl", r.TaperByIncludedAngle),
    "A5": Function(
        "per foot",
        "/ft",
        r.TaperPerFoot,
        (Slot("PER FOOT", "How much per foot?", Unit.INCH, is_measure=True),),
    ),
    "A6": Function("two diameters", "2dia", r.TaperByDiameters, _CONE),
    "A7": Function(
        "n in m", "n:m", r.TaperByRatio, (Slot("RISE", "Rise?"), Slot("IN", "In what length?"))
    ),
    "A8": _standard("Jarno", "Jarn", "jarno", "Jarno number?"),
    "A9": _standard("Brown & Sharpe", "B&S", "brown and sharpe", "Brown and Sharpe number?"),
    "A0": _standard("metric taper", "metr", "metric", "Metric taper size?"),
    "A#": Function("measured", "meas", r.Measured, _CONE),
    "A*": Function(
        "gauge stands off",
        "off",
        r.StandsOff,
        (_length("STANDS OFF", "How far does it stand off?"),),
    ),
    "AA1": _standard("Jacobs", "Jac", "jacobs", "Jacobs number?"),
    "AA2": _just("Jacobs 2 short", "J2sh", r.TaperByName("jacobs", "2 short")),
    "AA3": _standard("steep 7 in 24", "7:24", "steep", "Steep taper size?"),
    "AA4": _standard("metric pin", "mpin", "metric pin", "Metric pin size?"),
    "AA5": _standard("inch pin", "ipin", "inch pin", "Inch pin number?"),
    "AA6": Function(
        "inch pin n/0",
        "/0",
        lambda noughts: r.TaperByName(
            "inch pin", standard_tapers.find("inch pin", f"{noughts}/0").size
        ),
        (_count("INCH PIN, NOUGHTS", "How many noughts?"),),
    ),
    "AA7": _just("pipe thread", "pipe", r.TaperByName("pipe", "1:16")),
    "AB1": Function(
        "indicator moved",
        "ind",
        r.IndicatorMoved,
        (
            _length("INDICATOR MOVED", "How much did the indicator move?"),
            _length("OVER", "Over what length?"),
        ),
    ),
    "AB2": _just("blue, large end", "bluL", r.BlueAt(Contact.LARGE_END)),
    "AB3": _just("blue, small end", "bluS", r.BlueAt(Contact.SMALL_END)),
    "AB4": _just("blue all along", "blue", r.BlueAt(Contact.WHOLE_LENGTH)),
    "AB5": Function(
        "within minutes",
        "min",
        lambda minutes: r.WithinAngle(minutes / 60),
        (Slot("WITHIN MINUTES", "Within how many minutes?"),),
    ),
    "B1": Function(
        "between balls",
        "betw",
        r.BetweenBalls,
        (_length("BETWEEN BALLS", "What length between the balls?"),),
    ),
    "B2": Function(
        "over balls",
        "over",
        r.OverBalls,
        (_length("OVER BALLS", "What reading over the balls?"), _length(*_BALL, optional=True)),
    ),
    "B3": Function("ball diameter", "ball", r.BallDiameter, (_length(*_BALL),)),
    "B4": Function(
        "work length", "len", r.WorkLength, (_length("WORK LENGTH", "How long is the work?"),)
    ),
    "B5": Function(
        "hole mouth",
        "mth",
        r.Mouth,
        (_length("MOUTH OF HOLES", "What is the mouth of the centre holes?"),),
    ),
    "B6": Function(
        "hole pilot",
        "pil",
        r.Pilot,
        (_length("PILOT OF HOLES", "What is the pilot of the centre holes?"),),
    ),
    "B7": Function(
        "work diameter",
        "dia",
        r.WorkDiameter,
        (_length("WORK DIAMETER", "What diameter is being cut?"),),
    ),
    "B8": Function(
        "next part",
        "next",
        r.NextPart,
        (_length("ITS LENGTH", "What length, measured as the last?", optional=True),),
    ),
    "B9": Function("job again", "job", r.RepeatJob, (_count("JOB NUMBER", "Which job number?"),)),
    "B0": _just("job finished", "done", r.FinishJob()),
    "B#": Function(
        "took a cut", "cut", r.TookCut, (_length("CUT DEPTH", "How deep was the cut?"),)
    ),
    "B*": _just("oiled the ball", "oil", r.Oiled()),
    "BA1": Function(
        "material",
        "mat",
        r.MaterialIs,
        (Slot("MATERIAL, B NEXT", "Which material?", choices=MATERIALS),),
    ),
    "BA2": _just("high-speed steel", "HSS", r.ToolIs(Tool.HIGH_SPEED_STEEL)),
    "BA3": _just("carbide tool", "carb", r.ToolIs(Tool.CARBIDE)),
    "BA4": Function(
        "running at",
        "rpm",
        r.RunningAt,
        (Slot("TURNS A MINUTE", "How many turns a minute?"),),
    ),
    "BB1": _just("ball is cool", "cool", r.BallIs(r.Warmth.COOL)),
    "BB2": _just("ball is warm", "warm", r.BallIs(r.Warmth.WARM)),
    "BB3": _just("ball is hot", "hot", r.BallIs(r.Warmth.HOT)),
    "BB4": _just("tailstock eased", "ease", r.Eased()),
    "BB5": _just("remind me later", "wait", r.PutOff()),
    "C1": _ask("set-over?", "over", Question.SET_OVER),
    "C2": _ask("how many turns?", "turn", Question.TURNS),
    "C3": _ask("which way?", "way", Question.SIDE),
    "C4": _ask("where are we?", "now", Question.STATUS),
    "C5": _ask("why?", "why", Question.WHY),
    "C6": _ask("correction?", "corr", Question.CORRECTION),
    "C7": _ask("what speed?", "rpm", Question.SPEED),
    "C8": _ask("does ball fit?", "fit", Question.FIT),
    "C9": _ask("what is due?", "due", Question.DUE),
    "C0": _ask("help", "help", Question.HELP),
    "C#": _just("spindle started", "run", r.SpindleStarted()),
    "C*": _just("spindle stopped", "stop", r.SpindleStopped()),
    "CC": _ask("say again", "say", Question.AGAIN),
    "CA1": _ask("what screw?", "scrw", Question.SCREW),
    "CA2": _ask("cautions", "caut", Question.CAUTIONS),
    "CA3": _ask("what next?", "next", Question.NEXT),
    "D1": _just("undo", "undo", r.Undo()),
    "D2": _just("millimetres", "mm", r.Units(Unit.MILLIMETRE)),
    "D3": _just("inches", "inch", r.Units(Unit.INCH)),
    "D4": _just("small at tailstock", "smT", r.SmallEnd(End.TAILSTOCK)),
    "D5": _just("small at headstock", "smH", r.SmallEnd(End.HEADSTOCK)),
    "D6": Function(
        "screw pitch", "ptch", r.ScrewPitch, (_length("SCREW PITCH", "What screw pitch?"),)
    ),
    "D7": Function(
        "threads per inch",
        "tpi",
        r.ThreadsPerInch,
        (Slot("THREADS/INCH", "How many threads per inch?"),),
    ),
    "D8": Function("divisions", "div", r.Divisions, (Slot("DIVISIONS", "How many divisions?"),)),
    "D9": _just("new job", "new", r.NewJob()),
    "D0": Function("undo n steps", "un n", r.Undo, (_count("UNDO STEPS", "Back how many steps?"),)),
    "D#": _just("head is set", "set", r.HeadSet()),
    "D*": _just("head at zero", "zero", r.HeadAtZero()),
    "DD": _just("cancel", "quit", r.Cancel()),
    "DA0": _just("go through it all", "all", r.SetUpHead()),
    "DA1": Function("backlash", "lash", r.Backlash, (_length("BACKLASH", "How much backlash?"),)),
    "DA2": Function(
        "backlash in div",
        "ldiv",
        r.BacklashDivisions,
        (Slot("BACKLASH DIVISIONS", "How many divisions of backlash?"),),
    ),
    "DA3": Function(
        "head travel",
        "trav",
        r.HeadTravel,
        (_length("HEAD TRAVEL", "How far does the head go to one side?"),),
    ),
    "DA4": _just("dial: travel", "d:tr", r.DialIs(DialReads.TRAVEL)),
    "DA5": _just("dial: diameter", "d:di", r.DialIs(DialReads.DIAMETER)),
    "DA6": _just("tool post front", "fron", r.ToolPostAt(ToolPost.FRONT)),
    "DA7": _just("tool post rear", "rear", r.ToolPostAt(ToolPost.REAR)),
    "DB1": _just("the taper", "tapr", r.Correct(Topic.TAPER)),
    "DB2": _just("the length", "leng", r.Correct(Topic.LENGTH)),
    "DB3": _just("the ball", "ball", r.Correct(Topic.BALL)),
    "DB4": _just("the head", "head", r.Correct(Topic.HEAD)),
    "DC1": _just("louder", "loud", r.ChangeVoice(r.VoiceChange.LOUDER)),
    "DC2": _just("quieter", "soft", r.ChangeVoice(r.VoiceChange.QUIETER)),
    "DC3": _just("mute", "mute", r.ChangeVoice(r.VoiceChange.MUTE)),
    "DC4": _just("brief replies", "brie", r.ChangeVoice(r.VoiceChange.BRIEF)),
    "DC5": _just("full replies", "full", r.ChangeVoice(r.VoiceChange.FULL)),
    "DC6": _just("stop listening", "deaf", r.StopListening()),
    "DC7": _just("listen", "hear", r.Listen()),
}

# With nothing being keyed and no number asked for, these two answer.
PLAIN_ANSWERS: dict[Key, Request] = {Key.HASH: r.Yes(), Key.STAR: r.No()}
# What 1 and 2 answer where one of two is asked for.
ANGLE_ANSWERS: Mapping[Key, Request] = {
    Key.ONE: r.AngleKind(AngleIs.HALF),
    Key.TWO: r.AngleKind(AngleIs.INCLUDED),
}
DIAL_ANSWERS: Mapping[Key, Request] = {
    Key.ONE: r.DialIs(DialReads.TRAVEL),
    Key.TWO: r.DialIs(DialReads.DIAMETER),
}
TOOL_POST_ANSWERS: Mapping[Key, Request] = {
    Key.ONE: r.ToolPostAt(ToolPost.FRONT),
    Key.TWO: r.ToolPostAt(ToolPost.REAR),
}
WHICH_ANSWERS: Mapping[Key, Request] = {Key.ONE: r.Choice(1), Key.TWO: r.Choice(2)}


@dataclass(frozen=True, slots=True)
class Entry:
    """Keys pressed so far that do not make a request yet.

    `chosen` is the keys of the function, `filled` its numbers entered already, `typed` the
    number being keyed as figures: "142.5", "3/5/8".
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

    @property
    def picked(self) -> str | None:
        """What the figures pick from the list being asked about, if they do."""
        if self.slot is None:
            return None
        numbered = {str(number): name for number, name in enumerate(self.slot.choices, 1)}
        return numbered.get(self.typed)


def begin(
    key: Key,
    asked: str | None,
    job_unit: Unit,
    answers: Mapping[Key, Request] = MappingProxyType({}),
) -> Entry | Request | None:
    """Return what the first key of a run begins.

    `asked` is the function whose number the assistant has just asked for: its digits can
    be keyed at once. `answers` are what single keys answer, besides yes and no, where one
    of two is asked for.

    Raises:
        NotUnderstood: The key begins nothing here.
    """
    if key in _LETTERS:
        return Entry(key)
    if asked is not None:
        return press(Entry(asked), key, job_unit)
    if answer := {**PLAIN_ANSWERS, **answers}.get(key):
        return answer
    raise NotUnderstood("that key")


def press(entry: Entry, key: Key, job_unit: Unit) -> Entry | Request | None:
    """Return what a further key makes: more entry, a whole request, or None for left.

    Raises:
        NotUnderstood: There is no such function, or no number was keyed. The entry stands.
        BenchError: The numbers make no request, such as a Morse number 9.
    """
    slot = entry.slot
    if slot is None:
        return _choose(entry.chosen + key)
    match key:
        case Key.HASH:
            return _enter(entry, slot)
        case Key.D:
            return replace(entry, typed=entry.typed[:-1]) if entry.typed else None
        case Key.C:
            return replace(entry, unit=_other_unit(entry, slot, job_unit))
        case Key.B:
            return replace(entry, typed=_next_choice(entry, slot))
    return replace(entry, typed=entry.typed + _MARKS.get(key, key))


def _choose(chosen: str) -> Entry | Request | None:
    if function := FUNCTIONS.get(chosen):
        return Entry(chosen) if function.slots else function.build()
    if chosen in PAGES:
        return Entry(chosen)
    if chosen.endswith(Key.D):
        return None
    raise NotUnderstood("those keys")


def _other_unit(entry: Entry, slot: Slot, job_unit: Unit) -> Unit | None:
    if entry.unit:
        return None
    usual = slot.unit or job_unit
    return Unit.INCH if usual is Unit.MILLIMETRE else Unit.MILLIMETRE


def _next_choice(entry: Entry, slot: Slot) -> str:
    if not slot.choices:
        return entry.typed
    return str(int(entry.typed) % len(slot.choices) + 1 if entry.picked else 1)


def _enter(entry: Entry, slot: Slot) -> Entry | Request:
    function = FUNCTIONS[entry.chosen]
    filled = (*entry.filled, _entered(entry, slot))
    if len(filled) < len(function.slots):
        return Entry(entry.chosen, filled)
    return function.build(*filled)


def _entered(entry: Entry, slot: Slot) -> Any:
    if slot.is_optional and not entry.typed:
        return None
    value = keyed_number(entry.typed)
    if slot.is_measure:
        return Measure(value, entry.unit)
    if slot.choices:
        if entry.picked is None:
            raise NotUnderstood("that number")
        return entry.picked
    if not slot.is_count:
        return value
    if value.denominator != 1 or value < 1:
        raise OutOfRange(slot.label.lower(), f"{float(value):g}", "a whole number, 1 or more")
    return int(value)


def keyed_number(typed: str) -> Fraction:
    """Return the number of figures keyed: 142.5, 5/8, or 3/5/8 for three and five eighths.

    Raises:
        NotUnderstood: They are no number, or more figures than anybody means.
    """
    if sum(map(str.isdecimal, typed)) > MOST_FIGURES:
        raise NotUnderstood(f"a number of more than {MOST_FIGURES} figures")
    try:
        match [*map(Fraction, typed.split("/"))]:
            case [number]:
                return number
            case [numerator, denominator] if "." not in typed:
                return numerator / denominator
            case [whole, numerator, denominator] if "." not in typed and numerator < denominator:
                return whole + numerator / denominator
    except (ValueError, ZeroDivisionError):
        pass
    raise NotUnderstood("that number")


# The keys as they lie on the pad.
PAD = ("123A", "456B", "789C", "*0#D")


def keys_shown(chosen: str) -> tuple[str, ...]:
    """Return the pad on the screen: what each key does after keys that choose no function yet."""
    tags = {
        chosen + Key.D: "back",
        **{keys: page.tag for keys, page in PAGES.items()},
        **{keys: function.tag for keys, function in FUNCTIONS.items()},
    }
    return tuple(" ".join(f"{tags.get(chosen + key, ''):4}" for key in row).rstrip() for row in PAD)
