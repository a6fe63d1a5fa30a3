"""The key card: printed from the key table, whole, and kept up to date."""

from pathlib import Path
from xml.etree import ElementTree

import pytest

from assistant.dialogue import key_card
from assistant.dialogue.keypad import FUNCTIONS, PAGES
from tests.regenerate import printed

SVG = "{http://www.w3.org/2000/svg}"

# A letter of a plain sans-serif is on average no wider than this share of its size.
WIDEST = 0.56


@pytest.mark.parametrize("path", printed(), ids=lambda path: path.name)
def test_what_is_printed_from_the_tables_is_up_to_date(path: Path) -> None:
    assert path.read_text("utf-8") == printed()[path], "run python -m tests.regenerate"


def texts() -> list[ElementTree.Element]:
    return list(ElementTree.fromstring(key_card.svg()).iter(f"{SVG}text"))


def test_the_card_names_every_function() -> None:
    # Names are broken into lines, so compare them without spaces and dots.
    card = "".join(text.text or "" for text in texts()).replace(" ", "")

    for function in FUNCTIONS.values():
        assert function.name.replace(" ", "") in card
    for page in PAGES.values():
        assert page.name.replace(" ", "") in card


def test_the_table_names_every_function_once() -> None:
    rows = dict(zip(PAGES, key_card.markdown().splitlines()[2:], strict=True))

    for keys, function in FUNCTIONS.items():
        assert f"`{keys[-1]}` {function.name}" in rows[keys[:-1]]
    assert "".join(rows.values()).count("`") == 2 * len(FUNCTIONS)


def test_nothing_on_the_card_runs_over_its_edge() -> None:
    for text in texts():
        size, words = float(text.attrib["font-size"]), text.text or ""
        x, y = float(text.attrib["x"]), float(text.attrib["y"])
        assert x + WIDEST * size * len(words) <= key_card.WIDTH
        assert size <= y <= key_card.HEIGHT - key_card.MARGIN / 2


def test_no_two_words_of_the_card_lie_on_each_other() -> None:
    boxes = [
        (
            float(text.attrib["x"]),
            float(text.attrib["y"]) - 0.7 * float(text.attrib["font-size"]),
            float(text.attrib["x"])
            + WIDEST * float(text.attrib["font-size"]) * len(text.text or ""),
            float(text.attrib["y"]),
            text.text,
        )
        for text in texts()
    ]
    lying = [
        (one[4], other[4])
        for number, one in enumerate(boxes)
        for other in boxes[:number]
        if one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
    ]

    assert lying == []
