"""Teach the network: from one model file to another, on a GPU or, for a try, a processor.

python -m grammars.acoustic.recipe.train START.mdl RUN.mdl --shelf game=41 --shelf kokoro=34 ...
    --develop FOLDER --develop FOLDER

What is heard is drawn and made worse anew at every step (windows.py, degrade.py), the loss is
CTC's over the phones, and what is kept is a running mean of the weights. RUN.mdl is that mean at
the end, RUN-best.mdl where people of the development sets, who are not learnt from, were heard
best; choose between them and the means of several runs by people too. RUN.pt lets a run that
was cut off go on. Needs torch.
"""

import argparse
import json
import random
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch.nn import functional

from grammars.acoustic.recipe.align import UNKNOWN, frame_labels, frames_in, read_times
from grammars.acoustic.recipe.degrade import LOUDER_NOISES_DB, NOISES_DB, Draws, degraded
from grammars.acoustic.recipe.export import (
    EVERY,
    PRIOR_POWER,
    log_priors,
    model_file,
    read_model,
    widened,
)
from grammars.acoustic.recipe.features import Features
from grammars.acoustic.recipe.graph import Spelling, read_lexicon
from grammars.acoustic.recipe.layers import kept_statistics, outputs, padded
from grammars.acoustic.recipe.mfcc import Mfcc
from grammars.acoustic.recipe.network import Network
from grammars.acoustic.recipe.phones import BLANK, OUTPUT
from grammars.acoustic.recipe.speech import RATE_HZ, Samples, at_16_khz, read_shelf
from grammars.acoustic.recipe.windows import Learnt, Placed, Shelves, rate_at

# Of torch, which need not be there to check this.
Tensor = Any
Weights = dict[tuple[str, str], Tensor]

# The layers that know voices learn more slowly.
_LOW = ("t1.", "f2.", "f3.", "f4.", "f5.")
_LOW_RATE = 0.3
_STATISTICS = ("StatsMean", "StatsVar")
_STATISTICS_MOVE, _STATISTICS_STAND = 0.02, 0.9
_MEAN_OVER = 1_000
_PRIORS_MOVE = 0.05
_STEEPEST = 5.0
# Of the aligned beginning: the trunk waits for a third, then the labels fade out.
_TRUNK_WAITS, _LABELS_FADE, _BLANK_WEIGHT = 1 / 3, 0.8, 0.5
# The network chooses pronunciations at the start and when so much is done: the best of so many
# draws, if by more than half a nat. So many in a hundred that fit their words worst are left out.
_CHOOSES_AGAIN, _WAYS_TRIED, _BETTER_BY, _WORST = 0.3, 10, 0.5, 6
# Around what is scored: a pause with the hiss of a quiet room.
_PAUSE_S, _HISS, _LEVEL = 0.3, 8.0, 12_000


