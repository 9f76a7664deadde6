"""Chapter 04's arithmetic: directions, angles between them, the bend of three joints, and what the chapter closes."""

import numpy as np

CLOSE = 1e-6  # metres, radians, or the length of a direction: what a learner computes
STRAIGHT = 1e-9  # the sine of a bend below which there is no bend plane
BOOK = ("bend", "frame.from_bone", "frame.from_axes", "limb", "_limb_fast")  # closed in the whole chapter


def unit(v):
    """`v` at length 1; zeros where it has no length."""
    length = np.linalg.norm(v)
    return v / length if length > 1e-12 else np.zeros(3)


def square(v, direction):
    """The part of `v` that is square to a direction of length 1."""
    return v - (v @ direction) * direction


def between(u, v):
    """The angle between two vectors, radians; pi where one has no length. All digits near 0 and pi."""
    u, v = unit(u), unit(v)
    if not u.any() or not v.any():
        return float(np.pi)
    return float(2 * np.arctan2(np.linalg.norm(u - v), np.linalg.norm(u + v)))


def bend_angle(a, b, c):
    """The bend angle at b, radians; pi where a bone has no length."""
    return between(b - a, c - b)


def bend_normal(a, b, c):
    """The right-handed unit normal of the bend plane; zeros for a straight or folded limb."""
    axis = np.cross(unit(b - a), unit(c - b))
    return unit(axis) if np.linalg.norm(axis) > STRAIGHT else np.zeros(3)


def height(a, b, c):
    """How far b stands off the line from a to c, metres."""
    return float(np.linalg.norm(square(b - a, unit(c - a))))


def in_degrees(radians):
    """An angle with four digits at any size."""
    return f"{np.degrees(radians):.4g} degrees"
