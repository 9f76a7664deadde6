"""Chains on their way to a target, one a row, and the small arithmetic of `rigkit.chain`."""

from dataclasses import dataclass

import numpy as np

from rigkit import rotation


@dataclass(frozen=True, eq=False)
class State:
    """Chains on their way, one a row: points (B, n+1, 3), lengths (B, n), and with hinges their axes now (B, n, 3), how far they
    have turned (B, n) and may (n, 2); cone (n-1,) or None."""

    points: np.ndarray
    lengths: np.ndarray
    cone: np.ndarray | None = None
    hinges: np.ndarray | None = None
    angles: np.ndarray | None = None
    limits: np.ndarray | None = None

    def at(self, points):
        return State(points, self.lengths, self.cone, self.hinges, self.angles, self.limits)

    def some(self, rows):
        """The State of some of its chains."""
        hinges, angles = (None if array is None else array[rows] for array in (self.hinges, self.angles))
        return State(self.points[rows], self.lengths[rows], self.cone, hinges, angles, self.limits)

    def linked(self, links):
        """The same root, the links (B, n, 3) one after another."""
        root = self.points[..., :1, :]
        return self.at(np.concatenate([root, root + np.cumsum(links, axis=-2)], axis=-2))

    def swung(self, i, now, aim):
        """Everything beyond joint i swung so that `now` points along `aim`; where either is zero nothing moves. Kept in the cone."""
        far = (norm(now) > 0) & (norm(aim) > 0)
        x = np.array([1.0, 0.0, 0.0])
        swing = rotation.between(np.where(far[..., None], now, x), np.where(far[..., None], aim, x))
        return self._carried(i, swing).coned(i)

    def hinged(self, i, angle):
        """Everything beyond joint i turned about its hinge, as far as its limits let."""
        if self.limits is not None:
            angle = np.clip(self.angles[..., i] + angle, *self.limits[i]) - self.angles[..., i]
        angles = self.angles.copy()
        angles[..., i] += angle
        carried = self._carried(i, rotation.from_axis_angle(self.hinges[..., i, :], angle))
        return State(carried.points, self.lengths, self.cone, carried.hinges, angles, self.limits)

    def turned(self, turns):
        """Every joint turned about its hinge by turns (B, n), the tip's first, as far as limits let."""
        state = self
        for i in range(self.lengths.shape[-1] - 1, -1, -1):
            state = state.hinged(i, turns[..., i])
        return state

    def replaced(self, rows, other):
        """This state with some rows taken from another."""
        fields = []
        for here, there in ((self.points, other.points), (self.hinges, other.hinges), (self.angles, other.angles)):
            if here is not None:
                here = here.copy()
                here[rows] = there
            fields.append(here)
        return State(fields[0], self.lengths, self.cone, *fields[1:], self.limits)

    def coned(self, only=None):
        """Bends beyond the cone taken back, at one joint or from the root to the tip."""
        state = self
        if self.cone is None:
            return state
        for i in range(1, self.lengths.shape[-1]) if only is None else [only] * (only > 0):
            before, here = (np.diff(state.points[..., j : j + 2, :], axis=-2)[..., 0, :] / state.lengths[..., j, None] for j in (i - 1, i))
            state = state._carried(i, rotation.between(here, in_cone(here, before, self.cone[i - 1])))
        return state

    def _carried(self, i, turn):
        points = self.points.copy()
        at = points[..., i : i + 1, :]
        points[..., i + 1 :, :] = at + rotation.rotate(turn[..., None, :], points[..., i + 1 :, :] - at)
        hinges = self.hinges
        if hinges is not None:
            hinges = hinges.copy()
            hinges[..., i + 1 :, :] = rotation.rotate(turn[..., None, :], hinges[..., i + 1 :, :])
        return State(points, self.lengths, self.cone, hinges, self.angles, self.limits)


def off(state, target):
    """How far each tip is from its target (B,), metres."""
    return norm(state.points[..., -1, :] - target)


def rotated(turns, v):
    """v (..., 3) turned by vectors, axis times angle: Rodrigues' formula."""
    angle = norm(turns)[..., None]
    along = np.einsum("...i,...i->...", turns, v)[..., None] * turns
    return np.cos(angle) * v + np.sinc(angle / np.pi) * np.cross(turns, v) + 0.5 * np.sinc(angle / (2 * np.pi)) ** 2 * along


def norm(v):
    return np.sqrt(np.einsum("...i,...i->...", v, v))


def dot(a, b):
    return np.einsum("...i,...i->...", a, b)


def unit_or(v, size, stand_in):
    """v (..., 3) at unit length; where its length `size` is zero, `stand_in`."""
    good = size > 0
    return np.where(good[..., None], v / np.where(good, size, 1.0)[..., None], stand_in)


def way(a, b, stand_in):
    """The unit vector from a to b; where they are one place, `stand_in`."""
    v = b - a
    return unit_or(v, norm(v), stand_in)


def in_cone(v, axis, most):
    """The unit vector nearest to `v` that is no more than `most` radians from `axis`."""
    along = dot(v, axis)
    aside = v - along[..., None] * axis
    size = norm(aside)
    edge = np.cos(most) * axis + np.sin(most) * unit_or(aside, size, 0.0 * axis)
    return np.where((np.arctan2(size, along) > most)[..., None], edge / norm(edge)[..., None], v)
