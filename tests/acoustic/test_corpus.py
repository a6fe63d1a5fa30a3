"""What is said to the network in training, and how each word of it sounds."""

import random
from itertools import pairwise

import pytest

from assistant.language.listening import SAME_SOUND, Context, words
from grammars.acoustic.recipe.corpus import LONGEST, PAIRS, english_in, sentences
from grammars.acoustic.recipe.graph import HERE, read_lexicon
from grammars.acoustic.recipe.phones import PHONES
from grammars.acoustic.recipe.pronounce import american, british, spellings

ENGLISH = [("once", "upon", "a", "time")]
SAID = list(sentences(3_000, seed=1, english=ENGLISH))


def test_every_word_of_every_grammar_is_said() -> None:
    grammars = {word for context in Context for word in words(context)} - set(SAME_SOUND)

    # Before chance has its way.
    first = SAID[: len(grammars) + 2 * len(PAIRS)]
    assert grammars <= {word for said in first for word in said}


def test_words_easily_taken_for_one_another_stand_side_by_side_both_ways() -> None:
    neighbours = {pair for said in SAID for pair in pairwise(said)}

    assert {pair for one, other in PAIRS for pair in ((one, other), (other, one))} <= neighbours


def test_fifteen_and_fifty_and_eight_and_eighth_are_such_words() -> None:
    assert {("fifteen", "fifty"), ("eight", "eighth"), ("two", "to"), ("in", "and")} <= set(PAIRS)


def test_a_fifth_is_english_of_any_kind_and_nothing_is_long() -> None:
    assert 0.15 < SAID.count(ENGLISH[0]) / len(SAID) < 0.25
    assert max(map(len, SAID)) <= LONGEST


def test_the_same_seed_says_the_same_and_another_does_not() -> None:
    again = list(sentences(1_000, 1, ENGLISH))
    other = list(sentences(1_000, 2, ENGLISH))

    assert again == SAID[:1_000]
    assert again != other


@pytest.mark.parametrize(
    ("text", "read"),
    [
        (
            "Don't panic now.\n%\nSo long; and no more of it.",
            ["don't panic now", "and no more of it"],
        ),
        ("One two.\n%\nIt has 3 legs.\n%\nSee <here> for more.", []),
        ("It runs\nover a line. And on!", ["it runs over a line"]),
    ],
)
def test_general_english_is_sentences_of_a_few_plain_words(text: str, read: list[str]) -> None:
    assert [" ".join(said) for said in english_in(text)] == read


# How words sound.


def sounded(text: str) -> tuple[str, ...]:
    return tuple(text.split())


# The phones: American and British dictionaries, from memory; the symbols: Kokoro-82M's.
@pytest.mark.parametrize(
    ("word", "sounds", "symbols", "phones"),
    [
        ("four", "F AO1 R", "fˈɔː", "F AO"),
        ("zero", "Z IH1 R OW0", "zˈɪɹQ", "Z IH R OW"),
        ("half", "HH AE1 F", "hˈɑːf", "HH AA F"),
        ("ham", "HH AE1 M", "hˈam", "HH AE M"),
        ("inner", "IH1 N ER0", "ˈɪnə", "IH N AH"),
        ("here", "HH IH1 R", "hˈɪə", "HH IH AH"),
        ("off", "AO1 F", "ˈɒf", "AA F"),
        ("hard", "HH AA1 R D", "hˈɑːd", "HH AA D"),
    ],
)
def test_british_speech(word: str, sounds: str, symbols: str, phones: str) -> None:
    assert british(sounded(sounds), word) == (symbols, sounded(phones))


def test_american_speech_keeps_its_r_and_softens_a_t_between_vowels() -> None:
    rng = random.Random(0)

    assert american(sounded("F AO1 R"), rng) == ("fˈɔɹ", ("F", "AO", "R"))
    said = {american(sounded("W AO1 T ER0"), rng) for _ in range(50)}
    assert said == {("wˈɔTəɹ", ("W", "AO", "T", "ER")), ("wˈɔtəɹ", ("W", "AO", "T", "ER"))}


def test_our_own_sounds_are_those_in_the_lexicon() -> None:
    lexicon = read_lexicon()
    lines = (HERE / "sounds.txt").read_text(encoding="utf-8").splitlines()
    ours = {line.split()[0] for line in lines if not line.startswith("#")}

    assert {"tailstock", "thou", "and", "hundred"} <= ours & lexicon.keys()
    for word in ours & lexicon.keys():
        assert set(spellings(word)) <= set(lexicon[word]), word
    assert {phone for word in ours for way in spellings(word) for phone in way} <= set(PHONES)
