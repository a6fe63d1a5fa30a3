"""The bench screen: four lines of twenty characters, drawn in a terminal or kept."""

import shutil
import threading
from collections.abc import Sequence
from typing import TextIO

from assistant.ports import Screen

LINES = 4
COLUMNS = 20

UP = "\x1b[{}A"
CLEAR_BELOW = "\x1b[J"


def fitted(lines: Sequence[str]) -> tuple[str, ...]:
    """Return the lines as the screen holds them: four of twenty characters, cut or filled."""
    four = [*lines[:LINES], *[""] * (LINES - len(lines))]
    return tuple(line[:COLUMNS].ljust(COLUMNS) for line in four)


class TerminalScreen:
    """The screen as a frame that stays at the foot of a terminal.

    Other words scroll by above it, and what is being typed stands below it. On anything but
    a terminal each frame and each line is just written.
    """

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._live = stream.isatty()
        self._lock = threading.Lock()
        self._frame: tuple[str, ...] = ()
        self._typing = ""
        self._begun_with = ""

    def show(self, lines: Sequence[str], view: Sequence[str] = ()) -> None:
        """Show these lines in place of what is shown, and the fuller account beneath them."""
        edge = f"+{'-' * (COLUMNS + 2)}+"
        with self._lock:
            frame = (edge, *(f"| {line} |" for line in fitted(lines)), self._foot(edge))
            if self._live:
                # A line that wrapped would put the next frame in the wrong place.
                width = shutil.get_terminal_size().columns - 1
                frame = (*frame, *(line[:width] for line in view))
                self._redraw("", frame)
            elif frame != self._frame:
                print(*frame, sep="\n", file=self._stream, flush=True)
            self._frame = frame

    def tell(self, words: str) -> None:
        """Write a line above the frame: what was heard, or is spoken."""
        with self._lock:
            if self._live:
                self._redraw(f"{words}\n", self._frame)
            else:
                print(words, file=self._stream, flush=True)

    def hears(self, begun_with: str) -> None:
        """Show at the frame's foot the word that what is said must begin with, if it must."""
        with self._lock:
            self._begun_with = begun_with
            if self._live and self._frame:
                foot, below = self._foot(self._frame[0]), self._frame[LINES + 2 :]
                frame = (*self._frame[: LINES + 1], foot, *below)
                self._redraw("", frame)
                self._frame = frame

    def typing(self, words: str) -> None:
        """Show what is being typed below the frame; nothing where it is not a terminal."""
        with self._lock:
            # A line that wrapped would put the next frame in the wrong place.
            self._typing = words[-(shutil.get_terminal_size().columns - 1) :]
            if self._live:
                self._redraw("", self._frame)

    def close(self) -> None:
        """Leave the frame as it is, and the cursor below it."""
        if self._live:
            print(file=self._stream, flush=True)

    def _foot(self, edge: str) -> str:
        if not (self._live and self._begun_with):
            return edge
        return f"+ say {self._begun_with} first ".ljust(len(edge) - 1, "-") + "+"

    def _redraw(self, above: str, frame: Sequence[str]) -> None:
        back = UP.format(len(self._frame)) if self._frame else ""
        below = "".join(f"{line}\n" for line in frame)
        self._stream.write(f"\r{back}{CLEAR_BELOW}{above}{below}{self._typing}")
        self._stream.flush()


class MemoryScreen:
    """The twin: keeps every screenful it was given, as it would be seen."""

    def __init__(self) -> None:
        self.shown: list[tuple[str, ...]] = []
        self.begun_with: list[str] = []

    def show(self, lines: Sequence[str]) -> None:
        """Keep these lines."""
        self.shown.append(fitted(lines))

    def hears(self, begun_with: str) -> None:
        """Keep the word."""
        self.begun_with.append(begun_with)

    def close(self) -> None:
        """Nothing to let go of."""


class Screens:
    """A terminal that also tells, and other screens that show the same lines."""

    def __init__(self, terminal: TerminalScreen, *others: Screen) -> None:
        self._terminal, self._others = terminal, others

    def show(self, lines: Sequence[str], view: Sequence[str] = ()) -> None:
        """Show these lines on every screen, and the fuller account in the terminal."""
        self._terminal.show(lines, view)
        for screen in self._others:
            screen.show(lines)

    def hears(self, begun_with: str) -> None:
        """Show on every screen what is taken: what begins with this word, or everything."""
        for screen in (self._terminal, *self._others):
            screen.hears(begun_with)

    def tell(self, words: str) -> None:
        """Write a line of words in the terminal."""
        self._terminal.tell(words)

    def close(self) -> None:
        """Let go of every screen."""
        for screen in (*self._others, self._terminal):
            screen.close()
