"""The conversations written down reach every state, request and refusal there is."""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from assistant import errors
from assistant.dialogue import State, begin, resume, step, welcome_back
from assistant.dialogue.asking import SAID_AT
from assistant.dialogue.conversation import REQUESTS, TABLE
from assistant.dialogue.facts import meanings_here, other_unit
from assistant.dialogue.state import Mode
from assistant.errors import BenchError
from assistant.events import Action, Event, Heard, Key, KeyPressed, Record, Say, Tick
from assistant.exchange import events_of
from assistant.journal import from_line
from assistant.language import requests as r
from assistant.language.listening import Context, grammar
from assistant.language.meaning import MEANINGS
from assistant.language.requests import Question, Request
from assistant.settings import from_toml
from tests.dialogue.playing import INPUTS
from tests.dialogue.test_transcripts import FILES

FEWEST = 60

# Errors that no words and no keys can bring about, and why.
NEVER_HEARD: dict[type[BenchError], str] = {
    errors.WrongKind: "every request is built with quantities of its own kinds",
    errors.UnsourcedRow: "the tables are read, and refused, before the first word",
    errors.Ambiguous: "what means two things is asked about instead: a choice of one or two",
    errors.JournalUnreadable: "a line that cannot be used is told of where the journal is read",
    errors.JournalUnusable: "the journal is opened and written outside the conversation",
    errors.BadSetting: "the settings are read before the first word",
    errors.UnknownSetting: "the settings are read before the first word",
    errors.SettingsUnreadable: "the settings are read before the first word",
    errors.BadSound: "sound files are read outside the conversation",
    errors.ModelIncomplete: "the speech model is read outside the conversation",
    errors.RecogniserLost: "the recogniser runs outside the conversation",
    errors.VoiceLost: "the voice runs outside the conversation",
    errors.DeviceMissing: "devices are opened outside the conversation",
}

# What is only done by hand, near the work.
BY_HAND = re.compile(r"\b(oil|ease|feel|bring|measure|feed in|(turns?|divisions?), \w+ )", re.I)

# A ball that does not sit is taken and told of, for the job may yet be given another.
MISFITS = {errors.BallTooSmall, errors.BallTooLarge}


@dataclass(frozen=True, slots=True)
class Taken:
    """One event of a conversation and what it led to."""

    before: State
    event: Event
    after: State
    actions: tuple[Action, ...]
    understood: Request | None
    refusal: BenchError | None


def _conversation(lines: list[str]) -> Iterator[Taken | Request]:
    """Go through a transcript: each event taken, and after a restart what was recorded."""
    settings = [rest for kind, _, rest in _parted(lines) if kind == "setting"]
    job = from_toml("\n".join(settings)).first_job()
    state, journal = begin(job).state, list[str]()
    for kind, _, rest in _parted(lines):
        if kind == "restart":
            yield from map(from_line, journal)
            state = welcome_back(resume(job, journal)[0]).state
        elif kind in INPUTS:
            for event in events_of(rest if kind == "heard" else f"{kind} {rest}"):
                taken = step(state, event)
                refusal = _refusal(state, event)
                yield Taken(state, event, taken.state, taken.actions, taken.understood, refusal)
                state = taken.state
                journal += [one.line for one in taken.actions if isinstance(one, Record)]


def _parted(lines: list[str]) -> list[tuple[str, str, str]]:
    return [line.partition(" ") for line in lines]


def _refusal(state: State, event: Event) -> BenchError | None:
    try:
        TABLE[state.mode, type(event)](state, event)
    except BenchError as refusal:
        return refusal
    return None


@cache
def _walked() -> tuple[Taken | Request, ...]:
    return tuple(one for file in FILES for one in _conversation(_lines(file)))


def _lines(file: Path) -> list[str]:
    return file.read_text(encoding="utf-8").splitlines()


def _taken() -> Iterator[Taken]:
    return (one for one in _walked() if isinstance(one, Taken))


