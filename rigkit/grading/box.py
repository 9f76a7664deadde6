"""The box: one confined process for one submission, watched from outside and ended as a whole.

bubblewrap gives it namespaces of its own (user, process, network, mount, ...), a
read-only view of Python and nothing else of this machine, small file systems in
memory, no capabilities and a filter for system calls; the program inside adds
Landlock and resource limits. The supervisor reads what comes out, with bounds on
every size, and ends the whole group when the time or the memory is used up: it
holds a pidfd of the group's first process, so no other process can be meant.

Where there is no box, `plain` runs the same program as an ordinary process with
limits and a wall clock. That confines neither files nor network on every system,
so a person has to ask for it.
"""

import contextlib
import functools
import json
import os
import pickle
import queue
import shutil
import signal
import struct
import subprocess
import sys
import sysconfig
import tempfile
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path

from rigkit.grading import records, seccomp

BWRAP = "bwrap"
TMP = 64 << 20  # bytes of /tmp in the box
SHARED = 16 << 20  # bytes of /dev/shm in the box
ENVIRONMENT = {
    "PATH": "/usr/bin:/bin",
    "HOME": "/tmp/home",
    "LANG": "C.UTF-8",
    "LOGNAME": "learner",
    "USER": "learner",
    "TMPDIR": "/tmp",
    "IPYTHONDIR": "/tmp/home/ipython",
    "MPLBACKEND": "agg",
    "MPLCONFIGDIR": "/tmp/home/matplotlib",
    "RIGKIT_OUTPUT": "text",
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "MKL_NUM_THREADS": "1",
    "PYTHONHASHSEED": "0",
}
SYSTEM = ("/usr", "/etc/ld.so.cache", "/etc/ld.so.conf", "/etc/ld.so.conf.d", "/etc/alternatives", "/etc/localtime")
LINKS = ("/bin", "/sbin", "/lib", "/lib32", "/lib64", "/libx32")
TICK = 0.05  # seconds between two looks at time and memory


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

    ended: "done", or why not: "time", "memory", "processes", "files", "flood", "died", "stopped".
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
    if shutil.which(BWRAP) is None:
        return "bubblewrap is not installed; install the package bubblewrap"
    with tempfile.TemporaryDirectory(prefix="rigkit-box-") as folder:
        try:
            with _boxed([sys.executable, "-I", "-c", "print('inside')"], folder) as (process, _):
                out, err = process.communicate(timeout=30)
        except (OSError, subprocess.SubprocessError, ValueError) as error:
            return f"bubblewrap can't make a box here: {error}"
    if out.strip() != b"inside":
        told = records.words(err.decode("utf-8", "replace").strip().splitlines()[-1] if err.strip() else "it says nothing")
        return f"bubblewrap can't make a box here ({told}); are user namespaces switched on?"
    return ""


STOP = threading.Event()  # set when the grader is to stop: every run then ends at once


def run(folder, job, cases, limits=Limits(), confined=True):
    """Run one submission and return its Run.

    folder: the box's copy of the package (package.build). job: what the program in the box is told, without "confine" and
    "paths" (see inbox.py). cases: checkpoint id to the list of hidden cases; they go in when the cells are done.
    """
    began = time.monotonic()
    result = Run()
    work = None if confined else tempfile.TemporaryDirectory(prefix="rigkit-plain-", ignore_cleanup_errors=True)
    program = "/box/inbox.py" if confined else str(Path(folder) / "inbox.py")
    command = [sys.executable, "-I", "-B", program]
    job = {**job, "paths": _import_paths(), "confine": _wishes(limits, folder, work and work.name)}
    frames = [_frame(job), _frame(cases)]
    seconds = {c["id"]: c["seconds"] for c in job["checkpoints"]}
    try:
        opened = _boxed(command, folder) if confined else _plain(command, work.name)
        with opened as (process, group):
            _supervise(process, group, frames, limits, seconds, result)
    finally:
        if work is not None:
            work.cleanup()
    result.seconds = time.monotonic() - began
    return result


# --- watching --------------------------------------------------------------------------------------------------------


