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
    """Words in all their spellings, and their pairs: the states of a way through them.

    Every phone of every way of saying a word is a state, and so is the blank behind it.
    """

    def __init__(self, pairs: WordPairs, spellings: Mapping[str, Sequence[Spelling]]) -> None:
        self._words = pairs.words
        self._before_edge = pairs.logs[:-1, -1]
        self._pairs = np.ascontiguousarray(pairs.logs[:, :-1], np.float32)
        ways = [(place, way) for place, word in enumerate(pairs.words) for way in spellings[word]]
        self._labels = np.array([phone for _, way in ways for phone in way])
        lengths = np.array([len(way) for _, way in ways])
        self._word_of_way = np.array([place for place, _ in ways])
        self._last = lengths.cumsum() - 1
        self._first = self._last - lengths + 1
        self._ways_of = np.searchsorted(self._word_of_way, np.arange(len(self._words) + 1))
        self._gains = (PHONE_GAIN * lengths).astype(np.float32)
        self._gain_of = dict(zip(self._first.tolist(), self._gains, strict=True))
        # The same phone twice is one phone, but for a blank between.
        again = np.flatnonzero(self._labels[1:] == self._labels[:-1]) + 1
        self._again = np.setdiff1d(again, self._first)
        self._same_again = set(self._again.tolist())

    def likeliest(self, logs: Floats, most: int) -> list[str]:
        """Return what is likeliest to be said, one sentence for each last word.

        Args:
            logs: A row for each moment, a column for the blank and each phone.
            most: How many sentences.
        """
        rows = _blanks_joined(logs).astype(np.float32)
        edge, first, again = len(self._words), self._first, self._again
        phones, blanks = np.empty((2, len(rows), len(self._labels)), np.float32)
        phones[0] = blanks[0] = NEVER
        begun = np.empty((len(rows), edge), np.float32)
        ended = np.empty((len(rows), edge + 1), np.float32)
        ended[:, edge] = rows[:, BLANK].cumsum()
        for now in range(1, len(rows)):
            phone, blank, phone_now = phones[now - 1], blanks[now - 1], phones[now]
            either = np.maximum(phone, blank)
            self._end(either, ended[now - 1])
            near = _near(ended[now - 1])
            after = ended[now - 1].take(near)[:, None] + self._pairs.take(near, axis=0)
            np.maximum.reduce(after, axis=0, out=begun[now])
            # From the state before goes all but the first of a word, with which it begins.
            np.maximum(phone[1:], either[:-1], out=phone_now[1:])
            phone_now[again] = np.maximum(phone[again], blank[again - 1])
            begins = begun[now].take(self._word_of_way) + self._gains
            phone_now[first] = np.maximum(phone[first], begins)
            phone_now += rows[now].take(self._labels)
            np.add(either, rows[now, BLANK], out=blanks[now])
        self._end(np.maximum(phones[-1], blanks[-1]), ended[-1])
        last = ended[-1, :edge] + self._before_edge
        return [
            " ".join([*self._backwards(word, phones, blanks, begun, ended)][::-1])
            for word in np.argsort(-last)[:most]
            if last[word] > NEVER / 2
        ]

    def _end(self, reached: Floats, ended: Floats) -> None:
        """Say how likely each word has just ended: in its last phone or in the blank behind it."""
        np.maximum.reduceat(reached.take(self._last), self._ways_of[:-1], out=ended[:-1])

    def _backwards(
        self, word: int, phones: Floats, blanks: Floats, begun: Floats, ended: Floats
    ) -> Iterator[str]:
        """Return the words of the likeliest way to a last one, from it to the first.

        Args:
            word: The last, by its place.
            phones: How likely each phone was reached, moment by moment.
            blanks: How likely the blank behind it.
            begun: How likely each word began.
            ended: How likely each ended, and silence.
        """
        yield self._words[word]
        state, in_blank = self._ended_in(word, phones[-1], blanks[-1])
        for now in range(len(phones) - 1, 0, -1):
            phone, blank = phones[now - 1], blanks[now - 1]
            if in_blank:
                in_blank = bool(blank[state] >= phone[state])
            elif state not in self._gain_of:
                step = blank[state - 1]
                skip = NEVER if state in self._same_again else phone[state - 1]
                if phone[state] < max(step, skip):
                    in_blank = bool(step >= skip)
                    state -= 1
            elif phone[state] < begun[now, word] + self._gain_of[state]:
                near = _near(ended[now - 1])
                word = near[(ended[now - 1, near] + self._pairs[near, word]).argmax()]
                if word == len(self._words):
                    return
                yield self._words[word]
                state, in_blank = self._ended_in(word, phone, blank)

    def _ended_in(self, word: int, phone: Floats, blank: Floats) -> tuple[int, bool]:
        """Return the phone in which a word has likeliest ended, and whether in the blank behind."""
        ends = self._last[self._ways_of[word] : self._ways_of[word + 1]]
        state = int(ends[np.maximum(phone[ends], blank[ends]).argmax()])
        return state, bool(blank[state] > phone[state])


def _near(ended: Floats) -> Numbers:
    """Return what has likely ended enough to be followed by a word."""
    return np.flatnonzero(ended > ended.max() - _BEAM)


def _blanks_joined(logs: Floats) -> Floats:
    """Return the moments, runs of blanks as one: in them the likeliest way stays where it is."""
    blank = np.exp(logs[:, BLANK]) > _SURELY_BLANK
    return np.add.reduceat(logs, np.flatnonzero(~(blank & np.append(False, blank[:-1]))))
