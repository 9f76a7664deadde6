"""A judged checkpoint as a person reads it: a few lines of text, and the same as a coloured, accessible panel.

One row a claim; the first that doesn't hold in full, with the case that was
tried, what was expected, what came, the likely cause when it is known, and one
next step. Never more than fourteen lines, never wider than a hundred letters.
"""

import html
import textwrap
from dataclasses import dataclass

from rigkit.course.checkpoint import Result
from rigkit.words import text_only

TITLE_WIDTH = 72
WIDTH = 100
LINES = 14
_WAITING = ("not started", "name missing", "awaits a reader")
_NEXT = {
    "name missing": "run the cell that defines it, then check(\"{id}\") again",
    "not started": "put your answer in place of the `...`, run its cell, then check(\"{id}\")",
    "stopped with an error": "mend that line, run its cell, then check(\"{id}\") again",
    "took too long": "look for a loop whose condition never becomes false",
    "wrong kind": "mend what the answer is, run its cell, then check(\"{id}\") again",
    "wrong shape": "print the shape of your answer and compare",
    "not a number": "look for a division by zero, or a root or arc cosine outside its range",
    "changed its input": "copy what you are given before you change it",
    "closed book": "write the steps yourself; the package's source is there to read",
    "awaits a reader": "",
}


@dataclass(frozen=True)
class Panel:
    """A result with its text and its page; displays itself in a notebook."""

    result: Result
    can_show: bool = False

    @property
    def text(self):
        """The panel as plain text."""
        return "\n".join(_lines(self))

    @property
    def html(self):
        """The panel as a piece of a page: a labelled section, everything escaped, words beside colours."""
        return _html(self)

    def __str__(self):
        return self.text

    def __repr__(self):
        return self.text

    def _repr_mimebundle_(self, include=None, exclude=None):
        return {"text/plain": self.text} if text_only() else {"text/plain": self.text, "text/html": self.html}


def panel(result, can_show=False):
    """Return the Panel of a result. can_show: whether show() can draw this checkpoint's answer."""
    return Panel(result, can_show)


def score(result):
    """The points of a result in words: "3 of 5 points"; what waits says so.

    >>> from fractions import Fraction
    >>> from rigkit.course.checkpoint import ClaimResult
    >>> score(Result("06.2", "The solver", "look", "", (ClaimResult("a", "holds", 2, Fraction(1, 2), "look"),), 0))
    '1/2 of 2 points'
    """
    points = f"{result.points} {'point' if result.points == 1 else 'points'}"
    return f"{result.outcome}, {points}" if result.outcome in _WAITING else f"{result.earned} of {points}"


def mark(outcome):
    """The word of a claim's row: "ok", "look" or "--" for what wasn't tried."""
    return "ok" if outcome == "ok" else "--" if outcome in _WAITING else "look"


def details(panel):
    """The (key, words) pairs of the first claim that doesn't hold, and its index; ([], None) when all hold or nothing was tried."""
    result = panel.result
    order = [i for i, claim in enumerate(result.claims) if mark(claim.outcome) == "look"]
    order = order or [i for i, claim in enumerate(result.claims) if claim.outcome == "name missing"]
    if not order:
        return [], None
    claim = result.claims[order[0]]
    got = claim.got or result.line
    if claim.outcome not in ("look", "ok"):
        got = f"{claim.outcome}: {got}" if got else claim.outcome
    pairs = [("tried", claim.tried), ("expected", claim.expected), ("got", got), ("likely", claim.likely),
             ("look at", claim.look_at), ("next", _next(panel, claim))]
    return [(key, _one_line(words)) for key, words in pairs if words], order[0]


# -- helpers


def _next(panel, claim):
    told = _NEXT.get(claim.outcome)
    if told is None:
        told = 'show("{id}") draws your answer over a faint copy of the expected one' if panel.can_show else 'hint("{id}") tells where to begin'
    return told.format(id=panel.result.checkpoint)


def _footer(result):
    return f"variant {result.variant}; the same case again on every run"


def _lines(panel):
    result = panel.result
    title, points = f"Checkpoint {result.checkpoint}  {result.title}", score(result)
    title = _cut(title, WIDTH - len(points) - 2)
    head = title + " " * max(2, TITLE_WIDTH - len(title) - len(points)) + points
    pairs, told = details(panel)
    rows = _rows(result, told, LINES - 2 - len(pairs))
    spare = LINES - 2 - len(pairs) - len(rows)
    lines = [head]
    for index, row in rows:
        lines.append(_cut(row, WIDTH))
        if index == told and pairs:
            lines += _detail_lines(pairs, spare)
    if told is None and result.line and len(lines) < LINES - 1:
        lines.append(_cut(f"  {result.line}", WIDTH))
    return [*lines, f"  {_footer(result)}"]


