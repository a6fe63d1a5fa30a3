"""The live loop: take one event, step, perform the actions. Decides nothing."""

import queue
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from assistant.dialogue import State, Step, begin, resume, step, welcome_back
from assistant.dialogue.job import Job
from assistant.errors import BenchError
from assistant.events import (
    Action,
    Event,
    Heard,
    KeyPressed,
    Lamp,
    Record,
    Say,
    Show,
    Signal,
    Tick,
)
from assistant.exchange import TICK_S, events_of
from assistant.language.listening import phrases
from assistant.ports import (
    Journal,
    Keypad,
    Microphone,
    Recogniser,
    Signaller,
    Sound,
    Speaker,
    Synthesiser,
)


class BenchScreen(Protocol):
    """A screen that can also tell what is heard and spoken."""

    def show(self, lines: Sequence[str], view: Sequence[str] = ()) -> None:
        """Show these lines in place of what is shown, and the fuller account with them."""

    def tell(self, words: str) -> None:
        """Write a line of words."""


class Ears(Protocol):
    """Says of a block whether it was taken in with the speaker at rest."""

    def hears(self, playing: bool, block_s: float, now_s: float) -> bool:
        """Return whether to listen to a block that ended just now."""


@dataclass(slots=True)
class Bench:
    """The parts that are connected; None for one that is missing."""

    screen: BenchScreen
    ears: Ears
    now: Callable[[], float]
    recogniser: Recogniser | None = None
    microphone: Microphone | None = None
    synthesiser: Synthesiser | None = None
    speaker: Speaker | None = None
    keypads: Sequence[Keypad] = ()
    signaller: Signaller | None = None
    journal: Journal | None = None


class App:
    """Runs the conversation on a bench until it is told to stop."""

    def __init__(self, bench: Bench, job: Job) -> None:
        self._bench, self._job = bench, job
        self._queue: queue.Queue[Sound | Event | str | None] = queue.Queue()
        self._ticked_s = bench.now()

    def take(self, item: Sound | Event | str | None) -> None:
        """Queue a block of sound, an event, a typed line, or None to stop. From any thread."""
        self._queue.put(item)

    def run(self) -> None:
        """Greet, then take what comes until None comes."""
        first = self._first()
        state = first.state
        self._perform(first.actions)
        self._listen_for(state)
        if self._bench.microphone is not None and self._bench.recogniser is not None:
            self._bench.microphone.start(self.take)
        for keypad in self._bench.keypads:
            keypad.start(lambda key: self.take(KeyPressed(key)))
        while (item := self._next()) is not None:
            try:
                events = self._events(item)
            except BenchError as error:
                self._bench.screen.tell(str(error))
                continue
            for event in (*self._time_gone_by(), *events):
                state = self._take(state, event)

    def _first(self) -> Step:
        """Return the state the journal leads to, or the very first."""
        kept = self._bench.journal.lines() if self._bench.journal is not None else ()
        if not kept:
            return begin(self._job)
        state, unusable = resume(self._job, kept)
        for line in unusable:
            self._bench.screen.tell(f"The journal has a line I cannot use: {line}")
        return welcome_back(state)

    def _next(self) -> Sound | Event | str | None:
        """Return what comes next, or no word of anything once a while has gone by."""
        try:
            return self._queue.get(timeout=TICK_S)
        except queue.Empty:
            return Tick(0.0)

    def _time_gone_by(self) -> Sequence[Event]:
        now_s = self._bench.now()
        gone_s = now_s - self._ticked_s
        if gone_s < TICK_S:
            return ()
        self._ticked_s = now_s
        recogniser = self._bench.recogniser
        return (Tick(gone_s, speaking=recogniser is not None and recogniser.hearing),)

    def _take(self, state: State, event: Event) -> State:
        taken = step(state, event)
        try:
            self._perform(taken.actions)
        except BenchError as error:
            # What could not be kept is not acknowledged, and did not happen.
            self._bench.screen.tell(str(error))
            self._say(str(error))
            return state
        if taken.state.context is not state.context:
            self._listen_for(taken.state)
        return taken.state

    def _events(self, item: Sound | Event | str) -> Sequence[Event]:
        if isinstance(item, Sound):
            return self._heard_in(item)
        if isinstance(item, str):
            self._bench.screen.tell(f"you   {item}")
            return events_of(item)
        if isinstance(item, KeyPressed) and self._bench.speaker is not None:
            # A key cuts speech short at once: the hand is quicker than the sentence.
            self._bench.speaker.cut()
        return [item]

    def _heard_in(self, sound: Sound) -> Sequence[Event]:
        recogniser, speaker = self._bench.recogniser, self._bench.speaker
        assert recogniser is not None
        playing = speaker is not None and speaker.playing
        if not self._bench.ears.hears(playing, sound.seconds, self._bench.now()):
            return []
        hearing = recogniser.accept(sound)
        if hearing is None or not hearing.alternatives:
            return []
        self._bench.screen.tell(f"heard {hearing.words}")
        return [Heard(hearing)]

    def _listen_for(self, state: State) -> None:
        if self._bench.recogniser is not None:
            self._bench.recogniser.expect(phrases(state.context))

    def _perform(self, actions: Sequence[Action]) -> None:
        for action in actions:
            match action:
                case Record(line):
                    if self._bench.journal is not None:
                        self._bench.journal.append(line)
                case Show(lines, view):
                    self._bench.screen.show(lines, view)
                case Say(words, loudness):
                    self._bench.screen.tell(f"says  {words}")
                    self._say(words, loudness)
                case Lamp(lit):
                    if self._bench.signaller is not None:
                        self._bench.signaller.light(lit)
                case Signal():
                    if self._bench.signaller is not None:
                        self._bench.signaller.signal(action)

    def _say(self, words: str, loudness: float = 1.0) -> None:
        if self._bench.synthesiser is None or self._bench.speaker is None:
            return
        try:
            self._bench.speaker.play(self._bench.synthesiser.sound(words), loudness)
        except BenchError as error:
            self._bench.screen.tell(str(error))
