"""A microphone and a speaker that may be unplugged, and are taken up again when they return.

Each wraps whatever opens its device, and lets go of a device that is lost.
"""

import threading
from collections.abc import Callable

from assistant.errors import DeviceMissing
from assistant.ports import Microphone, Sound, Speaker
from hardware.microphone import DeviceMicrophone
from hardware.portaudio import look_again
from hardware.speaker import DeviceSpeaker

# Soon enough for someone who has just pushed a plug in.
RETRY_S = 2.0


def plugged_in_microphone(name: str | None) -> DeviceMicrophone:
    """Return the microphone of that name among the devices that are there now.

    Raises:
        DeviceMissing: It is not there.
    """
    look_again("microphone")
    return DeviceMicrophone(name)


def plugged_in_speaker(name: str | None) -> DeviceSpeaker:
    """Return the speaker of that name among the devices that are there now.

    Raises:
        DeviceMissing: It is not there.
    """
    look_again("speaker")
    return DeviceSpeaker(name)


class ReturningMicrophone:
    """A microphone that is looked for until it is there, and again when it is lost.

    Args:
        open_device: Opens the microphone that is there now.
        told: Gets a sentence when there is none or it is lost, and when it is there again;
            on this microphone's thread.
        retry_s: How long to wait before looking again.
    """

    def __init__(
        self,
        open_device: Callable[[], Microphone],
        told: Callable[[str], None],
        retry_s: float = RETRY_S,
    ) -> None:
        self._open_device, self._told, self._retry_s = open_device, told, retry_s
        self._lost = False
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self, take: Callable[[Sound], None]) -> None:
        """Hand over every block there is to hear from now on; return at once."""
        self._thread = threading.Thread(target=self._watch, args=[take], daemon=True)
        self._thread.start()

    @property
    def lost(self) -> bool:
        """Whether there is no microphone now."""
        return self._lost

    def close(self) -> None:
        """Stop looking, and let go of the device."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join()

    def _watch(self, take: Callable[[Sound], None]) -> None:
        while not self._stop.is_set():
            try:
                self._listen(take)
            except DeviceMissing as missing:
                if not self._lost:
                    self._lost = True
                    self._told(str(missing))
            self._stop.wait(self._retry_s)

    def _listen(self, take: Callable[[Sound], None]) -> None:
        """Hand over blocks until the microphone is lost.

        Raises:
            DeviceMissing: There is none, or no longer.
        """
        microphone = self._open_device()
        try:
            microphone.start(take)
            if self._lost:
                self._lost = False
                self._told("The microphone is back.")
            while not microphone.lost:
                if self._stop.wait(self._retry_s / 4):
                    return
        finally:
            microphone.close()
        raise DeviceMissing("microphone any more", "plug it in again")


class ReturningSpeaker:
    """A speaker that is looked for again with every sound while it is not there.

    Args:
        open_device: Opens the speaker that is there now.
        told: Gets a sentence when there is none, and when it is there again.
    """

    def __init__(self, open_device: Callable[[], Speaker], told: Callable[[str], None]) -> None:
        self._open_device, self._told = open_device, told
        self._speaker: Speaker | None = None
        self._lost = False

    def play(self, sound: Sound, loudness: float = 1.0) -> None:
        """Start playing, in place of what is playing; no sound comes where there is no speaker."""
        try:
            self._play(sound, loudness)
        except DeviceMissing as missing:
            if not self._lost:
                self._lost = True
                self._told(str(missing))
        else:
            if self._lost:
                self._lost = False
                self._told("The speaker is back.")

    def cut(self) -> None:
        """Stop playing now."""
        if self._speaker is not None:
            self._speaker.cut()

    @property
    def playing(self) -> bool:
        """Whether sound is still coming out."""
        return self._speaker is not None and self._speaker.playing

    def close(self) -> None:
        """Let go of the device."""
        if self._speaker is not None:
            self._speaker.close()
            self._speaker = None

    def _play(self, sound: Sound, loudness: float) -> None:
        if self._speaker is not None:
            try:
                self._speaker.play(sound, loudness)
            except DeviceMissing:
                self.close()  # and try the one that is there now
            else:
                return
        self._speaker = self._open_device()
        self._speaker.play(sound, loudness)
