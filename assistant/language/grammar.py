"""The spoken language, read from the grammar files: its words, its sentences, its parses.

lark reads the files; the parsing is ours. lark's own parser for ambiguous grammars took 15
to 120 ms a sentence on this language, too long for a small board, and its fast one forbids
the loose word order people use. Nothing here is recursive but lists, so walking the rules
from the top, each tried only where the next word can begin it, finds every parse in about
a millisecond.

A rule becomes a value by calling what its name or alias stands for in a table, with the
values of its parts; rules whose names begin with an underscore hand their parts upwards.
"""

import random
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from lark import Lark
from lark.grammar import Rule, Terminal

from assistant.errors import BenchError, NotUnderstood

# Deeper than this a random sentence takes the shortest way out.
_SAMPLE_DEPTH = 12

# Stands after the last word.
_END = ""

Parts = tuple[object, ...]
Table = Mapping[str, Callable[..., object]]


@dataclass(frozen=True, slots=True)
class _Expansion:
    """One way to say a rule: its symbols, the name of what it builds, the words it begins with."""

    symbols: tuple[str, ...]
    kept: tuple[bool, ...]
    builds: str


@dataclass(slots=True)
class _Fork:
    """Where the ways to say a rule part: those that begin alike are walked together.

    `onward` leads from a symbol, and whether its value is kept, to the next fork; `builds`
    names what the ways that end here build.
    """

    onward: "dict[tuple[str, bool], _Fork]" = field(default_factory=dict)
    builds: list[str] = field(default_factory=list)

    def add(self, way: _Expansion) -> None:
        fork = self
        for step in zip(way.symbols, way.kept, strict=True):
            fork = fork.onward.setdefault(step, _Fork())
        fork.builds.append(way.builds)


class Grammar:
    """Every .lark file of a folder, taken together as one language.

    Args:
        folder: Where the files are.
        contexts: The rules a sentence can start from.

    Raises:
        ValueError: Two terminals share a word, or a rule begins with itself.
    """

    def __init__(self, folder: Path, contexts: Sequence[str]) -> None:
        files = sorted(folder.glob("*.lark"))
        text = "\n".join(file.read_text(encoding="utf-8") for file in files)
        read = Lark(
            text, parser=None, lexer="basic", start=list(contexts), maybe_placeholders=False
        )
        self.examples = {file.stem: tuple(_examples(file)) for file in files}
        self._words_of: dict[str, tuple[str, ...]] = {}
        self._terminal_of: dict[str, str] = {}
        for terminal in read.terminals:
            # A terminal is one word, or a choice of words: (?:inch|inches).
            pattern = terminal.pattern.value.removeprefix("(?:").removesuffix(")")
            words = tuple(sorted(pattern.split("|")))
            self._words_of[terminal.name] = words
            for word in words:
                if word in self._terminal_of:
                    raise ValueError(
                        f"{word!r} is in {terminal.name} and {self._terminal_of[word]}"
                    )
                self._terminal_of[word] = terminal.name
        self._rules: dict[str, list[_Expansion]] = {}
        for rule in read.rules:
            self._rules.setdefault(str(rule.origin.name), []).append(_expansion(rule))
        named = {way.builds for ways in self._rules.values() for way in ways}
        self.builds = frozenset(name for name in named if not name.startswith("_"))
        self._first = {name: frozenset((name,)) for name in self._words_of}
        for name in self._rules:
            self._first_words(name, ())
        self._forks: dict[str, _Fork] = {name: _Fork() for name in self._rules}
        for name, ways in self._rules.items():
            for way in ways:
                self._forks[name].add(way)
        self._shortest = self._shortest_lengths()

    def words(self, context: str) -> tuple[str, ...]:
        """Return every word that can be said in a context, in order."""
        seen: set[str] = set()
        todo = [context]
        while todo:
            name = todo.pop()
            if name not in seen:
                seen.add(name)
                todo += [symbol for way in self._rules.get(name, ()) for symbol in way.symbols]
        terminals = seen & self._words_of.keys()
        words = {word for name in terminals for word in self._words_of[name]}
        return tuple(sorted(words - {","}))

    def meanings(self, sentence: str, context: str, table: Table) -> list[object]:
        """Return every different value the sentence has in a context.

        A parse whose entry in the table raises a BenchError is no meaning, unless none is left:
        then the first such error is raised.

        Raises:
            NotUnderstood: No parse, or a word that is not in the grammar.
            BenchError: Every parse was refused by the table.
        """
        words = sentence.replace(",", " , ").split()
        unknown = next((word for word in words if word not in self._terminal_of), None)
        if unknown is not None or not words:
            raise NotUnderstood(sentence, unknown)
        parse = _Parse(self, [self._terminal_of[word] for word in words], words, table)
        values = [kept[0] for end, kept in parse.ways(context, 0) if end == len(words)]
        if not values:
            if parse.refusals:
                raise parse.refusals[0]
            raise NotUnderstood(sentence, None)
        different: list[object] = []
        for value in values:
            if value not in different:
                different.append(value)
        return different

    def sample(self, context: str, rng: random.Random, saying: str | None = None) -> str:
        """Return a random sentence of a context, its pauses as commas between words.

        `saying` is a word it must have; the context must have one that does.
        """
        said: list[str] = []
        self._speak(context, rng, _SAMPLE_DEPTH, said, saying)
        return " ".join(said)

    def _speak(
        self, symbol: str, rng: random.Random, depth: int, said: list[str], saying: str | None
    ) -> None:
        if symbol in self._words_of:
            said.append(saying or rng.choice(self._words_of[symbol]))
            return
        # Each with the place of the part that is to say the word.
        ways: list[tuple[_Expansion, int | None]] = [(way, None) for way in self._rules[symbol]]
        if saying is not None:
            ways = [
                (way, place)
                for way, _ in ways
                for place, part in enumerate(way.symbols)
                if saying in self.words(part)
            ]
        if depth <= 0:
            way, bearer = min(
                ways, key=lambda each: sum(self._shortest[s] for s in each[0].symbols)
            )
        else:
            way, bearer = rng.choice(ways)
        for place, part in enumerate(way.symbols):
            self._speak(part, rng, depth - 1, said, saying if place == bearer else None)

    def _first_words(self, symbol: str, above: tuple[str, ...]) -> frozenset[str]:
        """Return the terminals a symbol can begin with. Every rule says at least one word."""
        if symbol in above:
            raise ValueError(f"the rule {symbol} begins with itself")
        if symbol not in self._first:
            firsts = (
                self._first_words(w.symbols[0], (*above, symbol)) for w in self._rules[symbol]
            )
            self._first[symbol] = frozenset().union(*firsts)
        return self._first[symbol]

    def _shortest_lengths(self) -> dict[str, float]:
        lengths: dict[str, float] = dict.fromkeys(self._words_of, 1.0)
        lengths |= dict.fromkeys(self._rules, float("inf"))
        settled = False
        while not settled:
            settled = True
            for name, ways in self._rules.items():
                best = min(sum(lengths[symbol] for symbol in way.symbols) for way in ways)
                if best < lengths[name]:
                    lengths[name], settled = best, False
        return lengths


