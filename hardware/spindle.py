"""The spindle sensor: a running contact or pulses on a pin of the board, and a script."""

import time
from collections.abc import Callable, Iterable
from typing import Any

from assistant.events import SpindleSeen
from assistant.quantity import SpindleSpeed
from hardware.contact import Contact
from hardware.edge_input import EdgeInput
from hardware.rotation import Rotation

# A relay or a drive's output; it says nothing that is worth being quick about.
LEVEL_BOUNCE_S = 0.1


class GpioSpindle:
    """An isolated sensor that pulls a pin down.

    Args:
        pin: BCM number.
        pulses_per_turn: How often it pulls down in a turn; None for one that holds the pin
            down all the while the spindle runs.
        factory: gpiozero pin factory, of the board or mock.

    Raises:
        DeviceMissing: The pin has another use already; also from start.
    """

    def __init__(self, pin: int, pulses_per_turn: int | None, factory: Any) -> None:
        self._input = EdgeInput("spindle sensor", pin, factory)
        self._rotation = Rotation(pulses_per_turn) if pulses_per_turn else None

    def start(self, take: Callable[[SpindleSeen], None]) -> None:
        """Hand over every start and stop, on a thread of the sensor's own."""
        self._input.start(
            self._rotation or Contact(LEVEL_BOUNCE_S), lambda turning: take(SpindleSeen(turning))
        )

    @property
    def speed(self) -> SpindleSpeed | None:
        """The speed now; None while it stands still or where there are no pulses to count."""
        rpm = self._rotation.rpm(time.monotonic()) if self._rotation else None
        return None if rpm is None else SpindleSpeed(rpm)

    def close(self) -> None:
        """Let go of the pin."""
        self._input.close()


class ScriptedSpindle:
    """The twin: start hands over all of its script before it returns.

    Args:
        script: Each start, with its speed or True where that is not known, and each stop, False.
    """

    def __init__(self, script: Iterable[SpindleSpeed | bool]) -> None:
        self._script = list(script)
        self._now: SpindleSpeed | bool = False

    def start(self, take: Callable[[SpindleSeen], None]) -> None:
        """Hand over every start and stop."""
        for step in self._script:
            self._now = step
            take(SpindleSeen(step is not False))

    @property
    def speed(self) -> SpindleSpeed | None:
        """The speed in the script where it has come to."""
        return self._now if isinstance(self._now, SpindleSpeed) else None

    def close(self) -> None:
        """Nothing to let go of."""
