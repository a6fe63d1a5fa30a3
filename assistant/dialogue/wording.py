"""Every sentence the assistant says, in one place. The first words carry the answer.

Spoken text is words only. The lines shown are in assistant.dialogue.screens.
"""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from assistant.calc import ball_centres, trueing
from assistant.calc.ball_centres import SeatedOn
from assistant.calc.screw import DialReads, Turns
from assistant.calc.setover import Side
from assistant.calc.trueing import Contact, Verdict
from assistant.dialogue.job import Job
from assistant.dialogue.progress import Answer, Stage, Trial
from assistant.dialogue.reminders import Due
from assistant.dialogue.screens import (
    DIVISION_PLACES,
    Lines,
    opposite,
    refusal_lines,
)
from assistant.dialogue.shop import Head
from assistant.errors import BenchError, OutOfRange
from assistant.language import requests as r
from assistant.language.phrasing import (
    UNIT_WORDS,
    angle_words,
    counted,
    digit_by_digit,
    feed_figures,
    length_figures,
    length_read_back,
    length_words,
    material_words,
    number_words,
    plural,
    size_words,
    trimmed,
)
from assistant.language.requests import Unit, Warmth
from assistant.quantity import Angle, Length, SpindleSpeed

STOP_FIRST = "Stop the spindle first."
CAUTIONS = (
    "Stop the spindle before you touch the work, set the head, measure or oil. "
    "Guard the carrier, chuck key out, eyes covered."
)
READY = "Ready."
STRUCK = "Struck out."
RIGHT = "Right."
LEFT = "Left as it was."
NEW_JOB = f"New job. {CAUTIONS}"
NEXT_PART = "Next part."
NOTHING_SET = "Nothing is set yet."
NOTHING_SAID = "I have said nothing yet."
HALF_KEYED = "finish keying first"
USE_THE_KEYS = "Still not clear: use the keys."
HEAD_SET = "Head set."
BEFORE_STARTING = "Before you start: carrier guarded, chuck key out, tailstock and head locked."
IF_IN_DOUBT = "If chuck key, carrier or locks are in doubt, stop."
MEASURE_NEXT = "Then stop the spindle and measure two diameters."
TRY_NEXT = f"Take a light cut. {MEASURE_NEXT}"
GAUGE_NEXT = "Take light cuts. Then stop the spindle, try the gauge, and say how far it stands off."
PART_NEXT = "Next part, or finish the job."
AT_ZERO = "Head at zero."
RUNNING = "Running."
STOPPED = "Stopped."
STILL_TURNING = "Stop the spindle before you do that."
OILED = "Oiled."
EASED = "Eased."
NOTHING_DUE = "Nothing is due."
PUT_OFF = "Later."
TO_SIZE = "That brings it to size."
KEEP_LIGHT = "Keep cuts light."
CALLED = "Yes?"
LISTENING = "Listening."
SCREW = "About the screw."
TAKEN_AS_SET = "I take the head to have been set as I said."
WAS_IT_SET = "Far from what was asked: was the head set, and a cut taken since?"
CHECK_FIGURES = "Far from what was asked: check the figures."
HEAD_KEPT = "Head kept."
HEAD_THERE = "The head is there: nothing to move."

CHANGED_VOICE = {
    r.VoiceChange.QUIETER: "Quieter.",
    r.VoiceChange.LOUDER: "Louder.",
    r.VoiceChange.MUTE: "Muted. Replies are shown.",
    r.VoiceChange.BRIEF: "Brief replies.",
    r.VoiceChange.FULL: "Full replies.",
}

BALL_FELT = {
    Warmth.COOL: "Good. Cool.",
    Warmth.WARM: "Warm. Stop the spindle, then oil the ball and ease the tailstock.",
    Warmth.HOT: "Hot. Stop the spindle. Let it cool, oil it, ease the tailstock.",
}

