"""The check with somebody there: parts that work, parts that do not, and sound that comes back."""

import io
import re
import subprocess
from collections.abc import Callable
from typing import NoReturn

import numpy as np
import pytest

from assistant.errors import DeviceMissing
from assistant.events import Hearing, Key, Signal
from assistant.language.listening import Context, phrases
from assistant.ports import Sound
from hardware.check import PartReport
from hardware.keypad import ScriptedKeypad
from hardware.live_check import (
    FIRST,
    PHRASE,
    LiveParts,
    ScriptedPerson,
    TerminalPerson,
    live_check,
)
from hardware.microphone import DeviceMicrophone, ScriptedMicrophone
from hardware.pedal import ScriptedPedal
from hardware.recogniser import ScriptedRecogniser, VoskRecogniser
from hardware.screen import MemoryScreen
from hardware.signals import MemorySignals
from hardware.sounds import at_rate, blocks
from hardware.speaker import DeviceSpeaker, MemorySpeaker
from hardware.spindle import ScriptedSpindle
from hardware.voice import PyttsxSynthesiser, SilentSynthesiser
from tests.hardware.conftest import MODEL
from tests.hardware.test_sound_devices import Card, card

__all__ = ["card"]  # a fixture

RATE_HZ = 16_000
# Half its samples up, half down: its level is that of its size.
SIGN = np.resize([1, -1], 2 * RATE_HZ)


def square(level_db: float, seconds: float) -> Sound:
    samples = SIGN[: round(seconds * RATE_HZ)] * 32_768 * 10 ** (level_db / 20)
    return Sound(RATE_HZ, samples.round().astype("<i2").tobytes())


def silence(seconds: float) -> Sound:
    return Sound(RATE_HZ, bytes(2 * round(seconds * RATE_HZ)))


class Room:
    """A room with a clock, where a person speaks and the speaker is heard somewhat later.

    Args:
        noise_db: How loud it is while nobody speaks.
        spoken_db: How loud the person is; None for one who says nothing.
        back_after_s: How much later the speaker is heard; None where it is not.
    """

    def __init__(
        self,
        noise_db: float = -50,
        spoken_db: float | None = -20,
        back_after_s: float | None = 0.12,
    ) -> None:
        self._noise_db, self._spoken_db, self._back_after_s = noise_db, spoken_db, back_after_s
        self._take: Callable[[Sound], None] = lambda block: None
        self._speaks_itself = False
        self.now_s = 100.0

    def now(self) -> float:
        return self.now_s

    def hears(self, *sounds: Sound) -> None:
        for block in blocks(Sound(RATE_HZ, b"".join(sound.samples for sound in sounds))):
            self.now_s += block.seconds
            self._take(block)

    def microphone(self) -> "RoomMicrophone":
        return RoomMicrophone(self)

    def speaker(self) -> "RoomSpeaker":
        self._speaks_itself = True
        return RoomSpeaker(self)

    def listened_to(self, take: Callable[[Sound], None]) -> None:
        self._take = take
        self.hears(square(self._noise_db, 1.0 if self._speaks_itself else 2.0))
        if not self._speaks_itself:
            spoken = () if self._spoken_db is None else (square(self._spoken_db, 0.5),)
            self.hears(*spoken, silence(10))

    def plays(self, sound: Sound) -> None:
        if self._back_after_s is None:
            self.hears(silence(sound.seconds + 3))
        else:
            self.hears(silence(self._back_after_s), sound, silence(3))


class RoomMicrophone(ScriptedMicrophone):
    def __init__(self, room: Room) -> None:
        super().__init__([])
        self._room = room

    def start(self, take: Callable[[Sound], None]) -> None:
        self._room.listened_to(take)


class RoomSpeaker(MemorySpeaker):
    def __init__(self, room: Room) -> None:
        super().__init__(room.now)
        self._room = room

    def play(self, sound: Sound, loudness: float = 1.0) -> None:
        self._room.plays(sound)


class Voice(SilentSynthesiser):
    """Says everything with a tone of half a second."""

    def sound(self, words: str) -> Sound:
        super().sound(words)
        return square(-10, 0.5)


KEYS = (Key.ONE, Key.A, Key.HASH)


def tried(room: Room, *answers: bool, **other: object) -> tuple[dict[str, PartReport], list[str]]:
    """Return the reports on parts that work, but for those named, and what the person heard."""
    person = ScriptedPerson(answers)
    usual: dict[str, object] = {
        "microphone": room.microphone,
        "recogniser": lambda: ScriptedRecogniser([Hearing((PHRASE,))]),
        "synthesiser": Voice,
        "speaker": room.speaker,
        "keypads": {"keypad": lambda: ScriptedKeypad(KEYS)},
        "signaller": MemorySignals,
        "pedal": lambda: ScriptedPedal([True, False]),
        "phrases": [PHRASE],
    }
    parts = LiveParts(**{**usual, **other})  # type: ignore[arg-type]  # any mix is meant
    found = live_check(parts, person, room.now, done_within_s=0.01)
    return {report.part: report for report in found}, person.heard


def missing() -> NoReturn:
    raise DeviceMissing("thing", "plug it in")


