"""What the speaker and the microphone share: the sound library, loaded late and kept quiet."""

import contextlib
import os
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from assistant.errors import DeviceMissing

# Small enough to be cut short promptly; "low" makes the pulse plug-in stumble.
LATENCY_S = 0.1

# Linux lists the cards here.
CARDS = Path("/proc/asound/cards")

_quiet = threading.Lock()
_open_streams: list[Any] = []
_cards = b""


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
        sounddevice = _library(part)
        try:
            yield sounddevice
        except (sounddevice.PortAudioError, ValueError):
            wanted = "a sound device" if name is None else f"the sound device {name}"
            raise DeviceMissing(
                part, f"plug in {wanted}, or name another in the settings; then start again"
            ) from None


def opened(stream: Any) -> Any:
    """Return a stream just opened, now known to `look_again`."""
    _open_streams.append(stream)
    return stream


def running(stream: Any) -> bool:
    """Return whether a stream runs; asked while another thread closes it the library fails."""
    with _quiet:
        return stream in _open_streams and bool(stream.active)


def shut(stream: Any) -> None:
    """Close a stream; one that `look_again` has closed already is left alone."""
    with _quiet:
        if stream in _open_streams:
            _open_streams.remove(stream)
            stream.abort()
            stream.close()


def look_again(part: str) -> None:
    """Have the library find the devices that are there now: it looks once, at its start.

    That ends every stream, of other parts too. So while one is running this looks only when
    a sound card has come or gone since.

    Raises:
        DeviceMissing: The library is not installed.
    """
    global _cards
    with quiet():
        sounddevice = _library(part)
        cards = CARDS.read_bytes() if CARDS.exists() else b""
        if cards == _cards and any(stream.active for stream in _open_streams):
            return
        _cards = cards
        while _open_streams:
            stream = _open_streams.pop()
            stream.abort()
            stream.close()
        sounddevice._terminate()
        sounddevice._initialize()


def _library(part: str) -> Any:
    try:
        import sounddevice
    except (ImportError, OSError):
        raise DeviceMissing(part, "install the package libportaudio2") from None
    return sounddevice
