"""Relative error under 1e-12 against mpmath at 30 digits, on random inputs a job could hold.

Tapers, set-over, balls, the screw and tool height; 50,000 calls, and with those of trueing
and sizing more than 100,000 over all the sums: mpmath is too slow for as many of each.
"""

import mpmath
import pytest
from mpmath import mpf

from assistant.calc import ball_centres, screw, setover, taper, tool_height
from assistant.calc.ball_centres import CentreHole
from assistant.calc.screw import DialReads, Screw
from assistant.quantity import Length
from tests.calc.exactness import ANGLE, BIG, SMALL, Range, Sum, cone, worst_error

LONG: Range = (20.0, 2000.0)
RUN: Range = (200.0, 600.0)
BALL: Range = (6.0, 7.5)  # on the cone of the hole below
PILOT: Range = (2.0, 5.0)
MOUTH: Range = (6.6, 9.0)
PITCH: Range = (0.2, 6.0)
OFF: Range = (0.01, 1.4)


def depth(ball: float, pilot: float, mouth: float) -> float:
    seat = ball_centres.seat(Length(ball), CentreHole(Length(pilot), Length(mouth)))
    return seat.depth.mm


def steepest(ball: float, holder: float, end: float) -> float:
    seat = ball_centres.seat(Length(ball), CentreHole(Length(3.15), Length(6.7)))
    return ball_centres.largest_half_angle(seat, Length(holder), Length(end)).rad


def steepest_exactly(ball: mpf, holder: mpf, end: mpf) -> mpf:
    out = ball - mpf(6.7) * mpmath.sqrt(3) / 2
    return mpmath.findroot(
        lambda a: end / 2 * mpmath.sin(a) - out * mpmath.cos(a) - (ball / 2 - holder),
        (ball / 2 - holder + out) / (end / 2),
    )


def large_end_exactly(big: mpf, small: mpf, off: mpf) -> mpf:
    reach = mpmath.sqrt((small / 2) ** 2 - off**2)
    return 2 * mpmath.sqrt((reach + (big - small) / 2) ** 2 + off**2) - big


def hollow_exactly(big: mpf, small: mpf, off: mpf) -> mpf:
    near = mpmath.sqrt((small / 2) ** 2 - off**2)
    far = near + (big - small) / 2
    slope = (mpmath.sqrt(far**2 + off**2) - small / 2) / (far - near)
    deepest = slope * off / mpmath.sqrt(1 - slope**2)
    return small / 2 + slope * (deepest - near) - mpmath.sqrt(deepest**2 + off**2)


