"""Chapter 07's feet: their own frames, soles and true pivots, and where a stack of turns, in any order, puts a sole.

In a foot's own frame y is the height over the floor, so that what is below zero is
under it. A stack is worked out from the inside out: the innermost turn first, each
about its pivot at rest. Source: the product of turns about fixed points, written
out; the pivots in reverse order are common practice in the trade, no source.
"""

from typing import NamedTuple

import numpy as np

from rigkit import foot, frame, rotation

BOOK = ("foot",)  # closed in the whole chapter
PARTS = ("heel", "ball", "toe", "inner", "outer")
FLOOR = 1e-4  # metres: what counts as standing on the floor, and how far a sole may go under it or slide
CLOSE = 1e-6  # metres or radians: what a learner computes
X, Y, Z = np.eye(3)


class Foot(NamedTuple):
    """One foot: axes (3, 3), world_from_own, and place (3,); the sole (N, 3) and the pivots, name to point, in its own frame."""

    side: str
    axes: np.ndarray
    place: np.ndarray
    sole: np.ndarray
    pivots: dict
    ankle: np.ndarray

    @property
    def out(self):
        """1 where x points to the outer edge, -1 where it points to the inner one."""
        return 1.0 if self.side == "left" else -1.0

    @property
    def behind(self):
        """Which points of the sole the heel part carries, (N,)."""
        return self.sole[:, 2] < self.pivots["ball"][2]

    def own(self, points):
        """World points in the foot's own frame."""
        return (points - self.place) @ self.axes

    def world(self, points):
        """Points of the foot's own frame in the world."""
        return self.place + points @ self.axes.T


def shell(robot, side):
    """The vertices of a foot's two hard parts, heel block and toe cap, (N, 3), world."""
    return np.concatenate([robot.part(f"{side}_{part}").mesh.vertices for part in ("heel_block", "toe_cap")])


def foot_of(robot, side):
    """The Foot of a robot's side, by the package."""
    ankle, ball = (np.asarray(robot.landmarks[f"{side}_{name}"], float) for name in ("ankle", "ball"))
    turn, place = foot.own_frame(ankle, ball)
    axes = rotation.to_matrix(turn)
    points = shell(robot, side)
    sole = (points[points[:, 1] <= FLOOR] - place) @ axes
    found = foot.pivots(sole, frame.to_local((turn, place), ball), side)
    return Foot(side, axes, place, sole, {name: getattr(found, name) for name in PARTS}, (ankle - place) @ axes)


# ---- turns -------------------------------------------------------------------------------------------------------


def turn_points(points, pivot, axis, angle):
    """Points (N, 3) turned about an axis of length 1 through a pivot, radians: the formula of 03.1, for all at once."""
    v = points - pivot
    return pivot + np.cos(angle) * v + np.sin(angle) * np.cross(axis, v) + (1 - np.cos(angle)) * np.outer(v @ axis, axis)


def stood(one, points, behind, order, shares=(0.0, 0.0, 0.0), tilt=0.0, swivel=0.0):
    """Where points (N, 3) of a Foot go when its turns are stacked in an order, outermost first; radians.

    behind: (N,), which of them the heel part carries: the ball turns no others. shares: of heel, ball and toe.
    """
    heel, ball, toe = shares
    edge = one.pivots["outer" if tilt > 0 else "inner"]
    steps = {
        "swivel": (one.pivots["ball"], Y, one.out * swivel),
        "edges": (edge, Z, -one.out * tilt),
        "heel": (one.pivots["heel"], X, heel),
        "toe": (one.pivots["toe"], X, toe),
        "ball": (one.pivots["ball"], X, ball),
    }
    points = np.array(points, float)
    for name in reversed(order):
        moved = turn_points(points, *steps[name])
        points = np.where(behind[:, None], moved, points) if name == "ball" else moved
    return points


def depth(points):
    """How far the lowest of points in a foot's own frame is under the floor, metres; 0 if none is."""
    return max(0.0, -float(points[:, 1].min()))


def rigid(before, after):
    """The turn (3, 3) and move (3,) that carry points (N, 3) to others with the least sum of squares (Kabsch 1976, memory)."""
    after = np.clip(after, -1e6, 1e6)  # whatever comes: beyond it no decomposition converges
    a, b = before.mean(axis=0), after.mean(axis=0)
    u, _, vt = np.linalg.svd((after - b).T @ (before - a))
    turn = u @ np.diag([1.0, 1.0, np.sign(np.linalg.det(u @ vt)) or 1.0]) @ vt
    return turn, b - turn @ a


def about(axis, angle):
    """The matrix of a turn about an axis of length 1."""
    return rotation.to_matrix(rotation.from_axis_angle(axis, float(angle)))
