"""From what was heard to what was meant, and from what can be meant to what to listen for."""

import random
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import cast

from assistant.errors import Ambiguous, BenchError, NotUnderstood
from assistant.events import Hearing
from assistant.language.grammar import Grammar
from assistant.language.meaning import MEANINGS
from assistant.language.readback import read_back
from assistant.language.requests import Request, Unit

FOLDER = Path(__file__).parents[2] / "grammars"

# Enough that every pair of words that can follow one another turns up; the recogniser takes
# this many in a few milliseconds.
_PHRASES = 3000


# Two spellings of one sound: the recogniser is told of one, or it would pick either at random.
SAME_SOUND = {
    "millimeter": "millimetre",
    "millimeters": "millimetres",
    "center": "centre",
    "centers": "centres",
}


class Context(StrEnum):
    """What can be said now: the start rules of grammars/said.lark."""

    READY = "ready"
    ASKED_MEASURE = "asked_measure"
    ASKED_ANGLE_KIND = "asked_angle_kind"


@cache
def grammar() -> Grammar:
    """Return the language, read once."""
    return Grammar(FOLDER, list(Context))


@cache
def phrases(context: Context) -> tuple[str, ...]:
    """Return sentences that can be said in a context, the same ones every time."""
    rng = random.Random(context)  # chosen for variety, not for secrecy
    sentences = (grammar().sample(context, rng) for _ in range(_PHRASES))
    return tuple(" ".join(SAME_SOUND.get(w, w) for w in s.split()) for s in sentences)


def understand(hearing: Hearing, context: Context, unit: Unit) -> Request:
    """Return what was meant: the likeliest words that mean something here.

    `unit` is the job's; it only serves to say two meanings back.

    Raises:
        NotUnderstood: No alternative means anything in this context.
        Ambiguous: The words mean two things here.
        BenchError: They mean something that cannot be, such as a Morse number 9.
    """
    refusals: list[BenchError] = []
    for words in hearing.alternatives:
        try:
            meanings = cast(list[Request], grammar().meanings(words, context, MEANINGS))
        except BenchError as refusal:
            refusals.append(refusal)
            continue
        if len(meanings) > 1:
            raise Ambiguous(words, [read_back(meaning, unit) for meaning in meanings])
        return meanings[0]
    # Words that meant something impossible say more than words that meant nothing.
    refusals.sort(key=lambda refusal: isinstance(refusal, NotUnderstood))
    raise refusals[0] if refusals else NotUnderstood("")
