"""A whole job by keys: simulated contacts in, the small screen's pictures, lamp and voice out."""

import io
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from luma.core.device import dummy

from assistant.app import App, Bench
from assistant.events import Key
from assistant.settings import from_toml
from hardware.gpio import read_pins
from hardware.keypad_wires import WiredFactory
from hardware.pixel_screen import HEIGHT, WIDTH, PixelScreen, picture
from hardware.screen import Screens, TerminalScreen
from hardware.signals import GpioSignals
from hardware.speaker import MemorySpeaker
from hardware.voice import SilentSynthesiser
from tests.hardware.pictures import keep
from tests.hardware.test_keypad import CountedPad

PINS = read_pins()
MORSE_TWO, BALLS, TURNS = "A22#", "B1142*5#", "C2"
# More than a press or a release takes to settle.
SETTLED_S = 0.05


class KeptDisplay(dummy):  # type: ignore[misc]  # luma has no types
    """A display without a display, that keeps its pictures."""

    def __init__(self) -> None:
        super().__init__(width=WIDTH, height=HEIGHT, mode="1")
        self.pictures: list[Any] = []

    def display(self, image: Any) -> None:
        super().display(image)
        self.pictures.append(image.copy())


class Operator:
    """A bench run by keys alone."""

    def __init__(self) -> None:
        self._wires = WiredFactory(PINS.rows, PINS.columns)
        self._pad = CountedPad(self._wires)
        self.display = KeptDisplay()
        self.synthesiser = SilentSynthesiser()
        bench = Bench(
            Screens(TerminalScreen(io.StringIO()), PixelScreen(lambda: self.display, print)),
            time.monotonic,
            synthesiser=self.synthesiser,
            speaker=MemorySpeaker(time.monotonic),
            keypads=[self._pad],
            signaller=GpioSignals(PINS.lamp, PINS.buzzer, self._wires),
        )
        self._app = App(bench, from_toml("[head]\npitch_mm = 0.5\ndivisions = 50\n").first_job())
        self._signaller = bench.signaller
        self._thread = threading.Thread(target=self._app.run)
        self._thread.start()

    def key(self, keys: str) -> None:
        """Press and let go of each key."""
        for key in keys:
            self._wires.press(Key(key))
            self._pad.wait(SETTLED_S)
            self._wires.press()
            self._pad.wait(SETTLED_S)

    def end(self) -> None:
        self._app.take(None)
        self._thread.join()
        self._pad.close()
        if self._signaller is not None:
            self._signaller.close()
        self._wires.reset()


@pytest.fixture
def operator() -> Iterator[Operator]:
    working = Operator()
    yield working
    working.end()


def soon(condition: Callable[[], bool]) -> bool:
    deadline_s, pause = time.monotonic() + 5, threading.Event()
    while not condition() and time.monotonic() < deadline_s:
        pause.wait(0.01)
    return condition()


def test_a_job_by_keys_ends_with_the_set_over_and_the_turns(operator: Operator) -> None:
    for keys in (MORSE_TWO, BALLS, TURNS):
        operator.key(keys)
    # Worked by hand: atan(0.59941 / 24) = 1.43069 deg; 142.5 sin a = 3.5579 mm; by 0.5 mm and
    # 50 divisions 7 turns and 5.8.
    answer = ["Morse 2      1:20.02", "Balls       142.5 mm", "Over 3.558 mm to you"]
    wanted = picture([*answer, "Turns 7 + 5.8 div"]).tobytes()

    ended = soon(lambda: operator.display.pictures[-1].tobytes() == wanted)
    keep(operator.display.pictures, "job")
    assert ended
    assert "three point five five eight" in " ".join(operator.synthesiser.spoken)
    assert "Seven turns and five point eight divisions" in " ".join(operator.synthesiser.spoken)
