"""Chains of many bones and a target: three ways to bring the tip there.

A chain of n links has far more freedom than the three numbers of a target, so
there is no formula; one improves step by step. All three start from the chain as
it stands, keep the root and the lengths, and differ in how they share the bend:

- `ccd`, cyclic coordinate descent: from the tip to the root, turn each joint so
  that the tip points at the target. It curls the tip first (Wang & Chen, IEEE
  Trans. Robotics and Automation 7 (1991) 489).
- `fabrik`: drag the tip to the target and let the links follow like a string, then
  the root back to its place (Aristidou & Lasenby, Graphical Models 73 (2011) 243-260).
- `damped_least_squares`: the smallest turns of all joints together that bring the
  tip nearer. It bends most evenly (Wampler 1986; Buss, Introduction to Inverse
  Kinematics, 2004/2009).

Choices, none of them an error:
- A target out of reach: the chain is straight, towards it; a target too near for one
  long link: all others fold back along it. No pose is nearer. `reached` is false.
- A chain that lies in one line with its target can't tell a side, and no method
  bends it. It is *nudged* first: each joint bent by 0.05 radians, to the side of the
  world axis most square to the line.
- A target on a joint: a link with no direction keeps the one it had.

Limits: `cone`, the greatest bend at an inner joint, in radians, one for all or one
for each of the n - 1. For chains of hinges `hinges`, a unit axis for each of the n joints
(or one for all) as they stand at the start, and `limits` (n, 2), how far each may turn from
the start, in radians. `points` (..., n+1, 3) in metres, root first, and `target` (..., 3) may be batches.
"""

from dataclasses import dataclass

import numpy as np

from rigkit import _chain_fast, arguments, rotation
from rigkit import _chain_state as chains
from rigkit._chain_state import State

NUDGE = 0.05  # radians a joint
CLOSING = (4, 12)  # the passes of FABRIK after which a slow chain is closed
SLOW, STRIDE, DAMPING = _chain_fast.SLOW, _chain_fast.STRIDE, _chain_fast.DAMPING
IN_LINE = 1e-6  # of the chain's length


@dataclass(frozen=True, eq=False)
class Solution:
    """A solved chain: `points` (..., n+1, 3) metres; `error` (...) metres from tip to target; `steps` (...) how many
    sweeps, passes or steps were made; `reached` (...) whether the error is within the tolerance."""

    points: np.ndarray
    error: np.ndarray
    steps: np.ndarray
    reached: np.ndarray


def fabrik(points, target, cone=None, steps=200, tolerance=1e-6):
    """Return the Solution by passes of FABRIK.

    Where the passes grow slow (a nearly straight chain), or are used up, a last step of our own
    closes what is left: straighten or bend all links alike until the tip is as far as
    the target, then turn the chain to it. Under a cone, where passes may get caught,
    damped least squares closes it instead.

    Raises ValueError for fewer than one link, a link of no length, a cone outside 0 to
    pi, and numbers that are not finite.

    >>> s = fabrik([[0, 0, 0], [1, 0, 0], [2, 0, 0]], [1, 1, 0])
    >>> s.points.round(9).tolist(), s.steps
    ([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [1.0, 1.0, 0.0]], 1)
    """
    if cone is None and (one := _chain_fast.one(_chain_fast.fabrik, points, target, steps, tolerance, (*CLOSING, steps))):
        return _plain(tolerance, *one)
    chain = _Chain(points, target, steps, tolerance, cone=cone)
    return chain.solved(fabrik_pass, _close if cone is None else _finish)


def ccd(points, target, cone=None, hinges=None, limits=None, steps=500, tolerance=1e-6):
    """Return the Solution by sweeps of cyclic coordinate descent, tip joint first. Raises as `fabrik` does.

    >>> s = ccd([[0, 0, 0], [1, 0, 0], [2, 0, 0]], [0, 1.2, 0])
    >>> bool(s.reached), s.points.shape
    (True, (3, 3))
    """
    if cone is hinges is limits is None and (one := _chain_fast.one(_chain_fast.sweep, points, target, steps, tolerance)):
        return _plain(tolerance, *one)
    return _Chain(points, target, steps, tolerance, cone, hinges, limits).solved(sweep)


