"""Growth, warm diameters, and the lump of steel that stands for the tail ball."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from assistant.calc import cutting, heat
from assistant.calc.heat import BallState, TailBall
from assistant.errors import OutOfRange, UnknownName
from assistant.quantity import (
    Duration,
    Expansion,
    Force,
    Length,
    Modulus,
    SpindleSpeed,
    Temperature,
    TemperatureRise,
)
from assistant.tables import metals
from tests.calc.golden import rows
from tests.calc.strategies import diameters, expansions, lengths, rises

Row = dict[str, str]

# A film that does not wear, to see the rest of the model by itself.
LASTING = TailBall(Length(10.0), film_life=Length(1e12))
COLD = BallState(TemperatureRise(0.0), Force(200.0))
RUNNING, STANDING = SpindleSpeed(300.0), SpindleSpeed(0.0)

warm_states = st.builds(
    BallState,
    st.floats(0.0, 100.0).map(TemperatureRise),
    st.floats(0.0, 500.0).map(Force),
    lengths(0.0, 50_000.0),
)
times = st.floats(0.1, 600.0).map(Duration)
running = st.floats(0.0, 300.0).map(SpindleSpeed)


def after(ball: TailBall, state: BallState, speed: SpindleSpeed, seconds: int) -> BallState:
    for _ in range(seconds):
        state = heat.step(ball, state, speed, Duration(1.0))
    return state


@pytest.mark.parametrize("row", rows("growth"))
def test_growth_matches_the_worked_rows(row: Row) -> None:
    got = heat.growth(
        Length(float(row["length_mm"])),
        Expansion(float(row["per_million_per_kelvin"])),
        TemperatureRise(float(row["kelvin"])),
    )

    assert got.mm == pytest.approx(float(row["growth_mm"]), rel=1e-14)


@pytest.mark.parametrize("row", rows("warm_diameters"))
def test_a_diameter_read_warm_matches_the_worked_rows(row: Row) -> None:
    cool, warm = Length(float(row["cool_mm"])), Length(float(row["warm_mm"]))
    metal, work = (
        Expansion(float(row["per_million_per_kelvin"])),
        Temperature(float(row["celsius"])),
    )

    assert heat.diameter_when_warm(cool, metal, work).mm == pytest.approx(warm.mm, rel=1e-15)
    assert heat.diameter_when_cool(warm, metal, work).mm == pytest.approx(cool.mm, rel=1e-15)


@pytest.mark.parametrize("row", rows("held_bars"))
def test_a_held_bar_pushes_as_in_the_published_example(row: Row) -> None:
    got = heat.end_load_if_held(
        Length(float(row["diameter_mm"])),
        Modulus(float(row["gpa"])),
        Expansion(float(row["per_million_per_kelvin"])),
        TemperatureRise(float(row["kelvin"])),
    )

    assert got.newtons == pytest.approx(float(row["newtons"]), rel=1e-12)


@given(diameters, expansions, st.floats(-20.0, 200.0).map(Temperature))
def test_warm_and_cool_are_each_others_reverse(
    drawn: Length, metal: Expansion, work: Temperature
) -> None:
    warm = heat.diameter_when_warm(drawn, metal, work)

    assert heat.diameter_when_cool(warm, metal, work).mm == pytest.approx(drawn.mm, rel=1e-14)


@given(lengths(1.0, 2000.0), lengths(1.0, 2000.0), expansions, rises)
def test_two_lengths_grow_as_much_as_one_of_both(
    one: Length, other: Length, metal: Expansion, rise: TemperatureRise
) -> None:
    apart = heat.growth(one, metal, rise) + heat.growth(other, metal, rise)

    assert heat.growth(one + other, metal, rise).mm == pytest.approx(apart.mm, rel=1e-13)


@pytest.mark.parametrize(
    ("metal", "per_million"), [("brass C26000", 19.9), ("carbon steel (mild)", 11.7)]
)
def test_a_metals_growth_is_the_published_one(metal: str, per_million: float) -> None:
    growth = metals.expansion(metal)

    assert (growth.expansion, growth.from_memory) == (Expansion(per_million), False)


def test_a_remembered_metal_says_so_and_an_unknown_one_is_refused() -> None:
    assert metals.expansion("stainless 304").from_memory
    assert metals.modulus("steel").from_memory
    with pytest.raises(UnknownName, match="I know no expansion of cheese"):
        metals.expansion("cheese")
    with pytest.raises(UnknownName, match="I know no modulus of cheese"):
        metals.modulus("cheese")


def test_the_default_ball_settles_37_kelvin_up_and_a_dry_one_runs_away() -> None:
    """What the docstring of TailBall promises."""
    dry = replace(LASTING, oiled_friction=LASTING.dry_friction)

    assert after(LASTING, COLD, RUNNING, 600).rise.kelvin == pytest.approx(37, abs=1)
    assert after(LASTING, COLD, RUNNING, 1200).rise.kelvin == pytest.approx(37, abs=0.5)
    assert after(dry, COLD, RUNNING, 600).rise > TemperatureRise(200.0)


def test_it_settles_where_the_heat_made_is_the_heat_lost() -> None:
    settled = after(LASTING, COLD, RUNNING, 3000)

    made = cutting.frictional_heat(
        heat.friction(LASTING, settled),
        cutting.normal_force(heat.end_load(LASTING, settled)),
        cutting.rubbing_speed(LASTING.diameter, RUNNING),
    )
    assert made.watts == pytest.approx(LASTING.watts_per_kelvin * settled.rise.kelvin, rel=1e-6)


@given(warm_states, running, times, times)
def test_two_steps_are_one_while_the_film_lasts(
    state: BallState, speed: SpindleSpeed, first: Duration, second: Duration
) -> None:
    one = heat.step(LASTING, state, speed, Duration(first.s + second.s))
    two = heat.step(LASTING, heat.step(LASTING, state, speed, first), speed, second)

    assert two.rise.kelvin == pytest.approx(one.rise.kelvin, rel=1e-6, abs=1e-9)
    assert two.rubbed.mm == pytest.approx(one.rubbed.mm, rel=1e-12)


@given(warm_states, times)
def test_standing_still_it_cools_as_newton_says(state: BallState, time: Duration) -> None:
    cooled = heat.step(LASTING, state, STANDING, time)

    share = math.exp(-LASTING.watts_per_kelvin * time.s / LASTING.joules_per_kelvin)
    assert cooled.rise.kelvin == pytest.approx(state.rise.kelvin * share, rel=1e-9, abs=1e-12)
    assert cooled.rubbed == state.rubbed


@given(warm_states)
def test_no_time_changes_nothing(state: BallState) -> None:
    assert heat.step(LASTING, state, RUNNING, Duration(0.0)) == state


@pytest.mark.parametrize("rpm", [100.0, 300.0])
def test_steps_of_a_second_follow_the_differential_equation(rpm: float) -> None:
    """Film wear and all, against scipy's integrator."""
    ball = TailBall(Length(10.0))
    m_per_s = math.pi * 0.010 * math.cos(math.pi / 6) * rpm / 60

    def rates(_: float, y: np.ndarray[tuple[int], np.dtype[np.float64]]) -> list[float]:
        friction = 0.12 + 0.28 * min(1.0, y[1] / 100.0)
        load = 200.0 + 2.3 * y[0]
        return [(2 * friction * load * m_per_s - 0.25 * y[0]) / 30.0, m_per_s]

    solved = integrate.solve_ivp(rates, (0.0, 400.0), (0.0, 0.0), rtol=1e-9, atol=1e-9)

    state = after(ball, COLD, SpindleSpeed(rpm), 400)
    assert state.rise.kelvin == pytest.approx(solved.y[0][-1], rel=0.01)
    assert state.rubbed.mm / 1000 == pytest.approx(solved.y[1][-1], rel=1e-9)


