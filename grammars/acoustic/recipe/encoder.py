"""The second listener's network in torch, and the weights it starts from.

They are those of the encoder of tiny-en inside moonshine-voice 0.0.59, which was taught on far
more people than we have: sound in, a row of 288 numbers out some forty times a second. Ours is
followed by a layer that makes phones of a row. Needs torch, and onnxruntime for the file's form.
"""

from collections.abc import Callable, Iterator
from importlib import resources
from typing import Any

import numpy as np
import torch
from numpy.typing import NDArray
from torch import nn
from torch.nn import functional

# Of torch, which need not be there to check this.
Tensor = Any

# Source: the file.
WIDTH, HEADS, TURNED, INNER, LAYERS = 288, 8, 32, 1152, 6
SLOWEST = 10_000.0
TYPES = {1: np.float32, 2: np.uint8, 3: np.int8, 7: np.int64}


class Encoder(nn.Module):
    """From windows of sound, at most 1 loud, to scores of the blank and the phones."""

    def __init__(self, outputs: int) -> None:
        super().__init__()
        self.conv1 = nn.Conv1d(1, WIDTH, 127, 64, bias=False)
        self.conv2 = nn.Conv1d(WIDTH, 2 * WIDTH, 7, 3)
        self.conv3 = nn.Conv1d(2 * WIDTH, WIDTH, 3, 2)
        self.groupnorm = nn.GroupNorm(1, WIDTH)
        self.layers = nn.ModuleList(_Layer() for _ in range(LAYERS))
        self.layer_norm = nn.LayerNorm(WIDTH, bias=False)
        self.head = nn.Linear(WIDTH, outputs)
        pairs = torch.arange(0, TURNED, 2) / TURNED
        self.register_buffer("inv_freq", SLOWEST**-pairs)

    def forward(self, sound: Tensor, changed: Callable[[Tensor], Tensor] | None = None) -> Tensor:
        """Return the scores; `changed` may hide parts of the rows on their way."""
        return self.head(self.rows(sound, changed))

    def rows(self, sound: Tensor, changed: Callable[[Tensor], Tensor] | None = None) -> Tensor:
        """Return what the scores are made of."""
        rows = self.groupnorm(torch.tanh(self.conv1(sound[:, None]))).transpose(1, 2)
        rows = functional.gelu(_by_one_product(self.conv2, rows)).transpose(1, 2)
        rows = functional.gelu(self.conv3(rows)).transpose(1, 2)
        rows = changed(rows) if changed else rows
        angles = torch.arange(rows.shape[1], device=rows.device)[:, None] * self.inv_freq
        for layer in self.layers:
            rows = layer(rows, angles.cos(), angles.sin())
        return self.layer_norm(rows)


def _by_one_product(convolution: nn.Conv1d, rows: Tensor) -> Tensor:
    """Return what a convolution makes of rows.

    As one product it can be put in 8 bits, in which it takes less than half the time.
    """
    (size,), (step,) = convolution.kernel_size, convolution.stride
    beside = [rows[:, at : rows.shape[1] - size + at + 1 : step] for at in range(size)]
    weights = convolution.weight.transpose(1, 2).reshape(convolution.out_channels, -1)
    return functional.linear(torch.cat(beside, -1), weights, convolution.bias)


class _Layer(nn.Module):
    def __init__(self) -> None:
        super().__init__()
        self.input_layernorm = nn.LayerNorm(WIDTH, bias=False)
        self.post_attention_layernorm = nn.LayerNorm(WIDTH, bias=False)
        self.self_attn = nn.ModuleDict(
            {f"{name}_proj": nn.Linear(WIDTH, WIDTH, bias=False) for name in "qkvo"}
        )
        self.mlp = nn.ModuleDict({"fc1": nn.Linear(WIDTH, INNER), "fc2": nn.Linear(INNER, WIDTH)})

    def forward(self, rows: Tensor, cos: Tensor, sin: Tensor, dropped: float = 0.1) -> Tensor:
        def drop(of_rows: Tensor) -> Tensor:
            return functional.dropout(of_rows, dropped, self.training)

        rows = rows + drop(self._attended(self.input_layernorm(rows), cos, sin))
        inner = functional.gelu(self.mlp["fc1"](self.post_attention_layernorm(rows)))
        return rows + drop(self.mlp["fc2"](inner))

    def _attended(self, rows: Tensor, cos: Tensor, sin: Tensor) -> Tensor:
        windows, moments, _ = rows.shape
        asked, keys, values = (
            self.self_attn[f"{name}_proj"](rows).view(windows, moments, HEADS, -1).transpose(1, 2)
            for name in "qkv"
        )
        asked, keys = (turned(each, cos, sin).to(values.dtype) for each in (asked, keys))
        found = functional.scaled_dot_product_attention(asked, keys, values)
        return self.self_attn["o_proj"](found.transpose(1, 2).reshape(windows, moments, WIDTH))


def turned(rows: Tensor, cos: Tensor, sin: Tensor) -> Tensor:
    """Return rows with their first pairs of numbers turned by where they stand."""
    turned, rest = rows[..., :TURNED], rows[..., TURNED:]
    even, odd = turned[..., 0::2], turned[..., 1::2]
    pairs = torch.stack([even * cos - odd * sin, odd * cos + even * sin], -1)
    return torch.cat([pairs.flatten(-2), rest], -1)


def base_weights() -> dict[str, Tensor]:
    """Return the weights of the encoder in the package, by our names."""
    path = resources.files("moonshine_voice") / "assets" / "tiny-en" / "encoder_model.ort"
    return {name: torch.tensor(value) for name, value in _weights(path.read_bytes())}


def _weights(content: bytes) -> Iterator[tuple[str, NDArray[np.float32]]]:
    from onnxruntime.tools.ort_format_model.ort_flatbuffers_py.fbs import InferenceSession

    graph = InferenceSession.InferenceSession.GetRootAs(content, 0).Model().Graph()
    held: dict[str, NDArray[Any]] = {}
    for number in range(graph.InitializersLength()):
        each = graph.Initializers(number)
        sizes = each.DimsAsNumpy() if each.DimsLength() else ()
        raw = each.RawDataAsNumpy().tobytes()
        held[each.Name().decode()] = np.frombuffer(raw, TYPES[each.DataType()]).reshape(sizes)
    for name, value in held.items():
        if name.startswith(("conv", "layer")):
            yield name.removesuffix("_add_tensor"), value
    yield "groupnorm.weight", held["onnx::Mul_2080"].ravel()
    yield "groupnorm.bias", held["onnx::Add_2081"].ravel()
    # The matrices of the layers are in 8 bits, and named by the operation they are used in.
    for number in range(graph.NodesLength()):
        node = graph.Nodes(number)
        if node.OpType().decode() in ("MatMulIntegerToFloat", "DynamicQuantizeMatMul"):
            inputs = [node.Inputs(place).decode() for place in range(node.InputsLength())]
            matrix = next(i for i in inputs if i.startswith("onnx::") and "quantized" in i)
            scale, zero = (held[matrix.replace("quantized", p)] for p in ("scale", "zero_point"))
            name = node.Name().decode().strip("/").removesuffix("/MatMul_quant")
            value = (held[matrix].astype(np.float32) - np.float32(zero)) * scale
            yield f"{name.replace('/', '.')}.weight", value.T
