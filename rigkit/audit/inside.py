"""Which points are inside a model: a ray is sent up from each, and the faces it goes out through and in through are counted.

Outward faces count +1, inward ones -1; a point is inside where more go out than in. Only faces over the point are looked at, so a
piece of the model costs no more than its share under the points.
"""

import numpy as np

SLANT = (0.0123, 0.0071)  # how far the ray leans, so that it meets no edge of a model built on a grid
PAIRS = 2_000_000  # points times faces looked at together


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
    """Return whether each of the points (N, 3) is inside the model, (N,); model: as `faces` gives it. Points near each other go fastest."""
    points = _leaned(points)
    model = _over(model, points)
    together = max(1, PAIRS // max(1, len(model[0])))
    return np.concatenate([np.zeros(0, bool), *(_counted(model, points[k : k + together]) > 0 for k in range(0, len(points), together))])


def _over(model, points):
    """The faces of a model that are over or beside any of the leaned points."""
    if not len(points):
        return model
    _, least, most = model
    near = most[:, 1] >= points[:, 1].min()
    for axis in (0, 2):
        near &= (least[:, axis] <= points[:, axis].max()) & (most[:, axis] >= points[:, axis].min())
    return tuple(rows[near] for rows in model)


def _counted(model, points):
    """For each leaned point, the faces a ray meets going out less those it meets going in, (N,)."""
    corners, least, most = model
    near = most[:, 1] >= points[:, 1, None]
    for axis in (0, 2):
        near &= (least[:, axis] <= points[:, axis, None]) & (most[:, axis] >= points[:, axis, None])
    point, face = np.nonzero(near)
    return np.bincount(point, _turns(points[point], corners[face]), minlength=len(points))


def _leaned(points):
    """Points sheared so that the ray runs straight up."""
    return np.stack([points[:, 0] - SLANT[0] * points[:, 1], points[:, 1], points[:, 2] - SLANT[1] * points[:, 1]], axis=1)


def _turns(points, corners):
    """For each pair of a point and a face, 1 where the ray goes out through it, -1 where in, 0 where it misses."""
    x, y, z = points.T
    a, b, c = corners.transpose(1, 0, 2)
    areas = [_area(p, q, x, z) for p, q in ((b, c), (c, a), (a, b))]
    whole = sum(areas)
    hit = ((areas[0] > 0) == (areas[1] > 0)) & ((areas[1] > 0) == (areas[2] > 0)) & (whole != 0)
    height = sum(area * corner[:, 1] for area, corner in zip(areas, (a, b, c)))
    above = hit & (np.where(whole > 0, height - y * whole, y * whole - height) > 0)
    return above * np.where(whole > 0, -1, 1)


def _area(p, q, x, z):
    """Twice the signed area of the triangle point, p, q seen from below, pair by pair."""
    return (p[:, 0] - x) * (q[:, 2] - z) - (p[:, 2] - z) * (q[:, 0] - x)
