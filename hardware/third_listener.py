"""Which of some sentences was said, by a network that writes them piece by piece.

The recogniser's child asks it where the first two listeners leave several sentences likely. It
was taught by far more people than they were: the small English recogniser that the second began
as, kept as it was but for how it writes. MODEL.md tells more.
"""

import itertools
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from hardware.held_matrices import (
    LEAST_VARIANCE,
    Attention,
    Floats,
    Held,
    Known,
    Matrix,
    even,
)

# Of the model's directory; a model without them has no third listener.
MATRICES, NUMBERS, PIECES = "third/matrices.bin", "third/numbers.npy", "third/pieces.txt"

# The sizes of the network, as its files have them: of its rows, and of each convolution how many
# moments it takes at once, and of how many it begins at one.
WIDTH, HEADS, INNER, LAYERS = 288, 8, 1152, 6
CONVOLUTIONS = ((127, 64), (7, 3), (3, 2))
# Of each head's numbers so many turn with their place, a pair of them this slow at most.
TURNED, SLOWEST = 32, 10_000.0
_TURNS = (SLOWEST ** -(np.arange(0, TURNED, 2) / TURNED)).astype(np.float32)
_NEVER = np.float32(-1e30)
# The first pieces; then come those of words, the oftener joined the earlier.
UNKNOWN, BEGIN, END = range(3)
# Stands before a word.
_SPACE = "▁"
# More than are said in the longest sound that is heard.
_MOST_PIECES = 60
_I = {"i": "I", "i've": "I've", "i'm": "I'm", "i'd": "I'd", "i'll": "I'll"}


# Of words, by their numbers.
Pieces = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Dense:
    """A matrix with something added to its outputs."""

    matrix: Matrix
    offset: Floats

    def of(self, rows: Floats) -> Floats:
        return self.matrix.of(rows) + self.offset


@dataclass(frozen=True, slots=True)
class _Layer:
    """Of the part that hears."""

    norms: Floats
    own: Attention
    inner: _Dense
    outer: _Dense

    def after(self, rows: Floats, turn: Floats) -> Floats:
        given = even(rows) * self.norms[0]
        rows = rows + self.own.of(given, self.own.known(given, turn), turn)
        return rows + self.outer.of(_bent(self.inner.of(even(rows) * self.norms[1])))


@dataclass(frozen=True, slots=True)
class _WritingLayer:
    """Of the part that writes: pieces ask those before them, and the sound."""

    norms: Floats
    own: Attention
    of_sound: Attention
    inner: _Dense
    outer: _Dense

    def after(
        self, rows: Floats, turn: Floats, add: Floats | None, sound: Known, before: Known | None
    ) -> tuple[Floats, Known]:
        """Return the rows after this layer, and what may be asked of all pieces so far."""
        given = even(rows) * self.norms[0]
        known = self.own.known(given, turn)
        if before is not None:
            known = (np.hstack([before[0], known[0]]), np.hstack([before[1], known[1]]))
        rows = rows + self.own.of(given, known, turn, add)
        rows = rows + self.of_sound.of(even(rows) * self.norms[1], sound)
        let, gate = np.split(self.inner.of(even(rows) * self.norms[2]), 2, axis=1)
        return rows + self.outer.of(let * gate / (1 + np.exp(-gate))), known


# What each layer that writes may ask of a sound.
Heard = list[Known]


