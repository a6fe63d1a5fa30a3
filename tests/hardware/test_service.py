"""The service: what it tells systemd, its unit, and how the script installs and removes it.

systemd itself does not run here, and nothing is installed: the commands that would change the
machine are stand-ins that write down what they were asked.
"""

import configparser
import os
import shutil
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from hardware.service import Service

ROOT = Path(__file__).parent.parent.parent
UNIT = ROOT / "hardware" / "setover.service"


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[socket.socket]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(str(tmp_path / "notify"))
        listening.settimeout(30)
        yield listening


def told(manager: socket.socket, count: int) -> list[bytes]:
    return [manager.recv(1000) for _ in range(count)]


def test_systemd_is_told_in_its_own_words(manager: socket.socket, tmp_path: Path) -> None:
    service = Service({"NOTIFY_SOCKET": str(tmp_path / "notify")})
    assert service.present
    service.ready()
    service.status("no microphone")
    service.alive()
    service.stopping()

    assert told(manager, 4) == [b"READY=1", b"STATUS=no microphone", b"WATCHDOG=1", b"STOPPING=1"]


def test_a_socket_that_is_no_file_is_found() -> None:
    name = f"setover-test-{os.getpid()}"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(f"\0{name}")
        listening.settimeout(30)
        Service({"NOTIFY_SOCKET": f"@{name}"}).ready()

        assert listening.recv(1000) == b"READY=1"


def test_without_systemd_nothing_is_told() -> None:
    service = Service({})
    service.ready()

    assert not service.present
    assert service.alive_every_s is None


def test_a_systemd_that_does_not_listen_or_is_gone_holds_nothing_up(tmp_path: Path) -> None:
    service = Service({"NOTIFY_SOCKET": str(tmp_path / "notify")})
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as deaf:
        deaf.bind(str(tmp_path / "notify"))
        for _ in range(1000):  # far more than the socket holds
            service.alive()
        assert deaf.recv(100) == b"WATCHDOG=1"
    service.stopping()


@pytest.mark.parametrize(
    ("environment", "every_s"),
    [
        ({"WATCHDOG_USEC": "30000000"}, 15.0),
        ({"WATCHDOG_USEC": "30000000", "WATCHDOG_PID": str(os.getpid())}, 15.0),
        ({"WATCHDOG_USEC": "30000000", "WATCHDOG_PID": "1"}, None),
    ],
)
def test_the_watchdog_is_fed_twice_as_often_as_it_bites(
    environment: dict[str, str], every_s: float | None
) -> None:
    assert Service(environment).alive_every_s == every_s


# The unit.


def test_the_unit_restarts_is_watched_and_may_do_only_what_it_must() -> None:
    unit = configparser.ConfigParser(strict=False)
    unit.optionxform = str  # type: ignore[assignment, method-assign]  # as configparser says
    unit.read(UNIT)
    service = unit["Service"]

    assert (service["Type"], service["Restart"]) == ("notify", "always")
    assert service["WatchdogSec"] == "30"
    assert service["User"] == "setover"
    assert set(service["SupplementaryGroups"].split()) == {"gpio", "audio", "input", "i2c"}
    assert service["RestrictAddressFamilies"] == "AF_UNIX"
    assert unit["Install"]["WantedBy"] == "multi-user.target"


def test_systemd_finds_no_fault_in_the_unit_but_that_it_is_not_installed_here() -> None:
    if shutil.which("systemd-analyze") is None:
        assert "[Service]" in UNIT.read_text()
        return
    found = subprocess.run(
        ["systemd-analyze", "verify", UNIT], capture_output=True, text=True, check=False
    )
    faults = [line for line in found.stderr.splitlines() if "setover.service" in line]
    allowed = "Command /opt/setover/bin/setover is not executable"

    assert [fault for fault in faults if allowed not in fault] == []


# The script.

