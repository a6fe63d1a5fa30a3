"""Whole conversations from files, compared word for word."""

from pathlib import Path

import pytest

from assistant.dialogue import begin
from assistant.exchange import events_of, exchange
from assistant.settings import Settings
from tests.dialogue.playing import play

FOLDER = Path(__file__).parents[1] / "transcripts"
FILES = sorted(set(FOLDER.glob("*.txt")) - {FOLDER / "README.txt"})


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_the_conversation_goes_as_written(file: Path) -> None:
    written = file.read_text(encoding="utf-8").splitlines()

    assert play(written) == written


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_every_screen_fits(file: Path) -> None:
    screen: list[str] = []
    for line in file.read_text(encoding="utf-8").splitlines():
        kind, _, shown = line.partition(" ")
        screen = [*screen, shown] if kind == "shows" else []
        assert len(screen) <= 4
        assert len(shown) <= 20 or kind != "shows"


def test_the_session_in_the_readme_goes_as_printed() -> None:
    printed = (FOLDER.parents[1] / "README.md").read_text(encoding="utf-8")
    block = printed.partition("    you ")[2].partition("\n\n")[0]
    session = " ".join(f"you {block}".split())
    state = begin(Settings().first_job()).state
    spoken = []
    for exchanged in session.split("you ")[1:]:
        line = exchanged.partition(" says ")[0]
        made = exchange(state, events_of(line))
        state = made.state
        spoken.append(f"you {line} says {made.say}")
    assert " ".join(spoken) == session
