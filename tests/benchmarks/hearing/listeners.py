"""Who listens: our recogniser with any vosk model, and pocketsphinx with its own."""

import math
import os
import signal
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Protocol

import numpy as np

from assistant.events import Hearing
from assistant.language.listening import NO_WORD
from assistant.ports import Sound
from grammars.acoustic.recipe.graph import DISCOUNT, Lexicon, read_lexicon, write_graphs
from grammars.acoustic.recipe.phones import transition_model
from hardware.recogniser import (
    SILENCE_AFTER_S,
    SILENCE_BEFORE_S,
    VoskRecogniser,
    hear_sound,
)

_TICKS_A_SECOND = os.sysconf("SC_CLK_TCK")


class Listener(Protocol):
    """Hears whole recordings, and counts the processor's time it takes."""

    name: str
    spent_s: float
    heard_s: float

    def lacking(self, words: Sequence[str]) -> tuple[str, ...]:
        """Return those of the words that it cannot hear."""

    def expect(self, phrases: Sequence[str]) -> None:
        """Listen for chains of words as these are, and for sounds of no word."""

    def choose(self, words: Sequence[str]) -> None:
        """Listen for these words and nothing else."""

    def hear(self, sound: Sound) -> Hearing:
        """Return what was said."""

    def with_words(self, lexicon: Lexicon) -> "Listener":
        """Return such a listener that knows these words and no others."""

    def close(self) -> None:
        """Let go of what it holds."""


class Vosk:
    """Our recogniser, as the assistant runs it."""

    def __init__(self, name: str, model: Path) -> None:
        self.name, self.model = name, model
        self.spent_s = self.heard_s = 0.0
        begun_s = time.perf_counter()
        self._recogniser = VoskRecogniser(model)
        self.ready_s = time.perf_counter() - begun_s
        self.ready_cpu_s = _cpu_s(self._recogniser.pid)
        self._chooses = False

    def lacking(self, words: Sequence[str]) -> tuple[str, ...]:
        """Return those of the words that the model cannot hear."""
        return self._recogniser.lacking(words)

    def expect(self, phrases: Sequence[str]) -> None:
        """Listen for chains of words as these are, and for sounds of no word."""
        self._chooses = False
        self._recogniser.expect(phrases)

    def choose(self, words: Sequence[str]) -> None:
        """Listen for these words and nothing else: what is heard of no word is left out."""
        self.expect(words)
        self._chooses = True

    def hear(self, sound: Sound) -> Hearing:
        """Return what was said."""
        begun_s = _cpu_s(self._recogniser.pid)
        hearing = hear_sound(self._recogniser, sound)
        self.spent_s += _cpu_s(self._recogniser.pid) - begun_s
        self.heard_s += sound.seconds + SILENCE_BEFORE_S + SILENCE_AFTER_S
        if not self._chooses:
            return hearing
        words = (said for said in hearing.alternatives if NO_WORD not in said.split())
        return Hearing(tuple(words))

    def with_words(self, lexicon: Lexicon) -> "Vosk":
        """Return the same network with other graphs.

        Raises:
            ValueError: The network was not made for our phones.
        """
        network = self.model / "am" / "final.mdl"
        if not network.read_bytes().startswith(b"\0B" + transition_model()):
            raise ValueError(f"a network for other phones: {network}")
        with tempfile.TemporaryDirectory() as scratch:
            for part in ("am", "conf", "second", "third"):
                Path(scratch, part).symlink_to((self.model / part).resolve())
            write_graphs(Path(scratch, "graph"), lexicon, [])
            return Vosk(self.name, Path(scratch))

    def memory_mb(self) -> float:
        """Return how much memory the recogniser's process has used at most."""
        status = Path(f"/proc/{self._recogniser.pid}/status").read_text(encoding="ascii")
        peak = next(line for line in status.splitlines() if line.startswith("VmHWM"))
        return int(peak.split()[1]) / 1024

    def switches_s(self, contexts: Sequence[Sequence[str]]) -> list[float]:
        """Return how long each change of what to expect takes, with the first block after it.

        Less what that block takes by itself.
        """
        block, taken = Sound(16_000, bytes(1_600)), []
        for phrases in contexts:
            begun_s = time.perf_counter()
            self._recogniser.expect(phrases)
            self._recogniser.accept(block)
            changed_s = time.perf_counter()
            self._recogniser.accept(block)
            taken.append(2 * changed_s - begun_s - time.perf_counter())
        return taken

    def return_s(self, phrases: Sequence[str]) -> float:
        """Return how long after it was killed the recogniser listens again."""
        self._recogniser.expect(phrases)
        os.kill(self._recogniser.pid, signal.SIGKILL)
        begun_s = time.perf_counter()
        self._recogniser.expect(phrases)
        self._recogniser.accept(Sound(16_000, bytes(1_600)))
        return time.perf_counter() - begun_s

    def close(self) -> None:
        """End its process."""
        self._recogniser.close()


