"""Numbers in every way people say them, each worth exactly what it says.

Whole part and decimals are read apart, so each is gone through whole; both together by chance.
"""

from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from assistant.language import requests as r
from assistant.language.listening import Context, grammar
from assistant.language.meaning import MEANINGS
from assistant.language.phrasing import counted, digit_by_digit
from assistant.language.requests import Measure, Unit

NOUGHTS = ("zero", "oh", "nought")
PARTS = {
    2: ("half", "halves"),
    4: ("quarter", "quarters"),
    8: ("eighth", "eighths"),
    16: ("sixteenth", "sixteenths"),
    32: ("thirty second", "thirty seconds"),
    64: ("sixty fourth", "sixty fourths"),
}


def misread(
    sayings: Iterable[tuple[str, r.Request]], context: Context
) -> list[tuple[str, list[object]]]:
    """Return the sayings that do not mean what they should, with what they mean."""
    read = ((s, meant, grammar().meanings(s, context, MEANINGS)) for s, meant in sayings)
    return [(said, got) for said, meant, got in read if got != [meant]]


def bare(value: Fraction, unit: Unit | None = None) -> r.Bare:
    return r.Bare(Measure(value, unit))


def spelt(figures: str) -> set[str]:
    """Return figures one by one, with each word there is for nought."""
    return {digit_by_digit(figures).replace("zero", nought) for nought in NOUGHTS}


def ways_to_say_whole(number: int) -> set[str]:
    """142 is one hundred and forty two, one hundred forty two, one forty two, one four two."""
    plain = counted(number)
    ways = {plain, plain.replace(" and ", " ")} | spelt(str(number))
    hundreds, rest = divmod(number, 100)
    if hundreds and rest >= 10:
        ways.add(f"{counted(hundreds)} {counted(rest)}")
    if hundreds == 1:
        ways.add(plain.replace("one hundred", "a hundred"))
    return ways


def ways_to_say_decimals(figures: str) -> set[str]:
    """125 is one two five and one twenty five; 025 is oh two five and oh twenty five."""
    ways = spelt(figures)
    if len(figures) > 1 and figures[-2] != "0":
        pair = counted(int(figures[-2:]))
        ways |= {f"{first} {pair}".strip() for first in spelt(figures[:-2])}
    return ways


def every_decimal(most_places: int) -> Iterator[str]:
    every = range(1, most_places + 1)
    return (f"{number:0{places}}" for places in every for number in range(10**places))


def test_every_whole_number_below_a_thousand() -> None:
    sayings = ((way, bare(Fraction(n))) for n in range(1000) for way in ways_to_say_whole(n))
    assert misread(sayings, Context.ASKED_MEASURE) == []


def test_every_decimal_to_a_thousandth_with_and_without_a_nought_before_the_point() -> None:
    sayings = (
        (f"{before} point {way}".strip(), bare(Fraction(f"0.{figures}")))
        for figures in every_decimal(3)
        for way in ways_to_say_decimals(figures)
        for before in ("", *NOUGHTS)
    )
    assert misread(sayings, Context.ASKED_MEASURE) == []


@given(st.data())
def test_a_whole_number_and_its_decimals_however_each_is_said(data: st.DataObject) -> None:
    thousandths = data.draw(st.integers(1, 999_999))
    whole, decimals = divmod(thousandths, 1000)
    first = data.draw(st.sampled_from(sorted(ways_to_say_whole(whole))))
    second = data.draw(st.sampled_from(sorted(ways_to_say_decimals(f"{decimals:03}"))))
    said = f"{first} point {second}"
    assert misread([(said, bare(Fraction(thousandths, 1000)))], Context.ASKED_MEASURE) == []


def test_shop_shorthand_for_a_measure() -> None:
    """Nineteen oh five is 19.05 and twenty five eight is 25.8; twenty five is 25."""
    sayings = (
        (f"{counted(whole)} {way}", bare(Fraction(f"{whole}.{figures}")))
        for whole in range(10, 100)
        for figures in every_decimal(2)
        # After a bare ten a figure belongs to it: twenty five.
        if whole < 20 or whole % 10 or figures[0] == "0"
        for way in spelt(figures)
    )
    assert misread(sayings, Context.ASKED_MEASURE) == []


