"""Teach the second listener, and put it into a model.

python -m grammars.acoustic.recipe.second learn RUN.pt --shelf game=45 --shelf robots=6 ...
python -m grammars.acoustic.recipe.second put RUN.pt=0.3 RUN.pt ... --model DIRECTORY

What it hears is drawn and made worse anew at every step, as in train.py; what is kept is the
running mean of the weights. Single runs are best short: after some 300 steps people of the
development sets were heard worse in quiet, while the loss went on falling, and better in noise.
So the new layer learns alone at first, from the layer of a run before; what the network knew of
people is then moved no further than it must. A teacher, the mean of runs before, tells what it
makes of the same sound without noise. `put` takes the mean of runs, short and long, which is
better in both than any; it writes matrices in 8 bits, and the phones by the columns. Needs
torch; put needs onnx too.
"""

import argparse
import random
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch.func import functional_call

from grammars.acoustic.recipe.contents import NAME, contents
from grammars.acoustic.recipe.degrade import LOUDER_NOISES_DB, NOISES_DB, Draws, degraded
from grammars.acoustic.recipe.encoder import Encoder, base_weights
from grammars.acoustic.recipe.phones import OUTPUT
from grammars.acoustic.recipe.speech import Samples
from grammars.acoustic.recipe.train import choose, costs, mixed, quietly, shelf_and_share, shelved
from grammars.acoustic.recipe.windows import Shelves, rate_at

# Of torch, which need not be there to check this.
Tensor = Any
Weights = dict[str, Tensor]

_FULL_SCALE = 32_768
# What is said to the bench is short; a step hears this much sound whatever its windows' length.
_WINDOWS_S, _STEP_S = (2.0, 3.0, 4.0, 6.0, 8.0), 768
# The new layer by itself learns faster; then what the first layers know of sound is kept.
_ALONE_RATE, _ALONE_RISE, _RISE, _FIRST_RATE = 1e-3, 20, 50, 0.5
_STEEPEST, _MEAN_OVER, _PRIORS_MOVE = 1.0, 800, 0.05
# The network chooses pronunciations when so much is done.
_CHOOSES_WHEN = 0.3
# Rows hidden at two places, and columns of four in ten windows: of moments and of numbers.
_HIDDEN_ROWS, _HIDDEN_COLUMNS, _COLUMNS_HIDDEN = 8, 30, 0.4
# What a teacher hears: how loud at its peak, over how much hiss.
_TOLD_PEAK, _TOLD_HISS = 0.35, 0.001
# By this power of how often an output comes, it is expected.
PRIOR_POWER = 0.3
_LEAST_PRIOR, _LEAST_TOLD = 1e-4, 1e-6


