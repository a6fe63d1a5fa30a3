"""Relative error under 1e-12 against mpmath at 30 digits, on random inputs a job could hold.

Trueing, tolerances, sizing, cutting, heat and the next part; 60,000 calls in all.
"""

import mpmath
import pytest
from mpmath import mpf

from assistant.calc import cutting, heat, next_part, sizing, tolerance, trueing
from assistant.calc.heat import BallState, TailBall
from assistant.calc.tolerance import Tolerance
from assistant.calc.trueing import Contact, Finding, MeasuredLength, Plunger
from assistant.quantity import (
    Angle,
    Duration,
    Expansion,
    Feed,
    Force,
    Length,
    Modulus,
    SpindleSpeed,
    SurfaceSpeed,
    Temperature,
    TemperatureRise,
)
from tests.calc.exactness import ANGLE, BIG, SMALL, Range, Sum, cone, worst_error

RUN: Range = (150.0, 600.0)
SPEED: Range = (20.0, 2000.0)
METAL: Range = (5.0, 25.0)


def sure(mm: float) -> MeasuredLength:
    return MeasuredLength(Length(mm), Length(0.0))


def known(rad: float) -> Finding:
    return Finding(Angle(rad), Angle(0.0), Angle(0.0))


def shaken(a: float, g: float, long: float, contact: Contact) -> float:
    return trueing.from_shake(cone(a), sure(g), sure(long), contact).half_angle.rad


def warmed(rise: float, newtons: float, rpm: float, seconds: float) -> float:
    ball = TailBall(Length(10.0))
    state = BallState(TemperatureRise(rise), Force(newtons))
    return heat.step(ball, state, SpindleSpeed(rpm), Duration(seconds)).rise.kelvin


def warmed_exactly(rise: mpf, newtons: mpf, rpm: mpf, seconds: mpf) -> mpf:
    # The doubles the ball is made of, not the decimals they stand for.
    mu, gained, lost, held = mpf(0.12), mpf(2.3), mpf(0.25), mpf(30.0)
    per_newton = 2 * mu * mpmath.pi * 10 * mpmath.sqrt(3) / 2 * rpm / 60000
    q = (per_newton * gained - lost) / held
    settled = -per_newton * newtons / held / q
    return settled + (rise - settled) * mpmath.exp(q * seconds)


