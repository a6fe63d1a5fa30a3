"""Speech with the words said in it, as one step of the recipe hands it to the next.

A shelf is two files: NAME.npy, all samples one after another, and NAME.jsonl, a line for each
utterance in order.
"""

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from grammars.acoustic.recipe.graph import Spelling

Samples = NDArray[np.int16]

RATE_HZ = 16_000

# Kept around what is loud, and the level it is brought to.
_BEFORE, _AFTER, _PEAK = RATE_HZ // 10, 15 * RATE_HZ // 100, 0.7


@dataclass(frozen=True, slots=True)
class Utterance:
    """What one voice said, and for each word the ways in which it may have been said."""

    samples: Samples
    words: tuple[str, ...]
    ways: tuple[tuple[Spelling, ...], ...]
    voice: str


def at_16_khz(sound: NDArray[np.floating], rate_hz: int) -> NDArray[np.floating]:
    """Return sound at the recipe's rate."""
    from scipy.signal import resample_poly

    common = int(np.gcd(rate_hz, RATE_HZ))
    return np.asarray(resample_poly(sound, RATE_HZ // common, rate_hz // common))


def trimmed(sound: NDArray[np.floating], loud: float = 0.015) -> Samples | None:
    """Return speech at one level without the quiet around it; None where there is none.

    Args:
        sound: At 16 kHz.
        loud: What counts as such: synthetic voices are silent where none speaks, others not.
    """
    peak = np.abs(sound).max(initial=0)
    if not peak:
        return None
    level = sound / max(peak, 1e-4) * _PEAK
    at = np.flatnonzero(np.abs(level) > loud)
    if len(at) < RATE_HZ // 20:
        return None
    kept = level[max(0, at[0] - _BEFORE) : at[-1] + _AFTER]
    return np.asarray(kept * 32_767).astype(np.int16)


def write_shelf(path: Path, spoken: Iterable[Utterance]) -> int:
    """Write a shelf, path without an ending; return how many utterances are on it."""
    sound: list[Samples] = []
    lines: list[str] = []
    for each in spoken:
        sound.append(each.samples)
        ways = [[" ".join(way) for way in word] for word in each.ways]
        line = {"n": len(each.samples), "said": each.words, "ways": ways, "voice": each.voice}
        lines.append(json.dumps(line) + "\n")
    np.save(path.with_suffix(".npy"), np.concatenate([np.zeros(0, np.int16), *sound]))
    path.with_suffix(".jsonl").write_text("".join(lines), encoding="utf-8")
    return len(lines)


def read_shelf(path: Path) -> Iterator[Utterance]:
    """Return a shelf's utterances in order."""
    sound, start = np.load(path.with_suffix(".npy")), 0
    for line in path.with_suffix(".jsonl").read_text(encoding="utf-8").splitlines():
        entry = json.loads(line)
        ways = tuple(tuple(tuple(way.split()) for way in word) for word in entry["ways"])
        samples = sound[start : start + entry["n"]]
        yield Utterance(samples, tuple(entry["said"]), ways, entry["voice"])
        start += entry["n"]
