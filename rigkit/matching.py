"""Two ways to say how a limb stands: turned joints, or a target and a pole. From either to the other, and between them.

Turned joints hold nine freedoms: three turns of three. A target holds seven: the place and the turn of the
end, and the side the limb bends to. So every target has its turned joints, and going back from them gives the same target; but
turned joints in general have no target that says all of them. What is lost is two numbers: how far the upper
bone and the lower bone are twisted about themselves against the bend plane. Every joint keeps its place.

An animator sees them in other words. A middle joint turned about its hinge alone loses nothing at the middle; one turned
off its hinge, sideways or in a twist, can't be said by a target, see `off_hinge`. A limb bent backwards comes back with both bones
rolled half round. The other way round, what turned joints can't say is stretch, see `Turned.gap`.

`rest` is a Skeleton of three joints in a row, for example `skeleton.keep(["left_shoulder_joint", ...])`; `rotations` (..., 3, 4) are
local turns, as `Skeleton.forward` takes them, and may be a batch of poses. hinge: (3,) in the world at rest, for a limb modelled
straight, which shows none.

For a limb of a rig, with its controls, see `rigkit.posing.matched`: it stands on this module's pole.

The count of freedoms: Tolani, Goswami & Badler, Graphical Models 62 (2000) 353-388.
"""

from dataclasses import dataclass, replace

import numpy as np

from rigkit import _limb_axes as axes
from rigkit import arguments, limb, rotation

BENT = 1e-9  # of the upper bone: a middle joint this far off the line shows the bend plane
NAMED = 1e-6  # radians or metres: less than this is not lost


@dataclass(frozen=True, eq=False)
class Goal:
    """A limb said by its end: `target` and `pole` (..., 3) in the world, `turn` (..., 4), the end's turn in the world."""

    target: np.ndarray
    pole: np.ndarray
    turn: np.ndarray


@dataclass(frozen=True, eq=False)
class Turned:
    """A limb said by its joints: `rotations` (..., 3, 4) local; `gap` (...) metres by which its end misses the target."""

    rotations: np.ndarray
    gap: np.ndarray


@dataclass(frozen=True, eq=False)
class Lost:
    """How one pose of a limb differs from another. `upper_twist`, `lower_twist` (...): by how much more a bone is turned about
    itself, radians. `end_turn` (...): between the ends' turns, radians. `moved` (...): the farthest that middle or end moved, metres."""

    upper_twist: np.ndarray
    lower_twist: np.ndarray
    end_turn: np.ndarray
    moved: np.ndarray

    @property
    def named(self):
        """What is lost, in words, to the greatest amount: empty when nothing is."""
        told = {
            "twist of the upper bone": self.upper_twist, "twist of the lower bone": self.lower_twist,
            "turn of the end": self.end_turn, "place": self.moved,
        }
        most = {name: float(np.abs(value).max()) for name, value in told.items()}
        return {name: value for name, value in most.items() if value > NAMED}


def to_target(rest, rotations, distance=None, hinge=None):
    """Return the Goal that puts a limb where these turned joints have it: its pole `distance` metres from the middle joint.

    distance: left out, the limb's length at rest; any will do. A straight limb shows no side; its pole is where the hinge of the
    upper bone would bend it. With root and end in one place no target says where the middle is.
    Raises ValueError for a rest that is no limb, and a distance not above 0.

    >>> from rigkit.skeleton import Skeleton
    >>> arm = Skeleton(["shoulder", "elbow", "wrist"], [-1, 0, 1], [[0, 1, 0], [0.3, 0.05, 0], [0.25, -0.05, 0]])
    >>> goal = to_target(arm, arm.rest_rotations, distance=0.5)
    >>> goal.target, goal.pole.round(6)
    (array([0.55, 1.  , 0.  ]), array([0.3 , 1.55, 0.  ]))
    """
    start, line, hinge = _rest(rest, hinge)
    distance = _distance(distance, start)
    world = rest.forward(rotations)
    root, mid, end = (world.positions[..., k, :] for k in range(3))
    turned = rotation.multiply(world.rotations[..., 0, :], rotation.invert(rest.rest_world.rotations[0]))
    pole = pole_of((root, mid, end), rotation.rotate(turned, line), rotation.rotate(turned, hinge), distance)
    return Goal(end, pole, world.rotations[..., 2, :])


