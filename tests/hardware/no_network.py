"""Run Python with no network: whoever opens an internet socket is killed, and so are children.

Run as `python no_network.py ARGUMENTS`; the arguments are Python's own. The kernel's filter
sees what C libraries do too. Constants from linux/seccomp.h, linux/filter.h, linux/audit.h and
the tables of system calls; from memory, and shown to be right by the tests that use them.
"""

import ctypes
import os
import platform
import socket
import struct
import sys

PR_SET_NO_NEW_PRIVS, PR_SET_SECCOMP, SECCOMP_MODE_FILTER = 38, 22, 2
KILL_PROCESS, ALLOW = 0x80000000, 0x7FFF0000
LOAD, JUMP_IF_EQUAL, RETURN = 0x20, 0x15, 0x06
# Where the system call's number, and its first argument's low half, stand.
NUMBER, FIRST_ARGUMENT = 0, 16
SOCKET = {"x86_64": 41, "aarch64": 198}


def deny_network() -> None:
    """Have this process and all it starts killed when it opens an internet socket."""
    steps = [
        (LOAD, 0, 0, NUMBER),
        (JUMP_IF_EQUAL, 0, 3, SOCKET[platform.machine()]),
        (LOAD, 0, 0, FIRST_ARGUMENT),
        (JUMP_IF_EQUAL, 2, 0, socket.AF_INET),
        (JUMP_IF_EQUAL, 1, 0, socket.AF_INET6),
        (RETURN, 0, 0, ALLOW),
        (RETURN, 0, 0, KILL_PROCESS),
    ]
    program = ctypes.create_string_buffer(b"".join(struct.pack("HBBI", *step) for step in steps))
    head = ctypes.create_string_buffer(struct.pack("HP", len(steps), ctypes.addressof(program)))
    libc = ctypes.CDLL(None, use_errno=True)
    for call in (
        (PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0),
        (PR_SET_SECCOMP, SECCOMP_MODE_FILTER, ctypes.byref(head), 0, 0),
    ):
        if libc.prctl(*call):
            raise OSError(ctypes.get_errno(), "prctl")


if __name__ == "__main__":
    deny_network()
    os.execv(sys.executable, [sys.executable, *sys.argv[1:]])
