"""How far a taper may be out, however that is stated; held as plus or minus on the half angle."""

import math
from dataclasses import dataclass

from assistant.calc.limits import STEEPEST_HALF_ANGLE, of_kind, positive
from assistant.calc.taper import Taper
from assistant.errors import OutOfRange
from assistant.quantity import Angle, Length


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far the half angle may be out, either way.

    Raises:
        OutOfRange: It is zero or less, or 45 degrees or more.
        WrongKind: It is no angle.
    """

    half_angle: Angle

    def __post_init__(self) -> None:
        if positive("tolerance", self.half_angle, Angle) >= STEEPEST_HALF_ANGLE.rad:
            limit = f"less than {STEEPEST_HALF_ANGLE.degrees:g} degrees"
            raise OutOfRange("tolerance", self.half_angle.degrees, limit)


def from_included_angle(plus_minus: Angle) -> Tolerance:
    """Return the tolerance of plus or minus an angle on the whole cone.

    T = plus_minus / 2. Valid for 0 < plus_minus < 90 degrees.

    Raises:
        OutOfRange: The angle is outside that range.
        WrongKind: It is no angle.

    Source: the definition of the half angle.
    """
    return Tolerance(of_kind("tolerance", plus_minus, Angle) * 0.5)


def from_diameter_error(plus_minus: Length, axial: Length, taper: Taper) -> Tolerance:
    """Return the tolerance of plus or minus a length on the difference of two diameters.

    T = atan(tan a + e / 2l) - atan(tan a), e the error allowed and l the axial distance of the
    diameters, worked as one arctangent. A cone that is too steep reaches e a little
    sooner than one that is too shallow; this is that narrower side. Valid for e, l > 0.

    Raises:
        OutOfRange: A length is zero or less.
        WrongKind: A value is of another kind.

    Source: the definition of a taper; checked against tests/golden/tolerance.csv.
    """
    tangent = math.tan(of_kind("taper", taper, Taper).half_angle.rad)
    steeper = positive("error allowed", plus_minus) / (2 * positive("length measured over", axial))
    return Tolerance(Angle(math.atan2(steeper, 1 + tangent * (tangent + steeper))))


def diameter_error(error: Angle, axial: Length, taper: Taper) -> Length:
    """Return how far the difference of two diameters is out when the half angle is.

    e = 2 l (tan(a + error) - tan a) = 2 l sin(error) / (cos(a + error) cos a), positive for
    too steep: the reverse of `from_diameter_error`. Valid for errors of less than 45 degrees.

    Raises:
        OutOfRange: The length is zero or less, or the error 45 degrees or more.
        WrongKind: A value is of another kind.

    Source: the definition of a taper; checked against tests/golden/tolerance.csv.
    """
    off = of_kind("angle error", error, Angle)
    if abs(off) >= STEEPEST_HALF_ANGLE:
        limit = f"less than {STEEPEST_HALF_ANGLE.degrees:g} degrees either way"
        raise OutOfRange("angle error", off.degrees, limit)
    half = of_kind("taper", taper, Taper).half_angle.rad
    run = 2 * positive("length measured over", axial)
    return Length(run * math.sin(off.rad) / (math.cos(half + off.rad) * math.cos(half)))


def from_zone(width: Angle) -> Tolerance:
    """Return the tolerance of a zone of the whole cone angle that lies evenly about it.

    T = width / 4: half of the zone to each side, and half of that on the half angle. Cone
    angle grades (AT) are such widths; a drawing may also put the whole zone on one side, and
    then this does not hold. Valid for 0 < width < 180 degrees.

    Raises:
        OutOfRange: The width is outside that range.
        WrongKind: It is no angle.

    Source: ISO 1947:1973 for what a grade's width means, from memory; checked against
    tests/golden/cone_angle_zones.csv.
    """
    return Tolerance(of_kind("width of the zone", width, Angle) * 0.25)


def zone_over_length(width: Angle, cone_length: Length) -> Length:
    """Return a cone angle zone as a zone of diameter over the length of the cone.

    AT_D = AT_alpha L, with AT_alpha in radians. Valid for cones of 1 in 3 or less, for which
    the standard takes the cone's side and its axis as equally long.

    Raises:
        OutOfRange: The width or the length is zero or less.
        WrongKind: A value is of another kind.

    Source: ISO 1947:1973, from memory; checked against tests/golden/cone_angle_zones.csv.
    """
    return Length(
        positive("width of the zone", width, Angle) * positive("cone length", cone_length)
    )
