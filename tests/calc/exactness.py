"""The sums against mpmath at 30 digits: what both files of exactness tests share."""

from collections.abc import Callable

import mpmath
import numpy as np
from mpmath import mpf

from assistant.calc.taper import Taper
from assistant.quantity import Angle

CALLS = 2000
DIGITS = 30

Range = tuple[float, float]
Ours = Callable[..., float]
Exact = Callable[..., mpf]
Sum = tuple[Ours, Exact, tuple[Range, ...]]

ANGLE: Range = (1e-4, 0.7)
BIG: Range = (100.0, 300.0)
SMALL: Range = (3.0, 99.0)


def cone(rad: float) -> Taper:
    return Taper(Angle(rad))


def worst_error(ours: Ours, exact: Exact, ranges: tuple[Range, ...], seed: int) -> float:
    """Return the largest relative error over random inputs from the ranges."""
    low, high = np.array(ranges).T
    draws = np.random.default_rng(seed).uniform(low, high, (CALLS, len(ranges)))
    worst = 0.0
    with mpmath.workdps(DIGITS):
        for numbers in draws.tolist():
            true = exact(*map(mpf, numbers))
            worst = max(worst, float(abs((mpf(ours(*numbers)) - true) / true)))
    return worst
