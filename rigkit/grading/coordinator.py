"""A class from folder to results: takes hand-ins in, hands them to a few threads or to a cluster, writes what comes back.

The work is done in other processes, so one thread a core is enough. This process
is the only writer of the results and stores each notebook as it comes, so the
same command goes on where it was stopped.
"""

import contextlib
import hashlib
import sqlite3
from concurrent.futures import FIRST_COMPLETED, CancelledError, wait
from os import cpu_count
from pathlib import Path

from rigkit import __version__
from rigkit.course import coursefile
from rigkit.grading import box, intake, marking, planning, pools, reports, telling, times
from rigkit.grading.results import Results, known_in
from rigkit.grading.versions import key_of


def grade(
    folder,
    out,
    *,
    chapters=None,
    workers=None,
    secret=None,
    trust_submissions=False,
    progress=True,
    json=False,
    limits=box.Limits(),
    only=(),
    times=None,
    deadline="",
    rule="last",
    course=None,
    roster=None,
    cluster=None,
    certificates=None,
    dry_run=False,
):
    """Grade every hand-in of a folder and write the results to `out`.

    folder: holds LEARNER/NN-name.ipynb or LEARNER.zip. chapters: ids, all when None. workers: how many at once, one a core
    when None. secret: path of a file that seeds the hidden inputs. trust_submissions: run without a box where there is none.
    json: print the summary as JSON. only: "LEARNER", "LEARNER/NN" or "/NN", these alone. times: path of a list of when each was
    handed in (see times.py); then all hand-ins of a chapter are graded, and `rule` ("last", "best") says which counts of those not
    after `deadline`. course: path of a course file. roster: path of one; who is missing is then told. cluster: the address of a
    scheduler of dask.distributed, certificates: a folder (see cluster.py); its workers grade instead of this machine. dry_run: say what would be run, run and write nothing.
    Returns an exit code: 0 all were graded, 1 some need a look, 3 nothing could be done, or not all of it.
    """
    before = coursefile.in_use()
    try:
        if course is not None:
            coursefile.use(coursefile.read(course))
        with _pool(cluster, certificates, chapters, workers, trust_submissions) as (pool, mode):
            plan = planning.plan(folder, chapters, secret, mode, limits, only, times, deadline, rule, roster)
            if dry_run:
                return _tell_plan(plan, Path(out), json)
            return _run(plan, Path(out), pool, progress, json)
    except (intake.Trouble, ValueError) as why:
        telling.trouble(why)
        return 3
    finally:
        coursefile.use(before)


@contextlib.contextmanager
def _pool(cluster, certificates, chapters, workers, trust):
    """(the Pool that grades, the mode in which it does)."""
    if cluster is None:
        mode = planning.mode_here(trust)
        with pools.threads(workers or cpu_count() or 1) as pool:
            yield pool, mode
    else:
        from rigkit.grading import cluster as machines

        with machines.opened(cluster, certificates, planning.chapters_of(chapters), trust) as (pool, mode):
            yield pool, mode


def _run(plan, out, pool, progress, json):
    """Grade what a plan holds, write the reports, tell; return the exit code."""
    try:
        out.mkdir(parents=True, exist_ok=True)
        with contextlib.closing(Results(out / "results.sqlite")) as results:
            before = results.standing()
            results.set_meta(course=__version__, mode=plan.mode)
            done, late = _grade_all(plan, results, pool, progress)
            about = None if plan.whole else {learner for learner, _ in plan.by_pair}
            results.set_problems([*plan.problems, *late], about)
            changes = _changes(before, results.standing())
            results.add_changes(changes)
            told = reports.write(results, out)
            reports.write_receipts(plan.receipts, out)
            lines = _problem_lines(results)
    except (OSError, sqlite3.Error) as error:
        telling.trouble(
            f"{out}: {getattr(error, 'strerror', None) or error}. What was graded is kept; make room or repair, and run it again"
        )
        return 3
    finally:
        box.close()
    told |= {"run now": done, "graded before": len(plan.sources) - done}
    told |= {"gained points": sum(after > then for _, _, then, after, _ in changes)}
    told |= {"lost points": sum(after < then for _, _, then, after, _ in changes)}
    telling.summary(told, lines, out, plan.mode, json)
    return 1 if told["need a look"] or told["unreadable"] or told["problems"] else 0