STAND_INS = {
    "systemctl": "",
    "useradd": 'touch "$STATE/user"',
    "userdel": 'rm "$STATE/user"',
    "groupadd": "",
    "apt-get": "",
    "id": 'case "$1" in -u) echo 0 ;; *) [ -e "$STATE/user" ] ;; esac',
    "getent": '[ "$2" != i2c ]',
    "dpkg": "true",
    # A virtual environment of one command, itself a stand-in.
    "python3": """
        for last; do :; done
        mkdir -p "$last/bin"
        cp "$STATE/bin/systemctl" "$last/bin/pip"
    """,
}
QUIET = ("id", "getent", "dpkg")


class Machine:
    """A root directory, and commands that only write down what they were asked."""

    def __init__(self, state: Path) -> None:
        self._state, self.root = state, state / "root"
        (state / "bin").mkdir()
        for name, does in STAND_INS.items():
            note = "" if name in QUIET else 'echo "${0##*/} $*" >>"$STATE/log"\n'
            command = state / "bin" / name
            command.write_text(f"#!/bin/sh\n{note}{does}\n")
            command.chmod(0o755)

    def setup(self, what: str) -> list[str]:
        """Run the script; return what it asked of the machine."""
        log = self._state / "log"
        log.write_text("")
        environment = {
            "PATH": f"{self._state}/bin:/usr/bin:/bin",
            "STATE": str(self._state),
            "SETOVER_ROOT": str(self.root),
        }
        subprocess.run(
            ["sh", ROOT / "hardware" / "setup.sh", what],
            env=environment,
            check=True,
            capture_output=True,
        )
        asked = log.read_text().replace(str(self.root), "")
        # What is asked for on a Pi only.
        lines = asked.replace("--system-site-packages ", "").splitlines()
        return [line for line in lines if "lgpio" not in line]


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    return Machine(tmp_path)


def test_the_service_is_installed_with_its_user_groups_and_settings(machine: Machine) -> None:
    assert machine.setup("service") == [
        "useradd --system --user-group --no-create-home --home-dir /var/lib/setover "
        "--shell /usr/sbin/nologin setover",
        "groupadd --system i2c",
        "python3 -m venv /opt/setover",
        "pip install -q --disable-pip-version-check --upgrade .",
        "systemctl daemon-reload",
        "systemctl enable setover.service",
        "systemctl restart setover.service",
    ]
    installed = machine.root / "etc/systemd/system/setover.service"
    assert installed.read_bytes() == UNIT.read_bytes()
    assert (machine.root / "etc/setover/settings.toml").read_text() == ""


def test_installing_again_leaves_user_environment_and_settings_alone(machine: Machine) -> None:
    machine.setup("service")
    settings = machine.root / "etc/setover/settings.toml"
    settings.write_text("[sound]\n")

    asked = machine.setup("service")

    assert not any(line.startswith(("useradd", "python3")) for line in asked)
    assert settings.read_text() == "[sound]\n"


def test_removing_takes_all_away_but_settings_and_journal(machine: Machine) -> None:
    machine.setup("service")

    assert machine.setup("remove") == [
        "systemctl disable --now setover.service",
        "systemctl daemon-reload",
        "userdel setover",
    ]
    left = {str(path.relative_to(machine.root)) for path in machine.root.rglob("*")}
    assert not any("opt/setover" in path or "setover.service" in path for path in left)
    assert "etc/setover/settings.toml" in left
    assert machine.setup("remove") == []


def test_another_word_changes_nothing_and_names_the_words(machine: Machine) -> None:
    with pytest.raises(subprocess.CalledProcessError) as refused:
        machine.setup("everything")

    assert refused.value.returncode == 2
    assert b"demo|test|service|remove" in refused.value.stderr


# The run itself.


def test_run_as_a_service_it_is_ready_alive_without_a_terminal_and_ends_when_told(
    manager: socket.socket, tmp_path: Path
) -> None:
    environment = {**os.environ, "NOTIFY_SOCKET": str(tmp_path / "notify"), "HOME": str(tmp_path)}
    running = subprocess.Popen(
        [sys.executable, "-m", "assistant", "run"],
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )
    assert told(manager, 2) == [b"READY=1", b"WATCHDOG=1"]
    running.send_signal(signal.SIGTERM)
    _, faults = running.communicate(timeout=10)

    assert told(manager, 1) == [b"STOPPING=1"]
    assert (running.returncode, faults) == (0, b"")
