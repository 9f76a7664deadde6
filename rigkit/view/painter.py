"""Layers of marks painted by the browser: strokes, glyphs, words and sheets of all layers from one page.

Where only places change, `move` writes the page's rows anew and the page sends
one message. Where marks come or go, `rebuild` lays everything out again.
"""

import numpy as np
import pythreejs as three

from rigkit.view import marks, shaders
from rigkit.view.page import geometry

LETTER = 0.6021  # width of a letter of a common fixed-width font, as a share of its size
OVER = 50  # drawn after the model


class Painter:
    """Draws layers into `group`; the rows come from `page`, behind what the page holds already."""

    def __init__(self, page, picture_size):
        self.page, self.size = page, picture_size
        self.group = three.Group()
        self.first = page.used
        self._stroke_shape, self._glyph_material = _stroke_material(), shaders.glyph()
        none = np.zeros(3, np.uint32)
        self._stroke_geometry, self._stroke_rows = geometry(page, none)
        self._glyph_geometry, self._glyph_rows = geometry(page, none[:1])
        self._strokes = three.Mesh(self._stroke_geometry, self._stroke_shape, frustumCulled=False, renderOrder=OVER)
        self._glyphs = three.Points(self._glyph_geometry, self._glyph_material, frustumCulled=False, renderOrder=OVER + 1)
        self._words, self._sheets = {}, {}
        self._shape = None

    def draw(self, layers, metres_per_pixel):
        """Show these layers. Only their places are sent when nothing else changed: one message."""
        strokes, glyphs = marks.joined(layers, "strokes"), marks.joined(layers, "glyphs")
        words, sheets = ([m for layer in layers for m in getattr(layer, kind)] for kind in ("words", "sheets"))
        shape = _shape(strokes, glyphs, words, sheets)
        if shape != self._shape:
            self._rebuild(strokes, glyphs, words, sheets)
            self._shape = shape
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
            self._at["words"] = page.add(np.zeros((len(words), 3)))
        self._at["sheets"] = [page.add(sheet.vertices) for sheet in sheets]
        self._lay_words(words)
        self._lay_sheets(sheets)
        page.send_all()
        self._stroke_rows.array = _prism_rows(self._at["strokes"], 0 if strokes is None else len(strokes.starts))
        self._glyph_rows.array = _rows(self._at["glyphs"])
        self._strokes.visible, self._glyphs.visible = strokes is not None, glyphs is not None
        self.group.children = (*(s[0] for s in self._sheets.values()), self._strokes, self._glyphs, *(w[0] for w in self._words.values()))

    def _move(self, strokes, glyphs, words, sheets, metres_per_pixel):
        if strokes is not None:
            self.page.write(self._at["strokes"], marks.prisms(strokes, metres_per_pixel).reshape(-1, 3))
        if glyphs is not None:
            self.page.write(self._at["glyphs"], glyphs.points)
        if words:
            self.page.write(self._at["words"], [w.point for w in words])
        for where, sheet in zip(self._at["sheets"], sheets):
            self.page.write(where, sheet.vertices)

    def _lay_words(self, words):
        """Keep a drawn text for each look; each word of that look is one more row."""
        looks = {}
        for row, word in enumerate(words):
            looks.setdefault((word.text, word.colour, word.offset, word.size), []).append(self._at["words"].start + row)
        for look in [look for look in self._words if look not in looks]:
            _close(self._words.pop(look))
        for look, rows in looks.items():
            if look not in self._words:
                self._words[look] = _text(self.page, look, rows, self.size)
            else:
                self._words[look][1].array = np.array(rows, np.uint32)

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
        for drawn in (*self._words.values(), *self._sheets.values()):
            _close(drawn)
        for widget in (self._strokes, self._glyphs, self._stroke_geometry, self._glyph_geometry, self._stroke_rows, self._glyph_rows,
                       self._stroke_shape, self._glyph_material, self.group):
            widget.close()


def _shape(strokes, glyphs, words, sheets):
    """What must stay the same for `_move` to be enough."""
    return (
        None if strokes is None else strokes.colours.tobytes(),
        None if glyphs is None else (glyphs.colours.tobytes(), glyphs.shapes.tobytes(), glyphs.sizes.tobytes()),
        tuple((w.text, w.colour, w.offset, w.size) for w in words),
        tuple((s.colour, s.opacity, len(s.vertices), s.triangles.tobytes()) for s in sheets),
    )


def _stroke_material():
    return three.MeshBasicMaterial(vertexColors="VertexColors", side="DoubleSide", depthTest=False, depthWrite=False, transparent=True)


def _prism_rows(where, count):
    if not count:
        return np.zeros(3, np.uint32)
    return (where.start + 8 * np.arange(count)[:, None, None] + marks.PRISM_TRIANGLES).astype(np.uint32).ravel()


def _rows(where):
    return np.zeros(1, np.uint32) if where is None else np.arange(where.start, where.stop, dtype=np.uint32)


def _text(page, look, rows, picture_size):
    """A Points object that shows one text at each of its rows; with it, the widgets that belong to it alone."""
    text, colour, offset, size = look
    wide = LETTER * size * len(text)
    texture = three.TextTexture(
        string=text, fontFace="'DejaVu Sans Mono', Menlo, Consolas, 'Liberation Mono', monospace", size=2 * size, color="white", squareTexture=True,
        minFilter="LinearFilter", generateMipmaps=False)
    side = max(wide, size) + 1  # drawn at twice its size, for crisp letters
    where = (2 * offset[0] / picture_size[0], 2 * offset[1] / picture_size[1])
    material = shaders.word(texture, marks.rgb(colour), side, (min(wide / 2 + 3, side / 2), size * 0.68), where)
    shape, attribute = geometry(page, rows)
    points = three.Points(shape, material, frustumCulled=False, renderOrder=OVER + 2)
    return points, attribute, shape, material, texture


def _sheet(page, look, rows):
    """A see-through mesh of rows of the page; with it, the widgets that belong to it alone."""
    colour, opacity = look
    shape, attribute = geometry(page, rows)
    material = three.MeshBasicMaterial(color=colour, opacity=opacity, transparent=True, side="DoubleSide", depthWrite=False)
    return three.Mesh(shape, material, frustumCulled=False, renderOrder=OVER - 1), attribute, shape, material


def _close(drawn):
    for widget in drawn:
        widget.close()
