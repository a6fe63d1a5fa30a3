"""Keys: the scan that takes bounce and ghosts out, the wires, the contract on every keypad."""

import os
import pty
import queue
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from functools import partial
from itertools import accumulate
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import BadSetting, DeviceMissing
from assistant.events import TALK_KEY, Key
from assistant.ports import Hold, Keypad
from hardware.gpio import PINS_FILE, read_pins
from hardware.key_scan import BOUNCE_S, KeyScan
from hardware.keypad import LEGEND, SCAN_EVERY_S, MatrixKeypad, ScriptedKeypad
from hardware.keypad_wires import ShortCircuit, WiredFactory
from hardware.talk_key import TAP_WITHIN_S, KeyMoved
from hardware.terminal_keys import TerminalKeys
from hardware.usb_keys import PadKeys, UsbKeys
from tests.hardware.test_usb_keys import DOWN, UP, Device, events, moved

PINS = read_pins()
SCAN_S = 0.005
FIVE = (KeyMoved(Key.FIVE, down=True),)
LONG_ENOUGH = 8  # scans, twice the time that counts as holding still

keys = st.sampled_from(list(Key))
pairs = st.permutations(list(Key)).map(lambda order: (order[0], order[1]))
# Contacts closing and opening in turn, for so many scans each: none holds still.
bounces = st.lists(st.integers(1, 4), max_size=20)


def presses(scans: Sequence[frozenset[Key]]) -> list[Key]:
    """Return the presses that scans at a steady pace give."""
    return [move.key for move in moves(scans) if move.down]


def moves(scans: Sequence[frozenset[Key]]) -> list[KeyMoved]:
    pad = KeyScan()
    return [move for n, raw in enumerate(scans) for move in pad.settle(raw, n * SCAN_S)]


def held(*down: Key) -> list[frozenset[Key]]:
    return [frozenset(down)] * LONG_ENOUGH


def bouncing(key: Key, runs: list[int], others: Sequence[Key] = ()) -> list[frozenset[Key]]:
    """Return the scans of a key closed and open in turn, while others are held."""
    return [
        frozenset(others if n % 2 else [*others, key])
        for n, run in enumerate(runs)
        for _ in range(run)
    ]


# The scan.


@given(keys, bounces, bounces)
def test_any_bounce_gives_one_press(key: Key, down: list[int], up: list[int]) -> None:
    scans = [*held(), *bouncing(key, down), *held(key), *bouncing(key, up), *held()]

    assert moves(scans) == [KeyMoved(key, down=True), KeyMoved(key, down=False)]


@given(keys, bounces)
def test_a_knock_too_short_to_hold_still_gives_no_press(key: Key, knock: list[int]) -> None:
    assert presses([*held(), *bouncing(key, knock), *held()]) == []


@given(pairs, bounces, bounces)
def test_the_next_key_counts_before_the_last_is_let_go(
    pair: tuple[Key, Key], down: list[int], up: list[int]
) -> None:
    first, second = pair
    scans = [
        *held(first),
        *bouncing(second, down, [first]),
        *held(first, second),
        *bouncing(first, up, [second]),
        *held(second),
        *held(),
    ]

    assert presses(scans) == [first, second]


@given(pairs)
def test_two_keys_at_once_give_none(pair: tuple[Key, Key]) -> None:
    assert moves([*held(), *held(*pair), *held(pair[0]), *held()]) == []


