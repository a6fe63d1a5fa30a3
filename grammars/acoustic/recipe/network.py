"""The network of a speech model, run in plain numpy: what its file says, step by step.

Reads Kaldi's binary nnet3 file, am/final.mdl, and runs it without Kaldi, so that a test can
say whether vosk computes from our export what we meant. Nothing is assumed of the number of
layers, their widths or their names; a kind of component not listed here is refused.
"""

import struct
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import reduce
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Matrix = NDArray[np.float64]
Fields = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Stretch:
    """What a node puts out: a row for each frame from the first on."""

    first: int
    rows: Matrix

    def moved(self, frames: int) -> "Stretch":
        """Return the same rows under the times from which they are so many frames away."""
        return Stretch(self.first - frames, self.rows)


class Network:
    """A network as its file describes it.

    Raises:
        ValueError: The file is no nnet3 model, is cut short, or has a part not known here.
    """

    def __init__(self, path: Path) -> None:
        content = path.read_bytes()
        start, end = content.find(b"<Nnet3>"), content.find(b"<NumComponents>")
        if start < 0 or end < 0:
            raise ValueError(f"no nnet3 network: {path}")
        reader = _Reader(content, end)
        try:
            self.components = reader.components()
            rest = reader.fields("")
        except (struct.error, IndexError):
            raise ValueError(f"a network cut short: {path}") from None
        lines = content[start:end].decode("ascii").splitlines()
        # In the order of the file, which is the order they are computed in.
        self._nodes = [dict(_assigned(line)) for line in lines if line.startswith("component-node")]
        self._output = next(
            dict(_assigned(line))["input"] for line in lines if line.startswith("output-node")
        )
        self.left_context, self.right_context = rest["LeftContext"], rest["RightContext"]
        self.log_priors: Matrix = np.log(rest["Priors"].astype(float))

    def log_likelihoods(self, features: Matrix, every: int = 1) -> Matrix:
        """Return, for each of every so many frames, the outputs less the log priors.

        The first and the last frame stand for what was before and after the sound.
        """
        out = _described(self._output, self.values(features))
        return out.rows[-out.first :][: len(features) : every] - self.log_priors

    def values(self, features: Matrix) -> dict[str, Stretch]:
        """Return what comes out of each component, by its name."""
        padding = ((self.left_context, self.right_context), (0, 0))
        padded = np.pad(features, padding, mode="edge")
        values = {"input": Stretch(-self.left_context, padded)}
        for node in self._nodes:
            kind, fields = self.components[node["component"]]
            if kind not in KINDS:
                raise ValueError(f"a component not known here: {kind}")
            values[node["name"]] = KINDS[kind](fields, _described(node["input"], values))
        return values


def _affine(fields: Fields, given: Stretch) -> Stretch:
    return Stretch(given.first, given.rows @ fields["LinearParams"].T + fields["BiasParams"])


def _linear(fields: Fields, given: Stretch) -> Stretch:
    return Stretch(given.first, given.rows @ fields["Params"].T)


def _tdnn(fields: Fields, given: Stretch) -> Stretch:
    spliced = _appended([given.moved(offset) for offset in fields["TimeOffsets"]])
    bias = fields["BiasParams"] if fields["BiasParams"].size else 0.0
    return Stretch(spliced.first, spliced.rows @ fields["LinearParams"].T + bias)


def _rectified(_: Fields, given: Stretch) -> Stretch:
    return Stretch(given.first, np.maximum(0, given.rows))


def _normalised(fields: Fields, given: Stretch) -> Stretch:
    if fields["BlockDim"] != fields["Dim"]:
        raise ValueError("batch normalisation in blocks")
    scale = fields["TargetRms"] / np.sqrt(fields["StatsVar"] + fields["Epsilon"])
    return Stretch(given.first, (given.rows - fields["StatsMean"]) * scale)


def _unchanged(_: Fields, given: Stretch) -> Stretch:
    return given


def _log_softmax(_: Fields, given: Stretch) -> Stretch:
    least = given.rows - given.rows.max(axis=1, keepdims=True)
    return Stretch(given.first, least - np.log(np.exp(least).sum(axis=1, keepdims=True)))


KINDS: Mapping[str, Callable[[Fields, Stretch], Stretch]] = {
    "NaturalGradientAffineComponent": _affine,
    "FixedAffineComponent": _affine,
    "LinearComponent": _linear,
    "TdnnComponent": _tdnn,
    "RectifiedLinearComponent": _rectified,
    "BatchNormComponent": _normalised,
    "NoOpComponent": _unchanged,
    "LogSoftmaxComponent": _log_softmax,
}


