"""Questions that the operator asks."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from assistant.dialogue import wording
from assistant.dialogue.lathe import told_of_due
from assistant.dialogue.progress import Stage
from assistant.dialogue.reminders import Due
from assistant.dialogue.replies import ask, said, settle, shown, spoken
from assistant.dialogue.screens import (
    CAUTIONS,
    due_lines,
    learnt_lines,
    move_lines,
    on_screen,
    trial_lines,
)
from assistant.dialogue.state import ASKING, Mode, State, Step
from assistant.errors import NotYet
from assistant.language import requests as r
from assistant.language.listening import grammar
from assistant.language.requests import Question, Request


def _ask(state: State, request: r.Ask) -> Step:
    answers = ANSWERS.get(request.question)
    if answers is not None:
        return answers(state)
    return settle(replace(state, wanted=request.question))


def _again(state: State) -> Step:
    words = state.reply.words
    return Step(state, (*spoken(state, words), shown(state, state.reply.lines)))


def _status(state: State) -> Step:
    return ask(state, wording.status_words(state.job, state.due, state.run.turning))


def _next(state: State) -> Step:
    """Say what is due, and ask for what lacks, or say what is to be done."""
    due = wording.reminder_words(state.due, state.run.turning)
    if state.mode is not Mode.READY:
        return ask(state, due)
    if Due.HEAD_OVER in state.due:
        home = state.job.moves_home
        words = f"{due} {wording.moves_words(state.job, home)}"
        return said(state, words, move_lines(state.job, home))
    if state.job.stage is Stage.SETTING:
        return settle(replace(state, wanted=Question.TURNS), due)
    words = wording.next_words(state.job)
    lines = trial_lines(state.job) if state.job.stage is Stage.TRYING and state.job.trial else ()
    return said(state, f"{due} {words}".strip(), lines or on_screen(words))


def _help(state: State) -> Step:
    examples = SAID_AT.get(state.job.stage) if state.mode is Mode.READY else None
    if examples is None:
        examples = grammar().examples[ASKING[state.mode].examples][:3]
    words = wording.help_words(examples, state.job.shop.called)
    return said(state, words, on_screen("; ".join(examples)))


def _correction(state: State) -> Step:
    trial = state.job.trial
    if trial is None:
        raise NotYet("measured cut", "take a trial cut and measure two diameters")
    return said(state, wording.trial_words(state.job, trial), trial_lines(state.job))


def _screw(state: State) -> Step:
    return said(state, wording.learnt_words(state.job), learnt_lines(state.job))


def _due(state: State) -> Step:
    words = wording.due_words(state.due, state.run.turning)
    told = told_of_due(state, state.due)
    return said(told, words, due_lines(state.due, state.run.turning))


def _cautions(state: State) -> Step:
    return said(state, wording.CAUTIONS, CAUTIONS)


# What help quotes once the head is set; before, and where something is asked, the grammars' own.
SAID_AT: dict[Stage, tuple[str, ...]] = {
    Stage.TRYING: (
        "took point two",
        "measured nineteen oh five and seventeen eight, twenty five apart",
        "what's next",
    ),
    Stage.SIZING: ("gauge stands off point five", "took point two", "what's next"),
    Stage.SIZED: ("next part", "next part, one forty three", "finish job"),
}

ANSWERS: dict[Question, Callable[[State], Step]] = {
    Question.AGAIN: _again,
    Question.STATUS: _status,
    Question.NEXT: _next,
    Question.HELP: _help,
    Question.CORRECTION: _correction,
    Question.SCREW: _screw,
    Question.DUE: _due,
    Question.CAUTIONS: _cautions,
}

REQUESTS: dict[type[Request], Callable[[State, Any], Step]] = {r.Ask: _ask}
