"""Plain arithmetic under the rotations, on arrays that were checked already.

Component by component, because numpy is fast on whole columns and slow on many
small matrices. Nothing here looks at its arguments: the public functions of
`rotation`, `frame`, `skeleton` and `binding` do, once, and then call these.
"""

import numpy as np

CONJUGATE = np.array([-1.0, -1.0, -1.0, 1.0])
CONJUGATE.flags.writeable = False


def product(p, q):
    """Hamilton's product of quaternions (..., 4): the turn q, then the turn p."""
    (px, py, pz, pw), (qx, qy, qz, qw) = np.moveaxis(p, -1, 0), np.moveaxis(q, -1, 0)
    out = np.empty(np.broadcast(px, qx).shape + (4,))
    out[..., 0] = pw * qx + px * qw + py * qz - pz * qy
    out[..., 1] = pw * qy - px * qz + py * qw + pz * qx
    out[..., 2] = pw * qz + px * qy - py * qx + pz * qw
    out[..., 3] = pw * qw - px * qx - py * qy - pz * qz
    return out


def conjugate(q):
    """The inverse of unit quaternions (..., 4)."""
    return q * CONJUGATE


def rotate(q, v):
    """Vectors v (..., 3) turned by unit quaternions q (..., 4)."""
    u, w = q[..., :3], q[..., 3:]
    side = 2.0 * cross(u, v)
    return v + w * side + cross(u, side)


def matrix(q):
    """The rotation matrices (..., 3, 3) of unit quaternions (..., 4)."""
    x, y, z, w = np.moveaxis(q, -1, 0)
    x2, y2, z2 = 2 * x, 2 * y, 2 * z
    m = np.empty(q.shape[:-1] + (3, 3))
    m[..., 0, 0], m[..., 1, 1], m[..., 2, 2] = 1 - y * y2 - z * z2, 1 - x * x2 - z * z2, 1 - x * x2 - y * y2
    m[..., 0, 1], m[..., 1, 0] = x * y2 - w * z2, x * y2 + w * z2
    m[..., 0, 2], m[..., 2, 0] = x * z2 + w * y2, x * z2 - w * y2
    m[..., 1, 2], m[..., 2, 1] = y * z2 - w * x2, y * z2 + w * x2
    return m


def cross(a, b):
    """The cross product of vectors (..., 3)."""
    (ax, ay, az), (bx, by, bz) = np.moveaxis(a, -1, 0), np.moveaxis(b, -1, 0)
    out = np.empty(np.broadcast(ax, bx).shape + (3,))
    out[..., 0], out[..., 1], out[..., 2] = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
    return out


def dot(a, b):
    """The inner product over the last axis, which stays with length one: (..., 1)."""
    return np.einsum("...i,...i->...", a, b)[..., None]


def length(v):
    """The length over the last axis, which stays with length one: (..., 1)."""
    return np.sqrt(dot(v, v))


def join(vector, last):
    """A quaternion or plane (..., n + 1) of a vector part (..., n) and a last number (..., 1)."""
    shape = np.broadcast_shapes(vector.shape[:-1], last.shape[:-1])
    out = np.empty(shape + (vector.shape[-1] + 1,))
    out[..., :-1], out[..., -1:] = vector, last
    return out
