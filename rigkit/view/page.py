"""A page: the numbers of everything that moves together, kept in one buffer so that a frame is one message.

A page holds a row for each vertex: place and normal (which change every frame,
interleaved in one buffer), colour, and what a glyph or a letter looks like (which
change seldom). Several objects draw from one page, each by its own list of rows.
"""

import numpy as np
import pythreejs as three


class Page:
    """Rows are added with `add`, changed with `write`, and sent with `send`."""

    def __init__(self, capacity=256):
        self.moving = np.zeros((capacity, 6), np.float32)
        self.colours = np.zeros((capacity, 3), np.float32)
        self.glyphs = np.zeros((capacity, 4), np.float32)
        self.used = 0
        self.buffer = three.InterleavedBuffer(array=self.moving.copy())
        place = three.InterleavedBufferAttribute(data=self.buffer, itemSize=3, offset=0, normalized=False)
        normal = three.InterleavedBufferAttribute(data=self.buffer, itemSize=3, offset=3, normalized=False)
        self.colour = three.BufferAttribute(array=self.colours.copy(), normalized=False)
        self.glyph = three.BufferAttribute(array=self.glyphs.copy(), normalized=False)
        self.attributes = {"position": place, "normal": normal, "color": self.colour, "glyph": self.glyph}

    def add(self, points, normals=None, colours=None, glyphs=None):
        """Take rows for points (N, 3); return their slice. Call `send_all` when all are added."""
        where = slice(self.used, self.used + len(points))
        self._room(where.stop)
        self.used = where.stop
        self.write(where, points, normals)
        if colours is not None:
            self.colours[where] = colours
        if glyphs is not None:
            self.shape(where, glyphs)
        return where

    def write(self, where, points, normals=None):
        """Change the place (and the normal) of rows; nothing is sent yet."""
        self.moving[where, :3] = points
        if normals is not None:
            self.moving[where, 3:] = normals

    def shape(self, where, glyphs):
        """Change what glyphs (N, 2) or letters (N, 4) look like; nothing is sent yet."""
        self.glyphs[where, : glyphs.shape[1]] = glyphs

    def cut(self, rows):
        """Give up the rows behind the first `rows`, and send everything."""
        self.used = rows
        for name in ("moving", "colours", "glyphs"):
            setattr(self, name, getattr(self, name)[: max(rows, 1)].copy())
        self.send_all()

    def send(self):
        """Send places and normals: one binary message."""
        self.buffer.array = self.moving[: self._sent].copy()

    def send_all(self):
        """Send everything: after rows were added, or colours changed."""
        self._sent = len(self.moving)
        self.send()
        self.send_colours()
        self.send_glyphs()

    def send_colours(self):
        """Send the colours: one binary message."""
        self.colour.array = self.colours.copy()

    def send_glyphs(self):
        """Send shapes and sizes: one binary message."""
        self.glyph.array = self.glyphs.copy()

    def _room(self, rows):
        if rows > len(self.moving):
            grown = max(rows, int(1.5 * len(self.moving)))
            for name in ("moving", "colours", "glyphs"):
                old = getattr(self, name)
                new = np.zeros((grown, old.shape[1]), np.float32)
                new[: len(old)] = old
                setattr(self, name, new)

    _sent = 0

    def close(self):
        """Close every widget of this page."""
        for widget in (*self.attributes.values(), self.buffer):
            widget.close()


def index(rows):
    """A list of rows as the attribute by which an object draws from a page."""
    return three.BufferAttribute(array=np.ascontiguousarray(rows, dtype=np.uint32).ravel(), normalized=False)


def geometry(page, rows, without=()):
    """A geometry that draws `rows` of a page; returns it with its index attribute.

    without: the attributes it can do without. The browser tells every object of each attribute that
    changed, on every way through the scene, so an object that leaves the normals out costs half as much a frame.
    """
    attribute = index(rows)
    wanted = {name: one for name, one in page.attributes.items() if name not in without}
    return three.BufferGeometry(attributes={**wanted, "index": attribute}), attribute
