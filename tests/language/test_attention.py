"""The attention word: what is said behind it, and when it is not needed."""

import pytest

from assistant.events import Hearing
from assistant.language.attention import (
    ANSWER_WITHIN_S,
    BREATH_S,
    WORDS,
    Attention,
    called,
    phrases_called,
)
from assistant.language.listening import Context, phrases, words
from grammars.acoustic.recipe.graph import read_lexicon

WORD = WORDS[0]
TURNS = Hearing(("how many turns",))
CALLED = Hearing((f"{WORD} how many turns",))
NOISE = Hearing(("[unk] the",))


@pytest.mark.parametrize(
    ("heard", "behind"),
    [
        ([f"{WORD} which way"], ["which way"]),
        ([f"{WORD} which way", f"{WORD} which is due"], ["which way", "which is due"]),
        # Alternatives without the word are no reading of what was said to it.
        ([f"{WORD} which way", "tool which way", WORD], ["which way"]),
        ([WORD, f"{WORD} one"], []),
        (["which way", f"{WORD} which way"], None),
        ([f"which {WORD} way"], None),
        (["[unk]"], None),
        ([], None),
    ],
)
def test_what_is_behind_the_word_is_said_to_it(heard: list[str], behind: list[str] | None) -> None:
    wanted = None if behind is None else Hearing(tuple(behind))

    assert called(Hearing(tuple(heard)), WORD) == wanted


def test_what_the_first_listener_heard_is_taken_behind_the_word_too() -> None:
    heard = Hearing((f"{WORD} which way",), (0.0,), unaided=f"{WORD} how many", clearness=-0.2)

    assert called(heard, WORD) == Hearing(("which way",), (0.0,), "how many", -0.2)


@pytest.mark.parametrize("word", WORDS)
def test_a_word_to_be_called_by_is_spelled_and_means_nothing_else(word: str) -> None:
    assert word in read_lexicon()
    assert not any(word in words(context) for context in Context)


@pytest.mark.parametrize("context", Context)
def test_all_that_can_be_said_is_listened_for_behind_the_word_and_without_it(
    context: Context,
) -> None:
    listened_for = phrases_called(context, WORD)

    behind = [phrase.removeprefix(f"{WORD} ") for phrase in listened_for if phrase != WORD]
    assert WORD in listened_for
    assert {phrase.split()[0] for phrase in phrases(context)} <= {
        said.split()[0]
        for said, phrase in zip(behind, listened_for[1:], strict=True)
        if said != phrase
    }
    assert {*" ".join(behind).split()} == {*" ".join(phrases(context)).split()}
    # A change of context may cost no more than by hand.
    assert len(listened_for) < 1.1 * len(phrases(context))


def waiting() -> Attention:
    """Return who was asked nothing."""
    return Attention(WORD)


def asked(at_s: float) -> Attention:
    attention = Attention(WORD)
    attention.replied(at_s, awaits_answer=True)
    attention.passes(at_s, replying=False, hearing=False)
    return attention


def test_unasked_only_what_begins_with_the_word_is_taken() -> None:
    assert waiting().taken(TURNS, Context.READY, 0.0) is None
    assert waiting().taken(CALLED, Context.READY, 0.0) == TURNS


def test_without_a_word_everything_is_taken() -> None:
    attention = Attention("")
    attention.replied(1.0, awaits_answer=False)
    attention.passes(2.0, replying=False, hearing=False)

    assert attention.to_all
    assert [attention.taken(said, Context.READY, 2.0) for said in (TURNS, NOISE)] == [TURNS, NOISE]


def test_an_answer_needs_no_word() -> None:
    attention = asked(10.0)

    assert attention.to_all
    assert attention.taken(TURNS, Context.READY, 11.0) == TURNS
    assert attention.taken(CALLED, Context.READY, 11.0) == TURNS


def test_what_means_nothing_is_no_answer_but_is_refused_behind_the_word() -> None:
    assert asked(10.0).taken(NOISE, Context.READY, 11.0) is None
    behind = asked(10.0).taken(Hearing((f"{WORD} the",)), Context.READY, 11.0)
    assert behind == Hearing(("the",))


@pytest.mark.parametrize(("other", "is_taken"), [(-1.0, False), (-40.0, True)])
def test_what_is_much_in_doubt_is_no_answer(other: float, is_taken: bool) -> None:
    said = Hearing(("fifteen", "fifty", "sixteen"), (0.0, other, other), unaided="ten")

    taken = asked(10.0).taken(said, Context.ASKED_MEASURE, 11.0)

    assert taken == (said if is_taken else None)


def test_what_stands_behind_the_word_keeps_its_score() -> None:
    said = Hearing((f"{WORD} fifteen", "[unk]", f"{WORD} fifty"), (-5.0, -6.0, -7.0))

    assert called(said, WORD) == Hearing(("fifteen", "fifty"), (-5.0, -7.0))


def test_what_was_understood_and_cannot_be_is_an_answer() -> None:
    said = Hearing(("number ninety morse taper",))

    assert asked(10.0).taken(said, Context.READY, 11.0) == said


def test_an_answer_has_its_time_from_the_end_of_the_question() -> None:
    attention = asked(10.0)
    attention.passes(14.0, replying=True, hearing=False)

    attention.passes(14.0 + ANSWER_WITHIN_S - 0.1, replying=False, hearing=False)
    assert attention.to_all
    attention.passes(14.0 + ANSWER_WITHIN_S, replying=False, hearing=False)
    assert not attention.to_all


def test_an_answer_that_began_in_time_is_heard_to_its_end() -> None:
    attention = asked(10.0)
    for now_s in (10.0 + ANSWER_WITHIN_S - 0.1, 10.0 + ANSWER_WITHIN_S + 3):
        attention.passes(now_s, replying=False, hearing=True)

    assert attention.taken(TURNS, Context.READY, 30.0) == TURNS
    attention.passes(30.0, replying=False, hearing=False)
    assert not attention.to_all


def test_what_began_before_the_question_ended_is_an_answer_and_what_began_too_late_is_none() -> (
    None
):
    attention = asked(10.0)
    attention.passes(10.0 + ANSWER_WITHIN_S, replying=False, hearing=False)
    attention.passes(10.0 + ANSWER_WITHIN_S + 0.1, replying=False, hearing=True)

    assert attention.taken(TURNS, Context.READY, 20.0) is None


def test_a_reply_that_asks_nothing_ends_it() -> None:
    attention = asked(10.0)
    attention.replied(11.0, awaits_answer=False)
    attention.passes(12.0, replying=True, hearing=False)

    assert attention.taken(TURNS, Context.READY, 12.0) is None


def test_the_word_alone_opens_it_and_after_a_breath_it_asks_once() -> None:
    attention = waiting()
    assert attention.taken(Hearing((WORD,)), Context.READY, 10.0) == Hearing()

    asks = [
        attention.passes(10.0 + after_s, replying=False, hearing=False)
        for after_s in (0.1, BREATH_S, BREATH_S + 0.1)
    ]
    assert asks == [False, True, False]
    assert attention.taken(TURNS, Context.READY, 12.0) == TURNS


def test_who_goes_on_after_the_word_is_not_cut_short() -> None:
    attention = waiting()
    attention.taken(Hearing((WORD,)), Context.READY, 10.0)

    assert not attention.passes(10.5, replying=False, hearing=True)
    assert not attention.passes(10.5 + BREATH_S, replying=False, hearing=False)
