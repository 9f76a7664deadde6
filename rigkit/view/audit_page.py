"""The audit as one page: what was found, where it is in pictures, why it matters and what to do.

The page needs nothing beside it: two still pictures of the figure, from the front and from its left, are held once, and every finding
shows its own stretch of them with joints and marks drawn over it as lines that stay sharp. It runs no script, and every text
of the file is escaped. It stands in `view`, above the audit, because it is the painter of still pictures that it needs.
"""

import base64
import html

import numpy as np

from rigkit import mesh, words
from rigkit.audit import subject
from rigkit.audit.finding import number, told, told_limit
from rigkit.audit.table import by_reason, clean
from rigkit.view import marks, picture
from rigkit.view.eye import looking
from rigkit.view.figure import Figure

SIZE = (600, 560)  # of a picture, in its own units; the still one has twice as many pixels each way
VIEWS = (("front", "from the front"), ("side", "from the character's left"))
ROWS = 40  # findings of one rule that the page lists
MARKS = 40  # marks in one picture
CLOSE = 4.0  # most that a picture is enlarged
HEAVY = 100_000  # triangles; above, no time is spent on crisp edges
MARK_COLOUR = {"fault": words.PALETTE["vermilion"], "look": words.PALETTE["yellow"]}

STYLE = """
:root { color-scheme: light; --ink: #1b1b1b; --soft: #555; --line: #d4d4d4; --ground: #fff; --shade: #f5f5f3; }
body { margin: 0 auto; max-width: 68rem; padding: 1.5rem; }
body { font: 1rem/1.5 system-ui, sans-serif; color: var(--ink); background: var(--ground); }
h1 { font-size: 1.6rem; margin: 0 0 .3rem; overflow-wrap: anywhere; }
h2 { font-size: 1.25rem; margin: 2.2rem 0 .6rem; border-top: 2px solid var(--ink); padding-top: .6rem; }
h3 { font-size: 1.05rem; margin: 0 0 .4rem; } p { margin: .3rem 0; } a { color: #0b57a4; }
section.rule { margin: 0 0 1.8rem; padding: 1rem 1.1rem; background: var(--shade); border: 1px solid var(--line); border-radius: 6px; }
.badge { display: inline-block; font-size: .8rem; font-weight: 700; padding: .05rem .5rem; border-radius: 3px; border: 2px solid; }
.badge { margin-right: .5rem; white-space: nowrap; }
.fault { color: #8f2d00; border-color: #8f2d00; background: #fff; }
.look { color: #5f5200; border-color: #5f5200; background: #fff; border-style: dashed; }
table { border-collapse: collapse; width: 100%; font-size: .92rem; }
caption { text-align: left; color: var(--soft); padding: .2rem 0; }
th, td { text-align: left; vertical-align: top; padding: .25rem .6rem .25rem 0; border-bottom: 1px solid var(--line); }
th, td { overflow-wrap: anywhere; }
th, td.rule { white-space: nowrap; }
td:last-child { min-width: 11rem; }
td.n, th.n { text-align: right; white-space: nowrap; }
.scroll { overflow-x: auto; }
.views { display: flex; flex-wrap: wrap; gap: .8rem; margin: .6rem 0; }
.views figure { margin: 0; flex: 1 1 18rem; max-width: 32rem; }
.views svg { width: 100%; height: auto; display: block; background: #111; border-radius: 4px; }
figcaption { font-size: .85rem; color: var(--soft); }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .1rem .8rem; margin: .5rem 0; }
dt { font-weight: 700; }
dd { margin: 0; }
ul.passed { columns: 14rem; column-gap: 2rem; padding: 0; list-style: none; font-size: .92rem; }
ul.passed li { display: flex; justify-content: space-between; }
.summary { display: flex; flex-wrap: wrap; gap: .4rem 1.6rem; font-size: 1.05rem; margin: .4rem 0 1rem; }
@media print { section.rule { break-inside: avoid; } }
"""


