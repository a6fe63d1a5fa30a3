"""Keys in: a 4x4 matrix on GPIO, the same with simulated wires, and a script."""

import threading
import time
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from assistant.events import Key
from assistant.ports import Hold
from hardware.gpio import claiming_pins
from hardware.key_scan import KeyScan
from hardware.talk_key import TalkKey

LEGEND = (
    (Key.ONE, Key.TWO, Key.THREE, Key.A),
    (Key.FOUR, Key.FIVE, Key.SIX, Key.B),
    (Key.SEVEN, Key.EIGHT, Key.NINE, Key.C),
    (Key.STAR, Key.ZERO, Key.HASH, Key.D),
)

SCAN_EVERY_S = 0.005
# For the columns to follow the row through the pull-ups; common practice, no source.
ROW_SETTLE_S = 20e-6


class MatrixKeypad:
    """A matrix of contacts between row and column pins.

    Rows and columns rest as inputs pulled up. A scan pulls one row down at a time and reads
    the columns; the other rows stay inputs, so that two keys pressed in one column never
    short two driven rows.

    Args:
        rows: BCM numbers, the top row first.
        columns: BCM numbers, the left column first.
        factory: gpiozero pin factory, of the board or simulated.

    Raises:
        DeviceMissing: A pin has another use already.
    """

    def __init__(self, rows: Sequence[int], columns: Sequence[int], factory: Any) -> None:
        self._factory = factory
        with claiming_pins("keypad"):
            factory.reserve_pins(self, *rows, *columns)
            self._rows = [factory.pin(number) for number in rows]
            self._columns = [factory.pin(number) for number in columns]
            for pin in (*self._rows, *self._columns):
                pin.input_with_pull("up")
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    def start(
        self, take: Callable[[Key], None], hold: Callable[[Hold], None] | None = None
    ) -> None:
        """Hand over every key pressed and what the talk key is held for, on a thread of its own."""
        talk_key = TalkKey(take, hold)
        self._thread = threading.Thread(target=self._watch, args=[talk_key], daemon=True)
        self._thread.start()

    def scan(self) -> frozenset[Key]:
        """Return the keys whose contacts are closed now: neither settled nor free of ghosts."""
        closed: set[Key] = set()
        for row, keys in zip(self._rows, LEGEND, strict=True):
            row.output_with_state(0)
            time.sleep(ROW_SETTLE_S)
            closed.update(
                key for key, pin in zip(keys, self._columns, strict=True) if not pin.state
            )
            row.input_with_pull("up")
        return frozenset(closed)

    def close(self) -> None:
        """Stop scanning, and leave the pins as inputs for others to use."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join()
        for pin in (*self._rows, *self._columns):
            pin.input_with_pull("floating")
        self._factory.release_all(self)

    def _watch(self, talk_key: TalkKey) -> None:
        keys = KeyScan()
        while not self._stop.wait(SCAN_EVERY_S):
            scanned, now_s = self.scan(), time.monotonic()
            talk_key.moved(keys.settle(scanned, now_s), now_s)

    def _conflicts_with(self, other: object) -> bool:
        # gpiozero asks this of whoever wants a pin that is in use.
        return True


class ScriptedKeypad:
    """The twin: start hands over all of its script, keys and holds, before it returns."""

    def __init__(self, script: Iterable[Key | Hold]) -> None:
        self._script = list(script)

    def start(
        self, take: Callable[[Key], None], hold: Callable[[Hold], None] | None = None
    ) -> None:
        """Hand every key to `take` and every hold to `hold`."""
        for each in self._script:
            if isinstance(each, Key):
                take(each)
            elif hold is not None:
                hold(each)

    def close(self) -> None:
        """Nothing to let go of."""