def damped_least_squares(points, target, damping=None, cone=None, hinges=None, limits=None, steps=100, tolerance=1e-6):
    """Return the Solution by damped least-squares steps. Raises as `fabrik` does, and for a damping below 0.

    damping: the constant l of the formula, metres; left out, it shrinks with what is left of the way.

    >>> s = damped_least_squares([[0, 0, 0], [1, 0, 0], [2, 0.1, 0]], [0.5, 1.2, 0.3])
    >>> bool(s.reached)
    True
    """
    if damping is cone is hinges is limits is None and (one := _chain_fast.one(_chain_fast.damped, points, target, steps, tolerance)):
        return _plain(tolerance, *one)
    chain = _Chain(points, target, steps, tolerance, cone, hinges, limits)
    if damping is not None and not float(arguments.array("damping", damping, ())) >= 0:
        raise ValueError(f"damping is {damping}; expected metres, 0 or more")
    return chain.solved(lambda state, target: _damped(state, target, damping))


# ---- one step of each -----------------------------------------------------------------------------------------------


def fabrik_pass(state, target):
    """One pass on a State: tip on the target and back down to the root, then the root in its place and out again."""
    p, root = state.points.copy(), state.points[..., 0, :]
    ways = np.diff(state.points, axis=-2) / state.lengths[..., None]
    p[..., -1, :] = target
    for i in range(p.shape[-2] - 2, -1, -1):
        way = chains.way(p[..., i, :], p[..., i + 1, :], ways[..., i, :])
        if i < len(p[0]) - 2 and state.cone is not None:
            way = chains.in_cone(way, chains.way(p[..., i + 1, :], p[..., i + 2, :], ways[..., i + 1, :]), state.cone[i])
        p[..., i, :] = p[..., i + 1, :] - state.lengths[..., i, None] * way
    p[..., 0, :] = root
    for i in range(p.shape[-2] - 1):
        way = chains.way(p[..., i, :], p[..., i + 1, :], ways[..., i, :])
        if i and state.cone is not None:
            way = chains.in_cone(way, chains.way(p[..., i - 1, :], p[..., i, :], ways[..., i - 1, :]), state.cone[i - 1])
        p[..., i + 1, :] = p[..., i, :] + state.lengths[..., i, None] * way
    return state.at(p)


def damped_turns(points, error, damping, hinges=None):
    """Return the turns that damped least squares gives for a wished move `error` (..., 3) of the tip.

    J^T (J J^T + l^2 I)^-1 e with the Jacobian J of the tip. Ball joints: (..., n, 3), axis times
    angle. With hinges (n, 3): (..., n) angles about them, radians.

    >>> damped_turns([[0, 0, 0], [1, 0, 0], [1, 1, 0]], [0.1, 0, 0], 0.5, hinges=[0, 0, 1]).round(8)
    array([-0.0137931 , -0.06896552])
    """
    points, error = arguments.points("points", points), arguments.points("error", error)
    arms = points[..., -1:, :] - points[..., :-1, :]
    eye = np.eye(3)
    if hinges is None:
        across = np.einsum("...ni,...ni->...", arms, arms)[..., None, None] * eye - np.einsum("...ni,...nj->...ij", arms, arms)
    else:
        columns = np.cross(np.broadcast_to(arguments.directions("hinges", hinges), arms.shape), arms)
        across = np.einsum("...ni,...nj->...ij", columns, columns)
    pull = _solve_3(across + np.square(damping)[..., None, None] * eye, error)
    return np.cross(arms, pull[..., None, :]) if hinges is None else np.einsum("...ni,...i->...n", columns, pull)


