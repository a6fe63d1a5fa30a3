"""What is known of the job: facts as they were stated, and what follows from them."""

from dataclasses import dataclass, replace
from fractions import Fraction

from assistant.calc import ball_centres, setover, taper
from assistant.calc.screw import Screw, Turns, turns
from assistant.calc.setover import End, Side, ToolPost
from assistant.calc.taper import Taper
from assistant.errors import OutOfRange
from assistant.language import requests as r
from assistant.language.requests import Fact, Unit
from assistant.quantity import Angle, Length
from assistant.tables import standard_tapers


@dataclass(frozen=True, slots=True)
class Head:
    """The offset head: its screw, how far it goes to one side, and what it is used with."""

    screw: Screw
    travel: Length
    steepest: Angle
    tool_post: ToolPost = ToolPost.FRONT


@dataclass(frozen=True, slots=True)
class Answer:
    """Where the tail ball goes, and how the screw takes it there from zero."""

    set_over: Length
    side: Side
    turns: Turns


@dataclass(frozen=True, slots=True)
class Job:
    """The job in hand. Every change makes a new one; a refused change makes none."""

    head: Head
    unit: Unit = Unit.MILLIMETRE
    small_end: End = End.TAILSTOCK
    taper: Taper | None = None
    taper_said: Fact | None = None
    between_balls: Length | None = None
    over_balls: Length | None = None
    ball: Length | None = None

    @property
    def ball_length(self) -> Length | None:
        """The length between the ball centres, as given or from a reading over the balls."""
        if self.over_balls is not None and self.ball is not None:
            return ball_centres.length_over_balls(self.over_balls, self.ball, self.ball)
        return self.between_balls

    @property
    def answer(self) -> Answer | None:
        """The set-over and the turns, once the taper and the length are known.

        Raises:
            OutOfRange: The head does not reach that far.
        """
        if self.taper is None or self.ball_length is None:
            return None
        offset = setover.within_travel(
            setover.set_over(self.taper, self.ball_length), self.head.travel
        )
        side = setover.side(self.small_end, self.head.tool_post)
        return Answer(offset, side, turns(self.head.screw, offset))

    def afresh(self) -> "Job":
        """Return the next job on the same head, in the same unit."""
        return Job(self.head, self.unit, self.small_end)

    def with_facts(self, *facts: Fact) -> "Job":
        """Return the job with facts stated or restated; all of them, or an error and none.

        Raises:
            OutOfRange: A fact cannot be, or the head cannot turn the job they make together.
            Ambiguous: One was said in a unit that means two things.
        """
        job = self
        for fact in facts:
            job = job._stated(fact)
        # Asked for only so that a job the head cannot turn is refused here and now.
        _ = job.answer
        return job

    def _stated(self, fact: Fact) -> "Job":
        match fact:
            case r.BetweenBalls(length):
                return replace(
                    self,
                    between_balls=self._positive("length between balls", length),
                    over_balls=None,
                )
            case r.OverBalls(reading, ball):
                over = self._positive("reading over the balls", reading)
                ball_length = self.ball if ball is None else self._positive("ball diameter", ball)
                return replace(self, over_balls=over, between_balls=None, ball=ball_length)
            case r.BallDiameter(diameter):
                return replace(self, ball=self._positive("ball diameter", diameter))
            case r.ScrewPitch(pitch):
                return self._with_screw(pitch=self._positive("screw pitch", pitch))
            case r.ThreadsPerInch(threads):
                if threads <= 0:
                    raise OutOfRange("threads per inch", str(threads), "more than 0")
                return self._with_screw(pitch=Length.from_inches(float(1 / threads)))
            case r.Divisions(divisions):
                if divisions.denominator != 1 or divisions <= 0:
                    raise OutOfRange(
                        "divisions of the dial",
                        f"{float(divisions):g}",
                        "a whole number, 1 or more",
                    )
                return self._with_screw(divisions=int(divisions))
            case r.SmallEnd(end):
                return replace(self, small_end=end)
            case r.Units(unit):
                return replace(self, unit=unit)
            case _:
                return replace(self, taper=self._taper(fact), taper_said=fact)

    def _taper(self, fact: Fact) -> Taper:
        match fact:
            case r.TaperByRatio(rise, run):
                found = taper.from_ratio(float(run), rise=float(rise))
            case r.TaperPerFoot(change):
                # A taper per foot with no unit is in inches, whatever the job is in.
                found = taper.from_per_foot(change.length(Unit.INCH))
            case r.TaperByHalfAngle(degrees):
                found = taper.from_half_angle(Angle.from_degrees(float(degrees)))
            case r.TaperByIncludedAngle(degrees):
                found = taper.from_included_angle(Angle.from_degrees(float(degrees)))
            case r.TaperByDiameters(large, small, apart):
                found = taper.from_diameters(
                    large.length(self.unit), small.length(self.unit), apart.length(self.unit)
                )
            case r.TaperByName(system, size):
                found = standard_tapers.find(system, size).taper
            case _:
                raise TypeError(f"{fact!r} states no taper")
        if found.half_angle > self.head.steepest:
            steepest = f"{self.head.steepest.degrees:g} degrees or less"
            raise OutOfRange("half angle", f"{found.half_angle.degrees:.4g} degrees", steepest)
        return found

    def _positive(self, name: str, measure: r.Measure) -> Length:
        length = measure.length(self.unit)
        if length.mm <= 0:
            raise OutOfRange(name, _figures(measure.value), "more than 0")
        return length

    def _with_screw(self, pitch: Length | None = None, divisions: int | None = None) -> "Job":
        screw = self.head.screw
        changed = replace(screw, pitch=pitch or screw.pitch, divisions=divisions or screw.divisions)
        return replace(self, head=replace(self.head, screw=changed))


def _figures(value: Fraction) -> str:
    return f"{float(value):g}"
