"""The key that is the pedal while it is held, told from the same key tapped.

It begins to listen, and cuts speech short, as it goes down: nobody waits before he speaks. Let
go at once, it was a key like any other, given as it comes up, and what was heard is dropped.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from assistant.events import TALK_KEY, Key
from assistant.ports import Hold

# Common practice, no source: keys are tapped in less, and no word is said in so little.
TAP_WITHIN_S = 0.4


@dataclass(frozen=True, slots=True)
class KeyMoved:
    """A key went down or came up."""

    key: Key
    down: bool


class TalkKey:
    """Hands on keys, and what the talk key is held for. Time comes in as a number.

    Args:
        take: Gets every key pressed.
        hold: Gets every change of the talk key; None where nobody is to be talked to.
    """

    def __init__(self, take: Callable[[Key], None], hold: Callable[[Hold], None] | None) -> None:
        self._take, self._hold = take, hold or (lambda _: None)
        self._down_since_s: float | None = None

    def moved(self, moves: Iterable[KeyMoved | Key], now_s: float) -> None:
        """Take keys that moved, or that can only be tapped."""
        for move in moves:
            match move:
                case Key():
                    self._take(move)
                case KeyMoved(key, down) if key is TALK_KEY:
                    self._talk_key(down, now_s)
                case KeyMoved(key, down=True):
                    # The next key, while the last is on its way up: in the order they went down.
                    if self._tapped(now_s):
                        self._let_go(now_s)
                    self._take(key)

    def lost(self) -> None:
        """Take that the keys are gone: what was being said is dropped."""
        if self._down_since_s is not None:
            self._down_since_s = None
            self._hold(Hold.DROPPED)

    def _talk_key(self, down: bool, now_s: float) -> None:
        if not down:
            self._let_go(now_s)
        elif self._down_since_s is None:
            self._down_since_s = now_s
            self._hold(Hold.DOWN)

    def _let_go(self, now_s: float) -> None:
        if self._down_since_s is None:
            return
        tapped = self._tapped(now_s)
        self._down_since_s = None
        self._hold(Hold.DROPPED if tapped else Hold.UP)
        if tapped:
            self._take(TALK_KEY)

    def _tapped(self, now_s: float) -> bool:
        return self._down_since_s is not None and now_s - self._down_since_s < TAP_WITHIN_S
