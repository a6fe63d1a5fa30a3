"""Whom an utterance is for in open listening: it begins with our word, or answers a question.

In a shop people talk to each other and machines make sounds that pass for words. What is said
with the pedal or a key held is for the assistant and needs no word; it never comes here.

Nothing is let through for being harmless: "quieter" or "stop listening" out of somebody else's
talk would change the replies unasked, and what silences speech at once is a key or the pedal,
for the assistant is deaf while it speaks.
"""

import math
from dataclasses import replace
from functools import cache

from assistant.errors import BenchError, NotUnderstood
from assistant.events import Hearing
from assistant.language.certainty import calibration
from assistant.language.listening import Context, meant, phrases, readings

# What it can be called. Each is spelled in the speech model and is no word of a grammar.
WORDS = ("toolmaker", "archimedes", "galileo")

# An answer begins so soon after the question was spoken; common practice, no source.
ANSWER_WITHIN_S = 8.0
# Who says the word and waits is asked what he wants; who only draws breath is not cut short.
BREATH_S = 0.8


@cache
def phrases_called(context: Context, word: str) -> tuple[str, ...]:
    """Return what to listen for openly: every other phrase of a context behind the word.

    Hardly more than without it, so that a change of context costs no more. With every fifth the
    word was missed more often in noise, and made out in the talk of others no less.
    """
    without = phrases(context)
    behind = (f"{word} {phrase}" for phrase in without[::2])
    # Whatever can come first can come first behind it.
    firsts = dict.fromkeys(phrase.split()[0] for phrase in without)
    return (word, *(f"{word} {first}" for first in firsts), *behind, *without[1::2])


def called(hearing: Hearing, word: str) -> Hearing | None:
    """Return what was said behind the word, none if it stood alone; None if it was not said.

    The likeliest words must begin with it: behind them it is a guess.
    """
    said = [words.split() for words in hearing.alternatives]
    if not said or said[0][0] != word:
        return None
    if said[0] == [word]:
        return Hearing()
    behind = [place for place, (first, *rest) in enumerate(said) if first == word and rest]
    return replace(
        hearing,
        alternatives=tuple(" ".join(said[place][1:]) for place in behind),
        scores=tuple(hearing.scores[place] for place in behind if hearing.scores),
        unaided=hearing.unaided and hearing.unaided.removeprefix(word).strip(),
    )


class Attention:
    """Whether what is heard openly is for the assistant. Time comes in as a number.

    Args:
        word: What it is called; empty where everything that is said is for it.
    """

    def __init__(self, word: str) -> None:
        self.word = word
        self.to_all = not word
        self._until_s = -math.inf if word else math.inf
        self._asks_at_s = math.inf

    def replied(self, now_s: float, awaits_answer: bool) -> None:
        """Take that a reply begins, and whether an answer to it is awaited."""
        self._asks_at_s = math.inf
        if self.word:
            self._until_s = now_s + ANSWER_WITHIN_S if awaits_answer else -math.inf

    def passes(self, now_s: float, replying: bool, hearing: bool) -> bool:
        """Take what goes on now; return whether to ask who called what he wants.

        Args:
            now_s: Monotonic time.
            replying: Whether a reply is still being spoken: only then does an answer begin.
            hearing: Whether an utterance has begun; one that begins in time is an answer.
        """
        if replying and now_s < self._until_s:
            self._until_s = now_s + ANSWER_WITHIN_S
        self.to_all = now_s < self._until_s or (hearing and self.to_all)
        if hearing:
            self._asks_at_s = math.inf
        asks = now_s >= self._asks_at_s
        if asks:
            self._asks_at_s = math.inf
        return asks

    def taken(self, hearing: Hearing, context: Context, now_s: float) -> Hearing | None:
        """Return what was said to the assistant, none if it was only called; None if nothing was.

        Without the word, what means nothing, or hardly anything, is taken for the shop's noise: a
        refusal of it, or a question, would be heard after every question.
        """
        behind = called(hearing, self.word)
        if behind is None:
            for_it = not self.word or (self.to_all and _is_answer(hearing, context))
            return hearing if for_it else None
        if not behind.alternatives:
            self._until_s, self._asks_at_s = now_s + ANSWER_WITHIN_S, now_s + BREATH_S
        return behind


def means_something(hearing: Hearing, context: Context) -> bool:
    """Return whether it was understood, though it may be refused."""
    try:
        return bool(meant(hearing, context))
    except NotUnderstood:
        return False
    except BenchError:
        return True  # it was understood, and cannot be


def _is_answer(hearing: Hearing, context: Context) -> bool:
    try:
        surest = readings(hearing, context)[0]
    except BenchError:
        return means_something(hearing, context)
    return surest.certainty >= calibration().answer_from
