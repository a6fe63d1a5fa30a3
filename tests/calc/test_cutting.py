"""Speeds at the spindle and at the ball, and where the figures for them come from."""

from pathlib import Path

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.calc import cutting
from assistant.errors import OutOfRange, UnknownName
from assistant.quantity import Force, Length, SpindleSpeed, SurfaceSpeed
from assistant.tables import cutting as tables
from assistant.tables.cutting import Tool
from tests.calc.golden import rows
from tests.calc.strategies import balls, diameters, spindle_speeds

Row = dict[str, str]

speeds = st.floats(1.0, 400.0).map(SurfaceSpeed)

# A turn is a dimension here, so that no radian can slip in: pint's own rpm holds 2 pi.
UNITS = """
metre = [length] = m
second = [time] = s
turn = [turn]
minute = 60 * second = min
inch = 0.0254 * metre
foot = 12 * inch
newton = [force]
watt = newton * metre / second
"""


@pytest.fixture(scope="module")
def units(tmp_path_factory: pytest.TempPathFactory) -> pint.UnitRegistry[float]:
    definitions = Path(tmp_path_factory.mktemp("units")) / "units.txt"
    definitions.write_text(UNITS, encoding="utf-8")
    return pint.UnitRegistry(str(definitions))


@pytest.mark.parametrize("row", rows("spindle_speed"))
def test_a_spindle_speed_matches_the_published_rule(row: Row) -> None:
    surface, diameter = SurfaceSpeed(float(row["m_per_min"])), Length(float(row["diameter_mm"]))
    within = float(row["rel"])

    assert cutting.spindle_speed(surface, diameter).rpm == pytest.approx(
        float(row["rpm"]), rel=within
    )
    assert cutting.surface_speed(SpindleSpeed(float(row["rpm"])), diameter).m_per_min == (
        pytest.approx(surface.m_per_min, rel=within)
    )


@given(feet=st.floats(10.0, 1000.0), inches=st.floats(0.1, 12.0))
def test_a_spindle_speed_in_feet_and_inches_is_the_unit_librarys(
    units: pint.UnitRegistry[float], feet: float, inches: float
) -> None:
    around = 3.141592653589793 * inches * units.inch / units.turn
    expected = (feet * units.foot / units.minute / around).to("turn / minute").magnitude

    got = cutting.spindle_speed(SurfaceSpeed.from_feet_per_minute(feet), Length.from_inches(inches))

    assert got.rpm == pytest.approx(expected, rel=1e-12)


@given(feet=st.floats(10.0, 1000.0))
def test_feet_a_minute_come_back_and_are_the_unit_librarys(
    units: pint.UnitRegistry[float], feet: float
) -> None:
    speed = SurfaceSpeed.from_feet_per_minute(feet)

    assert speed.feet_per_minute == pytest.approx(feet, rel=1e-14)
    assert speed.m_per_min == pytest.approx(
        (feet * units.foot / units.minute).to("metre / minute").magnitude, rel=1e-12
    )


@given(speeds, diameters)
def test_halving_the_diameter_doubles_the_spindle_speed(v: SurfaceSpeed, d: Length) -> None:
    whole, half = cutting.spindle_speed(v, d), cutting.spindle_speed(v, d * 0.5)

    assert half.rpm == pytest.approx(2 * whole.rpm, rel=1e-14)


@given(speeds, diameters)
def test_spindle_and_surface_speed_are_each_others_reverse(v: SurfaceSpeed, d: Length) -> None:
    back = cutting.surface_speed(cutting.spindle_speed(v, d), d)

    assert back.m_per_min == pytest.approx(v.m_per_min, rel=1e-14)


@given(spindle_speeds, spindle_speeds)
def test_no_speed_comes_out_above_the_cap(speed: SpindleSpeed, cap: SpindleSpeed) -> None:
    got = cutting.capped(speed, cap)

    assert got <= cap
    assert got in (speed, cap)


def test_the_default_cap_holds_a_small_diameter_down() -> None:
    fast = cutting.spindle_speed(SurfaceSpeed(25.0), Length(10.0))

    assert fast > cutting.DEFAULT_CAP
    assert cutting.capped(fast) == cutting.DEFAULT_CAP


@pytest.mark.parametrize("row", rows("rubbing"))
def test_rubbing_and_heat_match_the_drawn_rows(row: Row) -> None:
    rubbing = cutting.rubbing_speed(Length(float(row["ball_mm"])), SpindleSpeed(float(row["rpm"])))
    normal = cutting.normal_force(Force(float(row["end_load_n"])))
    heat = cutting.frictional_heat(float(row["friction"]), normal, rubbing)

    assert rubbing.m_per_min == pytest.approx(float(row["rubbing_m_per_min"]), rel=1e-12)
    assert normal.newtons == pytest.approx(float(row["normal_n"]), rel=1e-12)
    assert heat.watts == pytest.approx(float(row["heat_w"]), rel=1e-12)


