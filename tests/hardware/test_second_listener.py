"""The second listener: the best path of a sentence's phones through what a network says."""

import itertools
import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import resample_poly

from assistant.errors import ModelIncomplete
from assistant.events import Hearing
from assistant.ports import Sound
from hardware.recogniser import VoskRecogniser, hear_sound
from hardware.recogniser_process import Listener
from hardware.second_listener import (
    NETWORK,
    RATE_HZ,
    UNKNOWN_PHONE_COST,
    Floats,
    SecondListener,
    Spelling,
    best_paths,
)
from hardware.sound_files import read_sound
from tests.hardware.conftest import MODEL

# The blank and three phones; "one" is said in two ways.
SPELLINGS: dict[str, list[Spelling]] = {"one": [(1, 2), (2,)], "two": [(3,)], "three": [(3, 3)]}
MOMENTS = 7


def by_trying(logs: Floats, sentence: Sequence[str]) -> float:
    """Return the best path as the definition has it: by trying every one."""
    chosen = itertools.product(*(SPELLINGS[word] for word in sentence))
    ways = [tuple(itertools.chain.from_iterable(way)) for way in chosen]
    best = -np.inf
    for path in itertools.product(range(4), repeat=len(logs)):
        phones = tuple(label for label, _ in itertools.groupby(path) if label)
        if path[0] == 0 and phones in ways:
            best = max(best, float(sum(logs[moment, p] for moment, p in enumerate(path))))
    return best


def said(seed: int, moments: int = MOMENTS) -> Floats:
    return np.log(np.random.default_rng(seed).dirichlet(np.ones(4), moments))


@settings(max_examples=15, deadline=None)
@given(
    st.integers(0, 10_000),
    st.lists(st.sampled_from(sorted(SPELLINGS)), min_size=1, max_size=3),
)
def test_the_best_path_is_the_best_of_all_paths(seed: int, words: list[str]) -> None:
    logs = said(seed)

    (found,) = best_paths(logs, [" ".join(words)], SPELLINGS)

    wanted = by_trying(logs, words)
    if np.isinf(wanted):  # more phones than moments
        assert found < -1e20
    else:
        assert found == pytest.approx(wanted)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000))
def test_sentences_are_weighed_beside_one_another_as_each_alone(seed: int) -> None:
    sentences = ["one", "two three", "[unk] two", "three one"]

    together = best_paths(said(seed, 12), sentences, SPELLINGS)

    assert together == [best_paths(said(seed, 12), [each], SPELLINGS)[0] for each in sentences]


def test_a_sound_of_no_word_costs_its_phones() -> None:
    sure = np.full((6, 4), -20.0)
    for moment, label in enumerate((0, 1, 1, 0, 3, 0)):
        sure[moment, label] = 0.0

    word, no_word = best_paths(sure, ["one two", "[unk]"], SPELLINGS | {"one": [(1,)]})

    assert word == 0
    assert no_word == -2 * UNKNOWN_PHONE_COST


# With the network that is shipped.


@pytest.fixture(scope="module")
def listener() -> SecondListener:
    return SecondListener(MODEL)