class Lesson:
    """One run: the network as it learns, and the mean of it."""

    def __init__(
        self, weights: Weights, teachers: Sequence[Weights], given: argparse.Namespace
    ) -> None:
        device = torch.device(given.device)
        # What a run begins with may lack the new layer.
        self.network = _network(weights, strict=False).to(device)
        self._teachers = [_network(each).to(device) for each in teachers]
        self._by_words = given.by_words if teachers else 1.0
        self._noises_db = LOUDER_NOISES_DB if given.louder else NOISES_DB
        self.mean = {name: value.clone() for name, value in self.network.state_dict().items()}
        self.priors = torch.full((len(OUTPUT) + 1,), 1 / (len(OUTPUT) + 1), device=device)
        self.device, self.step = device, 0
        groups: dict[str, list[Tensor]] = {"head": [], "first": [], "rest": []}
        for name, value in self.network.named_parameters():
            first = name.startswith(("conv", "groupnorm"))
            groups["head" if name.startswith("head") else "first" if first else "rest"].append(
                value
            )
        self._rates = [given.rate, given.rate * _FIRST_RATE, given.rate]
        # What each step moves back towards, all but the new layer, and by what share.
        kept = [*groups["first"], *groups["rest"]]
        self._began = [(value, value.detach().clone()) for value in kept]
        self._pull = given.pull
        self._optimiser = torch.optim.AdamW(
            [{"params": group} for group in groups.values()], betas=(0.9, 0.98), weight_decay=1e-3
        )
        self._draws = Draws.of_torch(device)

    def learn(self, shelves: Shelves, rng: random.Random, share: float | None) -> float:
        """Take a step at a share of the rate; return the loss for each phone.

        Without a share the new layer learns alone.
        """
        seconds = rng.choice(_WINDOWS_S)
        drawn = (shelves.window(rng, seconds) for _ in range(int(_STEP_S / seconds)))
        placed = [window for window in drawn if window]
        with torch.no_grad():
            clear = mixed(placed, seconds, self.device)
            sound = degraded(self._draws, clear, self._noises_db) / _FULL_SCALE
        logs = self._heard_by(self.network.train(), sound, self._hidden)
        with torch.no_grad():
            self.priors.lerp_(logs.exp().mean((0, 1)), _PRIORS_MOVE if self.step else 1)
        targets = [[s for each in window for s in each.spellings] for window in placed]
        phones = sum(len(spelling) for window in targets for spelling in window)
        loss = self._by_words * costs(logs, targets).sum() / phones
        if self._teachers:
            told = self._told(clear)
            loss = loss + (told * (told.clamp_min(_LEAST_TOLD).log() - logs)).sum() / phones
        alone = [_ALONE_RATE * min(1, (self.step + 1) / _ALONE_RISE), 0.0, 0.0]
        rates = alone if share is None else [rate * share for rate in self._rates]
        for group, rate in zip(self._optimiser.param_groups, rates, strict=True):
            group["lr"] = rate
        self._optimiser.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(self.network.parameters(), _STEEPEST)
        self._optimiser.step()
        self.step += 1
        with torch.no_grad():
            for value, began in self._began if self._pull else ():
                value.lerp_(began, self._pull)
        keep = min(1 - 1 / _MEAN_OVER, (self.step + 1) / (self.step + 10))
        with torch.no_grad():
            for name, value in self.network.state_dict().items():
                self.mean[name].lerp_(value, 1 - keep)
        return float(loss.detach())

    def heard(self, sounds: Sequence[Samples]) -> Tensor:
        """Return the log probabilities of the mean for sounds, each in a quiet room."""
        windows = (quietly(sounds) / _FULL_SCALE).to(self.device)
        with torch.no_grad():
            scores = functional_call(self.network.eval(), self.mean, (windows,))
        return scores.float().log_softmax(-1)

    def _heard_by(self, network: Encoder, sound: Tensor, *changed: Callable[..., Any]) -> Tensor:
        with torch.autocast("cuda", torch.bfloat16, enabled=self.device.type == "cuda"):
            scores = network(sound, *changed)
        return scores.float().log_softmax(-1)

    def _told(self, clear: Tensor) -> Tensor:
        """Return how likely the teachers hold each phone, with neither room nor noise."""
        with torch.no_grad():
            peak = clear.abs().amax(1, keepdim=True).clamp_min(_LEAST_PRIOR)
            sound = clear * (_TOLD_PEAK / peak) + _TOLD_HISS * torch.randn_like(clear)
            heard = [self._heard_by(each.eval(), sound).exp() for each in self._teachers]
            return torch.stack(heard).mean(0)

    def _hidden(self, rows: Tensor) -> Tensor:
        for _ in range(2):
            rows = rows.masked_fill(self._stretch(rows, rows.shape[1], _HIDDEN_ROWS)[..., None], 0)
        columns = self._stretch(rows, rows.shape[2], _HIDDEN_COLUMNS)
        columns &= torch.rand(len(rows), 1, device=self.device) < _COLUMNS_HIDDEN
        return rows.masked_fill(columns[:, None], 0)

    def _stretch(self, rows: Tensor, count: int, longest: int) -> Tensor:
        start = torch.rand(len(rows), 1, device=self.device) * count
        end = start + torch.rand(len(rows), 1, device=self.device) * longest
        at = torch.arange(count, device=self.device)[None]
        return (at >= start) & (at < end)


def _network(weights: Weights, strict: bool = True) -> Encoder:
    network = Encoder(len(OUTPUT) + 1)
    network.load_state_dict(weights, strict)
    return network


def mean_of(runs: Sequence[tuple[Path, float]]) -> tuple[Weights, Tensor]:
    """Return the mean of the weights of runs, each with what it counts, and of their priors."""
    read = [torch.load(path, "cpu") for path, _ in runs]
    shares = [counts / sum(counts for _, counts in runs) for _, counts in runs]
    weights = {
        name: sum(s * each["mean"][name].float() for s, each in zip(shares, read, strict=True))
        for name in read[0]["mean"]
    }
    return weights, sum(s * each["priors"] for s, each in zip(shares, read, strict=True))


