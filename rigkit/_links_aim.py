"""The links that aim: an eye at its target, the tip of a long chain at its own. See `rigkit.links`."""

from dataclasses import dataclass
from math import pi

import numpy as np

from rigkit import _rows as rows
from rigkit import chain
from rigkit._links_base import Step, turned_back
from rigkit.arithmetic import product_rows, rotate_rows

UPRIGHT = 1e-9  # a target this near to straight up, for its height, has no side
AT_REST = 1e-12  # of a chain's length: a target this near to the tip at rest leaves the chain as it is


@dataclass(frozen=True)
class Gaze:
    """An eye that looks at a target, level with what carries it: turned about its up axis, then about its own side, never rolled.

    driven: joint or control. target: joint or control. up: (3,) in the world at rest. limits: ((right, left), (down, up)),
    radians, right and down below zero, see `rigkit.gaze.held`. Two eyes with one target converge.
    carrier: what carries the eye, else its parent.
    """

    driven: str
    target: str
    up: tuple = (0.0, 1.0, 0.0)
    limits: tuple = ((-pi, pi), (-pi / 2, pi / 2))
    carrier: str | None = None

    drives = property(lambda self: (self.driven,))
    channels = ()

    def steps(self, rest):
        carrier = self.carrier or rest.parents[self.driven]
        turn, place, _ = rows.seen_from(rest.frames[carrier], rest.frames[self.driven])
        ahead = rows.subtract(rows.into(rest.frames[carrier], rest.frames[self.target][1]), place)
        level = rows.frame(_level(ahead, turned_back(rest.frames[carrier], self.up)), place)
        side, rise = _angles(rows.into(level, rows.add(place, ahead)))
        (right, left), (down, up) = (tuple(map(float, pair)) for pair in self.limits)
        kept = product_rows(rows.back(_looking(side, rise)), product_rows(rows.back(level[0]), turn))

        def run(frames, values):
            seen = rows.into(level, rows.into(frames[carrier], frames[self.target][1]))
            to_side, to_rise = _angles(seen)
            looking = _looking(rows.clip(to_side, right, left), rows.clip(to_rise, down, up))
            return (rows.compose(frames[carrier], (product_rows(level[0], product_rows(looking, kept)), place, 1.0)),)

        return [Step((self.driven,), (carrier, self.target), run)]


@dataclass(frozen=True)
class Chain:
    """A chain of many joints whose tip goes to a control: see `rigkit.chain.fabrik`. Each bone turns the shortest way, so none twists.

    joints: names, each the parent of the next. target: a control. tip: (3,), where the last bone ends, in the world at rest.
    """

    joints: tuple
    target: str
    tip: tuple

    def __post_init__(self):
        object.__setattr__(self, "joints", tuple(self.joints))

    drives = property(lambda self: self.joints)
    channels = ()

    def steps(self, rest):
        carrier = rest.parents[self.joints[0]]
        held = rest.frames[carrier]
        local = [rows.seen_from(held, rest.frames[name]) for name in self.joints]
        places = np.array([*(place for _, place, _ in local), rows.into(held, tuple(map(float, self.tip)))])
        aim = rows.into(rest.frames[self.target], tuple(map(float, self.tip)))
        size = float(np.linalg.norm(np.diff(places, axis=0), axis=1).sum())
        ways = [rows.scale(way, 1.0 / rows.length(way)) for way in map(tuple, np.diff(places, axis=0).tolist())]

        def run(frames, values):
            goal = rows.into(frames[carrier], rows.at(frames[self.target], aim))
            off = rows.length(rows.subtract(goal, tuple(places[-1].tolist())))
            if type(off) is float and off <= AT_REST * size:
                return tuple(rows.compose(frames[carrier], joint) for joint in local)
            points = _solved(places, goal)
            carried, turn = [], rows.NO_TURN
            for k, (rest_turn, _, _) in enumerate(local):
                bone = rows.subtract(points[k + 1], points[k])
                now = rows.scale(bone, 1.0 / rows.length(bone))
                turn = product_rows(rows.between(rotate_rows(turn, ways[k]), now), turn)
                carried.append(rows.compose(frames[carrier], (product_rows(turn, rest_turn), points[k], 1.0)))
            return tuple(carried)

        return [Step(self.joints, (carrier, self.target), run)]


# ---- helpers ----------------------------------------------------------------------------------------------------


def _solved(places, goal):
    """The points of the solved chain, each as rows."""
    if type(goal[0]) is float:
        return [tuple(p) for p in chain.fabrik(places, np.array(goal)).points.tolist()]
    points = chain.fabrik(places, np.stack(np.broadcast_arrays(*goal), axis=-1)).points
    return [tuple(points[:, k].T) for k in range(len(places))]


def _level(ahead, up):
    """The turn (4,) with y up and z ahead, as level as up says."""
    y = np.array(up, float) / np.linalg.norm(up)
    z = np.array(ahead) - (np.array(ahead) @ y) * y
    if not np.linalg.norm(z) > 1e-9 * np.linalg.norm(ahead):
        raise ValueError(
            f"the target stands straight along up {tuple(map(float, up))} at rest; expected it ahead: move it in front of the eye"
        )
    z = z / np.linalg.norm(z)
    x = np.cross(y, z)
    return np.array(rows.from_axes(*(tuple(axis.tolist()) for axis in (x, y, z))))


def _angles(seen):
    """(to the side, up): the two turns that bring z to a point."""
    x, y, z = seen
    flat = rows.sqrt(x * x + z * z)
    return rows.choose(flat > UPRIGHT * abs(y), rows.arctan(x, z), 0.0), rows.arctan(y, flat)


def _looking(side, rise):
    return product_rows(rows.from_turns("Y", side, side, side) or rows.NO_TURN, rows.from_turns("X", -rise, -rise, -rise) or rows.NO_TURN)
