"""The assistant runs as a user with no rights but to read, and keeps its job as that user."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

NOBODY = 65_534
# Root's tests become nobody, who may read where they lie, in root's own folders, and no more.
AS_NOBODY = (
    *("setpriv", f"--reuid={NOBODY}", f"--regid={NOBODY}", "--clear-groups", "--no-new-privs"),
    *("--inh-caps=-all,+dac_read_search", "--ambient-caps=-all,+dac_read_search"),
    "--bounding-set=-all,+dac_read_search",
)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """Return a folder of the user's own."""
    if os.geteuid() == 0:
        os.chown(tmp_path, NOBODY, NOBODY)
    return tmp_path


def ordinarily(home: Path, *arguments: str, given: str = "") -> subprocess.CompletedProcess[str]:
    as_user = AS_NOBODY if os.geteuid() == 0 else ()
    own = {name: str(home) for name in ("HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME")}
    return subprocess.run(
        [*as_user, sys.executable, "-P", *arguments],
        env={**os.environ, **own, "PYTHONPATH": str(Path(__file__).parents[2])},
        input=given,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


def test_the_user_of_these_tests_is_not_root_and_may_not_write_elsewhere(home: Path) -> None:
    tries = "import os; print(os.geteuid()); open('/etc/setover', 'w')"
    finished = ordinarily(home, "-c", tries)

    assert int(finished.stdout) != 0
    assert "PermissionError" in finished.stderr


def test_the_bench_runs_and_keeps_its_job_for_that_user(home: Path) -> None:
    finished = ordinarily(home, "-m", "assistant", "run", given="/number two morse taper\n")

    assert finished.returncode == 0, finished.stderr
    assert "says  Morse two. What length between the balls?" in finished.stdout
    for lacking in ("The speech model", "no voice", "I cannot keep the job"):
        assert lacking not in finished.stdout
    kept = home / "setover" / "journal.sqlite"
    assert kept.stat().st_uid != 0
