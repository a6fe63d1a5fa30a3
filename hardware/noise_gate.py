"""Whether anything stands out from the noise of the shop, so that listening rests while not.

Recognising is what costs most; in a steady noise, loud or quiet, there is nothing to recognise.
"""

from collections import deque

import numpy as np

from assistant.ports import Sound
from hardware.level import level_db

# Speech that does not rise so far out of the noise anywhere is past recognising.
OVER_NOISE_DB = 6.0
# The noise is what one block in five is below: even fast speech has as many gaps.
NOISE_PER_CENT = 20
# A machine that is switched on is noise after most of this long.
KNOWN_FROM = 200
# Until the noise is known everything stands out.
KNOWN_AFTER = 40
# Longer than the pause that ends an utterance.
BLOCKS_AFTER = 20


class NoiseGate:
    """Says of each block of sound, all of one length, whether to listen to it."""

    def __init__(self) -> None:
        self._levels_db: deque[float] = deque(maxlen=KNOWN_FROM)
        self._blocks_left = 0

    def stands_out(self, block: Sound) -> bool:
        """Take the next block; return whether it, or one not long before it, is over the noise."""
        level = level_db(block)
        self._levels_db.append(level)
        noise = float(np.percentile(self._levels_db, NOISE_PER_CENT))
        known = len(self._levels_db) >= KNOWN_AFTER
        if not known or level > noise + OVER_NOISE_DB:
            self._blocks_left = BLOCKS_AFTER
        self._blocks_left -= 1
        return self._blocks_left >= 0
