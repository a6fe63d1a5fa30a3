"""When the microphone is listened to, and when an utterance is at its end.

With the pedal down every block is heard until it is let go, pauses and all; without, only in
open listening, while the speaker is at rest and something stands out from the noise, and a pause
ends the utterance.
"""

import math
from collections import deque

from assistant.errors import RecogniserLost
from assistant.events import Hearing
from assistant.ports import Recogniser, Sound
from hardware.contact import BOUNCE_S
from hardware.deaf_gate import DeafGate
from hardware.noise_gate import NoiseGate
from hardware.recogniser import joined

# A block comes so long after the sound it holds: as asked of the sound library.
LATE_S = 0.1
# What came just before the pedal went down is heard with it: people begin to speak as they
# press, and the network misses a word that begins with the sound itself.
BEFORE_BLOCKS = 6
# After a loss, open listening begins again with the next pause, or when this long has been
# without words: the rest of a sentence must not be taken for a sentence.
QUIET_AFTER_LOSS_S = 1.0
# At rest the recogniser is looked after this often; every block took 3 % of a core.
REST_S = 0.5
# Enough of the alternatives of an utterance in parts.
MOST_ALTERNATIVES = 10


class Listening:
    """Hands blocks of sound to a recogniser, and gives back whole utterances.

    Time comes in as a number, and never runs backwards.

    Args:
        recogniser: Told what to expect by somebody else.
        openly: Whether to listen while the pedal is up.
    """

    def __init__(self, recogniser: Recogniser, openly: bool) -> None:
        self._recogniser, self._openly = recogniser, openly
        self._gate = DeafGate()
        self._held = False
        self._since_s, self._until_s = math.inf, math.inf
        self._before: deque[Sound] = deque(maxlen=BEFORE_BLOCKS)
        self._noise = NoiseGate()
        # The same for what stands out of the noise: its first sound may be in it.
        self._skipped: deque[Sound] = deque(maxlen=BEFORE_BLOCKS)
        self._rested_s = 0.0
        self._parts: list[Hearing] = []
        self._lost_at_s = -math.inf

    @property
    def held(self) -> bool:
        """Whether an utterance by pedal has not yet come to its end."""
        return self._held

    def pedal(self, down: bool, now_s: float) -> None:
        """Take that the pedal went down or up; whoever plays sound stops it first.

        Raises:
            RecogniserLost: The recogniser was found dead; the utterance that begins is heard.
        """
        if down:
            self._parts = []
            self._held, self._since_s, self._until_s = True, now_s, math.inf
            self._recogniser.finish()  # what was heard openly is none of this utterance
        elif self._held:
            # The contact opened so long ago: what it waited for to hold still is no speech.
            self._until_s = now_s - BOUNCE_S

    def drop(self) -> None:
        """Take that the pedal was not held to talk: nothing was said by it.

        Raises:
            RecogniserLost: The recogniser was found dead.
        """
        if self._held:
            self._held = False
            self._recogniser.finish()

    def accept(self, sound: Sound, playing: bool, now_s: float) -> Hearing | None:
        """Take a block that came just now; return what was said once the utterance has ended.

        Raises:
            RecogniserLost: The recogniser died in the utterance, which is dropped.
        """
        try:
            return self._heard(sound, playing, now_s)
        except RecogniserLost:
            self._held, self._lost_at_s = False, now_s
            self._before.clear()
            raise

    def _heard(self, sound: Sound, playing: bool, now_s: float) -> Hearing | None:
        heard_until_s = now_s - LATE_S
        open_now = self._gate.hears(playing, sound.seconds, now_s)
        if not self._held or heard_until_s <= self._since_s:
            self._remember(sound, open_now)
            listened = self._openly and open_now and not self._held
            if not listened:
                self._skipped.clear()
            hearing = self._openly_heard(sound) if listened else None
            if self._in_what_was_lost(hearing, now_s):
                return None
            # Openly, a sound without a word is the shop's; by pedal, somebody spoke.
            return hearing if hearing is not None and hearing.alternatives else None
        for block in (*self._before, sound):
            part = self._recogniser.accept(block)
            if part is not None:
                self._parts.append(part)
        self._before.clear()
        return self._ended() if heard_until_s >= self._until_s else None

    def _openly_heard(self, sound: Sound) -> Hearing | None:
        if not self._noise.stands_out(sound) and not self._recogniser.hearing:
            self._skipped.append(sound)
            self._rested_s += sound.seconds
            if self._rested_s < REST_S:
                return None
            # Nothing to hear: its death is found now and not in the middle of the next word.
            self._rested_s = 0.0
            return self._recogniser.accept(Sound(sound.rate_hz, b""))
        hearing = None
        for block in (*self._skipped, sound):
            hearing = self._recogniser.accept(block) or hearing
        self._skipped.clear()
        return hearing

    def _in_what_was_lost(self, hearing: Hearing | None, now_s: float) -> bool:
        going_on = self._recogniser.hearing or now_s < self._lost_at_s + QUIET_AFTER_LOSS_S
        lost = self._lost_at_s > -math.inf and (hearing is not None or going_on)
        if hearing is not None or not lost:
            self._lost_at_s = -math.inf
        return lost

    def _remember(self, sound: Sound, heard: bool) -> None:
        if not heard:  # our own voice: silence in its place
            sound = Sound(sound.rate_hz, bytes(len(sound.samples)))
        self._before.append(sound)

    def _ended(self) -> Hearing:
        self._held = False
        return joined([*self._parts, self._recogniser.finish()], MOST_ALTERNATIVES)
