"""Layers of marks painted by the browser: strokes, glyphs, words and sheets of all layers from one page.

Where only places change, `move` writes the page's rows anew and the page sends
one message. Where marks come or go, `rebuild` lays everything out again.
"""

import numpy as np
import pythreejs as three

from rigkit.view import lettering, marks, shaders
from rigkit.view.page import geometry

OVER = 50  # drawn after the model


class Painter:
    """Draws layers into `group`; the rows come from `page`, behind what the page holds already."""

    def __init__(self, page, picture_size):
        self.page, self.size = page, picture_size
        self.group = three.Group()
        self.first = page.used
        self._stroke_shape, self._glyph_material = _stroke_material(), shaders.glyph()
        self._alphabet = three.DataTexture(
            data=lettering.alphabet(), format="LuminanceFormat", type="UnsignedByteType", magFilter="LinearFilter", minFilter="LinearFilter"
        )
        self._word_material = shaders.lettering(self._alphabet, picture_size)
        none = np.zeros(3, np.uint32)
        self._stroke_geometry, self._stroke_rows = geometry(page, none, ("normal", "glyph"))
        self._glyph_geometry, self._glyph_rows = geometry(page, none[:1], ("normal",))
        self._word_geometry, self._word_rows = geometry(page, none, ("normal",))
        self._strokes = three.Mesh(self._stroke_geometry, self._stroke_shape, frustumCulled=False, renderOrder=OVER)
        self._glyphs = three.Points(self._glyph_geometry, self._glyph_material, frustumCulled=False, renderOrder=OVER + 1)
        self._words = three.Mesh(self._word_geometry, self._word_material, frustumCulled=False, renderOrder=OVER + 2)
        self._sheets = {}
        self._shape, self._told = None, ()

    def draw(self, layers, metres_per_pixel):
        """Show these layers. Only their places are sent when nothing else changed: one message."""
        strokes, glyphs = marks.joined(layers, "strokes"), marks.joined(layers, "glyphs")
        words, sheets = ([m for layer in layers for m in getattr(layer, kind)] for kind in ("words", "sheets"))
        shape = _shape(strokes, glyphs, words, sheets)
        if shape != self._shape:
            self._rebuild(strokes, glyphs, words, sheets)
            self._shape = shape
        elif _looks(words) != self._told:
            self._spell(words)
        self._move(strokes, glyphs, words, sheets, metres_per_pixel)
        self.page.send()

    def _rebuild(self, strokes, glyphs, words, sheets):
        page = self.page
        page.used = self.first
        self._at = {"strokes": None, "glyphs": None, "words": None, "sheets": None}
        if strokes is not None:
            n = len(strokes.starts)
            self._at["strokes"] = page.add(np.zeros((8 * n, 3)), colours=np.repeat(strokes.colours, 8, axis=0))
        if glyphs is not None:
            self._at["glyphs"] = page.add(np.zeros((len(glyphs.points), 3)), colours=glyphs.colours, glyphs=np.column_stack([glyphs.shapes, glyphs.sizes]))
        if words:
            self._owner, corners, colours, triangles = lettering.laid(words)
            self._at["words"] = page.add(np.zeros((len(corners), 3)), colours=colours, glyphs=corners)
            self._word_rows.array = (self._at["words"].start + triangles).astype(np.uint32).ravel()
        self._at["sheets"] = [page.add(sheet.vertices) for sheet in sheets]
        self._told = _looks(words)
        self._lay_sheets(sheets)
        page.send_all()
        self._stroke_rows.array = _prism_rows(self._at["strokes"], 0 if strokes is None else len(strokes.starts))
        self._glyph_rows.array = _rows(self._at["glyphs"])
        self._strokes.visible, self._glyphs.visible, self._words.visible = strokes is not None, glyphs is not None, bool(words)
        self.group.children = (*(s[0] for s in self._sheets.values()), self._strokes, self._glyphs, self._words)

    def _move(self, strokes, glyphs, words, sheets, metres_per_pixel):
        if strokes is not None:
            self.page.write(self._at["strokes"], marks.prisms(strokes, metres_per_pixel).reshape(-1, 3))
        if glyphs is not None:
            self.page.write(self._at["glyphs"], glyphs.points)
        if words:
            self.page.write(self._at["words"], np.array([w.point for w in words], dtype=float)[self._owner])
        for where, sheet in zip(self._at["sheets"], sheets):
            self.page.write(where, sheet.vertices)

    def _spell(self, words):
        """Write words anew that read or look differently and are as long as those before."""
        _, corners, colours, _ = lettering.laid(words)
        self.page.shape(self._at["words"], corners)
        self.page.colours[self._at["words"]] = colours
        self.page.send_glyphs()
        self.page.send_colours()
        self._told = _looks(words)

    def _lay_sheets(self, sheets):
        """Keep one mesh for each look of a sheet; all sheets of that look are its triangles."""
        looks = {}
        for where, sheet in zip(self._at["sheets"], sheets):
            looks.setdefault((sheet.colour, sheet.opacity), []).append(sheet.triangles + where.start)
        for look in [look for look in self._sheets if look not in looks]:
            _close(self._sheets.pop(look))
        for look, rows in looks.items():
            rows = np.concatenate(rows).astype(np.uint32).ravel()
            if look not in self._sheets:
                self._sheets[look] = _sheet(self.page, look, rows)
            else:
                self._sheets[look][1].array = rows

    def close(self):
        """Close every widget of this painter (not its page)."""
        for drawn in self._sheets.values():
            _close(drawn)
        for widget in (self._strokes, self._glyphs, self._stroke_geometry, self._glyph_geometry, self._stroke_rows, self._glyph_rows,
                       self._stroke_shape, self._glyph_material, self._words, self._word_geometry, self._word_rows, self._word_material,
                       self._alphabet, self.group):
            widget.close()


def _shape(strokes, glyphs, words, sheets):
    """What must stay the same for `_move` to be enough."""
    return (
        None if strokes is None else strokes.colours.tobytes(),
        None if glyphs is None else (glyphs.colours.tobytes(), glyphs.shapes.tobytes(), glyphs.sizes.tobytes()),
        tuple(len(w.text) for w in words),
        tuple((s.colour, s.opacity, len(s.vertices), s.triangles.tobytes()) for s in sheets),
    )


def _looks(words):
    """What words look like, wherever they stand."""
    return tuple((w.text, w.colour, w.offset, w.size) for w in words)


def _stroke_material():
    return three.MeshBasicMaterial(vertexColors="VertexColors", side="DoubleSide", depthTest=False, depthWrite=False, transparent=True)


def _prism_rows(where, count):
    if not count:
        return np.zeros(3, np.uint32)
    return (where.start + 8 * np.arange(count)[:, None, None] + marks.PRISM_TRIANGLES).astype(np.uint32).ravel()


def _rows(where):
    return np.zeros(1, np.uint32) if where is None else np.arange(where.start, where.stop, dtype=np.uint32)


def _sheet(page, look, rows):
    """A see-through mesh of rows of the page; with it, the widgets that belong to it alone."""
    colour, opacity = look
    shape, attribute = geometry(page, rows, ("normal", "color", "glyph"))
    material = three.MeshBasicMaterial(color=colour, opacity=opacity, transparent=True, side="DoubleSide", depthWrite=False)
    return three.Mesh(shape, material, frustumCulled=False, renderOrder=OVER - 1), attribute, shape, material


def _close(drawn):
    for widget in drawn:
        widget.close()