class _Weighed(torch.nn.Module):
    """What is shipped: logarithms of how likely each output is, less what is expected of it."""

    def __init__(self, network: Encoder, priors: Tensor) -> None:
        super().__init__()
        self._network, self._expected = network, PRIOR_POWER * priors.clamp_min(_LEAST_PRIOR).log()

    def forward(self, sound: Tensor) -> Tensor:
        return self._network(sound).log_softmax(-1) - self._expected


def put(runs: Sequence[tuple[Path, float]], model: Path) -> None:
    """Write the mean of runs into a model's directory, and the list of its contents."""
    from onnxruntime.quantization import QuantType, quantize_dynamic

    weights, priors = mean_of(runs)
    folder = model / "second"
    folder.mkdir(exist_ok=True)
    exact, path = folder / "exact.onnx", folder / "network.onnx"
    torch.onnx.export(
        _Weighed(_network(weights), priors).eval(),
        (torch.zeros(1, 32_000),),
        str(exact),
        input_names=["sound"],
        output_names=["logs"],
        dynamic_axes={"sound": {1: "samples"}, "logs": {1: "moments"}},
        opset_version=17,
        dynamo=False,
    )
    quantize_dynamic(
        exact, path, weight_type=QuantType.QInt8, op_types_to_quantize=["MatMul"], per_channel=True
    )
    exact.unlink()
    phones = ["-", *sorted(OUTPUT, key=lambda phone: OUTPUT[phone])]
    (folder / "phones.txt").write_text(" ".join(phones) + "\n", encoding="utf-8")
    (model / NAME).write_text(contents(model), encoding="utf-8")


def _run(text: str) -> tuple[Path, float]:
    """Read RUN.pt=COUNTS, or RUN.pt, which counts 1."""
    name, _, counts = text.partition("=")
    return Path(name), float(counts or 1)


def arguments(given: Sequence[str] | None = None) -> argparse.Namespace:
    """Return what is to be done; what is not given is as for the shipped network."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=["learn", "put"])
    parser.add_argument("runs", type=_run, nargs="+", help="learn takes one, and makes it")
    parser.add_argument("--model", type=Path)
    parser.add_argument("--shelf", type=shelf_and_share, action="append", default=[])
    parser.add_argument(
        "--start", type=_run, action="append", default=[], help="runs to go on from"
    )
    parser.add_argument("--layer", type=_run, help="a run whose new layer to begin with")
    parser.add_argument("--alone", type=int, default=80, help="steps of the new layer by itself")
    parser.add_argument("--steps", type=int, default=330, help="with those")
    parser.add_argument("--rate", type=float, default=2.5e-4)
    parser.add_argument("--pull", type=float, default=0.0, help="back to the start, at each step")
    parser.add_argument("--teacher", type=_run, action="append", default=[])
    parser.add_argument("--by-words", type=float, default=0.2, help="beside a teacher")
    parser.add_argument("--louder", action="store_true", help="noise in most windows")
    parser.add_argument("--short", type=float, default=35, help="percent that are short words")
    parser.add_argument("--device", default="cuda")
    parser.add_argument("--seed", type=int, default=1)
    return parser.parse_args(given)


def main() -> None:
    """Learn, or put what was learnt into a model."""
    given = arguments()
    if given.what == "put":
        put(given.runs, given.model)
        return
    torch.manual_seed(given.seed)
    rng, began_s = random.Random(given.seed), time.monotonic()
    shelves = shelved(given.shelf, given.short)
    weights = mean_of(given.start)[0] if given.start else base_weights()
    if given.layer:
        of_layer = mean_of([given.layer])[0].items()
        weights |= {name: value for name, value in of_layer if name.startswith("head")}
    teachers = [mean_of([each])[0] for each in given.teacher]
    lesson = Lesson(weights, teachers, given)
    losses: list[float] = []
    while lesson.step < given.steps:
        together, steps = lesson.step - given.alone, given.steps - given.alone
        if together == int(steps * _CHOOSES_WHEN):
            for learnt in shelves.shelves.values():
                choose(learnt, rng, lesson.heard)
        share = rate_at(together, steps, _RISE) if together >= 0 else None
        losses.append(lesson.learn(shelves, rng, share))
        if lesson.step % 100 == 0 or lesson.step == given.steps:
            print(f"{lesson.step} {np.mean(losses[-100:]):.3f} {time.monotonic() - began_s:.0f} s")
            kept = {name: value.half() for name, value in lesson.mean.items()}
            torch.save({"mean": kept, "priors": lesson.priors.cpu()}, given.runs[0][0])


if __name__ == "__main__":
    main()
