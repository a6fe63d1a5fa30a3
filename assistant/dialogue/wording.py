"""Every sentence the assistant says and every line it shows, in one place.

Spoken text is words only; the screen has four lines of twenty characters.
"""

import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from assistant.calc.setover import Side
from assistant.dialogue.job import Answer, Job
from assistant.dialogue.keypad import Entry
from assistant.errors import Ambiguous, BenchError, NotUnderstood, OutOfRange, UnknownName
from assistant.language import requests as r
from assistant.language.phrasing import (
    angle_parts,
    angle_words,
    counted,
    length_figures,
    length_read_back,
    length_words,
    number_words,
    plural,
    size_words,
    trimmed,
)
from assistant.language.requests import Fact, Unit
from assistant.quantity import Length

WIDTH, HEIGHT = 20, 4

# Half a division is as near as a dial is read; a tenth is what a careful eye can judge.
_DIVISION_PLACES = 1

WELCOME = "Ready. What is the taper?"
CAUTIONS = (
    "Stop the spindle before you touch the work, set the head, measure or oil. "
    "Guard the carrier, chuck key out, eyes covered."
)
ASK_TAPER = "What is the taper?"
ASK_LENGTH = "What length between the balls?"
ASK_BALL = "What ball diameter?"
ASK_ANGLE_KIND = "Is that the half angle or the included angle?"
PROMPTS = {
    ASK_TAPER: "Taper?",
    ASK_LENGTH: "Length?",
    ASK_BALL: "Ball diameter?",
    ASK_ANGLE_KIND: "1 half  2 included",
}
STRUCK = "Struck out."
RIGHT = "Right."
LEFT = "Left as it was."
NEW_JOB = f"New job. {CAUTIONS}"
STOP_FIRST = "Stop the spindle first."
NOTHING_SET = "Nothing is set yet."
HALF_KEYED = "finish keying first"


@dataclass(frozen=True, slots=True)
class Reply:
    """One reply: the words for the voice and the lines for the screen."""

    words: str
    lines: tuple[str, ...]


NO_REPLY_YET = Reply("I have said nothing yet.", ())


def on_screen(text: str) -> tuple[str, ...]:
    """Return a text folded to the screen, cut at its end if it must be."""
    return tuple(textwrap.wrap(text, WIDTH, max_lines=HEIGHT, placeholder=" ..."))


def refusal(error: BenchError) -> Reply:
    """Return why something was refused; the screen says it in fewer words."""
    return Reply(_spoken(str(error)), on_screen(_short(error)))


def _short(error: BenchError) -> str:
    match error:
        case OutOfRange():
            return f"{error.name}: {error.limit}, not {error.figures}"
        case UnknownName():
            return f"no {error.kind} {error.name} in the table"
        case Ambiguous():
            return f"two meanings: {error.said}"
        case NotUnderstood() if error.said:
            return f"cannot use: {error.unknown or error.said}"
    return str(error)


_TAPER_SIZE = re.compile(r"\b\d+-1/2")
_FIGURES = re.compile(r"(?<![\w/.])-?\d{1,4}(\.\d+)?(?![\w/])")


def _spoken(text: str) -> str:
    """Return a sentence with its figures as words, so that the voice reads them our way."""
    text = _TAPER_SIZE.sub(lambda found: size_words(found[0]), text)
    text = _FIGURES.sub(lambda found: number_words(trimmed(float(found[0]), 4)), text)
    return re.sub(r"\bmm\b", "millimetres", text)


def back_words(steps: int) -> str:
    """Return how far an undo went."""
    return f"Back {counted(steps)} {plural('step', str(steps))}."


def taper_name(fact: Fact | None) -> str:
    """Return a taper's short name for the screen."""
    match fact:
        case None:
            return "Taper ?"
        case r.TaperByName(system, size):
            short = {"brown and sharpe": "B&S"}.get(system, system.capitalize())
            return f"{short} {size}"
        case r.TaperByRatio(rise, run):
            return f"{trimmed(rise, 3)} in {trimmed(run, 3)}"
        case r.TaperPerFoot():
            return "Per foot"
        case r.TaperByDiameters():
            return "Two dia"
    return "Angle"


def side_words(side: Side) -> str:
    """Return the direction to move the head, as it is said at the handle."""
    return "towards you" if side is Side.TOWARDS_OPERATOR else "away from you"


def turns_words(answer: Answer) -> str:
    """Return turns and divisions in words: seven turns and five point eight divisions."""
    whole, divisions = answer.turns.rounded(_DIVISION_PLACES)
    figures = trimmed(divisions, _DIVISION_PLACES)
    said = f"{counted(whole)} {plural('turn', str(whole))}"
    if figures == "0":
        return said
    return f"{said} and {number_words(figures)} {plural('division', figures)}"


