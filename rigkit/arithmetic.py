"""Plain arithmetic under the rotations, on arrays that were checked already.

Each formula is written once, for components: a quaternion comes in as four rows
x, y, z, w, each a number or a long array, and numpy works along the rows. `apply`
gives a formula its rows and lays the results out as (..., 4), (..., 3) or (...,
3, 3). Nothing here looks at its arguments: the public functions of `rotation`,
`frame`, `skeleton` and `binding` do, once, and then call these.
"""

import math

import numpy as np

BLOCK = 4096  # items worked on together: few enough to stay in the processor's cache
CONJUGATE = np.array([-1.0, -1.0, -1.0, 1.0])
CONJUGATE.flags.writeable = False


def apply(formula, tail, *arrays):
    """Return formula's rows as one array (..., *tail); each of `arrays` is (..., n) and gives n rows.

    A large batch is worked through in blocks, each turned so that its rows lie
    whole in memory; otherwise the rows are views with gaps. The numbers are the
    same either way.
    """
    batch = np.broadcast_shapes(*(array.shape[:-1] for array in arrays))
    out = np.empty(batch + tail)
    count, width = math.prod(batch), math.prod(tail)
    if count <= BLOCK or any(array.shape[:-1] not in ((), batch) for array in arrays):
        _fill(out.reshape(batch + (width,)), formula(*(np.moveaxis(array, -1, 0) for array in arrays)))
        return out
    flat = [array if array.ndim == 1 else array.reshape(count, -1) for array in arrays]
    table = out.reshape(count, width)
    for start in range(0, count, BLOCK):
        block = slice(start, start + BLOCK)
        rows = (array if array.ndim == 1 else np.ascontiguousarray(array[block].T) for array in flat)
        _fill(table[block], formula(*rows))
    return out


def _fill(table, rows):
    for column, row in enumerate(rows):
        table[..., column] = row


# ---------------------------------------------------------------- formulas: rows in, rows out


def product_rows(p, q):
    """Hamilton's product of two quaternions: the turn q, then the turn p."""
    (px, py, pz, pw), (qx, qy, qz, qw) = p, q
    return (
        pw * qx + px * qw + py * qz - pz * qy,
        pw * qy - px * qz + py * qw + pz * qx,
        pw * qz + px * qy - py * qx + pz * qw,
        pw * qw - px * qx - py * qy - pz * qz,
    )


def rotate_rows(q, v):
    """A vector turned: v + 2 w (u x v) + 2 u x (u x v), with q = (u, w)."""
    (x, y, z, w), (vx, vy, vz) = q, v
    sx, sy, sz = 2 * (y * vz - z * vy), 2 * (z * vx - x * vz), 2 * (x * vy - y * vx)
    return vx + w * sx + y * sz - z * sy, vy + w * sy + z * sx - x * sz, vz + w * sz + x * sy - y * sx


def matrix_rows(q):
    """The nine entries of a turn's matrix, row by row."""
    x, y, z, w = q
    x2, y2, z2 = 2 * x, 2 * y, 2 * z
    xx, yy, zz, xy, xz, yz, wx, wy, wz = x * x2, y * y2, z * z2, x * y2, x * z2, y * z2, w * x2, w * y2, w * z2
    return 1 - yy - zz, xy - wz, xz + wy, xy + wz, 1 - xx - zz, yz - wx, xz - wy, yz + wx, 1 - xx - yy


def cross_rows(a, b):
    """The cross product of two vectors."""
    (ax, ay, az), (bx, by, bz) = a, b
    return ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx


# ---------------------------------------------------------------- the same on arrays


def product(p, q):
    """Hamilton's product of quaternions (..., 4): the turn q, then the turn p."""
    return apply(product_rows, (4,), p, q)


def conjugate(q):
    """The inverse of unit quaternions (..., 4)."""
    return q * CONJUGATE


def rotate(q, v):
    """Vectors v (..., 3) turned by unit quaternions q (..., 4)."""
    return apply(rotate_rows, (3,), q, v)


def matrix(q):
    """The rotation matrices (..., 3, 3) of unit quaternions (..., 4)."""
    return apply(matrix_rows, (3, 3), q)


def cross(a, b):
    """The cross product of vectors (..., 3)."""
    return apply(cross_rows, (3,), a, b)


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
