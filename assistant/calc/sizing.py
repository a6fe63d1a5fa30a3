"""Bringing a taper to size: infeed, gauge stand-off, diameters along it, passes and their time.

Infeed is the tool's movement square to the bed, not what a dial that reads diameter shows.
"""

import math
from dataclasses import dataclass

from assistant.calc.limits import not_negative, of_kind, positive
from assistant.calc.taper import Taper
from assistant.errors import OutOfRange
from assistant.quantity import Duration, Feed, Length, SpindleSpeed

# A rest of less than this share of a pass is the arithmetic's, not the work's: 0.3 / 0.1 is
# not exactly 3.
LEAST_PASS = 1e-9


def infeed_for_stand_off(taper: Taper, stand_off: Length) -> Length:
    """Return the infeed that lets a ring gauge go on by so much more.

    p = z sin a, z along the axis of the work. Valid for any z, signed.

    Raises:
        WrongKind: A value is of another kind.

    Source: the geometry of the tilted work, whose side lies along the bed; checked against
    tests/golden/sizing.csv.
    """
    half = of_kind("taper", taper, Taper).half_angle.rad
    return of_kind("stand-off", stand_off, Length) * math.sin(half)


def stand_off_for_infeed(taper: Taper, infeed: Length) -> Length:
    """Return how far an infeed lets a ring gauge go on.

    z = p / sin a: the reverse of `infeed_for_stand_off`. Valid for any p, signed.

    Raises:
        WrongKind: A value is of another kind.

    Source: as `infeed_for_stand_off`; checked against tests/golden/sizing.csv.
    """
    half = of_kind("taper", taper, Taper).half_angle.rad
    return Length(of_kind("infeed", infeed, Length).mm / math.sin(half))


def infeed_for_diameter(taper: Taper, change: Length) -> Length:
    """Return the infeed that makes a diameter smaller by so much.

    p = c cos a / 2: the reverse of `diameter_for_infeed`. Valid for any c, signed.

    Raises:
        WrongKind: A value is of another kind.

    Source: the geometry of the tilted work; checked against tests/golden/sizing.csv.
    """
    half = of_kind("taper", taper, Taper).half_angle.rad
    return of_kind("change of diameter", change, Length) * (math.cos(half) / 2)


def diameter_for_infeed(taper: Taper, infeed: Length) -> Length:
    """Return how much smaller an infeed makes the diameter at a fixed place on the work.

    c = 2 p / cos a: a little more than on a cylinder. Valid for any p, signed.

    Raises:
        WrongKind: A value is of another kind.

    Source: the geometry of the tilted work; for a cylinder (a = 0) US Navy training manual
    14076 (number from the address), item 4-74; checked against tests/golden/sizing.csv.
    """
    half = of_kind("taper", taper, Taper).half_angle.rad
    return Length(2 * of_kind("infeed", infeed, Length).mm / math.cos(half))


def diameter_at(taper: Taper, large: Length, station: Length) -> Length:
    """Return the diameter at a station, a distance from the large end towards the small.

    d = D - 2 x tan a; before the large end x is negative. Valid for D > 0 and short of the
    cone's point.

    Raises:
        OutOfRange: The large diameter is zero or less, or the cone has run out.
        WrongKind: A value is of another kind.

    Source: the definition of a taper; checked against tests/golden/stations.csv.
    """
    rate = of_kind("taper", taper, Taper).rate
    whole = positive("large diameter", large)
    left = whole - of_kind("station", station, Length).mm * rate
    if left <= 0:
        raise OutOfRange("station", station.mm, f"before the cone's point at {whole / rate:g} mm")
    return Length(left)


def station_of(taper: Taper, large: Length, diameter: Length) -> Length:
    """Return how far from the large end towards the small a diameter lies.

    x = (D - d) / (2 tan a): the reverse of `diameter_at`. Valid for D, d > 0.

    Raises:
        OutOfRange: A diameter is zero or less.
        WrongKind: A value is of another kind.

    Source: the definition of a taper; checked against tests/golden/stations.csv.
    """
    rate = of_kind("taper", taper, Taper).rate
    return Length((positive("large diameter", large) - positive("diameter", diameter)) / rate)


@dataclass(frozen=True, slots=True)
class Passes:
    """So many passes at the full depth, and the depth of one last pass, nothing if none."""

    full: int
    last: Length


def passes_left(infeed: Length, depth: Length) -> Passes:
    """Return the passes that an infeed still to go takes at a depth of cut.

    full = floor(p / t), last = p - full t, both p and t square to the bed. Valid for p >= 0
    and t > 0; a rest of a thousand-millionth of a pass is none.

    Raises:
        OutOfRange: The infeed is less than nothing, or the depth zero or less.
        WrongKind: A value is no length.

    Source: the definition; checked against tests/golden/passes.csv.
    """
    to_go, each = not_negative("infeed to go", infeed), positive("depth of cut", depth)
    share = to_go / each
    if not math.isfinite(share):
        raise OutOfRange("depth of cut", each, "deep enough for a number of passes to be counted")
    full = math.floor(share + LEAST_PASS)
    rest = to_go - full * each
    return Passes(full, Length(rest if rest > LEAST_PASS * each else 0.0))


def pass_time(length: Length, feed: Feed, speed: SpindleSpeed) -> Duration:
    """Return how long the tool cuts in one pass.

    t = 60 l / (f n) in seconds, l the carriage's travel under feed in mm, f in mm a turn and
    n in turns a minute. Valid for l, f, n > 0.

    Raises:
        OutOfRange: A value is zero or less.
        WrongKind: A value is of another kind.

    Source: the definitions; checked against tests/golden/passes.csv.
    """
    turns = positive("length of the pass", length) / positive("feed", feed, Feed)
    return Duration(60 * turns / positive("spindle speed", speed, SpindleSpeed))
