"""Sound in: a sound device, and twins that play a script or files."""

import time
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

from assistant.ports import Sound
from hardware.portaudio import LATENCY_S, device, opened, running, shut
from hardware.sound_files import read_sound
from hardware.sounds import BLOCK_S, blocks

# The network's own rate; every other is converted by the recogniser.
WANTED_RATE_HZ = 16_000
# Unplugging raises nothing: the blocks just stop.
LOST_AFTER_S = 1.0


class DeviceMicrophone:
    """A sound device, by a part of its name or the system's default; opened by start.

    Raises:
        DeviceMissing: There is no such device; also from start.
    """

    def __init__(self, name: str | None = None) -> None:
        self._name = name
        self._stream: Any = None
        self._last_block_s = 0.0
        with device("microphone", name) as sounddevice:
            found = sounddevice.query_devices(name, "input")
        self.device_name = str(found["name"])
        self._default_rate_hz = round(found["default_samplerate"])

    def start(self, take: Callable[[Sound], None]) -> None:
        """Hand every block to `take`, which is called on the device's thread and must return."""
        with device("microphone", self._name) as sounddevice:
            try:
                self._stream = self._opened(sounddevice, take, WANTED_RATE_HZ)
            except sounddevice.PortAudioError:
                # Bare hardware takes only its own rates.
                self._stream = self._opened(sounddevice, take, self._default_rate_hz)
            self._last_block_s = time.monotonic()
            self._stream.start()

    @property
    def lost(self) -> bool:
        """Whether blocks no longer come: the device was unplugged."""
        if self._stream is None:
            return False
        silent_s = time.monotonic() - self._last_block_s
        return not running(self._stream) or silent_s > LOST_AFTER_S

    def close(self) -> None:
        """Let go of the device."""
        if self._stream is not None:
            shut(self._stream)
            self._stream = None

    def _opened(self, sounddevice: Any, take: Callable[[Sound], None], rate_hz: int) -> Any:
        def pass_on(block: Any, frames: int, timing: Any, status: Any) -> None:
            """Copy a block of mono 16-bit frames; nothing else may be done on this thread."""
            self._last_block_s = time.monotonic()
            take(Sound(rate_hz, bytes(block)))

        return opened(
            sounddevice.RawInputStream(
                samplerate=rate_hz,
                blocksize=round(BLOCK_S * rate_hz),
                device=self._name,
                channels=1,
                dtype="int16",
                latency=LATENCY_S,
                callback=pass_on,
            )
        )


class ScriptedMicrophone:
    """The twin: start hands over all its sounds, block by block, before it returns."""

    def __init__(self, sounds: Iterable[Sound]) -> None:
        self._sounds = list(sounds)
        self._ended = False

    def start(self, take: Callable[[Sound], None]) -> None:
        """Hand every block to `take`."""
        for sound in self._sounds:
            for block in blocks(sound):
                take(block)
        self._ended = True

    @property
    def lost(self) -> bool:
        """Whether it came to its end."""
        return self._ended

    def close(self) -> None:
        """Nothing to let go of."""


class FileMicrophone(ScriptedMicrophone):
    """The twin that hears WAV files, one after the other.

    Raises:
        BadSound: A file cannot be read.
    """

    def __init__(self, paths: Sequence[Path]) -> None:
        super().__init__(read_sound(path) for path in paths)