def bench_screen(job: Job, bottom: str | None = None) -> tuple[str, ...]:
    """Return the four lines of the job as it stands; `bottom` takes the last line's place."""
    taper = taper_name(job.taper_said)
    rate = f"1:{trimmed(job.taper.one_in, 3)}" if job.taper else ""
    lines = [f"{taper}{rate:>{max(WIDTH - len(taper), 1)}}"[:WIDTH]]
    if job.ball_length is None and job.over_balls is not None:
        lines.append(_line("Over balls", job.over_balls, job))
    else:
        lines.append(_line("Balls", job.ball_length, job))
    answer = job.answer
    if answer is None:
        lines += [f"{'Set over':<{WIDTH - 1}}?", bottom or ""]
    else:
        towards = "to you" if answer.side is Side.TOWARDS_OPERATOR else "away"
        whole, divisions = answer.turns.rounded(_DIVISION_PLACES)
        over = f"Over {_length(answer.set_over, job.unit)}"
        lines += [
            f"{over}{towards:>{WIDTH - len(over)}}",
            bottom or f"Turns {whole} + {trimmed(divisions, _DIVISION_PLACES)} div",
        ]
    return tuple(line for line in lines if line)


def _line(label: str, length: Length | None, job: Job) -> str:
    figures = "?" if length is None else _length(length, job.unit)
    return f"{label}{figures:>{WIDTH - len(label)}}"


def _length(length: Length, unit: Unit) -> str:
    return f"{length_figures(length, unit)} {unit}"


def taper_words(job: Job) -> str:
    """Return the taper's half angle in words."""
    assert job.taper is not None
    return f"half angle {angle_words(job.taper.half_angle)}"


def set_over_words(job: Job, answer: Answer) -> str:
    """Return the set-over and its side in words."""
    return f"Set over {length_words(answer.set_over, job.unit)} {side_words(answer.side)}"


def answer_words(question: r.Question, job: Job, answer: Answer) -> str:
    """Return the answer to a question about where the ball goes; its first words carry it."""
    end = f"small end at the {job.small_end}"
    match question:
        case r.Question.TURNS:
            # The one answer that is acted on with a hand beside the work.
            where = side_words(answer.side)
            return f"{turns_words(answer).capitalize()}, {where}. {STOP_FIRST}"
        case r.Question.SIDE:
            return f"{side_words(answer.side).capitalize()}, {end}."
        case r.Question.WHY:
            return _why(job, answer)
    return f"{set_over_words(job, answer)}, {end}."


def _why(job: Job, answer: Answer) -> str:
    assert job.taper is not None
    assert job.ball_length is not None
    screw = job.head.screw
    return (
        f"{length_words(job.ball_length, job.unit).capitalize()} between the ball centres, times "
        f"the sine of {angle_words(job.taper.half_angle)}, is "
        f"{length_words(answer.set_over, job.unit)}. The screw moves "
        f"{length_words(screw.pitch, job.unit)} a turn, in {counted(screw.divisions)} divisions."
    )


def why_lines(job: Job, answer: Answer) -> tuple[str, ...]:
    """Return the sum behind the set-over for the screen."""
    assert job.taper is not None
    assert job.ball_length is not None
    degrees, minutes = angle_parts(job.taper.half_angle)
    return (
        f"L {_length(job.ball_length, job.unit)}",
        f"a {degrees}d {minutes}m  L sin a",
        f"= {_length(answer.set_over, job.unit)}",
        f"screw {_length(job.head.screw.pitch, job.unit)}/{job.head.screw.divisions}",
    )


def status_words(job: Job) -> str:
    """Return what is known."""
    known = []
    if job.taper:
        known.append(taper_words(job).capitalize())
    if job.ball_length:
        known.append(f"{length_read_back(job.ball_length, job.unit)} between balls")
    if job.answer:
        known.append(f"{set_over_words(job, job.answer).lower()}, {turns_words(job.answer)}")
    return f"{'; '.join(known)}." if known else NOTHING_SET


def help_words(examples: Sequence[str]) -> str:
    """Return a few things that can be said now."""
    return f"You can say: {'; '.join(examples)}."


def keying_lines(entry: Entry, job: Job) -> tuple[str, ...]:
    """Return the screen while keys are pressed."""
    if entry.slot is None:
        return (f"{entry.chosen} _",)
    unit = f" {entry.unit or entry.slot.unit or job.unit}" if entry.slot.is_measure else ""
    return (entry.slot.label, f"{entry.typed}_{unit}", "# enter    D rub out")
