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
the start, in radians. Where limits catch a method, it goes on by sweeps and damped steps by turns, and
chains of hinges try again from elsewhere in their ranges; what is then out of reach is met as near as that
found. `points` (..., n+1, 3) in metres, root first, and `target` (..., 3) may be batches.
"""

from dataclasses import dataclass

import numpy as np

from rigkit import _chain_fast, _chain_reach, arguments, rotation
from rigkit import _chain_state as chains
from rigkit._chain_state import State, off
from rigkit._chain_steps import close, damped, damped_turns, fabrik_pass, finish, leap, sweep  # noqa: F401 (damped_turns: for others)

NUDGE = 0.05  # radians a joint
CLOSING = (4, 12)  # the passes of FABRIK after which a slow chain is closed; after the last, limits that hold it up are worked round
SLOW = _chain_fast.SLOW
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

    Each pass but the first aims past the target, by as much as the last one went too short (the secant
    rule); few passes then do what many plain ones would, each leaving the same share of the way. Where
    the passes grow slow all the same (a nearly straight chain), or are used up, a last step of our own
    closes what is left: straighten or bend all links alike until the tip is as far as
    the target, then turn the chain to it.

    Raises ValueError for fewer than one link, a link of no length, a cone outside 0 to
    pi, and numbers that are not finite.

    >>> s = fabrik([[0, 0, 0], [1, 0, 0], [2, 0, 0]], [1, 1, 0])
    >>> s.points.round(9).tolist(), s.steps
    ([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [1.0, 1.0, 0.0]], 1)
    """
    if cone is None and (one := _chain_fast.one(_chain_fast.fabrik, points, target, steps, tolerance, (*CLOSING, steps))):
        return _plain(tolerance, *one)
    chain = _Chain(points, target, steps, tolerance, cone=cone)
    return chain.solved(fabrik_pass, close if cone is None else None)


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
    return chain.solved(lambda state, target: damped(state, target, damping))


