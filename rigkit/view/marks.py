"""What is drawn over the model, described in plain numpy: glyphs, strokes, words and sheets.

Glyphs and strokes keep their size on the screen whatever the zoom, so that a
joint can be seen and picked from far and does not hide what is near. A painter
turns the description into pixels: the browser's (`stage`) or the still
picture's (`picture`).
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

SHAPES = {"round": 0, "square": 1, "diamond": 2, "target": 3, "triangle": 4, "ring": 5, "cross": 6}


@dataclass(frozen=True, eq=False)
class Glyphs:
    """points (N, 3), shapes (N,) numbers of SHAPES, colours (N, 3) from 0 to 1, sizes (N,) in pixels."""

    points: np.ndarray
    shapes: np.ndarray
    colours: np.ndarray
    sizes: np.ndarray


@dataclass(frozen=True, eq=False)
class Strokes:
    """starts, ends (S, 3), colours (S, 3), widths (S, 2) in pixels at the start and at the end."""

    starts: np.ndarray
    ends: np.ndarray
    colours: np.ndarray
    widths: np.ndarray


@dataclass(frozen=True)
class Word:
    """A text beside a point (3,): offset in pixels, right and up."""

    text: str
    point: tuple
    colour: str = "#ECECEC"
    offset: tuple = (0, 16)
    size: int = 13


@dataclass(frozen=True, eq=False)
class Sheet:
    """A thin, see-through surface: vertices (V, 3), triangles (T, 3), colour, opacity."""

    vertices: np.ndarray
    triangles: np.ndarray
    colour: str
    opacity: float = 0.16


@dataclass(frozen=True, eq=False)
class Layer:
    """Marks that come and go together."""

    glyphs: tuple = ()
    strokes: tuple = ()
    words: tuple = ()
    sheets: tuple = ()


@lru_cache(256)
def rgb(colour):
    """'#rrggbb' as three numbers from 0 to 1, read-only.

    >>> rgb("#FF0080").round(2).tolist()
    [1.0, 0.0, 0.5]
    """
    made = np.array([int(colour[i:i + 2], 16) for i in (1, 3, 5)]) / 255.0
    made.setflags(write=False)
    return made


@lru_cache(256)
def mix(colour, other, share):
    """`colour` with `share` of `other` in it, as '#rrggbb'."""
    blended = (1 - share) * rgb(colour) + share * rgb(other)
    return "#" + "".join(f"{round(255 * c):02X}" for c in blended)


def glyphs(points, shape, colour, size=13):
    """Glyphs of one look: points (N, 3) or (3,)."""
    points = np.atleast_2d(np.asarray(points, dtype=float))
    n = len(points)
    return Glyphs(points, np.full(n, SHAPES[shape]), np.broadcast_to(rgb(colour), (n, 3)), np.full(n, float(size)))


def strokes(starts, ends, colour, width=3.0, end_width=None):
    """Strokes of one look: starts and ends (S, 3) or (3,); tapered where `end_width` differs from `width`."""
    starts, ends = np.atleast_2d(np.asarray(starts, dtype=float)), np.atleast_2d(np.asarray(ends, dtype=float))
    n = len(starts)
    widths = np.broadcast_to([float(width), float(width if end_width is None else end_width)], (n, 2))
    return Strokes(starts, ends, np.broadcast_to(rgb(colour), (n, 3)), widths)


def path(points, colour, width=2.0, closed=False):
    """Strokes from each point (N, 3) to the next, and back to the first where `closed`."""
    points = np.asarray(points, dtype=float)
    following = np.roll(points, -1, axis=0)
    return strokes(points, following, colour, width) if closed else strokes(points[:-1], following[:-1], colour, width)


def dashes(start, end, colour, width=1.5, count=15):
    """A dashed line from `start` to `end` (3,): `count` dashes of the same length as the gaps between them."""
    at = np.arange(2 * count - 1) / (2 * count - 1)
    step = 1 / (2 * count - 1)
    start, end = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    span = end - start
    return strokes(start + at[::2, None] * span, start + (at[::2, None] + step) * span, colour, width)


def circle(centre, normal, radius, colour, width=1.5, count=64):
    """A circle around `normal` (3,), metres."""
    return path(ring(centre, normal, radius, count), colour, width, closed=True)


def ring(centre, normal, radius, count=64):
    """`count` points on a circle, (count, 3)."""
    normal = np.asarray(normal, dtype=float) / np.linalg.norm(normal)
    across = np.cross(normal, np.eye(3)[np.argmin(np.abs(normal))])
    across /= np.linalg.norm(across)
    turn = np.linspace(0, 2 * np.pi, count, endpoint=False)[:, None]
    return np.asarray(centre, dtype=float) + radius * (np.cos(turn) * across + np.sin(turn) * np.cross(normal, across))


def prisms(marks, metres_per_pixel):
    """The corners of slim four-sided prisms around Strokes, (S, 8, 3): four at the start, four at the end."""
    along = marks.ends - marks.starts
    length = np.sqrt(np.einsum("si,si->s", along, along))[:, None]
    along = np.divide(along, length, out=np.tile([0.0, 1.0, 0.0], (len(along), 1)), where=length > 0)
    helper = np.eye(3)[np.abs(along).argmin(axis=1)]
    across = _cross(along, helper)
    across /= np.sqrt(np.einsum("si,si->s", across, across))[:, None]
    upright = _cross(along, across)
    around = np.stack([across, upright, -across, -upright], axis=1)
    half = marks.widths * metres_per_pixel / 2
    start = marks.starts[:, None] + around * half[:, :1, None]
    end = marks.ends[:, None] + around * half[:, 1:, None]
    return np.concatenate([start, end], axis=1)


def _cross(a, b):
    """The cross products of rows (N, 3); for few rows much faster than numpy's."""
    x, y, z = a.T
    u, v, w = b.T
    return np.stack([y * w - z * v, z * u - x * w, x * v - y * u], axis=1)


_SIDE = [[i, (i + 1) % 4, 4 + (i + 1) % 4] for i in range(4)] + [[i, 4 + (i + 1) % 4, 4 + i] for i in range(4)]
PRISM_TRIANGLES = np.array(_SIDE + [[2, 1, 0], [3, 2, 0], [4, 5, 6], [4, 6, 7]])  # (12, 3) into the eight corners


def joined(layers, kind):
    """All Glyphs or all Strokes of some layers as one, or None where there are none."""
    found = [m for layer in layers for m in getattr(layer, kind)]
    if not found:
        return None
    fields = found[0].__dataclass_fields__
    return type(found[0])(*(np.concatenate([getattr(m, f) for m in found]) for f in fields))
