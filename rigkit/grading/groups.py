"""All processes of one submission as one thing: what they use together, and their end."""

import contextlib
import os
import select
import signal
import sys
import time


class Group:
    """All processes of one box, known by the pidfd of their first: what they use, and their end."""

    def __init__(self, first, pidfd):
        self.first, self.pidfd = first, pidfd

    def overuse(self, limits, result):
        """Why the group must be ended now, or ""."""
        count, memory = used(self.first, itself=False)
        result.peak = max(result.peak, memory)
        if memory > limits.memory:
            return "memory"
        if count > limits.processes + 1:
            return "processes"
        with contextlib.suppress(OSError):
            if result.where == "start":  # its own /tmp may not be there yet
                return ""
            status = os.statvfs(os.path.join("/proc", str(self.first), "root", "tmp"))
            if status.f_files - status.f_ffree > limits.files:
                return "files"
        return ""

    def alone(self):
        """Nothing to do: the first process of a box ends all others itself before the answers are tried."""

    def end(self):
        """End every process of the group and wait until they are gone."""
        with contextlib.suppress(ProcessLookupError):
            signal.pidfd_send_signal(self.pidfd, signal.SIGKILL)
        select.select([self.pidfd], [], [], 30)
        os.close(self.pidfd)


class PlainGroup:
    """A process with its process group, where there is no box; what it writes lies in `work`."""

    def __init__(self, process, work=""):
        self.process, self.first, self.work, self.looks, self.ended = process, process.pid, work, 0, None

    def overuse(self, limits, result):
        """Why the group must be ended now, or ""; what it uses is seen on Linux only."""
        if self.process.poll() is not None:  # what it left behind may hold its pipes open
            self.ended = self.ended or time.monotonic()
            if time.monotonic() > self.ended + limits.grace:
                return "died"
        if sys.platform != "linux":
            return ""
        count, memory = used_by(members(self.first))
        result.peak = max(result.peak, memory)
        if memory > limits.memory:
            return "memory"
        if count > limits.processes:
            return "processes"
        self.looks += 1
        return _written(self.work, limits) if self.work and self.looks % 8 == 0 else ""

    def alone(self):
        """End every other process of the group, so that nothing runs beside the answers (on Linux)."""
        for process in members(self.first) if sys.platform == "linux" else ():
            if process != self.first:
                with contextlib.suppress(ProcessLookupError, PermissionError):
                    os.kill(process, signal.SIGKILL)

    def end(self):
        """End the process and whatever stayed in its group, and wait until all are gone."""
        until = time.monotonic() + 5
        with contextlib.suppress(ProcessLookupError, PermissionError):
            if not hasattr(os, "killpg"):
                self.process.kill()
                return
            os.killpg(self.first, signal.SIGKILL)
            self.process.wait()
            while sys.platform == "linux" and members(self.first) and time.monotonic() < until:
                os.killpg(self.first, signal.SIGKILL)
                time.sleep(0.01)


def members(group):
    """The processes of a process group that are not dead, as /proc tells."""
    found = []
    for name in os.listdir("/proc"):
        if name.isdigit():
            with contextlib.suppress(OSError, ValueError, IndexError), open(f"/proc/{name}/stat", "rb") as file:
                state, _, its = file.read().rpartition(b")")[2].split()[:3]  # state, parent, group (proc_pid_stat(5))
                if int(its) == group and state not in b"ZX":
                    found.append(int(name))
    return found


def used_by(processes):
    """(how many tasks, bytes of memory) of processes together."""
    count = memory = 0
    for process in processes:
        with contextlib.suppress(OSError, ValueError):
            with open(f"/proc/{process}/statm", "rb") as file:
                _, resident, shared, *_ = map(int, file.read().split())
            count += len(os.listdir(f"/proc/{process}/task"))
            memory += (resident - shared) * _PAGE
    return count, memory


def _written(work, limits):
    """Whether more lies in a folder than may: "files", "disk" or ""."""
    count = size = 0
    for folder, _, files in os.walk(work):
        for name in files:
            with contextlib.suppress(OSError):
                size += os.lstat(os.path.join(folder, name)).st_blocks * 512
        count += len(files) + 1
        if count > limits.files:
            return "files"
    return "disk" if size > limits.disk else ""


def finish(process):
    """End a process that was started here, wait for it, close its streams."""
    process.kill()
    process.wait()
    for stream in (process.stdin, process.stdout, process.stderr):
        with contextlib.suppress(OSError):
            stream.close()


def used(first, itself=True):
    """(how many tasks, bytes of memory) of a process and all below it, as /proc tells. itself: without it, only those below."""
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
        if itself or process != first:
            count += len(tasks)
            memory += (resident - shared) * _PAGE
    return count, memory


_PAGE = os.sysconf("SC_PAGE_SIZE") if hasattr(os, "sysconf") else 4096
