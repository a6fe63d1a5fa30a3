"""The whole bench on a sound card made of software: a scripted operator speaks, by pedal."""

import queue
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, closing
from threading import Thread

import pytest
from gpiozero.pins.mock import MockFactory

from assistant.app import App, Bench
from assistant.language.attention import WORDS
from assistant.settings import from_toml
from hardware.gpio import read_pins
from hardware.listening import Listening
from hardware.pedal import GpioPedal
from hardware.recogniser import VoskRecogniser
from hardware.returning import (
    ReturningMicrophone,
    ReturningSpeaker,
    plugged_in_microphone,
    plugged_in_speaker,
)
from hardware.sounds import at_rate
from hardware.voice import PyttsxSynthesiser
from tests.hardware.test_sound_devices import Card, card, soon

__all__ = ["card"]  # a fixture
pytestmark = pytest.mark.pulseaudio

PINS = read_pins()
WORD = WORDS[0]
HEAD = "[head]\npitch_mm = 0.5\ndivisions = 50\n"


class ToldScreen:
    """Keeps what is told."""

    def __init__(self) -> None:
        self.told: queue.SimpleQueue[str] = queue.SimpleQueue()

    def show(self, lines: Sequence[str], view: Sequence[str] = ()) -> None:
        """Not looked at here."""

    def hears(self, begun_with: str) -> None:
        """Not looked at here."""

    def tell(self, words: str) -> None:
        self.told.put(words)

    def wait_for(self, beginning: str) -> str:
        """Return the next line that begins so, leaving out those before it."""
        while True:
            line = self.told.get(timeout=10)
            if line.startswith(beginning):
                return line


class Shop:
    """A bench with real sound, and an operator with a foot and a voice."""

    def __init__(
        self, card: Card, vosk: VoskRecogniser, voice: PyttsxSynthesiser, openly: bool
    ) -> None:
        self._card, self._voice, self._pins = card, voice, MockFactory()
        self.screen = ToldScreen()
        self.speaker = ReturningSpeaker(lambda: plugged_in_speaker(None), self.screen.tell)
        self.microphone = ReturningMicrophone(
            lambda: plugged_in_microphone(None), self.screen.tell, retry_s=0.1
        )
        self._pedal = GpioPedal(PINS.pedal, self._pins)
        bench = Bench(
            self.screen,
            time.monotonic,
            recogniser=vosk,
            ears=Listening(vosk, openly),
            microphone=self.microphone,
            synthesiser=voice,
            speaker=self.speaker,
            pedal=self._pedal,
        )
        self._app = App(bench, from_toml(HEAD).first_job(WORD if openly else ""))
        self._thread = Thread(target=self._app.run)
        card.hears()
        self._thread.start()

    def stand(self, down: bool) -> None:
        pin = self._pins.pin(PINS.pedal)
        (pin.drive_low if down else pin.drive_high)()

    def say(self, words: str) -> None:
        """Speak to the microphone, to the end, after a breath."""
        spoken = at_rate(self._voice.sound(words), 16_000).samples
        self._card.hears(bytes(2 * 8_000) + spoken)
        assert self._card.said.wait(10)

    def close(self) -> None:
        with ExitStack() as parts:
            for part in (self._pins, self.speaker, self._pedal, self.microphone):
                parts.callback(part.close)
            self._app.take(None)
            self._thread.join()


@pytest.fixture
def shop(card: Card, vosk: VoskRecogniser, voice: PyttsxSynthesiser) -> Iterator[Shop]:
    with closing(Shop(card, vosk, voice, openly=False)) as working:
        yield working


def test_the_pedal_cuts_speech_short_and_what_is_said_while_it_is_down_is_answered(
    shop: Shop,
) -> None:
    assert soon(lambda: shop.speaker.playing)  # the greeting
    shop.stand(True)
    assert soon(lambda: not shop.speaker.playing)
    shop.say("number two morse taper")
    shop.stand(False)

    assert shop.screen.wait_for("heard") == "heard number two morse taper"
    assert shop.screen.wait_for("says") == "says  Morse two. What length between the balls?"
    assert soon(lambda: shop.speaker.playing)


def test_nothing_is_heard_while_the_pedal_is_up(shop: Shop) -> None:
    shop.say("number two morse taper")
    shop.stand(True)
    shop.say("number three morse taper")
    shop.stand(False)

    assert shop.screen.wait_for("heard") == "heard number three morse taper"


def test_a_card_pulled_out_and_put_back_is_used_again(shop: Shop, card: Card) -> None:
    shop.stand(True)
    shop.say("number three morse taper")
    shop.stand(False)
    shop.screen.wait_for("heard")  # so both devices are in use

    card.unplug()
    shop.screen.wait_for("There is no microphone any more: plug it in again.")
    card.plug_in()
    card.hears()
    shop.screen.wait_for("The microphone is back.")
    shop.stand(True)
    shop.say("number two morse taper")
    shop.stand(False)

    assert shop.screen.wait_for("heard") == "heard number two morse taper"
    assert soon(lambda: shop.speaker.playing)


def test_open_listening_is_deaf_to_all_while_it_speaks_and_hears_after(
    card: Card, vosk: VoskRecogniser, voice: PyttsxSynthesiser
) -> None:
    with closing(Shop(card, vosk, voice, openly=True)) as shop:
        shop.stand(True)
        shop.say("number two morse taper")
        shop.stand(False)
        assert shop.screen.wait_for("heard") == "heard number two morse taper"
        assert soon(lambda: shop.speaker.playing)  # the answer, longer than what is said now
        shop.say("number four morse taper")
        assert shop.speaker.playing
        assert soon(lambda: not shop.speaker.playing)
        shop.say("number three morse taper")  # in answer, so without the word

        assert shop.screen.wait_for("heard") == "heard number three morse taper"
        assert soon(lambda: shop.speaker.playing)
        assert soon(lambda: not shop.speaker.playing)
        shop.say(f"{WORD}, number two morse taper")

        assert shop.screen.wait_for("heard") == "heard number two morse taper"
