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


@lru_cache(512)
def _look(kind, count):
    """`count` rows of a colour '#rrggbb' or of a tuple of numbers, read-only: the looks of marks are few, and each comes every frame."""
    made = np.tile(rgb(kind) if isinstance(kind, str) else np.array(kind), (count, 1))
    made.setflags(write=False)
    return made


def glyphs(points, shape, colour, size=13):
    """Glyphs of one look: points (N, 3) or (3,)."""
    points = _points(points)
    n = len(points)
    return Glyphs(points, _look((SHAPES[shape],), n)[:, 0], _look(colour, n), _look((float(size),), n)[:, 0])


def _points(given):
    """Points (N, 3) from (N, 3) or (3,)."""
    return np.asarray(given, dtype=float).reshape(-1, 3)


def strokes(starts, ends, colour, width=3.0, end_width=None):
    """Strokes of one look: starts and ends (S, 3) or (3,); tapered where `end_width` differs from `width`."""
    starts, ends = _points(starts), _points(ends)
    n = len(starts)
    return Strokes(starts, ends, _look(colour, n), _look((float(width), float(width if end_width is None else end_width)), n))


def path(points, colour, width=2.0, closed=False):
    """Strokes from each point (N, 3) to the next, and back to the first where `closed`."""
    points = np.asarray(points, dtype=float)
    following = np.roll(points, -1, axis=0)
    return strokes(points, following, colour, width) if closed else strokes(points[:-1], following[:-1], colour, width)


def dashes(start, end, colour, width=1.5, count=15):
    """A dashed line from `start` to `end` (3,): `count` dashes of the same length as the gaps between them."""
    begin, stop = _dashes(count)
    start, end = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    span = end - start
    return strokes(start + begin * span, start + stop * span, colour, width)


@lru_cache(16)
def _dashes(count):
    """Where `count` dashes begin and stop on a line of length 1, (count, 1) each, read-only."""
    begin = np.arange(0, 2 * count - 1, 2)[:, None] / (2 * count - 1)
    made = begin, begin + 1 / (2 * count - 1)
    for one in made:
        one.setflags(write=False)
    return made


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
    length = np.sqrt(np.einsum("si,si->s", along, along))
    along[length == 0] = [0.0, 1.0, 0.0]  # a stroke that is a dot
    length[length == 0] = 1.0
    along /= length[:, None]
    across = _cross(along, AXES[np.abs(along).argmin(axis=1)])
    across /= np.sqrt(np.einsum("si,si->s", across, across))[:, None]
    upright = _cross(along, across)
    around = np.concatenate([across, upright, -across, -upright], axis=1).reshape(-1, 1, 4, 3)
    half = (marks.widths * (metres_per_pixel / 2))[:, :, None, None]
    ends = np.concatenate([marks.starts, marks.ends], axis=1).reshape(-1, 2, 1, 3)
    return (ends + around * half).reshape(-1, 8, 3)


AXES = np.eye(3)


def _cross(a, b):
    """The cross products of rows (N, 3); for few rows much faster than numpy's."""
    x, y, z = a.T
    u, v, w = b.T
    made = np.empty_like(a)
    made[:, 0], made[:, 1], made[:, 2] = y * w - z * v, z * u - x * w, x * v - y * u
    return made


_SIDE = [[i, (i + 1) % 4, 4 + (i + 1) % 4] for i in range(4)] + [[i, 4 + (i + 1) % 4, 4 + i] for i in range(4)]
PRISM_TRIANGLES = np.array(_SIDE + [[2, 1, 0], [3, 2, 0], [4, 5, 6], [4, 6, 7]])  # (12, 3) into the eight corners


def joined(layers, kind):
    """All Glyphs or all Strokes of some layers as one, or None where there are none."""
    found = [m for layer in layers for m in getattr(layer, kind)]
    if not found:
        return None
    fields = found[0].__dataclass_fields__
    return type(found[0])(*(np.concatenate([getattr(m, f) for m in found]) for f in fields))
