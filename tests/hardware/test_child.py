"""A native library in a process of its own."""

import os
import signal

import pytest

from hardware.child import Child
from tests.hardware.conftest import MODEL


def test_a_child_that_hangs_is_killed_when_its_time_is_up() -> None:
    child = Child("recogniser_process.py", str(MODEL))
    child.answer(within_s=30)
    os.kill(child.pid, signal.SIGSTOP)

    with pytest.raises(EOFError):
        child.ask(("finish",), within_s=0.05)

    with pytest.raises(ProcessLookupError):
        os.kill(child.pid, 0)


def test_a_child_that_was_closed_answers_no_more() -> None:
    child = Child("recogniser_process.py", str(MODEL))
    child.answer(within_s=30)
    child.close()

    with pytest.raises(EOFError):
        child.ask(("finish",), within_s=1)
