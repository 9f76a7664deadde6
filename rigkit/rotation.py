"""Rotations as unit quaternions (x, y, z, w).

A unit quaternion holds a turn by an angle about an axis: (axis * sin(angle / 2),
cos(angle / 2)). The half angles make q and -q the same turn. Reading a product
from right to left gives the order in which turns happen about fixed axes:
`multiply(p, q)` turns by q, then by p. Every function takes one rotation or a
batch of them in the leading axes, and returns new arrays.

Sources: Hamilton's product as in W. R. Hamilton, Lectures on Quaternions (1853);
the order (x, y, z, w) as in glTF 2.0 and SciPy; other sources stand beside their
formula.
"""

import numpy as np

from rigkit import arguments, arithmetic
from rigkit.arithmetic import cross, dot, join
from rigkit.euler import from_euler, gimbal, to_euler  # noqa: F401 (part of this module's calls)

IDENTITY = np.array([0.0, 0.0, 0.0, 1.0])
IDENTITY.flags.writeable = False

MATRIX_TOLERANCE = 1e-3  # how far M^T M may be from the identity: files hold float32
SINGULAR = 1e-12  # a part of a quaternion shorter than this has no direction
ROUNDING = 1e-15  # a cross product of unit vectors shorter than this is rounding alone


# ---------------------------------------------------------------- the group of turns


def multiply(p, q):
    """Return the product p q: the turn q, then the turn p (both about fixed axes).

    p, q: (..., 4). Returns (..., 4), unit length.

    >>> quarter = from_axis_angle([0, 0, 1], np.pi / 2)
    >>> rotate(multiply(quarter, quarter), [1, 0, 0]).round(6) + 0.0
    array([-1.,  0.,  0.])
    """
    if _is_large(p, q) and (found := arithmetic.unit_product(p, q)) is not None:
        return found
    p, q = arguments.quaternions("p", p), arguments.quaternions("q", q)
    arguments.broadcast(p=p.shape[:-1], q=q.shape[:-1])
    return arithmetic.product(p, q)


def invert(q):
    """Return the turn that undoes q. q: (..., 4).

    >>> invert([0, 0, 0.6, 0.8])
    array([-0. , -0. , -0.6,  0.8])
    """
    return arguments.quaternions("q", q) * (-1.0, -1.0, -1.0, 1.0)


def rotate(q, v):
    """Return the vectors v turned by q.

    q: (..., 4). v: (..., 3), any unit. Returns (..., 3). With u the vector part
    of q, v' = v + 2 w (u x v) + 2 u x (u x v): the product q v q* multiplied out.

    >>> rotate([0, 0, 0.6, 0.8], [1, 0, 0]).round(6)
    array([0.28, 0.96, 0.  ])
    """
    v = arguments.points("v", v)
    if _is_large(q) and v.shape[:-1] in ((), q.shape[:-1]):
        found = arithmetic.apply(arithmetic.rotate_rows, (3,), q, v, sound=lambda q, v: arithmetic.unit_rows(q))
        if found is not None:
            return found
    q = arguments.quaternions("q", q)
    arguments.broadcast(q=q.shape[:-1], v=v.shape[:-1])
    return arithmetic.rotate(q, v)


def normalise(q):
    """Return q scaled to unit length, whatever its length was. q: (..., 4), not zero.

    >>> normalise([0, 0, 3, 4])
    array([0. , 0. , 0.6, 0.8])
    """
    q = arguments.array("q", q, (4,))
    length = np.linalg.norm(q, axis=-1, keepdims=True)
    if not length.all():
        row = arguments.first(length[..., 0] == 0)
        raise ValueError(f"q{arguments.where(row)} has length 0; expected a quaternion that is not zero: it holds no turn")
    return q / length


def align(q, reference):
    """Return q or -q, whichever lies nearer to `reference`: the same turn, written on the same side.

    q, reference: (..., 4). Do this before weighing or drawing the four numbers.

    >>> align([0, 0, 0, -1], [0, 0, 0.6, 0.8])
    array([0., 0., 0., 1.])
    """
    q, reference = arguments.quaternions("q", q), arguments.quaternions("reference", reference)
    arguments.broadcast(q=q.shape[:-1], reference=reference.shape[:-1])
    return np.where(dot(q, reference) < 0, -q, q) + 0.0


