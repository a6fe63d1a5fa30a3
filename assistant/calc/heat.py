"""Growth of warm work, diameters read warm, and how the tail ball warms.

The ball's model is one lump, for reminders and rehearsal, not for design:
- the ball, the end of the work and the holder's nose are at one temperature;
- what they lose goes as their rise above the shop;
- the work's growth adds to the end load in proportion to that rise;
- the film wears off in proportion to the distance rubbed, and friction rises with it;
- both friction and load are held over a step, so steps are to be seconds, not minutes.
"""

import math
from dataclasses import dataclass, replace

from assistant.calc import cutting
from assistant.calc.limits import not_negative, of_kind, positive, pure_number
from assistant.errors import OutOfRange
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

REFERENCE = Temperature(20.0)  # ISO 1: lengths on drawings hold at 20 degrees C

# Steel loses its temper long before; no model of a ball in grease holds there. Common
# practice, no source.
SEIZED = TemperatureRise(400.0)

FILM_LIFE = Length(100_000.0)  # a hundred metres rubbed. Common practice, no source
JUST_OILED = Length(0.0)

# Friction and load are held over a step, which is nonsense for longer.
LONGEST_STEP = Duration(3600.0)


def growth(length: Length, expansion: Expansion, rise: TemperatureRise) -> Length:
    """Return how much longer warm work is: what the tailstock must be eased by.

    dL = L k dT. Valid for L > 0; negative where the work is colder.

    Raises:
        OutOfRange: The length is zero or less.
        WrongKind: A value is of another kind.

    Source: the definition of k; checked against tests/golden/growth.csv.
    """
    per_kelvin = of_kind("expansion", expansion, Expansion).per_kelvin
    warmer = of_kind("temperature rise", rise, TemperatureRise).kelvin
    return Length(positive("length", length) * per_kelvin * warmer)


def end_load_if_held(
    diameter: Length, modulus: Modulus, expansion: Expansion, rise: TemperatureRise
) -> Force:
    """Return the end load that a warm bar builds up between ends that cannot give.

    W = E (pi / 4) D^2 k dT, E in MPa and D in mm. Real ends give: this is the most it can be.
    Valid for D > 0, E > 0 and dT >= 0.

    Raises:
        OutOfRange: A value is zero or less, or the rise less than nothing.
        WrongKind: A value is of another kind.

    Source: Hooke's law; checked against tests/golden/growth.csv.
    """
    strain = of_kind("expansion", expansion, Expansion).per_kelvin * not_negative(
        "temperature rise", rise, TemperatureRise
    )
    area_mm2 = math.pi / 4 * positive("diameter", diameter) * diameter.mm
    return Force(positive("modulus", modulus, Modulus) * 1000 * area_mm2 * strain)


def diameter_when_cool(
    read: Length, expansion: Expansion, work: Temperature, cool: Temperature = REFERENCE
) -> Length:
    """Return what a diameter read warm will be when cool, the micrometer being right.

    D_cool = D_read / (1 + k dT), dT the work's temperature above the cool one. Valid for D > 0
    and 1 + k dT > 0.

    Raises:
        OutOfRange: The diameter is zero or less, or the difference beyond any metal.
        WrongKind: A value is of another kind.

    Source: the definition of k; ISO 1 for 20 degrees C; checked against
    tests/golden/growth.csv.
    """
    return Length(positive("diameter", read) / (1 + _strain(expansion, work, cool)))


def diameter_when_warm(
    drawn: Length, expansion: Expansion, work: Temperature, cool: Temperature = REFERENCE
) -> Length:
    """Return what a diameter must read warm to be right when cool.

    D_warm = D_cool (1 + k dT): the reverse of `diameter_when_cool`.

    Raises:
        OutOfRange: The diameter is zero or less, or the difference beyond any metal.
        WrongKind: A value is of another kind.

    Source: the definition of k; checked against tests/golden/growth.csv.
    """
    return Length(positive("diameter", drawn) * (1 + _strain(expansion, work, cool)))


def _strain(expansion: Expansion, work: Temperature, cool: Temperature) -> float:
    warmer = of_kind("work's temperature", work, Temperature) - of_kind(
        "cool temperature", cool, Temperature
    )
    strain = of_kind("expansion", expansion, Expansion).per_kelvin * warmer.kelvin
    if strain <= -1:
        raise OutOfRange("temperature difference", warmer.kelvin, "one that leaves some metal")
    return strain


@dataclass(frozen=True, slots=True)
class TailBall:
    """The tail ball as one lump. Every default is common practice, no source.

    They make a 10 mm ball under 200 N, well oiled at 300 rpm, settle 37 kelvin above the shop
    in some ten minutes, and a dry one run away.

    Raises:
        OutOfRange: A figure is zero or less, or dry friction less than oiled.
        WrongKind: A field is of another kind.
    """

    diameter: Length
    joules_per_kelvin: float = 30.0
    watts_per_kelvin: float = 0.25
    newtons_per_kelvin: float = 2.3
    oiled_friction: float = 0.12
    dry_friction: float = 0.4
    film_life: Length = FILM_LIFE

    def __post_init__(self) -> None:
        positive("ball diameter", self.diameter)
        positive("film's life", self.film_life)
        for name, figure in (
            ("heat held per kelvin", self.joules_per_kelvin),
            ("heat lost per kelvin", self.watts_per_kelvin),
            ("end load gained per kelvin", self.newtons_per_kelvin),
            ("oiled friction", self.oiled_friction),
            ("dry friction", self.dry_friction),
        ):
            if pure_number(name, figure) <= 0:
                raise OutOfRange(name, figure, "more than 0")
        if self.dry_friction < self.oiled_friction:
            raise OutOfRange("dry friction", self.dry_friction, "no less than the oiled one")


