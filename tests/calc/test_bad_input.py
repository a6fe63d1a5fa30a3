"""Input of every bad kind is refused by a named error, and nothing ever returns NaN."""

import math
from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace

import pytest

from assistant.errors import BenchError, WrongKind
from assistant.quantity import Angle, Length, Quantity
from tests.calc.examples import EXAMPLES, name

Call = tuple[Callable[..., object], tuple[object, ...], int]

PLACES: dict[str, Call] = {
    f"{name(function)} argument {place}": (function, args, place)
    for function, args in EXAMPLES
    for place in range(len(args))
}
A_LENGTH, AN_ANGLE = Length(1.0), Angle(0.01)


def put(args: tuple[object, ...], place: int, value: object) -> tuple[object, ...]:
    return (*args[:place], value, *args[place + 1 :])


def numbers(result: object) -> list[float]:
    """Every number in a result, however deep."""
    if isinstance(result, Quantity):
        return [result.number]
    if isinstance(result, int | float):
        return [result]
    if isinstance(result, tuple | list):
        return [number for part in result for number in numbers(part)]
    if is_dataclass(result):
        return [n for field in fields(result) for n in numbers(getattr(result, field.name))]
    return []


@pytest.mark.parametrize(("function", "args"), EXAMPLES, ids=[name(f) for f, _ in EXAMPLES])
def test_the_example_itself_is_taken(
    function: Callable[..., object], args: tuple[object, ...]
) -> None:
    assert all(math.isfinite(number) for number in numbers(function(*args)))


@pytest.mark.parametrize("call", PLACES.values(), ids=PLACES.keys())
def test_a_value_of_the_wrong_kind_is_refused(call: Call) -> None:
    function, args, place = call
    wrong: list[object] = [None, "5 mm", AN_ANGLE if isinstance(args[place], Length) else A_LENGTH]
    if not isinstance(args[place], int | float):
        wrong.append(5.0)

    for value in wrong:
        with pytest.raises(WrongKind) as caught:
            function(*put(args, place, value))
        assert str(caught.value).startswith("The ")
        assert str(caught.value).endswith(".")


@pytest.mark.parametrize("call", PLACES.values(), ids=PLACES.keys())
def test_a_number_out_of_range_is_refused_or_answered_with_numbers(call: Call) -> None:
    function, args, place = call
    good = args[place]
    values: list[object] = []
    if isinstance(good, Quantity):
        kind, (field,) = type(good), fields(good)  # type: ignore[arg-type]
        numbers_tried = (0.0, -0.0, -1.0, 5e-324, 1e-12, 1e12, 1e300)
        values = [replace(good, **{field.name: number}) for number in numbers_tried]  # type: ignore[type-var]
        for no_number in (math.nan, math.inf, -math.inf):
            with pytest.raises(BenchError):
                kind(no_number)  # type: ignore[call-arg]  # every quantity has one field
    elif isinstance(good, int | float):
        for no_number in (math.nan, math.inf, -math.inf):
            with pytest.raises(BenchError):
                function(*put(args, place, no_number))
        values = [0.0, -1.0, 1e-12, 1e12, 1e300, 0, -1, 10**9]

    for value in values:
        try:
            result = function(*put(args, place, value))
        except BenchError as error:
            sentence = str(error)
        else:
            assert all(math.isfinite(number) for number in numbers(result))
            continue
        assert sentence.endswith(".")
