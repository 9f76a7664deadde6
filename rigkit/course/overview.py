"""How far a learner is in the whole course: chapters, what is mastered, what to repeat, and the map of ideas.

A chapter is mastered at 80 % of its core. An idea holds when every claim of its
checkpoints has held once. What to repeat comes with the ideas it rests on first.
"""

import html
from dataclasses import dataclass
from fractions import Fraction

from rigkit.course import chapters
from rigkit.course.ideas import ideas
from rigkit.words import text_only

MASTERED = Fraction(8, 10)
MARKS = {"holds": "●", "begun": "◐", "not begun": "○"}  # told by the word and by the shape


@dataclass(frozen=True)
class Standing:
    """One chapter: points earned of all there are, of the core alone, and the claims that were tried and don't hold yet.

    missed: (checkpoint, the claim's text, where to read). waits: the texts that a person reads.
    """

    chapter: str
    title: str
    minutes: int
    earned: Fraction
    points: int
    core_earned: Fraction
    core_points: int
    tried: bool
    missed: tuple = ()
    waits: int = 0

    @property
    def mastered(self):
        """Whether 80 % of the core are there."""
        return self.core_points > 0 and self.core_earned >= MASTERED * self.core_points


@dataclass(frozen=True)
class Overview:
    """The whole course for one learner; displays itself in a notebook.

    standings: one for each chapter. states: idea id to "holds", "begun" or "not begun".
    """

    head: str
    standings: tuple
    states: dict

    @property
    def text(self):
        """The overview as plain text."""
        return "\n".join(_lines(self))

    @property
    def html(self):
        """The overview as a piece of a page, everything escaped."""
        return _html(self)

    def __repr__(self):
        return self.text

    def _repr_mimebundle_(self, include=None, exclude=None):
        return {"text/plain": self.text} if text_only() else {"text/plain": self.text, "text/html": self.html}


def overview(progress, head="The course"):
    """Return the Overview of a learner's Progress, over the chapters of the course in use."""
    return Overview(head, tuple(_standing(chapters.get(one), progress) for one in chapters.ids()), _states(progress))


def repeat(seen):
    """Return what to repeat, the ideas first that others rest on: a list of (idea, [(checkpoint, claim, where to read)])."""
    missed = {}
    for standing in seen.standings:
        for row in standing.missed:
            missed.setdefault(row[0], []).append(row)
    found = [(idea, [row for one in idea.checkpoints for row in missed.get(one, [])]) for idea in ideas()]
    return [(idea, rows) for idea, rows in found if rows]


def rests_on(idea, states):
    """Return the ideas an idea needs that don't hold yet."""
    return [one for one in ideas() if one.id in idea.needs and states[one.id] != "holds"]


def page(seen):
    """Return the overview as one page of HTML that needs nothing beside it and runs no script."""
    style = "body{font:16px/1.5 system-ui,sans-serif;max-width:72rem;margin:2rem auto;padding:0 1rem;color:#1a1a1a;background:#fff}"
    return (f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">'
            f"<title>{html.escape(seen.head)}</title><style>{style}</style></head><body><main>{seen.html}</main></body></html>\n")


# -- helpers


def _standing(chapter, progress):
    rows = [(one, progress.best(one.id), progress.attempts(one.id)) for one in chapter.checkpoints]
    graded = [row for row in rows if row[0].kind != "text"]
    missed = tuple((one.id, claim.text, claim.look_at or "its task") for one, best, attempts in graded if attempts
                   for claim in one.claims if best.get(claim.id, 0) < claim.points)

    def earned(some):
        return sum((min(best.get(claim.id, Fraction(0)), Fraction(claim.points)) for one, best, _ in some for claim in one.claims), Fraction(0))

    core = [row for row in graded if row[0].core]
    return Standing(
        chapter.id, chapter.title, chapter.minutes, earned(graded), sum(one.points for one, *_ in graded),
        earned(core), sum(one.points for one, *_ in core), any(attempts for *_, attempts in rows), missed,
        sum(1 for one, _, attempts in rows if one.kind == "text" and attempts),
    )


