"""What the cone is now, from any way of measuring it; the move that trues it; what is proved.

Every length goes in with its standard uncertainty (one sigma), and every half angle comes out
with one. Errors are taken as independent: a zero error of one micrometer used for both
diameters cancels, and is to be left out. Half angles are signed: below zero the cone runs
the other way.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

from assistant.calc.limits import STEEPEST_HALF_ANGLE, not_negative, of_kind, positive
from assistant.calc.taper import Taper
from assistant.calc.tolerance import Tolerance
from assistant.errors import OutOfRange
from assistant.quantity import Angle, Length

# The standard normal distribution's 97.5 per cent point: 95 of 100 measurements lie within so
# many sigma. Checked against scipy.
SIGMAS_95 = 1.959963984540054


@dataclass(frozen=True, slots=True)
class MeasuredLength:
    """A length as measured, and its standard uncertainty.

    Raises:
        OutOfRange: The uncertainty is less than zero.
        WrongKind: A field is no length.
    """

    length: Length
    standard: Length

    def __post_init__(self) -> None:
        of_kind("measured length", self.length, Length)
        not_negative("standard uncertainty", self.standard)


@dataclass(frozen=True, slots=True)
class Finding:
    """A half angle as found, and its standard uncertainty in two parts.

    One part is from what was read, the other from the length it was read over: a better
    instrument improves the first alone, a longer gauge length both.

    Raises:
        OutOfRange: The half angle is 45 degrees or more, or an uncertainty less than zero.
        WrongKind: A field is no angle.
    """

    half_angle: Angle
    from_readings: Angle
    from_length: Angle

    def __post_init__(self) -> None:
        if abs(of_kind("half angle found", self.half_angle, Angle)) >= STEEPEST_HALF_ANGLE:
            limit = f"less than {STEEPEST_HALF_ANGLE.degrees:g} degrees"
            raise OutOfRange("half angle found", self.half_angle.degrees, limit)
        not_negative("uncertainty from the readings", self.from_readings, Angle)
        not_negative("uncertainty from the length", self.from_length, Angle)

    @property
    def standard(self) -> Angle:
        """The standard uncertainty: both parts, root sum of squares."""
        return Angle(math.hypot(self.from_readings.rad, self.from_length.rad))

    @property
    def margin(self) -> Angle:
        """The half angle lies within so much of the one found 95 times in 100."""
        return self.standard * SIGMAS_95


class Plunger(StrEnum):
    """What the indicator's plunger was set square to."""

    SQUARE_TO_BED = "square to the bed"
    SQUARE_TO_WORK = "square to the work"


class Contact(StrEnum):
    """Where the work, as a plug, bears in the gauge."""

    LARGE_END = "large end"
    SMALL_END = "small end"
    WHOLE_LENGTH = "whole length"


class Correction(StrEnum):
    """Which way to change the set-over."""

    MORE = "more set-over"
    LESS = "less set-over"
    NONE = "no change"


class Verdict(StrEnum):
    """What a finding proves, at 95 per cent."""

    WITHIN = "within tolerance"
    OUTSIDE = "outside tolerance"
    UNPROVED = "not proved either way"


def standard_from_limit(limit: Length) -> Length:
    """Return the standard uncertainty of an instrument that is stated to err by no more.

    u = limit / sqrt(3): every error up to the limit taken as equally likely.
    Valid for limit > 0.

    Raises:
        OutOfRange: The limit is zero or less.
        WrongKind: It is no length.

    Source: JCGM 100:2008 (the GUM), 4.3.7, from memory.
    """
    return Length(positive("limit of error", limit) / math.sqrt(3))


def from_diameters(large: MeasuredLength, small: MeasuredLength, axial: MeasuredLength) -> Finding:
    """Return the half angle from two diameters at places an axial distance apart.

    tan a = (D - d) / (2 l), with
    u(tan a)^2 = (u_D^2 + u_d^2) / (4 l^2) + (tan a u_l / l)^2 and u(a) = cos^2 a u(tan a).
    Valid for D, d, l > 0; D less than d gives a half angle below zero.

    Raises:
        OutOfRange: A length is zero or less, or the cone is 45 degrees or steeper.
        WrongKind: A value is not measured.

    Source: the definition; JCGM 100:2008 (the GUM), 5.1.2, from memory; checked against
    tests/golden/trueing.csv and by Monte Carlo.
    """
    return _by_tangent(*_rise("diameter", large, small), axial)


