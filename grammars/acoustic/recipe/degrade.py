"""Rooms, lines, machines and microphones: what becomes of speech before it is heard.

Many windows of sound at a time, each with its own luck. Written for arrays of numpy or of
torch: numpy for the tests, torch so that a GPU mixes as fast as it learns. Every range below
is common practice, no source, and was used as it stands for the shipped network.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from grammars.acoustic.recipe.speech import RATE_HZ

# Of numpy or torch: a row for each window.
Array = Any

FULL_SCALE = 32_767

# Up to which share of windows each range of noise goes, in dB below the speech.
NOISES_DB = ((0.3, 28, 55), (0.6, 12, 32), (1.0, -3, 20))
LOUDER_NOISES_DB = ((0.2, 28, 55), (0.45, 12, 32), (1.0, -5, 18))
_IN_A_ROOM, _ON_A_LINE, _NOISE_ON_THE_LINE, _CLIPPED = 0.55, 0.45, 0.7, 0.05
_BANDS_HZ = (0, 150, 400, 1000, 2500, 4500, 8000)
_HARMONICS, _WHINES, _KNOCK, _ROOM = 30, 3, 6_000, 8_000
_TINY = 1e-9


@dataclass(frozen=True, slots=True)
class Draws:
    """Random numbers as arrays of one kind.

    Args:
        xp: numpy or torch.
        uniform: From low, high and sizes to an array.
        normal: From sizes to an array.
        array: From an array of numpy to one of this kind.
        index: From an array to one of whole numbers, rounded down.
    """

    xp: Any
    uniform: Callable[..., Array]
    normal: Callable[..., Array]
    array: Callable[[NDArray[Any]], Array]
    index: Callable[[Array], Array]

    @classmethod
    def of_numpy(cls, seed: int) -> "Draws":
        """Return those that need nothing but numpy."""
        rng = np.random.default_rng(seed)
        return cls(
            xp=np,
            uniform=lambda low, high, *size: rng.uniform(low, high, size),
            normal=lambda *size: rng.standard_normal(size),
            array=np.asarray,
            index=lambda array: array.astype(int),
        )

    @classmethod
    def of_torch(cls, device: Any) -> "Draws":
        """Return those on a device of torch."""
        import torch

        return cls(
            xp=torch,
            uniform=lambda low, high, *n: low + (high - low) * torch.rand(*n, device=device),
            normal=lambda *n: torch.randn(*n, device=device),
            # Whole numbers stay so: they may be places.
            array=lambda values: torch.as_tensor(
                values.astype(np.float32) if values.dtype.kind == "f" else values, device=device
            ),
            index=lambda array: array.long(),
        )

    def chance(self, share: float, *size: int) -> Array:
        """Return true for about that share."""
        return self.uniform(0, 1, *size) < share


def degraded(
    draws: Draws, speech: Array, noises_db: Sequence[tuple[float, float, float]] = NOISES_DB
) -> Array:
    """Return speech as a microphone in a shop may have it, in whole samples of 16 bits."""
    windows, count = speech.shape
    on_a_line = draws.chance(_ON_A_LINE, windows, 1)
    heard = line(draws, rooms(draws, speech), on_a_line)
    machines = noise(draws, windows, count)
    machines = line(draws, machines, on_a_line & draws.chance(_NOISE_ON_THE_LINE, windows, 1))
    luck, snr_db = draws.uniform(0, 1, windows, 1), 0.0
    for below, low, high in reversed(noises_db):
        drawn = draws.uniform(low, high, windows, 1)
        snr_db = draws.xp.where(luck < below, drawn, snr_db + 0 * drawn)
    heard = with_noise(draws, heard, machines, snr_db)
    heard = at_level(draws, heard, draws.uniform(-28, -1, windows, 1))
    share = draws.uniform(0.3, 0.8, windows, 1)
    clips = draws.chance(_CLIPPED, windows, 1)
    heard = clipped(draws, heard, draws.xp.where(clips, share, 0 * share + 1))
    # The decoder adds as much, for the logarithm of silence.
    return draws.xp.round(heard) + draws.normal(windows, count)


def speech_level(draws: Draws, sound: Array) -> Array:
    """Return the root mean square of what is loud, so not of the pauses."""
    loud = abs(sound) > 0.03 * _peak(draws, sound)
    squares = (sound**2 * loud).sum(axis=1, keepdims=True)
    return (squares / (loud.sum(axis=1, keepdims=True) + 1)) ** 0.5


def with_noise(draws: Draws, speech: Array, machines: Array, snr_db: Array) -> Array:
    """Return speech with noise so many decibels below its level."""
    return speech + _even(machines) * speech_level(draws, speech) * 10 ** (-snr_db / 20)


def at_level(draws: Draws, sound: Array, peak_db: Array) -> Array:
    """Return sound whose peak is so many decibels above full scale, usually below it."""
    return sound * (10 ** (peak_db / 20) * FULL_SCALE / (_peak(draws, sound) + 1e-6))


def clipped(draws: Draws, sound: Array, share: Array) -> Array:
    """Return sound cut off at a share of its peak."""
    most = _peak(draws, sound) * share
    return draws.xp.maximum(draws.xp.minimum(sound, most), -most)


def noise(draws: Draws, windows: int, count: int) -> Array:
    """Return noise of machines, of standard deviation 1: hum, whine, hiss, knocks, in pieces."""

    def drawn(low: float, high: float) -> Array:
        return draws.uniform(low, high, windows, 1)

    sin, turn = draws.xp.sin, 2 * np.pi
    time_s = draws.array(np.arange(count) / RATE_HZ)[None]
    pitch_hz = drawn(40, 240)
    wobble = 1 + 0.01 * sin(turn * drawn(0.2, 3) * time_s)
    phase = turn * draws.xp.cumsum(pitch_hz * wobble, 1) / RATE_HZ
    falling = drawn(0.5, 1.5)
    hum = sum(
        drawn(0.2, 1) * k**-falling * sin(k * phase + drawn(0, 6.3)) * (k * pitch_hz < 7000)
        for k in range(1, _HARMONICS + 1)
    )
    made = draws.chance(0.55, windows, 1) * _even(hum)
    for _ in range(_WHINES):
        tone_hz, beat_hz = drawn(250, 4500), drawn(3, 60)
        beating = drawn(0.3, 3) * sin(turn * beat_hz * time_s)
        whine = sin(turn * tone_hz * time_s + beating) * (1 + 0.4 * sin(np.pi * beat_hz * time_s))
        made = made + draws.chance(0.3, windows, 1) * drawn(0.2, 1.2) * whine
    made = _even(made + _hiss(draws, windows, count, drawn(-0.4, 2.2)) * drawn(0.2, 1.8))
    knocks = _knocks(draws, windows, count)
    made = made + draws.chance(0.35, windows, 1) * knocks
    on = sin(turn * drawn(0.1, 4) * time_s + drawn(0, 6)) > drawn(-0.6, 0.6)
    pieces = made * (0.25 + 0.75 * on)
    return _even(draws.xp.where(draws.chance(0.2, windows, 1), pieces, made))


def rooms(draws: Draws, sound: Array) -> Array:
    """Return sound with a decaying echo in some of the windows, and a few early ones."""
    windows = len(sound)
    at = draws.array(np.arange(_ROOM))[None]
    # 60 dB down, a factor of exp(-6.9), after the time of reverberation.
    decay = draws.xp.exp(-6.9 * at / RATE_HZ / draws.uniform(0.06, 0.55, windows, 1))
    late = at > draws.uniform(8, 90, windows, 1)
    echo = draws.normal(windows, _ROOM) * decay * late
    echo = echo / ((echo**2).sum(axis=1, keepdims=True) ** 0.5 + _TINY)
    echo = echo * draws.uniform(0.05, 0.95, windows, 1)
    for _ in range(4):
        when = draws.index(draws.uniform(8, 600, windows, 1))
        strength = draws.uniform(-0.5, 0.5, windows, 1) * draws.chance(0.6, windows, 1)
        echo = echo + (at == when) * strength
    echo = echo * (at > 0) + (at == 0)
    heard = _convolved(draws, sound, echo)
    return draws.xp.where(draws.chance(_IN_A_ROOM, windows, 1), heard, sound)


def line(draws: Draws, sound: Array, telephone: Array) -> Array:
    """Return sound through a microphone that favours some bands, and some of it a telephone."""
    windows, count = sound.shape
    xp = draws.xp
    hz = draws.array(np.fft.rfftfreq(count, 1 / RATE_HZ))[None]
    gains_db = 3.5 * draws.normal(windows, len(_BANDS_HZ)) * draws.chance(0.75, windows, 1)
    curve = 10 ** (gains_db @ draws.array(_between_bands(count)) / 20)
    dull = draws.chance(0.25, windows, 1)
    high_hz = xp.where(dull, draws.uniform(4800, 7800, windows, 1), draws.array(np.array(9000.0)))
    high_hz = xp.where(telephone, draws.uniform(3300, 4000, windows, 1), high_hz)
    thin = telephone & draws.chance(0.5, windows, 1)
    low_hz = xp.where(thin, draws.uniform(20, 320, windows, 1), draws.array(np.array(-200.0)))
    curve = curve / (1 + xp.exp((hz - high_hz) / 40)) / (1 + xp.exp((low_hz - hz) / 20))
    return xp.fft.irfft(xp.fft.rfft(sound) * curve, count)


@cache
def _between_bands(count: int) -> NDArray[np.float64]:
    """Return how much of each band's gain each frequency of the spectrum has."""
    hz = np.fft.rfftfreq(count, 1 / RATE_HZ)
    return np.array([np.interp(hz, _BANDS_HZ, band) for band in np.eye(len(_BANDS_HZ))])


