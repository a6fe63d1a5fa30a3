"""Make the graphs of the speech model from the lexicon: `python -m grammars.acoustic.recipe.graph`.

Words are spelled in phones, so a word is added by a line in lexicon.txt and a run of this;
the network is not trained again. Needs OpenFst's programs (Debian: libfst-tools).

HCLr.fst is a tree of all spellings, from transition ids to words; Gr.fst says which word
follows which when no phrases are given: pairs of words counted in sampled sentences.
"""

import math
import os
import subprocess
import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from assistant.language.listening import NO_WORD, Context, phrases
from grammars.acoustic.recipe.contents import NAME, contents
from grammars.acoustic.recipe.phones import (
    ALONE,
    BEGIN,
    END,
    INSIDE,
    PHONE_ID,
    PHONES,
    PLACES,
    SILENCE,
    TRANSITION_ID,
)

HERE = Path(__file__).parent

Spelling = tuple[str, ...]
Lexicon = Mapping[str, Sequence[Spelling]]

# Costs are negative natural logarithms. Of a phone outside the words: lower hides words said
# unclearly, higher turns unrelated speech into words. Measured, see MODEL.md.
NO_WORD_PHONE_COST = 4.5
NO_WORD_START_COST = 2.0
# Of a blank inside a word, which people make less often than synthetic voices.
BLANK_COST = 0.05
# Of a word pair's count, kept for pairs not counted.
DISCOUNT = 0.5

# Debian's plug-in has another file name than the one OpenFst asks for.
_LOOKAHEAD = {"LD_PRELOAD": "libfstlookahead.so.22"}


def read_lexicon(path: Path = HERE / "lexicon.txt") -> dict[str, list[Spelling]]:
    """Return every word's spellings in phones.

    Raises:
        ValueError: A line has no phones, or one the network does not know.
    """
    lexicon: dict[str, list[Spelling]] = {}
    for line in path.read_text(encoding="utf-8").splitlines():
        if not line or line.startswith("#"):
            continue
        word, *phones = line.split()
        if not phones or not set(phones) <= set(PHONES):
            raise ValueError(f"no spelling in phones: {line!r}")
        lexicon.setdefault(word, []).append(tuple(phones))
    return lexicon


class _Tree:
    """All spellings as one tree; state 0 starts and ends a word, state 1 is silence."""

    def __init__(self) -> None:
        self.arcs: list[tuple[int, int, int, int, float]] = []
        self._states = 2
        self._inside: dict[Spelling, tuple[int, int]] = {}
        self._ends: dict[Spelling, int] = {}
        self._add(0, 1, TRANSITION_ID[SILENCE, 0, 1])
        self._add(1, 1, TRANSITION_ID[SILENCE, 0, 0])

    def add_word(self, spelling: Spelling, word: int) -> None:
        *before, last = spelling
        sources: tuple[int, ...] = (0, 1)
        for count in range(1, len(spelling)):
            sources = self._reach(spelling[:count], sources)
        phone = PHONE_ID[last, END if before else ALONE]
        if spelling not in self._ends:
            self._ends[spelling] = self._ending(phone)
        for source in sources:
            self._add(source, self._ends[spelling], TRANSITION_ID[phone, 0, 2], word)

    def add_no_word(self, word: int) -> None:
        """Add a loop of any phones."""
        inside = self._new()
        for phone in PHONES:
            first, cost = PHONE_ID[phone, BEGIN], NO_WORD_PHONE_COST
            for state in self._sounded(first, (0, 1), NO_WORD_START_COST):
                self._add(state, inside, 0)
            for state in self._sounded(PHONE_ID[phone, INSIDE], (inside,), cost):
                self._add(state, inside, 0)
            for place, sources, extra in (
                (END, (inside,), 0.0),
                (ALONE, (0, 1), NO_WORD_START_COST),
            ):
                number = PHONE_ID[phone, place]
                end = self._ending(number)
                for source in sources:
                    self._add(source, end, TRANSITION_ID[number, 0, 2], word, cost + extra)

    def _reach(self, prefix: Spelling, sources: tuple[int, ...]) -> tuple[int, ...]:
        if prefix not in self._inside:
            place = BEGIN if len(prefix) == 1 else INSIDE
            self._inside[prefix] = self._sounded(PHONE_ID[prefix[-1], place], sources, 0.0)
        return self._inside[prefix]

    def _sounded(self, phone: int, sources: Sequence[int], cost: float) -> tuple[int, int]:
        """Add a phone, without and with a blank after it; return where each way stands."""
        bare, before_blank, blank = self._new(), self._new(), self._new()
        for source in sources:
            self._add(source, bare, TRANSITION_ID[phone, 0, 2], cost=cost)
            self._add(source, before_blank, TRANSITION_ID[phone, 0, 1], cost=cost)
        self._add(bare, bare, TRANSITION_ID[phone, 0, 0])
        self._add(before_blank, before_blank, TRANSITION_ID[phone, 0, 0])
        self._add(before_blank, blank, TRANSITION_ID[phone, 1, 2], cost=BLANK_COST)
        self._add(blank, blank, TRANSITION_ID[phone, 1, 1], cost=BLANK_COST)
        return bare, blank

    def _ending(self, phone: int) -> int:
        # The last phone has no blank of its own: blanks after a word are silence, so that
        # the decoder's ends of words and utterances are right.
        state = self._new()
        self._add(state, state, TRANSITION_ID[phone, 0, 0])
        self._add(state, 0, 0)
        return state

    def _new(self) -> int:
        self._states += 1
        return self._states - 1

    def _add(self, source: int, target: int, label: int, word: int = 0, cost: float = 0.0) -> None:
        self.arcs.append((source, target, label, word, cost))


