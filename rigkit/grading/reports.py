"""What a class is told, made from the results alone: a table, the claims as JSON, a page for each learner and one for the class.

Everything that came from a hand-in is escaped: signs that a spreadsheet would run
as a formula, control signs, markup in pages. Facility and discrimination are those of classical
test theory: the mean share of a checkpoint's points, and the correlation of its
points with the rest of the learner's points (the corrected item-total
correlation). Source: F. M. Lord, M. R. Novick, Statistical Theories of Mental Test
Scores, 1968, chapter 15 (memory).
"""

import csv
import html
import io
import json
import os
import re
from fractions import Fraction
from pathlib import Path

import numpy as np

from rigkit.course import chapters as course
from rigkit.course.panel import panel

SCHEMA = "rigkit-grades-1"
FORMULA = ("=", "+", "-", "@")
STATUS = {"graded": "graded", "look": "needs a look", "unreadable": "unreadable"}


def write(results, out):
    """Write every report of `results` below the folder `out`; return the summary: counts by name."""
    out = Path(out)
    rows, problems, meta = list(results.rows()), results.problems(), results.meta()
    (out / "pages").mkdir(exist_ok=True)
    absent = sorted({learner for learner, _, _ in problems} - {row.learner for row in rows})
    _write(out / "grades.csv", csv_text(rows, absent))
    _write(out / "grades.json", json_text(rows, problems, meta))
    names = page_names({row.learner for row in rows})
    for learner, name in names.items():
        _write(out / "pages" / name, learner_page(learner, [row for row in rows if row.learner == learner], meta))
    _write(out / "pages" / "class.html", class_page(rows, problems, meta, names))
    return {
        "notebooks": len(rows),
        "learners": len(names),
        "need a look": sum(row.status == "look" for row in rows),
        "unreadable": sum(row.status == "unreadable" for row in rows),
        "await a reader": sum(row.waits for row in rows),
        "problems": len(problems),
    }


def status(row):
    """A notebook's status in words, as the table shows it."""
    return "awaits a reader" if row.status == "graded" and row.waits else STATUS[row.status]


# --- table and JSON --------------------------------------------------------------------------------------------------


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


def decimal(points):
    """Exact points as a decimal number, four places at most.

    >>> decimal(Fraction(7, 2)), decimal(Fraction(1, 3)), decimal(5)
    ('3.5', '0.3333', '5')
    """
    points = Fraction(points)
    return str(points.numerator) if points.denominator == 1 else f"{float(points):.4f}".rstrip("0")


def json_text(rows, problems, meta):
    """Every claim of every notebook; points as exact fractions in text ("3/5")."""
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
    return (
        json.dumps(
            {"schema": SCHEMA, "course": meta.get("course", ""), "claims": claims, "notebooks": notebooks, "problems": told}, indent=1
        )
        + "\n"
    )


# --- what the class misunderstood ------------------------------------------------------------------------------------


def items(rows):
    """Each checkpoint of the class: (checkpoint, title, handed in, facility, discrimination); None where it can't be told.

    Notebooks that could not be read don't count, nor does a text before all of its answers were read.
    """
    rows = [row for row in rows if row.status != "unreadable"]
    totals, by_checkpoint, waiting = {}, {}, set()
    for row in rows:
        totals[row.learner] = totals.get(row.learner, 0) + row.earned
    for row in rows:
        for result in row.results:
            by_checkpoint.setdefault((result.checkpoint, result.title), []).append((result.earned, result.points, totals[row.learner]))
            waiting |= {result.checkpoint} if result.outcome == "awaits a reader" else set()
    return [
        (*known, len(scores), facility(scores), discrimination(scores))
        for known, scores in sorted(by_checkpoint.items())
        if known[0] not in waiting and scores[0][1]
    ]


def facility(scores):
    """The mean share of the points. scores: (earned, points, total) of each learner.

    >>> facility([(1, 2, 5), (2, 2, 6)])
    0.75
    """
    return float(sum(Fraction(earned) / points for earned, points, _ in scores) / len(scores))


