"""What the synthetic voices say: mostly sentences of our own grammars.

python -m grammars.acoustic.recipe.corpus --count 22000 --english FOLDER > SENTENCES

writes a sentence a line. Every word of every grammar is said alone or in small company before
chance has its way; words that are easily taken for one another stand side by side on purpose;
general English is what the filler, [unk], is learnt from. The folder holds the .u8 texts of
Debian's fortunes package, /usr/share/games/fortunes.
"""

import argparse
import random
import re
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from assistant.language.listening import SAME_SOUND, Context, grammar, phrases, words

Sentence = tuple[str, ...]

DIGITS = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "oh"]
# fmt: off
PAIRS: tuple[tuple[str, str], ...] = (
    ("thirteen", "thirty"), ("fourteen", "forty"), ("fifteen", "fifty"), ("sixteen", "sixty"),
    ("seventeen", "seventy"), ("eighteen", "eighty"), ("nineteen", "ninety"), ("four", "fourth"),
    ("eight", "eighth"), ("eighth", "eighths"), ("five", "nine"), ("two", "to"), ("in", "and"),
    ("one", "nine"), ("inch", "inches"), ("on", "one"), ("off", "of"), ("no", "oh"),
    ("seven", "eleven"), ("go", "no"), ("up", "off"), ("down", "nine"), ("turn", "turns"),
    ("thou", "thousand"), ("six", "sixth"), ("half", "have"), ("quarter", "quarters"),
    ("second", "seconds"), ("six", "sixteen"), ("six", "sixty"), ("ball", "bore"),
    ("large", "lathe"), ("minute", "minutes"), ("degree", "degrees"), ("left", "let"),
)
# fmt: on
TEENS_AND_TENS = tuple(dict.fromkeys(word for pair in PAIRS[:7] for word in pair))

# How many in a hundred are of each kind.
_GRAMMAR, _OFTEN, _NUMBER, _DIGITS, _WORDS, _PAIR, _ENGLISH = 30, 22, 6, 6, 6, 8, 22
LONGEST = 16

# Fortunes that are drawings or not for the workshop.
_NOT_READ = ("art", "limerick", "drugs")


def sentences(count: int, seed: int, english: Sequence[Sentence]) -> Iterator[Sentence]:
    """Return so many sentences: each word and each pair once, then by their shares."""
    rng = random.Random(seed)
    vocabulary = sorted({word for context in Context for word in words(context)} - {*SAME_SOUND})
    deck: list[Sentence] = [(word,) for word in vocabulary]
    deck += [order for one, other in PAIRS for order in ((one, other), (other, one))]
    rng.shuffle(deck)
    kinds: dict[Callable[[], Sentence], int] = {
        lambda: _split(grammar().sample(rng.choice(list(Context)), rng)): _GRAMMAR,
        lambda: _split(rng.choice(phrases(rng.choice(list(Context))))): _OFTEN,
        lambda: (rng.choice(DIGITS if rng.random() < 0.7 else TEENS_AND_TENS),): _NUMBER,
        lambda: tuple(rng.choices(DIGITS, k=rng.randrange(2, 8))): _DIGITS,
        lambda: tuple(rng.choices(vocabulary, k=rng.choice([1, 1, 1, 2, 3]))): _WORDS,
        lambda: _pair(rng): _PAIR,
        lambda: rng.choice(english): _ENGLISH if english else 0,
    }
    for number in range(count):
        if number < len(deck):
            yield deck[number]
        else:
            (kind,) = rng.choices(list(kinds), list(kinds.values()))
            yield kind()[:LONGEST]


def _split(said: str) -> Sentence:
    return tuple(word for word in said.split() if word != ",")


def _pair(rng: random.Random) -> Sentence:
    """Return a word of a pair, alone, with the other, or with a number on either side."""
    word, other = rng.sample(rng.choice(PAIRS), 2)
    company = rng.choice([*DIGITS, *TEENS_AND_TENS])
    return rng.choice([(word,), (word, other), (word, company), (company, word)])


def english(folder: Path) -> list[Sentence]:
    """Return the sentences of a few words in the folder's texts."""
    found: set[Sentence] = set()
    for path in sorted(folder.glob("*.u8")):
        if not any(name in path.name for name in _NOT_READ):
            found.update(english_in(path.read_text(encoding="utf-8", errors="ignore")))
    return sorted(found)


def english_in(text: str) -> Iterator[Sentence]:
    """Return the sentences of three to fourteen words, without figures or mark-up."""
    for paragraph in text.split("\n%\n"):
        for said in re.split(r"(?<=[.!?;:])\s+", paragraph.replace("\n", " ")):
            found = tuple(re.findall(r"[a-z']+", said.lower()))
            if 3 <= len(found) <= 14 and not re.search(r"[0-9_*@<>/]", said):
                yield found


def main() -> None:
    """Print the sentences whose every word can be said."""
    from grammars.acoustic.recipe.pronounce import spellings

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=22_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--english", type=Path, required=True)
    given = parser.parse_args()
    read = [said for said in english(given.english) if all(map(spellings, said))]
    for said in sentences(given.count, given.seed, read):
        if all(map(spellings, said)):
            print(*said)


if __name__ == "__main__":
    main()
