"""Solid shapes from rings: a closed outline moved along a line, ring after ring, makes tubes, drums, boxes and sleeves.

An *outline* is a closed row of points (N, 2) that runs counter-clockwise. A
*place* says where it stands: an origin and three unit axes u, v, w, right-handed.
Outline point (a, b) set at height s is origin + a u + b v + s w. Rings (R, N, 3)
joined by quads and closed by a fan at either end are a solid whose every ring is
a closed loop of edges, so that the joint of a machine can be found again at the
centre of one of them.
"""

from math import fsum, hypot
from typing import NamedTuple

import numpy as np

from rigkit.mesh import Mesh, joined


class Place(NamedTuple):
    """Where a shape stands: origin (3,) and the unit axes u, v, w (3,), right-handed."""

    origin: np.ndarray
    u: np.ndarray
    v: np.ndarray
    w: np.ndarray

    def at(self, a=0.0, b=0.0, s=0.0):
        """The point origin + a u + b v + s w."""
        return self.origin + a * self.u + b * self.v + s * self.w

    def moved(self, a=0.0, b=0.0, s=0.0):
        """The same axes with the origin at (a, b, s)."""
        return self._replace(origin=self.at(a, b, s))


def place(origin, along, side):
    """Return the place at `origin` with w along `along` and u as near to `side` as can be square to it.

    >>> place([0, 0, 0], [0, 0, 2], [1, 0, 1]).v
    array([0., 1., 0.])
    """
    w = unit(along)
    side = np.asarray(side, dtype=np.float64)
    u = unit(side - (side @ w) * w)
    return Place(np.asarray(origin, dtype=np.float64), u, np.cross(w, u), w)


def unit(v):
    """Return `v` (3,) scaled to length one."""
    v = np.asarray(v, dtype=np.float64)
    return v / np.sqrt(v @ v)


# ---- outlines -------------------------------------------------------------------------------------------------


def circle(count, turn=0.0):
    """Return a circle of radius one as `count` points, the first at `turn` radians.

    Rounded to 1e-12, so that points which mirror each other do so bit for bit.
    """
    t = turn + 2.0 * np.pi * np.arange(count) / count
    return np.round(np.stack([np.cos(t), np.sin(t)], axis=1), 12) + 0.0


def d_outline(count=18, flat_edges=2, cut=0.55, crowding=0.9, crowded_at=1.95):
    """Return a D: a circle of radius one cut straight across on the side of -b, unevenly spaced.

    The flat has `flat_edges` edges along +a. On the round part the points stand close
    around the angle `crowded_at` (radians from +a) and far apart opposite: the density
    there is 1 + crowding cos(angle - crowded_at). Shifted so that the area centre is
    at (0, 0), which the mean of the points is not.

    >>> outline = d_outline()
    >>> bool(np.abs(outline_centre(outline)).max() < 1e-15), bool(np.hypot(*outline.mean(axis=0)) > 0.28)
    (True, True)
    """
    corner = -np.arcsin(cut)
    fine = np.linspace(corner, np.pi - corner, 2001)
    density = fine + crowding * (np.sin(fine - crowded_at) - np.sin(corner - crowded_at))
    steps = np.linspace(density[0], density[-1], count - flat_edges + 1)
    t = np.interp(steps, density, fine)
    half = np.cos(corner)
    flat = np.linspace(-half, half, flat_edges + 1)[1:-1]
    outline = np.concatenate([np.stack([np.cos(t), np.sin(t)], axis=1), np.stack([flat, np.full(len(flat), -cut)], axis=1)])
    return outline - outline_centre(outline)


def hexagon(width, depth, chamfer, side_chamfer):
    """Return a hexagon with points at +-a and flats at +-b, every corner cut off, as 12 points.

    width, depth: corner to corner along a, flat to flat along b. chamfer: how far along
    each edge the four corners are cut; side_chamfer: the same for the two at +-a.
    """
    corners = np.array([[0.5, 0], [0.25, 0.5], [-0.25, 0.5], [-0.5, 0], [-0.25, -0.5], [0.25, -0.5]]) * [width, depth]
    cuts = np.array([side_chamfer, chamfer, chamfer] * 2)
    before, after = np.roll(corners, 1, axis=0) - corners, np.roll(corners, -1, axis=0) - corners
    first = corners + before * (cuts / np.hypot(*before.T))[:, None]
    second = corners + after * (cuts / np.hypot(*after.T))[:, None]
    return np.stack([first, second], axis=1).reshape(-1, 2)


def rounded_rectangle(width, height, radius, steps=2, across=1):
    """Return a rectangle around (0, 0) with round corners, each of `steps` edges; long sides have `across` edges.

    The first point is the lower end of the right-hand side; 4 (steps + 1) points, and
    2 (across - 1) more on the two sides of length `width`.
    """
    quarter = 0.5 * np.pi * np.arange(steps + 1) / steps
    arc = radius * np.stack([np.cos(quarter), np.sin(quarter)], axis=1)
    x, y = 0.5 * width - radius, 0.5 * height - radius
    between = np.linspace(x, -x, across + 1)[1:-1]
    top = np.stack([between, np.full(len(between), 0.5 * height)], axis=1)
    upper = np.concatenate([arc + [x, y], top, arc[::-1] * [-1, 1] + [-x, y]])
    return np.concatenate([upper, -upper])


