"""A foot that rolls: turns about points of the sole, each carrying the next, from the floor up to the ankle.

A leg hangs from the hip, so a turn of the ankle swings the toes. On the floor it is the
other way round: the foot stands on its heel, its toe or an edge, and the ankle is what swings. So the
pivots are stacked in reverse: each turns all that comes after it, and the ankle comes last.

    swivel        about the upright through ball, heel and toe: outermost, so that it turns the foot whatever it stands on
    outer, inner  edges of the sole, about the foot's length: one of them for either sign of tilt
    heel          for a roll below zero: the toes come up
    toe           for a roll past the turn-over angle; it carries the toes
    ball          for a roll from zero up to the turn-over angle, and no further; it carries heel and ankle

The stack in reverse, heel, toe, ball, ankle, is common practice in the trade, no source.

Everything here is in the foot's own frame: y up from the floor, z to the toes, x to the character's
left. So the outer edge of a left foot is at its greatest x, that of a right one at its least. A pivot is the farthest
point of the sole on its side; that is why nothing goes under the floor: a turn about the farthest point only lifts
the others. It holds while heel roll, toe roll and tilt stay within 90 degrees. Angles are in radians and may
be batches (...); at zero everything is exactly at rest.
"""

from dataclasses import dataclass

import numpy as np

from rigkit import arguments, frame, rotation

TURN_OVER = np.pi / 6
SAME_EDGE = 1e-3  # of the sole's size: points this near to the farthest lie on one edge with it, for models are rounded
FLAT = 1e-6  # of a length: less than this is none
_OUTWARD = {"left": 1.0, "right": -1.0}


@dataclass(frozen=True, eq=False)
class Pivots:
    """The points a foot turns about, (3,) metres in its own frame; `outward` is 1 where x points to the outer edge, else -1."""

    heel: np.ndarray
    ball: np.ndarray
    toe: np.ndarray
    inner: np.ndarray
    outer: np.ndarray
    outward: float


@dataclass(frozen=True, eq=False)
class Stack:
    """How far each pivot has carried what hangs on it: frames (rotation (..., 4), position (..., 3)) in the foot's own frame.

    `toe` carries the toes and the ball joint, `ball` the rest of the foot with the ankle. At rest each is no turn and no move.
    """

    swivel: tuple
    edge: tuple
    heel: tuple
    toe: tuple
    ball: tuple


def own_frame(ankle, ball, up=(0.0, 1.0, 0.0), floor=0.0):
    """Return the foot's own frame (rotation (4,), position (3,)): on the floor below the ankle, y up, z towards the ball.

    ankle, ball: (..., 3). floor: its height along up, metres. Raises ValueError for a ball straight above or below the ankle.

    >>> own_frame([0.1, 0.08, 0.0], [0.1, 0.02, 0.12])[1]
    array([0.1, 0. , 0. ])
    """
    ankle, ball, up = arguments.points("ankle", ankle), arguments.points("ball", ball), arguments.directions("up", up)
    arguments.broadcast(ankle=ankle.shape[:-1], ball=ball.shape[:-1], up=up.shape[:-1])
    ahead = _level(ball - ankle, up)
    flat = np.linalg.norm(ahead, axis=-1) <= FLAT * np.linalg.norm(ball - ankle, axis=-1)
    if flat.any():
        raise ValueError(
            f"ball{arguments.where(arguments.first(flat))} stands straight above or below the ankle; "
            "expected it ahead: toes need a direction"
        )
    z = ahead / np.linalg.norm(ahead, axis=-1, keepdims=True)
    height = np.einsum("...i,...i->...", ankle, up) - floor
    return frame.from_axes(np.cross(up, z), up, z), ankle - height[..., None] * up


def sole(points, within=1e-4):
    """Return those of a foot's points (N, 3) that stand on the floor, (M, 3): no more than `within` metres above the lowest, up being y.

    >>> sole([[0, 0.05, -0.07], [0.03, 0, 0.1], [-0.03, 0, 0.1], [0, 0, -0.05]])
    array([[ 0.03,  0.  ,  0.1 ],
           [-0.03,  0.  ,  0.1 ],
           [ 0.  ,  0.  , -0.05]])
    """
    points = _points(points)
    return points[points[:, 1] <= points[:, 1].min() + within]


