"""The conversation as a state machine: step(state, event) -> the next state and the actions.

Two tables hold it. TABLE says what an event does in a mode; REQUESTS says what a request
does, whether it came by voice or by keys. Refused input leaves the state exactly as it was
but for the refusal, which can be heard again, and the count of what was not understood.

A request that changes anything is recorded before it is answered; `resume` makes the state
again from what was recorded.
"""

from collections.abc import Callable, Iterable
from dataclasses import fields, replace
from typing import Any

from assistant.dialogue import (
    asking,
    facts,
    keeping,
    keypad,
    lathe,
    mending,
    screens,
    wording,
)
from assistant.dialogue.job import Job
from assistant.dialogue.keypad import Entry
from assistant.dialogue.reminders import Due, Run, to_say
from assistant.dialogue.replies import ask, question_lines, said, shown, spoken
from assistant.dialogue.state import ASKING, Mode, State, Step
from assistant.dialogue.wording import Reply
from assistant.errors import BenchError, JournalUnreadable, NotUnderstood
from assistant.events import (
    Action,
    Called,
    Event,
    Heard,
    KeyPressed,
    Lamp,
    Record,
    Signal,
    SpindleSeen,
    Tick,
)
from assistant.journal import from_line, to_line
from assistant.language import requests as r
from assistant.language.listening import meant
from assistant.language.requests import Request

# The journal may lack so much running after a power cut, never more.
RECORD_RUN_EVERY_S = 30.0

# Asked once more in words; after that the shop is too loud and the keys are offered.
MISSES_BEFORE_KEYS = 2

# What the journal cannot bring back, and need not: it can be said again.
PASSING = {"reply", "entry", "mode_before_keying", "misses", "run", "run_recorded", "nagging"}
KEPT = tuple(field.name for field in fields(State) if field.compare and field.name not in PASSING)


def begin(job: Job) -> Step:
    """Return the first state, with the welcome and the usual cautions, said once."""
    asked = ASKING[Mode.ASKING_TAPER]
    welcome = f"{wording.READY} {asked.question}"
    words = wording.greeting(job.shop.called, welcome)
    step_taken = said(State(job), words, screens.on_screen(welcome))
    return _with_lamp(step_taken, was_lit=False)


def resume(job: Job, lines: Iterable[str]) -> tuple[State, tuple[str, ...]]:
    """Return the state that recorded lines lead to, and those that could not be used.

    The spindle is taken to stand until it is heard of: nobody starts a lathe and a Pi at once.
    """
    state, unusable = State(job), []
    for line in lines:
        try:
            state = perform(state, from_line(line)).state
        except (JournalUnreadable, BenchError):
            unusable.append(line)
    still = replace(state.run, turning=False)
    return replace(state, run=still, run_recorded=still), tuple(unusable)


def welcome_back(state: State) -> Step:
    """Return a resumed state, with where things stand."""
    words = wording.status_words(state.job, state.due, turning=False)
    told = lathe.told_of_due(state, state.due)
    greeting = wording.greeting(state.job.shop.called, words)
    return _with_lamp(ask(told, greeting), was_lit=False)


def step(state: State, event: Event) -> Step:
    """Return the next state, and what the shell must do, in that order.

    Never raises for anything said, keyed or sensed: what cannot be taken is refused aloud
    and on the screen, and changes nothing else.
    """
    handler = TABLE[state.mode, type(event)]
    try:
        taken = handler(state, event)
    except BenchError as error:
        taken = _refused(state, error, by_voice=isinstance(event, Heard))
    return _with_lamp(_with_records(state, _settled(taken)), was_lit=bool(state.due))


def _refused(state: State, error: BenchError, by_voice: bool) -> Step:
    # A refused number must not stay on the pad for the next keys to run into.
    kept = _left(state) if state.mode is Mode.KEYING else state
    misses = state.misses + 1 if by_voice and isinstance(error, NotUnderstood) else 0
    reply = wording.refusal(error)
    words = reply.words
    if misses >= MISSES_BEFORE_KEYS:
        words = f"{words} {wording.USE_THE_KEYS}"
    # What is being asked about stays in sight, to be answered by keys.
    lines = question_lines(kept) if misses and kept.choices else reply.lines
    refused = said(replace(kept, misses=misses), words, lines)
    return replace(refused, actions=(Signal.REFUSED, *refused.actions))


