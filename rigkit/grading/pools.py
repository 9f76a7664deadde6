"""Where notebooks are graded: in threads of this process, each watching a box, or on the machines of a cluster (cluster)."""

import contextlib
import tempfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

from rigkit.grading import box, intake, marking
from rigkit.grading.versions import key_of


class Pool(NamedTuple):
    """What gives work away.

    workers: how many notebooks at once. submit(key, data, ticket): a Future of (key, Graded). stop(): give up what is not done yet.
    """

    workers: int
    submit: Callable
    stop: Callable


@contextlib.contextmanager
def threads(workers):
    """A Pool of threads here; stop() ends the notebooks that run at once."""
    box.STOP.clear()
    with tempfile.TemporaryDirectory(prefix="rigkit-grade-") as cache, ThreadPoolExecutor(workers) as pool:

        def stop():
            box.STOP.set()
            pool.shutdown(wait=True, cancel_futures=True)

        yield Pool(workers, lambda key, data, ticket: pool.submit(grade_one, key, data, ticket, cache), stop)


def grade_one(key, data, ticket, cache):
    """(key, Graded) of one notebook. data: its bytes, or the Trouble of reading it. cache: folder for the box's copies."""
    if isinstance(data, intake.Trouble):
        return key, marking.unreadable(ticket, str(data))
    try:
        return key, marking.grade(data, ticket, cache)
    except Exception as error:
        return failed(key, ticket, error)


def failed(key, ticket, error):
    """(key, Graded) where the grader failed. It costs one notebook, not the class, and is tried again: its key is no content's."""
    told = " ".join(f"{type(error).__name__}: {error}".split())[:300]
    return key_of(f"failed {key}".encode(), ticket), marking.failed(ticket, f"grading itself failed, run the command again: {told}")
