"""What is known of the job: facts as they were stated, what was done, and what follows.

The head's slide is counted outwards: from its zero towards the side the set-over goes to, as
travel by the screw's stated pitch. The ball always arrives going outwards.
"""

import math
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from typing import Any

from assistant.calc import (
    ball_centres,
    cutting,
    learning,
    screw,
    setover,
    taper,
    trueing,
)
from assistant.calc.ball_centres import BallSeat, CentreHole
from assistant.calc.learning import LearntHead, MeasuredCut
from assistant.calc.screw import Position, Screw, Turns
from assistant.calc.setover import End, Side
from assistant.calc.taper import Taper
from assistant.calc.tolerance import Tolerance
from assistant.calc.trueing import Finding, Verdict
from assistant.dialogue.progress import Answer, Cut, Stage, Trial
from assistant.dialogue.reminders import Care, Run
from assistant.dialogue.shop import Head, Shop
from assistant.errors import BenchError, OutOfRange, UnknownName
from assistant.language import requests as r
from assistant.language.requests import Fact, Measure, Unit
from assistant.quantity import Angle, Length, SpindleSpeed
from assistant.tables import cutting as cutting_tables
from assistant.tables import standard_tapers
from assistant.tables.cutting import FeedRange, Tool

# Holes whose pilot was not stated are taken to have none, so that only the mouth is checked.
NO_PILOT = Length(1e-6)

# Of a division: half of the tenth that a careful eye can judge.
DIAL_IS_READ_TO = 0.05

# A screw found to no better than this share of its pitch is not found at all; one found to be
# so many times finer or coarser than stated is a slip: the head did not move, or no cut was
# taken. A dial misread is a factor of two. A choice.
TELLING_SHARE = 0.1
SLIP_FACTOR = 3.0

ZERO = Length(0.0)
AT_ZERO = Position(ZERO, ZERO)

# A screw that loose sets nothing to a hundredth.
MOST_BACKLASH = Length(2.0)
# As settings may have it: far outside what a fine screw has.
MOST_PITCH = Length(25.0)


