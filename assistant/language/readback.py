"""What was meant, said back: numbers digit by digit, so that a wrong one is heard at once."""

from fractions import Fraction

from assistant.calc.trueing import Contact
from assistant.language import requests as r
from assistant.language.phrasing import (
    UNIT_WORDS,
    counted,
    digit_by_digit,
    exact_words,
    material_words,
    number_words,
    plural,
    size_words,
    trimmed,
)
from assistant.language.requests import Measure, Question, Request, Unit

_UNIT_WORDS = UNIT_WORDS | {
    Unit.THOU: "thou",
    Unit.MICRON: "micron",
    Unit.MIL: "mil",
    Unit.TENTH: "tenth",
}


def read_back(request: Request, unit: Unit) -> str:
    """Return a request in words; `unit` goes with the numbers that were said without one."""
    match request:
        case r.TaperByRatio(rise, run):
            return f"{exact_words(rise)} in {exact_words(run)}"
        case r.TaperPerFoot(change):
            return f"{_measure(change, Unit.INCH)} per foot"
        case r.TaperByHalfAngle(degrees):
            return f"half angle {_degrees(degrees)}"
        case r.TaperByIncludedAngle(degrees):
            return f"included angle {_degrees(degrees)}"
        case r.TaperByAngle(degrees):
            return f"angle {_degrees(degrees)}"
        case r.TaperByDiameters(large, small, apart):
            return (
                f"large end {_measure(large, unit)}, small end {_measure(small, unit)}, "
                f"over {_measure(apart, unit)}"
            )
        case r.TaperByName(system, size):
            return f"{system} {size_words(size)}"
        case r.BetweenBalls(length):
            return f"between balls {_measure(length, unit)}"
        case r.OverBalls(reading, None):
            return f"over balls {_measure(reading, unit)}"
        case r.OverBalls(reading, Measure() as ball):
            return f"over balls {_measure(reading, unit)}, with {_as_size(ball, unit)} balls"
        case r.BallDiameter(diameter):
            return f"ball diameter {_measure(diameter, unit)}"
        case r.WorkLength(length):
            return f"work length {_measure(length, unit)}"
        case r.Mouth(diameter):
            return f"mouth {_measure(diameter, unit)}"
        case r.Pilot(diameter):
            return f"pilot {_measure(diameter, unit)}"
        case r.WorkDiameter(diameter):
            return f"work diameter {_measure(diameter, unit)}"
        case r.MaterialIs(name):
            return material_words(name)
        case r.ToolIs(tool):
            return f"{tool} tool"
        case r.RunningAt(rpm):
            return f"running at {exact_words(rpm)} turns a minute"
        case r.WithinAngle(degrees):
            return f"within {_degrees(degrees)}"
        case r.TookCut(depth):
            return f"cut of {_measure(depth, unit)}"
        case r.Measured(large, small, apart):
            sizes = f"{_measure(large, unit)} and {_measure(small, unit)}"
            return f"measured {sizes}, {_measure(apart, unit)} apart"
        case r.IndicatorMoved(change, over):
            return f"indicator moved {_measure(change, unit)} over {_measure(over, unit)}"
        case r.BlueAt(Contact.WHOLE_LENGTH):
            return "blue all along"
        case r.BlueAt(contact):
            return f"blue at the {contact}"
        case r.StandsOff(distance):
            return f"gauge stands off {_measure(distance, unit)}"
        case r.BallIs(warmth):
            return f"ball {warmth}"
        case r.NextPart(Measure() as length):
            return f"next part, {_measure(length, unit)}"
        case r.RepeatJob(number):
            return f"job {counted(number)} again"
        case r.Bare(measure) | r.No(Measure() as measure):
            return _measure(measure, unit)
        case r.Facts(facts) | r.No(tuple() as facts):
            return "; ".join(read_back(fact, unit) for fact in facts)
        case r.Either(meanings) | r.Unsure(meanings):
            return " or ".join(read_back(meaning, unit) for meaning in meanings)
        case r.Undo(steps):
            return f"undo {counted(steps)}"
        case r.AngleKind(kind):
            return str(kind)
        case r.Correct(topic):
            return f"correct the {topic}"
        case r.ChangeVoice(change):
            return f"{change} replies"
        case r.Choice(number):
            return f"choice {counted(number)}"
        case r.Ask(question):
            return QUESTIONS[question]
        case r.ChoiceOfUnit(chosen):
            return _UNIT_WORDS[chosen]
    return _of_head(request, unit) or PLAIN_WORDS[type(request)]


