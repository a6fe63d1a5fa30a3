"""Jobs begun, finished, taken up again; and how the assistant itself behaves."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from assistant.dialogue import wording
from assistant.dialogue.facts import state_facts
from assistant.dialogue.job import Job
from assistant.dialogue.replies import ask, said, settle
from assistant.dialogue.screens import bench_lines, move_lines, on_screen
from assistant.dialogue.state import Mode, State, Step
from assistant.errors import NotYet, UnknownName
from assistant.language import requests as r
from assistant.language.requests import Question, Request, VoiceChange

LOUDER_BY = 0.25
QUIETEST = 0.25


def _begun(state: State, request: Request, job: Job) -> State:
    """Return the state with another job on the bench, warned of a head left set over."""
    care = job.care if job.at_zero else job.care.head_left_over()
    begun = state.stepped(request, replace(job, care=care))
    return replace(begun, mode=Mode.READY, wanted=Question.SET_OVER, to_ask=())


def _new_job(state: State, request: r.NewJob) -> Step:
    begun = _begun(state, request, state.job.afresh())
    return settle(begun, f"{wording.NEW_JOB} {wording.still_over_words(begun.job)}".strip())


def _repeat_job(state: State, request: r.RepeatJob) -> Step:
    if not state.book:
        raise NotYet("job kept", "finish one")
    if not 1 <= request.number <= len(state.book):
        known = [str(number) for number in range(1, len(state.book) + 1)]
        raise UnknownName("job", str(request.number), known)
    kept = state.book[request.number - 1]
    begun = _begun(state, request, kept.repeated(state.job))
    words = f"{wording.again_words(request.number)} {wording.still_over_words(begun.job)}"
    return settle(begun, words.strip())


def _next_part(state: State, request: r.NextPart) -> Step:
    job = state.job
    if job.taper is None or (job.ball_length is None and not job.next_length_awaited):
        raise NotYet("part", "give the taper and the length of this one")
    stepped = state.stepped(request, job.next_part(state.run))
    # The next part is measured as the last one was.
    stated, asking = _stated_as(job)
    part = replace(stepped, wanted=Question.SET_OVER if job.at_zero else Question.TURNS)
    if request.length is None:
        return ask(replace(part, mode=asking), wording.NEXT_PART)
    return state_facts(part, stated(request.length), before=state, latest=request)


def _stated_as(job: Job) -> tuple[Callable[..., Any], Mode]:
    if job.over_balls is not None:
        return r.OverBalls, Mode.ASKING_OVER_BALLS
    if job.work_length is not None:
        return r.WorkLength, Mode.ASKING_WORK_LENGTH
    return r.BetweenBalls, Mode.ASKING_LENGTH


def _finish_job(state: State, request: r.FinishJob) -> Step:
    job = state.job
    if job.answer is None:
        raise NotYet("job to keep", "give the taper and the length")
    kept = replace(job, number=len(state.book) + 1, cuts=job.settled_cuts)
    care = job.care if job.at_zero else job.care.head_left_over()
    done = replace(state.stepped(request, replace(job, care=care)), book=(*state.book, kept))
    lines = bench_lines(job) if job.at_zero else move_lines(job, job.moves_home)
    return said(done, wording.finished_words(kept), lines)


# How the assistant behaves


def _change_voice(state: State, request: r.ChangeVoice) -> Step:
    sound = state.sound
    match request.change:
        case VoiceChange.QUIETER:
            sound = replace(sound, loudness=max(sound.loudness - LOUDER_BY, QUIETEST))
        case VoiceChange.LOUDER:
            sound = replace(sound, muted=False, loudness=min(sound.loudness + LOUDER_BY, 1.0))
        case VoiceChange.MUTE:
            sound = replace(sound, muted=True)
        case VoiceChange.BRIEF | VoiceChange.FULL:
            sound = replace(sound, full=request.change is VoiceChange.FULL)
    words = wording.CHANGED_VOICE[request.change]
    return said(replace(state, sound=sound), words, on_screen(words))


def _stop_listening(state: State, request: r.StopListening) -> Step:
    words = wording.not_listening_words(state.job.shop.called)
    return said(replace(state, listening=False), words, on_screen(words))


def _listen(state: State, request: r.Listen) -> Step:
    return said(replace(state, listening=True), wording.LISTENING)


REQUESTS: dict[type[Request], Callable[[State, Any], Step]] = {
    r.NewJob: _new_job,
    r.NextPart: _next_part,
    r.RepeatJob: _repeat_job,
    r.FinishJob: _finish_job,
    r.ChangeVoice: _change_voice,
    r.StopListening: _stop_listening,
    r.Listen: _listen,
}