def _described(text: str, values: Mapping[str, Stretch]) -> Stretch:
    """Return what a descriptor, such as Sum(Scale(0.66, a), b), makes of the nodes' values."""
    name, bracket, inside = text.strip().partition("(")
    if not bracket:
        return values[name]
    parts = _parts(inside.removesuffix(")"))
    match name:
        case "Offset":
            return _described(parts[0], values).moved(int(parts[1]))
        case "Scale":
            scaled = _described(parts[1], values)
            return Stretch(scaled.first, float(parts[0]) * scaled.rows)
        case "Append":
            return _appended([_described(part, values) for part in parts])
        case "Sum":
            return reduce(_sum, (_described(part, values) for part in parts))
    raise ValueError(f"a descriptor not known here: {name}")


def _parts(text: str) -> list[str]:
    """Return what stands between the commas that are in no brackets."""
    parts, depth = [""], 0
    for letter in text:
        depth += (letter == "(") - (letter == ")")
        if letter == "," and not depth:
            parts.append("")
        else:
            parts[-1] += letter
    return parts


def _shared(stretches: list[Stretch]) -> tuple[int, list[Matrix]]:
    """Return the rows at the times that all have, and the first such time."""
    first = max(each.first for each in stretches)
    last = min(each.first + len(each.rows) for each in stretches)
    return first, [each.rows[first - each.first : last - each.first] for each in stretches]


def _appended(stretches: list[Stretch]) -> Stretch:
    first, rows = _shared(stretches)
    return Stretch(first, np.hstack(rows))


def _sum(one: Stretch, other: Stretch) -> Stretch:
    first, (rows, others) = _shared([one, other])
    return Stretch(first, rows + others)


def _assigned(line: str) -> list[tuple[str, str]]:
    """Return the names and values of a line of name=value, where values may hold spaces."""
    words = line.split("=")
    names = [word.split()[-1] for word in words[:-1]]
    values = [word.rsplit(maxsplit=1)[0] for word in words[1:-1]] + [words[-1].strip()]
    return list(zip(names, values, strict=True))


class _Reader:
    """Reads Kaldi's binary form: <Name>, then values, each telling its own size."""

    def __init__(self, content: bytes, at: int) -> None:
        self._content, self._at = content, at

    def components(self) -> dict[str, tuple[str, dict[str, Any]]]:
        """Return each component's kind and fields by its name."""
        self._token()
        found = {}
        for _ in range(self._number("i")):
            self._token()
            name, kind = self._token(), self._token().strip("<>")
            found[name] = kind, self.fields(f"</{kind}>")
        return found

    def fields(self, end: str) -> dict[str, Any]:
        """Return the values up to the ending; of several in a row the last."""
        found: dict[str, Any] = {}
        while self._at < len(self._content) and (name := self._token()) != end:
            name = name.strip("<>")
            while self._content[self._at : self._at + 1] not in (b"<", b" ", b""):
                found[name] = self._value(name)
        return found

    def _value(self, name: str) -> Any:
        start = self._content[self._at : self._at + 3]
        if start in (b"FV ", b"FM "):
            self._at += 3
            sizes = [self._number("i") for _ in range(1 if start == b"FV " else 2)]
            return self._array("<f4", sizes).astype(float)
        if start[:1] in (b"T", b"F"):
            self._at += 1
            return start[:1] == b"T"
        if name == "TimeOffsets":
            return [int(each) for each in self._array("<i4", [self._number("i")])]
        if name in ("Dim", "BlockDim", "LeftContext", "RightContext"):
            return self._number("i")
        return self._number("f" if start[:1] == b"\4" else "d")

    def _number(self, kind: str) -> Any:
        (value,) = struct.unpack_from(f"<{kind}", self._content, self._at + 1)
        self._at += 1 + struct.calcsize(kind)
        return value

    def _array(self, kind: str, sizes: list[int]) -> NDArray[Any]:
        count = int(np.prod(sizes))
        end = self._at + count * np.dtype(kind).itemsize
        if end > len(self._content):
            raise IndexError
        values = np.frombuffer(self._content[self._at : end], kind).reshape(sizes)
        self._at = end
        return values

    def _token(self) -> str:
        while self._content[self._at] in b" \n":
            self._at += 1
        start = self._at
        while self._content[self._at] not in b" \n":
            self._at += 1
        self._at += 1
        return self._content[start : self._at - 1].decode("latin-1")