def page(report, character):
    """Return the HTML text of a Report about a Character (or about the Subject that was examined)."""
    looked_at = subject.of(character)
    eyes = {name: _eye(looked_at, name) for name, _ in VIEWS}
    rules = list(dict.fromkeys(found.rule for found in report.findings))
    body = [_head(report), _pictures_once(character, looked_at, eyes), _overview(report, eyes)]
    if rules:
        body.append('<h2 id="findings">Findings</h2>')
        body += [_rule(rule, report.of(rule), eyes) for rule in rules]
    body += [_accepted(report), _stale(report), _not_examined(report), _passed(report)]
    title = f"Audit of {_text(report.name)}"
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src 'unsafe-inline'\">\n"
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<main>\n"
        + "\n".join(filter(None, body))
        + "\n</main>\n</body>\n</html>\n"
    )


# ---- parts of the page ------------------------------------------------------------------------------------------


def _head(report):
    faults = sum(found.severity == "fault" for found in report.findings)
    looks = len(report.findings) - faults
    counts = [
        f"<span><strong>{faults}</strong> to mend (fault)</span>",
        f"<span><strong>{looks}</strong> to look at (look)</span>",
        f"<span><strong>{len(report.accepted)}</strong> accepted</span>",
        f"<span><strong>{len(report.not_examined)}</strong> not examined</span>",
    ]
    return (
        f"<h1>Audit of {_text(report.name)}</h1>\n<p>{sum(report.examined.values())} measurements by {len(report.examined)} rules.</p>\n"
        f'<div class="summary">{"".join(counts)}</div>'
    )


def _overview(report, eyes):
    if not report.findings:
        return "<p>Nothing measured lies beyond its limit.</p>\n" + _views([], eyes, None, "the whole figure")
    rows = []
    for rule in dict.fromkeys(found.rule for found in report.findings):
        found = report.of(rule)
        link = f'<a href="#{_text(rule)}">{_text(rule)}</a>'
        rows.append((_badge(found[0].severity), link, str(len(found)), _text(found[0].what)))
    table = _table("Rules with findings, faults first", ("severity", "rule", "findings", "the worst"), rows)
    return table + _views(report.findings, eyes, None, f"{len(report.findings)} findings on the whole figure")


def _rule(rule, found, eyes):
    first, name = found[0], _text(rule)
    marked = [one for one in found if one.point is not None][:MARKS]
    numbers = {id(one): str(k + 1) for k, one in enumerate(marked)}
    rows = [(numbers.get(id(one), ""), _text(one.where), _text(told(one.value, one.unit)), _text(one.what)) for one in found[:ROWS]]
    more = f"<p>and {len(found) - ROWS} more; <code>--json</code> lists all.</p>" if len(found) > ROWS else ""
    places = ", ".join(clean(one.where) for one in marked[:4]) + (f" and {len(marked) - 4} more" if len(marked) > 4 else "")
    views = _views(marked, eyes, _window(marked, eyes), f"{rule}: {places}") if marked else ""
    said = (("limit", told_limit(first.limit, first.unit)), ("why", first.why), ("do", first.do))
    return (
        f'<section class="rule" id="{name}" aria-labelledby="{name}-h">\n<h3 id="{name}-h">{_badge(first.severity)}{name}</h3>\n'
        f"<dl>{''.join(f'<dt>{term}</dt><dd>{_text(text)}</dd>' for term, text in said)}</dl>\n{views}"
        + _table("What was found, the worst first; numbers are those in the pictures", ("mark", "where", "value", "what"), rows)
        + f"{more}\n</section>"
    )


def _accepted(report):
    rows = [(_text(one.rule), _text(one.where), _text(told(one.value, one.unit)), _text(one.accepted)) for one in report.accepted]
    return _listed("Accepted", "Findings that the baseline accepts, with the reason", ("rule", "where", "value", "reason"), rows)


