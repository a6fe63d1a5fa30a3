"""The best path of a sentence's phones through what a network says."""

import itertools
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hardware.phone_paths import UNKNOWN_PHONE_COST, Floats, Spelling, best_paths

# The blank and three phones; "one" is said in two ways.
SPELLINGS: dict[str, list[Spelling]] = {"one": [(1, 2), (2,)], "two": [(3,)], "three": [(3, 3)]}
MOMENTS = 7


def by_trying(logs: Floats, sentence: Sequence[str]) -> float:
    """Return the best path as the definition has it: by trying every one."""
    chosen = itertools.product(*(SPELLINGS[word] for word in sentence))
    ways = [tuple(itertools.chain.from_iterable(way)) for way in chosen]
    best = -np.inf
    for path in itertools.product(range(4), repeat=len(logs)):
        phones = tuple(label for label, _ in itertools.groupby(path) if label)
        if path[0] == 0 and phones in ways:
            best = max(best, float(sum(logs[moment, p] for moment, p in enumerate(path))))
    return best


def said(seed: int, moments: int = MOMENTS) -> Floats:
    return np.log(np.random.default_rng(seed).dirichlet(np.ones(4), moments))


@settings(max_examples=15, deadline=None)
@given(
    st.integers(0, 10_000),
    st.lists(st.sampled_from(sorted(SPELLINGS)), min_size=1, max_size=3),
)
def test_the_best_path_is_the_best_of_all_paths(seed: int, words: list[str]) -> None:
    logs = said(seed)

    (found,) = best_paths(logs, [" ".join(words)], SPELLINGS)

    wanted = by_trying(logs, words)
    if np.isinf(wanted):  # more phones than moments
        assert found < -1e20
    else:
        assert found == pytest.approx(wanted)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000))
def test_sentences_are_weighed_beside_one_another_as_each_alone(seed: int) -> None:
    sentences = [
        "one",
        "two three",
        "[unk] two",
        "three one",
        "two",
        "two three one",
        "two one",
        "",
    ]

    together = best_paths(said(seed, 12), sentences, SPELLINGS)

    assert together == [best_paths(said(seed, 12), [each], SPELLINGS)[0] for each in sentences]


def test_a_sound_of_no_word_costs_its_phones() -> None:
    sure = np.full((6, 4), -20.0)
    for moment, label in enumerate((0, 1, 1, 0, 3, 0)):
        sure[moment, label] = 0.0

    word, no_word = best_paths(sure, ["one two", "[unk]"], SPELLINGS | {"one": [(1,)]})

    assert word == 0
    assert no_word == -2 * UNKNOWN_PHONE_COST
