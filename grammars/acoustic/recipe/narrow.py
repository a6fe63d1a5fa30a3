"""Narrower bottlenecks, that change as little as can be of what a network computes.

python -m grammars.acoustic.recipe.narrow WIDE.mdl NARROW.mdl --bottleneck 48 --shelf SHELF ...

Of what comes out of a bottleneck, those directions are kept that the layer after it makes most of,
on average over speech in noise (principal components, weighed by that layer). Needs numpy only.
"""

import argparse
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from grammars.acoustic.recipe.export import (
    BATCH_NORM_EPSILON,
    Shape,
    Weights,
    model_file,
    read_model,
)
from grammars.acoustic.recipe.mfcc import Mfcc
from grammars.acoustic.recipe.network import Matrix, Network
from grammars.acoustic.recipe.speech import read_shelf

# Of every shelf so many utterances, each so loud and over hiss, with quiet before and after.
_UTTERANCES, _LEVELS, _HISS_RMS, _QUIET = 40, (0.1, 1.0), (10, 600), 8_000
# A direction of which a layer makes less than this share of what it makes of the first is none.
_NOTHING = 1e-9
_LAST = "p.bn2"


def narrowed(
    shape: Shape, weights: Weights, bottleneck: int, moments: Mapping[str, Matrix]
) -> tuple[Shape, Weights]:
    """Return a network whose bottlenecks are so wide.

    Args:
        shape: Of the network as it is.
        weights: Its weights.
        bottleneck: Not more than it has.
        moments: Of each bottleneck and of the last normalisation, the mean of the products of
            what comes out of it, each with each.
    """
    narrow: dict[tuple[str, str], Matrix] = {}

    def scale(norm: str) -> Matrix:
        return (weights[norm, "StatsVar"].astype(float) + BATCH_NORM_EPSILON) ** -0.5

    def put(into: tuple[str, str], out_of: tuple[str, str], norm: str) -> None:
        parts = np.split(weights[out_of], weights[out_of].shape[1] // shape.bottleneck, axis=1)
        made = np.vstack([scale(norm)[:, None] * part for part in parts])
        down, up = _directions(made, moments[into[0]], bottleneck)
        narrow[into] = down @ weights[into]
        narrow[out_of] = np.hstack([part @ up for part in parts])

    for number in range(2, 2 + len(shape.offsets)):
        layer = f"f{number}"
        put((f"{layer}.linear", "LinearParams"), (f"{layer}.affine", "LinearParams"), f"{layer}.bn")
    put(("pre", "Params"), ("p.affine", "LinearParams"), "p.bn1")
    # The last is normalised: what is kept stays of one size and independent of each other.
    made = weights["out.affine", "LinearParams"].astype(float)
    down, up = _directions(made, moments[_LAST], bottleneck)
    size = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", down, moments[_LAST], down), _NOTHING))
    down, up = down / size[:, None], up * size
    narrow["p.linear", "Params"] = (down * scale(_LAST)) @ weights["p.linear", "Params"]
    narrow[_LAST, "StatsMean"] = (down * scale(_LAST)) @ weights[_LAST, "StatsMean"]
    narrow[_LAST, "StatsVar"] = np.full(bottleneck, 1 - BATCH_NORM_EPSILON)
    narrow["out.affine", "LinearParams"] = made @ up
    as_kept = {key: value.astype(np.float32) for key, value in narrow.items()}
    return replace(shape, bottleneck=bottleneck), weights | as_kept


def _directions(made: Matrix, moments: Matrix, count: int) -> tuple[Matrix, Matrix]:
    """Return the way into so many directions and out of them again.

    Args:
        made: What the next layer makes of each number.
        moments: The mean of the products of the numbers.
        count: How many directions.
    """
    values, vectors = np.linalg.eigh(made.T @ made)
    sizes = np.sqrt(np.maximum(values, _NOTHING * values[-1]))
    weighed, back = (vectors * sizes) @ vectors.T, (vectors / sizes) @ vectors.T
    _, kept = np.linalg.eigh(weighed @ moments @ weighed)
    kept = kept[:, ::-1][:, :count]
    return kept.T @ weighed, back @ kept


def moments_of(network: Network, frames: Iterable[Matrix]) -> dict[str, Matrix]:
    """Return the means of the products that `narrowed` needs, over frames of cepstra."""
    sums, counts = dict[str, Matrix](), Counter[str]()
    for each in frames:
        for name, stretch in network.values(each).items():
            if name.endswith(".linear") or name in ("pre", _LAST):
                sums[name] = sums.get(name, 0) + stretch.rows.T @ stretch.rows
                counts[name] += len(stretch.rows)
    return {name: products / counts[name] for name, products in sums.items()}


def in_noise(shelves: Iterable[Path], rng: np.random.Generator) -> Iterator[NDArray[np.int16]]:
    """Return some of each shelf's utterances, loud or soft, over some hiss or much."""
    for shelf in shelves:
        every = list(read_shelf(shelf))
        for number in rng.permutation(len(every))[:_UTTERANCES]:
            sound = np.pad(every[number].samples, _QUIET) * rng.uniform(*_LEVELS)
            hiss_rms = np.exp(rng.uniform(*np.log(_HISS_RMS)))
            sound = sound + hiss_rms * rng.standard_normal(len(sound))
            yield sound.clip(-32_768, 32_767).astype(np.int16)


def main() -> None:
    """Write a network with narrower bottlenecks, its priors those of the wide one."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("wide", type=Path)
    parser.add_argument("narrow", type=Path)
    parser.add_argument("--bottleneck", type=int, default=48)
    parser.add_argument("--shelf", type=Path, action="append", required=True)
    given = parser.parse_args()
    shape, weights = read_model(given.wide)
    network = Network(given.wide)
    sounds = in_noise(given.shelf, np.random.default_rng(0))
    moments = moments_of(network, map(Mfcc().frames, sounds))
    made = narrowed(shape, weights, given.bottleneck, moments)
    given.narrow.write_bytes(model_file(*made, network.log_priors))


if __name__ == "__main__":
    main()
