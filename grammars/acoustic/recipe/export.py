"""Write a network in the form vosk reads, Kaldi's nnet3 am/final.mdl, and take one apart again.

python -m grammars.acoustic.recipe.export RUN.mdl RUN.mdl ... --speech SHELF --model DIRECTORY

takes the mean of the weights of several runs from one start, counts the priors over some of the
speech they were trained on, and puts the result into the directory of a model.

A network here is its weights: arrays named by the component and field of the file that hold
them, so that a file is all there is to keep of a run. Needs numpy only.
"""

import argparse
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from grammars.acoustic.recipe.contents import NAME, contents
from grammars.acoustic.recipe.mfcc import Mfcc
from grammars.acoustic.recipe.network import Network
from grammars.acoustic.recipe.phones import PHONES, integer, transition_model
from grammars.acoustic.recipe.speech import RATE_HZ, read_shelf

Weights = dict[tuple[str, str], NDArray[np.float32]]

# How much of a layer's input goes past it. Source: the base model's file.
BYPASS = 0.66
BATCH_NORM_EPSILON = 1e-3
# vosk divides by this power of how often an output comes; all of it makes blank too cheap.
PRIOR_POWER = 0.5
_LEAST_PRIOR = 1e-4
# A frame in three is computed. Source: frame-subsampling-factor in model/conf/model.conf.
EVERY = 3
# Of the speech that the priors are counted over, at half its level, over this much hiss.
_PRIOR_S, _WINDOW_S, _HISS = 96, 8, 60.0


@dataclass(frozen=True, slots=True)
class Node:
    """A component of the network, what it is given, and the sizes of its weights."""

    name: str
    kind: str
    given: str
    dim: int
    sizes: Mapping[str, tuple[int, ...]]
    offsets: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Shape:
    """The size of a network: factored layers, each hearing so many frames to either side.

    Those that hear one frame run on every frame, up to the first that hears none; from there
    every third frame is enough.
    """

    width: int = 768
    bottleneck: int = 96
    offsets: tuple[int, ...] = (1, 1, 1, 0, *(3,) * 10)
    inputs: int = 40
    outputs: int = 1 + len(PHONES)

    @property
    def context(self) -> int:
        """How many frames before and after it an output depends on."""
        return 1 + sum(self.offsets)

    def nodes(self) -> Iterator[Node]:
        """Return the components in the order in which they are computed."""
        wide, narrow = self.width, self.bottleneck
        yield _affine(
            "t1.affine",
            "Append(Offset(input, -1), input, Offset(input, 1))",
            (wide, 3 * self.inputs),
        )
        yield from _normalised("t1", wide, "t1.affine")
        before = "t1.bn"
        for number, offset in enumerate(self.offsets, start=2):
            name = f"f{number}"
            left, right = ((-offset, 0), (0, offset)) if offset else ((0,), (0,))
            sizes = {"LinearParams": (narrow, len(left) * wide), "BiasParams": (0,)}
            yield Node(f"{name}.linear", "TdnnComponent", before, narrow, sizes, left)
            sizes = {"LinearParams": (wide, len(right) * narrow), "BiasParams": (wide,)}
            yield Node(f"{name}.affine", "TdnnComponent", f"{name}.linear", wide, sizes, right)
            yield from _normalised(name, wide, f"{name}.affine")
            past = f"Sum(Scale({BYPASS}, {before}), {name}.bn)"
            yield Node(f"{name}.noop", "NoOpComponent", past, wide, {})
            before = f"{name}.noop"
        yield Node("pre", "LinearComponent", before, narrow, {"Params": (narrow, wide)})
        yield _affine("p.affine", "pre", (wide, narrow))
        yield from _normalised("p", wide, "p.affine", "bn1")
        yield Node("p.linear", "LinearComponent", "p.bn1", narrow, {"Params": (narrow, wide)})
        yield _batch_norm("p.bn2", "p.linear", narrow)
        yield _affine("out.affine", "p.bn2", (self.outputs, narrow))
        yield Node("out.lsm", "LogSoftmaxComponent", "out.affine", self.outputs, {})

    def random(self, rng: np.random.Generator) -> Weights:
        """Return weights that pass on about what they are given."""
        weights: Weights = {}
        for node in self.nodes():
            for field, size in node.sizes.items():
                drawn = rng.standard_normal(size) * np.sqrt(2 / size[-1]) if len(size) == 2 else 0
                filled = np.ones(size) if field == "StatsVar" else np.zeros(size) + drawn
                weights[node.name, field] = filled.astype(np.float32)
        return weights


