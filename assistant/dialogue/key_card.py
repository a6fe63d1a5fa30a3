"""The key card: the key scheme as a page to print and as a table, both from the one table.

The page is A5, drawn to be read in black and white from arm's length: each letter as the pad
it leads to, and below it what takes a third key. A name that ends in … wants its number next.
"""

import textwrap
from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape

from assistant.dialogue.keypad import FUNCTIONS, PAD, PAGES
from assistant.events import TALK_KEY

# All in millimetres.
WIDTH, HEIGHT = 148.0, 210.0
MARGIN, GAP = 6.0, 4.0
BLOCK = (WIDTH - 2 * MARGIN - GAP) / 2
KEY = BLOCK / 4, 9.0
HEADER = 6.0
ROW = 3.9
# So many letters of this size fit beside a key's own.
NAME_LETTERS, SMALL = 10, 2.1

TALK = f"Hold {TALK_KEY} down to talk, no word first; let go to be answered."
NUMBER_KEYS = (
    ("0-9", "the figures"),
    ("*", "point"),
    ("#", "enter, or go on to the next"),
    ("A", "fraction bar: 3 A 5 A 8 is 3 5/8"),
    ("B", "next in a list"),
    ("C", "millimetres or inches"),
    ("D", "rub out one key, then leave"),
)
ANSWER_KEYS = (
    ("#", "yes"),
    ("*", "no, struck out"),
    ("1 2", "first, second"),
)


def svg() -> str:
    """Return the card as an SVG drawing."""
    top = 19.0
    left, right = MARGIN, MARGIN + BLOCK + GAP
    pad_height = HEADER + 4 * KEY[1]
    lists = top + pad_height + 3
    second = lists + _list_height(len(_keys("AA"))) + 3
    below = second + pad_height + 3
    beside = left + BLOCK / 2 + 1, right + BLOCK / 2 + 1
    parts = [
        _text(MARGIN, 12.0, "Setover", 7, "bold"),
        _text(MARGIN + 30, 5.4, TALK, 2.7),
        _text(MARGIN + 30, 9.0, "A name that ends in … wants its number, then #.", 2.7),
        _text(MARGIN + 30, 12.6, "Stop the spindle before you touch the work or the head.", 2.7),
        *_pad("A", left, top),
        *_page("AA", left, lists),
        *_page("AB", beside[0], lists),
        *_pad("B", right, top),
        *_page("BA", right, lists),
        *_page("BB", beside[1], lists),
        *_pad("C", left, second),
        *_page("CA", left, below),
        *_pad("D", right, second),
        *_page("DA", right, below),
        *_page("DB", right, below + _list_height(len(_keys("DA")))),
        *_page("DC", beside[1], below),
        *_list("When asked", ANSWER_KEYS, beside[0], below),
        *_list("While a number is keyed", NUMBER_KEYS, left, below + _list_height(3)),
    ]
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH:g}mm" height="{HEIGHT:g}mm" '
            f'viewBox="0 0 {WIDTH:g} {HEIGHT:g}" font-family="Helvetica, Arial, sans-serif">',
            f'<rect width="{WIDTH:g}" height="{HEIGHT:g}" fill="white"/>',
            *parts,
            "</svg>\n",
        )
    )


def markdown() -> str:
    """Return the keys as a table of Markdown."""
    rows = (f"| {' '.join(page)} {PAGES[page].name} | {_row(page)} |" for page in PAGES)
    return "\n".join(("| keys | then |", "|---|---|", *rows))


def _row(page: str) -> str:
    return ", ".join(f"`{key}` {name}" for key, name in _keys(page))


def _keys(page: str) -> list[tuple[str, str]]:
    """Return the keys that choose a function on a page, in the order they lie, and its name."""
    order = "1234567890#*ABCD"
    return [(key, _name(page + key)) for key in order if page + key in FUNCTIONS]


def _name(keys: str) -> str:
    function = FUNCTIONS[keys]
    return f"{function.name}…" if function.slots else function.name


def _pad(letter: str, x: float, y: float) -> Iterable[str]:
    """Draw what follows a letter as the keys lie on the pad."""
    yield f'<rect x="{x:g}" y="{y:g}" width="{BLOCK:g}" height="{HEADER:g}"/>'
    yield _text(x + 2, y + 4.6, letter, 4.6, "bold", "white")
    yield _text(x + 8, y + 4.3, PAGES[letter].name, 3.2, fill="white")
    wide, high = KEY
    for row, keys in enumerate(PAD):
        for column, key in enumerate(keys):
            chosen = letter + key
            at = x + column * wide, y + HEADER + row * high
            yield (
                f'<rect x="{at[0]:g}" y="{at[1]:g}" width="{wide:g}" height="{high:g}" '
                f'fill="none" stroke="black" stroke-width="0.2"/>'
            )
            name, weight = "", "normal"
            if chosen in FUNCTIONS:
                name = _name(chosen)
            elif chosen in PAGES:
                name, weight = PAGES[chosen].name, "bold"
            elif key == "D":
                name = "back"
            if not name:
                continue
            yield _text(at[0] + 1, at[1] + 5.6, key, 4, "bold")
            yield from _lines(at[0] + 4.5, at[1] + 5.2, name, weight)


def _lines(x: float, middle: float, name: str, weight: str) -> Iterable[str]:
    lines = textwrap.wrap(name, NAME_LETTERS, break_long_words=False)
    first = middle - (len(lines) - 1) * 1.3
    for number, line in enumerate(lines):
        yield _text(x, first + number * 2.6, line, SMALL, weight)


def _page(page: str, x: float, y: float) -> Iterable[str]:
    return _list(f"{' '.join(page)}  {PAGES[page].name}", _keys(page), x, y)


def _list(title: str, rows: Sequence[tuple[str, str]], x: float, y: float) -> Iterable[str]:
    yield _text(x, y + 3, title, 2.8, "bold")
    for number, (key, name) in enumerate(rows, 1):
        yield _text(x, y + 3.4 + number * ROW, key, 2.9, "bold")
        yield _text(x + 6, y + 3.4 + number * ROW, name, 2.6)


def _list_height(rows: int) -> float:
    return 6.0 + rows * ROW


def _text(
    x: float, y: float, words: str, size: float, weight: str = "normal", fill: str = "black"
) -> str:
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{size:g}" font-weight="{weight}" '
        f'fill="{fill}" xml:space="preserve">{escape(words)}</text>'
    )