def from_diameters_by_carriage(
    large: MeasuredLength, small: MeasuredLength, travel: MeasuredLength
) -> Finding:
    """Return the half angle from two diameters at places a travel of the carriage apart.

    sin a = (D - d) / (2 z): the side just turned lies along the bed, so the travel z is a
    slant length. u(sin a) as u(tan a) in `from_diameters`, and u(a) = u(sin a) / cos a.
    Valid for D, d, z > 0.

    Raises:
        OutOfRange: A length is zero or less, or the cone is 45 degrees or steeper.
        WrongKind: A value is not measured.

    Source: the geometry of the tilted work; the GUM, 5.1.2, from memory; checked against
    tests/golden/trueing.csv and by Monte Carlo.
    """
    return _by_sine(*_rise("diameter", large, small), travel)


def from_indicator(change: MeasuredLength, travel: MeasuredLength, plunger: Plunger) -> Finding:
    """Return the half angle from an indicator on a parallel bar between the balls.

    Over a travel z of the carriage the reading changes by c = z tan a with the plunger
    square to the bed, and by c = z sin a with it square to the work. The uncertainty of c is that
    of a difference of two readings. On the cone just turned there is no change to read, and
    a mandrel is itself tapered. Valid for z > 0, c signed.

    Raises:
        OutOfRange: The travel is zero or less, or the bar lies at 45 degrees or steeper.
        WrongKind: A value is of another kind.

    Source: the geometry; Aligning a top slide, toolingaround.ca/ats.php for the first;
    checked against tests/golden/trueing.csv and by Monte Carlo.
    """
    rise = of_kind("change of the indicator", change, MeasuredLength)
    square_to_bed = of_kind("plunger", plunger, Plunger) is Plunger.SQUARE_TO_BED
    formula = _by_tangent if square_to_bed else _by_sine
    return formula(rise.length.mm, rise.standard.mm, travel)


def from_rollers(
    over_high: MeasuredLength, over_low: MeasuredLength, height: MeasuredLength
) -> Finding:
    """Return the half angle from equal rollers at two heights, small end down on a plate.

    tan a = (M2 - M1) / (2 h), M1 over the rollers on the plate, M2 over them on blocks of
    height h; the uncertainty as in `from_diameters`. Only that the rollers are equal
    matters, not how large they are. Valid for M1, M2, h > 0.

    Raises:
        OutOfRange: A length is zero or less, or the cone is 45 degrees or steeper.
        WrongKind: A value is not measured.

    Source: the geometry, no worked example read; checked against tests/golden/rollers.csv
    and by Monte Carlo.
    """
    return _by_tangent(*_rise("reading over the rollers", over_high, over_low), height)


def over_rollers(small_end: Length, roller: Length, taper: Taper) -> Length:
    """Return the size over two rollers on the plate that the small end stands on.

    M1 = d + w (1 + tan a + sec a), w the diameter of a roller. Valid for d, w > 0.

    Raises:
        OutOfRange: A length is zero or less.
        WrongKind: A value is of another kind.

    Source: the geometry; checked against tests/golden/rollers.csv.
    """
    return Length(positive("small end", small_end) + _beside(roller, taper))


def small_end_from_rollers(over_low: Length, roller: Length, taper: Taper) -> Length:
    """Return the small end's diameter from the size over two rollers on the plate.

    d = M1 - w (1 + tan a + sec a): the reverse of `over_rollers`.

    Raises:
        OutOfRange: A length is zero or less, or the rollers leave nothing for the cone.
        WrongKind: A value is of another kind.

    Source: the geometry; checked against tests/golden/rollers.csv.
    """
    over, beside = positive("reading over the rollers", over_low), _beside(roller, taper)
    if over <= beside:
        limit = f"more than the rollers themselves take up, {beside:g} mm"
        raise OutOfRange("reading over the rollers", over, limit)
    return Length(over - beside)


