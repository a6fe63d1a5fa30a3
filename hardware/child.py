"""A native library in a process of its own, so that its crash or hang is not ours.

The child is a script of this package, asked and answering over a pipe. It is a fresh
interpreter, never a fork: espeak hangs and GPIO stays busy after a fork. It ends by itself
when this end of the pipe closes, so it cannot outlive us or hold up our exit.
"""

import os
import subprocess
import sys
from multiprocessing import Pipe
from pathlib import Path
from typing import Any

GONE_WITHIN_S = 1.0


class Child:
    """A running script that gives one answer to each request.

    The script gets the file descriptor of its end of the pipe and then the arguments, and
    sends one greeting when it is ready. Its output goes nowhere: C libraries write to the
    terminal as they like.
    """

    def __init__(self, script: str, *arguments: str) -> None:
        path = Path(__file__).with_name(script)
        self._pipe, theirs = Pipe()
        with theirs:
            self._process = subprocess.Popen(
                # -P: the modules beside the script must not hide the standard library's.
                [sys.executable, "-P", path, str(theirs.fileno()), *arguments],
                pass_fds=[theirs.fileno()],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                # Out of the terminal's group: Ctrl-C is for us alone.
                process_group=0,
                # Threads that multiply small matrices wait for each other more than they work.
                env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
            )

    @property
    def pid(self) -> int:
        """The number of the process."""
        return self._process.pid

    def ask(self, request: object, within_s: float) -> Any:
        """Send a request and return its answer.

        Raises:
            EOFError: The child died, or was killed because no answer came in time.
        """
        try:
            self._pipe.send(request)
            return self.answer(within_s)
        except OSError:
            self.close()
            raise EOFError from None

    def answer(self, within_s: float) -> Any:
        """Return the next answer; the first of all is the greeting.

        Raises:
            EOFError: The child died, or was killed because no answer came in time.
        """
        try:
            if self._pipe.poll(within_s):
                return self._pipe.recv()
        except (EOFError, OSError):
            pass
        self.close()
        raise EOFError

    def close(self) -> None:
        """End the process: it goes when the pipe closes, and is killed if it does not."""
        self._pipe.close()
        try:
            self._process.wait(GONE_WITHIN_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
