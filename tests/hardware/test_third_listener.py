"""The third listener, with the network that is shipped, and what it adds to the first two."""

import shutil
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from assistant.errors import ModelIncomplete
from hardware.agreement import NOT_WRITTEN, Agreement
from hardware.held_matrices import Matrix, even, turned
from hardware.recogniser import VoskRecogniser
from hardware.recogniser_process import Listener
from hardware.second_listener import RATE_HZ, at_16_khz
from hardware.third_listener import MATRICES, UNKNOWN, Heard, Spelling, ThirdListener
from tests.hardware.conftest import MODEL
from tests.hardware.test_second_listener import Proposes, sound_of

SAID = "number two morse taper"
OTHERS = ["number ten morse taper", "number two", "one in two"]
WORDS = {word for sentence in (SAID, *OTHERS) for word in sentence.split()}


@pytest.fixture(scope="module")
def listener() -> ThirdListener:
    return ThirdListener(MODEL)


@pytest.fixture(scope="module")
def spoken(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("spoken")


@pytest.fixture(scope="module")
def heard(listener: ThirdListener, spoken: Path) -> Heard:
    return listener.hear(at_16_khz(sound_of(SAID, spoken), RATE_HZ))


def test_what_was_said_fits_best(listener: ThirdListener, heard: Heard) -> None:
    fits = listener.fits(heard, [*OTHERS, SAID], listener.vocabulary(WORDS))
    assert fits[-1] == max(fits)


def test_what_was_said_is_proposed_if_its_words_are_expected(
    listener: ThirdListener, heard: Heard
) -> None:
    assert listener.proposed(heard, listener.vocabulary(WORDS)) == SAID
    without = listener.proposed(heard, listener.vocabulary(WORDS - {"morse"}))
    assert set(without.split()) <= WORDS - {"morse"}


def test_a_sentence_fits_the_same_alone_and_beside_others(
    listener: ThirdListener, heard: Heard
) -> None:
    known, sentences = listener.vocabulary(WORDS), [SAID, *OTHERS]
    alone = [listener.fits(heard, [sentence], known)[0] for sentence in sentences]
    assert listener.fits(heard, sentences, known) == pytest.approx(alone, abs=1e-3)


@pytest.mark.parametrize(
    ("sentence", "pieces"),
    [
        ("taper", "▁Ta per ."),
        ("a taper", "▁A ▁ta per ."),
        ("i tap", "▁I ▁ta p ."),
        ("tax", "▁Ta ? ."),
    ],
)
def test_pairs_that_come_first_are_joined_first(sentence: str, pieces: str) -> None:
    listed = ["<unk>", "<s>", "</s>", "▁ta", "er", "per", "▁T", "▁Ta", "▁A", "▁a", "▁I", "▁t"]
    listed += ["▁", *"taperTAI."]
    cut = Spelling(listed).of(sentence)
    assert [listed[each] if each != UNKNOWN else "?" for each in cut] == pieces.split()


@pytest.fixture(scope="module")
def without_third(tmp_path_factory: pytest.TempPathFactory) -> Path:
    model = tmp_path_factory.mktemp("two") / "model"
    shutil.copytree(MODEL, model, ignore=shutil.ignore_patterns("third", "contents.txt"))
    return model


def weighed_by(
    model: Path, proposed: dict[str, float], sound: bytes
) -> tuple[dict[str, float], float]:
    agreement = Agreement(model)
    logs = agreement.hear(sound, RATE_HZ)
    assert logs is not None
    expected = agreement.expecting([SAID, *OTHERS])
    return agreement.weighed(proposed, logs, sound, RATE_HZ, expected)


def test_where_the_first_two_leave_it_open_the_third_decides(
    without_third: Path, spoken: Path
) -> None:
    sound, other = sound_of(SAID, spoken), "number two"
    alike, _ = weighed_by(without_third, {SAID: 0.0, other: 0.0}, sound)
    proposed = {SAID: 0.0, other: alike[SAID] - alike[other] + 0.5}

    by_two, _ = weighed_by(without_third, proposed, sound)
    by_three, written = weighed_by(MODEL, proposed, sound)

    assert max(by_two, key=lambda text: by_two[text]) == other
    assert max(by_three, key=lambda text: by_three[text]) == SAID
    assert by_three["[unk]"] == by_two["[unk]"]
    assert NOT_WRITTEN < written < 0


def test_what_was_not_said_is_hardly_written(spoken: Path) -> None:
    likely = {SAID: 0.0, "one in two": 500.0, "one in ten": 500.0}
    _, written = weighed_by(MODEL, likely, sound_of(SAID, spoken))

    assert written < 2 * NOT_WRITTEN


def test_a_model_without_the_third_network_is_heard_by_two(
    without_third: Path, spoken: Path
) -> None:
    listener = Listener(Proposes("stop"), str(without_third))
    listener.expect(("stop", "left"), 10)

    listener.accept(RATE_HZ, sound_of("left", spoken))

    assert next(iter(listener.finish()[0])) == "left"


def test_a_damaged_third_network_is_named(tmp_path: Path) -> None:
    model = tmp_path / "model"
    shutil.copytree(MODEL, model)
    matrices = model / MATRICES
    matrices.write_bytes(matrices.read_bytes()[:-1000])

    with pytest.raises(ModelIncomplete, match=MATRICES):
        VoskRecogniser(model)


Rows = arrays(np.float32, (3, 2, 6), elements=st.floats(-9, 9, width=32))


@given(Rows, arrays(np.float32, (2, 2), elements=st.floats(-3, 3, width=32)))
def test_what_is_turned_is_as_long_as_before(
    rows: NDArray[np.float32], turn: NDArray[np.float32]
) -> None:
    lengths = np.linalg.norm(turned(rows, turn), axis=2)
    assert lengths == pytest.approx(np.linalg.norm(rows, axis=2), abs=1e-4)


def test_rows_of_numbers_are_made_even() -> None:
    made = even(np.array([[1.0, 3.0], [5.0, 5.0]]))
    assert made == pytest.approx(np.array([[-1.0, 1.0], [0.0, 0.0]]), abs=1e-4)


def test_a_matrix_is_its_whole_numbers_times_their_scales() -> None:
    matrix = Matrix(np.array([[1, -2], [3, 4]], np.int8), np.array([0.5, 10.0], np.float32))
    assert matrix.of(np.array([[1.0, 1.0]])) == pytest.approx(np.array([[2.0, 20.0]]))
    assert matrix.columns(np.array([1])) == pytest.approx(np.array([[-20.0, 40.0]]))
