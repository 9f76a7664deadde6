"""A class from folder to results: takes hand-ins in, hands them to a few threads, writes what comes back.

The work is done in other processes, so one thread a core is enough. This process
is the only writer of the results and stores each notebook as it comes, so the
same command goes on where it was stopped.
"""

import hashlib
import json as jsons
import sys
import tempfile
from concurrent.futures import FIRST_COMPLETED, ThreadPoolExecutor, wait
from functools import lru_cache
from os import cpu_count
from pathlib import Path

from rigkit import __version__
from rigkit.course import chapters as course
from rigkit.files import shared
from rigkit.grading import box, intake, marking, package, reports
from rigkit.grading.results import Results

ENGINE = "1"  # raise it when grading itself changes what it gives
UNGRADED = ("reports.py", "results.py", "cli.py")  # they tell points, they don't make them


def grade(
    folder, out, *, chapters=None, workers=None, secret=None, trust_submissions=False, progress=True, json=False, limits=box.Limits()
):
    """Grade every hand-in of a folder and write the results to `out`.

    folder: holds LEARNER/NN-name.ipynb or LEARNER.zip. chapters: ids, all when None. workers: how many at once, one a core
    when None. secret: path of a file that seeds the hidden inputs. trust_submissions: run without a box where there is none.
    json: print the summary as JSON. Returns an exit code: 0 all were graded, 1 some need a look, 3 nothing could be done.
    """
    try:
        plan = _plan(folder, chapters, secret, trust_submissions)
    except (intake.Trouble, ValueError) as why:
        print(f"rigkit grade: {why}", file=sys.stderr)
        return 3
    sources, problems, secret, confined = plan
    out = Path(out)
    try:
        out.mkdir(parents=True, exist_ok=True)
        results = Results(out / "results.sqlite")
    except OSError as error:
        print(f"rigkit grade: {out}: {error.strerror or error}", file=sys.stderr)
        return 3
    try:
        results.set_meta(course=__version__, mode="box" if confined else "trusted")
        results.set_problems(problems)
        done = _grade_all(sources, results, secret, confined, limits, workers or cpu_count() or 1, progress)
        summary = reports.write(results, out)
    finally:
        results.close()
    summary |= {"run now": done, "graded before": len(sources) - done}
    _tell(summary, out, confined, json)
    return 1 if summary["need a look"] or summary["unreadable"] or summary["problems"] else 0


def key_of(data, ticket):
    """The key of one notebook: a hash of everything its points depend on."""
    parts = [
        data,
        ticket.learner,
        ticket.chapter,
        ticket.variant,
        sorted(ticket.seeds.items()),
        ticket.limits,
        ticket.confined,
        __version__,
        engine(),
    ]
    return hashlib.sha256(
        b"\0".join(hashlib.sha256(part if type(part) is bytes else repr(part).encode()).digest() for part in parts)
    ).hexdigest()


@lru_cache(maxsize=1)
def engine():
    """The version of what grades: a hash of the package's sources and of the course's data."""
    digest = hashlib.sha256(f"{ENGINE} {sys.version}".encode())
    for place, pattern in ((package.PACKAGE, "*.py"), (shared("data"), "*.*")):
        for path in sorted(place.rglob(pattern)):
            if path.is_file() and path.name not in UNGRADED:
                digest.update(path.relative_to(place).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()


def _plan(folder, chapters, secret, trust_submissions):
    """(sources, problems, secret, confined), or Trouble when nothing can be done."""
    ids = list(chapters) if chapters else course.ids()
    files = {one: course.get(one).file for one in ids}
    sources, problems = intake.find(folder, files)
    if not sources and not problems:
        raise intake.Trouble(f"{folder} holds no hand-ins; expected {folder}/LEARNER/NN-name.ipynb or {folder}/LEARNER.zip")
    why = box.trouble()
    if why and not trust_submissions:
        raise intake.Trouble(
            f"{why}. Without a box a notebook can read and change whatever you can; to run them all the same: --trust-submissions"
        )
    if secret is not None:
        secret = secret if isinstance(secret, bytes) else intake.read_file(secret, 1 << 16).strip()
    return sources, problems, secret, not why


def _grade_all(sources, results, secret, confined, limits, workers, progress):
    """Grade what is not known yet; return how many were run now."""
    done = 0
    box.STOP.clear()
    with (
        tempfile.TemporaryDirectory(prefix="rigkit-grade-") as cache,
        _bar(len(sources), progress) as bar,
        ThreadPoolExecutor(workers) as pool,
    ):
        running = {}
        try:
            for source in sources:
                while len(running) >= 2 * workers:
                    done += _store(running, results, bar)
                job = _job(source, results, secret, confined, limits)
                if job is None:
                    bar.update()
                else:
                    running[pool.submit(_grade_one, *job, cache)] = source
            while running:
                done += _store(running, results, bar)
        except BaseException:
            box.STOP.set()
            pool.shutdown(wait=True, cancel_futures=True)
            raise
    return done


def _job(source, results, secret, confined, limits):
    """(key, data, ticket) of a notebook that must be run, or None when it is known; data is a Trouble when it can't be read."""
    ticket = marking.ticket(source.learner, source.chapter, secret, limits, confined)
    try:
        data = intake.read(source)
    except intake.Trouble as why:
        data = why
    key = key_of(data if isinstance(data, bytes) else f"unreadable: {data}".encode(), ticket)
    if not results.known(key):
        return key, data, ticket
    results.count(source.learner, source.chapter, key, source.name)
    return None


def _grade_one(key, data, ticket, cache):
    """(key, Graded). A fault of the grader costs one notebook, not the class, and is tried again next time: its key is no content's."""
    if isinstance(data, intake.Trouble):
        return key, marking.unreadable(ticket, str(data))
    try:
        return key, marking.grade(data, ticket, cache)
    except Exception as error:
        told = " ".join(f"{type(error).__name__}: {error}".split())[:300]
        return key_of(f"failed {key}".encode(), ticket), marking.failed(ticket, f"grading itself failed, run the command again: {told}")


def _store(running, results, bar):
    """Wait for the next graded notebooks and write them; return how many."""
    finished, _ = wait(running, return_when=FIRST_COMPLETED)
    for future in finished:
        source = running.pop(future)
        key, graded = future.result()
        results.save(key, graded, __version__)
        results.count(source.learner, source.chapter, key, source.name)
        bar.update()
    return len(finished)


def _bar(total, progress):
    from tqdm import tqdm

    return tqdm(total=total, desc="grading", unit="notebook", disable=not progress, file=sys.stderr)


def _tell(summary, out, confined, json):
    if json:
        print(jsons.dumps({"schema": "rigkit-grade-1", "out": str(out), "mode": "box" if confined else "trusted", **summary}, indent=1))
        return
    if not confined:
        print("WARNING: these notebooks ran without a box, with all you may read and write (--trust-submissions).")
    print(
        f"{summary['notebooks']} notebooks of {summary['learners']} learners: "
        f"{summary['run now']} run now, {summary['graded before']} graded before."
    )
    for name in ("need a look", "unreadable", "await a reader", "problems"):
        if summary[name]:
            print(f"  {name}: {summary[name]}")
    print(f"grades: {out / 'grades.csv'}   class: {out / 'pages' / 'class.html'}")
