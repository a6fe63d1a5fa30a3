"""Facts stated: taken at once and read back, or asked about where they may mean two things."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from assistant.dialogue import wording
from assistant.dialogue.job import Job
from assistant.dialogue.replies import ask, read_back_sentence, settle
from assistant.dialogue.state import (
    ASKING,
    HEAD_QUESTIONS,
    Mode,
    State,
    Step,
    answered,
    missing,
)
from assistant.errors import BenchError, NotUnderstood, OutOfRange
from assistant.language import requests as r
from assistant.language.requests import AngleIs, Fact, Measure, Request, Unit

# What a length can sensibly be, in millimetres: a number without a unit that is outside, and
# would be inside in the other unit, is asked about. Common practice, no source.
_BALLS_APART, _DIAMETER = (15.0, 1500.0), (1.0, 300.0)
_BALL, _ALONG = (1.5, 40.0), (2.0, 600.0)
SENSIBLE: dict[type[Request], dict[str, tuple[float, float]]] = {
    r.BetweenBalls: {"length": _BALLS_APART},
    r.OverBalls: {"reading": _BALLS_APART, "ball": _BALL},
    r.WorkLength: {"length": _BALLS_APART},
    r.NextPart: {"length": _BALLS_APART},
    r.BallDiameter: {"diameter": _BALL},
    r.Mouth: {"diameter": (1.0, 50.0)},
    r.Pilot: {"diameter": (0.3, 25.0)},
    r.WorkDiameter: {"diameter": (2.0, 300.0)},
    r.ScrewPitch: {"pitch": (0.1, 6.0)},
    r.HeadTravel: {"travel": (1.0, 60.0)},
    r.Backlash: {"travel": (0.0, 2.0)},
    r.TaperByDiameters: {"large": _DIAMETER, "small": _DIAMETER, "apart": _ALONG},
    r.Measured: {"large": _DIAMETER, "small": _DIAMETER, "apart": _ALONG},
    r.TookCut: {"depth": (0.001, 5.0)},
    r.StandsOff: {"distance": (0.005, 60.0)},
}


def meanings_here(state: State, request: Request) -> tuple[Request, ...]:
    """Return what a request may mean here: unclear units made clear, the impossible left out.

    Raises:
        BenchError: It can mean nothing here; why not, for the first of its meanings.
    """
    if isinstance(request, r.Unsure):
        return (request,)
    said = request.meanings if isinstance(request, r.Either) else (request,)
    cleared = [one for each in said for one in r.clear_meanings(each, state.job.unit)]
    meant = tuple(dict.fromkeys(_as_facts(state, one) for one in cleared))
    # "The length is one sixty" is the length that was asked for.
    asked = tuple(one for one in meant if type(one) is ASKING[state.waiting].bare)
    if len(asked) == 1:
        return asked
    return meant if len(meant) == 1 else _possible(state.job, meant)


def _as_facts(state: State, request: Request) -> Request:
    """Return a number that stands alone as the fact that it states where it was said."""
    match request:
        case r.Bare(measure) if state.choices:
            return _chosen_by(state, measure)
        case r.Bare(measure):
            bare = ASKING[state.mode].bare
            if bare is None:
                raise NotUnderstood("a number that nothing asked for")
            return _as_facts(state, bare(measure))
        # "Pitch, or threads per inch?" Of no pitch there are so many millimetres, nor inches.
        case r.ScrewPitch(Measure(count, None)) if (
            state.waiting is Mode.ASKING_PITCH and count > SENSIBLE[r.ScrewPitch]["pitch"][1]
        ):
            return r.ThreadsPerInch(count)
        # What was asked about was not taken: it is said anew, and nothing is struck out.
        case r.No(Measure() as measure) if state.choices:
            return _corrected(state.choices[0], measure)
        case r.No(tuple() as facts) if state.choices:
            return facts[0] if len(facts) == 1 else r.Facts(facts)
        case r.No(Measure() as measure):
            return r.No((_corrected(state.latest, measure),))
    return request


def _chosen_by(state: State, measure: Measure) -> Request:
    """Return what a number alone means while a choice is open: its place, or the value anew."""
    again = _stated_again(state, r.Bare(measure))
    places = range(1, len(state.choices) + 1) if len(state.choices) > 1 else range(0)
    if measure.unit is not None and measure.value == 1 and not again:
        return r.ChoiceOfUnit(measure.unit)  # a thou, of so many thou or so many millimetres
    if measure.unit is None and measure.value in places:
        again |= {int(measure.value)}
    if len(again) > 1:
        raise NotUnderstood("")  # two, of two or three millimetres
    return r.Choice(*again) if again else _corrected(state.choices[0], measure)


def _stated_again(state: State, request: Request) -> set[int]:
    """Return the places of the open choices that a request states once more."""
    found = set()
    for place, choice in enumerate(state.choices, 1):
        try:
            same = _corrected(choice, request.measure) if isinstance(request, r.Bare) else request
        except NotUnderstood:
            continue
        if _with_units(same, state.job.unit) == _with_units(choice, state.job.unit):
            found.add(place)
    return found


def _with_units(request: Request, unit: Unit) -> Request:
    changed: Request = r.with_measures(request, lambda each: replace(each, unit=each.unit or unit))
    return changed


def _corrected(wrong: Request | None, measure: Measure) -> Fact:
    """Return the fact taken last with the number that was meant."""
    match wrong:
        case r.OverBalls():
            return r.OverBalls(measure, wrong.ball)
        case (
            r.BetweenBalls()
            | r.BallDiameter()
            | r.WorkLength()
            | r.Mouth()
            | r.Pilot()
            | r.WorkDiameter()
            | r.ScrewPitch()
            | r.Backlash()
            | r.HeadTravel()
            | r.TaperPerFoot()
        ):
            return type(wrong)(measure)
        case r.Divisions() | r.ThreadsPerInch() | r.RunningAt() | r.BacklashDivisions():
            return type(wrong)(measure.value)
        case r.NextPart():
            return r.BetweenBalls(measure)
    raise NotUnderstood("a number alone in place of that")


def _facts_in(request: Request) -> tuple[Fact, ...]:
    """Return the facts a request states outright."""
    match request:
        case r.Facts(facts):
            return facts
        case r.No(tuple() as instead):
            return instead
    return (request,) if isinstance(request, r.PLAIN_FACTS) else ()


def _possible(job: Job, meanings: tuple[Request, ...]) -> tuple[Request, ...]:
    kept = []
    refusals: list[BenchError] = []
    for meaning in meanings:
        try:
            job.with_facts(*_facts_in(meaning))
        except BenchError as refusal:
            refusals.append(refusal)
        else:
            kept.append(meaning)
    likely = [meaning for meaning in kept if _sensible(meaning, job.unit)]
    if not kept:
        raise refusals[0]
    return tuple(likely or kept)


def other_unit(job: Job, request: Request) -> Request | None:
    """Return a request in the unit that its numbers make sense in, if not in the job's."""
    if _fits(job, request, job.unit):
        return None
    other = Unit.MILLIMETRE if job.unit is Unit.INCH else Unit.INCH
    changed: Request = r.with_measures(
        request, lambda measure: replace(measure, unit=measure.unit or other)
    )
    return changed if changed != request and _fits(job, changed, other) else None


