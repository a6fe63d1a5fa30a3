"""Cepstra of many windows at a time, as mfcc.py has them, and as other speakers might.

Arrays of numpy or torch, as in degrade.py.
"""

import numpy as np

from grammars.acoustic.recipe.degrade import Array, Draws
from grammars.acoustic.recipe.mfcc import LEAST_POWER, PRE_EMPHASIS, Mfcc

# Longer and shorter mouths than were recorded: of seven windows in ten.
_STRETCHES = np.linspace(0.82, 1.22, 25)
_STRETCHED = 0.7
_MUMBLED, _SMEARED, _BAND_MISSING, _WIDEST_BAND = 0.08, 0.2, 0.35, 7
_UNEVEN, _GAPS, _LONGEST_GAP = 0.5, 3, 12
# A filter that a stretch leaves without a frequency has this much of one near the top.
_EMPTY = (243, 1e-3)


class Features:
    """From windows of sound at 16 kHz to windows of frames."""

    def __init__(self, draws: Draws, front_end: Mfcc | None = None) -> None:
        self._draws, self._front_end = draws, front_end or Mfcc()
        plain = self._front_end.filters()
        stretched = [self._front_end.filters(stretch) for stretch in _STRETCHES]
        for filters in stretched:
            filters[_EMPTY[0], ~filters.any(axis=0)] = _EMPTY[1]
        self._filters = draws.array(np.stack([plain, *stretched]))
        self._window = draws.array(self._front_end.window())
        self._cosines = draws.array(self._front_end.cosines())

    def plain(self, sound: Array) -> Array:
        """Return the cepstra as the decoder has them."""
        return self._logs(self._power(sound) @ self._filters[0]) @ self._cosines

    def varied(self, sound: Array, uneven: bool = True) -> Array:
        """Return the cepstra of other mouths, mumbling, of uneven rate, with pieces missing."""
        draws, windows = self._draws, len(sound)
        other = draws.index(draws.uniform(1, len(self._filters), windows))
        which = other * draws.chance(_STRETCHED, windows)
        mel = self._missing(self._mumbled(self._logs(self._power(sound) @ self._filters[which])))
        frames = mel @ self._cosines
        return self._with_gaps(self._uneven(frames) if uneven else frames)

    def _power(self, sound: Array) -> Array:
        front = self._front_end
        starts = np.arange(0, sound.shape[1] - front.width + 1, front.shift)
        framed = sound[:, self._draws.array(starts[:, None] + np.arange(front.width))]
        framed = framed - framed.mean(axis=2, keepdims=True)
        before = self._draws.xp.concatenate([framed[..., :1], framed[..., :-1]], -1)
        framed = (framed - PRE_EMPHASIS * before) * self._window
        return abs(self._draws.xp.fft.rfft(framed, front.padded))[..., :-1] ** 2

    def _logs(self, mel: Array) -> Array:
        return self._draws.xp.log(self._draws.xp.clip(mel, LEAST_POWER, None))

    def _mumbled(self, mel: Array) -> Array:
        xp, luck = self._draws.xp, self._draws.uniform(0, 1, len(mel), 1, 1)
        middle = 0.25 * mel[..., :-2] + 0.5 * mel[..., 1:-1] + 0.25 * mel[..., 2:]
        smeared = xp.concatenate([mel[..., :1], middle, mel[..., -1:]], -1)
        middle = 0.25 * smeared[:, :-2] + 0.5 * smeared[:, 1:-1] + 0.25 * smeared[:, 2:]
        mumbled = xp.concatenate([smeared[:, :1], middle, smeared[:, -1:]], 1)
        return xp.where(luck < _MUMBLED, mumbled, xp.where(luck < _SMEARED, smeared, mel))

    def _missing(self, mel: Array) -> Array:
        """Return frames with a band of some windows at its mean."""
        missing = self._stretch_of(mel.shape[2], len(mel), 1, _WIDEST_BAND)
        missing = missing & self._draws.chance(_BAND_MISSING, len(mel), 1)
        return self._draws.xp.where(missing[:, None], mel.mean(axis=1, keepdims=True), mel)

    def _uneven(self, frames: Array) -> Array:
        """Return frames of half the windows hurried here and drawn out there."""
        draws, (windows, count, _) = self._draws, frames.shape
        time = draws.array(np.arange(count) * 1.0)[None]
        moved = time + 0 * draws.uniform(0, 1, windows, 1)
        for low, high in ((1, 4), (6, 20)):
            waves = 2 * np.pi * draws.uniform(low, high, windows, 1) / count
            swing = draws.uniform(0, 0.22, windows, 1) / waves
            moved = moved + swing * draws.xp.sin(waves * time + draws.uniform(0, 6.28, windows, 1))
        moved = draws.xp.where(draws.chance(_UNEVEN, windows, 1), moved, time)
        moved = draws.xp.clip(moved, 0, count - 1.001)
        before = draws.index(moved)
        part = (moved - before)[..., None]
        window = draws.array(np.arange(windows))[:, None]
        return frames[window, before] * (1 - part) + frames[window, before + 1] * part

    def _with_gaps(self, frames: Array) -> Array:
        for _ in range(_GAPS):
            gap = self._stretch_of(frames.shape[1], len(frames), 0, _LONGEST_GAP)[..., None]
            frames = self._draws.xp.where(gap, frames.mean(axis=1, keepdims=True), frames)
        return frames

    def _stretch_of(self, count: int, windows: int, shortest: int, longest: int) -> Array:
        """Return for each window true at some places in a row, fewer than the longest."""
        draws, at = self._draws, self._draws.array(np.arange(count))[None]
        start = draws.index(draws.uniform(0, count, windows, 1))
        return (at >= start) & (
            at < start + draws.index(draws.uniform(shortest, longest, windows, 1))
        )
