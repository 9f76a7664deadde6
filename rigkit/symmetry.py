"""Symmetry found and measured: the plane of a model, what has a partner on the other side, and how far off the rest is.

A set of points that is symmetric about a plane looks the same along the plane's
normal from both sides. So the normal is a main axis of the set, and the plane
goes through its mean: that leaves a few candidates, and counting partners picks
one. Partners are looked up in a grid of small cells, not pair by pair.
"""

from dataclasses import dataclass

import numpy as np

from rigkit import arguments, mirror
from rigkit.arithmetic import dot
from rigkit.mirror import Plane

MOST_CELLS = 1_000_000  # along one axis: their number in the grid must fit an integer
LEAST = 0.5  # share of the points that must have a partner before a plane counts as found


@dataclass(frozen=True, eq=False)
class Partners:
    """For each of N points: `partner`, the place of the point nearest to its mirror image (-1: none near), `distance`, metres (inf)."""

    partner: np.ndarray
    distance: np.ndarray

    @property
    def share(self):
        """The share of points with a partner, 0 to 1."""
        return float((self.partner >= 0).mean()) if len(self.partner) else 0.0


def partners(points, plane, tolerance=1e-4):
    """Return the Partners of points (N, 3): which of them stands within `tolerance` metres of each one's mirror image.

    A point on the plane is its own partner.

    >>> partners([[1, 0, 0], [-1, 0, 0], [0, 2, 0], [3, 0, 0]], Plane()).partner
    array([ 1,  0,  2, -1])
    """
    points = _set(points)
    _positive("tolerance", tolerance)
    return Partners(*_nearest(mirror.points(points, plane), points, tolerance))


def _nearest(images, points, within):
    """(place (N,), distance (N,)) of the point nearest to each image: -1 and inf where none is within so many metres."""
    both = np.vstack([points, images])
    cell = max(within, np.ptp(both, axis=0).max() / MOST_CELLS)
    places = np.floor((both - both.min(axis=0)) / cell).astype(np.int64) + 1
    cells, at = _Cells(places[: len(points)]), places[len(points):]
    best, distance = np.full(len(images), -1), np.full(len(images), np.inf)
    for step in np.ndindex(3, 3, 3):
        for row, found in cells.each(at + np.array(step) - 1):
            apart = np.linalg.norm(points[found] - images[row], axis=1)
            nearer = (apart <= within) & (apart < distance[row])
            best[row[nearer]], distance[row[nearer]] = found[nearer], apart[nearer]
    return best, distance


def best_plane(points, tolerance=1e-3):
    """Return the Plane about which points (N, 3) are most nearly symmetric.

    Candidates are the main axes of the set and the world's axes, through the
    mean; the one with the most partners within `tolerance` metres is then fitted
    to those pairs. Raises where less than half of the points have one.

    >>> plane = best_plane([[1, 0, 0], [3, 0, 0], [1, 5, 1], [3, 5, 1], [1.5, 9, 0], [2.5, 9, 0]])
    >>> plane.normal, float(plane.point @ plane.normal)
    (array([1., 0., 0.]), 2.0)
    """
    points = _set(points)
    middle = points.mean(axis=0)
    axes = np.vstack([np.eye(3), np.linalg.eigh(np.cov(points.T, bias=True))[1].T])
    tried = [Plane(middle, axis) for axis in axes]
    shares = [partners(points, plane, tolerance).share for plane in tried]
    best = int(np.argmax(shares))
    if shares[best] < LEAST:
        raise ValueError(
            f"the best plane gives {shares[best]:.0%} of {len(points)} points a partner within {tolerance:g} m; "
            "expected half or more: is it symmetric?"
        )
    found = partners(points, tried[best], tolerance).partner
    some = found >= 0
    return plane_of_pairs(points[some], points[found[some]], tried[best].normal)


def plane_of_pairs(left, right, towards=(1.0, 0.0, 0.0)):
    """Return the Plane that mirrors the points `left` (N, 3) into `right` (N, 3) with the least sum of squared distances.

    It goes through the mean m of their middles; its normal, on the side of
    `towards`, is the n for which the sum of (n . (left - m)) (n . (right - m)) is
    least: written out, the sum of squares is a constant plus four times that. So
    the differences of the pairs count, and the middles, which should lie in the
    plane. Raises where all differences are zero.

    >>> plane_of_pairs([[3, 0, 0], [3, 1, 0]], [[1, 0, 0], [1, 1, 0]]).point
    array([2. , 0.5, 0. ])
    """
    left, right = _set(left, "left"), _set(right, "right")
    if left.shape != right.shape:
        raise ValueError(f"left {left.shape} and right {right.shape} do not fit; expected one partner for each point")
    if (left == right).all():
        raise ValueError("every point is its own partner; expected pairs on two sides of a plane")
    middle = (left + right).mean(axis=0) / 2
    product = (left - middle).T @ (right - middle)
    normal = np.linalg.eigh(product + product.T)[1][:, 0]
    normal = normal if normal @ arguments.directions("towards", towards) >= 0 else -normal
    return Plane(middle, normal + 0.0)


