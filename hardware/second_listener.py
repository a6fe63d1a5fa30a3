"""How well sentences fit a sound, by another network than the one that proposed them.

The recogniser's child asks it about what vosk made out. The network reads a whole utterance at
once and says, some forty times a second, how likely each phone and silence (blank) are; a
sentence fits as well as the likeliest way of its phones through that (CTC, the best path).
MODEL.md tells where the network comes from.
"""

import itertools
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating]
Spelling = tuple[int, ...]

RATE_HZ = 16_000
# Of the model's directory; a model without the network has no second listener.
NETWORK, PHONES, LEXICON = "second/network.onnx", "second/phones.txt", "graph/lexicon.txt"

UNKNOWN = "[unk]"
# Of a phone that belongs to no word, as a negative natural logarithm. From 5 on human words
# and digits are told apart alike; lower, and nearly every sound is nothing.
UNKNOWN_PHONE_COST = 4.5

# Less is no word, more takes too long to weigh.
_SHORTEST_S, _LONGEST_S = 0.1, 12.0
_FULL_SCALE = 32_768
_NEVER = -1e30
_BLANK, _NO_WORD = 0, -1


class SecondListener:
    """The network, and how its words are spelled in phones."""

    def __init__(self, model: Path) -> None:
        import onnxruntime

        options = onnxruntime.SessionOptions()
        # Two threads take two thirds of the time of one; waiting busily for work would cost as much
        # again of the processor.
        options.intra_op_num_threads, options.inter_op_num_threads = 2, 1
        options.add_session_config_entry("session.intra_op.allow_spinning", "0")
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

    def knows(self, sentence: str) -> bool:
        """Return whether every word of a sentence is spelled."""
        return all(word in self._spellings for word in sentence.split())

    def fits(self, samples: bytes, rate_hz: int, sentences: Sequence[str]) -> list[float] | None:
        """Return how well each sentence fits, as a log likelihood; the empty one is silence.

        None if the sound is too short to be weighed, or too long.
        """
        if not _SHORTEST_S < len(samples) / 2 / rate_hz < _LONGEST_S:
            return None
        sound = _at_16_khz(np.frombuffer(samples, "<i2") / _FULL_SCALE, rate_hz)
        (logs,) = self._network.run(None, {"sound": sound[None]})
        return best_paths(logs[0], sentences, self._spellings)

    def phones(self, sentence: str) -> int:
        """Return how many phones a sentence has at most, those of no word not counted."""
        words = (word for word in sentence.split() if word != UNKNOWN)
        return sum(max(map(len, self._spellings[word])) for word in words)


def best_paths(
    logs: Floats, sentences: Sequence[str], spellings: Mapping[str, Sequence[Spelling]]
) -> list[float]:
    """Return the log likelihood of the best path of each sentence.

    Args:
        logs: A row for each moment, a column for the blank and each phone.
        sentences: Of words that are spelled, and UNKNOWN.
        spellings: The ways of saying each word, in columns of `logs`.
    """
    states = _States()
    ends = [states.add(sentence.split(), spellings) for sentence in sentences]
    # A sound of no word is at each moment what it is most like, at a cost for each new phone.
    likeliest = logs.argmax(axis=1)
    begins = (likeliest != _BLANK) & (likeliest != np.append(_BLANK, likeliest[:-1]))
    no_word = logs.max(axis=1) - UNKNOWN_PHONE_COST * begins
    outputs = np.column_stack([logs, no_word]).astype(np.float32)
    before = states.before()
    # One more than there are states, never reached: what a state has no other before.
    reached = np.full(len(states.labels) + 1, _NEVER, dtype=np.float32)
    reached[states.first] = outputs[0, _BLANK]
    for output in outputs[1:]:
        reached[:-1] = reached.take(before).max(axis=0) + output.take(states.labels)
    return [float(reached[of_sentence].max()) for of_sentence in ends]


class _States:
    """Phones and the blanks between them, each with the states that may come before it."""

    def __init__(self) -> None:
        self.labels: list[int] = []
        self.first: list[int] = []
        self._before: list[list[int]] = []

    def before(self) -> NDArray[np.intp]:
        """Return in the column of each state those it is reached from, itself among them."""
        filled = itertools.zip_longest(*self._before, fillvalue=len(self.labels))
        return np.array(list(filled), dtype=np.intp)

    def add(self, words: Sequence[str], spellings: Mapping[str, Sequence[Spelling]]) -> list[int]:
        """Add a sentence; return the states it may end in."""
        pause, ends = self._add(_BLANK, []), list[int]()
        # Every sound begins with a moment of quiet.
        self.first.append(pause)
        for word in words:
            ways = [(_NO_WORD,)] if word == UNKNOWN else spellings[word]
            before = [pause, *ends]
            ends = [self._word(way, before) for way in ways]
            pause = self._add(_BLANK, ends)
        return [pause, *ends]

    def _word(self, phones: Spelling, before: list[int]) -> int:
        for place, phone in enumerate(phones):
            # The same phone twice is one phone, but for a blank between.
            state = self._add(phone, [b for b in before if self.labels[b] != phone])
            if place + 1 < len(phones):
                before = [self._add(_BLANK, [state]), state]
        return state

    def _add(self, label: int, before: list[int]) -> int:
        self.labels.append(label)
        self._before.append([*before, len(self.labels) - 1])
        return len(self.labels) - 1


def _at_16_khz(sound: Floats, rate_hz: int) -> NDArray[np.float32]:
    """Return sound at the network's rate, without the tones above it."""
    if rate_hz == RATE_HZ or not len(sound):
        return sound.astype(np.float32)
    count = round(len(sound) * RATE_HZ / rate_hz)
    spectrum = np.fft.rfft(sound)[: count // 2 + 1]
    return (np.fft.irfft(spectrum, count) * (count / len(sound))).astype(np.float32)
