"""What a sound is likeliest to say: words after words, as the sentences expected have them.

The second listener's proposals. Every word expected is a chain of phones and blanks;
where one ends any other may begin, at what the pair of them costs, and the likeliest way
through all of them is found moment by moment (CTC, Viterbi). A phone that ends a word and begins
the next is let pass for both, so "nine nine" may be proposed where one was said; how well each
sentence fits is found afterwards, by phone_paths.py, exactly.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from hardware.phone_paths import BLANK, NEVER, Floats, Spelling

Numbers = NDArray[np.intp]

# Taken from how often a pair was seen, for those that were not (absolute discounting); common
# practice, no source.
_DISCOUNT = 0.5
# How much pairs count beside the sound, and what is given back for each phone, so that a short
# word will not do for a long one. MODEL.md has what other values made of them.
_PAIRS_COUNT, PHONE_GAIN = 1.0, 2.0
# A word that ends so much less likely than another is followed by none.
_BEAM = 10.0
# Moments one after another as surely blank as this are taken as one; two in three are.
_SURELY_BLANK = 0.98
_NOTHING = -1
# Stands for no word between two sentences.
_EDGE = "|"


class WordPairs:
    """How likely each word follows each, by some sentences.

    What is before the first and behind the last stands after the last word.
    """

    def __init__(self, sentences: Iterable[str]) -> None:
        between_edges = f" {_EDGE} ".join(["", *sentences, ""]).split()
        self.words = sorted({*between_edges} - {_EDGE})
        number = {word: place for place, word in enumerate([*self.words, _EDGE])}
        chain = np.array([number[word] for word in between_edges])
        size = len(number)
        pairs = np.bincount(chain[:-1] * size + chain[1:], minlength=size**2).reshape(size, size)
        kinds = pairs > 0
        of_word = pairs.sum(axis=1, keepdims=True)
        # Unseen, a word is as likely as it is seen after many others.
        after_any = kinds.sum(axis=0) / kinds.sum()
        unseen = _DISCOUNT * kinds.sum(axis=1, keepdims=True) * after_any
        self.logs = _PAIRS_COUNT * np.log(np.maximum(pairs - _DISCOUNT, unseen) / of_word)


class WordChains:
    """Words in all their spellings, and their pairs: the states of a way through them."""

    def __init__(self, pairs: WordPairs, spellings: Mapping[str, Sequence[Spelling]]) -> None:
        self._words, self._pairs = pairs.words, pairs.logs
        ways = [(place, way) for place, word in enumerate(pairs.words) for way in spellings[word]]
        # A phone and a blank by turns.
        self._labels = np.array([each for _, way in ways for p in way for each in (p, BLANK)])
        lengths = [2 * len(way) for _, way in ways]
        of_way, after = np.array([place for place, _ in ways]), np.cumsum(lengths)
        self._word = np.repeat(of_way, lengths)
        # A word may end in its last phone or in the blank behind it, in any of its ways.
        self._ends = np.column_stack([after - 2, after - 1]).ravel()
        self._ends_of = 2 * np.searchsorted(of_way, np.arange(len(self._words) + 1))
        # From the state before goes all but the first of a word; past a blank goes what is
        # not the same phone again; with the first a word begins.
        first = np.append(0, after[:-1])
        same = self._labels == np.append([_NOTHING, _NOTHING], self._labels[:-2])
        self._steps, self._skips, self._starts = np.full((3, len(same)), NEVER, np.float32)
        self._steps[:] = self._skips[~same & (self._labels != BLANK)] = 0
        self._steps[first] = self._skips[first] = NEVER
        self._starts[first] = [PHONE_GAIN * len(way) for _, way in ways]

    def likeliest(self, logs: Floats, most: int) -> list[str]:
        """Return what is likeliest to be said, one sentence for each last word.

        Args:
            logs: A row for each moment, a column for the blank and each phone.
            most: How many sentences.
        """
        rows = _blanks_joined(logs).astype(np.float32)
        edge = len(self._words)
        # Two more in front, never reached, for what the first states would be reached from.
        reached = np.full((len(rows), 2 + len(self._labels)), NEVER, np.float32)
        begun = np.full((len(rows), edge), NEVER, np.float32)
        before = np.full(begun.shape, edge)
        quiet = rows[:, BLANK].cumsum()
        for now in range(1, len(rows)):
            earlier, likely = reached[now - 1], reached[now, 2:]
            ended = np.append(self._ended(earlier), quiet[now - 1])
            near = np.flatnonzero(ended > ended.max() - _BEAM)
            after = ended[near, None] + self._pairs[near, :edge]
            begun[now], before[now] = after.max(axis=0), near[after.argmax(axis=0)]
            np.maximum(earlier[2:], earlier[1:-1] + self._steps, out=likely)
            np.maximum(likely, earlier[:-2] + self._skips, out=likely)
            np.maximum(likely, begun[now].take(self._word) + self._starts, out=likely)
            likely += rows[now].take(self._labels)
        last = self._ended(reached[-1]) + self._pairs[:edge, edge]
        return [
            " ".join([*self._backwards(word, reached, begun, before)][::-1])
            for word in np.argsort(-last)[:most]
            if last[word] > NEVER / 2
        ]

    def _ended(self, reached: Floats) -> Floats:
        """Return how likely each word has just ended."""
        return np.maximum.reduceat(reached[2:].take(self._ends), self._ends_of[:-1])

    def _backwards(
        self, word: int, reached: Floats, begun: Floats, before: Numbers
    ) -> Iterator[str]:
        """Return the words of the likeliest way to a last one, from it to the first.

        Args:
            word: The last, by its place.
            reached: How likely each state was reached, moment by moment.
            begun: How likely each word began.
            before: After which.
        """
        yield self._words[word]
        state = self._end(word, reached[-1])
        for now in range(len(reached) - 1, 0, -1):
            earlier = reached[now - 1]
            ways = (
                earlier[2 + state],
                earlier[1 + state] + self._steps[state],
                earlier[state] + self._skips[state],
                begun[now, word] + self._starts[state],
            )
            way = ways.index(max(ways))
            if way < 3:
                state -= way
                continue
            word = before[now, word]
            if word == len(self._words):
                return
            yield self._words[word]
            state = self._end(word, earlier)

    def _end(self, word: int, reached: Floats) -> int:
        """Return the state in which a word has likeliest ended."""
        ends = self._ends[self._ends_of[word] : self._ends_of[word + 1]]
        return int(ends[reached[2 + ends].argmax()])


def _blanks_joined(logs: Floats) -> Floats:
    """Return the moments, runs of blanks as one: in them the likeliest way stays where it is."""
    blank = np.exp(logs[:, BLANK]) > _SURELY_BLANK
    return np.add.reduceat(logs, np.flatnonzero(~(blank & np.append(False, blank[:-1]))))
