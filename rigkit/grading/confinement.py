"""What a submission may see, use and do, whichever way it is confined."""

import functools
import os
import sys
import sysconfig

from rigkit.grading import seccomp

TMP = 64 << 20  # bytes of /tmp in the box
SHARED = 16 << 20  # bytes of /dev/shm in the box
FILES = 20_100  # files in each of them; a little more than limits say, who end the run
ENVIRONMENT = {
    "PATH": "/usr/bin:/bin",
    "HOME": "/tmp/home",
    "PWD": "/tmp/work",
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


@functools.cache
def python_places():
    """Folders that hold this Python and its libraries, outermost first, /usr left out."""
    places = {sys.prefix, sys.base_prefix, os.path.realpath(sys.prefix), os.path.realpath(sys.base_prefix), *import_paths()}
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
def import_paths():
    """The folders of installed libraries."""
    known = {sysconfig.get_path("purelib"), sysconfig.get_path("platlib")}
    return tuple(sorted(path for path in sys.path if path in known or os.path.basename(path) in ("site-packages", "dist-packages")))


def view(folder):
    """What a warm server sees, and how it is started (see nest.py). folder: the box's copy of the package, seen as /box."""
    covered = [own for own in (os.path.join(path, "rigkit") for path in import_paths()) if os.path.isdir(own)]
    return {
        "read": [*SYSTEM, *python_places(), *(path for path in LINKS if os.path.isdir(path) and not os.path.islink(path))],
        "links": [[os.readlink(path), path] for path in LINKS if os.path.islink(path)],
        "covered": covered,  # an installed package holds the chapters and worked copies
        "box": str(folder),
        "paths": list(import_paths()),
        "command": [sys.executable, "-I", "-B", "/box/forker.py"],
        "environment": ENVIRONMENT,
        "tmp": TMP,
        "shared": SHARED,
        "files": FILES,
    }


def wishes(limits, folder, work, filtered=True):
    """What the program in the box gives up by itself. work: its folder where there is no box; filtered: a box filters system calls."""
    if work is None:
        program = b"" if filtered else seccomp.program()
        return {"limits": limits.rlimits(), "read": ["/"], "write": ["/tmp", "/dev"], "filter": program, "alone": True}
    read = [str(folder), *SYSTEM, *LINKS, *python_places(), "/proc", "/dev/urandom"]
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


def wishes_bare(rlimits, folder, work, version):
    """The same where Landlock of this version, the filter and limits are all there is; whatever of it can't be had ends the run."""
    read, listed = without_own([str(folder), *SYSTEM, *LINKS, *python_places()])
    return {
        "limits": {name: value for name, value in rlimits.items() if name != "NPROC"},  # it would count everything this user runs
        "read": [*read, "/proc/self", "/proc/cpuinfo", "/proc/meminfo", "/dev/urandom"],
        "list": listed,
        "write": [work, "/dev/null"],
        "filter": seccomp.program(keep_group=True, bare=True, signals=version >= 6),
        "alone": False,
        "must": True,
    }


def without_own(places):
    """(places to read, places to list only): all of `places` but an installed rigkit, which holds the chapters and worked copies.

    Landlock allows what lies below a place, and can't take a part away again: so what lies beside rigkit is named.
    """
    own = {os.path.join(os.path.realpath(path), "rigkit") for path in import_paths()}
    read, listed = [], []
    for place in places:
        real = os.path.realpath(place)
        if real in own:
            continue
        if os.path.isdir(real) and any(one.startswith(real + "/") and os.path.isdir(one) for one in own):
            listed.append(place)
            inner = without_own([os.path.join(place, name) for name in sorted(os.listdir(real))])
            read, listed = read + inner[0], listed + inner[1]
        else:
            read.append(place)
    return read, listed