def _supervise(process, group, frames, limits, seconds, result):
    """Follow one run until it says "done", ends, or uses up what it may."""
    incoming, errors = queue.SimpleQueue(), []  # bounded by what the reader takes
    readers = [
        threading.Thread(target=_read_lines, args=(process.stdout, incoming, limits), daemon=True),
        threading.Thread(target=_read_tail, args=(process.stderr, errors), daemon=True),
        threading.Thread(target=_send, args=(process.stdin, frames[0]), daemon=True),
    ]
    for thread in readers:
        thread.start()
    now = time.monotonic()
    deadline, cells_end, next_look = now + limits.start, None, now
    while True:
        now = time.monotonic()
        if now > deadline or STOP.is_set():
            result.ended = "stopped" if STOP.is_set() else "time"
            return
        if now >= next_look:
            next_look = now + TICK
            why = group.overuse(limits, result)
            if why:
                result.ended = why
                return
        try:
            line = incoming.get(timeout=TICK)
        except queue.Empty:
            continue
        if line is None or isinstance(line, str):
            result.ended = line or "died"
            result.detail = records.words(b"".join(errors).decode("utf-8", "replace").strip()[-200:]) if result.where == "start" else ""
            return
        try:
            message = records.read_message(line)
        except records.Refused as why:
            result.refused.append(str(why))
            if len(result.refused) > 100:
                result.ended = "flood"
                return
            continue
        now = time.monotonic()
        if message.kind == "ready" and cells_end is None:
            cells_end = now + limits.notebook
            deadline = min(now + limits.cell + limits.grace, cells_end)
        elif message.kind == "cell" and cells_end is not None:
            result.where = message.fields["number"]
            deadline = min(now + limits.cell + limits.grace, cells_end)
            if message.fields["state"] == "end" and message.fields["error"]:
                result.errors[message.fields["number"]] = message.fields["error"]
        elif message.kind == "frozen" and frames:
            readers.append(threading.Thread(target=_send, args=(process.stdin, frames[1]), daemon=True))
            readers[-1].start()
            frames, cells_end, result.where = (), None, "answers"
            deadline = now + limits.start
        elif message.kind == "begin" and message.fields["checkpoint"] in seconds:
            result.where = message.fields["checkpoint"]
            deadline = now + seconds[result.where] + 3 * limits.grace
        elif message.kind in ("answer", "early") and message.fields["checkpoint"] in seconds:
            (result.answers if message.kind == "answer" else result.early)[message.fields["checkpoint"]] = message.fields["record"]
        elif message.kind == "called" and len(result.called) < 1000:
            result.called.append((message.fields["what"], message.fields["checkpoint"]))
        elif message.kind == "done":
            result.ended = "done"
            return


def _read_lines(stream, incoming, limits):
    """Lines of the box into a queue; None at the end, "flood" when there is too much."""
    rest, total, count = b"", 0, 0
    while True:
        try:
            part = os.read(stream.fileno(), 1 << 18)
        except (OSError, ValueError):
            part = b""
        *lines, rest = (rest + part).split(b"\n")
        total, count = total + len(part), count + len(lines)
        if not part or total > limits.output or count > limits.messages or len(rest) > records.LINE:
            incoming.put("flood" if part else None)
            return
        for line in lines:
            incoming.put(line)


def _read_tail(stream, kept):
    with contextlib.suppress(OSError, ValueError):
        while part := os.read(stream.fileno(), 1 << 16):
            kept.append(part)
            while len(kept) > 1 and sum(map(len, kept)) > 8000:
                kept.pop(0)


def _send(stream, data):
    with contextlib.suppress(OSError, ValueError):
        stream.write(data)
        stream.flush()


def _frame(value):
    data = pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL)
    return struct.pack("<Q", len(data)) + data


# --- making and ending -----------------------------------------------------------------------------------------------