def _fits(job: Job, request: Request, unit: Unit) -> bool:
    """Return whether numbers are of a sensible size, and within the head's reach."""
    if not _sensible(request, unit):
        return False
    try:
        job.with_facts(*_facts_in(request))
    except OutOfRange as refusal:
        return refusal.name != "set-over"
    except BenchError:
        return True
    return True


def _sensible(request: Request, unit: Unit) -> bool:
    for stated in _facts_in(request) or (request,):
        for name, (least, most) in SENSIBLE.get(type(stated), {}).items():
            measure = getattr(stated, name)
            # Nothing and less than nothing are refused by name, not taken for another unit.
            if measure is None or measure.value <= 0:
                continue
            if not least <= measure.length(unit).mm <= most:
                return False
    return True


def state_facts(
    state: State, *facts: Fact, before: State | None = None, latest: Request | None = None
) -> Step:
    """Take facts, read them back, and go on to what is wanted.

    `before` is the state that undo goes back to, and `latest` the request that made the facts.
    """
    done = latest or (facts[0] if len(facts) == 1 else r.Facts(facts))
    job = state.job.with_facts(*facts)
    to_ask = answered(state.to_ask, facts)
    if state.to_ask and not to_ask:
        job = replace(job, head=replace(job.head, confirmed=True))
    stated = replace(
        (before or state).stepped(done, job, without=state),
        to_ask=to_ask,
        wanted=state.wanted,
    )
    words = read_back_sentence(r.Facts(facts), state)
    if isinstance(done, r.NextPart):
        words = f"{wording.NEXT_PART} {words}"
    if state.to_ask and not stated.to_ask:
        words = f"{words} {wording.head_known_words(job.head, job.unit)}"
    running = next((fact for fact in facts if isinstance(fact, r.RunningAt)), None)
    if running is not None:
        words = f"{words} {wording.above_cap_words(job)}".strip()
    asks_for_ball = missing(job, stated.wanted) is Mode.ASKING_BALL  # and says why
    sits = job.misfit is None or not any(isinstance(fact, _SEAT_FACTS) for fact in facts)
    if not sits and not asks_for_ball:
        words = f"{words} {wording.spoken(str(job.misfit))}"
    angle = next((fact for fact in facts[::-1] if isinstance(fact, r.TaperByAngle)), None)
    if angle is not None:
        return ask(replace(stated, mode=Mode.ASKING_ANGLE_KIND, angle=angle), words)
    return settle(stated, words)


