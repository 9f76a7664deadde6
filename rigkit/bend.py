"""Which way a limb bends, and by how much.

Three joints a, b, c (shoulder, elbow, wrist) lie in one plane. The bend angle
is how far the second bone has turned away from the line of the first: zero when
straight, pi when folded back. The normal of the plane is the axis of that turn
by the right-hand rule: thumb along the normal, the fingers curl from the first
bone to the second.
"""

import numpy as np

from rigkit import arguments
from rigkit.arithmetic import cross, dot, length, rotate
from rigkit.frame import from_bone

STRAIGHT = 1e-9  # sine of a bend below which there is no plane to speak of


def angle(a, b, c):
    """Return the bend angle at b, radians (...) in [0, pi], 0 for a straight limb.

    a, b, c: (..., 3) metres. From |u - v| and |u + v| of the unit bones u and v,
    which keeps all digits near straight and near folded (W. Kahan, How futile
    are mindless assessments of roundoff in floating-point computation, 2006,
    section 12 (memory)). Raises for a bone of zero length.

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
        raise ValueError(
            f"a, b, c{arguments.where(row)} lie on one line; "
            "expected a bent limb: bend it a little, or give the hinge axis instead"
        )
    return axis / sine


def prebend(a, b, c, direction, angle):
    """Return b moved square to the line ac, towards `direction`, until the limb bends by `angle`; the ends a and c stay.

    a, b, c: (..., 3) metres. direction: (..., 3), where b should go; what of it
    runs along the line is taken off. angle: (...) radians in (0, pi). With x and
    d - x the stretches of the line on both sides of b, and h the height, the bend
    is atan(h / x) + atan(h / (d - x)); solved for h with the tangent of a sum.

    >>> prebend([0, 0, 0], [1, 0, 0], [2, 0, 0], [0, 0, -1], np.pi / 2) + 0.0
    array([ 1.,  0., -1.])
    """
    a, b, c = arguments.points("a", a), arguments.points("b", b), arguments.points("c", c)
    direction, angle = arguments.points("direction", direction), arguments.array("angle", angle, ())[..., None]
    arguments.broadcast(a=a.shape[:-1], b=b.shape[:-1], c=c.shape[:-1], direction=direction.shape[:-1], angle=angle.shape[:-1])
    line = _bone("a", a, "c", c)
    towards = arguments.directions("direction across the limb", direction - line * dot(direction, line))
    whole, first = length(c - a), dot(b - a, line)
    _check_prebend(first, whole, angle)
    product = first * (whole - first)
    sine, cosine = np.sin(angle), np.cos(angle)
    height = 2 * product * sine / (whole * cosine + np.sqrt((whole * cosine) ** 2 + 4 * product * sine**2))
    return a + line * first + towards * height


# ---------------------------------------------------------------- chains


def plane_normal(points):
    """Return the unit normal (..., 3) of the plane through the first and the last point that fits the ones between best.

    points: (..., n, 3), n at least 3. Of all planes that hold both ends, the one
    with the least sum of squared distances: its second direction is the main axis
    of what stands off the line. The sign is right-handed for the way the chain
    bends. Raises for a chain that is straight, or bends all ways alike.

    >>> plane_normal([[0, 0, 0], [1, 0.1, 0.0], [2, 0.1, 0.001], [3, 0, 0]]).round(3)
    array([ 0.   ,  0.005, -1.   ])
    """
    points = _chain(points)
    line = _bone("the first point", points[..., 0, :], "the last", points[..., -1, :])
    off = points - points[..., :1, :]
    off = off - dot(off, line[..., None, :]) * line[..., None, :]
    spread, axes = np.linalg.eigh(np.einsum("...ni,...nj->...ij", off, off))
    _check_spread(spread, length(points[..., -1, :] - points[..., 0, :])[..., 0])
    normal = arguments.directions("normal", cross(line, axes[..., 2]))
    bones = np.diff(points, axis=-2)
    turning = cross(bones[..., :-1, :], bones[..., 1:, :]).sum(axis=-2)
    return np.where(dot(turning, normal) < 0, -normal, normal)


def off_plane(points):
    """Return how far each point of a chain (..., n, 3) stands off its plane, see `plane_normal`: (..., n) metres, signed.

    >>> off_plane([[0, 0, 0], [1, 0.5, 0.01], [2, 0.5, -0.01], [3, 0, 0]]).round(4) + 0.0
    array([ 0.  , -0.01,  0.01,  0.  ])
    """
    points = _chain(points)
    return dot(points - points[..., :1, :], plane_normal(points)[..., None, :])[..., 0]


def flatten(points):
    """Return a chain (..., n, 3) put on its plane, see `plane_normal`: each point moves square to it, root and end stay.

    >>> flatten([[0, 0, 0], [1, 0.5, 0.01], [2, 0.5, -0.01], [3, 0, 0]]).round(4) + 0.0
    array([[0. , 0. , 0. ],
           [1. , 0.5, 0. ],
           [2. , 0.5, 0. ],
           [3. , 0. , 0. ]])
    """
    points = _chain(points)
    return points - off_plane(points)[..., None] * plane_normal(points)[..., None, :]


def frames(points, hinge):
    """Return the joint frames (..., n, 4) of a chain: x along each bone, z on the hinge, the last joint as its parent.

    points: (..., n, 3), n at least 2. hinge: (..., 3), one axis for the whole
    chain, so that no hinge flips on the way.

    >>> from rigkit import rotation
    >>> rotation.rotate(frames([[0, 0, 0], [0, -1, 0], [0, -2, 0.1]], [1, 0, 0]), [0, 0, 1]).round(6) + 0.0
    array([[1., 0., 0.],
           [1., 0., 0.],
           [1., 0., 0.]])
    """
    points = _chain(points, least=2)
    hinge = arguments.directions("hinge", hinge)
    arguments.broadcast(points=points.shape[:-2], hinge=hinge.shape[:-1])
    turns = from_bone(np.diff(points, axis=-2), hinge[..., None, :])
    return np.concatenate([turns, turns[..., -1:, :]], axis=-2)


def hinge_turns(rotations):
    """Return the angle (..., n - 1), radians, between the hinges (z axes) of each joint of a chain and the next.

    rotations: (..., n, 4) in the world. All zero for a chain that bends about one
    axis; near pi where a hinge has flipped.

    >>> hinge_turns([[0, 0, 0, 1], [1, 0, 0, 0]]).round(6)
    array([3.141593])
    """
    z = rotate(arguments.quaternions("rotations", rotations), np.array([0.0, 0.0, 1.0]))
    if z.ndim < 2:
        raise ValueError(f"rotations has shape {z.shape[:-1] + (4,)}; expected (..., n, 4): a chain of joints")
    before, after = z[..., :-1, :], z[..., 1:, :]
    return 2.0 * np.arctan2(length(before - after), length(before + after))[..., 0]


# ---------------------------------------------------------------- checks


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


def _check_prebend(first, whole, angle):
    beyond = ((first <= 0) | (first >= whole))[..., 0]
    if beyond.any():
        raise ValueError(
            f"b{arguments.where(arguments.first(beyond))} does not stand between a and c; "
            "expected its foot on the line within the limb"
        )
    odd = ((angle <= 0) | (angle >= np.pi))[..., 0]
    if odd.any():
        row = arguments.first(odd)
        raise ValueError(
            f"angle{arguments.where(row)} is {angle[row][0]:.6g}; "
            f"expected radians between 0 and pi: 5 degrees are {np.radians(5):.4f}"
        )


def _chain(points, least=3):
    points = arguments.points("points", points)
    if points.ndim < 2 or points.shape[-2] < least:
        raise ValueError(f"points has shape {points.shape}; expected (..., n, 3) with n of {least} or more: the joints of a chain")
    return points


def _check_spread(spread, size):
    straight = np.sqrt(np.maximum(spread[..., 2], 0)) < STRAIGHT * size
    if straight.any():
        raise ValueError(
            f"points{arguments.where(arguments.first(straight))} lie on one line; "
            "expected a bent chain: bend it a little, or give a hinge axis"
        )
    round_about = spread[..., 2] - spread[..., 1] < STRAIGHT * spread[..., 2]
    if round_about.any():
        raise ValueError(
            f"points{arguments.where(arguments.first(round_about))} bend all ways alike; "
            "expected one plane that fits better than others"
        )
