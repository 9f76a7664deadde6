"""The other side: points, frames, names and whole skeletons, mirrored over a plane.

A reflection M turns right hands into left hands, so M R is no rotation. Changing
the sign of an odd number of the frame's own axes repairs that; which ones is a
choice. *Matched* changes all three (R' = -M R): the same local turns on both
sides give mirror images, moves need the opposite sign. *Parallel* changes x only
(R' = M R diag(-1, 1, 1)): a frame that stands like the world stays so, turns go
(+, -, -) and moves (-, +, +) over the YZ plane.

Both in quaternions: M is minus a half turn about the normal n, so that -M R is n
q, and M R diag(-1, 1, 1) is n q x, each axis read as a quaternion with w = 0.
"""

from dataclasses import dataclass

import numpy as np

from rigkit import arguments, rotation
from rigkit.arithmetic import conjugate, dot, join, product
from rigkit.frame import pair as checked_pair
from rigkit.skeleton import Skeleton

WAYS = ("matched", "parallel")
AXES_TOLERANCE = 1e-6  # of a cosine: about 0.08 degrees


@dataclass(frozen=True, eq=False)
class Plane:
    """A plane through `point` (3,), metres, with the direction `normal` (3,), kept at unit length.

    >>> Plane(normal=(2, 0, 0)).normal
    array([1., 0., 0.])
    """

    point: np.ndarray = (0.0, 0.0, 0.0)
    normal: np.ndarray = (1.0, 0.0, 0.0)

    def __post_init__(self):
        for name, check in (("point", arguments.points), ("normal", arguments.directions)):
            value = check(name, getattr(self, name)).copy()
            if value.shape != (3,):
                raise ValueError(f"{name} has shape {value.shape}; expected (3,): one plane at a time")
            value.flags.writeable = False
            object.__setattr__(self, name, value)


def matrix(plane):
    """Return the reflection I - 2 n n^T, (3, 3): its determinant is -1.

    >>> matrix(Plane())
    array([[-1.,  0.,  0.],
           [ 0.,  1.,  0.],
           [ 0.,  0.,  1.]])
    """
    return np.eye(3) - 2.0 * np.outer(plane.normal, plane.normal)


def points(p, plane):
    """Return the points p (..., 3) mirrored over the plane.

    >>> points([0.2, 1.0, 0.3], Plane())
    array([-0.2,  1. ,  0.3])
    """
    p = arguments.points("p", p)
    return p - 2.0 * dot(p - plane.point, plane.normal) * plane.normal


def directions(v, plane):
    """Return the vectors v (..., 3) mirrored: as points, but without a place.

    >>> directions([1, 0, 1], Plane(point=(5, 0, 0)))
    array([-1.,  0.,  1.])
    """
    v = arguments.points("v", v)
    return v - 2.0 * dot(v, plane.normal) * plane.normal


def matched(q, plane):
    """Return the matched frame R' = -M R of the frame q (..., 4).

    >>> matched([0, 0, 0, 1], Plane())
    array([1., 0., 0., 0.])
    """
    q = arguments.quaternions("q", q)
    return product(join(plane.normal, np.zeros(1)), q)


def parallel(q, plane):
    """Return the parallel frame R' = M R diag(-1, 1, 1) of the frame q (..., 4).

    Over the YZ plane (x, y, z, w) becomes (x, -y, -z, w).

    >>> parallel([0.5, 0.5, 0.5, 0.5], Plane())
    array([ 0.5, -0.5, -0.5,  0.5])
    """
    return product(matched(q, plane), np.array([-1.0, 0.0, 0.0, 0.0]))


def frames(pair, plane, how="matched"):
    """Return the frame (rotation (..., 4), position (..., 3)) mirrored over the plane, how: "matched" or "parallel".

    >>> frames(([0, 0, 0, 1], [1, 2, 3]), Plane(), "parallel")
    (array([0., 0., 0., 1.]), array([-1.,  2.,  3.]))
    """
    turn, origin = checked_pair("pair", pair)
    return _way(how)(turn, plane), points(origin, plane)


def names(name):
    """Return the name with its side swapped, by whole words between underscores; a name with no side stays.

    A name that holds both sides is a ValueError.

    >>> names("left_elbow_joint"), names("bright_lamp"), names("centre_body_joint")
    ('right_elbow_joint', 'bright_lamp', 'centre_body_joint')
    """
    if not isinstance(name, str):
        raise ValueError(f"name is {name!r}; expected a text")
    words = name.split("_")
    if "left" in words and "right" in words:
        raise ValueError(f"{name!r} holds both sides; expected one side or none: rename it first")
    swap = {"left": "right", "right": "left"}
    return "_".join(swap.get(word, word) for word in words)


def skeleton(skeleton, plane, how="matched", rename=names):
    """Return the whole skeleton mirrored: positions over the plane, frames by `how`, sides swapped in the names.

    The joints keep their order, so that joint i of the result is the mirror image
    of joint i given. how: "matched" or "parallel". rename: a function of a name that gives
    the other side's; another rule than `names` for skeletons named in another way.

    >>> arm = Skeleton(["left_elbow_joint"], [-1], [[0.3, 1, 0]])
    >>> other = skeleton(arm, Plane())
    >>> other.names, other.rest_translations
    (('right_elbow_joint',), array([[-0.3,  1. ,  0. ]]))
    """
    world = skeleton.rest_world
    rotations, translations = skeleton.local(*frames((world.rotations, world.positions), plane, how))
    return Skeleton(tuple(rename(name) for name in skeleton.names), skeleton.parents, translations, rotations)


