"""A course tried before a class meets it: what it changes, and whether every worked answer still earns full marks.

A robot of one's own dimensions may have folds no shell can bend, and a tolerance may
be too tight for the workbook's own answer. Both show here, by checkpoint and variant.
"""

import json
import sys

from rigkit.course import chapters, context, coursefile
from rigkit.course.collect import collect
from rigkit.course.judge import judge

SCHEMA = "rigkit-course-1"


def run(path, variants=10, as_json=False):
    """Try the course file at `path` on the robots of variants 0 to `variants` - 1; print what was found and return an exit code.

    0: every worked answer earns full marks; 1: some do not. A file that can't be read is a ValueError.
    """
    if variants < 1:
        raise ValueError(f"variants is {variants}; expected 1 or more")
    course = coursefile.read(path)
    coursefile.use(course)
    try:
        changes = {one: coursefile.differences(chapters.get(one, printed=True), course) for one in chapters.ids()}
        points = {one: sum(checkpoint.points for checkpoint in chapters.get(one).checkpoints) for one in chapters.ids()}
        found = [line for number in range(variants) for line in _tried(number, as_json or not sys.stderr.isatty())]
    finally:
        coursefile.use()
    if as_json:
        print(json.dumps({"schema": SCHEMA, "name": course.name, "points": points, "changes": changes, "findings": found}, indent=1))
        return int(bool(found))
    print(f"{course.name or 'a course without a name'}: {len(points)} chapters, {sum(points.values())} points")
    for one, lines in changes.items():
        print("\n".join([f"  {one}  {chapters.get(one).title}, {points[one]} points", *(f"      {line}" for line in lines)]))
    print("\n".join(found) or f"every worked answer earns full marks on variants 0 to {variants - 1}")
    return int(bool(found))


def _tried(number, quiet):
    """A line for each worked answer of the course that misses a claim on one variant."""
    if not quiet:
        print(f"\rvariant {number} ", end="", file=sys.stderr, flush=True)
    try:
        found = [line for one in chapters.ids() for line in _chapter(chapters.get(one), number)]
    except Exception as error:  # a robot that can't be built, of whatever kind
        return [f"variant {number}: its robot can't be built: {error}"]
    return found


def _chapter(chapter, number):
    known = context.context(chapter, number)
    for one in chapter.checkpoints:
        if one.kind == "text":
            continue
        cases = context.cases(one, known)
        answer = dict.fromkeys(one.names, one.worked) if one.kind == "function" else one.worked(known)
        result = judge(one, collect(one, answer, cases), known, cases)
        for claim in result.claims:
            if claim.outcome != "ok":
                yield f"variant {number}: {one.id}, {claim.text}: {claim.got or claim.outcome}"
