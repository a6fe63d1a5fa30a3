"""Plays the inputs of a transcript and writes the whole transcript down.

`python -m tests.dialogue.playing FILE...` writes the files anew from their inputs: for a new
conversation give the inputs only, then read every answer as the operator would.
"""

import sys
from collections.abc import Iterable
from pathlib import Path

from assistant.dialogue import State, Step, begin, resume, step, welcome_back
from assistant.events import Action, Lamp, Record, Say, Show
from assistant.exchange import events_of
from assistant.settings import from_toml

INPUTS = ("heard", "unsure", "keys", "wait", "sensor", "restart")


def play(written: Iterable[str]) -> list[str]:
    """Return a transcript made anew from the inputs in one; notes and settings stay."""
    lines = list(written)
    settings = "\n".join(line.removeprefix("setting ") for line in lines if _is(line, "setting"))
    job = from_toml(settings).first_job()
    state, journal = begin(job).state, list[str]()
    went = []
    for line in lines:
        kind, _, rest = line.partition(" ")
        if kind in INPUTS:
            went.append(line)
            if kind == "restart":
                taken = welcome_back(resume(job, journal)[0])
            else:
                taken = _taken(state, rest if kind == "heard" else line)
            state = taken.state
            journal += [action.line for action in taken.actions if isinstance(action, Record)]
            went += _answered(taken.actions)
        elif kind not in ("says", "shows", "lamp"):
            went.append(line)
    return went


def _is(line: str, kind: str) -> bool:
    return line.partition(" ")[0] == kind


def _taken(state: State, given: str) -> Step:
    actions: list[Action] = []
    for event in events_of(given):
        taken = step(state, event)
        state = taken.state
        actions += taken.actions
    return Step(state, tuple(actions))


def _answered(actions: Iterable[Action]) -> list[str]:
    """Return everything said, the lamp, and the last screen."""
    kept = list(actions)
    said = [f"says {action.words}" for action in kept if isinstance(action, Say)]
    lamps = [f"lamp {'on' if a.lit else 'off'}" for a in kept if isinstance(a, Lamp)]
    shown = [action.lines for action in kept if isinstance(action, Show)]
    return [*said, *lamps, *(f"shows {line}" for line in (shown[-1] if shown else ()))]


if __name__ == "__main__":
    for name in sys.argv[1:]:
        path = Path(name)
        played = play(path.read_text(encoding="utf-8").splitlines())
        path.write_text("\n".join(played) + "\n", encoding="utf-8")
