"""Teach the third listener to hear in a shop and write what is said there; put it into a model.

python -m grammars.acoustic.recipe.third write WRITES.pt --shelf game=40 --shelf robots=20 ...
python -m grammars.acoustic.recipe.third hear HEARS.pt --writer WRITES.pt --louder --shelf ...
python -m grammars.acoustic.recipe.third put --writer WRITES.pt --hearer HEARS.pt --model DIRECTORY

A run teaches one part and leaves the other. A teacher, the network as it was, hears what was said
without the noise, and tells what it makes of it and what it would write: so what it knows of people
is kept. `put` takes of each part the mean of runs and of what it was, which hears more of single
words by people; the runs hear more of the bench's sentences, and in noise. Needs torch.
"""

import argparse
import random
import string
import time
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import torch
from numpy.typing import NDArray
from torch.nn import functional

from grammars.acoustic.recipe import decoder, encoder
from grammars.acoustic.recipe.contents import NAME, contents
from grammars.acoustic.recipe.degrade import LOUDER_NOISES_DB, NOISES_DB, Draws, degraded
from grammars.acoustic.recipe.graph import read_lexicon
from grammars.acoustic.recipe.train import mixed, shelf_and_share, shelved
from grammars.acoustic.recipe.windows import Placed, Shelves, rate_at
from hardware.third_listener import BEGIN, END, Spelling

# Of torch, which need not be there to check this.
Tensor = Any
Weights = dict[str, Tensor]

_FULL_SCALE = 32_768
_WINDOWS_S, _STEP_S = (1.5, 2.0, 3.0, 4.0, 6.0, 8.0), 512
_RISE, _STEEPEST, _MEAN_OVER = 50, 1.0, 300
# The first layer learns at this share of the rate.
_FIRST_RATE = 0.5
# Rows of sound hidden at two places.
_HIDDEN_ROWS = 6
# What the teacher hears: how loud at its peak, over how much hiss.
_TOLD_PEAK, _TOLD_HISS = 0.35, 0.001
# The weights that have a row for each piece.
_OF_PIECES = "embed.weight"
# So many of the first pieces are learnt with, and kept in the model, beside those of our words:
# a word may be added later.
_LEARNT_WITH, _KEPT = 12_000, 7_000


def numbers(most: int) -> list[int]:
    """Return the numbers of the pieces kept: the first, those of our words, and all letters."""
    every = decoder.tokenizer()
    spelling, number = Spelling(every), {piece: place for place, piece in enumerate(every)}
    ours = {
        number[joined]
        for word in read_lexicon()
        for written in (word, word.capitalize())
        for joined in spelling.joined(written)
    }
    letters = {number[letter] for letter in (*string.ascii_letters, *"'.▁")}
    return sorted(ours | letters | {n for n in range(most) if n not in decoder.BYTES})


