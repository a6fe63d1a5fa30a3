"""Every line the assistant shows: four lines of twenty characters, and a fuller account.

The spoken sentences are in assistant.dialogue.wording.
"""

import textwrap
from collections.abc import Collection, Sequence

from assistant.calc.ball_centres import closing_up
from assistant.calc.screw import Turns
from assistant.calc.setover import Side
from assistant.calc.trueing import Contact, Verdict
from assistant.dialogue.job import Job
from assistant.dialogue.keypad import Entry, keys_shown
from assistant.dialogue.progress import Answer
from assistant.dialogue.reminders import Due, Run
from assistant.errors import (
    Ambiguous,
    BenchError,
    NotUnderstood,
    NotYet,
    OutOfRange,
    UnknownName,
)
from assistant.language import requests as r
from assistant.language.phrasing import (
    angle_parts,
    feed_figures,
    in_figures,
    length_figures,
    rounded,
    trimmed,
)
from assistant.language.readback import read_back
from assistant.language.requests import Fact, Request, Unit
from assistant.quantity import Angle, Length, SpindleSpeed

WIDTH, HEIGHT = 20, 4

STOP_FIRST = "Stop spindle first"

# Half a division is as near as a dial is read; a tenth is what a careful eye can judge.
DIVISION_PLACES = 1

Lines = tuple[str, ...]

CAUTIONS: Lines = (
    STOP_FIRST,
    "Carrier guarded",
    "Chuck key out",
    "Eyes covered",
)

DUE_LINES = {
    Due.OIL: "oil the tail ball",
    Due.EASE: "ease the tailstock",
    Due.HEAD_OVER: "head is set over",
}


def on_screen(text: str) -> Lines:
    """Return a text folded to the screen, cut at its end if it must be."""
    return tuple(textwrap.wrap(text, WIDTH, max_lines=HEIGHT, placeholder=" ..."))


def refusal_lines(error: BenchError) -> Lines:
    """Return why something was refused, in few words."""
    return on_screen(_short(error))


def _short(error: BenchError) -> str:
    match error:
        case OutOfRange():
            return f"{error.name}: {error.limit}, not {error.figures}"
        case UnknownName():
            return f"no {error.kind} {error.name} in the table"
        case Ambiguous():
            return f"two meanings: {error.said}"
        case NotYet():
            return f"no {error.lacks} yet: {error.first}"
        case NotUnderstood() if error.said:
            return f"cannot use: {error.unknown or error.said}"
    return str(error)


def taper_name(fact: Fact | None) -> str:
    """Return a taper's short name."""
    match fact:
        case None:
            return "Taper ?"
        case r.TaperByName(system, size):
            short = {"brown and sharpe": "B&S"}.get(system, system.capitalize())
            return f"{short} {size.replace(' short', 'S')}"
        case r.TaperByRatio(rise, run):
            return f"{trimmed(rise, 3)} in {trimmed(run, 3)}"
        case r.TaperPerFoot():
            return "Per foot"
        case r.TaperByDiameters():
            return "Two dia"
    return "Angle"


def bench_lines(job: Job, bottom: str = "") -> Lines:
    """Return the four lines of the job as it stands; `bottom` takes the last line's place."""
    taper = taper_name(job.taper_said)
    rate = f"1:{trimmed(job.taper.one_in, 3)}" if job.taper else ""
    lines = [_beside(taper, rate), _length_line(job)]
    answer = job.answer
    if answer is None:
        lines += [_beside("Set over", "?"), bottom]
    else:
        way = _side(answer.side)
        over = f"Over {figures(answer.set_over, job.unit)}"
        if len(over) + len(way) >= WIDTH:
            over = f"Over {length_figures(answer.set_over, job.unit)}"
        lines += [_beside(over, way), bottom or _turns_line(answer)]
    return tuple(line for line in lines if line)


def _length_line(job: Job) -> str:
    if job.ball_length is not None:
        return _beside("Balls", figures(job.ball_length, job.unit))
    if job.next_length_awaited:
        return _beside("Next part", "?")
    if job.over_balls is not None:
        return _beside("Over balls", figures(job.over_balls, job.unit))
    if job.work_length is not None:
        return _beside("Work", figures(job.work_length, job.unit))
    return _beside("Balls", "?")


def _turns_line(answer: Answer) -> str:
    sign = "-" if answer.turns.total < 0 else ""
    return f"Turns {sign}{amount_figures(answer.turns)}"[:WIDTH]


def amount_figures(turns: Turns) -> str:
    """Return whole turns and divisions without their sign: 7 + 5.8 div."""
    whole, divisions = (abs(part) for part in turns.rounded(DIVISION_PLACES))
    return f"{whole:.0f} + {trimmed(divisions, DIVISION_PLACES)} div"


