"""The next part of the same job: the same taper on a part of another length."""

import math

from assistant.calc.limits import STEEPEST_HALF_ANGLE, of_kind, positive
from assistant.calc.setover import set_over
from assistant.calc.taper import Taper
from assistant.calc.tolerance import Tolerance
from assistant.errors import OutOfRange
from assistant.quantity import Angle, Length


def new_set_over(taper: Taper, new_length: Length) -> Length:
    """Return the set-over of the next part.

    s = L sin a, L now the new part's distance between ball centres. Valid for L > 0.

    Raises:
        OutOfRange: The length is zero or less.
        WrongKind: A value is of another kind.

    Source: the geometry of the tilted work; checked against tests/golden/next_part.csv.
    """
    return set_over(taper, new_length)


def move_from_here(taper: Taper, length: Length, new_length: Length) -> Length:
    """Return the move of the ball from the last part's set-over, positive for more.

    ds = (L_new - L) sin a: the head's zero does not enter, so long as the last part was
    true. Valid for lengths of more than 0.

    Raises:
        OutOfRange: A length is zero or less.
        WrongKind: A value is of another kind.

    Source: the geometry of the tilted work; checked against tests/golden/next_part.csv.
    """
    half = of_kind("taper", taper, Taper).half_angle.rad
    longer = positive("new length", new_length) - positive("length between ball centres", length)
    return Length(longer * math.sin(half))


def angle_error(taper: Taper, length: Length, new_length: Length) -> Angle:
    """Return how far the half angle is out on a part of another length at the same set-over.

    e = asin(L sin a / L_new) - a, worked from sin(e / 2) = (L - L_new) sin a /
    (2 L_new cos(a + e / 2)) so that a small error keeps its figures. For small differences
    e = -tan a (L_new - L) / L. Valid for lengths of more than 0 that give less than 45 degrees.

    Raises:
        OutOfRange: A length is zero or less, or the new part too short for the set-over.
        WrongKind: A value is of another kind.

    Source: US Coast Guard General Subjects exam bank, question 155, for the rule; checked
    against tests/golden/next_part.csv.
    """
    half = of_kind("taper", taper, Taper).half_angle.rad
    long, other = (
        positive("length between ball centres", length),
        positive("new length", new_length),
    )
    sine = long * math.sin(half) / other
    if sine >= math.sin(STEEPEST_HALF_ANGLE.rad):
        shortest = long * math.sin(half) / math.sin(STEEPEST_HALF_ANGLE.rad)
        raise OutOfRange("new length", other, f"more than {shortest:g} mm at this set-over")
    middle = (half + math.asin(sine)) / 2
    return Angle(2 * math.asin((long - other) / other * math.sin(half) / (2 * math.cos(middle))))


def length_allowed(taper: Taper, length: Length, tolerance: Tolerance) -> Length:
    """Return how far the next part's length may differ before the head must be moved.

    dL = L (1 - sin a / sin(a + T)), T the tolerance on the half angle; worked as
    2 L cos(a + T / 2) sin(T / 2) / sin(a + T). Shorter is the narrower side, and this is it.
    Valid for L > 0.

    Raises:
        OutOfRange: The length is zero or less.
        WrongKind: A value is of another kind.

    Source: follows from `angle_error`; checked against tests/golden/next_part.csv.
    """
    half = of_kind("taper", taper, Taper).half_angle.rad
    allowed = of_kind("tolerance", tolerance, Tolerance).half_angle.rad
    both = 2 * positive("length between ball centres", length)
    share = math.cos(half + allowed / 2) * math.sin(allowed / 2) / math.sin(half + allowed)
    return Length(both * share)