class Lesson:
    """One run: the part that learns, the mean of it, and the teacher."""

    def __init__(self, given: argparse.Namespace) -> None:
        self.device = torch.device(given.device)
        every = decoder.tokenizer()
        self._spelling = Spelling([every[number] for number in numbers(_LEARNT_WITH)])
        writer = writes(given.writer, given.writes_as_it_was)
        self._hears, self._told_hears = (self._still(encoder.Encoder(1), hears()) for _ in "12")
        self._writes, self._told_writes = (
            self._still(decoder.Decoder(len(self._spelling.pieces)), writer) for _ in "12"
        )
        self.network = self._hears if given.what == "hear" else self._writes
        self.network.train().requires_grad_(True)
        self.mean = {name: value.clone() for name, value in self.network.state_dict().items()}
        first, rest = list[Tensor](), list[Tensor]()
        for name, value in self.network.named_parameters():
            (first if name.startswith(("conv1", "groupnorm")) else rest).append(value)
        self._optimiser = torch.optim.AdamW(
            [{"params": first}, {"params": rest}], betas=(0.9, 0.98), weight_decay=1e-3
        )
        self._given, self.step = given, 0
        self._noises_db = LOUDER_NOISES_DB if given.louder else NOISES_DB
        self._draws = Draws.of_torch(self.device)

    def learn(self, shelves: Shelves, rng: random.Random) -> float:
        """Take a step; return the loss for each piece."""
        given, seconds = self._given, rng.choice(_WINDOWS_S)
        drawn = (shelves.window(rng, seconds) for _ in range(int(_STEP_S / seconds)))
        placed = [window for window in drawn if window]
        written, next_one = self._pieces(placed)
        is_one = next_one >= 0
        with torch.no_grad():
            clear = mixed(placed, seconds, self.device)
            sound = degraded(self._draws, clear, self._noises_db) / _FULL_SCALE
            peak = clear.abs().amax(1, keepdim=True).clamp_min(1e-4)
            quiet = clear * (_TOLD_PEAK / peak) + _TOLD_HISS * torch.randn_like(clear)
            told_rows = self._rows(self._told_hears, quiet)
            told = self._logs(self._told_writes, written, told_rows).exp()
        rows = self._rows(self._hears, sound.float(), self._hidden)
        logs = self._logs(self._writes, written, rows)
        of_words = functional.nll_loss(logs[is_one], next_one[is_one])
        of_teacher = -(told * logs).sum(-1)[is_one].mean()
        of_rows = ((rows - told_rows).float() ** 2).mean() / told_rows.float().var()
        loss = of_words + given.by_teacher * (of_teacher - of_words) + given.by_rows * of_rows
        for group, share in zip(self._optimiser.param_groups, (_FIRST_RATE, 1), strict=True):
            group["lr"] = given.rate * share * rate_at(self.step, given.steps, _RISE)
        self._optimiser.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(self.network.parameters(), _STEEPEST)
        self._optimiser.step()
        self.step += 1
        keep = min(1 - 1 / _MEAN_OVER, (self.step + 1) / (self.step + 10))
        with torch.no_grad():
            for name, value in self.network.state_dict().items():
                self.mean[name].lerp_(value, 1 - keep)
        return float(of_words.detach())

    def _still(self, network: torch.nn.Module, weights: Weights) -> torch.nn.Module:
        """Return a network that does not learn; of one that hears the layer behind it is unused."""
        network.load_state_dict(weights, strict=False)
        return network.to(self.device).eval().requires_grad_(False)

    def _pieces(self, placed: Sequence[Sequence[Placed]]) -> tuple[Tensor, Tensor]:
        """Return the pieces of each window's words, and what follows each; -1 behind the end."""
        said = (" ".join(w for p in window for w in p.learnt.utterance.words) for window in placed)
        rows = [[BEGIN, *self._spelling.of(sentence), END] for sentence in said]
        padded = torch.nn.utils.rnn.pad_sequence(
            [torch.tensor(row) for row in rows], batch_first=True, padding_value=-1
        ).to(self.device)
        return padded[:, :-1].clamp_min(0), padded[:, 1:]

    def _rows(self, network: encoder.Encoder, sound: Tensor, *changed: Any) -> Tensor:
        with torch.autocast(self.device.type, torch.bfloat16):
            return network.rows(sound, *changed)

    def _logs(self, network: decoder.Decoder, written: Tensor, rows: Tensor) -> Tensor:
        with torch.autocast(self.device.type, torch.bfloat16):
            scores = network(written, rows)
        return scores.float().log_softmax(-1)

    def _hidden(self, rows: Tensor) -> Tensor:
        at = torch.arange(rows.shape[1], device=self.device)[None]
        for _ in range(2):
            start = torch.rand(len(rows), 1, device=self.device) * rows.shape[1]
            end = start + torch.rand(len(rows), 1, device=self.device) * _HIDDEN_ROWS
            rows = rows.masked_fill(((at >= start) & (at < end))[..., None], 0)
        return rows


def hears(runs: Sequence[Path] = (), as_it_was: float = 1.0) -> Weights:
    """Return the mean of runs that hear, and of the network as it was by its share."""
    return _mean_of(encoder.base_weights(), runs, as_it_was)


def writes(runs: Sequence[Path] = (), as_it_was: float = 1.0) -> Weights:
    """Return the same of runs that write, for the pieces they are learnt with."""
    was = decoder.base_weights()
    return _mean_of(was | {_OF_PIECES: was[_OF_PIECES][numbers(_LEARNT_WITH)]}, runs, as_it_was)


def _mean_of(was: Weights, runs: Sequence[Path], as_it_was: float) -> Weights:
    read = [torch.load(path, "cpu") for path in runs]
    if not read:
        return was
    return {
        name: as_it_was * value
        + (1 - as_it_was) * sum(each[name].float() for each in read) / len(read)
        for name, value in was.items()
    }


