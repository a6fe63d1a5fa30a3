"""Centre holes, drills and balls as they are made, and which go together."""

import pytest
from hypothesis import given

from assistant.calc import ball_centres
from assistant.calc.ball_centres import CentreHole, SeatedOn
from assistant.errors import OutOfRange, UnknownName
from assistant.quantity import Length
from assistant.tables import centres
from tests.calc import golden
from tests.calc.strategies import balls


@pytest.mark.parametrize("row", golden.rows("ball_sizes"), ids=lambda row: row["size"])
def test_a_ball_is_as_large_as_printed(row: dict[str, str]) -> None:
    printed_to = 10.0 ** -len(row["mm"].partition(".")[2])

    got = centres.balls()[row["size"]].diameter.mm
    assert got == pytest.approx(float(row["mm"]), abs=0.51 * printed_to)


def test_the_one_ball_from_memory_says_so() -> None:
    assert [size for size, ball in centres.balls().items() if ball.from_memory] == ["8 mm"]
    assert len(centres.balls()) == len(golden.rows("ball_sizes"))


@pytest.mark.parametrize("row", golden.rows("ball_limits"), ids=lambda row: row["hole"])
def test_a_hole_is_as_wide_as_printed(row: dict[str, str]) -> None:
    found = centres.hole(*row["hole"].split())

    assert (found.hole.pilot.mm, found.hole.mouth.mm) == (
        float(row["pilot_mm"]),
        float(row["mouth_mm"]),
    )
    assert (found.hole.set_back.mm > 0) == (found.form == "B")
    # Deep enough for its own cone: (mouth - pilot) / 2 at 30 degrees a side, and the pilot.
    cone = (found.hole.mouth - found.hole.pilot) * ball_centres.COS_30
    assert found.least_depth > cone + found.hole.set_back
    assert (found.source != "", found.from_memory) == (True, False)


def test_the_balls_for_a_common_hole_sit_on_its_cone_the_best_first() -> None:
    # By hand: 3.15 and 6.7 over cos 30 are 3.637 and 7.737 mm, half way 5.687 mm.
    got = [ball.size for ball in centres.balls_for(centres.hole("A", "3.15").hole)]

    assert got == [
        "7/32 in",
        "6 mm",
        "1/4 in",
        "5 mm",
        "3/16 in",
        "4.5 mm",
        "9/32 in",
        "4 mm",
        "5/32 in",
    ]


def test_the_holes_and_drills_for_a_quarter_inch_ball() -> None:
    # By hand: it touches on 5.499 mm, so pilots below that and mouths of at least that; and
    # half way up a pilot of 1/8 in it needs a mouth of 0.308 in, within number 4's 5/16 in.
    ball = centres.balls()["1/4 in"].diameter

    assert [hole.size for hole in centres.holes_for(ball, "A")] == ["3.15", "4", "5"]
    assert [hole.size for hole in centres.holes_for(ball, "B")] == ["3.15", "4", "5"]
    assert [drill.number for drill in centres.drills_for(ball)] == ["4", "5"]


@given(balls)
def test_a_drill_for_a_ball_opens_a_hole_that_the_ball_sits_well_in(ball: Length) -> None:
    for drill in centres.drills_for(ball):
        opened = CentreHole(drill.pilot, ball_centres.mouth_for_ball(ball, drill.pilot))
        assert ball_centres.seat(ball, opened).seated_on is SeatedOn.CONE
        assert opened.mouth <= drill.body


def test_the_drills_that_no_page_was_read_for_say_so() -> None:
    read = [number for number, drill in centres.drills().items() if not drill.from_memory]

    assert read == ["3", "10"]


@pytest.mark.parametrize(
    ("work_mm", "size"), [(5.0, "1"), (8.0, "1"), (8.1, "1.6"), (25.0, "3.15"), (150.0, "10")]
)
def test_work_of_a_diameter_has_the_hole_that_practice_gives_it(work_mm: float, size: str) -> None:
    assert centres.hole_for_work(Length(work_mm)).size == size


def test_work_beyond_the_practice_is_refused() -> None:
    with pytest.raises(OutOfRange, match="150 mm or less"):
        centres.hole_for_work(Length(151.0))


@pytest.mark.parametrize(("form", "size"), [("R", "3.15"), ("A", "3.2")])
def test_an_unknown_type_or_size_of_hole_is_refused(form: str, size: str) -> None:
    with pytest.raises(UnknownName):
        centres.hole(form, size)
