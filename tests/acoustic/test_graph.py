"""The lexicon, and the graphs made from it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from assistant.language.listening import Context, words
from grammars.acoustic.recipe.graph import HERE, read_lexicon
from grammars.acoustic.recipe.phones import OUTPUT, TRANSITION_ID, transition_model

WORDS = HERE.parent / "model" / "graph" / "words.txt"
NETWORK = HERE.parent / "model" / "am" / "final.mdl"


def heard_words() -> Iterator[str]:
    for line in WORDS.read_text(encoding="utf-8").splitlines():
        yield line.split()[0]


def test_the_model_hears_the_lexicon_and_what_is_outside_it() -> None:
    assert set(heard_words()) == {*read_lexicon(), "[unk]", "<eps>"}


def test_every_word_that_can_be_said_has_a_spelling() -> None:
    said = {word for context in Context for word in words(context)}

    assert said <= read_lexicon().keys()


def test_words_told_apart_by_a_syllable_are_spelled_apart() -> None:
    lexicon = read_lexicon()

    assert not set(lexicon["fifteen"]) & set(lexicon["fifty"])
    assert not set(lexicon["eighth"]) & set(lexicon["eight"])


def test_british_speech_drops_the_r_of_four() -> None:
    assert set(read_lexicon()["four"]) == {("F", "AO", "R"), ("F", "AO")}


@pytest.mark.parametrize("line", ["four", "four F AO2 R"])
def test_a_word_without_known_phones_is_refused(tmp_path: Path, line: str) -> None:
    path = tmp_path / "lexicon.txt"
    path.write_text(line)

    with pytest.raises(ValueError, match="no spelling in phones"):
        read_lexicon(path)


def test_a_phone_in_each_place_has_five_ways_on_and_silence_two() -> None:
    # Three ways from the phone's state, two from its blank's, four places; silence stays or ends.
    assert len(TRANSITION_ID) == len(OUTPUT) * 4 * 5 + 2
    assert sorted(TRANSITION_ID.values()) == list(range(1, len(TRANSITION_ID) + 1))


def test_the_shipped_network_was_made_for_these_phones() -> None:
    assert NETWORK.read_bytes().startswith(b"\0B" + transition_model())
