"""Noise of machines and of a shop, the same for the same seed.

`noise` is hum, whine, hiss and knocks, mixed; SHOP is what else goes on, each by its name.
"""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from assistant.ports import Sound

Samples = NDArray[np.float64]
Random = np.random.Generator


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


def shop_noise(kind: str, count: int, rate_hz: int, seed: int) -> Samples:
    """Return noise of a kind in SHOP over a quiet machine, of standard deviation 1."""
    made = SHOP[kind](count, rate_hz, np.random.default_rng(seed))
    made += 0.05 * noise(count, rate_hz, seed)
    return np.asarray(made / made.std())


def babble(speech: Sequence[Samples], count: int, rate_hz: int, seed: int) -> Samples:
    """Return voices on top of each other through a small loudspeaker, of standard deviation 1."""
    rng = np.random.default_rng(seed)
    made = np.zeros(count)
    for _ in range(3):
        talk = np.concatenate([speech[n] for n in rng.permutation(len(speech))])
        made += np.roll(np.resize(talk, count), int(rng.integers(count)))
    made = _between(made, rate_hz, 300, 3400)
    return np.asarray(made / made.std())


def _interrupted_cut(count: int, rate_hz: int, rng: Random) -> Samples:
    """A keyway or a flat going round: a burst and a ring at every turn."""
    turn = int(rate_hz / rng.uniform(3, 20))
    burst = _coloured(turn, rng) * np.exp(-np.arange(turn) / (turn * rng.uniform(0.1, 0.4)))
    burst += _ring(turn, rate_hz, rng, rng.uniform(300, 2500), 0.02)
    return np.resize(burst, count) * (0.8 + 0.2 * rng.standard_normal(count))


def _hammering(count: int, rate_hz: int, rng: Random) -> Samples:
    made, at = np.zeros(count), 0
    while at < count:
        length = min(rate_hz, count - at)
        made[at : at + length] += rng.uniform(0.3, 1) * _ring(
            length, rate_hz, rng, rng.uniform(400, 4000), rng.uniform(0.02, 0.3)
        )
        # A few blows, then a look at the work.
        at += int(rate_hz * (rng.uniform(0.25, 0.8) if rng.random() < 0.8 else rng.uniform(1, 4)))
    return made


def _compressor(count: int, rate_hz: int, rng: Random) -> Samples:
    """Strokes and hum that come and go."""
    time_s = np.arange(count) / rate_hz
    strokes = np.maximum(0, np.sin(2 * np.pi * rng.uniform(8, 25) * time_s)) ** 3
    runs = np.sin(2 * np.pi * time_s / rng.uniform(8, 30) + rng.uniform(0, 6.3)) > -0.3
    return np.asarray(runs * (strokes * _coloured(count, rng) + 0.5 * np.sin(628.3 * time_s)))


def _air_gun(count: int, rate_hz: int, rng: Random) -> Samples:
    hiss = _between(rng.standard_normal(count), rate_hz, rng.uniform(800, 2500), rate_hz / 2)
    gate, at = np.zeros(count), 0
    while at < count:
        length = int(rate_hz * rng.uniform(0.1, 1.5))
        gate[at : at + length] = rng.uniform(0.3, 1)
        at += length + int(rate_hz * rng.uniform(0.1, 2))
    # A valve takes some hundredths of a second.
    soft = np.hanning(rate_hz // 25)
    return np.asarray(hiss * np.convolve(gate, soft / soft.sum(), "same"))


def _dropped_bars(count: int, rate_hz: int, rng: Random) -> Samples:
    made = np.zeros(count)
    for _ in range(max(1, count // rate_hz // 2)):
        at = int(rng.integers(count))
        for bounce in range(6):
            start = at + int(rate_hz * 0.25 * (1 - 0.6**bounce))
            length = min(rate_hz // 2, count - start)
            if length > 0:
                made[start : start + length] += 0.6**bounce * _ring(
                    length, rate_hz, rng, rng.uniform(800, 5000), 0.1
                )
    return made


def _radio_music(count: int, rate_hz: int, rng: Random) -> Samples:
    """A tune of a few notes with overtones, over a beat."""
    made, note = np.zeros(count), int(rate_hz * rng.uniform(0.2, 0.5))
    for at in range(0, count, note):
        length = min(note, count - at)
        time_s = np.arange(length) / rate_hz
        pitch_hz = 110 * 2 ** (rng.integers(0, 30) / 12)
        sounded = sum(np.sin(2 * np.pi * k * pitch_hz * time_s) / k for k in range(1, 8))
        made[at : at + length] += sounded * np.exp(-time_s * 3)
        beat = min(length, rate_hz // 20)
        made[at : at + beat] += rng.standard_normal(beat) * np.exp(-np.arange(beat) / 200)
    return _between(made, rate_hz, 200, 5000)


SHOP: dict[str, Callable[[int, int, Random], Samples]] = {
    "interrupted cut": _interrupted_cut,
    "hammering": _hammering,
    "compressor": _compressor,
    "air gun": _air_gun,
    "dropped bars": _dropped_bars,
    "music": _radio_music,
}


def _ring(count: int, rate_hz: int, rng: Random, lowest_hz: float, fade_s: float) -> Samples:
    """A struck piece of metal: tones that fit no scale, fading."""
    time_s = np.arange(count) / rate_hz
    tones = lowest_hz * np.cumprod([1.0, *rng.uniform(1.2, 1.9, 4)])
    heard = tones[tones < rate_hz / 2]
    ringing = sum(np.sin(2 * np.pi * tone * time_s) / (n + 1) for n, tone in enumerate(heard))
    return np.asarray(ringing * np.exp(-time_s / fade_s))


def _between(samples: Samples, rate_hz: int, low_hz: float, high_hz: float) -> Samples:
    spectrum = np.fft.rfft(samples)
    tones_hz = np.fft.rfftfreq(len(samples), 1 / rate_hz)
    spectrum[(tones_hz < low_hz) | (tones_hz > high_hz)] = 0
    return np.asarray(np.fft.irfft(spectrum, len(samples)))


def _coloured(count: int, rng: Random) -> Samples:
    spectrum = np.fft.rfft(rng.standard_normal(count))
    spectrum *= np.arange(1, len(spectrum) + 1) ** (-rng.uniform(-0.3, 2) / 2)
    made = np.fft.irfft(spectrum, count)
    return np.asarray(made / made.std())