def snap(points, plane, within):
    """Return points (..., 3) with those nearer than `within` metres to the plane put on it; the others stay.

    >>> snap([[0.001, 1, 0], [0.2, 1, 0]], Plane(), 0.005)
    array([[0. , 1. , 0. ],
           [0.2, 1. , 0. ]])
    """
    points = arguments.points("points", points)
    _positive("within", within)
    height = dot(points - plane.point, plane.normal)
    return np.where(np.abs(height) < within, points - height * plane.normal, points)


def asymmetry(skeleton, plane, rename=mirror.names):
    """Return {name: metres}: how far each joint at rest is from the mirror image of its counterpart, inf where there is none.

    A joint with no side is its own counterpart: it should stand on the plane. rename: see `mirror.skeleton`.

    >>> from rigkit.skeleton import Skeleton
    >>> asymmetry(Skeleton(["left_eye", "right_eye"], [-1, -1], [[0.1, 1, 0], [-0.1, 1, 0.25]]), Plane())
    {'left_eye': 0.25, 'right_eye': 0.25}
    """
    places, other = skeleton.rest_world.positions, mirror.counterparts(skeleton.names, rename)
    off = np.linalg.norm(places - mirror.points(places[other], plane), axis=-1)
    return {name: float(d) for name, d in zip(skeleton.names, np.where(other < 0, np.inf, off), strict=True)}


def shape_asymmetry(shapes, plane, within=0.01, rename=mirror.names):
    """Return {name: metres}: how far the mirror image of each part of a model is from its counterpart, at its worst point.

    shapes: name to points (N, 3). The counterpart is the part of the other side's name, see `rename`, or the part itself
    for a name with no side. Inf where it is missing, or where a point is farther than `within` metres from all of its.

    >>> shape_asymmetry({"left_eye": [[0.1, 1, 0]], "right_eye": [[-0.1, 1, 0.004]], "left_hook": [[0.3, 1, 0]]}, Plane())
    {'left_eye': 0.004, 'right_eye': 0.004, 'left_hook': inf}
    """
    _positive("within", within)
    shapes = {name: _set(points, name) for name, points in shapes.items()}
    found = {}
    for name, points in shapes.items():
        other = shapes.get(rename(name))
        found[name] = np.inf if other is None else float(_nearest(mirror.points(points, plane), other, within)[1].max())
    return found


def weights(weights, partner, counterpart):
    """Return weights (V, J) mirrored: each vertex takes its partner's, joint by counterpart.

    partner: (V,), as `partners` gives it; counterpart: (J,), as
    `mirror.counterparts` gives it. Raises where one of either is missing.

    >>> weights([[1.0, 0.0], [0.25, 0.75]], np.array([1, 0]), np.array([1, 0]))
    array([[0.75, 0.25],
           [0.  , 1.  ]])
    """
    weights = arguments.array("weights", weights, ())
    partner, counterpart = np.asarray(partner), np.asarray(counterpart)
    if weights.shape != (len(partner), len(counterpart)):
        raise ValueError(
            f"weights has shape {weights.shape}; "
            f"expected ({len(partner)}, {len(counterpart)}): a row a partner, a column a counterpart"
        )
    for name, places in (("partner", partner), ("counterpart", counterpart)):
        if (places < 0).any():
            raise ValueError(
                f"{name}[{int((places < 0).argmax())}] is missing; "
                "expected one for each: mirror the model or the skeleton first"
            )
    return weights[partner][:, counterpart]


# ---------------------------------------------------------------- helpers


class _Cells:
    """Points sorted by the cell of a grid they stand in, for look-up by cell."""

    def __init__(self, cells):
        self.size = cells.max(axis=0) + 3
        key = self._key(cells)
        self.order = np.argsort(key, kind="stable")
        self.key = key[self.order]

    def _key(self, cells):
        return (cells[:, 0] * self.size[1] + cells[:, 1]) * self.size[2] + cells[:, 2]

    def each(self, cells):
        """Yield (rows, places): for rows of `cells`, one point that stands in that cell; again for cells with several."""
        inside = ((cells >= 0) & (cells < self.size)).all(axis=1)
        rows = np.flatnonzero(inside)
        key = self._key(cells[rows])
        start, stop = np.searchsorted(self.key, key), np.searchsorted(self.key, key, side="right")
        while (start < stop).any():
            some = start < stop
            rows, start, stop = rows[some], start[some], stop[some]
            yield rows, self.order[start]
            start = start + 1


def _set(points, name="points"):
    points = arguments.points(name, points)
    if points.ndim != 2 or not len(points):
        raise ValueError(f"{name} has shape {points.shape}; expected (N, 3), one point or more")
    return points


def _positive(name, value):
    if not value > 0:
        raise ValueError(f"{name} is {value}; expected metres above 0")
