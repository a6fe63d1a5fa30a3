"""Windows of speech to learn from: which utterances, how fast, how loud, and how far apart.

Every window is drawn anew. People and lone short words are given more room than they have on
the shelves, for they are what the network is to hear.
"""

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from grammars.acoustic.recipe.graph import Spelling
from grammars.acoustic.recipe.speech import RATE_HZ, Utterance

# Said alone, short, and with no context to help: of these and no others, three words at most.
# fmt: off
SHORT = {
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "oh", "ten",
    "eleven", "twelve", "twenty", "thirty", "fifty", "yes", "no", "up", "down", "left", "right",
    "on", "off", "stop", "go",
}
# fmt: on
_FEW = 3
_SHORT_OF_PEOPLE = 0.7
_SYNTHETIC = ("kokoro:", "flite:", "espeak-ng:", "pico:", "rhvoice:", "festival:", "vocoded:")

_SHORTEST_S, _LONGEST_S = 0.1, 9.0
_SLOWEST, _FASTEST = 0.78, 1.28
# How often the pronunciation that the network chose is the one it is told.
_AS_CHOSEN = 0.9
_TRIES = 6
# Half of the short ones, of so many words at most, are cut close: from so many samples before what
# is louder than a share of the loudest sound to so many after what is louder than another, and no
# shorter than this.
_CUT, _FEW_CUT, _SHORTEST_CUT_S = 0.5, 2, 0.15
_LOUD_FIRST, _LOUD_LAST, _BEFORE_CUT, _AFTER_CUT = 0.07, (0.03, 0.2), 80, 80
# Left free at the end of a window; less than the second, and no more is tried.
_END_S, _LAST_S = 0.05, 0.6


@dataclass(slots=True)
class Learnt:
    """An utterance to learn from, and what the network made of it.

    Args:
        utterance: What was said.
        times: When each word was, if it was aligned.
        chosen: The way each word is said, by the network.
        is_left_out: Whether it fits its words so badly that they are wrong.
    """

    utterance: Utterance
    times: Sequence[tuple[float, float]] | None = None
    chosen: tuple[Spelling, ...] | None = None
    is_left_out: bool = False

    @property
    def is_by_people(self) -> bool:
        """Whether no synthetic voice said it."""
        return not self.utterance.voice.startswith(_SYNTHETIC)

    def spellings(self, rng: random.Random) -> tuple[Spelling, ...]:
        """Return how each word is said: mostly as chosen, else any way."""
        if self.chosen and rng.random() < _AS_CHOSEN:
            return self.chosen
        return tuple(rng.choice(ways) for ways in self.utterance.ways)


@dataclass(frozen=True, slots=True)
class Placed:
    """An utterance in a window: from which sample on, in how many samples, and how loud."""

    learnt: Learnt
    start: int
    count: int
    gain_db: float
    spellings: tuple[Spelling, ...]


@dataclass(slots=True)
class Shelves:
    """What there is to learn from, and how much of each shelf.

    Args:
        shelves: Each shelf's utterances.
        shares: How many in a hundred utterances come from each shelf.
        short: How many in a hundred are short, whatever their shelf.
    """

    shelves: Mapping[str, Sequence[Learnt]]
    shares: Mapping[str, float]
    short: float = 20
    _lone: dict[bool, dict[tuple[str, ...], list[Learnt]]] = field(init=False)

    def __post_init__(self) -> None:
        self._lone = {True: {}, False: {}}
        for learnt in (each for shelf in self.shelves.values() for each in shelf):
            if is_short(learnt.utterance):
                of_kind = self._lone[learnt.is_by_people]
                of_kind.setdefault(learnt.utterance.words, []).append(learnt)

    def pick(self, rng: random.Random) -> Learnt:
        """Return an utterance of fitting length; of the short ones, each sentence alike often."""
        while True:
            lone = self._lone[rng.random() < _SHORT_OF_PEOPLE]
            if lone and rng.uniform(0, 100) < self.short:
                learnt = rng.choice(lone[rng.choice(list(lone))])
            else:
                (name,) = rng.choices(list(self.shares), list(self.shares.values()))
                learnt = rng.choice(self.shelves[name])
            long_s = len(learnt.utterance.samples) / RATE_HZ
            if not learnt.is_left_out and _SHORTEST_S < long_s < _LONGEST_S:
                may_be_cut = is_short(learnt.utterance, _FEW_CUT) and not learnt.times
                return _cut_close(learnt, rng) if may_be_cut and rng.random() < _CUT else learnt

    def window(self, rng: random.Random, seconds: float) -> list[Placed]:
        """Return utterances one after another, with pauses of many lengths, in a window."""
        room = round(seconds * RATE_HZ)
        at = round(rng.uniform(0, 0.5) * RATE_HZ)
        speed, is_steady = rng.uniform(0.85, 1.2), rng.random() < 0.5
        placed: list[Placed] = []
        for _ in range(_TRIES):
            while at < room - _LAST_S * RATE_HZ:
                learnt = self.pick(rng)
                own = speed * rng.uniform(0.93, 1.07) if is_steady else rng.uniform(0.82, 1.25)
                own = min(_FASTEST, max(_SLOWEST, own))
                count = int(len(learnt.utterance.samples) / own)
                if at + count > room - _END_S * RATE_HZ:
                    break
                spellings = learnt.spellings(rng)
                placed.append(Placed(learnt, at, count, rng.uniform(-8, 0), spellings))
                pauses = ((0.02, 0.15), (0.1, 0.6), (0.3, 1.5))
                at += count + round(rng.uniform(*rng.choice(pauses)) * RATE_HZ)
        return placed


def is_short(utterance: Utterance, words: int = _FEW) -> bool:
    """Return whether it is nothing but short words, so many at most."""
    return len(utterance.words) <= words and set(utterance.words) <= SHORT


def _cut_close(learnt: Learnt, rng: random.Random) -> Learnt:
    """Return short words without the quiet around them, and often without their ends.

    So they come from who talks as he presses the pedal or lets it go, and in many recordings.
    """
    samples = learnt.utterance.samples
    level = np.abs(samples.astype(np.float32))
    start = max(0, int(np.argmax(level > _LOUD_FIRST * level.max())) - _BEFORE_CUT)
    quiet = int(np.argmax(level[::-1] > rng.uniform(*_LOUD_LAST) * level.max()))
    cut = samples[start : len(samples) - quiet + _AFTER_CUT]
    if len(cut) < _SHORTEST_CUT_S * RATE_HZ:
        return learnt
    return replace(learnt, utterance=replace(learnt.utterance, samples=cut))


def rate_at(step: int, steps: int, rise: int = 200) -> float:
    """Return what share of the highest rate of learning a step has.

    It rises for so many steps, stays for a third of all, then falls to a hundredth.
    """
    flat, last = 0.35, 0.01
    done = step / steps
    falling = 1 - (1 - last) * max(0.0, done - flat) / (1 - flat)
    return min(1, (step + 1) / rise) * falling