def angle(p, q):
    """Return the angle between two rotations, radians in [0, pi]: how far one must turn to become the other.

    p, q: (..., 4). Computed from |p - q| and |p + q|, so that it is exact for
    tiny angles and for half turns, where an arc cosine loses half its digits.

    >>> round(float(angle(IDENTITY, from_axis_angle([0, 1, 0], 0.25))), 12)
    0.25
    """
    p, q = arguments.quaternions("p", p), arguments.quaternions("q", q)
    arguments.broadcast(p=p.shape[:-1], q=q.shape[:-1])
    apart, together = np.linalg.norm(p - q, axis=-1), np.linalg.norm(p + q, axis=-1)
    return 4.0 * np.arctan2(np.minimum(apart, together), np.maximum(apart, together))


# ---------------------------------------------------------------- other ways to write a turn


def from_axis_angle(axis, angle):
    """Return the turn by `angle` radians about `axis`, right-handed.

    axis: (..., 3), any length but zero. angle: (...). Returns (..., 4).

    >>> from_axis_angle([0, 0, 2], np.pi / 2).round(6)
    array([0.      , 0.      , 0.707107, 0.707107])
    """
    axis, angle = arguments.directions("axis", axis), arguments.array("angle", angle, ())
    arguments.broadcast(axis=axis.shape[:-1], angle=angle.shape)
    half = angle[..., None] / 2
    return join(axis * np.sin(half), np.cos(half))


def to_axis_angle(q):
    """Return (axis, angle) of a turn: a unit axis (..., 3) and radians (...) in [0, pi].

    The identity has no axis: (1, 0, 0) is returned for it. A half turn has two:
    the one written in q is returned.

    >>> axis, angle = to_axis_angle([0, 0, -np.sqrt(0.5), np.sqrt(0.5)])
    >>> axis + 0.0, round(float(angle), 6)
    (array([ 0.,  0., -1.]), 1.570796)
    """
    q = arguments.quaternions("q", q)
    q = np.where(q[..., 3:] < 0, -q, q)
    size = np.linalg.norm(q[..., :3], axis=-1)
    axis = np.where(size[..., None] > 0, q[..., :3], (1.0, 0.0, 0.0)) / np.where(size > 0, size, 1.0)[..., None]
    return axis, 2.0 * np.arctan2(size, q[..., 3])


def from_vector(vector):
    """Return the turn of a rotation vector: its direction the axis, its length the angle in radians.

    vector: (..., 3); zero is the identity. The exponential map (Lynch & Park,
    Modern Robotics, 2017, section 3.2.3).

    >>> from_vector([0, 0, np.pi]).round(6)
    array([0., 0., 1., 0.])
    """
    vector = arguments.points("vector", vector)
    half = np.linalg.norm(vector, axis=-1, keepdims=True) / 2
    return join(vector * (np.sinc(half / np.pi) / 2), np.cos(half))


def to_vector(q):
    """Return the rotation vector (..., 3) of a turn, its length in [0, pi] radians: the logarithm map.

    >>> to_vector([0, 0, np.sqrt(0.5), np.sqrt(0.5)]).round(6)
    array([0.      , 0.      , 1.570796])
    """
    axis, angle = to_axis_angle(q)
    return axis * angle[..., None]


def to_matrix(q):
    """Return the rotation matrix (..., 3, 3) of q (..., 4); it acts on column vectors.

    >>> to_matrix([0, 0, np.sqrt(0.5), np.sqrt(0.5)]).round(6) + 0.0
    array([[ 0., -1.,  0.],
           [ 1.,  0.,  0.],
           [ 0.,  0.,  1.]])
    """
    if _is_large(q) and (found := arithmetic.apply(arithmetic.matrix_rows, (3, 3), q, sound=arithmetic.unit_rows)) is not None:
        return found
    return arithmetic.matrix(arguments.quaternions("q", q))


def from_matrix(m):
    """Return the quaternion (..., 4) of a rotation matrix m (..., 3, 3).

    Of the four rows of 4 q q^T, which are sums of entries of m, the one with the
    largest diagonal is taken: no division by a small number (S. W. Shepperd,
    J. Guidance and Control 1 (1978) 223 (memory)). Raises where m is not a rotation:
    columns not square to each other, or a reflection.

    >>> from_matrix([[0, 0, 1], [1, 0, 0], [0, 1, 0]])
    array([0.5, 0.5, 0.5, 0.5])
    """
    m = arguments.array("m", m, (3, 3))
    nine = m.reshape(m.shape[:-2] + (9,))
    if arithmetic.is_large((9,), nine):
        found = arithmetic.apply(arithmetic.turn_rows, (4,), nine, sound=_is_rotation)
        if found is not None:
            return found
    _check_rotation(m)
    return arithmetic.apply(_largest_row, (4,), nine)