def _damped(state, target, damping):
    way = target - state.points[..., -1, :]
    left, length = chains.norm(way), state.lengths.sum(axis=-1)
    way = way * np.minimum(1.0, STRIDE * length / np.maximum(left, 1e-300))[..., None]  # no step farther than the formula is true
    amount = np.sqrt(DAMPING * np.minimum(left, length) * length) if damping is None else np.full(left.shape, float(damping))
    turns = damped_turns(state.points, way, amount, state.hinges)
    if state.hinges is None:
        ways = np.diff(state.points, axis=-2)
        return state.linked(chains.rotated(np.cumsum(turns, axis=-2), ways)).coned()
    for i in range(state.lengths.shape[-1] - 1, -1, -1):
        state = state.hinged(i, turns[..., i])
    return state


def sweep(state, target):
    """One sweep of cyclic coordinate descent on a State: each joint, from the tip's to the root, turns the tip towards the target."""
    for i in range(state.lengths.shape[-1] - 1, -1, -1):
        tip, aim = state.points[..., -1, :] - state.points[..., i, :], target - state.points[..., i, :]
        if state.hinges is None:
            state = state.swung(i, tip, aim)
        else:
            axis = state.hinges[..., i, :]
            sine, cosine = chains.dot(axis, np.cross(tip, aim)), chains.dot(tip, aim) - chains.dot(axis, tip) * chains.dot(axis, aim)
            state = state.hinged(i, np.arctan2(sine, cosine))
    return state


def _close(state, target):
    """Straighten or bend all links alike until the tip is as far from the root as the target, then turn the chain there."""
    root = state.points[..., :1, :]
    aim = target - root[..., 0, :]
    distance = chains.norm(aim)
    tip = state.points[..., -1, :] - root[..., 0, :]
    line = chains.unit_or(tip, chains.norm(tip), np.diff(state.points[..., :2, :], axis=-2)[..., 0, :] / state.lengths[..., :1])
    ways = np.diff(state.points, axis=-2) / state.lengths[..., None]

    def links(amount):
        """amount -1: straight along the line; 0: as it is; more: bent further."""
        way = ways + amount[..., None, None] * (ways - line[..., None, :])
        size = chains.norm(way)
        return chains.unit_or(way, size, np.broadcast_to(line[..., None, :], way.shape)) * state.lengths[..., None]

    def far(square):
        return chains.norm(links(np.sqrt(square) - 1.0).sum(axis=-2)) > distance

    low, high = (
        np.zeros(distance.shape),
        np.ones(distance.shape),
    )  # the square of 1 + amount: near straight, the distance is a straight line of it
    for _ in range(6):
        short = far(high)
        low, high = np.where(short, high, low), np.where(short, 4.0 * high, high)
    for _ in range(60):
        middle = 0.5 * (low + high)
        more = far(middle)
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    bent = state.linked(links(np.sqrt(0.5 * (low + high)) - 1.0))
    return bent.swung(0, bent.points[..., -1, :] - root[..., 0, :], aim)


def _finish(state, target):
    """Damped least-squares steps, for chains whose passes are caught under a cone."""
    for _ in range(100):
        state = _damped(state, target, None)
    return state


# ---- the loop that all three share -----------------------------------------------------------------------------------


