"""Write anew what is printed from the code's own tables; tests compare it and fail when stale.

python -m tests.regenerate
"""

from collections.abc import Callable
from pathlib import Path

from assistant.dialogue import diagram, key_card
from hardware import wiring

ROOT = Path(__file__).parent.parent

FILES: dict[str, Callable[[], str]] = {
    "hardware/key_card.svg": key_card.svg,
    "hardware/wiring.svg": wiring.svg,
}

# Parts of a document: what stands between <!-- name --> and <!-- /name -->.
PARTS: dict[tuple[str, str], Callable[[], str]] = {
    ("README.md", "keys"): key_card.markdown,
    ("README.md", "sayings"): diagram.sayings,
    ("DEVELOPERS.md", "states"): diagram.diagram,
    ("DEVELOPERS.md", "modes"): diagram.modes,
    ("DEVELOPERS.md", "events"): diagram.events,
    ("hardware/WIRING.md", "pins"): wiring.markdown,
}


def printed() -> dict[Path, str]:
    """Return what each file should hold."""
    texts = {ROOT / path: text() for path, text in FILES.items()}
    for (name, part), text in PARTS.items():
        path = ROOT / name
        texts[path] = with_part(texts.get(path) or path.read_text("utf-8"), part, text())
    return texts


def with_part(document: str, part: str, text: str) -> str:
    """Return a document with one part put in its place."""
    begin, end = f"<!-- {part} -->", f"<!-- /{part} -->"
    before, _, rest = document.partition(begin)
    _, found, after = rest.partition(end)
    assert found, f"the document has no {begin} or no {end} after it"
    return f"{before}{begin}\n{text}\n{end}{after}"


def main() -> None:
    for path, text in printed().items():
        path.write_text(text, "utf-8")


if __name__ == "__main__":
    main()
