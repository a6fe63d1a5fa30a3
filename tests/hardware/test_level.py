"""The level of the microphone's sound, and what it says about the shop."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.ports import Sound
from hardware.level import SILENT_DB, floor_db, level_db, meter, verdict


def sine(peak: float, seconds: float = 0.1) -> Sound:
    at = np.arange(round(16_000 * seconds))
    return Sound(16_000, (peak * np.sin(2 * math.pi * at / 16)).round().astype("<i2").tobytes())


def square(size: int) -> Sound:
    return Sound(16_000, np.array([size, -size] * 800, "<i2").tobytes())


# Worked by hand: a square wave is 20 log10 of its size, a sine 3.01 below that.
LEVELS = [
    (square(32_767), 0.0),
    (square(3_277), -20.0),
    (square(33), -59.94),
    (sine(32_767), -3.01),
    (sine(3_276.8), -23.01),
]


@pytest.mark.parametrize(("sound", "level"), LEVELS)
def test_the_level_is_the_mean_square_in_decibels(sound: Sound, level: float) -> None:
    assert level_db(sound) == pytest.approx(level, abs=0.01)


@given(st.floats(1_000, 30_000))
def test_half_the_size_is_six_decibels_less(peak: float) -> None:
    assert level_db(sine(peak)) - level_db(sine(peak / 2)) == pytest.approx(6.02, abs=0.05)


@pytest.mark.parametrize("samples", [b"", bytes(200)])
def test_no_sound_has_the_lowest_level(samples: bytes) -> None:
    assert level_db(Sound(16_000, samples)) == SILENT_DB


def test_a_knock_does_not_move_the_noise_floor() -> None:
    quiet = [sine(100)] * 9

    assert floor_db([*quiet, sine(30_000)]) == pytest.approx(level_db(sine(100)))


@pytest.mark.parametrize(
    ("size", "bar"),
    [(0, "." * 20), (33, "." * 20), (1_036, "#" * 10 + "." * 10), (32_767, "#" * 20)],
)
def test_the_meter_shows_the_level_as_a_bar(size: int, bar: str) -> None:
    assert meter(square(size)) == bar


@pytest.mark.parametrize(
    ("floor", "speech", "words"),
    [
        (-50, -20, "quiet enough for open listening"),
        (-40, -20, "quiet enough for open listening"),
        (-39, -20, "too loud for open listening: use the pedal"),
        (-30, -20, "too loud for open listening: use the pedal"),
        (-29, -20, "too loud even for the pedal"),
        (-50, -35, "too loud for open listening: use the pedal"),
    ],
)
def test_the_verdict_is_plain(floor: float, speech: float, words: str) -> None:
    assert verdict(floor, speech).startswith(words)
