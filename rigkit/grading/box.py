"""The box: one confined run of one submission, watched from outside and ended as a whole.

It has namespaces of its own (user, process, network, mount, ...), a read-only
view of Python and nothing else of this machine, small file systems in memory, no
capabilities and a filter for system calls; the program inside adds Landlock and
resource limits. The supervisor reads what comes out, with bounds on every size,
and ends the whole group when the time or the memory is used up: it holds a pidfd
of the group's first process, so no other process can be meant. There are two ways
to make a box: a fork of a warm server (warm), and bubblewrap where that can't be.

Where there is no box, the same program runs as an ordinary process that gives up
files and network for itself (landlock), if the kernel can hold it to that. Where it
can't, there are limits and a wall clock alone, and a person has to ask for it.
"""

import functools
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path

from rigkit.grading import bubblewrap, confinement, landlock, unconfined, warm, watching
from rigkit.grading.watching import STOP

__all__ = ["MODES", "STOP", "Limits", "Run", "close", "mode", "run", "trouble", "way"]

MODES = ("box", "landlock", "trusted")


@dataclass(frozen=True)
class Limits:
    """What one submission may use. Seconds are wall-clock time, sizes are bytes."""

    cell: float = 20.0  # one cell
    notebook: float = 120.0  # all cells
    start: float = 60.0  # until the box is ready
    grace: float = 2.0  # on top of a checkpoint's own seconds
    memory: int = 1 << 30  # all processes together
    address: int = 3 << 30  # address space of one process
    processes: int = 64
    files: int = 20_000  # files made in the box
    file: int = 32 << 20  # one file
    disk: int = confinement.TMP  # all files together, where there is no box to hold them
    output: int = 64 << 20  # all records together
    messages: int = 20_000

    def rlimits(self):
        """The limits a process sets for itself, by name."""
        return {
            "AS": self.address,
            "NPROC": self.processes,
            "FSIZE": self.file,
            "NOFILE": 256,
            "CORE": 0,
            "MEMLOCK": 0,
            "MSGQUEUE": 0,
            "CPU": int(self.notebook + self.start) * 2,
        }


@dataclass
class Run:
    """What came out of one run: records by checkpoint as JSON data, errors by cell, and how it ended.

    ended: "done", or why not: "time", "memory", "processes", "files", "disk", "flood", "died", "stopped".
    where: "start", a cell's number, or a checkpoint's id.
    """

    answers: dict = field(default_factory=dict)
    early: dict = field(default_factory=dict)
    errors: dict = field(default_factory=dict)
    called: list = field(default_factory=list)
    refused: list = field(default_factory=list)
    ended: str = "died"
    where: object = "start"
    detail: str = ""
    seconds: float = 0.0
    peak: int = 0


@functools.cache
def trouble():
    """Why submissions can't be confined on this machine, or "" where they can."""
    if sys.platform != "linux":
        return "the box needs Linux; use a Linux virtual machine, or grade code you trust with --trust-submissions"
    return "" if not warm.trouble() else bubblewrap.trouble()


@functools.cache
def way():
    """How submissions are confined on this machine: "warm" or "bubblewrap"."""
    return "bubblewrap" if warm.trouble() else "warm"


def mode(trust=False):
    """How submissions run on this machine: "box", or "landlock" where there are no namespaces, or, if somebody trusts them, "trusted".

    "" where they can't be confined and nobody said so.
    """
    if not trouble():
        return "box"
    return "landlock" if not landlock.trouble() else "trusted" if trust else ""


def run(folder, job, cases, limits=Limits(), mode="box"):
    """Run one submission and return its Run.

    folder: the box's copy of the package (package.build). job: what the program in the box is told, without "confine" and
    "paths" (see inbox.py). cases: checkpoint id to the list of hidden cases; they go in when the cells are done. mode: of MODES.
    """
    began = time.monotonic()
    for last in (False, True):
        try:
            result = _run(folder, job, cases, limits, mode)
            break
        except warm.Lost as why:  # no fault of the submission: once more, in a new server
            result = Run(detail=str(why))
            if last:
                break
    result.seconds = time.monotonic() - began
    return result


def close():
    """End what is kept for the next run: idle warm servers."""
    warm.close()


def _run(folder, job, cases, limits, mode):
    result, boxed = Run(), mode == "box"
    warmly = boxed and way() == "warm"
    work = None if boxed else tempfile.TemporaryDirectory(prefix="rigkit-plain-", ignore_cleanup_errors=True)
    command = [sys.executable, "-I", "-B", "/box/inbox.py" if boxed else str(Path(folder) / "inbox.py")]
    if mode == "landlock":
        confine = confinement.wishes_bare(limits.rlimits(), folder, work.name, landlock.version())
    else:
        confine = confinement.wishes(limits, folder, work and work.name, filtered=not warmly)
    job = {**job, "paths": confinement.import_paths(), "confine": confine}
    try:
        if warmly:
            opened = warm.opened(folder)
        else:
            opened = bubblewrap.opened(command, folder) if boxed else unconfined.opened(command, work.name)
        with opened as (process, group):
            watching.supervise(process, group, job, cases, limits, result)
            if warmly and result.ended == "died" and not process.alive():
                raise warm.Lost("a warm server died")
    finally:
        if work is not None:
            work.cleanup()
    return result