def _performed(taken: Taken) -> type[Request] | None:
    """Return what was done: a bare number is the fact that it stood for."""
    if taken.understood is None:
        return None
    meant, *others = meanings_here(taken.before, taken.understood)
    asked_about = others or other_unit(taken.before.job, meant) is not None
    return None if asked_about else type(meant)


# What may happen in any mode. While keys are pressed it is the number that is put right, and
# neither a word nor a reminder gets in between.


def _undone(taken: Taken) -> bool:
    was, now = taken.before.entry, taken.after.entry
    if was is not None:
        return now is not None and taken.event == KeyPressed(Key.D) and now.typed < was.typed
    return isinstance(taken.understood, r.Undo)


def _put_right(taken: Taken) -> bool:
    was, now = taken.before.entry, taken.after.entry
    if was is not None:
        return now is not None and now.unit != was.unit
    return isinstance(taken.understood, r.No | r.Correct)


def _interrupted(taken: Taken) -> bool:
    if taken.before.mode is Mode.KEYING:
        return isinstance(taken.event, Heard) and taken.after.entry == taken.before.entry
    return isinstance(taken.understood, r.Ask)


def _reminded(taken: Taken) -> bool:
    fell_due = isinstance(taken.event, Tick) and set(taken.after.due) > set(taken.before.due)
    spoken = any(isinstance(action, Say) for action in taken.actions)
    return fell_due and spoken is (taken.before.mode is not Mode.KEYING)


def test_there_are_conversations_enough_and_each_says_what_it_shows() -> None:
    assert len(FILES) >= FEWEST
    assert [file.stem for file in FILES if not _lines(file)[0].startswith("note ")] == []


def test_every_mode_is_reached() -> None:
    assert {taken.after.mode for taken in _taken()} == set(Mode)


@pytest.mark.parametrize("mode", Mode)
@pytest.mark.parametrize("happens", [_undone, _put_right, _interrupted, _reminded])
def test_in_every_mode_it_happens(mode: Mode, happens: Callable[[Taken], bool]) -> None:
    assert any(taken.before.mode is mode and happens(taken) for taken in _taken())


def test_every_request_is_performed() -> None:
    recorded = {type(one) for one in _walked() if isinstance(one, Request)}
    assert {_performed(taken) for taken in _taken()} | recorded >= set(REQUESTS)


def test_every_question_is_asked() -> None:
    asked = {one.understood.question for one in _taken() if isinstance(one.understood, r.Ask)}
    assert asked == set(Question)


def test_nobody_is_told_to_reach_towards_moving_work() -> None:
    turning = [taken for taken in _taken() if taken.before.run.turning and taken.after.run.turning]
    told = [one.words for taken in turning for one in taken.actions if isinstance(one, Say)]
    by_hand = [words for words in told if BY_HAND.search(words)]

    assert by_hand
    assert [words for words in by_hand if "stop the spindle" not in words.lower()] == []


@pytest.mark.parametrize("event", [Heard, KeyPressed])
def test_every_refusal_is_heard_spoken_and_keyed(event: type[Event]) -> None:
    answered = [taken for taken in _taken() if isinstance(taken.event, event)]
    refused = {type(taken.refusal) for taken in answered if taken.refusal is not None}
    misfits = {type(taken.after.job.misfit) for taken in answered} - {type(None)}

    assert misfits == MISFITS
    assert refused | misfits == _kinds(BenchError) - set(NEVER_HEARD)


def _kinds(of: type[BenchError]) -> set[type[BenchError]]:
    return {kind for each in of.__subclasses__() for kind in {each, *_kinds(each)}}


@pytest.mark.parametrize("example", sorted({said for every in SAID_AT.values() for said in every}))
def test_what_help_quotes_can_be_said(example: str) -> None:
    assert len(grammar().meanings(example, Context.READY, MEANINGS)) == 1
