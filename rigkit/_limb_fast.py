"""The two-bone solver of `rigkit.limb` once more, for speed: one limb on plain floats, many in blocks.

Read `rigkit.limb._solve` first: it is the same sum, and a test holds these equal
to it. Both forms here do the plain case only. What is rare or wrong (a target on
the root, a pole near the line, bad input) they leave to the clear form: `one`
gives None, `many` has those rows solved again.

Plain floats beat arrays of three by a factor of ten. In a batch, x, y and z lie in
rows of their own and a block is small enough to stay in the processor's cache.
"""

from math import dist, exp, inf, sqrt

import numpy as np
from numpy import ndarray

BLOCK = 8192
ROUNDING = 4e-16  # of the distance: a gap below this is rounding
NO_SOFT = 1e-12  # of the limb's length: a soft this short is none
NO_BONE = 1e-12  # of the limb's length: a shorter bone is none
ON_ROOT = 1e-12  # of the limb's length: a target nearer than this lies on the root
ASKEW = 1e-4  # sine squared of the angle from line to pole; below, rounding in the side begins to count


def one(root, mid, end, target, pole, soft, stretch_limit):
    """Return (mid, end, stretch, gap, length) of one limb as plain numbers, or None where the clear form must look."""
    try:
        root, mid, end, target, pole = [
            x if type(x) is not ndarray else x.tolist() if x.size == 3 else None for x in (root, mid, end, target, pole)
        ]
        upper, lower = dist(root, mid), dist(mid, end)
        length, thin = upper + lower, upper - lower
        (rx, ry, rz), (tx, ty, tz), (px, py, pz) = root, target, pole
        tx, ty, tz, px, py, pz = tx - rx, ty - ry, tz - rz, px - rx, py - ry, pz - rz
        square = tx * tx + ty * ty + tz * tz
        distance = sqrt(square)
        if not (
            ON_ROOT * length < distance < inf
            and NO_BONE * length < upper
            and NO_BONE * length < lower
            and 0.0 <= soft <= length
            and 1.0 <= stretch_limit
        ):
            return None
        share = (px * tx + py * ty + pz * tz) / square
        sx, sy, sz = px - share * tx, py - share * ty, pz - share * tz
        side = sx * sx + sy * sy + sz * sz
        if not ASKEW * (px * px + py * py + pz * pz) < side < inf:
            return None
        held, stretch = distance, 1.0
        if distance > length - soft:
            start = length - soft
            held = start + soft * (1.0 - exp((start - distance) / soft)) if soft else length
            held = max(held, abs(thin))
            stretch = min(distance / held, stretch_limit)
        elif distance < abs(thin):
            held = abs(thin)
        along = 0.5 * (thin * (length / held) + held)
        off = sqrt((length + held) * (length - held)) * sqrt((held - thin) * (held + thin)) / (2.0 * held)
        along *= stretch / distance
        off *= stretch / sqrt(side)
        ending = held * stretch / distance
        gap = abs(distance - held * stretch)
        return (
            (rx + along * tx + off * sx, ry + along * ty + off * sy, rz + along * tz + off * sz),
            (rx + ending * tx, ry + ending * ty, rz + ending * tz),
            stretch,
            gap if gap > ROUNDING * distance else 0.0,
            length,
        )
    except (TypeError, ValueError, OverflowError, ZeroDivisionError):
        return None


def many(root, target, pole, upper, lower, soft, stretch_limit, shape):
    """Return (mid, end, stretch, gap, plain) of a batch of `shape`, one row a limb.

    Points (..., 3), the rest (...). plain: false for the rows that the clear form must solve.
    """
    count = int(np.prod(shape))
    points, numbers = (
        [_rows(x, shape, (3,)) for x in (root, target, pole)],
        [_rows(x, shape, ()) for x in (upper, lower, soft, stretch_limit)],
    )
    soft, stretchy = bool(np.any(numbers[2])), bool(np.any(numbers[3] != 1.0))
    mid, end, stretch, gap, plain = np.empty((count, 3)), np.empty((count, 3)), np.ones(count), np.empty(count), np.empty(count, dtype=bool)
    scratch = np.empty((9, min(count, BLOCK)))
    for start in range(0, count, BLOCK):
        part = slice(start, min(start + BLOCK, count))
        root, target, pole = (x[part].T if len(x) > 1 else x.T for x in points)
        upper, lower, slow, limit = (x[part] if len(x) > 1 else x for x in numbers)
        line, side, spare = scratch[:, : part.stop - start].reshape(3, 3, -1)
        distance, off, plain[part] = _axes(root, target, pole, (upper + lower) * ON_ROOT, line, side, spare)
        held = _held(distance, upper, lower, slow if soft else None)
        along, rise = _circle(upper, lower, held)
        if stretchy:
            grown = np.clip(distance / held, 1.0, limit, out=stretch[part])
            along, rise, held = along * grown, rise * grown, held * grown
            held = np.where(np.abs(distance - held) <= ROUNDING * distance, distance, held)
        np.abs(np.subtract(distance, held, out=gap[part]), out=gap[part])
        for scale, length in ((along, distance), (rise, off), (held, distance)):
            scale /= length
        np.add(np.multiply(line, held, out=spare), root, out=end[part].T)
        line *= along
        side *= rise
        line += side
        np.add(line, root, out=mid[part].T)
    return mid, end, stretch, gap, plain


def _axes(root, target, pole, on_root, line, side, spare):
    """Write root to target into `line`, and to the pole, square to that, into `side`; return their lengths and what is plain."""
    np.subtract(target, root, out=line)
    np.subtract(pole, root, out=side)
    square, pole_square, share = _dot(line, line, spare), _dot(side, side, spare), _dot(side, line, spare)
    plain = square > on_root * on_root
    if not plain.all():
        square[~plain] = 1.0
    share /= square
    np.multiply(line, share, out=spare)
    side -= spare
    side_square = _dot(side, side, spare)
    pole_square *= ASKEW
    askew = side_square > pole_square
    if not askew.all():
        side_square[~askew] = 1.0
        plain &= askew
    return np.sqrt(square, out=square), np.sqrt(side_square, out=side_square), plain


def _held(distance, upper, lower, soft):
    """The distance the end is held at: in the shell, slowed before full reach."""
    length, inner = upper + lower, np.abs(upper - lower)
    if soft is None:
        return np.clip(distance, inner, length)
    start = length - soft
    beyond = np.maximum(distance - start, 0.0)
    slowed = start - soft * np.expm1(-beyond / np.where(soft > NO_SOFT * length, soft, 1.0))
    return np.maximum(np.where(beyond > 0, slowed, distance), inner)


def _circle(upper, lower, held):
    """The elbow circle, as `rigkit.limb.elbow_circle`, without its checks."""
    length, thin = upper + lower, upper - lower
    half = 0.5 / held
    along = (thin * length) * half
    along += 0.5 * held
    rise = (length + held) * (length - held)
    rise *= (held - thin) * (held + thin)
    np.sqrt(rise, out=rise)
    rise *= half
    return along, rise


def _dot(a, b, spare):
    """Dot products of points held as three rows."""
    np.multiply(a, b, out=spare)
    total = spare[0] + spare[1]
    total += spare[2]
    return total


def _rows(value, shape, tail):
    """`value` with its batch axes in one: (1, ...) where it is the same for all, else (count, ...)."""
    if value.size == int(np.prod(tail)):
        return value.reshape(1, *tail)
    return np.broadcast_to(value, (*shape, *tail)).reshape(-1, *tail)
