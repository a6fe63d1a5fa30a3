"""The head learnt from measured cuts, against scipy and on simulated heads."""

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import optimize, stats

from assistant.calc import learning, taper, trueing
from assistant.calc.learning import LearntHead, MeasuredCut
from assistant.calc.screw import Turns
from assistant.calc.taper import Taper
from assistant.calc.trueing import Finding, MeasuredLength
from assistant.errors import OutOfRange, WrongKind
from assistant.quantity import Angle, Length
from tests.calc.golden import rows

HEADS = 1000
NOMINAL_MM, DIVISIONS = 1.0, 100
MICROMETER_MM = 0.002
BALL_LENGTH, GAUGE = Length(200.0), Length(100.0)
TARGET = taper.from_ratio(20)

Row = dict[str, str]


def cut(turns: float, set_over_mm: float, standard_mm: float) -> MeasuredCut:
    return MeasuredCut(Turns(turns, DIVISIONS), Length(set_over_mm), Length(standard_mm))


@pytest.mark.parametrize("head", ["two", "three", "five"])
def test_the_fit_matches_the_normal_equations_at_30_digits(head: str) -> None:
    table = [row for row in rows("learning") if row["head"] == head]
    worked = table[0]

    learnt = learning.learn(
        cut(float(row["turns"]), float(row["set_over_mm"]), float(row["standard_mm"]))
        for row in table
    )

    got = {
        "per_turn_mm": learnt.per_turn.mm,
        "zero_mm": learnt.zero.mm,
        "per_turn_standard_mm": learnt.per_turn_standard.mm,
        "zero_standard_mm": learnt.zero_standard.mm,
        "correlation": learnt.correlation,
        "misfit": learnt.misfit,
        "turns_for_5_mm": learning.turns_for(learnt, Length(5.0), DIVISIONS).total,
    }
    for name, number in got.items():
        assert number == pytest.approx(float(worked[name]), rel=1e-11, abs=1e-13), name


cuts_made = st.lists(
    st.tuples(st.floats(-20, 20), st.floats(-0.05, 0.05), st.floats(0.001, 0.02)),
    min_size=2,
    max_size=8,
)


@given(cuts_made)
def test_the_fit_is_scipys(made: list[tuple[float, float, float]]) -> None:
    x, noise, sigma = (np.array(column) for column in zip(*made, strict=True))
    assume(np.ptp(x) > 0.01)
    s = 0.1 + 1.02 * x + noise

    learnt = learning.learn(cut(*numbers) for numbers in zip(x, s, sigma, strict=True))
    # Full Jacobian given: scipy's own differences are good to eight figures only.
    best, covariance = optimize.curve_fit(
        lambda x, p, z: p * x + z,
        x,
        s,
        p0=(1.0, 0.0),
        sigma=sigma,
        absolute_sigma=True,
        jac=lambda x, p, z: np.stack([x, np.ones_like(x)], axis=1),
    )

    assert (learnt.per_turn.mm, learnt.zero.mm) == pytest.approx(tuple(best), rel=1e-6, abs=1e-6)
    assert learnt.per_turn_standard.mm == pytest.approx(math.sqrt(covariance[0, 0]), rel=1e-6)
    assert learnt.zero_standard.mm == pytest.approx(math.sqrt(covariance[1, 1]), rel=1e-6)


@given(st.floats(0.2, 6.0), st.floats(-0.5, 0.5), st.lists(st.floats(-20, 20), min_size=2))
def test_cuts_without_error_give_the_head_back(p: float, z: float, turns: list[float]) -> None:
    assume(max(turns) - min(turns) > 0.1)

    learnt = learning.learn(cut(x, z + p * x, 0.003) for x in turns)

    assert learnt.per_turn.mm == pytest.approx(p, rel=1e-9)
    assert learnt.zero.mm == pytest.approx(z, abs=1e-9)
    assert learnt.consistent
    wanted = Length(z + p * 3.25)
    assert learning.turns_for(learnt, wanted, DIVISIONS).total == pytest.approx(3.25, abs=1e-8)


@given(cuts_made, st.integers(0, 7))
def test_the_order_of_the_cuts_does_not_matter(
    made: list[tuple[float, float, float]], start: int
) -> None:
    assume(max(x for x, _, _ in made) - min(x for x, _, _ in made) > 0.01)
    cuts = [cut(x, x + noise, sigma) for x, noise, sigma in made]
    turned = cuts[start % len(cuts) :] + cuts[: start % len(cuts)]

    one, other = learning.learn(cuts), learning.learn(turned)

    assert one.per_turn.mm == pytest.approx(other.per_turn.mm, rel=1e-9)
    assert one.zero_standard.mm == pytest.approx(other.zero_standard.mm, rel=1e-9)


