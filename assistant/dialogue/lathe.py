"""What was done at the lathe: the head set, the spindle, cuts, measuring, gauging, care."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from assistant.calc import sizing, trueing
from assistant.calc.trueing import Finding, MeasuredLength, Plunger
from assistant.dialogue import wording
from assistant.dialogue.job import Job
from assistant.dialogue.reminders import Due
from assistant.dialogue.replies import said
from assistant.dialogue.screens import (
    STOP_FIRST,
    Lines,
    blue_lines,
    cut_noted,
    due_lines,
    infeed_lines,
    noted_lines,
    on_screen,
    trial_lines,
)
from assistant.dialogue.state import ASKING, State, Step
from assistant.errors import NotYet, OutOfRange
from assistant.language import requests as r
from assistant.language.requests import Measure, Request
from assistant.quantity import Length


def _hands_near(state: State, words: str) -> str:
    """Return words with the warning that goes before anything done by hand near the work."""
    return f"{wording.STILL_TURNING} {words}" if state.run.turning else words


def _done(state: State, request: Request, job: Job, words: str, lines: Lines) -> Step:
    return said(state.stepped(request, job), words, lines)


def _by_hand(state: State, request: Request, job: Job, words: str, noted: str) -> Step:
    """Note what was done near the work, said and shown with the warning that it wants."""
    first, *rest = _noted(state, job, noted)
    lines = (STOP_FIRST if state.run.turning else first, *rest)
    return _done(state, request, job, _hands_near(state, words), lines)


def _noted(state: State, job: Job, noted: str) -> Lines:
    return noted_lines(job, noted, ASKING[state.waiting].prompt)


# The head and the spindle


def _head_set(state: State, request: r.HeadSet) -> Step:
    job = state.job
    if job.answer is None:
        raise NotYet("set-over", "give the taper and the length")
    words = wording.HEAD_SET
    if not job.started:
        words = f"{words} {wording.BEFORE_STARTING}"
    done = replace(job.head_set(), care=job.care.head_home())
    return _by_hand(state, request, done, words, "Head set")


def _head_at_zero(state: State, request: r.HeadAtZero) -> Step:
    return _by_hand(state, request, state.job.head_at_zero(), wording.AT_ZERO, "Head at zero")


def _started(state: State, request: r.SpindleStarted) -> Step:
    """Note the spindle turning. It is no step: undo cannot stop a spindle."""
    first = not state.job.started
    job = replace(state.job, started=True)
    turning = replace(state, job=job, latest=request, run=replace(state.run, turning=True))
    above = wording.above_cap_words(job)
    words = f"{wording.RUNNING} {above}".strip()
    if first:
        words = f"{words} {wording.IF_IN_DOUBT}"
    noted = f"Over {job.shop.cap.rpm:.0f} a minute" if above else "Running"
    return said(turning, words, _noted(state, job, noted))


def _stopped(state: State, request: r.SpindleStopped) -> Step:
    still = replace(state, latest=request, run=replace(state.run, turning=False))
    words = wording.STOPPED
    if still.due:
        words = f"{words} {wording.reminder_words(still.due, turning=False)}"
        lines = due_lines(still.due, turning=False)
        return said(told_of_due(still, still.due), words, lines)
    return said(still, words, _noted(state, state.job, "Stopped"))


def told_of_due(state: State, due: tuple[Due, ...]) -> State:
    """Return the state once these were spoken of."""
    nagging = state.nagging.said(due, state.run, state.job.shop.intervals)
    return replace(state, nagging=nagging)


# Cutting and measuring


def _took_cut(state: State, request: r.TookCut) -> Step:
    job = state.job
    depth = _positive("depth of cut", request.depth, job)
    left = None if job.infeed is None else job.infeed - depth
    care = job.care.roughed() if depth > job.shop.finishing_cut else job.care
    cut = replace(job, infeed=left, care=care)
    words = wording.cut_words(cut, depth)
    if job.answer is not None and not job.cuts:
        words = f"{words} {wording.MEASURE_NEXT}"
    return _done(state, request, cut, words, _noted(state, cut, cut_noted(cut, depth)))


def _measured(state: State, request: r.Measured) -> Step:
    job = state.job
    _needs_answer(job)
    # The larger is the large end, in whichever order they were said.
    small, large = sorted(_positive("diameter", one, job) for one in (request.large, request.small))
    apart = _positive("distance apart", request.apart, job)
    finding = trueing.from_diameters(
        MeasuredLength(large, job.shop.diameter_standard),
        MeasuredLength(small, job.shop.diameter_standard),
        MeasuredLength(apart, job.shop.apart_standard),
    )
    return _found(state, request, finding, apart)


def _indicator_moved(state: State, request: r.IndicatorMoved) -> Step:
    job = state.job
    _needs_answer(job)
    change = _positive("change of the indicator", request.change, job)
    over = _positive("travel of the indicator", request.over, job)
    finding = trueing.from_indicator(
        MeasuredLength(change, job.shop.indicator_standard),
        MeasuredLength(over, job.shop.apart_standard),
        Plunger.SQUARE_TO_BED,
    )
    return _found(state, request, finding, over)


def _needs_answer(job: Job) -> None:
    if job.answer is None:
        raise NotYet("taper and length", "give both")


def _found(state: State, request: Request, finding: Finding, over: Length) -> Step:
    if finding.half_angle > state.job.head.steepest:
        limit = f"{state.job.head.steepest.degrees:g} degrees or less"
        raise OutOfRange("half angle", f"{finding.half_angle.degrees:.4g} degrees", limit)
    present = state.job
    assert present.taper is not None
    # A cone that steep was not cut with the head at zero: it was set and nobody said so.
    untold = present.at_zero and finding.half_angle > present.taper.half_angle * 0.5
    job = (present.head_set() if untold else present).measured(finding, over)
    _ = job.answer  # refuses a correction that the head does not reach
    trial = job.trial
    assert trial is not None
    words = _hands_near(state, wording.trial_words(job, trial))
    if untold:
        words = f"{words} {wording.TAKEN_AS_SET}"
    elif finding.half_angle <= present.taper.half_angle * 0.5:
        words = f"{wording.WAS_IT_SET} {words}"
    elif finding.half_angle >= present.taper.half_angle * 1.5:
        words = f"{wording.CHECK_FIGURES} {words}"
    odd = job.learnt is not None and not job.learnt_is_sound and job.learnt_tells
    if odd or job.per_turn != present.per_turn:
        words = f"{words} {wording.SCREW} {wording.learnt_words(job)}"
    return _done(state, request, job, words, trial_lines(job))


def _blue(state: State, request: r.BlueAt) -> Step:
    words = _hands_near(state, wording.blue_words(state.job, request.contact))
    return _done(state, request, state.job, words, blue_lines(state.job, request.contact))


def _stands_off(state: State, request: r.StandsOff) -> Step:
    job = state.job
    if job.taper is None:
        raise NotYet("taper", "say what it is")
    distance = _positive("stand-off of the gauge", request.distance, job)
    infeed = sizing.infeed_for_stand_off(job.taper, distance)
    passes = sizing.passes_left(infeed, job.shop.light_cut)
    cuts = passes.full + (passes.last.mm > 0)
    words = _hands_near(state, wording.infeed_words(job, infeed, cuts))
    lines = infeed_lines(infeed, cuts, job.unit)
    return _done(state, request, replace(job, infeed=infeed), words, lines)


def _positive(name: str, measure: Measure, job: Job) -> Length:
    length = measure.length(job.unit)
    if length.mm <= 0:
        raise OutOfRange(name, f"{float(measure.value):g}", "more than 0")
    return length


# Care


def _oiled(state: State, request: r.Oiled) -> Step:
    job = replace(state.job, care=state.job.care.oiled(state.run))
    return _by_hand(state, request, job, wording.OILED, "Oiled")


def _eased(state: State, request: r.Eased) -> Step:
    job = replace(state.job, care=state.job.care.eased(state.run))
    return _by_hand(state, request, job, wording.EASED, "Eased")


def _ball_is(state: State, request: r.BallIs) -> Step:
    care = state.job.care.felt(request.warmth, state.run, state.job.shop.intervals)
    if request.warmth is not r.Warmth.COOL:
        care = care.roughed()
    words = wording.BALL_FELT[request.warmth]
    felt = _done(state, request, replace(state.job, care=care), words, on_screen(words))
    # Said here: it needs no reminder at once.
    return replace(felt, state=told_of_due(felt.state, felt.state.due))


def _put_off(state: State, request: r.PutOff) -> Step:
    if not state.due:
        return said(state, wording.NOTHING_DUE, _noted(state, state.job, "Nothing is due"))
    nagging = state.nagging.put_off(state.due, state.run, state.job.shop.intervals)
    later = replace(state, nagging=nagging, latest=request)
    return said(later, wording.PUT_OFF, _noted(later, later.job, "Later"))


REQUESTS: dict[type[Request], Callable[[State, Any], Step]] = {
    r.HeadSet: _head_set,
    r.HeadAtZero: _head_at_zero,
    r.SpindleStarted: _started,
    r.SpindleStopped: _stopped,
    r.TookCut: _took_cut,
    r.Measured: _measured,
    r.IndicatorMoved: _indicator_moved,
    r.BlueAt: _blue,
    r.StandsOff: _stands_off,
    r.Oiled: _oiled,
    r.Eased: _eased,
    r.BallIs: _ball_is,
    r.PutOff: _put_off,
}
