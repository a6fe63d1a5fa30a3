"""How far the tailstock ball stands off the spindle axis, and to which side."""

import math
from enum import StrEnum

from assistant.calc.limits import of_kind, positive
from assistant.calc.taper import Taper
from assistant.errors import OutOfRange
from assistant.quantity import Length


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

    s = L sin a, with L the distance between the two ball centres (the work fixes it) and
    a the half angle. Exact: L is the hypotenuse. Valid for L > 0 and 0 < a < 45 degrees.

    Raises:
        OutOfRange: The length is zero or less.

    Source: the geometry of the tilted work; checked against the sine column worked from the
    handbook examples in tests/golden/set_over.csv.
    """
    half_angle = of_kind("taper", taper, Taper).half_angle
    return Length(positive("length between ball centres", ball_length) * math.sin(half_angle.rad))


def handbook_set_over(taper: Taper, ball_length: Length) -> Length:
    """Return the set-over by the handbook's small-angle rule, L tan a.

    It is longer than the true one by L (tan a - sin a): 0.01 mm on 200 mm at 1 in 10.77.

    Raises:
        OutOfRange: The length is zero or less.

    Source: F. D. Jones, Turning and Boring, Industrial Press 1914 (5th printing 1919),
    taper turning by the offset-centre method; checked against tests/golden/set_over.csv.
    """
    half_angle = of_kind("taper", taper, Taper).half_angle
    return Length(positive("length between ball centres", ball_length) * math.tan(half_angle.rad))


def side(small_end: End, tool_post: ToolPost = ToolPost.FRONT) -> Side:
    """Return the side to move the tail ball to.

    With a front tool post, towards the operator makes the tailstock end small; a rear
    tool post reverses it, and so does the small end at the headstock.

    Source: US Coast Guard General Subjects exam bank, question 642: work too small at the
    tailstock is put right by moving it away from the operator.
    """
    towards = (small_end is End.TAILSTOCK) == (tool_post is ToolPost.FRONT)
    return Side.TOWARDS_OPERATOR if towards else Side.AWAY_FROM_OPERATOR


def within_travel(offset: Length, travel: Length) -> Length:
    """Return the set-over, refused when the head cannot reach it.

    Raises:
        OutOfRange: The set-over is more than the head's travel to one side.
    """
    if abs(of_kind("set-over", offset, Length)).mm > positive("head's travel", travel):
        raise OutOfRange("set-over", offset.mm, f"no more than the head's {travel.mm:g} mm travel")
    return offset