def discrimination(scores):
    """The correlation of a checkpoint's points with the rest of the total; None when either is the same for everybody.

    >>> discrimination([(0, 1, 3), (1, 1, 6), (1, 1, 8)]).__round__(3)
    0.866
    """
    own = np.array([float(earned) for earned, _, _ in scores])
    rest = np.array([float(total - earned) for earned, _, total in scores])
    if len(scores) < 3 or np.ptp(own) == 0 or np.ptp(rest) == 0:
        return None
    return float(np.corrcoef(own, rest)[0, 1])


def missed(rows):
    """Claims that were tried and missed.

    Each as (checkpoint, claim text, by how many, of how many, [(planned mistake's diagnosis, by how many), ...]).
    """
    table = {}
    for row in rows:
        for result in row.results:
            for claim in result.claims:
                entry = table.setdefault((result.checkpoint, claim.id, claim.text), [0, 0, {}])
                if claim.outcome in ("not started", "name missing", "awaits a reader"):
                    continue
                entry[1] += 1
                if claim.earned < claim.points:
                    entry[0] += 1
                    told = claim.likely if claim.mistake else claim.outcome if claim.outcome != "look" else ""
                    if told:
                        entry[2][told] = entry[2].get(told, 0) + 1
    return [
        (checkpoint, text, count, tried, sorted(why.items(), key=lambda pair: (-pair[1], pair[0])))
        for (checkpoint, _, text), (count, tried, why) in sorted(table.items(), key=lambda pair: (pair[0][0], -pair[1][0]))
        if count
    ]


# --- pages -----------------------------------------------------------------------------------------------------------

STYLE = """
:root { color-scheme: light; }
body { font: 16px/1.5 system-ui, sans-serif; color: #1a1a1a; background: #fff; max-width: 68rem; margin: 2rem auto; padding: 0 1.5rem; }
h1 { font-size: 1.6rem; margin: 0 0 .25rem; } h2 { font-size: 1.2rem; margin: 2.2rem 0 .5rem; }
h3 { font-size: 1rem; margin: 1.4rem 0 .3rem; }
p.about { color: #4a4f54; margin: .2rem 0 1rem; }
table { border-collapse: collapse; margin: .5rem 0; } caption { text-align: left; color: #4a4f54; padding-bottom: .3rem; }
th, td { border-bottom: 1px solid #d0d4d8; padding: .25rem .8rem .25rem 0; text-align: left; vertical-align: top; }
td.number, th.number { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
.loud { border: 3px solid #8a3800; padding: .6rem 1rem; font-weight: 600; }
.bar { display: inline-block; vertical-align: middle; } .lines { border-left: 6px solid #8a3800; padding: .1rem 1rem; margin: .5rem 0; }
pre { white-space: pre-wrap; background: #f3f4f5; padding: .6rem .8rem; overflow-wrap: anywhere; }
a { color: #0b5394; } td { overflow-wrap: anywhere; }
"""


def page_names(learners):
    """A safe, different file name for every learner's page.

    >>> page_names({"ada7", "class", "../x"})["ada7"]
    'ada7.html'
    """
    names, used = {}, {"class"}
    for learner in sorted(learners):
        base = re.sub(r"[^A-Za-z0-9._-]", "_", learner).strip(".")[:80] or "learner"
        name, number = base, 2
        while name.casefold() in used:
            name, number = f"{base}-{number}", number + 1
        used.add(name.casefold())
        names[learner] = f"{name}.html"
    return names


