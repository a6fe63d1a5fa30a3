"""Sets of recordings: a folder with one sound file and a list of what is said in it.

all.json lists the recordings in the order they follow one another in all.flac (or all.wav):
`n` samples each, `said`, and where it matters `speaker` and `context`.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import soundfile

from assistant.language.listening import Context
from assistant.ports import Sound

DIGITS = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]


@dataclass(frozen=True, slots=True)
class Recording:
    """What one person or voice said, and when it may be said."""

    sound: Sound
    said: str
    speaker: str
    context: Context


def recordings(folder: Path) -> Iterator[Recording]:
    """Return the folder's recordings in order; a number stands for its digit's name."""
    samples, rate_hz = soundfile.read(next(folder.glob("all.[fw]*")), dtype="int16")
    start = 0
    for entry in json.loads((folder / "all.json").read_text(encoding="utf-8")):
        end = start + entry["n"]
        said = str(entry["said"])
        yield Recording(
            sound=Sound(rate_hz, samples[start:end].tobytes()),
            said=DIGITS[int(said)] if said.isdigit() else said,
            speaker=entry.get("speaker", ""),
            context=Context(entry.get("context", Context.READY)),
        )
        start = end
