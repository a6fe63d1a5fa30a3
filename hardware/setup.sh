#!/bin/sh
# Set everything up on a fresh Debian or Raspberry Pi OS machine, then do what was asked:
#   sh hardware/setup.sh demo    run the assistant, or rehearse a job where no microphone is
#   sh hardware/setup.sh test    run every check and test
# Safe to run again: what stands already is left alone.
set -eu
cd "$(dirname "$0")/.."

case "${1:-}" in
demo) extra="" ;;
test) extra="[test]" ;;
*) echo "usage: sh hardware/setup.sh demo|test" >&2; exit 2 ;;
esac

packages="python3-venv espeak-ng libespeak-ng1 libportaudio2"
case "$(uname -m)" in aarch64 | arm*) packages="$packages libatomic1" ;; esac
# A sound server for the tests; with PipeWire in its place they run without it.
[ "$1" = test ] && [ ! -e /usr/bin/pipewire ] && packages="$packages pulseaudio libasound2-plugins"

missing=""
for package in $packages; do
    dpkg -s "$package" >/dev/null 2>&1 || missing="$missing $package"
done
if [ -n "$missing" ]; then
    as_root=""
    [ "$(id -u)" = 0 ] || as_root="sudo"
    $as_root apt-get update -q
    # shellcheck disable=SC2086  # a list of names is meant
    DEBIAN_FRONTEND=noninteractive $as_root apt-get install -q -y --no-install-recommends $missing
fi

# A new environment whenever what is asked of it changes.
stamp=".venv/installed-$1"
if [ ! -e "$stamp" ] || [ pyproject.toml -nt "$stamp" ]; then
    [ -x .venv/bin/pip ] || python3 -m venv .venv
    .venv/bin/pip install -q --disable-pip-version-check -e ".$extra"
    # The Pi's pins: without a wheel for this Python the assistant runs with no keypad.
    if [ "$1" = demo ] && [ -e /dev/gpiochip0 ]; then
        .venv/bin/pip install -q --only-binary :all: "lgpio>=0.2.2.0" ||
            echo "No lgpio for this Python: the keypad will not work."
    fi
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

if .venv/bin/setover check | grep -q '^microphone *works'; then
    exec .venv/bin/setover run
fi
exec .venv/bin/setover rehearse
