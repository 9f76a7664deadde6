"""A viewer's scene written down: where the eye is, how the model stands, what is drawn over it, what the numbers say.

What many scenes share (a layer of marks, a matrix, a table) is kept once a page, in
a *pool*, and named by its number.
"""

import json

import numpy as np

from rigkit.book import figures
from rigkit.view import marks
from rigkit.view.viewer import Viewer

DIGITS = 5  # of metres: a hundredth of a millimetre


class Pool:
    """Values that JSON takes, each kept once; `values` is what a page carries, `models` what pages share, by name."""

    def __init__(self):
        self.values, self.models, self._known = [], {}, {}

    def put(self, value):
        """The number under which a value is kept."""
        key = json.dumps(value, separators=(",", ":"))
        if key not in self._known:
            self._known[key] = len(self.values)
            self.values.append(value)
        return self._known[key]


class Recorder(Viewer):
    """A Viewer that tells `made` of itself, remembers how its model was carried, and writes its scene down where it would be displayed."""

    made = []  # every one of this process, in order

    def __init__(self, *arguments, **named):
        self.stance, self.shown_as = None, None
        super().__init__(*arguments, **named)
        Recorder.made.append(self)

    def carry(self, turns, moves):
        """As Viewer.carry."""
        self.stance = ("joints", np.array(turns), np.array(moves))
        super().carry(turns, moves)

    def carry_parts(self, moving, sleeves, turn, move):
        """As Viewer.carry_parts."""
        self.stance = ("parts", list(moving), list(sleeves), np.array(turn), np.array(move))
        super().carry_parts(moving, sleeves, turn, move)

    def close(self):
        """As Viewer.close."""
        if self in Recorder.made:
            Recorder.made.remove(self)
        super().close()

    def _repr_mimebundle_(self, **_):
        return {"text/plain": self.text(), SCENE: self}

    @property
    def panel(self):
        """The panel beside the scene, or None."""
        return self._panel

    @property
    def said(self):
        """What the readout says."""
        return self._status_text

    def rows_beside_panel(self):
        """The rows of the number table that are not the panel's."""
        panel, self._panel = self._panel, None
        try:
            return self._all_rows()
        finally:
            self._panel = panel

    def layers(self, own=True):
        """The layers of marks; without the panel's where not `own`."""
        if own:
            return self._all_layers()
        panel, self._panel = self._panel, None
        try:
            return self._all_layers()
        finally:
            self._panel = panel

    def state(self, pool, own=True):
        """How the scene stands now, by numbers of the pool."""
        carried = figures.motions(self.figure, self.stance)
        kinds, of = np.unique(np.round(carried.reshape(-1, 12), 6) + 0.0, axis=0, return_inverse=True) if len(carried) else (np.zeros((0, 12)), [])
        tinted = [i for i, (_, patch, _) in enumerate(figures.slots(self.figure)) if patch.name in self.figure.tinted]
        return {
            "of": pool.put([int(i) for i in np.ravel(of)]), "matrices": [pool.put(row.tolist()) for row in kinds],
            "marks": [pool.put(layer(one)) for one in self.layers(own)],
            "rows": pool.put([list(row) for row in self._all_rows()]), "told": self._status_text, "tint": pool.put(tinted)}

    def fingerprint(self):
        """What tells two scenes apart, as text."""
        pool = Pool()
        return json.dumps([self.state(pool), eye(self.eye), self._glass, self._caption_text, self._aside.value, self.figure.weighed, id(self._panel), pool.values])

    def _weighed(self):
        """The slots of the joint whose weights colour the model, or None."""
        if self.figure.weighed is None:
            return None
        joint = self.character.skeleton.index(self.figure.weighed)
        return [i for i, (*_, own) in enumerate(figures.slots(self.figure)) if own == joint]

    def described(self, pool):
        """The scene as plain data; the panel's own data are `rigkit.book.panels`'."""
        target, height = self.figure.framing()
        model = figures.model(self.figure)
        if model:
            pool.models[model["name"]] = model
        return {
            "caption": self._caption_text, "eye": eye(self.eye), "size": list(self.size), "glass": self._glass,
            "whole": {"target": _flat(target), "height": float(height)},
            "aside": self._aside.value, "weighed": self._weighed(), "model": model["name"] if model else None, "contact": pool.put(figures.contact(self.figure.points())), "state": self.state(pool)}


SCENE = "application/vnd.rigkit.scene"


def eye(seen):
    """An Eye as plain data."""
    return {"position": _flat(seen.position), "target": _flat(seen.target), "height": round(float(seen.height), 6), "parallel": seen.parallel}


def layer(one):
    """A Layer of marks as plain data: sheets, strokes as lines of one look, glyphs of one look, words."""
    return {
        "sheets": [[_flat(s.vertices), np.asarray(s.triangles).ravel().tolist(), s.colour, s.opacity] for s in one.sheets],
        "strokes": [line for group in one.strokes for line in _lines(group)],
        "glyphs": [glyph for group in one.glyphs for glyph in _glyphs(group)],
        "words": [[w.text, _flat(w.point), w.colour, list(w.offset), w.size] for w in one.words]}


def _lines(group):
    """Strokes of one look as [colour, start width, end width, [line, ...]]; what goes on where it ended is one line."""
    looks = {}
    for start, end, colour, (wide, narrow) in zip(group.starts, group.ends, group.colours, group.widths):
        lines = looks.setdefault((_hex(colour), round(float(wide), 3), round(float(narrow), 3)), [])
        start, end = _flat(start), _flat(end)
        if lines and lines[-1][-3:] == start and wide == narrow:
            lines[-1] += end
        else:
            lines.append(start + end)
    return [[*look, lines] for look, lines in looks.items()]


def _glyphs(group):
    """Glyphs of one look as [shape's name, colour, size, points]."""
    names, looks = {number: name for name, number in marks.SHAPES.items()}, {}
    for point, shape, colour, size in zip(group.points, group.shapes, group.colours, group.sizes):
        looks.setdefault((names[int(shape)], _hex(colour), float(size)), []).extend(_flat(point))
    return [[*look, points] for look, points in looks.items()]


def _hex(colour):
    return "#" + "".join(f"{round(255 * float(c)):02X}" for c in colour)


def _flat(points):
    return [round(float(v), DIGITS) + 0.0 for v in np.ravel(np.asarray(points, dtype=float))]
