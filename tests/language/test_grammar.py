"""The grammars: their own examples, numbers both ways, and what must be refused."""

import random
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.errors import BenchError, NotUnderstood
from assistant.events import Hearing
from assistant.language import requests as r
from assistant.language.listening import (
    FOLDER,
    SAME_SOUND,
    Context,
    grammar,
    meanings_of,
    often,
    phrases,
    words,
)
from assistant.language.meaning import MEANINGS
from assistant.language.phrasing import digit_by_digit, number_words
from assistant.language.requests import Measure

EXAMPLES = [
    example
    for file, examples in grammar().examples.items()
    if file not in ("number", "length", "angle")
    for example in examples
]


def meant(said: str, context: Context = Context.ASKED_MEASURE) -> r.Request:
    (meaning,) = meanings_of(Hearing((said,)), context)
    return meaning


@pytest.mark.parametrize("example", EXAMPLES)
def test_every_example_in_a_grammar_file_has_one_meaning(example: str) -> None:
    assert len(grammar().meanings(example, Context.READY, MEANINGS)) == 1


def test_every_sentence_said_often_means_something_in_its_context() -> None:
    for context, sentences in often().items():
        assert sentences
        for said in sentences:
            assert meanings_of(Hearing((said,)), context)


@pytest.mark.parametrize(
    ("words", "value"),
    [
        ("one hundred and forty two point five", Fraction("142.5")),
        ("one forty two point five", Fraction("142.5")),
        ("one four two point five", Fraction("142.5")),
        ("one oh five", Fraction(105)),
        ("point oh five", Fraction("0.05")),
        ("point one twenty five", Fraction("0.125")),
        ("three and five eighths", Fraction(29, 8)),
        ("thirteen sixty fourths", Fraction(13, 64)),
        ("a quarter", Fraction(1, 4)),
        ("two thousand one hundred and one", Fraction(2101)),
    ],
)
def test_a_spoken_number_is_worth_what_it_says(words: str, value: Fraction) -> None:
    assert meant(words) == r.Bare(Measure(value))


@given(st.integers(min_value=1, max_value=999_999))
def test_every_thousandth_spoken_comes_back_the_same(thousandths: int) -> None:
    value = Fraction(thousandths, 1000)
    figures = f"{thousandths // 1000}.{thousandths % 1000:03}".rstrip("0").rstrip(".")
    assert meant(number_words(figures)) == r.Bare(Measure(value))
    assert meant(digit_by_digit(figures)) == r.Bare(Measure(value))


@pytest.mark.parametrize(
    "words", ["", "bananas", "three eighths four", "one in", "between balls", "and a half", "point"]
)
def test_what_means_nothing_is_refused(words: str) -> None:
    with pytest.raises(NotUnderstood):
        meant(words)


def test_every_word_of_the_grammars_is_in_the_speech_model() -> None:
    model = FOLDER / "acoustic" / "model" / "graph" / "words.txt"
    known = {line.split()[0] for line in model.read_text(encoding="utf-8").splitlines()}
    said = {SAME_SOUND.get(word, word) for context in Context for word in words(context)}
    assert said - known == set()


@pytest.mark.parametrize("context", list(Context))
def test_the_phrases_given_to_the_recogniser_hold_every_word_of_the_context(
    context: Context,
) -> None:
    said = {word for phrase in phrases(context) for word in phrase.split()}
    assert said == set(words(context)) - set(SAME_SOUND)


def test_sampled_sentences_are_sentences_of_the_grammar() -> None:
    rng = random.Random(7)
    for _ in range(200):
        sentence = grammar().sample(Context.READY, rng)
        try:
            grammar().meanings(sentence, Context.READY, MEANINGS)
        except BenchError as refusal:
            # A Morse number 90 is a sentence, and nonsense.
            impossible = refusal
        else:
            continue
        assert not isinstance(impossible, NotUnderstood), sentence


@pytest.mark.parametrize("context", list(Context))
def test_a_sentence_can_be_sampled_that_says_any_word_of_its_context(context: Context) -> None:
    rng = random.Random(8)
    for word in grammar().words(context):
        assert word in grammar().sample(context, rng, saying=word).split()


def test_more_than_a_breath_of_words_is_refused_whole() -> None:
    with pytest.raises(NotUnderstood, match="so much at once"):
        meant("one in twenty, " * 14 + "between balls one sixty")
