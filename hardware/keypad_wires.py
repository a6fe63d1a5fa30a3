"""The matrix keypad's wires, simulated on gpiozero's mock pins.

A pressed key joins its row to its column, and a pin pulled down pulls down every input it is
joined to, through however many keys: so this pad shows ghosts as the real one does.
"""

import threading
from collections.abc import Sequence

from gpiozero.pins.mock import MockFactory, MockPin

from assistant.events import Key
from hardware.keypad import LEGEND


class ShortCircuit(Exception):
    """On the real board this harms the pins."""


class WiredPin(MockPin):  # type: ignore[misc]  # gpiozero has no types
    """A mock pin that the wires follow."""

    def _set_function(self, value: str) -> None:
        with self.factory.lock:
            super()._set_function(value)
            self.factory.follow()

    def _set_state(self, value: float) -> None:
        with self.factory.lock:
            super()._set_state(value)
            self.factory.follow()


class WiredFactory(MockFactory):  # type: ignore[misc]
    """Mock pins joined by the keys that are pressed, from whatever thread."""

    def __init__(self, rows: Sequence[int], columns: Sequence[int]) -> None:
        super().__init__(pin_class=WiredPin)
        self.lock = threading.RLock()
        self._wires = {
            key: {row, column}
            for row, keys in zip(rows, LEGEND, strict=True)
            for column, key in zip(columns, keys, strict=True)
        }
        self._pressed: frozenset[Key] = frozenset()

    def press(self, *keys: Key) -> None:
        """Hold down these keys and no others."""
        with self.lock:
            self._pressed = frozenset(keys)
            self.follow()

    def follow(self) -> None:
        """Bring every input pin to the level of the wires it is joined to.

        Raises:
            ShortCircuit: A pin driven high is joined to one driven low.
        """
        pins = {int(pin.info.name.removeprefix("GPIO")): pin for pin in self.pins.values()}
        low = {number for number, pin in pins.items() if pin.function == "output" and not pin.state}
        for _ in self._pressed:  # each pass carries the level through one more key at least
            for key in self._pressed:
                if low & self._wires[key]:
                    low |= self._wires[key]
        for number, pin in pins.items():
            if pin.function == "input":
                (pin.drive_low if number in low else pin.drive_high)()
            elif pin.state and number in low:
                raise ShortCircuit(pin)
