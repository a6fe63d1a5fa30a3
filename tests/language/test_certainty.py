"""How certain a meaning is, and what comes of it."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import NotUnderstood
from assistant.events import Hearing
from assistant.language.certainty import Evidence, calibration
from assistant.language.listening import Context, meant, readings, words_taken
from assistant.language.requests import BetweenBalls, Cancel, StopListening, Unsure, Yes

FIFTEEN, FIFTY = "between balls fifteen", "between balls fifty"
OTHER_WORDS_FOR_FIFTY = "fifty between balls"
NOISE = "between the and"


def apart(nats: float) -> float:
    """Return by how much scores differ for their weights to differ so."""
    return nats / calibration().scale


unhurried = settings(deadline=None)  # the first look at the grammar takes its time
gaps = st.floats(0, 40)
weights = st.floats(0, 20)
positive = st.floats(0.001, 20)
surenesses = st.floats(-4, 0)


@given(positive, positive, weights, weights, st.booleans(), surenesses, surenesses)
def test_what_speaks_for_a_meaning_makes_it_more_certain(
    less: float,
    more: float,
    other: float,
    meaningless: float,
    alone: bool,
    hardly: float,
    surely: float,
) -> None:
    less, more = sorted((less, more))
    hardly, surely = sorted((hardly, surely))
    evidence = Evidence(less, other, meaningless, alone, False, clearness=hardly, written=hardly)

    low = calibration().certainty(evidence)
    assert low > 0
    for better in (
        replace(evidence, meant=more),
        replace(evidence, agreed=True),
        replace(evidence, clearness=surely),
        replace(evidence, written=surely),
    ):
        assert low <= calibration().certainty(better) < 1


@given(positive, weights, weights, weights)
def test_what_speaks_against_it_makes_it_less_certain(
    meant: float, other: float, meaningless: float, more: float
) -> None:
    evidence = Evidence(meant, other, meaningless, False, agreed=True, clearness=0, written=0)

    certainty = calibration().certainty(evidence)
    for worse in (
        replace(evidence, other=other + more),
        replace(evidence, meaningless=meaningless + more),
    ):
        assert calibration().certainty(worse) <= certainty


@unhurried
@given(gaps, gaps)
def test_the_further_behind_the_next_meaning_is_the_more_certain_the_first(
    near: float, far: float
) -> None:
    near, far = sorted((near, far))

    def certainty(gap: float) -> float:
        return readings(Hearing((FIFTEEN, FIFTY), (0.0, -gap)), Context.READY)[0].certainty

    assert certainty(near) <= certainty(far)


@unhurried
@given(st.permutations(((FIFTEEN, -1.0), (FIFTY, 0.0), (OTHER_WORDS_FOR_FIFTY, -2.0))))
def test_the_order_they_come_in_does_not_matter(order: list[tuple[str, float]]) -> None:
    said, scores = zip(*order, strict=True)
    found = readings(Hearing(said, scores), Context.READY)

    in_order = readings(
        Hearing((FIFTEEN, FIFTY, OTHER_WORDS_FOR_FIFTY), (-1.0, 0.0, -2.0)), Context.READY
    )
    assert [one.meanings for one in found] == [one.meanings for one in in_order]
    assert [one.certainty for one in found] == pytest.approx([one.certainty for one in in_order])


@unhurried
@given(st.floats(-1e6, 1e6), gaps)
def test_only_the_differences_of_scores_count(least: float, gap: float) -> None:
    at_nought = readings(Hearing((FIFTEEN, FIFTY), (gap, 0.0)), Context.READY)
    elsewhere = readings(Hearing((FIFTEEN, FIFTY), (least + gap, least)), Context.READY)

    assert elsewhere[0].certainty == pytest.approx(at_nought[0].certainty, rel=1e-6)


def test_other_words_for_the_same_raise_no_doubt() -> None:
    alone = readings(Hearing((FIFTY,), (0.0,)), Context.READY)
    with_others = readings(Hearing((FIFTY, OTHER_WORDS_FOR_FIFTY), (0.0, 0.0)), Context.READY)

    assert [one.meanings for one in with_others] == [one.meanings for one in alone]
    assert with_others[0].certainty > alone[0].certainty


def test_one_reading_far_before_the_next_is_acted_on() -> None:
    found = meant(Hearing((FIFTY, FIFTEEN), (0.0, apart(-7.0))), Context.READY)

    assert isinstance(found, BetweenBalls)


def test_two_numbers_as_likely_are_asked_about_not_chosen_between() -> None:
    found = meant(Hearing((FIFTEEN, FIFTY), (0.0, 0.0)), Context.READY)

    assert isinstance(found, Unsure)
    assert [type(reading) for reading in found.readings] == [BetweenBalls, BetweenBalls]


def test_a_reading_far_behind_is_not_asked_about() -> None:
    scores = (0.0, apart(2.0), apart(-2.7))
    found = meant(Hearing((FIFTEEN, NOISE, FIFTY), scores), Context.READY)

    assert isinstance(found, Unsure)
    assert len(found.readings) == 1


def test_what_is_far_less_likely_than_noise_is_not_caught() -> None:
    hearing = Hearing((NOISE, FIFTEEN), (0.0, apart(-7.0)))

    with pytest.raises(NotUnderstood):
        meant(hearing, Context.READY)
    assert words_taken(hearing, Context.READY) == FIFTEEN


def test_of_two_as_likely_the_one_both_listeners_took_is_more_certain() -> None:
    hearing = Hearing((FIFTEEN, FIFTY), (0.0, 0.0), unaided=OTHER_WORDS_FOR_FIFTY)
    agreed, other = readings(hearing, Context.READY)

    assert agreed.said == FIFTY
    assert agreed.certainty > other.certainty
    assert isinstance(meant(hearing, Context.READY), Unsure)


def test_typed_words_are_certain() -> None:
    assert isinstance(meant(Hearing((FIFTY,)), Context.READY), BetweenBalls)


def test_what_stops_is_obeyed_at_a_doubt_in_which_a_yes_is_not() -> None:
    constants = calibration()
    assert constants.ask_from < constants.stop_from < constants.act_from <= constants.yes_from < 1
    # As certain as sentences of two words can be made alike: by the noise they stand against.
    hearings = {
        said: Hearing((said, NOISE), (0.0, apart(2.0))) for said in ("stop listening", "yes please")
    }
    stop, yes = (readings(each, Context.ASKED_WHETHER)[0] for each in hearings.values())
    assert constants.stop_from < stop.certainty == yes.certainty < constants.act_from

    assert isinstance(meant(hearings["stop listening"], Context.ASKED_WHETHER), StopListening)
    unsure = meant(hearings["yes please"], Context.ASKED_WHETHER)
    assert unsure == Unsure((Yes(),))


def test_cancel_needs_no_more_than_stop() -> None:
    found = meant(Hearing(("cancel that", NOISE), (0.0, apart(2.0))), Context.READY)

    assert found == Cancel()


def test_as_likely_as_not_is_asked_about_whatever_was_fitted() -> None:
    """The transcripts' `unsure` lines stand on this."""
    constants = calibration()
    for evidence in (
        Evidence(1.0, 1.0, 0.0, alone=False, agreed=False, clearness=0, written=0),
        Evidence(
            1.0,
            0.0,
            (1.0 - constants.floor) / constants.meaningless,
            alone=False,
            agreed=False,
            clearness=0,
            written=0,
        ),
    ):
        assert constants.ask_from < constants.certainty(evidence) < constants.stop_from