def complete(skeleton, plane, how="matched", rename=names):
    """Return the skeleton with the other side added: every joint with a side whose counterpart is missing gets one.

    The new joint hangs under the counterpart of its parent (a parent with no side
    is its own), stands mirrored, and its frame is turned by `how`. Joints that
    are there stay as they are, in their order; new ones come behind. rename: see `skeleton`.

    >>> body = Skeleton(["body_joint", "left_hip_joint"], [-1, 0], [[0, 1, 0], [0.1, 0, 0]])
    >>> both = complete(body, Plane())
    >>> both.names[2], both.rest_world.positions[2], both.parent("right_hip_joint")
    ('right_hip_joint', array([-0.1,  1. ,  0. ]), 'body_joint')
    """
    new = [i for i, name in enumerate(skeleton.names) if rename(name) not in skeleton.names]
    every = skeleton.names + tuple(rename(skeleton.names[i]) for i in new)
    place = {name: i for i, name in enumerate(every)}
    parents = [*skeleton.parents, *(-1 if skeleton.parents[i] < 0 else place[rename(skeleton.names[skeleton.parents[i]])] for i in new)]
    world = skeleton.rest_world
    turns, places = frames((world.rotations[new], world.positions[new]), plane, how)
    bare = Skeleton(every, parents, np.zeros((len(every), 3)))
    rotations, translations = bare.local(np.vstack([world.rotations, turns]), np.vstack([world.positions, places]))
    return Skeleton(every, parents, translations, rotations)


def counterparts(every, rename=names):
    """Return for each name the place (J,) of its counterpart: the other side's, or its own for a name with no side; -1 for none.

    rename: see `skeleton`.

    >>> counterparts(["body", "left_hip", "right_hip", "left_hook"])
    array([ 0,  2,  1, -1])
    """
    place = {name: i for i, name in enumerate(every)}
    return np.array([place.get(rename(name), -1) for name in every])


def pose(skeleton, plane, rotations=None, translations=None, rename=names):
    """Return local (rotations (..., J, 4), translations (..., J, 3)) of the pose flipped to the other side.

    What each joint did in the world since rest, its counterpart does mirrored;
    so the frames may be matched, parallel, or anything else. Flipped twice is the
    start. Every joint with a side needs its counterpart: see `complete`. rename: see `skeleton`.

    >>> arms = complete(Skeleton(["body", "left_arm"], [-1, 0], [[0, 1, 0], [0.2, 0, 0]]), Plane())
    >>> waving = np.array([[0, 0, 0, 1], [0, 0, 0.6, 0.8], [1, 0, 0, 0]])
    >>> np.abs(pose(arms, Plane(), waving)[0][2]).round(6)
    array([0.8, 0.6, 0. , 0. ])
    """
    other = counterparts(skeleton.names, rename)
    if (other < 0).any():
        lone = [skeleton.names[i] for i in np.flatnonzero(other < 0)]
        raise ValueError(f"{', '.join(lone[:4])} have no counterpart; expected both sides: see mirror.complete")
    world, rest = skeleton.forward(rotations, translations), skeleton.rest_world
    turned = product(world.rotations, conjugate(rest.rotations))
    turned = join(-directions(turned[..., :3], plane), turned[..., 3:])
    return skeleton.local(product(turned[..., other, :], rest.rotations), points(world.positions[..., other, :], plane))


def channel_signs(frame, other, plane):
    """Return (turns (3,), moves (3,)): the signs with which the channels of one frame become the mirror image in the other.

    frame, other: rotations (4,) of a joint and of its counterpart. A move along
    an axis mirrors into the axis's image; a turn about it goes the other way
    round, for a reflection changes the sense of every turn. Raises where the
    other frame's axes do not lie on the images: no signs would do then.

    >>> q = [0, 0, 0.6, 0.8]
    >>> channel_signs(q, matched(q, Plane()), Plane())
    (array([1, 1, 1]), array([-1, -1, -1]))
    >>> channel_signs(q, parallel(q, Plane()), Plane())
    (array([ 1, -1, -1]), array([-1,  1,  1]))
    """
    here, there = rotation.to_matrix(frame), rotation.to_matrix(other)
    moves = np.einsum("ij,ij->j", matrix(plane) @ here, there)
    off = np.abs(np.abs(moves) - 1).max()
    if off > AXES_TOLERANCE:
        worst = np.degrees(np.arccos(1 - min(off, 1)))
        raise ValueError(
            f"the other frame's axes are {worst:.3g} degrees off the mirrored ones; "
            "expected axes along or against them: mirror the frame"
        )
    moves = np.round(moves).astype(int)
    return -moves, moves


def _way(how):
    if how not in WAYS:
        raise ValueError(f"how is {how!r}; expected 'matched' or 'parallel'")
    return matched if how == "matched" else parallel
