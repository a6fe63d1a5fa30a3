"""Rows of tests/golden: published or independently worked values, each with its source."""

import csv
from pathlib import Path

GOLDEN = Path(__file__).parents[1] / "golden"


def rows(table: str) -> list[dict[str, str]]:
    """Return a table's rows; a row that names no source is refused."""
    lines = (GOLDEN / f"{table}.csv").read_text(encoding="utf-8").splitlines()
    found = list(csv.DictReader(lines))
    for number, row in enumerate(found, 2):
        if not row["source"]:
            raise ValueError(f"{table}.csv line {number} names no source")
    return found
