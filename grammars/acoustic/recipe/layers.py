"""What the network computes, as it is trained: for many windows of sound at a time.

Written for arrays of numpy or of torch, so that the tests need no torch. Beside what the file
says (network.py) it leaves out two frames of three where no later layer hears them.
"""

from collections.abc import Callable, Mapping
from typing import Any

from grammars.acoustic.recipe.export import BATCH_NORM_EPSILON, BYPASS, EVERY, Shape

# Of numpy or torch.
Array = Any
Normalise = Callable[[str, Array], Array]


def outputs(
    shape: Shape, weights: Mapping[tuple[str, str], Array], frames: Array, xp: Any, norm: Normalise
) -> Array:
    """Return a row of outputs, not yet probabilities, for every third frame.

    Args:
        shape: Of the network.
        weights: Its weights.
        frames: Windows of frames of cepstra, with shape.context more at either end.
        xp: numpy or torch.
        norm: From the name of a batch normalisation, and rows, to rows.
    """

    def linear(name: str, rows: Array) -> Array:
        return rows @ weights[name, "Params"].T

    def affine(name: str, rows: Array) -> Array:
        return rows @ weights[name, "LinearParams"].T + weights[name, "BiasParams"]

    def rectified(norm_name: str, rows: Array) -> Array:
        return norm(norm_name, xp.clip(rows, 0, None))

    rows = xp.concatenate([frames[:, :-2], frames[:, 1:-1], frames[:, 2:]], -1)
    rows = rectified("t1.bn", affine("t1.affine", rows))
    rate = 1
    for number, offset in enumerate(shape.offsets, start=2):
        if not offset:
            rows, rate = rows[:, ::EVERY], EVERY
        step = offset // rate
        narrow = _spliced(rows, step, xp) @ weights[f"f{number}.linear", "LinearParams"].T
        wide = affine(f"f{number}.affine", _spliced(narrow, step, xp))
        past = rows[:, step : rows.shape[1] - step]
        rows = BYPASS * past + rectified(f"f{number}.bn", wide)
    rows = rectified("p.bn1", affine("p.affine", linear("pre", rows)))
    return affine("out.affine", norm("p.bn2", linear("p.linear", rows)))


def kept_statistics(weights: Mapping[tuple[str, str], Array]) -> Normalise:
    """Return the normalisation by the means and variances in the file."""

    def norm(name: str, rows: Array) -> Array:
        scale = (weights[name, "StatsVar"] + BATCH_NORM_EPSILON) ** -0.5
        return (rows - weights[name, "StatsMean"]) * scale

    return norm


def padded(frames: Array, context: int, xp: Any) -> Array:
    """Return windows with the first and the last frame repeated for what is outside them."""
    return xp.concatenate([frames[:, :1]] * context + [frames] + [frames[:, -1:]] * context, 1)


def _spliced(rows: Array, step: int, xp: Any) -> Array:
    return xp.concatenate([rows[:, :-step], rows[:, step:]], -1) if step else rows
