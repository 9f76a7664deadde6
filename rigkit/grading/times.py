"""When was it handed in, and which of several counts: times come from a list that the collecting side keeps, never from a file itself.

The list is a CSV table with the columns file and time: a path below the class
folder (a notebook, a folder of a learner, or a zip, which stands for all in it)
and a time as in ISO 8601, "2026-11-20T17:00" or with an offset "+01:00"; without
one it is taken as UTC.
"""

import csv
from datetime import UTC, datetime
from pathlib import PurePosixPath

RULES = ("last", "best")


def read(path):
    """Return {file: time} of a list of times, times in UTC. Whatever can't be read is a ValueError that names the line."""
    try:
        with open(path, encoding="utf-8-sig", newline="") as file:
            rows = list(csv.reader(file))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise ValueError(f"{path} can't be read ({getattr(error, 'strerror', None) or error}); expected a CSV table") from None
    heads = [head.strip() for head in rows[0]] if rows else []
    if "file" not in heads or "time" not in heads:
        raise ValueError(f"{path} has the columns {', '.join(heads) or 'none'}; expected file and time in its first line")
    found = {}
    for number, row in enumerate(rows[1:], 2):
        told = dict(zip(heads, row))
        name = told.get("file", "").strip().removeprefix("./")
        if not name and not any(cell.strip() for cell in row):
            continue
        try:
            time = moment(told.get("time", ""))
        except ValueError as error:
            raise ValueError(f"{path}, line {number}: {error}") from None
        if name in found:
            raise ValueError(f"{path}, line {number}: {name} is there twice")
        found[name] = time
    return found


def moment(text):
    """A time as ISO 8601 in UTC; without an offset it is taken as UTC.

    >>> moment("2026-11-20T17:00+01:00")
    '2026-11-20T16:00:00+00:00'
    """
    try:
        time = datetime.fromisoformat(text.strip())
    except ValueError:
        raise ValueError(f"{text.strip()!r} is no time; expected one as 2026-11-20T17:00 or 2026-11-20T17:00+01:00") from None
    return (time if time.tzinfo else time.replace(tzinfo=UTC)).astimezone(UTC).isoformat(timespec="seconds")


def time_of(file, known):
    """The time of a hand-in, or "": its own, or that of the zip or folder it lies in.

    >>> time_of("ada7/second/06-two-bones.ipynb", {"ada7/second": "2026-11-20T16:00:00+00:00"})
    '2026-11-20T16:00:00+00:00'
    """
    path = PurePosixPath(file)
    return next((known[str(one)] for one in (path, *path.parents) if str(one) in known), "")


def chosen(hand_ins, rule="last", deadline=""):
    """Which of several hand-ins of one chapter counts: its place, or None when none came in time.

    hand_ins: (time or "", points) of each. rule: "last", or "best", the later one of equals. A time that is not known is earlier
    than any, and with a deadline it can't be shown to be in time. Of equals the first counts.

    >>> chosen([("2026-01-01", 3), ("2026-01-02", 2), ("2026-02-01", 5)], "last", "2026-01-31")
    1
    >>> chosen([("2026-01-01", 3), ("2026-01-02", 2), ("2026-02-01", 5)], "best", "2026-01-31")
    0
    """
    in_time = [i for i, (time, _) in enumerate(hand_ins) if not deadline or "" < time <= deadline]
    weight = (lambda i: (hand_ins[i][1], hand_ins[i][0])) if rule == "best" else (lambda i: hand_ins[i][0])
    return max(in_time, key=weight, default=None)
