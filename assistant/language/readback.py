"""What was meant, said back: numbers digit by digit, so that a wrong one is heard at once."""

from fractions import Fraction

from assistant.language import requests as r
from assistant.language.phrasing import (
    UNIT_WORDS,
    counted,
    digit_by_digit,
    exact_words,
    plural,
    size_words,
    trimmed,
)
from assistant.language.requests import Measure, Request, Unit

_UNIT_WORDS = UNIT_WORDS | {
    Unit.THOU: "thou",
    Unit.MICRON: "micron",
    Unit.MIL: "mil",
    Unit.TENTH: "tenth",
}


def read_back(request: Request, unit: Unit) -> str:
    """Return a request in words; `unit` goes with the numbers that were said without one."""
    match request:
        case r.TaperByRatio(rise, run):
            return f"{exact_words(rise)} in {exact_words(run)}"
        case r.TaperPerFoot(change):
            return f"{_measure(change, Unit.INCH)} per foot"
        case r.TaperByHalfAngle(degrees):
            return f"half angle {_degrees(degrees)}"
        case r.TaperByIncludedAngle(degrees):
            return f"included angle {_degrees(degrees)}"
        case r.TaperByAngle(degrees):
            return f"angle {_degrees(degrees)}"
        case r.TaperByDiameters(large, small, apart):
            return (
                f"large end {_measure(large, unit)}, small end {_measure(small, unit)}, "
                f"over {_measure(apart, unit)}"
            )
        case r.TaperByName(system, size):
            return f"{system} {size_words(size)}"
        case r.BetweenBalls(length):
            return f"between balls {_measure(length, unit)}"
        case r.OverBalls(reading, None):
            return f"over balls {_measure(reading, unit)}"
        case r.OverBalls(reading, Measure() as ball):
            return f"over balls {_measure(reading, unit)}, with {_measure(ball, unit)} balls"
        case r.BallDiameter(diameter):
            return f"ball diameter {_measure(diameter, unit)}"
        case r.ScrewPitch(pitch):
            return f"screw pitch {_measure(pitch, unit)}"
        case r.ThreadsPerInch(threads):
            return f"{exact_words(threads)} threads per inch"
        case r.Divisions(divisions):
            return f"{exact_words(divisions)} divisions"
        case r.SmallEnd(end):
            return f"small end at the {end}"
        case r.Units(chosen):
            return "inches" if chosen is Unit.INCH else "millimetres"
        case r.Bare(measure):
            return _measure(measure, unit)
        case r.Facts(facts):
            return "; ".join(read_back(fact, unit) for fact in facts)
        case r.No(tuple() as instead):
            return "; ".join(read_back(fact, unit) for fact in instead)
        case r.No(Measure() as measure):
            return _measure(measure, unit)
    return type(request).__name__.lower()


def _measure(measure: Measure, job_unit: Unit) -> str:
    figures = trimmed(measure.value, 6)
    return f"{digit_by_digit(figures)} {plural(_UNIT_WORDS[measure.unit or job_unit], figures)}"


def _degrees(degrees: Fraction) -> str:
    whole, part = divmod(degrees, 1)
    said = f"{counted(whole)} {plural('degree', str(whole))}"
    if not part:
        return said
    minutes = trimmed(part * 60, 3)
    return f"{said} {exact_words(part * 60)} {plural('minute', minutes)}"
