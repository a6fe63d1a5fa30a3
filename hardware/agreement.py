"""What three listeners make of a sound together.

vosk proposes sentences, each with its score. The second listener proposes others and says how
well each fits; both scores are added up. If that leaves several likely, the third says which.
"""

from collections.abc import Mapping, Sequence
from functools import cached_property
from pathlib import Path

import numpy as np

from hardware.phone_paths import BLANK, UNKNOWN, Floats
from hardware.second_listener import NETWORK, RATE_HZ, SecondListener, at_16_khz, clearness
from hardware.third_listener import PIECES, ThirdListener, Vocabulary
from hardware.word_chains import WordChains

# How the first two are added up: how much the second counts, and what a word costs, so that
# two short ones are not heard in one; a sound of no word costs more, being less than a word.
# Chosen with the people of the development sets and synthetic sentences: MODEL.md has what other
# values made of them.
SECOND_COUNTS, WORD_COST, NO_WORD_COST = 1.8, 12.0, 15.0
# A path takes a likelihood for every phone, so that where the second is unsure a short word fits
# better than a long one, "two" than "zero". So much is given back for each phone of a sentence.
# Of 1,000 human digits two in a hundred more are right with it.
PHONE_GAIN = 1.4
# By so much silence must fit better than every word for the second listener to have heard none.
# vosk makes words out of the hiss that is left when a pause has ended an utterance.
SILENCE_FROM = 4.0
# How many sentences the second listener proposes, and how far below vosk's least likely one
# they begin: nearer, and music becomes words.
PROPOSALS, NOT_PROPOSED = 5, 6.0
# The third listener is asked about so many of the likeliest if they are no further apart than this,
# and counts so much; in sound less clear than this also about one. If even the likeliest to it is
# no likelier, it proposes another sentence.
THIRD_TOLD, THIRD_COUNTS, THIRD_BELOW_CLEARNESS = 6, 2.0, -0.5
THIRD_WITHIN, THIRD_WITHIN_A_WORD = 8.0, 1.5
THIRD_PROPOSES_BELOW, THIRD_PROPOSES_BELOW_A_WORD = -4.0, -1.5
# It hears what the second makes phones of and so much around it. More than so much would take it
# too much memory.
THIRD_AROUND_S, THIRD_UP_TO_S = 0.3, 8.0
# Stands for how likely it would write a word where it was not asked: as those that were right.
NOT_WRITTEN = -0.4

Scores = dict[str, float]


class Expected:
    """The phrases listened for, and what the listeners make of them when it is first wanted."""

    def __init__(
        self, second: SecondListener, third: ThirdListener | None, phrases: Sequence[str]
    ) -> None:
        self._second, self._third, self._phrases = second, third, phrases

    @cached_property
    def chains(self) -> WordChains | None:
        """The second's, None if there are no words."""
        return self._second.chains(self._phrases) if self._phrases else None

    @cached_property
    def vocabulary(self) -> Vocabulary:
        """The third's."""
        assert self._third is not None
        return self._third.vocabulary(set(" ".join(self._phrases).split()))


