"""The pages people read: one for each learner, one for the class."""

import re
from fractions import Fraction

from rigkit.course import chapters as course
from rigkit.course.panel import panel
from rigkit.grading.figures import decimal, items, missed, status
from rigkit.grading.markup import bar, bullets, escape, in_lines, link, page, table


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


def learner_page(learner, rows, meta, hand_ins=()):
    """One learner's page: points by chapter, every hand-in where there are several, then every panel."""
    body = [
        f"<h1>{escape(learner)}</h1><p class=about>course {escape(meta.get('course', ''))}, robot variant {rows[0].variant}</p>",
        _mode(meta, rows),
    ]
    body.append(
        table(
            "Points",
            ["chapter", "points", "of", "status"],
            [[_chapter_title(row.chapter), decimal(row.earned), decimal(row.points), status(row)] for row in rows],
            numbers=(1, 2),
        )
    )
    if len(hand_ins) > len(rows):
        told = [
            [_chapter_title(chapter), file, time or "not known", decimal(points), "counts" if counts else ""]
            for _, chapter, file, time, points, counts in hand_ins
        ]
        body.append(table("", ["chapter", "file", "handed in", "points", ""], told, numbers=(3,), heading="Every hand-in"))
    for row in rows:
        body.append(f"<h2>{escape(_chapter_title(row.chapter))}</h2>")
        body.append(bullets("To look at", row.lines))
        body.append(bullets("Cells that stopped", [f"code cell {number}: {line}" for number, line in row.errors.items()]))
        for result in row.results:
            body.append(panel(result).html)
            body += [
                f"<h3>{escape(name)}</h3><pre>{escape(text)}</pre>"
                for (checkpoint, name), text in row.texts.items()
                if checkpoint == result.checkpoint
            ]
    return page(f"{learner}: points", body)


def class_page(rows, problems, meta, names, changes=()):
    """The class on one page: points, what was missed and by which planned mistake, how each checkpoint works, what needs a look."""
    chapters = sorted({row.chapter for row in rows})
    body = [
        f"<h1>The class</h1><p class=about>{len(names)} learners, {len(rows)} notebooks, course {escape(meta.get('course', ''))}</p>",
        _mode(meta, rows),
    ]
    body += [_need_a_look(rows, problems), _shares(rows), _points_table(rows, chapters, names), _changed(changes)]
    body.append(
        table(
            "Checkpoints. Facility: the mean share of the points, 1 is easy. Discrimination: how the checkpoint goes with the rest "
            "of a learner's points, "
            "from -1 to 1; near 0 or below, look at the task itself.",
            ["checkpoint", "title", "handed in", "facility", "", "discrimination"],
            [
                [checkpoint, title, count, f"{ease:.2f}", bar(ease), "-" if goes is None else f"{goes:.2f}"]
                for checkpoint, title, count, ease, goes in items(rows)
            ],
            numbers=(2, 3, 5),
            heading="How the checkpoints work",
        )
    )
    body.append(
        table(
            "Claims that were tried and missed, and the most frequent planned mistakes that give the same result.",
            ["checkpoint", "claim", "missed", "by what"],
            [[checkpoint, text, f"{count} of {tried}", in_lines(_causes(whys))] for checkpoint, text, count, tried, whys in missed(rows)],
            numbers=(2,),
            heading="What was missed",
        )
    )
    return page("The class", body)


def _changed(changes):
    """Who gained or lost, the last time first."""
    told = [[learner, chapter, decimal(before), decimal(after), why, when] for learner, chapter, before, after, why, when in changes]
    heads = ["learner", "chapter", "before", "after", "why", "when"]
    return table("", heads, told, numbers=(2, 3), heading="Points that changed") if told else ""


def _causes(whys, most=3):
    """The most frequent causes, each with its number, and how many more there are."""
    told = [f"{count} x {why}" for why, count in whys[:most]]
    more = sum(count for _, count in whys[most:])
    return [*told, f"{more} x something else, see the learners' pages"] if more else told


def _need_a_look(rows, problems):
    told = [[row.learner, row.chapter, row.file, line] for row in rows if row.status != "graded" for line in row.lines]
    told += [[learner, "", file, line] for learner, file, line in problems]
    return table("", ["learner", "chapter", "file", "why"], told, heading="Needs a look") if told else ""


def _points_table(rows, chapters, names):
    by_learner = {}
    for row in rows:
        by_learner.setdefault(row.learner, {})[row.chapter] = row
    told = []
    for learner, own in by_learner.items():
        cells = [_points(own[chapter]) if chapter in own else "-" for chapter in chapters]
        told.append([link(names[learner], learner), *cells, decimal(sum((row.earned for row in own.values()), Fraction(0)))])
    titles = [f"{chapter} (of {decimal(next(row.points for row in rows if row.chapter == chapter))})" for chapter in chapters]
    return table(
        "A mark behind the points: * needs a look or unreadable, (r) a text awaits its reader.",
        ["learner", *titles, "all"],
        told,
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
        "percent of the points of what was handed in; number of learners above each bar</text></svg>"
    )


def _points(row):
    return decimal(row.earned) + (" *" if row.status != "graded" else " (r)" if row.waits else "")


def _mode(meta, rows):
    modes = {meta.get("mode", "box"), *(row.mode for row in rows)}
    if modes == {"box"}:
        return "<p class=about>Every notebook ran confined in a box.</p>"
    if "trusted" not in modes:
        which = "Some notebooks" if "box" in modes else "Every notebook"
        told = "It reads no other file and has no network; that other files and processes exist is not hidden."
        return f"<p class=about>{which} ran without namespaces, confined by Landlock and a filter of system calls. {told}</p>"
    told = "They could read and change what the grader's user may."
    return f"<p class=loud>Without a box: these notebooks ran as ordinary programs (--trust-submissions). {told}</p>"


def _chapter_title(chapter):
    try:
        return f"{chapter} {course.get(chapter).title}"
    except ValueError:
        return chapter
