"""Speech as another machine would say it: taken apart into pitch, spectrum and breath, and put
together again with less of each, as synthesisers do that speak out of few numbers.

python -m grammars.acoustic.recipe.vocoder SHELF ... --to SHELF --seconds 4300

So there are more kinds of machines to learn from than there are synthesisers, and they say what
people said, too. Needs pyworld-prebuilt, for the vocoder WORLD; eight times as fast as one speaks.
Every range is common practice, no source, and was used as it stands for the shipped networks.
"""

import argparse
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from grammars.acoustic.recipe.speech import (
    RATE_HZ,
    Samples,
    Utterance,
    read_shelf,
    trimmed,
    write_shelf,
)
from grammars.acoustic.recipe.windows import is_short

Floats = NDArray[np.float64]

_FULL_SCALE, _HISS = 32_768, 1e-5
# A vocoder rings a little after a word.
_LOUD = 0.01
_SHORTEST_S, _LONGEST_S = 0.125, 9.0
# How often a short word is said, whatever the shelves hold.
_SHORT_SHARE = 0.25
_LOWEST_HZ, _HIGHEST_HZ = 60, 420
_STEPS_A_NAT = 8
# An octave is counted from here on, and this smooths the edge of a narrow band.
_TILTED_FROM, _EDGE_HZ = 8, 120
_BEYOND_THE_BAND = 3 * np.log(10)


@dataclass(frozen=True, slots=True)
class Machine:
    """What is left of a voice.

    Args:
        moment_ms: How often it is told how to sound.
        melody: How much of the melody is left; none is a monotone.
        higher: The pitch, in natural logarithms.
        in_steps: Whether the pitch moves in steps.
        breath: What a share of breath becomes: this power of it, times the next.
        breathed: One of both is 1; None is a whisper.
        wider: How far the formants move.
        coefficients: How many numbers tell the spectrum, if it is told by few.
        sharper: How much more its peaks then stand out.
        smoothed: Over how many moments the spectrum is a mean.
        tilt_db: How much louder an octave is than the one below.
        band_hz: Where a narrow band ends.
        faster: Than it was said.
    """

    moment_ms: float
    melody: float
    higher: float
    in_steps: bool
    breath: float
    breathed: float | None
    wider: float
    coefficients: int | None
    sharper: float
    smoothed: int
    tilt_db: float
    band_hz: float | None
    faster: float

    @classmethod
    def drawn(cls, rng: random.Random) -> "Machine":
        """Return a machine."""
        moment_ms, luck = rng.choice([5.0, 5.0, 8.0, 10.0]), rng.random()
        breathed = None if luck < 0.08 else rng.uniform(0.02, 0.5) if luck < 0.5 else 1.0
        return cls(
            moment_ms=moment_ms,
            melody=rng.choice([0.0, rng.uniform(0.1, 0.5), rng.uniform(0.5, 1.6)]),
            higher=rng.uniform(-0.4, 0.4),
            in_steps=rng.random() < 0.2,
            breath=rng.uniform(0.3, 0.8) if 0.5 <= luck < 0.65 else 1.0,
            breathed=breathed,
            wider=rng.uniform(0.86, 1.17) if rng.random() < 0.7 else 1.0,
            coefficients=rng.randrange(14, 46) if rng.random() < 0.6 else None,
            sharper=rng.uniform(1.0, 1.35),
            smoothed=rng.randrange(2, int(60 / moment_ms)) if rng.random() < 0.5 else 1,
            tilt_db=rng.uniform(-5, 2) if rng.random() < 0.5 else 0.0,
            band_hz=rng.uniform(4000, 6500) if rng.random() < 0.25 else None,
            faster=rng.uniform(0.8, 1.25),
        )

    def pitch_hz(self, found_hz: Floats) -> Floats:
        """Return the pitch of each moment, 0 where there is none."""
        voiced = found_hz > 0
        if self.breathed is None or not voiced.any():
            return np.zeros_like(found_hz)
        logs = np.log(np.maximum(found_hz, 1))
        middle = logs[voiced].mean()
        moved = (logs - middle) * self.melody
        if self.in_steps:
            moved = np.round(moved * _STEPS_A_NAT) / _STEPS_A_NAT
        pitch = np.clip(np.exp(middle + moved + self.higher), _LOWEST_HZ, _HIGHEST_HZ)
        return np.where(voiced, pitch, 0.0)

    def breath_of(self, found: Floats) -> Floats:
        """Return the share of breath, by moment and frequency."""
        return np.clip(found**self.breath * (self.breathed or 1.0), 0, 1)

    def spectrum(self, logs: Floats) -> Floats:
        """Return the logarithm of the power, by moment and frequency."""
        at = np.arange(logs.shape[1])
        logs = np.array([np.interp(at / self.wider, at, row) for row in logs])
        if self.coefficients:
            told = np.fft.irfft(logs, axis=1)
            kept = np.zeros(told.shape[1])
            kept[: self.coefficients + 1] = kept[-self.coefficients :] = self.sharper
            kept[[0, 1, -1]] = 1  # how loud it is, and how dull
            logs = np.fft.rfft(told * kept, axis=1).real
        if self.smoothed > 1:
            before = self.smoothed // 2
            around = ((before, self.smoothed - 1 - before), (0, 0))
            sums = np.cumsum(np.pad(np.pad(logs, around, "edge"), ((1, 0), (0, 0))), axis=0)
            logs = (sums[self.smoothed :] - sums[: -self.smoothed]) / self.smoothed
        octaves = np.log2((at + _TILTED_FROM) / (8 * _TILTED_FROM))
        logs = logs + self.tilt_db * octaves * np.log(10) / 10
        if self.band_hz:
            hz = at * RATE_HZ / 2 / (len(at) - 1)
            logs = logs - _BEYOND_THE_BAND / (1 + np.exp((self.band_hz - hz) / _EDGE_HZ))
        return np.asarray(logs)