def write_graphs(folder: Path, lexicon: Lexicon, sentences: Iterable[Sequence[str]]) -> None:
    """Write the model's graph folder.

    Args:
        folder: Made if it is not there.
        lexicon: Every word's spellings.
        sentences: What Gr.fst counts word pairs in; words without a spelling count as gaps.
    """
    (folder / "phones").mkdir(parents=True, exist_ok=True)
    first_ids = {word: number for number, word in enumerate([*sorted(lexicon), NO_WORD], start=1)}
    tree = _Tree()
    for word in sorted(lexicon):
        for spelling in lexicon[word]:
            tree.add_word(spelling, first_ids[word])
    tree.add_no_word(first_ids[NO_WORD])
    with tempfile.TemporaryDirectory() as scratch:
        text, relabelled = Path(scratch, "tree.txt"), Path(scratch, "relabelled")
        # The first line's state is the start.
        lines = [
            f"{s} {t} {i} {o} {c:g}" for s, t, i, o, c in sorted(tree.arcs, key=lambda a: a[0])
        ]
        text.write_text("\n".join([*lines, "0", "1", ""]))
        _shell(
            f"fstcompile {text} | fstarcsort --sort_type=olabel | fstconvert"
            f" --fst_type=olabel_lookahead --save_relabel_opairs={relabelled}"
            f" - {folder / 'HCLr.fst'}"
        )
        # Looking ahead needs word ids of its own choice: they are used everywhere from here.
        pairs = [line.split() for line in relabelled.read_text().splitlines()]
        chosen = {int(old): int(new) for old, new in pairs}
        ids = {word: chosen[number] for word, number in first_ids.items()}
        text.write_text(_pairs(lexicon, sentences, ids))
        _shell(
            f"fstcompile {text} | fstarcsort --sort_type=ilabel"
            f" | fstconvert --fst_type=const - {folder / 'Gr.fst'}"
        )
    _write(folder / "words.txt", [("<eps>", 0), *sorted(ids.items(), key=lambda item: item[1])])
    _write(
        folder / "lexicon.txt",
        [(word, *spelling) for word in sorted(lexicon) for spelling in lexicon[word]],
    )
    _write(folder / "disambig_tid.int", [(len(TRANSITION_ID) + 1,)])
    _write(
        folder / "phones" / "word_boundary.int",
        [(SILENCE, "nonword"), *((n, PLACES[place]) for (_, place), n in PHONE_ID.items())],
    )
    _write(
        folder / "phones.txt",
        [("<eps>", 0), ("SIL", SILENCE), *((f"{p}_{k}", n) for (p, k), n in PHONE_ID.items())],
    )


def _pairs(lexicon: Lexicon, sentences: Iterable[Sequence[str]], ids: Mapping[str, int]) -> str:
    """Return a word-pair model with back-off, as text for fstcompile."""
    start, end = "<s>", "</s>"
    single: Counter[str] = Counter(lexicon.keys())
    pairs: dict[str, Counter[str]] = defaultdict(Counter)
    for sentence in sentences:
        for before, word in zip([start, *sentence], [*sentence, end], strict=True):
            if word == end or word in lexicon:
                single[word] += 1
                if before == start or before in lexicon:
                    pairs[before][word] += 1
    back_off = 1
    state = {start: 0} | {word: number for number, word in enumerate(sorted(lexicon), start=2)}

    def arc(source: int, word: str, probability: float) -> str:
        cost = -math.log(probability)
        if word == end:
            return f"{source} {cost:.4f}"
        return f"{source} {state[word]} {ids[word]} {ids[word]} {cost:.4f}"

    lines: list[str] = []
    for before, source in state.items():
        total = pairs[before].total()
        lines += [arc(source, w, (n - DISCOUNT) / total) for w, n in pairs[before].items()]
        left = DISCOUNT * len(pairs[before]) / total if total else 1.0
        lines.append(f"{source} {back_off} 0 0 {-math.log(left):.4f}")
    total = single.total()
    lines += [arc(back_off, word, count / total) for word, count in single.items()]
    return "\n".join([*lines, ""])


def _write(path: Path, rows: Iterable[Sequence[object]]) -> None:
    path.write_text("".join(" ".join(map(str, row)) + "\n" for row in rows), encoding="utf-8")


def _shell(command: str) -> None:
    # pipefail: a missing program must not leave an empty graph behind.
    subprocess.run(
        ["bash", "-o", "pipefail", "-c", command], check=True, env=dict(os.environ, **_LOOKAHEAD)
    )


def main(folder: Path) -> None:
    """Write the graphs of the words in lexicon.txt, and what their model consists of."""
    sentences = [phrase.split() for context in Context for phrase in phrases(context)]
    write_graphs(folder, read_lexicon(), sentences)
    (folder.parent / NAME).write_text(contents(folder.parent), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE.parent / "model" / "graph")
