"""Speaker and microphone: what the twins and the missing devices do.

The same contract on real streams is in test_sound_devices.
"""

from pathlib import Path

import pytest

from assistant.errors import BadSound
from assistant.ports import Microphone, Sound
from hardware.microphone import FileMicrophone, ScriptedMicrophone
from hardware.sound_files import read_sound, write_sound
from hardware.speaker import FileSpeaker, MemorySpeaker

ONE = Sound(1_000, b"\1\0" * 1_000)
TWO = Sound(1_000, b"\2\0" * 500)
SILENCE = b"\0\0"


class Clock:
    """Moved by hand."""

    now_s = 10.0

    def __call__(self) -> float:
        return self.now_s


def test_a_sound_plays_until_its_end() -> None:
    clock = Clock()
    speaker = MemorySpeaker(clock)
    assert not speaker.playing

    speaker.play(ONE)
    clock.now_s = 10.99
    assert speaker.playing
    clock.now_s = 11.0
    assert not speaker.playing


def test_what_plays_is_recorded_with_its_cuts_and_the_silences_between(tmp_path: Path) -> None:
    clock = Clock()
    speaker = FileSpeaker(tmp_path / "said.wav", clock)
    speaker.play(ONE)
    clock.now_s = 10.25
    speaker.cut()
    assert not speaker.playing
    clock.now_s = 10.75
    speaker.play(ONE)
    clock.now_s = 11.0
    speaker.play(TWO)
    clock.now_s = 20.0
    speaker.close()

    wanted = b"\1\0" * 250 + SILENCE * 500 + b"\1\0" * 250 + b"\2\0" * 500
    assert speaker.recording(rate_hz=1_000) == Sound(1_000, wanted)
    assert read_sound(tmp_path / "said.wav") == speaker.recording()


def heard(microphone: Microphone) -> list[Sound]:
    blocks: list[Sound] = []
    assert not microphone.lost
    microphone.start(blocks.append)
    assert microphone.lost
    microphone.close()
    return blocks


def test_a_microphone_from_a_script_or_from_files_gives_blocks_to_their_end(tmp_path: Path) -> None:
    one, two = Sound(8_000, b"\1\0" * 8_000), Sound(16_000, b"\2\0" * 8_000)
    write_sound(tmp_path / "one.wav", one)
    write_sound(tmp_path / "two.wav", two)

    wanted = [Sound(8_000, b"\1\0" * 400)] * 20 + [Sound(16_000, b"\2\0" * 800)] * 10
    assert heard(ScriptedMicrophone([one, two])) == wanted
    assert heard(FileMicrophone([tmp_path / "one.wav", tmp_path / "two.wav"])) == wanted


def test_a_file_that_is_no_sound_is_refused_before_listening(tmp_path: Path) -> None:
    with pytest.raises(BadSound):
        FileMicrophone([tmp_path / "none.wav"])
