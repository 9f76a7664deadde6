"""What an audit found, in place: choose a finding, and the eye turns there; value, limit, why and what to do stand beside it.

A fault is a diamond, what is to be looked at a ring, and both are told in words. All places are marked; the chosen
one is larger, in a circle, with its number, and where a part is meant the part is tinted.
"""

import html

import ipywidgets
import numpy as np

from rigkit import words
from rigkit.audit.finding import told, told_limit
from rigkit.view import marks
from rigkit.view.eye import Eye, distance_for
from rigkit.view.panel import Panel
from rigkit.view.pieces import button, note
from rigkit.view.turns import one_at_a_time

LOOK = {"fault": ("diamond", words.PALETTE["vermilion"], "\u25c6"), "look": ("ring", words.PALETTE["yellow"], "\u25cb")}
CLOSE = 0.38  # of the figure's height: how much is seen around a finding
ASIDE = 0.03  # of that height: what lies nearer to the middle has no side of its own to be looked at from
RISE = 0.3  # how far the eye looks down on a finding
SHOWN = 200  # findings in the list, the worst first


class FindingsPanel(Panel):
    """report: a `rigkit.audit.Report`. at: the number of the chosen finding from 0, or None where nothing was found."""

    def __init__(self, viewer, report):
        self.turn_lock, self._viewer, self.report = viewer.turn_lock, viewer, report
        self.found = list(report.findings)[:SHOWN]
        self.at = 0 if self.found else None
        self._list = ipywidgets.Select(
            options=[(line(k, one), k) for k, one in enumerate(self.found)],
            value=self.at,
            rows=min(max(len(self.found), 2), 8),
            description="findings",
            tooltip="what was found, the worst first",
            layout=ipywidgets.Layout(width="98%"),
            style={"description_width": "60px"},
        )
        self._list.observe(lambda change: self._chosen(change["new"]), names="value")
        steps = [
            button("Previous", "The finding before", lambda: self.step(-1)),
            button("Next", "The next finding", lambda: self.step(1)),
            button("All in view", "Show the whole figure with all places that are marked", viewer.whole),
        ]
        # JupyterLab takes the arrow keys away from a list in an output; in a number field they are left to work
        self._number = ipywidgets.BoundedIntText(
            value=1,
            min=min(1, len(self.found)),
            max=len(self.found),
            description="number",
            tooltip="the number of the finding to turn to",
            layout=ipywidgets.Layout(width="130px"),
            style={"description_width": "56px"},
        )
        self._number.observe(lambda change: self._chosen(change["new"] - 1), names="value")
        self._said = ipywidgets.HTML(layout=ipywidgets.Layout(width="98%"))
        row = ipywidgets.HBox([self._number, *steps], layout=ipywidgets.Layout(flex_flow="row wrap"))
        self.widget = ipywidgets.VBox([note(summary(report, len(self.found))), self._list, row, self._said])

    def begin(self):
        """Show the first finding."""
        if self.found:
            self.go(0)
        else:
            self._viewer.redraw()
            self._viewer.say(self.told())

    @one_at_a_time
    def go(self, number):
        """Choose a finding, numbered from 0; the eye turns there."""
        self.at = number
        self._list.value, self._number.value = number, number + 1
        one = self.found[number]
        self._said.value = described(one)
        viewer = self._viewer
        parts = [part.name for part in getattr(viewer.character, "parts", ())]
        viewer.tint([one.where] if one.where in parts else [])
        if one.point is None:
            viewer.whole()
        else:
            viewer.see_from(eye_at(one.point, *viewer.figure.framing()))
        viewer.say(self.told())

    def step(self, by):
        """Choose the next or the one before; after the last comes the first."""
        if self.found:
            self.go((self.at + by) % len(self.found))

    def _chosen(self, number):
        if number is not None and number != self.at and 0 <= number < len(self.found):
            self.go(number)

    def left(self):
        """Take the tint back."""
        self._viewer.tint(())

    def layer(self):
        """Every place; the chosen one larger, in a circle, with its number and rule."""
        glyphs, strokes, told_ = [], [], []
        viewer = self._viewer
        for k, one in enumerate(self.found):
            if one.point is None:
                continue
            shape, colour, _ = LOOK[one.severity]
            here = k == self.at
            glyphs.append(marks.glyphs(one.point, shape, colour if here else marks.mix(colour, words.SCENE, 0.25), 20 if here else 11))
            if here:
                radius = 0.045 * viewer.eye.height
                strokes.append(marks.circle(one.point, viewer.eye.back, radius, colour, 2.5, 40))
                told_.append(marks.Word(f"{k + 1} {one.rule.replace('_', ' ')}", tuple(one.point), colour, (0, 34), 13))
        return marks.Layer(glyphs=tuple(glyphs), strokes=tuple(strokes), words=tuple(told_))

    def numbers(self):
        """Rows of the number table: the chosen finding in full."""
        rows = [("found", summary(self.report, len(self.found)))]
        if self.at is None:
            return rows
        one = self.found[self.at]
        return [
            *rows,
            ("finding", f"{self.at + 1} of {len(self.found)}"),
            ("severity", one.severity),
            ("rule", one.rule),
            ("where", one.where),
            ("value", told(one.value, one.unit)),
            ("limit", told_limit(one.limit, one.unit)),
            ("what", one.what),
            ("why", one.why),
            ("do", one.do),
        ]

    def told(self):
        """The chosen finding in one sentence."""
        if self.at is None:
            return summary(self.report, 0)
        one = self.found[self.at]
        return f"{one.severity} {self.at + 1} of {len(self.found)}, {one.where}: {one.what}" + (
            "" if one.point else "; it has no one place"
        )


