"""Plain arithmetic under the rotations, on arrays that were checked already.

Each formula is written once, for components: a quaternion comes in as four rows
x, y, z, w, each a number or a long array, and numpy works along the rows. `apply`
gives a formula its rows and lays the results out as (..., 4), (..., 3) or (...,
3, 3). Nothing here looks at its arguments: the public functions of `rotation`,
`frame`, `skeleton` and `binding` do, once, and then call these.
"""

import math

import numpy as np

from rigkit.arguments import EXACT

BLOCK = 4096  # items worked on together: few enough to stay in the processor's cache
CONJUGATE = np.array([-1.0, -1.0, -1.0, 1.0])
CONJUGATE.flags.writeable = False


def apply(formula, tail, *arrays, sound=None):
    """Return formula's rows as one array (..., *tail); each of `arrays` is (..., n) and gives n rows.

    A large batch is worked through in blocks, each turned so that its rows lie
    whole in memory; otherwise the rows are views with gaps. The numbers are the
    same either way. sound: a function of a block's rows, for a large batch only;
    where it is false None is returned, and the caller finds out why.
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
        rows = [array if array.ndim == 1 else np.ascontiguousarray(array[block].T) for array in flat]
        if sound is not None and not sound(*rows):
            return None
        _fill(table[block], formula(*rows))
    return out


def is_large(tail, *arrays):
    """Whether these are arrays (..., *tail) of one shape, float64, and so many that one pass over memory less is felt."""
    first = arrays[0]
    return all(type(x) is np.ndarray and x.dtype == np.float64 and x.shape == first.shape for x in arrays) and (
        first.shape[first.ndim - len(tail) :] == tail and first.size > BLOCK * math.prod(tail)
    )


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


def unit_rows(*turns):
    """Whether all quaternions given have unit length, but for rounding."""
    for x, y, z, w in turns:
        off = x * x
        for part in (y, z, w):
            off += part * part
        off -= 1.0
        if not (off.max() < EXACT and off.min() > -EXACT):
            return False
    return True


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


def turn_rows(m):
    """The quaternion of a turn's matrix, given as nine rows: what `rotation._largest_row` says, with nothing laid out between.

    Which component is the largest, x or w, y or z, and which of these pairs, is told by the signs of
    sums of the diagonal. As rows the four cases differ in signs and in the places of the components:
    (w z y x) for x against (x y z w) for w, and (z w x y) for y; for z both swaps one after the other.
    """
    xx, xy, xz, yx, yy, yz, zx, zy, zz = m
    both, apart = yy + zz, yy - zz
    x_or_w, y_or_z = xx + abs(both), abs(apart) - xx
    outer = (x_or_w > y_or_z) | ((x_or_w == y_or_z) & (both <= 0))
    mirrored = np.where(outer, both <= 0, apart < 0)  # x or z
    first, second = np.where(outer, 1.0, -1.0), np.where(mirrored, -1.0, 1.0)
    largest = 1.0 + np.where(outer, x_or_w, y_or_z)
    a, b, c = zy - first * yz, xz - second * zx, yx - first * second * xy
    size = 1.0 / np.sqrt(a * a + b * b + c * c + largest * largest)
    a, b, c, largest = a * size, b * size, c * size, largest * size
    a, largest = np.where(mirrored, largest, a), np.where(mirrored, a, largest)
    b, c = np.where(mirrored, c, b), np.where(mirrored, b, c)
    return np.where(outer, a, c), np.where(outer, b, largest), np.where(outer, c, a), np.where(outer, largest, b)


def cross_rows(a, b):
    """The cross product of two vectors."""
    (ax, ay, az), (bx, by, bz) = a, b
    return ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx


def write_cross(a, b, out, term):
    """Write a x b into `out` (3, ...), three rows a call; a and b hold the rows y, z, x, y, z first. term: space like `out`."""
    np.multiply(a[:3], b[1:4], out=out)
    out -= np.multiply(a[1:4], b[:3], out=term)


# ---------------------------------------------------------------- the same on arrays


def product(p, q):
    """Hamilton's product of quaternions (..., 4): the turn q, then the turn p."""
    return apply(product_rows, (4,), p, q)


def unit_product(p, q):
    """The same for many unit quaternions, `is_large` and C-contiguous; None where they are not of unit length.

    A quaternion is a pair of complex numbers, here b = x + iy and c = z + iw as they lie in memory, and the
    product is two sums of complex products: b = i (c* b' - b c'), c = -i (b* b' + c c'), with * for the conjugate.
    (The pair is that of Cayley and Dickson, a + b i with k for the imaginary unit and a = i c* (memory).)
    """
    out = np.empty(p.shape)
    ones, (p, q, product) = np.ones(4), (x.reshape(-1, 4) for x in (p, q, out))
    squares, spare = np.empty((BLOCK, 4)), np.empty((2, BLOCK), complex)
    for start in range(0, len(p), BLOCK):
        block = slice(start, start + BLOCK)
        for turns in (p[block], q[block]):
            off = np.square(turns, out=squares[: len(turns)]).dot(ones)
            off -= 1.0
            if not (off.max() < EXACT and off.min() > -EXACT):
                return None
        (b, c), (d, e), (f, g) = (x[block].view(complex).T for x in (p, q, product))
        one, other = spare[:, : len(b)]
        np.multiply(np.conjugate(c, out=one), d, out=one)
        one -= np.multiply(b, e, out=other)
        np.multiply(one, 1j, out=f)
        np.multiply(np.conjugate(b, out=one), d, out=one)
        one += np.multiply(c, e, out=other)
        np.multiply(one, -1j, out=g)
    return out


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
