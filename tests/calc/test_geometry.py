"""The tilted cone built as points and passed by a tool: no formula of the core is used here.

The lathe: x along the spindle, y level and towards the operator, z up. The headstock ball is
at the origin, the tail ball at a given set-over. The work turns about the line through both
balls; the tool travels along x. What the tool leaves is found point by point: each place of
its tip, swept round the axis of the work, is a circle, whose distance along the axis and
whose radius come out of vector products alone.
"""

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.calc import ball_centres, setover, sizing, taper, tool_height
from assistant.quantity import Angle, Length

Points = NDArray[np.float64]

EXACT = 1e-9
STATIONS = 20001


@dataclass(frozen=True)
class Cut:
    """What one pass leaves: places along the axis of the work, and the radius at each."""

    along: Points
    radius: Points

    def fitted(self) -> tuple[float, float]:
        """The slope of the side, and its radius at the headstock ball, by least squares."""
        slope, radius = np.polyfit(self.along, self.radius, 1)
        return float(slope), float(radius)


def tail_ball(set_over_mm: float, length_mm: float) -> Points:
    """The tail ball's place, found by closing the tailstock up until the work just fits."""
    low, high = 0.0, length_mm
    for _ in range(200):
        middle = (low + high) / 2
        fits = np.linalg.norm([middle, set_over_mm, 0.0]) < length_mm
        low, high = (middle, high) if fits else (low, middle)
    return np.array([low, set_over_mm, 0.0])


def turned(tail: Points, tip_y_mm: float) -> Cut:
    """Pass the tip along x over the tailstock's half, at a distance from the spindle axis."""
    unit = tail / np.linalg.norm(tail)
    x = np.linspace(tail[0] / 2, tail[0], STATIONS)
    tips = np.stack([x, np.full_like(x, tip_y_mm), np.zeros_like(x)], axis=1)
    along = tips @ unit
    radius = np.linalg.norm(tips - along[:, None] * unit, axis=1)
    return Cut(along, radius)


CONES = [(20.0, 200.0), (4.0, 150.0), (3.428571428571429, 300.0), (100.0, 900.0)]


@pytest.mark.parametrize(("one_in", "length_mm"), CONES)
def test_the_set_over_turns_the_half_angle_asked(one_in: float, length_mm: float) -> None:
    cone, length = taper.from_ratio(one_in), Length(length_mm)
    tail = tail_ball(setover.set_over(cone, length).mm, length_mm)

    # The tool is at the operator's side, clear of the axis at the small end.
    slope, _ = turned(tail, tip_y_mm=tail[1] + 10.0).fitted()

    # Towards the operator the radius falls towards the tailstock; the slope is a tangent.
    assert -slope == pytest.approx(1 / (2 * one_in), abs=EXACT)


@pytest.mark.parametrize(("one_in", "length_mm"), CONES)
def test_two_diameters_of_the_cone_give_its_taper_back(one_in: float, length_mm: float) -> None:
    cone, length = taper.from_ratio(one_in), Length(length_mm)
    tail = tail_ball(setover.set_over(cone, length).mm, length_mm)
    cut = turned(tail, tip_y_mm=tail[1] + 10.0)

    ends = [Length(2 * float(cut.radius[end])) for end in (0, -1)]
    apart = Length(float(cut.along[-1] - cut.along[0]))
    slant = Length(float(np.hypot(apart.mm, cut.radius[0] - cut.radius[-1])))
    by_axis = taper.from_diameters(ends[0], ends[1], apart)
    by_side = taper.from_diameters_over_slant(ends[0], ends[1], slant)

    assert by_axis.half_angle.rad == pytest.approx(cone.half_angle.rad, abs=EXACT)
    assert by_side.half_angle.rad == pytest.approx(cone.half_angle.rad, abs=EXACT)
    # The carriage travelled along the side: its travel is the slant.
    assert slant.mm == pytest.approx(float(tail[0]) * 0.5, abs=EXACT)
    # The diameters themselves, from one end, the taper and the place of the other.
    far = sizing.diameter_at(cone, ends[0], apart)
    assert far.mm == pytest.approx(ends[1].mm, abs=EXACT)


@pytest.mark.parametrize(("one_in", "length_mm"), CONES)
def test_the_tailstock_closes_up_and_the_pin_slides(one_in: float, length_mm: float) -> None:
    cone, length = taper.from_ratio(one_in), Length(length_mm)
    tail = tail_ball(setover.set_over(cone, length).mm, length_mm)

    closing = ball_centres.closing_up(cone, length)
    assert closing.mm == pytest.approx(length_mm - float(tail[0]), abs=EXACT)

    # A pin fixed to the carrier at a radius of 40 mm, turned once round the work's axis.
    unit = tail / np.linalg.norm(tail)
    across = np.cross(unit, [0.0, 0.0, 1.0])
    across /= np.linalg.norm(across)
    turn = np.linspace(0.0, 2 * np.pi, 3601)[:, None]
    pin = 40.0 * (np.cos(turn) * across + np.sin(turn) * np.cross(unit, across))
    slide = ball_centres.drive_pin_travel(cone, Length(40.0))
    assert slide.mm == pytest.approx(float(np.ptp(pin[:, 0])), abs=EXACT)


