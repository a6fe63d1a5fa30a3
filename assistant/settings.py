"""The settings: one TOML text makes one frozen Settings, or an error that names the line."""

import json
import tomllib
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from assistant.calc.cutting import DEFAULT_CAP
from assistant.calc.limits import STEEPEST_HALF_ANGLE
from assistant.calc.screw import DialReads, Screw
from assistant.calc.setover import End, ToolPost
from assistant.calc.tolerance import Tolerance
from assistant.dialogue.job import Job
from assistant.dialogue.reminders import Intervals
from assistant.dialogue.shop import FINISHING_CUT, LIGHT_CUT, Head, Shop
from assistant.errors import BadSetting, SettingsUnreadable, UnknownSetting
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


def _standard_mm(instrument: str) -> float:
    """Return an instrument's standard uncertainty, in no more figures than one would write."""
    return float(f"{instruments.find(instrument).standard.mm:.3g}")


@dataclass(frozen=True, slots=True)
class MeasuringSettings:
    """The standard uncertainties of what the shop measures with."""

    diameter_mm: float = field(default_factory=lambda: _standard_mm("outside micrometer"))
    apart_mm: float = field(default_factory=lambda: _standard_mm("calliper"))
    indicator_mm: float = field(default_factory=lambda: _standard_mm("dial indicator, 0.01 mm"))


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


