"""Layers of a network whose matrices stay in their file, in 8 bits, until they are multiplied.

For a network that is asked seldom by a process that may hold little. A file's pages that were
read are let go of again; the system keeps them as long as it has room.
"""

import mmap
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating]
Places = NDArray[np.intp]

LEAST_VARIANCE = 1e-5


@dataclass(frozen=True, slots=True)
class Matrix:
    """A column for each output in whole numbers, and what each column is multiplied by."""

    whole: NDArray[np.int8]
    scales: Floats

    def of(self, rows: Floats) -> Floats:
        """Return the outputs for each row."""
        made = rows @ self.whole.astype(np.float32)
        made *= self.scales
        return np.asarray(made)

    def part(self, place: int, parts: int) -> "Matrix":
        """Return one of so many parts of it, by what goes in."""
        return Matrix(np.split(self.whole, parts)[place], self.scales)

    def columns(self, places: Places) -> Floats:
        """Return some columns, each as a row."""
        return np.asarray(self.whole[:, places].T * self.scales[places, None])


# What is asked of rows: of each head, their keys and their values.
Known = tuple[Floats, Floats]


@dataclass(frozen=True, slots=True)
class Attention:
    """What rows take from others, or from each other, by several heads."""

    heads: int
    of_asking: Matrix
    of_keys: Matrix
    of_values: Matrix
    of_found: Matrix

    def known(self, rows: Floats, turn: Floats | None = None) -> Known:
        """Return what others may ask of rows, turned by the angles of their places if any."""
        keys = by_head(self.of_keys.of(rows), self.heads)
        keys = keys if turn is None else turned(keys, turn)
        return keys, by_head(self.of_values.of(rows), self.heads)

    def of(
        self, asking: Floats, known: Known, turn: Floats | None = None, add: Floats | None = None
    ) -> Floats:
        """Return what each row finds; `add` is far below 0 for what it must not see."""
        keys, values = known
        queries = by_head(self.of_asking.of(asking), self.heads)
        queries = queries if turn is None else turned(queries, turn)
        found = [_found(*each, add) for each in zip(queries, keys, values, strict=True)]
        return self.of_found.of(np.concatenate(found, axis=1))


def _found(queries: Floats, keys: Floats, values: Floats, add: Floats | None) -> Floats:
    """Return what one head finds: all at once would take much memory."""
    fit = queries @ keys.T / np.sqrt(np.float32(queries.shape[1]))
    fit = fit if add is None else fit + add
    share = np.exp(fit - fit.max(axis=1, keepdims=True))
    return np.asarray(share / share.sum(axis=1, keepdims=True) @ values)


class Held:
    """A file of matrices and one of other numbers, read in the order they were written in."""

    def __init__(self, matrices: Path, numbers: Path) -> None:
        with matrices.open("rb") as file:
            self._file = mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ)
        self._matrices = np.frombuffer(self._file, np.int8)
        self._numbers: Floats = np.load(numbers)

    def matrix(self, inputs: int, outputs: int) -> Matrix:
        """Take the next matrix."""
        taken, self._matrices = np.split(self._matrices, [inputs * outputs])
        return Matrix(taken.reshape(inputs, outputs), self.numbers(outputs))

    def numbers(self, count: int) -> Floats:
        """Take so many of the other numbers."""
        taken, self._numbers = np.split(self._numbers, [count])
        return taken

    def attention(self, width: int, heads: int) -> Attention:
        """Take the next four matrices."""
        return Attention(heads, *(self.matrix(width, width) for _ in range(4)))

    def let_go(self) -> None:
        """Hold nothing of what was read."""
        self._file.madvise(mmap.MADV_DONTNEED)


def even(rows: Floats) -> Floats:
    """Return rows each of mean 0 and variance 1."""
    centred = rows - rows.mean(axis=-1, keepdims=True)
    variance = (centred**2).mean(axis=-1, keepdims=True)
    return np.asarray(centred / np.sqrt(variance + LEAST_VARIANCE))


def by_head(rows: Floats, heads: int) -> Floats:
    """Return each head's part of every row."""
    return rows.reshape(len(rows), heads, -1).swapaxes(0, 1)


def turned(rows: Floats, turn: Floats) -> Floats:
    """Return rows whose first pairs of numbers are turned by an angle each."""
    count = 2 * turn.shape[1]
    first, second = rows[..., :count:2], rows[..., 1:count:2]
    cos, sin = np.cos(turn), np.sin(turn)
    pairs = np.stack([first * cos - second * sin, second * cos + first * sin], -1)
    return np.concatenate([pairs.reshape(*first.shape[:2], count), rows[..., count:]], 2)