@given(
    friction=st.floats(0.05, 0.5),
    newtons=st.floats(1.0, 2000.0),
    m_per_min=st.floats(0.1, 60.0),
)
def test_heat_is_the_unit_librarys(
    units: pint.UnitRegistry[float], friction: float, newtons: float, m_per_min: float
) -> None:
    expected = friction * newtons * units.newton * m_per_min * units.metre / units.minute

    got = cutting.frictional_heat(friction, Force(newtons), SurfaceSpeed(m_per_min))

    assert got.watts == pytest.approx(expected.to("watt").magnitude, rel=1e-12)


@given(balls, spindle_speeds)
def test_the_ball_rubs_slower_than_its_own_rim_would(ball: Length, speed: SpindleSpeed) -> None:
    assert cutting.rubbing_speed(ball, speed) < cutting.surface_speed(speed, ball)


@pytest.mark.parametrize("row", rows("cutting_speeds"))
def test_a_speed_in_the_table_is_the_one_printed_in_feet(row: Row) -> None:
    tool = Tool(row["tool"])
    given = [s for s in tables.speeds(row["material"], tool) if s.source == row["source"]]

    assert [
        (s.low.feet_per_minute, s.high.feet_per_minute) for s in given
    ] == [  # printed in whole feet, kept in whole metres: half a metre and half a foot apart
        pytest.approx((float(row["low_fpm"]), float(row["high_fpm"])), abs=0.5 / 0.3048 + 0.5)
    ]


def test_where_sources_differ_the_slowest_is_the_cautious_one() -> None:
    given = tables.speeds("mild steel", Tool.HIGH_SPEED_STEEL)

    assert [(s.low.m_per_min, s.high.m_per_min) for s in given] == [(25, 45), (30, 76)]
    assert tables.cautious_speed("mild steel", Tool.HIGH_SPEED_STEEL) == given[0]


def test_no_carbide_speed_is_made_of_a_multiple() -> None:
    with pytest.raises(UnknownName) as caught:
        tables.speeds("mild steel", Tool.CARBIDE)

    assert caught.value.kind == "carbide speed for"
    assert caught.value.known == tables.materials(Tool.CARBIDE)


def test_the_kind_that_a_plain_name_means_has_its_finishing_feed() -> None:
    kind = tables.kind_for("mild steel", Tool.CARBIDE)

    assert kind != "mild steel"
    assert tables.finishing_feed(kind) == tables.finishing_feed("mild steel")


def test_a_finishing_feed_is_the_printed_one() -> None:
    feed = tables.finishing_feed("mild steel")

    assert (feed.low.mm_per_rev, feed.high.mm_per_rev) == pytest.approx((0.0762, 0.254))
    with pytest.raises(UnknownName, match="I know no finishing feed for cheese"):
        tables.finishing_feed("cheese")


def test_friction_is_marked_as_remembered() -> None:
    greased, dry = tables.friction("greased"), tables.friction("dry")

    assert (greased.low, greased.high) == (0.08, 0.15)
    assert greased.from_memory
    assert dry.from_memory
    with pytest.raises(UnknownName, match="friction of steel wet"):
        tables.friction("wet")


@pytest.mark.parametrize(
    "refused",
    [
        lambda: cutting.spindle_speed(SurfaceSpeed(25.0), Length(0.0)),
        lambda: cutting.spindle_speed(SurfaceSpeed(-1.0), Length(10.0)),
        lambda: cutting.surface_speed(SpindleSpeed(-1.0), Length(10.0)),
        lambda: cutting.capped(SpindleSpeed(100.0), SpindleSpeed(0.0)),
        lambda: cutting.rubbing_speed(Length(-6.0), SpindleSpeed(100.0)),
        lambda: cutting.normal_force(Force(-1.0)),
        lambda: cutting.frictional_heat(-0.1, Force(1.0), SurfaceSpeed(1.0)),
    ],
)
def test_what_cannot_turn_is_refused_in_a_sentence(refused: object) -> None:
    assert callable(refused)
    with pytest.raises(OutOfRange) as caught:
        refused()

    assert str(caught.value).startswith(f"The {caught.value.name} must be ")


def test_a_plain_metal_is_its_common_kind_where_a_source_gives_only_kinds() -> None:
    for plain, kind in tables.COMMON_KINDS.items():
        assert tables.kind_for(plain, Tool.HIGH_SPEED_STEEL) == plain
        assert tables.kind_for(plain, Tool.CARBIDE) == kind
        assert tables.speeds(kind, Tool.CARBIDE)
