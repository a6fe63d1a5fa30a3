"""What a machine that speaks out of few numbers leaves of a voice."""

import random
from dataclasses import replace

import numpy as np

from grammars.acoustic.recipe.vocoder import Machine

PLAIN = Machine(5, 1, 0, False, 1, 1, 1, None, 1, 1, 0, None, 1)
FOUND_HZ = np.array([0.0, 100.0, 120.0, 144.0, 0.0])


def test_a_machine_that_leaves_everything_changes_nothing() -> None:
    logs = np.random.default_rng(1).standard_normal((9, 257))

    assert np.allclose(PLAIN.pitch_hz(FOUND_HZ), FOUND_HZ)
    assert np.allclose(PLAIN.spectrum(logs), logs)
    assert np.allclose(PLAIN.breath_of(np.array([0.2, 0.9])), [0.2, 0.9])


def test_a_monotone_has_one_pitch_where_the_voice_had_any() -> None:
    monotone = replace(PLAIN, melody=0, higher=np.log(2)).pitch_hz(FOUND_HZ)

    assert np.allclose(monotone, [0, 240, 240, 240, 0])


def test_a_whisper_has_no_pitch() -> None:
    assert not replace(PLAIN, breathed=None).pitch_hz(FOUND_HZ).any()


def test_formants_move_and_peaks_are_told_by_few_numbers() -> None:
    at = np.arange(257)
    peak = np.exp(-(((at - 60) / 4) ** 2))[None]

    assert replace(PLAIN, wider=1.15).spectrum(peak).argmax() == 69
    dull = replace(PLAIN, coefficients=14).spectrum(peak)
    sharper = replace(PLAIN, coefficients=14, sharper=1.3).spectrum(peak)
    assert abs(dull.argmax() - 60) <= 1
    assert np.ptp(dull) < np.ptp(sharper) < np.ptp(peak)


def test_a_spectrum_moves_no_faster_than_it_is_smoothed() -> None:
    logs = np.zeros((20, 257))
    logs[10:] = 6

    smoothed = replace(PLAIN, smoothed=6).spectrum(logs)

    assert np.allclose(np.diff(smoothed, axis=0).max(), 1)
    assert len(smoothed) == 20
    assert smoothed[0, 0] == 0
    assert smoothed[-1, 0] == 6


def test_a_narrow_band_ends_and_a_tilt_is_so_much_an_octave() -> None:
    flat = np.zeros((1, 513))

    narrow = replace(PLAIN, band_hz=4000).spectrum(flat)[0]
    assert abs(narrow[200]) < 0.01
    assert narrow[400] < -6
    tilted = replace(PLAIN, tilt_db=-3).spectrum(flat)[0]
    # 504 + 8 is an octave above 248 + 8.
    assert np.isclose((tilted[504] - tilted[248]) * 10 / np.log(10), -3)


def test_machines_differ_and_stay_within_what_a_mouth_can() -> None:
    rng = random.Random(3)
    machines = [Machine.drawn(rng) for _ in range(500)]

    assert 20 < sum(each.breathed is None for each in machines) < 65
    for each in machines:
        pitch_hz = each.pitch_hz(FOUND_HZ)[1:4]
        assert each.breathed is None or 60 <= pitch_hz.min() <= pitch_hz.max() <= 420
        assert 0.86 <= each.wider <= 1.17
        assert each.smoothed <= 11
