"""What a sound is likeliest to say: words after words, as the sentences expected have them.

The second listener's proposals. Every word of the lexicon is a chain of phones and blanks;
where one ends any other may begin, at what the pair of them costs, and the likeliest way
through all of them is found moment by moment (CTC, Viterbi). A phone that ends a word and begins
the next is let pass for both, so "nine nine" may be proposed where one was said; how well each
sentence fits is found afterwards, by phone_paths.py, exactly.
"""

from collections.abc import Iterable, Mapping, Sequence

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
    """How likely each word follows each, by some sentences. Words are numbers.

    What is before the first and behind the last has the number after the last word's.
    """

    def __init__(self, sentences: Iterable[str], numbers: Mapping[str, int]) -> None:
        self._edge = len(numbers)
        size = self._edge + 1
        known = {**numbers, _EDGE: self._edge}
        between_edges = f"{_EDGE} {f' {_EDGE} '.join(sentences)} {_EDGE}"
        chain = np.array([known[word] for word in between_edges.split()])
        pairs = chain[:-1] * size + chain[1:]
        pairs, counts = np.unique(pairs, return_counts=True)
        before, after = np.divmod(pairs, size)
        seen, kinds = np.bincount(before, counts, size), np.bincount(before, minlength=size)
        # Unseen, a word is as likely as it is seen after many others.
        after_others = np.bincount(after, minlength=size)
        self._single = _logs(after_others / max(1, len(pairs)))
        self._unseen = _logs(_DISCOUNT * kinds / np.maximum(seen, 1))
        logs = _logs((counts - _DISCOUNT) / seen[before])
        bounds = np.searchsorted(before, np.arange(1, size))
        self._followers = list(zip(np.split(after, bounds), np.split(logs, bounds), strict=True))

    def next(self, ended: Floats) -> tuple[Floats, Numbers]:
        """Return how likely each word begins, and after which.

        Args:
            ended: How likely each word has just ended, and none has begun.
        """
        near = np.flatnonzero(ended > ended.max() - _BEAM)
        unseen = ended[near] + self._unseen[near]
        begun = unseen.max() + self._single
        before = np.full(len(begun), near[unseen.argmax()])
        for word in near:
            after, logs = self._followers[word]
            likely = ended[word] + logs
            better = likely > begun[after]
            begun[after[better]] = likely[better]
            before[after[better]] = word
        return begun, before

    def last(self, ended: Floats) -> Floats:
        """Return how likely each word is the last, of those that have just ended."""
        ends = self._unseen[:-1] + self._single[self._edge]
        for word, (after, logs) in enumerate(self._followers[:-1]):
            if len(after) and after[-1] == self._edge:
                ends[word] = logs[-1]
        return np.asarray(ended + ends)


class WordChains:
    """Every word of a lexicon, in all its spellings: the states of a way through them."""

    def __init__(self, spellings: Mapping[str, Sequence[Spelling]]) -> None:
        self._words = list(spellings)
        self.numbers = {word: number for number, word in enumerate(self._words)}
        ways = [(number, way) for number, word in enumerate(spellings) for way in spellings[word]]
        self._word = np.array([number for number, _ in ways])
        self._gain = PHONE_GAIN * np.array([len(way) for _, way in ways], dtype=np.float32)
        # A phone and a blank by turns.
        self._labels = np.array([each for _, way in ways for p in way for each in (p, BLANK)])
        after = np.cumsum([2 * len(way) for _, way in ways])
        self._first = np.append(0, after[:-1])
        # A word may end in its last phone or in the blank behind it, in any of its ways.
        self._ends = np.column_stack([after - 2, after - 1]).ravel()
        self._ends_of = 2 * np.searchsorted(self._word, np.arange(len(self._words) + 1))
        # From the state before goes all but the first of a word; past a blank goes what is
        # not the same phone again.
        self._steps = np.zeros(len(self._labels), dtype=np.float32)
        self._steps[self._first] = NEVER
        same = self._labels == np.append([_NOTHING, _NOTHING], self._labels[:-2])
        self._skips = np.where(same | (self._labels == BLANK), NEVER, 0).astype(np.float32)
        self._skips[self._first] = NEVER

    def likeliest(self, logs: Floats, pairs: WordPairs, most: int) -> list[str]:
        """Return what is likeliest to be said, one sentence for each last word.

        Args:
            logs: A row for each moment, a column for the blank and each phone.
            pairs: Of words by `numbers`.
            most: How many sentences.
        """
        # Two more in front, never reached, for what the first states would be reached from.
        reached = np.full(len(self._labels) + 2, NEVER, dtype=np.float32)
        # The word that was said before the one a state is of, as a place in `said`.
        since = np.full(len(reached), _NOTHING, dtype=np.intp)
        said: list[tuple[int, int]] = []
        rows = _blanks_joined(logs)
        quiet = rows[0, BLANK]
        for row in rows[1:]:
            begun, before = pairs.next(np.append(self._ended(reached[2:]), quiet))
            place = np.full(len(begun), _NOTHING)
            for word in np.unique(before):
                if word < len(self._words):
                    place[word] = len(said)
                    said.append((self._since(word, reached[2:], since[2:]), word))
            likely, link = reached[2:], since[2:]
            for earlier, cost in ((1, self._steps), (2, self._skips)):
                other = reached[2 - earlier : -earlier] + cost
                link = np.where(other > likely, since[2 - earlier : -earlier], link)
                likely = np.maximum(likely, other)
            first = begun[self._word] + self._gain
            better = first > likely[self._first]
            likely[self._first[better]] = first[better]
            link[self._first[better]] = place[before[self._word[better]]]
            reached[2:], since[2:] = likely + row[self._labels], link
            quiet += row[BLANK]
        last = pairs.last(self._ended(reached[2:]))
        found = []
        for word in np.argsort(-last)[:most]:
            if last[word] > NEVER / 2:
                at, sentence = self._since(word, reached[2:], since[2:]), [self._words[word]]
                while at != _NOTHING:
                    at, earlier_word = said[at]
                    sentence.append(self._words[earlier_word])
                found.append(" ".join(reversed(sentence)))
        return found

    def _ended(self, reached: Floats) -> Floats:
        return np.maximum.reduceat(reached[self._ends], self._ends_of[:-1])

    def _since(self, word: int, reached: Floats, since: Numbers) -> int:
        """Return what was said before a word that ends now."""
        ends = self._ends[self._ends_of[word] : self._ends_of[word + 1]]
        return int(since[ends[reached[ends].argmax()]])


def _logs(shares: Floats) -> Floats:
    never = np.full(len(shares), NEVER)
    return np.asarray(_PAIRS_COUNT * np.log(shares, where=shares > 0, out=never))


def _blanks_joined(logs: Floats) -> Floats:
    """Return the moments, runs of blanks as one: in them the likeliest way stays where it is."""
    blank = np.exp(logs[:, BLANK]) > _SURELY_BLANK
    return np.add.reduceat(logs, np.flatnonzero(~(blank & np.append(False, blank[:-1]))))
