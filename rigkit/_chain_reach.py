"""How near and how far the tip of a chain in a plane may be from its root: the search behind `rigkit.chain.reach`.

Links are complex numbers: a length times exp(i heading), one after another. Seen from an inner joint, the chain is two stiff
pieces, root to joint and joint to tip; turning one against the other brings the tip nearest to the root where the pieces point against
each other, and farthest where they point one way, or as near to that as the joint's range lets. Doing so joint by joint, again and
again, can only improve; it starts from several shapes, for one alone may be caught.
"""

import numpy as np

STARTS = 12
ROUNDS = 400
SETTLED = 1e-13  # of the length: less gain than this in a round ends the search


def extreme(lengths, low, high, least):
    """The least (or the greatest) distance (B,) from root to tip of chains (B, n) whose bends are from low to high, (B, n-1) radians."""
    bends = low + _spread(low.shape[-1]) * (high - low)  # (S, B, n-1)
    best, before = _distance(lengths, bends), np.inf
    for _ in range(ROUNDS):
        if (np.abs(best - before) <= SETTLED * lengths.sum(axis=-1)).all():
            break
        before = best
        for joint in range(low.shape[-1]):
            bends[..., joint] = _turned(lengths, bends, joint, (low[..., joint], high[..., joint]), least)
        best = _distance(lengths, bends)
    return best.min(axis=0) if least else best.max(axis=0)


def _spread(count):
    """Shares (S, 1, count) of the range to start at: all low, half, all high, to either side by turns, and others between."""
    even = np.arange(count) % 2
    plain = [np.zeros(count), np.full(count, 0.5), np.ones(count), even, 1 - even]
    mixed = np.modf(np.sqrt(2.0) * np.arange(1, (STARTS - len(plain)) * count + 1))[0].reshape(-1, count)
    return np.concatenate([plain, mixed])[:, None, :]


def _links(lengths, bends):
    heading = np.concatenate([np.zeros((*bends.shape[:-1], 1)), np.cumsum(bends, axis=-1)], axis=-1)
    return lengths * np.exp(1j * heading)


def _distance(lengths, bends):
    return np.abs(_links(lengths, bends).sum(axis=-1))


def _turned(lengths, bends, joint, limits, least):
    """The bend of one joint, within its limits, that brings the tip nearest to the root, or farthest from it."""
    links, now = _links(lengths, bends), bends[..., joint]
    to_joint, beyond = links[..., : joint + 1].sum(axis=-1), links[..., joint + 1 :].sum(axis=-1)
    wished = now - np.angle(beyond * np.conj(to_joint)) + (np.pi if least else 0.0)
    ends = [np.broadcast_to(limit, now.shape) for limit in limits]
    tried = np.stack([*(np.clip(wished + turn, *limits) for turn in (-2 * np.pi, 0.0, 2 * np.pi)), *ends])
    found = np.abs(to_joint + beyond * np.exp(1j * (tried - now)))
    best = found.argmin(axis=0) if least else found.argmax(axis=0)
    return np.take_along_axis(tried, best[None], axis=0)[0]
