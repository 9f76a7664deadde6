"""What `rigkit grade` says in the terminal: progress with the time left, one line for each problem, a summary or its JSON."""

import json as jsons
import sys

MOST = 20  # lines about problems
MODES = {
    "landlock": "NOTE: there are no namespaces here; each notebook was confined by Landlock, a filter of system calls and limits.",
    "trusted": "WARNING: these notebooks ran without a box, with all you may read and write (--trust-submissions).",
}
NAMES = ("need a look", "unreadable", "await a reader", "problems", "gained points", "lost points")


def bar(total, progress):
    """A progress bar that tells the time left; hidden without `progress`."""
    from tqdm import tqdm

    form = "{desc}: {percentage:3.0f}%|{bar}| {n_fmt}/{total_fmt} notebooks, {elapsed} so far, {remaining} left"
    return tqdm(total=total, desc="grading", disable=not progress, file=sys.stderr, bar_format=form)


def trouble(why):
    """Say on standard error why nothing, or not all, could be done."""
    print(f"rigkit grade: {_printable(why)}", file=sys.stderr)


def plan(jobs, known, problems, json):
    """Say what a run would do. jobs, known: sources to be run and graded before; problems: of intake."""
    told = {
        "schema": "rigkit-grade-plan-1",
        "to run": [source.place for source in jobs],
        "graded before": [source.place for source in known],
        "problems": [line(problem.learner, problem.name, problem.line) for problem in problems],
    }
    if json:
        print(jsons.dumps(told, indent=1))
        return
    for source in jobs:
        print(f"would run {_printable(source.place)}")
    _lines(told["problems"])
    print(f"{len(jobs)} notebooks would be run, {len(known)} were graded before; nothing was run or written.")


def summary(told, lines, out, mode, json):
    """Say how a run went. told: counts by name; lines: one for each problem; mode: of box.MODES."""
    if json:
        print(jsons.dumps({"schema": "rigkit-grade-1", "out": str(out), "mode": mode, **told}, indent=1))
        return
    if mode in MODES:
        print(MODES[mode])
    counts = f"{told['run now']} run now, {told['graded before']} graded before"
    print(f"{told['notebooks']} notebooks of {told['learners']} learners: {counts}.")
    for name in NAMES:
        if told[name]:
            print(f"  {name}: {told[name]}")
    _lines(lines)
    print(f"grades: {out / 'grades.csv'}   class: {out / 'pages' / 'class.html'}")


def line(learner, file, why):
    """One printable line about a problem."""
    return _printable(f"{learner}  {file}: {why}" if file else f"{learner}: {why}")


def _printable(text):
    return "".join(c if c.isprintable() else " " for c in str(text))


def _lines(lines):
    for one in lines[:MOST]:
        print(f"  {one}")
    if len(lines) > MOST:
        print(f"  ... and {len(lines) - MOST} more, all in pages/class.html")
