"""What each part of the bench must be able to do, whatever it is made of.

Every port has a real adapter and a simulated twin in `hardware`, and both pass the same
contract tests. A port takes and gives plain values; it decides nothing.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Protocol

from assistant.events import Hearing, Key, Signal, SpindleSeen
from assistant.quantity import SpindleSpeed


@dataclass(frozen=True, slots=True)
class Sound:
    """Mono sound: signed 16-bit little-endian samples at a rate."""

    rate_hz: int
    samples: bytes

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return len(self.samples) / 2 / self.rate_hz


class Recogniser(Protocol):
    """Turns sound into words."""

    def expect(self, phrases: Sequence[str]) -> None:
        """Listen for these words from the next utterance on; the utterance begun is dropped."""

    def accept(self, sound: Sound) -> Hearing | None:
        """Take a block of sound; return what was said once a pause ends the utterance."""

    @property
    def hearing(self) -> bool:
        """Whether an utterance has begun: a word was made out, and no pause has ended it."""

    def finish(self) -> Hearing:
        """End the utterance now and return what was heard of it."""

    def close(self) -> None:
        """Let go of the model; nothing may be called after."""


class Synthesiser(Protocol):
    """Turns words into sound."""

    def sound(self, words: str) -> Sound:
        """Return the words as speech, without the silence at its end."""

    def close(self) -> None:
        """Let go of the voice; nothing may be called after."""


class Speaker(Protocol):
    """Plays sound."""

    def play(self, sound: Sound, loudness: float = 1.0) -> None:
        """Start playing, in place of what is playing; return at once.

        `loudness` is a share of full, more than 0 and no more than 1.
        """

    def cut(self) -> None:
        """Stop playing now."""

    @property
    def playing(self) -> bool:
        """Whether sound is still coming out."""

    def close(self) -> None:
        """Let go of the device."""


class Microphone(Protocol):
    """Gives sound, block by block."""

    def start(self, take: Callable[[Sound], None]) -> None:
        """Hand every block to `take`, which is called on the device's thread and must return."""

    @property
    def lost(self) -> bool:
        """Whether blocks no longer come: unplugged, or come to its end."""

    def close(self) -> None:
        """Let go of the device."""


class Hold(Enum):
    """What becomes of what is held down to talk."""

    DOWN = "it went down"
    UP = "it came up, and what was said is at its end"
    DROPPED = "it was not held to talk after all"


class Keypad(Protocol):
    """Gives the keys pressed, debounced."""

    def start(
        self, take: Callable[[Key], None], hold: Callable[[Hold], None] | None = None
    ) -> None:
        """Hand every key pressed to `take`, and what the talk key is held for to `hold`.

        Both are called on the keypad's thread, in order. The talk key is pressed when it is let
        go of at once. A keypad that does not tell when a key comes up only has keys pressed.
        """

    def close(self) -> None:
        """Let go of the device."""


class Pedal(Protocol):
    """A pedal or button held down to talk."""

    def start(self, take: Callable[[bool], None]) -> None:
        """Hand over whether it is down, at each change, on the pedal's thread."""

    def close(self) -> None:
        """Let go of the device."""


class SpindleSensor(Protocol):
    """Sees whether the spindle turns. One that is unplugged sees it stand still."""

    def start(self, take: Callable[[SpindleSeen], None]) -> None:
        """Hand over every start and stop, on the sensor's thread."""

    @property
    def speed(self) -> SpindleSpeed | None:
        """The speed now; None while it stands still or where the sensor cannot tell."""

    def close(self) -> None:
        """Let go of the device."""


class Screen(Protocol):
    """Shows a few short lines."""

    def show(self, lines: Sequence[str]) -> None:
        """Show these lines in place of what is shown."""

    def hears(self, begun_with: str) -> None:
        """Show that only what begins with this word is taken, or everything where it is empty."""

    def close(self) -> None:
        """Let go of the device."""


class Signaller(Protocol):
    """A lamp or a buzzer."""

    def signal(self, kind: Signal) -> None:
        """Give the sign of that kind, and return at once."""

    def light(self, lit: bool) -> None:
        """Keep the lamp lit from now on, between signs too, or let it go out."""

    def close(self) -> None:
        """Let go of the device."""


class Journal(Protocol):
    """Keeps lines of text, in the order they came, across a power cut."""

    def append(self, line: str) -> None:
        """Keep a line after the others; it is safe when this returns."""

    def lines(self) -> Sequence[str]:
        """Return every line kept, the oldest first."""

    def close(self) -> None:
        """Let go of the store; nothing may be called after."""
