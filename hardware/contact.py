"""From the raw edges of one contact to whether it is closed: bounce and knocks taken out."""

# Common practice, no source: the contacts of a pedal or a button settle in less.
BOUNCE_S = 0.02


class Contact:
    """A contact as it last held still. Time comes in as a number, and never runs backwards."""

    def __init__(self, bounce_s: float = BOUNCE_S) -> None:
        self._bounce_s = bounce_s
        self._raw = False
        self._raw_since_s = 0.0
        self.closed = False

    def edge(self, closed: bool, now_s: float) -> None:
        """Take an edge: the contact closed or opened just now, or bounces."""
        self._raw, self._raw_since_s = closed, now_s

    def settle(self, now_s: float) -> bool | None:
        """Return whether it is closed now, if it has come to hold still otherwise than before."""
        if self._raw == self.closed or now_s - self._raw_since_s < self._bounce_s:
            return None
        self.closed = self._raw
        return self.closed

    def settles_in_s(self, now_s: float) -> float | None:
        """Return how long to wait before asking again; None when only an edge can change it."""
        if self._raw == self.closed:
            return None
        return max(0.0, self._raw_since_s + self._bounce_s - now_s)
