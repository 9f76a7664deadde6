"""What a submission's process gives up by itself before it runs a cell: limits, places, system calls, new privileges.

In a box this stands behind what the box holds already. Without namespaces it is
all there is: then whatever of it can't be had ends the run before it began. It is
copied into the box, so it imports nothing but the standard library.
"""

import ctypes
import os
import struct
import sys

LANDLOCK = {"create": 444, "add": 445, "restrict": 446}  # the same numbers on x86_64 and aarch64


def confine(wishes):
    """Give up what the job says: resource limits, places to read and write, system calls, new privileges.

    Set inside, because a process limit set outside the box's user namespace counts the whole user.
    """
    import resource

    for name, value in wishes["limits"].items():
        kind = getattr(resource, f"RLIMIT_{name}", None)
        if kind is not None:
            hard = resource.getrlimit(kind)[1]
            value = value if hard == resource.RLIM_INFINITY else min(value, hard)
            resource.setrlimit(kind, (value, value))
    libc = ctypes.CDLL(None, use_errno=True) if sys.platform == "linux" else None
    must = wishes.get("must", False)
    if libc is not None:
        if must:
            _drop_capabilities(libc)
        _sure(libc.prctl(38, 1, 0, 0, 0) == 0, must, "no_new_privs")  # PR_SET_NO_NEW_PRIVS
        _sure(_landlock(libc, wishes["read"], wishes["write"], wishes.get("list", ())), must, "Landlock")
        if wishes["filter"]:
            _sure(_filter(libc, wishes["filter"]) == 0, must, "the filter of system calls")


def _sure(done, must, what):
    if must and not done:
        raise OSError(f"{what} could not be put on: {os.strerror(ctypes.get_errno())}")


def _drop_capabilities(libc):
    """What root could still do (capabilities(7)); who is not root has none."""
    for number in range(64):
        if libc.prctl(24, number, 0, 0, 0):  # PR_CAPBSET_DROP
            break
    libc.capset((ctypes.c_uint32 * 2)(0x20080522, 0), (ctypes.c_uint32 * 6)())


def _landlock(libc, read, write, listed=()):
    """Landlock (Linux kernel documentation, userspace-api/landlock): reading below `read`, all below `write`, no TCP.

    listed: folders whose names may be read, and nothing in them. Whether it holds now.
    """
    version = libc.syscall(LANDLOCK["create"], None, 0, 1)
    if version < 1:
        return False
    every = (1 << (13 if version < 2 else 14 if version < 3 else 15 if version < 5 else 16)) - 1
    rules = [every, 3] if version >= 4 else [every]  # files; bind and connect
    if version >= 6:
        rules += [3]  # abstract sockets and signals stay inside
    attributes = (ctypes.c_uint64 * len(rules))(*rules)
    ruleset = libc.syscall(LANDLOCK["create"], attributes, ctypes.sizeof(attributes), 0)
    if ruleset < 0:
        return False
    reading = 1 | 4 | 8  # execute, read a file, list a folder
    places = [(path, reading) for path in read] + [(path, every) for path in write] + [(path, 8) for path in listed]
    for path, access in places:
        _allow(libc, ruleset, path, access)
    held = libc.syscall(LANDLOCK["restrict"], ruleset, 0) == 0
    os.close(ruleset)
    return held


def _allow(libc, ruleset, path, access):
    try:
        place = os.open(path, os.O_PATH | os.O_CLOEXEC)
    except OSError:
        return
    if not os.path.isdir(path):
        access &= 1 | 2 | 4 | (1 << 14) | (1 << 15)  # what can be said of a single file
    rule = ctypes.create_string_buffer(struct.pack("=Qi", access, place))
    libc.syscall(LANDLOCK["add"], ruleset, 1, rule, 0)
    os.close(place)


def _filter(libc, program):
    """Put the system call filter on from within, where no box does it."""
    buffer = ctypes.create_string_buffer(program, len(program))
    header = ctypes.create_string_buffer(struct.pack("HxxxxxxP", len(program) // 8, ctypes.addressof(buffer)))
    return libc.prctl(22, 2, header, 0, 0)  # PR_SET_SECCOMP, SECCOMP_MODE_FILTER
