"""The head learnt from measured cuts: its real movement per turn, and its zero.

Every cut must have been set with the head arriving from the same side: then its backlash is
taken up alike each time and only shifts the zero, which is the zero of that approach.

The length between ball centres enters every set-over alike. An error of it shows as an equal
relative error of the movement per turn, beside the standard errors here; moves worked out
with the same length are right all the same.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from assistant.calc.limits import not_negative, of_kind, positive, pure_number
from assistant.calc.screw import Turns
from assistant.calc.trueing import SIGMAS_95, Finding
from assistant.errors import OutOfRange, WrongKind
from assistant.quantity import Length

FEWEST_CUTS = 2  # two unknowns

# The standard normal distribution's 99 per cent point, checked against scipy. Sound cuts look
# inconsistent once in a hundred times.
SIGMAS_99_ONE_SIDED = 2.3263478740408408


@dataclass(frozen=True, slots=True)
class MeasuredCut:
    """Where the head's dial stood for a cut, and the set-over that the cut shows.

    The turns are counted from the dial's zero; only their number is used.

    Raises:
        OutOfRange: The standard uncertainty is zero or less.
        WrongKind: A field is of another kind.
    """

    turns: Turns
    set_over: Length
    standard: Length

    def __post_init__(self) -> None:
        of_kind("turns", self.turns, Turns)
        of_kind("set-over", self.set_over, Length)
        positive("standard uncertainty", self.standard)


@dataclass(frozen=True, slots=True)
class LearntHead:
    """What the measured cuts say of the head: s = zero + per_turn * turns.

    Raises:
        OutOfRange: A standard error is less than zero.
        WrongKind: A field is of another kind.
    """

    per_turn: Length
    per_turn_standard: Length
    zero: Length
    zero_standard: Length
    correlation: float
    cuts: int
    misfit: float  # chi squared: the sum of squares of (left over / standard uncertainty)

    def __post_init__(self) -> None:
        of_kind("movement per turn", self.per_turn, Length)
        of_kind("head's zero", self.zero, Length)
        not_negative("standard error of the movement per turn", self.per_turn_standard)
        not_negative("standard error of the head's zero", self.zero_standard)
        pure_number("correlation", self.correlation)
        pure_number("misfit", self.misfit)

    @property
    def per_turn_margin(self) -> Length:
        """The movement per turn lies within so much of the one found 95 times in 100."""
        return self.per_turn_standard * SIGMAS_95

    @property
    def zero_margin(self) -> Length:
        """The zero lies within so much of the one found 95 times in 100."""
        return self.zero_standard * SIGMAS_95

    @property
    def consistent(self) -> bool:
        """Whether the cuts agree with one another as well as their uncertainties promise.

        They do not when a cut was set from the wrong side, or measured worse than stated.
        Two cuts always agree. The bound is Wilson and Hilferty's approximation of the chi
        squared distribution's 99 per cent point (1931, from memory), within 1 per cent of it.
        """
        free = self.cuts - FEWEST_CUTS
        if free == 0:
            return True
        spread = 2 / (9 * free)
        bound = free * (1 - spread + SIGMAS_99_ONE_SIDED * math.sqrt(spread)) ** 3
        return self.misfit <= bound


def measured_cut(turns: Turns, found: Finding, ball_length: Length) -> MeasuredCut:
    """Return what a cut shows of the head, from the half angle found on it.

    s = L sin a and u(s) = L cos a u(a). Valid for L > 0.

    Raises:
        OutOfRange: The length is zero or less, or the finding has no uncertainty.
        WrongKind: A value is of another kind.

    Source: the geometry of the tilted work; checked against tests/golden/learning.csv.
    """
    long = positive("length between ball centres", ball_length)
    half = of_kind("half angle found", found, Finding).half_angle.rad
    standard = Length(long * math.cos(half) * found.standard.rad)
    return MeasuredCut(turns, Length(long * math.sin(half)), standard)


def learn(cuts: Iterable[MeasuredCut]) -> LearntHead:
    """Return the head's movement per turn and zero from all measured cuts so far.

    Weighted least squares on s = z + p x, x the turns and w = 1 / u^2:
    p = S_xs / S_xx about the weighted means, z = mean s - p mean x,
    u(p)^2 = 1 / S_xx and u(z)^2 = 1 / (sum of w) + (mean x)^2 / S_xx.
    The uncertainties are taken as known, so the margins are 1.96 sigma for few cuts too.
    Valid for two cuts or more at different turns; close together they say little of the
    movement per turn, and its margin shows it.

    Raises:
        OutOfRange: There are fewer than two cuts at different turns.
        WrongKind: They are no measured cuts.

    Source: the normal equations; checked against tests/golden/learning.csv, against scipy,
    and on simulated heads.
    """
    if not isinstance(cuts, Iterable) or isinstance(cuts, str):
        raise WrongKind("measured cuts", cuts, "a list of measured cuts")
    known = [of_kind("measured cut", cut, MeasuredCut) for cut in cuts]
    different = len({cut.turns.total for cut in known})
    if different < FEWEST_CUTS:
        limit = "two or more before the head can be learnt"
        raise OutOfRange("number of cuts measured at different turns", different, limit)
    # Weights relative to the best cut, so that no uncertainty is too small to square.
    best = min(cut.standard.mm for cut in known)
    weights = [(best / cut.standard.mm) ** 2 for cut in known]
    total = math.fsum(weights)
    mean_x = math.fsum(w * cut.turns.total for w, cut in zip(weights, known, strict=True)) / total
    mean_s = math.fsum(w * cut.set_over.mm for w, cut in zip(weights, known, strict=True)) / total
    away = [cut.turns.total - mean_x for cut in known]
    spread = math.fsum(w * x * x for w, x in zip(weights, away, strict=True))
    if spread == 0:
        raise OutOfRange("difference of the turns", spread, "more than the arithmetic can tell")
    moved = [cut.set_over.mm - mean_s for cut in known]
    slope = math.fsum(w * x * s for w, x, s in zip(weights, away, moved, strict=True)) / spread
    left = [(s - slope * x) / cut.standard.mm for x, s, cut in zip(away, moved, known, strict=True)]
    slope_standard = best / math.sqrt(spread)
    zero_standard = math.hypot(best / math.sqrt(total), mean_x * slope_standard)
    return LearntHead(
        Length(slope),
        Length(slope_standard),
        Length(mean_s - slope * mean_x),
        Length(zero_standard),
        -mean_x * slope_standard / zero_standard,
        len(known),
        math.fsum(part * part for part in left),
    )


def differs(head: LearntHead, nominal: Length) -> bool:
    """Return whether the movement per turn is off its nominal by more than measuring explains.

    |p - nominal| > 1.96 u(p). Valid for a nominal of more than 0; a sound screw is
    suspected five times in a hundred.

    Raises:
        OutOfRange: The nominal movement is zero or less.
        WrongKind: A value is of another kind.

    Source: the definition of a 95 per cent interval.
    """
    stated = positive("nominal movement per turn", nominal)
    found = of_kind("learnt head", head, LearntHead)
    return abs(found.per_turn.mm - stated) > found.per_turn_margin.mm


def turns_for(head: LearntHead, offset: Length, divisions_per_turn: int) -> Turns:
    """Return where the dial must stand for a set-over, by what was learnt.

    x = (s - z) / p, from the dial's zero and arriving from the side the cuts were set from.
    Valid for p other than 0.

    Raises:
        OutOfRange: The learnt movement per turn is zero, or the dial has no division.
        WrongKind: A value is of another kind.

    Source: the definition; checked against tests/golden/learning.csv.
    """
    per_turn = of_kind("learnt head", head, LearntHead).per_turn.mm
    if per_turn == 0:
        raise OutOfRange("learnt movement per turn", per_turn, "more or less than 0 mm")
    to_go = of_kind("set-over", offset, Length) - head.zero
    return Turns(to_go.mm / per_turn, divisions_per_turn)
