"""Measure hearing, several listeners side by side, and print one table.

python -m tests.benchmarks.hearing --model ours=grammars/acoustic/model --model other=FOLDER
    --pocketsphinx --digits FOLDER --words FOLDER --strings /usr/share/pocketsphinx/test/data
    --phrases FOLDER --unrelated FOLDER --noise-minutes 30

A folder is as tests.benchmarks.hearing.recordings says; none is part of the project. Digits
and words are single words said by people, told apart from the other words of the set, with
and without [unk]. Strings are what people said in Debian's pocketsphinx-testdata. Phrases are
whole sentences, whose meaning in their context counts: right or wrong and acted on; asked about
(what may have been misheard, or means two things), with what was said the first of the readings,
the second, or none; or not caught. Of unrelated speech
and of noise alone, what counts is how often they mean anything at all. pocketsphinx has its
own US English model and gets the same words, or word pairs of the same phrases; it has no
[unk]. The share of real time is of the processor's time, so a busy machine changes it little;
the other times are by the clock but where said. Kaldi adds a little noise of its own to every
sound: figures differ by a sound or two from run to run.

Needs the extra `hearing` of pyproject.toml, and OpenFst's programs for the strings. Sentences
by voices that are installed are made by tests.benchmarks.hearing.spoken.
"""

import argparse
import statistics
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial
from itertools import groupby
from pathlib import Path

import numpy as np

from assistant.errors import BenchError
from assistant.events import Hearing
from assistant.language.listening import NO_WORD, Context, meant, phrases
from assistant.language.requests import Either, Request, Unsure
from assistant.ports import Sound
from grammars.acoustic.recipe.graph import read_lexicon
from tests.benchmarks.hearing.listeners import Listener, PocketSphinx, Vosk
from tests.benchmarks.hearing.noise import noise, with_noise
from tests.benchmarks.hearing.recordings import (
    COMMANDS,
    DIGITS,
    Recording,
    Strings,
    debian_strings,
    recordings,
)

SNRS_DB = (None, 20, 10, 5, 0)
OUTCOMES = ("right", "wrong", "asked, it first", "it second", "asked without", "not caught")
# More than these are not worth a row each.
_FEW_SPEAKERS = 6
_NOISE_BLOCK_S = 10
_NOISE_LEVEL = 1500


class Table:
    """Prints rows as they come, a column for each listener."""

    def __init__(self, listeners: Sequence[Listener]) -> None:
        self._listeners = listeners
        self._print("", [each.name for each in listeners])
        print("|---" * (len(listeners) + 1) + "|", flush=True)

    def add(self, rows: Callable[[Listener], Iterable[tuple[str, str]]]) -> None:
        """Add the rows that each listener gives a figure for; not all give all."""
        found = [dict(rows(listener)) for listener in self._listeners]
        names = dict.fromkeys(name for each in found for name in each)
        for name in names:
            self._print(name, [each.get(name, "-") for each in found])

    def _print(self, name: str, cells: Sequence[str]) -> None:
        print("| " + " | ".join([name, *cells]) + " |", flush=True)


def single_words(listener: Listener, folder: Path) -> Iterator[tuple[str, str]]:
    """Return the shares of words heard as said, and of each speaker's if they are few."""
    spoken = [each for each in recordings(folder) if each.said in (*DIGITS, *COMMANDS)]
    said = sorted({each.said for each in spoken})
    yield from _shares(listener, spoken, folder.name, lambda: listener.choose(said))
    if isinstance(listener, Vosk):
        name = f"{folder.name}, with {NO_WORD}"
        yield from _shares(listener, spoken, name, lambda: listener.expect(said))


def _shares(
    listener: Listener, spoken: Sequence[Recording], name: str, tell: Callable[[], None]
) -> Iterator[tuple[str, str]]:
    tell()
    right = [listener.hear(each.sound).alternatives[:1] == (each.said,) for each in spoken]
    yield f"{name}, of {len(spoken)}", f"{np.mean(right):.1%}"
    speakers = sorted({each.speaker for each in spoken})
    for speaker in speakers if 1 < len(speakers) <= _FEW_SPEAKERS else ():
        theirs = [r for r, each in zip(right, spoken, strict=True) if each.speaker == speaker]
        yield f"{name}: {speaker}, of {len(theirs)}", f"{np.mean(theirs):.1%}"


def strings(listener: Listener, told: Strings) -> Iterator[tuple[str, str]]:
    """Return how many words of the strings are wrong."""
    speller = PocketSphinx()
    ours = read_lexicon()
    knowing = listener.with_words(
        {word: ours.get(word) or [speller.spelling(word) or ()] for word in told.words}
    )
    knowing.expect(told.expected)
    wrong = total = 0
    for each in told.spoken:
        said = each.said.split()
        heard = [w for w in (knowing.hear(each.sound).words or "").split() if w != NO_WORD]
        wrong += slips([word.replace("oh", "zero") for word in heard], said)
        total += len(said)
    knowing.close()
    yield f"{told.name}, words wrong of {total}", str(wrong)


def slips(heard: Sequence[str], said: Sequence[str]) -> int:
    """Return how many words must be changed, put in or left out to make one of the other."""
    row = list(range(len(said) + 1))
    for word in heard:
        diagonal, row[0] = row[0], row[0] + 1
        for place, wanted in enumerate(said, start=1):
            best = min(row[place] + 1, row[place - 1] + 1, diagonal + (word != wanted))
            diagonal, row[place] = row[place], best
    return row[-1]


