"""Two hundred thousand random conversations: none breaks it, none loses a number.

Scripts bring jobs of every kind somewhere; from any point of them random words, keys, time
and sensor edges go on, ten in a row: each that is added makes another conversation. A failure
prints the shortest conversation that shows it.
"""

import random
import re
from collections.abc import Iterable
from dataclasses import dataclass, field, fields, replace
from itertools import groupby

import pytest

from assistant.calc.screw import SAME_PLACE
from assistant.dialogue import Mode, State, begin, resume, step
from assistant.dialogue.conversation import PASSING, RECORD_RUN_EVERY_S, TABLE
from assistant.dialogue.job import Job
from assistant.dialogue.keeping import QUIETEST
from assistant.dialogue.reminders import Due
from assistant.dialogue.screens import DUE_LINES, HEIGHT, WIDTH
from assistant.dialogue.state import HEAD_QUESTIONS, Step
from assistant.errors import BenchError
from assistant.events import (
    Called,
    Event,
    Heard,
    Hearing,
    Key,
    KeyPressed,
    Lamp,
    Record,
    Say,
    Show,
    Signal,
    SpindleSeen,
    Tick,
)
from assistant.exchange import events_of
from assistant.language import requests as r
from assistant.language.listening import Context
from assistant.settings import from_toml
from tests.dialogue.utterances import NONSENSE, SAID, sampled

CONVERSATIONS = 200_000
IN_A_ROW = 10
SHARDS = 8
# The journal of one conversation in so many is read back: that costs more than all else.
READ_BACK_EVERY = 400

STARTS = (
    "",
    "[head]\npitch_mm = 0.5\ndivisions = 50\nbacklash_mm = 0.08\n",
    "[head]\npitch_mm = 1.0\ndivisions = 100\nbacklash_mm = 0.9\ndial_reads = 'diameter'\n",
    "[head]\npitch_mm = 0.635\ndivisions = 25\nbacklash_mm = 0.05\n[job]\nunit = 'in'\n",
    "[head]\ntravel_mm = 4.0\ntool_post = 'rear'\n[sound]\nkeys = 'speech'\n",
    "[job]\nsmall_end = 'headstock'\n"
    "[reminders]\nmost_times = 1\nagain_s = 10.0\nput_off_s = 20.0\n",
    "[reminders]\noil_s = 60.0\noil_turns = 100.0\n"
    "first_ease_s = 5.0\nease_s = 20.0\nagain_s = 7.0\n",
)

SCRIPTS = (
    "morse two;between balls one forty two point five;how many turns;yes;head set;started;wait 70;"
    "took point two;stopped;measured nineteen oh five and seventeen eight, twenty five apart;"
    "how many turns;head set;oiled it;eased off a touch;next part, one forty three;how many turns;"
    "head set;finish job;head at zero;new job",
    "keys A 2 3 #;keys B 1 1 8 0 #;keys C 2;keys * ;keys D 6 1 #;keys 1 0 0 #;keys 1;keys * 1 #;"
    "keys 2 0 #;keys 1;keys D #;keys C #;wait 30;keys B # * 3 #;keys C *;"
    "keys A # 2 0 # 1 7 * 5 # 5 0 #;keys C 6;keys D #;keys B 8 1 8 1 #;keys C 2;keys D #;keys B 0;"
    "keys D *;keys B 9 1 #",
    "inches;forty threads per inch, twenty five divisions;five eighths of an inch per foot;"
    "between balls six;how many turns;head set;started;wait 200;"
    "measured point seven five and point seven, one apart;head set;finish job;undo two",
    "one in twenty;over the balls one seven two point three;ten millimetre balls;how many turns;no;"
    "screw pitch one;fifty divisions;diameter;point one;twenty;front;head set;started;"
    "indicator moved two point four over fifty;how many turns;head set;next part;"
    "one seven two point five;finish job;repeat job number one;how many turns",
    "work length one fifty;ten millimetre balls;mouth nine;angle is one degree twenty six minutes;"
    "half angle;does the ball fit;why;backlash point one;head set;head at zero;small end at the "
    "headstock;head set;rear tool post;how many turns;head set",
    "what speed;mild steel;work diameter twenty;one in ten;between balls one sixty;ball is hot;"
    "started;wait 100;stop listening;listen;later;gauge stands off three mil;took point two;"
    "stopped;blue at the small end;sensor turning;wait 200;sensor still",
    "set up the head;forty threads per inch;twenty five;travel;backlash eight divisions;half an "
    "inch;rear;correct the head;yes;yes;yes;yes;yes;yes;one in twelve;between balls one hundred "
    "and sixty;no one forty three point two;undo;two tenths;sensor turning;wait 700;later;wait 400",
    "between balls six;yes;one in twenty;between balls nine hundred;no;between balls three mil;"
    "one hundred and sixty;screw pitch two tenths;first;angle two degrees;included;undo three;"
    "correct the length;one sixty;finish job;finish job;repeat job number two;"
    "large end thirty one, small end twenty eight point five, over fifty;head set",
)