def learner_page(learner, rows, meta):
    """One learner's page: points by chapter, then every panel."""
    body = [
        f"<h1>{_e(learner)}</h1><p class=about>course {_e(meta.get('course', ''))}, robot variant {rows[0].variant}</p>",
        _mode(meta, rows),
    ]
    body.append(
        _table(
            "Points",
            ["chapter", "points", "of", "status"],
            [[_chapter_title(row.chapter), decimal(row.earned), decimal(row.points), status(row)] for row in rows],
            numbers=(1, 2),
        )
    )
    for row in rows:
        body.append(f"<h2>{_e(_chapter_title(row.chapter))}</h2>")
        body.append(_lines("To look at", row.lines))
        body.append(_lines("Cells that stopped", [f"code cell {number}: {line}" for number, line in row.errors.items()]))
        for result in row.results:
            body.append(panel(result).html)
            body += [
                f"<h3>{_e(name)}</h3><pre>{_e(text)}</pre>"
                for (checkpoint, name), text in row.texts.items()
                if checkpoint == result.checkpoint
            ]
    return _page(f"{learner}: points", body)


def class_page(rows, problems, meta, names):
    """The class on one page: points, what was missed and by which planned mistake, how each checkpoint works, what needs a look."""
    chapters = sorted({row.chapter for row in rows})
    body = [
        f"<h1>The class</h1><p class=about>{len(names)} learners, {len(rows)} notebooks, course {_e(meta.get('course', ''))}</p>",
        _mode(meta, rows),
    ]
    body += [_need_a_look(rows, problems), _shares(rows), _points_table(rows, chapters, names)]
    body.append(
        _table(
            "Checkpoints. Facility: the mean share of the points, 1 is easy. Discrimination: how the checkpoint goes with the rest "
            "of a learner's points, "
            "from -1 to 1; near 0 or below, look at the task itself.",
            ["checkpoint", "title", "handed in", "facility", "", "discrimination"],
            [
                [checkpoint, title, count, f"{ease:.2f}", _Bar(ease), "-" if goes is None else f"{goes:.2f}"]
                for checkpoint, title, count, ease, goes in items(rows)
            ],
            numbers=(2, 3, 5),
            heading="How the checkpoints work",
        )
    )
    body.append(
        _table(
            "Claims that were tried and missed, and the most frequent planned mistakes that give the same result.",
            ["checkpoint", "claim", "missed", "by what"],
            [[checkpoint, text, f"{count} of {tried}", _List(_causes(whys))] for checkpoint, text, count, tried, whys in missed(rows)],
            numbers=(2,),
            heading="What was missed",
        )
    )
    return _page("The class", body)


def _causes(whys, most=3):
    """The most frequent causes, each with its number, and how many more there are."""
    told = [f"{count} x {why}" for why, count in whys[:most]]
    more = sum(count for _, count in whys[most:])
    return [*told, f"{more} x something else, see the learners' pages"] if more else told


def _need_a_look(rows, problems):
    told = [[row.learner, row.chapter, row.file, line] for row in rows if row.status != "graded" for line in row.lines]
    told += [[learner, "", file, line] for learner, file, line in problems]
    return _table("", ["learner", "chapter", "file", "why"], told, heading="Needs a look") if told else ""


def _points_table(rows, chapters, names):
    by_learner = {}
    for row in rows:
        by_learner.setdefault(row.learner, {})[row.chapter] = row
    table = []
    for learner, own in by_learner.items():
        cells = [_Points(own[chapter]) if chapter in own else "-" for chapter in chapters]
        table.append([_Link(names[learner], learner), *cells, decimal(sum((row.earned for row in own.values()), Fraction(0)))])
    titles = [f"{chapter} (of {decimal(next(row.points for row in rows if row.chapter == chapter))})" for chapter in chapters]
    return _table(
        "A mark behind the points: * needs a look or unreadable, (r) a text awaits its reader.",
        ["learner", *titles, "all"],
        table,
        numbers=range(1, len(chapters) + 2),
        heading="Points",
    )


