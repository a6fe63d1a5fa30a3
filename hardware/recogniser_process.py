"""Run vosk: the script behind hardware.recogniser, in a process of its own.

Run as `python recogniser_process.py FD MODEL_DIRECTORY`. It greets with READY, or with what
keeps it from working. Then each request is the name of a method of Listener and its
arguments.

vosk proposes sentences while it hears them; when one has ended, a second listener, if the model
has one, hears it while vosk makes up its mind. agreement.py tells what comes of both.
"""

import ctypes
import json
import os
import signal
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache, partial
from multiprocessing.connection import Connection
from pathlib import Path
from types import ModuleType
from typing import Any

from hardware.agreement import NOT_WRITTEN, Agreement
from hardware.phone_paths import UNKNOWN
from hardware.second_listener import clearness

READY = "ready"
BAD_MODEL = "bad model"

# What is asked of glibc (mallopt(3), malloc.h). Blocks of memory from this size on go back when
# they are let go of, smaller ones between utterances when the process holds more than KEPT: left
# to itself glibc held 161 MB after 460 utterances instead of 139. Given back sooner, blocks from
# 1 MB or all after every utterance, they cost up to a twentieth of the time. Both listeners take
# from one store, or 4 to 8 MB more stay behind.
M_MMAP_THRESHOLD, GIVEN_BACK_FROM = -3, 4 << 20
M_TRIM_THRESHOLD, KEPT_WITHIN_AN_UTTERANCE = -1, 64 << 20
M_ARENA_MAX, STORES = -8, 1
KEPT = 133 * 10**6
# So much sound is kept for the second listener, more than it takes; noise may go on for longer.
KEPT_S = 15
# What is made of so many lists of phrases is kept, for a conversation comes back to them. To
# listen again for one takes 1 ms instead of 12, and vosk, which lays out its graph as it hears,
# then takes three quarters of the time. Each takes 2 MB.
EXPECTED_KEPT = 4

# Alternatives with their scores, the likeliest first; what vosk heard unaided, without UNKNOWN,
# None if only vosk listened; how clear it was; how likely the third would write it. As in
# assistant.events.Hearing.
Weighed = tuple[dict[str, float], str | None, float, float]
NOTHING: Weighed = ({}, None, 0.0, 0.0)


class Expected:
    """The phrases listened for, as vosk has them, and what others make of them."""

    def __init__(
        self, vosk: Any, model: Any, agreement: Agreement | None, phrases: Sequence[str]
    ) -> None:
        self._vosk, self._model = vosk, model
        # A phrase with a word the model lacks would be shortened by vosk to another phrase.
        lacked = set(lacking(model, sorted(set(" ".join(phrases).split()))))
        self._phrases = [p for p in phrases if not lacked or lacked.isdisjoint(p.split())]
        self.by_others = agreement.expecting(self._phrases) if agreement else None
        self._recogniser: Any = None
        self._rate_hz = 0

    def recogniser(self, rate_hz: int) -> Any:
        """Return vosk's."""
        if self._rate_hz != rate_hz:
            # Escaped letters would be unknown words: no ASCII-only JSON.
            grammar = json.dumps([*self._phrases, UNKNOWN], ensure_ascii=False)
            self._recogniser = self._vosk.KaldiRecognizer(self._model, rate_hz, grammar)
            self._rate_hz = rate_hz
        return self._recogniser

    def forget(self) -> None:
        """Let go of vosk's recogniser."""
        self._recogniser, self._rate_hz = None, 0


def lacking(model: Any, words: Sequence[str]) -> list[str]:
    """Return those of the words that a vosk model cannot hear."""
    return [word for word in words if model.vosk_model_find_word(word) < 0]


