"""Where a ball sits in a centre hole, and so how far apart the two ball centres are."""

from assistant.calc.limits import positive
from assistant.errors import OutOfRange
from assistant.quantity import Length


def length_over_balls(reading: Length, headstock_ball: Length, tailstock_ball: Length) -> Length:
    """Return the length between ball centres from a reading over both seated balls.

    L = reading - (b1 + b2) / 2, with b1 and b2 the ball diameters. Neither the centre holes
    nor the length of the work enters. Valid for a reading of more than b1 + b2: there is
    work between the balls.

    Raises:
        OutOfRange: A ball is zero or less, or the reading is no more than both balls.

    Source: the geometry; checked against tests/golden/over_balls.csv.
    """
    balls = positive("headstock ball", headstock_ball) + positive("tailstock ball", tailstock_ball)
    if positive("reading over the balls", reading) <= balls:
        limit = f"more than the two balls together, {balls:g} mm"
        raise OutOfRange("reading over the balls", reading.mm, limit)
    return Length(reading.mm - balls / 2)