# Conversations that broke a law once, each the shortest that did.
ONCE_BROKEN = (
    # The same cone at two settings: the screw was found to move nothing, or the wrong way.
    "one in ten;between balls one sixty;head set;measured twenty and seventeen point five, fifty "
    "apart;head set;measured twenty and seventeen point five, fifty apart;new job",
    "morse two;between balls one sixty;head set;measured twenty and seventeen point five, fifty "
    "apart;head set;measured twenty point one and seventeen point five, fifty apart;new job",
    # Cuts measured at a length that was then taken back.
    "morse two;between balls one sixty;head set;measured twenty and seventeen point five, fifty "
    "apart;head set;measured twenty point one and seventeen point five, fifty apart;"
    "work length one fifty;what does the screw move;new job",
    # Done while an angle, or one of two, was asked about.
    "angle two degrees;over the balls one seven two point three with ten millimetre balls",
    "one forty mil between balls;inches;one forty mil between balls;oiled it;where are we;yes",
    "mild steel;work diameter twenty;carbide tool",
    # An angle of unknown kind among other facts.
    "angle one degree, between balls one sixty;half angle",
    "zero point eighteen imperial taper pin",
    "keys A 4 3 # #;no",
    # A speed in two pairs, which the journal could not read back.
    "sixteen ninety rpm;where are we",
    # Settled, and due again before the next tick.
    "started;wait 70;eased off a touch;wait 310",
    "stop listening;keys D;one in twenty",
)

_WORDS_ONLY = re.compile(r"[A-Za-z ,.;:?!'()-]+")
# What undo does not take back: the world went on, and how the assistant talks is no step.
_UNDONE = ("job", "latest", "wanted", "to_ask", "angle", "book")
_KEPT = [f.name for f in fields(State) if f.compare and f.name not in PASSING]


class Broken(AssertionError):
    """A law of the conversation does not hold."""


def must(holds: object, law: str) -> None:
    if not holds:
        raise Broken(law)