# With the spindle turning and standing: nobody is told to reach towards moving work.
REMINDERS = {
    Due.OIL: ("Stop the spindle, then oil the tailstock ball.", "Oil the tailstock ball."),
    Due.EASE: (
        "Stop the spindle, then feel the tailstock, and ease it if it has tightened.",
        "Feel the tailstock, and ease it if it has tightened.",
    ),
    Due.HEAD_OVER: (
        "The head is still set over. Stop the spindle, then bring it to zero.",
        "The head is still set over. Bring it to zero.",
    ),
}


@dataclass(frozen=True, slots=True)
class Reply:
    """One reply: the words for the voice and the lines for the screen."""

    words: str
    lines: Lines


NO_REPLY_YET = Reply(NOTHING_SAID, ())


def refusal(error: BenchError) -> Reply:
    """Return why something was refused; the screen says it in fewer words."""
    return Reply(spoken(str(error)), refusal_lines(error))


_TAPER_SIZE = re.compile(r"\b\d+(-1/2|/0|:\d+)")
_FIGURES = re.compile(r"(?<![\w/.])-?\d{1,9}(\.\d+)?(?![\w/])")
_BEYOND_WORDS = re.compile(r"(?<![\w/.])-?\d+(\.\d+)?e([+-])\d+")


def spoken(text: str) -> str:
    """Return a sentence with its figures as words, so that the voice reads them our way."""
    text = _TAPER_SIZE.sub(lambda found: size_words(found[0]), text)
    text = _BEYOND_WORDS.sub(lambda f: "far too much" if f[2] == "+" else "next to nothing", text)
    text = _FIGURES.sub(lambda found: number_words(trimmed(float(found[0]), 4)), text)
    text = re.sub(r"\bmm ball\b", "millimetre ball", text)
    return re.sub(r"\bmm\b", "millimetres", text)


def sentence(text: str) -> str:
    """Return a sentence: its first letter large, a stop at its end."""
    return f"{text[:1].upper()}{text[1:]}."


# Where the ball goes


def side_words(side: Side) -> str:
    """Return the direction to move the head, as it is said at the handle."""
    return "towards you" if side is Side.TOWARDS_OPERATOR else "away from you"


def turns_words(turns: Turns) -> str:
    """Return turns and divisions in words: seven turns and five point eight divisions."""
    whole, divisions = (abs(part) for part in turns.rounded(DIVISION_PLACES))
    figures = trimmed(divisions, DIVISION_PLACES)
    said = []
    if whole or figures == "0":
        said.append(f"{counted(int(whole))} {plural('turn', str(whole))}")
    if figures != "0":
        said.append(f"{number_words(figures)} {plural('division', figures)}")
    return " and ".join(said)


def moves_words(job: Job, moves: Sequence[Turns]) -> str:
    """Return how to turn the handle: the last turning always goes outwards."""
    if not moves:
        return HEAD_THERE
    each = []
    for move in moves:
        way = side_words(job.side if move.total > 0 else opposite(job.side))
        each.append(f"{turns_words(move)}, {way}")
    return f"{sentence(', then '.join(each))} {STOP_FIRST}"


def set_over_words(job: Job, answer: Answer) -> str:
    """Return the set-over and its side in words."""
    return f"set over {length_words(answer.set_over, job.unit)} {side_words(answer.side)}"


def answer_words(question: r.Question, job: Job, answer: Answer, full: bool) -> str:
    """Return the answer to a question about where the ball goes."""
    end = f"small end at the {job.small_end}"
    match question:
        case r.Question.TURNS:
            return moves_words(job, job.moves)
        case r.Question.SIDE if not job.at_zero and job.moves:
            # A move from where the head stands may begin the other way.
            return moves_words(job, job.moves)
        case r.Question.SIDE:
            return sentence(f"{side_words(answer.side)}, {end}")
        case r.Question.WHY:
            return _why(job, answer)
    said = sentence(f"{set_over_words(job, answer)}, {end}")
    return f"{said} {moves_words(job, job.moves)}" if full else said


