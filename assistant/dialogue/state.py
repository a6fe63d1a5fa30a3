"""What the conversation knows between two events, and what it can be waiting for.

The modes: `ready`; `asking ...` while an answer is awaited; `keying` while a number or a
function is half keyed. A fact may be given in any mode, asked for or not, and every other
request works in every mode: a question is never a trap.
"""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from assistant.dialogue import keypad
from assistant.dialogue.job import TAPERS, Job
from assistant.dialogue.keypad import Entry
from assistant.dialogue.reminders import Due, Nagging, Run, due
from assistant.dialogue.wording import NO_REPLY_YET, Reply
from assistant.events import Action, Key
from assistant.language import requests as r
from assistant.language.listening import Context
from assistant.language.requests import Fact, Measure, Question, Request


class Mode(StrEnum):
    """What the assistant is waiting for."""

    READY = "ready"
    ASKING_TAPER = "asking for the taper"
    ASKING_LENGTH = "asking for the length"
    ASKING_OVER_BALLS = "asking for the reading over the balls"
    ASKING_WORK_LENGTH = "asking for the work's length"
    ASKING_BALL = "asking for the ball diameter"
    ASKING_MOUTH = "asking for the mouth of the centre holes"
    ASKING_MATERIAL = "asking for the material"
    ASKING_WORK_DIAMETER = "asking for the work diameter"
    ASKING_HEAD = "asking whether the head is right"
    ASKING_PITCH = "asking for the screw pitch"
    ASKING_DIVISIONS = "asking for the divisions"
    ASKING_DIAL = "asking what the dial reads"
    ASKING_BACKLASH = "asking for the backlash"
    ASKING_TRAVEL = "asking for the head's travel"
    ASKING_TOOL_POST = "asking which tool post"
    ASKING_ANGLE_KIND = "asking which angle"
    ASKING_WHICH = "asking which of two was meant"
    ASKING_WHETHER = "asking whether it was meant so"
    KEYING = "keying"


@dataclass(frozen=True, slots=True)
class Asking:
    """What goes with a mode that asks.

    `question` and `prompt` are said and shown; `context` is listened for; `keyed` is the
    function a digit begins and `keys` what single keys answer; `bare` makes the fact that a
    number alone states; `answers` are the facts that end the asking; `examples` names the
    grammar file that help quotes.
    """

    question: str = ""
    prompt: str = ""
    context: Context = Context.READY
    keyed: str | None = None
    keys: Mapping[Key, Request] = field(default_factory=lambda: keypad.PLAIN_ANSWERS)
    bare: Callable[[Measure], Fact] | None = None
    answers: tuple[type[Fact], ...] = ()
    examples: str = "question"


LENGTHS = (r.BetweenBalls, r.OverBalls, r.WorkLength)


def _measure(
    question: str,
    prompt: str,
    keyed: str,
    bare: Callable[[Measure], Fact],
    answers: tuple[type[Fact], ...],
    examples: str = "length",
) -> Asking:
    """Return the asking for a number."""
    return Asking(
        question,
        prompt,
        Context.ASKED_MEASURE,
        keyed,
        bare=bare,
        answers=answers,
        examples=examples,
    )


