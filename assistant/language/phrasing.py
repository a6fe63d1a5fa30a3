"""Numbers and quantities as words for the voice and as figures for the screen.

The only place that rounds. Words are chosen here, not left to the synthesiser, so that what
is said can be tested: digits one by one where a number is read back, plain counting else.
"""

import re
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from assistant.language.requests import Unit
from assistant.quantity import Angle, Feed, Length

_ONES = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen",
    "nineteen",
)  # fmt: skip
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_LARGE = ((1_000_000, "million"), (1000, "thousand"), (100, "hundred"))
_MARKS = dict(zip("0123456789", _ONES, strict=False)) | {".": "point", "-": "minus"}

_MARK_OF = {word: mark for mark, word in _MARKS.items()}
_READ_OUT = re.compile(rf"\b(?:{'|'.join(_MARK_OF)})(?: (?:{'|'.join(_MARK_OF)}))*\b")

UNIT_WORDS = {Unit.MILLIMETRE: "millimetre", Unit.INCH: "inch"}


def rounded(value: float | Fraction, places: int) -> str:
    """Return figures rounded once, half up.

    In two steps: 3/8 inch is 9.524999999999999 mm as a float and must be spoken 9.53.
    """
    exact = Decimal(f"{float(value):.9f}")
    return str(exact.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP))


def trimmed(value: float | Fraction, places: int) -> str:
    """Return figures rounded once, without idle noughts at the end: 142.5, 20."""
    figures = rounded(value, places)
    return figures.rstrip("0").rstrip(".") if "." in figures else figures


def digit_by_digit(figures: str) -> str:
    """Return figures read one by one: one four two point five."""
    return " ".join(_MARKS[mark] for mark in figures)


def in_figures(words: str) -> str:
    """Return words with what is read one by one in figures: over balls 160.5 mm."""
    shown = _READ_OUT.sub(lambda read: "".join(_MARK_OF[word] for word in read[0].split()), words)
    for unit, word in UNIT_WORDS.items():
        shown = re.sub(rf"(?<=\d) {word}(es|s)?\b", f" {unit}", shown)
    return shown


def counted(number: int) -> str:
    """Return a whole number below a thousand million in words: one hundred and forty two."""
    if number < 20:
        return _ONES[number]
    if number < 100:
        tens, ones = divmod(number, 10)
        return _TENS[tens] + (f" {_ONES[ones]}" if ones else "")
    size, name = next((size, name) for size, name in _LARGE if number >= size)
    count, rest = divmod(number, size)
    joint = "" if not rest else f" {counted(rest)}" if rest >= 100 else f" and {counted(rest)}"
    return f"{counted(count)} {name}{joint}"


def number_words(figures: str) -> str:
    """Return figures with the whole part counted: three point five five eight."""
    sign = "minus " if figures.startswith("-") else ""
    whole, _, decimals = figures.removeprefix("-").partition(".")
    return sign + counted(int(whole)) + (f" point {digit_by_digit(decimals)}" if decimals else "")


def exact_words(value: Fraction) -> str:
    """Return a number as it would be said: twenty, five eighths as point six two five."""
    return number_words(trimmed(value, 5))


def size_words(size: str) -> str:
    """Return a standard taper's number, as tables spell it, in words.

    4-1/2 is four and a half, 2/0 two nought, 1:16 one in sixteen, 2 short stays so.
    """
    spelt = size.replace("-1/2", " and a half").replace("/0", " nought").replace(":", " in ")
    return re.sub(r"\d+(\.\d+)?", lambda figures: number_words(figures[0]), spelt)


def material_words(name: str) -> str:
    """Return a material without its designations: leaded free-machining steel, no 12L14."""
    plain = [word for word in name.split() if not any(map(str.isdigit, word))]
    return " ".join(plain).removesuffix(" class").removesuffix(" group")


def plural(name: str, figures: str) -> str:
    """Return the unit's name as it goes with a number: one inch, point five inches."""
    if figures == "1" or name == "thou":
        return name
    return f"{name}es" if name.endswith("ch") else f"{name}s"


def length_figures(length: Length, unit: Unit, places: int | None = None) -> str:
    """Return a length's figures in a job's unit: to 0.001 mm or 0.0001 in."""
    value, fine = (length.inches, 4) if unit is Unit.INCH else (length.mm, 3)
    return trimmed(value, fine if places is None else places)


def length_words(length: Length, unit: Unit) -> str:
    """Return a length in words: three point five five eight millimetres."""
    figures = length_figures(length, unit)
    return f"{number_words(figures)} {plural(UNIT_WORDS[unit], figures)}"


def length_read_back(length: Length, unit: Unit) -> str:
    """Return a length read digit by digit, with its unit."""
    figures = length_figures(length, unit)
    return f"{digit_by_digit(figures)} {plural(UNIT_WORDS[unit], figures)}"


def feed_figures(feed: Feed, unit: Unit) -> str:
    """Return a feed's figures in a job's unit: to 0.01 mm or 0.001 in a turn."""
    a_turn, places = Length(feed.mm_per_rev), 3 if unit is Unit.INCH else 2
    return length_figures(a_turn, unit, places)


def angle_parts(angle: Angle) -> tuple[int, str]:
    """Return whole degrees and minutes to a tenth; 59.96 minutes carry over."""
    tenths = int(rounded(angle.minutes * 10, 0))
    degrees, rest = divmod(tenths, 600)
    return degrees, trimmed(rest / 10, 1)


def angle_words(angle: Angle) -> str:
    """Return an angle in words: one degree twenty five point eight minutes."""
    degrees, minutes = angle_parts(angle)
    said = f"{counted(degrees)} {plural('degree', str(degrees))}"
    if minutes == "0":
        return said
    return f"{said} {number_words(minutes)} {plural('minute', minutes)}"