def from_sine_bar(
    stack: MeasuredLength, bar: MeasuredLength, level: MeasuredLength, travel: Length
) -> Finding:
    """Return the half angle from a cone on a sine bar, large end at the hinge.

    2a = asin(H / B) - atan(c / z), H the blocks, B the bar, c the rise of an indicator
    along the top of the cone towards the blocks over z; none when it reads level.
    (2 u(a))^2 = (u_H^2 + (u_B H / B)^2) / (B cos(asin(H / B)))^2 + (u_c / z)^2, c small.
    Valid for 0 <= H < B and z > 0. A longer gauge length is a longer bar and travel.

    Raises:
        OutOfRange: The stack is less than nothing or no shorter than the bar, the bar or the
            travel is zero or less, or the cone is 45 degrees or steeper.
        WrongKind: A value is of another kind.

    Source: the definition of the sine; checked against tests/golden/sine_bar.csv and by
    Monte Carlo.
    """
    long = positive("sine bar", of_kind("sine bar", bar, MeasuredLength).length)
    high = not_negative("stack of blocks", of_kind("stack of blocks", stack, MeasuredLength).length)
    if high >= long:
        raise OutOfRange("stack of blocks", high, f"less than the sine bar, {long:g} mm")
    slope = of_kind("indicator along the cone", level, MeasuredLength)
    along = positive("indicator's travel", travel)
    run = math.sqrt((long - high) * (long + high))
    tilt = math.asin(high / long) - math.atan(slope.length.mm / along)
    readings = math.hypot(stack.standard.mm / run, slope.standard.mm / along)
    bars = high / long * bar.standard.mm / run
    return Finding(Angle(tilt / 2), Angle(readings / 2), Angle(bars / 2))


def sine_bar_stack(taper: Taper, bar: Length) -> Length:
    """Return the blocks that bring the top of a cone level on a sine bar.

    H = B sin 2a. Valid for B > 0.

    Raises:
        OutOfRange: The bar is zero or less.
        WrongKind: A value is of another kind.

    Source: US Army TC 9-524, Appendix C, sine bar rule; checked against
    tests/golden/sine_bar.csv.
    """
    half = of_kind("taper", taper, Taper).half_angle.rad
    return Length(positive("sine bar", bar) * math.sin(2 * half))


def from_shake(
    gauge: Taper, shake: MeasuredLength, engaged: MeasuredLength, contact: Contact
) -> Finding:
    """Return the half angle from the shake of the work, as a plug, in a gauge.

    a = a_gauge +- e with tan e = g / (2 l), g the shake at the free end and l the
    length engaged: more where it bears at the large end, less where at the small end.
    u as in `from_diameters` for g alone; the gauge is taken as true. Valid for g >= 0
    and l > 0; for small shakes.

    Raises:
        OutOfRange: The shake is less than nothing, the length zero or less, or the work bears
            along its whole length.
        WrongKind: A value is of another kind.

    Source: the geometry; checked against tests/golden/trueing.csv and by Monte Carlo.
    """
    free = not_negative("shake", of_kind("shake", shake, MeasuredLength).length)
    return _beside_gauge(gauge, _by_tangent(free / 2, shake.standard.mm / 2, engaged), contact)


def from_blue(
    gauge: Taper, film: MeasuredLength, rubbed: MeasuredLength, contact: Contact
) -> Finding:
    """Return the half angle from how far the blue rubbed off in a gauge.

    a = a_gauge +- e with tan e = t / x, t the thickness of the film and x the length
    rubbed: beyond it the gap is wider than the film. More where the rub is at the large
    end, less where at the small end; the gauge is taken as true. Valid for t, x > 0.

    Raises:
        OutOfRange: A length is zero or less, or the blue rubbed along the whole length.
        WrongKind: A value is of another kind.

    Source: the geometry, derived here; checked against tests/golden/trueing.csv and by
    Monte Carlo.
    """
    thick = positive("film of blue", of_kind("film of blue", film, MeasuredLength).length)
    return _beside_gauge(gauge, _by_tangent(thick, film.standard.mm, rubbed), contact)


