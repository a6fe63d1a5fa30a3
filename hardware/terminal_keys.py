"""A computer keyboard in a terminal plays the keypad, and types words as if spoken.

    digits, # * and A to D     the key of that legend; a full stop is *, Enter is #
    /                          begins a line of words: Enter takes it, Escape drops it
    Ctrl-D                     ends the input; Ctrl-C interrupts as everywhere

Where standard input is no terminal, its characters mean the same.
"""

import codecs
import contextlib
import os
import select
import termios
import threading
import tty
from collections.abc import Callable, Iterator
from typing import TextIO

from assistant.events import Key
from assistant.ports import Hold

KEYS = {
    **{str(key): key for key in Key},
    **{str(key).lower(): key for key in (Key.A, Key.B, Key.C, Key.D)},
    ".": Key.STAR,
    "\n": Key.HASH,
    "\r": Key.HASH,
}
WORDS = "/"
ESCAPE = "\x1b"
DELETE = "\x7f\b"
END = "\x04"


class Typist:
    """What typed characters mean. No terminal here."""

    def __init__(self) -> None:
        self.line: str | None = None
        """The words typed so far, or None when the characters are keys."""

    def typed(self, text: str) -> Iterator[Key | str]:
        """Yield the keys and the lines of words in the text of one read."""
        # An arrow or function key comes as Escape and more, all in one read; its letters
        # are not keys of the pad.
        if text.startswith(ESCAPE) and len(text) > 1:
            return
        for character in text:
            if self.line is None:
                if character == WORDS:
                    self.line = ""
                elif character in KEYS:
                    yield KEYS[character]
            elif character in "\r\n":
                words, self.line = self.line.strip(), None
                if words:
                    yield words
            elif character == ESCAPE:
                self.line = None
            elif character in DELETE:
                self.line = self.line[:-1]
            elif character.isprintable():
                self.line += character


class TerminalKeys:
    """Keys and words from a stream, read on a thread of its own.

    Args:
        stream: Standard input; its terminal is put back as it was by close.
        take_words: Gets each line of words; called on the thread.
        show_typing: Gets the line being typed, with its slash, at each change of it.
        ended: Called once when there is no more input.
    """

    def __init__(
        self,
        stream: TextIO,
        take_words: Callable[[str], None],
        show_typing: Callable[[str], None],
        ended: Callable[[], None],
    ) -> None:
        self._fd = stream.fileno()
        self._take_words, self._show_typing, self._ended = take_words, show_typing, ended
        self._wake, self._awake = os.pipe()
        self._thread: threading.Thread | None = None
        self._before = termios.tcgetattr(self._fd) if os.isatty(self._fd) else None

    def start(
        self, take: Callable[[Key], None], hold: Callable[[Hold], None] | None = None
    ) -> None:
        """Hand every key typed to `take`, which is called on this reader's thread.

        A terminal does not tell when a key comes up: none can be held.
        """
        if self._before is not None:
            # Characters at once and unseen, while Ctrl-C still interrupts.
            tty.setcbreak(self._fd)
        self._thread = threading.Thread(target=self._read, args=[take], daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Stop reading and put the terminal back as it was."""
        os.close(self._awake)
        if self._thread is not None:
            self._thread.join()
        os.close(self._wake)
        if self._before is not None:
            termios.tcsetattr(self._fd, termios.TCSADRAIN, self._before)

    def _read(self, take: Callable[[Key], None]) -> None:
        typist = Typist()
        decode = codecs.getincrementaldecoder("utf-8")("replace").decode
        while True:
            ready, _, _ = select.select([self._fd, self._wake], [], [])
            if self._wake in ready:
                return
            data = b""
            with contextlib.suppress(OSError):  # the terminal was closed
                data = os.read(self._fd, 1024)
            text, end, _ = decode(data).partition(END)
            line = typist.line
            for item in typist.typed(text):
                if isinstance(item, Key):
                    take(item)
                else:
                    self._take_words(item)
            if typist.line != line:
                self._show_typing("" if typist.line is None else WORDS + typist.line)
            if end or not data:
                self._ended()
                return
