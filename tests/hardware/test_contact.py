"""One contact: whatever it does on the way, it comes to what it holds still at."""

from collections.abc import Sequence

from hypothesis import given
from hypothesis import strategies as st

from hardware.contact import BOUNCE_S, Contact

# Times between edges too short to count as holding still.
bursts = st.lists(st.floats(1e-6, BOUNCE_S * 0.99), max_size=30)


def changes(edges: Sequence[tuple[float, bool]], ask_every_s: float = BOUNCE_S / 4) -> list[bool]:
    """Return what comes of edges at these times, asked again and again until well after."""
    contact, left, asked_s, seen = Contact(), list(edges), 0.0, []
    while asked_s < (edges[-1][0] if edges else 0) + 3 * BOUNCE_S:
        while left and left[0][0] <= asked_s:
            edge_s, closed = left.pop(0)
            seen.append(contact.settle(edge_s))
            contact.edge(closed, edge_s)
        seen.append(contact.settle(asked_s))
        asked_s += ask_every_s
    return [change for change in seen if change is not None]


def burst(start_s: float, gaps: list[float], ends_closed: bool) -> list[tuple[float, bool]]:
    """Return the edges of a contact that bounces before it holds still closed or open."""
    times = [start_s]
    for gap in gaps:
        times.append(times[-1] + gap)
    return [
        (at_s, ends_closed if left % 2 == 0 else not ends_closed)
        for at_s, left in zip(times, range(len(times) - 1, -1, -1), strict=True)
    ]


@given(bursts, bursts)
def test_any_bounce_gives_one_press_and_one_release(down: list[float], up: list[float]) -> None:
    pressed = burst(1.0, down, ends_closed=True)
    released = burst(pressed[-1][0] + 1.0, up, ends_closed=False)

    assert changes([*pressed, *released]) == [True, False]


@given(bursts)
def test_a_knock_too_short_to_hold_still_is_no_press(gaps: list[float]) -> None:
    assert changes(burst(1.0, gaps, ends_closed=False)) == []


@given(bursts, st.booleans(), st.floats(0.0, 0.1))
def test_asked_when_it_says_to_ask_it_agrees_with_the_contact(
    gaps: list[float], ends_closed: bool, late_s: float
) -> None:
    contact, now_s = Contact(), 0.0
    for now_s, closed in burst(1.0, gaps, ends_closed):
        contact.edge(closed, now_s)
    wait_s = contact.settles_in_s(now_s)
    assert (wait_s is not None) == ends_closed

    # A microsecond: now plus the wait is no exact sum.
    assert contact.settle(now_s + (wait_s or 0) + 1e-6 + late_s) == (ends_closed or None)
    assert contact.settles_in_s(now_s + 1) is None
