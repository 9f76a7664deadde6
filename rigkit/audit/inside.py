"""Which points are inside a model: a ray is sent up from each, and the faces it goes out through and in through are counted.

Outward faces count +1, inward ones -1; a point is inside where more go out than in. Only faces over the point are looked at, so a
piece of the model costs no more than its share under the points.
"""

import numpy as np

SLANT = (0.0123, 0.0071)  # how far the ray leans, so that it meets no edge of a model built on a grid
TOGETHER = 8  # neighbouring points whose faces are looked for together


def faces(skins):
    """Return (corners (T, 3, 3), least (T, 3), most (T, 3)) of all triangles of the skins, as `inside` wants them.

    >>> from types import SimpleNamespace
    >>> corners = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1.0]])
    >>> tetrahedron = SimpleNamespace(vertices=corners, triangles=np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]]))
    >>> inside(faces([tetrahedron]), np.array([[0.2, 0.2, 0.2], [0.6, 0.6, 0.6]])).tolist()
    [True, False]
    """
    corners = np.concatenate([np.zeros((0, 3, 3)), *(_leaned(skin.vertices)[skin.triangles] for skin in skins)])
    return corners, corners.min(axis=1), corners.max(axis=1)


def inside(model, points):
    """Return whether each of the points (N, 3) is inside the model, (N,); model: as `faces` gives it. Points in a row go fastest."""
    points, (corners, least, most) = _leaned(points), model
    found = []
    for start in range(0, len(points), TOGETHER):
        some = points[start : start + TOGETHER]
        low, high = some.min(axis=0), some.max(axis=0)
        near = most[:, 1] >= low[1]
        for axis in (0, 2):
            near &= (least[:, axis] <= high[axis]) & (most[:, axis] >= low[axis])
        found.append(_turns(some, corners[near]) > 0)
    return np.concatenate(found)


def _leaned(points):
    """Points sheared so that the ray runs straight up."""
    return np.stack([points[:, 0] - SLANT[0] * points[:, 1], points[:, 1], points[:, 2] - SLANT[1] * points[:, 1]], axis=1)


def _turns(points, corners):
    """Faces met going out less faces met going in, above each point."""
    x, y, z = (points[:, k, None] for k in range(3))
    a, b, c = corners.transpose(1, 0, 2)
    areas = [_area(p, q, x, z) for p, q in ((b, c), (c, a), (a, b))]
    whole = sum(areas)
    hit = ((areas[0] > 0) == (areas[1] > 0)) & ((areas[1] > 0) == (areas[2] > 0)) & (whole != 0)
    height = sum(area * corner[:, 1] for area, corner in zip(areas, (a, b, c)))
    above = hit & (np.where(whole > 0, height - y * whole, y * whole - height) > 0)
    return (above * np.where(whole > 0, -1, 1)).sum(axis=1)


def _area(p, q, x, z):
    """Twice the signed area of the triangle point, p, q seen from below; (N, T)."""
    return (p[:, 0] - x) * (q[:, 2] - z) - (p[:, 2] - z) * (q[:, 0] - x)
