"""The real speaker and microphone, on a sound card made of software.

Needs PulseAudio (marked `pulseaudio`); it runs on its own, out of the way of any other
sound server. A pipe is the microphone, and a sink that goes nowhere the speaker.
"""

import io
import os
import queue
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from assistant.errors import DeviceMissing
from assistant.ports import Sound
from hardware.check import check_parts
from hardware.microphone import DeviceMicrophone
from hardware.portaudio import look_again, quiet
from hardware.recogniser import VoskRecogniser
from hardware.returning import (
    ReturningMicrophone,
    ReturningSpeaker,
    plugged_in_microphone,
    plugged_in_speaker,
)
from hardware.sounds import at_rate
from hardware.speaker import DeviceSpeaker
from hardware.voice import PyttsxSynthesiser
from tests.hardware.conftest import MODEL

pytestmark = pytest.mark.pulseaudio

TONE = Sound(22_050, (np.sin(np.arange(22_050) / 10) * 9_000).astype("<i2").tobytes())


def soon(condition: Callable[[], bool], within_s: float = 5.0) -> bool:
    """Return whether it comes true in time."""
    deadline_s, pause = time.monotonic() + within_s, threading.Event()
    while not condition():
        if time.monotonic() > deadline_s:
            return False
        pause.wait(0.01)
    return True


class Card:
    """The sound card: its server, and what its microphone hears."""

    def __init__(self, home: Path) -> None:
        self._home, self._pipe = home, home / "mic.pipe"
        self._ended = threading.Event()
        self._talker: threading.Thread | None = None
        self.said = threading.Event()
        """Set when the microphone has heard all it was given."""
        self.plug_in()

    def plug_in(self) -> None:
        """Start the server, and wait until it is there."""
        self.server = subprocess.Popen(
            [
                *("pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1"),
                f"--log-target=file:{self._home}/log",
                "--load=module-native-protocol-unix",
                f"--load=module-pipe-source source_name=mic file={self._pipe} "
                "format=s16le rate=16000 channels=1",
                "--load=module-null-sink sink_name=spk rate=48000 channels=1",
            ],
            stderr=subprocess.DEVNULL,
        )
        assert soon(lambda: (self._home / "native").exists() and self._pipe.exists())

    def unplug(self) -> None:
        """End the server, as if the card were pulled out."""
        self.close()

    def hears(self, samples: bytes = b"") -> None:
        """Let the microphone hear these samples at 16 kHz, and then silence without end."""
        self._hush()
        self.said.clear()
        self._talker = threading.Thread(target=self._talk, args=[samples])
        self._talker.start()

    def _hush(self) -> None:
        self._ended.set()
        if self._talker is not None:
            self._talker.join()
        self._ended.clear()

    def close(self) -> None:
        self._hush()
        self.server.terminate()
        self.server.wait()

    def _talk(self, samples: bytes) -> None:
        step = 1_600  # bytes in 50 ms: more at once and the server drops some
        with self._pipe.open("r+b", buffering=0) as pipe:
            os.set_blocking(pipe.fileno(), False)  # for when the server has gone
            while not self._ended.wait(0.05):
                pipe.write(samples[:step] or bytes(step))
                samples = samples[step:]
                if not samples:
                    self.said.set()


@pytest.fixture
def card(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Card]:
    home = tmp_path_factory.mktemp("pulse")
    home.chmod(0o700)
    own = {"XDG_RUNTIME_DIR": str(home), "PULSE_RUNTIME_PATH": str(home), "HOME": str(home)}
    with pytest.MonkeyPatch.context() as environment:
        for name, value in own.items():
            environment.setenv(name, value)
        environment.delenv("PULSE_SERVER", raising=False)
        card = Card(home)
        try:
            look_again("speaker")
            yield card
        finally:
            card.close()
    look_again("speaker")


def test_the_speaker_plays_to_the_end_and_can_be_cut_and_used_again(card: Card) -> None:
    with closing(DeviceSpeaker()) as speaker:
        speaker.play(TONE)
        assert speaker.playing
        speaker.cut()
        assert not speaker.playing

        speaker.play(TONE)
        speaker.play(Sound(TONE.rate_hz, TONE.samples[:4_000]))
        assert speaker.playing
        assert soon(lambda: not speaker.playing)


