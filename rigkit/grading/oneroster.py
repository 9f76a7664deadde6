"""A class's results in an open standard for exchange between school systems: OneRoster, its CSV binding, version 1.2.

A zip holds manifest.csv, lineItems.csv (a chapter each), results.csv (a learner's
points in a chapter each) and, where the school names no category, categories.csv.
All is sent as a change ("delta"), so that nothing else in the gradebook is touched.
The ids of class, school and term are the school's own; so are those of learners,
where a roster has a column sourcedid. Source: 1EdTech, OneRoster CSV Binding 1.2.1,
2023 (memory): try a file of yours in a test of the school's system first.
"""

import csv
import io
import zipfile
from datetime import UTC, date, datetime
from pathlib import Path

from rigkit.course import chapters as course
from rigkit.grading.figures import decimal
from rigkit.grading.reader import opened

VERSION = {"manifest.version": "1.0", "oneroster.version": "1.2"}
FILES = (
    "academicSessions categories classes classResources courses courseResources demographics enrollments lineItemLearningObjectiveIds "
    "lineItems lineItemScoreScales orgs resources resultLearningObjectiveIds results resultScoreScales roles scoreScales userProfiles "
    "userResources users"
).split()
BASE = ("sourcedId", "status", "dateLastModified")
CATEGORIES = (*BASE, "title", "weight")
LINE_ITEMS = (
    *BASE,
    *("title", "description", "assignDate", "dueDate", "classSourcedId", "categorySourcedId", "academicSessionSourcedId"),
    *("resultValueMin", "resultValueMax", "schoolSourcedId"),
)
RESULTS = (
    *BASE,
    *("lineItemSourcedId", "studentSourcedId", "scoreStatus", "score", "scoreDate", "comment", "textScore", "classSourcedId"),
    *("inProgress", "incomplete", "late", "missing"),
)
OURS = "rigkit"


def write(out, path, school, group, term, category="", due="", students=None):
    """Write the results of a folder as a zip; return how many results are in it.

    out: what `rigkit grade` wrote. school, group (the class), term, category: the school's sourcedIds. due: a day as 2026-11-20,
    today without one. students: learner's id to the school's sourcedId; a learner's own id where it names none. A folder without
    results, a day that is none, and a file that is there already are a ValueError.
    """
    path = Path(path)
    try:
        due = (date.fromisoformat(due) if due else date.today()).isoformat()
    except ValueError:
        raise ValueError(f"{due!r} is no day; expected one as 2026-11-20") from None
    if path.exists():
        raise ValueError(f"{path} is there already; expected the name of a new file")
    with opened(out) as results:
        rows = list(results.rows())
    now = datetime.now(UTC)
    tables = _tables(rows, school, group, term, category, due, students or {}, now)
    try:
        with zipfile.ZipFile(path, "x", zipfile.ZIP_DEFLATED) as archive:
            for name, text in {"manifest.csv": _manifest(tables), **tables}.items():
                archive.writestr(name, text)
    except OSError as error:
        raise ValueError(f"{path} can't be written ({error.strerror})") from None
    return len(rows)


# -- helpers


def _tables(rows, school, group, term, category, due, students, now):
    """Name of a file to its text."""
    base = {"status": "active", "dateLastModified": now.isoformat(timespec="milliseconds").replace("+00:00", "Z")}
    most = {chapter: max(row.points for row in rows if row.chapter == chapter) for chapter in sorted({row.chapter for row in rows})}
    link = {"classSourcedId": group, "categorySourcedId": category or OURS, "academicSessionSourcedId": term, "schoolSourcedId": school}
    items = [
        {**base, **link, "sourcedId": _item(chapter, group), "title": f"{chapter} {course.get(chapter).title}"}
        | {"assignDate": due, "dueDate": due, "resultValueMin": "0", "resultValueMax": decimal(points)}
        for chapter, points in most.items()
    ]
    found = [
        {**base, "sourcedId": f"{_item(row.chapter, group)}-{row.learner}", "lineItemSourcedId": _item(row.chapter, group)}
        | {"studentSourcedId": students.get(row.learner) or row.learner, "classSourcedId": group, "scoreDate": now.date().isoformat()}
        | _score(row)
        for row in rows
    ]
    tables = {"lineItems.csv": _table(LINE_ITEMS, items), "results.csv": _table(RESULTS, found)}
    own = {} if category else {"categories.csv": _table(CATEGORIES, [{**base, "sourcedId": OURS, "title": "Rigging workbook"}])}
    return {**own, **tables}


def _item(chapter, group):
    return f"{OURS}-{group}-{chapter}"


def _score(row):
    """What is known of a notebook's points; none where it could not be read or graded."""
    if row.status == "unreadable" or any(line.startswith("grading itself failed") for line in row.lines):
        return {"scoreStatus": "submitted"}
    return {"scoreStatus": "partially graded" if row.waits else "fully graded", "score": decimal(row.earned)}


def _manifest(tables):
    told = {f"file.{name}": "delta" if f"{name}.csv" in tables else "absent" for name in FILES}
    return _table(("propertyName", "value"), [{"propertyName": name, "value": value} for name, value in {**VERSION, **told}.items()])


def _table(heads, rows):
    stream = io.StringIO()
    writer = csv.DictWriter(stream, heads, restval="", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return stream.getvalue()
