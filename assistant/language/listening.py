"""From what was heard to what was meant, and from what can be meant to what to listen for."""

import random
from dataclasses import dataclass
from enum import StrEnum
from functools import cache, lru_cache
from pathlib import Path
from typing import cast

from assistant.errors import BenchError, NotUnderstood
from assistant.events import Hearing
from assistant.language.certainty import Evidence, calibration, weight
from assistant.language.grammar import Grammar
from assistant.language.meaning import KINDS_OF_FIGURE, MEANINGS
from assistant.language.requests import (
    Cancel,
    ChangeVoice,
    Either,
    No,
    Request,
    StopListening,
    Unsure,
    VoiceChange,
    Yes,
)

FOLDER = Path(__file__).parents[2] / "grammars"

# What the recogniser is told to expect: so many sentences that are said often, and so many of
# any kind, that every pair of words which can follow one another turns up. It takes them in some
# fifteen milliseconds; twice as many take twice as long and are heard no better. How the two are
# shared was chosen by how well they foretell sentences that are not among them.
_OFTEN, _ANY = 1500, 500

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
    ASKED_WHETHER = "asked_whether"
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


@dataclass(frozen=True, slots=True)
class Reading:
    """One thing that may have been meant, how certain that is, and the likeliest words for it."""

    said: str
    meanings: tuple[Request, ...]
    certainty: float

    @property
    def request(self) -> Request:
        """What was meant, or the things it can mean."""
        return self.meanings[0] if len(self.meanings) == 1 else Either(self.meanings)


def meant(hearing: Hearing, context: Context) -> Request:
    """Return what was meant where it is certain enough to be acted on, else what to ask about.

    Raises:
        NotUnderstood: No alternative means anything in this context, or none is likely enough.
        BenchError: They mean something that cannot be, such as a Morse number 9.
    """
    found = readings(hearing, context)
    surest = found[0]
    if surest.certainty >= _acted_on_from(surest.request):
        return surest.request
    asked = [reading for reading in found[:2] if reading.certainty >= calibration().ask_from]
    if not asked:
        raise NotUnderstood("")
    return Unsure(tuple(reading.request for reading in asked))


def _acted_on_from(request: Request) -> float:
    """Return how certain a request must be: by what it costs to be wrong.

    A wrong yes takes a number that nobody meant, and nothing asks again after it. To stop, to
    be silent or to strike out costs a word to mend; to be asked whether one meant it, when one
    did, costs more.
    """
    match request:
        case Yes():
            return calibration().yes_from
        case No(None) | Cancel() | StopListening() | ChangeVoice(VoiceChange.MUTE):
            return calibration().stop_from
    return calibration().act_from


def meanings_of(hearing: Hearing, context: Context) -> tuple[Request, ...]:
    """Return what is most likely meant, however uncertain.

    Raises:
        NotUnderstood: No alternative means anything in this context.
        BenchError: They mean something that cannot be, such as a Morse number 9.
    """
    return readings(hearing, context)[0].meanings


def words_taken(hearing: Hearing, context: Context) -> str | None:
    """Return the words that were taken for what was said: not always the likeliest."""
    try:
        return readings(hearing, context)[0].said
    except BenchError:
        return hearing.words


def readings(hearing: Hearing, context: Context) -> tuple[Reading, ...]:
    """Return what may have been meant, the most certain first.

    Without scores there is no doubt: the likeliest words that mean anything here.

    Raises:
        NotUnderstood: No alternative means anything in this context.
        BenchError: They mean something that cannot be, such as a Morse number 9.
    """
    constants = calibration()
    weighed = evidence(hearing, context, constants.scale)
    if not hearing.scores:
        (said, meanings), _ = weighed[0]
        return (Reading(said, meanings, 1.0),)
    found = [Reading(*one, constants.certainty(each)) for one, each in weighed]
    return tuple(sorted(found, key=lambda reading: -reading.certainty))


def evidence(
    hearing: Hearing, context: Context, scale: float
) -> list[tuple[tuple[str, tuple[Request, ...]], Evidence]]:
    """Return what may have been meant, the likeliest words first, with what speaks for it.

    Raises:
        NotUnderstood: No alternative means anything in this context.
        BenchError: They mean something that cannot be, such as a Morse number 9.
    """
    scores = hearing.scores or [-float(place) for place in range(len(hearing.alternatives))]
    best = max(scores, default=0.0)
    said_for: dict[tuple[Request, ...], str] = {}
    weights: dict[tuple[Request, ...], float] = {}
    meaningless = 0.0
    refusals: list[BenchError] = []
    for said, score in zip(hearing.alternatives, scores, strict=True):
        weighs = weight(score, best, scale)
        try:
            # A word alone is too little sound to be chosen over a likelier one that means
            # nothing: a knock comes as "the" or "no".
            if meaningless and " " not in said:
                raise NotUnderstood(said)
            meanings = _meanings(said, context)
        except BenchError as refusal:
            refusals.append(refusal)
            meaningless += weighs
            continue
        said_for.setdefault(meanings, said)
        weights[meanings] = weights.get(meanings, 0.0) + weighs
    if not weights:
        # Words that meant something impossible say more than words that meant nothing.
        refusals.sort(key=lambda refusal: isinstance(refusal, NotUnderstood))
        raise refusals[0] if refusals else NotUnderstood("")
    total = sum(weights.values())
    _, likeliest = max(zip(scores, hearing.alternatives, strict=True))
    unaided = _unaided(likeliest if hearing.unaided is None else hearing.unaided, context)
    return [
        (
            (said, meanings),
            Evidence(
                weighs,
                total - weighs,
                meaningless,
                alone=" " not in said,
                agreed=meanings == unaided,
                clearness=hearing.clearness,
                written=hearing.written,
            ),
        )
        for (meanings, said), weighs in zip(said_for.items(), weights.values(), strict=True)
    ]


def _unaided(said: str, context: Context) -> tuple[Request, ...]:
    """Return what the first listener alone would have meant, nothing if that is impossible."""
    try:
        return _meanings(said, context)
    except BenchError:
        return ()


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
