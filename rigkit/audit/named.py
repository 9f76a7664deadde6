"""Names of joints and controls: the pattern, sides, duplicates, counters left by copying."""

import re
from collections import Counter

from rigkit import naming
from rigkit.audit import wording
from rigkit.audit.finding import Measured, Unknown
from rigkit.audit.rulebook import COURSE

LONGEST = 200  # letters of a name that are looked at
COUNTER = re.compile(r"(?:(?<=[A-Za-z])\d{1,9}|[_. -]\d{1,9}|[_. -](?:copy|dup|duplicate)\d{0,9})$", re.IGNORECASE)


def pattern(view):
    """How many problems a name has by the pattern of the rule file; a counter left by copying is told by its own rule."""
    rule, copies = view.book.names["pattern"], _copies(view)
    found = []
    for name, point in _named(view):
        if rule == COURSE:
            problems = [] if name in copies else naming.problems(name)
            found.append(Measured(len(problems), name, problems[0] if problems else f"{name!r} keeps the pattern", point))
        else:
            good = len(name) <= LONGEST and re.fullmatch(rule, name) is not None
            found.append(Measured(0 if good else 1, name, f"{name!r} does not match the pattern {rule!r}", point))
    return found


def counters(view):
    """Whether a name ends in a counter that copying left."""
    copies = _copies(view)
    return [
        Measured(
            int(name in copies), name, f"{name!r} ends in the counter {copies[name]!r}, left by copying" if name in copies else "", point
        )
        for name, point in _named(view)
    ]


def _copies(view):
    """Name to its counter, where the name without it is there too, or no other counter of its kind: numbered in a row, it is a series."""
    every, series = {name for name, _ in _named(view)}, {}
    for name in every:
        if match := COUNTER.search(name[-LONGEST:]):
            counter = match[0].strip("_. -")
            series.setdefault(name[: len(name) - len(match[0])], []).append((name, counter))
    return {name: counter for stem, members in series.items() if stem in every or len(members) == 1 for name, counter in members}


def duplicates(view):
    """How often each name is there."""
    named = _named(view)
    points = dict(reversed(named))
    counts = Counter(name for name, _ in named)
    return [Measured(count, name, f"{name!r} is there {count} times", points[name]) for name, count in counts.items()]


def sides(view):
    """How far a joint or control stands on the other side of the plane than its name says, millimetres."""
    plane = view.roles.plane
    if plane is None:
        return [Unknown(view.subject.name, "no plane of symmetry was found: give one in a roles file")]
    normal = plane.normal if plane.normal[0] >= 0 else -plane.normal
    found, named = [], _named(view)
    for (name, point), (side, *_) in zip(named, wording.all_apart([name for name, _ in named], view.book.names)):
        if side in ("left", "right") and point is not None:
            aside = (point - plane.point) @ normal * (1 if side == "left" else -1)
            wrong = max(0.0, -1000.0 * aside)
            found.append(Measured(wrong, name, f"{name!r} says {side} and stands {wrong:.3g} mm on the other side", point))
    return found or [Unknown(view.subject.name, "no name tells a side")]


def _named(view):
    """(name, point) of every joint and control."""
    joints = list(zip(view.subject.names, view.subject.positions)) if not view.subject.cycle else [(n, None) for n in view.subject.names]
    return joints + [(control.name, control.position) for control in view.subject.controls]
