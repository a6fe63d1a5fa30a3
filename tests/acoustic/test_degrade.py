"""Speech made worse by as much as is asked for, and the cepstra made from it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from grammars.acoustic.recipe import degrade
from grammars.acoustic.recipe.degrade import FULL_SCALE, Draws
from grammars.acoustic.recipe.features import Features
from grammars.acoustic.recipe.mfcc import Mfcc
from grammars.acoustic.recipe.speech import RATE_HZ

COUNT = 8_000
Sound = NDArray[np.float64]

seeds = st.integers(0, 10_000)
laws = settings(max_examples=8, deadline=None)


def speech(seed: int, windows: int = 2) -> Sound:
    """Return tones that come and go, with silence before and after."""
    rng = np.random.default_rng(seed)
    time = np.arange(COUNT) / RATE_HZ
    tone = np.sin(2 * np.pi * rng.uniform(100, 900, (windows, 1)) * time)
    loud = (time > 0.1) & (time < 0.45) & (np.sin(2 * np.pi * 9 * time) > 0)
    return np.asarray(3000 * tone * loud)


@laws
@given(seeds, st.floats(-3, 55))
def test_noise_is_as_far_below_the_speech_as_is_asked(seed: int, snr_db: float) -> None:
    clean = speech(seed)
    draws = Draws.of_numpy(seed)

    noisy = degrade.with_noise(draws, clean, degrade.noise(draws, 2, COUNT), snr_db)

    # The level of a tone that is heard half the time is that of the tone: 3000 / sqrt 2.
    below_db = 20 * np.log10(3000 / np.sqrt(2) / (noisy - clean).std(axis=1))
    assert below_db == pytest.approx(snr_db, abs=0.3)


@laws
@given(seeds)
def test_noise_is_even_from_window_to_window_and_never_the_same(seed: int) -> None:
    made = degrade.noise(Draws.of_numpy(seed), 3, COUNT)

    assert made.shape == (3, COUNT)
    assert made.std(axis=1) == pytest.approx(1)
    assert not np.allclose(made[0], made[1])


@laws
@given(seeds, st.floats(-28, -1))
def test_the_peak_is_where_it_is_asked_to_be(seed: int, peak_db: float) -> None:
    loud = degrade.at_level(Draws.of_numpy(seed), speech(seed), peak_db)

    assert 20 * np.log10(np.abs(loud).max(axis=1) / FULL_SCALE) == pytest.approx(peak_db)


@laws
@given(seeds, st.floats(0.3, 0.8))
def test_clipping_cuts_at_a_share_of_the_peak_and_touches_nothing_below(
    seed: int, share: float
) -> None:
    clean = speech(seed)
    most = share * np.abs(clean).max(axis=1, keepdims=True)

    cut = degrade.clipped(Draws.of_numpy(seed), clean, np.full((2, 1), share))

    assert np.abs(cut).max(axis=1, keepdims=True) == pytest.approx(most)
    assert (cut == np.where(np.abs(clean) > most, np.sign(clean) * most, clean)).all()


@laws
@given(seeds)
def test_a_telephone_lets_nothing_through_above_its_band(seed: int) -> None:
    hiss = np.random.default_rng(seed).standard_normal((4, COUNT))
    telephone = np.array([[True], [False], [True], [False]])

    through = degrade.line(Draws.of_numpy(seed), hiss, telephone)

    hz = np.fft.rfftfreq(COUNT, 1 / RATE_HZ)
    power = np.abs(np.fft.rfft(through)) ** 2
    above = power[:, hz > 4_300].sum(axis=1) / power.sum(axis=1)
    assert (above[[0, 2]] < 1e-4).all()
    assert (above[[1, 3]] > 1e-3).all()


@laws
@given(seeds)
def test_a_room_answers_after_the_sound_and_not_before(seed: int) -> None:
    knock = np.zeros((20, COUNT))
    knock[:, 4_000] = 1

    heard = degrade.rooms(Draws.of_numpy(seed), knock)

    assert np.abs(heard[:, :3_999]).max() < 1e-9
    assert heard[:, 4_000] == pytest.approx(1)
    in_a_room = np.abs(heard[:, 4_001:]).max(axis=1) > 1e-6
    assert 2 <= in_a_room.sum() <= 19


@laws
@given(seeds)
def test_all_of_it_keeps_the_length_and_fits_into_16_bits(seed: int) -> None:
    worse = degrade.degraded(Draws.of_numpy(seed), speech(seed, windows=8))

    assert worse.shape == (8, COUNT)
    assert np.abs(worse).max() < FULL_SCALE
    assert (np.abs(worse).max(axis=1) > 300).all()


def test_about_one_window_in_twenty_is_clipped() -> None:
    worse = np.abs(degrade.degraded(Draws.of_numpy(1), speech(1, windows=120)))

    at_the_most = (worse > worse.max(axis=1, keepdims=True) - 9).mean(axis=1)

    assert 2 <= (at_the_most > 0.005).sum() <= 12


def test_the_same_seed_makes_it_worse_in_the_same_way() -> None:
    one, other = (degrade.degraded(Draws.of_numpy(5), speech(1)) for _ in range(2))

    assert (one == other).all()


# Cepstra.


def test_windows_have_the_cepstra_of_the_decoder() -> None:
    sound = np.round(speech(3) + 20 * np.random.default_rng(0).standard_normal((2, COUNT)))

    rows = Features(Draws.of_numpy(0)).plain(sound)

    for got, window in zip(rows, sound, strict=True):
        assert got == pytest.approx(Mfcc().frames(window.astype(np.int16)), abs=1e-6)


def test_a_longer_mouth_moves_the_spectrum_and_none_leaves_it() -> None:
    whole, longer = Mfcc().filters(), Mfcc().filters(1.2)
    bins = np.arange(len(whole))[:, None]

    centre = (whole * bins).sum(axis=0) / whole.sum(axis=0)
    moved = (longer * bins).sum(axis=0) / np.maximum(longer.sum(axis=0), 1e-9)

    # A filter hears at 1 / 1.2 of the frequency what it heard before.
    assert moved[8:36] == pytest.approx(centre[8:36] / 1.2, abs=0.5)


@laws
@given(seeds)
def test_other_speakers_take_as_many_frames(seed: int) -> None:
    draws = Draws.of_numpy(seed)
    sound = speech(seed, windows=6) + 20 * np.random.default_rng(seed).standard_normal((6, COUNT))

    varied, plain = Features(draws).varied(sound), Features(draws).plain(sound)

    assert varied.shape == plain.shape
    assert np.isfinite(varied).all()
    assert not np.allclose(varied, plain)