def pivots(outline, ball, side):
    """Return the Pivots of a sole: its farthest points back, ahead, and to both sides, at the height of its lowest.

    outline: (N, 3), the sole in the foot's own frame, see `sole`: a heel that bulges out above the floor does not
    stand there. ball: (3,), the ball joint there, which is the ball pivot. side: "left" or "right". Where several points lie equally far,
    the pivot is in the middle between the outermost of them.
    Raises ValueError for fewer than 3 points, an unknown side, a sole with no length or width, and a ball that is not over the sole.

    >>> sole = [[-0.03, 0, -0.06], [0.04, 0, -0.06], [0.04, 0, 0.14], [-0.03, 0, 0.14]]
    >>> p = pivots(sole, [0, 0.02, 0.1], "right")
    >>> p.heel.round(3).tolist(), p.outer.round(3).tolist()
    ([0.005, 0.0, -0.06], [-0.03, 0.0, 0.04])
    """
    outline, ball = arguments.points("outline", outline), arguments.points("ball", ball)
    if outline.ndim != 2 or len(outline) < 3:
        raise ValueError(f"outline has shape {outline.shape}; expected (N, 3) with N of 3 or more: the points around a sole")
    if side not in _OUTWARD:
        raise ValueError(f"side is {side!r}; expected 'left' or 'right': it tells the outer edge from the inner one")
    size = np.ptp(outline, axis=0)
    if not (size[[0, 2]] > FLAT * size.max()).all():
        raise ValueError(
            f"outline is {size[0]:.6g} m wide and {size[2]:.6g} m long; "
            "expected a sole along z: give it in the foot's own frame"
        )
    _check_ball(ball, outline)
    outward = _OUTWARD[side]
    ends = (np.array([0, 0, -1.0]), np.array([0, 0, 1.0]), np.array([-outward, 0, 0]), np.array([outward, 0, 0]))
    heel, toe, inner, outer = (_farthest(outline, way) for way in ends)
    return Pivots(heel, ball, toe, inner, outer, outward)


def shares(roll, turn_over=TURN_OVER):
    """Return (heel, ball, toe), radians (...): what each pivot takes of one roll. They always add up to it.

    Below zero the heel takes all. Above, the ball takes it up to turn_over, and keeps that; what is more is the toe's.
    If the ball faded out and nobody made up for it, the heel would drop while the roll goes on.
    Raises ValueError for a turn_over below zero.

    >>> [np.degrees(angle).round(6).tolist() for angle in shares(np.radians([-20, 20, 50]))]
    [[-20.0, 0.0, 0.0], [0.0, 20.0, 30.0], [0.0, 0.0, 20.0]]
    """
    roll, turn_over = arguments.array("roll", roll, ()), arguments.array("turn_over", turn_over, ())
    arguments.broadcast(roll=roll.shape, turn_over=turn_over.shape)
    if (turn_over < 0).any():
        bad = arguments.first(turn_over < 0)
        raise ValueError(
            f"turn_over{arguments.where(bad)} is {turn_over[bad]:g}; "
            f"expected radians, 0 or more: 30 degrees are {TURN_OVER:.4f}"
        )
    return np.minimum(roll, 0.0), np.clip(roll, 0.0, turn_over), np.maximum(roll - turn_over, 0.0)


def stack(pivots, roll=0.0, tilt=0.0, swivel=0.0, heel_swivel=0.0, toe_swivel=0.0, turn_over=TURN_OVER):
    """Return the Stack of a foot with these channels, radians (...), broadcast against each other.

    roll: see `shares`. tilt: above zero onto the outer edge, below onto the inner one. swivel, heel_swivel, toe_swivel:
    about the upright through ball, heel and toe; above zero the toes turn outward against the heel.

    >>> p = pivots([[-0.03, 0, -0.06], [0.04, 0, -0.06], [0.04, 0, 0.14], [-0.03, 0, 0.14]], [0, 0.02, 0.1], "left")
    >>> frame.to_world(stack(p, roll=np.radians(-90)).heel, p.toe).round(6)
    array([ 0.005,  0.2  , -0.06 ])
    """
    names = ("roll", "tilt", "swivel", "heel_swivel", "toe_swivel")
    channels = [arguments.array(name, value, ()) for name, value in zip(names, (roll, tilt, swivel, heel_swivel, toe_swivel))]
    arguments.broadcast(**{name: value.shape for name, value in zip(names, channels)})
    roll, tilt, *swivels = channels
    heel, ball, toe = shares(roll, turn_over)
    out = pivots.outward
    turned = rotation.IDENTITY, np.zeros(3)
    for angle, point in zip(swivels, (pivots.ball, pivots.heel, pivots.toe)):
        turned = _about(turned, "y", out * angle, point)
    edge = _about(turned, "z", -out * np.maximum(tilt, 0.0), pivots.outer)
    edge = _about(edge, "z", -out * np.minimum(tilt, 0.0), pivots.inner)
    on_heel = _about(edge, "x", heel, pivots.heel)
    on_toe = _about(on_heel, "x", toe, pivots.toe)
    return Stack(turned, edge, on_heel, on_toe, _about(on_toe, "x", ball, pivots.ball))