SUMS: dict[str, Sum] = {
    "from diameters": (
        lambda big, d, run: trueing.from_diameters(sure(big), sure(d), sure(run)).half_angle.rad,
        lambda big, d, run: mpmath.atan((big - d) / (2 * run)),
        (BIG, SMALL, RUN),
    ),
    "from diameters nearly alike": (
        lambda big, by, run: (
            trueing.from_diameters(sure(big), sure(big - by), sure(run)).half_angle.rad
        ),
        lambda big, by, run: mpmath.atan((big - mpf(float(big) - float(by))) / (2 * run)),
        (BIG, (1e-3, 1.0), RUN),
    ),
    "by carriage": (
        lambda big, d, z: (
            trueing.from_diameters_by_carriage(sure(big), sure(d), sure(z)).half_angle.rad
        ),
        lambda big, d, z: mpmath.asin((big - d) / (2 * z)),
        (BIG, SMALL, (220.0, 600.0)),
    ),
    "indicator, bed": (
        lambda c, z: trueing.from_indicator(sure(c), sure(z), Plunger.SQUARE_TO_BED).half_angle.rad,
        lambda c, z: mpmath.atan(c / z),
        ((-10.0, 10.0), RUN),
    ),
    "indicator, work": (
        lambda c, z: (
            trueing.from_indicator(sure(c), sure(z), Plunger.SQUARE_TO_WORK).half_angle.rad
        ),
        lambda c, z: mpmath.asin(c / z),
        ((-10.0, 10.0), RUN),
    ),
    "over rollers": (
        lambda d, w, a: trueing.over_rollers(Length(d), Length(w), cone(a)).mm,
        lambda d, w, a: d + w * (1 + mpmath.tan(a) + mpmath.sec(a)),
        (SMALL, (2.0, 25.0), ANGLE),
    ),
    "sine bar": (
        lambda h, b: (
            trueing.from_sine_bar(sure(h), sure(b), sure(0.0), Length(50.0)).half_angle.rad
        ),
        lambda h, b: mpmath.asin(h / b) / 2,
        ((0.1, 90.0), (100.0, 250.0)),
    ),
    "sine bar stack": (
        lambda a, b: trueing.sine_bar_stack(cone(a), Length(b)).mm,
        lambda a, b: b * mpmath.sin(2 * a),
        (ANGLE, (100.0, 250.0)),
    ),
    "shake": (
        lambda a, g, run: shaken(a, g, run, Contact.LARGE_END),
        lambda a, g, run: a + mpmath.atan(g / (2 * run)),
        (ANGLE, (1e-3, 0.2), (20.0, 100.0)),
    ),
    "move": (
        lambda a, b, run: trueing.move(cone(a), known(b), Length(run)).length.mm,
        lambda a, b, run: run * (mpmath.sin(a) - mpmath.sin(b)),
        (ANGLE, (-0.7, 0.7), (50.0, 1500.0)),
    ),
    "a small move": (
        lambda a, by, run: trueing.move(cone(a), known(a + by), Length(run)).length.mm,
        lambda a, by, run: run * (mpmath.sin(a) - mpmath.sin(mpf(float(a) + float(by)))),
        (ANGLE, (1e-7, 1e-4), (50.0, 1500.0)),
    ),
    "tolerance over a length": (
        lambda e, run, a: (
            tolerance.from_diameter_error(Length(e), Length(run), cone(a)).half_angle.rad
        ),
        lambda e, run, a: mpmath.atan(mpmath.tan(a) + e / (2 * run)) - a,
        ((1e-4, 0.2), (10.0, 500.0), ANGLE),
    ),
    "diameter error": (
        lambda e, run, a: tolerance.diameter_error(Angle(e), Length(run), cone(a)).mm,
        lambda e, run, a: 2 * run * (mpmath.tan(a + e) - mpmath.tan(a)),
        ((1e-6, 1e-2), (10.0, 500.0), ANGLE),
    ),
    "stand-off": (
        lambda a, p: sizing.stand_off_for_infeed(cone(a), Length(p)).mm,
        lambda a, p: p / mpmath.sin(a),
        (ANGLE, (1e-3, 5.0)),
    ),
    "infeed": (
        lambda a, z: sizing.infeed_for_stand_off(cone(a), Length(z)).mm,
        lambda a, z: z * mpmath.sin(a),
        (ANGLE, (1e-3, 50.0)),
    ),
    "diameter for infeed": (
        lambda a, p: sizing.diameter_for_infeed(cone(a), Length(p)).mm,
        lambda a, p: 2 * p / mpmath.cos(a),
        (ANGLE, (1e-3, 5.0)),
    ),
    "diameter at": (
        lambda a, d, x: sizing.diameter_at(cone(a), Length(d), Length(x)).mm,
        lambda a, d, x: d - 2 * x * mpmath.tan(a),
        (ANGLE, BIG, (-50.0, 50.0)),
    ),
    "station of": (
        lambda a, big, d: sizing.station_of(cone(a), Length(big), Length(d)).mm,
        lambda a, big, d: (big - d) / (2 * mpmath.tan(a)),
        (ANGLE, BIG, SMALL),
    ),
    "pass time": (
        lambda run, f, n: sizing.pass_time(Length(run), Feed(f), SpindleSpeed(n)).s,
        lambda run, f, n: 60 * run / (f * n),
        (RUN, (0.02, 0.5), SPEED),
    ),
    "spindle speed": (
        lambda v, d: cutting.spindle_speed(SurfaceSpeed(v), Length(d)).rpm,
        lambda v, d: 1000 * v / (mpmath.pi * d),
        ((5.0, 300.0), SMALL),
    ),
    "rubbing speed": (
        lambda b, n: cutting.rubbing_speed(Length(b), SpindleSpeed(n)).m_per_min,
        lambda b, n: mpmath.pi * b * mpmath.sqrt(3) / 2 * n / 1000,
        ((1.5, 25.0), SPEED),
    ),
    "frictional heat": (
        lambda mu, f, v: cutting.frictional_heat(mu, Force(f), SurfaceSpeed(v)).watts,
        lambda mu, f, v: mu * f * v / 60,
        ((0.05, 0.5), (1.0, 1000.0), (0.1, 60.0)),
    ),
    "growth": (
        lambda run, k, t: heat.growth(Length(run), Expansion(k), TemperatureRise(t)).mm,
        lambda run, k, t: run * k * t / 10**6,
        (RUN, METAL, (-40.0, 100.0)),
    ),
    "diameter when cool": (
        lambda d, k, t: heat.diameter_when_cool(Length(d), Expansion(k), Temperature(t)).mm,
        lambda d, k, t: d / (1 + k * (t - 20) / 10**6),
        (SMALL, METAL, (-20.0, 200.0)),
    ),
    "held bar": (
        lambda d, e, k, t: (
            heat.end_load_if_held(Length(d), Modulus(e), Expansion(k), TemperatureRise(t)).newtons
        ),
        lambda d, e, k, t: e * 1000 * mpmath.pi / 4 * d**2 * k * t / 10**6,
        (SMALL, (60.0, 210.0), METAL, (0.1, 100.0)),
    ),
    "a step of the ball": (
        warmed,
        warmed_exactly,
        ((0.1, 60.0), (50.0, 300.0), (20.0, 300.0), (0.1, 60.0)),
    ),
    "next part's move": (
        lambda a, run, m: next_part.move_from_here(cone(a), Length(run), Length(m)).mm,
        lambda a, run, m: (m - run) * mpmath.sin(a),
        (ANGLE, RUN, RUN),
    ),
    "next part's error": (
        lambda a, run, m: next_part.angle_error(cone(a), Length(run), Length(m)).rad,
        lambda a, run, m: mpmath.asin(run * mpmath.sin(a) / m) - a,
        ((1e-4, 0.3), (150.0, 300.0), (150.0, 300.0)),
    ),
    "next part's small error": (
        lambda a, run, by: next_part.angle_error(cone(a), Length(run), Length(run + by)).rad,
        lambda a, run, by: mpmath.asin(run * mpmath.sin(a) / mpf(float(run) + float(by))) - a,
        (ANGLE, RUN, (1e-4, 0.1)),
    ),
    "length allowed": (
        lambda a, run, t: next_part.length_allowed(cone(a), Length(run), Tolerance(Angle(t))).mm,
        lambda a, run, t: run * (1 - mpmath.sin(a) / mpmath.sin(a + t)),
        (ANGLE, RUN, (1e-6, 1e-2)),
    ),
}


@pytest.mark.parametrize("sum_name", SUMS)
def test_a_sum_is_exact_to_a_million_millionth(sum_name: str) -> None:
    assert worst_error(*SUMS[sum_name], seed=len(sum_name)) < 1e-12
