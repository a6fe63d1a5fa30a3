"""Make a folder of recordings from sentences, with voices that are installed.

python -m tests.benchmarks.hearing.spoken tests/language/phrases.txt FOLDER --most 150
    --voice espeak-ng:en-us+m4 --voice espeak-ng:en-gb-scotland --voice flite:slt

The sentences stand in a file one a line, each under its [context]; what follows " = " is left
out. Each is said by the next voice, the sentences in an order that is the same every time.
Robots say little about people: a set by them shows how two models compare.
"""

import argparse
import json
import random
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from itertools import cycle
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from assistant.language.listening import Context

RATE_HZ = 16_000
_LOUDEST = 16_000


def sentences(path: Path) -> Iterator[tuple[Context, str]]:
    """Return the file's sentences, without commas, and when each may be said."""
    context = Context.READY
    for line in path.read_text(encoding="utf-8").splitlines():
        if line.startswith("["):
            context = Context(line.strip("[]"))
        elif line and not line.startswith("#"):
            said = line.partition(" = ")[0]
            yield context, " ".join(word for word in said.replace(",", " ").split())


def spoken(said: str, voice: str) -> NDArray[np.int16]:
    """Return a sentence as a voice says it: PROGRAM:NAME, of espeak-ng or flite."""
    from scipy.signal import resample_poly

    program, _, name = voice.partition(":")
    with tempfile.NamedTemporaryFile(suffix=".wav") as file:
        commands = {
            "espeak-ng": ["espeak-ng", "-v", name, "-s", "145", "-w", file.name, said],
            "flite": ["flite", "-voice", name, "-t", said, "-o", file.name],
        }
        subprocess.run(commands[program], check=True, capture_output=True)
        samples, rate_hz = soundfile.read(file.name)
    if rate_hz != RATE_HZ:
        samples = resample_poly(samples, RATE_HZ, rate_hz)
    return np.asarray(samples / np.abs(samples).max() * _LOUDEST).astype(np.int16)


def make(path: Path, folder: Path, voices: Sequence[str], most: int) -> None:
    """Write all.flac and all.json: some of a file's sentences, each said by the next voice."""
    said = list(sentences(path))
    random.Random(0).shuffle(said)  # for variety, not for secrecy
    sounds, entries = [], []
    for (context, sentence), voice in zip(said[:most], cycle(voices), strict=False):
        sounds.append(spoken(sentence, voice))
        entry = {"n": len(sounds[-1]), "said": sentence, "speaker": voice, "context": context}
        entries.append(entry)
    folder.mkdir(parents=True, exist_ok=True)
    soundfile.write(folder / "all.flac", np.concatenate(sounds), RATE_HZ)
    (folder / "all.json").write_text(json.dumps(entries, indent=0), encoding="utf-8")


def main() -> None:
    """Make what the arguments ask for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("sentences", type=Path)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--voice", action="append", required=True)
    parser.add_argument("--most", type=int, default=150)
    chosen = parser.parse_args()
    make(chosen.sentences, chosen.folder, chosen.voice, chosen.most)


if __name__ == "__main__":
    main()
