"""The likeliest words through what a network says, by the pairs expected."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hardware.phone_paths import Floats, Spelling, best_paths
from hardware.word_chains import PHONE_GAIN, WordChains, WordPairs

# The blank and three phones. No word begins with a phone that one ends with.
SPELLINGS: dict[str, list[Spelling]] = {"one": [(1, 2)], "two": [(1, 3)], "three": [(1, 1, 3)]}


def cost(pairs: WordPairs, sentence: str) -> float:
    """Return what the pairs of a sentence come to."""
    words = [pairs.words.index(word) for word in sentence.split()]
    edge = len(pairs.words)
    return float(sum(pairs.logs[pair] for pair in itertools.pairwise([edge, *words, edge])))


def said(seed: int) -> Floats:
    return np.log(np.random.default_rng(seed).dirichlet(np.full(4, 2.0), 9))


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000))
def test_the_likeliest_is_the_likeliest_of_all_sentences(seed: int) -> None:
    logs = said(seed)
    pairs = WordPairs(["one two", "two three one", "three"])
    lengths = range(1, 6)
    every = [" ".join(s) for n in lengths for s in itertools.product(SPELLINGS, repeat=n)]

    def likely(sentence: str) -> float:
        (fit,) = best_paths(logs, [sentence], SPELLINGS)
        phones = sum(len(SPELLINGS[word][0]) for word in sentence.split())
        return fit + PHONE_GAIN * phones + cost(pairs, sentence)

    proposed = WordChains(pairs, SPELLINGS).likeliest(logs, 3)

    found = [likely(sentence) for sentence in proposed]
    assert found[0] == pytest.approx(max(map(likely, every)))
    assert found == sorted(found, reverse=True)


def test_each_proposal_ends_in_another_word() -> None:
    pairs = WordPairs(["one", "two", "three"])

    proposed = WordChains(pairs, SPELLINGS).likeliest(said(1), 3)

    assert sorted(sentence.split()[-1] for sentence in proposed) == ["one", "three", "two"]


def test_a_pair_that_is_expected_is_likelier_than_one_that_is_not() -> None:
    pairs = WordPairs(["one two", "three one"])

    assert cost(pairs, "one two") > cost(pairs, "one three")


def test_a_word_that_is_not_expected_is_not_proposed() -> None:
    pairs = WordPairs(["one two"])

    proposed = WordChains(pairs, SPELLINGS).likeliest(said(2), 3)

    assert "three" not in " ".join(proposed).split()


def test_long_blanks_change_no_proposal() -> None:
    sure = np.full((10, 4), -20.0)
    for moment, label in enumerate((0, 0, 0, 1, 2, 0, 0, 1, 3, 0)):
        sure[moment, label] = 0.0
    pairs = WordPairs(["one two", "two one"])

    assert WordChains(pairs, SPELLINGS).likeliest(sure, 1) == ["one two"]


def test_a_word_is_proposed_in_whichever_way_it_is_said() -> None:
    ways = {**SPELLINGS, "one": [(1, 2), (2, 2), (2, 3, 1)]}
    pairs = WordPairs(["one two", "two one"])
    for way in ways["one"]:
        labels = (0, *(each for phone in way for each in (phone, 0)), 1, 3, 0)
        sure = np.full((len(labels), 4), -20.0)
        sure[np.arange(len(labels)), labels] = 0.0

        assert WordChains(pairs, ways).likeliest(sure, 1) == ["one two"]
