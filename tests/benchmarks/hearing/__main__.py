"""Measure hearing, several models side by side, and print one table.

python -m tests.benchmarks.hearing --model ours=grammars/acoustic/model --digits FOLDER
    --words FOLDER --phrases FOLDER --unrelated FOLDER --noise-minutes 5 --pocketsphinx

A folder is as tests.benchmarks.hearing.recordings says. Digits and words are single words
said by people, told apart from the other words of the set. Phrases are whole sentences, whose
meaning in their context counts: right, refused (nothing, or no meaning), or wrong. Of
unrelated speech and of noise alone, what counts is how often they mean anything at all.
Needs numpy, scipy and soundfile.
"""

import argparse
from collections.abc import Iterable, Sequence
from itertools import groupby
from pathlib import Path

import numpy as np

from assistant.errors import BenchError
from assistant.events import Hearing
from assistant.language.listening import Context, meanings_of, phrases
from assistant.language.requests import Request
from assistant.ports import Sound
from tests.benchmarks.hearing.listeners import Listener, PocketSphinx, Vosk
from tests.benchmarks.hearing.noise import noise, with_noise
from tests.benchmarks.hearing.recordings import Recording, recordings

SNRS_DB = (None, 20, 10, 5, 0)
# More than these are not worth a row each.
_FEW_SPEAKERS = 10
_NOISE_BLOCK_S = 10
_NOISE_LEVEL = 1500


def single_words(listener: Listener, folder: Path, vocabulary: Sequence[str]) -> Iterable[str]:
    """Return rows: the share of words heard as said, and of each speaker if they are few."""
    spoken = [each for each in recordings(folder) if each.said in vocabulary]
    listener.expect(sorted({each.said for each in spoken}))
    right = [listener.hear(each.sound).alternatives[:1] == (each.said,) for each in spoken]
    yield _row(listener, folder.name, right.count(True), len(right))
    speakers = {each.speaker for each in spoken}
    if len(speakers) > _FEW_SPEAKERS:
        return
    for speaker in sorted(speakers):
        theirs = [r for r, each in zip(right, spoken, strict=True) if each.speaker == speaker]
        yield _row(listener, f"{folder.name}, {speaker}", theirs.count(True), len(theirs))


def whole_phrases(listener: Listener, folder: Path, snr_db: float | None) -> Iterable[str]:
    """Return a row: the shares of sentences whose meaning is right, refused and wrong."""
    spoken = sorted(recordings(folder), key=lambda each: each.context)
    found = {"right": 0, "refused": 0, "wrong": 0}
    for context, group in groupby(spoken, key=lambda each: each.context):
        listener.expect(phrases(context))
        for seed, each in enumerate(group):
            found[_outcome(listener.hear(with_noise(each.sound, snr_db, seed)), each)] += 1
    at = "clean" if snr_db is None else f"{snr_db} dB"
    shares = ", ".join(f"{name} {count / len(spoken):.1%}" for name, count in found.items())
    yield f"{listener.name:14} {folder.name} at {at}: {shares} of {len(spoken)}"


def unrelated(listener: Listener, sounds: Iterable[Sound], name: str) -> Iterable[str]:
    """Return a row: how often what is not said to the assistant means something to it."""
    listener.expect(phrases(Context.READY))
    meant = [bool(_meanings(listener.hear(sound), Context.READY)) for sound in sounds]
    yield _row(listener, f"{name} taken as meant", meant.count(True), len(meant))


def noise_alone(minutes: float) -> Iterable[Sound]:
    """Return blocks of noise, loud and soft."""
    for seed in range(round(minutes * 60 / _NOISE_BLOCK_S)):
        made = noise(16_000 * _NOISE_BLOCK_S, 16_000, seed) * _NOISE_LEVEL * (1 + seed % 4)
        yield Sound(16_000, np.clip(made, -32_768, 32_767).astype("<i2").tobytes())


def _outcome(hearing: Hearing, each: Recording) -> str:
    meant = _meanings(hearing, each.context)
    if not meant:
        return "refused"
    return "right" if meant == _meanings(Hearing((each.said,)), each.context) else "wrong"


def _meanings(hearing: Hearing, context: Context) -> tuple[Request, ...]:
    try:
        return meanings_of(hearing, context)
    except BenchError:
        return ()


def _row(listener: Listener, what: str, count: int, total: int) -> str:
    return f"{listener.name:14} {what}: {count / max(1, total):.1%} of {total}"


def _named(text: str) -> tuple[str, Path]:
    name, _, folder = text.rpartition("=")
    return name or Path(folder).name, Path(folder)


def main() -> None:
    """Run what the arguments ask for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--model", type=_named, action="append", required=True)
    parser.add_argument("--pocketsphinx", action="store_true", help="on single words, too")
    for name in ("digits", "words", "phrases", "unrelated"):
        parser.add_argument(f"--{name}", type=Path, action="append", default=[])
    parser.add_argument("--noise-minutes", type=float, default=0.0)
    chosen = parser.parse_args()
    voskers = [Vosk(name, model) for name, model in chosen.model]
    others: list[Listener] = [PocketSphinx()] if chosen.pocketsphinx else []
    for folder in (*chosen.digits, *chosen.words):
        said = sorted({each.said for each in recordings(folder)})
        lacking = {word for each in voskers for word in each.lacking(said)}
        for listener in (*voskers, *others):
            _print(single_words(listener, folder, [word for word in said if word not in lacking]))
    for vosker in voskers:
        for folder in chosen.phrases:
            for snr_db in SNRS_DB:
                _print(whole_phrases(vosker, folder, snr_db))
        for folder in chosen.unrelated:
            _print(unrelated(vosker, (each.sound for each in recordings(folder)), folder.name))
        if chosen.noise_minutes:
            _print(unrelated(vosker, noise_alone(chosen.noise_minutes), "noise"))
    for vosker in voskers:
        share = vosker.spent_s / max(vosker.heard_s, 1e-9)
        print(f"{vosker.name:14} {share:.3f} of real time, {vosker.memory_mb():.0f} MB at most")
        vosker.close()


def _print(rows: Iterable[str]) -> None:
    for row in rows:
        print(row, flush=True)


if __name__ == "__main__":
    main()
