"""Laws of the conversation: whatever is said, in whatever order, on whatever lathe."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.calc.screw import SAME_PLACE, DialReads
from assistant.calc.setover import End, ToolPost
from assistant.dialogue import State, begin, resume, step
from assistant.dialogue.conversation import perform
from assistant.errors import BenchError
from assistant.events import Key, KeyPressed, Record
from assistant.exchange import events_of, values
from assistant.language import requests as r
from assistant.language.phrasing import number_words
from assistant.language.requests import Fact, Measure, Unit
from assistant.settings import from_toml
from assistant.tables.cutting import Tool

MM, INCH = Unit.MILLIMETRE, Unit.INCH


# The grammar is read at the first word.
unhurried = settings(deadline=None, max_examples=60)


def bench(toml: str = "[head]\nbacklash_mm = 0.08\n") -> State:
    return begin(from_toml(toml).first_job()).state


def after(state: State, *lines: str) -> State:
    """Return the state after some lines of words or keys."""
    for line in lines:
        for event in events_of(line):
            state = step(state, event).state
    return state


def stated(state: State, facts: Iterable[Fact]) -> State:
    for fact in facts:
        state = perform(state, fact).state
    return state


def figures(least: int, most: int, places: int = 0) -> st.SearchStrategy[Fraction]:
    """Numbers with so many decimals, from one whole number to another."""
    scale = 10**places
    return st.integers(least * scale, most * scale).map(lambda n: Fraction(n, scale))


def in_mm(least: int, most: int, places: int) -> st.SearchStrategy[Measure]:
    return figures(least, most, places).map(lambda value: Measure(value, MM))


ratios = figures(16, 60, 2).map(lambda run: r.TaperByRatio(Fraction(1), run))
lengths = in_mm(90, 180, 2).map(r.BetweenBalls)
# Of any pitch, and of the one it has before, the backlash is less than a turn.
pitches = figures(5, 20, 1).map(lambda tenths: r.ScrewPitch(Measure(tenths / 10, MM)))
backlashes = figures(0, 4, 1).map(lambda tenths: r.Backlash(Measure(tenths / 10, MM)))
dials = st.sampled_from([25, 40, 50, 80, 100]).map(lambda count: r.Divisions(Fraction(count)))

# Of every kind no more than one, or the later would rightly stand.
whole_jobs = st.tuples(
    ratios,
    lengths,
    pitches,
    dials,
    backlashes,
    st.sampled_from(DialReads).map(r.DialIs),
    in_mm(8, 30, 1).map(r.HeadTravel),
    st.sampled_from(ToolPost).map(r.ToolPostAt),
    st.sampled_from(End).map(r.SmallEnd),
    in_mm(5, 60, 1).map(r.WorkDiameter),
    st.sampled_from(["mild steel", "brass"]).map(r.MaterialIs),
    st.sampled_from(Tool).map(r.ToolIs),
)


# Facts


@unhurried
@given(whole_jobs.flatmap(lambda job: st.tuples(st.just(job), st.permutations(job))))
def test_facts_in_any_order_make_the_same_job(
    orders: tuple[tuple[Fact, ...], list[Fact]],
) -> None:
    one_way, another = orders
    together = perform(bench(), r.Facts(one_way)).state
    singly = stated(bench(), another)

    assert values(singly) == values(together)
    assert singly.job.head == together.job.head


IMPOSSIBLE: tuple[Fact, ...] = (
    r.BetweenBalls(Measure(Fraction(0), MM)),
    r.BetweenBalls(Measure(Fraction(-3), MM)),
    r.BetweenBalls(Measure(Fraction(90_000), MM)),
    r.TaperByRatio(Fraction(1), Fraction(0)),
    r.TaperByRatio(Fraction(1), Fraction(1)),
    r.TaperByHalfAngle(Fraction(60)),
    r.TaperByName("morse", "9"),
    r.TaperByDiameters(*(Measure(Fraction(n), MM) for n in (20, 20, 50))),
    r.ScrewPitch(Measure(Fraction(0), MM)),
    r.ThreadsPerInch(Fraction(0)),
    r.Divisions(Fraction(5, 2)),
    r.Divisions(Fraction(0)),
    r.Backlash(Measure(Fraction(-1), MM)),
    r.HeadTravel(Measure(Fraction(0), MM)),
    r.HeadTravel(Measure(Fraction(1, 10), MM)),
    r.MaterialIs("cheese"),
    r.RunningAt(Fraction(0)),
    r.WorkDiameter(Measure(Fraction(0), MM)),
)


@unhurried
@given(whole_jobs, st.sampled_from(IMPOSSIBLE), st.integers(0, 3))
def test_a_refused_fact_changes_no_number_alone_or_among_others(
    job: tuple[Fact, ...], impossible: Fact, others: int
) -> None:
    state = stated(bench(), job)
    known = values(state)
    longer = r.BetweenBalls(Measure(Fraction(100), MM))

    with pytest.raises(BenchError):
        perform(state, r.Facts((*[longer] * others, impossible)))
    with pytest.raises(BenchError):
        perform(state, r.No((impossible,)))
    assert values(state) == known


@unhurried
@given(figures(16, 60, 1), figures(90, 180, 1))
def test_by_voice_by_keys_and_in_one_breath_are_the_same(run: Fraction, length: Fraction) -> None:
    taper, balls = (f"{float(value):g}" for value in (run, length))
    in_words = f"one in {number_words(taper)}", f"between balls {number_words(balls)}"
    keyed = (" ".join(f"{keys}#").replace(".", "*") for keys in (f"A1{taper}", f"B1{balls}"))

    spoken = values(after(bench(), *in_words))
    assert spoken["ball_length_mm"] == float(length)
    assert values(after(bench(), *(f"keys {keys}" for keys in keyed))) == spoken
    assert values(after(bench(), ", ".join(in_words))) == spoken


@unhurried
@given(whole_jobs, st.lists(st.sampled_from([MM, INCH]), min_size=1, max_size=4))
def test_changing_the_unit_changes_no_length(job: tuple[Fact, ...], units: list[Unit]) -> None:
    state = stated(bench(), job)
    changed = stated(state, map(r.Units, units))

    assert values(changed) == values(state)
    assert (changed.job.head, changed.job.position) == (state.job.head, state.job.position)


# The head


heads = st.tuples(pitches, backlashes, dials, st.sampled_from(ToolPost).map(r.ToolPostAt))


@unhurried
@given(heads, st.lists(st.one_of(ratios, lengths, st.just(r.HeadAtZero())), max_size=8))
def test_a_head_set_as_told_has_nothing_to_move_and_slack_within_its_backlash(
    head: tuple[Fact, ...], things: list[r.Request]
) -> None:
    state = stated(bench(), (*head, r.TaperByRatio(Fraction(1), Fraction(30))))
    state = perform(state, r.BetweenBalls(Measure(Fraction(120), MM))).state
    for thing in things:
        state = perform(perform(state, thing).state, r.HeadSet()).state
        assert state.job.moves == ()
        position, backlash = state.job.position, state.job.head.screw.backlash
        assert -SAME_PLACE <= position.slide - position.handle <= backlash + SAME_PLACE

    home = perform(state, r.HeadAtZero()).state
    assert home.job.moves_home == ()


# Mending


DONE = (
    "one in twenty",
    "one in thirty",
    "between balls one sixty",
    "between balls one forty three",
    "head set",
    "head at zero",
    "measured twenty and seventeen point five, fifty apart",
    "gauge stands off point five",
    "took point two",
    "oiled it",
    "eased off a touch",
    "ball is hot",
    "finish job",
    "new job",
    "next part, one forty three",
    "repeat job number one",
    "small end at the headstock",
    "no, one in twelve",
    "angle two degrees",
    "half angle",
    "keys D 6 1 #",
    "keys B 1 1 5 5 #",
)


@unhurried
@given(st.lists(st.sampled_from(DONE), max_size=12), st.data())
def test_undo_takes_back_as_many_steps_as_were_made(lines: list[str], data: st.DataObject) -> None:
    # As it stood before each step, the very first last.
    stood = [bench()]
    state = stood[0]
    for line in lines:
        later = after(state, line)
        if later.before is not state.before:
            stood.insert(0, later)
        state = later
    if len(stood) == 1:
        return
    steps = data.draw(st.integers(1, len(stood) - 1))

    undone = perform(state, r.Undo(steps)).state
    assert undone.job == stood[steps].job
    assert undone.book == stood[steps].book
    assert values(undone) == values(stood[steps])


@unhurried
@given(st.lists(st.sampled_from(DONE), max_size=12))
def test_the_journal_makes_the_same_job_from_any_beginning(lines: list[str]) -> None:
    state, journal = bench(), list[str]()
    for line in lines:
        for event in events_of(line):
            taken = step(state, event)
            state = taken.state
            journal += [action.line for action in taken.actions if isinstance(action, Record)]
        again, unusable = resume(bench().job, journal)
        assert not unusable
        assert (again.job, again.book, again.waiting) == (state.job, state.book, state.waiting)


@unhurried
@given(ratios, lengths)
def test_a_job_taken_up_again_has_the_same_turns(taper: Fact, length: Fact) -> None:
    first = stated(bench(), (taper, length))
    other = after(
        first, "head set", "finish job", "new job", "one in forty", "between balls one ten"
    )
    again = perform(other, r.RepeatJob(1)).state

    assert again.job.answer == first.job.answer
    # But from where the head was left.
    assert again.job.moves == first.job.moves or not other.job.at_zero


# The lathe


@dataclass
class Lathe:
    """A lathe as it is: its operator turns what he is told, cuts, and measures to a micrometre.

    The slide is pushed by the screw one way and pulled the other, the backlash later. The ball
    stands some way off when the slide is at its zero; the tail ball is a point, and so is the
    other, and the side of the cone lies along the bed.
    """

    turn_mm: float
    off_mm: float
    length_mm: float
    backlash_turns: float
    divisions: int
    handle: float = 0.0
    slide: float = 0.0

    def set(self, state: State) -> State:
        """Turn the handle as told, to a tenth of a division."""
        for move in after(state, "how many turns").job.moves:
            whole, divisions = move.rounded(1)
            self.handle += whole + divisions / self.divisions
            if move.total > 0:
                self.slide = max(self.slide, self.handle)
            else:
                self.slide = min(self.slide, self.handle + self.backlash_turns)
        return after(state, "head set")

    @property
    def half_angle(self) -> float:
        """Of the cone as it is cut, in radians: from the two ball centres."""
        across = self.off_mm + self.slide * self.turn_mm
        along = math.sqrt(self.length_mm**2 - across**2)
        return math.atan2(across, along)

    def measured(self, state: State) -> State:
        """Measure two diameters fifty millimetres apart along the axis of the work."""
        small = 30 - 2 * 50 * math.tan(self.half_angle)
        keys = f"A#30#{small:.4f}#50#".replace(".", "*")
        for key in keys:
            state = step(state, KeyPressed(Key(key))).state
        return state


# Closer than measuring can prove, so that no cut is good enough to leave the head alone.
CLOSEST = "[head]\nbacklash_mm = 0.08\n[job]\nwithin_minutes = 0.01\n"


def minutes_out(lathe: Lathe, state: State) -> float:
    assert state.job.taper is not None
    return abs(math.degrees(lathe.half_angle - state.job.taper.half_angle.rad)) * 60


lathes = st.builds(
    Lathe,
    turn_mm=st.floats(0.49, 0.51),
    off_mm=st.floats(-0.3, 0.3),
    length_mm=st.floats(159.0, 161.0),
    backlash_turns=st.floats(0.0, 0.16),
    divisions=st.just(50),
)


@unhurried
@given(lathes, figures(16, 60, 1))
def test_a_trial_cut_and_two_corrections_true_the_taper(lathe: Lathe, run: Fraction) -> None:
    state = stated(bench(CLOSEST), [r.TaperByRatio(Fraction(1), run)])
    state = lathe.set(after(state, "between balls one sixty"))
    for _ in range(2):
        state = lathe.set(lathe.measured(state))

    assert minutes_out(lathe, state) < 0.1


@unhurried
@given(lathes, figures(16, 60, 1), figures(140, 180, 1))
def test_the_part_after_a_true_one_is_out_by_no_more_than_the_screw(
    lathe: Lathe, run: Fraction, next_length: Fraction
) -> None:
    lathe.length_mm = 160.0
    state = stated(bench(CLOSEST), [r.TaperByRatio(Fraction(1), run)])
    state = lathe.set(after(state, "between balls one sixty"))
    for _ in range(2):
        state = lathe.set(lathe.measured(state))
    state = lathe.measured(state)
    lathe.length_mm = float(next_length)
    state = lathe.set(perform(state, r.NextPart(Measure(next_length, MM))).state)

    # All that two cuts so near each other cannot tell is how far the screw is from its pitch:
    # it counts over the difference of the set-overs, and nowhere else.
    moved_mm = abs(float(next_length) - 160.0) * math.sin(lathe.half_angle)
    unknown = abs(lathe.turn_mm / 0.5 - 1) * moved_mm / lathe.length_mm
    assert minutes_out(lathe, state) < math.degrees(unknown) * 60 + 0.1


DOUBTED = (
    "one in fifteen",
    "between balls one fifty",
    "work diameter thirty",
    "took point two",
    "head set",
    "new job",
    "undo two",
    "no, one in fifty",
    "stop listening",
    "how many turns",
)


@unhurried
@given(
    st.lists(st.sampled_from(DONE), max_size=8),
    st.lists(st.sampled_from(DOUBTED), min_size=1, max_size=2, unique=True),
)
def test_what_may_have_been_misheard_is_not_acted_on_before_it_is_confirmed(
    lines: list[str], doubted: list[str]
) -> None:
    state = after(bench(), *lines)

    asked = after(state, f"unsure {' / '.join(doubted)}")
    assert (asked.job, asked.book, asked.before) == (state.job, state.book, state.before)
    assert (asked.listening, asked.sound) == (state.listening, state.sound)


@unhurried
@given(st.lists(st.sampled_from(DONE), max_size=8), st.sampled_from(DOUBTED))
def test_confirmed_it_does_what_it_does_said_clearly(lines: list[str], doubted: str) -> None:
    state = after(bench(), *lines)

    asked = after(state, f"unsure {doubted}")
    if asked.choices:
        said, confirmed = after(state, doubted), after(asked, "yes")
        assert (confirmed.job, confirmed.book) == (said.job, said.book)
        assert (confirmed.mode, confirmed.listening) == (said.mode, said.listening)
