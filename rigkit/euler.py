"""Three angles for one turn: all twenty-four orders.

Three turns one after the other, about axes of which neighbours differ, reach
every orientation. Written in capitals the axes move along ("XYZ": about x, then
about the y that x has turned, then about the z that both have turned); in small
letters they stay fixed. The same three turns about moving axes are the reversed
ones about fixed axes: "XYZ" with (a, b, c) is "zyx" with (c, b, a). `rotation`
carries these functions as its own.
"""

import numpy as np

from rigkit import arguments

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
    (i, j, k), sign, proper, extrinsic = _order(order)
    angles = arguments.array("angles", angles, (3,))
    first, middle, last = np.moveaxis(angles[..., ::-1] if extrinsic else angles, -1, 0) / 2
    q = np.empty(angles.shape[:-1] + (4,))
    s, c = np.sin(middle), np.cos(middle)
    if proper:
        q[..., i], q[..., 3] = c * np.sin(first + last), c * np.cos(first + last)
        q[..., j], q[..., k] = s * np.cos(first - last), sign * s * np.sin(first - last)
        return q
    s1, c1, s3, c3 = np.sin(first), np.cos(first), np.sin(last), np.cos(last)
    q[..., i] = s1 * c * c3 + sign * (c1 * s * s3)
    q[..., j] = c1 * s * c3 - sign * (s1 * c * s3)
    q[..., k] = c1 * c * s3 + sign * (s1 * s * c3)
    q[..., 3] = c1 * c * c3 - sign * (s1 * s * s3)
    return q


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
    _, sign, proper, extrinsic = _order(order)
    total, difference = _outer_halves(order, arguments.quaternions("q", q))
    middle = 2 * (np.arctan2(_size(difference), _size(total)) if proper else np.arctan2(_size(total), _size(difference)) - np.pi / 4)
    half_sum, half_difference = np.arctan2(*total), np.arctan2(*difference)
    same = -1.0 if extrinsic else 1.0  # the half sum equals the half difference, or its opposite, where the last angle is zero
    half_sum = np.where(_size(total) < GIMBAL, same * half_difference, half_sum)
    half_difference = np.where(_size(difference) < GIMBAL, same * half_sum, half_difference)
    first, last = half_sum + half_difference, half_sum - half_difference
    angles = [_wrap(first), middle, _wrap(last if proper else sign * last)]
    return np.stack(angles[::-1] if extrinsic else angles, axis=-1)


def gimbal(order, q):
    """Return how far, in radians (...), q is from gimbal lock in this order: the middle angle's distance to an end of its range.

    Near zero the outer two angles turn about nearly the same axis, and a small
    turn may need large angles.

    >>> bool(gimbal("ZYX", from_euler("ZYX", [0.5, np.pi / 2, 0.1])) < 1e-9)
    True
    """
    total, difference = _outer_halves(order, arguments.quaternions("q", q))
    sizes = _size(total), _size(difference)
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
    (i, j, k), sign, proper, _ = _order(order)
    i, j, k, w = q[..., i], q[..., j], sign * q[..., k], q[..., 3]
    if proper:
        return (i, w), (k, j)
    return (i + k, w + j), (i - k, w - j)


def _size(pair):
    return np.hypot(*pair)


def _wrap(angle):
    return angle - 2 * np.pi * np.round(angle / (2 * np.pi))