def _why(job: Job, answer: Answer) -> str:
    assert job.taper is not None
    assert job.ball_length is not None
    said = sentence(
        f"{length_words(job.ball_length, job.unit)} between the ball centres, times the sine of "
        f"{angle_words(job.taper.half_angle)}, is {length_words(answer.set_over, job.unit)}"
    )
    screw_moves = length_words(job.per_turn, job.unit)
    dial = f"in {counted(job.head.screw.divisions)} divisions"
    said += f" The screw moves {screw_moves} a turn, {dial}."
    if job.cuts:
        said += f" By the cut measured, its zero is off by {length_words(job.zero, job.unit)}."
    return said


def head_words(head: Head, unit: Unit) -> str:
    """Return what the head is taken to be, in words."""
    turned = head.screw
    reads = "diameter" if turned.reads is DialReads.DIAMETER else "travel"
    parts = [
        f"a screw of {length_words(turned.pitch, unit)}",
        f"{counted(turned.divisions)} divisions reading {reads}",
        f"backlash {length_words(turned.backlash, unit)}",
        f"{length_words(head.travel, unit)} of travel",
        f"tool post at the {head.tool_post}",
    ]
    return ", ".join(parts)


def head_known_words(head: Head, unit: Unit) -> str:
    """Return that the head is known now."""
    return sentence(f"head: {head_words(head, unit)}")


def head_asked_words(job: Job) -> str:
    """Return what head the turns are for."""
    turned = job.head.screw
    screw = f"a screw of {length_words(turned.pitch, job.unit)}"
    if job.per_turn != turned.pitch:
        screw = f"{screw}, found to move {length_words(job.per_turn, job.unit)},"
    return sentence(f"that is for {screw} with {counted(turned.divisions)} divisions")


# Whether it can be turned


def fit_words(job: Job, answer: Answer) -> str:
    """Return whether and how well this can be turned between these balls on this head."""
    assert job.taper is not None
    assert job.ball_length is not None
    reach = f"{length_words(answer.set_over, job.unit)} of the head's"
    said = [f"It can be turned: {reach} {length_words(job.head.travel, job.unit)}."]
    seat = job.seat
    if job.misfit is not None:
        said = [spoken(str(job.misfit))]
    elif seat is None:
        mouth = "the mouth of the holes"
        lacking = mouth if job.ball else "the ball" if job.mouth else f"the ball and {mouth}"
        said.append(f"Give {lacking} to check how it sits.")
    elif seat.seated_on is SeatedOn.RIM:
        said.append("The ball sits on the rim of the hole: it marks the work and wanders.")
    else:
        circle = length_words(seat.contact_circle, job.unit)
        said.append(f"The ball sits on the cone, on a circle of {circle}.")
    closes = ball_centres.closing_up(job.taper, job.ball_length)
    said.append(f"The tailstock closes up {length_words(closes, job.unit)}.")
    out, slides = (length_words(length, job.unit) for length in job.drive_pin)
    said.append(f"A drive pin {out} out slides {slides}: give it room.")
    return " ".join(said)


# The trial cut


def error_words(angle: Angle) -> str:
    """Return an error of the half angle in words."""
    figures = trimmed(abs(angle.minutes), 1)
    return f"{number_words(figures)} {plural('minute', figures)}"


def off_words(trial: Trial) -> str:
    """Return how far out the trial cut is."""
    if trimmed(trial.error.minutes, 1) in ("0", "-0"):
        return "nothing out"
    return f"{error_words(trial.error)} too {'steep' if trial.error.rad > 0 else 'shallow'}"


def trial_words(job: Job, trial: Trial) -> str:
    """Return what the trial cut proves and the move that trues it."""
    off = f"{off_words(trial)}, give or take {error_words(trial.finding.margin)}"
    if trial.verdict is Verdict.WITHIN:
        return f"Within tolerance: {off}. Leave the head."
    said = [sentence(off)]
    if trial.verdict is Verdict.UNPROVED:
        allowed = error_words(job.allowed.half_angle)
        said.append(f"That proves nothing to {allowed}: {_proof(job, trial)}.")
    if not job.moves:
        return " ".join(said)
    more = "more" if trial.move.mm > 0 else "less"
    move = length_words(abs(trial.move), job.unit)
    said.append(f"{sentence(f'{move} {more} set-over')} {moves_words(job, job.moves)}")
    return " ".join(said)


