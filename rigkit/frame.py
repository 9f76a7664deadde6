"""Rigid frames: where something stands and how it is turned.

A frame seen from another is a rotation and a position, written either as a pair
(quaternion (..., 4), position (..., 3)) or as one matrix (..., 4, 4). Name a
transform `to_from`: then neighbours cancel, `world_from_elbow` composed with
`elbow_from_wrist` is `world_from_wrist`. Reflected over a plane: see `rigkit.mirror.frames`.
"""

import numpy as np

from rigkit import arguments, rotation
from rigkit.arithmetic import conjugate, cross, dot, length, product, rotate
from rigkit.arithmetic import matrix as turn_matrix

PARALLEL = 1e-9  # sine below which two directions count as one line


def compose(a, b):
    """Return the frame of a after b: `a_from_c = compose(a_from_b, b_from_c)`.

    a, b: pairs (rotation (..., 4), position (..., 3)). Returns such a pair.

    >>> quarter = rotation.from_axis_angle([0, 0, 1], np.pi / 2)
    >>> compose((quarter, [1, 0, 0]), (quarter, [1, 0, 0]))[1].round(6)
    array([1., 1., 0.])
    """
    (turn, origin), (inner, offset) = pair("a", a), pair("b", b)
    arguments.broadcast(a=_batch(turn, origin), b=_batch(inner, offset))
    return product(turn, inner), origin + rotate(turn, offset)


def invert(frame):
    """Return the frame seen the other way: `b_from_a` of `a_from_b`.

    >>> invert(([0, 0, 0, 1], [1, 2, 3]))[1]
    array([-1., -2., -3.])
    """
    turn, origin = pair("frame", frame)
    back = conjugate(turn)
    return back, -rotate(back, origin)


def to_world(frame, points):
    """Return points (..., 3) given in the frame as the world sees them.

    >>> to_world((rotation.from_axis_angle([0, 0, 1], np.pi / 2), [0, 1, 0]), [1, 0, 0]).round(6)
    array([0., 2., 0.])
    """
    turn, origin, points = _frame_and_points(frame, points)
    return origin + rotate(turn, points)


def to_local(frame, points):
    """Return world points (..., 3) as the frame sees them: take the origin off, then turn back.

    >>> to_local((rotation.from_axis_angle([0, 0, 1], np.pi / 2), [0, 1, 0]), [0, 2, 0]).round(6) + 0.0
    array([1., 0., 0.])
    """
    turn, origin, points = _frame_and_points(frame, points)
    return rotate(conjugate(turn), points - origin)


def to_matrix(frame):
    """Return the matrix (..., 4, 4) of a pair; it acts on columns (x, y, z, 1).

    >>> to_matrix(([0, 0, 0, 1], [1, 2, 3]))[:3, 3]
    array([1., 2., 3.])
    """
    turn, origin = pair("frame", frame)
    m = np.zeros(_batch(turn, origin) + (4, 4))
    m[..., :3, :3], m[..., :3, 3], m[..., 3, 3] = turn_matrix(turn), origin, 1.0
    return m


def from_matrix(m):
    """Return the pair (rotation (..., 4), position (..., 3)) of a rigid matrix (..., 4, 4).

    Raises where it holds scale, shear or a reflection, or its last row is not 0, 0, 0, 1.

    >>> from_matrix(np.eye(4))
    (array([0., 0., 0., 1.]), array([0., 0., 0.]))
    """
    m = arguments.array("m", m, (4, 4))
    bad = np.abs(m[..., 3, :] - (0, 0, 0, 1)).max(axis=-1) > rotation.MATRIX_TOLERANCE
    if bad.any():
        row = arguments.first(bad)
        raise ValueError(
            f"m{arguments.where(row)} has the last row {m[row][3].tolist()}; "
            "expected 0, 0, 0, 1: a matrix that acts on columns"
        )
    return rotation.from_matrix(m[..., :3, :3]), m[..., :3, 3].copy()


def from_axes(x, y, z):
    """Return the rotation (..., 4) whose columns are the three unit axes (..., 3), square to each other and right-handed.

    >>> from_axes([0, 1, 0], [0, 0, 1], [1, 0, 0])
    array([0.5, 0.5, 0.5, 0.5])
    """
    axes = [arguments.points(name, axis) for name, axis in zip("xyz", (x, y, z))]
    arguments.broadcast(x=axes[0].shape[:-1], y=axes[1].shape[:-1], z=axes[2].shape[:-1])
    return rotation.from_matrix(np.stack(np.broadcast_arrays(*axes), axis=-1))


def from_bone(axis, hinge):
    """Return the rotation (..., 4) of a joint frame: x along the bone, z on the hinge, y = z cross x.

    axis: (..., 3), the bone's direction. hinge: (..., 3), the hinge axis; what of
    it runs along the bone is taken off. Raises where the two are parallel.

    >>> rotation.to_matrix(from_bone([0, -2, 0], [1, 0, 0])) + 0.0
    array([[ 0.,  0.,  1.],
           [-1.,  0.,  0.],
           [ 0., -1.,  0.]])
    """
    x, hinge = arguments.directions("axis", axis), arguments.directions("hinge", hinge)
    arguments.broadcast(axis=x.shape[:-1], hinge=hinge.shape[:-1])
    z = hinge - x * dot(hinge, x)
    if (length(z) < PARALLEL).any():
        row = arguments.first((length(z) < PARALLEL)[..., 0])
        raise ValueError(
            f"hinge{arguments.where(row)} runs along the bone; "
            "expected a hinge axis across it: take the model's fold, or the bend normal"
        )
    z = arguments.directions("hinge", z)
    return from_axes(x, cross(z, x), z)


def pair(name, frame):
    """Return `frame` as a checked pair (rotation (..., 4), position (..., 3)); `name` is what an error calls it."""
    try:
        turn, origin = frame
    except (TypeError, ValueError):
        raise ValueError(f"{name} is {arguments.shorten(frame)}; expected a pair (rotation (..., 4), position (..., 3))") from None
    turn, origin = arguments.quaternions(f"{name}[0]", turn), arguments.points(f"{name}[1]", origin)
    arguments.broadcast(rotation=turn.shape[:-1], position=origin.shape[:-1])
    return turn, origin


def _frame_and_points(frame, points):
    turn, origin = pair("frame", frame)
    points = arguments.points("points", points)
    arguments.broadcast(frame=_batch(turn, origin), points=points.shape[:-1])
    return turn, origin, points


def _batch(turn, origin):
    return np.broadcast_shapes(turn.shape[:-1], origin.shape[:-1])