class PocketSphinx:
    """The other listener: its own US English model, and word pairs of the same phrases.

    It cannot be told of sounds that are no words.
    """

    name = "pocketsphinx"

    def __init__(self, lexicon: Lexicon | None = None) -> None:
        import pocketsphinx

        self.spent_s = self.heard_s = 0.0
        self._decoder: Any = pocketsphinx.Decoder(samprate=16_000, lm=None, loglevel="FATAL")
        for word, spellings in (lexicon or read_lexicon()).items():
            if self._decoder.lookup_word(word) is None:
                for count, phones in enumerate(spellings, start=1):
                    name = word if count == 1 else f"{word}({count})"
                    self._decoder.add_word(name, " ".join(phones), False)

    def spelling(self, word: str) -> tuple[str, ...] | None:
        """Return how its own dictionary spells a word, in our phones."""
        found = self._decoder.lookup_word(word)
        return tuple(found.split()) if found else None

    def lacking(self, words: Sequence[str]) -> tuple[str, ...]:
        """Return those of the words that its dictionary lacks."""
        return tuple(word for word in words if self._decoder.lookup_word(word) is None)

    def expect(self, phrases: Sequence[str]) -> None:
        """Listen for chains of words as these are."""
        with tempfile.NamedTemporaryFile("w", suffix=".arpa") as file:
            file.write(word_pairs([phrase.split() for phrase in phrases]))
            file.flush()
            self._decoder.add_lm_file("said", file.name)
        self._decoder.activate_search("said")

    def choose(self, words: Sequence[str]) -> None:
        """Listen for one of these words."""
        said = f"#JSGF V1.0; grammar said; public <said> = {' | '.join(words)};"
        self._decoder.add_jsgf_string("said", said)
        self._decoder.activate_search("said")

    def hear(self, sound: Sound) -> Hearing:
        """Return what was said."""
        samples = _at_16_khz(sound)
        begun_s = time.process_time()
        self._decoder.start_utt()
        self._decoder.process_raw(samples, full_utt=True)
        self._decoder.end_utt()
        best = self._decoder.hyp()
        self.spent_s += time.process_time() - begun_s
        self.heard_s += sound.seconds
        return Hearing((best.hypstr,) if best and best.hypstr else ())

    def with_words(self, lexicon: Lexicon) -> "PocketSphinx":
        """Return one that knows these words too."""
        return PocketSphinx(lexicon)

    def close(self) -> None:
        """Nothing to let go of."""


def word_pairs(sentences: Sequence[Sequence[str]]) -> str:
    """Return a word-pair model of the sentences in the ARPA form, discounted as vosk's is."""
    single: Counter[str] = Counter()
    pairs: dict[str, Counter[str]] = defaultdict(Counter)
    for sentence in sentences:
        for before, word in zip(["<s>", *sentence], [*sentence, "</s>"], strict=True):
            single[word] += 1
            pairs[before][word] += 1
    total = single.total()
    words = ["<s>", *sorted(single)]
    kept = {w: DISCOUNT * len(pairs[w]) / pairs[w].total() if pairs[w] else 1.0 for w in words}
    ones = [
        f"{math.log10(single[w] / total) if w != '<s>' else -99:.4f} {w} {math.log10(kept[w]):.4f}"
        for w in words
    ]
    # What a pair's word takes by itself is added to its discounted share.
    twos = [
        f"{math.log10((n - DISCOUNT) / pairs[b].total() + kept[b] * single[w] / total):.4f} {b} {w}"
        for b in words
        for w, n in sorted(pairs[b].items())
    ]
    sizes = f"\\data\\\nngram 1={len(ones)}\nngram 2={len(twos)}\n\n"
    body = ["\\1-grams:", *ones, "", "\\2-grams:", *twos, "", "\\end\\", ""]
    return sizes + "\n".join(body)


def _at_16_khz(sound: Sound) -> bytes:
    if sound.rate_hz == 16_000:
        return sound.samples
    from scipy.signal import resample_poly

    samples = np.frombuffer(sound.samples, "<i2").astype(np.float64)
    made = resample_poly(samples, 16_000, sound.rate_hz)
    return bytes(np.clip(np.round(made), -32_768, 32_767).astype("<i2").tobytes())


def _cpu_s(pid: int) -> float:
    """Return the processor's time that a process has taken."""
    # After the name, which may hold spaces: fields 14 and 15 of proc(5).
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / _TICKS_A_SECOND
