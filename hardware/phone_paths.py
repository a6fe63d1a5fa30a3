"""How well sentences fit a sound: the likeliest way of their phones through it.

A network says of each moment how likely each phone and the blank, silence, are. A sentence fits
as well as the likeliest path that says its phones in order, each for as long as it likes, with
blanks between (CTC, the best path).
"""

import itertools
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating]
# Phones, in columns of what the network says.
Spelling = tuple[int, ...]

UNKNOWN = "[unk]"
# Of a phone that belongs to no word, as a negative natural logarithm. From 4 to 7 human words
# and digits are told apart alike; the higher, the more of other talk passes for words.
UNKNOWN_PHONE_COST = 5.0

NEVER = -1e30
BLANK = 0
_NO_WORD = -1


def best_paths(
    logs: Floats, sentences: Sequence[str], spellings: Mapping[str, Sequence[Spelling]]
) -> list[float]:
    """Return the log likelihood of the best path of each sentence.

    Args:
        logs: A row for each moment, a column for the blank and each phone.
        sentences: Of words that are spelled, and UNKNOWN.
        spellings: The ways of saying each word, in columns of `logs`.
    """
    states = _States(spellings)
    ends = [states.ends(tuple(sentence.split())) for sentence in sentences]
    # A sound of no word is at each moment what it is most like, at a cost for each new phone.
    likeliest = logs.argmax(axis=1)
    begins = (likeliest != BLANK) & (likeliest != np.append(BLANK, likeliest[:-1]))
    no_word = logs.max(axis=1) - UNKNOWN_PHONE_COST * begins
    outputs = np.column_stack([logs, no_word]).astype(np.float32)
    before = states.before()
    # One more than there are states, never reached: what a state has no other before.
    reached = np.full(len(states.labels) + 1, NEVER, dtype=np.float32)
    reached[states.FIRST] = outputs[0, BLANK]
    for of_states in outputs[1:].take(states.labels, axis=1):
        np.add(reached.take(before).max(axis=0), of_states, out=reached[:-1])
    return [float(reached[of_sentence].max()) for of_sentence in ends]


class _States:
    """Phones and the blanks between them, each with the states that may come before it.

    Sentences that begin with the same words have the states of these in common.
    """

    # Every sound begins with a moment of quiet.
    FIRST = 0

    def __init__(self, spellings: Mapping[str, Sequence[Spelling]]) -> None:
        self._spellings = spellings
        self.labels: list[int] = []
        self._before: list[list[int]] = []
        self._ends: dict[tuple[str, ...], list[int]] = {(): [self._add(BLANK, [])]}

    def before(self) -> NDArray[np.intp]:
        """Return in the column of each state those it is reached from, itself among them."""
        filled = itertools.zip_longest(*self._before, fillvalue=len(self.labels))
        return np.array(list(filled), dtype=np.intp)

    def ends(self, words: tuple[str, ...]) -> list[int]:
        """Return the states that a sentence may end in; they are added if need be."""
        if words not in self._ends:
            before, word = self.ends(words[:-1]), words[-1]
            ways = [(_NO_WORD,)] if word == UNKNOWN else self._spellings[word]
            ends = [self._word(way, before) for way in ways]
            self._ends[words] = [self._add(BLANK, ends), *ends]
        return self._ends[words]

    def _word(self, phones: Spelling, before: list[int]) -> int:
        for place, phone in enumerate(phones):
            # The same phone twice is one phone, but for a blank between.
            state = self._add(phone, [b for b in before if self.labels[b] != phone])
            if place + 1 < len(phones):
                before = [self._add(BLANK, [state]), state]
        return state

    def _add(self, label: int, before: list[int]) -> int:
        self.labels.append(label)
        self._before.append([*before, len(self.labels) - 1])
        return len(self.labels) - 1
