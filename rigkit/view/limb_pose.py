"""How the parts of a limb follow its three joints.

Each bone carries a frame: x along the bone, z on the hinge. The turn of a bone
is the frame it has now times the inverse of the frame it had at rest; the part
keeps its place relative to the bone's start. Where a solver's answer changes
the length of a bone, the parts show it as a gap.
"""

import math
from functools import lru_cache

import numpy as np


def hinge(root, mid, end, fallback):
    """The unit axis about which root-mid-end bends, or `fallback` made square to the limb where the three are in line."""
    axis = cross(mid - root, end - mid)
    size = length(axis)
    if size > 1e-7 * length(mid - root) * length(end - mid) and size > 1e-12:
        return axis / size
    along = (end - root) / max(length(end - root), 1e-12)
    square = fallback - (fallback @ along) * along
    if length(square) < 1e-9:
        square = cross(along, np.eye(3)[np.abs(along).argmin()])
    return square / length(square)


def cross(a, b):
    """The cross product of two single vectors (numpy's is made for many, and ten times as slow for one)."""
    (ax, ay, az), (bx, by, bz) = a.tolist(), b.tolist()
    return np.array([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx])


def length(v):
    """The length of a single vector."""
    return math.sqrt(v @ v)


def bone_frame(start, stop, axis):
    """The frame of a bone, (3, 3): x along it, z on the hinge `axis` made square to it."""
    x = (stop - start) / max(length(stop - start), 1e-12)
    z = axis - (axis @ x) * x
    z /= max(length(z), 1e-12)
    return np.array([x, cross(z, x), z]).T


def turns(rest, now, rest_hinge=None, now_hinge=None):
    """The turns (2, 3, 3) of the upper and lower bone from the rest points to the points now, each (3, 3).

    The hinges are needed only where the limb is straight.
    """
    now = np.asarray(now, dtype=float)
    before, frames = _at_rest(np.asarray(rest, dtype=float).tobytes(), tuple(np.ravel(X if rest_hinge is None else rest_hinge)))
    after = hinge(*now, before if now_hinge is None else np.asarray(now_hinge, dtype=float))
    return np.array([bone_frame(now[i], now[i + 1], after) @ frames[i].T for i in (0, 1)])


X = (1.0, 0.0, 0.0)


@lru_cache(64)
def _at_rest(rest, rest_hinge):
    """The hinge and the two bone frames of rest points, (9 numbers as bytes): the same in every frame of a drag."""
    points = np.frombuffer(rest).reshape(3, 3)
    axis = hinge(*points, np.array(rest_hinge, dtype=float))
    return axis, [bone_frame(points[i], points[i + 1], axis) for i in (0, 1)]


def motion(skeleton, rest_positions, chain, now, bone_turns):
    """Rotations (J, 3, 3) and moves (J, 3) of every joint, when `chain` (three joint numbers) goes to `now` (3, 3)."""
    count = len(skeleton.names)
    rotations, moves = np.empty((count, 3, 3)), np.zeros((count, 3))
    rotations[:] = STILL
    for step, (joint, rows) in enumerate(zip(chain, carried(tuple(skeleton.parents), tuple(chain)))):
        turn = bone_turns[min(step, 1)]
        rotations[rows] = turn
        moves[rows] = now[step] - turn @ rest_positions[joint]
    return rotations, moves


STILL = np.eye(3)


@lru_cache(64)
def carried(parents, chain):
    """For each joint of `chain` the numbers of all joints that it carries, itself and those below up to the next of the chain."""
    owner = []
    for joint, parent in enumerate(parents):  # parents come first
        owner.append(chain.index(joint) if joint in chain else owner[parent] if parent >= 0 else -1)
    return tuple(np.flatnonzero(np.array(owner) == step) for step in range(len(chain)))
