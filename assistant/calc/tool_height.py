"""What a tool that is not at centre height does to the cone.

With the tool h above or below the axis, a point that stands x from the axis on the level of
the tool is cut to the radius r = sqrt(x^2 + h^2): the side comes out hollow, and the larger
the diameter, the smaller the error. All distances are square to the axis of the work.
"""

import math

from assistant.calc.limits import of_kind, positive
from assistant.errors import OutOfRange
from assistant.quantity import Length


def _ends(large: Length, small: Length, height: Length) -> tuple[float, float, float]:
    """Return R, r and h squared, refused unless D > d > 2 |h|."""
    large_mm, small_mm = positive("large diameter", large), positive("small diameter", small)
    if large_mm <= small_mm:
        raise OutOfRange("large diameter", large_mm, f"more than the small one, {small_mm:g} mm")
    height_mm = of_kind("tool height error", height, Length).mm
    if abs(height_mm) >= small_mm / 2:
        limit = f"less than the small end's radius, {small_mm / 2:g} mm"
        raise OutOfRange("tool height error", height_mm, limit)
    return large_mm / 2, small_mm / 2, height_mm * height_mm


def radius_cut(reach: Length, height: Length) -> Length:
    """Return the radius that a tool off centre height leaves.

    r = sqrt(x^2 + h^2), x the tool's distance from the axis on its own level, h its height
    above (or, negative, below) the axis. Valid for x > 0.

    Raises:
        OutOfRange: The reach is zero or less.

    Source: the geometry; checked against tests/golden/tool_height.csv.
    """
    off = of_kind("tool height error", height, Length).mm
    return Length(math.hypot(positive("tool's distance from the axis", reach), off))


def large_end_error(large: Length, small: Length, height: Length) -> Length:
    """Return the error of the large diameter when the small one is cut to size.

    2 (R' - R), with x = sqrt(r^2 - h^2) at the small end and R' = sqrt((x + R - r)^2 + h^2) at
    the large; r and R are the radii meant. It is negative, close to -2 h^2 (1/d - 1/D): the
    cone comes out too slender. Valid for D > d > 2 |h|.

    Raises:
        OutOfRange: The ends are the wrong way round, or h is no less than the small radius.

    Source: the geometry; checked against tests/golden/tool_height.csv.
    """
    big, little, square = _ends(large, small, height)
    reach = math.sqrt(little * little - square)
    along = reach + big - little
    cut = math.sqrt(along * along + square)
    # R'^2 - R^2 = -2 (R - r) h^2 / (x + r), which keeps every figure of a small difference.
    return Length(-4 * (big - little) * square / ((reach + little) * (cut + big)))


def hollow(large: Length, small: Length, height: Length) -> Length:
    """Return the deepest hollow of the side below a straight edge laid along it.

    On radius: the side is the hyperbola r = sqrt(x^2 + h^2), and below the chord between its
    ends x1 and x2 it is deepest by 4 h^2 sinh^2(q/2) cosh q / (r1 + r2), where
    sinh 2q = (x2^2 - x1^2) / (x2 r1 + x1 r2). The small end is cut to size. Valid for
    D > d > 2 |h|.

    Raises:
        OutOfRange: The ends are the wrong way round, or h is no less than the small radius.

    Source: the geometry; checked against tests/golden/tool_height.csv.
    """
    big, little, square = _ends(large, small, height)
    near = math.sqrt(little * little - square)
    far = near + big - little
    cut = math.sqrt(far * far + square)
    q = math.asinh((big - little) * (far + near) / (far * little + near * cut)) / 2
    return Length(4 * square * math.sinh(q / 2) ** 2 * math.cosh(q) / (little + cut))


def height_allowed(large: Length, small: Length, error: Length) -> Length:
    """Return the tool height error that makes the large end wrong by so much.

    h = sqrt(q (2 r - q)), q = e (4 R - e) / (8 (R - r)) with e the error on diameter, r and R
    the radii: the reverse of `large_end_error`, whose sign is left out. Valid for D > d and
    an error small enough that q < r.

    Raises:
        OutOfRange: The ends are the wrong way round, or no height makes so large an error.

    Source: the geometry; checked against tests/golden/tool_height.csv.
    """
    big, little, _ = _ends(large, small, Length(0.0))
    wrong = positive("error of the large end", error)
    sunk = wrong * (4 * big - wrong) / (8 * (big - little))
    # The second bound alone would let in errors larger than the diameter itself.
    if wrong >= 2 * big or sunk >= little:
        raise OutOfRange("error of the large end", wrong, "one that a tool height error can make")
    return Length(math.sqrt(sunk * (2 * little - sunk)))
