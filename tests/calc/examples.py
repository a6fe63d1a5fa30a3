"""One good call of every public function of assistant.calc: for the benchmark and the walks.

A new function is added here; test_every_public_function_has_an_example says if it is not.
"""

import importlib
import inspect
import pkgutil
from collections.abc import Callable
from types import ModuleType

from assistant import calc
from assistant.calc import (
    ball_centres,
    cutting,
    heat,
    learning,
    next_part,
    screw,
    setover,
    sizing,
    taper,
    tolerance,
    tool_height,
    trueing,
)
from assistant.calc.ball_centres import CentreHole
from assistant.calc.heat import BallState, TailBall
from assistant.calc.learning import MeasuredCut
from assistant.calc.screw import DialReads, Direction, Position, Screw, Turns
from assistant.calc.setover import End, ToolPost
from assistant.calc.taper import Taper
from assistant.calc.tolerance import Tolerance
from assistant.calc.trueing import Contact, MeasuredLength, Plunger
from assistant.quantity import (
    Angle,
    Duration,
    Expansion,
    Feed,
    Force,
    Length,
    Modulus,
    SpindleSpeed,
    SurfaceSpeed,
    Temperature,
    TemperatureRise,
)

Call = tuple[Callable[..., object], tuple[object, ...]]

# It only refuses what the formulas do not hold for; it holds no formula.
NOT_FORMULAS = {"limits"}

CONE = Taper(Angle.from_degrees(1.5))
HOLE = CentreHole(Length(3.15), Length(6.7))
SEAT = ball_centres.seat(Length(6.35), HOLE)
HEAD = Screw(Length(1.0), 100, DialReads.TRAVEL, Length(0.1))
HERE = Position(Length(2.0), Length(2.0))


def measured(mm: float, standard_mm: float = 0.002) -> MeasuredLength:
    return MeasuredLength(Length(mm), Length(standard_mm))


FOUND = trueing.from_diameters(measured(30.0), measured(25.0), measured(100.0, 0.05))
MINUTE = Tolerance(Angle.from_degrees(0, 1))
CUTS = tuple(
    MeasuredCut(Turns(turns, 100), Length(0.1 + 1.01 * turns), Length(0.005))
    for turns in (4.0, 5.0, 5.25)
)
LEARNT = learning.learn(CUTS)
BALL = TailBall(Length(10.0))
WARM = BallState(TemperatureRise(12.0), Force(200.0))
STEEL = Expansion(11.7)

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
    (tolerance.from_included_angle, (Angle.from_degrees(0, 2),)),
    (tolerance.from_diameter_error, (Length(0.01), Length(100.0), CONE)),
    (tolerance.diameter_error, (Angle.from_degrees(0, 1), Length(100.0), CONE)),
    (tolerance.from_zone, (Angle(125e-6),)),
    (tolerance.zone_over_length, (Angle(125e-6), Length(80.0))),
    (trueing.standard_from_limit, (Length(0.004),)),
    (trueing.from_diameters, (measured(30.0), measured(25.0), measured(100.0))),
    (trueing.from_diameters_by_carriage, (measured(30.0), measured(25.0), measured(100.0))),
    (trueing.from_indicator, (measured(1.5), measured(27.0), Plunger.SQUARE_TO_BED)),
    (trueing.from_rollers, (measured(45.0), measured(40.0), measured(50.0))),
    (trueing.over_rollers, (Length(20.0), Length(10.0), CONE)),
    (trueing.small_end_from_rollers, (Length(42.0), Length(10.0), CONE)),
    (
        trueing.from_sine_bar,
        (measured(5.0), measured(127.0), measured(0.0), Length(60.0)),
    ),
    (trueing.sine_bar_stack, (CONE, Length(127.0))),
    (trueing.from_shake, (CONE, measured(0.05), measured(60.0), Contact.LARGE_END)),
    (trueing.from_blue, (CONE, measured(0.005), measured(20.0), Contact.SMALL_END)),
    (trueing.blue_resolves, (Length(0.005), Length(60.0))),
    (trueing.correction, (Contact.LARGE_END,)),
    (trueing.move, (CONE, FOUND, Length(200.0))),
    (trueing.verdict, (FOUND, CONE, MINUTE)),
    (trueing.can_prove, (FOUND, MINUTE)),
    (trueing.gauge_length_needed, (FOUND, Length(100.0), MINUTE)),
    (trueing.instrument_needed, (FOUND, Length(0.002), MINUTE)),
    (learning.measured_cut, (Turns(4.5, 100), FOUND, Length(200.0))),
    (learning.learn, (CUTS,)),
    (learning.differs, (LEARNT, Length(1.0))),
    (learning.turns_for, (LEARNT, Length(5.0), 100)),
    (sizing.infeed_for_stand_off, (CONE, Length(2.0))),
    (sizing.stand_off_for_infeed, (CONE, Length(0.05))),
    (sizing.infeed_for_diameter, (CONE, Length(0.1))),
    (sizing.diameter_for_infeed, (CONE, Length(0.05))),
    (sizing.diameter_at, (CONE, Length(30.0), Length(40.0))),
    (sizing.station_of, (CONE, Length(30.0), Length(27.0))),
    (sizing.passes_left, (Length(1.3), Length(0.25))),
    (sizing.pass_time, (Length(100.0), Feed(0.1), SpindleSpeed(300.0))),
    (cutting.spindle_speed, (SurfaceSpeed(25.0), Length(30.0))),
    (cutting.surface_speed, (SpindleSpeed(300.0), Length(30.0))),
    (cutting.capped, (SpindleSpeed(500.0), SpindleSpeed(300.0))),
    (cutting.rubbing_speed, (Length(10.0), SpindleSpeed(300.0))),
    (cutting.normal_force, (Force(200.0),)),
    (cutting.frictional_heat, (0.12, Force(400.0), SurfaceSpeed(8.0))),
    (heat.growth, (Length(200.0), STEEL, TemperatureRise(30.0))),
    (heat.end_load_if_held, (Length(25.0), Modulus(207.0), STEEL, TemperatureRise(5.0))),
    (heat.diameter_when_cool, (Length(25.0), STEEL, Temperature(50.0), Temperature(20.0))),
    (heat.diameter_when_warm, (Length(25.0), STEEL, Temperature(50.0), Temperature(20.0))),
    (heat.end_load, (BALL, WARM)),
    (heat.friction, (BALL, WARM)),
    (heat.step, (BALL, WARM, SpindleSpeed(300.0), Duration(1.0))),
    (heat.oiled, (WARM,)),
    (heat.eased, (BALL, WARM, Force(150.0))),
    (next_part.new_set_over, (CONE, Length(180.0))),
    (next_part.move_from_here, (CONE, Length(200.0), Length(180.0))),
    (next_part.angle_error, (CONE, Length(200.0), Length(199.0))),
    (next_part.length_allowed, (CONE, Length(200.0), MINUTE)),
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
