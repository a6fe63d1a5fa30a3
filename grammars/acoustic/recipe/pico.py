"""English by the voices of Pico, three of which speak other languages: pico.toml, read.

What is said is written as each voice can say it; what the network is told of it is English, in
every way the words are spelled.
"""

import random
import tomllib
from collections.abc import Mapping, Sequence
from functools import cache

from grammars.acoustic.recipe.graph import HERE
from grammars.acoustic.recipe.pronounce import sounds_of

# Each as often as it stands here.
VOICES = ("en-US", "en-US", "en-US", "en-US", "fr-FR", "fr-FR", "it-IT", "es-ES")
_SILENT = "-"


def written(words: Sequence[str], voice: str, rng: random.Random) -> str:
    """Return a sentence as a voice reads it: in letters, or in marks for its phones."""
    of_voice = phones().get(voice)
    if of_voice is None:
        return " ".join(words)
    said = (_said(rng.choice(sounds_of(word)), of_voice, rng) for word in words)
    return " ".join(f"<phoneme ph='{word}'/>" for word in said)


def _said(sounds: Sequence[str], of_voice: Mapping[str, str], rng: random.Random) -> str:
    ways = (rng.choice(of_voice[sound.rstrip("012")].split()) for sound in sounds)
    return " ".join(way.replace("+", " ") for way in ways if way != _SILENT)


@cache
def phones() -> Mapping[str, Mapping[str, str]]:
    """Return what is written for each phone, by voice."""
    read: Mapping[str, Mapping[str, str]] = tomllib.loads(
        (HERE / "pico.toml").read_text(encoding="utf-8")
    )
    return read
