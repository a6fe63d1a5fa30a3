"""Fit how certain a hearing is, for the speech model that is shipped, and write it down.

python -m tests.benchmarks.hearing.calibrate --phrases FOLDER

Run it anew whenever the model, its graphs or the phrases listened for change; it takes a few
minutes and writes grammars/acoustic/certainty.toml. Without folders it fits on sentences of
tests/language/phrases.txt, said by espeak-ng and flite. Folders are as
tests.benchmarks.hearing.recordings says: sentences with their contexts, and with --digits and
--words single words by people: digits as answers to a question for a measure, words as answers
to a yes-or-no question, where all but yes and no mean nothing. Single words are read, not
fitted on: the model hears one in five of them wrongly, and fitted on them no single word would
ever be certain, not even a yes. Voices kept for acceptance must not be among the folders.

Every sound is heard clean and in noise, and so is noise alone. The constants are those under
which what was heard was likeliest to be right or wrong as it was (logistic regression). What
is printed is no fit of its own data: the speakers are halved, and each half is read with the
constants of the other. The certainty to act from is the least under which, so read, the wrong
meanings acted on stay below MOST_WRONG.
"""

import argparse
import itertools
import math
import tempfile
from collections.abc import Container, Iterable, Iterator, Sequence
from dataclasses import asdict, astuple, dataclass, replace
from itertools import groupby
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from assistant.errors import BenchError
from assistant.events import Hearing
from assistant.language.certainty import CALIBRATION, Calibration, Evidence
from assistant.language.listening import Context, evidence, meanings_of, phrases
from assistant.language.requests import Request
from assistant.ports import Sound
from hardware.recogniser import VoskRecogniser, hear_sound
from tests.benchmarks.hearing.noise import SHOP, noise, shop_noise, with_noise
from tests.benchmarks.hearing.recordings import Recording, recordings
from tests.benchmarks.hearing.spoken import make

ROOT = Path(__file__).parents[3]
MODEL = ROOT / "grammars" / "acoustic" / "model"
SENTENCES = ROOT / "tests" / "language" / "phrases.txt"
VOICES = (
    "espeak-ng:en-us", "espeak-ng:en-gb", "espeak-ng:en-gb-x-rp", "espeak-ng:en-us+f3",
    "espeak-ng:en-gb+m6", "espeak-ng:en-gb-scotland", "flite:slt", "flite:kal16",
)  # fmt: skip
MOST_SENTENCES = 96

SNRS_DB = (None, 20, 10, 5, 0)
# Shares of sentences whose wrong meaning may be acted on unasked, in quiet and in loud noise. Some
# sets must be by voices the model was not taught with: those are heard worse.
MOST_WRONG = {(None, 20, 10): 0.005, (5, 0): 0.02}
# Never less sure than this, however well the recordings went: common practice, no source.
LEAST_TO_ACT, MOST_TO_ACT = 0.9, 0.98

# By judgement, not fitted. A wrong yes is the dearest: see assistant/language/listening.py.
YES_FROM, STOP_FROM = 0.97, 0.75
EVEN = 0.0
AGREED, SURELY = (0.0, math.log(LEAST_TO_ACT / (1 - LEAST_TO_ACT)) - 0.1), (0.0, 5.0)
# Who is asked about what one in four times he meant does better to say it again.
ASK_FROM = 0.15
# A question in music would bring forth another answer, and so on.
ANSWER_FROM = 0.6

SCALES = (0.1, 0.15, 0.2, 0.25, 0.3, 0.4)
_NOISE_ALONE, _NOISE_S, _NOISE_LEVEL = 120, 10, 1500
# Other noises than those of the benchmark, which begin at 0.
_FIRST_SEED = 10_000

Truth = tuple[Request, ...] | None


@dataclass(frozen=True, slots=True)
class Heard:
    """One hearing: of which set and speaker, in which noise, and what was truly meant."""

    folder: str
    speaker: str
    snr_db: float | None
    hearing: Hearing
    context: Context
    truth: Truth
    # Whether the constants are fitted on it, or it is only read with them.
    fits: bool = True


@dataclass(frozen=True, slots=True)
class Row:
    """What is fitted on: the evidence for the likeliest meaning, and whether it was right."""

    heard: Heard
    evidence: Evidence
    right: bool