@pytest.mark.parametrize("height_mm", [0.2, -0.5, 1.0])
def test_a_tool_off_centre_height_leaves_the_error_and_the_hollow(height_mm: float) -> None:
    cone, length = taper.from_ratio(8.0), Length(200.0)
    tail = tail_ball(setover.set_over(cone, length).mm, length.mm)
    unit = tail / np.linalg.norm(tail)
    places = np.linspace(90.0, 190.0, STATIONS)  # along the axis of the work

    def radii(tip_y_mm: float, tip_z_mm: float) -> Points:
        x = (places - tip_y_mm * unit[1]) / unit[0]
        tips = np.stack([x, np.full_like(x, tip_y_mm), np.full_like(x, tip_z_mm)], axis=1)
        radius: Points = np.linalg.norm(tips - places[:, None] * unit, axis=1)
        return radius

    tip_y = float(tail[1]) + 10.0
    meant = radii(tip_y, 0.0)
    # Feed in until the small end, at the tailstock, measures as meant.
    low, high = 0.0, 2.0
    for _ in range(100):
        middle = (low + high) / 2
        too_large = radii(tip_y - middle, height_mm)[-1] > meant[-1]
        low, high = (middle, high) if too_large else (low, middle)
    left = radii(tip_y - low, height_mm)
    straight_edge = np.interp(places, places[[0, -1]], left[[0, -1]])

    large, small = Length(2 * float(meant[0])), Length(2 * float(meant[-1]))
    error = tool_height.large_end_error(large, small, Length(height_mm))
    hollow = tool_height.hollow(large, small, Length(height_mm))
    assert error.mm == pytest.approx(2 * float(left[0] - meant[0]), abs=EXACT)
    assert hollow.mm == pytest.approx(float(np.max(straight_edge - left)), abs=EXACT)
    assert hollow.mm > 1e4 * EXACT


@pytest.mark.parametrize(("one_in", "length_mm"), CONES)
def test_an_infeed_moves_the_gauge_plane(one_in: float, length_mm: float) -> None:
    cone, length, infeed = taper.from_ratio(one_in), Length(length_mm), Length(0.05)
    tail = tail_ball(setover.set_over(cone, length).mm, length_mm)
    tip_y = float(tail[1]) + 10.0

    (slope, before), (_, after) = (
        turned(tail, tip_y - feed_mm).fitted() for feed_mm in (0.0, infeed.mm)
    )
    # The plane of one diameter, before and after; and the diameter of one plane.
    plane_moved = (after - before) / slope
    smaller = 2 * (before - after)

    moved = sizing.stand_off_for_infeed(cone, infeed)
    # On the slimmest cone it moves by 10 mm, and the fit's noise is larger in proportion.
    assert moved.mm == pytest.approx(plane_moved, rel=EXACT, abs=EXACT)
    change = sizing.diameter_for_infeed(cone, infeed)
    assert change.mm == pytest.approx(smaller, abs=EXACT)


def test_a_seated_ball_touches_the_cone_and_enters_it_nowhere() -> None:
    hole = ball_centres.CentreHole(Length(3.15), Length(6.7))
    for ball in (4.5, 6.35, 7.5, 9.0, 13.0):
        seat = ball_centres.seat(Length(ball), hole)
        # The side of the hole as points, from the mouth in: 30 degrees to the axis.
        inward = np.linspace(0.0, (6.7 - 3.15) / 2, 400001)
        side = np.stack([-inward * 3**0.5, 6.7 / 2 - inward], axis=1)
        clear = np.linalg.norm(side - [seat.outside_face.mm, 0.0], axis=1) - ball / 2

        assert float(np.min(clear)) == pytest.approx(0.0, abs=EXACT)


def test_the_rim_touches_the_holder_at_the_largest_half_angle() -> None:
    seat = ball_centres.seat(Length(6.35), ball_centres.CentreHole(Length(3.15), Length(6.7)))
    steepest = ball_centres.largest_half_angle(seat, Length(2.0), Length(40.0))

    def nearest(angle: Angle) -> float:
        turn = np.linspace(0.0, 2 * np.pi, 3601)
        rim = np.stack(
            [np.full_like(turn, -seat.outside_face.mm), 20 * np.cos(turn), 20 * np.sin(turn)]
        )
        c, s = np.cos(angle.rad), np.sin(angle.rad)
        tilt = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
        holder = 6.35 / 2 - 2.0
        return holder - float((tilt @ rim)[0].max())

    assert nearest(steepest) == pytest.approx(0.0, abs=EXACT)
    assert nearest(steepest * 0.99) > 0
