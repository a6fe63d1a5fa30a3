"""The recogniser's process is killed under a running conversation: the job goes on."""

import os
import signal
from contextlib import closing

import pytest

from assistant.app import App, Bench, Item
from assistant.events import Hearing
from assistant.ports import Hold, Sound
from assistant.settings import from_toml
from hardware.listening import Listening
from hardware.recogniser import VoskRecogniser
from hardware.sounds import BLOCK_S, blocks
from hardware.speaker import MemorySpeaker
from hardware.store import MemoryJournal
from hardware.voice import PyttsxSynthesiser, SilentSynthesiser
from tests.hardware.conftest import MODEL
from tests.test_app import Clock, Screen

TAPER = "number two morse taper"
LENGTH = "between balls one hundred and forty two point five"
SAYS_SO = "I could not hear for a moment; if you were speaking, please say it again."
KEPT_TAPER = '{"TaperByName": {"system": "morse", "size": "2"}}'
KEPT_LENGTH = '{"BetweenBalls": {"length": "142.5"}}'

# Long enough for the voice to end what it says, 15 s at most: openly nothing is heard until then.
BLOCKS_BEFORE, BLOCKS_AFTER = 340, 30
BEFORE, AFTER = (bytes(2 * round(22_050 * BLOCK_S) * n) for n in (BLOCKS_BEFORE, BLOCKS_AFTER))


class KilledListening(Listening):
    """Ears whose recogniser is killed before some of the blocks; time goes on with each block."""

    def __init__(
        self, recogniser: VoskRecogniser, openly: bool, clock: Clock, killed_at: set[int]
    ) -> None:
        super().__init__(recogniser, openly)
        self._vosk, self._clock, self._killed_at = recogniser, clock, killed_at
        self._count = 0

    def accept(self, sound: Sound, playing: bool, now_s: float) -> Hearing | None:
        if self._count in self._killed_at:
            os.kill(self._vosk.pid, signal.SIGKILL)
        self._count += 1
        self._clock.now_s += sound.seconds
        return super().accept(sound, playing, self._clock.now_s)


class At:
    """A conversation by voice on a bench of twins with the real recogniser."""

    def __init__(self, *said: Item, openly: bool, killed_at: set[int]) -> None:
        clock = Clock()
        self.screen, self.journal, self.voice = Screen(), MemoryJournal(), SilentSynthesiser()
        with closing(VoskRecogniser(MODEL)) as recogniser:
            first = recogniser.pid
            bench = Bench(
                self.screen,
                clock,
                recogniser=recogniser,
                ears=KilledListening(recogniser, openly, clock, killed_at),
                synthesiser=self.voice,
                speaker=MemorySpeaker(clock),
                journal=self.journal,
            )
            app = App(bench, from_toml("[head]\n").first_job())
            for item in said:
                app.take(item)
            app.take(None)
            app.run()
            assert recogniser.pid != first

    def facts(self) -> tuple[str, ...]:
        """Return what was kept, without how long it has run."""
        return tuple(line for line in self.journal.lines() if "RunSoFar" not in line)


@pytest.fixture(scope="module")
def utterances(voice: PyttsxSynthesiser) -> tuple[list[Sound], list[Sound]]:
    """Return the taper's blocks and the length's, each with quiet before it and after it."""
    taper, length = (
        list(blocks(Sound(22_050, BEFORE + voice.sound(words).samples + AFTER)))
        for words in (TAPER, LENGTH)
    )
    return taper, length


def middle(spoken: list[Sound]) -> int:
    """Return the number of a block in which the words are half said."""
    return (BLOCKS_BEFORE + len(spoken) - BLOCKS_AFTER) // 2


def by_pedal(spoken: list[Sound]) -> list[Item]:
    start = BLOCKS_BEFORE - 5
    return [*spoken[:start], Hold.DOWN, *spoken[start:], Hold.UP, *spoken[-5:]]


def test_killed_between_utterances_it_hears_the_next_and_says_so_once(
    utterances: tuple[list[Sound], list[Sound]],
) -> None:
    taper, length = utterances
    at = At(*taper, *length, openly=True, killed_at={len(taper) + 5})

    assert at.facts() == (KEPT_TAPER, KEPT_LENGTH)
    assert at.screen.told.count(SAYS_SO) == at.voice.spoken.count(SAYS_SO) == 1


def test_killed_in_an_utterance_it_drops_its_rest_and_keeps_the_job(
    utterances: tuple[list[Sound], list[Sound]],
) -> None:
    # The rest, "forty two point five", is a length too, and must not be taken for it.
    taper, length = utterances
    at = At(*taper, *length, *length, openly=True, killed_at={len(taper) + middle(length)})

    assert at.facts() == (KEPT_TAPER, KEPT_LENGTH)
    assert len([told for told in at.screen.told if told.startswith("heard ")]) == 2
    assert at.screen.told.count(SAYS_SO) == at.voice.spoken.count(SAYS_SO) == 1


def test_killed_before_the_pedal_goes_down_it_loses_no_word(
    utterances: tuple[list[Sound], list[Sound]],
) -> None:
    taper, _ = utterances
    at = At(*by_pedal(taper), openly=False, killed_at={30})

    assert at.facts() == (KEPT_TAPER,)
    # Not spoken: it would be heard with the words.
    assert at.screen.told.count(SAYS_SO) == 1
    assert SAYS_SO not in at.voice.spoken


def test_killed_while_the_pedal_is_down_it_drops_the_rest_and_says_so_once(
    utterances: tuple[list[Sound], list[Sound]],
) -> None:
    taper, length = utterances
    spoken = [*by_pedal(taper), *by_pedal(length), *by_pedal(length)]
    at = At(*spoken, openly=False, killed_at={len(taper) + 5 + middle(length)})

    assert at.facts() == (KEPT_TAPER, KEPT_LENGTH)
    assert at.screen.told.count(SAYS_SO) == at.voice.spoken.count(SAYS_SO) == 1


def test_killed_again_and_again_it_comes_back_each_time(
    utterances: tuple[list[Sound], list[Sound]],
) -> None:
    taper, length = utterances
    at = At(*taper, *length, openly=True, killed_at={10, len(taper) + 10})

    assert at.facts() == (KEPT_TAPER, KEPT_LENGTH)
    assert at.screen.told.count(SAYS_SO) == 2
