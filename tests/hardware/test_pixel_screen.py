"""The small screen, on luma's device without a display; its pictures are kept to be looked at."""

from collections.abc import Callable
from itertools import groupby
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
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
from hardware.screen import COLUMNS, MemoryScreen, Screens, TerminalScreen
from tests.dialogue.test_transcripts import FILES
from tests.hardware.pictures import keep, keep_on_a_sheet

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
    assert rows(["Over balls  160 mm"]) == rows(["over balls  160 mm"])
    shown = picture(ANSWER).getbbox()
    assert shown is not None
    assert shown[0] >= 3  # beside the bar
    assert shown[3] <= HEIGHT


def dots(line: str) -> set[tuple[int, int]]:
    image = picture([line])
    return {(x, y) for x in range(WIDTH) for y in range(HEIGHT) if image.getpixel((x, y))}


@settings(deadline=None, max_examples=20)
@given(st.text(LETTERS.replace("=", ""), min_size=1, max_size=COLUMNS))  # a = is drawn tall
def test_no_letter_takes_a_dot_from_its_neighbour(line: str) -> None:
    # A T before a small letter looked like an r: its right arm was wiped out.
    alone = [dots(" " * n + letter) for n, letter in enumerate(line)]

    assert dots(line) == set().union(*alone)


def test_every_screen_of_the_transcripts_is_kept_to_be_looked_at_and_fits() -> None:
    screens: dict[tuple[str, ...], None] = {}
    for file in FILES:
        lines = file.read_text(encoding="utf-8").splitlines()
        for shows, group in groupby(lines, lambda line: line.startswith("shows ")):
            if shows:
                screens[tuple(line.removeprefix("shows ") for line in group)] = None
    keep_on_a_sheet([picture(lines) for lines in screens], "transcripts")

    assert len(screens) > 100
    assert all(len(lines) <= 4 and max(map(len, lines)) <= COLUMNS for lines in screens)
    assert all(line.isascii() for lines in screens for line in lines)


@pytest.mark.parametrize(("name", "lines"), [("answer", ANSWER), ("question", QUESTION)])
def test_the_display_shows_the_picture(name: str, lines: list[str]) -> None:
    display = emulated()
    screen = PixelScreen(lambda: display, print)
    screen.show(lines)
    keep([display.image], name)

    assert display.image.tobytes() == picture(lines).tobytes()
    screen.close()


def test_a_bar_beside_the_lines_shows_while_everything_is_taken() -> None:
    display = emulated()
    screen = PixelScreen(lambda: display, print)
    screen.show(ANSWER)
    screen.hears("")
    keep([display.image], "taken")
    with_bar = display.image
    assert with_bar.crop((0, 0, 2, HEIGHT)).getcolors() == [(2 * HEIGHT, 1)]
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