@dataclass(frozen=True, slots=True)
class Numbers:
    """What a number may be; a whole one where the default is."""

    least: float
    most: float
    whole: bool = False

    def __str__(self) -> str:
        least, most = (f"{Decimal(f'{end:g}'):f}" for end in (self.least, self.most))
        return f"a {'whole ' * self.whole}number from {least} to {most}"

    def take(self, given: object) -> int | float | None:
        """Return the number given, or None where it is none of these; nan and inf never are."""
        if isinstance(given, bool) or not isinstance(given, int if self.whole else int | float):
            return None
        if not self.least <= given <= self.most:
            return None
        return given if self.whole else float(given)


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few words."""

    of: tuple[str, ...]

    def __str__(self) -> str:
        *others, last = (f'"{word}"' for word in self.of)
        return f"{', '.join(others)} or {last}"

    def take(self, given: object) -> str | None:
        """Return the word given, or None where it is none of these."""
        return given if isinstance(given, str) and given in self.of else None


@dataclass(frozen=True, slots=True)
class Text:
    """Any text."""

    what: str

    def __str__(self) -> str:
        return f"text in quotes, {self.what}"

    def take(self, given: object) -> str | None:
        """Return the text given, or None where it is none."""
        return given if isinstance(given, str) else None


_DEVICE = Text("part of a sound device's name; \"\" for the system's choice")
_CUT = Numbers(0.001, 5)
_STANDARD = Numbers(0.00001, 1)
# A week is for ever, at the lathe.
_SECONDS = Numbers(1, 604_800)

# What each setting may be. The ends are far outside what a bench has, and still tell a wrong
# unit from a right one: common practice, no source; unless said otherwise.
ALLOWED: dict[str, dict[str, Numbers | Choice | Text]] = {
    "head": {
        "pitch_mm": Numbers(0.01, 25),
        "divisions": Numbers(1, 1000, whole=True),
        "dial_reads": Choice(tuple(DialReads)),
        "travel_mm": Numbers(0.1, 250),
        # The formulas hold no further.
        "steepest_half_angle_deg": Numbers(0.1, STEEPEST_HALF_ANGLE.degrees),
        "tool_post": Choice(tuple(ToolPost)),
        "backlash_mm": Numbers(0, 5),
    },
    "job": {
        "unit": Choice((Unit.MILLIMETRE, Unit.INCH)),
        "small_end": Choice(tuple(End)),
        "within_minutes": Numbers(0.01, 600),
        "light_cut_mm": _CUT,
        "finishing_cut_mm": _CUT,
        "fastest_rpm": Numbers(1, 10_000),
    },
    "measuring": {"diameter_mm": _STANDARD, "apart_mm": _STANDARD, "indicator_mm": _STANDARD},
    "reminders": {
        "oil_s": _SECONDS,
        "oil_turns": Numbers(1, 1_000_000),
        "shortest_oil_s": _SECONDS,
        "longest_oil_share": Numbers(1, 10),
        "first_ease_s": _SECONDS,
        "ease_s": _SECONDS,
        "again_s": _SECONDS,
        "most_times": Numbers(1, 100, whole=True),
        "put_off_s": _SECONDS,
    },
    "sound": {
        "model": Text('a folder with a speech model; "" for the one that is built in'),
        "microphone": _DEVICE,
        "speaker": _DEVICE,
        "voice": Text('a voice of espeak-ng, such as "en-gb"'),
        # The range of espeak.
        "words_per_minute": Numbers(80, 450, whole=True),
        "keys": Choice(("click", "speech")),
    },
    "parts": {
        "listen": Choice(("open", "pedal")),
        "attention": Choice((*attention.WORDS, "none")),
        "spindle": Choice(("none", "level", "pulses")),
        "pulses_per_turn": Numbers(1, 100, whole=True),
        "small_screen": Choice(("none", "ssd1306", "ssd1309", "ssd1315", "sh1106")),
        "usb_pad": Text('part of its name in /dev/input/by-id; "" where there is none'),
        "usb_gauge": Text('part of its name in /dev/input/by-id; "" where there is none'),
    },
}
_KINDS: dict[str, Any] = {
    "head": HeadSettings,
    "job": JobSettings,
    "measuring": MeasuringSettings,
    "reminders": Intervals,
    "sound": SoundSettings,
    "parts": PartsSettings,
}


def from_toml(text: str, file: str = "the settings") -> Settings:
    """Return the settings of a TOML text; what it leaves out keeps its default.

    Args:
        text: What the file holds.
        file: Its name, for the errors.

    Raises:
        SettingsUnreadable: The text is no TOML.
        UnknownSetting: A name in it is none of a setting.
        BadSetting: A setting has a value it cannot have.
    """
    try:
        read = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        # "Invalid value (at line 1, column 4)", or "(at end of document)"
        fault, _, place = str(error).rpartition(" (at ")
        number = place.removeprefix("line ").partition(",")[0]
        if not number.isdigit():
            number = str(text.count("\n") + 1)
        raise SettingsUnreadable(
            f"{file}, line {number}", f"it is no TOML, {fault[0].lower()}{fault[1:]}"
        ) from None

    def where(*name: str) -> str:
        return f"{file}, line {_lines(text)[name]}"

    for table, given in read.items():
        if table not in ALLOWED:
            raise UnknownSetting(table, [f"[{known}]" for known in ALLOWED], where(table))
        if not isinstance(given, dict):
            raise BadSetting(table, given, f"a table that begins [{table}]", where(table))
        for name, value in given.items():
            full = f"{table}.{name}"
            if name not in ALLOWED[table]:
                raise UnknownSetting(full, tuple(ALLOWED[table]), where(table, name))
            allowed = ALLOWED[table][name]
            taken = allowed.take(value)
            if taken is None:
                raise BadSetting(full, value, str(allowed), where(table, name))
            given[name] = taken
    return Settings(
        **{table: kind(**read.get(table, {})) for table, kind in _KINDS.items()},
        head_given="head" in read,
    )


def in_force(text: str, file: str = "the settings") -> str:
    """Return every setting a TOML text leads to, as TOML that leads to the same.

    Beside each stands what it may be, and the line of the file it came from, or "default".
    The head is a comment unless one was given: giving it says that it is the one on the lathe.

    Raises:
        BenchError: As for from_toml.
    """
    settings, lines = from_toml(text, file), _lines(text)
    shown = ["# Every setting in force. A file of settings may look the same."]
    if not settings.head_given:
        shown += ["", "# No head was given. Give yours in place of this imagined one, without #."]
    for table, names in ALLOWED.items():
        comment = "# " if table == "head" and not settings.head_given else ""
        shown += ["" if not comment else "#", f"{comment}[{table}]"]
        for name, allowed in names.items():
            value = _as_toml(getattr(getattr(settings, table), name))
            line = lines.get((table, name))
            source = "default" if line is None else f"{file}:{line}"
            shown.append(f"{comment}{name} = {value}  # {allowed}; {source}")
    return "\n".join(shown) + "\n"


def _lines(text: str) -> dict[tuple[str, ...], int]:
    """Return the line of each table and setting of a TOML text: where it is first there."""
    found: dict[tuple[str, ...], int] = {}
    begun = ""
    for number, line in enumerate(text.replace("\r\n", "\n").split("\n"), start=1):
        begun += f"{line}\n"
        try:
            read = tomllib.loads(begun)
        except tomllib.TOMLDecodeError:
            continue  # a value that goes on in the next line
        for table, given in read.items():
            found.setdefault((table,), number)
            for name in given if isinstance(given, dict) else ():
                found.setdefault((table, name), number)
    return found


def _as_toml(value: str | float) -> str:
    # JSON's text is TOML's, but for the one control character that JSON lets stand.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