@dataclass(slots=True)
class Course:
    """A conversation as it went, and what ought to be true of it, kept without its code."""

    start: str
    state: State
    lit: bool = False
    done: list[Event] = field(default_factory=list)
    journal: list[str] = field(default_factory=list)
    # Every state that an undo must lead back to, the latest last.
    former: list[State] = field(default_factory=list)
    # How often each thing was spoken of since it fell due or was put off, and the earliest
    # time, in seconds awake, that it may be spoken of again.
    told: dict[Due, tuple[int, float]] = field(default_factory=dict)

    @classmethod
    def begun(cls, start: str) -> "Course":
        taken = begin(from_toml(start).first_job())
        return cls(start, taken.state)

    def fork(self) -> "Course":
        return Course(
            self.start,
            self.state,
            self.lit,
            [*self.done],
            [*self.journal],
            [*self.former],
            {**self.told},
        )

    def take(self, event: Event) -> None:
        """Take an event and check every law."""
        self.done.append(event)
        before = self.state
        taken = step(before, event)
        self.state = taken.state
        self._check_actions(taken)
        check_legal(taken.state, before)
        self._check_refusal(before, event, taken)
        self._check_steps(before, taken)
        self._check_reminders(before, event, taken)

    def _check_actions(self, taken: Step) -> None:
        answering, lamps, muted = False, 0, taken.state.sound.muted
        for action in taken.actions:
            match action:
                case Record(line):
                    must(not answering, "the journal has it before anything is answered")
                    self.journal.append(line)
                    continue
                case Say(words, loudness):
                    must(_WORDS_ONLY.fullmatch(words), f"spoken text is words: {words!r}")
                    must(QUIETEST <= loudness <= 1, "loudness is a share")
                    must(not muted, "mute is mute")
                case Show(lines):
                    check_screen(lines)
                case Lamp(lit):
                    lamps += 1
                    must(lit != self.lit, "the lamp is told of changes only")
                    self.lit = lit
            answering = True
        must(lamps <= 1, "the lamp is told once")
        must(self.lit == bool(taken.state.due), "the lamp is lit while something is due")

    def _check_refusal(self, before: State, event: Event, taken: Step) -> None:
        after = taken.state
        if isinstance(event, Tick):
            same = after.job is before.job and after.mode is before.mode
            must(same, "time alone changes no number and no question")
            must(after.run.awake_s == before.run.awake_s + event.elapsed_s, "time is counted")
        if taken.understood is None:
            must(after.job is before.job and after.book is before.book, "refused changes nothing")
            must(after.before is before.before, "refused is no step")
            must(after.waiting is before.waiting, "refused leaves the question open")
        if isinstance(event, Heard) and before.mode is Mode.KEYING:
            must(after is before, "words disturb no number being keyed")
        if isinstance(event, Heard) and not before.listening and not after.listening:
            must(after is before and not taken.actions, "words do nothing while not listening")

    def _check_steps(self, before: State, taken: Step) -> None:
        """Check that whatever changes the job can be undone, and that undo leads back."""
        after, understood = taken.state, taken.understood
        if isinstance(understood, r.Undo):
            back = self.former[-understood.steps]
            del self.former[-understood.steps :]
            # A question that the step had answered may be left out, its choices with it.
            asked_again = after.waiting is back.waiting and after.choices == back.choices
            asked_no_more = after.waiting is back.resume and not after.choices
            must(asked_again or asked_no_more, "undo brings back the question")
            for name in _UNDONE:
                must(getattr(after, name) == getattr(back, name), f"undo brings back {name}")
            must(after.run == before.run, "undo does not undo the world")
            return
        if after.before is not before.before:
            self.former.append(before)
            return
        if after.job is not before.job:
            must(
                _but_for_notes(after) == _but_for_notes(before),
                f"{understood} changes the job and can be undone",
            )
        must(after.book == before.book, "the book changes in steps")

    def _check_reminders(self, before: State, event: Event, taken: Step) -> None:
        after = taken.state
        now_s, shop = after.run.awake_s, after.job.shop.intervals
        due = set(after.due)
        self.told = {one: told for one, told in self.told.items() if one in due}
        if isinstance(event, Tick):
            said = _reminded(taken)
            must(said <= due, "only what is due is spoken of")
            silent = event.speaking or before.mode is Mode.KEYING
            must(not (said and silent), "nobody is interrupted")
            for one in due:
                times, quiet_until_s = self.told.get(one, (0, 0.0))
                wanted = times < shop.most_times and now_s >= quiet_until_s
                if one in said:
                    must(wanted, f"{one}: no sooner and no more often than the settings allow")
                    self.told[one] = (times + 1, now_s + shop.again_s)
                else:
                    must(silent or not wanted, f"{one}: said when it is due")
            return
        must(Signal.REMINDER not in taken.actions, "reminders come with time alone")
        match taken.understood:
            case r.PutOff():
                later_s = now_s + shop.put_off_s
                old = self.told
                self.told = {one: (0, max(later_s, old.get(one, (0, 0.0))[1])) for one in due}
            case r.SpindleStopped() | r.Ask(r.Question.DUE) | r.BallIs():
                again_s = now_s + shop.again_s
                self.told = {one: (self.told.get(one, (0, 0))[0] + 1, again_s) for one in due}

    def check_journal(self) -> None:
        """Check that the journal alone leads back to where the conversation stands."""
        live = self.state
        again, unusable = resume(from_toml(self.start).first_job(), self.journal)
        must(not unusable, f"every line can be used: {unusable}")
        must(not again.run.turning, "the spindle is taken to stand")
        for name in _KEPT:
            mine, theirs = getattr(live, name), getattr(again, name)
            mine = live.waiting if name == "mode" else mine
            must(mine == theirs, f"the journal keeps {name}: {mine!r}, not {theirs!r}")
        lost_s = live.run.ran_s - again.run.ran_s
        # A huge tick is recorded at once, so no more than a step of running can be missing.
        must(0 <= lost_s < RECORD_RUN_EVERY_S, "the journal keeps the running")
        while live.before is not None and again.before is not None:
            one, other = live.without_latest, again.without_latest
            strikes = one is other or (one and other and one.job == other.job)
            must(strikes, "the journal keeps what no goes back to")
            live, again = live.before, again.before
            same = live.job == again.job and live.waiting is again.waiting
            must(same, "the journal keeps every step")
        must(live.before is again.before, "the journal keeps as many steps")


