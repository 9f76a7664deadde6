"""An eye that looks at a point, and stays level with the head while it does.

To look at a point fixes two of an eye's three freedoms; the third is its roll. *Level* is the usual choice: the eye's
side axis stays square to the head's up, as if the eye were turned about the head's up by an angle
`side`, then about its own side axis by an angle `rise`, and never rolled. (In eye research these are Fick's angles.)

Level has a price. Near straight up and straight down a small move of the target swings the side
angle far, as compass bearings spin near a pole; no rule that is level everywhere can avoid it. So limits
keep an eye some degrees off, and straight up itself has an answer: side 0, the eye faces as the head does.
`shortest` is the other choice: turn the shortest way from straight ahead, as real eyes nearly do (Listing's law; Helmholtz,
Handbuch der physiologischen Optik, 1867 (memory)). It is smooth everywhere but straight behind, and it is not level:
seen from the level eye it rolls by T with tan(T / 2) = tan(side / 2) tan(rise / 2).

In an eye's own frame z looks ahead, y is up and x to its left. Documented answers, none an error: a target on the eye
itself keeps it straight ahead; one straight up or down has side 0; one straight behind, in a cone, is held to the left.
Angles are radians; everything takes one eye or a batch in every leading axis.
"""

import numpy as np

from rigkit import arguments, frame, rotation
from rigkit.arithmetic import cross, dot, length

UPRIGHT = 1e-9  # sine of the angle to straight up or down below which there is no side
ON_EYE = 1e-12  # metres: a target this near to the eye lies on it
AHEAD, UP = np.array([0.0, 0.0, 1.0]), np.array([0.0, 1.0, 0.0])


def angles(direction):
    """Return (side, rise), radians (...), of a direction (..., 3) seen from the head.

    side: to the left, in [-pi, pi]; rise: up, in [-pi/2, pi/2]. Straight up and down the side is 0; for no direction both are.

    >>> [float(np.degrees(a).round(6)) for a in angles([1, np.sqrt(2), 1])]
    [45.0, 45.0]
    """
    x, y, z = np.moveaxis(arguments.points("direction", direction), -1, 0)
    flat = np.hypot(x, z)
    level = flat > UPRIGHT * np.abs(y)
    return np.where(level, np.arctan2(x, z), 0.0), np.arctan2(y, flat)


def from_angles(side, rise):
    """Return the level turn (..., 4) of an eye in the head: about the head's up by `side`, then about its own side axis, up by `rise`.

    >>> rotation.rotate(from_angles(np.pi / 2, 0), [0, 0, 1]).round(6)
    array([1., 0., 0.])
    """
    side, rise = arguments.array("side", side, ()), arguments.array("rise", rise, ())
    arguments.broadcast(side=side.shape, rise=rise.shape)
    return rotation.multiply(rotation.from_axis_angle(UP, side), rotation.from_axis_angle([-1.0, 0, 0], rise))


def look_at(position, target, up=(0.0, 1.0, 0.0), ahead=(0.0, 0.0, 1.0)):
    """Return the turn (..., 4) in the world of an eye at `position` that looks at `target`, level for this `up`.

    position, target: (..., 3) metres. up, ahead: (..., 3); `ahead` is where the head faces, and decides where the
    target stands straight up or down, or on the eye. Raises ValueError for an up of no length, and an ahead along it.

    >>> rotation.rotate(look_at([0, 1, 0], [0, 1, -3]), [[0, 0, 1], [0, 1, 0]]).round(6) + 0.0
    array([[ 0.,  0., -1.],
           [ 0.,  1.,  0.]])
    """
    position, target = arguments.points("position", position), arguments.points("target", target)
    head = head_turn(up, ahead)
    arguments.broadcast(position=position.shape[:-1], target=target.shape[:-1], head=head.shape[:-1])
    seen = rotation.rotate(rotation.invert(head), _way(position, target, rotation.rotate(head, AHEAD)))
    return rotation.multiply(head, from_angles(*angles(seen)))


def head_turn(up=(0.0, 1.0, 0.0), ahead=(0.0, 0.0, 1.0)):
    """Return the turn (..., 4) of a head with this up, y, that faces ahead, z, as far as up allows. Raises as `look_at` does.

    >>> head_turn()
    array([0., 0., 0., 1.])
    """
    y, z = arguments.directions("up", up), arguments.directions("ahead", ahead)
    arguments.broadcast(up=y.shape[:-1], ahead=z.shape[:-1])
    z = z - y * dot(z, y)
    bad = length(z)[..., 0] < UPRIGHT
    if bad.any():
        raise ValueError(
            f"ahead{arguments.where(arguments.first(bad))} runs along up; "
            "expected a direction across it: where the head faces"
        )
    z = z / length(z)
    return frame.from_axes(cross(y, z), y, z)


def eyes(head, places, target, limits=None, cone=None):
    """Return the turns (..., E, 4) in the world of E eyes in one head that look at one target, level with the head.

    head: a frame (rotation (..., 4), position (..., 3)) in the world. places: (E, 3), the eyes seen from the head.
    target: (..., 3) in the world. Each eye turns by itself, so that their lines of sight meet at the
    target. limits, cone: see `held`.

    >>> both = eyes((rotation.IDENTITY, [0, 1, 0]), [[0.03, 0, 0], [-0.03, 0, 0]], [0, 1, 0.03])
    >>> np.degrees(vergence(both)).round(6)
    np.float64(90.0)
    """
    (turn, origin), places, target = frame.pair("head", head), _places(places), arguments.points("target", target)
    arguments.broadcast(head=np.broadcast_shapes(turn.shape[:-1], origin.shape[:-1]), target=target.shape[:-1])
    seen = frame.to_local((turn, origin), target)[..., None, :]
    found = from_angles(*held(*angles(_way(places, seen, AHEAD)), limits, cone))
    return rotation.multiply(turn[..., None, :], found)


