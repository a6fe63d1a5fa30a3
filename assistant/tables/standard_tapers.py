"""The standard tapers, by system and size: `find("morse", "2")`.

A table is read when a taper of its system is first asked for. Jarno tapers need no table:
they are a formula.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from assistant.calc import taper
from assistant.calc.taper import Taper
from assistant.errors import UnknownName
from assistant.quantity import Angle, Length
from assistant.tables import rows
from assistant.tables.rows import Basis, Row

JARNO_SOURCE = (
    "formula D = n/8, d = n/10, l = n/2 in: Taper Sizes by measurement, hobby-machinist.com "
    "thread 3102, Jacobs / Morse / B&S tables; US Army Ordnance course OD1645 Lathe "
    "Operations, lesson 1 (Jarno, taper pins), armyordnance.tpub.com Od16450081"
)
JARNO_NUMBERS = range(2, 21)

_TABLES = {
    "morse": "morse_tapers",
    "metric": "metric_tapers",
    "brown and sharpe": "brown_and_sharpe_tapers",
    "jacobs": "jacobs_tapers",
    "steep": "steep_tapers",
    "metric pin": "metric_pins",
    "inch pin": "inch_pins",
    "pipe": "pipe_tapers",
    "bearing bore": "bearing_bores",
    "cone series": "cone_series",
}


@dataclass(frozen=True, slots=True)
class StandardTaper:
    """A taper that has a name. What its system does not fix is None.

    The taper is the published rate, not the one its diameters and length give: those are
    printed to fewer figures.
    """

    system: str
    size: str
    taper: Taper
    gauge_diameter: Length | None
    small_end: Length | None
    length: Length | None
    source: str
    memory: str = ""  # which of the figures are from memory, in words

    @property
    def from_memory(self) -> bool:
        """Whether any figure of it is from memory."""
        return bool(self.memory)


def systems() -> tuple[str, ...]:
    """Return the names of the systems."""
    return (*_TABLES, "jarno")


def sizes(system: str) -> tuple[str, ...]:
    """Return the sizes of a system, smallest first, as its table spells them.

    Raises:
        UnknownName: There is no such system.
    """
    return tuple(_system(system))


def find(system: str, size: str) -> StandardTaper:
    """Return a standard taper.

    Raises:
        UnknownName: There is no such system, or no such size in it.
    """
    known = _system(system)
    if size not in known:
        raise UnknownName(f"{system} taper", size, tuple(known))
    return known[size]


@cache
def _system(system: str) -> Mapping[str, StandardTaper]:
    if system == "jarno":
        return {str(number): _jarno(number) for number in JARNO_NUMBERS}
    if system not in _TABLES:
        raise UnknownName("system of tapers", system, systems())
    return {size: _from_row(system, row) for size, row in rows.load(_TABLES[system]).items()}


def _jarno(number: int) -> StandardTaper:
    large, small, length = (Length.from_inches(number / part) for part in (8, 10, 2))
    rate = taper.from_ratio(20)  # (1/8 - 1/10) / (1/2)
    return StandardTaper("jarno", str(number), rate, large, small, length, JARNO_SOURCE)


def _from_row(system: str, row: Row) -> StandardTaper:
    return StandardTaper(
        system,
        row.name,
        _rate(row),
        _length(row, "gauge"),
        _length(row, "small"),
        _length(row, "length"),
        row.source,
        _memory(row),
    )


def _memory(row: Row) -> str:
    if row.basis is Basis.MEMORY:
        return "every figure"
    return row.text("memory") if "memory" in row.columns else ""


def _rate(row: Row) -> Taper:
    if "per_foot_in" in row.columns:
        return taper.from_per_foot(Length.from_inches(row.number("per_foot_in")))
    if "included_degrees" in row.columns:
        return taper.from_included_angle(Angle.from_degrees(row.number("included_degrees")))
    rise = row.number("rise") if "rise" in row.columns else 1.0
    return taper.from_ratio(row.number("run"), rise=rise)


def _length(row: Row, name: str) -> Length | None:
    if f"{name}_in" in row.columns:
        return Length.from_inches(row.number(f"{name}_in"))
    return Length(row.number(f"{name}_mm")) if f"{name}_mm" in row.columns else None
