"""The self-check: what works, what is missing, and what to do about it.

Each look at a part returns what it found, or raises the error that says what is wrong;
`check_parts` makes a line of either, and raises nothing itself.
"""

import queue
import shutil
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, TextIO

from assistant.errors import BenchError, DeviceMissing, ModelIncomplete
from assistant.ports import Sound
from hardware.gpio import board_pins, read_pins
from hardware.keypad import MatrixKeypad
from hardware.level import floor_db, verdict
from hardware.microphone import DeviceMicrophone
from hardware.pedal import GpioPedal
from hardware.recogniser import VoskRecogniser, require_model
from hardware.screen import COLUMNS
from hardware.signals import GpioSignals
from hardware.speaker import DeviceSpeaker
from hardware.spindle import GpioSpindle
from hardware.voice import PyttsxSynthesiser

# A microphone that gave nothing by then will not.
FIRST_BLOCK_WITHIN_S = 1.0
# A second. A stream's first blocks are at times zeros; all of them are a switch that is off.
BLOCKS_LOOKED_AT = 20


@dataclass(frozen=True, slots=True)
class PartReport:
    """What the check found of one part: a line, and a remedy that is empty when it works."""

    part: str
    works: bool
    detail: str
    remedy: str


def check_parts(
    model_directory: Path,
    words: Sequence[str],
    voice: str,
    speaker: str | None,
    microphone: str | None,
    screen: TextIO,
    gpio: Callable[[], Any] = board_pins,
) -> list[PartReport]:
    """Look at every part in turn; takes a few seconds, and makes no sound.

    Args:
        model_directory: The speech model's.
        words: The words the recogniser must be able to hear.
        voice: The espeak voice's name.
        speaker: A part of the device's name, or None for the system's default.
        microphone: The same.
        screen: Where the screen is drawn.
        gpio: Gives the pin factory.
    """
    looks: dict[str, Callable[[], str]] = {
        "speech model": partial(_model, model_directory),
        "recogniser": partial(_recogniser, model_directory, words),
        "voice": partial(_voice, voice),
        "speaker": partial(_speaker, speaker),
        "microphone": partial(_microphone, microphone),
        "keypad": partial(_keypad, gpio),
        "lamp": partial(_lamp, gpio),
        "pedal": partial(_pedal, gpio),
        "spindle sensor": partial(_spindle, gpio),
        "screen": partial(_screen, screen),
    }
    return [report(part, look) for part, look in looks.items()]


def report(part: str, look: Callable[[], str]) -> PartReport:
    """Return what a look at a part found, or the remedy of the error it raised."""
    try:
        return PartReport(part, True, look(), "")
    except DeviceMissing as missing:
        return PartReport(part, False, "not found", missing.remedy)
    except BenchError as wrong:
        return PartReport(part, False, str(wrong), "change the settings, or set up again")


def _model(directory: Path) -> str:
    require_model(directory)
    size = sum(path.stat().st_size for path in directory.rglob("*") if path.is_file())
    return f"{size / 1e6:.0f} MB in {directory}"


def _recogniser(directory: Path, words: Sequence[str]) -> str:
    with closing(VoskRecogniser(directory)) as recogniser:
        lacking = recogniser.lacking(words)
    if lacking:
        raise ModelIncomplete(str(directory), f"the words {', '.join(lacking)}")
    return f"ready; knows all {len(words)} words asked of it"


def _voice(name: str) -> str:
    with closing(PyttsxSynthesiser(name)) as voice:
        return f"{name}; said a word in {voice.sound('ready').seconds:.1f} s"


def _speaker(name: str | None) -> str:
    with closing(DeviceSpeaker(name)) as speaker:
        speaker.play(Sound(22_050, bytes(2_000)))
        return speaker.device_name


def _microphone(name: str | None) -> str:
    blocks: queue.SimpleQueue[Sound] = queue.SimpleQueue()
    with closing(DeviceMicrophone(name)) as microphone:
        microphone.start(blocks.put)
        try:
            heard = [blocks.get(timeout=FIRST_BLOCK_WITHIN_S) for _ in range(BLOCKS_LOOKED_AT)]
        except queue.Empty:
            raise DeviceMissing("microphone", "plug it in again: it gives no sound") from None
    sounding = [block for block in heard if any(block.samples)]
    if not sounding:
        raise DeviceMissing("microphone", "switch it on: it gives only silence")
    floor = floor_db(sounding)
    return (
        f"{microphone.device_name}, {heard[0].rate_hz} Hz; noise at {floor:.0f} dB, "
        f"{verdict(floor)}"
    )


def _keypad(gpio: Callable[[], Any]) -> str:
    pins = read_pins()
    with closing(gpio()) as factory, closing(MatrixKeypad(pins.rows, pins.columns, factory)) as pad:
        down = pad.scan()
    if down:
        raise DeviceMissing("keypad", f"free the keys that are down: {', '.join(sorted(down))}")
    return "its pins are ready; whether it is plugged in, a key pressed will show"


def _lamp(gpio: Callable[[], Any]) -> str:
    pins = read_pins()
    with closing(gpio()) as factory, closing(GpioSignals(pins.lamp, pins.buzzer, factory)):
        return "its pins are ready; whether it is plugged in, a key pressed will show"


def _pedal(gpio: Callable[[], Any]) -> str:
    with closing(gpio()) as factory, closing(GpioPedal(read_pins().pedal, factory)):
        return "its pin is ready; whether it is plugged in, standing on it will show"


def _spindle(gpio: Callable[[], Any]) -> str:
    with closing(gpio()) as factory, closing(GpioSpindle(read_pins().spindle, None, factory)):
        return "its pin is ready; whether it is plugged in, a turning spindle will show"


def _screen(stream: TextIO) -> str:
    if not stream.isatty():
        return "no terminal: each screenful is just written"
    columns = shutil.get_terminal_size().columns
    if columns < COLUMNS + 4:
        raise DeviceMissing("screen", f"make the terminal {COLUMNS + 4} columns wide")
    return f"this terminal, {columns} columns"
