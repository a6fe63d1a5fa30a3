"""Cone angle tolerance grades: `find("AT6", Length(80.0))`."""

from dataclasses import dataclass

from assistant.calc.limits import positive
from assistant.errors import OutOfRange, UnknownName
from assistant.quantity import Angle, Length
from assistant.tables import rows
from assistant.tables.rows import Basis


@dataclass(frozen=True, slots=True)
class ConeAngleZone:
    """The width of the tolerance zone of the whole cone angle, as a grade gives it."""

    grade: str
    width: Angle
    source: str
    from_memory: bool


def grades() -> tuple[str, ...]:
    """Return the grades, finest first."""
    return tuple(
        dict.fromkeys(row.text("grade") for row in rows.load("cone_angle_grades").values())
    )


def find(grade: str, cone_length: Length) -> ConeAngleZone:
    """Return the zone a grade gives a cone of a length: over 6 mm, up to and with 630 mm.

    Raises:
        UnknownName: There is no such grade.
        OutOfRange: No row covers the length.
    """
    if grade not in grades():
        raise UnknownName("cone angle grade", grade, grades())
    long = positive("cone length", cone_length)
    for row in rows.load("cone_angle_grades").values():
        if row.text("grade") == grade and row.number("over_mm") < long <= row.number("to_mm"):
            width = Angle(row.number("microradians") / 1e6)
            return ConeAngleZone(grade, width, row.source, row.basis is Basis.MEMORY)
    raise OutOfRange("cone length", long, "more than 6 and no more than 630 mm")