def outline_centre(outline):
    """Return the area centre (2,) of an outline (N, 2): the mean of a fan's triangles, each counted with its area."""
    following = np.roll(outline, -1, axis=0)
    cross = outline[:, 0] * following[:, 1] - outline[:, 1] * following[:, 0]
    return (cross[:, None] * (outline + following)).sum(axis=0) / (3.0 * cross.sum())


# ---- solids ---------------------------------------------------------------------------------------------------


def ring(outline, where, s=0.0):
    """Return `outline` (N, 2) set at `where`, at height s: (N, 3)."""
    return where.at(s=s) + outline[:, :1] * where.u + outline[:, 1:] * where.v


def loft(rings):
    """Return the solid through `rings` (R, N, 3): quads between them, a fan at either end.

    Rings run counter-clockwise about the way from the first to the last. Ring k has
    the vertices k N to k N + N - 1; the two fan centres, each at the mean of its ring, come
    last. Rings of four points are closed by one quad instead.
    """
    rings = np.asarray(rings)
    rows, count = rings.shape[:2]
    a = np.arange(count)
    b = (a + 1) % count
    quads = np.stack([a, b, b + count, a + count], axis=1)
    sides = (quads + count * np.arange(rows - 1)[:, None, None]).reshape(-1, 4)
    if count == 4:
        return Mesh(rings.reshape(-1, 3), np.concatenate([sides, [a[::-1], a + 4 * rows - 4]]))
    low, high, none = np.full(count, rows * count), np.full(count, rows * count + 1), np.full(count, -1)
    last = (rows - 1) * count
    caps = np.concatenate([np.stack([low, b, a, none], axis=1), np.stack([high, a + last, b + last, none], axis=1)])
    centres = [_middle(rings[0]), _middle(rings[-1])]
    return Mesh(np.concatenate([rings.reshape(-1, 3), centres]), np.concatenate([sides, caps]))


def _middle(points):
    """The mean of points, summed without rounding: exactly 0 where they stand symmetric about 0."""
    return [fsum(column) / len(points) for column in points.T.tolist()]


def stacked(outline_of, where, stations, bevel=0.002):
    """Return the solid with the outline `outline_of(r)` at height s for each (s, r) of the bevelled `stations`."""
    return loft([ring(outline_of(r), where, s) for s, r in bevelled(stations, bevel)])


def turned(stations, where, count=24, bevel=0.002):
    """Return a solid of revolution about w: `stations` (s, radius) or (s, radius, bevel); see `bevelled`."""
    outline = circle(count)
    return stacked(lambda radius: radius * outline, where, stations, bevel)


def box(size, where, bevel=0.0):
    """Return a box of `size` (a, b, s) that stands on `where`, all edges cut by `bevel`, none where it is 0."""
    a, b, s = size
    if bevel == 0.0:
        return loft([ring(0.5 * np.array([[a, -b], [a, b], [-a, b], [-a, -b]]), where, h) for h in (0.0, s)])
    outer = rounded_rectangle(a, b, bevel, 1)
    inner = rounded_rectangle(a - 2 * bevel, b - 2 * bevel, bevel, 1)
    return loft([ring(outline, where, h) for outline, h in ((inner, 0.0), (outer, bevel), (outer, s - bevel), (inner, s))])


def bevelled(stations, bevel):
    """Return the profile `stations` with its corners cut, as a list of (s, radius).

    A station is (s, radius) or (s, radius, its own bevel), metres; a bevel of 0 keeps it.
    The profile starts and ends on the axis, so its first and last station are corners
    too. A station on a straight line stays one.

    >>> bevelled([(0, 4), (2, 4)], 1)
    [(0.0, 3.0), (0.9, 4.0), (1.1, 4.0), (2.0, 3.0)]
    """
    points = [(stations[0][0], 0.0), *((p[0], p[1]) for p in stations), (stations[-1][0], 0.0)]
    sizes = [p[2] if len(p) > 2 else bevel for p in stations]
    return [cut for before, corner, after, size in zip(points, points[1:], points[2:], sizes) for cut in _cut(before, corner, after, size)]


def _cut(before, corner, after, size):
    """The corner, or the two points that a bevel makes of it: at most 0.45 of the way to a neighbour."""
    s, r = corner
    ways = [(before[0] - s, before[1] - r), (after[0] - s, after[1] - r)]
    lengths = [hypot(*way) for way in ways]
    turn = ways[0][0] * ways[1][1] - ways[0][1] * ways[1][0]
    if size == 0.0 or abs(turn) <= 1e-9 * lengths[0] * lengths[1]:
        return [(float(s), float(r))]
    shares = [min(size / length, 0.45) for length in lengths]
    return [(float(s + share * ds), float(r + share * dr)) for share, (ds, dr) in zip(shares, ways)]


# ---- two sides ------------------------------------------------------------------------------------------------


def reflected(mesh):
    """Return the mirror image over x = 0, vertex by vertex, faces turned over so that they still look outward."""
    a, b, c, d = mesh.faces.T
    quad = d >= 0
    faces = np.stack([np.where(quad, d, a), c, b, np.where(quad, a, -1)], axis=1)
    return Mesh(mesh.vertices * [-1.0, 1.0, 1.0], faces)


def both_sides(mesh):
    """Return `mesh` and its mirror image as one mesh."""
    return joined([mesh, reflected(mesh)])
