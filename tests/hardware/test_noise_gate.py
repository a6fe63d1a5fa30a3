"""Listening rests in steady noise, and misses nothing that stands out from it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.events import Hearing
from assistant.ports import Sound
from hardware.listening import BEFORE_BLOCKS, Listening
from hardware.noise_gate import BLOCKS_AFTER, KNOWN_AFTER, KNOWN_FROM, OVER_NOISE_DB, NoiseGate
from hardware.recogniser import ScriptedRecogniser

SIGN = np.resize([1, -1], 800)


def block(level_db: float) -> Sound:
    return Sound(16_000, (SIGN * 32_768 * 10 ** (level_db / 20)).round().astype("<i2").tobytes())


def knowing(noise_db: float) -> NoiseGate:
    gate = NoiseGate()
    for _ in range(KNOWN_FROM):
        gate.stands_out(block(noise_db))
    return gate


def test_all_stands_out_until_the_noise_is_known_and_a_while_after() -> None:
    gate = NoiseGate()
    heard = [gate.stands_out(block(-50)) for _ in range(KNOWN_FROM)]
    known = KNOWN_AFTER - 1 + BLOCKS_AFTER - 1

    assert heard == [True] * known + [False] * (KNOWN_FROM - known)


@pytest.mark.parametrize(("over_db", "heard"), [(OVER_NOISE_DB + 1, True), (4, False)])
@settings(deadline=None, max_examples=10)
@given(noise_db=st.floats(-60, -20))
def test_what_rises_far_enough_out_of_a_noise_of_any_loudness_stands_out(
    over_db: float, heard: bool, noise_db: float
) -> None:
    assert knowing(noise_db).stands_out(block(noise_db + over_db)) is heard


def test_what_follows_is_listened_to_for_a_while() -> None:
    gate = knowing(-50)
    heard = [gate.stands_out(block(level)) for level in (-20, *[-50] * (2 * BLOCKS_AFTER))]

    assert heard == [True] * BLOCKS_AFTER + [False] * (BLOCKS_AFTER + 1)


def test_a_machine_switched_on_comes_to_be_the_noise() -> None:
    gate = knowing(-50)
    heard = [gate.stands_out(block(-20)) for _ in range(KNOWN_FROM + BLOCKS_AFTER)]

    assert heard[0]
    assert not heard[-1]


@settings(deadline=None, max_examples=20)
@given(st.lists(st.sampled_from([-50.0, -47.0, -20.0]), max_size=60))
def test_no_word_is_heard_without_what_came_just_before_it(levels: list[float]) -> None:
    # The recogniser gets whole stretches, each with what came before it in its order.
    got: list[Sound] = []

    class Ears(ScriptedRecogniser):
        def accept(self, sound: Sound) -> Hearing | None:
            if sound.samples:  # an empty one only asks whether it is there
                got.append(sound)
            return None

    listening = Listening(Ears([]), openly=True)
    given_blocks = [block(level) for level in [-50.0] * KNOWN_FROM + levels]
    # Each its own object, to tell them apart.
    for number, each in enumerate(given_blocks):
        listening.accept(each, playing=False, now_s=100 + number * 0.05)

    numbers = [next(i for i, each in enumerate(given_blocks) if each is one) for one in got]
    assert numbers == sorted(set(numbers))
    for number, level in enumerate(levels, start=KNOWN_FROM):
        if level == -20:
            assert {number - before for before in range(BEFORE_BLOCKS + 1)} <= set(numbers)
