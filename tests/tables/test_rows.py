"""A table's rows come with their source, or not at all."""

from pathlib import Path

import pytest

from assistant import tables
from assistant.errors import UnknownName, UnsourcedRow
from assistant.tables import rows

GOOD = '[M6]\npitch_mm = 1\nnote = "coarse"\nsource = "a standard"\nbasis = "read"\n'
TABLES = sorted(path.stem for path in Path(tables.__file__).parent.glob("*.toml"))


def test_a_row_keeps_its_columns_source_and_basis() -> None:
    row = rows.parse("threads", GOOD)["M6"]

    assert row == rows.Row(
        "threads", "M6", {"pitch_mm": 1, "note": "coarse"}, "a standard", rows.Basis.READ
    )
    assert (row.number("pitch_mm"), row.text("note")) == (1.0, "coarse")


def test_a_row_gives_the_key_of_a_source_that_its_table_opens_with() -> None:
    shared = 'sources.page = "a page"\nM6 = { pitch_mm = 1, source = "page", basis = "memory" }'
    found = rows.parse("threads", shared)

    assert found == {"M6": rows.Row("threads", "M6", {"pitch_mm": 1}, "a page", rows.Basis.MEMORY)}


@pytest.mark.parametrize(
    "toml",
    [
        '[M6]\npitch_mm = 1\nbasis = "read"',
        '[M6]\npitch_mm = 1\nsource = "  "\nbasis = "read"',
        '[M6]\npitch_mm = 1\nsource = 3\nbasis = "read"',
        '[M6]\npitch_mm = 1\nsource = "a standard"',
        '[M6]\npitch_mm = 1\nsource = "a standard"\nbasis = "hearsay"',
        'sources.page = "a page"\nM6 = { source = "book", basis = "read" }',
        'sources.page = "a page"\nM6 = { basis = "read" }',
    ],
)
def test_a_row_without_a_source_or_basis_is_refused(toml: str) -> None:
    with pytest.raises(UnsourcedRow) as caught:
        rows.parse("threads", toml)

    assert (caught.value.table, caught.value.row) == ("threads", "M6")
    assert str(caught.value) == "Row M6 of threads names no source, so it is not used."


def test_a_missing_column_is_named() -> None:
    row = rows.parse("threads", GOOD)["M6"]

    with pytest.raises(UnknownName, match="number in row M6 called note"):
        row.number("note")
    with pytest.raises(UnknownName, match="text in row M6 called lead"):
        row.text("lead")


@pytest.mark.parametrize("table", TABLES)
def test_every_table_we_ship_loads(table: str) -> None:
    assert rows.load(table)


def test_a_name_in_no_row_is_refused_with_the_names_there_are() -> None:
    with pytest.raises(UnknownName) as caught:
        rows.find("expansion", "material", "cheese")

    assert (caught.value.kind, caught.value.name) == ("material", "cheese")
    assert caught.value.known == tuple(rows.load("expansion"))