@dataclass
class Head:
    """A head that was made a little wrong, with play between its screw and its slide."""

    per_turn_mm: float
    zero_mm: float
    play_mm: float
    handle: float = 0.0
    slide_mm: float = 0.0

    def turn_to(self, turns: float) -> None:
        """The slide follows where the screw's thread bears on it, on one flank or the other."""
        self.handle = turns
        screw_mm = turns * self.per_turn_mm
        if self.slide_mm < screw_mm - self.play_mm:
            self.slide_mm = screw_mm - self.play_mm
        elif self.slide_mm > screw_mm:
            self.slide_mm = screw_mm

    def arrive_forwards(self, turns: float) -> None:
        if turns < self.handle + 0.5:
            self.turn_to(turns - 0.5)
        self.turn_to(turns)

    @property
    def ball_mm(self) -> float:
        return self.zero_mm + self.slide_mm

    @property
    def zero_arriving_forwards_mm(self) -> float:
        return self.zero_mm - self.play_mm


def made_wrong(rng: np.random.Generator) -> Head:
    head = Head(
        NOMINAL_MM * (1 + rng.uniform(-0.05, 0.05)), rng.uniform(-0.2, 0.2), rng.uniform(0, 0.1)
    )
    head.slide_mm = rng.uniform(-head.play_mm, 0.0)
    return head


def measure(head: Head, rng: np.random.Generator) -> Finding:
    """Turn a cone with the head as it stands, and read two diameters of it."""
    tangent = math.tan(math.asin(head.ball_mm / BALL_LENGTH.mm))
    small = 40.0 - 2 * GAUGE.mm * tangent
    large, small = rng.normal((40.0, small), MICROMETER_MM)
    standard = Length(MICROMETER_MM)
    return trueing.from_diameters(
        MeasuredLength(Length(float(large)), standard),
        MeasuredLength(Length(float(small)), standard),
        MeasuredLength(GAUGE, Length(0.0)),
    )


def covered(learnt: LearntHead, head: Head) -> tuple[bool, bool]:
    return (
        abs(learnt.per_turn.mm - head.per_turn_mm) <= learnt.per_turn_margin.mm,
        abs(learnt.zero.mm - head.zero_arriving_forwards_mm) <= learnt.zero_margin.mm,
    )


def learnt_from(stations: tuple[float, ...], rng: np.random.Generator) -> tuple[LearntHead, Head]:
    head = made_wrong(rng)
    cuts = []
    for turns in stations:
        head.arrive_forwards(turns)
        found = measure(head, rng)
        cuts.append(learning.measured_cut(Turns(turns, DIVISIONS), found, BALL_LENGTH))
    return learning.learn(cuts), head


@pytest.mark.parametrize(
    "stations",
    [(4.0, 5.0), (5.0, 4.9), (3.0, 5.0, 4.5), (5.0, 5.1, 5.2, 5.0, 5.3), (1.0, 8.0, 2.0, 9.0, 5.0)],
)
def test_a_thousand_heads_are_covered_95_times_in_100(stations: tuple[float, ...]) -> None:
    rng = np.random.default_rng(2026)
    shares = np.mean([covered(*learnt_from(stations, rng)) for _ in range(HEADS)], axis=0).tolist()

    assert all(0.93 <= share <= 0.97 for share in shares), shares


@pytest.mark.parametrize("cuts_made", [2, 3, 5])
def test_heads_trued_cut_by_cut_are_covered_95_times_in_100(cuts_made: int) -> None:
    """Each cut is set by what the ones before it said, as at the bench."""
    rng = np.random.default_rng(31)
    wanted = Length(BALL_LENGTH.mm * math.sin(TARGET.half_angle.rad))
    seen = []
    for _ in range(HEADS):
        head, cuts = made_wrong(rng), []
        turns = wanted.mm / NOMINAL_MM
        for _ in range(cuts_made):
            head.arrive_forwards(turns)
            found = measure(head, rng)
            cuts.append(learning.measured_cut(Turns(turns, DIVISIONS), found, BALL_LENGTH))
            turns += trueing.move(TARGET, found, BALL_LENGTH).length.mm / NOMINAL_MM
        seen.append(covered(learning.learn(cuts), head))
    shares = np.mean(seen, axis=0).tolist()

    assert all(0.93 <= share <= 0.97 for share in shares), shares


def test_what_was_learnt_sets_the_next_cut_within_microns() -> None:
    rng = np.random.default_rng(37)
    for _ in range(100):
        learnt, head = learnt_from((4.0, 6.0), rng)

        head.arrive_forwards(learning.turns_for(learnt, Length(5.0), DIVISIONS).total)

        assert head.ball_mm == pytest.approx(5.0, abs=0.012)


def test_sound_cuts_look_inconsistent_once_in_a_hundred() -> None:
    rng = np.random.default_rng(41)
    for stations in ((3.0, 5.0, 4.5), (5.0, 5.1, 5.2, 5.0, 5.3)):
        doubted = [not learnt_from(stations, rng)[0].consistent for _ in range(HEADS)]

        assert 0.003 <= np.mean(doubted) <= 0.02