def _with_records(before: State, taken: Step) -> Step:
    """Put what must be kept in front of everything that answers it."""
    after = taken.state
    # A step that says what was known already is a step: undo goes back over it.
    changed = taken.understood is not None and (
        after.before is not before.before
        or any(getattr(before, name) != getattr(after, name) for name in KEPT)
        or isinstance(taken.understood, r.PutOff)
    )
    ran = after.run.ran_s - after.run_recorded.ran_s >= RECORD_RUN_EVERY_S
    turned = after.run.turning != after.run_recorded.turning
    if not (changed or ran or turned):
        return taken
    run = before.run if changed else after.run
    records: list[Action] = []
    if run != after.run_recorded:
        records.append(_run_record(run))
    if changed:
        assert taken.understood is not None
        records.append(Record(to_line(taken.understood)))
    if after.run != run:
        records.append(_run_record(after.run))
    recorded = replace(after, run_recorded=after.run)
    return replace(taken, state=recorded, actions=(*records, *taken.actions))


def _run_record(run: Run) -> Record:
    return Record(to_line(r.RunSoFar(run.turning, run.ran_s, run.ball_turns, run.awake_s)))


def _settled(taken: Step) -> Step:
    """Forget what was said of things no longer due: falling due again, they are new."""
    nagging = taken.state.nagging.dropped(taken.state.due)
    if nagging == taken.state.nagging:
        return taken
    return replace(taken, state=replace(taken.state, nagging=nagging))


def _with_lamp(taken: Step, was_lit: bool) -> Step:
    lit = bool(taken.state.due)
    if lit == was_lit:
        return taken
    return replace(taken, actions=(*taken.actions, Lamp(lit)))


# Events


def _heard(state: State, event: Heard) -> Step:
    request = meant(event.hearing, state.context)
    if isinstance(request, r.Unsure):
        request = facts.doubted(state, request)
    done = perform(state, request)
    return replace(done, state=replace(done.state, misses=0))


def _heard_any(state: State, event: Heard) -> Step:
    if state.listening:
        return _heard(state, event)
    try:
        return _heard(state, event)
    except BenchError:
        return Step(state)  # told not to listen: what is no word to listen again is no word


def _heard_while_keying(state: State, event: Heard) -> Step:
    # Keys are for when hearing fails: noise must not disturb a number half keyed, aloud least.
    assert state.entry is not None
    if not state.listening:
        return Step(state)
    lines = screens.keying_lines(state.entry, state.job)
    return Step(state, (shown(state, (*lines[:3], wording.HALF_KEYED)),))


def _called(state: State, event: Called) -> Step:
    return Step(state, spoken(state, wording.CALLED) if state.listening else ())


def _called_while_keying(state: State, event: Called) -> Step:
    return Step(state)


def _first_key(state: State, event: KeyPressed) -> Step:
    asked = ASKING[state.mode]
    return _keyed(state, keypad.begin(event.key, asked.keyed, state.job.unit, asked.keys))


def _further_key(state: State, event: KeyPressed) -> Step:
    assert state.entry is not None
    return _keyed(state, keypad.press(state.entry, event.key, state.job.unit))


def _left(state: State) -> State:
    """Return a keying state with what was keyed dropped."""
    waiting = state.mode_before_keying
    return replace(state, mode=waiting, entry=None, mode_before_keying=Mode.READY)


def _keyed(state: State, made: Entry | Request | None) -> Step:
    idle = _left(state) if state.mode is Mode.KEYING else state
    if isinstance(made, Request):
        done = perform(idle, made)
        return replace(done, actions=(Signal.KEY, *done.actions))
    if made is None:
        return said(idle, wording.LEFT)
    entered = replace(idle, mode=Mode.KEYING, entry=made, mode_before_keying=idle.mode)
    lines = screens.keying_lines(made, state.job)
    if made.slot is not None and (state.entry is None or made.slot != state.entry.slot):
        # A new number is asked for, aloud; the digits themselves only click.
        question = made.slot.question
        entered = replace(entered, reply=Reply(question, lines))
        return Step(entered, (Signal.KEY, *spoken(state, question), shown(state, lines)))
    keys = spoken(state, wording.keyed_words(made.typed)) if state.job.shop.says_keys else ()
    return Step(entered, (Signal.KEY, *keys, shown(state, lines)))


