"""Where a joint goes: in the middle of the loop that folds, its hinge along the loop's flat side.

A closed loop of edges outlines a cross-section of the model. Its *area centre*
is the balance point of a thin plate cut to that outline. It depends on the
outline alone; the mean of the vertices also depends on how many were put where,
and is pulled to the side where they stand close.

Formulas: Newell's vector area for the loop's plane; the centroid of a polygon as
the mean of the triangles of a fan, each counted with its signed area (Bourke,
"Calculating the area and centroid of a polygon", 1988 (memory)).
"""

import numpy as np

from rigkit import _placement_touching, arguments, rotation

FLAT_WITHIN = np.radians(5.0)  # edges that run this near to one direction belong to one flat side
CLEARLY = 1.2  # times as long as the next: then one side is the flat
NO_AREA = 1e-12  # of the loop's size squared


def area_centre(points):
    """Return the area centre of closed loops, (..., N, 3) to (..., 3), metres.

    Right for any simple outline in a plane: unevenly spaced, D-shaped, not convex.
    A loop that is not quite flat is measured on its mean plane. The last point
    joins the first; either way round gives the same.

    Raises ValueError for fewer than 3 points and for a loop with no area.

    >>> area_centre([[0, 0, 0], [1, 0, 0], [2, 0, 0], [3, 0, 0], [4, 0, 0], [4, 2, 0], [0, 2, 0]])
    array([2., 1., 0.])
    """
    points = _loop(points)
    start = points.mean(axis=-2, keepdims=True)
    p, q = points - start, np.roll(points, -1, axis=-2) - start
    fan = np.cross(p, q)
    plane = _plane(fan.sum(axis=-2), p)
    signed = np.einsum("...ni,...i->...n", fan, plane)
    moment = np.einsum("...n,...ni->...i", signed, p + q)
    return start[..., 0, :] + moment / (3.0 * signed.sum(axis=-1)[..., None])


def plain_centre(points):
    """Return the mean of the points of closed loops, (..., N, 3) to (..., 3), metres: where it is not the `area_centre`, more points
    stand on one side than on the other.

    >>> plain_centre([[0, 0, 0], [1, 0, 0], [2, 0, 0], [3, 0, 0], [4, 0, 0], [4, 2, 0], [0, 2, 0]]).round(6)
    array([2.      , 0.571429, 0.      ])
    """
    return _loop(points).mean(axis=-2)


def normal(points):
    """Return the unit normal of closed loops, (..., N, 3) to (..., 3): the loop turns right-handed about it.

    >>> normal([[0, 0, 0], [1, 0, 0], [1, 1, 0]])
    array([0., 0., 1.])
    """
    points = _loop(points)
    p = points - points.mean(axis=-2, keepdims=True)
    return _plane(_vector_area(p), p)


def loop_area(points):
    """Return the area inside closed loops on their mean plane, (..., N, 3) to (...), square metres.

    >>> float(loop_area([[0, 0, 0], [3, 0, 0], [0, 4, 0]]))
    6.0
    """
    points = _loop(points)
    return np.linalg.norm(_vector_area(points - points.mean(axis=-2, keepdims=True)), axis=-1)


def loop_length(points):
    """Return the length around closed loops, (..., N, 3) to (...), metres.

    >>> float(loop_length([[0, 0, 0], [3, 0, 0], [0, 4, 0]]))
    12.0
    """
    points = _loop(points)
    return np.linalg.norm(np.roll(points, -1, axis=-2) - points, axis=-1).sum(axis=-1)


def narrowest_loop(loops):
    """Return the index of the loop with the least area, the first of equals.

    loops: a list of (N, 3) arrays, which may differ in N. Area, not length: a loop
    that zigzags or is pleated is long around a small section, and it is the small
    section that gives way when the sleeve bends.

    >>> wide, fold = [[0, 0, 0], [2, 0, 0], [0, 2, 0]], [[0, 0, 1], [1, 0, 1], [0, 1, 1]]
    >>> narrowest_loop([wide, fold, wide])
    1
    """
    loops = list(loops)
    if not loops:
        raise ValueError("no loop came; expected a list of one or more loops of shape (N, 3)")
    return int(np.argmin([float(loop_area(loop)) for loop in loops]))


def chain_from_loops(loops):
    """Return the joints (n, 3) at the area centres of n loops, a list of (N, 3) arrays.

    >>> chain_from_loops([[[0, 0, 0], [3, 0, 0], [0, 3, 0]], [[0, 0, 5], [3, 0, 5], [0, 3, 5]]])
    array([[1., 1., 0.],
           [1., 1., 5.]])
    """
    loops = list(loops)
    if not loops:
        raise ValueError("no loop came; expected a list of one or more loops of shape (N, 3)")
    return np.array([area_centre(loop) for loop in loops])


