"""One input pin: its raw edges, and what they come to once they settle."""

import queue
import threading
import time
from collections.abc import Callable
from typing import Any, Protocol

from hardware.gpio import claiming_pins


class Settling(Protocol):
    """What edges come to. Time comes in as a number, and never runs backwards."""

    def edge(self, closed: bool, now_s: float) -> None:
        """Take an edge."""

    def settle(self, now_s: float) -> bool | None:
        """Return what it has come to by now, if that changed."""

    def settles_in_s(self, now_s: float) -> float | None:
        """Return how long to wait before asking again; None when only an edge can change it."""


class EdgeInput:
    """A pin pulled up, that a contact or a sensor pulls down.

    Args:
        part: What is on it, for the error.
        number: BCM number.
        factory: gpiozero pin factory, of the board or mock.

    Raises:
        DeviceMissing: The pin has another use already; also from start.
    """

    def __init__(self, part: str, number: int, factory: Any) -> None:
        self._part, self._factory = part, factory
        with claiming_pins(part):
            factory.reserve_pins(self, number)
            self._pin = factory.pin(number)
            self._pin.input_with_pull("up")
        self._edges: queue.SimpleQueue[tuple[bool, float] | None] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None

    def start(self, settling: Settling, take: Callable[[bool], None]) -> None:
        """Hand what the edges come to to `take`, which is called on a thread of this input."""
        with claiming_pins(self._part):
            self._pin.edges = "both"
            self._pin.when_changed = self._changed
        # A pedal that is down already gives no edge.
        self._changed(0.0, self._pin.state)
        self._thread = threading.Thread(target=self._watch, args=[settling, take], daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Stop watching, and leave the pin as an input for others to use."""
        self._pin.when_changed = None
        self._edges.put(None)
        if self._thread is not None:
            self._thread.join()
        self._pin.input_with_pull("floating")
        self._factory.release_all(self)

    def _changed(self, ticks: float, state: bool) -> None:
        # The board's own ticks are on a clock that need not be ours.
        self._edges.put((not state, time.monotonic()))

    def _watch(self, settling: Settling, take: Callable[[bool], None]) -> None:
        def settle(now_s: float) -> None:
            change = settling.settle(now_s)
            if change is not None:
                take(change)

        while True:
            try:
                edge = self._edges.get(timeout=settling.settles_in_s(time.monotonic()))
            except queue.Empty:
                settle(time.monotonic())
                continue
            if edge is None:
                return
            # By the edge's own time: on a busy board several may wait in the queue.
            closed, edge_s = edge
            settle(edge_s)
            settling.edge(closed, edge_s)
            settle(edge_s)

    def _conflicts_with(self, other: object) -> bool:
        # gpiozero asks this of whoever wants a pin that is in use.
        return True
