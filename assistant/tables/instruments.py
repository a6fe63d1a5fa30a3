"""How far a measuring instrument may err: `find("outside micrometer")`."""

from dataclasses import dataclass

from assistant.calc.trueing import standard_from_limit
from assistant.quantity import Length
from assistant.tables import rows
from assistant.tables.rows import Basis

EXPANDED = 2  # an expanded uncertainty is stated at twice the standard one


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument and its standard uncertainty."""

    name: str
    standard: Length
    source: str
    from_memory: bool


def find(name: str) -> Instrument:
    """Return an instrument's figure.

    Raises:
        UnknownName: The table has no such instrument.
    """
    row = rows.find("instruments", "instrument", name)
    if "limit_mm" in row.columns:
        standard = standard_from_limit(Length(row.number("limit_mm")))
    else:
        standard = Length(row.number("expanded_mm") / EXPANDED)
    return Instrument(name, standard, row.source, row.basis is Basis.MEMORY)
