"""Words to sound: pyttsx3 in a process of its own, and a silent twin.

Each synthesiser has its own process, because two pyttsx3 engines in one share a callback
and the first then makes no sound; so two voices are as safe as one. Nothing here plays
sound: see hardware.speaker.
"""

import re
import tempfile
import threading

from assistant.errors import BadSetting, DeviceMissing, VoiceLost
from assistant.ports import Sound
from hardware.child import Child
from hardware.sounds import trimmed
from hardware.voice_process import NO_VOICE, READY

STARTED_WITHIN_S = 20.0
# A page of text takes 0.1 s on a desk machine; a child silent for longer hangs.
SPOKEN_WITHIN_S = 20.0
# What espeak misreads, and how it is spelled for it: thousandths as the Bible's "thou".
_RESPELLED = {"thou": "thow"}
_MISREAD = re.compile(rf"\b({'|'.join(_RESPELLED)})\b", re.IGNORECASE)


class PyttsxSynthesiser:
    """The real voice, ready when constructed; safe to call from several threads.

    Args:
        voice: An espeak voice by language, identifier or name, perhaps with a variant:
            "en-gb", "gmw/en-us", "en-us+f3".
        words_per_minute: 80 to 450, the range of espeak.
        volume: 0 to 1, linear.

    Raises:
        BadSetting: espeak has no such voice, or a number is out of its range.
        DeviceMissing: pyttsx3 or espeak-ng is not installed.
    """

    def __init__(
        self, voice: str = "en-gb", words_per_minute: int = 160, volume: float = 1.0
    ) -> None:
        if not 80 <= words_per_minute <= 450:
            raise BadSetting("words per minute", words_per_minute, "80 to 450")
        if not 0 < volume <= 1:
            raise BadSetting("volume", volume, "more than 0 and at most 1")
        self._voice, self._words_per_minute, self._volume = voice, words_per_minute, volume
        self._lock = threading.Lock()
        # Ours and not the child's, so that a child that is killed leaves no file behind.
        self._directory = tempfile.TemporaryDirectory(prefix="setover-voice-")
        self._child = self._started()

    @property
    def pid(self) -> int:
        """The number of the process pyttsx3 runs in."""
        return self._child.pid

    def sound(self, words: str) -> Sound:
        """Return the words as speech, without the silence at its end.

        Raises:
            VoiceLost: The voice gave no sound; if it hung or died, another has been started.
        """
        with self._lock:
            try:
                rate_hz, samples = self._child.ask(as_read(words), SPOKEN_WITHIN_S)
            except EOFError:
                self._child = self._started()
                raise VoiceLost(words) from None
        if not samples:
            raise VoiceLost(words)
        return trimmed(Sound(rate_hz, samples))

    def close(self) -> None:
        """End the child."""
        self._child.close()
        self._directory.cleanup()

    def _started(self) -> Child:
        child = Child(
            "voice_process.py",
            self._directory.name,
            self._voice,
            str(self._words_per_minute),
            str(self._volume),
        )
        try:
            greeting = child.answer(STARTED_WITHIN_S)
        except EOFError:
            greeting = "it stops while starting"
        if greeting == READY:
            return child
        child.close()
        self._directory.cleanup()
        if greeting == NO_VOICE:
            raise BadSetting("voice", self._voice, "a voice of espeak-ng, such as en-gb")
        raise DeviceMissing("voice", f"install the package libespeak-ng1 ({greeting})")


def as_read(words: str) -> str:
    """Return words as espeak must be given them to say them as the trade does."""
    return _MISREAD.sub(lambda found: _RESPELLED[found[0].lower()], words)


class SilentSynthesiser:
    """The twin: notes the words, and gives silence that lasts as long as saying them would."""

    def __init__(self, words_per_minute: int = 160) -> None:
        self._words_per_minute = words_per_minute
        self.spoken: list[str] = []

    def sound(self, words: str) -> Sound:
        """Note the words and return silence."""
        self.spoken.append(words)
        rate_hz = 22_050
        seconds = len(words.split()) * 60 / self._words_per_minute
        return Sound(rate_hz, bytes(2 * round(seconds * rate_hz)))

    def close(self) -> None:
        """Nothing to let go of."""