def fold_hinge(points):
    """Return the unit hinge axis (3,) of a D-shaped fold, a closed loop (N, 3).

    A D has one flat side. The part folds over the flat as a page folds over its
    crease, so the hinge runs parallel to the flat, across the bone. Its sign is the
    way the loop itself runs along the flat: with a loop that turns right-handed
    about the bone, seen from root to tip, a positive turn about the hinge brings the
    tip to the flat side.

    The flat is the stretch of edges that run within 5 degrees of one direction and
    are longest together. Raises ValueError for a loop with no flat side, or with two alike.

    >>> turn = np.radians(np.arange(0, 181, 15))
    >>> fold_hinge(np.stack([np.cos(turn), np.sin(turn), 0 * turn], axis=1)).round(6) + 0.0
    array([1., 0., 0.])
    """
    points = _loop(points)
    if points.ndim != 2:
        raise ValueError(f"points has shape {points.shape}; expected one loop (N, 3): take a batch loop by loop")
    plane = normal(points)
    edges = np.roll(points, -1, axis=0) - points
    edges = edges - np.outer(edges @ plane, plane)
    length = np.linalg.norm(edges, axis=1)
    across = edges[np.argmax(length)] / length.max()
    heading = np.arctan2(edges @ np.cross(plane, across), edges @ across)
    together = _length_near(heading, length)
    best = int(np.argmax(together))
    off = np.abs(np.angle(np.exp(1j * (heading - heading[best]))))
    second = together[off > 2 * FLAT_WITHIN].max(initial=0.0)
    if together[best] < CLEARLY * second:
        raise ValueError(
            f"the longest flat sides measure {together[best] * 1000:.1f} and {second * 1000:.1f} mm; "
            "expected one clearly longer: a round loop has no hinge, take the D-shaped fold"
        )
    flat = edges[off <= FLAT_WITHIN].sum(axis=0)
    return flat / np.linalg.norm(flat)


def hinge_gap(h, t):
    """Return how far a part shifts when its hinge is off by `h` metres and it bends by `t` radians: 2 h sin(t / 2).

    h is measured across the hinge: a shift along the hinge axis costs nothing. The
    chord of a circle of radius h: turned about the wrong centre, the part lands
    where the right turn would put it, moved by that chord.

    >>> round(float(hinge_gap(0.010, np.pi / 3)), 6)
    0.01
    """
    h, t = arguments.array("h", h, ()), arguments.array("t", t, ())
    arguments.broadcast(h=h.shape, t=t.shape)
    return 2.0 * h * np.sin(t / 2.0)


def touching_angle(fixed, moving, point, axis, most=np.pi, clearance=0.0, tolerance=1e-5):
    """Return the angle, radians, at which one shell, turning about a hinge, first touches another: where the hinge's range ends.

    fixed, moving: meshes as they stand at angle 0. point, axis: (3,), the hinge; the turn is right-handed about it. most: how far
    to look, radians. clearance: metres to keep between the shells. tolerance: radians.

    Inf where they stay apart all the way; 0 where they touch from the start. The angle is never past the touch. It
    may be before: surfaces count as touching where they are closer than the tolerance times the greatest radius of a face. Faces
    are met, not insides: a shell that is wholly within another touches nothing. Time grows with the number of pairs of triangles that
    share a height along the hinge and a distance from it. The search halves the turn, see `rigkit._placement_touching`.

    Raises ValueError for an empty mesh, an axis of no length, a most outside 0 to 2 pi, a negative clearance, and a
    tolerance not above 0.

    >>> from rigkit.mesh import Mesh
    >>> wall = Mesh([[-1, 0, -1], [-1, 0, 1], [-1, 2, 0]], [[0, 1, 2]])
    >>> rod = Mesh([[0, 0, 0], [2, 0, 0.01], [2, 0, -0.01]], [[0, 1, 2]])
    >>> round(float(np.degrees(touching_angle(wall, rod, [0, 0, 0], [0, 0, 1]))), 2)
    120.0
    """
    axis, point = arguments.directions("axis", axis), arguments.points("point", point)
    most, clearance, tolerance = (
        float(arguments.array(name, value, ())) for name, value in (("most", most), ("clearance", clearance), ("tolerance", tolerance))
    )
    if not 0 <= most <= 2 * np.pi:
        raise ValueError(f"most is {most:g}; expected 0 to {2 * np.pi:.6g} radians: further on the shells come round again")
    if clearance < 0:
        raise ValueError(f"clearance is {clearance:g}; expected metres, 0 or more")
    if not tolerance > 0:
        raise ValueError(f"tolerance is {tolerance:g}; expected radians above 0")
    if not (len(fixed.triangles) and len(moving.triangles)):
        raise ValueError("a mesh has no faces; expected two shells: one that stays and one that turns")
    upright = rotation.between(axis, [0.0, 1.0, 0.0])
    shells = (rotation.rotate(upright, shell.vertices - point)[shell.triangles] for shell in (fixed, moving))
    return _placement_touching.first_touch(*shells, most, clearance, tolerance)


def _length_near(heading, length):
    """For each edge, the length of all edges whose heading is within FLAT_WITHIN of its own."""
    order = np.argsort(heading)
    ring = np.concatenate([heading[order] + turn for turn in (-2 * np.pi, 0.0, 2 * np.pi)])
    total = np.concatenate([[0.0], np.cumsum(np.tile(length[order], 3))])
    return total[np.searchsorted(ring, heading + FLAT_WITHIN, "right")] - total[np.searchsorted(ring, heading - FLAT_WITHIN, "left")]


def _loop(points):
    points = arguments.points("points", points)
    if points.ndim < 2 or points.shape[-2] < 3:
        raise ValueError(f"points has shape {points.shape}; expected (..., N, 3) with N of 3 or more: a loop goes around something")
    return points


def _vector_area(p):
    return 0.5 * np.cross(p, np.roll(p, -1, axis=-2)).sum(axis=-2)


def _plane(vector, p):
    """Unit vectors along `vector` (..., 3); a loop `p` whose vector is no more than rounding is an error."""
    length = np.linalg.norm(vector, axis=-1)
    bad = length <= NO_AREA * np.square(p).sum(axis=-1).max(axis=-1)
    if bad.any():
        raise ValueError(
            f"points{arguments.where(arguments.first(bad))} enclose no area; expected a loop around something: do they lie on one line?"
        )
    return vector / length[..., None]
