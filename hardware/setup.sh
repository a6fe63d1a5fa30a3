#!/bin/sh
# Set everything up on a fresh Debian or Raspberry Pi OS machine, then do what was asked:
#   sh hardware/setup.sh demo    run the assistant, or rehearse a job where no microphone is
#   sh hardware/setup.sh test    run every check and test
#   sh hardware/setup.sh service start it whenever the machine starts, under systemd
#   sh hardware/setup.sh remove  take the service away, but for its settings and its journal
# Safe to run again: what stands already is left alone.
set -eu
cd "$(dirname "$0")/.."

case "${1:-}" in
demo | service | remove) extra="" ;;
test) extra="[test]" ;;
*) echo "usage: sh hardware/setup.sh demo|test|service|remove" >&2; exit 2 ;;
esac
as_root=""
[ "$(id -u)" = 0 ] || as_root="sudo"

# Everything the service has on the machine lies under this; the tests give another.
root="${SETOVER_ROOT:-}"
unit="$root/etc/systemd/system/setover.service"

if [ "$1" = remove ]; then
    if [ -e "$unit" ]; then
        $as_root systemctl disable --now setover.service
        $as_root rm -f "$unit"
        $as_root systemctl daemon-reload
    fi
    $as_root rm -rf "$root/opt/setover"
    if id setover >/dev/null 2>&1; then
        $as_root userdel setover
    fi
    echo "Removed. $root/etc/setover and $root/var/lib/setover are left: the settings, the journal."
    exit 0
fi

packages="python3-venv espeak-ng libespeak-ng1 libportaudio2"
case "$(uname -m)" in aarch64 | arm*) packages="$packages libatomic1" ;; esac
# A sound server for the tests; with PipeWire in its place they run without it.
[ "$1" = test ] && [ ! -e /usr/bin/pipewire ] && packages="$packages pulseaudio libasound2-plugins"

# The Pi's pins. Its own package serves every Python there; elsewhere a wheel may.
site=""
if [ -e /dev/gpiochip0 ] && apt-cache show python3-lgpio >/dev/null 2>&1; then
    packages="$packages python3-lgpio"
    site="--system-site-packages"
fi
add_pins() { # to the environment $1; $2 is the command that may write there
    [ -e /dev/gpiochip0 ] || return 0
    # Looked for only: loading it leaves a pipe behind.
    "$1/bin/python" -c 'import sys; from importlib.util import find_spec; sys.exit(not find_spec("lgpio"))' ||
        $2 "$1/bin/pip" install -q --only-binary :all: "lgpio>=0.2.2.0" ||
        echo "No lgpio for this Python: keypad, lamp, pedal and sensor will not work."
}

missing=""
for package in $packages; do
    dpkg -s "$package" >/dev/null 2>&1 || missing="$missing $package"
done
if [ -n "$missing" ]; then
    $as_root apt-get update -q
    # shellcheck disable=SC2086  # a list of names is meant
    DEBIAN_FRONTEND=noninteractive $as_root apt-get install -q -y --no-install-recommends $missing
fi

if [ "$1" = service ]; then
    if ! id setover >/dev/null 2>&1; then
        $as_root useradd --system --user-group --no-create-home --home-dir /var/lib/setover \
            --shell /usr/sbin/nologin setover
    fi
    # systemd refuses a unit whose groups are not there; only a Pi has all of them.
    for group in gpio audio input i2c; do
        getent group "$group" >/dev/null || $as_root groupadd --system "$group"
    done
    # A copy of its own: the service cannot see home directories, where this one may lie.
    $as_root mkdir -p "$root/opt" "$root/etc/setover" "$(dirname "$unit")"
    # shellcheck disable=SC2086  # an option or nothing is meant
    [ -x "$root/opt/setover/bin/pip" ] || $as_root python3 -m venv $site "$root/opt/setover"
    $as_root "$root/opt/setover/bin/pip" install -q --disable-pip-version-check --upgrade .
    add_pins "$root/opt/setover" "$as_root"
    [ -e "$root/etc/setover/settings.toml" ] || $as_root touch "$root/etc/setover/settings.toml"
    $as_root install -m 644 hardware/setover.service "$unit"
    $as_root systemctl daemon-reload
    $as_root systemctl enable setover.service
    $as_root systemctl restart setover.service
    echo "Setover runs. Its settings: $root/etc/setover/settings.toml. What it says and hears:"
    echo "journalctl -fu setover"
    exit 0
fi

# A new environment whenever what is asked of it changes.
stamp=".venv/installed-$1"
if [ ! -e "$stamp" ] || [ pyproject.toml -nt "$stamp" ]; then
    # shellcheck disable=SC2086
    [ -x .venv/bin/pip ] || python3 -m venv $site .venv
    .venv/bin/pip install -q --disable-pip-version-check -e ".$extra"
    [ "$1" = test ] || add_pins .venv ""
    touch "$stamp"
fi

if [ "$1" = test ]; then
    .venv/bin/ruff check .
    .venv/bin/ruff format --check .
    .venv/bin/mypy
    .venv/bin/lint-imports
    if [ -e /usr/bin/pulseaudio ]; then
        exec .venv/bin/python -m pytest
    fi
    echo "No pulseaudio here: the tests of real sound devices are left out."
    exec .venv/bin/python -m pytest -m "not pulseaudio"
fi

if .venv/bin/setover check --quiet | grep -q '^microphone *works'; then
    exec .venv/bin/setover run
fi
exec .venv/bin/setover rehearse
