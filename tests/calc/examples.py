"""One good call of every public function of assistant.calc: for the benchmark and the walks.

A new function is added here; test_every_public_function_has_an_example says if it is not.
"""

import importlib
import inspect
import pkgutil
from collections.abc import Callable
from types import ModuleType

from assistant import calc
from assistant.calc import ball_centres, screw, setover, taper, tool_height
from assistant.calc.ball_centres import CentreHole
from assistant.calc.screw import DialReads, Direction, Position, Screw, Turns
from assistant.calc.setover import End, ToolPost
from assistant.calc.taper import Taper
from assistant.quantity import Angle, Length

Call = tuple[Callable[..., object], tuple[object, ...]]

# It only refuses what the formulas do not hold for; it holds no formula.
NOT_FORMULAS = {"limits"}

CONE = Taper(Angle.from_degrees(1.5))
HOLE = CentreHole(Length(3.15), Length(6.7))
SEAT = ball_centres.seat(Length(6.35), HOLE)
HEAD = Screw(Length(1.0), 100, DialReads.TRAVEL, Length(0.1))
HERE = Position(Length(2.0), Length(2.0))

EXAMPLES: list[Call] = [
    (taper.from_half_angle, (Angle.from_degrees(1.5),)),
    (taper.from_included_angle, (Angle.from_degrees(3),)),
    (taper.from_rate, (0.05,)),
    (taper.from_ratio, (20.0,)),
    (taper.from_per_cent, (5.0,)),
    (taper.from_per_foot, (Length.from_inches(0.6),)),
    (taper.from_per_inch, (Length.from_inches(0.05),)),
    (taper.from_diameters, (Length(30.0), Length(25.0), Length(100.0))),
    (taper.from_diameters_over_slant, (Length(30.0), Length(25.0), Length(100.0))),
    (setover.set_over, (CONE, Length(200.0))),
    (setover.taper_turned, (Length(5.0), Length(200.0))),
    (setover.handbook_set_over, (CONE, Length(200.0))),
    (setover.handbook_difference, (CONE, Length(200.0))),
    (setover.true_set_over, (Length(5.0), Length(0.02))),
    (setover.head_reading, (Length(5.0), Length(0.02))),
    (setover.side, (End.TAILSTOCK, ToolPost.FRONT)),
    (setover.within_travel, (Length(5.0), Length(15.0))),
    (ball_centres.smallest_ball, (HOLE,)),
    (ball_centres.largest_ball, (HOLE,)),
    (ball_centres.middle_ball, (HOLE,)),
    (ball_centres.mouth_for_ball, (Length(6.35), Length(3.15))),
    (ball_centres.balls_that_seat, (HOLE, (Length(3.0), Length(6.0), Length(6.35)))),
    (ball_centres.seat, (Length(6.35), HOLE)),
    (ball_centres.length_from_faces, (Length(200.0), SEAT, SEAT)),
    (ball_centres.length_over_balls, (Length(212.7), Length(12.7), Length(12.7))),
    (ball_centres.reading_over_balls, (Length(200.0), Length(12.7), Length(12.7))),
    (ball_centres.socket_depth, (Length(6.35), Length(5.0))),
    (ball_centres.socket_bore, (Length(6.35), Length(1.5))),
    (ball_centres.gap, (SEAT, Length(1.5))),
    (ball_centres.largest_half_angle, (SEAT, Length(1.5), Length(40.0))),
    (ball_centres.drive_pin_travel, (CONE, Length(40.0))),
    (ball_centres.closing_up, (CONE, Length(200.0))),
    (screw.turns, (HEAD, Length(4.98661))),
    (screw.travel, (HEAD, Turns(4.5, 100))),
    (screw.turned, (HEAD, 4, 50.0)),
    (screw.from_division, (Length(0.01), 100, DialReads.TRAVEL, Length(0.1))),
    (screw.division_reads, (HEAD,)),
    (screw.dial_figures, (HEAD, Length(4.98661))),
    (screw.zeroed, (HEAD, Direction.FORWARD)),
    (screw.after, (HEAD, HERE, Turns(-1.5, 100))),
    (screw.moves, (HEAD, HERE, Length(1.5), Direction.FORWARD)),
    (screw.return_to_zero, (HEAD, HERE, Direction.FORWARD)),
    (tool_height.radius_cut, (Length(10.0), Length(0.5))),
    (tool_height.large_end_error, (Length(30.0), Length(20.0), Length(0.5))),
    (tool_height.hollow, (Length(30.0), Length(20.0), Length(0.5))),
    (tool_height.height_allowed, (Length(30.0), Length(20.0), Length(0.01))),
]


def name(function: Callable[..., object]) -> str:
    return f"{function.__module__.removeprefix('assistant.calc.')}.{function.__name__}"


def modules() -> list[ModuleType]:
    names = [found.name for found in pkgutil.iter_modules(calc.__path__)]
    return [importlib.import_module(f"assistant.calc.{name}") for name in names]


def public_functions() -> list[Callable[..., object]]:
    return [
        function
        for module in modules()
        if module.__name__.rpartition(".")[2] not in NOT_FORMULAS
        for function_name, function in inspect.getmembers(module, inspect.isfunction)
        if not function_name.startswith("_") and function.__module__ == module.__name__
    ]