def _tick(state: State, event: Tick) -> Step:
    """Let time go by, and speak of what is due unless somebody is in the middle of a number."""
    rpm = state.job.taken_to_run_at.rpm
    later = replace(state, run=state.run.passed(event.elapsed_s, rpm))
    if event.speaking or state.mode is Mode.KEYING:
        return Step(later)
    intervals = state.job.shop.intervals
    return _remind(later, to_say(later.due, later.nagging, later.run, intervals))


def _remind(state: State, due: tuple[Due, ...]) -> Step:
    if not due:
        return Step(state)
    turning = state.run.turning
    words = wording.reminder_words(due, turning)
    lines = screens.due_lines(due, turning)
    reminded = said(lathe.told_of_due(state, due), words, lines)
    return replace(reminded, actions=(Signal.REMINDER, *reminded.actions))


def _spindle_seen(state: State, event: SpindleSeen) -> Step:
    if event.turning == state.run.turning:
        return Step(state)
    return perform(state, r.SpindleStarted() if event.turning else r.SpindleStopped())


def _spindle_seen_while_keying(state: State, event: SpindleSeen) -> Step:
    # Noted without a word: a number is being keyed.
    return Step(replace(state, run=replace(state.run, turning=event.turning)))


# Requests


def perform(state: State, request: Request) -> Step:
    """Return what a request does, however it was made.

    Raises:
        BenchError: It cannot be done; the caller's state is unchanged.
    """
    done = _performed(state, facts.meanings_here(state, request))
    return replace(done, state=done.state.tidied(), understood=request)


def _performed(state: State, meanings: tuple[Request, ...]) -> Step:
    if len(meanings) > 1:
        return facts.ask_which(state, meanings)
    (meant,) = meanings
    other = facts.other_unit(state.job, meant)
    if other is not None:
        return facts.ask_whether(state, other)
    return REQUESTS[type(meant)](state, meant)


def _unsure(state: State, request: r.Unsure) -> Step:
    """Ask whether it was meant, or which; what would be refused is not worth asking about."""
    choices: list[Request] = []
    refusals: list[BenchError] = []
    for reading in request.readings:
        try:
            perform(state, reading)
            choices += facts.meanings_here(state, reading)
        except BenchError as refusal:
            refusals.append(refusal)
    if not choices:
        raise refusals[0]
    return facts.ask_whether_heard(state, choices)


def _choice(state: State, request: r.Choice) -> Step:
    if not 1 <= request.number <= len(state.choices):
        raise NotUnderstood(f"the choice of {request.number}")
    return _chosen(state, state.choices[request.number - 1])


def _choice_of_unit(state: State, request: r.ChoiceOfUnit) -> Step:
    fitting = [one for one in state.choices if f"'{request.unit}'" in repr(one)]
    if len(fitting) != 1:
        raise NotUnderstood(str(request.unit))
    return _chosen(state, fitting[0])


def _chosen(state: State, meant: Request) -> Step:
    return perform(replace(state, mode=state.resume, choices=()), meant)


def _yes(state: State, request: r.Yes) -> Step:
    if state.mode is Mode.ASKING_WHETHER:
        return _chosen(state, state.choices[0])
    return mending.REQUESTS[r.Yes](state, request)


def _run_so_far(state: State, request: r.RunSoFar) -> Step:
    run = Run(request.turning, request.awake_s, request.ran_s, request.ball_turns)
    return Step(replace(state, run=run))


REQUESTS: dict[type[Request], Callable[[State, Any], Step]] = {
    **facts.REQUESTS,
    **asking.REQUESTS,
    **mending.REQUESTS,
    **lathe.REQUESTS,
    **keeping.REQUESTS,
    r.Yes: _yes,
    r.Unsure: _unsure,
    r.Choice: _choice,
    r.ChoiceOfUnit: _choice_of_unit,
    r.RunSoFar: _run_so_far,
}

TABLE: dict[tuple[Mode, type[Event]], Callable[[State, Any], Step]] = {
    **{(mode, Heard): _heard_any for mode in ASKING},
    **{(mode, Called): _called for mode in ASKING},
    **{(mode, KeyPressed): _first_key for mode in ASKING},
    **{(mode, Tick): _tick for mode in Mode},
    **{(mode, SpindleSeen): _spindle_seen for mode in ASKING},
    (Mode.KEYING, Heard): _heard_while_keying,
    (Mode.KEYING, Called): _called_while_keying,
    (Mode.KEYING, KeyPressed): _further_key,
    (Mode.KEYING, SpindleSeen): _spindle_seen_while_keying,
}