def _stale(report):
    rows = [tuple(_text(row[key]) for key in ("rule", "where", "reason")) for row in report.stale]
    return _listed("Found no more", "Entries of the baseline that nothing matches", ("rule", "where", "reason"), rows)


def _not_examined(report):
    rows = [(_text(reason), _text(rules)) for reason, rules in by_reason(report.not_examined).items()]
    return _listed("Not examined", "What could not be told, which is not the same as passed", ("reason", "rules"), rows)


def _passed(report):
    known = {one.rule for one in (*report.findings, *report.accepted)}
    rows = "".join(f"<li>{_text(rule)} <span>{count}</span></li>" for rule, count in report.examined.items() if rule not in known)
    told = "Rules that measured something and found all of it within the limit, with the number of measurements."
    return f'<h2>Within the limit</h2>\n<p>{told}</p>\n<ul class="passed">{rows}</ul>' if rows else ""


def _listed(heading, caption, columns, rows):
    return f"<h2>{heading}</h2>\n{_table(caption, columns, rows)}" if rows else ""


def _table(caption, columns, rows):
    """A table of rows of cells; the cells are HTML already. Numbers stand to the right."""
    head = "".join(f'<th scope="col" class="{_kind(column)}">{column}</th>' for column in columns)
    body = "".join(
        "<tr>" + "".join(f'<td class="{_kind(column)}">{cell}</td>' for column, cell in zip(columns, row, strict=True)) + "</tr>"
        for row in rows
    )
    box = f'<div class="scroll" role="region" tabindex="0" aria-label="{caption}">'
    caption = f"<caption>{caption}</caption>"
    return f'{box}<table>{caption}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>\n'


def _kind(column):
    """The class of a column: n for numbers, w for words that may wrap, rule for a rule's name."""
    return "n" if column in ("mark", "value", "findings") else "rule" if column == "rule" else "w"


# ---- pictures ---------------------------------------------------------------------------------------------------


def _eye(looked_at, view):
    low, high = looked_at.bounds
    across = (high - low)[0 if view == "front" else 2]
    height = 1.15 * max(high[1] - low[1], across * SIZE[1] / SIZE[0], 1e-3)
    return looking(view, (low + high) / 2, height)


def _pictures_once(character, looked_at, eyes):
    """The still pictures and the joints over them, as symbols that every view of the page uses."""
    surfaces, fine = _surfaces(character)
    symbols = []
    for name, eye in eyes.items():
        png = base64.b64encode(picture.draw(eye, surfaces, [], (2 * SIZE[0], 2 * SIZE[1]), fine=fine)).decode("ascii")
        image = f'<image href="data:image/png;base64,{png}" width="{SIZE[0]}" height="{SIZE[1]}"/>'
        symbols.append(f'<symbol id="{name}" viewBox="0 0 {SIZE[0]} {SIZE[1]}">{image}{_bones(looked_at, eye)}</symbol>')
    return f'<svg width="0" height="0" style="position:absolute" aria-hidden="true">{"".join(symbols)}</svg>'


def _surfaces(character):
    """What the painter draws, (points, normals, colours, triangles) each, and how finely: a heavy model is shaded round, and plainly."""
    parts = getattr(character, "parts", ())
    if sum(len(part.mesh.triangles) for part in parts) <= HEAVY:
        return (Figure(character).surfaces() if parts else []), 2
    heavy = [
        (p.mesh.vertices, mesh.vertex_normals(p.mesh), np.tile(marks.rgb(p.colour), (len(p.mesh.vertices), 1)), p.mesh.triangles)
        for p in parts
    ]
    return heavy, 1


