"""What open listening takes for orders: noise, talk and orders, through the whole assistant.

python -m tests.benchmarks.hearing.open_mode --noise-minutes 60 --talk-minutes 20

Three ways of listening side by side: openly with the attention word, openly without, and by
pedal, stood on for three seconds of each minute though nothing is said to it. Every minute is a
new session whose greeting asks a question: for its first eight seconds or so an answer needs no
word. Noise comes in kinds and at four loudnesses, talk from chatter.txt by voices that are
installed; --unrelated FOLDER adds recordings of talk. Acted on is what was taken, and neither
asked about ("Did you mean ...?") nor refused; how often that was done aloud stands beside it.

Then orders by the same voices, in noise: right, asked about, wrong, and not taken.

Sound is fed as fast as it is heard; the clock goes by the sound. Needs the extra `hearing`.
"""

import argparse
import itertools
import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from assistant.app import App, Bench, Item
from assistant.errors import BenchError
from assistant.events import Hearing, Signal
from assistant.language.attention import WORDS, Attention, phrases_called
from assistant.language.listening import Context, meant, phrases
from assistant.language.requests import Request, Unsure
from assistant.ports import Hold, Sound
from assistant.settings import from_toml
from hardware.listening import Listening
from hardware.recogniser import VoskRecogniser
from hardware.signals import MemorySignals
from hardware.sounds import BLOCK_S, blocks
from hardware.speaker import MemorySpeaker
from hardware.store import MemoryJournal
from hardware.voice import SilentSynthesiser
from tests.benchmarks.hearing.noise import SHOP, Samples, babble, noise, shop_noise, with_noise
from tests.benchmarks.hearing.recordings import recordings
from tests.benchmarks.hearing.spoken import RATE_HZ, sentences, spoken

HERE = Path(__file__).parent
MODEL = HERE.parents[2] / "grammars" / "acoustic" / "model"
PHRASES = HERE.parents[1] / "language" / "phrases.txt"
VOICES = (
    *(f"espeak-ng:{name}" for name in ("en-us", "en-gb", "en-us+m4", "en-gb-scotland", "en-us+f3")),
    "flite:slt",
    "flite:kal",
)
LOUDNESSES = (300, 1000, 3000, 8000)
PART_S = 60
PEDAL = {30.0: Hold.DOWN, 33.0: Hold.UP}
SNRS_DB = (None, 10, 5, 0)


@dataclass
class Screen:
    """Keeps what was heard, and what was asked about it."""

    heard: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def show(self, lines: Sequence[str], view: Sequence[str] = ()) -> None:
        """Not looked at."""

    def hears(self, begun_with: str) -> None:
        """Not looked at."""

    def tell(self, words: str) -> None:
        """Keep what was handed on as said to the assistant, and what it was doubted to be."""
        if words.startswith("heard "):
            self.heard.append(words.removeprefix("heard "))
        if words.startswith(("says  Did you mean ", "says  One, ")):
            self.asked.append(words)


