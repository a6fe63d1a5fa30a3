"""English with other accents: accents.toml, read and spoken.

What is said is written in other symbols; what the network is told of it is English, in every
way the words are spelled.
"""

import random
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from grammars.acoustic.recipe.graph import HERE
from grammars.acoustic.recipe.pronounce import sounds_of, symbols_of

# Soft consonants at a word's end, and what is said for them where they are hardened.
_HARDENED = {"b": "p", "d": "t", "ɡ": "k", "v": "f", "z": "s", "ʒ": "ʃ", "ʤ": "ʧ"}
_SILENT = "-"


@dataclass(frozen=True, slots=True)
class Accent:
    """How the phones of English sound.

    Args:
        share: How many in a hundred have it.
        hardened: How many words in a hundred that end in a soft consonant end in a hard one.
        voices: Whose it is.
        phones: The symbols that are said for a phone.
    """

    share: float
    hardened: float
    voices: Sequence[str]
    phones: Mapping[str, str]

    def written(self, words: Sequence[str], rng: random.Random) -> str:
        """Return a sentence in symbols."""
        return " ".join(self._word(word, rng) for word in words)

    def _word(self, word: str, rng: random.Random) -> str:
        said = [
            symbols_of(sound, self._said_for(sound, rng)) for sound in rng.choice(sounds_of(word))
        ]
        if rng.randrange(100) < self.hardened:
            said[-1] = _HARDENED.get(said[-1], said[-1])
        return "".join(said)

    def _said_for(self, sound: str, rng: random.Random) -> str | None:
        phone = sound.rstrip("012")
        if phone not in self.phones:
            return None
        said = rng.choice(self.phones[phone].split())
        return "" if said == _SILENT else said


@cache
def accents() -> dict[str, Accent]:
    """Return those of accents.toml by their names."""
    read = tomllib.loads((HERE / "accents.toml").read_text(encoding="utf-8"))
    return {name: Accent(**entry) for name, entry in read.items()}