def held(side, rise, limits=None, cone=None):
    """Return (side, rise) brought within what an eye can do.

    limits: ((right, left), (down, up)), radians, right and down as negative numbers: each angle is held by itself. cone:
    the greatest angle from straight ahead: the direction nearest to the wished one. A target that goes
    round behind the head makes a held eye change sides: no limit can avoid that.
    Raises ValueError for limits that do not hold 0, rises beyond a right angle, and a cone outside 0 to pi.

    >>> [float(angle) for angle in held(1.0, 0.2, limits=((-0.5, 0.5), (-0.3, 0.4)))]
    [0.5, 0.2]
    """
    side, rise = arguments.array("side", side, ()), arguments.array("rise", rise, ())
    arguments.broadcast(side=side.shape, rise=rise.shape)
    if cone is not None:
        side, rise = angles(in_cone(rotation.rotate(from_angles(side, rise), AHEAD), AHEAD, cone))
    if limits is not None:
        (right, left), (down, up) = _limits(limits)
        side, rise = np.clip(side, right, left), np.clip(rise, down, up)
    return side, rise


def in_cone(direction, axis, most):
    """Return the unit direction (..., 3) nearest to `direction` that is within `most` radians of `axis`.

    One straight against the axis may go any way: to the left of an eye that looks along the axis with the world's up.
    Raises ValueError for a most outside 0 to pi.

    >>> in_cone([1, 0, 0], [0, 0, 1], np.pi / 4).round(6)
    array([0.707107, 0.      , 0.707107])
    """
    v, axis, most = arguments.directions("direction", direction), arguments.directions("axis", axis), arguments.array("most", most, ())
    arguments.broadcast(direction=v.shape[:-1], axis=axis.shape[:-1], most=most.shape)
    bad = (most < 0) | (most > np.pi)
    if bad.any():
        row = arguments.first(bad)
        raise ValueError(f"most{arguments.where(row)} is {most[row]:g}; expected 0 to {np.pi:.6g} radians from the axis")
    across = v - axis * dot(v, axis)
    across = np.where(length(across) > UPRIGHT, across, _left(axis))
    across, most = across / length(across), most[..., None]
    off = np.arctan2(length(cross(axis, v)), dot(axis, v))
    return np.where(off <= most, v, axis * np.cos(most) + across * np.sin(most))


def shortest(direction, ahead=(0.0, 0.0, 1.0)):
    """Return the turn (..., 4) that brings `ahead` to `direction` the shortest way: smooth when looking straight up, but not level.

    direction, ahead: (..., 3), not zero.

    >>> shortest([0, 1, 0]).round(6)
    array([-0.707107,  0.      ,  0.      ,  0.707107])
    """
    return rotation.between(ahead, direction)


def roll(turn, head=(0.0, 0.0, 0.0, 1.0)):
    """Return by how much an eye is rolled about its own line of sight against level, radians (...): 0 is level with the head.

    turn, head: (..., 4) in the world. Right-handed about the line of sight.

    >>> round(float(roll(rotation.from_axis_angle([0, 0, 1], 0.25))), 6)
    0.25
    """
    turn, head = arguments.quaternions("turn", turn), arguments.quaternions("head", head)
    seen = rotation.multiply(rotation.invert(head), turn)
    level = from_angles(*angles(rotation.rotate(seen, AHEAD)))
    return rotation.twist_angle(rotation.multiply(rotation.invert(level), seen), AHEAD)


def vergence(turns):
    """Return the angle between the lines of sight of two eyes, turns (..., 2, 4), radians (...).

    >>> float(vergence([[0, 0, 0, 1], [0, 0, 0.6, 0.8]]))
    0.0
    """
    turns = arguments.quaternions("turns", turns)
    if turns.ndim < 2 or turns.shape[-2] != 2:
        raise ValueError(f"turns has shape {turns.shape}; expected (..., 2, 4): the turns of two eyes")
    sights = rotation.rotate(turns, AHEAD)
    one, other = sights[..., 0, :], sights[..., 1, :]
    return np.arctan2(length(cross(one, other)), dot(one, other))[..., 0]


# ---- helpers --------------------------------------------------------------------------------------------------------


def _way(position, target, ahead):
    """From position to target; `ahead` for a target on the eye."""
    way = target - position
    return np.where(length(way) > ON_EYE, way, ahead)


def _left(axis):
    """A direction square to the axis: to the left, or ahead for an axis that stands upright."""
    left = cross(np.broadcast_to(UP, axis.shape), axis)
    return np.where(length(left) > UPRIGHT, left, AHEAD)


def _places(places):
    places = arguments.points("places", places)
    if places.ndim != 2:
        raise ValueError(f"places has shape {places.shape}; expected (E, 3): a row for each eye")
    return places


def _limits(limits):
    pairs = arguments.array("limits", limits, (2, 2))
    if not ((pairs[..., 0] <= 0) & (pairs[..., 1] >= 0)).all() or (np.abs(pairs[..., 1, :]) > np.pi / 2).any():
        raise ValueError(
            f"limits are {arguments.shorten(pairs)}; expected ((right, left), (down, up)) in radians, "
            "right and down 0 or below, left and up 0 or above, down and up within a right angle"
        )
    return np.moveaxis(pairs, (-2, -1), (0, 1))