class Group:
    """All processes of one box, known by the pidfd of their first: what they use, and their end."""

    def __init__(self, first, pidfd):
        self.first, self.pidfd = first, pidfd

    def overuse(self, limits, result):
        """Why the group must be ended now, or ""."""
        count, memory = _sum(self.first)
        result.peak = max(result.peak, memory)
        if memory > limits.memory:
            return "memory"
        if count > limits.processes + 2:
            return "processes"
        with contextlib.suppress(OSError):
            if result.where == "start":  # its own /tmp may not be there yet
                return ""
            status = os.statvfs(os.path.join("/proc", str(self.first), "root", "tmp"))
            if status.f_files - status.f_ffree > limits.files:
                return "files"
        return ""

    def end(self):
        """End every process of the group and wait until they are gone."""
        import select

        with contextlib.suppress(ProcessLookupError):
            signal.pidfd_send_signal(self.pidfd, signal.SIGKILL)
        select.select([self.pidfd], [], [], 30)
        os.close(self.pidfd)


class PlainGroup:
    """A process with its process group, where there is no box."""

    def __init__(self, process):
        self.process, self.first = process, process.pid

    def overuse(self, limits, result):
        """Why the group must be ended now, or ""; memory is seen on Linux only."""
        if sys.platform != "linux":
            return ""
        count, memory = _sum(self.first)
        result.peak = max(result.peak, memory)
        return "memory" if memory > limits.memory else "processes" if count > limits.processes else ""

    def end(self):
        """End the process and whatever stayed in its group."""
        with contextlib.suppress(ProcessLookupError, PermissionError):
            if hasattr(os, "killpg"):
                os.killpg(self.first, signal.SIGKILL)
            else:
                self.process.kill()


@contextlib.contextmanager
def _boxed(command, folder):
    """Start a command in a box; gives (process, group), and ends the group at the end."""
    handles = []

    def handle_of(data):
        handle = os.memfd_create("rigkit", 0)
        handles.append(handle)
        os.write(handle, data)
        os.lseek(handle, 0, os.SEEK_SET)
        return handle

    info_read, info_write = os.pipe()
    block_read, block_write = os.pipe()
    handles += [info_write, block_read]
    process = group = None
    try:
        arguments = _arguments(command, folder)
        if seccomp.supported():
            arguments = ["--seccomp", str(handle_of(seccomp.program())), *arguments]
        arguments = ["--info-fd", str(info_write), "--block-fd", str(block_read), *arguments]
        packed = handle_of(b"\0".join(argument.encode() for argument in arguments) + b"\0")
        process = subprocess.Popen(
            [shutil.which(BWRAP), "--args", str(packed), "--", *command],
            env={"PATH": "/usr/bin:/bin"},
            pass_fds=handles,
            cwd="/",
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            bufsize=0,
        )
        while handles:
            os.close(handles.pop())
        group = _group_of(info_read)
        if group is not None:
            with contextlib.suppress(BrokenPipeError):  # it ended already; whoever reads its output will see
                os.write(block_write, b"go")
        yield process, group or PlainGroup(process)
    finally:
        for handle in [*handles, info_read, block_write]:
            os.close(handle)
        if group is not None:
            group.end()
        if process is not None:
            _finish(process)


def _group_of(info):
    """The group as bubblewrap tells of it, before anything in it has run; None when it told nothing."""
    told = b""
    while part := os.read(info, 4096):
        told += part
        if told.rstrip().endswith(b"}"):
            break
    if not told:
        return None
    first = json.loads(told)["child-pid"]
    return Group(first, os.pidfd_open(first))


@contextlib.contextmanager
def _plain(command, work):
    """Start a command as an ordinary process of a group of its own."""
    environment = {
        **ENVIRONMENT,
        "PATH": os.environ.get("PATH", ""),
        "HOME": work,
        "TMPDIR": work,
        "IPYTHONDIR": work,
        "MPLCONFIGDIR": work,
    }
    if os.name == "nt":
        environment |= {name: os.environ[name] for name in ("SYSTEMROOT", "WINDIR") if name in os.environ}
    process = subprocess.Popen(
        command,
        env=environment,
        cwd=work,
        start_new_session=True,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        bufsize=0,
    )
    group = PlainGroup(process)
    try:
        yield process, group
    finally:
        group.end()
        _finish(process)


def _finish(process):
    process.kill()
    process.wait()
    for stream in (process.stdin, process.stdout, process.stderr):
        with contextlib.suppress(OSError):
            stream.close()


