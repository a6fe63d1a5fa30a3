"""The running assistant opens no network socket, nor do its children or their C libraries."""

import signal
import subprocess
import sys
from pathlib import Path

import pytest

from hardware.sound_files import write_sound
from hardware.voice import PyttsxSynthesiser

NO_NETWORK = Path(__file__).with_name("no_network.py")


def offline(*arguments: str, given: str = "") -> subprocess.CompletedProcess[str]:
    command = [sys.executable, str(NO_NETWORK), *arguments]
    return subprocess.run(
        command, input=given, capture_output=True, text=True, check=False, timeout=60
    )


@pytest.mark.parametrize(("family", "ends"), [("UNIX", 0), ("INET", -31), ("INET6", -31)])
def test_whoever_opens_an_internet_socket_is_killed(family: str, ends: int) -> None:
    assert ends in (0, -signal.SIGSYS)
    opens = f"import socket; socket.socket(socket.AF_{family})"
    child = f"import subprocess, sys; print(subprocess.call([sys.executable, '-c', {opens!r}]))"

    assert offline("-c", opens).returncode == ends
    assert offline("-c", child).stdout == f"{ends}\n"


def test_typed_words_need_no_network() -> None:
    finished = offline("-m", "assistant", "type", given="number two morse taper\n")

    assert finished.returncode == 0, finished.stderr
    assert "you   number two morse taper" in finished.stdout


def test_a_recording_is_heard_without_network(voice: PyttsxSynthesiser, tmp_path: Path) -> None:
    write_sound(tmp_path / "taper.wav", voice.sound("number two morse taper"))

    finished = offline("-m", "assistant", "hear", str(tmp_path / "taper.wav"))

    assert finished.returncode == 0, finished.stderr
    assert "you   number two morse taper" in finished.stdout


def test_the_bench_runs_without_network() -> None:
    # Looks for every device, loads the model, starts the voice.
    finished = offline("-m", "assistant", "run", given="A\n")

    assert finished.returncode == 0, finished.stderr
    assert "The speech model" not in finished.stdout
    assert "no voice" not in finished.stdout
