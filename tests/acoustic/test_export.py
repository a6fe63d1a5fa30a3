"""The export: what vosk computes from the model's file is what the file says.

vosk tells no output of the network, only the score of a reading. Made to expect one word and
nothing else, it must spell that word out along the sound: the score is the best way to do so.
The same way is found here over the outputs of the network in plain numpy. Between two words
all but the network's outputs is the same, so the differences of the scores must agree.
"""

import json
import shutil
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import vosk

import grammars
from assistant.ports import Sound
from grammars.acoustic.recipe.graph import BLANK_COST, Spelling, read_lexicon
from grammars.acoustic.recipe.mfcc import Mfcc, options
from grammars.acoustic.recipe.network import Matrix, Network
from grammars.acoustic.recipe.phones import BLANK, OUTPUT, PHONES
from hardware.recogniser import HISS_RMS
from hardware.sounds import at_rate
from hardware.voice import PyttsxSynthesiser

MODEL = Path(next(iter(grammars.__path__)), "acoustic", "model")
LEXICON = read_lexicon()
RATE_HZ = 16_000
# vosk multiplies the costs of the graphs by this. Source: vosk-api, recognizer.cc, from memory.
GRAPH_SCALE = 0.9
# Scores differ by 50 and more from word to word; float from double by 0.004.
AGREES = 0.01

# Between them they have every phone. Long ones: a short word is rather heard twice.
WORDS = (
    *("aluminum", "another", "bravo", "clockwise", "compound", "confirm", "continue", "divisions"),
    *("finishing", "foot", "hundredth", "imperial", "indicator", "jacobs", "lubricate", "negative"),
    *("point", "quarters", "reminders", "seventeen", "subtract", "temperature"),
)