SUMS: dict[str, Sum] = {
    "from rate": (
        lambda c: taper.from_rate(c).half_angle.rad,
        lambda c: mpmath.atan(c / 2),
        ((1e-4, 1.5),),
    ),
    "from ratio": (
        lambda n, rise: taper.from_ratio(n, rise=rise).half_angle.rad,
        lambda n, rise: mpmath.atan(rise / (2 * n)),
        ((10.0, 500.0), (1.0, 7.0)),
    ),
    "from per foot": (
        lambda mm: taper.from_per_foot(Length(mm)).half_angle.rad,
        lambda mm: mpmath.atan(mm / (2 * mpf(3048) / 10)),
        ((0.01, 400.0),),
    ),
    "from per inch": (
        lambda mm: taper.from_per_inch(Length(mm)).half_angle.rad,
        lambda mm: mpmath.atan(mm / (2 * mpf(254) / 10)),
        ((0.01, 40.0),),
    ),
    "one in": (lambda a: cone(a).one_in, lambda a: 1 / (2 * mpmath.tan(a)), (ANGLE,)),
    "per foot": (
        lambda a: cone(a).per_foot.mm,
        lambda a: 2 * mpmath.tan(a) * mpf(3048) / 10,
        (ANGLE,),
    ),
    "from diameters": (
        lambda big, d, run: taper.from_diameters(*map(Length, (big, d, run))).half_angle.rad,
        lambda big, d, run: mpmath.atan((big - d) / (2 * run)),
        (BIG, SMALL, RUN),
    ),
    "over a slant": (
        lambda big, d, run: (
            taper.from_diameters_over_slant(*map(Length, (big, d, run))).half_angle.rad
        ),
        lambda big, d, run: mpmath.asin((big - d) / (2 * run)),
        (BIG, SMALL, (250.0, 600.0)),
    ),
    "set-over": (
        lambda a, run: setover.set_over(cone(a), Length(run)).mm,
        lambda a, run: run * mpmath.sin(a),
        (ANGLE, LONG),
    ),
    "taper turned": (
        lambda s, run: setover.taper_turned(Length(s), Length(run)).half_angle.rad,
        lambda s, run: mpmath.asin(s / run),
        ((0.01, 60.0), (100.0, 2000.0)),
    ),
    "handbook set-over": (
        lambda a, run: setover.handbook_set_over(cone(a), Length(run)).mm,
        lambda a, run: run * mpmath.tan(a),
        (ANGLE, LONG),
    ),
    "handbook difference": (
        lambda a, run: setover.handbook_difference(cone(a), Length(run)).mm,
        lambda a, run: run * (mpmath.tan(a) - mpmath.sin(a)),
        (ANGLE, LONG),
    ),
    "depth of a seated ball": (
        depth,
        lambda b, _, mouth: mouth * mpmath.sqrt(3) / 2 - b / 2,
        (BALL, PILOT, MOUTH),
    ),
    "depth of a ball on the rim": (
        depth,
        lambda b, _, mouth: b / 2 - mpmath.sqrt((b / 2) ** 2 - (mouth / 2) ** 2),
        ((11.0, 13.0), PILOT, MOUTH),
    ),
    "mouth for a ball": (
        lambda b, pilot: ball_centres.mouth_for_ball(Length(b), Length(pilot)).mm,
        lambda b, pilot: b * mpmath.sqrt(3) - pilot,
        (BALL, PILOT),
    ),
    "over balls": (
        lambda m, b, c: ball_centres.length_over_balls(*map(Length, (m, b, c))).mm,
        lambda m, b, c: m - (b + c) / 2,
        ((60.0, 2000.0), (1.5, 25.4), (1.5, 25.4)),
    ),
    "socket depth": (
        lambda b, bore: ball_centres.socket_depth(Length(b), Length(bore)).mm,
        lambda b, bore: b / 2 - mpmath.sqrt((b / 2) ** 2 - (bore / 2) ** 2),
        ((6.0, 25.0), (0.1, 5.9)),
    ),
    "socket bore": (
        lambda b, t: ball_centres.socket_bore(Length(b), Length(t)).mm,
        lambda b, t: 2 * mpmath.sqrt((b / 2) ** 2 - (b / 2 - t) ** 2),
        ((6.0, 25.0), (0.01, 2.9)),
    ),
    "largest half angle": (steepest, steepest_exactly, ((6.0, 7.5), (1.0, 2.5), (15.0, 100.0))),
    "drive pin": (
        lambda a, r: ball_centres.drive_pin_travel(cone(a), Length(r)).mm,
        lambda a, r: 2 * r * mpmath.sin(a),
        (ANGLE, SMALL),
    ),
    "closing up": (
        lambda a, run: ball_centres.closing_up(cone(a), Length(run)).mm,
        lambda a, run: run * (1 - mpmath.cos(a)),
        (ANGLE, LONG),
    ),
    "turns": (
        lambda p, s: screw.turns(Screw(Length(p), 50), Length(s)).total,
        lambda p, s: s / p,
        (PITCH, (-60.0, 60.0)),
    ),
    "a screw by its division": (
        lambda d: screw.from_division(Length(d), 100, DialReads.DIAMETER).pitch.mm,
        lambda d: d * 50,
        ((1e-3, 0.1),),
    ),
    "error of the large end": (
        lambda big, d, h: tool_height.large_end_error(*map(Length, (big, d, h))).mm,
        large_end_exactly,
        (BIG, SMALL, OFF),
    ),
    "hollow": (
        lambda big, d, h: tool_height.hollow(*map(Length, (big, d, h))).mm,
        hollow_exactly,
        (BIG, SMALL, OFF),
    ),
}


@pytest.mark.parametrize("sum_name", SUMS)
def test_a_sum_is_exact_to_a_million_millionth(sum_name: str) -> None:
    assert worst_error(*SUMS[sum_name], seed=len(sum_name)) < 1e-12
