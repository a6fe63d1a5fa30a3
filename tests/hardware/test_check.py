"""The self-check, on whatever machine the tests run on."""

import io
from contextlib import suppress
from pathlib import Path

import pytest

from assistant.errors import DeviceMissing
from assistant.events import Key
from hardware.check import PartReport, check_parts
from hardware.gpio import board_pins, read_pins
from hardware.keypad_wires import WiredFactory
from tests.hardware.conftest import MODEL

PARTS = [
    *("speech model", "recogniser", "voice", "speaker", "microphone"),
    *("keypad", "lamp", "pedal", "spindle sensor", "screen"),
]
PINS = read_pins()


def board() -> WiredFactory:
    return WiredFactory(PINS.rows, PINS.columns)


def stuck_board() -> WiredFactory:
    wires = board()
    wires.press(Key.FIVE)
    return wires


def absent_board() -> WiredFactory:
    raise DeviceMissing("keypad or lamp", "run on a Raspberry Pi")


def reports(**settings: object) -> dict[str, PartReport]:
    usual = {
        "model_directory": MODEL,
        "words": ["seven", "turns"],
        "voice": "en-gb",
        "speaker": "no such speaker",
        "microphone": "no such microphone",
        "screen": io.StringIO(),
        "gpio": board,
    }
    found = check_parts(**{**usual, **settings})  # type: ignore[arg-type]  # any mix is meant
    assert [report.part for report in found] == PARTS
    return {report.part: report for report in found}


def test_each_part_works_or_has_a_remedy_and_is_one_line() -> None:
    found = reports(gpio=board_pins, speaker=None, microphone=None)

    for report in found.values():
        assert report.works == (not report.remedy)
        assert report.detail
        assert "\n" not in report.detail + report.remedy


def test_the_parts_that_are_there_work() -> None:
    found = reports()

    assert [part for part in PARTS if not found[part].works] == ["speaker", "microphone"]
    assert found["recogniser"].detail == "ready; knows all 2 words asked of it"
    assert found["microphone"].remedy == (
        "plug in the sound device no such microphone, or name another in the settings; "
        "then start again"
    )


def test_nothing_at_all_is_still_a_report(tmp_path: Path) -> None:
    found = reports(model_directory=tmp_path / "model", voice="en-yorks", gpio=absent_board)

    assert [part for part in PARTS if found[part].works] == ["screen"]
    assert "lacks am/final.mdl" in found["speech model"].detail
    assert found["keypad"] == PartReport("keypad", False, "not found", "run on a Raspberry Pi")


def test_words_the_model_cannot_hear_are_named() -> None:
    found = reports(words=["seven", "gromit", "turns", "snowy"])

    assert not found["recogniser"].works
    assert "lacks the words gromit, snowy" in found["recogniser"].detail


def test_a_key_that_sticks_is_named() -> None:
    found = reports(gpio=stuck_board)

    assert found["keypad"].remedy == "free the keys that are down: 5"
    assert found["lamp"].works


def test_looking_for_the_board_leaves_the_working_directory_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # lgpio moves the whole process to a directory of its own.
    monkeypatch.chdir(tmp_path)
    with suppress(DeviceMissing):
        board_pins().close()

    assert Path.cwd() == tmp_path
    assert not any(tmp_path.iterdir())
