"""Grading beyond one machine: the same pure step, given to the workers of dask.distributed over TLS.

A worker gets the bytes of a notebook and its ticket, runs it in a box of its own
machine, judges it, and sends the points back; this process stays the only one that
writes. A worker that dies loses what it was running: the scheduler gives that to
another one, and what was stored is not run again. Scheduler, workers and this
process must be of one mind: versions are compared at the start, and by each worker
again before it grades, for workers may join later.

Whoever holds the certificates can run code on every machine of the cluster; that is
how dask.distributed works. Without TLS anybody on the network could, so there is no
way to leave it out.
"""

import contextlib
import functools
import logging
import platform
import tempfile
import threading
from importlib import metadata
from pathlib import Path

from rigkit import __version__
from rigkit.course import coursefile
from rigkit.grading import box, pools
from rigkit.grading.intake import Trouble
from rigkit.grading.versions import LIBRARIES, of_chapter

WAIT = 30  # seconds until the scheduler answers, and a worker is there
FILES = {"tls_ca_file": "ca.pem", "tls_client_cert": "cert.pem", "tls_client_key": "key.pem"}
_COURSE = threading.Condition()
_running = [0]


class Mismatch(Exception):
    """A worker is not what the grader is: points would depend on where a notebook ran."""


@contextlib.contextmanager
def opened(address, certificates, chapters, trust=False):
    """(Pool, mode) of a cluster; Trouble where it can't be used. mode: of box.MODES, that of all its workers.

    address: "tls://host:8786". certificates: a folder with ca.pem, cert.pem and key.pem. chapters: ids that are to be graded.
    """
    try:
        from distributed import Client
    except ImportError:
        raise Trouble("--cluster needs dask.distributed: in the folder of rigkit, pip install -e '.[cluster]'") from None
    address = address if "://" in address else f"tls://{address}"
    if not address.startswith("tls://"):
        raise Trouble(f"{address} is not encrypted; start scheduler and workers with TLS, and give tls://HOST:PORT")
    try:
        client = Client(address, security=_security(certificates), timeout=WAIT, set_as_default=False)
    except (OSError, ValueError, RuntimeError) as error:
        raise Trouble(f"no scheduler answers at {address}: {' '.join(str(error).split())[:200]}") from None
    with contextlib.closing(client), _quiet():
        mode, threads = _agreed(client, address, list(chapters), trust)
        work = functools.partial(grade_there, mode=mode, inside=coursefile.in_use())
        pool = client.get_executor(pure=False)
        stamps = {one: of_chapter(one) for one in chapters}

        def submit(key, data, ticket):
            return pool.submit(work, key, data, ticket, stamps[ticket.chapter])

        yield pools.Pool(threads, submit, lambda: pool.shutdown(wait=False)), mode


def grade_there(key, data, ticket, version, mode, inside):
    """On a worker: (key, Graded) of one notebook. version: what grades its chapter must be that. inside: the Course it belongs to."""
    with _in_course(inside):
        if version != of_chapter(ticket.chapter):
            raise Mismatch(f"worker {platform.node()} has another version of what grades chapter {ticket.chapter}")
        if box.mode(trust=mode == "trusted") != mode:
            raise Mismatch(f"worker {platform.node()} can't confine notebooks as the others do")
        return pools.grade_one(key, data, ticket, _cache().name)


def stamp(chapters, trust, inside):
    """On a worker, or here: what must be the same everywhere, by name."""
    with _in_course(inside):
        versions = {one: of_chapter(one) for one in chapters}
    told = {"rigkit": __version__, "Python": platform.python_version()} | {one: metadata.version(one) for one in LIBRARIES}
    return told | {f"chapter {one}": version for one, version in versions.items()} | {"mode": box.mode(trust)}


def differences(here, there):
    """Return one line for each worker that differs. here: stamp of this process. there: address to stamp; modes are compared with each other.

    >>> differences({"rigkit": "1", "mode": ""}, {"tls://b:1": {"rigkit": "2", "mode": "box"}})
    ['tls://b:1 has rigkit 2, here it is 1']
    """
    lines = []
    for address, told in sorted(there.items()):
        wrong = [name for name in here if name != "mode" and told.get(name) != here[name]]
        plain = [name for name in wrong if not name.startswith("chapter ")]
        if plain:
            lines.append(
                f"{address} has {', '.join(f'{one} {told.get(one)}' for one in plain)}, here it is {', '.join(here[one] for one in plain)}"
            )
        elif wrong:
            lines.append(f"{address} has other sources of {', '.join(wrong)}; install the same rigkit and data there")
    modes = {told["mode"] for told in there.values()}
    if "" in modes:
        unable = ", ".join(address for address, told in sorted(there.items()) if not told["mode"])
        lines.append(f"{unable} can't confine notebooks; take these workers away, or trust every hand-in: --trust-submissions")
    elif len(modes) > 1:
        lines.append(f"workers confine notebooks in different ways ({', '.join(sorted(modes))}); take those of one way")
    return lines


# -- helpers


def _security(certificates):
    from distributed.security import Security

    folder = Path(certificates).expanduser() if certificates else None
    absent = [name for name in FILES.values() if folder is None or not (folder / name).is_file()]
    if absent:
        raise Trouble(f"--cluster needs --certificates FOLDER with ca.pem, cert.pem and key.pem; not there: {', '.join(absent)}")
    return Security(require_encryption=True, **{name: str(folder / file) for name, file in FILES.items()})


def _agreed(client, address, chapters, trust):
    """(mode, threads) of the workers; Trouble where there are none, or where they are not as this process is."""
    try:
        client.wait_for_workers(1, timeout=WAIT)
    except TimeoutError:
        raise Trouble(f"the scheduler at {address} has no workers") from None
    inside = coursefile.in_use()
    there = client.run(stamp, chapters, trust, inside)
    lines = differences(stamp(chapters, trust, inside), there)
    if lines:
        raise Trouble("the cluster can't be used: " + "; ".join(lines))
    return next(iter(there.values()))["mode"], sum(client.nthreads().values())


@contextlib.contextmanager
def _quiet():
    """What dask logs about a lost machine we say ourselves, in a line."""
    logger = logging.getLogger("distributed")
    before = logger.level
    logger.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        logger.setLevel(before)


@contextlib.contextmanager
def _in_course(wanted):
    """The Course `wanted` is in use; who wants another one waits until nothing runs in it."""
    with _COURSE:
        _COURSE.wait_for(lambda: not _running[0] or coursefile.in_use() == wanted)
        coursefile.use(wanted)
        _running[0] += 1
    try:
        yield
    finally:
        with _COURSE:
            _running[0] -= 1
            _COURSE.notify_all()


@functools.cache
def _cache():
    """The folder of a worker's copies of the package; it goes with the worker."""
    return tempfile.TemporaryDirectory(prefix="rigkit-worker-")