def _hiss(draws: Draws, windows: int, count: int, steepness: Array) -> Array:
    """Return noise whose power falls with the frequency to that power."""
    order = draws.array(np.arange(count // 2 + 1) + 1.0)[None]
    spectrum = draws.xp.fft.rfft(draws.normal(windows, count)) * order ** (-steepness / 2)
    return _even(draws.xp.fft.irfft(spectrum, count))


def _knocks(draws: Draws, windows: int, count: int) -> Array:
    at = draws.array(np.arange(_KNOCK))[None]
    ring = draws.xp.sin(2 * np.pi * draws.uniform(300, 6000, windows, 1) * at / RATE_HZ)
    thud = draws.normal(windows, _KNOCK) * draws.uniform(0, 1, windows, 1) + ring
    thud = thud * draws.xp.exp(-at / draws.uniform(40, 1200, windows, 1))
    often = draws.uniform(0, 10 / count, windows, 1)
    blows = (draws.uniform(0, 1, windows, count) < often) * draws.uniform(0.3, 8.3, windows, count)
    return _convolved(draws, blows, thud)


def _convolved(draws: Draws, sound: Array, response: Array) -> Array:
    count, fft = sound.shape[1], draws.xp.fft
    room = count + response.shape[1]
    return fft.irfft(fft.rfft(sound, room) * fft.rfft(response, room), room)[:, :count]


def _even(sound: Array) -> Array:
    return sound / (sound.std(axis=1, keepdims=True) + _TINY)


def _peak(draws: Draws, sound: Array) -> Array:
    return draws.xp.amax(abs(sound), axis=1, keepdims=True)