@dataclass(frozen=True)
class Job:
    """The job in hand. Every change makes a new one; a refused change makes none.

    What follows from the facts is worked out once: a reply and its screens ask for it dozens
    of times. It has no slots, so that there is room to keep that.
    """

    head: Head
    shop: Shop = field(default_factory=Shop)
    unit: Unit = Unit.MILLIMETRE
    small_end: End = End.TAILSTOCK
    taper: Taper | None = None
    taper_said: Fact | None = None
    between_balls: Length | None = None
    over_balls: Length | None = None
    work_length: Length | None = None
    # The lengths are the last part's: this one's is to be given, in the same way.
    next_length_awaited: bool = False
    ball: Length | None = None
    mouth: Length | None = None
    pilot: Length | None = None
    work_diameter: Length | None = None
    material: str | None = None
    tool: Tool = Tool.HIGH_SPEED_STEEL
    running_at: SpindleSpeed | None = None
    tolerance: Tolerance | None = None
    # What was done.
    position: Position = AT_ZERO
    cuts: tuple[Cut, ...] = ()
    infeed: Length | None = None
    started: bool = False
    care: Care = field(default_factory=Care)
    number: int = 1

    # The length

    @cached_property
    def ball_length(self) -> Length | None:
        """The length between the ball centres, as given or from what was measured."""
        if self.next_length_awaited:
            return None
        if self.over_balls is not None and self.ball is not None:
            return ball_centres.length_over_balls(self.over_balls, self.ball, self.ball)
        if self.work_length is not None:
            seat = self.seat
            if seat is None:
                return None
            return ball_centres.length_from_faces(self.work_length, seat, seat)
        return self.between_balls

    @cached_property
    def seat(self) -> BallSeat | None:
        """How the balls sit in the centre holes; None while unknown or where they do not."""
        try:
            return self._seat()
        except BenchError:
            return None

    @cached_property
    def misfit(self) -> BenchError | None:
        """Why the balls do not sit in the centre holes, if they do not."""
        try:
            self._seat()
        except BenchError as misfit:
            return misfit
        return None

    def _seat(self) -> BallSeat | None:
        if self.ball is None or self.mouth is None:
            return None
        hole = CentreHole(self.pilot or NO_PILOT, self.mouth)
        return ball_centres.seat(self.ball, hole)

    @property
    def drive_pin(self) -> tuple[Length, Length]:
        """How far from the axis a drive pin may be, and how far it then slides along it."""
        assert self.taper is not None
        out = Length(50.0) if self.unit is Unit.MILLIMETRE else Length.from_inches(2)
        return out, ball_centres.drive_pin_travel(self.taper, out)

    # The set-over

    @property
    def side(self) -> Side:
        """The side of the axis the tail ball goes to."""
        return setover.side(self.small_end, self.head.tool_post)

    @cached_property
    def answer(self) -> Answer | None:
        """The set-over and the turns, once the taper and the length are known.

        Raises:
            OutOfRange: The head does not reach that far.
        """
        if self.taper is None or self.ball_length is None:
            return None
        offset = setover.set_over(self.taper, self.ball_length)
        slide = setover.within_travel(self._slide_for(offset), self.head.travel)
        return Answer(offset, self.side, screw.turns(self.head.screw, slide))

    @property
    def at_zero(self) -> bool:
        """Whether the slide stands at its zero."""
        return abs(self.position.slide) <= screw.SAME_PLACE

    @cached_property
    def moves(self) -> tuple[Turns, ...]:
        """How to turn the handle from where it stands to the answer; none when it is there.

        Nearer than the dial can be read is there, and so is a cone within tolerance.
        """
        trial = self.trial
        if self.answer is None or (trial is not None and trial.verdict is Verdict.WITHIN):
            return ()
        turned = self.head.screw
        target = screw.travel(turned, self.answer.turns)
        if abs(target - self.position.slide) < turned.pitch * (DIAL_IS_READ_TO / turned.divisions):
            return ()
        return screw.moves(turned, self.position, target)

    @cached_property
    def moves_home(self) -> tuple[Turns, ...]:
        """How to turn the handle back to the slide's zero."""
        return screw.return_to_zero(self.head.screw, self.position)

    def _slide_for(self, offset: Length) -> Length:
        return (offset - self.zero) * (1 / self._true_share)

    @cached_property
    def per_turn(self) -> Length:
        """What a turn of the screw really moves the ball, as far as is known."""
        learnt = self.learnt
        pitch = self.head.screw.pitch
        if learnt is not None and self.learnt_is_sound and learning.differs(learnt, pitch):
            return learnt.per_turn
        return self.head.per_turn or pitch

    @cached_property
    def learnt_is_sound(self) -> bool:
        """Whether the measured cuts agree with one another, and tell of a screw there can be."""
        learnt, pitch = self.learnt, self.head.screw.pitch
        return (
            learnt is not None
            and learnt.consistent
            and self.learnt_tells
            and pitch * (1 / SLIP_FACTOR) <= learnt.per_turn <= pitch * SLIP_FACTOR
        )

    @property
    def learnt_tells(self) -> bool:
        """Whether the measured cuts were set far enough apart to tell of the screw at all."""
        learnt, pitch = self.learnt, self.head.screw.pitch
        return learnt is not None and learnt.per_turn_margin <= pitch * TELLING_SHARE

    @cached_property
    def learnt(self) -> LearntHead | None:
        """What the measured cuts say of the head, once two were set differently."""
        if len({cut.slide for cut in self.cuts}) < learning.FEWEST_CUTS:
            return None
        if any((cut.ball_length or self.ball_length) is None for cut in self.cuts):
            return None
        return learning.learn([self._shown(cut) for cut in self.cuts])

    @property
    def _true_share(self) -> float:
        return self.per_turn.mm / self.head.screw.pitch.mm

    @cached_property
    def zero(self) -> Length:
        """Where the ball truly stands when the slide is at its zero, by the latest cut.

        A correction counts from what the cone is, never from the old set-over: so the whole
        difference is put down to the head's zero.
        """
        if not self.cuts:
            return ZERO
        latest = self.cuts[-1]
        return self._shown(latest).set_over - latest.slide * self._true_share

    def _shown(self, cut: Cut) -> MeasuredCut:
        length = cut.ball_length or self.ball_length
        assert length is not None
        turns = screw.turns(self.head.screw, cut.slide)
        return learning.measured_cut(turns, cut.finding, length)

    # The trial cut

    @property
    def allowed(self) -> Tolerance:
        """How far the half angle may be out."""
        return self.tolerance or self.shop.tolerance

    @cached_property
    def trial(self) -> Trial | None:
        """What the cone measured last proves; None once the head was moved since."""
        if not self.cuts or self.taper is None or self.ball_length is None:
            return None
        latest = self.cuts[-1]
        moved = abs(latest.slide - self.position.slide) > screw.SAME_PLACE
        if moved or latest.ball_length is not None:
            return None
        move = trueing.move(self.taper, latest.finding, self.ball_length).length
        return Trial(
            latest.finding,
            latest.finding.half_angle - self.taper.half_angle,
            trueing.verdict(latest.finding, self.taper, self.allowed),
            move,
            Turns(move.mm / self.per_turn.mm, self.head.screw.divisions),
        )

    def measured(self, finding: Finding, over: Length) -> "Job":
        """Return the job with what the cone was found to be at the present setting."""
        return replace(self, cuts=(*self.cuts, Cut(self.position.slide, finding, over)))

    @property
    def stage(self) -> Stage:
        """How far the part in hand has come; a part after a true one is taken to be true."""
        if self.answer is None or self.moves:
            return Stage.SETTING
        true = self.trial is not None and self.trial.verdict is Verdict.WITHIN
        if not true and not (self.cuts and self.cuts[-1].ball_length):
            return Stage.TRYING
        if self.infeed is None or self.infeed > screw.SAME_PLACE:
            return Stage.SIZING
        return Stage.SIZED

    @property
    def division_turns(self) -> Angle | None:
        """What one division of the dial does to the half angle, while it is about right."""
        if self.ball_length is None or self.taper is None:
            return None
        moved_mm = self.per_turn.mm / self.head.screw.divisions
        return Angle(moved_mm / (self.ball_length.mm * math.cos(self.taper.half_angle.rad)))

    def head_set(self) -> "Job":
        """Return the job with the head where it was asked to be."""
        position = self.position
        for move in self.moves:
            position = screw.after(self.head.screw, position, move)
        return replace(self, position=position)

    def head_at_zero(self) -> "Job":
        """Return the job with the head brought to its zero from the usual side."""
        home = screw.zeroed(self.head.screw)
        return replace(self, position=home, care=self.care.head_home())

    # Speed

    @cached_property
    def speed(self) -> SpindleSpeed | None:
        """The spindle speed to use, under the cap; None while material or diameter lacks.

        Raises:
            UnknownName: No source gives a speed for this material and tool.
        """
        if self.material is None or self.work_diameter is None:
            return None
        kind = cutting_tables.kind_for(self.material, self.tool)
        surface = cutting_tables.cautious_speed(kind, self.tool).low
        return cutting.capped(cutting.spindle_speed(surface, self.work_diameter), self.shop.cap)

    @property
    def finishing_feed(self) -> FeedRange | None:
        """The feeds for a finishing cut, where a source gives them for the material."""
        try:
            return cutting_tables.finishing_feed(self.material or "")
        except UnknownName:
            return None

    @property
    def taken_to_run_at(self) -> SpindleSpeed:
        """The spindle speed said, or the one advised, or the fastest there should be."""
        return self.running_at or self.speed or self.shop.cap

    # Jobs

    def afresh(self) -> "Job":
        """Return the next job on the same head, in the same unit, the head where it stands."""
        return Job(
            replace(self.head, per_turn=self._kept_per_turn),
            self.shop,
            self.unit,
            self.small_end,
            tool=self.tool,
            running_at=self.running_at,
            position=self.position,
            care=self.care,
            number=self.number + 1,
        )

    @property
    def _kept_per_turn(self) -> Length | None:
        return None if self.per_turn == self.head.screw.pitch else self.per_turn

    @property
    def settled_cuts(self) -> tuple[Cut, ...]:
        """The cuts with the length they were made at: what they show no longer changes."""
        return tuple(
            replace(cut, ball_length=cut.ball_length or self.ball_length) for cut in self.cuts
        )

    def next_part(self, run: Run) -> "Job":
        """Return the job for another part, its length yet to be stated."""
        return replace(
            self,
            cuts=self.settled_cuts,
            infeed=None,
            care=self.care.next_part(run),
            next_length_awaited=True,
        )

    def repeated(self, present: "Job") -> "Job":
        """Return this finished job taken up again where the present one leaves the bench."""
        return replace(
            self,
            head=present.head,
            shop=present.shop,
            position=present.position,
            care=present.care,
            running_at=present.running_at,
            number=present.number,
            cuts=self.settled_cuts,
            infeed=None,
            started=False,
        )

    # Facts

    def with_facts(self, *facts: Fact) -> "Job":
        """Return the job with facts stated or restated; all of them, or an error and none.

        Raises:
            OutOfRange: A fact cannot be, or the head cannot turn the job they make together.
            UnknownName: There is no such material or taper.
        """
        job = self
        for fact in facts:
            job = job._stated(fact)
        # Asked for only so that a job the head cannot turn is refused here and now.
        _ = job.answer, job.speed
        return job

    def _stated(self, fact: Fact) -> "Job":
        match fact:
            case r.BetweenBalls(length):
                return self._with_length(
                    between_balls=self._positive("length between balls", length)
                )
            case r.OverBalls(reading, ball):
                over = self._positive("reading over the balls", reading)
                ball_size = self.ball if ball is None else self._positive("ball diameter", ball)
                return replace(self._with_length(over_balls=over), ball=ball_size)
            case r.WorkLength(length):
                return self._with_length(work_length=self._positive("work length", length))
            case r.BallDiameter(diameter):
                return replace(self, ball=self._positive("ball diameter", diameter))
            case r.Mouth(diameter):
                return self._with_hole(mouth=self._positive("mouth of the centre hole", diameter))
            case r.Pilot(diameter):
                return self._with_hole(pilot=self._positive("pilot of the centre hole", diameter))
            case r.WorkDiameter(diameter):
                return replace(self, work_diameter=self._positive("work diameter", diameter))
            case r.MaterialIs(name):
                known = cutting_tables.materials(Tool.HIGH_SPEED_STEEL)
                if name not in known:
                    raise UnknownName("material", name, known)
                return replace(self, material=name)
            case r.ToolIs(tool):
                return replace(self, tool=tool)
            case r.RunningAt(rpm):
                if rpm <= 0:
                    raise OutOfRange("spindle speed", _figures(rpm), "more than 0")
                return replace(self, running_at=SpindleSpeed(float(rpm)))
            case r.WithinAngle(degrees):
                if degrees <= 0:
                    raise OutOfRange("tolerance", _figures(degrees), "more than 0 minutes")
                return replace(self, tolerance=Tolerance(Angle.from_degrees(float(degrees))))
            case r.SmallEnd(end):
                return self._on_side(replace(self, small_end=end))
            case r.Units(unit):
                return replace(self, unit=unit)
            case r.TaperByAngle():
                return self  # no taper until it is known which angle it is
            case r.ToolPostAt(tool_post):
                return self._on_side(self._with_head(tool_post=tool_post))
            case r.HeadTravel(travel):
                return self._with_head(travel=self._positive("head travel", travel))
        if isinstance(fact, SCREW_FACTS):
            return self._with_screw_fact(fact)
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
                found = taper.from_diameters(*(m.length(self.unit) for m in (large, small, apart)))
            case r.TaperByName(system, size):
                found = standard_tapers.find(system, size).taper
            case _:
                raise TypeError(f"{fact!r} states no taper")
        if found.half_angle > self.head.steepest:
            steepest = f"{self.head.steepest.degrees:g} degrees or less"
            raise OutOfRange("half angle", f"{found.half_angle.degrees:.4g} degrees", steepest)
        return found

    def _screw(self, fact: Fact) -> Screw:
        was = self.head.screw
        match fact:
            case r.ScrewPitch(pitch):
                stated = self._positive("screw pitch", pitch)
                return replace(was, pitch=_at_most("screw pitch", stated, MOST_PITCH))
            case r.ThreadsPerInch(threads):
                if threads <= 0:
                    raise OutOfRange("threads per inch", _figures(threads), "more than 0")
                return replace(was, pitch=Length.from_inches(float(1 / threads)))
            case r.Divisions(divisions):
                if divisions.denominator != 1 or divisions <= 0:
                    limit = "a whole number, 1 or more"
                    raise OutOfRange("divisions of the dial", _figures(divisions), limit)
                return replace(was, divisions=int(divisions))
            case r.DialIs(reads):
                return replace(was, reads=reads)
            case r.Backlash(slack):
                return self._slack(was, slack.length(self.unit))
            case r.BacklashDivisions(divisions):
                return self._slack(was, was.pitch * float(divisions / was.divisions))
        raise TypeError(f"{fact!r} states nothing of a screw")

    def _with_screw_fact(self, fact: Fact) -> "Job":
        turned, slack = self._screw(fact), self.head.backlash_divisions
        if isinstance(fact, r.Backlash | r.BacklashDivisions):
            slack = fact.divisions if isinstance(fact, r.BacklashDivisions) else None
        elif slack is not None:
            # Backlash told in divisions is so many of whatever screw it turns out to be.
            turned = self._slack(turned, turned.pitch * float(slack / turned.divisions))
        told = self.head.told | _TOLD_BY.get(type(fact), frozenset())
        return self._with_screw(turned)._with_head(told=told, backlash_divisions=slack)

    def _slack(self, turned: Screw, slack: Length) -> Screw:
        return replace(turned, backlash=_at_most("backlash", slack, MOST_BACKLASH))

    def _positive(self, name: str, measure: Measure) -> Length:
        length = measure.length(self.unit)
        if length.mm <= 0:
            raise OutOfRange(name, _figures(measure.value), "more than 0")
        return length

    def _with_length(self, **stated: Length) -> "Job":
        known: dict[str, Any] = dict.fromkeys(("between_balls", "over_balls", "work_length"))
        return replace(self, **(known | stated), next_length_awaited=False)

    def _with_hole(self, **changed: Any) -> "Job":
        job = replace(self, **changed)
        if job.mouth is not None and job.pilot is not None:
            CentreHole(job.pilot, job.mouth)  # refuses a mouth no wider than its pilot
        return job

    def _with_head(self, **changed: Any) -> "Job":
        return replace(self, head=replace(self.head, **changed))

    def _with_screw(self, new: Screw) -> "Job":
        """Return the job with another screw: its slide as many turns from zero as before."""
        turned = screw.turns(self.head.screw, self.position.slide)
        slide = screw.travel(new, turned)
        changed = replace(self, position=Position(slide, slide), cuts=())
        return changed._with_head(screw=new, per_turn=None)

    def _on_side(self, changed: "Job") -> "Job":
        """Return the changed job with the slide counted outwards to its own side."""
        if changed.side is self.side:
            return changed
        seen = self.position
        if self.at_zero:
            position = screw.zeroed(self.head.screw)
        else:
            # Outwards was inwards: the slack lies the other way round.
            position = Position(-(seen.handle + self.head.screw.backlash), -seen.slide)
        return replace(changed, position=position, cuts=())


SCREW_FACTS = (
    r.ScrewPitch,
    r.ThreadsPerInch,
    r.Divisions,
    r.DialIs,
    r.Backlash,
    r.BacklashDivisions,
)

_TOLD_BY: dict[type[Fact], frozenset[str]] = {
    r.ScrewPitch: frozenset({"pitch"}),
    r.ThreadsPerInch: frozenset({"pitch"}),
    r.Divisions: frozenset({"divisions"}),
}

TAPERS = (
    r.TaperByRatio,
    r.TaperPerFoot,
    r.TaperByHalfAngle,
    r.TaperByIncludedAngle,
    r.TaperByDiameters,
    r.TaperByName,
)


def _at_most(name: str, length: Length, most: Length) -> Length:
    if length > most:
        raise OutOfRange(name, f"{length.mm:.4g} mm", f"{most.mm:g} mm or less")
    return length


def _figures(value: Fraction) -> str:
    return f"{float(value):g}"