def _shares(rows):
    """A plot: how many learners earned which share of the points of what they handed in."""
    earned, points = {}, {}
    for row in (row for row in rows if row.status != "unreadable"):
        earned[row.learner] = earned.get(row.learner, 0) + row.earned
        points[row.learner] = points.get(row.learner, 0) + row.points
    shares = [float(earned[one] / points[one]) for one in earned if points[one]]
    if not shares:
        return ""
    counts = [sum(min(int(share * 10), 9) == tenth for share in shares) for tenth in range(10)]
    high = max(counts)
    bars = "".join(
        f'<rect x="{40 + 52 * i}" y="{120 - 90 * n / high:.1f}" width="44" height="{90 * n / high:.1f}" fill="#0072B2"/>'
        f'<text x="{62 + 52 * i}" y="{114 - 90 * n / high:.1f}" text-anchor="middle">{n or ""}</text>'
        f'<text x="{62 + 52 * i}" y="138" text-anchor="middle">{10 * i}-{10 * i + 10}</text>'
        for i, n in enumerate(counts)
    )
    told = ", ".join(f"{10 * i} to {10 * i + 10} %: {n}" for i, n in enumerate(counts) if n)
    return (
        f'<h2>Shares</h2><svg viewBox="0 0 580 160" width="580" role="img" '
        f'aria-label="Learners by share of the points they could earn: {told}" '
        f'font-size="12" font-family="system-ui, sans-serif">{bars}<line x1="36" x2="566" y1="120" y2="120" stroke="#1a1a1a"/>'
        '<text x="300" y="156" text-anchor="middle">'
        'percent of the points of what was handed in; number of learners above each bar</text></svg>'
    )


class _Raw:
    """A table cell that is markup already."""

    def __init__(self, markup):
        self.markup = markup


def _Bar(share):
    width = 120 * min(max(share, 0.0), 1.0)
    return _Raw(
        '<svg class=bar width="122" height="12" aria-hidden="true">'
        '<rect x=".5" y=".5" width="121" height="11" fill="none" stroke="#4a4f54"/>'
        f'<rect x="1" y="1" width="{width:.1f}" height="10" fill="#0072B2"/></svg>'
    )


def _List(lines):
    return _Raw("<br>".join(_e(line) for line in lines))


def _Link(target, text):
    return _Raw(f'<a href="{_e(target)}">{_e(text)}</a>')


def _Points(row):
    return decimal(row.earned) + (" *" if row.status != "graded" else " (r)" if row.waits else "")


def _table(caption, heads, rows, numbers=(), heading=""):
    def cells(tag, values):
        return "".join(
            f"<{tag}{' class=number' if i in numbers else ''}>{v.markup if isinstance(v, _Raw) else _e(v)}</{tag}>"
            for i, v in enumerate(values)
        )

    told = f"<caption>{_e(caption)}</caption>" if caption else ""
    body = "".join(f"<tr>{cells('td', row)}</tr>" for row in rows)
    return (
        f"<h2>{_e(heading)}</h2>" if heading else ""
    ) + f"<table>{told}<thead><tr>{cells('th', heads)}</tr></thead><tbody>{body}</tbody></table>"


def _lines(title, lines):
    return f"<div class=lines><h3>{_e(title)}</h3><ul>{''.join(f'<li>{_e(line)}</li>' for line in lines)}</ul></div>" if lines else ""


def _mode(meta, rows):
    if meta.get("mode") != "trusted" and all(row.mode == "box" for row in rows):
        return "<p class=about>Every notebook ran confined in a box.</p>"
    told = "They could read and change what the grader's user may."
    return f"<p class=loud>Without a box: these notebooks ran as ordinary programs (--trust-submissions). {told}</p>"


def _chapter_title(chapter):
    try:
        return f"{chapter} {course.get(chapter).title}"
    except ValueError:
        return chapter


def _page(title, body):
    policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><meta http-equiv="Content-Security-Policy" content="{policy}">'
        f'<meta name="viewport" content="width=device-width"><title>{_e(title)}</title><style>{STYLE}</style></head>\n<body>\n'
        + "\n".join(part for part in body if part)
        + "\n</body></html>\n"
    )


def _e(value):
    return html.escape(str(value))


def _write(path, text):
    """Write a whole file or leave the old one."""
    half = path.with_name(path.name + ".part")
    half.write_text(text, encoding="utf-8", errors="replace")
    os.replace(half, path)
