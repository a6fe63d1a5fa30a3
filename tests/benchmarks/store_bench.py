"""Print what keeping a line costs: milliseconds per append, and reading a long journal back.

    python -m tests.benchmarks.store_bench [DIRECTORY]

The disk decides: run it in the directory the journal will be kept in, on the machine it is for.
"""

import sys
from datetime import UTC, datetime
from pathlib import Path
from statistics import median, quantiles
from tempfile import TemporaryDirectory
from time import perf_counter

from hardware.store import SqliteJournal

APPENDS = 500
LINE = '{"Measured": {"large": "19.05 mm", "small": "17.8 mm", "apart": "25 mm"}}'


def open_ms(path: Path) -> tuple[SqliteJournal, float]:
    begun = perf_counter()
    journal = SqliteJournal(path, lambda: datetime.now(UTC))
    return journal, (perf_counter() - begun) * 1000


def main() -> None:
    parent = sys.argv[1] if len(sys.argv) > 1 else None
    with TemporaryDirectory(dir=parent) as directory:
        path = Path(directory) / "journal.db"
        journal, opened_ms = open_ms(path)
        costs_ms = []
        for _ in range(APPENDS):
            begun = perf_counter()
            journal.append(LINE)
            costs_ms.append((perf_counter() - begun) * 1000)
        journal.close()
        journal, reopened_ms = open_ms(path)
        begun = perf_counter()
        lines = journal.lines()
        read_ms = (perf_counter() - begun) * 1000
        journal.close()
    print(f"a new journal      {opened_ms:8.2f} ms")
    print(f"append, median     {median(costs_ms):8.2f} ms")
    print(f"append, 99 of 100  {quantiles(costs_ms, n=100)[98]:8.2f} ms")
    print(f"append, worst      {max(costs_ms):8.2f} ms")
    print(f"opened again       {reopened_ms:8.2f} ms")
    print(f"{len(lines)} lines read     {read_ms:8.2f} ms")


if __name__ == "__main__":
    main()
