"""Whether two shells run into each other, how deep, and how far apart they are.

A point is inside a closed shell where the shell's triangles, seen from the point,
cover the whole sphere: their solid angles add up to 4 pi (the winding number).
How deep it is inside is its distance to the nearest triangle.

Sources: Van Oosterom & Strackee, "The solid angle of a plane triangle", IEEE
Trans. Biomedical Engineering 30 (1983); Ericson, Real-Time Collision Detection
(2005), closest point on a triangle (both memory).
"""

import numpy as np


def winding(points, vertices, triangles):
    """How often a closed mesh surrounds points (P, 3): near 1 inside, near 0 outside, (P,)."""
    a, b, c = (vertices[triangles[:, k]][None] - points[:, None] for k in range(3))
    la, lb, lc = (np.linalg.norm(v, axis=2) for v in (a, b, c))
    volume = np.einsum("pti,pti->pt", a, np.cross(b, c))
    flat = la * lb * lc + np.einsum("pti,pti->pt", a, b) * lc + np.einsum("pti,pti->pt", b, c) * la + np.einsum("pti,pti->pt", c, a) * lb
    return 2 * np.arctan2(volume, flat).sum(axis=1) / (4 * np.pi)


def distance(points, vertices, triangles):
    """The distance of points (P, 3) to the nearest triangle of a mesh, and the nearest points on it: (P,), (P, 3)."""
    a, b, c = (vertices[triangles[:, k]][None] for k in range(3))
    p = points[:, None]
    nearest = _on_triangle(p, a, b, c)
    gap = np.linalg.norm(nearest - p, axis=2)
    best = gap.argmin(axis=1)
    rows = np.arange(len(points))
    return gap[rows, best], nearest[rows, best]


def _on_triangle(p, a, b, c):
    """The point of each triangle nearest to each p: its foot on the plane where that lies inside, else the best on an edge."""
    ab, ac = b - a, c - a
    n = np.cross(ab, ac)
    area = np.maximum(np.einsum("...i,...i->...", n, n), 1e-30)
    ap = p - a
    v = np.einsum("...i,...i->...", np.cross(ap, ac), n) / area
    w = np.einsum("...i,...i->...", np.cross(ab, ap), n) / area
    inside = (v >= 0) & (w >= 0) & (v + w <= 1)
    foot = a + v[..., None] * ab + w[..., None] * ac
    edges = np.stack([_on_edge(p, s, e) for s, e in ((a, b), (b, c), (c, a))])
    best = np.linalg.norm(edges - p, axis=-1).argmin(axis=0)
    on_edge = np.take_along_axis(edges, best[None, ..., None], axis=0)[0]
    return np.where(inside[..., None], foot, on_edge)


def _on_edge(p, s, e):
    along = e - s
    t = np.einsum("...i,...i->...", p - s, along) / np.maximum(np.einsum("...i,...i->...", along, along), 1e-30)
    return s + np.clip(t, 0, 1)[..., None] * along


def clearance(one, other, beyond=np.inf):
    """How two shells lie: negative metres for how deep they overlap, positive for the smallest gap, and the place of it (3,).

    one, other: (vertices, triangles). A pair whose boxes are farther apart than
    `beyond` is not looked at: (inf, None). Vertices of each are tried against the
    other's faces, so that an overlap smaller than a face can be missed by as much
    as that face is wide.
    """
    best = (np.inf, None)
    if _box_gap(one[0], other[0]) >= beyond:
        return best
    to_vertex = np.sqrt(np.maximum(_squares(one[0], other[0]), 0))
    for (vertices, _), (shell, faces), near in ((one, other, to_vertex.min(axis=1)), (other, one, to_vertex.min(axis=0))):
        boxed = np.flatnonzero((vertices >= shell.min(axis=0)).all(axis=1) & (vertices <= shell.max(axis=0)).all(axis=1))
        within = np.zeros(len(vertices), bool)
        within[boxed] = winding(vertices[boxed], shell, faces) > 0.5
        deep = np.flatnonzero(within)
        tried = deep[np.argsort(-near[deep])[:TRIED]] if len(deep) else np.argsort(near)[:TRIED]
        gap, _ = distance(vertices[tried], shell, faces)
        signed = np.where(within[tried], -gap, gap)
        k = int(signed.argmin())
        if signed[k] < best[0]:
            best = float(signed[k]), vertices[tried[k]]
    return best


TRIED = 16  # vertices whose exact distance is taken: the nearest, or the deepest


def _box_gap(a, b):
    """The distance between the boxes around two sets of points."""
    return float(np.linalg.norm(np.maximum(np.maximum(a.min(axis=0) - b.max(axis=0), b.min(axis=0) - a.max(axis=0)), 0)))


def _squares(a, b):
    """Squared distances between points (N, 3) and (M, 3), (N, M)."""
    return (a * a).sum(axis=1)[:, None] + (b * b).sum(axis=1) - 2 * a @ b.T
