"""The talk key: held it is the pedal, tapped a key like any other."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.events import TALK_KEY, Key
from assistant.ports import Hold
from hardware.talk_key import TAP_WITHIN_S, KeyMoved, TalkKey

DOWN, UP = KeyMoved(TALK_KEY, down=True), KeyMoved(TALK_KEY, down=False)
FIVE = KeyMoved(Key.FIVE, down=True)
FIVE_UP = KeyMoved(Key.FIVE, down=False)
LONG_S = TAP_WITHIN_S


def given_out(*moves: tuple[float, KeyMoved | Key]) -> list[Key | Hold]:
    out: list[Key | Hold] = []
    talk_key = TalkKey(out.append, out.append)
    for now_s, move in moves:
        talk_key.moved([move], now_s)
    return out


@pytest.mark.parametrize(
    ("moves", "wanted"),
    [
        # Listened to from the first moment, for nobody waits before he speaks.
        ([(0.0, DOWN)], [Hold.DOWN]),
        ([(0.0, DOWN), (LONG_S, UP)], [Hold.DOWN, Hold.UP]),
        ([(0.0, DOWN), (0.1, UP)], [Hold.DOWN, Hold.DROPPED, TALK_KEY]),
        # Typing fast, one key is pressed before the last is let go.
        (
            [(0.0, DOWN), (0.1, FIVE), (0.2, UP), (0.3, FIVE_UP)],
            [Hold.DOWN, Hold.DROPPED, TALK_KEY, Key.FIVE],
        ),
        ([(0.0, FIVE), (0.1, DOWN), (0.2, FIVE_UP), (9.0, UP)], [Key.FIVE, Hold.DOWN, Hold.UP]),
        # Another key pressed while talking is taken, and the talk goes on.
        (
            [(0.0, DOWN), (1.0, FIVE), (1.1, FIVE_UP), (2.0, UP)],
            [Hold.DOWN, Key.FIVE, Hold.UP],
        ),
        # A gauge types, and holds nothing.
        ([(0.0, TALK_KEY), (0.1, Key.FIVE)], [TALK_KEY, Key.FIVE]),
        # Two keys of a number pad mean the same.
        ([(0.0, DOWN), (0.5, DOWN), (0.6, UP), (0.7, UP)], [Hold.DOWN, Hold.UP]),
    ],
)
def test_a_key_held_is_the_pedal_and_tapped_a_key(
    moves: list[tuple[float, KeyMoved | Key]], wanted: list[Key | Hold]
) -> None:
    assert given_out(*moves) == wanted


def test_keys_that_go_away_while_it_is_held_drop_what_was_said_and_press_nothing() -> None:
    out: list[Key | Hold] = []
    talk_key = TalkKey(out.append, out.append)
    talk_key.lost()
    talk_key.moved([DOWN], 0.0)
    talk_key.lost()
    talk_key.moved([UP], 9.0)

    assert out == [Hold.DOWN, Hold.DROPPED]


def test_where_nobody_is_talked_to_it_is_tapped_all_the_same() -> None:
    out: list[Key] = []
    talk_key = TalkKey(out.append, None)
    talk_key.moved([DOWN], 0.0)
    talk_key.moved([UP], 0.1)

    assert out == [TALK_KEY]


@given(st.lists(st.tuples(st.floats(0.0, 1.0), st.sampled_from(list(Key)), st.booleans())))
def test_whatever_moves_every_other_key_is_given_as_it_goes_down_and_holds_come_in_turn(
    steps: list[tuple[float, Key, bool]],
) -> None:
    now_s, moves = 0.0, []
    for after_s, key, down in steps:
        now_s += after_s
        moves.append((now_s, KeyMoved(key, down)))
    out = given_out(*moves)

    others = [move.key for _, move in moves if move.down and move.key is not TALK_KEY]
    assert [one for one in out if isinstance(one, Key) and one is not TALK_KEY] == others
    holds = [one for one in out if isinstance(one, Hold)]
    assert all(hold is Hold.DOWN for hold in holds[::2])
    assert all(hold is not Hold.DOWN for hold in holds[1::2])
