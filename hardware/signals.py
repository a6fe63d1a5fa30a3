"""Signs without words: a lamp and a buzzer, and a twin that notes them."""

import queue
import threading
from collections import deque
from typing import Any

from assistant.events import Lamp, Signal
from hardware.gpio import claiming_pins

# Times on, seconds on, seconds off.
PATTERNS = {
    Signal.KEY: (1, 0.05, 0.05),
    Signal.REFUSED: (3, 0.15, 0.1),
    Signal.REMINDER: (2, 0.4, 0.2),
}


class GpioSignals:
    """A lamp and an active buzzer, each on a pin, high for on.

    A lamp that is lit goes out and on with a sign, and stays on after it; the buzzer only
    gives signs. One thread of its own moves both pins.

    Args:
        lamp: BCM number.
        buzzer: BCM number.
        factory: gpiozero pin factory, of the board or mock.

    Raises:
        DeviceMissing: A pin has another use already.
    """

    def __init__(self, lamp: int, buzzer: int, factory: Any) -> None:
        from gpiozero import LED, Buzzer

        with claiming_pins("lamp"):
            self._lamp = LED(lamp, pin_factory=factory)
            self._buzzer = Buzzer(buzzer, pin_factory=factory)
        self._asked: queue.SimpleQueue[Signal | bool | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._move, daemon=True)
        self._thread.start()

    def signal(self, kind: Signal) -> None:
        """Give the sign of that kind, in place of one not yet ended; return at once."""
        self._asked.put(kind)

    def light(self, lit: bool) -> None:
        """Keep the lamp lit from now on, between signs too, or let it go out."""
        self._asked.put(lit)

    def close(self) -> None:
        """Turn both off and let go of the pins."""
        self._asked.put(None)
        self._thread.join()
        for device in (self._lamp, self._buzzer):
            device.off()
            device.close()

    def _move(self) -> None:
        lit, steps = False, deque[tuple[bool, float]]()
        while True:
            on, lasts_s = steps.popleft() if steps else (False, None)
            self._buzzer.value = on
            self._lamp.value = on if lasts_s is not None else lit
            try:
                asked = self._asked.get(timeout=lasts_s)
            except queue.Empty:
                continue
            if asked is None:
                return
            if isinstance(asked, Signal):
                times, on_s, off_s = PATTERNS[asked]
                steps = deque([(True, on_s), (False, off_s)] * times)
            else:
                lit = asked
                if lasts_s is not None:  # the step it came in begins again
                    steps.appendleft((on, lasts_s))


class MemorySignals:
    """The twin: notes all it is told."""

    def __init__(self) -> None:
        self.given: list[Signal | Lamp] = []

    def signal(self, kind: Signal) -> None:
        """Note it."""
        self.given.append(kind)

    def light(self, lit: bool) -> None:
        """Note it."""
        self.given.append(Lamp(lit))

    def close(self) -> None:
        """Nothing to let go of."""