def whole_phrases(listener: Listener, folder: Path) -> Iterator[tuple[str, str]]:
    """Return the shares of each outcome in each noise, and of each voice's right ones."""
    spoken = sorted(recordings(folder), key=lambda each: each.context)
    found = {snr_db: list(_outcomes(listener, spoken, snr_db)) for snr_db in SNRS_DB}
    for snr_db, outcomes in found.items():
        count = Counter(outcomes)
        at = "clean" if snr_db is None else f"{snr_db} dB"
        name = f"{folder.name} at {at}, {' / '.join(OUTCOMES)} % of {len(spoken)}"
        yield name, " / ".join(f"{count[each] / len(spoken) * 100:.1f}" for each in OUTCOMES)
    for voice in sorted({each.speaker for each in spoken}):
        theirs = [number for number, each in enumerate(spoken) if each.speaker == voice]
        rights = ([outcomes[n] == "right" for n in theirs] for outcomes in found.values())
        name = f"{folder.name} by {voice}, right % of {len(theirs)} at clean / 20 / 10 / 5 / 0 dB"
        yield name, " / ".join(f"{np.mean(right) * 100:.0f}" for right in rights)


def _outcomes(
    listener: Listener, spoken: Sequence[Recording], snr_db: float | None
) -> Iterator[str]:
    for context, group in groupby(spoken, key=lambda each: each.context):
        listener.expect(phrases(context))
        for seed, each in enumerate(group):
            yield _outcome(listener.hear(with_noise(each.sound, snr_db, seed)), each)


def _outcome(hearing: Hearing, each: Recording) -> str:
    truth, taken = _meant(Hearing((each.said,)), each.context), _meant(hearing, each.context)
    match taken:
        case None:
            return "not caught"
        case Unsure((first, *_) as offered):
            if truth not in offered:
                return "asked without"
            return "asked, it first" if truth == first else "it second"
    if taken == truth:
        return "right"
    return "asked without" if isinstance(taken, Either) else "wrong"


def unrelated(listener: Listener, sounds: Iterable[Sound], name: str) -> Iterator[tuple[str, str]]:
    """Return how often what is not said to the assistant means something to it."""
    listener.expect(phrases(Context.READY))
    taken = [_meant(listener.hear(sound), Context.READY) for sound in sounds]
    asked = sum(isinstance(each, Either | Unsure) for each in taken)
    acted = sum(each is not None for each in taken) - asked
    shares = f"{acted / len(taken) * 100:.1f} / {asked / len(taken) * 100:.1f}"
    yield f"{name}, acted on / asked about % of {len(taken)}", shares


def noise_alone(minutes: float) -> Iterator[Sound]:
    """Return blocks of noise, loud and soft."""
    for seed in range(round(minutes * 60 / _NOISE_BLOCK_S)):
        made = noise(16_000 * _NOISE_BLOCK_S, 16_000, seed) * _NOISE_LEVEL * (1 + seed % 4)
        yield Sound(16_000, np.clip(made, -32_768, 32_767).astype("<i2").tobytes())


def _meant(hearing: Hearing, context: Context) -> Request | None:
    try:
        return meant(hearing, context)
    except BenchError:
        return None


def costs(listener: Listener) -> Iterator[tuple[str, str]]:
    """Return the times and the memory."""
    if listener.heard_s:
        share = listener.spent_s / listener.heard_s
        yield "share of real time on one core", f"{share:.3f}"
    if isinstance(listener, Vosk):
        told = [phrases(context) for context in Context]
        yield "memory of its process, at most, MB", f"{listener.memory_mb():.0f}"
        yield "ready after, s", f"{listener.ready_s:.2f}"
        yield "ready after, s of the processor", f"{listener.ready_cpu_s:.2f}"
        new, known = listener.switches_s(told * 3), listener.switches_s(told[:2] * 10)[2:]
        for name, taken in (("a change of context", new), ("the same, back to one before", known)):
            middle, most = statistics.median(taken) * 1000, max(taken) * 1000
            yield f"{name}, median / most, ms", f"{middle:.0f} / {most:.0f}"
        back = [listener.return_s(told[0]) for _ in range(5)]
        yield (
            "back after it was killed, median / most, s",
            (f"{statistics.median(back):.2f} / {max(back):.2f}"),
        )


def _named(text: str) -> tuple[str, Path]:
    name, _, folder = text.rpartition("=")
    return name or Path(folder).name, Path(folder)


def main() -> None:
    """Run what the arguments ask for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--model", type=_named, action="append", required=True)
    parser.add_argument("--pocketsphinx", action="store_true")
    for name in ("digits", "words", "strings", "phrases", "unrelated"):
        parser.add_argument(f"--{name}", type=Path, action="append", default=[])
    parser.add_argument("--noise-minutes", type=float, default=0.0)
    chosen = parser.parse_args()
    listeners: list[Listener] = [Vosk(name, model) for name, model in chosen.model]
    listeners += [PocketSphinx()] if chosen.pocketsphinx else []
    table = Table(listeners)
    for folder in (*chosen.digits, *chosen.words):
        table.add(partial(single_words, folder=folder))
    for folder in chosen.strings:
        for told in debian_strings(folder):
            table.add(partial(strings, told=told))
    for folder in chosen.phrases:
        table.add(partial(whole_phrases, folder=folder))
    for folder in chosen.unrelated:
        sounds = [each.sound for each in recordings(folder)]
        table.add(partial(unrelated, sounds=sounds, name=folder.name))
    if chosen.noise_minutes:
        name = f"{chosen.noise_minutes:g} min of noise"
        table.add(partial(unrelated, sounds=list(noise_alone(chosen.noise_minutes)), name=name))
    table.add(costs)
    for listener in listeners:
        listener.close()


if __name__ == "__main__":
    main()
