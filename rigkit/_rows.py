"""Frames as rows of numbers, each row a plain float or a long array: one formula for one pose and for a whole motion.

A frame here is (turn, place, size): the quaternion's x, y, z, w, the point's x, y, z,
and a uniform scale. With floats a formula costs microseconds where arrays of three cost tens;
with arrays of N it works along N poses at once. So each formula is written once.
`rigkit.arithmetic` has the products; the few that need a choice between the two are here.
"""

import math

import numpy as np

from rigkit.arithmetic import cross_rows, product_rows, rotate_rows, turn_rows

NO_TURN = (0.0, 0.0, 0.0, 1.0)
ORIGIN = (0.0, 0.0, 0.0)
WORLD = (NO_TURN, ORIGIN, 1.0)
ROUNDING = 1e-15  # an offset below this is none
NEAR = 1e-12  # a slerp over less than this is a straight line


# ---------------------------------------------------------------- one number or many


def sqrt(x):
    """Square root."""
    return math.sqrt(x) if type(x) is float else np.sqrt(x)


def exp(x):
    """Exponential."""
    return math.exp(x) if type(x) is float else np.exp(x)


def sin_cos(x):
    """(sine, cosine)."""
    return (math.sin(x), math.cos(x)) if type(x) is float else (np.sin(x), np.cos(x))


def arctan(y, x):
    """The angle of the point (x, y), radians."""
    return math.atan2(y, x) if type(y) is float and type(x) is float else np.arctan2(y, x)


def choose(condition, a, b):
    """a where the condition holds, else b; both are known already."""
    return (a if condition else b) if type(condition) is bool else np.where(condition, a, b)


def least(a, b):
    """The smaller of two."""
    return min(a, b) if type(a) is float and type(b) is float else np.minimum(a, b)


def most(a, b):
    """The larger of two."""
    return max(a, b) if type(a) is float and type(b) is float else np.maximum(a, b)


def clip(x, low, high):
    """x, held between low and high."""
    return least(most(x, low), high)


def pick(condition, a, b):
    """`choose` for each row of a and b."""
    return (a if condition else b) if type(condition) is bool else tuple(np.where(condition, x, y) for x, y in zip(a, b))


# ---------------------------------------------------------------- vectors


def add(a, b):
    """a + b."""
    return a[0] + b[0], a[1] + b[1], a[2] + b[2]


def subtract(a, b):
    """a - b."""
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


def scale(a, s):
    """a times s."""
    return a[0] * s, a[1] * s, a[2] * s