def _largest_row(m):
    """Of the rows of 4 q q^T the one with the largest diagonal, scaled to unit length; `arithmetic.turn_rows` is faster for many."""
    xx, xy, xz, yx, yy, yz, zx, zy, zz = m
    diagonal = np.array([1 + xx - yy - zz, 1 - xx + yy - zz, 1 - xx - yy + zz, 1 + xx + yy + zz])
    x, y, z, w = diagonal
    rows = np.array([
        [x, yx + xy, zx + xz, zy - yz],
        [yx + xy, y, zy + yz, xz - zx],
        [zx + xz, zy + yz, z, yx - xy],
        [zy - yz, xz - zx, yx - xy, w],
    ])
    q = np.take_along_axis(rows, diagonal.argmax(axis=0)[None, None], axis=0)[0]
    return q / np.sqrt((q * q).sum(axis=0))


# ---------------------------------------------------------------- between turns


def slerp(p, q, t):
    """Return the turn at the share t of the way from p to q, at constant speed, the shorter way.

    p, q: (..., 4). t: (...), 0 gives p, 1 gives q; outside it goes on turning.
    Where p and q are a half turn apart both ways are equally short, and the one
    that the signs of p and q show is taken. Source: glTF 2.0, Appendix C; K.
    Shoemake, Animating rotation with quaternion curves, SIGGRAPH 1985.

    >>> np.degrees(angle(IDENTITY, slerp(IDENTITY, from_axis_angle([1, 0, 0], np.pi / 2), 0.25))).round(6)
    np.float64(22.5)
    """
    p, q, t = arguments.quaternions("p", p), arguments.quaternions("q", q), arguments.array("t", t, ())
    arguments.broadcast(p=p.shape[:-1], q=q.shape[:-1], t=t.shape)
    q, t = np.where(dot(p, q) < 0, -q, q), t[..., None]
    apart = np.linalg.norm(p - q, axis=-1, keepdims=True)
    arc = 2 * np.arctan2(apart, np.linalg.norm(p + q, axis=-1, keepdims=True)) / np.pi
    mixed = p * ((1 - t) * np.sinc((1 - t) * arc)) + q * (t * np.sinc(t * arc))
    return mixed / np.linalg.norm(mixed, axis=-1, keepdims=True)


def between(a, b):
    """Return the shortest turn that takes direction a to direction b.

    a, b: (..., 3), not zero. For opposite directions, where every axis square to
    a would do, the axis is square to a and to the world axis a leans on least.

    >>> between([1, 0, 0], [0, 2, 0]).round(6)
    array([0.      , 0.      , 0.707107, 0.707107])
    """
    a, b = arguments.directions("a", a), arguments.directions("b", b)
    arguments.broadcast(a=a.shape[:-1], b=b.shape[:-1])
    half = np.arctan2(np.linalg.norm(a - b, axis=-1), np.linalg.norm(a + b, axis=-1))[..., None]
    axis = cross(a, b)
    axis = np.where(np.linalg.norm(axis, axis=-1, keepdims=True) > ROUNDING, axis, perpendicular(a))
    axis = axis / np.linalg.norm(axis, axis=-1, keepdims=True)
    axis = axis - a * dot(axis, a)
    return join(axis / np.linalg.norm(axis, axis=-1, keepdims=True) * np.sin(half), np.cos(half))


def swing_twist(q, axis):
    """Return (swing, twist) with q = swing twist: first a twist about `axis`, then a swing that carries the axis.

    q: (..., 4). axis: (..., 3). Both results (..., 4); the swing's own axis is
    square to `axis`, its w is never negative. Where the swing is a half turn
    (the axis ends up reversed), any twist would do: it is the identity then.
    Source: P. Dobrowolski, Swing-twist decomposition in Clifford algebra,
    arXiv:1506.05481 (2015).

    >>> swing, twist = swing_twist(from_axis_angle([1, 0, 0], 0.4), [1, 0, 0])
    >>> swing.round(6) + 0.0, round(float(angle(IDENTITY, twist)), 6)
    (array([0., 0., 0., 1.]), 0.4)
    """
    q, axis = arguments.quaternions("q", q), arguments.directions("axis", axis)
    arguments.broadcast(q=q.shape[:-1], axis=axis.shape[:-1])
    twist = join(axis * dot(q[..., :3], axis), q[..., 3:])
    size = np.linalg.norm(twist, axis=-1, keepdims=True)
    twist = np.where(size > SINGULAR, twist, IDENTITY) / np.where(size > SINGULAR, size, 1.0)
    return arithmetic.product(q, twist * (-1.0, -1.0, -1.0, 1.0)), twist


