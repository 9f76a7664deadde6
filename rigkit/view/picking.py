"""Which part of the model a ray meets first, worked out in numpy from the posed triangles."""

import numpy as np


def first_hit(origin, direction, points, triangles):
    """The number of the triangle (T, 3) of points (V, 3) that a ray meets first and the distance, or None.

    Moeller & Trumbore, "Fast, minimum storage ray-triangle intersection", Journal of Graphics Tools 2 (1997) (memory).
    """
    a, b, c = (points[triangles[:, k]] for k in range(3))
    side, other = b - a, c - a
    across = np.cross(direction, other)
    det = np.einsum("ti,ti->t", side, across)
    safe = np.where(np.abs(det) < 1e-14, np.inf, det)
    from_a = origin - a
    u = np.einsum("ti,ti->t", from_a, across) / safe
    over = np.cross(from_a, side)
    v = over @ direction / safe
    t = np.einsum("ti,ti->t", over, other) / safe
    met = (u >= 0) & (v >= 0) & (u + v <= 1) & (t > 1e-9) & np.isfinite(safe)
    if not met.any():
        return None
    best = int(np.where(met, t, np.inf).argmin())
    return best, float(t[best])
