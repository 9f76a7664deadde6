"""Namespaces made by system calls: one read-only view for a warm server, and in it a corner of its own for each submission.

Run as a program, outside, it makes the view and starts the server in it: namespaces
of its own (user, process, network, mount, ...), Python and its libraries read-only,
nothing else of this machine, no capabilities. A corner is made by a fork of the
server, before it reads a byte that a learner wrote: namespaces again, nested in the
server's, with a /tmp, /dev/shm, terminals and /proc of its own. Its first process
keeps nothing but the care for orphans; the second is the submission. Mounts that
came from the server can't be taken off in a corner, for they belong to another user
namespace (user_namespaces(7), mount_namespaces(7), pivot_root(2)).

It is copied into the box too, so it imports nothing but the standard library.
"""

import ctypes
import functools
import json
import os
import platform
import signal
import socket
import sys

NEW_MOUNT, NEW_CGROUP, NEW_HOST, NEW_IPC, NEW_USER, NEW_PROCESS, NEW_NETWORK = (
    0x00020000,
    0x02000000,
    0x04000000,
    0x08000000,
    0x10000000,
    0x20000000,
    0x40000000,
)  # CLONE_NEW*, linux/sched.h
ALL = NEW_MOUNT | NEW_CGROUP | NEW_HOST | NEW_IPC | NEW_USER | NEW_PROCESS | NEW_NETWORK
READ_ONLY, NO_SUID, NO_DEVICES, NO_PROGRAMS, REMOUNT, BIND, WHOLE, PRIVATE = 1, 2, 4, 8, 32, 4096, 16384, 1 << 18  # MS_*, sys/mount.h
DETACH = 2  # MNT_DETACH
NOBODY = 65534
DEVICES = ("null", "zero", "full", "random", "urandom", "tty")
PIVOT_ROOT = {"x86_64": 155, "aarch64": 41}
MOUNT_SETATTR, AT_RECURSIVE = 442, 0x8000
DEATH_SIGNAL, DUMPABLE, DROP_BOUND, NO_NEW_PRIVILEGES = 1, 4, 24, 38  # PR_*, linux/prctl.h


def main():
    """Make the view that the grader asks for over the socket named on the command line, and start the server in it."""
    control = socket.socket(fileno=int(sys.argv[1]))
    view = json.loads(control.recv(1 << 20))
    enter(view)
    if view["command"] is None:  # only to see whether it works here
        _drop_capabilities()
        corner(view, os.pidfd_open, lambda: control.send(b"inside"))
        os.wait()
        return
    control.set_inheritable(True)
    os.execve(view["command"][0], [*view["command"], str(control.fileno())], view["environment"])


def enter(view):
    """Go on as the first process of new namespaces, in a read-only view of the folders named.

    view: "read" folders and files, "links" (target, path), "covered" folders of them, "box" the folder that is /box, "tmp" and
    "shared" sizes in bytes. The process that calls waits for this one, and ends with it.
    """
    uid, gid = os.getuid(), os.getgid()
    _call("unshare", ALL)
    _map(uid, gid)
    child = os.fork()
    if child:
        os.closerange(3, 1 << 16)
        os.waitpid(child, 0)
        os._exit(0)
    _call("prctl", DEATH_SIGNAL, signal.SIGKILL, 0, 0, 0)
    _call("prctl", NO_NEW_PRIVILEGES, 1, 0, 0, 0)
    os.umask(0o022)
    _mount(None, "/", None, WHOLE | PRIVATE)
    sources = {path: os.open(path, os.O_PATH | os.O_CLOEXEC) for path in view["read"] if os.path.exists(path)}
    box = os.open(view["box"], os.O_PATH | os.O_CLOEXEC)
    devices = {name: os.open(f"/dev/{name}", os.O_PATH | os.O_CLOEXEC) for name in DEVICES}
    root = "/tmp"
    _mount("tmpfs", root, "tmpfs", NO_SUID | NO_DEVICES, "mode=755")
    os.mkdir(f"{root}/tmp")
    _mount("tmpfs", root + "/tmp", "tmpfs", NO_SUID | NO_DEVICES, f"size={view['tmp']},mode=755")
    for path, source in sources.items():
        _show(source, root + path)
    _show(box, root + "/box")
    for target, path in view["links"]:
        os.symlink(target, root + path)
    for path in view["covered"]:
        _mount("tmpfs", root + path, "tmpfs", NO_SUID | NO_DEVICES | READ_ONLY, "mode=755")
    _make_devices(root, devices)
    os.mkdir(f"{root}/proc")
    _mount("proc", root + "/proc", "proc", NO_SUID | NO_DEVICES | NO_PROGRAMS)
    os.chdir(root)
    _system("pivot_root", PIVOT_ROOT[platform.machine()], b".", b".")
    _call("umount2", b".", DETACH)
    os.chdir("/")
    _mount(None, "/", None, REMOUNT | BIND | READ_ONLY | NO_SUID | NO_DEVICES)
    _call("sethostname", b"box", 3)
    _homes()


