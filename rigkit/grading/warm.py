"""Warm servers: one process that has imported everything, and a fork of it in a corner of its own for each submission.

Most of a submission's time in a fresh box goes into starting Python and importing
numpy and IPython. A server does that once (forker.py, in a view made by nest.py).
A few stay idle for the next submissions of the same chapter; one that died is
thrown away, and what ran in it is run again.
"""

import contextlib
import json
import os
import select
import socket
import subprocess
import sys
import threading
from pathlib import Path
from types import SimpleNamespace

from rigkit.grading import confinement, records, seccomp
from rigkit.grading.groups import Group

START = 60.0  # seconds until a server is ready, or has made a corner
KEPT = max(4, os.cpu_count() or 1)  # idle servers
PROGRAM = Path(__file__).with_name("nest.py")
_LOCK, _IDLE = threading.Lock(), []  # the one used last stands last


class Lost(Exception):
    """There is no server, or it died and whatever ran in it with it."""


def trouble():
    """Why there can be no warm servers on this machine, or "" where there can."""
    if sys.platform != "linux" or not seccomp.supported():
        return "warm servers need Linux on x86_64 or aarch64"
    try:
        process, control = _start(confinement.view(PROGRAM.parent) | {"command": None})
        with control:
            told = control.recv(1 << 12)
        _, errors = process.communicate(timeout=START)
    except (OSError, ValueError, subprocess.SubprocessError) as error:
        return f"no warm server: {error}"
    return "" if told == b"inside" else f"no warm server: {_last_line(errors)}"


@contextlib.contextmanager
def opened(folder):
    """A corner for one submission, as (process, group); the group is ended at the end. process.alive(): whether its server still is."""
    server = _take(folder)
    try:
        with server.corner() as (process, group):
            yield process, group
    except BaseException:
        server.end()
        raise
    if server.alive():
        _give_back(server)
    else:
        server.end()


def close():
    """End every idle server."""
    with _LOCK:
        servers, _IDLE[:] = list(_IDLE), []
    for server in servers:
        server.end()


class Server:
    """A warm server for the package copy in `folder`."""

    def __init__(self, folder):
        self.view = confinement.view(folder)
        self.process, self.control = _start(self.view)
        try:
            self.control.send(json.dumps(self.view).encode())
            ready = self.control.recv(64)
        except OSError as error:
            ready = str(error).encode()
        if ready != b"ready":
            self.process.kill()
            told = _last_line(self.process.stderr.read())
            self.end()
            raise Lost(f"a warm server did not start: {told}")

    @contextlib.contextmanager
    def corner(self):
        """(process, group) of a new corner; its streams are pipes that nothing else ever held."""
        pipes = [os.pipe() for _ in range(3)]
        theirs = [pipes[0][0], pipes[1][1], pipes[2][1]]
        ours = [open(pipes[0][1], "wb", buffering=0), open(pipes[1][0], "rb", buffering=0), open(pipes[2][0], "rb", buffering=0)]
        group = None
        try:
            try:
                socket.send_fds(self.control, [b"run"], theirs)
                told, handles, _, _ = socket.recv_fds(self.control, 256, 1)
            except OSError as error:
                raise Lost(f"a warm server does not answer: {error}") from None
            finally:
                for handle in theirs:
                    os.close(handle)
            if not handles:
                raise Lost(f"a warm server made no corner: {records.words(told.decode('utf-8', 'replace')) or 'it died'}")
            group = Group(_number(handles[0]), handles[0])
            yield SimpleNamespace(stdin=ours[0], stdout=ours[1], stderr=ours[2], alive=self.alive), group
        finally:
            if group is not None:
                group.end()
            for stream in ours:
                stream.close()

    def alive(self):
        """Whether it is there: it says nothing unasked, so whatever can be read is the end."""
        return not select.select([self.control], [], [], 0)[0]

    def end(self):
        """End it, with all that runs in it."""
        self.control.close()  # it hears of that, and ends
        try:
            self.process.wait(timeout=2)
        except subprocess.TimeoutExpired:
            self.process.kill()  # the first process in its view dies with this one
            self.process.wait()
        self.process.stderr.close()


def _start(view):
    ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    with theirs:
        process = subprocess.Popen(
            [sys.executable, "-I", "-B", str(PROGRAM), str(theirs.fileno())],
            env={"PATH": "/usr/bin:/bin"},
            pass_fds=[theirs.fileno()],
            cwd="/",
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
        )
    ours.settimeout(START)
    with contextlib.suppress(BrokenPipeError):  # it ended already; whoever waits for its answer will see
        ours.send(json.dumps(view).encode())
    return process, ours


def _take(folder):
    view = confinement.view(folder)
    with _LOCK:
        found = [server for server in _IDLE if server.view == view]
        for server in found[-1:]:
            _IDLE.remove(server)
    for server in found[-1:]:
        if server.alive():
            return server
        server.end()
    return Server(folder)


def _give_back(server):
    with _LOCK:
        _IDLE.append(server)
        old = _IDLE[: max(0, len(_IDLE) - KEPT)]
        del _IDLE[: len(old)]
    for one in old:
        one.end()


def _number(handle):
    """The process number, here, of what a pidfd means."""
    with open(f"/proc/self/fdinfo/{handle}") as file:
        return next(int(line.split()[1]) for line in file if line.startswith("Pid:"))


def _last_line(errors):
    told = errors.decode("utf-8", "replace").strip().splitlines()
    return records.words(told[-1]) if told else "it says nothing"