@pytest.fixture(scope="module")
def sound() -> Sound:
    with closing(PyttsxSynthesiser("en-gb", words_per_minute=150)) as voice:
        spoken = at_rate(voice.sound("seven"), RATE_HZ)
    heard = np.pad(np.frombuffer(spoken.samples, np.int16), RATE_HZ // 4)
    # Over the hiss that is laid under everything: bare zeros are no sound the network knows.
    over = heard + np.random.default_rng(0).normal(0, HISS_RMS, len(heard))
    return Sound(RATE_HZ, over.round().astype(np.int16).tobytes())


@pytest.fixture(scope="module")
def scores(sound: Sound, tmp_path_factory: pytest.TempPathFactory) -> dict[str, float]:
    """Return vosk's score of each word."""
    model = shutil.copytree(MODEL, tmp_path_factory.mktemp("patient") / "model")
    # A word that was not said is a way that the narrow beam gives up.
    with (model / "conf" / "model.conf").open("a", encoding="ascii") as settings:
        settings.write("--beam=1000\n--lattice-beam=40\n--max-active=100000\n")
    vosk.SetLogLevel(-2)
    loaded = vosk.Model(str(model))
    return {word: _score(loaded, word, sound) for word in WORDS}


def _score(model: Any, word: str, sound: Sound) -> float:
    recogniser = vosk.KaldiRecognizer(model, sound.rate_hz, json.dumps([word]))
    recogniser.SetMaxAlternatives(10)
    recogniser.AcceptWaveform(sound.samples)
    # It may also say the word twice.
    readings = json.loads(recogniser.FinalResult())["alternatives"]
    return next(float(r["confidence"]) for r in readings if r["text"].strip() == word)


def best_score(outputs: Matrix, spelling: Spelling) -> float:
    """Return the score of the best way to spell a word along the sound.

    Silence, the phones in order with a blank or none between, silence: each for a frame or
    more, but for the silences.
    """
    labels = [BLANK]
    for phone in spelling:
        labels += [OUTPUT[phone], BLANK]
    graph = np.zeros(len(labels))
    graph[2:-1:2] = BLANK_COST
    costs = np.full(len(labels), np.inf)
    costs[:2] = 0
    spent = np.zeros(len(labels))  # how much of the costs are the graph's
    for time, frame in enumerate(-outputs[:, labels]):
        came = np.vstack([costs, np.roll(costs, 1), np.roll(costs, 2)])
        came[1, 0], came[2, :2], came[2, 2::2] = np.inf, np.inf, np.inf
        best = came.argmin(axis=0) if time else np.zeros(len(labels), int)
        places = np.arange(len(labels))
        spent = spent[places - best] + graph
        costs = came[best, places] + frame + graph
    last = len(labels) - 2 + int(costs[-2:].argmin())
    return float(-(costs[last] - (1 - GRAPH_SCALE) * spent[last]))


def disagreement(scores: dict[str, float], outputs: Matrix) -> float:
    """Return by how much vosk and we differ about the difference of any two words."""
    ours = {w: max(best_score(outputs, each) for each in LEXICON[w]) for w in WORDS}
    return float(np.ptp([scores[word] - ours[word] for word in WORDS]))


@pytest.fixture(scope="module")
def network() -> Network:
    return Network(MODEL / "am" / "final.mdl")


def frames(sound: Sound, front_end: Mfcc) -> Matrix:
    return front_end.frames(np.frombuffer(sound.samples, np.int16))


def outputs_of(network: Network, features: Matrix) -> Matrix:
    every = int(options(MODEL / "conf" / "model.conf")["frame-subsampling-factor"])
    return network.log_likelihoods(features, every)


def test_the_words_have_every_phone_between_them() -> None:
    assert {p for word in WORDS for each in LEXICON[word] for p in each} == set(PHONES)


def test_vosk_computes_what_the_network_says(
    sound: Sound, scores: dict[str, float], network: Network
) -> None:
    outputs = outputs_of(network, frames(sound, Mfcc.of_model(MODEL)))

    assert np.ptp(list(scores.values())) > 50
    assert disagreement(scores, outputs) < AGREES


# That the test above can fail: a model that is not quite the one vosk runs.


def parts() -> Iterator[tuple[str, str]]:
    """Return a part of each kind, from the middle of the network, and the first and the last."""
    found: dict[tuple[str, str], list[str]] = {}
    for name, (kind, fields) in Network(MODEL / "am" / "final.mdl").components.items():
        for field in ("LinearParams", "Params", "BiasParams", "StatsMean", "StatsVar"):
            if field in fields and fields[field].size:
                found.setdefault((kind, field), []).append(name)
    for (_, field), names in found.items():
        for name in {names[0], names[len(names) // 2], names[-1]}:
            yield name, field


@pytest.mark.parametrize(("name", "field"), sorted(parts()))
def test_one_part_of_the_network_a_little_wrong_is_noticed(
    sound: Sound, scores: dict[str, float], name: str, field: str
) -> None:
    network = Network(MODEL / "am" / "final.mdl")
    fields = network.components[name][1]
    fields[field] = 1.1 * fields[field] + 0.01

    outputs = outputs_of(network, frames(sound, Mfcc.of_model(MODEL)))

    assert disagreement(scores, outputs) > AGREES


def test_priors_left_out_are_noticed(
    sound: Sound, scores: dict[str, float], network: Network
) -> None:
    outputs = outputs_of(network, frames(sound, Mfcc.of_model(MODEL))) + network.log_priors

    assert disagreement(scores, outputs) > AGREES


@pytest.mark.parametrize("setting", [{"low_hz": 40.0}, {"high_hz": 7_800.0}, {"mel_bins": 41}])
def test_another_front_end_is_noticed(
    sound: Sound, scores: dict[str, float], network: Network, setting: dict[str, Any]
) -> None:
    other = replace(Mfcc.of_model(MODEL), **setting)

    assert disagreement(scores, outputs_of(network, frames(sound, other))) > AGREES


# What is no such file.


@pytest.mark.parametrize("share", [0.0, 0.3, 0.99])
def test_a_file_cut_short_is_no_network(tmp_path: Path, share: float) -> None:
    whole = (MODEL / "am" / "final.mdl").read_bytes()
    short = tmp_path / "final.mdl"
    short.write_bytes(whole[: int(share * len(whole))])

    with pytest.raises(ValueError, match="network"):
        Network(short)


def swapped(path: Path, old: bytes, new: bytes, to: Path) -> Path:
    to.write_bytes(path.read_bytes().replace(old, new))
    return to


@pytest.mark.parametrize(
    ("old", "new", "refusal"),
    [
        (b"Sum(Scale(", b"Sum(Power(", "a descriptor not known here: Power"),
        (b"NoOpComponent>", b"NoCpComponent>", "a component not known here: NoCpComponent"),
    ],
)
def test_what_is_not_known_here_is_refused_by_name(
    tmp_path: Path, old: bytes, new: bytes, refusal: str
) -> None:
    path = swapped(MODEL / "am" / "final.mdl", old, new, tmp_path / "final.mdl")

    with pytest.raises(ValueError, match=refusal):
        Network(path).log_likelihoods(np.zeros((3, 40)))