@given(warm_states, running, times)
def test_it_stays_between_the_shop_and_its_ruin(
    state: BallState, speed: SpindleSpeed, time: Duration
) -> None:
    rise = heat.step(TailBall(Length(10.0)), state, speed, time).rise

    assert TemperatureRise(0.0) <= rise <= heat.SEIZED


@given(warm_states, times)
def test_faster_or_tighter_is_never_cooler(state: BallState, time: Duration) -> None:
    rise = heat.step(LASTING, state, SpindleSpeed(200.0), time).rise.kelvin
    faster = heat.step(LASTING, state, RUNNING, time).rise.kelvin
    tight = replace(state, cold_end_load=Force(600.0))
    tighter = heat.step(LASTING, tight, SpindleSpeed(200.0), time).rise.kelvin

    assert faster >= rise - 1e-9
    assert tighter >= rise - 1e-9


def test_oiling_brings_the_friction_back_and_leaves_the_heat() -> None:
    ball = TailBall(Length(10.0))
    worn = BallState(TemperatureRise(20.0), Force(200.0), Length(250_000.0))

    assert heat.friction(ball, worn) == ball.dry_friction
    assert heat.friction(ball, heat.oiled(worn)) == ball.oiled_friction
    assert heat.oiled(worn) == replace(worn, rubbed=Length(0.0))


