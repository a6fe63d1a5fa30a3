"""Signs by lamp and buzzer, and a lamp that stays lit."""

import threading
import time
from collections.abc import Callable, Iterator

import pytest
from gpiozero.pins.mock import MockFactory

from assistant.errors import DeviceMissing
from assistant.events import Lamp, Signal
from assistant.ports import Signaller
from hardware.signals import PATTERNS, GpioSignals, MemorySignals


@pytest.fixture
def factory() -> Iterator[MockFactory]:
    mock = MockFactory()
    yield mock
    mock.reset()


def changes(factory: MockFactory, pin: int, count: int) -> list[bool]:
    """Return the states a pin went through, once it changed at least so often."""
    states = factory.pin(pin).states
    deadline_s, pause = time.monotonic() + 5, threading.Event()
    while len(states) <= count and time.monotonic() < deadline_s:
        pause.wait(0.01)
    return [state.state for state in states]


def test_every_sign_has_its_own_pattern() -> None:
    assert set(PATTERNS) == set(Signal)
    assert len(set(PATTERNS.values())) == len(Signal)


# The contract, on both: the lamp ends as it was last told, whatever signs came between.

LampSeen = Callable[[list[bool]], list[bool]]


def on_pins(factory: MockFactory) -> tuple[Signaller, LampSeen]:
    return GpioSignals(24, 25, factory), lambda wanted: changes(factory, 24, len(wanted) - 1)


def in_memory(factory: MockFactory) -> tuple[Signaller, LampSeen]:
    signals = MemorySignals()

    def lamp_seen(wanted: list[bool]) -> list[bool]:
        return [False, *(each.lit for each in signals.given if isinstance(each, Lamp))]

    return signals, lamp_seen


@pytest.mark.parametrize("made", [on_pins, in_memory])
def test_the_lamp_is_lit_until_told_otherwise(
    factory: MockFactory, made: Callable[[MockFactory], tuple[Signaller, LampSeen]]
) -> None:
    signals, lamp_seen = made(factory)
    for told in (True, False, True):
        signals.light(told)

    wanted = [False, True, False, True]
    assert lamp_seen(wanted) == wanted
    signals.close()


def test_the_twin_notes_what_it_is_told() -> None:
    signals = MemorySignals()
    signals.signal(Signal.REFUSED)
    signals.light(True)
    signals.signal(Signal.KEY)
    signals.close()

    assert signals.given == [Signal.REFUSED, Lamp(True), Signal.KEY]


# What the pins do.


@pytest.mark.parametrize("sign", Signal)
def test_lamp_and_buzzer_go_on_and_off_as_often_as_the_sign_says(
    factory: MockFactory, sign: Signal
) -> None:
    signals = GpioSignals(24, 25, factory)
    wanted = [False, *[True, False] * PATTERNS[sign][0]]
    signals.signal(sign)

    assert [changes(factory, pin, len(wanted) - 1) for pin in (24, 25)] == [wanted, wanted]
    signals.close()


def test_a_lit_lamp_stays_lit_after_a_sign_and_the_buzzer_does_not(factory: MockFactory) -> None:
    signals = GpioSignals(24, 25, factory)
    signals.light(True)
    assert changes(factory, 24, 1) == [False, True]
    signals.signal(Signal.REFUSED)

    assert changes(factory, 24, 7) == [False, True] * 4
    assert changes(factory, 25, 6) == [False, True] * 3 + [False]
    signals.close()


def test_a_light_told_with_a_sign_leaves_the_sign_whole(factory: MockFactory) -> None:
    # A reminder comes as a sign and a light together: a sign cut short would be missed.
    signals = GpioSignals(24, 25, factory)
    signals.signal(Signal.REMINDER)
    signals.light(True)

    assert changes(factory, 24, 5) == [False, True] * 3
    assert changes(factory, 25, 4) == [False, True] * 2 + [False]
    signals.close()


def test_closing_in_the_middle_of_a_sign_turns_both_off(factory: MockFactory) -> None:
    signals = GpioSignals(24, 25, factory)
    signals.light(True)
    signals.signal(Signal.REFUSED)

    signals.close()

    assert [factory.pin(n).state for n in (24, 25)] == [False, False]


def test_a_pin_in_use_is_refused(factory: MockFactory) -> None:
    first = GpioSignals(24, 25, factory)

    with pytest.raises(DeviceMissing, match="stop the other program or part"):
        GpioSignals(24, 26, factory)
    first.close()
