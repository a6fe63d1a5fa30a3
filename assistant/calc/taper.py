"""What a taper is, and every way the trade states one.

A taper is held as the half angle of its cone. Rates (1 in 20, per foot, per cent) are on
*diameter*: the half angle of 1 in n is atan(1 / 2n).
"""

import math
from dataclasses import dataclass

from assistant.calc.limits import STEEPEST_HALF_ANGLE, of_kind, positive, pure_number
from assistant.errors import OutOfRange
from assistant.quantity import MM_PER_INCH, Angle, Length

MM_PER_FOOT = 304.8  # exact: 12 inches of 25.4 mm


@dataclass(frozen=True, slots=True)
class Taper:
    """A cone's slope, given by the half angle between its axis and its side.

    Raises:
        OutOfRange: The half angle is zero or less, or 45 degrees or more.
    """

    half_angle: Angle

    def __post_init__(self) -> None:
        degrees = of_kind("half angle", self.half_angle, Angle).degrees
        if not 0 < degrees < STEEPEST_HALF_ANGLE.degrees:
            limit = f"more than 0 and less than {STEEPEST_HALF_ANGLE.degrees:g} degrees"
            raise OutOfRange("half angle", degrees, limit)

    @property
    def included_angle(self) -> Angle:
        """The angle between opposite sides: twice the half angle."""
        return self.half_angle * 2

    @property
    def rate(self) -> float:
        """Change of diameter per length along the axis: 2 tan a, a pure number."""
        return 2 * math.tan(self.half_angle.rad)

    @property
    def one_in(self) -> float:
        """The n of 1 in n: 1 / (2 tan a)."""
        return 1 / self.rate

    @property
    def per_cent(self) -> float:
        """Change of diameter in 100 along the axis, in the same unit."""
        return self.rate * 100

    @property
    def per_foot(self) -> Length:
        """Change of diameter in one foot along the axis."""
        return Length(self.rate * MM_PER_FOOT)

    @property
    def per_inch(self) -> Length:
        """Change of diameter in one inch along the axis."""
        return Length(self.rate * MM_PER_INCH)


def from_half_angle(half_angle: Angle) -> Taper:
    """Return the taper of a half angle.

    a = the half angle, between the axis of the cone and its side. Valid for 0 < a < 45 degrees.

    Raises:
        OutOfRange: The half angle is outside that range.

    Source: the definition.
    """
    return Taper(half_angle)


def from_included_angle(included: Angle) -> Taper:
    """Return the taper of an included angle.

    a = included / 2. Valid for 0 < included < 90 degrees.

    Raises:
        OutOfRange: Half of it is outside 0 to 45 degrees.

    Source: the definition (ISO 3040 calls the included angle the cone angle); checked against
    tests/golden/cone_series.csv.
    """
    return Taper(of_kind("included angle", included, Angle) * 0.5)


def from_rate(rate: float) -> Taper:
    """Return the taper of a change of diameter per length along the axis.

    a = atan(rate / 2), rate a pure number (0.05 for 1 in 20, 0.05 for 5 per cent).

    Raises:
        OutOfRange: The rate is zero or less, or no finite number, or 2 or more.

    Source: the definition (ISO 3040 calls the rate C); checked against the published cone
    angles in tests/golden/cone_series.csv.
    """
    if pure_number("taper rate", rate) <= 0:
        raise OutOfRange("taper rate", rate, "more than 0")
    return Taper(Angle(math.atan(rate / 2)))


def from_ratio(run: float, *, rise: float = 1.0) -> Taper:
    """Return the taper of `rise` on diameter in `run` of length: 1 in 20, 7 in 24.

    a = atan(rise / (2 run)); both are in the same unit, which drops out.

    Raises:
        OutOfRange: Either number is zero or less, or the cone is 45 degrees or steeper.

    Source: the definition; checked against tests/golden/cone_series.csv.
    """
    for name, number in (("run of the ratio", run), ("rise of the ratio", rise)):
        if pure_number(name, number) <= 0:
            raise OutOfRange(name, number, "more than 0")
    return from_rate(rise / run)


def from_per_cent(per_cent: float) -> Taper:
    """Return the taper of a change of diameter in 100 of length.

    a = atan(per_cent / 200): 5 per cent is 1 in 20.

    Raises:
        OutOfRange: The number is zero or less, or 200 or more.

    Source: the definition; checked against tests/golden/cone_series.csv.
    """
    return from_rate(pure_number("taper per cent", per_cent) / 100)


def from_per_foot(change: Length) -> Taper:
    """Return the taper of a change of diameter in one foot along the axis.

    a = atan(change / (2 * 304.8 mm)).

    Raises:
        OutOfRange: The change is zero or less.

    Source: the definition; checked against tests/golden/per_foot.csv.
    """
    return from_rate(positive("taper per foot", change) / MM_PER_FOOT)


def from_per_inch(change: Length) -> Taper:
    """Return the taper of a change of diameter in one inch along the axis.

    a = atan(change / (2 * 25.4 mm)).

    Raises:
        OutOfRange: The change is zero or less, or 2 inches or more.

    Source: the definition; checked against tests/golden/per_inch.csv.
    """
    return from_rate(positive("taper per inch", change) / MM_PER_INCH)


def from_diameters(large: Length, small: Length, axial: Length) -> Taper:
    """Return the taper between two diameters an axial length apart.

    tan a = (D - d) / (2 l), lengths in any one unit.

    Raises:
        OutOfRange: A length is zero or less, or the large end is no larger than the small.

    Source: the definition; checked against tests/golden/per_foot.csv.
    """
    apart = positive("length between the diameters", axial)
    return from_rate(_difference(large, small) / apart)


def from_diameters_over_slant(large: Length, small: Length, slant: Length) -> Taper:
    """Return the taper between two diameters a slant length apart.

    sin a = (D - d) / (2 l), l measured along the side. Marks that the carriage places on work
    set over lie this far apart, for it then travels along the side of the cone.

    Raises:
        OutOfRange: A length is zero or less, the large end is no larger than the small, or
            the cone is 45 degrees or steeper.

    Source: the geometry; checked against tests/golden/slant.csv.
    """
    apart = positive("length along the side", slant)
    sine = _difference(large, small) / (2 * apart)
    if sine >= 1:
        least = f"more than half the difference of the diameters, {sine * apart:g} mm"
        raise OutOfRange("length along the side", apart, least)
    return Taper(Angle(math.asin(sine)))


def _difference(large: Length, small: Length) -> float:
    large_mm, small_mm = positive("large diameter", large), positive("small diameter", small)
    if large_mm <= small_mm:
        raise OutOfRange("large diameter", large_mm, f"more than the small one, {small_mm:g} mm")
    return large_mm - small_mm
