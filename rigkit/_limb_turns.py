"""The turns of `rigkit.limb.rotations` once more, for speed: one limb on plain floats, many in blocks.

Read `rigkit.limb.rotations` first: it is the same sum, and a test holds these equal to it. Both forms here do the
plain case only: one rest limb, and a line and a side that are far from undefined. What is rare or wrong they leave to
the clear form: `one` gives None, `many` has those rows worked out again.

Two things are saved. The half of a bone's angle to the line, which a quaternion asks for, comes from the bone itself:
it is the angle of the bisector of bone and line. And the lower bone is what is left of the line and the upper one.
"""

import numpy as np
from numpy import ndarray

from rigkit import _rows as rows
from rigkit.arithmetic import cross_rows, product_rows

BLOCK = 6000  # limbs worked on together: few enough to stay in the processor's cache
ASKEW = 1e-4  # sine squared of the angle between two directions; below, rounding in what is square to them begins to count
SHORT = 1e-6  # of the upper bone's length: a line or a bone this short is left to the clear form


def one(root, mid, end, solved_mid, solved_end, pole):
    """Return (upper, lower), turns as plain numbers, of one limb that is bent at rest; None where the clear form must look."""
    try:
        root, mid, end, *solved = [_floats(point) for point in (root, mid, end, solved_mid, solved_end, pole)]
        bones, line = (rows.subtract(mid, root), rows.subtract(end, mid)), rows.subtract(end, root)
        upper, lower, size = (rows.length(x) for x in (*bones, line))
        line = rows.scale(line, 1.0 / size)
        side = rows.subtract(bones[0], rows.scale(line, rows.dot(bones[0], line)))
        off = rows.length(side)
        plain = [size > SHORT * upper, lower > SHORT * upper, upper > SHORT * lower, off * off > ASKEW * upper * upper]
        before = rest(bones, line, rows.scale(side, 1.0 / off))
        turns = turned(*(rows.subtract(x, root) for x in solved), before, upper, plain)
        return turns if all(plain) and all(-2.0 < x < 2.0 for turn in turns for x in turn) else None
    except (TypeError, ValueError, OverflowError, ZeroDivisionError):
        return None


def _floats(point):
    """Three floats of a point; a batch raises, unread."""
    x, y, z = point.tolist() if type(point) is ndarray and point.size == 3 else point
    return float(x), float(y), float(z)


def many(root, solved_mid, solved_end, pole, before, length, shape):
    """Return (upper, lower, plain): turns (N, 4) of a batch of `shape`, and false for the rows that the clear form must do.

    root: (3,). solved_mid, solved_end, pole: (..., 3). before: two turns, see `rest`. length: of the upper bone at rest.
    """
    count = int(np.prod(shape))
    given = [x.reshape(1, 3) if x.size == 3 else np.broadcast_to(x, (*shape, 3)).reshape(-1, 3) for x in (solved_mid, solved_end, pole)]
    upper, lower, plain = np.empty((count, 4)), np.empty((count, 4)), np.empty(count, dtype=bool)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):  # in rows that are not plain
        for start in range(0, count, BLOCK):
            part = slice(start, min(start + BLOCK, count))
            points = (np.subtract((x[part] if len(x) > 1 else x).T, root[:, None], order="C") for x in given)
            found = []
            for table, turn in zip((upper, lower), turned(*points, before, length, found)):
                for column, row in enumerate(turn):
                    table[part, column] = row
            plain[part] = np.logical_and.reduce(found)
    return upper, lower, plain


def rest(bones, line, side):
    """Return for each of two bones the turn that comes first: back from the rest frame, then about its z back by the bone's angle.

    bones: root to mid and mid to end, at rest. line, side: unit vectors from root to end and, square to it, to mid.
    """
    back = rows.back(rows.from_axes(line, side, cross_rows(line, side)))
    halves = (_half(rows.dot(bone, line), rows.dot(bone, side)) for bone in bones)
    return [product_rows(rows.back((0.0, 0.0, *half)), back) for half in halves]


def turned(bone, line, pole, before, length, plain):
    """Return the two turns of rows of numbers: before, then about z by the bone's angle, then out to the solved frame.

    bone, line, pole: from the root to the solved middle, to the solved end, and to the pole.
    """
    size = rows.length(line)
    line = rows.scale(line, 1.0 / size)
    side = rows.subtract(pole, rows.scale(line, rows.dot(pole, line)))
    square = rows.dot(side, side)
    side = rows.scale(side, 1.0 / rows.sqrt(square))
    x, y = rows.dot(bone, line), rows.dot(bone, side)
    plain += [size > SHORT * length, square > ASKEW * rows.dot(pole, pole)]
    plain += [abs(x) + abs(y) > SHORT * length, abs(size - x) + abs(y) > SHORT * length]
    out = rows.from_axes(line, side, cross_rows(line, side))
    halves = _half(x, y), _half(size - x, -y)
    return [product_rows(_about_own_z(out, *half), first) for half, first in zip(halves, before)]


def _half(x, y):
    """(sine, cosine) of half the angle of the point (x, y): the bisector of its direction and the x axis."""
    distance = rows.sqrt(x * x + y * y)
    whole = distance + abs(x)
    ahead = x >= 0.0
    sine = rows.choose(ahead, y, rows.choose(y < 0.0, -whole, whole))
    cosine = rows.choose(ahead, whole, abs(y))
    size = 1.0 / rows.sqrt(2.0 * distance * whole)
    return sine * size, cosine * size


def _about_own_z(q, sine, cosine):
    """The turn q after a turn about z: `product_rows(q, (0, 0, sine, cosine))`, with the zeros left out."""
    x, y, z, w = q
    return x * cosine + y * sine, y * cosine - x * sine, z * cosine + w * sine, w * cosine - z * sine
