"""One exchange of the conversation: what was said or keyed, and everything it led to."""

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass, fields, is_dataclass
from fractions import Fraction
from typing import Any

from assistant.calc.trueing import Verdict
from assistant.dialogue import State, step, wording
from assistant.dialogue.job import Job
from assistant.errors import BenchError, NotUnderstood
from assistant.events import (
    Event,
    Heard,
    Hearing,
    Key,
    KeyPressed,
    Record,
    Say,
    Show,
    SpindleSeen,
    Tick,
)
from assistant.language.certainty import calibration
from assistant.language.listening import NO_WORD
from assistant.language.phrasing import number_words
from assistant.language.requests import Request

# Time goes by in steps of this at most, as it does at the bench.
TICK_S = 1.0


@dataclass(frozen=True, slots=True)
class Exchange:
    """What was heard, what it was taken for, and what was said, shown and recorded."""

    heard: str | None
    understood: Request | None
    say: str | None
    show: tuple[str, ...]
    view: tuple[str, ...]
    records: tuple[str, ...]
    state: State

    def as_json(self) -> dict[str, Any]:
        """Return it as plain values for a machine to read."""
        return {
            "heard": self.heard,
            "understood": None if self.understood is None else described(self.understood),
            "say": self.say,
            "show": list(self.show),
            "view": list(self.view),
            "values": values(self.state),
            "state": str(self.state.mode),
        }


def exchange(state: State, events: Iterable[Event], heard: str | None = None) -> Exchange:
    """Take some events one after the other; the last thing said, shown and meant counts."""
    understood: Request | None = None
    say: str | None = None
    show: tuple[str, ...] = ()
    view: tuple[str, ...] = ()
    records: list[str] = []
    for event in events:
        taken = step(state, event)
        state = taken.state
        understood = taken.understood or understood
        for action in taken.actions:
            match action:
                case Say(words):
                    say = words
                case Show():
                    show, view = action.lines, action.view
                case Record(line):
                    records.append(line)
    return Exchange(heard, understood, say, show, view, tuple(records), state)


def refused(state: State, error: BenchError, heard: str | None = None) -> Exchange:
    """Return the exchange of something that never became an event: a key of no such name."""
    reply = wording.refusal(error)
    return Exchange(heard, None, reply.words, reply.lines, (), (), state)


def events_of(line: str) -> list[Event]:
    """Return what a typed line stands for.

    Words as spoken, whose pauses may be commas and whose numbers figures; or `keys` and key
    names; or `wait` and seconds; or `sensor turning`, or `sensor still`. After `unsure` stand
    words that may have been heard or not, or several, equally likely, with ` / ` between.

    Raises:
        NotUnderstood: There is no key of that name, or no such time.
    """
    first, _, rest = line.partition(" ")
    match first:
        case "keys":
            names = rest.upper().split()
            if strange := [name for name in names if name not in set(Key)]:
                raise NotUnderstood(f"key {strange[0]}")
            return [KeyPressed(Key(name)) for name in names]
        case "wait":
            return ticks(rest)
        case "unsure" if rest:
            return [Heard(_uncertain(tuple(map(_as_spoken, rest.split(" / ")))))]
        case "sensor" if rest in ("turning", "still"):
            return [SpindleSeen(rest == "turning")]
    words = _as_spoken(line)
    return [Heard(Hearing((words,) if words else ()))]


def _as_spoken(line: str) -> str:
    typed = line.lower().replace("\N{RIGHT SINGLE QUOTATION MARK}", "'")
    words = re.sub(r"[?!.;:]+(?=\s|$)", "", typed).strip()
    # Who types at the bench leaves out apostrophes.
    words = re.sub(r"\b(it|that|what)(s)\b|\b(i)(ve)\b", r"\1\3'\2\4", words)
    words = re.sub(r"(?<![\w/])\d{1,9}(\.\d+)?(?![\w/])", lambda f: number_words(f[0]), words)
    return re.sub(r"\bmm\b", "millimetres", words)


def _uncertain(words: tuple[str, ...]) -> Hearing:
    if len(words) > 1:
        return Hearing(words, (0.0,) * len(words), unaided="")
    # So far behind a sound of no word that it is as likely as not.
    constants = calibration()
    against = math.log(constants.meaningless + constants.floor)
    odds = constants.offset + constants.alone * (" " not in words[0])
    behind = (against - odds / constants.slope) / constants.scale
    return Hearing((NO_WORD, *words), (0.0, behind), unaided="")


def ticks(seconds: str) -> list[Event]:
    """Return so much time going by.

    Raises:
        NotUnderstood: It is no time, or more than a day.
    """
    try:
        left = float(seconds)
    except ValueError:
        left = -1.0
    if not 0 <= left <= 86_400:
        raise NotUnderstood(f"wait {seconds}")
    whole, part = divmod(left, TICK_S)
    each: list[Event] = [Tick(TICK_S)] * int(whole)
    return [*each, Tick(part)] if part else each


def values(state: State) -> dict[str, Any]:
    """Return what is known as numbers; what is not known yet is left out."""
    job = state.job
    found: dict[str, Any] = {}
    if job.taper is not None:
        found |= {"half_angle_deg": job.taper.half_angle.degrees, "ratio": job.taper.one_in}
    if job.ball_length is not None:
        found["ball_length_mm"] = job.ball_length.mm
    if job.answer is not None:
        found |= {
            "set_over_mm": job.answer.set_over.mm,
            "side": str(job.answer.side),
            "turns": job.answer.turns.whole,
            "divisions": job.answer.turns.divisions,
            "total_turns": job.answer.turns.total,
        }
    found |= _trial(job) | _seat(job)
    if job.infeed is not None:
        found["infeed_mm"] = job.infeed.mm
    if job.speed is not None:
        found["spindle_rpm"] = job.speed.rpm
    return found | {"reminders": [str(one) for one in state.due]}


# Neither where measuring cannot tell.
_WITHIN = {Verdict.WITHIN: True, Verdict.OUTSIDE: False, Verdict.UNPROVED: None}


def _trial(job: Job) -> dict[str, Any]:
    trial = job.trial
    if trial is None:
        return {}
    return {
        "measured_half_angle_deg": trial.finding.half_angle.degrees,
        "error_arcmin": trial.error.minutes,
        "uncertainty_arcmin": trial.finding.margin.minutes,
        "within_tolerance": _WITHIN[trial.verdict],
        "move_mm": trial.move.mm,
        "move_turns": trial.turns.whole,
        "move_divisions": trial.turns.divisions,
        "move_total_turns": trial.turns.total,
    }


def _seat(job: Job) -> dict[str, Any]:
    if job.misfit is not None:
        return {"seat": "refused"}
    seat = job.seat
    if seat is None:
        return {}
    return {
        "seat": str(seat.seated_on),
        "seat_diameter_mm": seat.contact_circle.mm,
        "centre_outside_mm": seat.outside_face.mm,
    }


def described(request: Request) -> dict[str, Any]:
    """Return a request as plain values: its name and its fields."""
    return {"request": _name(request), **_fields(request)}


def _name(request: Request) -> str:
    """TaperByRatio is taper_by_ratio."""
    letters = (f"_{c.lower()}" if c.isupper() else c for c in type(request).__name__)
    return "".join(letters).removeprefix("_")


def _plain(value: Any) -> Any:
    if isinstance(value, tuple):
        return [described(item) for item in value]
    if isinstance(value, Fraction):
        return int(value) if value.denominator == 1 else float(value)
    return _fields(value) if is_dataclass(value) else value


def _fields(value: Any) -> dict[str, Any]:
    return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