class Listener:
    """One vosk model and the recogniser of the utterance in progress."""

    def __init__(self, vosk: Any, model_directory: str) -> None:
        self._model = vosk.Model(model_path=model_directory)
        model = Path(model_directory)
        self._agreement = Agreement(model) if Agreement.is_in(model) else None
        self._beside = ThreadPoolExecutor(1)
        self._sound = bytearray()
        self._kept = lru_cache(EXPECTED_KEPT)(partial(Expected, vosk, self._model, self._agreement))
        self._expected = self._kept(())
        self._recogniser: Any = None
        self._hearing = False
        self._rate_hz = 0
        self._alternatives = 1

    @property
    def begun(self) -> bool:
        """Whether there is sound of an utterance that has not ended."""
        return bool(self._sound)

    def lacking(self, words: Sequence[str]) -> list[str]:
        """Return those of the words that the model cannot hear."""
        return lacking(self._model, words)

    def expect(self, phrases: tuple[str, ...], alternatives: int) -> None:
        """Listen for the phrases from the next block of sound on."""
        # SetGrammar in the middle of an utterance aborts the process; another recogniser cannot.
        # Of the last third of a second something stays even after Reset: of words it must not.
        if self._hearing:
            self._expected.forget()
        elif self._recogniser is not None:
            self._recogniser.Reset()
        self._recogniser, self._hearing = None, False
        self._expected = self._kept(phrases)
        self._alternatives = alternatives
        self._sound.clear()

    def begin_anew(self) -> None:
        """Between utterances, let go of the graphs that vosk has laid out as it heard.

        One grows by some 30 MB in six hundred sentences.
        """
        self._kept.cache_clear()
        self._expected.forget()
        self._recogniser = None

    def accept(self, rate_hz: int, samples: bytes) -> tuple[Weighed, bool]:
        """Take a block; return what was heard, nothing until a pause ends it.

        The second tells whether a word of the utterance has been made out. Noise alone is
        UNKNOWN and makes none.
        """
        if self._recogniser is None or rate_hz != self._rate_hz:
            self._recogniser = self._expected.recogniser(rate_hz)
            self._recogniser.SetMaxAlternatives(self._alternatives)
            self._rate_hz = rate_hz
            self._sound.clear()
        self._sound += samples
        del self._sound[: -2 * KEPT_S * rate_hz]
        self._hearing = False
        if self._recogniser.AcceptWaveform(samples):
            return self._weighed(self._recogniser.Result), False
        # Measured: 0.05 to 0.2 ms.
        so_far = json.loads(self._recogniser.PartialResult())["partial"].split()
        self._hearing = any(word != UNKNOWN for word in so_far)
        return NOTHING, self._hearing

    def finish(self) -> Weighed:
        """Return what was heard of the utterance so far, and end it."""
        self._hearing = False
        if self._recogniser is None:
            return NOTHING
        return self._weighed(self._recogniser.FinalResult)

    def _weighed(self, result: Callable[[], str]) -> Weighed:
        """Return the alternatives by what both listeners say; vosk's come as a result."""
        sound = bytes(self._sound)
        self._sound.clear()
        if self._agreement is None or not sound:
            return _by_one(_scores(result()))
        # Neither holds the interpreter while it works, so both listen at once.
        heard = self._beside.submit(self._agreement.hear, sound, self._rate_hz)
        proposed, logs = _scores(result()), heard.result()
        if not proposed or logs is None:
            return _by_one(proposed)
        assert self._expected.by_others is not None
        weighed, written = self._agreement.weighed(
            proposed, logs, sound, self._rate_hz, self._expected.by_others
        )
        if not weighed:
            return NOTHING
        best = sorted(weighed.items(), key=lambda each: -each[1])
        unaided = " ".join(word for word in next(iter(proposed)).split() if word != UNKNOWN)
        return dict(best[: self._alternatives]), unaided, clearness(logs), written


def _by_one(proposed: dict[str, float]) -> Weighed:
    return (proposed, None, 0.0, NOT_WRITTEN) if proposed else NOTHING


def _scores(result: str) -> dict[str, float]:
    """Return the alternatives with their scores, the likeliest first."""
    found: dict[str, float] = {}
    for alternative in json.loads(result)["alternatives"]:
        text = alternative["text"].strip()
        if text:
            # vosk calls it a confidence; it is the log likelihood of sound and words together.
            found.setdefault(text, alternative["confidence"])
    return found


def main(pipe: Connection, model_directory: str) -> None:
    """Greet, then answer every request until the other end of the pipe closes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    libc = ctypes.CDLL(None)
    libc.mallopt(M_MMAP_THRESHOLD, GIVEN_BACK_FROM)
    libc.mallopt(M_TRIM_THRESHOLD, KEPT_WITHIN_AN_UTTERANCE)
    libc.mallopt(M_ARENA_MAX, STORES)
    # vosk needs requests only to fetch models, which never happens here; loading it opens an
    # internet socket, and takes 6 MB.
    sys.modules["requests"] = ModuleType("requests")
    try:
        import vosk
    except (ImportError, OSError) as missing:
        pipe.send(str(missing))
        return
    vosk.SetLogLevel(-2)
    try:
        listener = Listener(vosk, model_directory)
    except Exception:  # vosk has no other name for it
        pipe.send(BAD_MODEL)
        return
    pipe.send(READY)
    while True:
        try:
            name, *arguments = pipe.recv()
        except EOFError:
            return
        begun = listener.begun
        pipe.send(getattr(listener, name)(*arguments))
        if begun and not listener.begun and _held() > KEPT:
            libc.malloc_trim(0)
            if _held() > KEPT:
                listener.begin_anew()
                libc.malloc_trim(0)


def _held() -> int:
    """Return how many bytes of memory this process holds."""
    pages = Path("/proc/self/statm").read_text(encoding="ascii").split()[1]
    return int(pages) * os.sysconf("SC_PAGE_SIZE")


if __name__ == "__main__":
    main(Connection(int(sys.argv[1])), sys.argv[2])
