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


def clearance(one, other):
    """How two shells lie: negative metres for how deep they overlap, positive for the smallest gap, and the place of it (3,).

    one, other: (vertices, triangles). Vertices and middles of faces of each are
    tried against the other, so that an overlap smaller than a face can be missed
    by as much as that face is wide.
    """
    best = (np.inf, None)
    for (vertices, triangles), (shell, faces) in ((one, other), (other, one)):
        tried = np.concatenate([vertices, vertices[triangles].mean(axis=1)])
        low, high = shell.min(axis=0), shell.max(axis=0)
        outside = np.linalg.norm(np.maximum(np.maximum(low - tried, tried - high), 0), axis=1)  # from the box around the shell
        near = tried[outside <= np.sort(outside)[min(len(outside) - 1, 60)]][:200]
        gap, _ = distance(near, shell, faces)
        within = winding(near, shell, faces) > 0.5
        signed = np.where(within, -gap, gap)
        k = int(signed.argmin())
        if signed[k] < best[0]:
            best = float(signed[k]), near[k]
    return best
