"""Sets of recordings: a folder with one sound file and a list of what is said in it.

all.json lists the recordings in the order they follow one another in all.flac (or all.wav):
`n` samples each, `said`, and where it matters `speaker` and `context`. Or it is the folder of
test data of Debian's pocketsphinx-testdata, /usr/share/pocketsphinx/test/data.
"""

import itertools
import json
import random
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import soundfile

from assistant.language.listening import Context
from assistant.ports import Sound

DIGITS = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
# The ten words of the Speech Commands data set that are commands, beside the digits.
COMMANDS = ["yes", "no", "up", "down", "left", "right", "on", "off", "stop", "go"]


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


@dataclass(frozen=True, slots=True)
class Strings:
    """Recordings of several words by people, and what a listener is told to expect."""

    name: str
    spoken: tuple[Recording, ...]
    expected: tuple[str, ...]

    @property
    def words(self) -> tuple[str, ...]:
        """Every word expected."""
        return tuple(sorted({word for phrase in self.expected for word in phrase.split()}))


def debian_strings(folder: Path) -> Iterator[Strings]:
    """Return the strings of Debian's pocketsphinx-testdata, as its own grammars have them."""
    digits = _raw(folder / "tidigits" / "dhd.2934z.raw", "two nine three four zero")
    yield Strings("digits in a string", (digits,), (*DIGITS, "oh"))
    yield Strings("cards", tuple(_transcribed(folder / "cards")), tuple(_cards()))
    read = tuple(_transcribed(folder / "librivox"))
    sentences = tuple(each.said for each in read)
    words = tuple(sorted({word for said in sentences for word in said.split()}))
    yield Strings("read sentences, any word next", read, words)
    yield Strings("read sentences, their word pairs", read, sentences)


def _cards() -> Iterator[str]:
    """Return what cards.gram allows: all single cards, and a sample of the rest."""
    ranks = ("ace", *DIGITS[2:], "ten", "jack", "queen", "king", "lady")
    suits = ("clubs", "hearts", "diamonds", "spades")
    cards = [
        f"{rank}{of}{suit}" for rank, of, suit in itertools.product(ranks, (" of ", " "), suits)
    ]
    yield from cards
    rng = random.Random(0)  # the same sample for every listener
    for several in ((cards, cards), (cards, cards, cards), (ranks, cards), (ranks, ranks)):
        for _ in range(len(cards)):
            yield " ".join(rng.choice(part) for part in several)


def _transcribed(folder: Path) -> Iterator[Recording]:
    for line in next(folder.glob("*transcription")).read_text(encoding="ascii").splitlines():
        if found := re.fullmatch(r"<s> (.*?) *</s> \((.*)\)", line.strip()):
            samples, rate_hz = soundfile.read(folder / f"{found[2]}.wav", dtype="int16")
            yield _person(Sound(rate_hz, samples.tobytes()), found[1])


def _raw(path: Path, said: str) -> Recording:
    return _person(Sound(16_000, path.read_bytes()), said)


def _person(sound: Sound, said: str) -> Recording:
    return Recording(sound, said, "", Context.READY)
