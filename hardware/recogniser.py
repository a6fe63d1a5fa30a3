"""Sound to words: vosk in a process of its own, and a scripted twin.

vosk can abort the process it runs in, so it runs in a child, which is started again when it
dies. What vosk gives back is any chain of the expected words: the assistant's own grammar
decides what it means.
"""

import contextlib
import itertools
import zlib
from collections import deque
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from assistant.errors import DeviceMissing, ModelIncomplete, RecogniserLost
from assistant.events import Hearing
from assistant.ports import Recogniser, Sound
from hardware.child import Child
from hardware.recogniser_process import BAD_MODEL, READY
from hardware.sounds import blocks

# Of a model made for runtime grammars. Others are optional: the words may stand in Gr.fst.
NEEDED_FILES = (
    "am/final.mdl",
    "conf/mfcc.conf",
    "conf/model.conf",
    "graph/Gr.fst",
    "graph/HCLr.fst",
)

# Of every file of a model that has it, the CRC-32 and the name.
CONTENTS = "contents.txt"

# The hiss of a quiet room, 60 dB below full scale, under everything that is heard: the network
# was trained with noise, and bare zeros, which files and the place of our own voice are full of,
# are no sound it knows. Of 1,000 human digits an earlier one had 77 % right without, 83 with it.
HISS_RMS = 33

# Enough for a broken graph or network to show.
TRIAL = Sound(16_000, bytes(16_000))

# A slow board takes several seconds to load a large model and to hear its first sound, more when it
# is busy; a child silent for longer hangs.
LOADED_WITHIN_S = 60.0
ANSWERED_WITHIN_S = 20.0

# The network was trained on sound that does not begin or end with a word.
SILENCE_BEFORE_S = 0.3
# Longer than the pause that ends an utterance that may be complete, 0.35 s.
SILENCE_AFTER_S = 0.6


class VoskRecogniser:
    """The real recogniser, ready when constructed.

    A phrase with a word the model lacks is left out whole, see `lacking`. A rate that changes
    between two blocks begins a new utterance.

    Raises:
        ModelIncomplete: The model's directory lacks a file, or vosk cannot read one.
        DeviceMissing: vosk is not installed, or a library it needs is not.
    """

    def __init__(self, model_directory: Path, alternatives: int = 10) -> None:
        self._model_directory = model_directory
        self._alternatives = alternatives
        self._phrases: tuple[str, ...] = ()
        self._hearing = False
        self._hiss = np.random.default_rng(0)
        self._child = self._started()

    @property
    def pid(self) -> int:
        """The number of the process vosk runs in."""
        return self._child.pid

    def lacking(self, words: Iterable[str]) -> tuple[str, ...]:
        """Return those of the words that the model cannot hear."""
        return tuple(self._ask("lacking", list(words)))

    def expect(self, phrases: Sequence[str]) -> None:
        """Listen for these words from the next utterance on; the utterance begun is dropped."""
        self._phrases = tuple(phrases)
        self._begin()
        # When the child is found dead here, no words are lost: the new one was told.
        with contextlib.suppress(RecogniserLost):
            self._ask("expect", self._phrases, self._alternatives)

    def accept(self, sound: Sound) -> Hearing | None:
        """Take a block of sound; return what was said once a pause ends the utterance.

        A pause after no words at all ends nothing.

        Raises:
            RecogniserLost: The child died; another listens for the same phrases.
        """
        weighed, hearing = self._ask("accept", sound.rate_hz, self._over_hiss(sound.samples))
        heard = _hearing(*weighed)
        if not heard.alternatives:
            self._hearing = hearing
            return None
        self._begin()
        return heard

    @property
    def hearing(self) -> bool:
        """Whether an utterance has begun: a word was made out, and no pause has ended it."""
        return self._hearing

    def finish(self) -> Hearing:
        """End the utterance now and return what was heard of it.

        Raises:
            RecogniserLost: The child died; another listens for the same phrases.
        """
        self._begin()
        return _hearing(*self._ask("finish"))

    def close(self) -> None:
        """End the child."""
        self._child.close()

    def _begin(self) -> None:
        self._hearing = False
        # The same for every utterance, so that a recording is heard alike each time.
        self._hiss = np.random.default_rng(0)

    def _over_hiss(self, samples: bytes) -> bytes:
        heard = np.frombuffer(samples, "<i2")
        over = (heard + self._hiss.normal(0, HISS_RMS, len(heard))).round()
        return over.clip(-32_768, 32_767).astype("<i2").tobytes()

    def _ask(self, name: str, *arguments: object) -> Any:
        try:
            return self._child.ask((name, *arguments), ANSWERED_WITHIN_S)
        except EOFError:
            self._hearing = False
            self._child = self._started()
            raise RecogniserLost from None

    def _started(self) -> Child:
        require_model(self._model_directory)
        child = Child("recogniser_process.py", str(self._model_directory))
        try:
            greeting = child.answer(LOADED_WITHIN_S)
            if greeting == READY:
                told = ("expect", self._phrases, self._alternatives)
                child.ask(told, LOADED_WITHIN_S)
                # Some broken files are first looked at when a sound comes.
                child.ask(("accept", TRIAL.rate_hz, TRIAL.samples), LOADED_WITHIN_S)
                child.ask(told, LOADED_WITHIN_S)
                return child
        except EOFError:
            # Only a model it chokes on kills vosk before the first sound.
            greeting = BAD_MODEL
        child.close()
        if greeting == BAD_MODEL:
            raise ModelIncomplete(str(self._model_directory), "files that vosk can read")
        raise DeviceMissing(
            "speech recogniser", f"run hardware/setup.sh again, vosk does not load ({greeting})"
        )