def _affine(name: str, given: str, size: tuple[int, int]) -> Node:
    sizes = {"LinearParams": size, "BiasParams": size[:1]}
    return Node(name, "NaturalGradientAffineComponent", given, size[0], sizes)


def _batch_norm(name: str, given: str, dim: int) -> Node:
    sizes = {"StatsMean": (dim,), "StatsVar": (dim,)}
    return Node(name, "BatchNormComponent", given, dim, sizes)


def _normalised(name: str, dim: int, given: str, norm: str = "bn") -> Iterator[Node]:
    yield Node(f"{name}.relu", "RectifiedLinearComponent", given, dim, {})
    yield _batch_norm(f"{name}.{norm}", f"{name}.relu", dim)


def read_model(path: Path) -> tuple[Shape, Weights]:
    """Return the shape and the weights in a file that was written here.

    Raises:
        ValueError: It is no network, or not one of this recipe.
    """
    components = Network(path).components
    weights: Weights = {
        (name, str(field)): fields[field].astype(np.float32)
        for name, (_, fields) in components.items()
        for field in ("LinearParams", "Params", "BiasParams", "StatsMean", "StatsVar")
        if field in fields
    }
    layers = [name for name in components if name.startswith("f") and name.endswith(".linear")]
    try:
        bottleneck, width = weights["pre", "Params"].shape
        shape = Shape(
            width=width,
            bottleneck=bottleneck,
            offsets=tuple(-components[name][1]["TimeOffsets"][0] for name in layers),
            inputs=weights["t1.affine", "LinearParams"].shape[1] // 3,
            outputs=len(weights["out.affine", "BiasParams"]),
        )
    except KeyError:
        raise ValueError(f"not a network of this recipe: {path}") from None
    return shape, weights


def mean(runs: Sequence[Weights]) -> Weights:
    """Return the mean of the weights of runs that began alike."""
    return {
        key: np.asarray(sum(run[key] for run in runs) / np.float32(len(runs)), np.float32)
        for key in runs[0]
    }


def widened(
    shape: Shape, weights: Weights, bottleneck: int, rng: np.random.Generator
) -> tuple[Shape, Weights]:
    """Return a network with wider bottlenecks that computes the same.

    What is new into a bottleneck is random, what is new out of it is nothing.
    """
    wide = replace(shape, bottleneck=bottleneck)
    more = bottleneck - shape.bottleneck
    grown: Weights = {}
    for node in wide.nodes():
        for field, size in node.sizes.items():
            have = weights[node.name, field]
            if have.shape == size:
                pass
            elif field in ("StatsMean", "StatsVar"):
                have = np.pad(have, (0, more), constant_values=have.mean() if "Var" in field else 0)
            elif len(have) == shape.bottleneck:
                have = np.vstack([have, rng.standard_normal((more, size[1])) * have.std()])
            else:
                by_frame = have.reshape(size[0], -1, shape.bottleneck)
                have = np.pad(by_frame, ((0, 0), (0, 0), (0, more))).reshape(size)
            grown[node.name, field] = have.astype(np.float32)
    return wide, grown