def twist_angle(q, axis):
    """Return the signed angle, radians in [-pi, pi], by which q twists about `axis`: see `swing_twist`.

    >>> round(float(twist_angle(from_axis_angle([0, 0, -1], 0.4), [0, 0, 1])), 6)
    -0.4
    """
    _, twist = swing_twist(q, axis)
    twist = np.where(twist[..., 3:] < 0, -twist, twist)
    return 2 * np.arctan2(dot(twist[..., :3], arguments.directions("axis", axis))[..., 0], twist[..., 3])


def blend(rotations, weights):
    """Return the weighted mean (..., 4) of K rotations.

    rotations: (..., K, 4). weights: (..., K), none negative, their sum not zero.
    The mean is the unit q with the largest sum of w (q . q_k)^2; squares make
    the sign of each quaternion irrelevant. For two rotations it moves on the
    shorter way, at uneven speed; `slerp` keeps the speed. Its w is not negative.
    Two that are half a turn apart and weigh alike have no mean: one of those between is given.
    Source: F. L. Markley, Y. Cheng, J. L. Crassidis, Y. Oshman, Averaging
    quaternions, J. Guidance, Control, and Dynamics 30 (2007) 1193.

    >>> blend([[0, 0, 0, 1], [0, 0, -0.6, -0.8]], [1, 1]).round(6)
    array([0.      , 0.      , 0.316228, 0.948683])
    """
    rotations, weights = arguments.quaternions("rotations", rotations), arguments.array("weights", weights, ())
    if rotations.ndim < 2 or weights.shape[-1:] != rotations.shape[-2:-1]:
        raise ValueError(f"weights has shape {weights.shape} for rotations {rotations.shape}; expected (..., K) for (..., K, 4)")
    if (weights < 0).any() or not (weights.sum(axis=-1) > 0).all():
        raise ValueError("weights are negative or add up to zero; expected weights of 0 or more that add up to more than 0")
    q = np.linalg.eigh(np.einsum("...k,...ki,...kj->...ij", weights, rotations, rotations))[1][..., -1]
    return np.where(q[..., 3:] < 0, -q, q) + 0.0


def perpendicular(v):
    """Return a unit direction (..., 3) square to v: v x e, with e the world axis v leans on least.

    >>> perpendicular([0, 3, 0])
    array([ 0.,  0., -1.])
    """
    v = arguments.directions("v", v)
    least = np.eye(3)[np.abs(v).argmin(axis=-1)]
    return arguments.directions("v", cross(v, least)) + 0.0


def _is_large(*turns):
    """Whether these are large batches of quaternions: then they are checked in the same pass that works on them."""
    return arithmetic.is_large((4,), *turns) and all(x.flags.c_contiguous for x in turns)


def _is_rotation(m):
    """Whether all matrices, nine rows, pass `_check_rotation`."""
    *skews, volume = _off_rotation(m)
    return all(skew.max() <= MATRIX_TOLERANCE for skew in skews) and volume.min() >= 0


def _check_rotation(m):
    *skews, volume = np.moveaxis(arithmetic.apply(_off_rotation, (7,), m.reshape(m.shape[:-2] + (9,))), -1, 0)
    skew = np.max(skews, axis=0)
    if (skew > MATRIX_TOLERANCE).any():
        row = arguments.first(skew > MATRIX_TOLERANCE)
        raise ValueError(
            f"m{arguments.where(row)} is no rotation: M^T M differs from the identity by {skew[row]:.6g}; expected at most "
            f"{MATRIX_TOLERANCE}: take scale and shear out first"
        )
    if (volume < 0).any():
        row = arguments.first(volume < 0)
        raise ValueError(f"m{arguments.where(row)} is a reflection: its determinant is {volume[row]:.6g}; expected 1: turn one axis round")


def _off_rotation(m):
    """How far the six different entries of M^T M are from those of the identity, and the determinant."""
    xx, xy, xz, yx, yy, yz, zx, zy, zz = m
    lengths = abs(xx * xx + yx * yx + zx * zx - 1), abs(xy * xy + yy * yy + zy * zy - 1), abs(xz * xz + yz * yz + zz * zz - 1)
    angles = abs(xx * xy + yx * yy + zx * zy), abs(xx * xz + yx * yz + zx * zz), abs(xy * xz + yy * yz + zy * zz)
    return *lengths, *angles, xx * (yy * zz - zy * yz) + yx * (zy * xz - xy * zz) + zx * (xy * yz - yy * xz)
