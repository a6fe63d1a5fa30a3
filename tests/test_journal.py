"""Requests to lines and back: every request there is, exactly; and damage, refused by name."""

from fractions import Fraction
from pathlib import Path
from types import UnionType
from typing import Any, get_args, get_origin, get_type_hints

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import JournalUnreadable
from assistant.journal import KINDS, from_line, to_line
from assistant.language import requests as r
from assistant.language.requests import Fact, Measure, Request, Unit

# One line of each request as journals hold it. Add to these; change none, or jobs already
# kept cannot be read.
LINES = (Path(__file__).parent / "golden" / "journal_lines.txt").read_text("utf-8").splitlines()

NO_LINES = {
    "nothing": "",
    "no JSON": '{"Oiled": {}',
    "not one request": '{"Oiled": {}, "Eased": {}}',
    "no request": '["Oiled"]',
    "an unknown request": '{"Polished": {}}',
    "no fields": '{"Oiled": null}',
    "an unknown field": '{"Oiled": {"times": 2}}',
    "a field lost": '{"TookCut": {}}',
    "no number": '{"TookCut": {"depth": "deep"}}',
    "a number without its quotes": '{"TookCut": {"depth": 0.2}}',
    "a number out of all proportion": '{"RunningAt": {"rpm": "1e999999999"}}',
    "a number over nothing": '{"RunningAt": {"rpm": "1/0"}}',
    "half a number": '{"RunningAt": {"rpm": "1."}}',
    "figures of another script": '{"RunningAt": {"rpm": "१२"}}',
    "an unknown unit": '{"TookCut": {"depth": "2 ell"}}',
    "a unit lost after its space": '{"TookCut": {"depth": "2 "}}',
    "an unknown choice": '{"SmallEnd": {"end": "bed"}}',
    "a choice that is a list": '{"SmallEnd": {"end": ["headstock"]}}',
    "true for a number": '{"Undo": {"steps": true}}',
    "a broken count": '{"Undo": {"steps": 1.5}}',
    "time without end": (
        '{"RunSoFar": {"turning": true, "ran_s": 1e999, "ball_turns": 0, "awake_s": 0}}'
    ),
    "no fact": '{"Facts": {"facts": [{"Oiled": {}}]}}',
    "facts that are no list": '{"Facts": {"facts": {"Oiled": {}}}}',
    "none of what may stand there": '{"No": {"instead": 5}}',
    "brackets without end": "[" * 100_000,
}


numbers = st.fractions() | st.decimals(0, 1000, places=3).map(Fraction)
measures = st.builds(Measure, numbers, st.none() | st.sampled_from(Unit))


def values(kind: Any) -> st.SearchStrategy[Any]:
    """Return everything that a field of a kind may hold."""
    if isinstance(kind, UnionType):
        return st.one_of([values(one) for one in get_args(kind)])
    if get_origin(kind) is tuple:
        return st.lists(values(get_args(kind)[0]), max_size=4).map(tuple)
    if kind is Measure:
        return measures
    if kind is Fraction:
        return numbers
    if kind is Fact:
        return st.one_of([built(one) for one in KINDS.values() if issubclass(one, Fact)])
    if kind is Request:
        return st.sampled_from([r.Oiled(), r.BetweenBalls(Measure(Fraction(5, 3)))])
    if kind is float:
        return st.floats(allow_nan=False, allow_infinity=False)
    return st.from_type(kind)


def built(kind: type[Request]) -> st.SearchStrategy[Request]:
    return st.builds(kind, **{name: values(of) for name, of in get_type_hints(kind).items()})


@pytest.mark.parametrize("kind", KINDS.values())
def test_every_request_comes_back_from_its_line_as_it_was(kind: type[Request]) -> None:
    @settings(max_examples=20)
    @given(built(kind))
    def comes_back(request: Request) -> None:
        line = to_line(request)

        assert "\n" not in line
        assert line.isascii()
        assert from_line(line) == request

    comes_back()


def test_every_request_has_a_line_in_the_table() -> None:
    assert [line.split('"')[1] for line in LINES] == list(KINDS)


@pytest.mark.parametrize("line", LINES)
def test_a_line_already_kept_is_read_and_would_be_written_the_same(line: str) -> None:
    assert to_line(from_line(line)) == line


def test_a_number_is_kept_exactly_and_in_the_unit_it_was_said_in() -> None:
    third = r.BetweenBalls(Measure(Fraction(1, 3), Unit.INCH))

    assert to_line(third) == '{"BetweenBalls": {"length": "1/3 in"}}'
    assert from_line(to_line(third)) == third


def test_a_field_the_line_is_too_old_for_takes_its_default() -> None:
    assert from_line('{"OverBalls": {"reading": "172.3"}}') == r.OverBalls(
        Measure(Fraction("172.3"))
    )


@pytest.mark.parametrize("fault", NO_LINES)
def test_a_damaged_line_is_refused_by_name(fault: str) -> None:
    line = NO_LINES[fault]

    with pytest.raises(JournalUnreadable) as refused:
        from_line(line)

    assert refused.value.line == line
    assert len(str(refused.value)) < 200


@given(st.sampled_from(LINES), st.data())
def test_a_line_cut_short_is_refused(line: str, data: st.DataObject) -> None:
    cut = data.draw(st.integers(0, len(line) - 1))

    with pytest.raises(JournalUnreadable):
        from_line(line[:cut])


@given(st.sampled_from(LINES), st.characters(), st.data())
def test_a_letter_changed_is_refused_or_still_a_request(
    line: str, letter: str, data: st.DataObject
) -> None:
    place = data.draw(st.integers(0, len(line) - 1))
    changed = f"{line[:place]}{letter}{line[place + 1 :]}"
    try:
        request = from_line(changed)
    except JournalUnreadable:
        return

    assert from_line(to_line(request)) == request


@given(st.text())
def test_text_of_any_kind_is_refused(text: str) -> None:
    with pytest.raises(JournalUnreadable):
        from_line(text)