class Clock:
    """Moved on by the sound that is heard."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


class ClockedListening(Listening):
    """Moves the clock on by each block."""

    def __init__(self, recogniser: VoskRecogniser, openly: bool, clock: Clock) -> None:
        super().__init__(recogniser, openly)
        self._clock = clock

    def accept(self, sound: Sound, playing: bool, now_s: float) -> Hearing | None:
        """Take a block that came just now."""
        self._clock.now_s += sound.seconds
        return super().accept(sound, playing, self._clock.now_s)


@dataclass(frozen=True, slots=True)
class Way:
    """A way of listening."""

    name: str
    openly: bool
    word: str = ""

    def listened_for(self, context: Context) -> tuple[str, ...]:
        """Return what the recogniser is told."""
        return phrases_called(context, self.word) if self.word else phrases(context)


WAYS = (Way("open, word", True, WORDS[0]), Way("open, no word", True), Way("pedal", False))


def session(recogniser: VoskRecogniser, way: Way, sound: Sound) -> Counter[str]:
    """Return how often what is heard in a session was acted on, asked about and refused."""
    clock, screen, signals = Clock(), Screen(), MemorySignals()
    bench = Bench(
        screen,
        clock,
        recogniser=recogniser,
        ears=ClockedListening(recogniser, way.openly, clock),
        # Speech of next to no length: being deaf meanwhile would shorten what is measured.
        synthesiser=SilentSynthesiser(words_per_minute=6000),
        speaker=MemorySpeaker(clock),
        signaller=signals,
        journal=MemoryJournal(),
    )
    app = App(bench, from_toml("[head]\n").first_job(way.word))
    for item in items(sound, way):
        app.take(item)
    app.run()
    asked, refused = len(screen.asked), signals.given.count(Signal.REFUSED)
    return Counter(acted=len(screen.heard) - asked - refused, asked=asked, refused=refused)


def items(sound: Sound, way: Way) -> Iterator[Item]:
    """Return the blocks of a sound, with the pedal where it is the way."""
    moves = {} if way.openly else {round(at_s / BLOCK_S): hold for at_s, hold in PEDAL.items()}
    for number, block in enumerate(blocks(sound)):
        if number in moves:
            yield moves[number]
        yield block
    yield None


def at_loudness(samples: Samples, rms: float) -> Sound:
    """Return samples of standard deviation 1 as sound."""
    made = np.clip(samples * rms, -32_768, 32_767)
    return Sound(RATE_HZ, made.astype("<i2").tobytes())


def chatter() -> list[Samples]:
    """Return the talk of chatter.txt, each sentence by another voice."""
    said = [sentence for _, sentence in sentences(HERE / "chatter.txt")]
    return [
        spoken(sentence, voice).astype(np.float64)
        for sentence, voice in zip(said, itertools.cycle(VOICES))
    ]


def noises(minutes: int, talk: Sequence[Samples]) -> Iterator[tuple[str, Sound]]:
    """Return a minute of each kind of noise in turn, each time at another loudness."""
    kinds = ("machine", *SHOP, "machine", "radio talk")
    for seed, kind in zip(range(minutes), itertools.cycle(kinds)):
        count = RATE_HZ * PART_S
        if kind == "machine":
            # Another machine every ten seconds.
            made = np.concatenate([noise(count // 6, RATE_HZ, 6 * seed + n) for n in range(6)])
        elif kind == "radio talk":
            made = babble(talk, count, RATE_HZ, seed)
        else:
            made = shop_noise(kind, count, RATE_HZ, seed)
        yield kind, at_loudness(made, LOUDNESSES[seed % 4 ^ seed // 4 % 4])


def talks(minutes: int, said: Sequence[Samples], seed: int) -> Iterator[Sound]:
    """Return minutes of sentences with pauses between, in no order, over a quiet machine."""
    rng = random.Random(seed)
    for part in range(minutes):
        count = RATE_HZ * PART_S
        made = 150 * noise(count, RATE_HZ, seed + part)
        at = rng.randrange(RATE_HZ)
        while at < count:
            sentence = rng.choice(said) * rng.uniform(0.1, 1.0)
            end = min(count, at + len(sentence))
            made[at:end] += sentence[: end - at]
            at = end + round(RATE_HZ * rng.uniform(0.2, 2.0))
        yield at_loudness(made, 1)


def orders(recogniser: VoskRecogniser, way: Way, count: int, snr_db: float | None) -> Counter[str]:
    """Return what became of orders: right, asked about, wrong, refused or not taken."""
    said = [words for context, words in sentences(PHRASES) if context is Context.READY]
    chosen = random.Random(1).sample(said, count)
    recogniser.expect(way.listened_for(Context.READY))
    found: Counter[str] = Counter()
    for seed, (words, voice) in enumerate(zip(chosen, itertools.cycle(VOICES))):
        order = f"{way.word}, {words}" if way.word else words
        made = spoken(order, voice)
        # Openly only a pause ends it.
        before, after = np.zeros(RATE_HZ, np.int16), np.zeros(3 * RATE_HZ, np.int16)
        sound = Sound(RATE_HZ, np.concatenate([before, made, after]).astype("<i2").tobytes())
        found[_outcome(_hearings(recogniser, way, with_noise(sound, snr_db, seed)), words)] += 1
    return found


def _hearings(recogniser: VoskRecogniser, way: Way, sound: Sound) -> list[Hearing]:
    ears, attention, now_s = Listening(recogniser, way.openly), Attention(way.word), 0.0
    if not way.openly:
        ears.pedal(True, now_s)
    heard: list[Hearing] = []
    for block in (*blocks(sound), None):
        if block is None:
            ears.pedal(False, now_s)
            block = Sound(RATE_HZ, bytes(2 * RATE_HZ // 4))
        now_s += block.seconds
        hearing = ears.accept(block, False, now_s)
        if hearing is not None and way.openly:
            hearing = attention.taken(hearing, Context.READY, now_s)
        heard += [hearing] if hearing is not None else []
    return heard


def _outcome(heard: Sequence[Hearing], said: str) -> str:
    if not heard:
        return "not taken"
    requests = [_meant(hearing) for hearing in heard]
    if requests == [_meant(Hearing((said,)))]:
        return "right"
    taken = [request for request in requests if request is not None]
    if not taken:
        return "refused"
    return "asked" if all(isinstance(request, Unsure) for request in taken) else "wrong"


def _meant(hearing: Hearing) -> Request | None:
    try:
        return meant(hearing, Context.READY)
    except BenchError:
        return None


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--model", type=Path, default=MODEL)
    parser.add_argument("--noise-minutes", type=int, default=60)
    parser.add_argument("--talk-minutes", type=int, default=20)
    parser.add_argument("--unrelated", type=Path, action="append", default=[])
    parser.add_argument("--orders", type=int, default=60)
    chosen = parser.parse_args()
    recogniser = VoskRecogniser(chosen.model)
    talk = chatter()
    folders = {folder.name: _recorded(folder) for folder in chosen.unrelated}
    parts = list(noises(chosen.noise_minutes, talk))
    for name, said in {"talk": talk, **folders}.items():
        parts += [(name, sound) for sound in talks(chosen.talk_minutes, said, len(parts))]
    _print("acted on, asked about, refused aloud", [way.name for way in WAYS])
    for kind in dict.fromkeys(kind for kind, _ in parts):
        sounds = [sound for each, sound in parts if each == kind]
        cells = [_taken(recogniser, way, sounds) for way in WAYS]
        _print(f"{kind}, {len(sounds)} min", cells)
    if chosen.orders:
        _print("orders: right / asked / not taken / refused / wrong %", [way.name for way in WAYS])
        for snr_db in SNRS_DB:
            found = [orders(recogniser, way, chosen.orders, snr_db) for way in WAYS]
            _print("clean" if snr_db is None else f"{snr_db} dB", [_shares(one) for one in found])
    recogniser.close()


def _recorded(folder: Path) -> list[Samples]:
    return [np.frombuffer(each.sound.samples, "<i2").astype(float) for each in recordings(folder)]


def _taken(recogniser: VoskRecogniser, way: Way, sounds: Sequence[Sound]) -> str:
    found = sum((session(recogniser, way, sound) for sound in sounds), Counter[str]())
    return f"{found['acted']}, {found['asked']}, {found['refused']}"


def _shares(found: Counter[str]) -> str:
    outcomes = ("right", "asked", "not taken", "refused", "wrong")
    return " / ".join(f"{found[each] / found.total() * 100:.0f}" for each in outcomes)


def _print(name: str, cells: Sequence[str]) -> None:
    print("| " + " | ".join([name, *cells]) + " |", flush=True)


if __name__ == "__main__":
    main()
