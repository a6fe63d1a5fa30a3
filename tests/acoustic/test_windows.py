"""What the network is told: the windows of speech, and which frame has which phone."""

import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grammars.acoustic.recipe.align import frame_labels, frames_in
from grammars.acoustic.recipe.export import EVERY
from grammars.acoustic.recipe.mfcc import Mfcc
from grammars.acoustic.recipe.phones import BLANK, OUTPUT
from grammars.acoustic.recipe.speech import RATE_HZ, Utterance
from grammars.acoustic.recipe.windows import Learnt, Shelves, rate_at

FOUR, OH = (("F", "AO", "R"), ("F", "AO")), (("OW",),)


def said(words: str, seconds: float, voice: str) -> Learnt:
    ways = tuple(FOUR if word == "four" else OH for word in words.split())
    samples = np.zeros(round(seconds * RATE_HZ), np.int16)
    return Learnt(Utterance(samples, tuple(words.split()), ways, voice))


SHELVES = {
    "people": [said("four oh times", s, "a person") for s in (0.4, 1.0, 2.5, 20.0)],
    "robots": [said("four", 0.5, "flite:slt"), said("long", 1.5, "kokoro:af_sky")],
}
SHARES = {"people": 75.0, "robots": 25.0}


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.floats(3, 12))
def test_utterances_follow_one_another_inside_the_window(seed: int, seconds: float) -> None:
    placed = Shelves(SHELVES, SHARES).window(random.Random(seed), seconds)

    assert placed
    ends = [each.start + each.count for each in placed]
    assert all(end < each.start for end, each in zip(ends, placed[1:], strict=False))
    assert ends[-1] < seconds * RATE_HZ
    for each in placed:
        long = len(each.learnt.utterance.samples)
        assert 0.78 <= long / each.count <= 1.29
        assert -8 <= each.gain_db <= 0


def test_shelves_are_heard_by_their_shares_and_nothing_too_long_is() -> None:
    rng = random.Random(1)
    picked = [Shelves(SHELVES, SHARES, short=0).pick(rng) for _ in range(2_000)]

    # A quarter of the people's picks, too long, are drawn again: 56.25 of 81.25.
    assert np.mean([each.is_by_people for each in picked]) == pytest.approx(0.692, abs=0.03)
    assert max(len(each.utterance.samples) for each in picked) == 2.5 * RATE_HZ


def test_short_words_are_heard_more_often_than_they_are_on_the_shelves() -> None:
    rng = random.Random(1)
    shelves = Shelves(SHELVES, {"people": 100.0}, short=100)

    lone = np.mean([shelves.pick(rng).utterance.words == ("four",) for _ in range(2_000)])

    # Nobody but a robot says it here: three of the ten picks of which seven are people's, and
    # of those a quarter, too long, are drawn again.
    assert lone == pytest.approx(3 / (3 + 7 * 0.75), abs=0.04)


def test_what_is_left_out_is_never_heard() -> None:
    wrong = said("oh", 0.5, "a person")
    wrong.is_left_out = True
    shelves = Shelves({"people": [wrong, said("four", 0.5, "a person")]}, {"people": 1.0})
    rng = random.Random(2)

    assert all(shelves.pick(rng) is not wrong for _ in range(200))


def test_words_are_said_as_chosen_nine_times_in_ten() -> None:
    learnt = said("four", 0.5, "a person")
    learnt.chosen = (FOUR[1],)
    rng = random.Random(3)

    chosen = np.mean([learnt.spellings(rng) == (FOUR[1],) for _ in range(2_000)])

    assert chosen == pytest.approx(0.95, abs=0.03)


def test_learning_rises_stays_and_falls() -> None:
    rates = [rate_at(step, 1_600) for step in range(1_600)]

    assert rates[0] == 1 / 200
    assert rates[199:560] == [1.0] * 361
    assert rates[1_080] == pytest.approx(0.505)
    assert rates[-1] == pytest.approx(0.01, abs=0.001)


# Labels.


@pytest.mark.parametrize("samples", [0, 399, 400, 879, 880, 881, 16_000, 128_000, 99_999])
def test_there_are_as_many_labels_as_the_network_has_outputs(samples: int) -> None:
    if samples < 400:
        assert frames_in(samples) == 0
    else:
        frames = Mfcc().frames(np.zeros(samples, np.int16))
        assert frames_in(samples) == len(frames[::EVERY])


spoken = st.lists(st.sampled_from([*FOUR, *OH]), min_size=1, max_size=6)


@settings(max_examples=60, deadline=None)
@given(spoken, st.floats(0, 2), st.integers(1, 9))
def test_every_phone_of_every_word_is_there_in_order(
    spellings: list[tuple[str, ...]], start_s: float, tenths: int
) -> None:
    # A tenth of a second or more for each word, a tenth between them.
    long_s = 0.1 * tenths
    times = [(n * (long_s + 0.1), n * (long_s + 0.1) + long_s) for n in range(len(spellings))]
    labels = frame_labels(spellings, times, frames_in(12 * RATE_HZ), start_s)

    changes = [
        label
        for before, label in zip([BLANK, *labels], labels, strict=False)
        if label not in (BLANK, before)
    ]

    assert changes == [OUTPUT[phone] for spelling in spellings for phone in spelling]


def test_a_phone_is_where_it_is_heard() -> None:
    labels = frame_labels([("F", "AO")], [(0.3, 0.6)], 100, start_s=1.0)

    # Outputs stand 30 ms apart, the first for the middle of the first frame, 12.5 ms.
    at = np.arange(100) * 0.03 + 0.0125
    assert np.abs(at[labels == OUTPUT["F"]] - 1.375).max() < 0.09
    assert np.abs(at[labels == OUTPUT["AO"]] - 1.525).max() < 0.09
    assert (labels != BLANK).sum() == 10


def test_a_phone_shorter_than_the_time_between_outputs_has_one_all_the_same() -> None:
    times = [(0.301 + 0.2 * n, 0.304 + 0.2 * n) for n in range(20)]

    labels = frame_labels([("OW",)] * 20, times, 200)

    assert (labels == OUTPUT["OW"]).sum() == 20


def test_only_short_words_are_cut_close_and_some_without_their_end() -> None:
    quiet, loud = np.zeros(RATE_HZ // 4, np.int16), np.full(RATE_HZ // 2, 9_000, np.int16)
    hissed = np.full(RATE_HZ // 5, 900, np.int16)
    sound, rng = np.concatenate([quiet, loud, hissed, quiet]), random.Random(3)

    def heard(words: str) -> set[int]:
        learnt = Learnt(Utterance(sound, tuple(words.split()), (), "someone"))
        shelves = Shelves({"people": [learnt]}, {"people": 1})
        return {len(shelves.pick(rng).utterance.samples) for _ in range(40)}

    for words in ("seven", "up down"):
        whole, cut, endless = len(sound), len(loud) + len(hissed), len(loud)
        assert heard(words) == {whole, cut + 160, endless + 160}
    for words in ("one two three", "half angle"):
        assert heard(words) == {len(sound)}
