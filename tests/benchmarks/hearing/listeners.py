"""Who listens: our recogniser with any vosk model, and pocketsphinx with its own."""

import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Protocol

import numpy as np

from assistant.events import Hearing
from assistant.ports import Sound
from hardware.recogniser import VoskRecogniser, hear_sound


class Listener(Protocol):
    """Hears whole recordings, and counts the time it takes."""

    name: str
    spent_s: float
    heard_s: float

    def expect(self, phrases: Sequence[str]) -> None:
        """Listen for these."""

    def hear(self, sound: Sound) -> Hearing:
        """Return what was said."""


class Vosk:
    """Our recogniser, as the assistant runs it."""

    def __init__(self, name: str, model: Path) -> None:
        self.name = name
        self.spent_s = self.heard_s = 0.0
        self._recogniser = VoskRecogniser(model)

    def expect(self, phrases: Sequence[str]) -> None:
        """Listen for these."""
        self._recogniser.expect(phrases)

    def hear(self, sound: Sound) -> Hearing:
        """Return what was said."""
        begun_s = time.perf_counter()
        hearing = hear_sound(self._recogniser, sound)
        self.spent_s += time.perf_counter() - begun_s
        self.heard_s += len(sound.samples) / 2 / sound.rate_hz
        return hearing

    def lacking(self, words: Sequence[str]) -> tuple[str, ...]:
        """Return those of the words that the model cannot hear."""
        return self._recogniser.lacking(words)

    def memory_mb(self) -> float:
        """Return how much memory the recogniser's process has used at most."""
        status = Path(f"/proc/{self._recogniser.pid}/status").read_text(encoding="ascii")
        peak = next(line for line in status.splitlines() if line.startswith("VmHWM"))
        return int(peak.split()[1]) / 1024

    def close(self) -> None:
        """End its process."""
        self._recogniser.close()


class PocketSphinx:
    """The other listener: its own US English model, one of the phrases and nothing else."""

    name = "pocketsphinx"

    def __init__(self) -> None:
        import pocketsphinx

        self.spent_s = self.heard_s = 0.0
        self._decoder: Any = pocketsphinx.Decoder(samprate=16_000, lm=None, loglevel="FATAL")

    def expect(self, phrases: Sequence[str]) -> None:
        """Listen for these."""
        choice = " | ".join(phrases)
        self._decoder.add_jsgf_string(
            "said", f"#JSGF V1.0; grammar said; public <said> = {choice};"
        )
        self._decoder.activate_search("said")

    def hear(self, sound: Sound) -> Hearing:
        """Return what was said."""
        begun_s = time.perf_counter()
        self._decoder.start_utt()
        self._decoder.process_raw(_at_16_khz(sound), full_utt=True)
        self._decoder.end_utt()
        best = self._decoder.hyp()
        self.spent_s += time.perf_counter() - begun_s
        self.heard_s += len(sound.samples) / 2 / sound.rate_hz
        return Hearing((best.hypstr,) if best and best.hypstr else ())


def _at_16_khz(sound: Sound) -> bytes:
    if sound.rate_hz == 16_000:
        return sound.samples
    from scipy.signal import resample_poly

    samples = np.frombuffer(sound.samples, "<i2").astype(np.float64)
    made = resample_poly(samples, 16_000, sound.rate_hz)
    return bytes(np.clip(np.round(made), -32_768, 32_767).astype("<i2").tobytes())
