"""Balls in centre holes: where they sit, which fit, and what is clear of what."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from assistant.calc import ball_centres, taper
from assistant.calc.ball_centres import BallSeat, CentreHole, SeatedOn
from assistant.calc.limits import STEEPEST_HALF_ANGLE
from assistant.errors import BallTooLarge, BallTooSmall, OutOfRange
from assistant.quantity import Length
from tests.calc.golden import rows
from tests.calc.strategies import ball_lengths, balls, diameters

PILOT_TO_MOUTH = 2.12  # of the standard holes, to within a few per cent
holes = st.floats(0.5, 12.5).map(
    lambda pilot: CentreHole(Length(pilot), Length(PILOT_TO_MOUTH * pilot))
)


def length(row: dict[str, str], name: str) -> Length:
    return Length(float(row[f"{name}_mm"]))


def hole(row: dict[str, str]) -> CentreHole:
    return CentreHole(
        length(row, "pilot"), length(row, "mouth"), Length(float(row.get("set_back_mm", 0)))
    )


@pytest.mark.parametrize("row", rows("ball_seats"), ids=lambda row: row["ball_mm"])
def test_a_ball_sits_where_a_sphere_comes_to_rest(row: dict[str, str]) -> None:
    got = ball_centres.seat(length(row, "ball"), hole(row))

    assert got.seated_on == row["seated_on"]
    assert got.contact_circle.mm == pytest.approx(float(row["contact_mm"]), abs=5.1e-5)
    assert got.outside_face.mm == pytest.approx(float(row["outside_mm"]), abs=5.1e-5)


@pytest.mark.parametrize("row", rows("ball_limits"), ids=lambda row: row["hole"])
def test_the_balls_a_standard_hole_takes_are_those_worked_apart(row: dict[str, str]) -> None:
    cone = hole(row)
    least, middle, most = (
        find(cone)
        for find in (
            ball_centres.smallest_ball,
            ball_centres.middle_ball,
            ball_centres.largest_ball,
        )
    )
    got = [ball.mm for ball in (least, middle, most)]
    worked = [float(row[f"{ball}_mm"]) for ball in ("smallest", "middle", "largest")]

    assert got == pytest.approx(worked, abs=5.1e-4)
    # The smallest drops in, the largest just sits; the middle one is the best.
    assert ball_centres.balls_that_seat(cone, (most, middle, least))[0] == middle
    assert least not in ball_centres.balls_that_seat(cone, [least])


@pytest.mark.parametrize("row", rows("sockets"), ids=lambda row: row["ball_mm"])
def test_a_ball_sinks_into_a_socket_as_its_chord_lets_it(row: dict[str, str]) -> None:
    ball, bore, depth = length(row, "ball"), length(row, "bore"), length(row, "depth")

    assert ball_centres.socket_depth(ball, bore).mm == pytest.approx(depth.mm, rel=1e-13)
    assert ball_centres.socket_bore(ball, depth).mm == pytest.approx(bore.mm, rel=1e-7)


@pytest.mark.parametrize("row", rows("clearance"), ids=lambda row: row["end_mm"])
def test_the_rim_meets_the_holder_where_it_was_turned_to(row: dict[str, str]) -> None:
    seat = ball_centres.seat(length(row, "ball"), hole(row))
    gap = ball_centres.gap(seat, length(row, "holder"))
    steepest = ball_centres.largest_half_angle(seat, length(row, "holder"), length(row, "end"))

    assert gap.mm == pytest.approx(float(row["gap_mm"]), rel=1e-10)
    assert steepest.degrees == pytest.approx(float(row["half_angle_deg"]), rel=1e-10)


@pytest.mark.parametrize("row", rows("tilted_work"), ids=lambda row: row["one_in"])
def test_the_tilt_draws_the_tailstock_in_and_moves_the_drive_pin(row: dict[str, str]) -> None:
    cone = taper.from_ratio(float(row["one_in"]))
    closing = ball_centres.closing_up(cone, length(row, "length"))
    slide = ball_centres.drive_pin_travel(cone, length(row, "radius"))

    assert closing.mm == pytest.approx(float(row["closing_mm"]), rel=1e-13)
    assert slide.mm == pytest.approx(float(row["pin_mm"]), rel=1e-13)


@given(holes, balls)
def test_a_ball_seats_where_its_sort_says_and_touches_within_the_cone(
    cone: CentreHole, ball: Length
) -> None:
    if ball <= ball_centres.smallest_ball(cone):
        with pytest.raises(BallTooSmall):
            ball_centres.seat(ball, cone)
    elif ball > cone.mouth * 2:
        with pytest.raises(BallTooLarge):
            ball_centres.seat(ball, cone)
    else:
        seat = ball_centres.seat(ball, cone)
        seats_on_cone = ball_centres.balls_that_seat(cone, [ball]) == (ball,)
        assert (seat.seated_on is SeatedOn.CONE) == seats_on_cone
        assert cone.pilot < seat.contact_circle <= cone.mouth
        # A small ball in a large hole may lie wholly in the work, but not past its cone.
        assert Length(0.0) < seat.depth < cone.mouth * ball_centres.COS_30


@given(holes)
def test_cone_and_rim_agree_for_the_ball_that_touches_both(cone: CentreHole) -> None:
    most = ball_centres.largest_ball(cone)
    on_cone, on_rim = (
        ball_centres.seat(most * factor, cone).outside_face.mm for factor in (1 - 1e-12, 1 + 1e-12)
    )
    assert on_cone == pytest.approx(on_rim, abs=1e-9)


@given(balls, st.floats(0.05, 0.8))
def test_a_mouth_opened_for_a_ball_has_it_half_way_up(ball: Length, part: float) -> None:
    pilot = ball * part
    cone = CentreHole(pilot, ball_centres.mouth_for_ball(ball, pilot))

    assert ball_centres.middle_ball(cone).mm == pytest.approx(ball.mm, rel=1e-13)


@given(ball_lengths, balls, balls)
def test_the_reading_over_balls_gives_the_length_back(
    apart: Length, head: Length, tail: Length
) -> None:
    assume(apart > (head + tail) * 0.5)
    reading = ball_centres.reading_over_balls(apart, head, tail)
    assume(reading > head + tail)  # a rounding can lose the last breadth between them

    got = ball_centres.length_over_balls(reading, head, tail)
    assert got.mm == pytest.approx(apart.mm, rel=1e-14, abs=1e-14)


@given(ball_lengths, holes, holes, st.floats(0.1, 1.0), st.floats(0.1, 1.0))
def test_the_length_from_faces_is_that_from_a_reading_over_the_same_balls(
    faces: Length, head: CentreHole, tail: CentreHole, low: float, high: float
) -> None:
    def seated(cone: CentreHole, part: float) -> BallSeat:
        least, most = ball_centres.smallest_ball(cone), ball_centres.largest_ball(cone)
        return ball_centres.seat(least + (most - least) * part, cone)

    ends = seated(head, low), seated(tail, high)
    assume(faces > ends[0].depth + ends[1].depth)
    stands_out = [(end.ball - end.depth).mm for end in ends]
    reading = Length(faces.mm + sum(stands_out))

    from_faces = ball_centres.length_from_faces(faces, *ends)
    over_balls = ball_centres.length_over_balls(reading, ends[0].ball, ends[1].ball)
    assert from_faces.mm == pytest.approx(over_balls.mm, rel=1e-12, abs=1e-12)


def test_a_set_back_cone_takes_the_ball_in_by_as_much() -> None:
    plain, protected = (
        ball_centres.seat(Length(6.0), CentreHole(Length(2.5), Length(5.3), Length(back)))
        for back in (0.0, 0.8)
    )
    assert (plain.outside_face - protected.outside_face).mm == pytest.approx(0.8, rel=1e-13)


@given(balls, st.floats(0.01, 1.0))
def test_the_bore_for_a_depth_gives_the_depth(ball: Length, part: float) -> None:
    depth = ball * (0.5 * part)
    bore = min(ball_centres.socket_bore(ball, depth), ball)

    # Near half a ball the bore hardly changes with the depth, so few figures come back.
    assert ball_centres.socket_depth(ball, bore).mm == pytest.approx(depth.mm, abs=1e-7 * ball.mm)


@given(diameters)
def test_work_that_can_never_reach_the_holder_may_be_as_steep_as_any(end: Length) -> None:
    seat = ball_centres.seat(Length(6.35), CentreHole(Length(3.15), Length(6.7)))
    steepest = ball_centres.largest_half_angle(seat, Length(0.0), end)
    # At 45 degrees the rim stands (R - e) cos 45 on from the ball's centre; the holder, b/2.
    rim_mm = (end.mm / 2 - seat.outside_face.mm) * 2**-0.5

    assert (steepest == STEEPEST_HALF_ANGLE) == (rim_mm < seat.ball.mm / 2)


def test_a_ball_that_drops_into_the_pilot_is_refused_by_name() -> None:
    with pytest.raises(BallTooSmall) as caught:
        ball_centres.seat(Length(3.5), CentreHole(Length(3.15), Length(6.7)))

    assert (caught.value.ball_mm, caught.value.name) == (3.5, "ball diameter")
    assert str(caught.value) == (
        "A 3.5 mm ball drops into the pilot of this centre hole; use one of more than 3.637 mm."
    )
    with pytest.raises(BallTooSmall):
        ball_centres.mouth_for_ball(Length(3.5), Length(3.15))


def test_a_ball_too_large_to_hold_is_refused_by_name() -> None:
    with pytest.raises(BallTooLarge) as caught:
        ball_centres.seat(Length(15.0), CentreHole(Length(3.15), Length(6.7)))

    assert (caught.value.ball_mm, caught.value.most_mm) == (15.0, 13.4)
    assert str(caught.value) == (
        "A 15 mm ball is too large for this centre hole and would not hold; "
        "use one of 13.4 mm or less."
    )


def test_a_mouth_no_wider_than_its_pilot_is_no_centre_hole() -> None:
    with pytest.raises(OutOfRange, match="wider than the pilot, 4 mm"):
        CentreHole(Length(4.0), Length(4.0))


def test_balls_that_meet_are_refused() -> None:
    seat = ball_centres.seat(Length(6.35), CentreHole(Length(3.15), Length(6.7)))

    with pytest.raises(OutOfRange, match="more than the two balls together"):
        ball_centres.length_over_balls(Length(12.0), Length(6.0), Length(6.0))
    with pytest.raises(OutOfRange, match="more than half the two balls together"):
        ball_centres.reading_over_balls(Length(6.0), Length(6.0), Length(6.0))
    with pytest.raises(OutOfRange, match="more than the seats'"):
        ball_centres.length_from_faces(seat.depth * 2, seat, seat)


def test_a_socket_no_ball_can_sink_into_is_refused() -> None:
    with pytest.raises(OutOfRange, match="no wider than the ball"):
        ball_centres.socket_depth(Length(6.0), Length(6.1))
    with pytest.raises(OutOfRange, match="no more than half the ball"):
        ball_centres.socket_bore(Length(6.0), Length(3.1))


def test_a_ball_that_lies_wholly_in_the_work_cannot_be_held() -> None:
    sunk = ball_centres.seat(Length(14.0), CentreHole(Length(12.0), Length(25.44)))

    with pytest.raises(OutOfRange, match="large enough to stand out of the work, not 14"):
        ball_centres.gap(sunk, Length(0.0))


def test_a_holder_that_swallows_the_ball_leaves_no_gap() -> None:
    seat = ball_centres.seat(Length(6.35), CentreHole(Length(3.15), Length(6.7)))

    with pytest.raises(OutOfRange, match="stand out of the work"):
        ball_centres.gap(seat, seat.ball - seat.depth)