ASKING: dict[Mode, Asking] = {
    Mode.READY: Asking(),
    Mode.ASKING_TAPER: Asking("What is the taper?", "Taper?", answers=TAPERS, examples="taper"),
    Mode.ASKING_LENGTH: _measure(
        "What length between the balls?",
        "Length?",
        "B1",
        r.BetweenBalls,
        LENGTHS,
        "ball_length",
    ),
    Mode.ASKING_OVER_BALLS: _measure(
        "What reading over the balls?", "Over balls?", "B2", r.OverBalls, LENGTHS, "ball_length"
    ),
    Mode.ASKING_WORK_LENGTH: _measure(
        "How long is the work?", "Work length?", "B4", r.WorkLength, LENGTHS, "ball_length"
    ),
    Mode.ASKING_BALL: _measure(
        "What ball diameter?", "Ball diameter?", "B3", r.BallDiameter, (r.BallDiameter,)
    ),
    Mode.ASKING_MOUTH: _measure(
        "What is the mouth of the centre holes?", "Mouth?", "B5", r.Mouth, (r.Mouth,)
    ),
    Mode.ASKING_MATERIAL: Asking(
        "What is the work made of?",
        "Material?",
        keyed="BA1",
        answers=(r.MaterialIs,),
        examples="work",
    ),
    Mode.ASKING_WORK_DIAMETER: _measure(
        "What diameter is being cut?", "Diameter?", "B7", r.WorkDiameter, (r.WorkDiameter,)
    ),
    Mode.ASKING_HEAD: Asking("Is that your head?", "# yes  * no", Context.ASKED_YES_NO),
    Mode.ASKING_PITCH: _measure(
        "What is its screw's pitch, or threads per inch?",
        "Screw pitch?",
        "D6",
        r.ScrewPitch,
        (r.ScrewPitch, r.ThreadsPerInch),
        "head",
    ),
    Mode.ASKING_DIVISIONS: _measure(
        "How many divisions on its dial?",
        "Divisions?",
        "D8",
        lambda measure: r.Divisions(measure.value),
        (r.Divisions,),
        "head",
    ),
    Mode.ASKING_DIAL: Asking(
        "Does its dial read travel or diameter?",
        "1 travel  2 diameter",
        Context.ASKED_DIAL,
        keys=keypad.DIAL_ANSWERS,
        answers=(r.DialIs,),
        examples="head",
    ),
    Mode.ASKING_BACKLASH: Asking(
        "How much backlash?",
        "Backlash?",
        Context.ASKED_BACKLASH,
        "DA1",
        bare=r.Backlash,
        answers=(r.Backlash, r.BacklashDivisions),
        examples="head",
    ),
    Mode.ASKING_TRAVEL: _measure(
        "How far does it go to one side?",
        "Head travel?",
        "DA3",
        r.HeadTravel,
        (r.HeadTravel,),
        "head",
    ),
    Mode.ASKING_TOOL_POST: Asking(
        "Is the tool post at the front or the rear?",
        "1 front  2 rear",
        Context.ASKED_TOOL_POST,
        keys=keypad.TOOL_POST_ANSWERS,
        answers=(r.ToolPostAt,),
        examples="head",
    ),
    Mode.ASKING_ANGLE_KIND: Asking(
        "Is that the half angle or the included angle?",
        "1 half  2 included",
        Context.ASKED_ANGLE_KIND,
        keys=keypad.ANGLE_ANSWERS,
        examples="taper",
    ),
    Mode.ASKING_WHICH: Asking("Which?", "1 or 2?", Context.ASKED_WHICH, keys=keypad.WHICH_ANSWERS),
    Mode.ASKING_WHETHER: Asking("", "# yes  * no", Context.ASKED_WHETHER),
}

# Asked in this order when the head is gone through.
HEAD_QUESTIONS = (
    Mode.ASKING_PITCH,
    Mode.ASKING_DIVISIONS,
    Mode.ASKING_DIAL,
    Mode.ASKING_BACKLASH,
    Mode.ASKING_TRAVEL,
    Mode.ASKING_TOOL_POST,
)


@dataclass(frozen=True, slots=True)
class Need:
    """Something that some questions cannot be answered without, and the mode that asks for it."""

    mode: Mode
    questions: tuple[Question, ...]
    lacks: Callable[[Job], bool]


WHERE_THE_BALL_GOES = (
    Question.SET_OVER,
    Question.TURNS,
    Question.SIDE,
    Question.WHY,
    Question.FIT,
)

# In the order they are asked for. What goes with a reading comes first: it was given this moment.
NEEDS = (
    Need(Mode.ASKING_MATERIAL, (Question.SPEED,), lambda job: job.material is None),
    Need(Mode.ASKING_WORK_DIAMETER, (Question.SPEED,), lambda job: job.work_diameter is None),
    Need(
        Mode.ASKING_BALL,
        WHERE_THE_BALL_GOES,
        lambda job: job.ball is None and (job.over_balls or job.work_length) is not None,
    ),
    Need(
        Mode.ASKING_MOUTH,
        WHERE_THE_BALL_GOES,
        lambda job: job.mouth is None and job.work_length is not None,
    ),
    Need(Mode.ASKING_TAPER, WHERE_THE_BALL_GOES, lambda job: job.taper is None),
    # The next part is measured as the last one was.
    Need(
        Mode.ASKING_OVER_BALLS,
        WHERE_THE_BALL_GOES,
        lambda job: job.next_length_awaited and job.over_balls is not None,
    ),
    Need(
        Mode.ASKING_WORK_LENGTH,
        WHERE_THE_BALL_GOES,
        lambda job: job.next_length_awaited and job.work_length is not None,
    ),
    # The balls do not sit in the holes.
    Need(
        Mode.ASKING_BALL,
        WHERE_THE_BALL_GOES,
        lambda job: job.ball_length is None and job.work_length is not None,
    ),
    Need(Mode.ASKING_LENGTH, WHERE_THE_BALL_GOES, lambda job: job.ball_length is None),
)


