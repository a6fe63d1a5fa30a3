"""The settings: one TOML text makes one frozen Settings, or an error that names the setting."""

import tomllib
from dataclasses import dataclass, field, fields
from typing import Any

from assistant.calc.cutting import DEFAULT_CAP
from assistant.calc.screw import DialReads, Screw
from assistant.calc.setover import End, ToolPost
from assistant.calc.tolerance import Tolerance
from assistant.dialogue.job import Job
from assistant.dialogue.reminders import Intervals
from assistant.dialogue.shop import FINISHING_CUT, LIGHT_CUT, Head, Shop
from assistant.errors import BadSetting
from assistant.language import attention
from assistant.language.requests import Unit
from assistant.quantity import Angle, Length, SpindleSpeed
from assistant.tables import instruments


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
    backlash_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class JobSettings:
    """How a job begins, and the shop's limits. Common practice, no source."""

    unit: str = Unit.MILLIMETRE
    small_end: str = End.TAILSTOCK
    within_minutes: float = 1.0
    light_cut_mm: float = LIGHT_CUT.mm
    finishing_cut_mm: float = FINISHING_CUT.mm
    fastest_rpm: float = DEFAULT_CAP.rpm


@dataclass(frozen=True, slots=True)
class MeasuringSettings:
    """The standard uncertainties of what the shop measures with."""

    diameter_mm: float = field(
        default_factory=lambda: instruments.find("outside micrometer").standard.mm
    )
    apart_mm: float = field(default_factory=lambda: instruments.find("calliper").standard.mm)
    indicator_mm: float = field(
        default_factory=lambda: instruments.find("dial indicator, 0.01 mm").standard.mm
    )


@dataclass(frozen=True, slots=True)
class SoundSettings:
    """Which devices and which voice. Empty names mean the system's own choice."""

    model: str = ""
    microphone: str = ""
    speaker: str = ""
    voice: str = "en-gb"
    words_per_minute: int = 165
    keys: str = "click"


@dataclass(frozen=True, slots=True)
class PartsSettings:
    """What is connected besides, and how to listen. Empty names mean there is none."""

    listen: str = "open"
    # What must come first in open listening, but for answers; none where it needs no word.
    attention: str = attention.WORDS[0]
    spindle: str = "none"
    pulses_per_turn: int = 1
    small_screen: str = "none"
    usb_pad: str = ""
    usb_gauge: str = ""

    @property
    def called(self) -> str:
        """The word it must be called by; empty where all that is heard is said to it."""
        return self.attention if self.listen == "open" and self.attention != "none" else ""


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything that can be set."""

    head: HeadSettings = field(default_factory=HeadSettings)
    job: JobSettings = field(default_factory=JobSettings)
    measuring: MeasuringSettings = field(default_factory=MeasuringSettings)
    reminders: Intervals = field(default_factory=Intervals)
    sound: SoundSettings = field(default_factory=SoundSettings)
    parts: PartsSettings = field(default_factory=PartsSettings)
    # Whether a [head] was given: one that was not is asked about once.
    head_given: bool = False

    def first_job(self, called: str = "") -> Job:
        """Return the empty job these settings begin with.

        Args:
            called: The word it must be called by, where it listens openly.
        """
        head = self.head
        screw = Screw(
            Length(head.pitch_mm),
            head.divisions,
            DialReads(head.dial_reads),
            Length(head.backlash_mm),
        )
        return Job(
            Head(
                screw,
                Length(head.travel_mm),
                Angle.from_degrees(head.steepest_half_angle_deg),
                ToolPost(head.tool_post),
                confirmed=self.head_given,
            ),
            self._shop(called),
            unit=Unit(self.job.unit),
            small_end=End(self.job.small_end),
        )

    def _shop(self, called: str) -> Shop:
        job, measuring = self.job, self.measuring
        return Shop(
            self.reminders,
            SpindleSpeed(job.fastest_rpm),
            Length(job.light_cut_mm),
            Length(job.finishing_cut_mm),
            Tolerance(Angle.from_degrees(0, minutes=job.within_minutes)),
            Length(measuring.diameter_mm),
            Length(measuring.apart_mm),
            Length(measuring.indicator_mm),
            says_keys=self.sound.keys == "speech",
            called=called,
        )


_CHOICES: dict[str, tuple[str, ...]] = {
    "head.dial_reads": tuple(DialReads),
    "head.tool_post": tuple(ToolPost),
    "job.unit": (Unit.MILLIMETRE, Unit.INCH),
    "job.small_end": tuple(End),
    "sound.keys": ("click", "speech"),
    "parts.listen": ("open", "pedal"),
    "parts.attention": (*attention.WORDS, "none"),
    "parts.spindle": ("none", "level", "pulses"),
    "parts.small_screen": ("none", "ssd1306", "ssd1309", "ssd1315", "sh1106"),
}


# None at all is a value that these may have.
_MAY_BE_NOTHING = ("head.backlash_mm",)

_SECTIONS: dict[str, Any] = {
    "head": HeadSettings,
    "job": JobSettings,
    "measuring": MeasuringSettings,
    "reminders": Intervals,
    "sound": SoundSettings,
    "parts": PartsSettings,
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
    for name in read:
        if name not in _SECTIONS:
            raise BadSetting(name, read[name], f"in one of {', '.join(_SECTIONS)}")
    return Settings(
        **{name: _section(name, kind, read.get(name, {})) for name, kind in _SECTIONS.items()},
        head_given="head" in read,
    )


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
        elif isinstance(value, bool) or not isinstance(value, int | float):
            raise BadSetting(full, value, "a number")
        elif not (value > 0 or (value == 0 and full in _MAY_BE_NOTHING)):
            raise BadSetting(full, value, "a number more than 0")
        elif isinstance(known[key], int) and not isinstance(value, int):
            raise BadSetting(full, value, "a whole number")
    return kind(**given)