class _Chain:
    """Checked arguments, and the loop that all three methods share."""

    def __init__(self, points, target, steps, tolerance, cone=None, hinges=None, limits=None):
        points, target = arguments.points("points", points), arguments.points("target", target)
        if points.ndim < 2 or points.shape[-2] < 2:
            raise ValueError(f"points has shape {points.shape}; expected (..., n+1, 3) with n of 1 or more: a chain has at least one link")
        self.shape = arguments.broadcast(points=points.shape[:-2], target=target.shape[:-1])
        count = points.shape[-2] - 1
        if not (isinstance(steps, (int, np.integer)) and steps >= 1):
            raise ValueError(f"steps is {steps!r}; expected a whole number, 1 or more")
        self.steps, self.tolerance = steps, float(arguments.array("tolerance", tolerance, ()))
        if self.tolerance <= 0:
            raise ValueError(f"tolerance is {self.tolerance:g}; expected metres above 0")
        lengths = chains.norm(np.diff(points, axis=-2))
        bad = lengths <= 1e-12 * lengths.sum(axis=-1, keepdims=True)
        if bad.any():
            *row, link = arguments.first(bad)
            raise ValueError(
                f"link {link}{arguments.where(tuple(row))} has length 0; "
                "expected every link to be longer: leave out joints that lie on another"
            )
        self.cone = None if cone is None else _cone(cone, count - 1)
        self.target = np.broadcast_to(target, (*self.shape, 3)).reshape(-1, 3)
        flat = np.broadcast_to(points, (*self.shape, count + 1, 3)).reshape(-1, count + 1, 3)
        lengths = np.broadcast_to(lengths, (*self.shape, count)).reshape(-1, count)
        axes = None if hinges is None else np.array(np.broadcast_to(_axes(hinges, count), (len(flat), count, 3)))
        angles = None if hinges is None else np.zeros((len(flat), count))
        self.state = State(flat, lengths, self.cone, axes, angles, _limits(limits, hinges, count))

    def solved(self, step, close=None):
        """Repeat `step` on the rows that are not there yet; `close` those that are slow after 4 or 12 steps, or use them up."""
        start = self.state if self.state.hinges is not None else _nudged(self.state, self.target)
        start = start.coned()
        points, used = start.points.copy(), np.zeros(len(start.points), dtype=int)
        error = self._errors(points)
        out = self._out_of_reach(start)
        points[out] = _in_line(_rows(start, out), self.target[out])
        error[out] = self._errors(points)[out]
        rows = np.flatnonzero(~out & (error > self.tolerance))
        state = _rows(start, rows)
        for made in range(1, self.steps + 1):
            if not len(rows):
                break
            state = step(state, self.target[rows])
            new = chains.norm(state.points[:, -1] - self.target[rows])
            if close is not None and made in (*CLOSING, self.steps):
                slow = np.flatnonzero((new > self.tolerance) & ((new > SLOW * error[rows]) | (made == self.steps)))
                closed = close(_rows(state, slow), self.target[rows[slow]]).points
                better = (gap := chains.norm(closed[:, -1] - self.target[rows[slow]])) < new[slow]
                state.points[slow[better]], new[slow[better]] = closed[better], gap[better]
            points[rows], error[rows], used[rows] = state.points, new, made
            going = new > self.tolerance
            rows, state = rows[going], state if going.all() else _rows(state, going)
        return self._solution(points, error, used)

    def _out_of_reach(self, start):
        """Where the target is too far, or too near and no cone forbids to fold."""
        if start.hinges is not None:
            return np.zeros(len(start.points), dtype=bool)
        distance, length, longest = (
            chains.norm(self.target - start.points[:, 0]),
            start.lengths.sum(axis=-1),
            start.lengths.max(axis=-1, initial=0.0),
        )
        return (distance >= length) | ((distance <= 2 * longest - length) & (start.cone is None))

    def _errors(self, points):
        return chains.norm(points[:, -1] - self.target)

    def _solution(self, points, error, used):
        points, error, used = points.reshape(*self.shape, *points.shape[1:]), error.reshape(self.shape), used.reshape(self.shape)
        reached = error <= self.tolerance
        return Solution(points, *((error, used, reached) if self.shape else (error.item(), used.item(), reached.item())))


def _rows(state, rows):
    pick = lambda array: None if array is None else array[rows]  # noqa: E731
    return State(state.points[rows], state.lengths[rows], state.cone, pick(state.hinges), pick(state.angles), state.limits)


