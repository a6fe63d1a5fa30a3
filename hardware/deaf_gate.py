"""When the microphone is deaf: while the assistant speaks, so that it never hears itself."""

import math

# The last of the speech is still in the device's buffer and in the room.
DEAF_AFTER_S = 0.2


class DeafGate:
    """Says of each block of sound whether to listen to it. Time comes in as a number."""

    def __init__(self) -> None:
        self._deaf_until_s = -math.inf

    def hears(self, playing: bool, block_s: float, now_s: float) -> bool:
        """Return whether a block that ended just now was taken in with the speaker at rest.

        Args:
            playing: Whether the speaker plays now.
            block_s: How long the block lasts; all of it must lie outside the deaf time.
            now_s: Monotonic time at the block's end.
        """
        if playing:
            self._deaf_until_s = now_s + DEAF_AFTER_S
        return now_s - block_s >= self._deaf_until_s
