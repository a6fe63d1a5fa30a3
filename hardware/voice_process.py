"""Run pyttsx3: the script behind hardware.voice, in a process of its own.

Run as `python voice_process.py FD DIRECTORY VOICE WORDS_PER_MINUTE VOLUME`; the directory is
for its files. It greets with READY, or with what keeps it from working. Then each request
is the words to speak, and the answer the rate and the samples, which are empty when no
sound came.

pyttsx3 loses a property set just before it speaks, gives at times an empty file, returns
before the file is there, and drops all but the last of two utterances. So: one engine, its
properties set once and left to settle, one utterance at a time into a file of its own, and
the file looked at before it is believed.
"""

import signal
import sys
import threading
import time
import wave
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

READY = "ready"
NO_VOICE = "no such voice"

# Measured: with 0.1 s no property was lost, without it most were.
SETTLE_S = 0.1
# A file of fewer frames is the engine's mistake: even one letter takes several thousand.
FEWEST_FRAMES = 1000
FILE_WITHIN_S = 5.0
TRIES = 3


class Speech:
    """The one pyttsx3 engine of this process."""

    def __init__(
        self, engine: Any, directory: Path, voice: str, words_per_minute: int, volume: float
    ) -> None:
        self._engine = engine
        self._finished = threading.Event()
        self._engine.connect("finished-utterance", lambda name, completed: self._finished.set())
        self._directory = directory
        self._count = 0
        self._render("ready")  # the first is the one most often lost
        self._engine.setProperty("voice", voice)
        self._engine.setProperty("rate", words_per_minute)
        self._engine.setProperty("volume", volume)
        time.sleep(SETTLE_S)

    def knows(self, voice: str) -> bool:
        """Return whether espeak has the voice; it takes any name and keeps its old voice."""
        name = voice.partition("+")[0].lower()  # after a plus comes a variant of the voice
        return any(
            name in (known.id.lower(), known.name.lower(), *known.languages)
            for known in self._engine.getProperty("voices")
        )

    def sound(self, words: str) -> tuple[int, bytes]:
        """Return the rate and the samples of the words spoken, none if it failed each time."""
        for _ in range(TRIES):
            rate_hz, samples = self._render(words)
            if len(samples) > 2 * FEWEST_FRAMES:
                return rate_hz, samples
        return 1, b""

    def _render(self, words: str) -> tuple[int, bytes]:
        self._count += 1
        path = self._directory / f"{self._count}.wav"
        self._finished.clear()
        self._engine.save_to_file(words, str(path))
        self._engine.runAndWait()
        deadline_s = time.monotonic() + FILE_WITHIN_S
        self._finished.wait(FILE_WITHIN_S)
        while not path.exists():
            if time.monotonic() > deadline_s:
                return 1, b""
            time.sleep(0.005)
        try:
            with wave.open(str(path)) as file:
                return file.getframerate(), file.readframes(file.getnframes())
        except (wave.Error, EOFError):  # not yet written
            return 1, b""
        finally:
            path.unlink()


def main(
    pipe: Connection, directory: Path, voice: str, words_per_minute: int, volume: float
) -> None:
    """Greet, then answer every request until the other end of the pipe closes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        import pyttsx3

        engine = pyttsx3.init()
    except (ImportError, OSError, RuntimeError) as missing:
        pipe.send(str(missing))
        return
    speech = Speech(engine, directory, voice, words_per_minute, volume)
    pipe.send(READY if speech.knows(voice) else NO_VOICE)
    while True:
        try:
            words = pipe.recv()
        except EOFError:
            return
        pipe.send(speech.sound(words))


if __name__ == "__main__":
    _, fd, path, name, rate, level = sys.argv
    main(Connection(int(fd)), Path(path), name, int(rate), float(level))
