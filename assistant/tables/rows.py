"""Rows of published numbers, each with the place it came from.

A table is a TOML file beside this one, one TOML table to a row:

    ["grey cast iron"]
    per_million_per_kelvin = 11.4
    source = "title, edition, page"
    basis = "read"

A table whose rows share long sources opens with them, each under a key, and a row then
gives the key:

    sources.page = "title, edition, page"
    2 = { gauge_in = 0.7, per_foot_in = 0.59941, source = "page", basis = "read" }

A row that names no source, or does not say how we know it, is refused.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from pathlib import Path
from types import MappingProxyType

from assistant.errors import UnknownName, UnsourcedRow


class Basis(StrEnum):
    """How a number is known."""

    READ = "read"
    MEMORY = "memory"
    COMPUTED = "computed"
    PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table: its columns, and where they came from."""

    table: str
    name: str
    columns: Mapping[str, object]
    source: str
    basis: Basis

    def number(self, column: str) -> float:
        """Return a column that holds a number.

        Raises:
            UnknownName: The row has no number there.
        """
        value = self.columns.get(column)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise UnknownName(f"number in row {self.name} called", column, tuple(self.columns))
        return float(value)

    def text(self, column: str) -> str:
        """Return a column that holds words.

        Raises:
            UnknownName: The row has no words there.
        """
        value = self.columns.get(column)
        if not isinstance(value, str):
            raise UnknownName(f"text in row {self.name} called", column, tuple(self.columns))
        return value


def parse(table: str, toml: str) -> Mapping[str, Row]:
    """Return the rows of a table's text, by name, in the order written.

    Raises:
        UnsourcedRow: A row names no source, or not how it is known.
    """
    rows: dict[str, Row] = {}
    written_rows = tomllib.loads(toml)
    sources = written_rows.pop("sources", None)
    for name, written in written_rows.items():
        columns = dict(written)
        source, basis = columns.pop("source", ""), columns.pop("basis", "")
        if sources is not None:
            source = sources.get(source, "")
        if not (isinstance(source, str) and source.strip() and basis in tuple(Basis)):
            raise UnsourcedRow(table, name)
        rows[name] = Row(table, name, MappingProxyType(columns), source, Basis(basis))
    return MappingProxyType(rows)


@cache
def load(table: str) -> Mapping[str, Row]:
    """Return the rows of one of our own tables, by name: `load("expansion")`."""
    return parse(table, Path(__file__).with_name(f"{table}.toml").read_text(encoding="utf-8"))


def find(table: str, kind: str, name: str) -> Row:
    """Return one row, refused by name when the table has none of that name.

    Raises:
        UnknownName: The table has no such row.
    """
    rows = load(table)
    if name not in rows:
        raise UnknownName(kind, name, tuple(rows))
    return rows[name]
