"""The live loop: take one event, step, perform the actions. Decides nothing."""

import queue
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from assistant.dialogue import State, begin, step
from assistant.dialogue.job import Job
from assistant.errors import BenchError
from assistant.events import Action, Event, Heard, KeyPressed, Say, Show, Signal
from assistant.exchange import events_of
from assistant.language.listening import phrases
from assistant.ports import Keypad, Microphone, Recogniser, Signaller, Sound, Speaker, Synthesiser


class BenchScreen(Protocol):
    """A screen that can also tell what is heard and spoken."""

    def show(self, lines: Sequence[str]) -> None:
        """Show these lines in place of what is shown."""

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


class App:
    """Runs the conversation on a bench until it is told to stop."""

    def __init__(self, bench: Bench, job: Job) -> None:
        self._bench, self._job = bench, job
        self._queue: queue.Queue[Sound | Event | str | None] = queue.Queue()

    def take(self, item: Sound | Event | str | None) -> None:
        """Queue a block of sound, an event, a typed line, or None to stop. From any thread."""
        self._queue.put(item)

    def run(self) -> None:
        """Greet, then take what comes until None comes."""
        first = begin(self._job)
        state = first.state
        self._perform(first.actions)
        self._listen_for(state)
        if self._bench.microphone is not None and self._bench.recogniser is not None:
            self._bench.microphone.start(self.take)
        for keypad in self._bench.keypads:
            keypad.start(lambda key: self.take(KeyPressed(key)))
        while (item := self._queue.get()) is not None:
            try:
                events = self._events(item)
            except BenchError as error:
                self._bench.screen.tell(str(error))
                continue
            for event in events:
                before = state.context
                taken = step(state, event)
                state = taken.state
                self._perform(taken.actions)
                if state.context is not before:
                    self._listen_for(state)

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
                case Show(lines):
                    self._bench.screen.show(lines)
                case Say(words):
                    self._bench.screen.tell(f"says  {words}")
                    self._say(words)
                case Signal():
                    if self._bench.signaller is not None:
                        self._bench.signaller.signal(action)

    def _say(self, words: str) -> None:
        if self._bench.synthesiser is None or self._bench.speaker is None:
            return
        try:
            self._bench.speaker.play(self._bench.synthesiser.sound(words))
        except BenchError as error:
            self._bench.screen.tell(str(error))
