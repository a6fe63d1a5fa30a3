"""USB number pads, and gauge cables that type: keys from the kernel's input devices.

The device is grabbed, so that its keys go nowhere else. Codes are read, not letters: they
mean the same with every keyboard layout and without NumLock.

    pad     0-9 . Enter *    0-9, * for the point, #, *
            / - + NumLock    A (the fraction bar), C, D, B
            Backspace        D, which rubs out
    gauge   a number and Enter, keyed for it digit by digit once the line is whole

The pad's 0 held down is the pedal. A gauge's line that is no plain number is told and keys
nothing: a reading without its minus sign would be another number.
"""

import contextlib
import fcntl
import glob
import os
import re
import select
import struct
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

from assistant.events import Key
from assistant.ports import Hold
from hardware.talk_key import KeyMoved, TalkKey

BY_ID = Path("/dev/input/by-id")
# Soon enough for someone who has just pushed a plug in.
RETRY_S = 2.0

# struct input_event, EV_KEY and EVIOCGRAB of linux/input.h; codes of
# linux/input-event-codes.h: from memory, the layout and the grab also as measured.
EVENT = struct.Struct("llHHi")
EV_KEY = 1
RELEASED, PRESSED = 0, 1
EVIOCGRAB = 0x40044590

ENTER = "\n"
CHARACTERS = {
    **dict(zip(range(2, 12), "1234567890", strict=True)),
    **dict(zip((79, 80, 81, 75, 76, 77, 71, 72, 73, 82), "1234567890", strict=True)),
    **dict.fromkeys((52, 83), "."),
    **dict.fromkeys((51, 121), ","),
    **dict.fromkeys((12, 74), "-"),
    **dict.fromkeys((28, 96), ENTER),
    **dict(zip((78, 98, 55, 57, 69, 14), "+/* N\b", strict=True)),
}
PAD = {
    **{str(key): key for key in Key if str(key).isdigit()},
    **dict.fromkeys(".,*", Key.STAR),
    ENTER: Key.HASH,
    "/": Key.A,
    "N": Key.B,
    "-": Key.C,
    **dict.fromkeys("+\b", Key.D),
}
# A cable types a reading in far less; what is older was never ended, and is no part of it.
LINE_WITHIN_S = 1.0
READING = re.compile(r"\s*\+?(\d+(?:[.,]\d+)?)\s*")


def characters(data: bytes) -> Iterator[tuple[str, bool, float]]:
    """Yield each character of whole events, whether it goes down or up, and when.

    "?" stands for any other key.
    """
    for seconds, microseconds, kind, code, value in EVENT.iter_unpack(data):
        if kind == EV_KEY and value in (RELEASED, PRESSED):
            yield CHARACTERS.get(code, "?"), value == PRESSED, seconds + microseconds / 1e6


class PadKeys:
    """What the keys of a number pad mean."""

    def moved(self, character: str, down: bool, at_s: float) -> tuple[KeyMoved, ...]:
        """Return the key of a character; none for one that means nothing."""
        return (KeyMoved(PAD[character], down),) if character in PAD else ()


class GaugeKeys:
    """What a gauge's lines mean.

    Args:
        told: Gets a sentence for a line that is no plain number.
    """

    def __init__(self, told: Callable[[str], None]) -> None:
        self._told = told
        self._line, self._last_s = "", 0.0

    def moved(self, character: str, down: bool, at_s: float) -> tuple[Key, ...]:
        """Take a character; return the keys of the reading once its line is whole."""
        if not down:
            return ()
        if at_s - self._last_s > LINE_WITHIN_S:
            self._line = ""
        self._last_s = at_s
        if character != ENTER:
            self._line += character
            return ()
        line, self._line = self._line, ""
        reading = READING.fullmatch(line)
        if reading is None:
            self._told(f"The gauge sent {line.strip() or 'nothing'}: I take plain numbers only.")
            return ()
        return tuple(PAD[each] for each in reading[1] + ENTER)


def grab(fd: int) -> None:
    """Keep a device's keys to ourselves.

    Raises:
        OSError: Another program has grabbed it, or it is no input device.
    """
    fcntl.ioctl(fd, EVIOCGRAB, 1)


class UsbKeys:
    """Keys of an input device that types, looked for until it is there and when it returns.

    Args:
        name: A part of its name in the directory.
        keys: Makes what its characters mean, PadKeys or GaugeKeys, afresh when it returns.
        told: Gets a sentence when it is missing, and when it is there again; on this reader's
            thread.
        directory: Where the kernel lists input devices by name.
        grab: Keeps its keys from other programs.
        retry_s: How long to wait before looking again.
    """

    def __init__(
        self,
        name: str,
        keys: Callable[[], PadKeys | GaugeKeys],
        told: Callable[[str], None],
        directory: Path = BY_ID,
        grab: Callable[[int], None] = grab,
        retry_s: float = RETRY_S,
    ) -> None:
        self._name, self._keys, self._told = name, keys, told
        self._directory, self._grab, self._retry_s = directory, grab, retry_s
        self._missing = False
        self._wake, self._awake = os.pipe()
        self._thread: threading.Thread | None = None

    def start(
        self, take: Callable[[Key], None], hold: Callable[[Hold], None] | None = None
    ) -> None:
        """Hand over every key and what the talk key is held for, on this reader's thread."""
        talk_key = TalkKey(take, hold)
        self._thread = threading.Thread(target=self._watch, args=[talk_key], daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Stop reading and let go of the device."""
        os.close(self._awake)
        if self._thread is not None:
            self._thread.join()
        os.close(self._wake)

    def _watch(self, talk_key: TalkKey) -> None:
        while True:
            # A device that is pulled out ends in ENODEV.
            with contextlib.suppress(OSError):
                if self._read(talk_key):
                    return
            talk_key.lost()
            if not self._missing:
                self._missing = True
                self._told(f"There is no {self._name} among the USB keys: plug it in.")
            if select.select([self._wake], [], [], self._retry_s)[0]:
                return

    def _read(self, talk_key: TalkKey) -> bool:
        """Hand over keys until the device ends, or return True when it is time to stop.

        Raises:
            OSError: It is not there, or in use by another, or was pulled out.
        """
        named = self._directory.glob(f"*{glob.escape(self._name)}*-event-kbd")
        fd = os.open(min(named, default=self._directory / self._name), os.O_RDONLY)
        keys = self._keys()
        try:
            self._grab(fd)
            if self._missing:
                self._missing = False
                self._told(f"The {self._name} is back.")
            while True:
                ready, _, _ = select.select([fd, self._wake], [], [])
                if self._wake in ready:
                    return True
                data = os.read(fd, EVENT.size * 64)
                if not data:
                    return False
                for character, down, at_s in characters(data):
                    talk_key.moved(keys.moved(character, down, at_s), at_s)
        finally:
            os.close(fd)
