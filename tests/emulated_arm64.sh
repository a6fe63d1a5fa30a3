#!/bin/sh
# Install Setover in an arm64 Debian that qemu emulates, rehearse a job there, and ask it one
# question by voice. Not one of the ordinary tests: as root, on Debian, with a package mirror,
# about half an hour.
#   sh tests/emulated_arm64.sh DIRECTORY [bookworm|trixie]
# What is committed is installed. DIRECTORY keeps the Debian made, for the next time.
set -eu
: "${1:?a directory for the emulated Debian}"
checkout="$(cd "$(dirname "$0")/.." && pwd)"
suite="${2:-bookworm}"
root="$1/$suite"

# Mounts of its own, which end with it however it ends.
if [ "${SETOVER_UNSHARED:-}" != yes ]; then
    SETOVER_UNSHARED=yes exec unshare --mount sh "$0" "$@"
fi

missing=""
for package in qemu-user-static binfmt-support debootstrap espeak-ng; do
    dpkg -s "$package" >/dev/null 2>&1 || missing="$missing $package"
done
if [ -n "$missing" ]; then
    apt-get update -q
    # shellcheck disable=SC2086  # a list of names is meant
    apt-get install -q -y --no-install-recommends $missing
fi
[ -e /proc/sys/fs/binfmt_misc/register ] ||
    mount -t binfmt_misc none /proc/sys/fs/binfmt_misc
[ -e /proc/sys/fs/binfmt_misc/qemu-aarch64 ] || update-binfmts --enable qemu-aarch64

step() { echo "== $(date +%T) $*"; }
if [ ! -e "$root/made" ]; then
    step "arm64 Debian $suite"
    mkdir -p "$root"
    debootstrap --arch=arm64 --variant=minbase --include=python3,ca-certificates \
        "$suite" "$root" >"$1/debootstrap.log"
    touch "$root/made"
fi
# The names and certificates that this machine reaches its mirrors by.
cp /etc/resolv.conf /etc/hosts "$root/etc/"
cp /etc/ssl/certs/ca-certificates.crt "$root/etc/ssl/certs/"
mount -t proc proc "$root/proc"
mount --rbind /dev "$root/dev"

mkdir -p "$root/opt/setover"
git -C "$checkout" archive HEAD | tar -x -C "$root/opt/setover"
there() { chroot "$root" sh -c "cd /opt/setover && $1"; }

step "hardware/setup.sh demo on $(there 'uname -m'), $(there 'python3 --version')"
there "sh hardware/setup.sh demo"

step "one question by voice"
espeak-ng -v en-gb -s 150 -w "$root/opt/setover/question.wav" "number two morse taper"
heard="$(there ".venv/bin/setover hear question.wav")"
echo "$heard"
echo "$heard" | grep -q "^says  Morse two. What length between the balls?$"
step "answered"
