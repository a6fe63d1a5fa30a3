"""The commands, as a user types them: words, keys, sound, and things that are not there."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from assistant.events import Key, KeyPressed
from assistant.exchange import events_of
from hardware.recogniser import CONTENTS
from hardware.sound_files import read_sound, write_sound
from hardware.voice import PyttsxSynthesiser
from tests.hardware.conftest import MODEL

JOB = (
    "number two morse taper",
    "length between balls one hundred and forty two point five millimetres",
    "how many turns",
)


def setover(*arguments: str, given: str = "") -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "assistant", *arguments]
    return subprocess.run(command, input=given, capture_output=True, text=True, check=False)


def last(finished: subprocess.CompletedProcess[str]) -> dict[str, Any]:
    assert finished.returncode == 0, finished.stderr
    found: dict[str, Any] = json.loads(finished.stdout.splitlines()[-1])
    return found


def test_recordings_words_and_keys_give_the_same_values(tmp_path: Path) -> None:
    voice = PyttsxSynthesiser("en-gb", 150)
    files = [tmp_path / f"{number}.wav" for number in range(len(JOB))]
    for file, sentence in zip(files, JOB, strict=True):
        write_sound(file, voice.sound(sentence))
    voice.close()
    heard = last(setover("hear", "--json", *map(str, files)))
    typed = last(setover("type", "--json", given="\n".join(JOB)))
    keyed = last(setover("type", "--json", given="keys A 2 2 #\nkeys B 1 1 4 2 * 5 #\nkeys C 2"))
    assert heard["values"] == typed["values"] == keyed["values"]
    # Worked by hand: atan(0.59941 / 24) = 1.43069 deg; 142.5 sin a = 3.5579; / 0.5 = 7.1158.
    assert heard["values"]["set_over_mm"] == pytest.approx(3.5579, abs=5e-5)
    assert (heard["values"]["turns"], round(heard["values"]["divisions"], 1)) == (7, 5.8)
    assert heard["values"]["side"] == "towards operator"


def test_run_with_nothing_connected_names_what_is_missing_and_takes_the_keyboard() -> None:
    finished = setover("run", given="1\n")
    assert finished.returncode == 0, finished.stderr
    assert "keypad" in finished.stdout
    assert "What is the taper?" in finished.stdout


@pytest.fixture
def other_model(tmp_path: Path) -> Path:
    """Return settings that name a model which lacks two words of the grammars."""
    model = shutil.copytree(MODEL, tmp_path / "model")
    (model / CONTENTS).unlink()
    known = model / "graph" / "words.txt"
    kept = [
        line
        for line in known.read_text(encoding="utf-8").splitlines(keepends=True)
        if line.split()[0] not in ("morse", "balls")
    ]
    known.write_text("".join(kept), encoding="utf-8")
    settings = tmp_path / "settings.toml"
    settings.write_text(f'[sound]\nmodel = "{model}"\n', encoding="utf-8")
    return settings


@pytest.mark.parametrize("command", ["check", "run"])
def test_words_that_a_model_named_in_the_settings_lacks_are_told(
    other_model: Path, command: str
) -> None:
    finished = setover("--settings", str(other_model), command)

    assert finished.returncode == 0, finished.stderr
    assert "lacks the words balls, morse;" in finished.stdout


@pytest.mark.parametrize("command", ["check", "run"])
def test_a_model_that_is_damaged_is_told_and_the_rest_goes_on(tmp_path: Path, command: str) -> None:
    model = shutil.copytree(MODEL, tmp_path / "model")
    (model / "graph" / "HCLr.fst").write_bytes(b"HCLr")
    settings = tmp_path / "settings.toml"
    settings.write_text(f'[sound]\nmodel = "{model}"\n', encoding="utf-8")

    finished = setover("--settings", str(settings), command)

    assert finished.returncode == 0, finished.stderr
    assert "lacks an undamaged graph/HCLr.fst; install it again." in finished.stdout


def checked_at_a_terminal(*arguments: str) -> str:
    """Return what the check shows at a terminal where n and Enter are typed ahead."""
    ours, theirs = os.openpty()
    os.write(ours, b"n\n")
    try:
        command = [sys.executable, "-m", "assistant", "check", *arguments]
        assert subprocess.run(command, stdin=theirs, stdout=theirs, check=False).returncode == 0
        return os.read(ours, 10_000).decode()
    finally:
        os.close(ours)
        os.close(theirs)


def test_the_check_asks_for_help_at_a_terminal_alone_and_not_when_told_to_be_quiet() -> None:
    assert "Stop the spindle first" in checked_at_a_terminal()
    assert "Stop the spindle first" not in checked_at_a_terminal("--quiet")
    piped = setover("check", given="n\n")
    assert "keypad" in piped.stdout
    assert "Stop the spindle first" not in piped.stdout


@pytest.mark.parametrize("arguments", [["hear"], ["sing"], []])
def test_bad_arguments_end_with_status_2(arguments: list[str]) -> None:
    assert setover(*arguments).returncode == 2


def test_what_is_set_is_shown_and_is_itself_a_settings_file(tmp_path: Path) -> None:
    file, shown = tmp_path / "bench.toml", tmp_path / "shown.toml"
    file.write_text("[head]\npitch_mm = 1\n", encoding="utf-8")

    first = setover("--settings", str(file), "settings")
    assert (first.returncode, first.stderr) == (0, "")
    assert f"pitch_mm = 1.0  # a number from 0.01 to 25; {file}:2\n" in first.stdout

    shown.write_text(first.stdout, encoding="utf-8")
    again = setover("--settings", str(shown), "settings")
    assert [line.partition("#")[0] for line in again.stdout.splitlines()] == [
        line.partition("#")[0] for line in first.stdout.splitlines()
    ]


@pytest.mark.parametrize("command", ["settings", "type", "check", "run"])
def test_settings_that_cannot_be_end_with_status_1_and_a_sentence(
    tmp_path: Path, command: str
) -> None:
    file = tmp_path / "bench.toml"
    for holds, sentence in {
        b"[head]\npitch_mm = inf\n": (
            f"In {file}, line 2, the setting head.pitch_mm must be a number from 0.01 to 25, "
            "not inf.\n"
        ),
        b"\xff": f"I cannot read the settings in {file}: it is no text in UTF-8.\n",
    }.items():
        file.write_bytes(holds)
        finished = setover("--settings", str(file), command)
        assert (finished.returncode, finished.stderr) == (1, sentence)

    missing = setover("--settings", str(tmp_path / "no.toml"), command)
    assert (missing.returncode, missing.stderr) == (
        1,
        f"I cannot read the settings in {tmp_path / 'no.toml'}: no such file or directory.\n",
    )


def test_a_sound_file_that_is_none_ends_with_status_1_and_a_sentence(tmp_path: Path) -> None:
    file = tmp_path / "not.wav"
    file.write_text("words")
    finished = setover("hear", str(file))
    assert finished.returncode == 1
    assert finished.stderr.strip().endswith(".")


def test_the_rehearsal_turns_the_taper_and_can_be_listened_to(tmp_path: Path) -> None:
    file = tmp_path / "both.wav"
    assert setover("rehearse", "--sound", str(file)).returncode == 0
    assert read_sound(file).seconds > 10


def test_figures_typed_are_the_words_for_them() -> None:
    assert events_of("Between balls 142.5 mm?") == events_of(
        "between balls one hundred and forty two point five millimetres"
    )
    assert events_of("keys 1 4") == [KeyPressed(Key.ONE), KeyPressed(Key.FOUR)]