def _states(progress):
    known = chapters.all_checkpoints()
    return {idea.id: _state([known[one] for one in idea.checkpoints if one in known and known[one].kind != "text"], progress) for idea in ideas()}


def _state(checkpoints, progress):
    best = [(claim, progress.best(one.id).get(claim.id, Fraction(0))) for one in checkpoints for claim in one.claims]
    if best and all(got >= claim.points for claim, got in best):
        return "holds"
    return "begun" if any(progress.attempts(one.id) for one in checkpoints) else "not begun"


def _share(standing):
    return f"{int(100 * standing.core_earned / standing.core_points)} %" if standing.core_points else "no core"


def _told(standing):
    state = "mastered" if standing.mastered else "begun" if standing.tried else "not begun"
    waits = f"; {standing.waits} {'text awaits' if standing.waits == 1 else 'texts await'} a reader" if standing.waits else ""
    return f"{state}{f', {_share(standing)} of the core' if standing.tried else ''}{waits}"


def _points(standing):
    return f"{standing.earned} of {standing.points}"


def _lines(seen):
    wide = max(len(one.title) for one in seen.standings)
    lines = [seen.head, *(f"  {one.chapter}  {one.title:<{wide}}  {_points(one):>9}  {_told(one)}" for one in seen.standings)]
    lines.append("A chapter is mastered at 80 % of its core.")
    again = repeat(seen)
    lines.append("To repeat:" if again else "Every claim that was tried holds.")
    for idea, rows in again:
        lines.append(f"  {idea.title} (chapter {idea.chapter})")
        first = rests_on(idea, seen.states)
        lines += [f"    first: {one.title} (chapter {one.chapter})" for one in first]
        lines += [f"    {checkpoint}  {text}: {where}" for checkpoint, text, where in rows]
    lines.append("The ideas, and what each needs:")
    titles = {one.id: one.title for one in ideas()}
    for idea in ideas():
        lines.append(f"  {MARKS[seen.states[idea.id]]} {idea.chapter}  {idea.title}: {seen.states[idea.id]}")
        lines += [f"        needs: {titles[name]}" for name in idea.needs]
    return lines


def _html(seen):
    escape = html.escape
    rows = "".join(f"<tr><td>{one.chapter}</td><th scope=row style='text-align:left;font-weight:600'>{escape(one.title)}</th>"
                   f"<td style='text-align:right'>{_points(one)}</td><td>{_bar(one)}</td><td style='text-align:left'>{escape(_told(one))}</td></tr>"
                   for one in seen.standings)
    again = "".join(_again(idea, rows, seen.states) for idea, rows in repeat(seen)) or "<p>Every claim that was tried holds.</p>"
    table = "<table><thead><tr><th scope=col>Chapter<th scope=col><th scope=col>Points<th scope=col>Core<th scope=col>How far</tr></thead>"
    return (f'<section aria-label="{escape(seen.head)}"><div role="heading" aria-level="3" style="font-weight:700">{escape(seen.head)}</div>'
            f"{table}<tbody>{rows}</tbody></table><p>A chapter is mastered at 80 % of its core.</p>"
            f'<div role="heading" aria-level="4" style="font-weight:700">To repeat</div>{again}'
            f'<div role="heading" aria-level="4" style="font-weight:700">The ideas, and which need which</div>{_map(seen)}</section>')


def _bar(standing):
    share = float(standing.core_earned / standing.core_points) if standing.core_points else 0.0
    return (f'<span role="img" aria-label="{_share(standing)} of the core" style="display:inline-block;width:8em;height:0.8em;border:1px solid #555;'
            f'background:linear-gradient(90deg,#0072B2 {100 * share:.0f}%,transparent 0)"></span>')


