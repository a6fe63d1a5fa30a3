"""What the speaker and the microphone share: the sound library, loaded late and kept quiet."""

import contextlib
import os
import threading
from collections.abc import Iterator
from typing import Any

from assistant.errors import DeviceMissing

# Small enough to be cut short promptly; "low" makes the pulse plug-in stumble.
LATENCY_S = 0.1

_quiet = threading.Lock()


@contextlib.contextmanager
def quiet() -> Iterator[None]:
    """Send file descriptor 2 nowhere: ALSA and PortAudio write to it as they open devices."""
    with _quiet, open(os.devnull, "wb") as nowhere:
        terminal = os.dup(2)
        try:
            os.dup2(nowhere.fileno(), 2)
            yield
        finally:
            os.dup2(terminal, 2)
            os.close(terminal)


@contextlib.contextmanager
def device(part: str, name: str | None) -> Iterator[Any]:
    """Give the sounddevice module, quietly, to open a device with.

    Raises:
        DeviceMissing: Whatever goes wrong in the library, with what to do about it.
    """
    with quiet():
        try:
            import sounddevice
        except (ImportError, OSError):
            raise DeviceMissing(part, "install the package libportaudio2") from None
        try:
            yield sounddevice
        except (sounddevice.PortAudioError, ValueError):
            wanted = "a sound device" if name is None else f"the sound device {name}"
            raise DeviceMissing(
                part, f"plug in {wanted}, or name another in the settings; then start again"
            ) from None
