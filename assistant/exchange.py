"""One exchange of the conversation: what was said or keyed, and everything it led to."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from assistant.dialogue import State, step, wording
from assistant.dialogue.job import Job
from assistant.errors import BenchError, NotUnderstood
from assistant.events import Event, Heard, Hearing, Key, KeyPressed, Say, Show
from assistant.language.requests import Request, described


@dataclass(frozen=True, slots=True)
class Exchange:
    """What was heard, what it was taken for, and what was said and shown."""

    heard: str | None
    understood: Request | None
    say: str | None
    show: tuple[str, ...]
    state: State

    def as_json(self) -> dict[str, Any]:
        """Return it as plain values for a machine to read."""
        return {
            "heard": self.heard,
            "understood": None if self.understood is None else described(self.understood),
            "say": self.say,
            "show": list(self.show),
            "values": values(self.state.job),
            "state": str(self.state.mode),
        }


def exchange(state: State, events: Iterable[Event], heard: str | None = None) -> Exchange:
    """Take some events one after the other; the last thing said, shown and meant counts."""
    understood: Request | None = None
    say: str | None = None
    show: tuple[str, ...] = ()
    for event in events:
        taken = step(state, event)
        state = taken.state
        understood = taken.understood or understood
        for action in taken.actions:
            if isinstance(action, Say):
                say = action.words
            elif isinstance(action, Show):
                show = action.lines
    return Exchange(heard, understood, say, show, state)


def refused(state: State, error: BenchError, heard: str | None = None) -> Exchange:
    """Return the exchange of something that never became an event: a key of no such name."""
    reply = wording.refusal(error)
    return Exchange(heard, None, reply.words, reply.lines, state)


def events_of(line: str) -> list[Event]:
    """Return what a typed line stands for: words as spoken, or after `keys ` key names.

    Raises:
        NotUnderstood: There is no key of that name.
    """
    first, _, rest = line.partition(" ")
    if first != "keys":
        return [Heard(Hearing((line.lower(),) if line else ()))]
    names = rest.upper().split()
    if strange := [name for name in names if name not in set(Key)]:
        raise NotUnderstood(f"key {strange[0]}")
    return [KeyPressed(Key(name)) for name in names]


def values(job: Job) -> dict[str, Any]:
    """Return what is known of the job as numbers; what is not known yet is left out."""
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
    return found
