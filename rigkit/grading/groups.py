"""All processes of one submission as one thing: what they use together, and their end."""

import contextlib
import os
import select
import signal
import sys


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

    def end(self):
        """End every process of the group and wait until they are gone."""
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
        count, memory = used(self.first)
        result.peak = max(result.peak, memory)
        return "memory" if memory > limits.memory else "processes" if count > limits.processes else ""

    def end(self):
        """End the process and whatever stayed in its group."""
        with contextlib.suppress(ProcessLookupError, PermissionError):
            if hasattr(os, "killpg"):
                os.killpg(self.first, signal.SIGKILL)
            else:
                self.process.kill()


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