class _Parse:
    """All the ways one sentence can be read; each part is worked out once."""

    def __init__(
        self, grammar: Grammar, terminals: list[str], words: list[str], table: Table
    ) -> None:
        self.refusals: list[BenchError] = []
        self._forks, self._first = grammar._forks, grammar._first
        # Nothing begins with the end, so that no place needs to be compared with it.
        self._terminals, self._words, self._table = [*terminals, _END], words, table
        self._done: dict[tuple[str, int], list[tuple[int, Parts]]] = {}

    def ways(self, symbol: str, start: int) -> list[tuple[int, Parts]]:
        """Return where a symbol begun at `start` can end, and what it then hands upwards."""
        if self._terminals[start] not in self._first[symbol]:
            return []
        if symbol not in self._forks:
            return [(start + 1, (self._words[start],))]
        known = self._done.get((symbol, start))
        if known is None:
            known = self._done[symbol, start] = []
            self._walk(self._forks[symbol], [(start, ())], known)
        return known

    def _walk(
        self, fork: _Fork, partial: list[tuple[int, Parts]], found: list[tuple[int, Parts]]
    ) -> None:
        """Go on from a fork with what was read before it; add every end to what is found."""
        for name in fork.builds:
            for end, parts in partial:
                built = self._built(name, parts)
                if built is not None and (end, built) not in found:
                    found.append((end, built))
        terminals, firsts = self._terminals, self._first
        for (symbol, keep), onward in fork.onward.items():
            first = firsts[symbol]
            begun_here = [read for read in partial if terminals[read[0]] in first]
            if not begun_here:
                continue
            further = [
                (end, parts + more if keep else parts)
                for begun, parts in begun_here
                for end, more in self.ways(symbol, begun)
            ]
            if further:
                self._walk(onward, further, found)

    def _built(self, name: str, parts: Parts) -> Parts | None:
        if name.startswith("_"):
            return parts
        try:
            return (self._table[name](*parts),)
        except BenchError as refusal:
            self.refusals.append(refusal)
            return None


def _expansion(rule: Rule) -> _Expansion:
    symbols = tuple(str(symbol.name) for symbol in rule.expansion)
    # lark marks the words written as literals: they are said but carry no meaning.
    kept = tuple(not (isinstance(s, Terminal) and s.filter_out) for s in rule.expansion)
    return _Expansion(symbols, kept, str(rule.alias or rule.origin.name))


def _examples(file: Path) -> Iterable[str]:
    for line in file.read_text(encoding="utf-8").splitlines():
        if line.startswith("//   "):
            yield line[2:].strip()