def require_model(directory: Path) -> None:
    """Check a model's files before vosk sees them: vosk aborts on some that are missing.

    Raises:
        ModelIncomplete: Naming the first file that is missing, empty or damaged.
    """
    for name in NEEDED_FILES:
        path = directory / name
        if not path.is_file() or path.stat().st_size == 0:
            raise ModelIncomplete(str(directory), name)
    listed = directory / CONTENTS
    if not listed.is_file():
        return  # not one of ours
    for line in listed.read_text(encoding="utf-8", errors="replace").splitlines():
        wanted, _, name = line.partition(" ")
        path = directory / name
        if not path.is_file() or f"{zlib.crc32(path.read_bytes()):08x}" != wanted:
            raise ModelIncomplete(str(directory), f"an undamaged {name or CONTENTS}")


class ScriptedRecogniser:
    """The twin: hears what its script says, one hearing at each end of an utterance.

    An utterance ends at the first silent block after one with sound; the samples are not
    listened to otherwise. After the script's end it hears nothing.
    """

    def __init__(self, hearings: Iterable[Hearing]) -> None:
        self._hearings = deque(hearings)
        self._begun = False
        self.expected: tuple[str, ...] = ()

    def expect(self, phrases: Sequence[str]) -> None:
        """Note the phrases; the utterance begun is dropped."""
        self.expected = tuple(phrases)
        self._begun = False

    def accept(self, sound: Sound) -> Hearing | None:
        """Take a block of sound; return the next hearing once a silent block ends it."""
        if any(sound.samples):
            self._begun = True
            return None
        hearing = self.finish()
        return hearing if hearing.alternatives else None

    @property
    def hearing(self) -> bool:
        """Whether a block with sound came and no silent one after it."""
        return self._begun

    def finish(self) -> Hearing:
        """Return the next hearing if an utterance has begun."""
        begun, self._begun = self._begun, False
        return self._hearings.popleft() if begun and self._hearings else Hearing()

    def close(self) -> None:
        """Nothing to let go of."""


def hear_sound(recogniser: Recogniser, sound: Sound, most: int = 10) -> Hearing:
    """Return what is said in a whole recording, as one utterance.

    A pause inside it may end the recogniser's utterance early; the parts are then joined, with
    no more than `most` alternatives.

    Raises:
        RecogniserLost: The recogniser died on the way.
    """
    if not sound.samples:
        return Hearing()
    recogniser.finish()
    hearings = [recogniser.accept(block) for block in blocks(_between_silences(sound))]
    parts = [hearing for hearing in (*hearings, recogniser.finish()) if hearing is not None]
    return joined(parts, most)


def joined(parts: Sequence[Hearing], most: int) -> Hearing:
    """Return the parts of one utterance as one, with no more than so many alternatives.

    Without scores the best of each part come first, then one slip, then two.
    """
    ranked: dict[str, float] = {}
    for part in parts:
        scores = part.scores or [-float(rank) for rank in range(len(part.alternatives))]
        scored = zip(part.alternatives, scores, strict=True)
        pairs = itertools.product(ranked.items() or [("", 0.0)], scored)
        together = [
            (before + score, f"{said} {words}".strip()) for (said, before), (words, score) in pairs
        ]
        together.sort(key=lambda each: -each[0])
        if together:
            # Cut after each part, or a recording with a dozen pauses would have millions.
            ranked = {}
            for score, words in together[:most]:
                ranked.setdefault(words, score)
    scored_at_all = any(part.scores for part in parts)
    unaided = [part.unaided for part in parts if part.alternatives]
    return Hearing(
        tuple(ranked),
        tuple(ranked.values()) if scored_at_all else (),
        " ".join(filter(None, unaided)) if unaided and None not in unaided else None,
        min((part.clearness for part in parts), default=0.0),
        min((part.written for part in parts), default=0.0),
    )


def _hearing(
    scores: dict[str, float], unaided: str | None, clearness: float, written: float
) -> Hearing:
    return Hearing(tuple(scores), tuple(scores.values()), unaided, clearness, written)


def _between_silences(sound: Sound) -> Sound:
    before, after = (
        bytes(2 * round(seconds * sound.rate_hz)) for seconds in (SILENCE_BEFORE_S, SILENCE_AFTER_S)
    )
    return Sound(sound.rate_hz, before + sound.samples + after)
