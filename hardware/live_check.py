"""The check with somebody there: each part is worked, by hand and by voice, and named.

Each trial says what to do, and returns what came of it or raises the error that says what is
wrong; a part that is missing is one line of the report and keeps no other from its trial.
"""

import queue
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from typing import Protocol, TextIO

import numpy as np

from assistant.errors import DeviceMissing
from assistant.events import Key, Signal, SpindleSeen
from assistant.ports import (
    Keypad,
    Microphone,
    Pedal,
    Recogniser,
    Screen,
    Signaller,
    Sound,
    Speaker,
    SpindleSensor,
    Synthesiser,
)
from hardware.check import PartReport, report
from hardware.level import SILENT_DB, floor_db, level_db, verdict

FIRST = (
    "Stop the spindle first, and step clear of the work: you will speak, press keys and stand "
    "on the pedal. Shall we go on?"
)
PHRASE = "number two morse taper"
QUIET_S = 2.0
SPOKEN_WITHIN_S = 8.0
# Some sound servers take two seconds to wake; then the blocks come without a break.
FIRST_BLOCK_WITHIN_S = 3.0
NEXT_BLOCK_WITHIN_S = 1.0
# For our own voice to come back, the pause after it too.
BACK_WITHIN_S = 2.0
# Our voice stands out from the noise by so much where it is heard at all; in silence its first
# sound is that of a quiet room.
OVER_NOISE_DB = 10.0
QUIETEST_DB = -60.0
DONE_WITHIN_S = 15.0


class Person(Protocol):
    """Whoever is at the bench."""

    def told(self, sentence: str) -> None:
        """Take what to do, or what was seen."""

    def agrees(self, question: str) -> bool:
        """Answer yes or no."""


class TerminalPerson:
    """A person at a terminal: Enter is yes, a line that begins with n is no."""

    def __init__(self, answers: TextIO, shown: TextIO) -> None:
        self._answers, self._shown = answers, shown

    def told(self, sentence: str) -> None:
        """Write a line."""
        print(sentence, file=self._shown, flush=True)

    def agrees(self, question: str) -> bool:
        """Ask, and wait for a line; no more lines is no."""
        print(f"{question} [Enter: yes; n: no] ", end="", file=self._shown, flush=True)
        line = self._answers.readline()
        return line != "" and not line.lower().startswith("n")


class ScriptedPerson:
    """The twin: notes what it is told and asked, and gives the answers of its script."""

    def __init__(self, answers: Iterable[bool]) -> None:
        self._answers = list(answers)
        self.heard: list[str] = []

    def told(self, sentence: str) -> None:
        """Note it."""
        self.heard.append(sentence)

    def agrees(self, question: str) -> bool:
        """Note it and give the next answer; after the last, no."""
        self.heard.append(question)
        return bool(self._answers) and self._answers.pop(0)


@dataclass(frozen=True, slots=True)
class LiveParts:
    """What opens each part; None for a part that nobody has."""

    microphone: Callable[[], Microphone]
    recogniser: Callable[[], Recogniser]
    synthesiser: Callable[[], Synthesiser]
    speaker: Callable[[], Speaker]
    keypads: dict[str, Callable[[], Keypad]]
    signaller: Callable[[], Signaller]
    pedal: Callable[[], Pedal]
    # What the recogniser is to listen for.
    phrases: Sequence[str]
    spindle: Callable[[], SpindleSensor] | None = None
    small_screen: Callable[[], Screen] | None = None


def live_check(
    parts: LiveParts,
    person: Person,
    now: Callable[[], float] = time.monotonic,
    done_within_s: float = DONE_WITHIN_S,
) -> list[PartReport]:
    """Try every part with the person's help; none where the person would rather not.

    Args:
        parts: What opens them; each is closed again before the next.
        person: Told what to do.
        now: Returns the time in seconds.
        done_within_s: How long to wait for a key, the pedal or the spindle.
    """
    if not person.agrees(FIRST):
        return []
    trials: dict[str, Callable[[], str]] = {
        "microphone": lambda: _microphone(parts, person, now),
        "speaker": lambda: _speaker(parts, person, now),
        **{
            name: partial(_keys, name, pad, person, done_within_s)
            for name, pad in parts.keypads.items()
        },
        "pedal": lambda: _pedal(parts.pedal, person, done_within_s),
        "lamp": lambda: _lamp(parts.signaller, person),
    }
    if parts.spindle is not None:
        trials["spindle sensor"] = partial(_spindle, parts.spindle, person, done_within_s)
    if parts.small_screen is not None:
        trials["small screen"] = partial(_small_screen, parts.small_screen, person)
    return [report(part, trial) for part, trial in trials.items()]


class _Blocks:
    """The blocks of a microphone as they come, and when each came."""

    def __init__(self, microphone: Microphone, now: Callable[[], float]) -> None:
        self._came: queue.SimpleQueue[tuple[Sound, float]] = queue.SimpleQueue()
        self._next_within_s = FIRST_BLOCK_WITHIN_S
        microphone.start(lambda block: self._came.put((block, now())))

    def take(self, for_s: float) -> Iterator[tuple[Sound, float]]:
        """Yield the blocks of so many seconds.

        Raises:
            DeviceMissing: They cease.
        """
        while for_s > 1e-6:  # sums of seconds are not exact
            try:
                block, came_s = self._came.get(timeout=self._next_within_s)
            except queue.Empty:
                raise DeviceMissing("microphone", "plug it in again: it gives no sound") from None
            self._next_within_s = NEXT_BLOCK_WITHIN_S
            for_s -= block.seconds
            yield block, came_s


