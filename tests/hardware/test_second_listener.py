"""The second listener, with the network that is shipped, and what it adds to vosk."""

import json
import math
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray
from scipy.signal import resample_poly

from assistant.errors import ModelIncomplete
from assistant.events import Hearing
from assistant.ports import Sound
from hardware.recogniser import VoskRecogniser, hear_sound
from hardware.recogniser_process import Listener
from hardware.second_listener import NETWORK, RATE_HZ, SecondListener, clearness
from hardware.sound_files import read_sound
from tests.hardware.conftest import MODEL


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
    heard = listener.hear(sound_of(words, spoken), RATE_HZ)

    assert heard is not None
    fits = listener.fits(heard, [words, *others])
    assert fits[0] == max(fits)


def test_what_was_said_is_proposed_if_its_words_are_expected(
    listener: SecondListener, spoken: Path
) -> None:
    expected = ["number two morse taper", "number ten morse taper", "one in ten"]

    heard = listener.hear(sound_of("number two morse taper", spoken), RATE_HZ)

    assert heard is not None
    assert listener.chains(expected).likeliest(heard, 5)[0] == "number two morse taper"
    assert "morse" not in " ".join(listener.chains(["one in ten"]).likeliest(heard, 5))


def test_the_rate_of_the_sound_changes_little(listener: SecondListener, spoken: Path) -> None:
    samples = sound_of("which way", spoken)
    finer = resample_poly(np.frombuffer(samples, "<i2").astype(float), 3, 1).astype("<i2")

    heard = listener.hear(samples, RATE_HZ)
    again = listener.hear(finer.tobytes(), 3 * RATE_HZ)

    assert heard is not None
    assert again is not None
    sentences = ["which way", "where are we"]
    assert listener.fits(again, sentences) == pytest.approx(listener.fits(heard, sentences), abs=2)


@pytest.mark.parametrize("seconds", [0, 0.01, 13])
def test_too_short_or_long_a_sound_is_no_evidence(listener: SecondListener, seconds: float) -> None:
    assert listener.hear(bytes(round(2 * seconds * RATE_HZ)), RATE_HZ) is None


def heard_by(model: Path, words: str, folder: Path, expected: list[str]) -> Hearing:
    recogniser = VoskRecogniser(model)
    recogniser.expect(expected)
    heard = hear_sound(recogniser, Sound(RATE_HZ, sound_of(words, folder)))
    recogniser.close()
    return heard


class Proposes:
    """In vosk's place: proposes the same words whatever it is given."""

    def __init__(self, words: str) -> None:
        self._words = words

    def Model(self, model_path: str) -> "Proposes":  # noqa: N802
        return self

    def vosk_model_find_word(self, word: str) -> int:
        return 1

    def KaldiRecognizer(self, *arguments: object) -> "Proposes":  # noqa: N802
        return self

    def SetMaxAlternatives(self, most: int) -> None:  # noqa: N802
        pass

    def Reset(self) -> None:  # noqa: N802
        pass

    def AcceptWaveform(self, samples: bytes) -> bool:  # noqa: N802
        return False

    def PartialResult(self) -> str:  # noqa: N802
        return '{"partial": ""}'

    def FinalResult(self) -> str:  # noqa: N802
        return json.dumps({"alternatives": [{"text": self._words, "confidence": 70.0}]})


@pytest.mark.parametrize("hissing", [True, False])
def test_a_word_that_vosk_makes_out_of_hiss_is_not_heard(spoken: Path, hissing: bool) -> None:
    hiss = np.random.default_rng(0).normal(0, 33, RATE_HZ).astype("<i2").tobytes()
    listener = Listener(Proposes("three"), str(MODEL))
    listener.expect(("three", "four"), 10)

    listener.accept(RATE_HZ, hiss if hissing else sound_of("three", spoken))

    heard, *_ = listener.finish()
    assert next(iter(heard), None) == (None if hissing else "three")


def test_what_vosk_did_not_propose_is_weighed_too(spoken: Path) -> None:
    listener = Listener(Proposes("one in four"), str(MODEL))
    listener.expect(("one in four", "half angle"), 10)

    listener.accept(RATE_HZ, sound_of("half angle", spoken))
    heard, unaided, *_ = listener.finish()

    assert next(iter(heard)) == "half angle"
    assert unaided == "one in four"
    assert "one in four" in heard
    assert list(heard.values()) == sorted(heard.values(), reverse=True)


def test_what_is_said_after_it_has_begun_anew_is_heard_as_before(spoken: Path) -> None:
    listener, heard = Listener(Proposes("left"), str(MODEL)), []
    listener.expect(("stop", "left"), 10)

    for _ in range(2):
        listener.accept(RATE_HZ, sound_of("left", spoken))
        heard.append(listener.finish())
        listener.begin_anew()

    assert "left" in heard[0][0]
    assert heard[1] == heard[0]


def test_where_vosk_makes_out_nothing_nothing_is_heard(spoken: Path) -> None:
    listener = Listener(Proposes(""), str(MODEL))
    listener.expect(("half angle",), 10)

    listener.accept(RATE_HZ, sound_of("half angle", spoken))

    assert listener.finish() == ({}, None, 0.0, 0.0)


def test_a_model_without_the_second_network_is_heard_by_vosk_alone(
    spoken: Path, tmp_path: Path
) -> None:
    model = tmp_path / "model"
    shutil.copytree(MODEL, model, ignore=shutil.ignore_patterns("second", "contents.txt"))

    heard = heard_by(model, "stop", spoken, ["stop", "left"])
    assert (heard.words, heard.unaided) == ("stop", None)


@given(arrays(np.float32, (7, 4), elements=st.floats(-30, 0, width=32)))
def test_no_phone_is_clearer_than_surely_made_out_or_less_clear_than_a_guess(
    logs: NDArray[np.float32],
) -> None:
    assert -math.log(4) - 1e-5 <= clearness(logs) <= 1e-5


def test_one_phone_alone_is_clear_and_two_alike_are_as_clear_as_a_coin() -> None:
    one, two = np.full((1, 4), -99.0), np.full((1, 4), -99.0)
    one[:, 1], two[:, 1:3] = 0.0, 0.0

    assert clearness(one) == pytest.approx(0)
    assert clearness(two) == pytest.approx(-math.log(2))


def test_a_damaged_second_network_is_named(tmp_path: Path) -> None:
    model = tmp_path / "model"
    shutil.copytree(MODEL, model)
    network = model / NETWORK
    network.write_bytes(network.read_bytes()[:-1000])

    with pytest.raises(ModelIncomplete, match=NETWORK):
        VoskRecogniser(model)
