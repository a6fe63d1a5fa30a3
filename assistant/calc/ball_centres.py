"""Where a ball sits in a centre hole, how far apart two ball centres are, and what is clear.

Holes are of 60 degrees, type A or B. In a type R hole the ball sits on an arc: nothing here
about seats holds for it, and the length is measured over the balls.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from assistant.calc.limits import STEEPEST_HALF_ANGLE, not_negative, of_kind, positive
from assistant.calc.taper import Taper
from assistant.errors import BallTooLarge, BallTooSmall, OutOfRange, WrongKind
from assistant.quantity import Angle, Length

# A ball touches a 60 degree cone on a circle of b cos 30 degrees; and its centre stands b
# from the point of the cone, which lies M cos 30 degrees below a mouth of diameter M.
COS_30 = math.sqrt(3) / 2

# A ball twice the mouth bears on the rim at 30 degrees to the axis, as on the 120 degree
# chamfer of a type B hole. A larger one sits on that chamfer; on the rim of a type A hole it
# has too little hold. Common practice, no source.
MOST_MOUTHS = 2.0

NO_SET_BACK = Length(0.0)


@dataclass(frozen=True, slots=True)
class CentreHole:
    """A 60 degree centre hole: its pilot, the mouth of its cone, how far that is set back.

    The mouth is that of the cone the ball sits in: in a type B hole the inner one, which is
    set back from the face by the depth of the chamfer.

    Raises:
        OutOfRange: A diameter is zero or less, the mouth is no wider than the pilot, or the
            set-back is less than zero.
        WrongKind: A field is no length.
    """

    pilot: Length
    mouth: Length
    set_back: Length = NO_SET_BACK

    def __post_init__(self) -> None:
        pilot_mm = positive("pilot of the centre hole", self.pilot)
        if positive("mouth of the centre hole", self.mouth) <= pilot_mm:
            limit = f"wider than the pilot, {pilot_mm:g} mm"
            raise OutOfRange("mouth of the centre hole", self.mouth.mm, limit)
        not_negative("set-back of the cone", self.set_back)


class SeatedOn(StrEnum):
    """What bears a ball: the cone, as it should; or the rim, which marks and wanders."""

    CONE = "cone"
    RIM = "rim"


@dataclass(frozen=True, slots=True)
class BallSeat:
    """A ball in a centre hole; `outside_face` is negative when its centre lies inside."""

    ball: Length
    seated_on: SeatedOn
    contact_circle: Length
    outside_face: Length

    @property
    def depth(self) -> Length:
        """How deep the ball goes in below the face: b / 2 - e."""
        return self.ball * 0.5 - self.outside_face


def smallest_ball(hole: CentreHole) -> Length:
    """Return the ball that touches the cone right at the pilot; one must be larger to seat.

    b = pilot / cos 30 degrees.

    Raises:
        WrongKind: It is no centre hole.

    Source: the geometry of a sphere in a cone; checked against tests/golden/ball_limits.csv.
    """
    return of_kind("centre hole", hole, CentreHole).pilot * (1 / COS_30)


def largest_ball(hole: CentreHole) -> Length:
    """Return the ball that touches the cone right at its mouth; a larger one sits on the rim.

    b = mouth / cos 30 degrees.

    Raises:
        WrongKind: It is no centre hole.

    Source: the geometry of a sphere in a cone; checked against tests/golden/ball_limits.csv.
    """
    return of_kind("centre hole", hole, CentreHole).mouth * (1 / COS_30)


def middle_ball(hole: CentreHole) -> Length:
    """Return the ball that touches the cone half way up its side, where it sits best.

    b = (pilot + mouth) / (2 cos 30 degrees).

    Raises:
        WrongKind: It is no centre hole.

    Source: the geometry of a sphere in a cone; checked against tests/golden/ball_limits.csv.
    """
    return (smallest_ball(hole) + largest_ball(hole)) * 0.5


def mouth_for_ball(ball: Length, pilot: Length) -> Length:
    """Return the mouth to open a hole to, for a ball to sit half way up its side.

    M = 2 b cos 30 degrees - pilot: the reverse of `middle_ball`. Valid for b cos 30 > pilot.

    Raises:
        BallTooSmall: The ball drops into the pilot.
        OutOfRange: A diameter is zero or less.

    Source: the geometry of a sphere in a cone; checked against tests/golden/ball_limits.csv.
    """
    pilot_mm = positive("pilot of the centre hole", pilot)
    contact = positive("ball diameter", ball) * COS_30
    if contact <= pilot_mm:
        raise BallTooSmall(ball.mm, pilot_mm / COS_30)
    return Length(2 * contact - pilot_mm)


def balls_that_seat(hole: CentreHole, balls: Iterable[Length]) -> tuple[Length, ...]:
    """Return those of some balls that sit on the cone of a hole, the best seated first.

    Definition: a ball sits on the cone when smallest_ball < b <= largest_ball, and the better
    the nearer it is to middle_ball.

    Raises:
        WrongKind: It is no centre hole, or a ball is no length.

    Source: the definition; checked against tests/golden/ball_limits.csv.
    """
    if not isinstance(balls, Iterable):
        raise WrongKind("balls", balls, "several lengths")
    least, middle, most = smallest_ball(hole), middle_ball(hole), largest_ball(hole)
    fitting = [ball for ball in balls if least < of_kind("ball diameter", ball, Length) <= most]
    return tuple(sorted(fitting, key=lambda ball: abs(ball - middle)))


def seat(ball: Length, hole: CentreHole) -> BallSeat:
    """Return how a ball sits in a centre hole.

    On the cone, touching it on a circle of b cos 30, its centre stands outside the face by
    e = b - M cos 30 - c, with M the mouth and c its set-back. Where b cos 30 > M it sits on
    the rim instead, and e = sqrt((b/2)^2 - (M/2)^2) - c. Valid for pilot < b cos 30 and
    b <= 2 M.

    Raises:
        BallTooSmall: It drops into the pilot.
        BallTooLarge: It is more than twice the mouth.
        OutOfRange: The ball is zero or less.

    Source: the geometry of a sphere in a cone; checked against tests/golden/ball_seats.csv.
    """
    pilot, mouth = of_kind("centre hole", hole, CentreHole).pilot.mm, hole.mouth.mm
    diameter = positive("ball diameter", ball)
    contact = diameter * COS_30
    if contact <= pilot:
        raise BallTooSmall(diameter, pilot / COS_30)
    if diameter > MOST_MOUTHS * mouth:
        raise BallTooLarge(diameter, MOST_MOUTHS * mouth)
    if contact <= mouth:
        on, circle, outside = SeatedOn.CONE, contact, diameter - mouth * COS_30
    else:
        on, circle = SeatedOn.RIM, mouth
        outside = math.sqrt((diameter - mouth) * (diameter + mouth)) / 2
    return BallSeat(ball, on, Length(circle), Length(outside) - hole.set_back)


def length_from_faces(face_length: Length, headstock: BallSeat, tailstock: BallSeat) -> Length:
    """Return the length between ball centres from the work's length and the two seats.

    L = face length + e1 + e2. Good to the measurement of the holes; a reading over the balls
    is better. Valid for L > 0.

    Raises:
        OutOfRange: The length is zero or less, or so short that the balls meet in the work.

    Source: the geometry; checked against tests/golden/ball_seats.csv.
    """
    ends = [of_kind("seat of the ball", end, BallSeat) for end in (headstock, tailstock)]
    long = positive("length over the faces", face_length)
    depths = sum(end.depth.mm for end in ends)
    if long <= depths:
        raise OutOfRange("length over the faces", long, f"more than the seats' {depths:g} mm")
    return Length(long + sum(end.outside_face.mm for end in ends))


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


def reading_over_balls(
    ball_length: Length, headstock_ball: Length, tailstock_ball: Length
) -> Length:
    """Return what a micrometer reads over both seated balls.

    reading = L + (b1 + b2) / 2: the reverse of `length_over_balls`. Valid for L of more than
    (b1 + b2) / 2.

    Raises:
        OutOfRange: A ball is zero or less, or the length leaves no room between the balls.

    Source: the geometry; checked against tests/golden/over_balls.csv.
    """
    halves = (
        positive("headstock ball", headstock_ball) + positive("tailstock ball", tailstock_ball)
    ) / 2
    if positive("length between ball centres", ball_length) <= halves:
        limit = f"more than half the two balls together, {halves:g} mm"
        raise OutOfRange("length between ball centres", ball_length.mm, limit)
    return Length(ball_length.mm + halves)


def socket_depth(ball: Length, bore: Length) -> Length:
    """Return how deep a ball sinks into a plain bored socket, resting on its sharp edge.

    t = b/2 - sqrt((b/2)^2 - (B/2)^2), B the bore. Valid for 0 < B <= b.

    Raises:
        OutOfRange: A diameter is zero or less, or the bore is wider than the ball.

    Source: the geometry of a spherical cap; checked against tests/golden/sockets.csv.
    """
    ball_mm, bore_mm = positive("ball diameter", ball), positive("bore of the socket", bore)
    if bore_mm > ball_mm:
        raise OutOfRange("bore of the socket", bore_mm, f"no wider than the ball, {ball_mm:g} mm")
    # t (b - t) = (B/2)^2, which keeps the figures of a shallow socket.
    return Length(
        bore_mm**2 / (2 * (ball_mm + math.sqrt((ball_mm - bore_mm) * (ball_mm + bore_mm))))
    )


def socket_bore(ball: Length, depth: Length) -> Length:
    """Return the bore of the socket that a ball sinks into by a depth.

    B = 2 sqrt(t (b - t)): the reverse of `socket_depth`. Valid for 0 < t <= b/2.

    Raises:
        OutOfRange: The ball is zero or less, or the depth is nothing or more than half of it.

    Source: the geometry of a spherical cap; checked against tests/golden/sockets.csv.
    """
    ball_mm, depth_mm = positive("ball diameter", ball), positive("depth of the socket", depth)
    if depth_mm > ball_mm / 2:
        raise OutOfRange(
            "depth of the socket", depth_mm, f"no more than half the ball, {ball_mm / 2:g} mm"
        )
    return Length(2 * math.sqrt(depth_mm * (ball_mm - depth_mm)))


def gap(work_end: BallSeat, holder_depth: Length) -> Length:
    """Return the gap between the face of the work and the face of the ball's holder.

    gap = b - (depth in the work) - (depth in the holder), work and holder in line.

    Raises:
        OutOfRange: The ball lies wholly in the work, the depth in the holder is less than
            zero, or the two faces meet.

    Source: the geometry; checked against tests/golden/clearance.csv.
    """
    seated = of_kind("seat of the ball", work_end, BallSeat)
    room = (seated.ball - seated.depth).mm
    if room <= 0:
        raise OutOfRange("ball diameter", seated.ball.mm, "large enough to stand out of the work")
    if not_negative("depth of the ball in its holder", holder_depth) >= room:
        limit = f"less than the {room:g} mm that stand out of the work"
        raise OutOfRange("depth of the ball in its holder", holder_depth.mm, limit)
    return Length(room - holder_depth.mm)


def largest_half_angle(work_end: BallSeat, holder_depth: Length, end_diameter: Length) -> Angle:
    """Return the half angle at which the rim of the work meets the face of the ball's holder.

    R sin a - e cos a = gap - e, R the radius of the work's end, so
    a = atan(e / R) + asin((gap - e) / sqrt(R^2 + e^2)). For a ball whose centre is nearly level
    with the face it is the shop's asin(gap / R). Where they never meet, and at most, 45 degrees.

    Raises:
        OutOfRange: The end is zero or less, the depth less than zero, or the faces meet.

    Source: the geometry; checked against tests/golden/clearance.csv.
    """
    radius = positive("diameter of the work's end", end_diameter) / 2
    room, outside = gap(work_end, holder_depth).mm, work_end.outside_face.mm
    sine = (room - outside) / math.hypot(radius, outside)
    meets = math.atan2(outside, radius) + math.asin(min(sine, 1.0))
    return min(Angle(meets), STEEPEST_HALF_ANGLE)


def drive_pin_travel(taper: Taper, radius: Length) -> Length:
    """Return how far the drive pin slides in its slot, to and fro once in every turn.

    t = 2 R sin a, R the distance of the pin from the axis of the work: the slot must allow it.
    Valid for R > 0.

    Raises:
        OutOfRange: The radius is zero or less.

    Source: the geometry of the tilted work; checked against tests/golden/tilted_work.csv.
    """
    sine = math.sin(of_kind("taper", taper, Taper).half_angle.rad)
    return Length(2 * positive("distance of the drive pin from the axis", radius) * sine)


def closing_up(taper: Taper, ball_length: Length) -> Length:
    """Return how far the tailstock comes in as the ball goes from the axis to the set-over.

    c = L (1 - cos a), worked as 2 L sin^2(a/2) so that a small one keeps its figures. Valid for
    L > 0.

    Raises:
        OutOfRange: The length is zero or less.

    Source: the geometry of the tilted work; checked against tests/golden/tilted_work.csv.
    """
    half = of_kind("taper", taper, Taper).half_angle.rad / 2
    return Length(2 * positive("length between ball centres", ball_length) * math.sin(half) ** 2)