def line(number, one):
    """A finding as a line of the list: its number, the shape of its severity, the word for it, where, and the rule."""
    return f"{number + 1} {LOOK[one.severity][2]} {one.severity}: {one.where}, {one.rule.replace('_', ' ')}"


def summary(report, shown):
    """How many faults and looks there are, and how many rules measured something."""
    if not report.findings:
        return f"nothing is beyond its limit; {len(report.examined)} rules measured something"
    faults = sum(one.severity == "fault" for one in report.findings)
    looks = len(report.findings) - faults
    told_ = f"{faults} to mend (fault, \u25c6), {looks} to look at (look, \u25cb)"
    return told_ + (f"; the first {shown} are listed" if shown < len(report.findings) else "")


def described(one):
    """Value, limit, why and what to do, as HTML."""
    shape, word = LOOK[one.severity][2], one.severity
    edge = "solid" if word == "fault" else "dashed"
    rows = (("value", told(one.value, one.unit)), ("limit", told_limit(one.limit, one.unit)), ("why", one.why), ("do", one.do))
    body = "".join(
        f'<div style="display:flex;gap:8px"><dt style="font-weight:600;min-width:3.2em">{label}</dt>'
        f'<dd style="margin:0">{html.escape(value)}</dd></div>'
        for label, value in rows
    )
    return (
        f'<div style="line-height:1.4;border-left:4px {edge} currentColor;padding-left:8px;margin-top:4px">'
        f'<div style="font-weight:600">{shape} {word}: {html.escape(one.what)}</div><dl style="margin:4px 0 0">{body}</dl></div>'
    )


def eye_at(point, middle, height):
    """The Eye that looks at a point (3,) from the side of the figure on which it lies, from the front where it lies in the middle.

    middle, height: the figure's, as `Figure.framing` tells them.
    """
    point, middle = np.asarray(point, dtype=float), np.asarray(middle, dtype=float)
    away = (point - middle) * [1, 0, 1]
    size = np.linalg.norm(away)
    away = away / size if size > ASIDE * height else np.array([0.0, 0, 1.0])
    away = away + 0.45 * np.array([away[2], 0, -away[0]]) + [0, RISE, 0]  # a little from the side: what faces the eye has no depth
    back = away / np.linalg.norm(away)
    seen = CLOSE * height
    return Eye(point + back * distance_for(seen), point, seen)
