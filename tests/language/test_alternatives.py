"""Which of a hearing's alternatives is taken."""

import pytest

from assistant.errors import NotUnderstood
from assistant.events import Hearing
from assistant.language.listening import Context, meanings_of, readings, words_taken
from assistant.language.requests import No, TaperByName, Yes


def test_the_likeliest_words_that_mean_something_are_taken() -> None:
    hearing = Hearing(("number two more taper", "number two morse taper", "yes"))
    (meant,) = meanings_of(hearing, Context.READY)
    assert isinstance(meant, TaperByName)
    assert words_taken(hearing, Context.READY) == "number two morse taper"


@pytest.mark.parametrize("likeliest", ["the", "nine", "[unk]"])
def test_a_word_alone_is_not_taken_in_place_of_a_likelier_one(likeliest: str) -> None:
    hearing = Hearing((likeliest, "no", "yes"))
    with pytest.raises(NotUnderstood):
        meanings_of(hearing, Context.READY)
    assert words_taken(hearing, Context.READY) == likeliest


@pytest.mark.parametrize(("word", "meaning"), [("yes", Yes), ("no", No)])
def test_a_word_alone_is_taken_when_it_is_the_likeliest(word: str, meaning: type) -> None:
    (meant,) = meanings_of(Hearing((word, "the")), Context.ASKED_YES_NO)
    assert isinstance(meant, meaning)


def test_a_word_alone_that_may_be_another_is_less_certain_and_both_can_be_asked_about() -> None:
    near = readings(Hearing(("yes", "no"), (0.0, -2.0)), Context.ASKED_YES_NO)
    far = readings(Hearing(("yes", "no"), (0.0, -40.0)), Context.ASKED_YES_NO)

    assert [reading.said for reading in near] == ["yes", "no"]
    assert near[0].certainty < far[0].certainty