def pole_of(limb, line, hinge, distance):
    """Return the pole (..., 3) of a limb (root, mid, end) as it stands in the world: `distance` (...) metres from the middle joint.

    line, hinge: (..., 3), where the upper bone has carried the rest limb's line from root to end and its hinge; they stand in where root
    and end are in one place, and where the limb is straight. `rigkit.limb.pole_point` is the same for a limb that shows its bend.

    >>> pole_of(np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0]]), np.array([1.0, 0, 0]), np.array([0, 0, 1.0]), 0.5).round(6)
    array([ 1. , -0.5,  0. ])
    """
    root, mid, end = limb
    size = axes.norm(end - root)[..., None]
    way = np.where(size > 0, (end - root) / np.where(size > 0, size, 1.0), line)
    off = axes.square_to(mid - root, way)
    shown = axes.norm(off) > BENT * axes.norm(mid - root)
    off = np.where(shown[..., None], off, axes.square_to(np.cross(way, hinge), way))
    return mid + off * (distance / axes.norm(off))[..., None]


def to_turned(rest, goal, soft=0.0, stretch_limit=1.0, bends=(0.0, np.pi), hinge=None):
    """Return the Turned joints of a limb that reaches for a Goal, its middle joint bent from bends[0] to bends[1] and no further.

    soft, stretch_limit: see `rigkit.limb.solve`; a stretched limb keeps its shape and loses its growth. bends: radians, 0 straight.
    A target the hinge does not allow leaves the limb pointing at it, as near as it comes.
    Raises ValueError as `limb.solve` does, for a rest that is no limb, and bends out of order or outside 0 to pi.

    >>> from rigkit.skeleton import Skeleton
    >>> arm = Skeleton(["shoulder", "elbow", "wrist"], [-1, 0, 1], [[0, 1, 0], [0.3, 0.05, 0], [0.25, -0.05, 0]])
    >>> there = to_turned(arm, Goal([0.2, 1.3, 0.1], [0.3, 1.5, -0.5], rotation.IDENTITY))
    >>> arm.forward(there.rotations).positions[2].round(6)
    array([0.2, 1.3, 0.1])
    """
    start, _, _ = _rest(rest, hinge)
    target, pole = arguments.points("target", goal.target), arguments.points("pole", goal.pole)
    turn = arguments.quaternions("turn", goal.turn)
    solved = _shrunk(start[0], limb.solve(*start, target, pole, soft, stretch_limit, bends))
    upper, lower = limb.rotations(*start, solved, pole, hinge)
    rests = rest.rest_world.rotations
    shape = arguments.broadcast(limb=upper.shape[:-1], turn=turn.shape[:-1])
    world = [np.broadcast_to(q, (*shape, 4)) for q in (rotation.multiply(upper, rests[0]), rotation.multiply(lower, rests[1]), turn)]
    places = [np.broadcast_to(p, (*shape, 3)) for p in (start[0], solved.mid, solved.end)]
    rotations, _ = rest.local(np.stack(world, axis=-2), np.stack(places, axis=-2))
    return Turned(rotations, axes.norm(rest.forward(rotations).positions[..., 2, :] - target))


def lost(rest, before, after):
    """Return the Lost between two poses of a limb, local turns (..., 3, 4) each.

    >>> from rigkit.skeleton import Skeleton
    >>> arm = Skeleton(["shoulder", "elbow", "wrist"], [-1, 0, 1], [[0, 1, 0], [0.3, 0.05, 0], [0.25, -0.05, 0]])
    >>> twisted = arm.rest_rotations.copy()
    >>> twisted[1] = rotation.from_axis_angle([0.25, -0.05, 0], 0.4)
    >>> back = to_turned(arm, to_target(arm, twisted)).rotations
    >>> {name: round(value, 6) for name, value in lost(arm, twisted, back).named.items()}
    {'twist of the lower bone': 0.4}
    """
    start = _places(rest)
    one, two = rest.forward(before), rest.forward(after)
    between = rotation.multiply(rotation.invert(one.rotations), two.rotations)
    bones = [rotation.rotate(rotation.invert(rest.rest_world.rotations[k]), start[k + 1] - start[k]) for k in range(2)]
    twists = [rotation.twist_angle(between[..., k, :], bones[k]) for k in range(2)]
    end_turn = rotation.angle(one.rotations[..., 2, :], two.rotations[..., 2, :])
    return Lost(*twists, end_turn, axes.norm(two.positions - one.positions).max(axis=-1))


def off_hinge(rest, rotations, hinge=None):
    """Return (bend, sideways, twist), radians (...): the middle joint's turn from rest, about its hinge and, then, off it.

    bend: about the hinge. What is left is one turn: twist is its part about the lower bone, sideways the part
    square to both. A hinge joint has neither.

    >>> from rigkit.skeleton import Skeleton
    >>> arm = Skeleton(["shoulder", "elbow", "wrist"], [-1, 0, 1], [[0, 1, 0], [0.3, 0, 0], [0.25, 0, 0]])
    >>> turns = arm.rest_rotations.copy()
    >>> turns[1] = rotation.multiply(rotation.from_axis_angle([1, 0, 0], 0.2), rotation.from_axis_angle([0, 0, 1], 0.7))
    >>> [round(float(a), 6) + 0.0 for a in off_hinge(arm, turns, hinge=[0, 0, 1])]
    [0.7, 0.0, 0.2]
    """
    start, _, world_hinge = _rest(rest, hinge)
    own = _hinge_of_mid(rest, world_hinge)
    swing, bend = _about_hinge(rest, rotations, own)
    along = rotation.rotate(rotation.invert(rest.rest_world.rotations[1]), start[2] - start[1])
    along = arguments.directions("the lower bone", axes.square_to(along, own))
    off = rotation.to_vector(swing)
    return bend, off @ np.cross(own, along), off @ along


