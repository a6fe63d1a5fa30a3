"""A keyboard plays the keypad and types words."""

import os
import pty
import queue
import termios
from collections.abc import Iterator
from typing import TextIO

import pytest

from assistant.events import Key
from hardware.terminal_keys import TerminalKeys, Typist

TYPED = {
    "a key": ("5", [Key.FIVE]),
    "a number and Enter": ("142.5\n", [*map(Key, "142*5#")]),
    "letters in either case": ("aD", [Key.A, Key.D]),
    "a character of no key": ("x5 ", [Key.FIVE]),
    "words": ("/number two morse taper\n", ["number two morse taper"]),
    "words, then a key": ("/yes\n5", ["yes", Key.FIVE]),
    "words begun and dropped": ("/nine\x1b5", [Key.FIVE]),
    "words put right": ("/yex\x7fs\n", ["yes"]),
    "no words": ("/ \n", []),
    "a slash among words": ("/3/8\n", ["3/8"]),
    "an arrow, which ends in A": ("\x1b[A", []),
    "Escape alone": ("\x1b", []),
}


@pytest.mark.parametrize(("text", "meaning"), TYPED.values(), ids=TYPED)
def test_what_is_typed_means_keys_or_words(text: str, meaning: list[Key | str]) -> None:
    assert list(Typist().typed(text)) == meaning


def test_words_come_together_from_single_characters() -> None:
    typist = Typist()

    assert [item for c in "/no\n7" for item in typist.typed(c)] == ["no", Key.SEVEN]


@pytest.fixture
def terminal() -> Iterator[tuple[int, TextIO]]:
    keyboard, fd = pty.openpty()
    with open(fd) as stream:
        yield keyboard, stream
    os.close(keyboard)


def test_a_terminal_gives_keys_and_words_until_its_end_and_is_put_back(
    terminal: tuple[int, TextIO],
) -> None:
    keyboard, stream = terminal
    before = termios.tcgetattr(stream)
    taken: queue.SimpleQueue[object] = queue.SimpleQueue()
    keys = TerminalKeys(
        stream,
        take_words=taken.put,
        show_typing=lambda line: taken.put(f"shown: {line}"),
        ended=lambda: taken.put("the end"),
    )
    keys.start(taken.put)

    got = []
    for typed in ("7", "/", "n", "o"):
        os.write(keyboard, typed.encode())
        got.append(taken.get(timeout=5))
    os.write(keyboard, b"\n\x04")
    got += [taken.get(timeout=5) for _ in range(3)]
    keys.close()

    assert got == [Key.SEVEN, "shown: /", "shown: /n", "shown: /no", "no", "shown: ", "the end"]
    assert termios.tcgetattr(stream) == before


def test_the_end_of_a_pipe_ends_the_input() -> None:
    read, write = os.pipe()
    taken: queue.SimpleQueue[object] = queue.SimpleQueue()
    os.write(write, b"2\n/half angle\n")
    os.close(write)
    with open(read) as stream:
        keys = TerminalKeys(stream, taken.put, print, lambda: taken.put("the end"))
        keys.start(taken.put)
        got = [taken.get(timeout=5) for _ in range(4)]
        keys.close()

    assert got == [Key.TWO, Key.HASH, "half angle", "the end"]


def test_closing_ends_the_reader_while_nothing_is_typed(terminal: tuple[int, TextIO]) -> None:
    keys = TerminalKeys(terminal[1], print, print, print)
    keys.start(print)

    keys.close()
