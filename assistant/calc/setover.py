"""How far the tailstock ball stands off the spindle axis, and to which side.

L is the distance between the two ball centres, which the work fixes, and a the half angle.
"""

import math
from enum import StrEnum

from assistant.calc.limits import of_kind, positive
from assistant.calc.taper import Taper
from assistant.errors import OutOfRange
from assistant.quantity import Angle, Length


class Side(StrEnum):
    """The side of the spindle axis that the tailstock ball is moved to."""

    TOWARDS_OPERATOR = "towards operator"
    AWAY_FROM_OPERATOR = "away from operator"


class End(StrEnum):
    """An end of the lathe's bed."""

    TAILSTOCK = "tailstock"
    HEADSTOCK = "headstock"


class ToolPost(StrEnum):
    """Which side of the work the tool is on."""

    FRONT = "front"
    REAR = "rear"


def set_over(taper: Taper, ball_length: Length) -> Length:
    """Return the distance of the tail ball from the spindle axis that turns a taper.

    s = L sin a. Exact: L is the hypotenuse. Where the taper sits on the work, and how long it
    is, does not enter. Valid for L > 0 and 0 < a < 45 degrees.

    Raises:
        OutOfRange: The length is zero or less.

    Source: the geometry of the tilted work; checked against the sine column worked from the
    handbook examples in tests/golden/set_over.csv.
    """
    half_angle = of_kind("taper", taper, Taper).half_angle
    return Length(positive("length between ball centres", ball_length) * math.sin(half_angle.rad))


def taper_turned(offset: Length, ball_length: Length) -> Taper:
    """Return the taper that a set-over turns, to whichever side it is.

    a = asin(s / L): the reverse of `set_over`. Valid for 0 < |s| < L sin 45 degrees.

    Raises:
        OutOfRange: The length is zero or less, or the set-over is nothing or too much for it.

    Source: the geometry of the tilted work; checked against tests/golden/set_over.csv.
    """
    long = positive("length between ball centres", ball_length)
    over = abs(of_kind("set-over", offset, Length)).mm
    if not 0 < over < long:
        limit = f"more than 0 and less than the length between ball centres, {long:g} mm"
        raise OutOfRange("set-over", over, limit)
    return Taper(Angle(math.asin(over / long)))


def handbook_set_over(taper: Taper, ball_length: Length) -> Length:
    """Return the set-over by the handbook's small-angle rule.

    s = L tan a, longer than the true one by `handbook_difference`. Valid for L > 0.

    Raises:
        OutOfRange: The length is zero or less.

    Source: F. D. Jones, Turning and Boring, Industrial Press 1914 (5th printing 1919),
    taper turning by the offset-centre method; checked against tests/golden/set_over.csv.
    """
    half_angle = of_kind("taper", taper, Taper).half_angle
    return Length(positive("length between ball centres", ball_length) * math.tan(half_angle.rad))


def handbook_difference(taper: Taper, ball_length: Length) -> Length:
    """Return how much the handbook's set-over is longer than the true one.

    d = L (tan a - sin a), worked as 2 L tan a sin^2(a/2) so that a small difference keeps its
    figures: 0.01 mm on 200 mm at 1 in 10.77. Valid for L > 0.

    Raises:
        OutOfRange: The length is zero or less.

    Source: the geometry of the tilted work; checked against tests/golden/set_over.csv.
    """
    handbook = handbook_set_over(taper, ball_length)
    return handbook * (2 * math.sin(taper.half_angle.rad / 2) ** 2)


def true_set_over(reading: Length, zero: Length) -> Length:
    """Return where the ball stands when the head reads so much.

    s = reading + z, z the head's zero: where the ball stands when the head reads nothing.
    Both are signed, the same side positive; any values are valid.

    Raises:
        WrongKind: One is no length.

    Source: the definition; checked against tests/golden/head_zero.csv.
    """
    return of_kind("reading of the head", reading, Length) + of_kind("head's zero", zero, Length)


def head_reading(offset: Length, zero: Length) -> Length:
    """Return what the head must read for the ball to stand at a set-over.

    reading = s - z: the reverse of `true_set_over`.

    Raises:
        WrongKind: One is no length.

    Source: the definition; checked against tests/golden/head_zero.csv.
    """
    return of_kind("set-over", offset, Length) - of_kind("head's zero", zero, Length)


def side(small_end: End, tool_post: ToolPost = ToolPost.FRONT) -> Side:
    """Return the side to move the tail ball to.

    Definition: towards the operator is towards a front tool post. There, that side makes the
    tailstock end small; a rear tool post reverses it, and so does the small end at the
    headstock.

    Raises:
        WrongKind: The end or the tool post is none of its kind.

    Source: US Coast Guard General Subjects exam bank, question 642: work too small at the
    tailstock is put right by moving it away from the operator.
    """
    tail = of_kind("small end", small_end, End) is End.TAILSTOCK
    towards = tail == (of_kind("tool post", tool_post, ToolPost) is ToolPost.FRONT)
    return Side.TOWARDS_OPERATOR if towards else Side.AWAY_FROM_OPERATOR


def within_travel(offset: Length, travel: Length) -> Length:
    """Return the set-over, refused when the head cannot reach it.

    Holds where |s| <= the head's travel to one side, signed either way.

    Raises:
        OutOfRange: The set-over is more than the head's travel to one side.

    Source: the definition.
    """
    if abs(of_kind("set-over", offset, Length)).mm > positive("head's travel", travel):
        raise OutOfRange("set-over", offset.mm, f"no more than the head's {travel.mm:g} mm travel")
    return offset
