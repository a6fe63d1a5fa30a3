"""Teach the third listener to write what is said at the bench, and put it into a model.

python -m grammars.acoustic.recipe.third learn RUN.pt --shelf game=40 --shelf robots=20 ...
python -m grammars.acoustic.recipe.third put RUN.pt RUN.pt --as-it-was 0.75 --model DIRECTORY

It hears as it did before, so only the part that writes learns: the words of a window as one
sentence, from sound drawn and made worse anew at every step. A teacher, the network as it was,
tells what it would write of the same sound without noise. `put` takes the mean of runs and of
the network as it was: of single words by people the latter hears more, of the bench's sentences
in noise the former. Needs torch.
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
from grammars.acoustic.recipe.train import mixed, shelf, shelf_and_share
from grammars.acoustic.recipe.windows import Placed, Shelves, rate_at
from hardware.third_listener import BEGIN, END, Spelling

# Of torch, which need not be there to check this.
Tensor = Any
Weights = dict[str, Tensor]

_FULL_SCALE = 32_768
_WINDOWS_S, _STEP_S = (1.5, 2.0, 3.0, 4.0, 6.0, 8.0), 512
_RISE, _STEEPEST, _MEAN_OVER = 50, 1.0, 300
# Rows of sound hidden at two places.
_HIDDEN_ROWS = 6
# What the teacher hears: how loud at its peak, over how much hiss.
_TOLD_PEAK, _TOLD_HISS = 0.35, 0.001
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
    """One run: the part that writes as it learns, and the mean of it."""

    def __init__(self, given: argparse.Namespace) -> None:
        self.device = device = torch.device(given.device)
        kept = numbers(_LEARNT_WITH)
        every = decoder.tokenizer()
        self._spelling = Spelling([every[number] for number in kept])
        weights = {
            name: value[kept] if name == "embed.weight" else value
            for name, value in decoder.base_weights().items()
        }
        self.network, self._teacher = decoder.Decoder(len(kept)), decoder.Decoder(len(kept))
        self._hearing = encoder.Encoder(1)
        self._hearing.load_state_dict(encoder.base_weights(), strict=False)
        for network in (self.network, self._teacher):
            network.load_state_dict(weights)
        for network in (self._hearing, self._teacher):
            network.to(device).eval().requires_grad_(False)
        self.network.to(device).train()
        self.mean = {name: value.clone() for name, value in self.network.state_dict().items()}
        self._optimiser = torch.optim.AdamW(
            self.network.parameters(), betas=(0.9, 0.98), weight_decay=1e-3
        )
        self._given, self.step = given, 0
        self._noises_db = LOUDER_NOISES_DB if given.louder else NOISES_DB
        self._draws = Draws.of_torch(device)

    def learn(self, shelves: Shelves, rng: random.Random) -> float:
        """Take a step; return the loss for each piece."""
        seconds = rng.choice(_WINDOWS_S)
        drawn = (shelves.window(rng, seconds) for _ in range(int(_STEP_S / seconds)))
        placed = [window for window in drawn if window]
        written, next_one = self._pieces(placed)
        is_one = next_one >= 0
        with torch.no_grad():
            clear = mixed(placed, seconds, self.device)
            sound = degraded(self._draws, clear, self._noises_db) / _FULL_SCALE
            peak = clear.abs().amax(1, keepdim=True).clamp_min(1e-4)
            quiet = clear * (_TOLD_PEAK / peak) + _TOLD_HISS * torch.randn_like(clear)
            told = self._logs(self._teacher, written, self._rows(quiet)).exp()
            rows = self._rows(sound.float(), self._hidden)
        logs = self._logs(self.network, written, rows)
        of_words = functional.nll_loss(logs[is_one], next_one[is_one])
        of_teacher = -(told * logs).sum(-1)[is_one].mean()
        loss = of_words + self._given.by_teacher * (of_teacher - of_words)
        for group in self._optimiser.param_groups:
            group["lr"] = self._given.rate * rate_at(self.step, self._given.steps, _RISE)
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

    def _pieces(self, placed: Sequence[Sequence[Placed]]) -> tuple[Tensor, Tensor]:
        """Return the pieces of each window's words, and what follows each; -1 behind the end."""
        said = (" ".join(w for p in window for w in p.learnt.utterance.words) for window in placed)
        rows = [[BEGIN, *self._spelling.of(sentence), END] for sentence in said]
        padded = torch.nn.utils.rnn.pad_sequence(
            [torch.tensor(row) for row in rows], batch_first=True, padding_value=-1
        ).to(self.device)
        return padded[:, :-1].clamp_min(0), padded[:, 1:]

    def _rows(self, sound: Tensor, *changed: Any) -> Tensor:
        with torch.autocast(self.device.type, torch.bfloat16):
            return self._hearing.rows(sound, *changed)

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


def mean_of(runs: Sequence[Path], as_it_was: float) -> Weights:
    """Return the mean of the weights of runs, and of the network as it was by its share."""
    learnt, kept = numbers(_LEARNT_WITH), numbers(_KEPT)
    place = {number: at for at, number in enumerate(learnt)}
    read = [torch.load(path, "cpu") for path in runs]
    mean = {}
    for name, value in decoder.base_weights().items():
        of_runs = sum(each[name].float() for each in read) / len(read)
        if name == "embed.weight":
            value, of_runs = value[kept], of_runs[[place[number] for number in kept]]
        mean[name] = as_it_was * value + (1 - as_it_was) * of_runs
    return mean


def put(weights: Weights, model: Path) -> None:
    """Write the network into a model's directory, and the list of its contents."""
    heard = {name: value.numpy() for name, value in encoder.base_weights().items()}
    wrote = {name: value.numpy() for name, value in weights.items()}
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
    yield _matrix(wrote["embed.weight"])
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
    parser.add_argument("what", choices=["learn", "put"])
    parser.add_argument("runs", type=Path, nargs="+", help="learn takes one, and makes it")
    parser.add_argument("--model", type=Path)
    parser.add_argument("--as-it-was", type=float, default=0.75, help="its share in what is put")
    parser.add_argument("--shelf", type=shelf_and_share, action="append", default=[])
    parser.add_argument("--steps", type=int, default=900)
    parser.add_argument("--rate", type=float, default=1.5e-4)
    parser.add_argument("--by-teacher", type=float, default=0.7, help="the rest by the words")
    parser.add_argument("--louder", action="store_true", help="noise in most windows")
    parser.add_argument("--short", type=float, default=30, help="percent that are short words")
    parser.add_argument("--device", default="cuda")
    parser.add_argument("--seed", type=int, default=1)
    return parser.parse_args(given)


def main() -> None:
    """Learn, or put what was learnt into a model."""
    given = arguments()
    if given.what == "put":
        put(mean_of(given.runs, given.as_it_was), given.model)
        return
    torch.manual_seed(given.seed)
    rng, began_s = random.Random(given.seed), time.monotonic()
    shares = dict(given.shelf)
    shelves = Shelves({name: shelf(Path(name)) for name in shares}, shares, given.short)
    lesson, losses = Lesson(given), list[float]()
    while lesson.step < given.steps:
        losses.append(lesson.learn(shelves, rng))
        if lesson.step % 100 == 0 or lesson.step == given.steps:
            print(f"{lesson.step} {np.mean(losses[-100:]):.3f} {time.monotonic() - began_s:.0f} s")
            torch.save({n: value.half().cpu() for n, value in lesson.mean.items()}, given.runs[0])


if __name__ == "__main__":
    main()