def blue_resolves(film: Length, engaged: Length) -> Angle:
    """Return the angle error that a rub along the whole length may still hide.

    tan e = t / l, t the thickness of the film and l the length engaged. Valid for t, l > 0.

    Raises:
        OutOfRange: A length is zero or less, or the film thicker than the length.
        WrongKind: A value is no length.

    Source: the geometry, derived here; checked against tests/golden/trueing.csv.
    """
    thick = positive("film of blue", film)
    nothing = Length(0.0)
    return _by_tangent(thick, 0.0, MeasuredLength(engaged, nothing)).half_angle


def correction(contact: Contact) -> Correction:
    """Return which way to change the set-over, from where the work bears in the gauge.

    Definition: bearing at the large end alone, the plug's angle is larger than the gauge's and
    needs less set-over; at the small end alone, more; along the whole length, none.

    Raises:
        WrongKind: The contact is none of its kind.

    Source: the geometry of a plug in a gauge.
    """
    return {
        Contact.LARGE_END: Correction.LESS,
        Contact.SMALL_END: Correction.MORE,
        Contact.WHOLE_LENGTH: Correction.NONE,
    }[of_kind("contact", contact, Contact)]


def move(target: Taper, now: Finding, ball_length: Length) -> MeasuredLength:
    """Return the move of the ball that trues the cone, and its standard uncertainty.

    ds = L (sin a_target - sin a_now), worked as 2 L cos((a_target + a_now) / 2)
    sin((a_target - a_now) / 2) so that a small move keeps its figures; positive is more
    set-over. u(ds) = L cos a_now u(a_now); the length's own error changes a small move
    by too little to count. Valid for L > 0. The old set-over and the head's zero do not enter.

    Raises:
        OutOfRange: The length is zero or less.
        WrongKind: A value is of another kind.

    Source: the geometry of the tilted work; checked against tests/golden/moves.csv and by
    Monte Carlo.
    """
    long = positive("length between ball centres", ball_length)
    is_now = of_kind("half angle found", now, Finding).half_angle.rad
    wanted = of_kind("taper", target, Taper).half_angle.rad
    to_go = 2 * long * math.cos((wanted + is_now) / 2) * math.sin((wanted - is_now) / 2)
    return MeasuredLength(Length(to_go), Length(long * math.cos(is_now) * now.standard.rad))


def verdict(now: Finding, target: Taper, tolerance: Tolerance) -> Verdict:
    """Return what a finding proves about the tolerance, at 95 per cent.

    Within where |a_now - a_target| + U <= T, outside where |a_now - a_target| - U > T, with
    U = 1.96 u the margin and T the tolerance; else it is not proved either way.

    Raises:
        WrongKind: A value is of another kind.

    Source: ISO 14253-1 for proving with the uncertainty against the prover, from memory.
    """
    is_now = of_kind("half angle found", now, Finding).half_angle
    off = abs(is_now - of_kind("taper", target, Taper).half_angle)
    allowed = of_kind("tolerance", tolerance, Tolerance).half_angle
    if off + now.margin <= allowed:
        return Verdict.WITHIN
    return Verdict.OUTSIDE if off - now.margin > allowed else Verdict.UNPROVED


def can_prove(now: Finding, tolerance: Tolerance) -> bool:
    """Return whether a measurement like this could prove a perfect cone to be in tolerance.

    U <= T, with U = 1.96 u the margin and T the tolerance.

    Raises:
        WrongKind: A value is of another kind.

    Source: ISO 14253-1 for proving with the uncertainty against the prover, from memory.
    """
    allowed = of_kind("tolerance", tolerance, Tolerance).half_angle
    return of_kind("half angle found", now, Finding).margin <= allowed


