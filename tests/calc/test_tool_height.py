"""A tool off centre height: the error of the far end, the hollow, the height allowed."""

from collections.abc import Callable

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from assistant.calc import tool_height
from assistant.errors import OutOfRange
from assistant.quantity import Length
from tests.calc.golden import rows
from tests.calc.strategies import diameters

parts = st.floats(0.001, 0.4)


@pytest.mark.parametrize("row", rows("tool_height"), ids=lambda row: row["large_mm"])
def test_the_errors_are_those_worked_apart(row: dict[str, str]) -> None:
    large, small, height, reach, error, hollow = (
        Length(float(row[f"{name}_mm"]))
        for name in ("large", "small", "height", "reach", "large_error", "hollow")
    )
    assert tool_height.radius_cut(reach, height).mm == pytest.approx(small.mm / 2, rel=1e-15)
    got = tool_height.large_end_error(large, small, height)
    assert got.mm == pytest.approx(error.mm, rel=1e-13)
    assert tool_height.hollow(large, small, height).mm == pytest.approx(hollow.mm, rel=1e-9)
    allowed = tool_height.height_allowed(large, small, abs(error))
    assert allowed.mm == pytest.approx(abs(height).mm, rel=1e-13)


@given(diameters, st.floats(1.01, 5.0), parts)
def test_the_height_that_makes_an_error_makes_that_error(
    small: Length, times: float, part: float
) -> None:
    large, height = small * times, small * part
    error = tool_height.large_end_error(large, small, height)

    assert error.mm < 0
    got = tool_height.height_allowed(large, small, -error)
    assert got.mm == pytest.approx(height.mm, rel=1e-9)


@given(diameters, st.floats(1.01, 5.0), parts)
def test_above_and_below_centre_are_alike(small: Length, times: float, part: float) -> None:
    large, height = small * times, small * part

    for spoilt in (tool_height.large_end_error, tool_height.hollow):
        assert spoilt(large, small, height) == spoilt(large, small, -height)


@given(diameters, st.floats(1.01, 5.0), st.floats(0.001, 0.02))
def test_for_a_small_height_the_error_is_the_shop_s_rule(
    small: Length, times: float, part: float
) -> None:
    large, height = small * times, small * part
    rule = -2 * height.mm**2 * (1 / small.mm - 1 / large.mm)

    got = tool_height.large_end_error(large, small, height).mm
    assert got == pytest.approx(rule, rel=10 * part**2)


@given(diameters, diameters)
def test_at_centre_height_nothing_is_spoilt(one: Length, other: Length) -> None:
    assume(one != other)
    small, large = sorted((one, other))

    assert tool_height.large_end_error(large, small, Length(0.0)) == Length(0.0)
    assert tool_height.hollow(large, small, Length(0.0)) == Length(0.0)


def test_what_no_tool_can_cut_is_refused_by_name() -> None:
    large, small = Length(30.0), Length(20.0)
    refusals: dict[str, Callable[[], object]] = {
        "large diameter": lambda: tool_height.hollow(small, large, Length(0.1)),
        "tool height error": lambda: tool_height.large_end_error(large, small, Length(-10.0)),
        "tool's distance from the axis": lambda: tool_height.radius_cut(Length(0.0), Length(1.0)),
        "error of the large end": lambda: tool_height.height_allowed(large, small, Length(8.0)),
    }
    for field, asked in refusals.items():
        with pytest.raises(OutOfRange) as caught:
            asked()
        assert caught.value.name == field
    with pytest.raises(OutOfRange):  # an error larger than the end itself
        tool_height.height_allowed(large, small, Length(59.0))
