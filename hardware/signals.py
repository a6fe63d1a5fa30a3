"""Signs without words: a lamp and a buzzer, and a twin that notes them."""

from typing import Any

from assistant.events import Signal
from hardware.gpio import claiming_pins

# Times on, seconds on, seconds off.
PATTERNS = {
    Signal.KEY: (1, 0.05, 0.05),
    Signal.REFUSED: (3, 0.15, 0.1),
    Signal.REMINDER: (2, 0.4, 0.2),
}


class GpioSignals:
    """A lamp and an active buzzer, each on a pin, high for on.

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

    def signal(self, kind: Signal) -> None:
        """Give the sign of that kind, in place of one not yet ended; return at once."""
        times, on_s, off_s = PATTERNS[kind]
        self._lamp.blink(on_s, off_s, n=times)
        self._buzzer.beep(on_s, off_s, n=times)

    def close(self) -> None:
        """Turn both off and let go of the pins."""
        for device in (self._lamp, self._buzzer):
            device.off()
            device.close()


class MemorySignals:
    """The twin: notes every sign."""

    def __init__(self) -> None:
        self.given: list[Signal] = []

    def signal(self, kind: Signal) -> None:
        """Note it."""
        self.given.append(kind)

    def close(self) -> None:
        """Nothing to let go of."""
