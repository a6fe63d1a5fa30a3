"""The front end: sound to cepstra, as the decoder of the speech model makes them.

The equations are Kaldi's, without its dither: frames of 25 ms every 10 ms, pre-emphasis, a
Povey window, power spectrum, triangular mel filters, logarithm, cosine transform, lifter.
Source: Kaldi, feat/feature-window.cc, mel-computations.cc and feature-mfcc.cc, from memory;
checked against what vosk computes by tests/acoustic/test_export.py.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Frames = NDArray[np.float64]

_FRAME_S, _SHIFT_S = 0.025, 0.010
_LIFTER, _POVEY = 22.0, 0.85
PRE_EMPHASIS = 0.97
LEAST_POWER = float(np.finfo(np.float32).eps)


@dataclass(frozen=True, slots=True)
class Mfcc:
    """The settings that a model chooses, and the cepstra they give."""

    rate_hz: float = 16_000
    mel_bins: int = 40
    cepstra: int = 40
    low_hz: float = 20
    high_hz: float = 7_600

    @classmethod
    def of_model(cls, directory: Path) -> "Mfcc":
        """Return the settings in a model's conf/mfcc.conf."""
        chosen = options(directory / "conf" / "mfcc.conf")
        return cls(
            rate_hz=float(chosen["sample-frequency"]),
            mel_bins=int(chosen["num-mel-bins"]),
            cepstra=int(chosen["num-ceps"]),
            low_hz=float(chosen["low-freq"]),
            high_hz=float(chosen["high-freq"]),
        )

    @property
    def width(self) -> int:
        """Samples in a frame."""
        return round(_FRAME_S * self.rate_hz)

    @property
    def shift(self) -> int:
        """Samples from one frame to the next."""
        return round(_SHIFT_S * self.rate_hz)

    @property
    def padded(self) -> int:
        """Samples that the spectrum is taken of."""
        return 1 << (self.width - 1).bit_length()

    def frames(self, samples: NDArray[np.int16]) -> Frames:
        """Return a row of cepstra for each whole frame; samples are at rate_hz."""
        framed = np.lib.stride_tricks.sliding_window_view(samples.astype(float), self.width)
        framed = framed[:: self.shift]
        framed = framed - framed.mean(axis=1, keepdims=True)
        # The first sample has itself before it.
        framed = framed - PRE_EMPHASIS * np.hstack([framed[:, :1], framed[:, :-1]])
        power = np.abs(np.fft.rfft(framed * self.window(), self.padded)) ** 2
        mel = np.log(np.maximum(power[:, :-1] @ self.filters(), LEAST_POWER))
        return np.asarray(mel @ self.cosines())

    def window(self) -> Frames:
        """Return how much each sample of a frame counts."""
        turns = np.arange(self.width) / (self.width - 1)
        return np.asarray((0.5 - 0.5 * np.cos(2 * np.pi * turns)) ** _POVEY)

    def filters(self, stretch: float = 1.0) -> Frames:
        """Return how much of each bin of the spectrum goes into each mel bin.

        Args:
            stretch: Of the frequencies: more than 1 makes the speaker's mouth longer.
        """
        edges = np.linspace(_mel(self.low_hz), _mel(self.high_hz), self.mel_bins + 2)
        hz = np.arange(self.padded // 2) * self.rate_hz / self.padded
        at = _mel(hz * stretch)[:, None]
        rising = (at - edges[:-2]) / (edges[1:-1] - edges[:-2])
        falling = (edges[2:] - at) / (edges[2:] - edges[1:-1])
        return np.maximum(0, np.minimum(rising, falling))

    def cosines(self) -> Frames:
        """Return the transform from mel bins to cepstra, lifter included."""
        order = np.arange(self.cepstra)
        cosines = np.cos(np.pi / self.mel_bins * np.outer(np.arange(self.mel_bins) + 0.5, order))
        cosines *= np.sqrt(np.where(order, 2, 1) / self.mel_bins)
        return np.asarray(cosines * (1 + _LIFTER / 2 * np.sin(np.pi * order / _LIFTER)))


def options(path: Path) -> dict[str, str]:
    """Return the options of one of a model's files of options."""
    lines = path.read_text(encoding="utf-8").split()
    return {name: value for name, _, value in (line.lstrip("-").partition("=") for line in lines)}


def _mel(hz: NDArray[np.float64] | float) -> NDArray[np.float64]:
    return np.asarray(1127 * np.log(1 + np.asarray(hz) / 700))
