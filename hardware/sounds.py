"""Sound cut into blocks, brought to another rate or loudness, trimmed."""

from collections.abc import Iterator

import numpy as np

from assistant.errors import OutOfRange
from assistant.ports import Sound

# A reply to the pedal waits for the end of a block: half of this on the average.
BLOCK_S = 0.05

# espeak ends with about 0.3 s of silence; a reply without it feels prompt.
QUIETEST_SHARE = 0.005
TAIL_S = 0.03


def blocks(sound: Sound) -> Iterator[Sound]:
    """Return the sound in blocks of BLOCK_S; the last may be shorter."""
    size = 2 * round(BLOCK_S * sound.rate_hz)
    for start in range(0, len(sound.samples), size):
        yield Sound(sound.rate_hz, sound.samples[start : start + size])


def at_rate(sound: Sound, rate_hz: int) -> Sound:
    """Return the sound at another rate, by straight lines between its samples.

    Good enough to listen to; downwards it folds high tones back, so no recogniser gets it.
    """
    if sound.rate_hz == rate_hz or not sound.samples:
        return Sound(rate_hz, sound.samples)
    samples = np.frombuffer(sound.samples, "<i2")
    wanted = np.arange(round(len(samples) * rate_hz / sound.rate_hz)) * sound.rate_hz / rate_hz
    between = np.interp(wanted, np.arange(len(samples)), samples)
    return Sound(rate_hz, between.round().astype("<i2").tobytes())


def at_loudness(sound: Sound, share: float) -> Sound:
    """Return the sound with every sample at that share of its size.

    Raises:
        OutOfRange: The share is not more than 0 and at most 1.
    """
    if not 0 < share <= 1:
        raise OutOfRange("loudness", share, "more than 0 and at most 1")
    if share == 1:
        return sound
    samples = np.frombuffer(sound.samples, "<i2") * share
    return Sound(sound.rate_hz, samples.round().astype("<i2").tobytes())


def trimmed(sound: Sound) -> Sound:
    """Return the sound without the silence at its end, but for a short tail."""
    # 32 bits, because the loudness of -32768 is no 16-bit number.
    loudness = np.abs(np.frombuffer(sound.samples, "<i2").astype(np.int32))
    if not loudness.any():
        return sound
    last = int(np.flatnonzero(loudness > QUIETEST_SHARE * loudness.max())[-1])
    end = last + 1 + round(TAIL_S * sound.rate_hz)
    return Sound(sound.rate_hz, sound.samples[: 2 * end])
