"""Where the time of a large class goes, stage by stage: python -m tests.grading.stages 10000, or with --boxes to run every notebook.

Without --boxes one notebook is really graded, and what came out is stored for everybody: then boxes cost nothing, and what is
left is what grows with the class. The table says which it was. Times are sums over all threads where a stage runs in threads.
"""

import argparse
import contextlib
import resource
import tempfile
import time
from collections import defaultdict
from dataclasses import replace
from pathlib import Path
from unittest import mock

from rigkit.course import handin, learner
from rigkit.grading import box, coordinator, intake, marking, planning, reports
from rigkit.grading.results import Results
from tests.grading import make_class


def measure(count, chapter="06", boxes=False, folder=None):
    """Grade a class of `count` packed hand-ins of one chapter; return (stage to seconds, how many were stored, peak of memory in MiB)."""
    with contextlib.ExitStack() as stack:
        place = Path(folder or stack.enter_context(tempfile.TemporaryDirectory(prefix="rigkit-stages-")))
        spent = defaultdict(float)
        began = time.perf_counter()
        _make(place, count, chapter)
        spent["making the hand-ins (no part of grading)"] = time.perf_counter() - began
        stages = [
            (planning.intake, "find", "taking in: whose, of which chapter, whole or not"),
            (coordinator, "_job", "reading again, and the key"),
            (marking, "grade", "boxes and judge, all threads" if boxes else "boxes and judge: one for all"),
            (Results, "save", "storing"),
            (reports, "write", "reports"),
        ]
        if not boxes:
            stack.enter_context(mock.patch.object(marking, "grade", _one_for_all(chapter)))
        for owner, name, told in stages:
            stack.enter_context(mock.patch.object(owner, name, _timed(getattr(owner, name), spent, told)))
        began = time.perf_counter()
        stack.enter_context(contextlib.redirect_stdout(None))
        code = coordinator.grade(place / "class", place / "out", chapters=[chapter], progress=False)
        spent["all of it, on the clock"] = time.perf_counter() - began
        with contextlib.closing(Results(place / "out" / "results.sqlite")) as results:
            stored = results.database.execute("SELECT count(*) FROM notebooks").fetchone()[0]
        assert code == 0, "a class of sound hand-ins"
    return dict(spent), stored, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _make(place, count, chapter):
    (place / "class").mkdir()
    source = make_class.notebook(make_class.answered(chapter, "learner-0"))
    mine = place / "mine"
    mine.mkdir()
    (mine / make_class.chapters.get(chapter).file).write_bytes(source)
    for number in range(count):
        who = learner.Learner(f"learner-{number}", 1)
        packed = handin.pack(mine, who).path
        packed.rename(place / "class" / packed.name)


def _one_for_all(chapter):
    """A stand-in for marking.grade that gives everybody what a first, real run gave."""
    who = "learner-0"
    with tempfile.TemporaryDirectory() as cache:
        ticket = marking.ticket(who, chapter, mode=box.mode() or "trusted")
        graded = marking.grade(make_class.notebook(make_class.answered(chapter, who)), ticket, cache)
        box.close()
    return lambda data, ticket, cache: replace(graded, learner=ticket.learner) if intake.cells(data) else graded


def _timed(work, spent, told):
    def timed(*args, **kwargs):
        began = time.perf_counter()
        try:
            return work(*args, **kwargs)
        finally:
            spent[told] += time.perf_counter() - began

    return timed


def main():
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.grading.stages", description=__doc__.partition("\n")[0])
    parser.add_argument("count", type=int, nargs="?", default=10_000)
    parser.add_argument("--boxes", action="store_true", help="run every notebook in its box")
    options = parser.parse_args()
    spent, stored, peak = measure(options.count, boxes=options.boxes)
    for told, seconds in spent.items():
        print(f"{told:<52} {seconds:8.1f} s   {1e3 * seconds / options.count:8.2f} ms each")
    print(f"{stored} notebooks stored; at most {peak:.0f} MiB of memory in this process")


if __name__ == "__main__":
    main()