def _proof(job: Job, trial: Trial) -> str:
    """Return what would tell whether the cone is within tolerance."""
    try:
        needed = trueing.gauge_length_needed(trial.finding, job.cuts[-1].over, job.allowed)
    except OutOfRange:
        return "measure with a finer instrument"
    return f"measure over {length_words(Length(math.ceil(needed.mm)), Unit.MILLIMETRE)} or more"


def learnt_words(job: Job) -> str:
    """Return what the screw was found to move."""
    learnt = job.learnt
    pitch = length_words(job.head.screw.pitch, job.unit)
    if learnt is None:
        known = length_words(job.per_turn, job.unit)
        return f"{sentence(f'{known} a turn')} Cuts measured at two settings will tell better."
    if not job.learnt_tells:
        stated = sentence(f"{pitch} a turn as stated")
        return f"{stated} The cuts were set too near each other to tell better."
    found = length_words(learnt.per_turn, job.unit)
    margin = length_words(learnt.per_turn_margin, job.unit)
    said = f"{found} a turn, give or take {margin}, from {counted(learnt.cuts)} cuts"
    if not learnt.consistent:
        return f"{sentence(said)} The cuts do not agree: was the head always brought outwards?"
    if not job.learnt_is_sound:
        return f"{sentence(said)} That is no screw of {pitch}: was the head moved, and a cut taken?"
    if job.per_turn == job.head.screw.pitch:
        return sentence(f"{said}: no different from {pitch}")
    return sentence(f"{said}, not {pitch}")


def blue_words(job: Job, contact: Contact) -> str:
    """Return what a rub in the gauge says of the set-over."""
    if contact is Contact.WHOLE_LENGTH:
        return "The taper is right: leave the head and bring it to size."
    steep, change = ("steep", "less") if contact is Contact.LARGE_END else ("shallow", "more")
    said = f"Too {steep}: {change} set-over."
    division = job.division_turns
    if division is None:
        return said
    return f"{said} One division is {error_words(division)} of half angle."


def infeed_words(job: Job, infeed: Length, cuts: int) -> str:
    """Return the infeed that brings the cone to size, in cuts no deeper than a light one."""
    said = [f"Feed in {length_words(infeed, job.unit)}, square to the bed."]
    if cuts > 1:
        said.append(f"In {counted(cuts)} cuts.")
    said.append(f"On a dial that reads diameter, {length_words(infeed * 2, job.unit)}.")
    return " ".join(said)


def cut_words(job: Job, depth: Length) -> str:
    """Return what is to be said of a cut just taken."""
    said = [f"Cut of {length_words(depth, job.unit)}."]
    if depth > job.shop.light_cut:
        light = length_words(job.shop.light_cut, job.unit)
        said.append(f"That is more than {light}. {KEEP_LIGHT}")
    if job.infeed is not None:
        if length_figures(abs(job.infeed), job.unit) == "0":
            said.append(TO_SIZE)
        else:
            left = length_words(abs(job.infeed), job.unit)
            said.append(sentence(f"{left} {'to go' if job.infeed.mm > 0 else 'too deep'}"))
    return " ".join(said)


# Speed, care, status


def rpm_words(speed: SpindleSpeed) -> str:
    """Return a spindle speed in words."""
    return f"{number_words(trimmed(speed.rpm, 0))} turns a minute"


def speed_words(job: Job, speed: SpindleSpeed) -> str:
    """Return the speed to use, the feed that goes with it, and how deep to cut."""
    assert job.work_diameter is not None
    assert job.material is not None
    across = length_words(job.work_diameter, job.unit)
    cut = f"{material_words(job.material)}, {job.tool} tool, {across}"
    said = [sentence(f"{rpm_words(speed)} at most, for {cut}")]
    if speed == job.shop.cap:
        said.append("That is the cap for work on balls.")
    if (feed := job.finishing_feed) is not None:
        low, high = (feed_figures(end, job.unit) for end in (feed.low, feed.high))
        to = f"{number_words(high)} {plural(UNIT_WORDS[job.unit], high)}"
        said.append(f"Finishing feed {number_words(low)} to {to} a turn.")
    said.append(f"Cuts of {length_words(job.shop.light_cut, job.unit)} at most.")
    return " ".join(said)


