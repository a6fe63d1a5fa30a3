"""The journal's store: one contract for disk and memory, and what only a disk can do."""

import resource
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import JournalUnusable
from assistant.ports import Journal
from hardware.store import MemoryJournal, SqliteJournal, unusable

NOON = datetime(2026, 5, 4, 14, 0, 0, 250_000, timezone(timedelta(hours=2)))

# Appends lines until it is killed, telling each once it is acknowledged.
WRITER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from hardware.store import SqliteJournal

journal = SqliteJournal(Path(sys.argv[1]), lambda: datetime.now(UTC))
for number in range(1_000_000):
    journal.append(f"line {number}")
    print(number, flush=True)
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "drehbank" / "stück für stück" / "journal.db"


@pytest.fixture(params=["disk", "memory"])
def journal(request: pytest.FixtureRequest, path: Path) -> Iterator[Journal]:
    opened = MemoryJournal() if request.param == "memory" else on_disk(path)
    yield opened
    opened.close()


def on_disk(path: Path) -> SqliteJournal:
    return SqliteJournal(path, lambda: NOON)


def kept(path: Path) -> list[str]:
    journal = on_disk(path)
    lines = list(journal.lines())
    journal.close()
    return lines


# The contract


def test_a_new_journal_is_empty(journal: Journal) -> None:
    assert list(journal.lines()) == []


def test_lines_come_back_in_the_order_they_were_kept(journal: Journal) -> None:
    lines = ["b", "a", "", "a", "Kegel 1:20 – Ø 31, 1°26′", "'; DROP TABLE line; --", "x" * 9999]
    for line in lines:
        journal.append(line)

    assert list(journal.lines()) == lines


def test_lines_that_were_read_do_not_grow_later(journal: Journal) -> None:
    journal.append("one")
    read = journal.lines()
    journal.append("two")

    assert list(read) == ["one"]


# The disk


def test_another_run_finds_the_lines_of_the_first(path: Path) -> None:
    first = on_disk(path)
    first.append("between balls")
    first.close()
    second = on_disk(path)
    second.append("head set")
    second.close()

    assert kept(path) == ["between balls", "head set"]


def test_each_line_has_the_time_it_was_kept_in_utc(path: Path) -> None:
    journal = on_disk(path)
    journal.append("head set")
    journal.close()
    store = sqlite3.connect(path)

    assert store.execute("SELECT at, line FROM line").fetchall() == [
        ("2026-05-04T12:00:00.250+00:00", "head set")
    ]
    store.close()


def test_every_line_is_written_through_to_the_disk(path: Path) -> None:
    journal = on_disk(path)
    pragmas = {
        name: journal._store.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("journal_mode", "synchronous", "user_version")
    }
    journal.close()

    assert pragmas == {"journal_mode": "wal", "synchronous": 2, "user_version": 1}


def test_a_kill_loses_no_line_that_was_acknowledged(path: Path) -> None:
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True
    )
    assert writer.stdout is not None
    acknowledged = [int(writer.stdout.readline()) for _ in range(25)]
    writer.send_signal(signal.SIGKILL)
    acknowledged += map(int, writer.stdout)
    writer.wait()
    writer.stdout.close()

    lines = kept(path)
    assert writer.returncode == -signal.SIGKILL
    # One more may have been kept, and its acknowledgement lost.
    assert len(lines) - len(acknowledged) in (0, 1)
    assert lines == [f"line {number}" for number in range(len(lines))]


def test_two_runs_cannot_hold_the_journal_at_once(path: Path) -> None:
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True
    )
    assert writer.stdout is not None
    writer.stdout.readline()
    with pytest.raises(JournalUnusable) as refused:
        on_disk(path)
    writer.kill()
    writer.communicate()

    assert str(refused.value) == (
        f"I cannot keep the job in {path}: another run of the assistant has it open; "
        "end that one first."
    )
    assert kept(path) != []


def test_a_file_that_is_no_database_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("Turn the next one smaller. " * 50)

    with pytest.raises(JournalUnusable, match="it is no journal; move that file away"):
        on_disk(path)
    assert path.read_text() == "Turn the next one smaller. " * 50


def test_the_database_of_another_program_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "other.db"
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE part (number TEXT)")
    other.close()

    with pytest.raises(JournalUnusable, match="it is no journal"):
        on_disk(path)


def test_a_journal_of_a_newer_layout_is_refused(path: Path) -> None:
    on_disk(path).close()
    newer = sqlite3.connect(path)
    newer.execute("PRAGMA user_version = 2")
    newer.close()

    with pytest.raises(JournalUnusable, match="a newer version of the assistant wrote it"):
        on_disk(path)


def test_a_damaged_journal_is_refused_by_name(path: Path) -> None:
    journal = on_disk(path)
    for number in range(500):
        journal.append(f"line {number} {'x' * 100}")
    journal.close()
    with path.open("r+b") as file:
        file.seek(4096)
        file.write(b"\xa5" * 3 * 4096)

    with pytest.raises(JournalUnusable, match="it is damaged"):
        kept(path)


@pytest.mark.parametrize("taken", ["directory", "file as a directory"])
def test_a_place_where_no_file_can_be_is_refused(tmp_path: Path, taken: str) -> None:
    (tmp_path / "file").touch()
    path = tmp_path if taken == "directory" else tmp_path / "file" / "journal.db"

    with pytest.raises(JournalUnusable, match="it cannot be opened; name a file"):
        on_disk(path)


def test_a_line_that_finds_no_room_is_refused_and_the_others_stand(path: Path) -> None:
    journal = on_disk(path)
    journal.append("kept")
    unlimited = resource.getrlimit(resource.RLIMIT_FSIZE)
    try:
        # A file may grow no further than it is: the nearest thing to a full disk.
        resource.setrlimit(resource.RLIMIT_FSIZE, (1, unlimited[1]))
        with pytest.raises(JournalUnusable, match="the disk fails"):
            journal.append("lost")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, unlimited)
    journal.append("kept too")
    journal.close()

    assert kept(path) == ["kept", "kept too"]


@pytest.mark.parametrize(
    ("options", "pragma", "sentence"),
    [
        ("mode=rwc", "max_page_count = 1", "the disk is full; make room on it"),
        ("mode=ro", "synchronous = FULL", "it may not be written to; give this user the right"),
    ],
)
def test_a_full_disk_and_a_forbidden_file_are_told_apart(
    path: Path, options: str, pragma: str, sentence: str
) -> None:
    on_disk(path).close()
    store = sqlite3.connect(f"file:{path}?{options}", uri=True)
    store.execute(f"PRAGMA {pragma}")
    with pytest.raises(sqlite3.Error) as refused:
        store.execute("CREATE TABLE more AS SELECT hex(zeroblob(9999)) AS text")
    store.close()

    assert sentence in str(unusable(path, refused.value))


@settings(max_examples=20, deadline=None)  # the disk takes its time
@given(st.lists(st.text(st.characters(exclude_categories=["Cs"])), max_size=5))
def test_the_disk_keeps_what_memory_keeps(
    tmp_path_factory: pytest.TempPathFactory, lines: list[str]
) -> None:
    path = tmp_path_factory.mktemp("journal") / "journal.db"
    disk, memory = on_disk(path), MemoryJournal()
    for line in lines:
        disk.append(line)
        memory.append(line)
    disk.close()

    assert kept(path) == list(memory.lines()) == lines