def _but_for_notes(state: State) -> Job:
    """Return the job without what is noted of the world and the talk: started, asked about."""
    job = state.job
    return replace(job, started=False, head=replace(job.head, confirmed=False))


def _reminded(taken: Step) -> set[Due]:
    if Signal.REMINDER not in taken.actions:
        return set()
    lines = next(action.lines for action in taken.actions if isinstance(action, Show))
    return {one for one, text in DUE_LINES.items() if text in lines}


def check_screen(lines: tuple[str, ...]) -> None:
    fits = len(lines) <= HEIGHT and all(len(line) <= WIDTH for line in lines)
    must(fits, f"the screen holds it: {lines}")


def check_legal(state: State, before: State) -> None:
    """Check what must be true of any state."""
    waiting = state.waiting
    for kind in (Heard, Called, KeyPressed, Tick, SpindleSeen):
        must((state.mode, kind) in TABLE, "the table has every event of every mode")
    must((state.entry is not None) == (state.mode is Mode.KEYING), "an entry while keying")
    must(waiting is not Mode.KEYING, "keying goes back to something else")
    if state.mode is not Mode.KEYING:
        must(state.mode_before_keying is Mode.READY, "nothing to go back to when not keying")
    choices = {Mode.ASKING_WHICH: 2, Mode.ASKING_WHETHER: 1}.get(waiting, 0)
    must(len(state.choices) == choices, f"{len(state.choices)} choices while {waiting}")
    to_come = state.resume if choices else waiting
    must((state.angle is not None) == (to_come is Mode.ASKING_ANGLE_KIND), "an angle when asked")
    asks = (Mode.ASKING_WHICH, Mode.ASKING_WHETHER, Mode.KEYING)
    must(state.resume not in asks, "a question goes back to something else")
    left = tuple(mode for mode in HEAD_QUESTIONS if mode in state.to_ask)
    must(left == state.to_ask, "what is to be asked of the head is in order, once")
    must(state.context in Context, "the context is known")
    must(QUIETEST <= state.sound.loudness <= 1, "loudness is a share")
    must(state.misses >= 0, "misses are counted")
    check_screen(state.reply.lines)
    must(state.run.ran_s >= before.run.ran_s, "running is never undone")
    if state.book is not before.book:
        numbers = [job.number for job in state.book]
        must(numbers == [*range(1, len(numbers) + 1)], "the book is numbered in order")
    if state.job is not before.job:
        job = state.job
        slack = job.position.slide - job.position.handle
        backlash = job.head.screw.backlash
        must(-SAME_PLACE <= slack <= backlash + SAME_PLACE, "the slack is within the backlash")
        try:
            _ = job.answer, job.speed, job.moves, job.moves_home, job.trial, job.learnt
        except BenchError as error:
            raise Broken(f"the job can be worked out: {error}") from error


def told(course: Course) -> str:
    """Return a conversation in few words, to be played again."""

    def one(event: Event, times: int) -> str:
        match event:
            case Heard(hearing):
                return "; ".join([" / ".join(hearing.alternatives) or "(nothing)"] * times)
            case Called():
                return "; ".join(["(called)"] * times)
            case KeyPressed(key):
                return f"keys{f' {key}' * times}"
            case Tick(elapsed_s, speaking):
                return f"wait {elapsed_s} x {times}{' speaking' if speaking else ''}"
            case SpindleSeen(turning):
                return f"sensor {'turning' if turning else 'still'}"

    return f"{course.start!r}\n" + "\n".join(
        one(event, len([*same])) for event, same in groupby(course.done)
    )