def move_lines(job: Job, moves: Sequence[Turns]) -> Lines:
    """Return how to turn the handle, a line for each turning."""
    lines = [STOP_FIRST]
    for move in moves:
        amount = amount_figures(move)
        lines.append(_beside(amount, _side(job.side if move.total > 0 else opposite(job.side))))
    if len(lines) == 1:
        return (*bench_lines(job)[:3], "Head is there")
    return tuple(lines)


def trial_lines(job: Job) -> Lines:
    """Return what the cone measured last proves, and the move that trues it."""
    trial = job.trial
    assert trial is not None
    verdict = {Verdict.WITHIN: "WITHIN", Verdict.OUTSIDE: "OUTSIDE", Verdict.UNPROVED: "not proved"}
    sign = "+" if trial.turns.total >= 0 else "-"
    off = minutes(abs(trial.error))
    way = "steep" if trial.error.rad > 0 else "shallow"
    return (
        f"{off}' {'out' if off == '0.0' else way}",
        _beside(f"+- {minutes(trial.finding.margin)}'", verdict[trial.verdict]),
        f"Move {sign}{figures(abs(trial.move), job.unit)}",
        f"{sign}({amount_figures(trial.turns)})"[:WIDTH],
    )


def noted_lines(job: Job, noted: str, prompt: str = "") -> Lines:
    """Return the bench with what was just done below, and what is asked, if it is."""
    last = [noted, prompt] if prompt else [noted]
    return (*bench_lines(job)[: HEIGHT - len(last)], *last)


def cut_noted(job: Job, depth: Length) -> str:
    """Return what a cut has left to go, or how deep it was."""
    if job.infeed is None:
        return f"Cut {figures(depth, job.unit)}"
    left = length_figures(abs(job.infeed), job.unit)
    if left == "0":
        return "To size"
    return f"{left} {job.unit} {'to go' if job.infeed.mm > 0 else 'too deep'}"


def infeed_lines(infeed: Length, cuts: int, unit: Unit) -> Lines:
    """Return the infeed that brings the cone to size."""
    return (
        "Feed in",
        _beside("square to bed", length_figures(infeed, unit)),
        _beside("diameter dial", length_figures(infeed * 2, unit)),
        _beside("light cuts", str(cuts)),
    )


def blue_lines(job: Job, contact: Contact) -> Lines:
    """Return what a rub in the gauge says of the set-over."""
    if contact is Contact.WHOLE_LENGTH:
        return ("The taper is right", "leave the head")
    steep = contact is Contact.LARGE_END
    lines = (
        f"Too {'steep' if steep else 'shallow'}",
        f"{'less' if steep else 'more'} set-over",
    )
    if job.division_turns is None:
        return lines
    return (*lines, _beside("1 division", f"{minutes(job.division_turns)}'"))


def learnt_lines(job: Job) -> Lines:
    """Return what a turn of the screw moves, as stated and as found."""
    lines = ("A turn moves", _beside("stated", figures(job.head.screw.pitch, job.unit)))
    if job.learnt is None:
        return (*lines, _beside("found", "?"))
    margin = figures(job.learnt.per_turn_margin, job.unit)
    return (*lines, _beside("found", figures(job.learnt.per_turn, job.unit)), _beside("+-", margin))


def short(request: Request, unit: Unit) -> str:
    """Return a request in few signs, where it is often asked about; else as it is read back."""
    match request:
        case r.Facts(facts):
            return ", ".join(short(fact, unit) for fact in facts)
        case r.TaperByRatio(rise, run):
            return f"{trimmed(rise, 4)} in {trimmed(run, 4)}"
        case r.BetweenBalls(length) | r.WorkLength(length):
            what = "balls" if isinstance(request, r.BetweenBalls) else "work"
            return f"{what} {trimmed(length.value, 5)} {length.unit or ''}".rstrip()
    return in_figures(read_back(request, unit))


def whether_lines(meant: str, prompt: str) -> Lines:
    """Return one meaning to say yes or no to."""
    return ("Did you mean", *_folded(meant)[:2], prompt)


def choice_lines(first: str, second: str) -> Lines:
    """Return two meanings to choose from, two lines each."""
    if max(len(_folded(first)), len(_folded(second))) > 2:
        first, second = _unlike(first, second)
    pairs = ((number, text) for number, text in enumerate((first, second), 1))
    return tuple(line for number, text in pairs for line in _folded(f"{number}: {text}")[:2])


def _folded(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, max_lines=3, placeholder=" ...")


def _unlike(first: str, second: str) -> tuple[str, str]:
    """Return two texts without the words that both begin with."""
    one, two = first.split(), second.split()
    while len(one) > 1 and len(two) > 1 and one[0] == two[0]:
        del one[0], two[0]
    return " ".join(one), " ".join(two)


def speed_lines(job: Job, speed: SpindleSpeed) -> Lines:
    """Return the speed to use, the feed that goes with it, and how deep to cut."""
    assert job.material is not None
    lines = [f"{trimmed(speed.rpm, 0)} a minute at most", job.material.capitalize()[:WIDTH]]
    if (feed := job.finishing_feed) is not None:
        low, high = (feed_figures(end, job.unit) for end in (feed.low, feed.high))
        lines.append(_beside("Feed", f"{low}-{high} {job.unit}"))
    return (*lines, _beside("Cuts up to", figures(job.shop.light_cut, job.unit)))