def dot(a, b):
    """The inner product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def length(a):
    """The length."""
    return sqrt(dot(a, a))


def unit_or(stand_in, a, at_least):
    """(a at unit length, its length); where it is no longer than `at_least`, `stand_in` and 0."""
    size = length(a)
    good = size > at_least
    safe = choose(good, size, 1.0)
    return pick(good, scale(a, 1.0 / safe), stand_in), choose(good, size, 0.0)


def mix(a, b, t):
    """a + t (b - a), any number of rows."""
    return tuple(x + t * (y - x) for x, y in zip(a, b))


# ---------------------------------------------------------------- turns


def back(q):
    """The turn undone."""
    return -q[0], -q[1], -q[2], q[3]


def about_z(angle):
    """The turn about z."""
    sine, cosine = sin_cos(0.5 * angle)
    return 0.0, 0.0, sine, cosine


def from_turns(order, x, y, z):
    """The turn of three angles about moving axes, in an order such as "XYZ"; one that is 0.0 is left out."""
    q = None
    for axis in order:
        angle = x if axis == "X" else y if axis == "Y" else z
        if type(angle) is float and angle == 0.0:
            continue
        sine, cosine = sin_cos(0.5 * angle)
        one = (sine if axis == "X" else 0.0, sine if axis == "Y" else 0.0, sine if axis == "Z" else 0.0, cosine)
        q = one if q is None else product_rows(q, one)
    return q


def from_axes(x, y, z):
    """The turn whose matrix has the unit columns x, y, z."""
    m = (x[0], y[0], z[0], x[1], y[1], z[1], x[2], y[2], z[2])
    if all(type(entry) is float for entry in m):
        return _from_matrix(*m)
    return turn_rows(m)


def _from_matrix(xx, xy, xz, yx, yy, yz, zx, zy, zz):
    """As `turn_rows`, on plain floats."""
    diagonal = (1 + xx - yy - zz, 1 - xx + yy - zz, 1 - xx - yy + zz, 1 + xx + yy + zz)
    largest = max(diagonal)
    if largest == diagonal[3]:
        q = zy - yz, xz - zx, yx - xy, largest
    elif largest == diagonal[0]:
        q = largest, yx + xy, zx + xz, zy - yz
    elif largest == diagonal[1]:
        q = yx + xy, largest, zy + yz, xz - zx
    else:
        q = zx + xz, zy + yz, largest, yx - xy
    size = math.sqrt(q[0] * q[0] + q[1] * q[1] + q[2] * q[2] + q[3] * q[3])
    return q[0] / size, q[1] / size, q[2] / size, q[3] / size


def slerp(p, q, t):
    """The turn at the share t from p to q, the shorter way, at constant speed: as `rotation.slerp`."""
    near = p[0] * q[0] + p[1] * q[1] + p[2] * q[2] + p[3] * q[3]
    sign = choose(near < 0.0, -1.0, 1.0)
    q = tuple(sign * c for c in q)
    apart = sqrt(sum((a - b) * (a - b) for a, b in zip(p, q)))
    together = sqrt(sum((a + b) * (a + b) for a, b in zip(p, q)))
    half = 2.0 * arctan(apart, together)
    sine = sin_cos(half)[0]
    tiny = sine <= NEAR
    safe = choose(tiny, 1.0, sine)
    first, second = (choose(tiny, s, sin_cos(s * half)[0] / safe) for s in (1.0 - t, t))
    mixed = tuple(first * a + second * b for a, b in zip(p, q))
    size = sqrt(sum(c * c for c in mixed))
    return tuple(c / size for c in mixed)


def between(a, b):
    """The shortest turn from the unit vector a to the unit vector b; for opposite ones about an axis square to a."""
    half, size = unit_or(ORIGIN, add(a, b), 1e-9)
    x, y, z = cross_rows(a, half)
    opposite = size == 0.0
    w = dot(a, half)
    if type(opposite) is bool and not opposite:
        return x, y, z, w
    return pick(opposite, (*_square_to(a), 0.0), (x, y, z, w))


def _square_to(a):
    """A unit vector square to the unit vector a."""
    flat = abs(a[0]) < 0.6
    other = pick(flat, (1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    across = cross_rows(a, other)
    return scale(across, 1.0 / length(across))


# ---------------------------------------------------------------- frames


def compose(a, b):
    """The frame b, given in a, as a's own surroundings see it. Written out: half of a pose's time is spent here."""
    (x, y, z, w), (px, py, pz), size = a
    (qx, qy, qz, qw), (vx, vy, vz), inner = b
    sx, sy, sz = 2.0 * (y * vz - z * vy), 2.0 * (z * vx - x * vz), 2.0 * (x * vy - y * vx)
    return (
        (
            w * qx + x * qw + y * qz - z * qy,
            w * qy - x * qz + y * qw + z * qx,
            w * qz + x * qy - y * qx + z * qw,
            w * qw - x * qx - y * qy - z * qz,
        ),
        (
            px + size * (vx + w * sx + y * sz - z * sy),
            py + size * (vy + w * sy + z * sx - x * sz),
            pz + size * (vz + w * sz + x * sy - y * sx),
        ),
        size * inner,
    )


def at(a, point):
    """The point, given in the frame a, as a's surroundings see it."""
    (x, y, z, w), (px, py, pz), size = a
    vx, vy, vz = point
    sx, sy, sz = 2.0 * (y * vz - z * vy), 2.0 * (z * vx - x * vz), 2.0 * (x * vy - y * vx)
    return (
        px + size * (vx + w * sx + y * sz - z * sy),
        py + size * (vy + w * sy + z * sx - x * sz),
        pz + size * (vz + w * sz + x * sy - y * sx),
    )


def into(a, point):
    """The point of a's surroundings, as the frame a sees it."""
    x, y, z = rotate_rows(back(a[0]), subtract(point, a[1]))
    return x / a[2], y / a[2], z / a[2]


def seen_from(a, b):
    """The frame b as the frame a sees it: compose(a, seen_from(a, b)) is b."""
    return product_rows(back(a[0]), b[0]), into(a, b[1]), b[2] / a[2]


def carrier(offset):
    """The function of a frame that composes a constant offset with it; an offset of no turn or no move wastes no sums."""
    turn, place, size = offset
    still, here = all(abs(c) < ROUNDING for c in turn[:3]), all(abs(c) < ROUNDING for c in place)
    if size != 1.0 or not (still or here):
        return lambda frame: compose(frame, offset)
    if still:
        return (lambda frame: frame) if here else lambda frame: (frame[0], at(frame, place), frame[2])
    return lambda frame: (product_rows(frame[0], turn), frame[1], frame[2])


def frame(rotation, position, size=1.0):
    """The frame of arrays (..., 4) and (..., 3), as rows; one frame gives plain floats."""
    rotation, position = np.asarray(rotation, float), np.asarray(position, float)
    if rotation.ndim == position.ndim == 1:
        return tuple(rotation.tolist()), tuple(position.tolist()), float(size)
    return tuple(np.moveaxis(rotation, -1, 0)), tuple(np.moveaxis(position, -1, 0)), size
