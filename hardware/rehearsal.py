"""A whole job with no lathe: an operator's voice, shop noise, and a head set by the answers.

The job is invented. The operator is synthesised, mixed with noise, and heard by the real
recogniser; a misheard request is undone by key and said again, as a person would.
"""

import math
from collections.abc import Callable
from contextlib import ExitStack, closing
from pathlib import Path

import numpy as np

from assistant.dialogue import begin
from assistant.dialogue.job import Job
from assistant.dialogue.progress import Answer
from assistant.events import Heard, Hearing
from assistant.exchange import events_of, exchange
from assistant.language.listening import phrases, words_taken
from assistant.language.requests import Choice
from assistant.ports import Recogniser, Sound, Synthesiser
from hardware.recogniser import VoskRecogniser, hear_sound
from hardware.sound_files import write_sound
from hardware.sounds import at_rate
from hardware.voice import PyttsxSynthesiser

SCENARIO = (
    "one in twenty",
    "length between balls one hundred and sixty point five millimetres",
    "which way",
    "how many turns",
)
HALF_ANGLE = math.atan(1 / 40)  # what the operator wants: 1 in 20 on diameter
# A tenth of a division of the head's screw is 0.02 minutes here; a minute is scrap.
CLOSE_MINUTES = 0.1
TRIES = 3
# How far speech stands above the noise; a lathe idling some metres away, invented.
SPEECH_OVER_NOISE_DB = 20.0
RATE_HZ = 22_050
# A dial is read to a tenth of a division: half of that is what the answer may be off by.
READ_DIVISIONS = 1


def rehearse(job: Job, model: Path, sound_path: Path, tell: Callable[[str], None]) -> int:
    """Play the scenario; return 0 when the head ends where the taper needs it, else 1."""
    tell("A rehearsal: an invented job, a synthesised operator, a simulated head.\n")
    with ExitStack() as parts:
        operator = parts.enter_context(closing(PyttsxSynthesiser("en-us", 150)))
        assistant = parts.enter_context(closing(PyttsxSynthesiser("en-gb", 165)))
        recogniser = parts.enter_context(closing(VoskRecogniser(model)))
        job, played = _played(job, operator, assistant, recogniser, tell)
    samples = b"".join(at_rate(sound, RATE_HZ).samples for sound in played)
    write_sound(sound_path, Sound(RATE_HZ, samples))
    tell(f"Both voices are in {sound_path}.")
    if job.answer is None:
        tell("The job was not understood: no set-over.")
        return 1
    turned = half_angle_turned(job, job.answer)
    error_minutes = math.degrees(turned - HALF_ANGLE) * 60
    tell(f"Half angle turned {math.degrees(turned):.4f} degrees, {error_minutes:+.3f} minutes off.")
    return 0 if abs(error_minutes) < CLOSE_MINUTES else 1


def _played(
    job: Job,
    operator: Synthesiser,
    assistant: Synthesiser,
    recogniser: Recogniser,
    tell: Callable[[str], None],
) -> tuple[Job, list[Sound]]:
    """Return the job as it stands after the scenario, and all that was said."""
    rng = np.random.default_rng(1)
    state = begin(job).state
    tell(f"says  {state.reply.words}\n")
    played = [assistant.sound(state.reply.words)]
    for line in SCENARIO:
        wanted = exchange(state, [Heard(Hearing((line,)))])
        for _ in range(TRIES):
            spoken = in_the_shop(operator.sound(line), rng)
            recogniser.expect(phrases(state.context))
            hearing = hear_sound(recogniser, spoken)
            made = exchange(state, [Heard(hearing)], words_taken(hearing, state.context))
            tell(f"you   {line}\nheard {made.heard}\nsays  {made.say}")
            tell("".join(f"      | {shown:<20} |\n" for shown in made.show))
            played += [spoken, assistant.sound(made.say or "")]
            # What was asked about and then said again is taken by its choice.
            chosen = isinstance(made.understood, Choice) and made.state.job == wanted.state.job
            misheard = made.understood != wanted.understood and not chosen
            changed = made.state.job != state.job
            state = made.state
            if not misheard:
                break
            if changed:
                tell("keys  D 1\n")
                state = exchange(state, events_of("keys D 1")).state
    return state.job, played


def in_the_shop(sound: Sound, rng: np.random.Generator) -> Sound:
    """Return speech with a hum, its harmonics and a hiss under it."""
    speech = np.frombuffer(sound.samples, "<i2").astype(np.float64)
    seconds = np.arange(len(speech)) / sound.rate_hz
    hum = sum(np.sin(2 * np.pi * 50 * n * seconds + n) / n for n in range(1, 8))
    noise = hum + 0.5 * rng.standard_normal(len(speech))
    wanted = np.sqrt(np.mean(speech**2)) / 10 ** (SPEECH_OVER_NOISE_DB / 20)
    mixed = 0.8 * (speech + noise * wanted / np.sqrt(np.mean(noise**2)))
    return Sound(sound.rate_hz, np.clip(mixed, -32768, 32767).astype("<i2").tobytes())


def half_angle_turned(job: Job, answer: Answer) -> float:
    """Return the half angle, in radians, of work on a head set as the answer was read out.

    From the two ball centres as points, not from the core's sine.
    """
    whole, divisions = answer.turns.rounded(READ_DIVISIONS)
    screw = job.head.screw
    across = (whole + divisions / screw.divisions) * screw.pitch.mm
    assert job.ball_length is not None
    return math.atan2(across, math.sqrt(job.ball_length.mm**2 - across**2))
