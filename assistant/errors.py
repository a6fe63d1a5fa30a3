"""Every error the assistant raises on purpose.

    BenchError
    ├── OutOfRange          a number a formula or the set-up does not hold for
    │   ├── BallTooSmall    it drops into the pilot of the centre hole
    │   └── BallTooLarge    it does not go into the centre hole far enough to hold
    ├── WrongKind           a length where an angle was wanted, a bare number where a length was
    ├── UnknownName         a name that is in none of our tables
    ├── UnsourcedRow        a table row that does not say where it came from
    ├── NotUnderstood       words or keys that mean nothing here
    ├── Ambiguous           words that mean two things here
    ├── NotYet              something that needs another thing first
    ├── NothingToTakeBack   an undo, or a no, with nothing done before it
    ├── JournalUnreadable   a line of the journal that cannot be read
    ├── JournalUnusable     a journal that cannot be opened or written to
    ├── BadSetting          a setting that cannot be used
    ├── UnknownSetting      a name in the settings file that there is no setting of
    ├── SettingsUnreadable  a settings file that is not there or no TOML
    ├── BadSound            a sound file that cannot be read
    ├── ModelIncomplete     a speech model without all its files
    ├── RecogniserLost      the recogniser died; it was started again
    ├── VoiceLost           the voice died or gave no sound; it was started again
    └── DeviceMissing       a part that is not connected or not installed

Each has fields for the program and, as its text, one sentence a machinist can act on.
"""

from collections.abc import Sequence

# Nobody listens to more.
MOST_LISTED = 6


class BenchError(Exception):
    """The base of all of them."""


class OutOfRange(BenchError, ValueError):
    """A number is outside the range the formula holds for."""

    def __init__(self, name: str, value: object, limit: str) -> None:
        super().__init__(name, value, limit)
        self.name, self.value, self.limit = name, value, limit

    @property
    def figures(self) -> str:
        """The number, to as many figures as anyone wants: to thousandths, if it is 1 or more."""
        if not isinstance(self.value, float):
            return str(self.value)
        return f"{round(self.value, 3) if abs(self.value) >= 1 else self.value:.6g}"

    def __str__(self) -> str:
        return f"The {self.name} must be {self.limit}, not {self.figures}."


class BallTooSmall(OutOfRange):
    """A ball drops into the pilot of its centre hole."""

    def __init__(self, ball_mm: float, least_mm: float) -> None:
        super().__init__("ball diameter", ball_mm, f"more than {least_mm:.6g} mm")
        self.ball_mm, self.least_mm = ball_mm, least_mm
        self.args = (ball_mm, least_mm)

    def __str__(self) -> str:
        return (
            f"A {self.ball_mm:.6g} mm ball drops into the pilot of this centre hole; "
            f"use one of more than {self.least_mm:.4g} mm."
        )


class BallTooLarge(OutOfRange):
    """A ball does not go into its centre hole far enough to hold."""

    def __init__(self, ball_mm: float, most_mm: float) -> None:
        super().__init__("ball diameter", ball_mm, f"{most_mm:.6g} mm or less")
        self.ball_mm, self.most_mm = ball_mm, most_mm
        self.args = (ball_mm, most_mm)

    def __str__(self) -> str:
        return (
            f"A {self.ball_mm:.6g} mm ball is too large for this centre hole and would not hold; "
            f"use one of {self.most_mm:.4g} mm or less."
        )


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
        unknown = f"I know no {self.kind} {self.name}"
        if len(self.known) <= MOST_LISTED:
            return f"{unknown}; I know {', '.join(self.known)}."
        if all(name[0].isdigit() for name in self.known):
            return f"{unknown}; I know {self.known[0]} to {self.known[-1]}."
        return f"{unknown}."


class UnsourcedRow(BenchError, ValueError):
    """A table row does not say where it came from."""

    def __init__(self, table: str, row: str) -> None:
        super().__init__(table, row)
        self.table, self.row = table, row

    def __str__(self) -> str:
        return f"Row {self.row} of {self.table} names no source, so it is not used."


class NotUnderstood(BenchError, ValueError):
    """Words or keys mean nothing here."""

    def __init__(self, said: str, unknown: str | None = None) -> None:
        super().__init__(said, unknown)
        self.said, self.unknown = said, unknown

    def __str__(self) -> str:
        if not self.said:
            return "I did not catch that."
        if self.unknown is not None:
            return f"I do not know the word {self.unknown}."
        return f"I cannot use {self.said} here."


