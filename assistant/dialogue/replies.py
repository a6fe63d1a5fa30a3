"""How a step ends: something said and shown, a question answered, or the next one asked."""

from dataclasses import replace

from assistant.dialogue import wording
from assistant.dialogue.screens import (
    Lines,
    bench_lines,
    choice_lines,
    fit_lines,
    move_lines,
    short,
    speed_lines,
    view,
    whether_lines,
    why_lines,
)
from assistant.dialogue.state import ASKING, Mode, State, Step, missing
from assistant.dialogue.wording import Reply
from assistant.events import Action, Say, Show
from assistant.language.readback import read_back
from assistant.language.requests import Question, Request


def said(state: State, words: str, lines: Lines = ()) -> Step:
    """Say words and show lines, or the bench where there are none; they can be heard again."""
    reply = Reply(words, lines or bench_lines(state.job, ASKING[state.waiting].prompt))
    return Step(replace(state, reply=reply), (*spoken(state, words), shown(state, reply.lines)))


def spoken(state: State, words: str) -> tuple[Action, ...]:
    """Return the action that speaks, unless replies are muted."""
    return () if state.sound.muted or not words else (Say(words, state.sound.loudness),)


def shown(state: State, lines: Lines) -> Show:
    """Return the action that shows lines, with the fuller account beside them."""
    return Show(lines, view(state.job, state.run, state.due))


def ask(state: State, words: str) -> Step:
    """Say something, then what the mode asks for, if it asks."""
    return said(state, f"{words} {question_words(state)}".strip(), question_lines(state))


def question_lines(state: State) -> Lines:
    """Return the screen of what the mode asks."""
    prompt = ASKING[state.mode].prompt
    choices = [short(choice, state.job.unit) for choice in state.choices]
    match state.mode:
        case Mode.ASKING_WHICH:
            return choice_lines(*choices)
        case Mode.ASKING_WHETHER:
            return whether_lines(choices[0], prompt)
    return bench_lines(state.job, prompt)


def question_words(state: State) -> str:
    """Return what the mode asks, with what it asks about."""
    question = ASKING[state.mode].question
    meant = [read_back(choice, state.job.unit) for choice in state.choices]
    match state.mode:
        case Mode.ASKING_WHICH:
            return wording.which_words(*meant)
        case Mode.ASKING_WHETHER:
            return wording.whether_words(*meant)
        case Mode.ASKING_HEAD:
            return f"{wording.head_asked_words(state.job)} {question}"
    return question


def settle(state: State, words: str = "") -> Step:
    """Answer what is wanted, or ask for the one thing it lacks."""
    if state.to_ask:
        return ask(replace(state, mode=state.to_ask[0]), words)
    lacks = missing(state.job, state.wanted)
    if lacks is not None:
        misfit = state.job.misfit
        if misfit is not None and lacks is Mode.ASKING_BALL:
            words = f"{words} {wording.spoken(str(misfit))}".strip()
        return ask(replace(state, mode=lacks), words)
    wanted = state.wanted
    answered = replace(state, mode=Mode.READY, wanted=Question.SET_OVER)
    if wanted is Question.SPEED:
        speed = state.job.speed
        assert speed is not None
        reply = f"{words} {wording.speed_words(state.job, speed)}".strip()
        return said(answered, reply, speed_lines(state.job, speed))
    return _where_the_ball_goes(answered, wanted, words)


def _where_the_ball_goes(state: State, wanted: Question, words: str) -> Step:
    job = state.job
    answer = job.answer
    assert answer is not None
    if wanted is Question.FIT:
        reply = f"{words} {wording.fit_words(job, answer)}".strip()
        return said(state, reply, fit_lines(job, answer))
    reply = f"{words} {wording.answer_words(wanted, job, answer, state.sound.full)}".strip()
    if wanted is Question.WHY:
        return said(state, reply, why_lines(job, answer))
    if wanted is not Question.TURNS:
        return said(state, reply)
    # From zero the bench screen has the turns; a move from elsewhere is shown by itself.
    lines = bench_lines(job) if job.at_zero else move_lines(job, job.moves)
    if job.head.known:
        return said(state, reply, lines)
    # The head is asked about when its screw matters, until it is known.
    asking = replace(state, mode=Mode.ASKING_HEAD)
    return said(asking, f"{reply} {question_words(asking)}", lines)


def read_back_sentence(request: Request, state: State) -> str:
    """Return what was meant, said back."""
    return wording.sentence(read_back(request, state.job.unit))