def joints(foot, ankle, ball, stack):
    """Return the world frames (ankle, ball) of the two joints, for a foot whose frame `foot` stands in the world.

    foot: a frame (rotation (..., 4), position (..., 3)) in the world; ankle, ball: the joints' rest frames seen from it.

    >>> p = pivots([[-0.03, 0, -0.06], [0.04, 0, -0.06], [0.04, 0, 0.14], [-0.03, 0, 0.14]], [0, 0.02, 0.1], "left")
    >>> no_turn = rotation.IDENTITY
    >>> ankle, ball = joints((no_turn, [0.1, 0, 0]), (no_turn, [0, 0.08, 0]), (no_turn, p.ball), stack(p, roll=0.3))
    >>> ball[1], ankle[1].round(4)
    (array([0.1 , 0.02, 0.1 ]), array([0.1   , 0.1069, 0.0222]))
    """
    return frame.compose(foot, frame.compose(stack.ball, ankle)), frame.compose(foot, frame.compose(stack.toe, ball))


def carried(points, pivots, stack):
    """Return where points (N, 3) of the foot at rest go, (..., N, 3): those behind the ball with the ankle, the others with the toes.

    All in the foot's own frame, so that y is the height over the floor: what is below zero is under it.

    >>> sole = np.array([[-0.03, 0, -0.06], [0.04, 0, -0.06], [0.04, 0, 0.14], [-0.03, 0, 0.14]])
    >>> p = pivots(sole, [0, 0.02, 0.1], "left")
    >>> carried(sole, p, stack(p, roll=np.radians(30)))[:, 1].round(4) + 0.0
    array([0.0827, 0.0827, 0.    , 0.    ])
    """
    points = _points(points)
    behind = (points[:, 2] < pivots.ball[2])[:, None]
    return np.where(behind, *(frame.to_world((turn[..., None, :], place[..., None, :]), points) for turn, place in (stack.ball, stack.toe)))


# ---- helpers --------------------------------------------------------------------------------------------------------

_AXES = {"x": np.array([1.0, 0, 0]), "y": np.array([0, 1.0, 0]), "z": np.array([0, 0, 1.0])}


def _about(above, axis, angle, point):
    """The frame above, then a turn about an axis through a point of it; the point stays where it is."""
    turn = rotation.from_axis_angle(_AXES[axis], angle)
    return frame.compose(above, (turn, point - rotation.rotate(turn, point)))


def _farthest(outline, way):
    """The point of the sole farthest along `way`, on the floor; the middle of its edge where several are as far."""
    along = outline @ way
    most = along.max()
    edge = outline[along >= most - SAME_EDGE * np.ptp(outline, axis=0).max()]
    point = 0.5 * (edge.min(axis=0) + edge.max(axis=0))
    point = point + (most - point @ way) * way
    point[1] = outline[:, 1].min()
    return point


def _points(points):
    points = arguments.points("points", points)
    if points.ndim != 2 or not len(points):
        raise ValueError(f"points has shape {points.shape}; expected (N, 3), one or more: points of one foot at rest")
    return points


def _level(v, up):
    return v - np.einsum("...i,...i->...", v, up)[..., None] * up


def _check_ball(ball, outline):
    low, high = outline[:, 2].min(), outline[:, 2].max()
    if ball.shape != (3,) or not low < ball[2] < high:
        raise ValueError(
            f"ball is {arguments.shorten(ball)}; "
            f"expected one point with z from {low:.6g} to {high:.6g} m: the ball joint, between heel and toe"
        )
    if ball[1] < outline[:, 1].min():
        raise ValueError(
            f"ball is {outline[:, 1].min() - ball[1]:.6g} m under the sole; "
            "expected it on or above: a joint under the floor pushes the heel down"
        )
