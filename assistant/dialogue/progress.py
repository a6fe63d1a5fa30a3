"""How far a job has come: where the ball goes, what was cut, and what that proves."""

from dataclasses import dataclass
from enum import StrEnum

from assistant.calc.screw import Turns
from assistant.calc.setover import Side
from assistant.calc.trueing import Finding, Verdict
from assistant.quantity import Angle, Length


@dataclass(frozen=True, slots=True)
class Answer:
    """Where the tail ball goes, and where the screw then stands, counted from its zero."""

    set_over: Length
    side: Side
    turns: Turns


@dataclass(frozen=True, slots=True)
class Cut:
    """A cone as measured, and where the slide stood for it.

    `ball_length` is None for a cut on the part in hand, whose length may yet be put right.
    """

    slide: Length
    finding: Finding
    over: Length  # the length along the cone it was measured over
    ball_length: Length | None = None


@dataclass(frozen=True, slots=True)
class Trial:
    """What the latest trial cut proves, and the move that trues it."""

    finding: Finding
    error: Angle  # found less wanted
    verdict: Verdict
    move: Length  # of the ball; positive is more set-over
    turns: Turns


class Stage(StrEnum):
    """How far a job has come."""

    SETTING = "the head is to be set"
    TRYING = "a trial cut is to be taken and measured"
    SIZING = "the cone is true, and is to be brought to size"
    SIZED = "the part is done"
