"""Listening by pedal and openly: what is heard, and when an utterance ends."""

import pytest

from assistant.errors import RecogniserLost
from assistant.events import Hearing
from assistant.ports import Sound
from hardware.contact import BOUNCE_S
from hardware.listening import LATE_S, Listening
from hardware.recogniser import ScriptedRecogniser, VoskRecogniser
from hardware.sounds import blocks
from hardware.voice import PyttsxSynthesiser

LOUD, QUIET = Sound(1_000, b"\1\0" * 100), Sound(1_000, bytes(200))
UP, DOWN = False, True


def scripted(*words: str) -> ScriptedRecogniser:
    return ScriptedRecogniser(Hearing((each,)) for each in words)


def heard(listening: Listening, steps: str, playing: bool = False) -> list[str]:
    """Return what is heard in a block of 0.1 s for each letter, and when.

    L is a loud block, q a quiet one; v before a block is the pedal going down, ^ going up,
    x that it was a key tapped.
    """
    said, now_s = [], 10.0
    for step in steps:
        if step in "v^":
            listening.pedal(step == "v", now_s)
            continue
        if step == "x":
            listening.drop()
            continue
        now_s += 0.1
        hearing = listening.accept(LOUD if step == "L" else QUIET, playing, now_s)
        if hearing is not None:
            said.append(f"{hearing.words} at {now_s - 10:.1f}")
    return said


@pytest.mark.parametrize(
    ("openly", "steps", "wanted"),
    [
        # A block is 0.1 s late: the first that comes after the pedal was before it.
        (False, "LLLLq", []),
        (False, "qvLLL^Lqq", ["one at 0.5"]),
        (True, "qqLLLqq", ["one at 0.6"]),
        (True, "qvLLL^qqqLLq", ["one at 0.5", "two at 1.0"]),
        # What was begun openly is dropped when the pedal goes down.
        (True, "LLvLL^Lqq", ["two at 0.5"]),
        # Pauses while it is held part nothing.
        (False, "vLLqqLLq^q", ["one two at 0.8"]),
        # Nothing said while it was down.
        (False, "vqqq^qq", ["None at 0.4"]),
        # The second time is another utterance.
        (False, "vLL^Lqqv LL^Lq".replace(" ", ""), ["one at 0.3", "two at 0.8"]),
    ],
)
def test_blocks_are_heard_by_pedal_and_openly(openly: bool, steps: str, wanted: list[str]) -> None:
    assert heard(Listening(scripted("one", "two"), openly), steps) == wanted


def test_open_listening_is_deaf_while_the_speaker_plays_and_the_pedal_is_not() -> None:
    assert heard(Listening(scripted("one"), openly=True), "LLLqq", playing=True) == []
    assert heard(Listening(scripted("one"), openly=True), "vLLL^qq", playing=True) == ["one at 0.4"]


@pytest.mark.parametrize(
    ("openly", "steps", "wanted"),
    [
        (False, "vLLxLqq", []),
        # The next utterance by pedal, and the next openly, are heard as ever.
        (False, "vLLxqqvLL^qq", ["two at 0.7"]),
        (True, "vLLxqLLq", ["two at 0.6"]),
    ],
)
def test_what_was_heard_by_a_pedal_that_was_not_held_to_talk_is_dropped(
    openly: bool, steps: str, wanted: list[str]
) -> None:
    assert heard(Listening(scripted("one", "two"), openly), steps) == wanted


def test_alternatives_of_the_parts_are_joined() -> None:
    recogniser = ScriptedRecogniser([Hearing(("fifteen", "fifty")), Hearing(("point five",))])
    listening = Listening(recogniser, openly=False)
    listening.pedal(DOWN, 0.0)
    for n, sound in enumerate([LOUD, LOUD, QUIET, LOUD, LOUD]):
        listening.accept(sound, False, 0.1 * (n + 1))
    listening.pedal(UP, 0.5)

    assert listening.held
    hearing = listening.accept(QUIET, False, 0.65)
    assert not listening.held
    assert hearing == Hearing(("fifteen point five", "fifty point five"))


@pytest.mark.parametrize(("after_up_s", "ended"), [(LATE_S - BOUNCE_S, True), (0.07, False)])
def test_the_utterance_ends_when_the_contact_opened_and_not_when_it_held_still(
    after_up_s: float, ended: bool
) -> None:
    listening = Listening(scripted("one"), openly=False)
    listening.pedal(DOWN, 0.0)
    listening.accept(LOUD, False, 0.5)
    listening.pedal(UP, 0.5)

    listening.accept(QUIET, False, 0.5 + after_up_s)

    assert listening.held is not ended


def test_a_number_said_with_a_long_pause_is_one_utterance_while_the_pedal_is_held(
    vosk: VoskRecogniser, voice: PyttsxSynthesiser
) -> None:
    vosk.expect(["one hundred and forty", "two point five"])
    listening, now_s = Listening(vosk, openly=False), 0.0
    parts = [voice.sound(words) for words in ("one hundred and forty", "two point five")]
    pause = bytes(2 * parts[0].rate_hz)
    recording = Sound(parts[0].rate_hz, pause.join(part.samples for part in parts))
    quiet = Sound(recording.rate_hz, bytes(13_230))
    for n, block in enumerate([*blocks(quiet), *blocks(recording)]):
        if n == 4:
            listening.pedal(DOWN, now_s)  # when the first word has begun
        now_s += block.seconds
        assert listening.accept(block, False, now_s) is None
    listening.pedal(UP, now_s)

    hearing = listening.accept(Sound(recording.rate_hz, bytes(4_410)), False, now_s + 0.1)

    assert hearing is not None
    assert hearing.words == "one hundred and forty two point five"


class DyingRecogniser(ScriptedRecogniser):
    """Dies at one of its blocks and is there again for the next."""

    def __init__(self, dies_at: int, *words: str) -> None:
        super().__init__(Hearing((each,)) for each in words)
        self._left = dies_at

    def accept(self, sound: Sound) -> Hearing | None:
        self._left -= 1
        if self._left == 0:
            self._begun = False
            raise RecogniserLost
        return super().accept(sound)


def heard_in_spite_of_loss(listening: Listening, steps: str) -> list[str]:
    said, now_s = [], 10.0
    for step in steps:
        now_s += 0.1
        if step in "v^":
            listening.pedal(step == "v", now_s)
            continue
        try:
            hearing = listening.accept(LOUD if step == "L" else QUIET, False, now_s)
        except RecogniserLost:
            said.append("lost")
        else:
            said += [] if hearing is None else [str(hearing.words)]
    return said


@pytest.mark.parametrize(
    ("openly", "steps", "wanted"),
    [
        # "one" is the rest of the sentence in which it died.
        (True, "qLLLLqLLLq", ["lost", "two"]),
        # It died while nobody spoke; a second later it is as before.
        (True, "qqqqqqqqqqqqqqLLLq", ["lost", "one"]),
        (False, "vLLLLLL^qqqqqqvLL^qq", ["lost", "one"]),
        # With both, the rest of the sentence by pedal is none said openly.
        (True, "vLLLLLL^qqqqqqvLL^qq", ["lost", "two"]),
    ],
)
def test_the_rest_of_an_utterance_in_which_the_recogniser_dies_is_dropped(
    openly: bool, steps: str, wanted: list[str]
) -> None:
    listening = Listening(DyingRecogniser(3, "one", "two"), openly)

    assert heard_in_spite_of_loss(listening, steps) == wanted