def _again(idea, rows, states):
    escape = html.escape
    first = "".join(f"<li>first: {escape(one.title)} (chapter {one.chapter})</li>" for one in rests_on(idea, states))
    items = "".join(f"<li>{escape(checkpoint)} {escape(text)}: <em>{escape(where)}</em></li>" for checkpoint, text, where in rows)
    return f"<p style='margin:6px 0 0 0'><b>{escape(idea.title)}</b> (chapter {idea.chapter})</p><ul style='margin:0'>{first}{items}</ul>"


# -- the map: a column a chapter, an arrow from each idea to what needs it

WIDE, HIGH, GAP = 176, 66, (46, 18)
_FILL = {"holds": "#CDE7F5", "begun": "#FBE8C0", "not begun": "#F2F2F2"}


def _map(seen):
    columns = sorted({idea.chapter for idea in ideas()})
    places, tall = {}, 0
    for x, chapter in enumerate(columns):
        for y, idea in enumerate(one for one in ideas() if one.chapter == chapter):
            places[idea.id] = (x * (WIDE + GAP[0]) + 4, y * (HIGH + GAP[1]) + 26)
            tall = max(tall, y + 1)
    size = len(columns) * (WIDE + GAP[0]), tall * (HIGH + GAP[1]) + 34
    heads = "".join(f'<text x="{x * (WIDE + GAP[0]) + 4}" y="16" font-weight="700">{chapter}</text>' for x, chapter in enumerate(columns))
    arrows = "".join(_arrow(places[name], places[idea.id]) for idea in ideas() for name in idea.needs)
    boxes = "".join(_box(idea, places[idea.id], seen.states[idea.id]) for idea in ideas())
    told = "; ".join(f"{idea.title}: {seen.states[idea.id]}" for idea in ideas())
    return (f'<div style="overflow-x:auto" tabindex="0" role="region" aria-label="Map of ideas"><svg role="img" aria-label="{html.escape(told)}" width="{size[0]}" '
            f'height="{size[1]}" viewBox="0 0 {size[0]} {size[1]}" style="background:#fff;color:#1a1a1a" font-family="system-ui,sans-serif" font-size="12" '
            f'fill="#1a1a1a">{heads}{arrows}{boxes}</svg></div>')


def _arrow(start, end):
    (x0, y0), (x1, y1) = start, end
    if x0 == x1:
        a, b = (x0 + WIDE / 2, y0 + (HIGH if y1 > y0 else 0)), (x1 + WIDE / 2, y1 + (0 if y1 > y0 else HIGH))
        return f'<path d="M{a[0]} {a[1]}L{b[0]} {b[1]}" fill="none" stroke="#666" stroke-width="1.4"/>' + _head(b, (0, 1 if y1 > y0 else -1))
    a, b = (x0 + WIDE, y0 + HIGH / 2), (x1, y1 + HIGH / 2)
    bow = max(24, (b[0] - a[0]) / 2.5)
    return f'<path d="M{a[0]} {a[1]}C{a[0] + bow} {a[1]} {b[0] - bow} {b[1]} {b[0]} {b[1]}" fill="none" stroke="#666" stroke-width="1.4"/>' + _head(b, (1, 0))


def _head(tip, way):
    across = (-way[1], way[0])
    corners = [tip, *((tip[0] - 7 * way[0] + s * 3.5 * across[0], tip[1] - 7 * way[1] + s * 3.5 * across[1]) for s in (1, -1))]
    return f'<path d="M{" L".join(f"{x:g} {y:g}" for x, y in corners)}Z" fill="#666"/>'


def _box(idea, place, state):
    x, y = place
    lines = _wrapped(idea.title, 25)
    told = "".join(f'<text x="{x + 8}" y="{y + 16 + 14 * n}">{html.escape(line)}</text>' for n, line in enumerate(lines))
    mark = f'<text x="{x + WIDE - 8}" y="{y + HIGH - 6}" text-anchor="end" font-size="11">{MARKS[state]} {state}</text>'
    return f'<rect x="{x}" y="{y}" width="{WIDE}" height="{HIGH}" rx="4" fill="{_FILL[state]}" stroke="#555"/>{told}{mark}'


def _wrapped(text, wide):
    import textwrap

    return textwrap.wrap(text, wide)[:3]
