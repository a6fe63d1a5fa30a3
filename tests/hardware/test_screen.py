"""The screen: the contract on both, and what a terminal shows."""

import io
import re
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.language.attention import WORDS
from hardware.screen import MemoryScreen, TerminalScreen

EDGE = "+----------------------+"
ANSWER = ["Set-over  3.558 mm", "towards operator", "7 turns 5.8 div"]
FRAME = [
    EDGE,
    "| Set-over  3.558 mm   |",
    "| towards operator     |",
    "| 7 turns 5.8 div      |",
    "|                      |",
    EDGE,
]


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def seen(written: str) -> list[str]:
    """Return what a terminal shows of it: up, clear below, and ends of lines."""
    lines, at = [""], 0
    for part in re.split(r"(\r|\n|\x1b\[\d+A|\x1b\[J)", written):
        if part == "\n":
            at += 1
            lines += [""] * (at + 1 - len(lines))
        elif part == "\x1b[J":
            lines = [*lines[:at], ""]
        elif up := re.fullmatch(r"\x1b\[(\d+)A", part):
            at -= int(up[1])
            assert at >= 0
        elif part != "\r":
            lines[at] += part
    return lines


def test_memory_keeps_each_screenful_as_it_would_be_seen() -> None:
    screen = MemoryScreen()
    screen.show(ANSWER)
    screen.show([])

    assert screen.shown == [tuple(line[2:-2] for line in FRAME[1:-1]), (" " * 20,) * 4]


def test_lines_too_long_or_too_many_are_cut_to_the_screen() -> None:
    screen = MemoryScreen()
    screen.show(["x" * 21, *"abcd"])

    assert screen.shown == [("x" * 20, *(c.ljust(20) for c in "abc"))]


def test_a_frame_is_redrawn_in_place_with_words_above_and_typing_below() -> None:
    stream = Terminal()
    screen = TerminalScreen(stream)
    screen.show(["Which taper?"])
    screen.tell("heard: number two morse taper")
    screen.typing("/how m")
    screen.show(ANSWER)

    assert seen(stream.getvalue()) == ["heard: number two morse taper", *FRAME, "/how m"]


@pytest.mark.parametrize("word", WORDS)
def test_the_word_that_must_come_first_stands_at_the_frames_foot(word: str) -> None:
    stream = Terminal()
    screen = TerminalScreen(stream)
    screen.hears(word)
    screen.show(ANSWER, ["7 turns"])
    foot = f"+ say {word} first ".ljust(len(EDGE) - 1, "-") + "+"
    assert seen(stream.getvalue()) == [*FRAME[:-1], foot, "7 turns", ""]

    screen.hears("")
    assert seen(stream.getvalue()) == [*FRAME, "7 turns", ""]


@given(st.lists(st.one_of(st.lists(st.text("abc", max_size=25)), st.text("xyz", max_size=25))))
def test_however_it_is_used_a_terminal_shows_what_was_told_and_one_frame(
    uses: list[Sequence[str]],
) -> None:
    stream, memory = Terminal(), MemoryScreen()
    screen = TerminalScreen(stream)
    told = []
    for use in uses:
        if isinstance(use, str):
            screen.tell(use)
            told.append(use)
        else:
            screen.show(use)
            memory.show(use)
    shown = [f"| {line} |" for line in memory.shown[-1]] if memory.shown else []

    assert seen(stream.getvalue()) == [*told, *([EDGE, *shown, EDGE] if shown else []), ""]


def test_without_a_terminal_frames_and_words_are_just_written_and_no_frame_twice() -> None:
    stream = io.StringIO()
    screen = TerminalScreen(stream)
    screen.show(ANSWER)
    screen.typing("/how m")
    screen.show(ANSWER)
    screen.tell("heard: yes")
    screen.hears("toolmaker")
    screen.show(ANSWER)
    screen.close()

    assert stream.getvalue().split("\n") == [*FRAME, "heard: yes", ""]
