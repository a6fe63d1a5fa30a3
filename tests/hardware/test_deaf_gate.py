"""The microphone is deaf while the speaker plays and 0.2 s after."""

from hypothesis import given
from hypothesis import strategies as st

from hardware.deaf_gate import DeafGate


def test_the_gate_hears_until_something_plays() -> None:
    assert DeafGate().hears(False, block_s=0.1, now_s=0.0)


def test_a_block_that_began_within_the_deaf_time_is_not_heard() -> None:
    gate = DeafGate()
    plays = [
        (10.0, True),
        (10.1, True),
        (10.2, False),
        (10.3, False),
        (10.39, False),
        (10.41, False),
    ]

    assert [gate.hears(playing, 0.1, now_s) for now_s, playing in plays] == [
        False,
        False,
        False,
        False,
        False,
        True,
    ]


@given(st.lists(st.tuples(st.floats(0.001, 0.5), st.booleans())))
def test_no_block_is_heard_that_touches_playing_or_the_time_just_after(
    looks: list[tuple[float, bool]],
) -> None:
    gate, now_s, last_playing_s = DeafGate(), 0.0, None
    for block_s, playing in looks:
        now_s += block_s
        if playing:
            last_playing_s = now_s
        heard = gate.hears(playing, block_s, now_s)

        assert heard == (last_playing_s is None or now_s - block_s >= last_playing_s + 0.2)
