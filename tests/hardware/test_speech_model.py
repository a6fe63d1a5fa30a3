"""A speech model that cannot be used: a sentence says why, whatever is wrong with which file."""

import re
import shutil
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from assistant.errors import ModelIncomplete
from grammars.acoustic.recipe.contents import contents
from hardware.recogniser import CONTENTS, NEEDED_FILES, VoskRecogniser, hear_sound
from hardware.voice import PyttsxSynthesiser
from tests.hardware.conftest import MODEL

FILES = sorted(p.relative_to(MODEL).as_posix() for p in MODEL.rglob("*") if p.is_file())


def missing(path: Path) -> None:
    path.unlink()


def empty(path: Path) -> None:
    path.write_bytes(b"")


def cut_short(path: Path) -> None:
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])


def another_file(path: Path) -> None:
    path.write_text("<html>Not found</html>\n")


def zeros(path: Path) -> None:
    path.write_bytes(bytes(path.stat().st_size))


def one_byte_wrong(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)


FAULTS = [missing, empty, cut_short, another_file, zeros, one_byte_wrong]


@pytest.fixture
def model(tmp_path: Path) -> Path:
    return shutil.copytree(MODEL, tmp_path / "model")


def refusal(model: Path) -> str:
    with pytest.raises(ModelIncomplete) as refused:
        VoskRecogniser(model)
    found = re.fullmatch(
        f"The speech model in {re.escape(str(model))} lacks (.*); install it again.",
        str(refused.value),
    )
    assert found is not None
    return found[1]


def test_the_shipped_model_consists_of_what_it_says() -> None:
    # After a change to the model: python -m grammars.acoustic.recipe.contents
    assert (MODEL / CONTENTS).read_text(encoding="utf-8") == contents(MODEL)


def test_a_directory_that_is_not_there_is_refused(tmp_path: Path) -> None:
    assert refusal(tmp_path / "model") == "am/final.mdl"


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.__name__)
@pytest.mark.parametrize("name", [name for name in FILES if name != CONTENTS])
def test_a_file_at_fault_is_named(model: Path, name: str, fault: Callable[[Path], None]) -> None:
    fault(model / name)

    plainly_missing = fault in (missing, empty) and name in NEEDED_FILES
    assert refusal(model) == (name if plainly_missing else f"an undamaged {name}")


@pytest.mark.parametrize("fault", [another_file, zeros], ids=lambda fault: fault.__name__)
def test_a_list_of_contents_at_fault_is_refused(model: Path, fault: Callable[[Path], None]) -> None:
    fault(model / CONTENTS)

    assert refusal(model).startswith("an undamaged ")


# A model of somebody else's has no list of contents: vosk itself must say.


@pytest.mark.parametrize(
    ("name", "fault"),
    [
        *((name, fault) for name in ("am/final.mdl", "graph/HCLr.fst") for fault in FAULTS[2:5]),
        ("conf/mfcc.conf", another_file),
        ("conf/model.conf", cut_short),
        ("graph/disambig_tid.int", missing),
        ("graph/words.txt", missing),
        ("graph/phones/word_boundary.int", cut_short),
    ],
)
def test_another_model_that_kills_vosk_is_refused(
    model: Path, name: str, fault: Callable[[Path], None]
) -> None:
    (model / CONTENTS).unlink()
    fault(model / name)

    assert refusal(model) == "files that vosk can read"


def test_a_model_of_the_kind_with_one_large_graph_is_refused(model: Path) -> None:
    # It cannot be told what to expect.
    (model / CONTENTS).unlink()
    (model / "graph" / "HCLr.fst").rename(model / "graph" / "HCLG.fst")

    assert refusal(model) == "graph/HCLr.fst"


def test_another_model_that_is_whole_is_used(model: Path, voice: PyttsxSynthesiser) -> None:
    (model / CONTENTS).unlink()
    with closing(VoskRecogniser(model)) as recogniser:
        recogniser.expect(["how many turns"])

        assert hear_sound(recogniser, voice.sound("how many turns")).words == "how many turns"


def test_words_that_were_lost_from_a_model_are_told(model: Path) -> None:
    (model / CONTENTS).unlink()
    words = model / "graph" / "words.txt"
    lines = words.read_text(encoding="utf-8").splitlines(keepends=True)
    words.write_text("".join(line for line in lines if not line.startswith("taper ")))

    with closing(VoskRecogniser(model)) as recogniser:
        assert recogniser.lacking(["morse", "taper"]) == ("taper",)
