"""Every error the assistant raises on purpose.

    BenchError
    ├── OutOfRange          a number a formula or the set-up does not hold for
    ├── WrongKind           a length where an angle was wanted, a bare number where a length was
    ├── UnknownName         a name that is in none of our tables
    ├── UnsourcedRow        a table row that does not say where it came from
    ├── NotUnderstood       words or keys that mean nothing here
    ├── Ambiguous           words that mean two things here
    ├── BadSetting          a setting that cannot be used
    └── DeviceMissing       a part that is not connected or not installed

Each has fields for the program and, as its text, one sentence a machinist can act on.
"""

from collections.abc import Sequence


class BenchError(Exception):
    """The base of all of them."""


class OutOfRange(BenchError, ValueError):
    """A number is outside the range the formula holds for."""

    def __init__(self, name: str, value: object, limit: str) -> None:
        super().__init__(name, value, limit)
        self.name, self.value, self.limit = name, value, limit

    def __str__(self) -> str:
        value = f"{self.value:.6g}" if isinstance(self.value, float) else str(self.value)
        return f"The {self.name} must be {self.limit}, not {value}."


class WrongKind(BenchError, TypeError):
    """A quantity of the wrong kind was handed over."""

    def __init__(self, name: str, value: object, wanted: str) -> None:
        super().__init__(name, value, wanted)
        self.name, self.value, self.wanted = name, value, wanted

    def __str__(self) -> str:
        return (
            f"The {self.name} must be given as {self.wanted}, not as {type(self.value).__name__}."
        )


class UnknownName(BenchError, LookupError):
    """A name is in none of our tables."""

    def __init__(self, kind: str, name: str, known: Sequence[str]) -> None:
        super().__init__(kind, name, tuple(known))
        self.kind, self.name, self.known = kind, name, tuple(known)

    def __str__(self) -> str:
        return f"I know no {self.kind} {self.name}; I know {', '.join(self.known)}."


class UnsourcedRow(BenchError, ValueError):
    """A table row does not say where it came from."""

    def __init__(self, table: str, row: str) -> None:
        super().__init__(table, row)
        self.table, self.row = table, row

    def __str__(self) -> str:
        return f"Row {self.row} of {self.table} names no source, so it is not used."
