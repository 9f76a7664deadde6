"""The degraded way: no namespaces, but Landlock for files, a filter for system calls, and resource limits.

Linux forbids namespaces to ordinary users in some places (containers, hardened
systems), and yet lets a process give up files and calls for itself. A submission
then reads Python and its libraries and nothing else, writes in a folder of its own,
and has no sockets. What namespaces would hide stays in sight: that other processes
and files exist, and how long things take. What this user's other processes could
suffer (signals, limits, priorities, modes of files) is refused call by call
(Linux kernel documentation, userspace-api/landlock and userspace-api/seccomp_filter).
"""

import ctypes
import functools
import pickle
import subprocess
import sys
import tempfile
from pathlib import Path

from rigkit.grading import confinement, records, seccomp

PROGRAM = Path(__file__).with_name("confining.py")
PROBE = """
import pickle, socket, sys
sys.path.insert(0, sys.argv[1])
import confining
confining.confine(pickle.load(sys.stdin.buffer))
for what in (lambda: open(sys.argv[2]), lambda: open(sys.argv[2], "a"), lambda: socket.socket(socket.AF_UNIX)):
    try:
        what()
        print("open")
    except PermissionError:
        print("shut")
open(sys.argv[3] + "/own", "w").close()
"""


@functools.cache
def version():
    """The version of Landlock's interface that the kernel has, 0 where it has none."""
    if sys.platform != "linux":
        return 0
    return max(0, ctypes.CDLL(None, use_errno=True).syscall(444, None, 0, 1))  # landlock_create_ruleset, LANDLOCK_CREATE_RULESET_VERSION


@functools.cache
def trouble():
    """Why submissions can't be confined in this way on this machine, or "" where they can: it is tried out."""
    if not version() or not seccomp.supported():
        return "the kernel has no Landlock, or the processor is one whose system calls we have no table of"
    with tempfile.TemporaryDirectory(prefix="rigkit-probe-") as place, tempfile.NamedTemporaryFile(prefix="rigkit-probe-") as outside:
        wish = confinement.wishes_bare({}, str(PROGRAM.parent), place, version())
        command = [sys.executable, "-I", "-B", "-c", PROBE, str(PROGRAM.parent), outside.name, place]
        try:
            done = subprocess.run(command, input=pickle.dumps(wish), capture_output=True, timeout=30, env={"PATH": "/usr/bin:/bin"})
        except (OSError, subprocess.SubprocessError) as error:
            return f"Landlock can't be tried: {error}"
    if done.returncode == 0 and done.stdout.split() == [b"shut"] * 3:
        return ""
    told = done.stderr.decode("utf-8", "replace").strip().splitlines() or ["what should be shut is open"]
    return f"Landlock does not hold here: {records.words(told[-1])}"
