"""Grammars and meanings name the same things, and what was meant can be said back."""

from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest

from assistant.events import Hearing
from assistant.journal import KINDS, from_line
from assistant.language import requests as r
from assistant.language.listening import Context, grammar, meanings_of
from assistant.language.meaning import MEANINGS
from assistant.language.readback import read_back
from assistant.language.requests import Fact, Measure, Unit
from tests.language.test_phrases import PHRASES, in_short

GOLDEN = Path(__file__).parents[1] / "golden" / "journal_lines.txt"
ONE_OF_EACH = [from_line(line) for line in GOLDEN.read_text(encoding="utf-8").splitlines()]


def facts_of_the_table() -> list[Fact]:
    facts: list[Fact] = []
    for context, said, _meaning in PHRASES:
        match meanings_of(Hearing((said,)), context):
            case (r.Facts(several),):
                facts += several
            case (Fact() as fact,):
                facts.append(fact)
    return facts


def with_unit(fact: Any) -> Any:
    """Return a fact with the unit that goes with its numbers in a millimetre job."""
    unit = Unit.INCH if isinstance(fact, r.TaperPerFoot) else Unit.MILLIMETRE
    values = {field.name: getattr(fact, field.name) for field in fields(fact)}
    return replace(
        fact,
        **{
            name: Measure(value.value, value.unit or unit)
            for name, value in values.items()
            if isinstance(value, Measure) and value.value
        },
    )


def test_what_the_grammars_build_is_what_the_table_of_meanings_holds() -> None:
    assert grammar().builds == MEANINGS.keys()


def test_every_kind_of_request_is_read_back_in_words() -> None:
    assert {type(request).__name__ for request in ONE_OF_EACH} == KINDS.keys()
    assert [request for request in ONE_OF_EACH if not read_back(request, Unit.INCH)] == []


@pytest.mark.parametrize("fact", dict.fromkeys(facts_of_the_table()), ids=in_short)
def test_a_fact_read_back_means_the_same_again(fact: Fact) -> None:
    # Nobody hears a hyphen; "pipe one in sixteen" says more than people do.
    said = read_back(fact, Unit.MILLIMETRE).replace("-", " ")
    said = said.replace("pipe one in sixteen", "pipe taper")
    (again,) = meanings_of(Hearing((said,)), Context.READY)
    assert in_short(again) == in_short(with_unit(fact))