def said_by(machine: Machine, samples: Samples, hiss: np.random.Generator) -> Floats:
    """Return what a machine makes of speech."""
    import pyworld

    sound = samples / _FULL_SCALE + _HISS * hiss.standard_normal(len(samples))
    rough_hz, times = pyworld.dio(sound, RATE_HZ, frame_period=machine.moment_ms)
    pitch_hz = pyworld.stonemask(sound, rough_hz, times, RATE_HZ)
    power = pyworld.cheaptrick(sound, pitch_hz, times, RATE_HZ)
    breath = pyworld.d4c(sound, pitch_hz, times, RATE_HZ)
    parts: list[Any] = [
        machine.pitch_hz(pitch_hz),
        np.exp(machine.spectrum(np.log(power))),
        machine.breath_of(breath),
    ]
    parts = [np.ascontiguousarray(part) for part in parts]
    return np.asarray(pyworld.synthesize(*parts, RATE_HZ, machine.moment_ms / machine.faster))


def by_machines(
    shelf: Sequence[Utterance], seconds: float, rng: random.Random
) -> Iterator[Utterance]:
    """Say so many seconds of a shelf, each utterance by another machine."""
    fit = [e for e in shelf if _SHORTEST_S < len(e.samples) / RATE_HZ < _LONGEST_S]
    short = [each for each in fit if is_short(each)]
    hiss, done = np.random.default_rng(rng.randrange(2**32)), 0.0
    while done < seconds:
        each = rng.choice(short if short and rng.random() < _SHORT_SHARE else fit)
        sound = said_by(Machine.drawn(rng), each.samples, hiss)
        samples = trimmed(sound, _LOUD) if np.isfinite(sound).all() else None
        if samples is not None:
            done += len(samples) / RATE_HZ
            yield Utterance(samples, each.words, each.ways, f"vocoded:{each.voice}")


def main() -> None:
    """Say a part of some shelves anew."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("shelves", type=Path, nargs="+")
    parser.add_argument("--to", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=4300.0)
    parser.add_argument("--seed", type=int, default=11)
    given = parser.parse_args()
    shelf = [utterance for path in given.shelves for utterance in read_shelf(path)]
    spoken = by_machines(shelf, given.seconds, random.Random(given.seed))
    print(write_shelf(given.to, spoken), "utterances")


if __name__ == "__main__":
    main()
