"""Putting right: undo, no, cancel, asking for a fact again."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from assistant.dialogue import wording
from assistant.dialogue.facts import state_facts
from assistant.dialogue.replies import ask, said, settle
from assistant.dialogue.state import ASKING, HEAD_QUESTIONS, Mode, State, Step
from assistant.errors import NothingToTakeBack
from assistant.language import requests as r
from assistant.language.readback import read_back
from assistant.language.requests import Fact, Question, Request, Topic

TOPICS: dict[Topic, Mode] = {
    Topic.TAPER: Mode.ASKING_TAPER,
    Topic.LENGTH: Mode.ASKING_LENGTH,
    Topic.BALL: Mode.ASKING_BALL,
}


def _undo(state: State, request: r.Undo) -> Step:
    back = state
    for _ in range(request.steps):
        if back.before is None:
            raise NothingToTakeBack
        back = back.before
    assert state.step_done is not None
    undone = read_back(state.step_done, state.job.unit)
    return ask(back.returned(state), wording.back_words(request.steps, undone))


def _no(state: State, request: r.No) -> Step:
    """Strike out what was taken last, then take what is right or ask for it again."""
    if request.instead is None and state.mode in (Mode.ASKING_WHICH, Mode.ASKING_WHETHER):
        anew = asking_for(state.choices[0]) or state.resume
        return ask(replace(state, mode=anew), wording.LEFT)
    if request.instead is None and state.mode is Mode.ASKING_HEAD:
        return settle(replace(state, to_ask=HEAD_QUESTIONS, wanted=Question.TURNS))
    if request.instead is None and state.to_ask and state.mode is state.to_ask[0]:
        return _as_it_was(state)
    wrong, without = state.latest, state.without_latest
    if isinstance(request.instead, tuple):
        struck = without if wrong and _replaced(wrong, request.instead) else None
        return state_facts(struck or state, *request.instead, before=state)
    if isinstance(wrong, r.SpindleStarted | r.SpindleStopped):
        turned = replace(state.run, turning=not state.run.turning)
        words = wording.RUNNING if turned.turning else wording.STOPPED
        return said(replace(state, run=turned, latest=None), words)
    if wrong is None or without is None:
        raise NothingToTakeBack
    struck = replace(
        without.returned(state), before=state, latest=None, without_latest=None, step_done=request
    )
    again = asking_for(wrong)
    return ask(replace(struck, mode=again) if again else struck, wording.STRUCK)


def _replaced(wrong: Request, instead: tuple[Fact, ...]) -> bool:
    """Return whether facts say anew what was taken last, and not something else."""
    kinds = {asking_for(fact) or type(fact) for fact in instead}
    return (asking_for(wrong) or type(wrong)) in kinds


def asking_for(request: Request) -> Mode | None:
    """Return the mode that asks for what a request states."""
    return next((mode for mode in ASKING if type(request) in ASKING[mode].answers), None)


def _yes(state: State, request: r.Yes) -> Step:
    if state.mode is Mode.ASKING_HEAD:
        return said(replace(_head_confirmed(state), mode=Mode.READY), wording.HEAD_KEPT)
    if state.to_ask and state.mode is state.to_ask[0]:
        return _as_it_was(state)
    return said(state, wording.RIGHT)


def _as_it_was(state: State) -> Step:
    """Leave what is being asked of the head as it was taken to be, and go on."""
    left = state.to_ask[1:]
    if left:
        return settle(replace(state, to_ask=left))
    return settle(replace(_head_confirmed(state), to_ask=()), wording.HEAD_KEPT)


def _head_confirmed(state: State) -> State:
    head = replace(state.job.head, confirmed=True)
    return replace(state, job=replace(state.job, head=head))


def _cancel(state: State, request: r.Cancel) -> Step:
    left = replace(state, mode=Mode.READY, to_ask=())
    return said(left, wording.LEFT)


def _correct(state: State, request: r.Correct) -> Step:
    if request.topic is Topic.HEAD:
        return settle(replace(state, to_ask=HEAD_QUESTIONS))
    mode = TOPICS[request.topic]
    if request.topic is Topic.LENGTH and state.job.over_balls is not None:
        mode = Mode.ASKING_OVER_BALLS
    elif request.topic is Topic.LENGTH and state.job.work_length is not None:
        mode = Mode.ASKING_WORK_LENGTH
    return ask(replace(state, mode=mode), "")


REQUESTS: dict[type[Request], Callable[[State, Any], Step]] = {
    r.Yes: _yes,
    r.No: _no,
    r.Undo: _undo,
    r.Cancel: _cancel,
    r.Correct: _correct,
}
