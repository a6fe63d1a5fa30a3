"""Recorded people: sound out of Debian's packages and of lists, and the words said in it.

python -m grammars.acoustic.recipe.people talkies UNPACKED SHELF
python -m grammars.acoustic.recipe.people files FOLDER SHELF
python -m grammars.acoustic.recipe.people prompts SHELF
python -m grammars.acoustic.recipe.people listed RECORDINGS.json SHELF

The first takes the speech of three games, whose packages `dpkg -x` unpacked into one folder;
the second any sound files below a folder. What is said in them is transcribed (transcribe.py),
and kept where that is sure. The third takes the prompts of asterisk-core-sounds-en-g722, which
come with their texts. The fourth takes recordings one after another in a sound file beside the
list, each with its number of samples `n` and its `text`, or with the key words in it, `said`:
then it is transcribed, and kept if they are heard. All need ffmpeg.
"""

import argparse
import gzip
import json
import re
import struct
import subprocess
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from grammars.acoustic.recipe.pronounce import spellings
from grammars.acoustic.recipe.speech import RATE_HZ, Utterance, at_16_khz, trimmed, write_shelf
from grammars.acoustic.recipe.transcribe import plain_words, sure_words, transcripts

Sound = NDArray[np.floating]

# Of the recordings: shorter is a sigh, longer does not fit a window of training.
_SHORTEST_S, _LONGEST_S = 0.3, 18.0
# Old recordings hiss between the words.
_LOUD = 0.02
_GAMES_HZ = 11_025

# What packages are called below the folder they are unpacked into.
_QUEEN = "usr/share/scummvm/flight-of-the-amazon-queen/queen.1c"
_SKY = "usr/share/scummvm/beneath-a-steel-sky/sky."
_DRASCULA = "usr/share/scummvm/drascula/en"
_PROMPTS = Path("/usr/share/asterisk/sounds/en_US_f_Allison")
_PROMPT_TEXTS = Path("/usr/share/doc/asterisk-core-sounds-en/core-sounds-en.txt.gz")


@dataclass(frozen=True, slots=True)
class Clip:
    """A recording, and what is known to be said: all of it, some of its words, or nothing."""

    sound: Sound
    voice: str
    text: str = ""
    key_words: tuple[str, ...] = ()


# The games. Source of the formats: the files themselves, and Rob Northen's method from memory.


def queen_speech(archive: bytes) -> Iterator[tuple[str, bytes]]:
    """Return the names and MP3 files of the speech in queen.1c.

    Behind a mark is a list of files: 12 letters of name, a byte, where it is and how long.
    """
    first = archive.index(b"020001P2")
    (count,) = struct.unpack_from(">H", archive, first - 2)
    for number in range(count):
        name, _, at, size = struct.unpack_from(">12sBII", archive, first + 21 * number)
        stem, _, kind = name.rstrip(b"\0").decode("latin-1").partition(".")
        if kind == "SB":
            yield stem, archive[at : at + size]


def sky_speech(index: bytes, disk: bytes) -> Iterator[tuple[str, bytes]]:
    """Return the names and samples, unsigned at 11,025 Hz, of the speech in sky.dsk.

    The index, sky.dnr, has for each file its number, where it is in 24 bits, in units of 16
    bytes if the highest is set, and its size in 22 bits. Speech is numbered from 50,000.
    """
    (count,) = struct.unpack_from("<I", index)
    for entry in range(count):
        number, at, size = struct.unpack_from("<H3s3s", index, 4 + 8 * entry)
        start, length = int.from_bytes(at, "little"), int.from_bytes(size, "little") & 0x3FFFFF
        if start >> 23:
            start = (start & 0x7FFFFF) << 4
        if number >= 50_000:
            # 22 bytes of the game's own come first.
            content = disk[start + 22 : start + length]
            yield str(number), unpacked(content) if content.startswith(b"RNC\1") else content


def unpacked(packed: bytes) -> bytes:
    """Return what Rob Northen's first method of compression packed.

    Raises:
        ValueError: It is damaged.
    """
    (size,) = struct.unpack_from(">I", packed, 4)
    out, bits = bytearray(), _Bits(packed + bytes(4), at=18)
    bits.take(2)
    try:
        while len(out) < size:
            literals, distances, lengths = (_codes(bits) for _ in range(3))
            for left in reversed(range(bits.take(16))):
                out += bits.bytes(_coded(bits, literals))
                if left:
                    start = len(out) - _coded(bits, distances) - 1
                    for at in range(start, start + _coded(bits, lengths) + 2):
                        out.append(out[at])
    except (IndexError, KeyError):
        raise ValueError("damaged: packed sound that cannot be unpacked") from None
    return bytes(out[:size])


class _Bits:
    """Bits in words of 16, the lowest first; whole bytes stand before the last word read."""

    def __init__(self, content: bytes, at: int) -> None:
        self._content, self._at = content, at
        self._held, self._count = self._word(), 16

    def take(self, count: int) -> int:
        taken = self.peek(count)
        self._held >>= count
        self._count -= count
        if self._count < 16:
            self._at += 2
            self._read_word()
        return taken

    def peek(self, count: int) -> int:
        return self._held & (1 << count) - 1

    def bytes(self, count: int) -> bytes:
        taken = self._content[self._at : self._at + count]
        if count:
            self._at += count
            self._count -= 16
            self._held &= (1 << self._count) - 1
            self._read_word()
        return taken

    def _read_word(self) -> None:
        self._held |= self._word() << self._count
        self._count += 16

    def _word(self) -> int:
        return self._content[self._at] | self._content[self._at + 1] << 8