def _in_line(state, target):
    """The chain on the line from its root to the target: straight where that is far, else all but the longest link folded back."""
    aim = target - state.points[:, 0]
    distance, length = chains.norm(aim), state.lengths.sum(axis=-1)
    way = chains.unit_or(aim, distance, np.array([1.0, 0.0, 0.0]))
    ahead = (distance >= length)[:, None] | (np.arange(state.lengths.shape[-1]) == state.lengths.argmax(axis=-1)[:, None])
    return state.linked((np.where(ahead, 1.0, -1.0) * state.lengths)[..., None] * way[:, None]).points


def _nudged(state, target):
    """Chains that lie in one line with their target, bent a little."""
    root, count = state.points[:, :1], state.lengths.shape[-1]
    length = state.lengths.sum(axis=-1)
    line = (state.points[:, 1] - root[:, 0]) / state.lengths[:, :1]
    every = np.concatenate([state.points, target[:, None]], axis=1) - root
    aside = chains.norm(every - np.einsum("bni,bi->bn", every, line)[..., None] * line[:, None])
    rows = np.flatnonzero((aside.max(axis=1) <= IN_LINE * length) & (count > 1))
    if not len(rows):
        return state
    axis = np.cross(line[rows], np.eye(3)[np.argmin(np.abs(line[rows]), axis=-1)])
    turn = NUDGE * (np.arange(count) - (count - 1) / 2)
    ways = np.diff(state.points[rows], axis=1)
    bent = rotation.rotate(rotation.from_axis_angle(axis[:, None], turn), ways)
    points = state.points.copy()
    points[rows] = _rows(state, rows).linked(bent).points
    return state.at(points)


# ---- arithmetic and checks ------------------------------------------------------------------------------------------


def _plain(tolerance, points, error, used):
    """The Solution of one chain that was worked on in plain floats."""
    return Solution(np.array(points), error, used, error <= tolerance)


def _solve_3(m, v):
    """m^-1 v for symmetric (..., 3, 3), by the adjugate; a matrix with no inverse gives zero, as there is no pull to share."""
    a, b, c = (m[..., i] for i in range(3))
    adjugate = np.stack([np.cross(b, c), np.cross(c, a), np.cross(a, b)], axis=-2)
    determinant = chains.dot(a, adjugate[..., 0, :])
    size = np.einsum("...ii->...", m) ** 3
    good = np.abs(determinant) > 1e-30 * size
    return np.where(good[..., None], np.einsum("...ij,...j->...i", adjugate, v) / np.where(good, determinant, 1.0)[..., None], 0.0)


def _cone(cone, count):
    cone = arguments.array("cone", cone, ())
    if cone.shape not in ((), (count,)) or not ((cone >= 0) & (cone <= np.pi)).all():
        raise ValueError(
            f"cone is {arguments.shorten(cone)}; expected 0 to pi radians, one for all or one for each of the {count} inner joints"
        )
    return np.broadcast_to(cone, (count,))


def _axes(hinges, count):
    hinges = arguments.directions("hinges", hinges)
    if hinges.shape not in ((3,), (count, 3)):
        raise ValueError(f"hinges has shape {hinges.shape}; expected (3,) or ({count}, 3): an axis for every joint but the tip")
    return hinges


def _limits(limits, hinges, count):
    if limits is None:
        return None
    limits = arguments.array("limits", limits, (2,))
    if hinges is None:
        raise ValueError("limits came without hinges; expected both: a turn needs an axis to be limited about")
    if limits.shape not in ((2,), (count, 2)) or not ((limits[..., 0] <= 0) & (limits[..., 1] >= 0)).all():
        raise ValueError(
            f"limits is {arguments.shorten(limits)}; expected low and high for each of {count} hinges, low <= 0 <= high: 0 is the start"
        )
    return np.broadcast_to(limits, (count, 2))