def _arguments(command, folder):
    """What bubblewrap is told, by way of a file handle, so that it doesn't show on the command line."""
    out = ["--unshare-user", "--unshare-all", "--disable-userns", "--die-with-parent", "--new-session", "--cap-drop", "ALL", "--clearenv"]
    out += ["--uid", "65534", "--gid", "65534", "--hostname", "box"]
    for name, value in ENVIRONMENT.items():
        out += ["--setenv", name, value]
    out += [
        "--size",
        str(TMP),
        "--tmpfs",
        "/tmp",
        "--proc",
        "/proc",
        "--dev",
        "/dev",
        "--size",
        str(SHARED),
        "--tmpfs",
        "/dev/shm",
        "--remount-ro",
        "/dev",
    ]
    for path in SYSTEM:
        out += ["--ro-bind-try", path, path]
    for path in LINKS:
        if os.path.islink(path):
            out += ["--symlink", os.readlink(path), path]
        elif os.path.isdir(path):
            out += ["--ro-bind", path, path]
    for path in _python_places():
        out += ["--ro-bind", path, path]
    for path in _import_paths():
        own = os.path.join(path, "rigkit")  # an installed package holds the chapters and worked copies
        if os.path.isdir(own):
            out += ["--tmpfs", own, "--remount-ro", own]
    out += ["--ro-bind", str(folder), "/box", "--dir", "/tmp/home", "--dir", "/tmp/work", "--chdir", "/tmp/work", "--remount-ro", "/"]
    return out


@functools.cache
def _python_places():
    """Folders that hold this Python and its libraries, outermost first, /usr left out."""
    places = {sys.prefix, sys.base_prefix, os.path.realpath(sys.prefix), os.path.realpath(sys.base_prefix), *_import_paths()}
    places |= {os.path.dirname(os.path.dirname(os.path.realpath(sys.executable)))}
    kept = []
    for place in sorted(places, key=len):
        inside = place == "/usr" or place.startswith("/usr/")
        if (
            os.path.isdir(place)
            and place != "/"
            and not inside
            and not any(place.startswith(known + "/") or place == known for known in kept)
        ):
            kept.append(place)
    return tuple(kept)


@functools.cache
def _import_paths():
    """The folders of installed libraries."""
    known = {sysconfig.get_path("purelib"), sysconfig.get_path("platlib")}
    return tuple(sorted(path for path in sys.path if path in known or os.path.basename(path) in ("site-packages", "dist-packages")))


def _wishes(limits, folder, work):
    """What the program in the box gives up by itself."""
    if work is None:
        return {"limits": limits.rlimits(), "read": ["/"], "write": ["/tmp", "/dev"], "filter": b"", "alone": True}
    read = [str(folder), *SYSTEM, *LINKS, *_python_places(), "/proc", "/dev/urandom"]
    known = seccomp.supported() and sys.platform == "linux"
    rlimits = {**limits.rlimits()}
    del rlimits["NPROC"]  # outside of a box it counts everything this user runs
    return {
        "limits": rlimits,
        "read": read,
        "write": [work, "/dev/null", "/dev/shm"],
        "filter": seccomp.program(keep_group=True) if known else b"",
        "alone": False,
    }


# --- what a group uses -----------------------------------------------------------------------------------------------


def _sum(first):
    """(how many tasks, bytes of memory) of a process and all below it, as /proc tells."""
    count = memory = 0
    waiting, seen = [first], set()
    while waiting:
        process = waiting.pop()
        if process in seen or len(seen) > 5000:
            continue
        seen.add(process)
        try:
            with open(f"/proc/{process}/statm", "rb") as file:
                _, resident, shared, *_ = map(int, file.read().split())
            tasks = os.listdir(f"/proc/{process}/task")
            for task in tasks:
                with open(f"/proc/{process}/task/{task}/children", "rb") as file:
                    waiting += map(int, file.read().split())
        except (OSError, ValueError):
            continue
        count += len(tasks)
        memory += (resident - shared) * _PAGE
    return count, memory


_PAGE = os.sysconf("SC_PAGE_SIZE") if hasattr(os, "sysconf") else 4096
