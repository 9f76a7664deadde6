"""What a class is told, made from the results alone: a table, the claims as JSON, a page for each learner and one for the class.

Everything that came from a hand-in is escaped: signs that a spreadsheet would run
as a formula, control signs, markup in pages (pages, markup). What the numbers of a
class say is worked out in figures.
"""

import csv
import io
import json
import os
from pathlib import Path

from rigkit.grading.figures import decimal, discrimination, facility, items, missed, status
from rigkit.grading.pages import class_page, learner_page, page_names

__all__ = [
    "cell",
    "class_page",
    "csv_text",
    "decimal",
    "discrimination",
    "facility",
    "forget_receipts",
    "items",
    "json_text",
    "learner_page",
    "missed",
    "page_names",
    "status",
    "write",
    "write_receipts",
]

SCHEMA = "rigkit-grades-1"
FORMULA = ("=", "+", "-", "@")


def write(results, out):
    """Write every report of `results` below the folder `out`; return the summary: counts by name."""
    out = Path(out)
    rows, problems, meta = list(results.rows()), results.problems(), results.meta()
    hand_ins, changes = results.hand_ins(), results.changes()
    (out / "pages").mkdir(exist_ok=True)
    absent = sorted({learner for learner, _, _ in problems} - {row.learner for row in rows})
    _write(out / "grades.csv", csv_text(rows, absent))
    _write(out / "grades.json", json_text(rows, problems, meta, hand_ins, changes))
    names = page_names({row.learner for row in rows})
    handed, graded = {}, {}
    for hand_in in hand_ins:
        handed.setdefault(hand_in[0], []).append(hand_in)
    for row in rows:
        graded.setdefault(row.learner, []).append(row)
    for learner, name in names.items():
        _write(out / "pages" / name, learner_page(learner, graded[learner], meta, handed.get(learner, ())))
    _write(out / "pages" / "class.html", class_page(rows, problems, meta, names, changes))
    return {
        "notebooks": len(rows),
        "learners": len(names),
        "need a look": sum(row.status == "look" for row in rows),
        "unreadable": sum(row.status == "unreadable" for row in rows),
        "await a reader": sum(row.waits for row in rows),
        "problems": len(problems),
    }


def write_receipts(receipts, out):
    """Write receipts.csv: each zip as it was taken in, with the SHA-256 that its learner has too; nothing where there are none."""
    if receipts:
        stream = io.StringIO()
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(["file", "learner", "receipt", "state"])
        writer.writerows([cell(part) for part in receipt] for receipt in receipts)
        _write(Path(out) / "receipts.csv", stream.getvalue())


def forget_receipts(learner, out):
    """Take a learner's lines out of receipts.csv."""
    path = Path(out) / "receipts.csv"
    if path.exists():
        with path.open(encoding="utf-8", newline="") as file:
            kept = [row for row in csv.reader(file) if row[1:2] != [learner]]
        stream = io.StringIO()
        csv.writer(stream, lineterminator="\n").writerows(kept)
        _write(path, stream.getvalue())


def csv_text(rows, absent=()):
    """The table: a row for each learner and chapter, points as decimals. absent: learners of whom nothing could be read, no chapter."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(["learner", "chapter", "points", "max", "status"])
    for row in rows:
        writer.writerow([cell(row.learner), cell(row.chapter), decimal(row.earned), decimal(row.points), status(row)])
    writer.writerows([cell(learner), "", "0", "0", "unreadable"] for learner in absent)
    return stream.getvalue()


def cell(text):
    """A text on one line that no spreadsheet takes for a formula.

    >>> cell("=1+1"), cell("ada7")
    ("'=1+1", 'ada7')
    """
    text = "".join(c if c.isprintable() else " " for c in text)
    return "'" + text if text.startswith(FORMULA) else text


def json_text(rows, problems, meta, hand_ins=(), changes=()):
    """Every claim of every notebook, every hand-in, and who gained or lost; points as exact fractions in text ("3/5")."""
    claims = [
        {
            "learner": row.learner,
            "chapter": row.chapter,
            "checkpoint": result.checkpoint,
            "claim": claim.id,
            "text": claim.text,
            "points": str(claim.earned),
            "max": str(claim.points),
            "outcome": claim.outcome,
            "mistake": claim.mistake,
            "likely": claim.likely,
            "got": claim.got,
        }
        for row in rows
        for result in row.results
        for claim in result.claims
    ]
    notebooks = [
        {
            "learner": row.learner,
            "chapter": row.chapter,
            "file": row.file,
            "points": str(row.earned),
            "max": str(row.points),
            "status": status(row),
            "variant": row.variant,
            "mode": row.mode,
            "lines": list(row.lines),
            "errors": row.errors,
        }
        for row in rows
    ]
    told = [{"learner": learner, "file": file, "line": line} for learner, file, line in problems]
    heads = ("learner", "chapter", "file", "time", "points", "counts")
    handed = [dict(zip(heads, (*one[:4], str(one[4]), one[5]))) for one in hand_ins]
    heads = ("learner", "chapter", "before", "after", "why", "when")
    changed = [dict(zip(heads, (*one[:2], str(one[2]), str(one[3]), *one[4:]))) for one in changes]
    whole = {
        "schema": SCHEMA,
        "course": meta.get("course", ""),
        "claims": claims,
        "notebooks": notebooks,
        "problems": told,
        "hand_ins": handed,
        "changes": changed,
    }
    return json.dumps(whole, indent=1) + "\n"


def _write(path, text):
    """Write a whole file or leave the old one."""
    half = path.with_name(path.name + ".part")
    half.write_text(text, encoding="utf-8", errors="replace")
    os.replace(half, path)