def _microphone(parts: LiveParts, person: Person, now: Callable[[], float]) -> str:
    with closing(parts.microphone()) as microphone, closing(parts.recogniser()) as recogniser:
        recogniser.expect(parts.phrases)
        person.told(f"Please be quiet for {QUIET_S:g} seconds.")
        blocks = _Blocks(microphone, now)
        floor = floor_db([block for block, _ in blocks.take(QUIET_S)])
        person.told(f"Noise at {floor:.0f} dB. Now say, from where you work: {PHRASE}.")
        loudest, heard = SILENT_DB, None
        for block, _ in blocks.take(SPOKEN_WITHIN_S):
            loudest = max(loudest, level_db(block))
            heard = recogniser.accept(block)
            if heard is not None:
                break
        words = (heard or recogniser.finish()).words
    if words is None:
        raise DeviceMissing(
            "microphone", "speak up, or bring the microphone closer: no word was made out"
        )
    return (
        f'heard "{words}"; noise at {floor:.0f} dB, your voice at {loudest:.0f}, '
        f"{verdict(floor, loudest)}"
    )


def _speaker(parts: LiveParts, person: Person, now: Callable[[], float]) -> str:
    with (
        closing(parts.synthesiser()) as voice,
        closing(parts.speaker()) as speaker,
        closing(parts.microphone()) as microphone,
        closing(parts.recogniser()) as recogniser,
    ):
        recogniser.expect(parts.phrases)
        person.told("Now I speak, and listen to myself. Please be quiet.")
        sound = voice.sound(PHRASE)
        blocks = _Blocks(microphone, now)
        floor = floor_db([block for block, _ in blocks.take(QUIET_S / 2)])
        begun_s = now()
        speaker.play(sound)
        back_s, heard = None, None
        for block, came_s in blocks.take(sound.seconds + BACK_WITHIN_S):
            if back_s is None:
                after_s = _begins_s(block, max(floor + OVER_NOISE_DB, QUIETEST_DB))
                back_s = None if after_s is None else came_s - block.seconds + after_s
            heard = heard or recogniser.accept(block)
        words = (heard or recogniser.finish()).words
    if back_s is None:
        raise DeviceMissing(
            "sound back from the speaker",
            "turn it up, or bring the microphone closer; in headphones all is well",
        )
    came_back = f'it came back as "{words}"' if words else "no word of it came back"
    return f"{came_back}, {(back_s - begun_s) * 1000:.0f} ms after I began"


def _begins_s(block: Sound, over_db: float) -> float | None:
    """Return how far into a block the first sample of at least that level is, if there is one."""
    size = np.abs(np.frombuffer(block.samples, "<i2").astype(np.int32))
    loud = np.flatnonzero(size >= 32_768 * 10 ** (over_db / 20))
    return float(loud[0]) / block.rate_hz if loud.size else None


def _keys(name: str, pad: Callable[[], Keypad], person: Person, within_s: float) -> str:
    with closing(pad()) as keypad:
        person.told(f"Try the {name}: press its keys, last of all # or Enter.")
        keys: queue.SimpleQueue[Key] = queue.SimpleQueue()
        keypad.start(keys.put)
        pressed: list[Key] = []
        while Key.HASH not in pressed:
            try:
                pressed.append(keys.get(timeout=within_s))
            except queue.Empty:
                break
            person.told(f"  {pressed[-1]}")
    if not pressed:
        raise DeviceMissing(name, "look at its cable: no key came")
    return f"keys {' '.join(pressed)}"


def _pedal(pedal: Callable[[], Pedal], person: Person, within_s: float) -> str:
    with closing(pedal()) as stood_on:
        person.told("Stand on the pedal, and let go of it.")
        moves: queue.SimpleQueue[bool] = queue.SimpleQueue()
        stood_on.start(moves.put)
        for wanted, remedy in (
            (True, "look at its wires: it did not go down"),
            (False, "look for what holds it down: it did not come up"),
        ):
            try:
                while moves.get(timeout=within_s) is not wanted:
                    pass
            except queue.Empty:
                raise DeviceMissing("pedal", remedy) from None
    return "it went down and came up"


def _lamp(signaller: Callable[[], Signaller], person: Person) -> str:
    with closing(signaller()) as signals:
        signals.signal(Signal.REMINDER)
        if not person.agrees("Did the lamp light up twice and the buzzer sound twice?"):
            raise DeviceMissing("lamp or buzzer", "look at its wires, and which way round it is")
    return "the lamp lit up and the buzzer sounded"


def _spindle(sensor: Callable[[], SpindleSensor], person: Person, within_s: float) -> str:
    with closing(sensor()) as spindle:
        person.told(
            "Switch the lathe off so that nobody can switch it on, and spin the chuck by hand."
        )
        seen: queue.SimpleQueue[SpindleSeen] = queue.SimpleQueue()
        spindle.start(seen.put)
        try:
            while not seen.get(timeout=within_s).turning:
                pass
        except queue.Empty:
            raise DeviceMissing("spindle sensor", "bring it closer to what it looks at") from None
    return "it saw the spindle turn"


def _small_screen(screen: Callable[[], Screen], person: Person) -> str:
    with closing(screen()) as small:
        small.show(["1 " + "-" * 18, "2", "3", "4 " + "-" * 18])
        if not person.agrees("Does the small screen show four lines, from 1 to 4?"):
            raise DeviceMissing(
                "small screen", "look at its cable, and at its kind in the settings"
            )
    return "it shows four lines"