def missing(job: Job, wanted: Question) -> Mode | None:
    """Return the mode that asks for the first thing an answer lacks; None when all is known."""
    needs = (need for need in NEEDS if wanted in need.questions)
    return next((need.mode for need in needs if need.lacks(job)), None)


@dataclass(frozen=True, slots=True)
class Sound:
    """How replies sound, and how much they say."""

    loudness: float = 1.0
    muted: bool = False
    full: bool = False


@dataclass(frozen=True, slots=True)
class State:
    """Everything the conversation knows between two events."""

    job: Job
    mode: Mode = Mode.ASKING_TAPER
    # What was done last, which "no" contradicts.
    latest: Request | None = None
    # The step that undo takes back.
    step_done: Request | None = None
    # The question to answer once the missing facts are in.
    wanted: Question = Question.SET_OVER
    # Questions of the head yet to be asked, the present one first.
    to_ask: tuple[Mode, ...] = ()
    # An angle whose kind is being asked for; two meanings, or one or its other unit, asked about.
    angle: r.TaperByAngle | None = None
    choices: tuple[Request, ...] = ()
    # The mode to go back to when neither was meant.
    resume: Mode = Mode.READY
    book: tuple[Job, ...] = ()
    sound: Sound = field(default_factory=Sound)
    listening: bool = True
    entry: Entry | None = None
    # The mode to go back to when keying ends.
    mode_before_keying: Mode = Mode.READY
    reply: Reply = NO_REPLY_YET
    # How often in a row nothing was understood.
    misses: int = 0
    run: Run = field(default_factory=Run)
    # The run as the journal has it.
    run_recorded: Run = field(default_factory=Run)
    nagging: Nagging = field(default_factory=Nagging)
    # The state before the latest step, for undo; and the one without it, for no.
    before: "State | None" = field(default=None, repr=False, compare=False)
    without_latest: "State | None" = field(default=None, repr=False, compare=False)

    @property
    def waiting(self) -> Mode:
        """The mode, or the one that keying will go back to."""
        return self.mode_before_keying if self.mode is Mode.KEYING else self.mode

    @property
    def context(self) -> Context:
        """What to listen for."""
        return ASKING[self.waiting].context if self.listening else Context.NOT_LISTENING

    @property
    def due(self) -> tuple[Due, ...]:
        """What is due."""
        return due(self.job.care, self.run, self.job.shop.intervals)

    def tidied(self) -> "State":
        """Return the state without what only goes with a mode that it has left."""
        choices = self.choices if self.mode in (Mode.ASKING_WHICH, Mode.ASKING_WHETHER) else ()
        angle = self.angle if self.mode is Mode.ASKING_ANGLE_KIND else None
        return replace(self, choices=choices, angle=angle)

    def stepped(self, done: Request, job: Job, without: "State | None" = None) -> "State":
        """Return the state once something was done that can be undone."""
        return replace(
            self,
            job=job,
            latest=done,
            step_done=done,
            before=self,
            without_latest=without or self,
        )

    def returned(self, present: "State") -> "State":
        """Return this former state as it comes back: the world went on, the talk did not."""
        return replace(
            self,
            entry=None,
            reply=present.reply,
            sound=present.sound,
            listening=present.listening,
            misses=0,
            run=present.run,
            run_recorded=present.run_recorded,
            nagging=present.nagging,
        )


@dataclass(frozen=True, slots=True)
class Step:
    """What an event led to."""

    state: State
    actions: tuple[Action, ...] = ()
    understood: Request | None = None


def answered(to_ask: Collection[Mode], facts: Collection[Fact]) -> tuple[Mode, ...]:
    """Return the questions still to be asked once some facts were stated."""
    kinds = {type(fact) for fact in facts}
    return tuple(mode for mode in to_ask if kinds.isdisjoint(ASKING[mode].answers))
