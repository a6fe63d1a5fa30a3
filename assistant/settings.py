"""The settings: one TOML text makes one frozen Settings, or an error that names the setting."""

import tomllib
from dataclasses import dataclass, field, fields
from typing import Any

from assistant.calc.screw import DialReads, Screw
from assistant.calc.setover import End, ToolPost
from assistant.dialogue.job import Head, Job
from assistant.errors import BadSetting
from assistant.language.requests import Unit
from assistant.quantity import Angle, Length


@dataclass(frozen=True, slots=True)
class HeadSettings:
    """The offset head. The figures are those of an imagined head: give your own."""

    pitch_mm: float = 0.5
    divisions: int = 50
    dial_reads: str = DialReads.TRAVEL
    travel_mm: float = 12.0
    # Common practice, no source: steeper than this the balls' holders come near the work.
    steepest_half_angle_deg: float = 10.0
    tool_post: str = ToolPost.FRONT


@dataclass(frozen=True, slots=True)
class JobSettings:
    """How a job begins."""

    unit: str = Unit.MILLIMETRE
    small_end: str = End.TAILSTOCK


@dataclass(frozen=True, slots=True)
class SoundSettings:
    """Which devices and which voice. Empty names mean the system's own choice."""

    model: str = ""
    microphone: str = ""
    speaker: str = ""
    voice: str = "en-gb"
    words_per_minute: int = 165


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything that can be set."""

    head: HeadSettings = field(default_factory=HeadSettings)
    job: JobSettings = field(default_factory=JobSettings)
    sound: SoundSettings = field(default_factory=SoundSettings)

    def first_job(self) -> Job:
        """Return the empty job these settings begin with."""
        head = self.head
        screw = Screw(Length(head.pitch_mm), head.divisions, DialReads(head.dial_reads))
        return Job(
            Head(
                screw,
                Length(head.travel_mm),
                Angle.from_degrees(head.steepest_half_angle_deg),
                ToolPost(head.tool_post),
            ),
            unit=Unit(self.job.unit),
            small_end=End(self.job.small_end),
        )


_CHOICES: dict[str, tuple[str, ...]] = {
    "head.dial_reads": tuple(DialReads),
    "head.tool_post": tuple(ToolPost),
    "job.unit": (Unit.MILLIMETRE, Unit.INCH),
    "job.small_end": tuple(End),
}


def from_toml(text: str) -> Settings:
    """Return the settings of a TOML text; what it leaves out keeps its default.

    Raises:
        BadSetting: The text is no TOML, or a setting is unknown or has a value it cannot have.
    """
    try:
        read = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadSetting("file", str(error), "TOML") from None
    kinds = {"head": HeadSettings, "job": JobSettings, "sound": SoundSettings}
    for name in read:
        if name not in kinds:
            raise BadSetting(name, read[name], f"in one of {', '.join(kinds)}")
    return Settings(**{name: _section(name, kinds[name], read.get(name, {})) for name in kinds})


def _section(name: str, kind: Any, given: Any) -> Any:
    defaults = kind()
    known = {field.name: getattr(defaults, field.name) for field in fields(kind)}
    if not isinstance(given, dict):
        raise BadSetting(name, given, "a table")
    for key, value in given.items():
        full = f"{name}.{key}"
        if key not in known:
            raise BadSetting(full, value, f"one of {', '.join(known)}")
        if full in _CHOICES:
            if value not in _CHOICES[full]:
                raise BadSetting(full, value, " or ".join(_CHOICES[full]))
        elif isinstance(known[key], str):
            if not isinstance(value, str):
                raise BadSetting(full, value, "text")
        elif isinstance(value, bool) or not isinstance(value, int | float) or not value > 0:
            raise BadSetting(full, value, "a number more than 0")
        elif isinstance(known[key], int) and not isinstance(value, int):
            raise BadSetting(full, value, "a whole number")
    return kind(**given)
