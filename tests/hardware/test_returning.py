"""Parts that come and go: what is told, and what is heard and played meanwhile."""

import queue
from collections.abc import Callable
from typing import TypeVar

from assistant.errors import DeviceMissing
from assistant.ports import Sound
from hardware.microphone import ScriptedMicrophone
from hardware.returning import ReturningMicrophone, ReturningSpeaker
from hardware.sounds import at_loudness
from hardware.speaker import MemorySpeaker

ONE, TWO = Sound(1_000, b"\1\0" * 50), Sound(1_000, b"\2\0" * 50)  # a block each
Part = TypeVar("Part")


def there(*parts: Part | None) -> Callable[[], Part]:
    """Return what finds these parts in turn, None for none there, and none in the end."""
    left = list(parts)

    def find() -> Part:
        part = left.pop(0) if left else None
        if part is None:
            raise DeviceMissing("part", "plug it in")
        return part

    return find


def test_a_microphone_is_heard_whenever_it_is_there() -> None:
    heard: queue.SimpleQueue[Sound] = queue.SimpleQueue()
    told: queue.SimpleQueue[str] = queue.SimpleQueue()
    # A script is lost at its end.
    found = there(None, ScriptedMicrophone([ONE]), None, None, ScriptedMicrophone([TWO]))
    microphone = ReturningMicrophone(found, told.put, retry_s=0.001)
    microphone.start(heard.put)

    assert [heard.get(timeout=5) for _ in range(2)] == [ONE, TWO]
    assert [told.get(timeout=5) for _ in range(5)] == [
        "There is no part: plug it in.",
        "The microphone is back.",
        "There is no microphone any more: plug it in again.",
        "The microphone is back.",
        "There is no microphone any more: plug it in again.",
    ]
    assert microphone.lost
    microphone.close()
    assert told.empty()


def test_closing_ends_a_microphone_that_was_never_there() -> None:
    microphone = ReturningMicrophone(there(), print, retry_s=60)
    microphone.start(print)

    microphone.close()


class GoneSpeaker(MemorySpeaker):
    """A speaker that was pulled out after it was found."""

    def play(self, sound: Sound, loudness: float = 1.0) -> None:
        raise DeviceMissing("speaker", "plug it in")


def test_a_speaker_plays_whenever_it_is_there() -> None:
    told: list[str] = []
    speaker, gone = MemorySpeaker(lambda: 0.0), GoneSpeaker(lambda: 0.0)
    returning = ReturningSpeaker(there(None, gone, speaker), told.append)
    for sound in (ONE, ONE, ONE, TWO):
        returning.play(sound, 0.5)

    assert [played.sound for played in speaker.played] == [
        at_loudness(ONE, 0.5),
        at_loudness(TWO, 0.5),
    ]
    assert returning.playing
    assert told == ["There is no part: plug it in.", "The speaker is back."]
    returning.cut()
    returning.close()
    assert not returning.playing


def test_a_speaker_pulled_out_is_replaced_by_the_one_there_now_without_a_word() -> None:
    told: list[str] = []
    first, second = MemorySpeaker(lambda: 0.0), MemorySpeaker(lambda: 0.0)
    returning = ReturningSpeaker(there(first, second), told.append)
    returning.play(ONE)
    first.play = GoneSpeaker.play.__get__(first)  # type: ignore[method-assign]
    returning.play(TWO)

    assert [[played.sound for played in each.played] for each in (first, second)] == [[ONE], [TWO]]
    assert told == []