class Spelling:
    """How what is said is written in pieces of words.

    Of all pairs of pieces in a word those are joined first that come first in the list.
    """

    def __init__(self, pieces: Sequence[str]) -> None:
        self.pieces = pieces
        self._number = {piece: place for place, piece in enumerate(pieces)}
        self.stop = self._number["."]
        self.word: Callable[[str], Pieces] = cache(self._cut)

    def of(self, sentence: str) -> Iterator[int]:
        """Return the pieces of a sentence, with a capital and a full stop."""
        for word in capital(" ".join(map(written, sentence.split()))).split():
            yield from self.word(word)
        yield self.stop

    def joined(self, word: str) -> set[str]:
        """Return every piece on the way from a word's letters to its pieces."""
        return {piece for cut in self._cuts(word) for piece in cut if piece in self._number}

    def _cut(self, word: str) -> Pieces:
        *_, last = self._cuts(word)
        return tuple(self._number.get(piece, UNKNOWN) for piece in last)

    def _cuts(self, word: str) -> Iterator[list[str]]:
        """Return a word in ever fewer pieces, from its letters on."""
        cut = [_SPACE, *word]
        while True:
            yield cut
            pairs = [first + second for first, second in itertools.pairwise(cut)]
            known = [
                (self._number[pair], at) for at, pair in enumerate(pairs) if pair in self._number
            ]
            if not known:
                return
            _, at = min(known)
            cut = [*cut[:at], pairs[at], *cut[at + 2 :]]


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Some words, and what sentences of them are written in.

    Args:
        words: Each word by its pieces, also with a capital.
        first: The pieces that may begin a sentence.
        after: Those that may follow a word.
        within: Those that may follow what there is of one.
        places: Where each piece stands among all that are needed.
        rows: Those pieces' own numbers.
    """

    words: dict[Pieces, str]
    first: set[int]
    after: set[int]
    within: dict[Pieces, set[int]]
    places: dict[int, int]
    rows: Floats


class ThirdListener:
    """The network, and how sentences are cut into its pieces."""

    def __init__(self, model: Path) -> None:
        pieces = (model / PIECES).read_text(encoding="utf-8").split("\n")[:-1]
        self._spelling = Spelling(pieces)
        held = self._held = Held(model / MATRICES, model / NUMBERS)
        self._first = held.matrix(CONVOLUTIONS[0][0], WIDTH)
        self._levels, self._offsets = held.numbers(WIDTH), held.numbers(WIDTH)
        self._second = _dense(held, CONVOLUTIONS[1][0] * WIDTH, 2 * WIDTH)
        self._third = _dense(held, CONVOLUTIONS[2][0] * 2 * WIDTH, WIDTH)
        self._hearing = [_layer(held) for _ in range(LAYERS)]
        self._heard_norm = held.numbers(WIDTH)
        self._embedded = held.matrix(WIDTH, len(pieces))
        self._writing = [_writing_layer(held) for _ in range(LAYERS)]
        self._written_norm = held.numbers(WIDTH)

    def hear(self, sound: Floats) -> Heard:
        """Return what the network makes of sound at 16 kHz, at most 1 loud."""
        (size, step), *later = CONVOLUTIONS
        rows = self._first.of(sliding_window_view(sound, size)[::step])
        np.tanh(rows, out=rows)
        rows -= rows.mean()
        rows /= np.sqrt(np.vdot(rows, rows) / rows.size + LEAST_VARIANCE)
        rows = rows * self._levels + self._offsets
        for (size, step), dense in zip(later, (self._second, self._third), strict=True):
            rows = _bent(_beside(rows, size, step, dense))
        turn = np.arange(len(rows), dtype=np.float32)[:, None] * _TURNS
        for layer in self._hearing:
            rows = layer.after(rows, turn)
            self._held.let_go()
        rows = even(rows) * self._heard_norm
        heard = [layer.of_sound.known(rows) for layer in self._writing]
        self._held.let_go()
        return heard

    def fits(self, heard: Heard, sentences: Sequence[str], known: Vocabulary) -> list[float]:
        """Return how likely each sentence of some words was said, as a natural logarithm."""
        ways = [(*self._spelling.of(sentence), END) for sentence in sentences]
        # Sentences that begin alike have the pieces they begin with in common.
        places: dict[Pieces, int] = {(): 0}
        for way in ways:
            for length in range(1, len(way)):
                places.setdefault(way[:length], len(places))
        seen = np.zeros((len(places), len(places)), bool)
        for begun, place in places.items():
            seen[place, [places[begun[:length]] for length in range(len(begun) + 1)]] = True
        pieces = [begun[-1] if begun else BEGIN for begun in places]
        depth = seen.sum(axis=1, dtype=np.float32) - 1
        add = np.where(seen, np.float32(0), _NEVER)
        logs, _ = self._next(heard, known, pieces, depth, add)
        return [
            float(sum(logs[places[way[:at]], known.places[each]] for at, each in enumerate(way)))
            for way in ways
        ]

    def proposed(self, heard: Heard, known: Vocabulary) -> str:
        """Return what is written of some words, the likeliest piece each time."""
        done: list[Pieces] = []
        word: Pieces = ()
        piece, before = BEGIN, None
        for place in range(_MOST_PIECES):
            depth = np.array([place], np.float32)
            logs, before = self._next(heard, known, [piece], depth, None, before)
            on = known.within.get(word, set()) if place else known.first
            on = on | known.after if word in known.words else on
            piece = max(on, key=lambda each: logs[0, known.places[each]])
            if piece == self._spelling.stop:
                break
            if word and self._spelling.pieces[piece].startswith(_SPACE):
                done.append(word)
                word = ()
            word = (*word, piece)
        return " ".join(known.words[each] for each in (*done, word) if each in known.words)

    def _next(
        self,
        heard: Heard,
        known: Vocabulary,
        pieces: Sequence[int],
        depth: Floats,
        add: Floats | None,
        before: list[Known] | None = None,
    ) -> tuple[Floats, list[Known]]:
        """Return how likely each piece is after each, and what may be asked of these.

        Args:
            heard: The sound.
            known: Whose pieces they are.
            pieces: One after another.
            depth: How many pieces there are before each.
            add: Far below 0 where a piece must not see another.
            before: What may be asked of the pieces before these.
        """
        rows = known.rows[[known.places[piece] for piece in pieces]]
        turn, own = depth[:, None] * _TURNS, list[Known]()
        for number, layer in enumerate(self._writing):
            earlier = before[number] if before else None
            rows, of_layer = layer.after(rows, turn, add, heard[number], earlier)
            own.append(of_layer)
            self._held.let_go()
        scores = even(rows) * self._written_norm @ known.rows.T
        return np.asarray(scores - np.logaddexp.reduce(scores, axis=1, keepdims=True)), own

    def vocabulary(self, words: Iterable[str]) -> Vocabulary:
        """Return what it takes to write sentences of some words."""
        spelling = self._spelling
        inside = {spelling.word(written(word)): word for word in words}
        first = {spelling.word(capital(written(word))): word for word in inside.values()}
        within: dict[Pieces, set[int]] = {}
        for pieces in inside | first:
            for length in range(1, len(pieces)):
                within.setdefault(pieces[:length], set()).add(pieces[length])
        needed = sorted({BEGIN, END, spelling.stop}.union(*inside, *first))
        places = {piece: place for place, piece in enumerate(needed)}
        rows = self._embedded.columns(np.array(needed))
        begins, after = ({each[0] for each in words_in} for words_in in (first, inside))
        after.add(spelling.stop)
        return Vocabulary(inside | first, begins, after, within, places, rows)


def _dense(held: Held, inputs: int, outputs: int) -> _Dense:
    return _Dense(held.matrix(inputs, outputs), held.numbers(outputs))


def _beside(rows: Floats, size: int, step: int, dense: _Dense) -> Floats:
    """Return what a convolution makes of rows, one part after another: it takes little memory."""
    starts = len(rows) - size + 1
    made = np.repeat(dense.offset[None], -(-starts // step), axis=0)
    for at in range(size):
        made += dense.matrix.part(at, size).of(rows[at : at + starts : step])
    return made


def _layer(held: Held) -> _Layer:
    return _Layer(
        norms=held.numbers(2 * WIDTH).reshape(2, WIDTH),
        own=held.attention(WIDTH, HEADS),
        inner=_dense(held, WIDTH, INNER),
        outer=_dense(held, INNER, WIDTH),
    )


def _writing_layer(held: Held) -> _WritingLayer:
    return _WritingLayer(
        norms=held.numbers(3 * WIDTH).reshape(3, WIDTH),
        own=held.attention(WIDTH, HEADS),
        of_sound=held.attention(WIDTH, HEADS),
        inner=_dense(held, WIDTH, 2 * INNER),
        outer=_dense(held, INNER, WIDTH),
    )


def written(word: str) -> str:
    """Return a word as it is written inside a sentence."""
    return _I.get(word, word)


def capital(sentence: str) -> str:
    """Return it with a capital; what follows is left as it is."""
    return sentence[:1].upper() + sentence[1:]


def _bent(rows: Floats) -> Floats:
    """Return rows with what is below 0 made small (GELU, as a hyperbolic tangent has it).

    x / 2 (1 + tanh(0.798 (x + 0.0447 x^3))), in one place: there is little room.
    """
    bent = rows * rows
    bent *= np.float32(0.044_715)
    bent += 1
    bent *= rows
    bent *= np.float32(0.797_884_56)
    np.tanh(bent, out=bent)
    bent += 1
    bent *= rows
    bent /= 2
    return bent
