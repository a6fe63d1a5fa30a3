"""Pedal and spindle sensor: the contract on pins and in scripts."""

import queue
import time
from collections.abc import Callable, Iterator

import pytest
from gpiozero.pins.mock import MockFactory

from assistant.errors import DeviceMissing
from assistant.events import SpindleSeen
from assistant.ports import Pedal, SpindleSensor
from assistant.quantity import SpindleSpeed
from hardware.gpio import read_pins
from hardware.pedal import GpioPedal, ScriptedPedal
from hardware.spindle import GpioSpindle, ScriptedSpindle

PINS = read_pins()
Drive = Callable[[bool], None]


@pytest.fixture
def factory() -> Iterator[MockFactory]:
    mock = MockFactory()
    yield mock
    mock.reset()


def drive(factory: MockFactory, pin: int) -> Drive:
    """Return what joins the pin to ground, or lets it go."""
    contact = factory.pin(pin)
    return lambda closed: (contact.drive_low if closed else contact.drive_high)()


# The contract, on every pedal: whoever stands on it, each change comes once and in order.


def on_pin(factory: MockFactory) -> tuple[Pedal, Drive]:
    return GpioPedal(PINS.pedal, factory), drive(factory, PINS.pedal)


def scripted(factory: MockFactory) -> tuple[Pedal, Drive]:
    return ScriptedPedal([True, False, True]), lambda down: None


@pytest.mark.parametrize("made", [on_pin, scripted])
def test_a_pedal_gives_each_change_once(
    factory: MockFactory, made: Callable[[MockFactory], tuple[Pedal, Drive]]
) -> None:
    taken: queue.SimpleQueue[bool] = queue.SimpleQueue()
    pedal, stand = made(factory)
    pedal.start(taken.put)
    got = []
    for down in (True, False, True):
        for bounce in (down, not down, down):
            stand(bounce)
        got.append(taken.get(timeout=5))
    pedal.close()

    assert got == [True, False, True]
    assert taken.empty()


def test_a_pedal_that_is_down_when_started_is_seen(factory: MockFactory) -> None:
    taken: queue.SimpleQueue[bool] = queue.SimpleQueue()
    pedal, stand = on_pin(factory)
    stand(True)
    pedal.start(taken.put)

    assert taken.get(timeout=5) is True
    pedal.close()


# The same for every spindle sensor.


def turning_on_level(factory: MockFactory) -> tuple[SpindleSensor, Drive]:
    return GpioSpindle(PINS.spindle, None, factory), drive(factory, PINS.spindle)


def turning_on_pulses(factory: MockFactory) -> tuple[SpindleSensor, Drive]:
    # With so many a turn a silence of 0.1 s is a stop, and two pulses are a start.
    sensor = GpioSpindle(PINS.spindle, 30, factory)
    return sensor, lambda turning: two_pulses(factory, 0.005) if turning else None


def two_pulses(factory: MockFactory, apart_s: float) -> None:
    close = drive(factory, PINS.spindle)
    close(True)
    close(False)
    begun_s = time.monotonic()
    while time.monotonic() - begun_s < apart_s:
        pass
    close(True)
    close(False)


def turning_in_script(factory: MockFactory) -> tuple[SpindleSensor, Drive]:
    return ScriptedSpindle([True, False, True]), lambda turning: None


@pytest.mark.parametrize("made", [turning_on_level, turning_on_pulses, turning_in_script])
def test_a_spindle_sensor_gives_each_start_and_stop_once(
    factory: MockFactory, made: Callable[[MockFactory], tuple[SpindleSensor, Drive]]
) -> None:
    taken: queue.SimpleQueue[SpindleSeen] = queue.SimpleQueue()
    sensor, turn = made(factory)
    sensor.start(taken.put)
    got = []
    for turning in (True, False, True):
        turn(turning)
        got.append(taken.get(timeout=5).turning)
    sensor.close()

    assert got == [True, False, True]


def test_the_speed_is_known_from_pulses_alone(factory: MockFactory) -> None:
    seen: list[SpindleSpeed | None] = []
    script = ScriptedSpindle([SpindleSpeed(250.0), False, True])
    script.start(lambda _: seen.append(script.speed))

    level = GpioSpindle(PINS.spindle, None, factory)
    assert level.speed is None
    level.close()
    assert seen == [SpindleSpeed(250.0), None, None]


def test_pulses_on_the_pin_give_a_speed(factory: MockFactory) -> None:
    taken: queue.SimpleQueue[SpindleSeen] = queue.SimpleQueue()
    sensor = GpioSpindle(PINS.spindle, 2, factory)
    sensor.start(taken.put)
    begun_s = time.monotonic()
    two_pulses(factory, 0.02)
    assert taken.get(timeout=5) == SpindleSeen(True)
    speed, took_s = sensor.speed, time.monotonic() - begun_s
    sensor.close()

    # Half a turn took no longer than all of it did, and no less than the pulses' distance.
    assert speed is not None
    assert 60 / 2 / took_s <= speed.rpm <= 60 / 2 / 0.02


@pytest.mark.parametrize("made", [on_pin, turning_on_level])
def test_a_pin_in_use_is_refused_and_a_closed_one_is_free(
    factory: MockFactory, made: Callable[[MockFactory], tuple[Pedal | SpindleSensor, Drive]]
) -> None:
    first, _ = made(factory)
    with pytest.raises(DeviceMissing, match="stop the other program or part"):
        made(factory)
    first.close()

    made(factory)[0].close()
