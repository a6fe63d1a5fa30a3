"""The wiring: its table and drawing against the pins, and the pins against other tables."""

import re
from xml.etree import ElementTree

import pytest
from gpiozero import PiBoardInfo

from hardware.gpio import PINS_FILE, read_pins
from hardware.wiring import HEADER, markdown, svg, wires

PINS = read_pins()
# Revision codes of a Pi 4, a Pi 5 and a Zero 2 W, as gpiozero knows them.
BOARDS = {"4B": 0xC03111, "5B": 0xC04170, "Zero2W": 0x902120}


@pytest.mark.parametrize(("model", "revision"), BOARDS.items())
def test_the_header_is_that_of_every_board(model: str, revision: int) -> None:
    board = PiBoardInfo.from_revision(revision)
    assert board.model == model

    names = [board.headers["J8"].pins[n].name for n in range(1, 41)]
    assert [name.removeprefix("GPIO") for name in names] == list(HEADER)


def test_the_comments_in_the_pins_file_name_the_header_right() -> None:
    lines = re.findall(r"= (.*?) +# header ([\d, ]+)", PINS_FILE.read_text())
    assert len(lines) == 6
    for pins, headers in lines:
        named = [HEADER[int(n) - 1] for n in re.findall(r"\d+", headers)]
        assert named == re.findall(r"\d+", pins)


def test_every_pin_is_wired_once_and_no_two_wires_share_one() -> None:
    wired = [wire.header for wire in wires(PINS)]
    assert len(set(wired)) == len(wired)

    used = {HEADER[header - 1] for header in wired}
    assert used == {
        *map(str, (*PINS.rows, *PINS.columns, PINS.lamp, PINS.buzzer, PINS.pedal, PINS.spindle)),
        *("GND", "3V3", "2", "3"),  # the small screen's, I2C
    }


def test_no_wire_goes_to_five_volts() -> None:
    assert "5V" not in {HEADER[wire.header - 1] for wire in wires(PINS)}


def test_table_and_drawing_name_every_wire() -> None:
    drawn = " ".join(element.text or "" for element in ElementTree.fromstring(svg()).iter())
    for wire in wires(PINS):
        assert f"| {wire.header} |" in markdown()
        assert f"{wire.part}: {wire.end.partition(',')[0]}" in drawn