def _rows(result, told, most):
    """(index, line) for each claim; when there are too many, those that hold share a line, then the others too."""
    rows = [(i, _row(claim)) for i, claim in enumerate(result.claims)]
    if len(rows) <= most:
        return rows
    holding = [claim for claim in result.claims if claim.outcome == "ok"]
    rest = [(i, row) for i, row in rows if result.claims[i].outcome != "ok"]
    shared = [(None, _shared("ok", holding))] if holding else []
    room = most - len(shared)
    if len(rest) > room:
        kept = [pair for pair in rest if pair[0] == told] + [pair for pair in rest if pair[0] != told][: max(room - 2, 0)]
        over = [result.claims[i] for i, _ in rest if i not in {k for k, _ in kept}]
        rest = sorted(kept) + [(None, _shared(mark(over[0].outcome), over))]
    return shared + rest


def _row(claim):
    return f"{_marker(mark(claim.outcome))}{_points(claim.earned, claim.points, claim.outcome):<3}  {claim.text}"


def _shared(word, claims):
    earned, points = sum(claim.earned for claim in claims), sum(claim.points for claim in claims)
    return f"{_marker(word)}{_points(earned, points, claims[0].outcome):<3}  {len(claims)} more claims"


def _marker(word):
    return {"ok": "  [ok]    ", "look": "  [look]  ", "--": "  [ -- ]  "}[word]


def _points(earned, points, outcome):
    return f"-/{points}" if outcome in _WAITING else f"{earned}/{points}"


def _detail_lines(pairs, spare):
    lines = []
    for key, words in pairs:
        parts = textwrap.wrap(words, WIDTH - 20, break_long_words=True, break_on_hyphens=False) or [""]
        room = 1 + min(spare, 1)
        if len(parts) > room:
            parts = parts[: room - 1] + [_cut(" ".join(parts[room - 1:]), WIDTH - 20)]
        spare -= len(parts) - 1
        lines.append(f"          {key:<10}{parts[0]}")
        lines += [" " * 20 + part for part in parts[1:]]
    return lines


def _one_line(words):
    """Words on one line; runs of blanks inside are kept (they set columns), line ends are not."""
    return " ".join(words.split("\n")).replace("\t", " ").strip()


def _cut(text, width):
    text = " ".join(text.splitlines())
    return text if len(text) <= width else text[: width - 3] + "..."


# A notebook page styles headings and lists its own way (a link in every heading, widths on dt and dd): what matters is set here.
_CARD = ("border:1px solid currentColor;border-left-width:6px;border-radius:4px;padding:8px 14px;margin:4px 0;max-width:60em;"
         "line-height:1.45;color:var(--jp-content-font-color1,#1a1a1a);background:var(--jp-layout-color1,#ffffff)")
_LINE = "list-style:none;margin:3px 0;display:grid;grid-template-columns:4.4em 3em 1fr;gap:0 6px;align-items:start"
_CHIP = ("text-align:center;border-radius:3px;padding:0 6px;font-weight:600;color:#ffffff;"
         "border:1px solid #ffffff;background:")
_GROUND = {"ok": "#00614A", "look": "#8A3800", "--": "#4A4F54"}  # white on each: above 7:1, whatever the theme
_WORD = {"ok": "ok", "look": "look", "--": "open"}


def _html(panel):
    result = panel.result
    escape = html.escape
    pairs, told = details(panel)
    rows = "".join(
        f'<li style="{_LINE}">{_chip(mark(claim.outcome))}<span>{escape(_points(claim.earned, claim.points, claim.outcome))}</span>'
        f"<div>{escape(claim.text)}{_details_html(pairs) if i == told else ''}</div></li>"
        for i, claim in enumerate(result.claims))
    line = f"<p style='margin:4px 0'>{escape(result.line)}</p>" if told is None and result.line else ""
    name = f"Checkpoint {result.checkpoint}, {result.title}"
    return (
        f'<section aria-label="{escape(name)}: {escape(score(result))}" style="{_CARD}">'
        f'<div role="heading" aria-level="4" style="margin:0 0 6px 0;font-weight:700;display:flex;justify-content:space-between;gap:2em">'
        f"<span>Checkpoint {escape(result.checkpoint)}&ensp;{escape(result.title)}</span><span>{escape(score(result))}</span></div>"
        f'<ul style="margin:0;padding:0">{rows}</ul>{line}'
        f'<p style="margin:6px 0 0 0;font-size:90%">{escape(_footer(result))}</p></section>'
    )


def _chip(word):
    return f'<span style="{_CHIP}{_GROUND[word]}">{_WORD[word]}</span>'


def _details_html(pairs):
    items = "".join(
        f'<dt style="font-weight:600;width:auto;grid-column:1">{html.escape(key)}</dt>'
        f'<dd style="margin:0;padding:0;width:auto;grid-column:2;white-space:pre-wrap;overflow-wrap:anywhere">{html.escape(words)}</dd>' for key, words in pairs)
    return f'<dl style="display:grid;grid-template-columns:6em 1fr;gap:1px 8px;margin:4px 0 6px 0">{items}</dl>'
