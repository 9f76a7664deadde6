"""Chapter 03's own small mathematics of turns, in numpy alone, so that worked answers and planned mistakes can stand in a notebook.

A turn about an axis leaves the part of a vector along the axis as it is and turns
the part square to it in its plane (Rodrigues 1840 (memory)). Written with half the
angle, the same formula gives the matrix of a quaternion (x, y, z, w). The checks
measure with `rigkit.rotation`, which these functions are tested against.
"""

import numpy as np

CLOSE = 1e-6  # radians, metres: what the claims allow
NOTHING = 1e-9
# closed: what turns a point, makes a matrix, splits a turn. The three angles of `euler` stay open: 03.5 asks for them. So does
# `arithmetic.product`: forward kinematics makes a table with it when it is loaded, in a grading box too.
ROWS = ("arithmetic.rotate", "arithmetic.rotate_rows", "arithmetic.matrix", "arithmetic.matrix_rows")
TURNS = ("rotation", "frame", *ROWS, "forward.local_matrices")


def unit(v):
    """v at length 1."""
    return v / np.linalg.norm(v)


def turned(v, axis, angle):
    """v turned about a unit axis through the origin."""
    return np.cos(angle) * v + np.sin(angle) * np.cross(axis, v) + (1 - np.cos(angle)) * (axis @ v) * axis


def product(p, q):
    """The product p q of two quaternions xyzw: the turn q, then the turn p, about fixed axes."""
    return np.array([*(p[3] * q[:3] + q[3] * p[:3] + np.cross(p[:3], q[:3])), p[3] * q[3] - p[:3] @ q[:3]])


def inverse(q):
    """The turn back."""
    return q * np.array([-1.0, -1.0, -1.0, 1.0])


def quaternion(axis, angle):
    """The quaternion xyzw of a turn about an axis of any length."""
    return np.array([*(np.sin(angle / 2) * unit(np.asarray(axis, float))), np.cos(angle / 2)])


# ---- for the cases ---------------------------------------------------------------------------------------------


def direction(rng):
    """A random direction, with no part near 0, so that no axis of the world is special: (3,)."""
    return unit(rng.uniform(0.3, 1.0, 3) * rng.choice([-1.0, 1.0], 3))


def telling_quaternion(rng):
    """A random quaternion whose four numbers differ in size by 0.1 at least and are none near 0, w above 0."""
    while True:
        q = unit(rng.normal(size=4))
        sizes = np.sort(np.abs(q))
        if sizes[0] > 0.15 and np.diff(sizes).min() > 0.1:
            return q if q[3] > 0 else -q


# ---- for the words ---------------------------------------------------------------------------------------------


def in_degrees(radians):
    """An angle as a person reads it, with digits enough to show a small gap."""
    degrees = np.degrees(radians)
    return f"{degrees:.4f} degrees" if abs(degrees) >= 1e-3 or degrees == 0 else f"{degrees:.2g} degrees"


def four(q, digits=4):
    """A quaternion in a line."""
    return "(" + ", ".join(f"{float(c) + 0.0:.{digits}f}" for c in q) + ")"