@dataclass(frozen=True, slots=True)
class BallState:
    """How warm the ball is, what it bore when cold, and how far it has rubbed since oiled.

    Raises:
        OutOfRange: The rise or the distance is less than nothing.
        WrongKind: A field is of another kind.
    """

    rise: TemperatureRise
    cold_end_load: Force  # below zero where a ball eased warm would be loose when cold
    rubbed: Length = JUST_OILED

    def __post_init__(self) -> None:
        not_negative("temperature rise", self.rise, TemperatureRise)
        of_kind("end load", self.cold_end_load, Force)
        not_negative("distance rubbed", self.rubbed)


def end_load(ball: TailBall, state: BallState) -> Force:
    """Return the end load now.

    W = max(0, W_cold + g rise), g the load gained per kelvin. Valid for any state.

    Raises:
        WrongKind: A value is of another kind.

    Source: common practice, no source: the assumptions at the top of the module.
    """
    gained = of_kind("ball", ball, TailBall).newtons_per_kelvin
    of_kind("state of the ball", state, BallState)
    return Force(max(0.0, state.cold_end_load.newtons + gained * state.rise.kelvin))


def friction(ball: TailBall, state: BallState) -> float:
    """Return the friction coefficient now.

    mu = mu_oiled + (mu_dry - mu_oiled) min(1, rubbed / life). Valid for any state.

    Raises:
        WrongKind: A value is of another kind.

    Source: common practice, no source: the assumptions at the top of the module.
    """
    of_kind("ball", ball, TailBall)
    rubbed = of_kind("state of the ball", state, BallState).rubbed
    worn = min(1.0, rubbed.mm / ball.film_life.mm)
    return ball.oiled_friction + (ball.dry_friction - ball.oiled_friction) * worn


def step(ball: TailBall, state: BallState, speed: SpindleSpeed, dt: Duration) -> BallState:
    """Return the state after running, or standing, for a while at a spindle speed.

    C d(rise)/dt = 2 mu v W - G rise with W = W_cold + g rise and friction mu held, solved
    exactly: rise = rise_0 + rate_0 (exp(q t) - 1) / q, rate_0 the rate at the start and
    q = (2 mu v g - G) / C. Where q is above zero the ball runs away. A loose ball makes no
    heat. Held between 0 and 400 kelvin. Valid for n >= 0 and 0 <= t <= 3600 s.

    Raises:
        OutOfRange: The speed or the time is less than nothing, or the time too long.
        WrongKind: A value is of another kind.

    Source: the heat balance; its figures are common practice, no source.
    """
    of_kind("state of the ball", state, BallState)
    rubbing = cutting.rubbing_speed(of_kind("ball", ball, TailBall).diameter, speed)
    seconds = not_negative("time", dt, Duration)
    if dt > LONGEST_STEP:
        raise OutOfRange("time", seconds, f"{LONGEST_STEP.s:g} s or less in one step")
    load = end_load(ball, state).newtons
    per_newton = friction(ball, state) / cutting.SIN_30 * rubbing.m_per_min / 60 if load else 0.0
    rate = (per_newton * load - ball.watts_per_kelvin * state.rise.kelvin) / ball.joules_per_kelvin
    growing = per_newton * ball.newtons_per_kelvin - ball.watts_per_kelvin
    # Held below where exp overflows; the rise is far beyond its own bound by then.
    exponent = min(growing * seconds / ball.joules_per_kelvin, 700.0)
    rise = state.rise.kelvin + rate * seconds * (math.expm1(exponent) / exponent if exponent else 1)
    return BallState(
        TemperatureRise(min(max(rise, 0.0), SEIZED.kelvin)),
        state.cold_end_load,
        state.rubbed + Length(rubbing.m_per_min / 60 * seconds * 1000),
    )


def oiled(state: BallState) -> BallState:
    """Return the state after oiling.

    Definition: rubbed = 0; nothing else changes.

    Raises:
        WrongKind: It is no state of a ball.

    Source: common practice, no source: the assumptions at the top of the module.
    """
    return replace(of_kind("state of the ball", state, BallState), rubbed=JUST_OILED)


def eased(ball: TailBall, state: BallState, load: Force) -> BallState:
    """Return the state after the tailstock is set to an end load, warm as the ball is.

    W_cold = W - g rise: set warm, it will be looser when cold. Valid for W >= 0.

    Raises:
        OutOfRange: The load is less than nothing.
        WrongKind: A value is of another kind.

    Source: common practice, no source: the assumptions at the top of the module.
    """
    wanted = not_negative("end load", load, Force)
    gained = of_kind("ball", ball, TailBall).newtons_per_kelvin
    of_kind("state of the ball", state, BallState)
    return replace(state, cold_end_load=Force(wanted - gained * state.rise.kelvin))
