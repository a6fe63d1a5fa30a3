"""Sound out: a sound device, and twins that keep what they play."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from assistant.ports import Sound
from hardware.portaudio import LATENCY_S, device, opened, running, shut
from hardware.sound_files import write_sound
from hardware.sounds import at_loudness, at_rate


class DeviceSpeaker:
    """A sound device, by a part of its name or the system's default.

    Raises:
        DeviceMissing: There is no such device; also from play, when it has gone.
    """

    def __init__(self, name: str | None = None) -> None:
        self._name = name
        self._stream: Any = None
        with device("speaker", name) as sounddevice:
            found = sounddevice.query_devices(name, "output")
        self.device_name = str(found["name"])
        self._default_rate_hz = round(found["default_samplerate"])

    def play(self, sound: Sound, loudness: float = 1.0) -> None:
        """Start playing, in place of what is playing; return at once."""
        self.cut()
        sound = at_loudness(sound, loudness)
        with device("speaker", self._name) as sounddevice:
            try:
                self._stream = self._opened(sounddevice, sound)
            except sounddevice.PortAudioError:
                # Bare hardware takes only its own rates.
                self._stream = self._opened(sounddevice, at_rate(sound, self._default_rate_hz))
            self._stream.start()

    def cut(self) -> None:
        """Stop playing now."""
        if self._stream is not None:
            shut(self._stream)
            self._stream = None

    @property
    def playing(self) -> bool:
        """Whether sound is still coming out."""
        return running(self._stream)

    def close(self) -> None:
        """Let go of the device."""
        self.cut()

    def _opened(self, sounddevice: Any, sound: Sound) -> Any:
        remaining = memoryview(sound.samples)

        def fill(block: Any, frames: int, time: Any, status: Any) -> None:
            """Copy the next of the sound into the block: mono 16-bit frames.

            Called on the device's thread, which must never wait.
            """
            nonlocal remaining
            part = remaining[: len(block)]
            block[: len(part)] = part
            block[len(part) :] = bytes(len(block) - len(part))
            remaining = remaining[len(part) :]
            if not remaining:
                raise sounddevice.CallbackStop  # what is in the buffer is still played

        return opened(
            sounddevice.RawOutputStream(
                samplerate=sound.rate_hz,
                device=self._name,
                channels=1,
                dtype="int16",
                latency=LATENCY_S,
                callback=fill,
            )
        )


@dataclass(frozen=True, slots=True)
class Played:
    """A sound and the times it began and was cut or came to its end."""

    sound: Sound
    start_s: float
    end_s: float


class MemorySpeaker:
    """The twin: keeps what it plays and when, by a clock that may be moved by hand.

    Args:
        now: Returns the time in seconds.
    """

    def __init__(self, now: Callable[[], float]) -> None:
        self._now = now
        self.played: list[Played] = []

    def play(self, sound: Sound, loudness: float = 1.0) -> None:
        """Note the sound and the time."""
        self.cut()
        sound = at_loudness(sound, loudness)
        start_s = self._now()
        self.played.append(Played(sound, start_s, start_s + sound.seconds))

    def cut(self) -> None:
        """Note that the last sound ended now."""
        if self.playing:
            last = self.played[-1]
            self.played[-1] = Played(last.sound, last.start_s, self._now())

    @property
    def playing(self) -> bool:
        """Whether the last sound is not yet at its end."""
        return bool(self.played) and self._now() < self.played[-1].end_s

    def close(self) -> None:
        """Stop."""
        self.cut()

    def recording(self, rate_hz: int = 22_050) -> Sound:
        """Return all that came out since the first sound began, with the silences between."""
        samples = bytearray()
        for played in self.played:
            start = 2 * round((played.start_s - self.played[0].start_s) * rate_hz)
            size = 2 * round((played.end_s - played.start_s) * rate_hz)
            samples.extend(bytes(max(0, start - len(samples))))
            samples.extend(at_rate(played.sound, rate_hz).samples[:size])
        return Sound(rate_hz, bytes(samples))


class FileSpeaker(MemorySpeaker):
    """The twin that writes all it played into one WAV file when it is closed."""

    def __init__(self, path: Path, now: Callable[[], float]) -> None:
        super().__init__(now)
        self._path = path

    def close(self) -> None:
        """Stop, and write the file."""
        super().close()
        write_sound(self._path, self.recording())
