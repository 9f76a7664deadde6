"""Which way a limb bends, and by how much.

Three joints a, b, c (shoulder, elbow, wrist) lie in one plane. The bend angle
is how far the second bone has turned away from the line of the first: zero when
straight, pi when folded back. The normal of the plane is the axis of that turn
by the right-hand rule: thumb along the normal, the fingers curl from the first
bone to the second.
"""

import numpy as np

from rigkit import arguments
from rigkit.arithmetic import cross, length

STRAIGHT = 1e-9  # sine of a bend below which there is no plane to speak of


def angle(a, b, c):
    """Return the bend angle at b, radians (...) in [0, pi], 0 for a straight limb.

    a, b, c: (..., 3) metres. From |u - v| and |u + v| of the unit bones u and v,
    which keeps all digits near straight and near folded (W. Kahan, How futile
    are mindless assessments of roundoff in floating-point computation, 2006,
    section 12). Raises for a bone of zero length.

    >>> round(float(np.degrees(angle([0, 0, 0], [1, 0, 0], [1, 1, 0]))), 6)
    90.0
    """
    u, v = _bones(a, b, c)
    return 2.0 * np.arctan2(length(u - v), length(u + v))[..., 0]


def normal(a, b, c):
    """Return the unit normal (..., 3) of the bend plane, right-handed: the axis about which bone ab turns to line up with bc.

    a, b, c: (..., 3) metres. Raises for a bone of zero length, and for a straight
    or folded limb, which has no bend plane.

    >>> normal([0, 0, 0], [1, 0, 0], [1, 1, 0])
    array([0., 0., 1.])
    """
    axis = cross(*_bones(a, b, c))
    sine = length(axis)
    if (sine < STRAIGHT).any():
        row = arguments.first(sine[..., 0] < STRAIGHT)
        raise ValueError(f"a, b, c{arguments.where(row)} lie on one line; expected a bent limb: bend it a little, or give the hinge axis instead")
    return axis / sine


def _bones(a, b, c):
    a, b, c = arguments.points("a", a), arguments.points("b", b), arguments.points("c", c)
    arguments.broadcast(a=a.shape[:-1], b=b.shape[:-1], c=c.shape[:-1])
    return _bone("a", a, "b", b), _bone("b", b, "c", c)


def _bone(start_name, start, end_name, end):
    bone = end - start
    size = np.abs(bone).max(axis=-1)
    if not size.all():
        row = arguments.first(size == 0)
        raise ValueError(f"{start_name} and {end_name}{arguments.where(row)} are the same point; expected a bone with a length")
    return arguments.directions("bone", bone)