def _tell_plan(plan, out, json):
    keys = known_in(out / "results.sqlite")
    known = {source for source in plan.sources if _job(source, plan)[0] in keys}
    jobs = [source for source in plan.sources if source not in known]
    telling.plan(jobs, [source for source in plan.sources if source in known], plan.problems, json)
    return 0


# --- doing it --------------------------------------------------------------------------------------------------------


def _grade_all(plan, results, pool, progress):
    """Grade what is not known yet; return how many were run now, and a Problem for each pair that came late."""
    run = _Running(plan, results)
    with telling.bar(len(plan.sources), progress) as bar:
        try:
            for source in plan.sources:
                while len(run.waiting) >= 2 * pool.workers:
                    bar.update(run.store())
                key, data, ticket = _job(source, plan)
                content = hashlib.sha256(data).hexdigest() if isinstance(data, bytes) else ""
                if results.known(key):
                    run.counts(source, key, content)
                    bar.total -= 1  # so that the time left is that of those that are run
                    bar.refresh()
                elif not run.joins(source, key, content):
                    run.waiting[pool.submit(key, data, ticket)] = key, ticket, [(source, content)]
            while run.waiting:
                bar.update(run.store())
        except BaseException:
            pool.stop()
            raise
    return run.done, [problem for problem in run.late.values() if problem is not None]


class _Running:
    """What is being graded, and what is stored of it: waiting is future to (key, ticket, [(source, hash of its bytes), ...])."""

    def __init__(self, plan, results):
        self.plan, self.results = plan, results
        self.waiting, self.late, self.done = {}, {}, 0

    def joins(self, source, key, content):
        """Whether the very same notebook is being graded already; the source then waits with it."""
        for known, _, sources in self.waiting.values():
            if known == key:
                sources.append((source, content))
                return True
        return False

    def store(self):
        """Wait for the next graded notebooks and write them; return how many hand-ins that were."""
        finished, _ = wait(self.waiting, return_when=FIRST_COMPLETED)
        before = self.done
        for future in finished:
            key, ticket, sources = self.waiting.pop(future)
            try:
                key, graded = future.result()
            except CancelledError:
                raise intake.Trouble("the cluster is gone; what was graded is kept: repair it, and run the command again") from None
            except Exception as error:  # of a worker: it costs this notebook, not the class
                key, graded = pools.failed(key, ticket, error)
            self.results.save(key, graded, __version__)
            for source, content in sources:
                self.counts(source, key, content)
            self.done += len(sources)
        return self.done - before

    def counts(self, source, key, content):
        """Keep a graded hand-in, and see which of its learner's chapter counts."""
        plan, pair = self.plan, (source.learner, source.chapter)
        time = times.time_of(source.place, plan.when) if plan.when is not None else ""
        self.results.hand_in(*pair, source.name, key, content, time)
        found = self.results.choose(*pair, [other.name for other in plan.by_pair[pair]], plan.rule, plan.deadline)
        told = f"nothing of chapter {source.chapter} was handed in by {plan.deadline}"
        self.late[pair] = intake.Problem(source.learner, "", told) if found is None else None


def _job(source, plan):
    """(key, data, ticket) of a notebook; data is a Trouble when it can't be read."""
    ticket = marking.ticket(source.learner, source.chapter, plan.secret, plan.limits, plan.mode)
    try:
        data = intake.read(source)
    except intake.Trouble as why:
        data = why
    return key_of(data if isinstance(data, bytes) else f"unreadable: {data}".encode(), ticket), data, ticket


def _changes(before, after):
    """Who gained or lost: (learner, chapter, points before, points after, why); those new here are no change."""
    found = []
    for pair, (points, content) in sorted(before.items()):
        now, same = after.get(pair, (0, None))
        if now != points:
            why = (
                "none counts any more" if same is None else "the same hand-in, graded anew" if same == content else "another hand-in counts"
            )
            found.append((*pair, points, now, why))
    return found


def _problem_lines(results):
    """One line for each thing that somebody should look at."""
    looked = [telling.line(row.learner, row.file, line) for row in results.rows() if row.status != "graded" for line in row.lines]
    return looked + [telling.line(*problem) for problem in results.problems()]
