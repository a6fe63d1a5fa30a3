"""How certain it is that something was meant, from the scores of all that may have been said.

A recogniser gives the likeliest words and others that fit the sound nearly as well. What
means the same is added up; what means something else, or nothing, speaks against it. The
listeners together are more often right where the first alone would have said the same, and where
the last would have written it.
"""

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

CALIBRATION = Path(__file__).parents[2] / "grammars" / "acoustic" / "certainty.toml"


@dataclass(frozen=True, slots=True)
class Evidence:
    """What speaks for one meaning and against it: weights of alternatives, the best weighs 1.

    `meant` is of those that mean it, more than 0; `other` of those that mean something else;
    `meaningless` of those that mean nothing here; `alone` whether it is a word alone; `agreed`
    whether the first of the listeners alone would have meant it too; `clearness` and `written`
    are the hearing's.
    """

    meant: float
    other: float
    meaningless: float
    alone: bool
    agreed: bool
    clearness: float
    written: float


def weight(score: float, best: float, scale: float) -> float:
    """Return what an alternative weighs beside the best one, from their scores."""
    return math.exp(scale * (score - best))


@dataclass(frozen=True, slots=True)
class Calibration:
    """The constants of certainty, fitted on recordings; CALIBRATION says on which.

    `act_from` and `ask_from` are the certainties from which a meaning is acted on, and asked
    about; `yes_from` and `stop_from` those from which a yes, and what only stops or strikes
    out, is acted on; `answer_from` that from which what is heard openly, and does not begin
    with the word we are called by, is an answer and not the shop.
    """

    scale: float
    meaningless: float
    floor: float
    offset: float
    slope: float
    alone: float
    agreed: float
    clearness: float
    written: float
    act_from: float
    yes_from: float
    stop_from: float
    ask_from: float
    answer_from: float

    def certainty(self, evidence: Evidence) -> float:
        """Return the probability that something was meant.

        1 / (1 + exp(-z)), z = offset + slope ln(for / (other + share meaningless + floor))
        + clearness and written times those of the hearing, `agreed` more where the listeners
        agree, and `alone` more for a word alone: a knock passes for one. The share and the floor,
        for what the recogniser did not even list, keep one alternative by itself from being sure.
        """
        against = evidence.other + self.meaningless * evidence.meaningless + self.floor
        odds = self.offset + self.slope * math.log(evidence.meant / against)
        odds += self.alone * evidence.alone + self.agreed * evidence.agreed
        odds += self.clearness * evidence.clearness + self.written * evidence.written
        return 1 / (1 + math.exp(-odds))


@cache
def calibration() -> Calibration:
    """Return the constants, read once."""
    return Calibration(**tomllib.loads(CALIBRATION.read_text(encoding="utf-8"))["certainty"])
