"""When two triangle shells touch, one of them turning about the y axis: halving the turn where nothing proves it free.

Two facts make the proof. A point at radius r moves by less than r times the angle it turns, so shells that are g apart stay
apart for g / r to either side. And along any direction the gap between the shadows of two triangles is no more than their
distance; a turn is called free by that gap, so never wrongly. Two triangles that are apart have a gap along one of their
normals, along a cross product of their edges, or along a normal of an edge in its plane (the separating axes: Gottschalk, Lin &
Manocha, OBBTree, SIGGRAPH 1996; Ericson, Real-Time Collision Detection, 2005, chapter 5 (memory)). So what is apart is proved
so, if the halving goes on long enough.

Triangles are (T, 3, 3) metres, the hinge through the origin along y.
"""

import numpy as np

from rigkit import arithmetic

BLOCK = 8192  # pairs whose gaps are taken together
ROUNDING = 1e-12  # metres


def first_touch(fixed, moving, most, clearance, tolerance):
    """Return the first angle, radians up to `most`, at which the shells are not proved `clearance` apart; inf for none."""
    pairs = candidates(fixed, moving, clearance)
    radius = np.sqrt(_radii(moving)[1])
    return _search(fixed, moving, pairs, radius, 0.0, most, clearance, tolerance)


def _search(fixed, moving, pairs, radius, low, high, clearance, tolerance):
    """The first angle from low to high, the earlier half first; only the pairs that may touch in between go on."""
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    pairs = _not_free(fixed, moving, pairs, middle, radius[pairs[:, 1]] * half + clearance)
    if not len(pairs):
        return np.inf
    if high - low <= tolerance:
        return low
    early = _search(fixed, moving, pairs, radius, low, middle, clearance, tolerance)
    return early if early < np.inf else _search(fixed, moving, pairs, radius, middle, high, clearance, tolerance)


def _not_free(fixed, moving, pairs, angle, needed):
    """Those pairs whose gap at this angle is not above what is needed: first by their balls, then by their shadows."""
    turn = np.array([0.0, np.sin(angle / 2), 0.0, np.cos(angle / 2)])
    turned = arithmetic.rotate(turn, moving)
    (here, size), (there, other) = _balls(fixed), _balls(turned)
    a, b = pairs.T
    apart = np.sqrt(np.square(here[a] - there[b]).sum(axis=1)) - size[a] - other[b]
    near = apart <= needed
    pairs, needed = pairs[near], needed[near]
    keep = [gaps(fixed[p[:, 0]], turned[p[:, 1]]) <= n for p, n in zip(_blocks(pairs), _blocks(needed))]
    return pairs[np.concatenate(keep)] if keep else pairs


def gaps(one, other):
    """The widest gap between the shadows of triangles (P, 3, 3), metres (P,): never above their distance, below 0 where they meet."""
    edges, others = np.roll(one, -1, axis=1) - one, np.roll(other, -1, axis=1) - other
    normals = np.cross(edges[:, 0], edges[:, 1])[:, None], np.cross(others[:, 0], others[:, 1])[:, None]
    crossed = np.cross(edges[:, :, None], others[:, None]).reshape(len(one), 9, 3)
    between = other.mean(axis=1, keepdims=True) - one.mean(axis=1, keepdims=True)
    axes = np.concatenate([*normals, crossed, np.cross(normals[0], edges), np.cross(normals[1], others), between], axis=1)
    length = np.sqrt(np.einsum("pki,pki->pk", axes, axes))
    scale = np.square(one - one[:, :1]).sum(axis=2).max(axis=1) + np.square(other - other[:, :1]).sum(axis=2).max(axis=1)
    flat = length <= ROUNDING * np.maximum(scale, ROUNDING)[:, None]
    axes = axes / np.where(flat, 1.0, length)[..., None]
    here, there = np.einsum("pki,pvi->pkv", axes, one), np.einsum("pki,pvi->pkv", axes, other)
    gap = np.maximum(there.min(axis=2) - here.max(axis=2), here.min(axis=2) - there.max(axis=2))
    return np.where(flat, -np.inf, gap).max(axis=1)


def candidates(fixed, moving, clearance):
    """The pairs (P, 2) that some turn may bring together: those that share heights and radii, which no turn changes."""
    low, high = fixed[..., 1].min(axis=1) - clearance, fixed[..., 1].max(axis=1) + clearance
    bottom, top = moving[..., 1].min(axis=1), moving[..., 1].max(axis=1)
    (near, far), (inside, outside) = np.sqrt(_radii(fixed)), np.sqrt(_radii(moving))
    order = np.argsort(bottom)
    tallest = (top - bottom).max()
    start = np.searchsorted(bottom[order], low - tallest - ROUNDING)
    stop = np.searchsorted(bottom[order], high + ROUNDING, side="right")
    count = np.maximum(stop - start, 0)
    a = np.repeat(np.arange(len(fixed)), count)
    b = order[np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + np.repeat(start, count)]
    shared = (bottom[b] <= high[a] + ROUNDING) & (top[b] >= low[a] - ROUNDING)
    shared &= (inside[b] <= far[a] + clearance + ROUNDING) & (outside[b] >= near[a] - clearance - ROUNDING)
    return np.stack([a[shared], b[shared]], axis=1)


def _radii(triangles):
    """The squares of the least and the greatest distance of triangles from the axis, (2, T)."""
    p = triangles[..., [0, 2]]
    q = np.roll(p, -1, axis=1)
    way = q - p
    square = np.maximum(np.square(way).sum(axis=2), np.finfo(float).tiny)
    share = np.clip(-(p * way).sum(axis=2) / square, 0.0, 1.0)
    nearest = np.square(p + share[..., None] * way).sum(axis=2).min(axis=1)
    side = p[..., 0] * q[..., 1] - p[..., 1] * q[..., 0]
    around = (side > 0).all(axis=1) | (side < 0).all(axis=1)
    return np.stack([np.where(around, 0.0, nearest), np.square(p).sum(axis=2).max(axis=1)])


def _balls(triangles):
    middle = triangles.mean(axis=1)
    return middle, np.sqrt(np.square(triangles - middle[:, None]).sum(axis=2).max(axis=1))


def _blocks(array):
    return [array[i : i + BLOCK] for i in range(0, len(array), BLOCK)]