def all_heard(sets: Iterable[tuple[str, Sequence[Recording]]]) -> Iterator[Heard]:
    """Hear every recording in every noise, and noise alone."""
    recogniser = VoskRecogniser(MODEL)
    for name, spoken in sets:
        ordered = sorted(spoken, key=lambda each: each.context)
        for context, group in groupby(ordered, key=lambda each: each.context):
            recogniser.expect(phrases(context))
            for seed, each in enumerate(group, _FIRST_SEED):
                truth = _truth(each.said, context)
                for snr_db in SNRS_DB:
                    hearing = hear_sound(recogniser, with_noise(each.sound, snr_db, seed))
                    yield Heard(name, each.speaker, snr_db, hearing, context, truth)
    recogniser.expect(phrases(Context.READY))
    kinds = itertools.cycle(("machine", "machine", "machine", *SHOP))
    for seed, kind in zip(range(_FIRST_SEED, _FIRST_SEED + _NOISE_ALONE), kinds, strict=False):
        count = 16_000 * _NOISE_S
        made = (
            noise(count, 16_000, seed)
            if kind == "machine"
            else shop_noise(kind, count, 16_000, seed)
        )
        made *= _NOISE_LEVEL * (1 + seed % 4)
        sound = Sound(16_000, np.clip(made, -32_768, 32_767).astype("<i2").tobytes())
        yield Heard("noise", str(seed), None, hear_sound(recogniser, sound), Context.READY, None)
    recogniser.close()


def _truth(said: str, context: Context) -> Truth:
    try:
        return meanings_of(Hearing((said,)), context)
    except BenchError:
        return None


def rows(heard: Iterable[Heard], scale: float) -> list[Row]:
    """Return the likeliest meaning of each hearing that has one."""
    found = []
    for each in heard:
        try:
            weighed = evidence(each.hearing, each.context, scale)
        except BenchError:
            continue
        (_, meanings), best = max(weighed, key=lambda one: one[1].meant)
        found.append(Row(each, best, meanings == each.truth))
    return found


def fitted(heard: Sequence[Heard]) -> Calibration:
    """Return the constants under which the outcomes were likeliest."""
    return min((_fitted(rows(heard, scale), scale) for scale in SCALES), key=lambda each: each[0])[
        1
    ]


def _fitted(found: Sequence[Row], scale: float) -> tuple[float, Calibration]:
    meant, other, meaningless, alone, agreed, clearness, written = np.array(
        [astuple(row.evidence) for row in found], dtype=np.float64
    ).T
    sign = np.array([1.0 if row.right else -1.0 for row in found])

    def odds(p: NDArray[np.float64]) -> NDArray[np.float64]:
        against = other + np.exp(p[0]) * meaningless + np.exp(p[1])
        likelier = np.exp(p[3]) * np.log(meant / against)
        surely = p[6] * clearness + p[7] * written
        return np.asarray(p[2] + likelier + p[4] * alone + p[5] * agreed + surely)

    def loss(p: NDArray[np.float64]) -> float:
        return float(np.mean(np.logaddexp(0, -sign * odds(p))) + 1e-4 * np.sum(p**2))

    # Neither so small that one alternative by itself is sure, nor so large that none is. Of two
    # meanings alike neither is likely enough to be acted on, nor even to stop if the listeners
    # disagree.
    limits = [(-4.0, 1.0), (-5.0, 0.0), (-5.0, EVEN), (-2.0, 2.0), (-5.0, 5.0), AGREED]
    limits += [SURELY, SURELY]
    start = [-2.0, -3.0, 0.0, 0.5, 0.0, 1.0, 0.0, 0.0]
    best = minimize(loss, start, method="L-BFGS-B", bounds=limits)
    share, floor, offset, slope, by_itself, agrees, clear, wrote = best.x
    made = Calibration(
        scale, math.exp(share), math.exp(floor), offset, math.exp(slope), by_itself, agrees, clear,
        wrote, LEAST_TO_ACT, YES_FROM, STOP_FROM, ASK_FROM, ANSWER_FROM,
    )  # fmt: skip
    return float(best.fun), made


def read_across(heard: Sequence[Heard]) -> list[tuple[Row, float]]:
    """Return each likeliest meaning with its certainty by the constants of the other half."""
    speakers = sorted({each.speaker for each in heard})
    first = set(speakers[::2])
    halves = [[h for h in heard if (h.speaker in first) is side] for side in (True, False)]
    read = []
    for half, other in (halves, halves[::-1]):
        constants = fitted([each for each in other if each.fits])
        read += [(row, constants.certainty(row.evidence)) for row in rows(half, constants.scale)]
    return read


