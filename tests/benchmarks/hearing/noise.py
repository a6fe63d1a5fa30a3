"""Machine-like noise, the same for the same seed: hum, whine, hiss and knocks."""

import numpy as np
from numpy.typing import NDArray

from assistant.ports import Sound

Samples = NDArray[np.float64]


def noise(count: int, rate_hz: int, seed: int) -> Samples:
    """Return noise of standard deviation 1."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(count) / rate_hz
    kind = rng.integers(4)
    made = _coloured(count, rng) * rng.uniform(0.3, 1.5)
    if kind in (0, 2):
        wobble = 1 + 0.01 * np.sin(2 * np.pi * rng.uniform(0.2, 3) * time_s)
        phase = 2 * np.pi * np.cumsum(rng.uniform(45, 220) * wobble) / rate_hz
        falling = rng.uniform(0.6, 1.5)
        made += sum(np.sin(k * phase + rng.uniform(0, 6.3)) / k**falling for k in range(1, 25))
    if kind in (1, 2):
        pitch_hz, beat_hz = rng.uniform(300, 3500), rng.uniform(5, 40)
        made += np.sin(2 * np.pi * pitch_hz * time_s + 2 * np.sin(2 * np.pi * beat_hz * time_s))
    if kind == 3:
        for _ in range(max(1, round(2 * count / rate_hz))):
            start = int(rng.integers(count))
            length = min(count - start, rate_hz // 5)
            fade = np.exp(-np.arange(length) / rng.uniform(60, 900))
            made[start : start + length] += rng.uniform(2, 8) * fade * rng.standard_normal(length)
    return np.asarray(made / made.std())


def with_noise(sound: Sound, snr_db: float | None, seed: int) -> Sound:
    """Return the sound with noise so many decibels below its speech; None adds none."""
    if snr_db is None:
        return sound
    clean = np.frombuffer(sound.samples, "<i2").astype(np.float64)
    # The level of the speech, not of the pauses between.
    loud = clean[np.abs(clean) > 0.03 * np.abs(clean).max()]
    level = np.sqrt(np.mean(loud**2)) * 10 ** (-snr_db / 20)
    mixed = clean + level * noise(len(clean), sound.rate_hz, seed)
    mixed *= min(1.0, 30_000 / np.abs(mixed).max())
    return Sound(sound.rate_hz, np.round(mixed).astype("<i2").tobytes())


def _coloured(count: int, rng: np.random.Generator) -> Samples:
    spectrum = np.fft.rfft(rng.standard_normal(count))
    spectrum *= np.arange(1, len(spectrum) + 1) ** (-rng.uniform(-0.3, 2) / 2)
    made = np.fft.irfft(spectrum, count)
    return np.asarray(made / made.std())