def _codes(bits: _Bits) -> dict[tuple[int, int], int]:
    """Return a table of Huffman codes, from length and code to what it stands for."""
    lengths = [bits.take(4) for _ in range(bits.take(5))]
    codes, code = {}, 0
    for length in range(1, 16):
        for meaning, of_length in enumerate(lengths):
            if of_length == length:
                codes[length, int(f"{code:0{length}b}"[::-1], 2)] = meaning
                code += 1
        code <<= 1
    return codes


def _coded(bits: _Bits, codes: dict[tuple[int, int], int]) -> int:
    """Return the next number: 0, 1, or the highest bit's place and then the other bits."""
    for length in range(1, 16):
        if (meaning := codes.get((length, bits.peek(length)))) is not None:
            bits.take(length)
            return meaning if meaning < 2 else 1 << meaning - 1 | bits.take(meaning - 1)
    raise KeyError


def from_bytes(samples: bytes) -> Sound:
    """Return unsigned samples at the games' rate as sound at ours."""
    sound = np.frombuffer(samples, np.uint8).astype(np.float32) / 128 - 1
    return at_16_khz(sound, _GAMES_HZ)


def decoded(content: bytes, *options: str) -> Sound:
    """Return a sound file's sound at 16 kHz; empty if it has none."""
    raw = ["-f", "s16le", "-ac", "1", "-ar", str(RATE_HZ), "-"]
    command = ["ffmpeg", "-v", "quiet", *options, "-i", "-", *raw]
    out = subprocess.run(command, input=content, capture_output=True, check=False).stdout
    return np.frombuffer(out, "<i2").astype(np.float32) / np.float32(32_768)


def talkies(folder: Path) -> Iterator[Clip]:
    """Return the speech of the three games."""
    for name, mp3 in queen_speech((folder / _QUEEN).read_bytes()):
        yield Clip(decoded(mp3), f"queen:{name}")
    index, disk = (Path(f"{folder / _SKY}{kind}").read_bytes() for kind in ("dnr", "dsk"))
    for name, samples in sky_speech(index, disk):
        yield Clip(from_bytes(samples), f"sky:{name}")
    for path in sorted((folder / _DRASCULA).glob("*.ALS")):
        yield Clip(from_bytes(path.read_bytes()), f"drascula:{path.stem}")


def files(folder: Path) -> Iterator[Clip]:
    """Return all sound files below a folder."""
    for path in sorted(folder.rglob("*")):
        if path.suffix in (".ogg", ".wav", ".flac", ".mp3"):
            yield Clip(decoded(path.read_bytes()), path.relative_to(folder).as_posix())


def prompts() -> Iterator[Clip]:
    """Return the prompts that are installed."""
    for name, text in prompt_texts(gzip.decompress(_PROMPT_TEXTS.read_bytes()).decode("latin-1")):
        path = _PROMPTS / f"{name}.g722"
        if path.exists():
            yield Clip(decoded(path.read_bytes(), "-f", "g722"), "prompts", text)


def prompt_texts(listing: str) -> Iterator[tuple[str, str]]:
    """Return the names and texts of prompts that are speech and nothing else."""
    for line in listing.splitlines():
        name, colon, text = line.partition(":")
        if colon and not line.startswith(";") and not re.search(r"[\[(]", text):
            yield name.strip(), text.strip()


def listed(path: Path) -> Iterator[Clip]:
    """Return the recordings of a list, whose sound file has the same name."""
    sound = decoded(next(path.parent.glob(f"{path.stem}.[fow]*")).read_bytes())
    return in_list(sound, json.loads(path.read_text(encoding="utf-8")), path.stem)


def in_list(sound: Sound, entries: Iterable[dict[str, Any]], voice: str) -> Iterator[Clip]:
    """Return recordings that follow one another, and what the list tells of them."""
    start = 0
    for entry in entries:
        key_words = " ".join(entry.get("said", {}).values()).lower().split()
        piece = sound[start : start + entry["n"]]
        yield Clip(piece, voice, entry.get("text", ""), tuple(key_words))
        start += entry["n"]


def utterances(clips: Iterable[Clip]) -> Iterator[Utterance]:
    """Return the clips of which the words are known or can be told for sure."""
    fitting = [c for c in clips if _SHORTEST_S < len(c.sound) / RATE_HZ < _LONGEST_S]
    told = iter(transcripts([clip.sound for clip in fitting if not clip.text]))
    for clip in fitting:
        words = plain_words(clip.text) if clip.text else sure_words(next(told), len(clip.sound))
        samples = trimmed(clip.sound, _LOUD)
        ways = tuple(map(spellings, words or ()))
        if words and samples is not None and all(ways) and set(clip.key_words) <= set(words):
            yield Utterance(samples, tuple(words), ways, clip.voice)


def main() -> None:
    """Put people on a shelf."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kind", choices=["talkies", "files", "prompts", "listed"])
    parser.add_argument("source", type=Path, nargs="?")
    parser.add_argument("shelf", type=Path)
    given = parser.parse_args()
    kinds = {"talkies": talkies, "files": files, "listed": listed}
    clips = prompts() if given.kind == "prompts" else kinds[given.kind](given.source)
    print(write_shelf(given.shelf, utterances(clips)), "utterances")


if __name__ == "__main__":
    main()