def _bones(looked_at, eye):
    if looked_at.cycle:
        return ""
    at = eye.pixels(looked_at.positions, SIZE)
    lines = "".join(
        f"M{at[above][0]:.1f} {at[above][1]:.1f}L{at[joint][0]:.1f} {at[joint][1]:.1f}"
        for joint, above in enumerate(looked_at.parents)
        if above >= 0
    )
    dots = "".join(f"M{x:.1f} {y:.1f}h0" for x, y, _ in at)
    return (
        f'<path d="{lines}" stroke="#ECECEC" stroke-opacity=".7" stroke-width="1.4" fill="none" vector-effect="non-scaling-stroke"/>'
        f'<path d="{dots}" stroke="#ECECEC" stroke-width="5" stroke-linecap="round" fill="none" vector-effect="non-scaling-stroke"/>'
    )


def _window(marked, eyes):
    """How many times the pictures are enlarged so that all marks are in them."""
    spans = [np.ptp(eye.pixels(np.array([one.point for one in marked]), SIZE)[:, :2], axis=0) for eye in eyes.values()]
    need = max(float((span / SIZE).max()) for span in spans)
    return min(CLOSE, 1.0 / max(need * 1.3 + 0.12, 0.25))


def _views(marked, eyes, close, what):
    close = close or 1.0
    figures = []
    for name, side in VIEWS:
        points = np.array([one.point for one in marked if one.point is not None][:MARKS]).reshape(-1, 3)
        at = eyes[name].pixels(points, SIZE)[:, :2]
        wide, high = SIZE[0] / close, SIZE[1] / close
        middle = (at.min(axis=0) + at.max(axis=0)) / 2 if close > 1 and len(at) else np.array(SIZE) / 2
        if close <= 1:
            x, y = (SIZE[0] - wide) / 2, (SIZE[1] - high) / 2
        else:
            x, y = np.clip(middle - (wide / 2, high / 2), 0, (SIZE[0] - wide, SIZE[1] - high))
        marks = "".join(
            _mark(k + 1 if close > 1 else "", one, place, close)
            for k, (one, place) in enumerate(zip([o for o in marked if o.point is not None], at))
        )
        label = _text(f"{what}, {side}")
        figures.append(
            f'<figure><svg role="img" aria-label="{label}" viewBox="{x:.1f} {y:.1f} {wide:.1f} {high:.1f}"><title>{label}</title>'
            f'<use href="#{name}" width="{SIZE[0]}" height="{SIZE[1]}"/>{marks}</svg><figcaption>{_text(side)}</figcaption></figure>'
        )
    return f'<div class="views">{"".join(figures)}</div>\n'


def _mark(k, one, place, close):
    """A ring (look) or a diamond (fault) around the point, its number, or nothing, beside it."""
    (x, y), r, colour = place, 9 / close, MARK_COLOUR[one.severity]
    if not np.isfinite(place).all():
        return ""
    outline = (
        f"M{x:.1f} {y - 1.3 * r:.1f}L{x + 1.3 * r:.1f} {y:.1f}L{x:.1f} {y + 1.3 * r:.1f}L{x - 1.3 * r:.1f} {y:.1f}Z"
        if one.severity == "fault"
        else f"M{x - r:.1f} {y:.1f}a{r:.1f} {r:.1f} 0 1 0 {2 * r:.1f} 0a{r:.1f} {r:.1f} 0 1 0 {-2 * r:.1f} 0Z"
    )
    font = 'font-family="system-ui, sans-serif" font-weight="700"'
    return (
        f'<path d="{outline}" fill="none" stroke="#111" stroke-width="{4.5 / close:.2f}"/>'
        f'<path d="{outline}" fill="none" stroke="{colour}" stroke-width="{2.4 / close:.2f}"/>'
        f'<text x="{x + 1.4 * r:.1f}" y="{y - 1.0 * r:.1f}" font-size="{17 / close:.1f}" {font} '
        f'fill="{colour}" stroke="#111" stroke-width="{3.5 / close:.2f}" paint-order="stroke">{k}</text>'
    )


# ---- texts ------------------------------------------------------------------------------------------------------


def _badge(severity):
    return f'<span class="badge {_text(severity)}">{_text(severity)}</span>'


def _text(value):
    return html.escape(clean(value if isinstance(value, str) else number(value)))
