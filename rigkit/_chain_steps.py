"""The steps of `rigkit.chain`: one sweep, one pass, one damped step, each from a State to the next, and what helps where they stop.

A step takes a State, chains a row each, and their targets (B, 3). `finish` is for chains that limits have caught.
"""

import numpy as np

from rigkit import _chain_fast, arguments
from rigkit import _chain_state as chains
from rigkit._chain_state import off

SWEEPS, DAMPED = 2, 8  # by turns
SETTLED, STILL = 0.98, 1e-5  # they go on while a round leaves less than this share of the way, or gains more than this of the length
ATTEMPTS, FREE = 6, 2.0  # of hinges that are caught; radians from the start, for one with no limit
STRIDE, DAMPING = _chain_fast.STRIDE, _chain_fast.DAMPING


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


def leap(tip, now, target, gain):
    """How many times the way left (B,) the next pass is asked for: as many as the last one, asked for `gain` times, went too short."""
    along, whole = chains.dot(now - tip, target - tip), chains.dot(target - tip, target - tip)
    return np.where(along > 0, np.clip(gain * whole / np.where(along > 0, along, 1.0), 1.0, _chain_fast.LEAP), 1.0)


def damped_turns(points, error, damping, hinges=None):
    """Return the turns that damped least squares gives for a wished move `error` (..., 3) of the tip.

    J^T (J J^T + l^2 I)^-1 e with the Jacobian J of the tip. Ball joints: (..., n, 3), axis times
    angle. With hinges (n, 3): (..., n) angles about them, radians.

    >>> damped_turns([[0, 0, 0], [1, 0, 0], [1, 1, 0]], [0.1, 0, 0], 0.5, hinges=[0, 0, 1]).round(8)
    array([-0.0137931 , -0.06896552])
    """
    points, error = arguments.points("points", points), arguments.points("error", error)
    arms = points[..., -1:, :] - points[..., :-1, :]
    if hinges is not None:
        columns = np.cross(np.broadcast_to(arguments.directions("hinges", hinges), arms.shape), arms)
        return _pulled(columns, error, damping)
    across = np.einsum("...ni,...ni->...", arms, arms)[..., None, None] * np.eye(3) - np.einsum("...ni,...nj->...ij", arms, arms)
    return np.cross(arms, _pull(across, error, damping)[..., None, :])


def _pulled(columns, error, damping):
    """Damped turns (..., n) of joints whose unit turns move the tip by the columns (..., n, 3)."""
    return np.einsum("...ni,...i->...n", columns, _pull(np.einsum("...ni,...nj->...ij", columns, columns), error, damping))


def _pull(across, error, damping):
    return _solve_3(across + np.square(damping)[..., None, None] * np.eye(3), error)


def damped(state, target, damping):
    way = target - state.points[..., -1, :]
    left, length = chains.norm(way), state.lengths.sum(axis=-1)
    way = way * np.minimum(1.0, STRIDE * length / np.maximum(left, 1e-300))[..., None]  # no step farther than the formula is true
    amount = np.sqrt(DAMPING * np.minimum(left, length) * length) if damping is None else np.full(left.shape, float(damping))
    if state.hinges is None:
        turns = damped_turns(state.points, way, amount)
        return state.linked(chains.rotated(np.cumsum(turns, axis=-2), np.diff(state.points, axis=-2))).coned()
    return state.turned(_within_limits(state, way, amount))


def _within_limits(state, way, amount):
    """Damped turns (B, n) about hinges: one that would pass its limit stops there, and the others make up for it."""
    columns = np.cross(state.hinges, state.points[:, -1:] - state.points[:, :-1])
    turns = _pulled(columns, way, amount)
    if state.limits is None:
        return turns
    low, high = (limit - state.angles for limit in state.limits.T)
    stopped = np.zeros(turns.shape, bool)
    while (beyond := ~stopped & ((turns < low) | (turns > high))).any():
        stopped |= beyond
        turns = np.where(stopped, np.clip(turns, low, high), 0.0)
        left = way - np.einsum("bn,bni->bi", turns, columns)
        turns = turns + _pulled(np.where(stopped[..., None], 0.0, columns), left, amount)
    return turns


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


def close(state, target, _=None):
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


def finish(state, target, tolerance):
    """What limits have caught: sweeps and damped steps by turns; hinges that are still away try again from elsewhere in their ranges."""
    best = _by_turns(state, target, tolerance)
    for attempt in range(ATTEMPTS if state.hinges is not None else 0):
        away = np.flatnonzero(off(best, target) > tolerance)
        if not len(away):
            break
        other = _by_turns(best.some(away).turned(_elsewhere(best.some(away), attempt)), target[away], tolerance)
        nearer = off(other, target[away]) < off(best, target)[away]
        best = best.replaced(away[nearer], other.some(nearer))
    return best


def _by_turns(state, target, tolerance):
    """A few sweeps, which get near, and a few damped steps, which get there where it is within reach, for as long as they help."""
    size, before = state.lengths.sum(axis=-1), np.inf
    while ((left := off(state, target)) > tolerance).any() and (left < np.maximum(SETTLED * before, before - STILL * size)).any():
        before = left
        for _ in range(SWEEPS):
            state = sweep(state, target)
        stepped = state
        for _ in range(DAMPED):
            stepped = damped(stepped, target, None)
        nearer = off(stepped, target) < off(state, target)
        state = state.replaced(nearer, stepped.some(nearer))
    return state


def _elsewhere(state, attempt):
    """Turns (B, n) that bring hinges to other shares of their ranges, evenly spread (multiples of the golden ratio)."""
    count = state.lengths.shape[-1]
    share = np.modf(0.618033988749895 * (attempt * count + np.arange(1, count + 1)))[0]
    low, high = (-FREE, FREE) if state.limits is None else np.clip(state.limits, -FREE, FREE).T
    return low + share * (high - low) - state.angles


def _solve_3(m, v):
    """m^-1 v for symmetric (..., 3, 3), by the adjugate; a matrix with no inverse gives zero, as there is no pull to share."""
    a, b, c = (m[..., i] for i in range(3))
    adjugate = np.stack([np.cross(b, c), np.cross(c, a), np.cross(a, b)], axis=-2)
    determinant = chains.dot(a, adjugate[..., 0, :])
    size = np.einsum("...ii->...", m) ** 3
    good = np.abs(determinant) > 1e-30 * size
    return np.where(good[..., None], np.einsum("...ij,...j->...i", adjugate, v) / np.where(good, determinant, 1.0)[..., None], 0.0)
