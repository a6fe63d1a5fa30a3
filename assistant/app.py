"""The live loop: take one event, step, perform the actions. Decides nothing."""

import queue
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from assistant.dialogue import State, Step, begin, resume, step, welcome_back
from assistant.dialogue.job import Job
from assistant.errors import BenchError, RecogniserLost
from assistant.events import (
    Action,
    Called,
    Event,
    Heard,
    Hearing,
    KeyPressed,
    Lamp,
    Record,
    Say,
    Show,
    Signal,
    SpindleSeen,
    Tick,
)
from assistant.exchange import TICK_S, events_of
from assistant.language.attention import Attention, called, means_something, phrases_called
from assistant.language.listening import Context, phrases, words_taken
from assistant.ports import (
    Hold,
    Journal,
    Keypad,
    Microphone,
    Pedal,
    Recogniser,
    Signaller,
    Sound,
    Speaker,
    SpindleSensor,
    Synthesiser,
)


class BenchScreen(Protocol):
    """A screen that can also tell what is heard and spoken."""

    def show(self, lines: Sequence[str], view: Sequence[str] = ()) -> None:
        """Show these lines in place of what is shown, and the fuller account with them."""

    def tell(self, words: str) -> None:
        """Write a line of words."""

    def hears(self, begun_with: str) -> None:
        """Show that only what begins with this word is taken, or everything where it is empty."""


class Ears(Protocol):
    """Hands blocks of sound to the recogniser, by pedal or openly."""

    @property
    def held(self) -> bool:
        """Whether an utterance by pedal has not yet come to its end."""

    def pedal(self, down: bool, now_s: float) -> None:
        """Take that the pedal went down or up."""

    def drop(self) -> None:
        """Take that the pedal was not held to talk: nothing was said by it."""

    def accept(self, sound: Sound, playing: bool, now_s: float) -> Hearing | None:
        """Take a block that came just now; return what was said once the utterance has ended."""


class Watchdog(Protocol):
    """Whoever starts us again when we hang."""

    def alive(self) -> None:
        """Take that the loop turns."""


Item = Sound | Event | Hold | str | None


@dataclass(slots=True)
class Bench:
    """The parts that are connected; None for one that is missing."""

    screen: BenchScreen
    now: Callable[[], float]
    recogniser: Recogniser | None = None
    ears: Ears | None = None
    microphone: Microphone | None = None
    synthesiser: Synthesiser | None = None
    speaker: Speaker | None = None
    keypads: Sequence[Keypad] = ()
    pedal: Pedal | None = None
    spindle: SpindleSensor | None = None
    signaller: Signaller | None = None
    journal: Journal | None = None
    watchdog: Watchdog | None = None


