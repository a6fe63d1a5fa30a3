"""Spindle speed for a surface speed, and what the tail ball makes of it: rubbing and heat.

Which surface speed suits a material and a tool is in assistant.tables.cutting.
"""

import math

from assistant.calc.ball_centres import COS_30
from assistant.calc.limits import not_negative, positive, pure_number
from assistant.errors import OutOfRange
from assistant.quantity import Force, Length, Power, SpindleSpeed, SurfaceSpeed

# For a clamped carrier, which no one balances, and a ball that stands still. Common practice,
# no source; a setting of the user's.
DEFAULT_CAP = SpindleSpeed(300.0)

SIN_30 = 0.5


def spindle_speed(surface: SurfaceSpeed, diameter: Length) -> SpindleSpeed:
    """Return the spindle speed that gives a surface speed at a diameter.

    n = v / (pi D): one turn moves the surface by one circumference, so n is in turns a
    minute and no factor of 2 pi enters. Valid for v >= 0 and D > 0.

    Raises:
        OutOfRange: The speed is less than nothing, or the diameter zero or less.
        WrongKind: A value is of another kind.

    Source: US War Dept TM 1-420 Lathes (1940), rpm = fpm / (0.2618 x diameter in inches);
    checked against tests/golden/spindle_speed.csv.
    """
    around_mm = math.pi * positive("diameter", diameter)
    return SpindleSpeed(1000 * not_negative("surface speed", surface, SurfaceSpeed) / around_mm)


def surface_speed(speed: SpindleSpeed, diameter: Length) -> SurfaceSpeed:
    """Return the surface speed at a diameter.

    v = pi D n: the reverse of `spindle_speed`. Valid for n >= 0 and D > 0.

    Raises:
        OutOfRange: The speed is less than nothing, or the diameter zero or less.
        WrongKind: A value is of another kind.

    Source: as `spindle_speed`; checked against tests/golden/spindle_speed.csv.
    """
    around_m = math.pi * positive("diameter", diameter) / 1000
    return SurfaceSpeed(not_negative("spindle speed", speed, SpindleSpeed) * around_m)


def capped(speed: SpindleSpeed, cap: SpindleSpeed = DEFAULT_CAP) -> SpindleSpeed:
    """Return a spindle speed, held down to the cap for unbalanced work on a dead ball.

    n = min(n, cap). Valid for n >= 0 and a cap of more than 0.

    Raises:
        OutOfRange: The speed is less than nothing, or the cap zero or less.
        WrongKind: A value is no spindle speed.

    Source: common practice, no source.
    """
    not_negative("spindle speed", speed, SpindleSpeed)
    positive("cap on the spindle speed", cap, SpindleSpeed)
    return min(speed, cap)


def rubbing_speed(ball: Length, speed: SpindleSpeed) -> SurfaceSpeed:
    """Return the speed of the work past the tail ball, on their circle of contact.

    v = pi b cos 30 n, the circle of a ball in a 60 degree hole. Valid for b > 0 and n >= 0.

    Raises:
        OutOfRange: The ball is zero or less, or the speed less than nothing.
        WrongKind: A value is of another kind.

    Source: the geometry of a sphere in a cone; checked against tests/golden/rubbing.csv.
    """
    return surface_speed(speed, Length(positive("ball diameter", ball) * COS_30))


def normal_force(end_load: Force) -> Force:
    """Return the force between ball and hole, summed around their circle of contact.

    F = W / sin 30 = 2 W: a 60 degree hole holds the ball by its slanting side, and only
    half of what presses there pushes along the axis. Friction is left out. Valid for W >= 0.

    Raises:
        OutOfRange: The end load is less than nothing.
        WrongKind: It is no force.

    Source: the geometry of a sphere in a cone; checked against tests/golden/rubbing.csv.
    """
    return Force(not_negative("end load", end_load, Force) / SIN_30)


def frictional_heat(friction: float, normal: Force, rubbing: SurfaceSpeed) -> Power:
    """Return the heat made where a surface rubs.

    P = mu F v, with v in metres a second: v / 60. Valid for mu, F, v >= 0.

    Raises:
        OutOfRange: A value is less than nothing.
        WrongKind: A value is of another kind.

    Source: the definition of the friction coefficient; checked against
    tests/golden/rubbing.csv.
    """
    if pure_number("friction coefficient", friction) < 0:
        raise OutOfRange("friction coefficient", friction, "0 or more")
    force = not_negative("force", normal, Force)
    rate = not_negative("rubbing speed", rubbing, SurfaceSpeed) / 60
    return Power(friction * force * rate)