class Ambiguous(BenchError, ValueError):
    """Words mean two things here, and guessing would cost the work."""

    def __init__(self, said: str, choices: Sequence[str]) -> None:
        super().__init__(said, tuple(choices))
        self.said, self.choices = said, tuple(choices)

    def __str__(self) -> str:
        return f"By {self.said}, do you mean {' or '.join(self.choices)}?"


class JournalUnreadable(BenchError, ValueError):
    """A line of the journal cannot be read."""

    def __init__(self, line: str) -> None:
        super().__init__(line)
        self.line = line

    def __str__(self) -> str:
        return (
            f"I cannot read a line of the journal, {self.line[:60]}: "
            "check every number of the job before you cut."
        )


class JournalUnusable(BenchError):
    """The journal cannot be opened or written to."""

    def __init__(self, path: str, fault: str, remedy: str) -> None:
        super().__init__(path, fault, remedy)
        self.path, self.fault, self.remedy = path, fault, remedy

    def __str__(self) -> str:
        return f"I cannot keep the job in {self.path}: {self.fault}; {self.remedy}."


class NotYet(BenchError, ValueError):
    """Something cannot be done or answered before something else is."""

    def __init__(self, lacks: str, first: str) -> None:
        super().__init__(lacks, first)
        self.lacks, self.first = lacks, first

    def __str__(self) -> str:
        return f"There is no {self.lacks} yet; {self.first} first."


class NothingToTakeBack(BenchError, ValueError):
    """Nothing was done that could be taken back."""

    def __str__(self) -> str:
        return "There is nothing to take back."


class BadSetting(BenchError, ValueError):
    """A setting cannot be used; `where` tells the place in its file, if it came from one."""

    def __init__(self, name: str, value: object, allowed: str, where: str = "") -> None:
        super().__init__(name, value, allowed, where)
        self.name, self.value, self.allowed, self.where = name, value, allowed, where

    def __str__(self) -> str:
        begun = f"In {self.where}, the" if self.where else "The"
        return f"{begun} setting {self.name} must be {self.allowed}, not {self.value!r}."


class UnknownSetting(BenchError, LookupError):
    """A name in the settings file that there is no setting of."""

    def __init__(self, name: str, known: Sequence[str], where: str) -> None:
        super().__init__(name, tuple(known), where)
        self.name, self.known, self.where = name, tuple(known), where

    def __str__(self) -> str:
        *others, last = self.known
        return (
            f"In {self.where}, there is no setting {self.name}; "
            f"what stands there must be {', '.join(others)} or {last}."
        )


class SettingsUnreadable(BenchError):
    """A settings file is not there, cannot be read or is no TOML."""

    def __init__(self, where: str, fault: str) -> None:
        super().__init__(where, fault)
        self.where, self.fault = where, fault

    def __str__(self) -> str:
        return f"I cannot read the settings in {self.where}: {self.fault}."


class BadSound(BenchError, ValueError):
    """A sound file cannot be read."""

    def __init__(self, name: str, fault: str) -> None:
        super().__init__(name, fault)
        self.name, self.fault = name, fault

    def __str__(self) -> str:
        return f"I cannot use the sound file {self.name}: {self.fault}."


class ModelIncomplete(BenchError):
    """A speech model has not all its files, or one cannot be read."""

    def __init__(self, directory: str, lacks: str) -> None:
        super().__init__(directory, lacks)
        self.directory, self.lacks = directory, lacks

    def __str__(self) -> str:
        return f"The speech model in {self.directory} lacks {self.lacks}; install it again."


class RecogniserLost(BenchError):
    """The recogniser died; it has been started again. What was being said is lost."""

    def __str__(self) -> str:
        return "I could not hear for a moment; if you were speaking, please say it again."


class VoiceLost(BenchError):
    """The voice died or gave no sound; it has been started again."""

    def __init__(self, words: str) -> None:
        super().__init__(words)
        self.words = words

    def __str__(self) -> str:
        return f"I could not speak the words: {self.words}"


class DeviceMissing(BenchError):
    """A part is not connected or not installed."""

    def __init__(self, part: str, remedy: str) -> None:
        super().__init__(part, remedy)
        self.part, self.remedy = part, remedy

    def __str__(self) -> str:
        return f"There is no {self.part}: {self.remedy}."