def gauge_length_needed(now: Finding, over: Length, tolerance: Tolerance) -> Length:
    """Return the gauge length over which the same instruments could just prove the tolerance.

    l_needed = l U / T, U = 1.96 u the margin found over the length l: with the same
    instruments on the same cone every uncertainty goes as 1 / l. Valid for l > 0.

    Raises:
        OutOfRange: The length is zero or less.
        WrongKind: A value is of another kind.

    Source: follows from the uncertainties in this module; checked by measuring over it.
    """
    margin = of_kind("half angle found", now, Finding).margin
    allowed = of_kind("tolerance", tolerance, Tolerance).half_angle
    return Length(positive("gauge length", over) * margin.rad / allowed.rad)


def instrument_needed(now: Finding, present: Length, tolerance: Tolerance) -> Length:
    """Return the standard uncertainty an instrument needs to just prove the tolerance.

    u_needed = u_present sqrt((T / 1.96)^2 - u_length^2) / u_readings, over the same length.
    Valid where the length is known well enough for an instrument to matter.

    Raises:
        OutOfRange: The instrument's present figure is zero or less, the readings have no
            uncertainty, or the length alone leaves the tolerance unproved.
        WrongKind: A value is of another kind.

    Source: follows from the uncertainties in this module; checked by measuring with it.
    """
    figure = positive("instrument's standard uncertainty", present)
    readings = of_kind("half angle found", now, Finding).from_readings
    positive("uncertainty from the readings", readings, Angle)
    allowed = of_kind("tolerance", tolerance, Tolerance).half_angle.rad / SIGMAS_95
    length = now.from_length.rad
    if length >= allowed:
        limit = f"less than {Angle(allowed).minutes:.3g} minutes; measure the length better"
        raise OutOfRange("uncertainty from the length", now.from_length.minutes, limit)
    return Length(figure * math.sqrt((allowed - length) * (allowed + length)) / readings.rad)


def _rise(what: str, high: MeasuredLength, low: MeasuredLength) -> tuple[float, float]:
    """Return half the difference of two sizes in millimetres, and its standard uncertainty."""
    top = positive(what, of_kind(what, high, MeasuredLength).length)
    foot = positive(what, of_kind(what, low, MeasuredLength).length)
    return (top - foot) / 2, math.hypot(high.standard.mm, low.standard.mm) / 2


def _by_tangent(rise_mm: float, rise_standard_mm: float, run: MeasuredLength) -> Finding:
    long = positive("gauge length", of_kind("gauge length", run, MeasuredLength).length)
    half = math.atan(rise_mm / long)
    slope = math.cos(half) ** 2 / long
    length = abs(rise_mm / long) * run.standard.mm
    return Finding(Angle(half), Angle(rise_standard_mm * slope), Angle(length * slope))


def _by_sine(rise_mm: float, rise_standard_mm: float, run: MeasuredLength) -> Finding:
    long = positive("gauge length", of_kind("gauge length", run, MeasuredLength).length)
    if abs(rise_mm) >= long:
        raise OutOfRange("rise of the side", rise_mm, f"less than the gauge length, {long:g} mm")
    half = math.asin(rise_mm / long)
    slope = 1 / (math.cos(half) * long)
    length = abs(rise_mm / long) * run.standard.mm
    return Finding(Angle(half), Angle(rise_standard_mm * slope), Angle(length * slope))


def _beside_gauge(gauge: Taper, error: Finding, contact: Contact) -> Finding:
    true = of_kind("gauge", gauge, Taper).half_angle
    match of_kind("contact", contact, Contact):
        case Contact.LARGE_END:
            half = true + error.half_angle
        case Contact.SMALL_END:
            half = true - error.half_angle
        case Contact.WHOLE_LENGTH:
            raise OutOfRange("contact", contact.value, "at one end to tell an angle error")
    return Finding(half, error.from_readings, error.from_length)


def _beside(roller: Length, taper: Taper) -> float:
    """Return how much two rollers on the plate add to the small end, in millimetres."""
    half = of_kind("taper", taper, Taper).half_angle.rad
    return positive("roller", roller) * (1 + math.tan(half) + 1 / math.cos(half))
