"""How metals grow and give: `expansion("brass C26000")`, `modulus("steel")`."""

from dataclasses import dataclass

from assistant.quantity import Expansion, Modulus
from assistant.tables import rows
from assistant.tables.rows import Basis


@dataclass(frozen=True, slots=True)
class Growth:
    """A metal's expansion, and where it was read."""

    expansion: Expansion
    source: str
    from_memory: bool


@dataclass(frozen=True, slots=True)
class Stiffness:
    """A metal's modulus, and where it was read."""

    modulus: Modulus
    source: str
    from_memory: bool


def expansion(metal: str) -> Growth:
    """Return a metal's expansion.

    Raises:
        UnknownName: The table has no such metal.
    """
    row = rows.find("expansion", "expansion of", metal)
    growth = Expansion(row.number("per_million_per_kelvin"))
    return Growth(growth, row.source, row.basis is Basis.MEMORY)


def modulus(metal: str) -> Stiffness:
    """Return a metal's modulus.

    Raises:
        UnknownName: The table has no such metal.
    """
    row = rows.find("elastic_moduli", "modulus of", metal)
    return Stiffness(Modulus(row.number("gpa")), row.source, row.basis is Basis.MEMORY)
