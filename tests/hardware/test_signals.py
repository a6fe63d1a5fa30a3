"""Signs by lamp and buzzer."""

import threading
import time
from collections.abc import Iterator

import pytest
from gpiozero.pins.mock import MockFactory

from assistant.errors import DeviceMissing
from assistant.events import Signal
from hardware.signals import PATTERNS, GpioSignals, MemorySignals


@pytest.fixture
def factory() -> Iterator[MockFactory]:
    mock = MockFactory()
    yield mock
    mock.reset()


def test_every_sign_has_its_own_pattern() -> None:
    assert set(PATTERNS) == set(Signal)
    assert len(set(PATTERNS.values())) == len(Signal)


def test_the_twin_notes_the_signs() -> None:
    signals = MemorySignals()
    signals.signal(Signal.REFUSED)
    signals.signal(Signal.KEY)
    signals.close()

    assert signals.given == [Signal.REFUSED, Signal.KEY]


@pytest.mark.parametrize("sign", Signal)
def test_lamp_and_buzzer_go_on_and_off_as_often_as_the_sign_says(
    factory: MockFactory, sign: Signal
) -> None:
    signals = GpioSignals(24, 25, factory)
    wanted = [False, *[True, False] * PATTERNS[sign][0]]
    signals.signal(sign)

    pins = [factory.pin(24), factory.pin(25)]
    deadline_s, pause = time.monotonic() + 5, threading.Event()
    while any(len(pin.states) < len(wanted) for pin in pins) and time.monotonic() < deadline_s:
        pause.wait(0.01)
    signals.close()

    assert [[state.state for state in pin.states] for pin in pins] == [wanted, wanted]


def test_closing_in_the_middle_of_a_sign_turns_both_off(factory: MockFactory) -> None:
    signals = GpioSignals(24, 25, factory)
    signals.signal(Signal.REFUSED)

    signals.close()

    assert [factory.pin(n).state for n in (24, 25)] == [False, False]


def test_a_pin_in_use_is_refused(factory: MockFactory) -> None:
    first = GpioSignals(24, 25, factory)

    with pytest.raises(DeviceMissing, match="stop the other program or part"):
        GpioSignals(24, 26, factory)
    first.close()