class App:
    """Runs the conversation on a bench until it is told to stop."""

    def __init__(self, bench: Bench, job: Job) -> None:
        self._bench, self._job = bench, job
        self._queue: queue.Queue[Item] = queue.Queue()
        self._ticked_s = bench.now()
        self._context = Context.READY
        self._attention = Attention(job.shop.called)
        self._takes_all: bool | None = None

    def take(self, item: Item) -> None:
        """Queue a block of sound, an event, a typed line, or None to stop. From any thread."""
        self._queue.put(item)

    def run(self) -> None:
        """Greet, then take what comes until None comes."""
        first = self._first()
        state = first.state
        self._perform(first.actions)
        self._replied(first)
        self._listen_for(state)
        if self._bench.microphone is not None and self._bench.ears is not None:
            self._bench.microphone.start(self.take)
        if self._bench.pedal is not None:
            self._bench.pedal.start(lambda down: self.take(Hold.DOWN if down else Hold.UP))
        if self._bench.spindle is not None:
            self._bench.spindle.start(self.take)
        for keypad in self._bench.keypads:
            keypad.start(lambda key: self.take(KeyPressed(key)), self.take)
        while (item := self._next()) is not None:
            try:
                events = self._events(item)
            except BenchError as error:
                self._bench.screen.tell(str(error))
                if isinstance(error, RecogniserLost) and isinstance(item, Sound):
                    self._say(str(error))  # whoever speaks looks at the work
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

    def _next(self) -> Item:
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
        if self._bench.watchdog is not None:
            self._bench.watchdog.alive()
        recogniser, ears = self._bench.recogniser, self._bench.ears
        speaking = (recogniser is not None and recogniser.hearing) or (
            ears is not None and ears.held
        )
        return (Tick(gone_s, speaking),)

    def _take(self, state: State, event: Event) -> State:
        taken = step(state, event)
        try:
            self._perform(taken.actions)
        except BenchError as error:
            self._bench.screen.tell(str(error))
            self._say(str(error))
            if not isinstance(event, Tick | SpindleSeen):
                # What could not be kept is not acknowledged, and did not happen.
                return state
            # Time and the spindle went on, kept or not: what is due must still be said.
            self._perform([action for action in taken.actions if not isinstance(action, Record)])
        self._replied(taken)
        if taken.state.context is not state.context:
            self._listen_for(taken.state)
        return taken.state

    def _replied(self, taken: Step) -> None:
        # A reminder comes between a question and its answer.
        if any(isinstance(action, Show) for action in taken.actions) and (
            Signal.REMINDER not in taken.actions
        ):
            # What was refused is said once more, as a question is answered.
            refused = Signal.REFUSED in taken.actions
            awaits = refused or taken.state.reply.words.endswith("?")
            self._attention.replied(self._bench.now(), awaits)

    def _events(self, item: Sound | Event | Hold | str) -> Sequence[Event]:
        if isinstance(item, Sound):
            return self._heard_in(item)
        if isinstance(item, Hold):
            self._pedal(item)
            return []
        if isinstance(item, str):
            self._bench.screen.tell(f"you   {item}")
            return events_of(item)
        if isinstance(item, KeyPressed) and self._bench.speaker is not None:
            # A key cuts speech short at once: the hand is quicker than the sentence.
            self._bench.speaker.cut()
        return [item]

    def _pedal(self, hold: Hold) -> None:
        if hold is Hold.DOWN and self._bench.speaker is not None:
            self._bench.speaker.cut()
        if self._bench.ears is None:
            return
        if hold is Hold.DROPPED:
            self._bench.ears.drop()
        else:
            self._bench.ears.pedal(hold is Hold.DOWN, self._bench.now())

    def _heard_in(self, sound: Sound) -> Sequence[Event]:
        ears, speaker = self._bench.ears, self._bench.speaker
        assert ears is not None
        playing, now_s = speaker is not None and speaker.playing, self._bench.now()
        by_hand = ears.held
        going_on = self._bench.recogniser is not None and self._bench.recogniser.hearing
        asks = self._attention.passes(now_s, playing, going_on)
        hearing = ears.accept(sound, playing, now_s)
        if hearing is not None:
            hearing = self._said_by_hand(hearing) if by_hand else self._said_to_us(hearing, now_s)
        self._show_what_is_taken()
        if hearing is None:
            return [Called()] if asks else []
        words = words_taken(hearing, self._context)
        self._bench.screen.tell(f"heard {words or 'no word'}")
        return [Heard(hearing)]

    def _said_by_hand(self, hearing: Hearing) -> Hearing:
        return called(hearing, self._attention.word) or hearing  # the word is a habit

    def _said_to_us(self, hearing: Hearing, now_s: float) -> Hearing | None:
        taken = self._attention.taken(hearing, self._context, now_s)
        if taken is None and means_something(hearing, self._context):
            self._bench.screen.tell(f"not for me: it did not begin with {self._attention.word}")
        return taken if taken is not None and taken.alternatives else None

    def _show_what_is_taken(self) -> None:
        word, takes_all = self._attention.word, self._attention.to_all
        if word and takes_all != self._takes_all:
            self._takes_all = takes_all
            self._bench.screen.hears("" if takes_all else word)

    def _listen_for(self, state: State) -> None:
        self._context = state.context
        if self._bench.recogniser is not None:
            word = self._attention.word
            listened_for = phrases_called(state.context, word) if word else phrases(state.context)
            self._bench.recogniser.expect(listened_for)

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
