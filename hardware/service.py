"""What the assistant tells systemd: that it is ready, and that it is still alive.

By a datagram on the socket that systemd names in the environment, as sd_notify(3) describes;
no network. Run in any other way there is no such socket, and nothing is told.
"""

import contextlib
import os
import socket
from collections.abc import Mapping

# Half the time systemd waits, as sd_watchdog_enabled(3) recommends; from memory.
SHARE_OF_WATCHDOG = 0.5


class Service:
    """Our side of the service.

    Args:
        environment: Where systemd names its socket and its patience.
    """

    def __init__(self, environment: Mapping[str, str] = os.environ) -> None:
        # A leading @ stands for the zero byte of a socket that is no file.
        self._address = environment.get("NOTIFY_SOCKET", "").replace("@", "\0", 1)
        # Named for one process only, lest a child tell it in our place.
        watched = environment.get("WATCHDOG_PID", str(os.getpid())) == str(os.getpid())
        self._watchdog_us = int(environment.get("WATCHDOG_USEC", 0)) if watched else 0

    @property
    def present(self) -> bool:
        """Whether systemd runs us, and so there is no terminal to type at."""
        return bool(self._address)

    @property
    def alive_every_s(self) -> float | None:
        """How often to call `alive`; None when nobody waits for it."""
        return self._watchdog_us / 1e6 * SHARE_OF_WATCHDOG or None

    def ready(self) -> None:
        """Tell that all parts that are there have been started."""
        self._tell("READY=1")

    def alive(self) -> None:
        """Tell that the loop takes events: from the loop itself, so that a hang is found."""
        self._tell("WATCHDOG=1")

    def status(self, sentence: str) -> None:
        """Tell what `systemctl status` shows."""
        self._tell(f"STATUS={sentence}")

    def stopping(self) -> None:
        """Tell that we end of ourselves."""
        self._tell("STOPPING=1")

    def _tell(self, message: str) -> None:
        if not self._address:
            return
        # Whoever does not listen, or is gone, must not keep us from the work.
        kind = socket.SOCK_DGRAM | socket.SOCK_CLOEXEC | socket.SOCK_NONBLOCK
        with socket.socket(socket.AF_UNIX, kind) as notify, contextlib.suppress(OSError):
            notify.sendto(message.encode(), self._address)
