"""Phrase by phrase: what people say at the bench, and what it means or why it is not taken."""

from collections.abc import Iterator
from enum import StrEnum
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from assistant.errors import BenchError, NotUnderstood, OutOfRange, UnknownName
from assistant.events import Hearing
from assistant.exchange import described
from assistant.language import requests as r
from assistant.language.listening import Context, meanings_of
from assistant.language.requests import Measure, Request, Unit

HERE = Path(__file__).parent


def lines(file: str) -> list[tuple[Context, str, str]]:
    """Return the context, the words and the meaning of every line of a table."""
    found, context = [], Context.READY
    for line in (HERE / file).read_text(encoding="utf-8").splitlines():
        if line.startswith("["):
            context = Context(line.strip("[]"))
        elif line and not line.startswith("#"):
            said, _, meaning = line.partition(" = ")
            found.append((context, said, meaning))
    return found


def in_short(request: Request) -> str:
    """Return a request as the tables write it: its name and its fields."""
    match request:
        case r.Facts(facts):
            return " + ".join(map(in_short, facts))
        case r.No(tuple() as facts):
            return "no: " + " + ".join(map(in_short, facts))
        case r.No(Measure() as measure):
            return f"no: {_plain(measure)}"
    name = described(request)["request"]
    return " ".join([name, *_fields(request)])


def _fields(request: Any) -> Iterator[str]:
    for field in request.__dataclass_fields__:
        value = getattr(request, field)
        if value is not None:
            yield _degrees(value) if field == "degrees" else _plain(value)


def _plain(value: Any) -> str:
    match value:
        case Measure(number, unit):
            return f"{_plain(number)}{unit or ''}"
        case StrEnum():
            return str(value)
        case Fraction():
            return f"{float(value):.10g}"
    return str(value)


def _degrees(value: Fraction) -> str:
    whole, part = divmod(value, 1)
    return f"{whole}d{float(part * 60):.10g}m"


PHRASES = lines("phrases.txt")
NEAR_MISSES = lines("near_misses.txt")

REFUSALS: dict[type[BenchError], str] = {
    NotUnderstood: "refused",
    OutOfRange: "out of range",
    UnknownName: "unknown name",
}


def heard_as(said: str, context: Context) -> str:
    """Return what is made of words: their meanings, or the kind of refusal."""
    try:
        return " or ".join(map(in_short, meanings_of(Hearing((said,)), context)))
    except BenchError as refusal:
        return REFUSALS[type(refusal)]


@pytest.mark.parametrize(("context", "said", "meaning"), PHRASES)
def test_a_phrase_means_what_a_machinist_means(context: Context, said: str, meaning: str) -> None:
    assert heard_as(said, context) == meaning


@pytest.mark.parametrize(("context", "said", "outcome"), NEAR_MISSES)
def test_a_near_miss_is_refused_or_asked_about(context: Context, said: str, outcome: str) -> None:
    assert heard_as(said, context) == outcome


def test_the_tables_are_as_long_as_they_must_be_and_say_nothing_twice() -> None:
    for table, least in ((PHRASES, 400), (NEAR_MISSES, 150)):
        said = [(context, words) for context, words, _meaning in table]
        assert len(said) == len(set(said)) >= least


@pytest.mark.parametrize(
    ("said", "job_unit", "may_be"),
    [
        ("three mil", Unit.INCH, ["3mm", "3thou"]),
        ("three mil", Unit.MILLIMETRE, ["3mm"]),
        ("three tenths", Unit.INCH, ["0.3mm", "0.3thou"]),
        ("three tenths", Unit.MILLIMETRE, ["0.3mm", "0.3thou"]),
        ("three tenths of a millimetre", Unit.INCH, ["0.3mm"]),
        ("three thou", Unit.MILLIMETRE, ["3thou"]),
    ],
)
def test_a_unit_that_is_two_things_to_two_shops_has_both_meanings(
    said: str, job_unit: Unit, may_be: list[str]
) -> None:
    (bare,) = meanings_of(Hearing((said,)), Context.ASKED_MEASURE)
    meanings = r.clear_meanings(bare, job_unit)
    assert [in_short(meaning) for meaning in meanings] == [f"bare {one}" for one in may_be]