def fit_lines(job: Job, answer: Answer) -> Lines:
    """Return how far the head goes, how the ball sits, and what moves along the axis."""
    assert job.taper is not None
    assert job.ball_length is not None
    sits = "?" if job.seat is None else f"on the {job.seat.seated_on}"
    reach = f"{length_figures(answer.set_over, job.unit)} of {figures(job.head.travel, job.unit)}"
    _, slides = job.drive_pin
    return (
        reach if len(reach) > WIDTH - len("Head ") else _beside("Head", reach),
        _beside("Ball", "does not sit" if job.misfit else sits),
        _beside("Closes", figures(closing_up(job.taper, job.ball_length), job.unit)),
        _beside("Pin slides", figures(slides, job.unit)),
    )


def why_lines(job: Job, answer: Answer) -> Lines:
    """Return the sum behind the set-over."""
    assert job.taper is not None
    assert job.ball_length is not None
    degrees, arcminutes = angle_parts(job.taper.half_angle)
    return (
        f"L {figures(job.ball_length, job.unit)}",
        f"a {degrees}d {arcminutes}m  L sin a",
        f"= {figures(answer.set_over, job.unit)}",
        f"screw {figures(job.per_turn, job.unit)}/{job.head.screw.divisions}",
    )


def keying_lines(entry: Entry, job: Job) -> Lines:
    """Return the screen while keys are pressed."""
    slot = entry.slot
    if slot is None:
        return keys_shown(entry.chosen)
    unit = f" {entry.unit or slot.unit or job.unit}" if slot.is_measure else ""
    typed = f"{entry.typed}_{unit}"[-WIDTH:]
    if slot.choices:
        typed = f"{entry.typed}_ {entry.picked or ''}"[:WIDTH].rstrip()
    return (slot.label, typed, "# enter    D rub out")


def due_lines(due: Sequence[Due], turning: bool) -> Lines:
    """Return what is due for the screen."""
    if not due:
        return ("nothing is due",)
    first = (STOP_FIRST,) if turning else ()
    return (*first, *(DUE_LINES[one] for one in due))


def view(job: Job, run: Run, due: Collection[Due]) -> Lines:
    """Return the fuller account of the job, for a screen with room for it."""
    screw, unit = job.head.screw, job.unit
    rows = [("Job", f"{job.number}, in {unit}, small end at the {job.small_end}")]
    if job.taper is not None:
        degrees, arcminutes = angle_parts(job.taper.half_angle)
        rate = f"{taper_name(job.taper_said)}, 1 in {trimmed(job.taper.one_in, 4)}"
        rows.append(("Taper", f"{rate}, half angle {degrees}d {arcminutes}m"))
    if job.ball_length is not None:
        rows.append(("Length", f"{figures(job.ball_length, unit)} between ball centres"))
    if job.seat is not None:
        seat = f"on the {job.seat.seated_on}, centre {figures(job.seat.outside_face, unit)} outside"
        rows.append(("Ball", seat))
    if (answer := job.answer) is not None:
        over = f"{figures(answer.set_over, unit)} {answer.side}"
        rows.append(("Set over", f"{over}, {_turns_line(answer)} from zero"))
    dial = f"{figures(screw.pitch, unit)} screw, {screw.divisions} divisions"
    rows.append(("Head", f"stands at {figures(job.position.slide, unit)}; {dial}"))
    if job.trial is not None:
        rows.append(("Trial", ", ".join(trial_lines(job)[:2])))
    if job.infeed is not None:
        rows.append(("To go", f"{figures(job.infeed, unit)} of infeed"))
    spindle = "turning" if run.turning else "stopped"
    rows.append(("Spindle", f"{spindle}, ran {trimmed(run.ran_s / 60, 0)} min"))
    if due:
        rows.append(("Due", "; ".join(due)))
    return tuple(f"{name:<9}{text}" for name, text in rows)


def figures(length: Length, unit: Unit) -> str:
    """Return a length as figures with its unit."""
    return f"{length_figures(length, unit)} {unit}"


def minutes(angle: Angle) -> str:
    """Return an angle in minutes of arc, to a tenth."""
    return rounded(angle.minutes, 1)


def opposite(side: Side) -> Side:
    """Return the other side."""
    towards = side is Side.TOWARDS_OPERATOR
    return Side.AWAY_FROM_OPERATOR if towards else Side.TOWARDS_OPERATOR


def _side(side: Side) -> str:
    return "to you" if side is Side.TOWARDS_OPERATOR else "away"


def _beside(left: str, right: str) -> str:
    return f"{left}{right:>{max(WIDTH - len(left), 1)}}"[:WIDTH]