def blend(rest, first, second, share, hinge=None):
    """Return local turns (..., 3, 4) between two poses of a limb: share (...) 0 is the first, 1 the second.

    Root and end turn the shorter way; the middle joint goes from one hinge angle to the other, so that what is in range at both
    ends is in range all the way, also where the shorter way would lead through the joint's stop.

    >>> from rigkit.skeleton import Skeleton
    >>> arm = Skeleton(["shoulder", "elbow", "wrist"], [-1, 0, 1], [[0, 1, 0], [0.3, 0, 0], [0.25, 0, 0]])
    >>> bent = arm.rest_rotations.copy()
    >>> bent[1] = rotation.from_axis_angle([0, 0, 1], 2.0)
    >>> off_hinge(arm, blend(arm, arm.rest_rotations, bent, 0.25, [0, 0, 1]), [0, 0, 1])[0].round(6)
    np.float64(0.5)
    """
    first, second = (_turns(name, value) for name, value in (("first", first), ("second", second)))
    share = arguments.array("share", share, ())
    shape = arguments.broadcast(first=first.shape[:-2], second=second.shape[:-2], share=share.shape)
    own = _hinge_of_mid(rest, _rest(rest, hinge)[2])
    (swing, bend), (other_swing, other_bend) = (_about_hinge(rest, turns, own) for turns in (first, second))
    bend = bend + share * (other_bend - bend)
    turned = rotation.multiply(rotation.slerp(swing, other_swing, share), rotation.from_axis_angle(own, bend))
    found = np.empty((*shape, 3, 4))
    for k in (0, 2):
        found[..., k, :] = rotation.slerp(first[..., k, :], second[..., k, :], share)
    found[..., 1, :] = rotation.multiply(rest.rest_rotations[1], turned)
    return found


# ---- helpers --------------------------------------------------------------------------------------------------------


def _places(rest):
    """The rest places (3, 3) of a sound limb."""
    if len(rest) != 3 or rest.parents.tolist() != [-1, 0, 1]:
        raise ValueError(f"rest has the joints {', '.join(rest.names)}; expected three in a row, root, middle, end: see Skeleton.keep")
    axes.lengths(*rest.rest_world.positions)
    return rest.rest_world.positions


def _rest(rest, hinge):
    """The rest places (3, 3), the unit line from root to end, and the hinge, a positive turn about which bends further."""
    start = _places(rest)
    if hinge is None:
        upper, lower = start[1] - start[0], start[2] - start[1]
        if axes.norm(np.cross(upper, lower)) <= axes.ON_LINE * axes.norm(upper) * axes.norm(lower):
            raise ValueError(
                "the limb is straight at rest; "
                "expected a hinge: give the axis of the model's fold, a straight limb shows none"
            )
    return start, *axes.rest_axes(*start, hinge)


def _shrunk(root, solved):
    """The solved limb with its growth taken off: its shape stays."""
    mid, end = (root + (point - root) / np.asarray(solved.stretch)[..., None] for point in (solved.mid, solved.end))
    return replace(solved, mid=mid, end=end)


def _hinge_of_mid(rest, hinge):
    """The hinge as the middle joint's own rest frame sees it."""
    return rotation.rotate(rotation.invert(rest.rest_world.rotations[1]), hinge)


def _about_hinge(rest, rotations, own):
    """The middle joint's turn from rest as (what is off the hinge (..., 4), the angle about it (...)), the hinge first."""
    turned = rotation.multiply(rotation.invert(rest.rest_rotations[1]), _turns("rotations", rotations)[..., 1, :])
    swing, _ = rotation.swing_twist(turned, own)
    return swing, rotation.twist_angle(turned, own)


def _turns(name, value):
    value = arguments.quaternions(name, value)
    if value.ndim < 2 or value.shape[-2] != 3:
        raise ValueError(f"{name} has shape {value.shape}; expected (..., 3, 4): a turn for root, middle and end")
    return value


def _distance(distance, start):
    distance = arguments.array("distance", sum(axes.lengths(*start)) if distance is None else distance, ())
    if (distance <= 0).any():
        bad = arguments.first(distance <= 0)
        raise ValueError(f"distance{arguments.where(bad)} is {distance[bad]:g}; expected metres above 0: a pole on the joint shows no side")
    return distance