def _of_head(request: Request, unit: Unit) -> str:
    """Return what states something of the head in words; nothing for any other request."""
    match request:
        case r.ScrewPitch(pitch):
            return f"screw pitch {_measure(pitch, unit)}"
        case r.ThreadsPerInch(threads):
            return f"{exact_words(threads)} threads per inch"
        case r.Divisions(divisions):
            return f"{exact_words(divisions)} divisions"
        case r.DialIs(reads):
            return f"dial reads {reads}"
        case r.Backlash(travel) if travel.value == 0:
            return "no backlash"
        case r.Backlash(travel):
            return f"backlash {_measure(travel, unit)}"
        case r.BacklashDivisions(divisions):
            return f"backlash {exact_words(divisions)} divisions"
        case r.HeadTravel(travel):
            return f"head travel {_measure(travel, unit)}"
        case r.ToolPostAt(tool_post):
            return f"tool post at the {tool_post}"
        case r.SmallEnd(end):
            return f"small end at the {end}"
        case r.Units(chosen):
            return "inches" if chosen is Unit.INCH else "millimetres"
    return ""


QUESTIONS: dict[Question, str] = {
    Question.SET_OVER: "the set-over",
    Question.TURNS: "how many turns",
    Question.SIDE: "which way",
    Question.AGAIN: "say again",
    Question.STATUS: "where are we",
    Question.NEXT: "what next",
    Question.WHY: "why",
    Question.HELP: "help",
    Question.CORRECTION: "the correction",
    Question.SPEED: "what speed",
    Question.FIT: "does the ball fit",
    Question.SCREW: "what screw",
    Question.DUE: "what is due",
    Question.CAUTIONS: "the cautions",
}

PLAIN_WORDS: dict[type[Request], str] = {
    r.No: "the last no",
    r.Yes: "yes",
    r.Cancel: "cancel",
    r.SetUpHead: "setting up the head",
    r.HeadSet: "head set",
    r.HeadAtZero: "head at zero",
    r.SpindleStarted: "spindle started",
    r.SpindleStopped: "spindle stopped",
    r.Oiled: "oiled",
    r.Eased: "eased",
    r.PutOff: "put off",
    r.NewJob: "new job",
    r.NextPart: "next part",
    r.FinishJob: "job finished",
    r.StopListening: "stop listening",
    r.Listen: "listen",
    r.RunSoFar: "time gone by",
}


def _measure(measure: Measure, job_unit: Unit) -> str:
    figures = trimmed(measure.value, 6)
    return f"{digit_by_digit(figures)} {plural(_UNIT_WORDS[measure.unit or job_unit], figures)}"


def _as_size(measure: Measure, job_unit: Unit) -> str:
    """Return a measure as it stands before what has it: ten millimetre balls."""
    return f"{digit_by_digit(trimmed(measure.value, 6))} {_UNIT_WORDS[measure.unit or job_unit]}"


def _degrees(degrees: Fraction) -> str:
    whole, part = divmod(degrees, 1)
    said = [f"{counted(whole)} {plural('degree', str(whole))}"] if whole or not part else []
    if part:
        minutes = trimmed(part * 60, 3)
        said.append(f"{number_words(minutes)} {plural('minute', minutes)}")
    return " ".join(said)
