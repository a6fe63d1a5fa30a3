"""What was said, and how well it fits, by another network than vosk's.

The recogniser's child asks it when vosk has made out an utterance. The network reads the whole
of it at once and says, some forty times a second, how likely each phone and silence (blank)
are. MODEL.md tells where it comes from.
"""

import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from hardware.phone_paths import BLANK, UNKNOWN, Floats, Spelling, best_paths
from hardware.word_chains import WordChains, WordPairs

RATE_HZ = 16_000
# Of the model's directory; a model without the network has no second listener.
NETWORK, PHONES, LEXICON = "second/network.onnx", "second/phones.txt", "graph/lexicon.txt"

# Less is no word, more takes too long to weigh.
_SHORTEST_S, _LONGEST_S = 0.1, 12.0
_FULL_SCALE = 32_768


class SecondListener:
    """The network, and how its words are spelled in phones."""

    def __init__(self, model: Path) -> None:
        import onnxruntime

        options = onnxruntime.SessionOptions()
        # Two threads take three quarters of the time of one, and a quarter more of the processor.
        # An arena would keep what the longest utterance took.
        options.enable_cpu_mem_arena = False
        options.intra_op_num_threads, options.inter_op_num_threads = 1, 1
        self._network = onnxruntime.InferenceSession(
            str(model / NETWORK), options, providers=["CPUExecutionProvider"]
        )
        # The blank stands first, as everywhere.
        phones = (model / PHONES).read_text(encoding="utf-8").split()
        number = {phone: place for place, phone in enumerate(phones)}
        self._spellings: dict[str, list[Spelling]] = {}
        for line in (model / LEXICON).read_text(encoding="utf-8").splitlines():
            word, *spelling = line.split()
            self._spellings.setdefault(word, []).append(tuple(number[p] for p in spelling))

    def chains(self, sentences: Sequence[str]) -> WordChains:
        """Return what proposes sentences whose words follow each other as in these."""
        return WordChains(WordPairs(sentences), self._spellings)

    def hear(self, samples: bytes, rate_hz: int) -> Floats | None:
        """Return how likely each phone is, moment by moment, as natural logarithms.

        None if the sound is too short to be weighed, or too long.
        """
        if not _SHORTEST_S < len(samples) / 2 / rate_hz < _LONGEST_S:
            return None
        sound = at_16_khz(samples, rate_hz)
        (logs,) = self._network.run(None, {"sound": sound[None]})
        return np.asarray(logs[0])

    def fits(self, heard: Floats, sentences: Sequence[str]) -> list[float]:
        """Return how well each sentence fits, as a log likelihood; the empty one is silence."""
        return best_paths(heard, sentences, self._spellings)

    def phones(self, sentence: str) -> int:
        """Return how many phones a sentence has at most, those of no word not counted."""
        words = (word for word in sentence.split() if word != UNKNOWN)
        return sum(max(map(len, self._spellings[word])) for word in words)


def clearness(heard: Floats) -> float:
    """Return how surely phones were made out, as in assistant.events.Hearing."""
    of_phones = heard[heard.argmax(axis=1) != BLANK]
    # Of no phone at all it is a guess.
    if not len(of_phones):
        return -math.log(heard.shape[1])
    return float((of_phones.max(axis=1) - np.logaddexp.reduce(of_phones, axis=1)).mean())


def at_16_khz(samples: bytes, rate_hz: int) -> NDArray[np.float32]:
    """Return sound at the network's rate, without the tones above it, at most 1 loud."""
    sound = np.frombuffer(samples, "<i2") / _FULL_SCALE
    if rate_hz == RATE_HZ or not len(sound):
        return sound.astype(np.float32)
    count = round(len(sound) * RATE_HZ / rate_hz)
    spectrum = np.fft.rfft(sound)[: count // 2 + 1]
    return (np.fft.irfft(spectrum, count) * (count / len(sound))).astype(np.float32)
