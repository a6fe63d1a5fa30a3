"""Where the journal's lines are kept: on disk, each safe before it is acknowledged, or in memory.

What a line says is the business of assistant.journal.
"""

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from assistant.errors import JournalUnusable

# The layout of the table, kept in the file; a change of layout gets the next number.
LAYOUT = 1
_NEW_TABLE = """
CREATE TABLE line (
    id INTEGER PRIMARY KEY,
    at TEXT NOT NULL,    -- the wall clock, UTC, ISO 8601
    line TEXT NOT NULL
) STRICT
"""

# What each of sqlite's primary result codes means at the bench.
_FAULTS: dict[int, tuple[str, str]] = {
    sqlite3.SQLITE_BUSY: ("another run of the assistant has it open", "end that one first"),
    sqlite3.SQLITE_FULL: ("the disk is full", "make room on it"),
    sqlite3.SQLITE_READONLY: ("it may not be written to", "give this user the right to write it"),
    sqlite3.SQLITE_CANTOPEN: ("it cannot be opened", "name a file this user may make and write"),
    sqlite3.SQLITE_NOTADB: ("it is no journal", "move that file away or name another"),
    sqlite3.SQLITE_CORRUPT: ("it is damaged", "move that file away and check every number"),
}
_ANY_FAULT = ("the disk fails", "save what is on it and replace it")


class SqliteJournal:
    """The journal in a file of sqlite, held by one run of the assistant at a time.

    Args:
        path: The file; it is made, and its directories, if there is none.
        now: The wall clock, with its zone.

    Raises:
        JournalUnusable: It is held by another run, or is no journal, or cannot be written.
    """

    def __init__(self, path: Path, now: Callable[[], datetime]) -> None:
        self._path, self._now = path, now
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise JournalUnusable(str(path), *_FAULTS[sqlite3.SQLITE_CANTOPEN]) from error
        with self._named():
            # No waiting for a lock: a journal is held until its run ends.
            self._store = sqlite3.connect(path, timeout=0, isolation_level=None)
        try:
            with self._named():
                self._take()
        except BaseException:
            self._store.close()
            raise

    def append(self, line: str) -> None:
        """Keep a line after the others; it is on disk when this returns.

        Raises:
            JournalUnusable: It could not be written, and is not kept.
        """
        at = self._now().astimezone(UTC).isoformat(timespec="milliseconds")
        with self._named():
            self._store.execute("INSERT INTO line (at, line) VALUES (?, ?)", (at, line))

    def lines(self) -> Sequence[str]:
        """Return every line kept, the oldest first.

        Raises:
            JournalUnusable: The file is damaged.
        """
        with self._named():
            return [line for (line,) in self._store.execute("SELECT line FROM line ORDER BY id")]

    def close(self) -> None:
        """Let go of the file."""
        self._store.close()

    def _take(self) -> None:
        """Hold the file for this run alone, and lay it out if it is new."""
        for pragma in ("locking_mode = EXCLUSIVE", "journal_mode = WAL", "synchronous = FULL"):
            self._store.execute(f"PRAGMA {pragma}")
        with self._store:
            self._store.execute("BEGIN EXCLUSIVE")
            ((layout,),) = self._store.execute("PRAGMA user_version")
            ((tables,),) = self._store.execute("SELECT count(*) FROM sqlite_master")
            if layout == 0 and tables == 0:
                self._store.execute(_NEW_TABLE)
                self._store.execute(f"PRAGMA user_version = {LAYOUT}")
            elif layout > LAYOUT:
                fault = "a newer version of the assistant wrote it"
                raise JournalUnusable(str(self._path), fault, "install that one")
            elif layout != LAYOUT:
                raise JournalUnusable(str(self._path), *_FAULTS[sqlite3.SQLITE_NOTADB])

    @contextmanager
    def _named(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            raise unusable(self._path, error) from error


def unusable(path: Path, error: sqlite3.Error) -> JournalUnusable:
    """Return what an error of sqlite means to whoever stands at the bench."""
    primary = error.sqlite_errorcode & 0xFF
    return JournalUnusable(str(path), *_FAULTS.get(primary, _ANY_FAULT))


class MemoryJournal:
    """The twin: keeps the lines while the program runs."""

    def __init__(self, lines: Sequence[str] = ()) -> None:
        self._lines = list(lines)

    def append(self, line: str) -> None:
        """Keep a line after the others."""
        self._lines.append(line)

    def lines(self) -> Sequence[str]:
        """Return every line kept, the oldest first."""
        return tuple(self._lines)

    def close(self) -> None:
        """Nothing to let go of."""