def test_half_worn_the_friction_is_half_way() -> None:
    ball = TailBall(Length(10.0))
    half = BallState(TemperatureRise(0.0), Force(200.0), Length(50_000.0))

    assert heat.friction(ball, half) == pytest.approx(0.26)


def test_a_ball_eased_warm_is_loose_when_cold_and_makes_no_heat() -> None:
    warm = BallState(TemperatureRise(80.0), Force(200.0))

    eased = heat.eased(LASTING, warm, Force(100.0))
    cold = heat.step(LASTING, eased, STANDING, Duration(3600.0))

    assert heat.end_load(LASTING, eased).newtons == pytest.approx(100.0)
    assert heat.end_load(LASTING, cold) == Force(0.0)
    assert heat.step(LASTING, cold, RUNNING, Duration(60.0)).rise <= cold.rise


@pytest.mark.parametrize(
    "refused",
    [
        lambda: heat.growth(Length(0.0), Expansion(11.7), TemperatureRise(5.0)),
        lambda: heat.end_load_if_held(
            Length(25.0), Modulus(207.0), Expansion(11.7), TemperatureRise(-1.0)
        ),
        lambda: heat.end_load_if_held(
            Length(25.0), Modulus(0.0), Expansion(11.7), TemperatureRise(1.0)
        ),
        lambda: heat.diameter_when_cool(Length(25.0), Expansion(11.7), Temperature(-1e6)),
        lambda: heat.diameter_when_warm(Length(0.0), Expansion(11.7), Temperature(30.0)),
        lambda: heat.step(LASTING, COLD, SpindleSpeed(-1.0), Duration(1.0)),
        lambda: heat.step(LASTING, COLD, RUNNING, Duration(-1.0)),
        lambda: heat.step(LASTING, COLD, RUNNING, Duration(3601.0)),
        lambda: heat.eased(LASTING, COLD, Force(-1.0)),
        lambda: TailBall(Length(0.0)),
        lambda: TailBall(Length(10.0), joules_per_kelvin=0.0),
        lambda: TailBall(Length(10.0), watts_per_kelvin=math.nan),
        lambda: TailBall(Length(10.0), dry_friction=0.1),
        lambda: BallState(TemperatureRise(-1.0), Force(200.0)),
        lambda: BallState(TemperatureRise(0.0), Force(200.0), Length(-1.0)),
    ],
)
def test_what_cannot_be_warm_is_refused_in_a_sentence(refused: object) -> None:
    assert callable(refused)
    with pytest.raises(OutOfRange) as caught:
        refused()

    assert str(caught.value).startswith(f"The {caught.value.name} must be ")


def test_temperatures_differ_by_a_rise() -> None:
    assert Temperature(50.0) - heat.REFERENCE == TemperatureRise(30.0)