def test_what_is_said_to_the_microphone_is_recognised(
    card: Card, voice: PyttsxSynthesiser, vosk: VoskRecogniser
) -> None:
    vosk.expect(["how many turns", "number two morse taper"])
    blocks: queue.SimpleQueue[Sound] = queue.SimpleQueue()
    words = at_rate(voice.sound("how many turns"), 16_000).samples
    with closing(DeviceMicrophone()) as microphone:
        microphone.start(blocks.put)
        card.hears(words)
        heard = None
        while heard is None:
            heard = vosk.accept(blocks.get(timeout=5))
        assert not microphone.lost

    assert heard.words == "how many turns"


def test_a_microphone_whose_server_goes_away_is_lost(card: Card) -> None:
    with closing(DeviceMicrophone()) as microphone:
        blocks: queue.SimpleQueue[Sound] = queue.SimpleQueue()
        card.hears()
        microphone.start(blocks.put)
        for _ in range(12):  # longer than the time after which it would be lost
            assert blocks.get(timeout=5).rate_hz == 16_000
        assert not microphone.lost

        card.server.terminate()

        assert soon(lambda: microphone.lost)


def test_a_microphone_is_taken_up_when_its_server_comes_and_again_when_it_returns(
    card: Card,
) -> None:
    taken: queue.SimpleQueue[Sound] = queue.SimpleQueue()
    told: queue.SimpleQueue[str] = queue.SimpleQueue()
    with closing(
        ReturningMicrophone(lambda: plugged_in_microphone(None), told.put, retry_s=0.1)
    ) as microphone:
        card.hears()
        microphone.start(taken.put)
        assert taken.get(timeout=5)

        card.unplug()
        assert "plug" in told.get(timeout=5)
        assert microphone.lost

        card.plug_in()
        card.hears()
        assert told.get(timeout=10) == "The microphone is back."
        assert not microphone.lost
        assert any(taken.get(timeout=5).samples for _ in range(2))


def test_a_speaker_is_played_on_again_when_it_returns(card: Card) -> None:
    told: list[str] = []
    with closing(ReturningSpeaker(lambda: plugged_in_speaker(None), told.append)) as speaker:
        speaker.play(TONE)
        assert speaker.playing

        card.unplug()
        assert soon(lambda: not speaker.playing)
        speaker.play(TONE)
        assert not speaker.playing

        card.plug_in()
        speaker.play(TONE)
        assert speaker.playing

    assert len(told) == 2
    assert told[1] == "The speaker is back."


def test_nothing_is_written_to_the_terminal(card: Card, capfd: pytest.CaptureFixture[str]) -> None:
    with closing(DeviceSpeaker()) as speaker, closing(DeviceMicrophone()) as microphone:
        microphone.start(lambda block: None)
        speaker.play(TONE)

    assert capfd.readouterr() == ("", "")


def test_a_device_of_no_such_name_is_missing_with_what_to_do(card: Card) -> None:
    remedy = "plug in the sound device bench horn, or name another in the settings"
    for part in (DeviceSpeaker, DeviceMicrophone):
        with pytest.raises(DeviceMissing, match=remedy):
            part("bench horn")


def test_the_check_finds_the_speaker_and_a_microphone_that_is_switched_off(card: Card) -> None:
    card.hears()

    reports = {
        report.part: report
        for report in check_parts(MODEL, ["turns"], "en-gb", None, None, io.StringIO())
    }

    assert reports["speaker"].works
    assert reports["microphone"].remedy == "switch it on: it gives only silence"


def test_the_check_measures_the_noise_and_says_how_to_listen(card: Card) -> None:
    # 3,277 of 32,768 is -20 dB; the rule wants open listening at -40 or less.
    noise = np.random.default_rng(1).normal(scale=3_277, size=16_000 * 20)
    card.hears(noise.astype("<i2").tobytes())

    reports = {
        report.part: report
        for report in check_parts(MODEL, ["turns"], "en-gb", None, None, io.StringIO())
    }

    assert "noise at -20 dB, too loud even for the pedal" in reports["microphone"].detail


def test_quiet_ends_where_it_should(capfd: pytest.CaptureFixture[str]) -> None:
    with quiet():
        os.write(2, b"ALSA lib pcm.c: noise\n")
    os.write(2, b"ours\n")

    assert capfd.readouterr().err == "ours\n"