class Run:
    """One run: the network, the mean of it, and how far it has come."""

    def __init__(self, start: Path, given: argparse.Namespace) -> None:
        shape, weights = read_model(start)
        if given.bottleneck > shape.bottleneck:
            rng = np.random.default_rng(given.seed)
            shape, weights = widened(shape, weights, given.bottleneck, rng)
        self.shape, self.device = shape, torch.device(given.device)
        self.weights: Weights = {k: torch.tensor(w).to(self.device) for k, w in weights.items()}
        self.mean: Weights = {key: value.clone() for key, value in self.weights.items()}
        learnt = {k: w for k, w in self.weights.items() if k[1] not in _STATISTICS and w.numel()}
        for value in learnt.values():
            value.requires_grad_()
        low = [value for (name, _), value in learnt.items() if name.startswith(_LOW)]
        high = [value for (name, _), value in learnt.items() if not name.startswith(_LOW)]
        self.trunk = [v for (n, _), v in learnt.items() if n.startswith(("t1.", "f"))]
        self.rates = [given.rate, given.rate * _LOW_RATE]
        self.optimiser = torch.optim.AdamW(
            [{"params": high}, {"params": low}], lr=given.rate, betas=(0.9, 0.98), weight_decay=1e-3
        )
        self.step = 0
        self.priors = torch.full((shape.outputs,), 1 / shape.outputs, device=self.device)
        self.draws = Draws.of_torch(self.device)
        self.features = Features(self.draws)

    def log_probabilities(self, frames: Tensor, learns_statistics: bool = False) -> Tensor:
        """Return those of the network as it learns."""
        norm = self._moving if learns_statistics else kept_statistics(self.weights)
        windows = padded(frames, self.shape.context, torch)
        # Half as many bits are twice as fast on a GPU, and slower on most processors.
        with torch.autocast("cuda", torch.bfloat16, enabled=self.device.type == "cuda"):
            rows = outputs(self.shape, self.weights, windows, torch, norm)
        return rows.float().log_softmax(-1)

    def log_probabilities_of_mean(self, frames: Tensor) -> Tensor:
        """Return those of the mean of the network, which is what is kept."""
        windows = padded(frames, self.shape.context, torch)
        rows = outputs(self.shape, self.mean, windows, torch, kept_statistics(self.mean))
        return rows.log_softmax(-1)

    def _moving(self, name: str, rows: Tensor) -> Tensor:
        rows = rows.float()
        found = {"StatsMean": rows.mean((0, 1)), "StatsVar": rows.var((0, 1), correction=0)}
        with torch.no_grad():
            for field, value in found.items():
                self.weights[name, field].lerp_(value, _STATISTICS_MOVE)
        return kept_statistics({(name, field): value for field, value in found.items()})(name, rows)

    def learn(self, placed: Sequence[Sequence[Placed]], given: argparse.Namespace) -> float:
        """Take a step; return the loss for each phone."""
        done = self.step / given.steps
        factor = rate_at(self.step, given.steps)
        for group, rate in zip(self.optimiser.param_groups, self.rates, strict=True):
            group["lr"] = rate * factor
        fade = 1 + (given.aligned - self.step) / max(1, _LABELS_FADE * given.aligned)
        by_labels = min(1.0, max(0.0, fade)) if given.aligned else 0.0
        with torch.no_grad():
            noises_db = LOUDER_NOISES_DB if given.louder else NOISES_DB
            clear = mixed(placed, given.seconds, self.device)
            sound = degraded(self.draws, clear, noises_db)
            frames = self.features.varied(sound, uneven=not by_labels)
        logs = self.log_probabilities(frames, learns_statistics=done < _STATISTICS_STAND)
        with torch.no_grad():
            self.priors.lerp_(logs.exp().mean((0, 1)), _PRIORS_MOVE if self.step else 1)
        targets = [[s for each in window for s in each.spellings] for window in placed]
        phones = sum(len(spelling) for window in targets for spelling in window)
        ctc = costs(logs, targets).sum() / phones
        loss = ctc
        if by_labels:
            weight = torch.ones(self.shape.outputs, device=self.device)
            weight[BLANK] = _BLANK_WEIGHT
            told = torch.tensor(labels(placed, given.seconds)).to(self.device).flatten()
            each = functional.nll_loss(logs.flatten(0, 1), told, weight, ignore_index=UNKNOWN)
            loss = each if by_labels == 1 else ctc + by_labels * each
        self.optimiser.zero_grad()
        loss.backward()
        if self.step < given.aligned * _TRUNK_WAITS:
            for value in self.trunk:
                value.grad = None
        parameters = [p for group in self.optimiser.param_groups for p in group["params"]]
        torch.nn.utils.clip_grad_norm_(parameters, _STEEPEST)
        self.optimiser.step()
        self.step += 1
        keep = min(1 - 1 / _MEAN_OVER, (self.step + 1) / (self.step + 10))
        with torch.no_grad():
            for key, value in self.weights.items():
                self.mean[key].lerp_(value, 1 - keep)
        return float(ctc.detach())

    def heard(self, sounds: Sequence[Samples]) -> Tensor:
        """Return the log probabilities of the mean for sounds, each in a quiet room."""
        windows = quietly(sounds).to(self.device)
        return self.log_probabilities_of_mean(self.features.plain(windows))

    def write(self, path: Path) -> None:
        """Write the mean, and see that numpy computes from the file what torch does."""
        weights = {key: value.detach().cpu().numpy() for key, value in self.mean.items()}
        priors = log_priors(self.priors.double().cpu().numpy())
        path.write_bytes(model_file(self.shape, weights, priors))
        frames = Mfcc().frames(np.random.default_rng(0).integers(-999, 999, RATE_HZ // 2, np.int16))
        said = Network(path).log_likelihoods(frames, EVERY) + priors
        meant = self.log_probabilities_of_mean(self.draws.array(frames)[None])[0].cpu().numpy()
        # A GPU's short sums make 0.01 of difference.
        if np.abs(said - meant).mean() > 0.1:
            raise ArithmeticError(f"{path} does not say what was learnt")

    def save(self, path: Path) -> None:
        """Keep what it takes to go on."""
        kept = (self.step, self.weights, self.mean, self.priors, self.optimiser.state_dict())
        torch.save(kept, path)

    def resume(self, path: Path) -> None:
        """Go on from where a run was cut off."""
        self.step, weights, mean, self.priors, optimiser = torch.load(path, self.device)
        with torch.no_grad():
            for key, value in weights.items():
                self.weights[key].copy_(value)
        self.mean = mean
        self.optimiser.load_state_dict(optimiser)


def choose(
    learnt: Sequence[Learnt], rng: random.Random, heard: Callable[[Sequence[Samples]], Tensor]
) -> None:
    """Choose how each word was said, and leave out what fits its words worst."""
    fits: list[tuple[float, Learnt]] = []
    ordered = sorted(learnt, key=lambda each: len(each.utterance.samples))
    for start in range(0, len(ordered), 64):
        batch = ordered[start : start + 64]
        logs = heard([each.utterance.samples for each in batch])
        best: list[float] = [float("inf")] * len(batch)
        for turn in range(_WAYS_TRIED):
            # The first are American and the last British, all through.
            tried = [
                [
                    ways[0] if turn == 0 else ways[-1] if turn == 1 else rng.choice(ways)
                    for ways in each.utterance.ways
                ]
                for each in batch
            ]
            for row, cost in enumerate(costs(logs, tried).tolist()):
                if cost < best[row] - _BETTER_BY:
                    best[row], batch[row].chosen = cost, tuple(tried[row])
        fits += [
            (cost / max(4, sum(map(len, each.chosen or ()))), each)
            for cost, each in zip(best, batch, strict=True)
        ]
    fits.sort(key=lambda fit: fit[0])
    for place, (_, each) in enumerate(fits):
        each.is_left_out = place >= len(fits) * (100 - _WORST) / 100


def quietly(sounds: Sequence[Samples]) -> Tensor:
    """Return windows of sounds, each between pauses in a quiet room."""
    pause = round(_PAUSE_S * RATE_HZ)
    windows = torch.zeros(len(sounds), max(map(len, sounds)) + 2 * pause)
    for row, sound in enumerate(sounds):
        even = sound * (_LEVEL / max(1e-4, np.abs(sound).max()))
        windows[row, pause : pause + len(sound)] = torch.tensor(even)
    return windows + _HISS * torch.randn_like(windows)


def costs(logs: Tensor, targets: Sequence[Sequence[Spelling]]) -> Tensor:
    """Return what CTC makes of each window saying its words."""
    rows = [[OUTPUT[p] for spelling in window for p in spelling] for window in targets]
    return functional.ctc_loss(
        logs.transpose(0, 1),
        torch.tensor([phone for row in rows for phone in row], device=logs.device),
        torch.full((len(rows),), logs.shape[1], device=logs.device),
        torch.tensor([len(row) for row in rows], device=logs.device),
        reduction="none",
        zero_infinity=True,
    )


def mixed(placed: Sequence[Sequence[Placed]], seconds: float, device: torch.device) -> Tensor:
    """Return windows of sound."""
    sound = torch.zeros(len(placed), round(seconds * RATE_HZ), device=device)
    for row, window in enumerate(placed):
        for each in window:
            samples = torch.from_numpy(each.learnt.utterance.samples).to(device).float()
            stretched = functional.interpolate(samples[None, None], each.count, mode="linear")[0, 0]
            level = 10 ** (each.gain_db / 20) / (stretched.abs().max() + 1)
            sound[row, each.start : each.start + each.count] += stretched * level
    return sound


def labels(placed: Sequence[Sequence[Placed]], seconds: float) -> Any:
    """Return for each window and output what it should be, as far as it was aligned."""
    count = frames_in(round(seconds * RATE_HZ))
    found = np.full((len(placed), count), BLANK)
    for row, window in enumerate(placed):
        for each in window:
            first = frames_in(each.start)
            last = frames_in(each.start + each.count) + 1
            if each.learnt.times is None:
                found[row, first:last] = UNKNOWN
                continue
            slower = each.count / len(each.learnt.utterance.samples)
            times = [(begin * slower, end * slower) for begin, end in each.learnt.times]
            own = frame_labels(each.spellings, times, count, each.start / RATE_HZ)
            found[row, first:last] = own[first:last]
    return found


class Development:
    """Single words by people who are not learnt from: all.flac and all.json, as in a benchmark."""

    def __init__(self, folder: Path) -> None:
        import soundfile

        digits = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
        sound, rate_hz = soundfile.read(folder / "all.flac")
        self.name, self.said, self.sounds = folder.name, list[str](), list[Any]()
        lexicon, start = read_lexicon(), 0
        for entry in json.loads((folder / "all.json").read_text(encoding="utf-8")):
            said = str(entry["said"])
            word = digits[int(said)] if said.isdigit() else said
            if word in lexicon:
                self.said.append(word)
                self.sounds.append(at_16_khz(sound[start : start + entry["n"]], rate_hz))
            start += entry["n"]
        self.words = {word: lexicon[word] for word in sorted(set(self.said))}

    def right(self, run: Run) -> float:
        """Return how many of a hundred are heard right, none but its words being expected."""
        priors = run.priors.clamp_min(1e-4).log()
        right = 0
        for start in range(0, len(self.said), 100):
            logs = run.heard(self.sounds[start : start + 100]) - PRIOR_POWER * priors
            of_words = [
                torch.stack([costs(logs, [[way]] * len(logs)) for way in ways]).amin(0)
                for ways in self.words.values()
            ]
            best = torch.stack(of_words).argmin(0).tolist()
            heard = [list(self.words)[number] for number in best]
            right += sum(map(str.__eq__, heard, self.said[start : start + 100]))
        return 100 * right / len(self.said)


def shelf(path: Path) -> list[Learnt]:
    """Return what is on a shelf, with its times if it was aligned."""
    is_aligned = path.with_suffix(".times").exists()
    times = read_times(path) if is_aligned else iter(lambda: None, 0)
    return [Learnt(*each) for each in zip(read_shelf(path), times, strict=False)]


def shelved(named: Sequence[tuple[str, float]], short: float) -> Shelves:
    """Return shelves by their names and shares, and so many in a hundred short words."""
    shares = dict(named)
    return Shelves({name: shelf(Path(name)) for name in shares}, shares, short)


def shelf_and_share(text: str) -> tuple[str, float]:
    """Read NAME=SHARE."""
    name, _, share = text.partition("=")
    return name, float(share)


def arguments(given: Sequence[str] | None = None) -> argparse.Namespace:
    """Return the settings of a run; what is not given is as for the shipped network."""
    parser = argparse.ArgumentParser(description=__doc__)
    add = parser.add_argument
    add("start", type=Path)
    add("to", type=Path)
    add("--shelf", type=shelf_and_share, action="append", required=True)
    add("--develop", type=Path, action="append", default=[])
    add("--steps", type=int, default=1_600)
    add("--windows", type=int, default=96, help="in a step")
    add("--seconds", type=float, default=8.0, help="of a window")
    add("--rate", type=float, default=8e-4, help="of learning, at its highest")
    add("--short", type=float, default=20, help="percent of utterances that are short words")
    add("--bottleneck", type=int, default=96)
    add("--aligned", type=int, default=0, help="steps told frame by frame, from the base model")
    add("--every", type=int, default=200, help="steps between looks at the development sets")
    add("--louder", action="store_true", help="noise in most windows")
    add("--device", default="cuda")
    add("--seed", type=int, default=7)
    return parser.parse_args(given)


def main() -> None:
    """Run."""
    given = arguments()
    rng = random.Random(given.seed)
    torch.manual_seed(given.seed)
    torch.set_float32_matmul_precision("high")
    shelves = shelved(given.shelf, given.short)
    sets = [Development(folder) for folder in given.develop]
    run, state = Run(given.start, given), given.to.with_suffix(".pt")
    if state.exists():
        run.resume(state)
    best, losses, began_s = 0.0, list[float](), time.monotonic()
    # From the base model on, there is nothing to choose by at first.
    chooses = {run.step or (-1 if given.aligned else 0), int(given.steps * _CHOOSES_AGAIN)}
    while run.step < given.steps:
        if run.step in chooses:
            for learnt in shelves.shelves.values():
                if any(len(ways) > 1 for each in learnt for ways in each.utterance.ways):
                    choose(learnt, rng, run.heard)
        placed = [shelves.window(rng, given.seconds) for _ in range(given.windows)]
        losses.append(run.learn(placed, given))
        if run.step % given.every == 0 or run.step == given.steps:
            right = {each.name: round(each.right(run), 1) for each in sets}
            spent_s = time.monotonic() - began_s
            print(
                f"{run.step} {np.mean(losses[-given.every :]):.3f} {spent_s:.0f} s",
                right,
                flush=True,
            )
            run.save(state)
            score = sum(right.values())
            if score > best:
                best = score
                run.write(given.to.with_stem(f"{given.to.stem}-best"))
    run.write(given.to)


if __name__ == "__main__":
    main()