@given(st.lists(st.tuples(st.sets(keys, max_size=4), st.integers(1, 10)), max_size=12))
def test_whatever_is_pressed_only_a_key_that_was_given_comes_up_and_it_does_once(
    steps: list[tuple[set[Key], int]],
) -> None:
    moved = moves([frozenset(down) for down, n in (*steps, (set(), LONG_ENOUGH)) for _ in range(n)])
    for key in Key:
        mine = [move.down for move in moved if move.key is key]
        assert mine == [True, False] * (len(mine) // 2)


def test_a_few_scans_far_apart_are_not_taken_for_holding_still() -> None:
    pad = KeyScan()
    five = frozenset([Key.FIVE])

    assert [pad.settle(five, now_s) for now_s in (0.0, 1.0, 2.0)] == [(), (), FIVE]


def test_many_scans_in_no_time_are_not_taken_for_holding_still() -> None:
    pad = KeyScan()
    five = frozenset([Key.FIVE])
    times_s = [0.0, 0.001, 0.002, BOUNCE_S * 0.99, BOUNCE_S]

    assert [pad.settle(five, now_s) for now_s in times_s] == [()] * 4 + [FIVE]


# The wires.


@pytest.fixture
def wires() -> Iterator[WiredFactory]:
    factory = WiredFactory(PINS.rows, PINS.columns)
    yield factory
    factory.reset()


@pytest.fixture
def matrix(wires: WiredFactory) -> Iterator[MatrixKeypad]:
    pad = MatrixKeypad(PINS.rows, PINS.columns, wires)
    yield pad
    pad.close()


def test_each_key_alone_and_each_pair_shows_itself(
    wires: WiredFactory, matrix: MatrixKeypad
) -> None:
    for first in Key:
        for second in Key:
            wires.press(first, second)
            assert matrix.scan() == {first, second}
    wires.press()
    assert matrix.scan() == set()


def test_three_corners_of_a_rectangle_show_the_fourth(
    wires: WiredFactory, matrix: MatrixKeypad
) -> None:
    wires.press(Key.ONE, Key.THREE, Key.SEVEN)

    assert matrix.scan() == {Key.ONE, Key.THREE, Key.SEVEN, Key.NINE}


@settings(deadline=None)  # a scan waits for the pins
@given(st.lists(st.tuples(st.sets(keys, max_size=4), st.integers(1, 10)), max_size=12))
def test_whatever_is_pressed_no_key_is_given_that_was_not(
    steps: list[tuple[set[Key], int]],
) -> None:
    wires = WiredFactory(PINS.rows, PINS.columns)
    matrix = MatrixKeypad(PINS.rows, PINS.columns, wires)
    pad = KeyScan()
    ends = list(accumulate(n for _, n in steps))
    for (down, n), end in zip(steps, ends, strict=True):
        wires.press(*down)
        for scan in range(end - n, end):
            for move in pad.settle(matrix.scan(), scan * SCAN_S):
                assert move.key in down if move.down else move.key not in down
    matrix.close()


def test_the_simulated_wires_show_a_short_circuit(wires: WiredFactory) -> None:
    # What a scan with every row driven would do; the scans above raise none.
    for row, level in zip(PINS.rows[:2], (1, 0), strict=True):
        wires.pin(row).output_with_state(level)

    with pytest.raises(ShortCircuit):
        wires.press(Key.ONE, Key.FOUR)


def test_a_pin_in_use_is_refused(wires: WiredFactory, matrix: MatrixKeypad) -> None:
    with pytest.raises(DeviceMissing, match="stop the other program or part that uses its pins"):
        MatrixKeypad(PINS.rows, PINS.columns, wires)


def test_a_closed_keypad_leaves_its_pins_free_and_at_rest(wires: WiredFactory) -> None:
    MatrixKeypad(PINS.rows, PINS.columns, wires).close()
    assert {(pin.function, pin.pull) for pin in wires.pins.values()} == {("input", "floating")}

    MatrixKeypad(PINS.rows, PINS.columns, wires).close()


# The contract, on every keypad: whoever presses, the keys come in that order.

ENTRY = [Key.ONE, Key.FOUR, Key.TWO, Key.STAR, Key.FIVE, Key.HASH, Key.A, Key.D]
Press = Callable[[Key], None]


@contextmanager
def scripted() -> Iterator[tuple[Keypad, Press]]:
    yield ScriptedKeypad(ENTRY), lambda key: None


@contextmanager
def on_wires() -> Iterator[tuple[Keypad, Press]]:
    wires = WiredFactory(PINS.rows, PINS.columns)
    yield MatrixKeypad(PINS.rows, PINS.columns, wires), wires.press


@contextmanager
def in_terminal() -> Iterator[tuple[Keypad, Press]]:
    keyboard, terminal = pty.openpty()
    with open(terminal) as stream:
        yield TerminalKeys(stream, print, print, print), partial(type_key, keyboard)
    os.close(keyboard)


@contextmanager
def in_pipe() -> Iterator[tuple[Keypad, Press]]:
    read, write = os.pipe()
    with open(read) as stream:
        yield TerminalKeys(stream, print, print, print), partial(type_key, write)
    os.close(write)


@contextmanager
def on_usb() -> Iterator[tuple[Keypad, Press]]:
    with tempfile.TemporaryDirectory() as directory:
        device = Device(Path(directory))
        typed = {"A": "/", "D": "+", "#": "\n"}
        yield (
            UsbKeys("Number_Pad", PadKeys, print, Path(directory), grab=lambda fd: None),
            lambda key: device.send(events(typed.get(key, key))),
        )
        device.unplug()


def type_key(fd: int, key: Key) -> None:
    os.write(fd, key.encode())


@pytest.mark.parametrize("keypad", [scripted, on_wires, in_terminal, in_pipe, on_usb])
def test_the_keys_pressed_come_in_order(
    keypad: Callable[[], AbstractContextManager[tuple[Keypad, Press]]],
) -> None:
    taken: queue.SimpleQueue[Key] = queue.SimpleQueue()
    with keypad() as (pad, press):
        pad.start(taken.put)
        got = []
        for key in ENTRY:
            press(key)
            got.append(taken.get(timeout=5))
        pad.close()

    assert got == ENTRY
    assert taken.empty()


# And on those that tell when a key comes up: held, the talk key is the pedal.


class CountedPad(MatrixKeypad):
    """A pad that lets the test wait for so many scans."""

    def __init__(self, wires: WiredFactory) -> None:
        super().__init__(PINS.rows, PINS.columns, wires)
        self._scans: queue.SimpleQueue[None] = queue.SimpleQueue()

    def scan(self) -> frozenset[Key]:
        self._scans.put(None)
        return super().scan()

    def wait(self, seconds: float) -> None:
        while not self._scans.empty():
            self._scans.get()
        for _ in range(round(seconds / SCAN_EVERY_S)):
            self._scans.get(timeout=5)


LetGo = Callable[[], None]


@contextmanager
def held_in_script() -> Iterator[tuple[Keypad, Press, LetGo]]:
    yield ScriptedKeypad([Hold.DOWN, Hold.UP, Key.FIVE]), print, print


@contextmanager
def held_on_wires() -> Iterator[tuple[Keypad, Press, LetGo]]:
    wires = WiredFactory(PINS.rows, PINS.columns)
    pad = CountedPad(wires)

    def let_go() -> None:
        pad.wait(1.2 * TAP_WITHIN_S)
        wires.press()

    yield pad, wires.press, let_go


@contextmanager
def held_on_usb() -> Iterator[tuple[Keypad, Press, LetGo]]:
    with tempfile.TemporaryDirectory() as directory:
        device = Device(Path(directory))
        yield (
            UsbKeys("Number_Pad", PadKeys, print, Path(directory), grab=lambda fd: None),
            lambda key: device.send(moved(key, DOWN, 10.0)),
            lambda: device.send(moved(TALK_KEY, UP, 10.0 + TAP_WITHIN_S)),
        )
        device.unplug()


@pytest.mark.parametrize("keypad", [held_in_script, held_on_wires, held_on_usb])
def test_the_talk_key_held_is_the_pedal(
    keypad: Callable[[], AbstractContextManager[tuple[Keypad, Press, LetGo]]],
) -> None:
    taken: queue.SimpleQueue[Key | Hold] = queue.SimpleQueue()
    with keypad() as (pad, press, let_go):
        pad.start(taken.put, taken.put)
        press(TALK_KEY)
        assert taken.get(timeout=5) is Hold.DOWN
        let_go()
        assert taken.get(timeout=5) is Hold.UP
        press(Key.FIVE)
        assert taken.get(timeout=5) is Key.FIVE
        pad.close()

    assert taken.empty()


def test_the_legend_has_every_key_once() -> None:
    assert sorted(key for row in LEGEND for key in row) == sorted(Key)


# The pins.


def test_the_pins_leave_the_buses_free() -> None:
    # I2C 2 3, one-wire 4, SPI 7-11, serial 14 15, digital sound 18-21, ID memory 0 1: from
    # memory of the Raspberry Pi documentation, GPIO chapter.
    buses = {0, 1, 2, 3, 4, 7, 8, 9, 10, 11, 14, 15, 18, 19, 20, 21}

    used = [*PINS.rows, *PINS.columns, PINS.lamp, PINS.buzzer, PINS.pedal, PINS.spindle]
    assert buses.isdisjoint(used)


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("[5, 6,", "[6, 6,", "each another pin from 0 to 27"),
        ("[5, 6,", "[28, 6,", "each another pin from 0 to 27"),
        ("[5, 6,", "[6,", "four rows and four columns"),
        ("pedal = 12", "pedal = 24", "each another pin from 0 to 27"),
        ("lamp = 24", "", "The setting lamp in pins.toml must be a pin, not None."),
    ],
)
def test_pins_that_cannot_be_used_are_refused(
    tmp_path: Path, old: str, new: str, sentence: str
) -> None:
    file = tmp_path / "pins.toml"
    file.write_text(PINS_FILE.read_text().replace(old, new, 1))

    with pytest.raises(BadSetting) as refused:
        read_pins(file)

    assert sentence in str(refused.value)
