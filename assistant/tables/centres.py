"""Centre holes, centre drills and balls as they are made, and which of them go together."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from assistant.calc import ball_centres
from assistant.calc.ball_centres import CentreHole
from assistant.calc.limits import positive
from assistant.errors import OutOfRange, UnknownName
from assistant.quantity import Length
from assistant.tables import rows
from assistant.tables.rows import Basis, Row

_HOLES = {"A": "centre_holes_a", "B": "centre_holes_b"}


@dataclass(frozen=True, slots=True)
class StandardHole:
    """A centre hole that has a name: type A or B, and its pilot in millimetres."""

    form: str
    size: str
    hole: CentreHole
    least_depth: Length
    source: str
    from_memory: bool


@dataclass(frozen=True, slots=True)
class CentreDrill:
    """A plain 60 degree centre drill. The body limits the mouth it can open."""

    number: str
    pilot: Length
    body: Length
    source: str
    from_memory: bool


@dataclass(frozen=True, slots=True)
class Ball:
    """A ball of a size that is made."""

    size: str
    diameter: Length
    source: str
    from_memory: bool


def hole(form: str, size: str) -> StandardHole:
    """Return a centre hole of type A or B by its pilot in millimetres: `hole("A", "3.15")`.

    Raises:
        UnknownName: There is no such type here, or no such size of it.
    """
    known = holes(form)
    if size not in known:
        raise UnknownName(f"type {form} centre hole", size, tuple(known))
    return known[size]


@cache
def holes(form: str) -> Mapping[str, StandardHole]:
    """Return the centre holes of a type by size, the smallest first.

    Raises:
        UnknownName: There is no such type here.
    """
    if form not in _HOLES:
        raise UnknownName("type of centre hole", form, tuple(_HOLES))
    return {size: _hole(form, row) for size, row in rows.load(_HOLES[form]).items()}


def hole_for_work(diameter: Length) -> StandardHole:
    """Return the type A hole that workshop practice gives to work of a diameter.

    Raises:
        OutOfRange: The diameter is zero or less, or larger than the practice goes.
    """
    work_mm = positive("diameter of the work", diameter)
    sizes = rows.load("centre_sizes_for_work").values()
    for row in sizes:
        if work_mm <= row.number("to_mm"):
            return hole("A", row.text("hole"))
    raise OutOfRange("diameter of the work", work_mm, f"{row.number('to_mm'):g} mm or less")


@cache
def drills() -> Mapping[str, CentreDrill]:
    """Return the centre drills by number, the smallest first."""
    return {number: _drill(row) for number, row in rows.load("centre_drills").items()}


@cache
def balls() -> Mapping[str, Ball]:
    """Return the balls that are made, by size, the smallest first."""
    made = [_ball(row) for row in rows.load("ball_sizes").values()]
    return {ball.size: ball for ball in sorted(made, key=lambda ball: ball.diameter)}


def balls_for(centre_hole: CentreHole) -> tuple[Ball, ...]:
    """Return the balls that sit on the cone of a hole, the best seated first."""
    by_diameter = {ball.diameter: ball for ball in balls().values()}
    fitting = ball_centres.balls_that_seat(centre_hole, by_diameter)
    return tuple(by_diameter[diameter] for diameter in fitting)


def holes_for(ball: Length, form: str) -> tuple[StandardHole, ...]:
    """Return the holes of a type whose cone a ball sits on, the smallest first.

    Raises:
        UnknownName: There is no such type here.
    """
    return tuple(
        one for one in holes(form).values() if ball_centres.balls_that_seat(one.hole, [ball])
    )


def drills_for(ball: Length) -> tuple[CentreDrill, ...]:
    """Return the centre drills that can open a hole for a ball to sit half way up.

    Raises:
        OutOfRange: The ball is zero or less.
    """
    contact_mm = positive("ball diameter", ball) * ball_centres.COS_30
    return tuple(
        drill
        for drill in drills().values()
        if drill.pilot.mm < contact_mm
        and ball_centres.mouth_for_ball(ball, drill.pilot) <= drill.body
    )


def _hole(form: str, row: Row) -> StandardHole:
    set_back = row.number("set_back_mm") if "set_back_mm" in row.columns else 0.0
    cone = CentreHole(
        Length(row.number("pilot_mm")), Length(row.number("mouth_mm")), Length(set_back)
    )
    depth = Length(row.number("depth_mm"))
    return StandardHole(form, row.name, cone, depth, row.source, row.basis is Basis.MEMORY)


def _drill(row: Row) -> CentreDrill:
    pilot, body = (Length.from_inches(row.number(name)) for name in ("pilot_in", "body_in"))
    return CentreDrill(row.name, pilot, body, row.source, row.basis is Basis.MEMORY)


def _ball(row: Row) -> Ball:
    if "inch" in row.columns:
        diameter = Length.from_inches(float(Fraction(row.text("inch"))))
    else:
        diameter = Length(row.number("mm"))
    return Ball(row.name, diameter, row.source, row.basis is Basis.MEMORY)
