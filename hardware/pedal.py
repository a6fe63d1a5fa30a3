"""The push-to-talk pedal or button: on a pin of the board, and a script."""

from collections.abc import Callable, Iterable
from typing import Any

from hardware.contact import Contact
from hardware.edge_input import EdgeInput


class GpioPedal:
    """A contact between a pin and ground, open while nobody stands on it.

    Args:
        pin: BCM number.
        factory: gpiozero pin factory, of the board or mock.

    Raises:
        DeviceMissing: The pin has another use already; also from start.
    """

    def __init__(self, pin: int, factory: Any) -> None:
        self._input = EdgeInput("pedal", pin, factory)

    def start(self, take: Callable[[bool], None]) -> None:
        """Hand over whether it is down, at each change, on a thread of the pedal's own."""
        self._input.start(Contact(), take)

    def close(self) -> None:
        """Let go of the pin."""
        self._input.close()


class ScriptedPedal:
    """The twin: start hands over all of its script before it returns."""

    def __init__(self, script: Iterable[bool]) -> None:
        self._script = list(script)

    def start(self, take: Callable[[bool], None]) -> None:
        """Hand over every change."""
        for down in self._script:
            take(down)

    def close(self) -> None:
        """Nothing to let go of."""