def reach(lengths, bends=None):
    """Return (inner, outer): the least and the greatest distance from root to tip, metres (...). Every distance between is reached too.

    lengths: (..., n) metres, root first. bends: (low, high) or (..., n-1, 2), how far each inner joint may bend, radians, 0 straight,
    below zero to the other side, from -2 pi to 2 pi; None: any. A cone of c is (-c, c). With a ball joint at its root the chain then covers
    the whole shell between two spheres; hinges that are all parallel cover the ring between two circles.

    Without bends both are exact: the sum of the lengths, and by how much the longest is longer than all others together. So is the
    outer one where every joint may be straight. Else they are found by a search in the plane (see `rigkit._chain_reach`):
    there is always a shape that reaches what it names, so the true shell is never smaller. Where the most bent
    shape is a convex arc, no chain comes nearer, in space neither (Schur's comparison theorem: Chern, "Curves and surfaces in
    Euclidean space", 1967 (memory)). For hinges in other directions than one the result is no bound.

    Raises ValueError for no link, a length that is not above 0, and bends out of order or range.

    >>> [float(r.round(6)) for r in reach([3.0, 4.0], bends=(0, np.pi / 2))]
    [5.0, 7.0]
    >>> [float(r.round(6)) for r in reach([1.0, 1.0, 1.0], bends=(0, np.pi / 3))]  # half a hexagon
    [2.0, 3.0]
    """
    lengths = arguments.array("lengths", lengths, ())
    if lengths.ndim < 1 or not lengths.shape[-1] or not (lengths > 0).all():
        raise ValueError(f"lengths is {arguments.shorten(lengths)}; expected (..., n) metres above 0, one link or more")
    outer = lengths.sum(axis=-1)
    inner = np.maximum(2.0 * lengths.max(axis=-1) - outer, 0.0)
    if bends is None or lengths.shape[-1] == 1:
        return inner, outer
    low, high = _bends(bends, lengths.shape[-1] - 1)
    shape = arguments.broadcast(lengths=lengths.shape[:-1], bends=low.shape[:-1])
    flat = [np.broadcast_to(x, (*shape, x.shape[-1])).reshape(-1, x.shape[-1]) for x in (lengths, low, high)]
    nearest, farthest = (_chain_reach.extreme(*flat, least).reshape(shape)[()] for least in (True, False))
    straight = ((low <= 0) & (high >= 0)).all(axis=-1)
    return np.maximum(nearest, inner), np.where(straight, outer, farthest)[()]


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
        self.limited = self.cone is not None or axes is not None
        self.state = State(flat, lengths, self.cone, axes, angles, _limits(limits, hinges, count))

    def solved(self, step, close=None):
        """Repeat `step` on the chains that are not there yet; `close` those that are slow after 4 or 12 steps, or use them up."""
        start = (self.state if self.state.hinges is not None else _nudged(self.state, self.target)).coned()
        points, used = start.points.copy(), np.zeros(len(start.points), dtype=int)
        out = self._out_of_reach(start)
        points[out] = _in_line(start.some(out), self.target[out])
        error = chains.norm(points[:, -1] - self.target)
        rows = np.flatnonzero(~out & (error > self.tolerance))
        state, made, caught, gain = start.some(rows), 0, False, np.ones(len(start.points))
        while len(rows) and made < self.steps and not caught:
            made += 1
            before, target, tip = error[rows], self.target[rows], state.points[:, -1]
            state = step(state, tip + gain[rows, None] * (target - tip) if close else target)
            if close:
                gain[rows] = leap(tip, state.points[:, -1], target, gain[rows])
            slow = off(state, target) > SLOW * before
            if close and made in (*CLOSING, self.steps):
                state = self._nearer(state, target, slow | (made == self.steps), close)
            points[rows], error[rows], used[rows] = state.points, off(state, target), made
            going = error[rows] > self.tolerance
            rows, state, caught = rows[going], state.some(going), self.limited and made >= CLOSING[-1] and slow[going].all()
        if caught and len(rows):
            state = self._nearer(state, self.target[rows], np.ones(len(rows), bool), finish)
            points[rows], error[rows] = state.points, off(state, self.target[rows])
        return self._solution(points, error, used)

    def _nearer(self, state, target, tried, how):
        """The state with those of the chains `tried` replaced that are not there and that `how` brings nearer."""
        tried = np.flatnonzero(tried & (off(state, target) > self.tolerance))
        found = how(state.some(tried), target[tried], self.tolerance)
        better = off(found, target[tried]) < off(state, target)[tried]
        return state.replaced(tried[better], found.some(better))

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

    def _solution(self, points, error, used):
        points, error, used = points.reshape(*self.shape, *points.shape[1:]), error.reshape(self.shape), used.reshape(self.shape)
        reached = error <= self.tolerance
        return Solution(points, *((error, used, reached) if self.shape else (error.item(), used.item(), reached.item())))


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
    points[rows] = state.some(rows).linked(bent).points
    return state.at(points)


# ---- arithmetic and checks ------------------------------------------------------------------------------------------


def _plain(tolerance, points, error, used):
    """The Solution of one chain that was worked on in plain floats."""
    return Solution(np.array(points), error, used, error <= tolerance)


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


def _bends(bends, count):
    bends = arguments.array("bends", bends, (2,))
    bends = np.broadcast_to(bends, (count, 2)) if bends.ndim == 1 else bends
    low, high = np.moveaxis(bends, -1, 0)
    if low.shape[-1] != count or not ((-2 * np.pi <= low) & (low <= high) & (high <= 2 * np.pi)).all():
        raise ValueError(
            f"bends is {arguments.shorten(bends)}; "
            f"expected low and high of one joint or of each of the {count} inner ones, radians, low <= high, within a whole turn"
        )
    return low, high


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
