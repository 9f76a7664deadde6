"""Three angles for one turn: all twenty-four orders.

Three turns one after the other, about axes of which neighbours differ, reach
every orientation. Written in capitals the axes move along ("XYZ": about x, then
about the y that x has turned, then about the z that both have turned); in small
letters they stay fixed. The same three turns about moving axes are the reversed
ones about fixed axes: "XYZ" with (a, b, c) is "zyx" with (c, b, a). `rotation`
carries these functions as its own.
"""

from functools import partial

import numpy as np

from rigkit import arguments
from rigkit.arithmetic import apply

GIMBAL = 1e-9  # a middle angle this near to an end of its range, radians, counts as locked


def from_euler(order, angles):
    """Return the turn (..., 4) made of three turns about axes.

    order: three letters, neighbours different. Capitals are intrinsic ("XYZ":
    about the moving x, then the moving y, then the moving z), small letters
    extrinsic (about fixed axes, in that order). angles: (..., 3) radians, in the
    order of the letters.

    >>> from_euler("ZYX", [np.pi / 2, 0, 0]).round(6)
    array([0.      , 0.      , 0.707107, 0.707107])
    >>> bool(np.allclose(from_euler("XYZ", [1, 2, 3]), from_euler("zyx", [3, 2, 1])))
    True
    """
    axes, sign, proper, extrinsic = _order(order)
    angles = arguments.array("angles", angles, (3,))
    formula = _proper_rows if proper else _mixed_rows
    return apply(partial(formula, axes, sign), (4,), angles[..., ::-1] if extrinsic else angles)


def _mixed_rows(axes, sign, angles):
    """Three different axes: the product of three single turns multiplied out."""
    (s1, s2, s3), (c1, c2, c3) = (np.sin(angles / 2), np.cos(angles / 2))
    i = s1 * c2 * c3 + sign * (c1 * s2 * s3)
    j = c1 * s2 * c3 - sign * (s1 * c2 * s3)
    k = c1 * c2 * s3 + sign * (s1 * s2 * c3)
    return *_at(axes, i, j, k), c1 * c2 * c3 - sign * (s1 * s2 * s3)


def _proper_rows(axes, sign, angles):
    """The first axis once more at the end: the outer angles come in as their sum and their difference."""
    first, middle, last = angles / 2
    s, c = np.sin(middle), np.cos(middle)
    i, j, k = c * np.sin(first + last), s * np.cos(first - last), sign * (s * np.sin(first - last))
    return *_at(axes, i, j, k), c * np.cos(first + last)


def _at(axes, *parts):
    """The parts in the order x, y, z."""
    return (parts[axes.index(axis)] for axis in range(3))


def to_euler(order, q):
    """Return three angles (..., 3), radians, with from_euler(order, angles) the turn q.

    The outer angles lie in [-pi, pi]; the middle one in [-pi/2, pi/2] for three
    different letters, in [0, pi] where the last repeats the first. With the
    middle angle at an end of its range only the sum or the difference of the
    outer two is fixed (gimbal lock, see `gimbal`): the last angle is then zero.

    Source: E. Bernardes and S. Viollet, Quaternion to Euler angles conversion: a
    direct, general and computationally efficient method, PLoS ONE 17 (2022) e0276302.

    >>> to_euler("XYZ", from_euler("XYZ", [0.1, 0.2, 0.3])).round(6)
    array([0.1, 0.2, 0.3])
    >>> np.degrees(to_euler("ZYX", from_euler("ZYX", np.radians([50, 90, 20])))).round(6)
    array([30., 90.,  0.])
    """
    return apply(partial(_angle_rows, _order(order)), (3,), arguments.quaternions("q", q))


def _angle_rows(order, q):
    _, sign, proper, extrinsic = order
    total, difference = _outer_halves(order, q)
    near, far = np.hypot(*total), np.hypot(*difference)
    half_sum, half_difference = np.arctan2(*total), np.arctan2(*difference)
    same = -1.0 if extrinsic else 1.0  # the half sum equals the half difference, or its opposite, where the last angle is zero
    half_sum = np.where(near < GIMBAL, same * half_difference, half_sum)
    half_difference = np.where(far < GIMBAL, same * half_sum, half_difference)
    first, last = half_sum + half_difference, half_sum - half_difference
    middle = 2 * np.arctan2(far, near) if proper else 2 * np.arctan2(near, far) - np.pi / 2
    angles = _wrap(first), middle, _wrap(last if proper else sign * last)
    return angles[::-1] if extrinsic else angles


def gimbal(order, q):
    """Return how far, in radians (...), q is from gimbal lock in this order: the middle angle's distance to an end of its range.

    Near zero the outer two angles turn about nearly the same axis, and a small
    turn may need large angles.

    >>> bool(gimbal("ZYX", from_euler("ZYX", [0.5, np.pi / 2, 0.1])) < 1e-9)
    True
    """
    total, difference = _outer_halves(_order(order), np.moveaxis(arguments.quaternions("q", q), -1, 0))
    sizes = np.hypot(*total), np.hypot(*difference)
    return 2 * np.arctan2(np.minimum(*sizes), np.maximum(*sizes))


def _order(order):
    """The axes of an order as intrinsic indices, 1 or -1 where they run on or back, whether the first repeats, whether extrinsic."""
    extrinsic = isinstance(order, str) and order.islower()
    letters = order.upper() if extrinsic else order
    good = isinstance(order, str) and len(order) == 3 and set(letters) <= set("XYZ") and letters[0] != letters[1] != letters[2]
    if not good:
        raise ValueError(f"order is {order!r}; expected three of X, Y, Z (moving axes) or x, y, z (fixed axes), no letter twice in a row")
    i, j, k = ("XYZ".index(letter) for letter in (letters[::-1] if extrinsic else letters))
    proper = i == k
    return (i, j, 3 - i - j), 1.0 if (j - i) % 3 == 1 else -1.0, proper, extrinsic


def _outer_halves(order, q):
    """(sine, cosine) of the half sum and the half difference of the outer angles, each pair times a length the middle angle gives."""
    (i, j, k), sign, proper, _ = order
    i, j, k, w = q[i], q[j], sign * q[k], q[3]
    if proper:
        return (i, w), (k, j)
    return (i + k, w + j), (i - k, w - j)


def _wrap(angle):
    return angle - 2 * np.pi * np.round(angle / (2 * np.pi))
