"""A network from its weights to the file, and back: the same outputs all the way."""

from pathlib import Path

import numpy as np
import pytest

from grammars.acoustic.recipe import layers
from grammars.acoustic.recipe.export import (
    EVERY,
    Shape,
    Weights,
    log_priors,
    mean,
    model_file,
    read_model,
    widened,
)
from grammars.acoustic.recipe.graph import HERE
from grammars.acoustic.recipe.narrow import moments_of, narrowed
from grammars.acoustic.recipe.network import Matrix, Network

SHIPPED = HERE.parent / "model" / "am" / "final.mdl"
SHAPES = [
    Shape(width=24, bottleneck=6),
    Shape(width=16, bottleneck=4, offsets=(1, 0, 3), inputs=8, outputs=5),
    Shape(width=16, bottleneck=4, offsets=(1, 1, 1, 0, 3, 3), inputs=40),
]


def drawn(shape: Shape) -> tuple[Weights, Matrix, Matrix]:
    """Return weights whose statistics matter, priors and some frames."""
    rng = np.random.default_rng(3)
    weights = shape.random(rng)
    for (name, field), values in weights.items():
        more = 0.0 if values.ndim == 2 else rng.uniform(0.1, 0.5, values.shape)
        # Small, or the outputs of a dozen such layers leave no two probabilities above zero.
        weights[name, field] = ((0.5 if values.ndim == 2 else 1) * values + more).astype(np.float32)
    frames = rng.standard_normal((31, shape.inputs))
    return weights, log_priors(rng.dirichlet(np.ones(shape.outputs))), frames


def as_trained(shape: Shape, weights: Weights, frames: Matrix) -> Matrix:
    """Return the logarithms of the outputs' probabilities, as training has them."""
    windows = layers.padded(frames[None], shape.context, np)
    rows = layers.outputs(shape, weights, windows, np, layers.kept_statistics(weights))[0]
    return np.asarray(rows - np.log(np.exp(rows).sum(axis=1, keepdims=True)))


@pytest.mark.parametrize("shape", SHAPES)
def test_the_file_says_what_was_trained(tmp_path: Path, shape: Shape) -> None:
    weights, priors, frames = drawn(shape)
    path = tmp_path / "final.mdl"
    path.write_bytes(model_file(shape, weights, priors))

    said = Network(path).log_likelihoods(frames, EVERY)

    assert said == pytest.approx(as_trained(shape, weights, frames) - priors, abs=1e-5)


@pytest.mark.parametrize("shape", SHAPES)
def test_a_file_read_and_written_is_the_same(tmp_path: Path, shape: Shape) -> None:
    weights, priors, _ = drawn(shape)
    path = tmp_path / "final.mdl"
    path.write_bytes(model_file(shape, weights, priors))

    read_shape, read = read_model(path)

    assert read_shape == shape
    assert model_file(read_shape, read, Network(path).log_priors) == path.read_bytes()


def test_the_shipped_file_is_what_the_export_writes() -> None:
    shape, weights = read_model(SHIPPED)

    assert model_file(shape, weights, Network(SHIPPED).log_priors) == SHIPPED.read_bytes()


@pytest.mark.parametrize("shape", SHAPES)
def test_wider_bottlenecks_change_nothing_at_first(shape: Shape) -> None:
    weights, _, frames = drawn(shape)
    rng = np.random.default_rng(0)

    wide_shape, wide = widened(shape, weights, shape.bottleneck + 3, rng)

    assert wide_shape.bottleneck == shape.bottleneck + 3
    # What is new into the last normalisation is of a size with the rest.
    spread = wide["p.bn2", "StatsVar"]
    assert spread[-3:] == pytest.approx(spread[:-3].mean())
    assert as_trained(wide_shape, wide, frames) == pytest.approx(
        as_trained(shape, weights, frames), abs=1e-4
    )


@pytest.mark.parametrize("shape", SHAPES)
def test_bottlenecks_made_wider_and_narrow_again_compute_the_same(
    tmp_path: Path, shape: Shape
) -> None:
    weights, priors, frames = drawn(shape)
    wide_shape, wide = widened(shape, weights, shape.bottleneck + 3, np.random.default_rng(0))
    path = tmp_path / "wide.mdl"
    path.write_bytes(model_file(wide_shape, wide, priors))

    moments = moments_of(Network(path), [frames])
    narrow_shape, narrow = narrowed(wide_shape, wide, shape.bottleneck, moments)

    assert narrow_shape == shape
    assert as_trained(narrow_shape, narrow, frames) == pytest.approx(
        as_trained(shape, weights, frames), abs=1e-3
    )


@pytest.mark.parametrize("shape", SHAPES)
def test_what_no_sound_reaches_is_left_out(tmp_path: Path, shape: Shape) -> None:
    weights, priors, frames = drawn(shape)
    into = [key for key, value in weights.items() if len(value) == shape.bottleneck]
    for key in into:
        weights[key][-2:] = 1 if key[1] == "StatsVar" else 0
    path = tmp_path / "wide.mdl"
    path.write_bytes(model_file(shape, weights, priors))

    moments = moments_of(Network(path), [frames])
    narrow = narrowed(shape, weights, shape.bottleneck - 2, moments)

    assert as_trained(*narrow, frames) == pytest.approx(
        as_trained(shape, weights, frames), abs=1e-3
    )


def test_the_mean_of_runs_lies_between_them() -> None:
    shape = SHAPES[1]
    one = shape.random(np.random.default_rng(1))
    other = {key: 3 * values for key, values in one.items()}

    halfway = mean([one, other])

    assert all(halfway[key] == pytest.approx(2 * one[key]) for key in one)


def test_priors_are_half_the_logarithms_about_their_mean() -> None:
    priors = log_priors(np.array([0.81, 0.09, 0.1, 0.0]))

    assert priors.mean() == pytest.approx(0)
    assert priors[0] - priors[1] == pytest.approx(np.log(3))
    assert priors[2] - priors[3] == pytest.approx(0.5 * np.log(1000))


def test_another_network_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "final.mdl"
    path.write_bytes(SHIPPED.read_bytes().replace(b"> pre <", b"> per <"))

    with pytest.raises(ValueError, match="not a network of this recipe"):
        read_model(path)