class Agreement:
    """The second listener and the third, if the model has one, and what they add to vosk."""

    def __init__(self, model: Path) -> None:
        self._second = SecondListener(model)
        self._third = ThirdListener(model) if (model / PIECES).exists() else None

    @staticmethod
    def is_in(model: Path) -> bool:
        """Whether a model has more listeners than one."""
        return (model / NETWORK).exists()

    def expecting(self, phrases: Sequence[str]) -> Expected:
        """Return what is to be made of some phrases."""
        return Expected(self._second, self._third, phrases)

    def hear(self, sound: bytes, rate_hz: int) -> Floats | None:
        """Return what the second listener makes of a sound; None if it cannot weigh it."""
        return self._second.hear(sound, rate_hz)

    def weighed(
        self, proposed: Scores, logs: Floats, sound: bytes, rate_hz: int, expected: Expected
    ) -> tuple[Scores, float]:
        """Return all that may have been said, by what every listener says; nothing if it is quiet.

        And how likely the third would write the likeliest, for each word, as a natural logarithm.

        Args:
            proposed: By vosk, at least one.
            logs: What the second listener made of the sound.
            sound: In 16 bits.
            rate_hz: Its rate.
            expected: The phrases listened for.
        """
        lowest = min(proposed.values()) - NOT_PROPOSED
        also = [UNKNOWN, *(expected.chains.likeliest(logs, PROPOSALS) if expected.chains else [])]
        either = proposed | {text: lowest for text in also if text not in proposed}
        silence, *fits = self._second.fits(logs, ["", *either])
        fit_of = dict(zip(either, fits, strict=True))
        of_words = [fit_of[text] for text in _of_words(either)]
        if of_words and silence > max(of_words) + SILENCE_FROM:
            return {}, NOT_WRITTEN
        weighed = {text: score + self._gains(text, fit_of[text]) for text, score in either.items()}
        likely, spoken = _likely(weighed), _spoken(at_16_khz(sound, rate_hz), logs)
        is_sure = len(likely) == 1 and clearness(logs) > THIRD_BELOW_CLEARNESS
        is_long = len(spoken) > THIRD_UP_TO_S * RATE_HZ
        if self._third is None or not likely or is_sure or is_long:
            return weighed, NOT_WRITTEN
        told = _asked(self._third, spoken, likely, expected.vocabulary)
        for text in told.keys() - weighed.keys():
            (fit,) = self._second.fits(logs, [text])
            weighed[text] = lowest + self._gains(text, fit)
        weighed = _told(weighed, told)
        likeliest = max(told, key=lambda text: weighed[text])
        return weighed, told[likeliest] / (len(likeliest.split()) + 1)

    def _gains(self, text: str, fit: float) -> float:
        """Return what the second listener's fit adds to the score of an alternative."""
        costs = (NO_WORD_COST if word == UNKNOWN else WORD_COST for word in text.split())
        return SECOND_COUNTS * (fit + PHONE_GAIN * self._second.phones(text)) - sum(costs)


def _of_words(texts: Mapping[str, float]) -> list[str]:
    return [text for text in texts if UNKNOWN not in text.split()]


def _spoken(sound: Floats, logs: Floats) -> Floats:
    """Return the part of a sound in which phones were made out, and a little around it."""
    moments = np.flatnonzero(logs.argmax(axis=1) != BLANK)
    if not len(moments):
        return sound
    a_moment, around = len(sound) / len(logs), round(THIRD_AROUND_S * RATE_HZ)
    first, last = round(moments[0] * a_moment), round((moments[-1] + 1) * a_moment)
    return sound[max(0, first - around) : last + around]


def _likely(weighed: Scores) -> list[str]:
    """Return what the third listener is asked about; nothing where a sound of no word is likelier.

    It would only make what was said less likely still.
    """
    best, *_ = order = sorted(weighed, key=lambda text: -weighed[text])
    if UNKNOWN in best.split():
        return []
    least = weighed[best] - THIRD_WITHIN - THIRD_WITHIN_A_WORD * len(best.split())
    return [text for text in order if weighed[text] > least and UNKNOWN not in text.split()][
        :THIRD_TOLD
    ]


def _asked(third: ThirdListener, sound: Floats, likely: Sequence[str], known: Vocabulary) -> Scores:
    """Return how likely the third listener would write each, and another if it likes none."""
    heard = third.hear(sound)
    told = dict(zip(likely, third.fits(heard, likely, known), strict=True))
    words = len(likely[0].split())
    if max(told.values()) < THIRD_PROPOSES_BELOW + THIRD_PROPOSES_BELOW_A_WORD * words:
        another = third.proposed(heard, known)
        if another and another not in told:
            (told[another],) = third.fits(heard, [another], known)
    return told


def _told(weighed: Scores, told: Scores) -> Scores:
    """Return the scores, less what the third listener has against a sentence.

    Of sounds of no word it says nothing, and of what it was not asked about as much as of the
    least likely.
    """
    best, least = max(told.values()), min(told.values())
    against = {text: THIRD_COUNTS * (told.get(text, least) - best) for text in _of_words(weighed)}
    return {text: score + against.get(text, 0.0) for text, score in weighed.items()}
