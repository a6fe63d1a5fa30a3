"""The small screen, on luma's device without a display; its pictures are kept to be looked at."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from luma.core.device import dummy
from PIL import Image

from assistant.errors import BadSetting, DeviceMissing
from hardware.pixel_screen import (
    HEIGHT,
    LETTER_HEIGHT,
    LETTER_WIDTH,
    WIDTH,
    PixelScreen,
    oled,
    picture,
)
from hardware.screen import MemoryScreen, Screens, TerminalScreen

ANSWER = ["Morse 2      1:20.02", "Balls       142.5 mm", "Over 3.558 mm  away", "7 + 5.8 div"]
QUESTION = ["What is the taper?", "", "", "A taper  B length"]
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789.+-=:?'/%"


def emulated() -> Any:
    return dummy(width=WIDTH, height=HEIGHT, mode="1")


def letters(image: Image.Image, line: int) -> list[bytes]:
    """Return every second letter of a line, of a screen that has no line twice as tall."""
    top = line * (HEIGHT // 4) + (HEIGHT // 4 - LETTER_HEIGHT) // 2
    lefts = [4 + n * LETTER_WIDTH for n in range(1, 20, 2)]
    boxes = [(left, top, left + LETTER_WIDTH, top + LETTER_HEIGHT) for left in lefts]
    return [image.crop(box).tobytes() for box in boxes]


def apart(text: str) -> str:
    # A letter's edge may stand in the next one's place.
    return " " + " ".join(text)


SHAPES = {letter: letters(picture([apart(letter)]), 0)[0] for letter in LETTERS + " "}


def test_no_two_letters_look_the_same() -> None:
    assert len(set(SHAPES.values())) == len(SHAPES)


@given(st.lists(st.text(LETTERS + " ", max_size=10), max_size=4))
def test_every_letter_of_the_four_lines_can_be_read_back(lines: list[str]) -> None:
    image = picture([apart(line) for line in lines])
    read = {shape: letter for letter, shape in SHAPES.items()}

    for n, line in enumerate(lines):
        assert "".join(read[shape] for shape in letters(image, n)) == line.ljust(10)


def test_the_line_to_act_on_is_twice_as_tall_and_nothing_is_cut() -> None:
    def rows(lines: list[str]) -> int:
        box = picture(lines).getbbox()
        assert box is not None
        return box[3] - box[1]

    assert rows(["", "", ANSWER[2]]) >= 2 * rows(["", "", ANSWER[2].replace("Over", "over")]) - 2
    shown = picture(ANSWER).getbbox()
    assert shown is not None
    assert shown[0] >= 4
    assert shown[3] <= HEIGHT


@pytest.mark.parametrize(("name", "lines"), [("answer", ANSWER), ("question", QUESTION)])
def test_the_display_shows_the_picture(tmp_path: Path, name: str, lines: list[str]) -> None:
    display = emulated()
    screen = PixelScreen(lambda: display, print)
    screen.show(lines)
    display.image.save(tmp_path / f"{name}.png")

    assert Image.open(tmp_path / f"{name}.png").tobytes() == picture(lines).tobytes()
    screen.close()


def test_a_bar_beside_the_lines_shows_while_everything_is_taken(tmp_path: Path) -> None:
    display = emulated()
    screen = PixelScreen(lambda: display, print)
    screen.show(ANSWER)
    screen.hears("")
    display.image.save(tmp_path / "taken.png")
    with_bar = Image.open(tmp_path / "taken.png")
    assert with_bar.crop((0, 0, 2, HEIGHT)).getcolors() == [(2 * HEIGHT, 255)]
    assert with_bar.crop((2, 0, WIDTH, HEIGHT)).tobytes() == (
        picture(ANSWER).crop((2, 0, WIDTH, HEIGHT)).tobytes()
    )

    screen.hears("toolmaker")
    assert display.image.tobytes() == picture(ANSWER).tobytes()
    screen.close()


def test_a_letter_the_font_lacks_is_a_question_mark() -> None:
    assert picture(["ball → 5"]).tobytes() == picture(["ball ? 5"]).tobytes()


class Unplugged(dummy):  # type: ignore[misc]  # luma has no types
    """A display whose bus gives an error."""

    def display(self, image: Image.Image) -> None:
        raise OSError(121, "Remote I/O error")


def absent() -> Any:
    raise DeviceMissing("small screen", "connect it")


def test_a_display_that_goes_and_returns_is_told_once_each_and_shown_on() -> None:
    told: list[str] = []
    back = emulated()
    finds: list[Callable[[], Any]] = [lambda: Unplugged(mode="1"), absent, absent, lambda: back]
    screen = PixelScreen(lambda: finds.pop(0)(), told.append)
    for lines in (QUESTION, QUESTION, QUESTION, ANSWER):
        screen.show(lines)

    assert told == ["I have lost the small screen: look at its cable.", "The small screen is back."]
    assert back.image.tobytes() == picture(ANSWER).tobytes()


def test_a_display_that_is_not_there_or_of_no_known_kind_is_refused() -> None:
    with pytest.raises(DeviceMissing, match="switch the I2C bus on with raspi-config"):
        oled(bus=99)
    with pytest.raises(BadSetting, match="one of ssd1306, ssd1309, ssd1315, sh1106, not 'tv'"):
        oled("tv")


def test_every_screen_shows_and_the_terminal_tells(tmp_path: Path) -> None:
    memory = MemoryScreen()
    with (tmp_path / "terminal").open("w+") as stream:
        screens = Screens(TerminalScreen(stream), memory)
        screens.show(QUESTION)
        screens.hears("toolmaker")
        screens.tell("says  What is the taper?")
        screens.close()
        stream.seek(0)
        written = stream.read()

    assert [line.rstrip() for line in memory.shown[0]] == QUESTION
    assert written.endswith("+\nsays  What is the taper?\n")