def above_cap_words(job: Job) -> str:
    """Return a warning of a spindle speed above the cap; nothing where it is not."""
    if job.running_at is None or job.running_at <= job.shop.cap:
        return ""
    return f"That is above the cap of {rpm_words(job.shop.cap)} for work on balls."


def reminder_words(due: Sequence[Due], turning: bool) -> str:
    """Return what is due as it is said at the machine."""
    return " ".join(REMINDERS[one][0 if turning else 1] for one in due)


def due_words(due: Sequence[Due], turning: bool) -> str:
    """Return an answer to what is due."""
    return reminder_words(due, turning) or NOTHING_DUE


def status_words(job: Job, due: Sequence[Due], turning: bool) -> str:
    """Return what is known and where things stand."""
    known = []
    if job.taper:
        known.append(f"half angle {angle_words(job.taper.half_angle)}")
    if job.ball_length:
        known.append(f"{length_read_back(job.ball_length, job.unit)} between balls")
    if job.answer:
        known.append(f"{set_over_words(job, job.answer)}, {turns_words(job.answer.turns)}")
    if not job.at_zero:
        stands = "where it was asked" if job.answer and not job.moves else "off zero"
        known.append(f"the head stands {stands}")
    if job.trial:
        known.append(f"the trial cut {off_words(job.trial)}")
    said = sentence("; ".join(known)) if known else NOTHING_SET
    return f"{said} {reminder_words(due, turning)}".strip()


def next_words(job: Job) -> str:
    """Return what to do next once the head stands where it was asked."""
    if job.stage is Stage.TRYING:
        return trial_words(job, job.trial) if job.trial else TRY_NEXT
    if job.stage is Stage.SIZED:
        return PART_NEXT
    if job.infeed is None:
        return GAUGE_NEXT
    return f"{sentence(f'{length_words(job.infeed, job.unit)} to go')} {KEEP_LIGHT}"


# Jobs and mending


def back_words(steps: int, undone: str) -> str:
    """Return how far an undo went: what it took back, when it was one thing."""
    if steps == 1:
        return sentence(f"took back {undone}")
    return f"Back {counted(steps)} steps."


def finished_words(job: Job) -> str:
    """Return that a job is kept, and how the head goes home."""
    said = f"Job {counted(job.number)} kept."
    if job.at_zero:
        return said
    return f"{said} Bring the head to zero. {moves_words(job, job.moves_home)}"


def still_over_words(job: Job) -> str:
    """Return a warning when a job is begun with the head set over; nothing where it is not."""
    if job.at_zero:
        return ""
    return f"The head is still set over. Bring it to zero. {moves_words(job, job.moves_home)}"


def again_words(number: int) -> str:
    """Return that a finished job is taken up again."""
    return f"Job {counted(number)} again."


def which_words(first: str, second: str) -> str:
    """Return a question between two meanings."""
    return f"One, {first}; or two, {second}?"


def whether_words(meant: str) -> str:
    """Return a question whether another unit was meant."""
    return f"Did you mean {meant}?"


def keyed_words(typed: str) -> str:
    """Return the figure keyed last as a word."""
    marks = {".": "point", "/": "over"}
    return marks.get(typed[-1:]) or digit_by_digit(typed[-1:])


def help_words(examples: Sequence[str], called: str) -> str:
    """Return a few things that can be said now, and how to begin."""
    return f"{_call_it(called)}You can say: {'; '.join(examples)}."


def greeting(called: str, words: str) -> str:
    """Return words with the cautions before them, and how to be heard."""
    return f"{CAUTIONS} {_call_it(called)}{words}"


def not_listening_words(called: str) -> str:
    """Return that nothing is listened to, and what ends that."""
    listen = f"{called}, listen" if called else "listen"
    return f"Not listening. Say {listen}, or use the keys."


def _call_it(called: str) -> str:
    # Its own sentence, so that the word is heard as it must be said: first.
    return f"To talk to me, begin with {called}. " if called else ""