def fractions_of_an_inch() -> Iterator[tuple[str, Fraction]]:
    for parts, (one, many) in PARTS.items():
        for count in range(1, parts, 2):
            yield f"{counted(count)} {one if count == 1 else many}", Fraction(count, parts)
    yield from (
        (f"{article} {PARTS[parts][0]}", Fraction(1, parts))
        for article, parts in (("a", 2), ("a", 4), ("an", 8), ("a", 16))
    )


def test_every_fraction_of_an_inch_to_sixty_fourths() -> None:
    sayings = (
        (f"{said}{ending}", bare(value, unit))
        for said, value in fractions_of_an_inch()
        for ending, unit in (
            ("", None),
            (" inch", Unit.INCH),
            (" of an inch", Unit.INCH),
        )
    )
    assert misread(sayings, Context.ASKED_MEASURE) == []


def test_every_mixed_number_of_inches_to_sixty_fourths() -> None:
    sayings = (
        (f"{counted(whole)}{joint}{said} inches", bare(whole + value, Unit.INCH))
        for whole, (said, value) in product(range(1, 25), fractions_of_an_inch())
        for joint in (" and ", " ")
        # Twenty one eighths are 21/8, and "five a quarter" is nobody's.
        if joint == " and " or (whole != 20 and not said.startswith("a"))
    )
    assert misread(sayings, Context.ASKED_MEASURE) == []


def test_half_and_quarter_alone() -> None:
    sayings = [
        (said, bare(value, Unit.INCH))
        for word, value in (("half", Fraction(1, 2)), ("quarter", Fraction(1, 4)))
        for said in (f"{word} inch", f"{word} an inch", f"{word} of an inch", f"a {word} inch")
    ]
    assert misread(sayings, Context.ASKED_MEASURE) == []


def test_thou() -> None:
    sayings = [
        (f"{counted(count)} {unit}", bare(Fraction(count), Unit.THOU))
        for count in range(1, 1000)
        for unit in ("thou", "thousandths")
    ]
    sayings += [
        (f"{counted(count)} thousandths of an inch", bare(Fraction(count, 1000), Unit.INCH))
        for count in range(1, 1000)
    ]
    sayings += [
        ("a thou", bare(Fraction(1), Unit.THOU)),
        ("half a thou", bare(Fraction(1, 2), Unit.THOU)),
        ("a thou and a half", bare(Fraction(3, 2), Unit.THOU)),
        ("two and a half thou", bare(Fraction(5, 2), Unit.THOU)),
    ]
    assert misread(sayings, Context.ASKED_MEASURE) == []


def ways_to_say_angle(degrees: int, minutes: int) -> Iterator[str]:
    whole = f"{counted(degrees)} {'degree' if degrees == 1 else 'degrees'}"
    part = f"{counted(minutes)} {'minute' if minutes == 1 else 'minutes'}"
    yield f"{whole} {part}"
    yield f"{whole} and {part}"
    if degrees == 0:
        yield part
    if minutes == 0:
        yield whole
    elif minutes >= 10:
        yield f"{whole} {counted(minutes)}"
    else:
        yield f"{whole} oh {counted(minutes)}"


def test_every_angle_in_degrees_and_minutes() -> None:
    sayings = (
        (f"half angle {said}", r.TaperByHalfAngle(degrees + Fraction(minutes, 60)))
        for degrees, minutes in product(range(46), range(60))
        for said in ways_to_say_angle(degrees, minutes)
    )
    assert misread(sayings, Context.READY) == []


def test_every_angle_in_hundredths_of_a_degree() -> None:
    sayings = (
        (
            f"included angle {counted(degrees)} point {digit_by_digit(f'{part:02}')} degrees",
            r.TaperByIncludedAngle(degrees + Fraction(part, 100)),
        )
        for degrees, part in product(range(46), range(100))
    )
    assert misread(sayings, Context.READY) == []


def test_tapers_per_foot() -> None:
    sayings = [
        (f"{said} {unit} {per}", r.TaperPerFoot(Measure(value, Unit.INCH)))
        for said, value in fractions_of_an_inch()
        for unit in ("inch", "of an inch")
        for per in ("per foot", "a foot", "to the foot")
    ]
    sayings += [
        (f"{counted(count)} thou {per}", r.TaperPerFoot(Measure(Fraction(count), Unit.THOU)))
        for count in range(1, 1000)
        for per in ("per foot", "a foot")
    ]
    assert misread(sayings, Context.READY) == []
