"""No sentence that can be made from the grammar means two different things."""

import random

import pytest

from assistant.errors import BenchError, NotUnderstood
from assistant.language.listening import Context, grammar
from assistant.language.meaning import MEANINGS

# Anything may be said at any time: over half of the sentences start there, the rest are answers.
SENTENCES = {context: 55_000 if context is Context.READY else 5_000 for context in Context}


@pytest.mark.parametrize("context", Context)
def test_a_sampled_sentence_has_one_meaning_or_is_impossible(context: Context) -> None:
    rng = random.Random(context)
    wrong: list[str] = []
    for _ in range(SENTENCES[context]):
        said = grammar().sample(context, rng)
        try:
            one = len(grammar().meanings(said, context, MEANINGS)) == 1
        except BenchError as refusal:
            # A Morse number 90 is a sentence, and nonsense.
            one = not isinstance(refusal, NotUnderstood)
        if not one:
            wrong.append(said)
    assert wrong == []


def test_a_hundred_thousand_sentences_are_sampled() -> None:
    assert sum(SENTENCES.values()) == 100_000