def test_every_part_is_worked_and_told_of() -> None:
    found, heard = tried(
        Room(),
        *(True, True, True),
        spindle=lambda: ScriptedSpindle([True, False]),
        small_screen=MemoryScreen,
    )

    assert {part: report.detail for part, report in found.items()} == {
        "microphone": (
            'heard "number two morse taper"; noise at -50 dB, your voice at -20, '
            "quiet enough for open listening"
        ),
        "speaker": 'it came back as "number two morse taper", 120 ms after I began',
        "keypad": "keys 1 A #",
        "pedal": "it went down and came up",
        "lamp": "the lamp lit up and the buzzer sounded",
        "spindle sensor": "it saw the spindle turn",
        "small screen": "it shows four lines",
    }
    assert all(report.works and not report.remedy for report in found.values())
    assert heard[0] == FIRST
    assert heard[0].startswith("Stop the spindle first")
    keyed = heard.index("Try the keypad: press its keys, last of all # or Enter.")
    assert heard[keyed + 1 : keyed + 4] == ["  1", "  A", "  #"]
    assert "Switch the lathe off" in heard[-2]


def test_nothing_is_tried_where_the_person_would_rather_not() -> None:
    assert tried(Room(), False) == ({}, [FIRST])


@pytest.mark.parametrize(
    ("noise_db", "verdict"),
    [
        (-41, "quiet enough for open listening"),
        (-39, "too loud for open listening: use the pedal"),
        (
            -29,
            "too loud even for the pedal: speak closer to the microphone, or use the keys",
        ),
    ],
)
def test_the_noise_is_judged_by_the_voice_of_whoever_is_there(
    noise_db: float, verdict: str
) -> None:
    found, _ = tried(Room(noise_db), True, True)

    assert found["microphone"].detail.endswith(f"your voice at -20, {verdict}")


def test_no_part_keeps_another_from_being_tried() -> None:
    names = ("microphone", "recogniser", "synthesiser", "speaker", "signaller", "pedal")
    found, _ = tried(
        Room(),
        True,
        **dict.fromkeys(names, missing),
        keypads={"keypad": missing, "number pad": lambda: ScriptedKeypad(KEYS)},
        spindle=missing,
    )

    assert [part for part, report in found.items() if report.works] == ["number pad"]
    gone = PartReport("pedal", False, "not found", "plug it in")
    assert found["pedal"] == gone
    assert list(found) == [
        *("microphone", "speaker", "keypad", "number pad", "pedal", "lamp", "spindle sensor")
    ]


def test_a_part_that_is_there_and_does_nothing_is_named_with_what_to_do() -> None:
    found, _ = tried(
        Room(spoken_db=None, back_after_s=None),
        True,
        recogniser=lambda: ScriptedRecogniser([]),
        keypads={"keypad": lambda: ScriptedKeypad([])},
        pedal=lambda: ScriptedPedal([]),
        spindle=lambda: ScriptedSpindle([False]),
        small_screen=MemoryScreen,
    )

    assert {part: report.remedy for part, report in found.items()} == {
        "microphone": "speak up, or bring the microphone closer: no word was made out",
        "speaker": "turn it up, or bring the microphone closer; in headphones all is well",
        "keypad": "look at its cable: no key came",
        "pedal": "look at its wires: it did not go down",
        "lamp": "look at its wires, and which way round it is",
        "spindle sensor": "bring it closer to what it looks at",
        "small screen": "look at its cable, and at its kind in the settings",
    }


def test_a_pedal_that_stays_down_is_named() -> None:
    found, _ = tried(Room(), True, True, pedal=lambda: ScriptedPedal([True]))

    assert found["pedal"].remedy == "look for what holds it down: it did not come up"


def test_a_microphone_that_falls_silent_is_missing() -> None:
    found, _ = tried(Room(), True, microphone=lambda: ScriptedMicrophone([square(-50, 0.5)]))

    assert found["microphone"].remedy == "plug it in again: it gives no sound"
    assert found["keypad"].works


def test_the_lamp_and_the_buzzer_give_their_sign_before_the_question() -> None:
    signals = MemorySignals()
    tried(Room(), True, True, signaller=lambda: signals)

    assert signals.given == [Signal.REMINDER]


def test_at_a_terminal_enter_is_yes_and_the_end_of_input_no() -> None:
    shown = io.StringIO()
    person = TerminalPerson(io.StringIO("\nNo\ny\n"), shown)

    assert [person.agrees("Well?") for _ in range(4)] == [True, False, True, False]
    person.told("So.")
    assert shown.getvalue() == "Well? [Enter: yes; n: no] " * 4 + "So.\n"


class Operator(ScriptedPerson):
    """A person who speaks when asked to, into a card."""

    def __init__(self, card: Card, voice: PyttsxSynthesiser) -> None:
        super().__init__([True])
        self._card, self._spoken = card, at_rate(voice.sound(PHRASE), RATE_HZ).samples

    def told(self, sentence: str) -> None:
        super().told(sentence)
        if "Now say" in sentence:
            self._card.hears(self._spoken)


@pytest.mark.pulseaudio
def test_a_person_is_heard_and_what_it_says_aloud_comes_back(
    card: Card, voice: PyttsxSynthesiser, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A room: the person and the speaker are both heard in it. It also keeps the sound server
    # from working in lumps of two seconds, in which a short sound is lost.
    subprocess.run(
        [
            *("pactl", "load-module", "module-loopback"),
            *("source=mic", "sink=spk", "latency_msec=20"),
        ],
        check=True,
        stdout=subprocess.DEVNULL,
    )
    monkeypatch.setenv("PULSE_SOURCE", "spk.monitor")
    card.hears()
    parts = LiveParts(
        DeviceMicrophone,
        lambda: VoskRecogniser(MODEL),
        PyttsxSynthesiser,
        DeviceSpeaker,
        {},
        *(missing, missing),
        phrases(Context.READY),
    )
    reports = live_check(parts, Operator(card, voice), done_within_s=0.01)
    found = {report.part: report.detail for report in reports}

    assert found["microphone"].startswith('heard "number two morse taper"; noise at -100 dB')
    assert re.fullmatch(
        r'it came back as "number two morse taper", \d+ ms after I began', found["speaker"]
    )