def test_a_cut_set_from_the_wrong_side_shows() -> None:
    head = Head(per_turn_mm=1.01, zero_mm=0.05, play_mm=0.08)
    rng = np.random.default_rng(43)
    cuts = []
    for turns, backwards in ((4.0, False), (5.0, False), (4.5, True), (5.5, False)):
        if backwards:
            head.turn_to(turns)
        else:
            head.arrive_forwards(turns)
        found = measure(head, rng)
        cuts.append(learning.measured_cut(Turns(turns, DIVISIONS), found, BALL_LENGTH))

    assert not learning.learn(cuts).consistent
    assert learning.learn(cuts[:2] + cuts[3:]).consistent


@pytest.mark.parametrize("free", [1, 2, 3, 5, 10, 30])
def test_the_bound_of_consistency_is_the_chi_squared_distributions(free: int) -> None:
    learnt = learning.learn([cut(x, x, 0.003) for x in range(free + 2)])
    bound = stats.chi2.ppf(0.99, free)

    assert replace(learnt, misfit=bound * 0.985).consistent
    assert not replace(learnt, misfit=bound * 1.015).consistent


def test_two_cuts_are_always_consistent() -> None:
    learnt = learning.learn([cut(4.0, 4.4, 0.003), cut(5.0, 5.0, 0.003)])

    assert learnt.consistent
    assert learnt.misfit == pytest.approx(0.0, abs=1e-12)


def test_the_one_sided_point_is_the_normal_distributions() -> None:
    assert pytest.approx(stats.norm.ppf(0.99), rel=1e-14) == learning.SIGMAS_99_ONE_SIDED


def test_a_screw_differs_when_measuring_does_not_explain_it() -> None:
    sure = learning.learn([cut(4.0, 4.2, 0.003), cut(5.0, 5.25, 0.003)])
    unsure = learning.learn([cut(4.0, 4.2, 0.05), cut(5.0, 5.25, 0.05)])

    assert learning.differs(sure, Length(1.0))
    assert not learning.differs(sure, Length(1.05))
    assert not learning.differs(unsure, Length(1.0))


def test_a_sound_screw_is_suspected_five_times_in_a_hundred() -> None:
    rng = np.random.default_rng(47)
    suspected = []
    for _ in range(HEADS):
        s = rng.normal((4.0, 5.0, 6.0), 0.003)
        learnt = learning.learn(cut(x, float(y), 0.003) for x, y in zip((4, 5, 6), s, strict=True))
        suspected.append(learning.differs(learnt, Length(1.0)))

    assert np.mean(suspected) == pytest.approx(0.05, abs=0.02)


@pytest.mark.parametrize("turns", [(), (4.0,), (4.0, 4.0, 4.0)])
def test_fewer_than_two_different_settings_teach_nothing(turns: tuple[float, ...]) -> None:
    with pytest.raises(OutOfRange) as caught:
        learning.learn([cut(x, x, 0.003) for x in turns])

    assert caught.value.value == len(set(turns))
    assert str(caught.value) == (
        "The number of cuts measured at different turns must be two or more before the head "
        f"can be learnt, not {len(set(turns))}."
    )


def test_settings_nearer_than_the_arithmetic_tells_are_refused() -> None:
    with pytest.raises(OutOfRange, match="difference of the turns"):
        learning.learn([cut(0.0, 1.0, 0.003), cut(5e-324, 1.0, 0.003)])


def test_a_cut_that_claims_no_uncertainty_is_refused() -> None:
    exact = Finding(Angle(0.02), Angle(0.0), Angle(0.0))

    with pytest.raises(OutOfRange, match="standard uncertainty must be more than 0 mm"):
        learning.measured_cut(Turns(4.0, DIVISIONS), exact, BALL_LENGTH)


def test_a_head_that_does_not_move_cannot_be_set() -> None:
    stuck = learning.learn([cut(4.0, 1.0, 0.003), cut(5.0, 1.0, 0.003)])

    with pytest.raises(OutOfRange, match="learnt movement per turn"):
        learning.turns_for(stuck, Length(2.0), DIVISIONS)


def test_only_measured_cuts_teach() -> None:
    with pytest.raises(WrongKind, match="measured cut must be given as a measured cut"):
        learning.learn([4.0, 5.0])  # type: ignore[list-item]


def test_a_measured_cut_is_the_set_over_its_cone_shows() -> None:
    found = Finding(Taper(Angle(0.025)).half_angle, Angle(3e-5), Angle(4e-5))

    got = learning.measured_cut(Turns(5.0, DIVISIONS), found, Length(200.0))

    assert got.set_over.mm == pytest.approx(200 * math.sin(0.025))
    assert got.standard.mm == pytest.approx(200 * math.cos(0.025) * 5e-5)
