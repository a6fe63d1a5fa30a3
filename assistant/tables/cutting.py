"""Cutting speeds, finishing feeds and friction, as published."""

from dataclasses import dataclass
from enum import StrEnum

from assistant.errors import UnknownName
from assistant.quantity import Feed, SurfaceSpeed
from assistant.tables import rows
from assistant.tables.rows import Basis


class Tool(StrEnum):
    """What the tool is made of."""

    HIGH_SPEED_STEEL = "high-speed steel"
    CARBIDE = "carbide"


@dataclass(frozen=True, slots=True)
class SpeedRange:
    """The surface speeds one source gives for a material and a tool."""

    low: SurfaceSpeed
    high: SurfaceSpeed
    note: str
    source: str


@dataclass(frozen=True, slots=True)
class FeedRange:
    """The feeds one source gives for a finishing cut."""

    low: Feed
    high: Feed
    source: str


@dataclass(frozen=True, slots=True)
class Friction:
    """The friction coefficients one source gives for steel on steel."""

    low: float
    high: float
    source: str
    from_memory: bool


# The kind that a plain name means where a source only gives kinds. Common practice, no source.
COMMON_KINDS = {
    "mild steel": "plain carbon steel 1006-1026",
    "stainless steel": "austenitic stainless 301-348",
    "tool steel": "oil-hardening tool steel O1",
    "cast iron": "grey cast iron class 20-40",
    "brass": "brass C360 group",
    "aluminium": "wrought aluminium 6061-T6",
}


def materials(tool: Tool) -> tuple[str, ...]:
    """Return the materials with a speed for a tool, each once."""
    every = rows.load("cutting_speeds").values()
    return tuple(dict.fromkeys(row.text("material") for row in every if row.text("tool") == tool))


def kind_for(material: str, tool: Tool) -> str:
    """Return the kind of a material that has speeds for a tool: itself, or the common one."""
    return material if material in materials(tool) else COMMON_KINDS.get(material, material)


def speeds(material: str, tool: Tool) -> tuple[SpeedRange, ...]:
    """Return what each source gives for a material and a tool.

    Raises:
        UnknownName: No source gives a speed for it.
    """
    if material not in materials(tool):
        raise UnknownName(f"{tool} speed for", material, materials(tool))
    return tuple(
        SpeedRange(
            SurfaceSpeed(row.number("low_m_per_min")),
            SurfaceSpeed(row.number("high_m_per_min")),
            row.text("note"),
            row.source,
        )
        for row in rows.load("cutting_speeds").values()
        if (row.text("material"), row.text("tool")) == (material, tool)
    )


def cautious_speed(material: str, tool: Tool) -> SpeedRange:
    """Return the slowest range given for a material and a tool: sources differ two to one.

    Raises:
        UnknownName: No source gives a speed for it.
    """
    return min(speeds(material, tool), key=lambda given: given.low)


def finishing_feed(material: str) -> FeedRange:
    """Return the feeds for a finishing cut, of a material or of the kind a plain name means.

    Raises:
        UnknownName: No source gives a feed for it.
    """
    plain = next((name for name, kind in COMMON_KINDS.items() if kind == material), material)
    row = rows.find("finishing_feeds", "finishing feed for", plain)
    low, high = (Feed.from_inches_per_rev(row.number(end)) for end in ("low_in", "high_in"))
    return FeedRange(low, high, row.source)


def friction(state: str) -> Friction:
    """Return the friction of steel on steel: `friction("greased")`, `friction("dry")`.

    Raises:
        UnknownName: There is no such state.
    """
    row = rows.find("friction", "friction of steel", state)
    memory = row.basis is Basis.MEMORY
    return Friction(row.number("low"), row.number("high"), row.source, memory)