def corner(view, hand_over, work):
    """Run `work()` in a corner of its own, and return nothing: the caller's fork makes the corner and ends.

    hand_over(first): told the number of the corner's first process. Errors are OSErrors here, before the corner has begun;
    inside, they are written to standard error.
    """
    _call("unshare", ALL)
    _map(NOBODY, NOBODY)
    first = os.fork()
    if first:
        hand_over(first)
        return
    try:
        signal.signal(signal.SIGINT, signal.SIG_DFL)  # a first process is deaf to signals it has no handler for
        _furnish(view)
        _drop_capabilities()
        second = os.fork()
        if second == 0:
            os.setsid()
            work()
            os._exit(0)
        _mind(second)
    except BaseException as error:  # whatever it is, nothing of the server may go on here
        os.write(2, f"{type(error).__name__}: {error}\n".encode())
    finally:
        os._exit(1)


def _furnish(view):
    """What a corner has for itself: files in memory, terminals, and a list of its own processes that can't be written to."""
    with open("/proc/self/oom_score_adj", "w") as file:
        file.write("500")  # where memory runs out, the submission ends first
    _mount(None, "/", None, WHOLE | PRIVATE)
    covered = {path: os.open(path, os.O_PATH | os.O_CLOEXEC) for path in view["read"] if path.startswith("/tmp/") and os.path.exists(path)}
    _mount("tmpfs", "/tmp", "tmpfs", NO_SUID | NO_DEVICES, f"size={view['tmp']},nr_inodes={view['files']},mode=755")
    for path, source in covered.items():  # Python or its libraries may lie there
        _show(source, path)
    _mount("tmpfs", "/dev/shm", "tmpfs", NO_SUID | NO_DEVICES, f"size={view['shared']},nr_inodes={view['files']},mode=755")
    _mount("devpts", "/dev/pts", "devpts", NO_SUID | NO_PROGRAMS, "newinstance,ptmxmode=0666,mode=620")
    _mount("proc", "/proc", "proc", NO_SUID | NO_DEVICES | NO_PROGRAMS | READ_ONLY)
    _homes()


def _homes():
    for place in ("/tmp/home", "/tmp/work"):
        os.mkdir(place)
    os.chdir("/tmp/work")


def _drop_capabilities():
    """No capability, now or after starting a program, not even in the corner's own namespace (capabilities(7))."""
    for number in range(64):
        if _libc().prctl(DROP_BOUND, number, 0, 0, 0):
            break  # there are no more
    header = (ctypes.c_uint32 * 2)(0x20080522, 0)
    _call("capset", header, (ctypes.c_uint32 * 6)())
    _call("prctl", NO_NEW_PRIVILEGES, 1, 0, 0, 0)


def _mind(second):
    """Wait for orphans until the submission is over; hold nothing open, let nobody look in."""
    nowhere = os.open(os.devnull, os.O_RDWR)
    for handle in (0, 1, 2):
        os.dup2(nowhere, handle)
    os.closerange(3, 1 << 16)
    _call("prctl", DUMPABLE, 0, 0, 0, 0)
    while os.wait()[0] != second:
        pass


def _show(source, target):
    """Show what an open handle points to at a place of the new root, read-only with all that is mounted below."""
    path = f"/proc/self/fd/{source}"
    os.makedirs(target if os.path.isdir(path) else os.path.dirname(target), exist_ok=True)
    if not os.path.isdir(path):
        open(target, "w").close()
    _mount(path, target, None, BIND | WHOLE)
    attributes = (ctypes.c_uint64 * 4)(READ_ONLY | NO_SUID | NO_DEVICES, 0, 0, 0)
    _system("mount_setattr", MOUNT_SETATTR, -100, target.encode(), AT_RECURSIVE, attributes, ctypes.sizeof(attributes))


def _make_devices(root, devices):
    place = root + "/dev"
    os.mkdir(place)
    _mount("tmpfs", place, "tmpfs", NO_SUID, "mode=755")
    for name, source in devices.items():
        open(f"{place}/{name}", "w").close()
        _mount(f"/proc/self/fd/{source}", f"{place}/{name}", None, BIND)
    links = {
        "fd": "/proc/self/fd",
        "stdin": "/proc/self/fd/0",
        "stdout": "/proc/self/fd/1",
        "stderr": "/proc/self/fd/2",
        "ptmx": "pts/ptmx",
    }
    for name, target in links.items():
        os.symlink(target, f"{place}/{name}")
    for name in ("pts", "shm"):
        os.mkdir(f"{place}/{name}")
    _mount(None, place, None, REMOUNT | BIND | READ_ONLY | NO_SUID)


def _map(uid, gid):
    """Be nobody in the new user namespace; who one is outside stays."""
    for name, line in (("setgroups", "deny"), ("uid_map", f"{NOBODY} {uid} 1"), ("gid_map", f"{NOBODY} {gid} 1")):
        with open(f"/proc/self/{name}", "w") as file:
            file.write(line)


def _mount(source, target, kind, flags, data=None):
    told = [part.encode() if part is not None else None for part in (source, target, kind, data)]
    _call("mount", *told[:3], flags, told[3])


@functools.cache
def _libc():
    return ctypes.CDLL(None, use_errno=True)


def _call(name, *arguments):
    """A call of the C library; OSError with the call's name when it fails."""
    if getattr(_libc(), name)(*arguments) != 0:
        number = ctypes.get_errno()
        raise OSError(number, f"{name}: {os.strerror(number)}")


def _system(name, number, *arguments):
    """A system call that the C library has no function for."""
    whole = [ctypes.c_long(one) if isinstance(one, int) else one for one in arguments]
    if _libc().syscall(ctypes.c_long(number), *whole) != 0:
        number = ctypes.get_errno()
        raise OSError(number, f"{name}: {os.strerror(number)}")


if __name__ == "__main__":
    main()
