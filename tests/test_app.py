"""The live loop on twins: what it takes, in what order it acts, and what a failing part does.

Everything is queued beforehand, with None at its end; time moves only where a test moves it.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

from assistant.app import App, Bench, Item
from assistant.dialogue import begin
from assistant.errors import JournalUnusable, VoiceLost
from assistant.events import Hearing, Key, KeyPressed, Lamp, Signal, SpindleSeen, Tick
from assistant.language.attention import WORDS, phrases_called
from assistant.language.listening import Context, phrases
from assistant.ports import Hold, Journal, Sound
from assistant.settings import from_toml
from hardware.keypad import ScriptedKeypad
from hardware.listening import Listening
from hardware.recogniser import ScriptedRecogniser
from hardware.signals import MemorySignals
from hardware.speaker import MemorySpeaker
from hardware.store import MemoryJournal
from hardware.voice import SilentSynthesiser

BLOCK = 800
SPEECH = Sound(16_000, b"\1\0" * BLOCK)
SILENCE = Sound(16_000, bytes(2 * BLOCK))

TAPER = '{"TaperByName": {"system": "morse", "size": "2"}}'
WORD = WORDS[0]
FULL = "I cannot keep the job in journal.db: the disk is full; make room on it."
LENGTH = '{"BetweenBalls": {"length": "142.5"}}'


class Clock:
    """Time moved by hand, or by so much each time it is asked."""

    def __init__(self, each_time_s: float = 0.0) -> None:
        self.now_s, self._each_time_s = 0.0, each_time_s

    def __call__(self) -> float:
        self.now_s += self._each_time_s
        return self.now_s


@dataclass
class Screen:
    """Keeps what it is given, in the order it came."""

    shown: list[tuple[str, ...]] = field(default_factory=list)
    told: list[str] = field(default_factory=list)
    begun_with: list[str] = field(default_factory=list)

    def show(self, lines: Sequence[str], view: Sequence[str] = ()) -> None:
        self.shown.append(tuple(lines))

    def tell(self, words: str) -> None:
        self.told.append(words)

    def hears(self, begun_with: str) -> None:
        self.begun_with.append(begun_with)


class FullDisk(MemoryJournal):
    """A journal that keeps so many lines and then no more."""

    def __init__(self, room: int) -> None:
        super().__init__()
        self._room = room

    def append(self, line: str) -> None:
        if len(self.lines()) == self._room:
            raise JournalUnusable("journal.db", "the disk is full", "make room on it")
        super().append(line)


class BrokenVoice(SilentSynthesiser):
    """A voice that gives no sound."""

    def sound(self, words: str) -> Sound:
        raise VoiceLost(words)


class Dog:
    """Counts how often it was told that the loop turns."""

    def __init__(self) -> None:
        self.times = 0

    def alive(self) -> None:
        self.times += 1


class LastOfAll:
    """A pad that is started after the others, and ends the run."""

    def __init__(self, end: Callable[[], None]) -> None:
        self._end = end

    def start(
        self, take: Callable[[Key], None], hold: Callable[[Hold], None] | None = None
    ) -> None:
        self._end()

    def close(self) -> None:
        pass


class At:
    """A bench of twins, run on what was queued."""

    def __init__(
        self,
        settings: str = "[head]\n",
        journal: Journal | None = None,
        clock: Clock | None = None,
        hearings: Iterable[str] = (),
        synthesiser: SilentSynthesiser | None = None,
        called: str = "",
    ) -> None:
        self.clock = clock or Clock()
        self.screen, self.signals = Screen(), MemorySignals()
        self.voice = synthesiser or SilentSynthesiser()
        self.speaker = MemorySpeaker(self.clock)
        self.journal = journal or MemoryJournal()
        self.recogniser = ScriptedRecogniser([Hearing((words,)) for words in hearings])
        self.watchdog = Dog()
        self.bench = Bench(
            self.screen,
            self.clock,
            recogniser=self.recogniser,
            ears=Listening(self.recogniser, openly=True),
            synthesiser=self.voice,
            speaker=self.speaker,
            signaller=self.signals,
            journal=self.journal,
            watchdog=self.watchdog,
        )
        self.job = from_toml(settings).first_job(called)

    @property
    def facts(self) -> tuple[str, ...]:
        """What the journal has but for the time that went by."""
        return tuple(line for line in self.journal.lines() if "RunSoFar" not in line)

    def run(self, *items: Item) -> "At":
        app = App(self.bench, self.job)
        for item in items:
            app.take(item)
        app.take(None)
        app.run()
        return self


def test_a_typed_line_is_told_answered_spoken_and_kept() -> None:
    at = At().run("morse two")

    answer = "Morse two. What length between the balls?"
    assert at.screen.told[-2:] == ["you   morse two", f"says  {answer}"]
    assert at.screen.shown[-1] == (
        "Morse 2      1:20.02",
        "Balls              ?",
        "Set over           ?",
        "Length?",
    )
    assert at.voice.spoken[-1] == answer
    assert at.journal.lines() == (TAPER,)


def test_it_greets_before_anything_is_said() -> None:
    at = At().run()

    assert at.voice.spoken == [begin(at.job).state.reply.words]
    assert not at.journal.lines()


def test_a_typed_line_of_no_such_key_is_told_and_changes_nothing() -> None:
    at = At().run("keys Q", "wait for ever")

    assert at.screen.told[-4:] == [
        "you   keys Q",
        "I cannot use key Q here.",
        "you   wait for ever",
        "I cannot use wait for ever here.",
    ]
    assert not at.journal.lines()


def test_what_cannot_be_kept_is_said_aloud_and_did_not_happen() -> None:
    at = At(journal=FullDisk(1)).run("morse two", "between balls one sixty", "where are we")

    assert at.screen.told.count(FULL) == 1
    assert at.voice.spoken[-2] == FULL
    assert "between balls" not in at.voice.spoken[-1]
    assert at.journal.lines() == (TAPER,)


def test_what_cannot_be_kept_is_neither_shown_nor_signalled_as_taken() -> None:
    at = At(journal=FullDisk(0)).run("morse two")

    assert all("Morse" not in line for lines in at.screen.shown for line in lines)
    assert "Morse two" not in " ".join(at.voice.spoken)


def test_a_number_keyed_that_cannot_be_kept_stays_on_the_pad() -> None:
    at = At(journal=FullDisk(1)).run("morse two", "keys B 1 1 6 0 #")

    assert at.screen.shown[-1] == ("BETWEEN BALLS", "160_ mm", "# enter    D rub out")


def test_time_goes_on_and_reminders_come_with_a_disk_that_is_full() -> None:
    # Once the running could not be kept, no time went by any more: nothing ever fell due.
    at = At("[head]\n[reminders]\nfirst_ease_s = 60.0\n", FullDisk(0), Clock(each_time_s=40.0))
    at.run(SpindleSeen(True), *["where are we"] * 3)

    assert FULL in at.voice.spoken
    assert any("Stop the spindle, then feel the tailstock" in one for one in at.voice.spoken)
    assert Lamp(True) in at.signals.given


def test_the_journal_brings_the_job_back() -> None:
    kept = MemoryJournal([TAPER, LENGTH])
    at = At(journal=kept).run("which way")

    assert "one four two point five millimetres between balls" in at.voice.spoken[0]
    assert at.voice.spoken[-1] == "Towards you, small end at the tailstock."
    assert at.screen.shown[0][1] == "Balls       142.5 mm"


def test_undo_reaches_back_past_a_restart() -> None:
    at = At(journal=MemoryJournal([TAPER, LENGTH])).run("undo")

    assert at.screen.shown[-1][1] == "Balls              ?"


def test_a_line_of_the_journal_that_cannot_be_read_is_told_of() -> None:
    at = At(journal=MemoryJournal([TAPER, "{}", LENGTH])).run()

    assert at.screen.told[0] == "The journal has a line I cannot use: {}"
    assert at.screen.shown[0][1] == "Balls       142.5 mm"


def test_a_reminder_sounds_and_lights_once_time_has_gone_by() -> None:
    # The loop asks the time once for each thing that comes: 40 s lie between two.
    at = At("[head]\n[reminders]\nfirst_ease_s = 60.0\n", clock=Clock(each_time_s=40.0))
    at.run(SpindleSeen(True), *["where are we"] * 3)

    assert Signal.REMINDER in at.signals.given
    assert Lamp(True) in at.signals.given
    assert any("feel the tailstock" in words for words in at.voice.spoken)
    assert at.watchdog.times == 4


def test_no_time_goes_by_where_none_does() -> None:
    at = At("[reminders]\nfirst_ease_s = 1.0\n").run(SpindleSeen(True), *["where are we"] * 5)

    assert not at.signals.given
    assert at.watchdog.times == 0


def test_the_lamp_goes_out_when_what_was_due_is_done() -> None:
    at = At().run("ball is hot", "oiled it", "eased off a touch")

    assert [given for given in at.signals.given if isinstance(given, Lamp)] == [
        Lamp(True),
        Lamp(False),
    ]


def test_a_refused_key_sounds_so() -> None:
    at = At().run(KeyPressed(Key.C), KeyPressed(Key.HASH), KeyPressed(Key.FIVE))

    assert at.signals.given == [Signal.KEY, Signal.KEY, Signal.REFUSED]


def test_a_key_cuts_what_is_being_spoken() -> None:
    at = At(clock=Clock(each_time_s=0.01)).run("where are we", KeyPressed(Key.A))

    spoken = at.speaker.played[-1]
    assert spoken.end_s - spoken.start_s < spoken.sound.seconds


def test_words_do_not_cut_what_is_being_spoken_until_they_are_answered() -> None:
    at = At().run("where are we")

    last = at.speaker.played[-1]
    assert last.end_s - last.start_s == last.sound.seconds


def test_the_keys_of_a_pad_are_taken() -> None:
    at = At()
    pad = ScriptedKeypad([Key.A, Key.TWO, Key.TWO, Key.HASH])
    app = App(replace(at.bench, keypads=[pad, LastOfAll(lambda: app.take(None))]), at.job)
    app.run()

    assert at.journal.lines() == (TAPER,)
    assert at.signals.given == [Signal.KEY] * 4


def test_the_talk_key_held_is_the_pedal() -> None:
    at = At(hearings=["morse two"], clock=Clock(each_time_s=0.1), called=WORD)
    pad = ScriptedKeypad([Hold.DOWN])
    app = App(replace(at.bench, keypads=[pad, LastOfAll(lambda: talk(app))]), at.job)
    app.run()

    assert at.facts == (TAPER,)
    spoken = at.speaker.played[0]
    assert spoken.end_s - spoken.start_s < spoken.sound.seconds


def talk(app: App) -> None:
    for item in (SPEECH, SPEECH, SPEECH, Hold.UP, SILENCE, SILENCE, None):
        app.take(item)


def test_the_talk_key_tapped_drops_what_was_heard_and_is_a_key() -> None:
    at = At(hearings=["morse two"], clock=Clock(each_time_s=0.1), called=WORD)
    at.run("morse two", Hold.DOWN, SPEECH, SPEECH, Hold.DROPPED, KeyPressed(Key.ZERO), *PAUSE)

    assert at.facts == (TAPER,)
    assert at.screen.shown[-1][1].startswith("0_")
    assert "heard morse two" not in at.screen.told


def test_the_recogniser_is_told_what_to_listen_for_at_every_change() -> None:
    at = At().run()
    assert at.recogniser.expected == phrases(Context.READY)

    at = At().run("morse two")
    assert at.recogniser.expected == phrases(Context.ASKED_MEASURE)

    at = At().run("stop listening")
    assert at.recogniser.expected == phrases(Context.NOT_LISTENING)


def test_what_is_heard_is_answered() -> None:
    # A minute between two looks at the clock: the greeting is over, and the ears are open.
    at = At(hearings=["morse two"], clock=Clock(each_time_s=60.0)).run(SPEECH, SILENCE)

    assert "heard morse two" in at.screen.told
    assert at.journal.lines()[-1] == TAPER


# Open listening with a word. The clock moves on at each look, about 0.4 s a block: LATER the
# greeting's question is long past, and after a PAUSE a reply is spoken and its question is not.

LATER, PAUSE = [SILENCE] * 150, [SILENCE] * 18


def in_the_shop(*hearings: str) -> At:
    return At(hearings=hearings, clock=Clock(each_time_s=0.1), called=WORD)


def test_what_is_said_to_somebody_else_is_not_taken() -> None:
    at = in_the_shop("morse two").run(*LATER, SPEECH, SILENCE)

    assert not at.facts
    assert at.screen.told[-1] == f"not for me: it did not begin with {WORD}"


def test_noise_is_not_even_told_of() -> None:
    at = in_the_shop("[unk]").run(*LATER, SPEECH, SILENCE)

    assert len(at.screen.told) == 1


def test_what_begins_with_the_word_is_taken_without_it() -> None:
    at = in_the_shop(f"{WORD} morse two").run(*LATER, SPEECH, SILENCE)

    assert at.screen.told[-2] == "heard morse two"
    assert at.facts == (TAPER,)


def test_the_answer_to_a_question_needs_no_word() -> None:
    at = in_the_shop(f"{WORD} morse two", "between balls one forty two point five")
    at.run(*LATER, SPEECH, SILENCE, *PAUSE, SPEECH, SILENCE)

    assert at.facts == (TAPER, LENGTH)


def test_what_was_refused_can_be_said_again_without_the_word() -> None:
    at = in_the_shop(f"{WORD} morse ninety", "morse two")
    at.run(*LATER, SPEECH, SILENCE, *PAUSE, SPEECH, SILENCE)

    assert at.signals.given == [Signal.REFUSED]
    assert at.facts == (TAPER,)


def test_a_reminder_does_not_come_between_a_question_and_its_answer() -> None:
    at = At(
        "[head]\n[reminders]\nfirst_ease_s = 60.0\n",
        hearings=[f"{WORD} morse two", "between balls one forty two point five"],
        clock=Clock(each_time_s=0.1),
        called=WORD,
    )
    at.run(SpindleSeen(True), *LATER, SPEECH, SILENCE, Tick(60.0), *PAUSE, SPEECH, SILENCE)

    assert "feel the tailstock" in at.voice.spoken[-2]
    assert LENGTH in at.facts


def test_by_hand_no_word_is_needed_and_none_is_in_the_way() -> None:
    for said in ("morse two", f"{WORD} morse two"):
        at = in_the_shop(said)
        at.run(*LATER, Hold.DOWN, SPEECH, SPEECH, SPEECH, Hold.UP, SILENCE, SILENCE)
        assert at.facts == (TAPER,)


def test_the_word_alone_is_answered_and_what_follows_needs_it_not() -> None:
    at = in_the_shop(WORD, "morse two").run(*LATER, SPEECH, SILENCE, *PAUSE, SPEECH, SILENCE)

    assert at.voice.spoken[1] == "Yes?"
    assert at.facts == (TAPER,)


def test_the_word_is_told_at_the_start_and_by_help() -> None:
    at = in_the_shop().run("help")

    assert [f"To talk to me, begin with {WORD}." in each for each in at.voice.spoken] == [True] * 2


def test_told_not_to_listen_it_says_how_to_wake_it_and_is_not_called_by_the_word_alone() -> None:
    at = in_the_shop(WORD, f"{WORD} listen")
    at.run("stop listening", *LATER, SPEECH, SILENCE, *LATER, SPEECH, SILENCE)

    assert at.voice.spoken[1:] == [
        f"Not listening. Say {WORD}, listen, or use the keys.",
        "Listening.",
    ]


def test_the_screen_shows_when_the_word_must_come_first() -> None:
    at = in_the_shop(f"{WORD} morse two").run(*LATER, SPEECH, SILENCE, SILENCE, *LATER)

    assert at.screen.begun_with == ["", WORD, "", WORD]


def test_the_word_is_listened_for_openly() -> None:
    at = in_the_shop().run()

    assert at.recogniser.expected == phrases_called(Context.READY, WORD)


def test_a_lost_voice_leaves_the_answer_on_the_screen() -> None:
    at = At(synthesiser=BrokenVoice()).run("morse two")

    assert at.screen.shown[-1][0] == "Morse 2      1:20.02"
    assert at.screen.told[-1].startswith("I could not speak the words: Morse two.")
    assert at.journal.lines() == (TAPER,)


def test_the_pedal_cuts_speech_and_holds_the_utterance_open() -> None:
    at = At(clock=Clock(each_time_s=0.01)).run("where are we", Hold.DOWN)

    assert at.bench.ears is not None
    assert at.bench.ears.held
    spoken = at.speaker.played[-1]
    assert spoken.end_s - spoken.start_s < spoken.sound.seconds


def test_a_bench_of_a_screen_alone_still_answers() -> None:
    screen = Screen()
    app = App(Bench(screen, Clock()), from_toml("").first_job())
    app.take("morse two")
    app.take(None)
    app.run()

    assert screen.shown[-1][0] == "Morse 2      1:20.02"
