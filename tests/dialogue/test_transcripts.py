"""Whole conversations from files, compared word for word."""

from pathlib import Path

import pytest

from assistant.dialogue import begin
from assistant.exchange import Exchange, events_of, exchange
from assistant.settings import Settings

FOLDER = Path(__file__).parents[1] / "transcripts"
FILES = sorted(set(FOLDER.glob("*.txt")) - {FOLDER / "README.txt"})


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_the_conversation_goes_as_written(file: Path) -> None:
    state = begin(Settings().first_job()).state
    made: Exchange | None = None
    shown: list[str] = []
    went: list[str] = []
    written = file.read_text(encoding="utf-8").splitlines()
    for line in written:
        kind, _, rest = line.partition(" ")
        if kind in ("heard", "keys"):
            made = exchange(state, events_of(rest if kind == "heard" else line))
            state, shown = made.state, list(made.show)
            went.append(line)
        elif kind == "says":
            assert made is not None
            went.append(f"says {made.say}")
        else:
            went.append(f"shows {shown.pop(0).rstrip()}")
    assert went == written


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_every_screen_fits_and_refusals_change_no_value(file: Path) -> None:
    state = begin(Settings().first_job()).state
    for line in file.read_text(encoding="utf-8").splitlines():
        kind, _, rest = line.partition(" ")
        if kind not in ("heard", "keys"):
            continue
        made = exchange(state, events_of(rest if kind == "heard" else line))
        assert len(made.show) <= 4
        assert all(len(shown) <= 20 for shown in made.show)
        if made.understood is None:
            assert not made.show[-1].endswith("..."), "a refusal must be shown whole"
        if made.understood is None and kind == "heard":
            assert (made.state.job, made.state.mode) == (state.job, state.mode)
        state = made.state


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
