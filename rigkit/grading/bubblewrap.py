"""A box made by bubblewrap: namespaces of its own, a read-only view, and an end that reaches every process in it."""

import contextlib
import json
import os
import shutil
import subprocess
import sys
import tempfile

from rigkit.grading import confinement, records, seccomp
from rigkit.grading.groups import Group, PlainGroup, finish

BWRAP = "bwrap"


def trouble():
    """Why bubblewrap can't make a box on this machine, or "" where it can."""
    if shutil.which(BWRAP) is None:
        return "bubblewrap is not installed; install the package bubblewrap"
    with tempfile.TemporaryDirectory(prefix="rigkit-box-") as folder:
        try:
            with opened([sys.executable, "-I", "-c", "print('inside')"], folder) as (process, _):
                out, err = process.communicate(timeout=30)
        except (OSError, subprocess.SubprocessError, ValueError) as error:
            return f"bubblewrap can't make a box here: {error}"
    if out.strip() != b"inside":
        told = records.words(err.decode("utf-8", "replace").strip().splitlines()[-1] if err.strip() else "it says nothing")
        return f"bubblewrap can't make a box here ({told}); are user namespaces switched on?"
    return ""


@contextlib.contextmanager
def opened(command, folder):
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
            finish(process)


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


def _arguments(command, folder):
    """What bubblewrap is told, by way of a file handle, so that it doesn't show on the command line."""
    out = ["--unshare-user", "--unshare-all", "--disable-userns", "--die-with-parent", "--new-session", "--cap-drop", "ALL", "--clearenv"]
    out += ["--uid", "65534", "--gid", "65534", "--hostname", "box"]
    for name, value in confinement.ENVIRONMENT.items():
        out += ["--setenv", name, value]
    out += [
        "--size",
        str(confinement.TMP),
        "--tmpfs",
        "/tmp",
        "--proc",
        "/proc",
        "--dev",
        "/dev",
        "--size",
        str(confinement.SHARED),
        "--tmpfs",
        "/dev/shm",
        "--remount-ro",
        "/dev",
    ]
    for path in confinement.SYSTEM:
        out += ["--ro-bind-try", path, path]
    for path in confinement.LINKS:
        if os.path.islink(path):
            out += ["--symlink", os.readlink(path), path]
        elif os.path.isdir(path):
            out += ["--ro-bind", path, path]
    for path in confinement.python_places():
        out += ["--ro-bind", path, path]
    for path in confinement.import_paths():
        own = os.path.join(path, "rigkit")  # an installed package holds the chapters and worked copies
        if os.path.isdir(own):
            out += ["--tmpfs", own, "--remount-ro", own]
    out += ["--ro-bind", str(folder), "/box", "--dir", "/tmp/home", "--dir", "/tmp/work", "--chdir", "/tmp/work", "--remount-ro", "/"]
    return out
