"""USB number pads and gauges, from the events of a device that is a pipe."""

import errno
import os
import queue
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.events import Key
from assistant.ports import Hold
from hardware.talk_key import TalkKey
from hardware.usb_keys import CHARACTERS, EVENT, GaugeKeys, PadKeys, UsbKeys, characters, grab

CODES = {character: code for code, character in CHARACTERS.items()}
SYN, KEY, MISC = 0, 1, 4
UP, DOWN, REPEATED = 0, 1, 2


def events(text: str, at_s: float = 0.0) -> bytes:
    """Return what a device sends for a text: each key down and up, with what comes between."""
    whole, part = int(at_s), round(at_s % 1 * 1e6)
    return b"".join(
        EVENT.pack(whole, part, kind, code, value)
        for character in text
        for kind, code, value in (
            (MISC, 4, 458_000),
            (KEY, CODES[character], DOWN),
            (SYN, 0, 0),
            (KEY, CODES[character], UP),
            (SYN, 0, 0),
        )
    )


def moved(character: str, value: int, at_s: float) -> bytes:
    """Return what a device sends for one change of a key."""
    return EVENT.pack(int(at_s), round(at_s % 1 * 1e6), KEY, CODES[character], value)


def keyed(keys: PadKeys | GaugeKeys, data: bytes) -> list[Key]:
    taken: list[Key] = []
    talk_key = TalkKey(taken.append, None)
    for each, down, at_s in characters(data):
        talk_key.moved(keys.moved(each, down, at_s), at_s)
    return taken


def test_both_rows_of_digits_and_both_enters_mean_the_same() -> None:
    assert sorted(CHARACTERS.values()).count("5") == 2
    assert sorted(CHARACTERS.values()).count("\n") == 2


def test_a_pad_gives_every_key() -> None:
    assert set(keyed(PadKeys(), events("1234567890.\n/N-+*\b"))) == set(Key)


def test_a_key_held_down_counts_once_and_one_unknown_not_at_all() -> None:
    held = b"".join(EVENT.pack(0, 0, KEY, CODES["7"], value) for value in (DOWN, REPEATED, UP))
    unknown = EVENT.pack(0, 0, KEY, 300, DOWN)

    assert keyed(PadKeys(), held + unknown) == [Key.SEVEN]


READINGS = {
    "142.53\n": "142*53#",
    "142,53\n": "142*53#",
    "  +0.500 \n": "0*500#",
    "7\n": "7#",
}


@pytest.mark.parametrize(("line", "keys"), READINGS.items())
def test_a_gauges_line_is_keyed_digit_by_digit(line: str, keys: str) -> None:
    told: list[str] = []

    assert keyed(GaugeKeys(told.append), events(line)) == [Key(key) for key in keys]
    assert told == []


@given(st.decimals(0, 1000, places=3))
def test_any_reading_is_keyed_as_it_is_sent(reading: object) -> None:
    sent = f"{reading}"

    keys = keyed(GaugeKeys(print), events(f"{sent}\n"))
    assert "".join(keys) == sent.replace(".", "*") + "#"


# A reading without its minus sign would be another number.
REFUSALS = ["-0.012\n", "12-3\n", "1.2.3\n", ".5\n", "\n", "1 2\n", "1/2\n"]


@pytest.mark.parametrize("line", REFUSALS)
def test_a_line_that_is_no_plain_number_keys_nothing_and_is_told(line: str) -> None:
    told: list[str] = []
    gauge = GaugeKeys(told.append)

    assert keyed(gauge, events(line)) == []
    assert told == [f"The gauge sent {line.strip() or 'nothing'}: I take plain numbers only."]
    assert keyed(gauge, events("3\n")) == [Key.THREE, Key.HASH]


def test_a_line_cut_off_is_no_part_of_the_next_reading() -> None:
    gauge = GaugeKeys(print)

    assert keyed(gauge, events("14", at_s=10.0) + events("142.5\n", at_s=20.25)) == [
        Key(key) for key in "142*5#"
    ]


# The device.


class Device:
    """A pipe in the place of a device, that can be pulled out and put back."""

    def __init__(self, directory: Path) -> None:
        self.path = directory / "usb-Maker_Number_Pad-event-kbd"
        self.plug_in()

    def plug_in(self) -> None:
        os.mkfifo(self.path)
        self._fd = os.open(self.path, os.O_RDWR)

    def unplug(self) -> None:
        self.path.unlink()
        os.close(self._fd)

    def send(self, data: bytes) -> None:
        os.write(self._fd, data)


@pytest.fixture
def device(tmp_path: Path) -> Iterator[Device]:
    (tmp_path / "usb-Maker_Mouse-event-mouse").touch()
    plugged = Device(tmp_path)
    yield plugged
    if plugged.path.exists():
        plugged.unplug()


def reader(
    device: Device, told: queue.SimpleQueue[str], grabbed: queue.SimpleQueue[int]
) -> UsbKeys:
    return UsbKeys("Number_Pad", PadKeys, told.put, device.path.parent, grabbed.put, retry_s=0.01)


def test_a_pad_is_grabbed_read_and_taken_up_again_when_it_returns(device: Device) -> None:
    taken: queue.SimpleQueue[Key] = queue.SimpleQueue()
    told: queue.SimpleQueue[str] = queue.SimpleQueue()
    grabbed: queue.SimpleQueue[int] = queue.SimpleQueue()
    with closing(reader(device, told, grabbed)) as keys:
        keys.start(taken.put)
        device.send(events("4\n"))
        assert [taken.get(timeout=5) for _ in range(2)] == [Key.FOUR, Key.HASH]

        device.unplug()
        assert told.get(timeout=5) == "There is no Number_Pad among the USB keys: plug it in."
        device.plug_in()
        assert told.get(timeout=5) == "The Number_Pad is back."
        device.send(events("2"))
        assert taken.get(timeout=5) == Key.TWO
        device.unplug()
        told.get(timeout=5)

    assert grabbed.qsize() == 2
    assert taken.empty()


def test_a_pad_pulled_out_while_it_is_held_to_talk_drops_what_was_said(device: Device) -> None:
    taken: queue.SimpleQueue[Key | Hold] = queue.SimpleQueue()
    told: queue.SimpleQueue[str] = queue.SimpleQueue()
    with closing(reader(device, told, queue.SimpleQueue())) as keys:
        keys.start(taken.put, taken.put)
        device.send(moved("0", DOWN, 10.0))
        assert taken.get(timeout=5) is Hold.DOWN
        device.unplug()
        assert taken.get(timeout=5) is Hold.DROPPED
        told.get(timeout=5)

    assert taken.empty()


def test_a_pad_that_another_program_has_grabbed_is_missing(device: Device) -> None:
    def busy(fd: int) -> None:
        raise OSError(errno.EBUSY, "Device or resource busy")

    told: queue.SimpleQueue[str] = queue.SimpleQueue()
    keys = UsbKeys("Number_Pad", PadKeys, told.put, device.path.parent, busy)
    with closing(keys):
        keys.start(print)
        assert told.get(timeout=5) == "There is no Number_Pad among the USB keys: plug it in."


def test_what_is_no_input_device_cannot_be_grabbed(device: Device) -> None:
    fd = os.open(device.path, os.O_RDONLY)
    with pytest.raises(OSError, match="ioctl"):
        grab(fd)
    os.close(fd)
