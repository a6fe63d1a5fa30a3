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
_PRE_EMPHASIS, _LIFTER, _POVEY = 0.97, 22.0, 0.85


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

    def frames(self, samples: NDArray[np.int16]) -> Frames:
        """Return a row of cepstra for each whole frame; samples are at rate_hz."""
        width, shift = round(_FRAME_S * self.rate_hz), round(_SHIFT_S * self.rate_hz)
        framed = np.lib.stride_tricks.sliding_window_view(samples.astype(float), width)[::shift]
        framed = framed - framed.mean(axis=1, keepdims=True)
        # The first sample has itself before it.
        framed = framed - _PRE_EMPHASIS * np.hstack([framed[:, :1], framed[:, :-1]])
        window = (0.5 - 0.5 * np.cos(2 * np.pi * np.arange(width) / (width - 1))) ** _POVEY
        padded = 1 << (width - 1).bit_length()
        power = np.abs(np.fft.rfft(framed * window, padded)) ** 2
        mel = np.log(np.maximum(power[:, :-1] @ self._filters(padded), np.finfo(np.float32).eps))
        order = np.arange(self.cepstra)
        cosines = np.cos(np.pi / self.mel_bins * np.outer(np.arange(self.mel_bins) + 0.5, order))
        cosines *= np.sqrt(np.where(order, 2, 1) / self.mel_bins)
        return np.asarray(mel @ cosines * (1 + _LIFTER / 2 * np.sin(np.pi * order / _LIFTER)))

    def _filters(self, padded: int) -> Frames:
        """Return how much of each bin of the spectrum goes into each mel bin."""
        edges = np.linspace(_mel(self.low_hz), _mel(self.high_hz), self.mel_bins + 2)
        at = _mel(np.arange(padded // 2) * self.rate_hz / padded)[:, None]
        rising = (at - edges[:-2]) / (edges[1:-1] - edges[:-2])
        falling = (edges[2:] - at) / (edges[2:] - edges[1:-1])
        return np.maximum(0, np.minimum(rising, falling))


def options(path: Path) -> dict[str, str]:
    """Return the options of one of a model's files of options."""
    lines = path.read_text(encoding="utf-8").split()
    return {name: value for name, _, value in (line.lstrip("-").partition("=") for line in lines)}


def _mel(hz: NDArray[np.float64] | float) -> NDArray[np.float64]:
    return np.asarray(1127 * np.log(1 + np.asarray(hz) / 700))
