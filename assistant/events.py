"""What can happen at the bench, and what the assistant asks the bench to do.

Events go into `assistant.dialogue.step`, actions come out; neither knows a device.
"""

from dataclasses import dataclass
from enum import Enum, StrEnum


class Key(StrEnum):
    """A key of the 4x4 pad, by the legend it is sold with."""

    ZERO = "0"
    ONE = "1"
    TWO = "2"
    THREE = "3"
    FOUR = "4"
    FIVE = "5"
    SIX = "6"
    SEVEN = "7"
    EIGHT = "8"
    NINE = "9"
    STAR = "*"
    HASH = "#"
    A = "A"
    B = "B"
    C = "C"
    D = "D"


# Held down, it is the pedal: found without looking on a number pad, where it is the widest, and
# tapped by mistake it undoes nothing.
TALK_KEY = Key.ZERO


@dataclass(frozen=True, slots=True)
class Hearing:
    """What the recogniser made of one utterance.

    `alternatives` holds word strings, the likeliest first; none at all when it heard
    nothing it knows. A sound outside the listed words comes as the word "[unk]".
    `scores` holds the natural logarithm of each alternative's likelihood, up to a constant;
    none where there is no doubt of what was said, as of typed words.
    `unaided` is what the first of two listeners alone would have taken for the likeliest words,
    None if there is only one. `clearness` tells how surely the second made out phones, whatever
    they were: the mean logarithm of the likelihood of the likeliest, 0 at best. `written` tells
    how likely a third would write the likeliest words: the logarithm for each word, 0 at best.
    """

    alternatives: tuple[str, ...] = ()
    scores: tuple[float, ...] = ()
    unaided: str | None = None
    clearness: float = 0.0
    written: float = 0.0

    @property
    def words(self) -> str | None:
        """The likeliest words, or None."""
        return self.alternatives[0] if self.alternatives else None


@dataclass(frozen=True, slots=True)
class Heard:
    """An utterance came to its end."""

    hearing: Hearing


@dataclass(frozen=True, slots=True)
class Called:
    """It was called by its word, and nothing followed."""


@dataclass(frozen=True, slots=True)
class KeyPressed:
    """A key of the pad went down and held still long enough to count."""

    key: Key


@dataclass(frozen=True, slots=True)
class Tick:
    """Time went by since the last one; `speaking` while somebody is in the middle of a word."""

    elapsed_s: float
    speaking: bool = False


@dataclass(frozen=True, slots=True)
class SpindleSeen:
    """A sensor saw the spindle start or stop."""

    turning: bool


Event = Heard | Called | KeyPressed | Tick | SpindleSeen


@dataclass(frozen=True, slots=True)
class Say:
    """Speak this sentence, cutting short whatever is being spoken.

    `loudness` is a share of full, more than 0 and no more than 1.
    """

    words: str
    loudness: float = 1.0


@dataclass(frozen=True, slots=True)
class Show:
    """Show these lines on the bench screen in place of what it shows.

    `view` is the fuller account for a screen with room for it.
    """

    lines: tuple[str, ...]
    view: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Record:
    """Append this line to the journal, and have it on disk before any other action."""

    line: str


class Signal(Enum):
    """A sign without words, for the lamp and the buzzer."""

    KEY = "key taken"
    REFUSED = "refused"
    REMINDER = "reminder"


@dataclass(frozen=True, slots=True)
class Lamp:
    """Light the lamp, between its signs too, while something is due; or let it go out."""

    lit: bool


Action = Say | Show | Signal | Lamp | Record
