"""The pins of the board: which one does what, and how they are reached."""

import contextlib
import os
import sys
import tempfile
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from assistant.errors import BadSetting, DeviceMissing

PINS_FILE = Path(__file__).with_name("pins.toml")

# BCM numbers of the pins on the 40-pin header; from memory.
HEADER_PINS = range(28)


@dataclass(frozen=True, slots=True)
class Pins:
    """BCM numbers: the keypad's rows from the top, its columns from the left, the rest."""

    rows: tuple[int, ...]
    columns: tuple[int, ...]
    lamp: int
    buzzer: int
    pedal: int
    spindle: int


def read_pins(path: Path = PINS_FILE) -> Pins:
    """Return the pins a file assigns.

    Raises:
        BadSetting: A pin is not on the header, or has two uses, or one is missing.
    """
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    try:
        pins = Pins(
            tuple(table["keypad"]["rows"]),
            tuple(table["keypad"]["columns"]),
            table["signals"]["lamp"],
            table["signals"]["buzzer"],
            table["inputs"]["pedal"],
            table["inputs"]["spindle"],
        )
    except KeyError as missing:
        raise BadSetting(f"{missing.args[0]} in {path.name}", None, "a pin") from None
    numbers = [*pins.rows, *pins.columns, pins.lamp, pins.buzzer, pins.pedal, pins.spindle]
    if len(pins.rows) != 4 or len(pins.columns) != 4:
        raise BadSetting(f"keypad in {path.name}", table["keypad"], "four rows and four columns")
    if len(set(numbers)) != len(numbers) or not set(numbers) <= set(HEADER_PINS):
        raise BadSetting(f"pins in {path.name}", numbers, "each another pin from 0 to 27")
    return pins


def board_pins() -> Any:
    """Return the gpiozero pin factory of the board this runs on.

    Only lgpio is tried: it is the one that works on every model, and gpiozero's own search
    ends in warnings. A mock never takes the board's place.

    Raises:
        DeviceMissing: This is no such board, or lgpio is not installed.
    """
    # lgpio makes a pipe in the directory it is told, and moves the whole process there.
    os.environ.setdefault("LG_WD", tempfile.gettempdir())
    here = os.getcwd()
    try:
        import lgpio
        from gpiozero import GPIOZeroError
        from gpiozero.pins.lgpio import LGPIOFactory
    except (ImportError, OSError):
        raise DeviceMissing(
            "keypad or lamp", "on a Raspberry Pi install the package python3-lgpio"
        ) from None
    finally:
        os.chdir(here)
    try:
        return LGPIOFactory()
    except (GPIOZeroError, lgpio.error, OSError):
        raise DeviceMissing(
            "keypad or lamp", "run on a Raspberry Pi, as a user in the group gpio"
        ) from None


@contextlib.contextmanager
def claiming_pins(part: str) -> Iterator[None]:
    """Name what goes wrong while a part claims its pins.

    Raises:
        DeviceMissing: Another part or another program has a pin.
    """
    from gpiozero import GPIOZeroError

    # lgpio's own error is no GPIOZeroError, and a mock board has no lgpio.
    lgpio_error = getattr(sys.modules.get("lgpio"), "error", GPIOZeroError)
    try:
        yield
    except (GPIOZeroError, lgpio_error):
        raise DeviceMissing(part, "stop the other program or part that uses its pins") from None
