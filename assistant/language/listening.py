"""From what was heard to what was meant, and from what can be meant to what to listen for."""

import random
from enum import StrEnum
from functools import cache, lru_cache
from pathlib import Path
from typing import cast

from assistant.errors import BenchError, NotUnderstood
from assistant.events import Hearing
from assistant.language.grammar import Grammar
from assistant.language.meaning import KINDS_OF_FIGURE, MEANINGS
from assistant.language.requests import Request

FOLDER = Path(__file__).parents[2] / "grammars"

# What the recogniser is told to expect: so many sentences that are said often, and so many of
# any kind, that every pair of words which can follow one another turns up. It takes them in a
# few milliseconds. Chosen, with the two shares below, by how well they foretell sentences that
# are not among them: the mean number of words they leave to choose from came down from 44 to 21.
_OFTEN, _ANY = 3000, 1000

# So many in a hundred answer what was just asked.
_ANSWERS_PER_CENT = 60

# So many in a hundred of those said often come with the figures they are written with.
_AS_WRITTEN_PER_CENT = 20

# Two spellings of one sound: the recogniser is told of one, or it would pick either at random.
SAME_SOUND = {
    "millimeter": "millimetre",
    "millimeters": "millimetres",
    "center": "centre",
    "centers": "centres",
    "aluminum": "aluminium",
    "ok": "okay",
    "ball's": "balls",
    "sharp": "sharpe",
}


class Context(StrEnum):
    """What was just asked: each is a rule of grammars/said.lark."""

    READY = "ready"
    ASKED_MEASURE = "asked_measure"
    ASKED_ANGLE_KIND = "asked_angle_kind"
    ASKED_WHICH = "asked_which"
    ASKED_YES_NO = "asked_yes_no"
    ASKED_DIAL = "asked_dial"
    ASKED_TOOL_POST = "asked_tool_post"
    ASKED_BACKLASH = "asked_backlash"
    NOT_LISTENING = "not_listening"


# What a recogniser gives for a sound that is none of the words it listens for.
NO_WORD = "[unk]"

# More is no breath's worth: a taper, a length and the balls take some twenty.
MOST_WORDS = 30

# Sentences whose pauses were not heard; tried last.
RUN_ON = "run_on"


def rules(context: Context) -> tuple[str, ...]:
    """Return where a sentence can start in a context: the answers to what was asked come first."""
    if context in (Context.READY, Context.NOT_LISTENING):
        return (context,)
    return (context, Context.READY)


@cache
def grammar() -> Grammar:
    """Return the language, read once."""
    return Grammar(FOLDER, [*Context, RUN_ON])


@cache
def words(context: Context) -> tuple[str, ...]:
    """Return every word that can be said in a context, in order."""
    return tuple(sorted({word for rule in rules(context) for word in grammar().words(rule)}))


@cache
def often() -> dict[Context, tuple[str, ...]]:
    """Return the sentences of grammars/often.txt by their context."""
    said: dict[Context, tuple[str, ...]] = dict.fromkeys(Context, ())
    for line in (FOLDER / "often.txt").read_text(encoding="utf-8").splitlines():
        if line.startswith("["):
            context = Context(line[1:-1])
        elif line and not line.startswith("#"):
            said[context] += (line,)
    return said


@cache
def phrases(context: Context) -> tuple[str, ...]:
    """Return sentences that can be said in a context, the same ones every time."""
    rng = random.Random(context)  # chosen for variety, not for secrecy
    answers, anything = rules(context)[0], rules(context)[-1]

    def start() -> str:
        return answers if rng.randrange(100) < _ANSWERS_PER_CENT else anything

    kept: list[str] = []
    for _ in range(_OFTEN):
        said = _as_heard(rng.choice(often()[Context(start())]))
        as_written = rng.randrange(100) < _AS_WRITTEN_PER_CENT
        kept.append(said if as_written else _with_other_figures(said, rng))
    kept += [_as_heard(grammar().sample(start(), rng)) for _ in range(_ANY)]
    unheard = set(words(context)) - set(SAME_SOUND) - set(" ".join(kept).split())
    while unheard:
        word = min(unheard)
        rule = next(rule for rule in rules(context) if word in grammar().words(rule))
        kept.append(_as_heard(grammar().sample(rule, rng, saying=word)))
        unheard.difference_update(kept[-1].split())
    return tuple(kept)


def _as_heard(said: str) -> str:
    """Return a sentence without its pauses, each sound spelled in one way."""
    return " ".join(SAME_SOUND.get(word, word) for word in said.split() if word != ",")


def _with_other_figures(said: str, rng: random.Random) -> str:
    """Return a sentence with each figure changed for one of its kind."""
    return " ".join(
        next((rng.choice(kind) for kind in KINDS_OF_FIGURE if word in kind), word)
        for word in said.split()
    )


def meanings_of(hearing: Hearing, context: Context) -> tuple[Request, ...]:
    """Return what may be meant: by the likeliest words that mean anything here.

    Raises:
        NotUnderstood: No alternative means anything in this context.
        BenchError: They mean something that cannot be, such as a Morse number 9.
    """
    refusals: list[BenchError] = []
    for said in _readings(hearing):
        try:
            return _meanings(said, context)
        except BenchError as refusal:
            refusals.append(refusal)
    # Words that meant something impossible say more than words that meant nothing.
    refusals.sort(key=lambda refusal: isinstance(refusal, NotUnderstood))
    raise refusals[0] if refusals else NotUnderstood("")


def words_taken(hearing: Hearing, context: Context) -> str | None:
    """Return the words that were taken for what was said: not always the likeliest."""
    for said in _readings(hearing):
        try:
            _meanings(said, context)
        except BenchError:
            continue
        return said
    return hearing.words


def _readings(hearing: Hearing) -> tuple[str, ...]:
    """Return the likeliest words, and those of the alternatives that are worth a look.

    A word alone is too little sound to be chosen over a likelier one: a knock comes as "the" or
    "no".
    """
    others = (said for said in hearing.alternatives[1:] if " " in said)
    return (*hearing.alternatives[:1], *others)


@lru_cache(maxsize=4096)
def _meanings(said: str, context: Context) -> tuple[Request, ...]:
    said_words = said.split()
    if NO_WORD in said_words:
        raise NotUnderstood("")
    if len(said_words) > MOST_WORDS:
        raise NotUnderstood("so much at once")
    starts = rules(context) if context is Context.NOT_LISTENING else (*rules(context), RUN_ON)
    refusal: BenchError = NotUnderstood(said)
    for start in starts:
        if start == RUN_ON and not isinstance(refusal, NotUnderstood):
            break  # it is a sentence as it stands, and cannot be
        try:
            return tuple(cast(list[Request], grammar().meanings(said, start, MEANINGS)))
        except BenchError as error:
            if isinstance(refusal, NotUnderstood):
                refusal = error
    raise refusal