_SEAT_FACTS = (r.BallDiameter, r.Mouth, r.Pilot)


def _angle_kind(state: State, request: r.AngleKind) -> Step:
    if state.angle is None:
        raise NotUnderstood(request.kind)
    form = r.TaperByHalfAngle if request.kind is AngleIs.HALF else r.TaperByIncludedAngle
    return state_facts(state, form(state.angle.degrees))


def ask_which(state: State, choices: tuple[Request, ...]) -> Step:
    """Ask which of two things was meant; nothing is taken until it is said."""
    asking = replace(state, mode=Mode.ASKING_WHICH, choices=choices[:2], resume=_resumed(state))
    return ask(asking, "")


def ask_whether(state: State, meant: Request) -> Step:
    """Ask whether a number was meant in the other unit; nothing is taken until it is said."""
    asking = replace(state, mode=Mode.ASKING_WHETHER, choices=(meant,), resume=_resumed(state))
    return ask(asking, "")


def ask_whether_heard(state: State, choices: Sequence[Request]) -> Step:
    """Ask about what may have been misheard."""
    meant = tuple(dict.fromkeys(other_unit(state.job, one) or one for one in choices))
    return ask_which(state, meant) if len(meant) > 1 else ask_whether(state, meant[0])


def doubted(state: State, doubt: r.Unsure) -> Request:
    """Return what words that may have been misheard come to: a question about them.

    While a question between two is open there is no other: what repeats one of its choices is
    taken, for twice the same is hardly misheard. An answer is not asked about either: "did you
    mean yes" would be answered as badly; the question stays open instead.

    Raises:
        NotUnderstood: Nothing is repeated, or both choices are; or it may be an answer.
    """
    if state.mode in ONE_OF_TWO:
        again = {place for one in doubt.readings for place in _stated_again(state, one)}
        if len(again) == 1:
            return r.Choice(*again)
    elif not any(isinstance(reading, ANSWERS) for reading in doubt.readings):
        return doubt
    raise NotUnderstood("")


ONE_OF_TWO = (Mode.ASKING_WHICH, Mode.ASKING_WHETHER, Mode.ASKING_ANGLE_KIND)
ANSWERS = (r.Yes, r.No, r.AngleKind, r.Choice, r.ChoiceOfUnit, r.Cancel, r.Listen)


def _resumed(state: State) -> Mode:
    """Return the mode to go back to, asked twice or once; an angle is not asked about again."""
    if state.choices:
        return state.resume
    return Mode.READY if state.mode is Mode.ASKING_ANGLE_KIND else state.mode


def _set_up_head(state: State, request: r.SetUpHead) -> Step:
    return settle(replace(state.stepped(request, state.job), to_ask=HEAD_QUESTIONS))


REQUESTS: dict[type[Request], Callable[[State, Any], Step]] = {
    r.Facts: lambda state, request: state_facts(state, *request.facts),
    r.AngleKind: _angle_kind,
    r.SetUpHead: _set_up_head,
} | dict.fromkeys((*r.PLAIN_FACTS, r.TaperByAngle), state_facts)