def log_priors(mean_outputs: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return what to take from the logarithm of each output, from how often it comes."""
    logs = PRIOR_POWER * np.log(np.maximum(mean_outputs, _LEAST_PRIOR))
    return np.asarray(logs - logs.mean())


def model_file(shape: Shape, weights: Weights, priors: NDArray[np.float64]) -> bytes:
    """Return the content of am/final.mdl; the priors are natural logarithms."""
    nodes = list(shape.nodes())
    lines = [f"input-node name=input dim={shape.inputs}"]
    lines += [f"component-node name={n.name} component={n.name} input={n.given}" for n in nodes]
    lines += [f"output-node name=output input={nodes[-1].name} objective=linear", "", ""]
    out = b"\0B" + transition_model() + b"<Nnet3> \n" + "\n".join(lines).encode()
    out += b"<NumComponents> " + integer(len(nodes))
    for node in nodes:
        fields = {field: weights[node.name, field] for field in node.sizes}
        out += f"<ComponentName> {node.name} <{node.kind}> ".encode()
        out += b"".join(f"<{f}> ".encode() + _value(f, v) for f, v in _fields(node, fields))
        out += f"</{node.kind}> ".encode()
    out += b"</Nnet3> <LeftContext> " + integer(shape.context)
    out += b"<RightContext> " + integer(shape.context)
    return out + b"<Priors> " + _value("Priors", np.exp(priors))


Fields = list[tuple[str, object]]

_UPDATED: Fields = [("MaxChange", 0.75), ("LearningRate", 0.001)]
_STATISTICS: Fields = [
    *(("ValueAvg", np.zeros(0)), ("DerivAvg", np.zeros(0)), ("Count", 0.0)),
    *(("OderivRms", np.zeros(0)), ("OderivCount", 0.0)),
    *(("NumDimsSelfRepaired", 0.0), ("NumDimsProcessed", 0.0)),
]
_DOUBLES = {"Count", "OderivCount", "NumDimsSelfRepaired", "NumDimsProcessed"}


def _fields(node: Node, weights: Mapping[str, NDArray[np.float32]]) -> Fields:
    """Return all fields of a component in the file's order; all but the weights serve training.

    Source: Kaldi's nnet-simple-component.cc, nnet-tdnn-component.cc and
    nnet-normalize-component.cc, from memory; that vosk reads it is tested.
    """
    held: Fields = list(weights.items())
    natural: Fields = [("OrthonormalConstraint", 0.0), ("UseNaturalGradient", True)]
    history: Fields = [("NumSamplesHistory", 2000.0)]
    ranks: Fields = [("RankInOut", (20, 80))]
    rest: Fields
    match node.kind:
        case "NaturalGradientAffineComponent":
            rest = [("RankIn", 20), ("RankOut", 80), ("UpdatePeriod", 4)]
            return [*_UPDATED, *held, *rest, *history, ("Alpha", 4.0)]
        case "LinearComponent":
            rest = [("Alpha", 4.0), *history, ("UpdatePeriod", 4)]
            return [*_UPDATED, *held, *natural, *ranks, *rest]
        case "TdnnComponent":
            rest = [*history, ("AlphaInOut", (4.0, 4.0)), *ranks]
            return [*_UPDATED, ("TimeOffsets", list(node.offsets)), *held, *natural, *rest]
        case "BatchNormComponent":
            rest = [("BlockDim", node.dim), ("Epsilon", BATCH_NORM_EPSILON), ("TargetRms", 1.0)]
            return [("Dim", node.dim), *rest, ("TestMode", True), ("Count", 1000.0), *held]
        case "RectifiedLinearComponent":
            return [("Dim", node.dim), *_STATISTICS, ("SelfRepairScale", 1e-5)]
        case "NoOpComponent":
            return [("Dim", node.dim), ("BackpropScale", 1.0)]
    return [("Dim", node.dim), *_STATISTICS]


def _value(name: str, value: object) -> bytes:
    """Return a value in Kaldi's binary form."""
    match value:
        case bool():
            return b"T" if value else b"F"
        case int():
            return integer(value)
        case float():
            if name in _DOUBLES:
                return b"\x08" + np.array(value, "<f8").tobytes()
            return b"\x04" + np.array(value, "<f4").tobytes()
        case tuple():
            return b"".join(_value(name, each) for each in value)
        case list():
            return integer(len(value)) + np.array(value, "<i4").tobytes()
    array = np.asarray(value, "<f4")
    sizes = b"".join(integer(size) for size in array.shape)
    return (b"FM " if array.ndim == 2 else b"FV ") + sizes + array.tobytes()


def counted_priors(network: Network, speech: Path, front_end: Mfcc) -> NDArray[np.float64]:
    """Return the log priors of a network over the beginning of a shelf of speech."""
    rng = np.random.default_rng(0)
    sound = np.concatenate([each.samples for each in read_shelf(speech)])[: _PRIOR_S * RATE_HZ]
    means = []
    for start in range(0, len(sound), _WINDOW_S * RATE_HZ):
        window = sound[start : start + _WINDOW_S * RATE_HZ] * 0.5
        hissing = window + _HISS * rng.standard_normal(len(window))
        frames = front_end.frames(np.round(hissing).astype(np.int16))
        outputs = network.log_likelihoods(frames, EVERY) + network.log_priors
        means.append(np.exp(outputs).mean(axis=0))
    return log_priors(np.mean(means, axis=0))


def main() -> None:
    """Put the mean of the runs into a model, with its priors and the list of its contents."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("runs", type=Path, nargs="+")
    parser.add_argument("--speech", type=Path, required=True, help="a shelf of synthetic speech")
    parser.add_argument("--model", type=Path, required=True, help="with conf and graph in it")
    given = parser.parse_args()
    shapes, runs = zip(*map(read_model, given.runs), strict=True)
    weights = mean(runs)
    path = given.model / "am" / "final.mdl"
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(model_file(shapes[0], weights, np.zeros(shapes[0].outputs)))
    priors = counted_priors(Network(path), given.speech, Mfcc.of_model(given.model))
    path.write_bytes(model_file(shapes[0], weights, priors))
    (given.model / NAME).write_text(contents(given.model), encoding="utf-8")


if __name__ == "__main__":
    main()
