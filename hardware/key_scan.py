"""From what the contacts show to keys that go down and come up: bounce and ghosts taken out.

A key counts once the whole pad has held still. A matrix without diodes shows a fourth key
when three at the corners of a rectangle are down; one or two keys never show another. So a
press is given only when exactly one key is new and at most two are down, which still lets
one key be pressed before the last is let go. Only a key that was given comes up.
"""

from assistant.events import Key
from hardware.talk_key import KeyMoved

# Common practice, no source: contacts of such pads settle in less.
BOUNCE_S = 0.02
# So that two looks far apart, on a busy board, are not taken for holding still.
EQUAL_SCANS = 3


class KeyScan:
    """The pad as it last held still. Time comes in as a number, and never runs backwards."""

    def __init__(self) -> None:
        self._raw: frozenset[Key] = frozenset()
        self._raw_since_s = 0.0
        self._equal_scans = 0
        self._down: frozenset[Key] = frozenset()
        self._given: frozenset[Key] = frozenset()

    def settle(self, raw_pressed: frozenset[Key], now_s: float) -> tuple[KeyMoved, ...]:
        """Take what one scan shows; return what has come to hold still otherwise by now."""
        if raw_pressed != self._raw:
            self._raw, self._raw_since_s, self._equal_scans = raw_pressed, now_s, 0
        self._equal_scans += 1
        if self._equal_scans < EQUAL_SCANS or now_s - self._raw_since_s < BOUNCE_S:
            return ()
        new, come_up = self._raw - self._down, self._given - self._raw
        self._down = self._raw
        pressed = new if len(new) == 1 and len(self._down) <= 2 else frozenset[Key]()
        self._given = (self._given - come_up) | pressed
        return (
            *(KeyMoved(key, down=False) for key in sorted(come_up)),
            *(KeyMoved(key, down=True) for key in pressed),
        )
