"""The part of the third listener that writes, in torch, and the weights it starts from.

They are those of the decoder of tiny-en inside moonshine-voice 0.0.59: to the rows that its
encoder makes of sound it writes a sentence, piece by piece. Needs torch, and onnxruntime for the
file's form.
"""

from collections.abc import Iterator, Mapping
from functools import cached_property
from importlib import resources
from typing import Any

import numpy as np
import torch
from numpy.typing import NDArray
from torch import nn
from torch.nn import functional

from grammars.acoustic.recipe.encoder import (
    HEADS,
    INNER,
    LAYERS,
    SLOWEST,
    TURNED,
    TYPES,
    WIDTH,
    turned,
)
from grammars.acoustic.recipe.transcribe import pieces

# Of torch, which need not be there to check this.
Tensor = Any

_FOLDER = resources.files("moonshine_voice") / "assets" / "tiny-en"
# Pieces 3 to 258 of the tokenizer are single bytes.
BYTES = range(3, 259)


class Decoder(nn.Module):
    """From pieces and the rows of a sound to the scores of the piece after each."""

    def __init__(self, count: int) -> None:
        super().__init__()
        self.embed = nn.Embedding(count, WIDTH)
        self.layers = nn.ModuleList(_Layer() for _ in range(LAYERS))
        self.norm = nn.LayerNorm(WIDTH, bias=False)

    @cached_property
    def _turns(self) -> Tensor:
        return SLOWEST ** -(torch.arange(0, TURNED, 2, device=self.norm.weight.device) / TURNED)

    def forward(self, written: Tensor, sound: Tensor) -> Tensor:
        """Return the scores of what follows each piece: windows, pieces, all pieces."""
        angles = torch.arange(written.shape[1], device=written.device)[:, None] * self._turns
        rows = self.embed(written)
        for layer in self.layers:
            rows = layer(rows, angles.cos(), angles.sin(), sound)
        return self.norm(rows) @ self.embed.weight.T


class _Layer(nn.Module):
    def __init__(self) -> None:
        super().__init__()
        for name in ("input_layernorm", "post_attention_layernorm", "final_layernorm"):
            setattr(self, name, nn.LayerNorm(WIDTH, bias=False))
        for name in ("self_attn", "encoder_attn"):
            parts = {f"{part}_proj": nn.Linear(WIDTH, WIDTH, bias=False) for part in "qkvo"}
            setattr(self, name, nn.ModuleDict(parts))
        self.mlp = nn.ModuleDict(
            {"fc1": nn.Linear(WIDTH, 2 * INNER), "fc2": nn.Linear(INNER, WIDTH)}
        )

    def forward(
        self, rows: Tensor, cos: Tensor, sin: Tensor, sound: Tensor, dropped: float = 0.1
    ) -> Tensor:
        def drop(of_rows: Tensor) -> Tensor:
            return functional.dropout(of_rows, dropped, self.training)

        given, own, other = self.input_layernorm(rows), self.self_attn, self.encoder_attn
        asking, keys, values = (_by_head(own[f"{part}_proj"](given)) for part in "qkv")
        asking, keys = (turned(each, cos, sin).to(values.dtype) for each in (asking, keys))
        found = functional.scaled_dot_product_attention(asking, keys, values, is_causal=True)
        rows = rows + drop(own["o_proj"](found.transpose(1, 2).flatten(2)))
        asking = _by_head(other["q_proj"](self.post_attention_layernorm(rows)))
        keys, values = (_by_head(other[f"{part}_proj"](sound)) for part in "kv")
        found = functional.scaled_dot_product_attention(asking, keys, values)
        rows = rows + drop(other["o_proj"](found.transpose(1, 2).flatten(2)))
        let, gate = self.mlp["fc1"](self.final_layernorm(rows)).chunk(2, -1)
        return rows + drop(self.mlp["fc2"](functional.silu(gate) * let))


def _by_head(rows: Tensor) -> Tensor:
    return rows.view(*rows.shape[:2], HEADS, -1).transpose(1, 2)


def tokenizer() -> list[str]:
    """Return the pieces of the package's tokenizer by their numbers."""
    read = pieces((_FOLDER / "tokenizer.bin").read_bytes())
    return [
        f"<{number}>" if number in BYTES else piece.decode("utf-8")
        for number, piece in enumerate(read)
    ]


def base_weights() -> dict[str, Tensor]:
    """Return the weights of the decoder in the package, by our names."""
    content = (_FOLDER / "decoder_model_merged.ort").read_bytes()
    return {name: torch.tensor(value) for name, value in _weights(content)}


def _weights(content: bytes) -> Iterator[tuple[str, NDArray[np.float32]]]:
    from onnxruntime.tools.ort_format_model.ort_flatbuffers_py.fbs import InferenceSession

    graph = InferenceSession.InferenceSession.GetRootAs(content, 0).Model().Graph()
    # The first step's half: the other has the same weights.
    inner = next(g for name, g in _graphs(graph) if name == b"else_branch")
    held = {**_initializers(graph), **_initializers(inner)}
    for name, value in held.items():
        plain = name.removeprefix("model.decoder.").removesuffix("_merged_0")
        if plain.endswith(("norm.weight", ".bias")) and name.startswith("model.decoder."):
            yield plain, value
    yield "embed.weight", _unpacked(held, "model.decoder.embed_tokens.weight_merged_0_quantized")
    for number in range(inner.NodesLength()):
        node = inner.Nodes(number)
        if node.OpType().decode() in ("MatMulIntegerToFloat", "DynamicQuantizeMatMul"):
            inputs = [node.Inputs(place).decode() for place in range(node.InputsLength())]
            matrix = next(i for i in inputs if i.startswith("onnx::") and "quantized" in i)
            name = node.Name().decode().strip("/").removeprefix("model/decoder/")
            if name.startswith("layers"):
                yield (
                    f"{name.split('/MatMul')[0].replace('/', '.')}.weight",
                    _unpacked(held, matrix).T,
                )


def _graphs(graph: Any) -> Iterator[tuple[bytes, Any]]:
    for node in map(graph.Nodes, range(graph.NodesLength())):
        for each in map(node.Attributes, range(node.AttributesLength())):
            if each.G() is not None:
                yield each.Name(), each.G()


def _initializers(graph: Any) -> dict[str, NDArray[Any]]:
    held = {}
    for each in map(graph.Initializers, range(graph.InitializersLength())):
        if each.RawDataLength() and each.DataType() in TYPES:
            raw = each.RawDataAsNumpy().tobytes()
            sizes = each.DimsAsNumpy() if each.DimsLength() else ()
            held[each.Name().decode()] = np.frombuffer(raw, TYPES[each.DataType()]).reshape(sizes)
    return held


def _unpacked(held: Mapping[str, NDArray[Any]], matrix: str) -> NDArray[np.float32]:
    """Return a matrix out of 8 bits."""

    def part(kind: str) -> NDArray[Any]:
        name = matrix.replace("_quantized", kind)
        # What both halves have alike stands once, without their mark.
        other = name.replace("_merged_0", "").replace("_merged_1", "")
        return held[name] if name in held else held[other]

    whole = held[matrix].astype(np.float32) - np.float32(part("_zero_point"))
    return np.asarray(whole * part("_scale"), np.float32)