class Noise:
    """Anything that can happen, at random."""

    def __init__(self, seed: int) -> None:
        self._rng = random.Random(seed)
        self._sampled = sampled(1200, seed=4)

    def events(self, count: int) -> list[Event]:
        events: list[Event] = []
        while len(events) < count:
            events += self._some()
        return events[:count]

    def _some(self) -> list[Event]:
        rng = self._rng
        throw = rng.random()
        if throw < 0.45:
            return [Heard(self._hearing())]
        if throw < 0.65:
            return self._keys()
        if throw < 0.92:
            elapsed_s = rng.choice((0.0, 0.2, 1.0, 1.0, 5.0, 29.9, 60.0, 121.0, 301.0, 4000.0))
            return [Tick(elapsed_s, speaking=rng.random() < 0.2)]
        if throw < 0.94:
            return [Called()]
        return [SpindleSeen(rng.random() < 0.6)]

    def _hearing(self) -> Hearing:
        rng = self._rng
        throw = rng.random()
        if throw < 0.1:
            return Hearing((rng.choice(NONSENSE),) if rng.random() < 0.8 else ())
        if throw < 0.2:
            nonsense, sense = rng.choice(NONSENSE), rng.choice(SAID)
            return Hearing((nonsense, sense) if rng.random() < 0.5 else (sense, nonsense))
        return Hearing((rng.choice(SAID if throw < 0.85 else self._sampled),))

    def _keys(self) -> list[Event]:
        rng = self._rng
        if rng.random() < 0.6:
            # Half of what is begun is gone on with: a function, a number, enter.
            keys = rng.choice(_RUNS)
            return [KeyPressed(Key(key)) for key in keys[: rng.randint(1, len(keys))]]
        return [KeyPressed(rng.choice(_KEYS))]


_KEYS = tuple(Key)
_RUNS = (
    "A120#", "A22#", "A31#26#", "A43##", "A55A8#", "A631#28*5#50#", "A#20#17*5#50#", "A**5#",
    "B1160#", "B2172*3##", "B310#", "B4150#", "B59#", "B62#", "B720#", "B8143#", "B8#", "B91#",
    "B0", "B#*2#", "B*", "BA1BB#", "BA4300#", "BB2", "BB4", "BB5", "C1", "C2", "C4", "C5", "C6",
    "C7", "C9", "CC", "C#", "C*", "D1", "D02#", "D2", "D3", "D5", "D61#", "D740#", "D850#", "D9",
    "D#", "D*", "DD", "DA0", "DA1*1#", "DA28#", "DA312#", "DA7", "DB2", "DB4", "DC1", "DC3",
    "DC6", "DC7", "160#", "#", "*", "1", "2",
)  # fmt: skip


def scripted(start: str, script: str) -> Iterable[Course]:
    """Return the points of a conversation that goes as it is written."""
    course = Course.begun(start)
    for line in script.split(";"):
        for event in _events(line.strip()):
            course.take(event)
        yield course.fork()


def _events(line: str) -> list[Event]:
    """Return what a line stands for, a wait as one tick."""
    first, _, rest = line.partition(" ")
    return [Tick(float(rest))] if first == "wait" else events_of(line)


def shortest(course: Course) -> Course:
    """Return a conversation that breaks a law with no event that it could do without."""
    kept, size = course.done, len(course.done)
    while size:
        for begin_at in range(len(kept) - size, -1, -size):
            fewer = kept[:begin_at] + kept[begin_at + size :]
            if broken(course.start, fewer):
                kept = fewer
        size //= 2
    return Course(course.start, course.state, done=kept)


def broken(start: str, events: Iterable[Event]) -> Exception | None:
    """Return what is wrong with a conversation played from its beginning."""
    course = Course.begun(start)
    try:
        for event in events:
            course.take(event)
        course.check_journal()
    except Exception as wrong:
        return wrong
    return None


@pytest.fixture(scope="module")
def points() -> list[Course]:
    return [point for start in STARTS for script in SCRIPTS for point in scripted(start, script)]


@pytest.mark.parametrize("script", ONCE_BROKEN)
def test_what_broke_a_law_once_breaks_it_no_more(script: str) -> None:
    for start in STARTS:
        for course in scripted(start, script):
            course.check_journal()


@pytest.mark.parametrize("shard", range(SHARDS))
def test_no_random_conversation_breaks_a_law(points: list[Course], shard: int) -> None:
    rng, noise = random.Random(shard), Noise(shard)
    made = 0
    while made < CONVERSATIONS // SHARDS:
        course = rng.choice(points).fork()
        try:
            for event in noise.events(IN_A_ROW):
                course.take(event)
                made += 1
            if made % READ_BACK_EVERY == 0:
                course.check_journal()
        except Exception as wrong:  # whatever it is, it is shown with what led to it
            least = shortest(course)
            wrong = broken(least.start, least.done) or wrong
            raise Broken(f"{wrong!r} after\n{told(least)}") from wrong
