"""The conversation as a state machine: step(state, event) -> the next state and the actions.

Two tables hold it. TABLE says what an event does in a mode; REQUESTS says what a request
does, whether it came by voice or by keys. Refused input leaves the state exactly as it was
but for the refusal, which can be heard again.

The modes: `ready`; `asking for ...` when a fact is missing; `keying` while a number or a
function is half keyed. A fact may be given in any mode, asked for or not.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from assistant.dialogue import keypad, wording
from assistant.dialogue.job import Job
from assistant.dialogue.keypad import Entry
from assistant.dialogue.wording import Reply
from assistant.errors import BenchError, NotUnderstood
from assistant.events import Action, Event, Heard, KeyPressed, Say, Show, Signal
from assistant.language import requests as r
from assistant.language.listening import Context, grammar, understand
from assistant.language.readback import read_back
from assistant.language.requests import AngleIs, Fact, Measure, Question, Request


class Mode(StrEnum):
    """What the assistant is waiting for."""

    READY = "ready"
    ASKING_TAPER = "asking for the taper"
    ASKING_LENGTH = "asking for the length"
    ASKING_BALL = "asking for the ball diameter"
    ASKING_ANGLE_KIND = "asking which angle"
    KEYING = "keying"


@dataclass(frozen=True, slots=True)
class Asking:
    """What goes with a mode that asks: the words, what to listen for, what keys and help fit."""

    question: str
    context: Context = Context.READY
    keyed: str | None = None
    examples: str = "taper"


ASKING: dict[Mode, Asking] = {
    Mode.READY: Asking("", examples="question"),
    Mode.ASKING_TAPER: Asking(wording.ASK_TAPER),
    Mode.ASKING_LENGTH: Asking(
        wording.ASK_LENGTH, Context.ASKED_MEASURE, keyed="B1", examples="ball_length"
    ),
    Mode.ASKING_BALL: Asking(
        wording.ASK_BALL, Context.ASKED_MEASURE, keyed="B3", examples="length"
    ),
    Mode.ASKING_ANGLE_KIND: Asking(wording.ASK_ANGLE_KIND, Context.ASKED_ANGLE_KIND),
}


@dataclass(frozen=True, slots=True)
class State:
    """Everything the conversation knows between two events."""

    job: Job
    mode: Mode = Mode.ASKING_TAPER
    # The fact taken last, which "no" contradicts.
    latest: Fact | None = None
    # The question to answer once the missing facts are in.
    wanted: Question = Question.SET_OVER
    # An angle whose kind is being asked for.
    angle: r.TaperByAngle | None = None
    entry: Entry | None = None
    # The mode to go back to when keying ends.
    mode_before_keying: Mode = Mode.READY
    reply: Reply = wording.NO_REPLY_YET
    # The state before the latest step, for undo; and the one without the latest fact, for no.
    before: "State | None" = field(default=None, repr=False)
    without_latest: "State | None" = field(default=None, repr=False)

    @property
    def context(self) -> Context:
        """What to listen for."""
        mode = self.mode_before_keying if self.mode is Mode.KEYING else self.mode
        return ASKING[mode].context


@dataclass(frozen=True, slots=True)
class Step:
    """What an event led to."""

    state: State
    actions: tuple[Action, ...] = ()
    understood: Request | None = None


def begin(job: Job) -> Step:
    """Return the first state, with the welcome and the usual cautions, said once."""
    reply = Reply(f"{wording.CAUTIONS} {wording.WELCOME}", wording.on_screen(wording.WELCOME))
    return _said(State(job), reply)


def step(state: State, event: Event) -> Step:
    """Return the next state, and what the shell must do.

    Never raises for anything said or keyed: what cannot be taken is refused aloud and on
    the screen, and changes nothing else.
    """
    handler = TABLE[state.mode, type(event)]
    try:
        return handler(state, event)
    except BenchError as error:
        # A refused number must not stay on the pad for the next keys to run into.
        kept = _left(state) if state.mode is Mode.KEYING else state
        refused = _said(kept, wording.refusal(error))
        return replace(refused, actions=(Signal.REFUSED, *refused.actions))


# Events


def _heard(state: State, event: Heard) -> Step:
    request = understand(event.hearing, state.context, state.job.unit)
    return perform(state, request)


def _heard_while_keying(state: State, event: Heard) -> Step:
    # Keys are for when hearing fails: noise must not disturb a number half keyed, aloud least.
    assert state.entry is not None
    lines = wording.keying_lines(state.entry, state.job)
    return Step(state, (Show((*lines, wording.HALF_KEYED)),))


def _first_key(state: State, event: KeyPressed) -> Step:
    if state.mode is Mode.ASKING_ANGLE_KIND and event.key in keypad.ANGLE_ANSWERS:
        return _keyed(state, keypad.ANGLE_ANSWERS[event.key])
    asked = ASKING[state.mode].keyed
    return _keyed(state, keypad.begin(event.key, asked, state.job.unit))


def _further_key(state: State, event: KeyPressed) -> Step:
    assert state.entry is not None
    return _keyed(state, keypad.press(state.entry, event.key, state.job.unit))


def _left(state: State) -> State:
    """Return a keying state with what was keyed dropped."""
    waiting = state.mode_before_keying
    return replace(state, mode=waiting, entry=None, mode_before_keying=Mode.READY)


def _keyed(state: State, made: Entry | Request | None) -> Step:
    waiting = state.mode_before_keying if state.mode is Mode.KEYING else state.mode
    idle = _left(state) if state.mode is Mode.KEYING else state
    if isinstance(made, Request):
        done = perform(idle, made)
        return replace(done, actions=(Signal.KEY, *done.actions))
    if made is None:
        reply = Reply(wording.LEFT, wording.bench_screen(state.job))
        return _said(idle, reply)
    entered = replace(state, mode=Mode.KEYING, entry=made, mode_before_keying=waiting)
    lines = wording.keying_lines(made, state.job)
    actions: tuple[Action, ...] = (Signal.KEY, Show(lines))
    if made.slot is not None and (state.entry is None or made.slot != state.entry.slot):
        # A new number is asked for, aloud; the digits themselves only click.
        actions = (Signal.KEY, Say(made.slot.question), Show(lines))
        entered = replace(entered, reply=Reply(made.slot.question, lines))
    return Step(entered, actions)


# Requests


def perform(state: State, request: Request) -> Step:
    """Return what a request does, however it was made.

    Raises:
        BenchError: It cannot be done; the caller's state is unchanged.
    """
    done = REQUESTS[type(request)](state, request)
    return replace(done, understood=request)


def _state_facts(state: State, *facts: Fact, before: State | None = None) -> Step:
    stated = replace(
        state,
        job=state.job.with_facts(*facts),
        latest=facts[-1],
        angle=None,
        before=before or state,
        without_latest=state,
    )
    return _settle(stated, _read_back(r.Facts(facts), state))


def _read_back(request: Request, state: State) -> str:
    return f"{read_back(request, state.job.unit).capitalize()}."


def _angle(state: State, request: r.TaperByAngle) -> Step:
    asking = replace(state, mode=Mode.ASKING_ANGLE_KIND, angle=request, before=state)
    return _ask(asking, _read_back(request, state))


def _angle_kind(state: State, request: r.AngleKind) -> Step:
    if state.angle is None:
        raise NotUnderstood(request.kind)
    form = r.TaperByHalfAngle if request.kind is AngleIs.HALF else r.TaperByIncludedAngle
    return _state_facts(state, form(state.angle.degrees))


def _bare(state: State, request: r.Bare) -> Step:
    return _state_facts(state, _measured(state.mode, request.measure))


def _measured(mode: Mode, measure: Measure) -> Fact:
    """Return the fact that a number alone states as an answer."""
    if mode is Mode.ASKING_LENGTH:
        return r.BetweenBalls(measure)
    if mode is Mode.ASKING_BALL:
        return r.BallDiameter(measure)
    raise NotUnderstood("a number that nothing asked for")


def _ask_for(state: State, request: r.Ask) -> Step:
    match request.question:
        case Question.AGAIN:
            return _said(state, state.reply)
        case Question.STATUS:
            return _ask(state, wording.status_words(state.job))
        case Question.HELP:
            examples = grammar().examples[ASKING[state.mode].examples][:3]
            reply = Reply(wording.help_words(examples), wording.on_screen("; ".join(examples)))
            return _said(state, reply)
    return _settle(replace(state, wanted=request.question))


def _yes(state: State, request: r.Yes) -> Step:
    return _said(state, Reply(wording.RIGHT, wording.bench_screen(state.job)))


def _no(state: State, request: r.No) -> Step:
    """Strike out the latest fact, then take what is right or ask for it again."""
    wrong, without = state.latest, state.without_latest
    if isinstance(request.instead, tuple):
        return _state_facts(without or state, *request.instead, before=state)
    if wrong is None or without is None:
        raise NotUnderstood("no")
    if request.instead is None:
        struck = replace(
            without, mode=_asks_for(wrong), latest=None, without_latest=None, before=state
        )
        return _ask(struck, wording.STRUCK)
    return _state_facts(without, _corrected(wrong, request.instead), before=state)


def _corrected(wrong: Fact, measure: Measure) -> Fact:
    """Return the fact with the number that was meant."""
    match wrong:
        case r.BetweenBalls():
            return r.BetweenBalls(measure)
        case r.OverBalls():
            return r.OverBalls(measure, wrong.ball)
        case r.BallDiameter():
            return r.BallDiameter(measure)
        case r.ScrewPitch():
            return r.ScrewPitch(measure)
        case r.TaperPerFoot():
            return r.TaperPerFoot(measure)
    raise NotUnderstood("a number alone in place of that")


def _asks_for(wrong: Fact) -> Mode:
    """Return the mode that asks again for a fact struck out."""
    match wrong:
        case r.BetweenBalls() | r.OverBalls():
            return Mode.ASKING_LENGTH
        case r.BallDiameter():
            return Mode.ASKING_BALL
        case r.ScrewPitch() | r.ThreadsPerInch() | r.Divisions() | r.SmallEnd() | r.Units():
            return Mode.READY
    return Mode.ASKING_TAPER


def _undo(state: State, request: r.Undo) -> Step:
    back = state
    for _ in range(request.steps):
        if back.before is None:
            raise NotUnderstood("undo")
        back = back.before
    return _ask(back, wording.back_words(request.steps))


def _cancel(state: State, request: r.Cancel) -> Step:
    reply = Reply(wording.LEFT, wording.bench_screen(state.job))
    return _said(replace(state, mode=Mode.READY, angle=None), reply)


def _new_job(state: State, request: r.NewJob) -> Step:
    return _ask(State(state.job.afresh(), before=state), wording.NEW_JOB)


# What follows


def _settle(state: State, said: str = "") -> Step:
    """Answer what is wanted, or ask for the one fact it lacks."""
    answer = state.job.answer
    if answer is None:
        return _ask(replace(state, mode=_missing(state.job)), said)
    words = wording.answer_words(state.wanted, state.job, answer)
    lines = (
        wording.why_lines(state.job, answer)
        if state.wanted is Question.WHY
        else wording.bench_screen(state.job)
    )
    answered = replace(state, mode=Mode.READY, wanted=Question.SET_OVER)
    return _said(answered, Reply(f"{said} {words}".strip(), lines))


def _missing(job: Job) -> Mode:
    # A reading without its balls first: it was given this moment.
    if job.over_balls is not None and job.ball is None:
        return Mode.ASKING_BALL
    return Mode.ASKING_TAPER if job.taper is None else Mode.ASKING_LENGTH


def _ask(state: State, said: str) -> Step:
    """Say something, then what the mode asks for, if it asks."""
    question = ASKING[state.mode].question
    lines = wording.bench_screen(state.job, bottom=wording.PROMPTS.get(question))
    return _said(state, Reply(f"{said} {question}".strip(), lines))


def _said(state: State, reply: Reply) -> Step:
    return Step(replace(state, reply=reply), (Say(reply.words), Show(reply.lines)))


REQUESTS: dict[type[Request], Callable[[State, Any], Step]] = {
    r.Facts: lambda state, request: _state_facts(state, *request.facts),
    r.TaperByAngle: _angle,
    r.AngleKind: _angle_kind,
    r.Bare: _bare,
    r.Ask: _ask_for,
    r.Yes: _yes,
    r.No: _no,
    r.Undo: _undo,
    r.Cancel: _cancel,
    r.NewJob: _new_job,
} | dict.fromkeys(r.PLAIN_FACTS, _state_facts)

TABLE: dict[tuple[Mode, type[Event]], Callable[[State, Any], Step]] = {
    **{(mode, Heard): _heard for mode in ASKING},
    **{(mode, KeyPressed): _first_key for mode in ASKING},
    (Mode.KEYING, Heard): _heard_while_keying,
    (Mode.KEYING, KeyPressed): _further_key,
}
