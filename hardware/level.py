"""How loud the microphone's sound is, and whether the shop is quiet enough to listen openly."""

import math
from collections.abc import Sequence

import numpy as np

from assistant.ports import Sound

# Speech into a microphone set up well, on the scale below: common practice, no source.
SPEECH_DB = -20.0
# By how much speech must stand above the noise: open listening has nothing else to go by.
# Common practice, no source; the pedal still works with less.
OPEN_OVER_NOISE_DB = 20.0
PEDAL_OVER_NOISE_DB = 10.0
# No sound at all comes out as this.
SILENT_DB = -100.0


def level_db(sound: Sound) -> float:
    """Return the level of a sound in decibels; 0 is the loudest square wave there can be.

    20 log10(rms / 32768), the mean of the squares over all samples. A sine of full size is
    at -3.
    """
    samples = np.frombuffer(sound.samples, "<i2").astype(np.float64)
    if not samples.any():
        return SILENT_DB
    return 10 * math.log10(float(np.mean(samples**2)) / 32_768**2)


def floor_db(blocks: Sequence[Sound]) -> float:
    """Return the noise floor: the middle level of blocks taken while nobody speaks.

    A knock or a cough among them does not move it.
    """
    return float(np.median([level_db(block) for block in blocks]))


def meter(sound: Sound, columns: int = 20) -> str:
    """Return the level as a bar: none at -60 dB or less, all columns at 0."""
    share = min(max((level_db(sound) + 60) / 60, 0.0), 1.0)
    return ("#" * round(share * columns)).ljust(columns, ".")


def verdict(floor: float, speech: float = SPEECH_DB) -> str:
    """Return in a plain sentence how to listen over a noise floor, both in decibels."""
    over = speech - floor
    if over >= OPEN_OVER_NOISE_DB:
        return "quiet enough for open listening"
    if over >= PEDAL_OVER_NOISE_DB:
        return "too loud for open listening: use the pedal"
    return "too loud even for the pedal: speak closer to the microphone, or use the keys"