def put(hearing: Weights, writing: Weights, model: Path) -> None:
    """Write the network into a model's directory, and the list of its contents."""
    place = {number: at for at, number in enumerate(numbers(_LEARNT_WITH))}
    kept = writing[_OF_PIECES][[place[number] for number in numbers(_KEPT)]]
    heard, wrote = (
        {name: value.numpy() for name, value in weights.items()}
        for weights in (hearing, writing | {_OF_PIECES: kept})
    )
    folder = model / "third"
    folder.mkdir(exist_ok=True)
    matrices, others = zip(*_parts(heard, wrote), strict=True)
    (folder / "matrices.bin").write_bytes(b"".join(matrices))
    np.save(folder / "numbers.npy", np.concatenate(others).astype(np.float32))
    every = decoder.tokenizer()
    lines = "".join(f"{every[number]}\n" for number in numbers(_KEPT))
    (folder / "pieces.txt").write_text(lines, encoding="utf-8")
    (model / NAME).write_text(contents(model), encoding="utf-8")


Part = tuple[bytes, NDArray[np.floating]]


def _parts(heard: dict[str, Any], wrote: dict[str, Any]) -> Iterable[Part]:
    """Return matrices in 8 bits and other numbers, in the order in which they are read."""
    yield _matrix(heard["conv1.weight"])
    for name in ("groupnorm.weight", "groupnorm.bias"):
        yield b"", heard[name]
    for name in ("conv2", "conv3"):
        yield _matrix(heard[f"{name}.weight"].transpose(0, 2, 1))
        yield b"", heard[f"{name}.bias"]
    yield from _layers(heard, ("input", "post_attention"), ("self",))
    yield b"", heard["layer_norm.weight"]
    yield _matrix(wrote[_OF_PIECES])
    yield from _layers(wrote, ("input", "post_attention", "final"), ("self", "encoder"))
    yield b"", wrote["norm.weight"]


def _layers(of: dict[str, Any], norms: Sequence[str], attends: Sequence[str]) -> Iterable[Part]:
    for layer in (f"layers.{number}" for number in range(encoder.LAYERS)):
        for name in norms:
            yield b"", of[f"{layer}.{name}_layernorm.weight"]
        for name in attends:
            for part in "qkvo":
                yield _matrix(of[f"{layer}.{name}_attn.{part}_proj.weight"])
        for name in ("fc1", "fc2"):
            yield _matrix(of[f"{layer}.mlp.{name}.weight"])
            yield b"", of[f"{layer}.mlp.{name}.bias"]


def _matrix(rows: NDArray[np.floating]) -> Part:
    rows = rows.reshape(len(rows), -1)
    scales = np.abs(rows).max(axis=1) / 127
    return np.round(rows / scales[:, None]).astype(np.int8).T.tobytes(), scales


def arguments(given: Sequence[str] | None = None) -> argparse.Namespace:
    """Return what is to be done."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=["hear", "write", "put"])
    parser.add_argument("run", type=Path, nargs="?", help="to make")
    parser.add_argument("--model", type=Path)
    parser.add_argument("--hearer", type=Path, action="append", default=[])
    parser.add_argument("--hears-as-it-was", type=float, default=0.5, help="its share in the mean")
    parser.add_argument("--writer", type=Path, action="append", default=[])
    parser.add_argument("--writes-as-it-was", type=float, default=0.75, help="the same")
    parser.add_argument("--shelf", type=shelf_and_share, action="append", default=[])
    parser.add_argument("--steps", type=int, default=900)
    parser.add_argument("--rate", type=float, default=1.5e-4)
    parser.add_argument("--by-teacher", type=float, default=0.7, help="the rest by the words")
    parser.add_argument("--by-rows", type=float, default=1.0, help="what it makes of the sound")
    parser.add_argument("--louder", action="store_true", help="noise in most windows")
    parser.add_argument("--short", type=float, default=30, help="percent that are short words")
    parser.add_argument("--device", default="cuda")
    parser.add_argument("--seed", type=int, default=1)
    return parser.parse_args(given)


def main() -> None:
    """Learn, or put what was learnt into a model."""
    given = arguments()
    if given.what == "put":
        hearing = hears(given.hearer, given.hears_as_it_was)
        put(hearing, writes(given.writer, given.writes_as_it_was), given.model)
        return
    torch.manual_seed(given.seed)
    rng, began_s = random.Random(given.seed), time.monotonic()
    shelves = shelved(given.shelf, given.short)
    lesson, losses = Lesson(given), list[float]()
    while lesson.step < given.steps:
        losses.append(lesson.learn(shelves, rng))
        if lesson.step % 100 == 0 or lesson.step == given.steps:
            print(f"{lesson.step} {np.mean(losses[-100:]):.3f} {time.monotonic() - began_s:.0f} s")
            torch.save({n: value.half().cpu() for n, value in lesson.mean.items()}, given.run)


if __name__ == "__main__":
    main()