def act_from(heard: Sequence[Heard], read: Sequence[tuple[Row, float]]) -> float:
    """Return the least certainty to act from that keeps the wrong meanings below MOST_WRONG."""
    for hundredths in range(round(LEAST_TO_ACT * 100), round(MOST_TO_ACT * 100)):
        least = hundredths / 100
        if all(_wrong(heard, read, snrs, least) <= most for snrs, most in MOST_WRONG.items()):
            return least
    return MOST_TO_ACT


def _wrong(
    heard: Sequence[Heard],
    read: Sequence[tuple[Row, float]],
    snrs_db: Container[float | None],
    least: float,
) -> float:
    count = sum(_is_sentence(each) and each.snr_db in snrs_db for each in heard)
    acted = [row for row, certainty in read if certainty >= least and not row.right]
    return sum(_is_sentence(r.heard) and r.heard.snr_db in snrs_db for r in acted) / max(count, 1)


def _is_sentence(heard: Heard) -> bool:
    return heard.fits and heard.truth is not None


def tell(heard: Sequence[Heard], read: Sequence[tuple[Row, float]], least: float) -> None:
    """Print what the certainties, read across, come to."""
    print("| set | noise | hearings | right acted on % | wrong acted on % |\n|---|---|---|---|---|")
    for name in dict.fromkeys(each.folder for each in heard):
        for snr_db in SNRS_DB if name != "noise" else (None,):
            count = sum(h.folder == name and h.snr_db == snr_db for h in heard)
            acted = [
                row.right
                for row, certainty in read
                if certainty >= least and (row.heard.folder, row.heard.snr_db) == (name, snr_db)
            ]
            right, wrong = 100 * sum(acted) / count, 100 * (len(acted) - sum(acted)) / count
            print(f"| {name} | {snr_db} | {count} | {right:.1f} | {wrong:.1f} |")
    print("\n| certainty | hearings | right % |\n|---|---|---|")
    for low, high in ((0, 0.25), (0.25, 0.5), (0.5, 0.75), (0.75, 0.9), (0.9, 0.95), (0.95, 1.01)):
        inside = [row.right for row, certainty in read if low <= certainty < high]
        share = f"{np.mean(inside):.0%}" if inside else "-"
        print(f"| {low} to {min(high, 1)} | {len(inside)} | {share} |")


def written(constants: Calibration, heard: Sequence[Heard]) -> str:
    """Return the file's text."""
    counts = {name: sum(each.folder == name for each in heard) for name in _folders(heard)}
    lines = [
        "# How certain a hearing is; what each constant does: assistant/language/certainty.py.",
        "# Written by python -m tests.benchmarks.hearing.calibrate, which see; fitted on hearings",
        "# of " + ", ".join(f"{name} ({count})" for name, count in counts.items()) + ",",
        "# each sound clean and at 20, 10, 5 and 0 dB. The last four are judgement, not fitted.",
        "",
        "[certainty]",
        *(f"{name} = {value:.4g}" for name, value in asdict(constants).items()),
    ]
    return "\n".join(lines) + "\n"


def _folders(heard: Sequence[Heard]) -> list[str]:
    return list(dict.fromkeys(each.folder for each in heard))


def _in_context(folder: Path, context: Context, every: int) -> list[Recording]:
    return [replace(each, context=context) for each in recordings(folder)][::every]


def main() -> None:
    """Hear, fit, print and write."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    for name in ("phrases", "digits", "words"):
        parser.add_argument(f"--{name}", type=Path, action="append", default=[])
    parser.add_argument("--every", type=int, default=1, help="take one recording in so many")
    parser.add_argument("--every-digit", type=int, default=10, help="take one digit in so many")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        make(SENTENCES, Path(made), VOICES, MOST_SENTENCES)
        sets = [("robots", list(recordings(Path(made))))]
    sets += [(each.name, list(recordings(each))[:: chosen.every]) for each in chosen.phrases]
    for folder in chosen.digits:
        sets.append((folder.name, _in_context(folder, Context.ASKED_MEASURE, chosen.every_digit)))
    sets += [
        (each.name, _in_context(each, Context.ASKED_YES_NO, chosen.every)) for each in chosen.words
    ]
    single = {folder.name for folder in (*chosen.digits, *chosen.words)}
    heard = [replace(each, fits=each.folder not in single) for each in all_heard(sets)]
    read = read_across(heard)
    least = act_from(heard, read)
    fit_on = [each for each in heard if each.fits]
    constants = replace(fitted(fit_on), act_from=least, yes_from=max(YES_FROM, least))
    tell(heard, read, least)
    CALIBRATION.write_text(written(constants, fit_on), encoding="utf-8")
    print(f"\n{CALIBRATION.read_text(encoding='utf-8')}")


if __name__ == "__main__":
    main()