@pytest.fixture(scope="module")
def spoken(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("spoken")


def sound_of(words: str, folder: Path) -> bytes:
    path = folder / f"{words.replace(' ', '_')}.wav"
    subprocess.run(["espeak-ng", "-v", "en-us", "-s", "140", "-w", path, words], check=True)
    quiet = bytes(2 * RATE_HZ // 4)
    return quiet + at_16_khz(path) + quiet


def at_16_khz(path: Path) -> bytes:
    sound = read_sound(path)
    samples = np.frombuffer(sound.samples, "<i2").astype(float)
    made = resample_poly(samples, RATE_HZ, sound.rate_hz)
    return bytes(made.clip(-32_768, 32_767).astype("<i2").tobytes())


@pytest.mark.parametrize(
    ("words", "others"),
    [
        ("number two morse taper", ["number ten morse taper", "number two", "[unk]"]),
        ("one forty two point five", ["one forty two point nine", "one forty two five"]),
        ("stop", ["up", "ten", "[unk]"]),
    ],
)
def test_what_was_said_fits_best(
    listener: SecondListener, spoken: Path, words: str, others: list[str]
) -> None:
    fits = listener.fits(sound_of(words, spoken), RATE_HZ, [words, *others])

    assert fits is not None
    assert fits[0] == max(fits)


def test_the_rate_of_the_sound_changes_little(listener: SecondListener, spoken: Path) -> None:
    samples = sound_of("which way", spoken)
    finer = resample_poly(np.frombuffer(samples, "<i2").astype(float), 3, 1).astype("<i2")

    fits = listener.fits(samples, RATE_HZ, ["which way", "where are we"])
    again = listener.fits(finer.tobytes(), 3 * RATE_HZ, ["which way", "where are we"])

    assert fits is not None
    assert again == pytest.approx(fits, abs=2.0)


@pytest.mark.parametrize("seconds", [0, 0.01, 13])
def test_too_short_or_long_a_sound_is_no_evidence(listener: SecondListener, seconds: float) -> None:
    assert listener.fits(bytes(round(2 * seconds * RATE_HZ)), RATE_HZ, ["stop"]) is None


def heard_by(model: Path, words: str, folder: Path, expected: list[str]) -> Hearing:
    recogniser = VoskRecogniser(model)
    recogniser.expect(expected)
    heard = hear_sound(recogniser, Sound(RATE_HZ, sound_of(words, folder)))
    recogniser.close()
    return heard


def test_a_word_expected_alone_is_weighed_though_vosk_did_not_propose_it(spoken: Path) -> None:
    expected = ["stop", "left", "right", "quiet", "metric"]

    heard = heard_by(MODEL, "stop", spoken, expected)

    assert heard.words == "stop"
    assert set(expected) <= set(heard.alternatives)
    assert list(heard.scores) == sorted(heard.scores, reverse=True)


class Proposes:
    """In vosk's place: proposes the same words whatever it is given."""

    def Model(self, model_path: str) -> "Proposes":  # noqa: N802
        return self

    def vosk_model_find_word(self, word: str) -> int:
        return 1

    def KaldiRecognizer(self, *arguments: object) -> "Proposes":  # noqa: N802
        return self

    def SetMaxAlternatives(self, most: int) -> None:  # noqa: N802
        pass

    def AcceptWaveform(self, samples: bytes) -> bool:  # noqa: N802
        return False

    def PartialResult(self) -> str:  # noqa: N802
        return '{"partial": ""}'

    def FinalResult(self) -> str:  # noqa: N802
        return '{"alternatives": [{"text": "three", "confidence": 70.0}]}'


@pytest.mark.parametrize("hissing", [True, False])
def test_a_word_that_vosk_makes_out_of_hiss_is_not_heard(spoken: Path, hissing: bool) -> None:
    hiss = np.random.default_rng(0).normal(0, 33, RATE_HZ).astype("<i2").tobytes()
    listener = Listener(Proposes(), str(MODEL))
    listener.expect(["three", "four"], 10)

    listener.accept(RATE_HZ, hiss if hissing else sound_of("three", spoken))

    assert next(iter(listener.finish()), None) == (None if hissing else "three")


def test_a_model_without_the_second_network_is_heard_by_vosk_alone(
    spoken: Path, tmp_path: Path
) -> None:
    model = tmp_path / "model"
    shutil.copytree(MODEL, model, ignore=shutil.ignore_patterns("second", "contents.txt"))

    assert heard_by(model, "stop", spoken, ["stop", "left"]).words == "stop"


def test_a_damaged_second_network_is_named(tmp_path: Path) -> None:
    model = tmp_path / "model"
    shutil.copytree(MODEL, model)
    network = model / NETWORK
    network.write_bytes(network.read_bytes()[:-1000])

    with pytest.raises(ModelIncomplete, match=NETWORK):
        VoskRecogniser(model)
