"""Keys: values of a rig's channels at moments, and the curves between them.

A track is keys at growing times, in seconds, and a kind of curve between them: *step* holds a key until the
next, *linear* goes straight (turns by slerp, the shorter way), *smooth* is the cubic spline of glTF 2.0
(Appendix C: values with an in- and an out-tangent at each key; turns are normalised). Before the first
key and after the last the value stays. A motion samples all its tracks at once, into values that `Rig.pose` takes.

A looping motion has a period, and may advance: a walk comes back to its start a stride further on.
"""

from dataclasses import dataclass, field
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from rigkit import arguments, rotation

KINDS = ("step", "linear", "smooth")


@dataclass(frozen=True, eq=False)
class Keys:
    """A track. times: (K,) seconds, growing. values: (K,) numbers, (K, 3) moves or (K, 4) turns. kind: "step", "linear" or "smooth".

    ins, outs: tangents of smooth keys, per second, of the values' shape; left out, they are chosen by `tangents`.
    Turns take the shorter way: the sign of each is set to the one before it, but for smooth keys with given tangents, which belong to the signs.
    Raises ValueError for times that do not grow, and for another number of values than of times.
    """

    times: np.ndarray
    values: np.ndarray
    kind: str = "linear"
    ins: np.ndarray | None = None
    outs: np.ndarray | None = None

    def __post_init__(self):
        times, values = arguments.array("times", self.times, ()), arguments.array("values", self.values, ())
        if self.kind not in KINDS:
            raise ValueError(f"kind is {self.kind!r}; expected one of {', '.join(KINDS)}")
        if (
            times.ndim != 1
            or len(times) == 0
            or len(values) != len(times)
            or values.ndim > 2
            or (values.ndim == 2 and values.shape[1] not in (3, 4))
        ):
            raise ValueError(f"times has shape {times.shape} and values {values.shape}; expected (K,) and (K,), (K, 3) or (K, 4)")
        if (np.diff(times) <= 0).any():
            i = int(np.argmax(np.diff(times) <= 0)) + 1
            raise ValueError(f"times[{i}] = {times[i]:g} comes after {times[i - 1]:g}; expected times that grow: one key a moment")
        if values.shape[1:] == (4,):
            values = arguments.quaternions("values", values)
            values = values if self.kind == "smooth" and self.ins is not None else _one_side(values)
        object.__setattr__(self, "times", times)
        object.__setattr__(self, "values", values)
        if self.kind == "smooth":
            for name in ("ins", "outs"):
                given = getattr(self, name)
                given = tangents(times, values) if given is None else arguments.array(name, given, values.shape)
                object.__setattr__(self, name, given)

    def __repr__(self):
        return f"Keys({len(self.times)} {self.kind}, {self.times[0]:g} to {self.times[-1]:g} s)"

    def at(self, times):
        """Return the values at `times` (...): (...), (..., 3) or (..., 4).

        >>> Keys([0, 1], [0, 10]).at([-1, 0.25, 2]).tolist()
        [0.0, 2.5, 10.0]
        """
        times = np.clip(arguments.array("times", times, ()), self.times[0], self.times[-1])
        left = np.clip(np.searchsorted(self.times, times, side="right") - 1, 0, max(len(self.times) - 2, 0))
        if self.kind == "step":
            return self.values[np.searchsorted(self.times, times, side="right") - 1]
        right = np.minimum(left + 1, len(self.times) - 1)
        span = np.where(right > left, self.times[right] - self.times[left], 1.0)
        t = (times - self.times[left]) / span
        return self._straight(left, right, t) if self.kind == "linear" else self._cubic(left, right, t, span)

    def _straight(self, left, right, t):
        a, b = self.values[left], self.values[right]
        if self.values.shape[1:] == (4,):
            return rotation.slerp(a, b, t)
        t = t.reshape(t.shape + (1,) * (self.values.ndim - 1))
        return a + t * (b - a)

    def _cubic(self, left, right, t, span):
        t, span = (x.reshape(x.shape + (1,) * (self.values.ndim - 1)) for x in (t, span))
        square, cube = t * t, t * t * t
        value = (2 * cube - 3 * square + 1) * self.values[left] + span * (cube - 2 * square + t) * self.outs[left]
        value = value + (3 * square - 2 * cube) * self.values[right] + span * (cube - square) * self.ins[right]
        return rotation.normalise(value) if self.values.shape[1:] == (4,) else value


def tangents(times, values, looped=False):
    """Return tangents (K, ...) for smooth keys, per second, with which no number goes beyond its neighbours.

    Zero at a turning point and at the ends, else the harmonic mean of the slopes to both sides, weighed by the spans:
    F. N. Fritsch & J. Butland, SIAM J. Scientific and Statistical Computing 5 (1984) 300 (memory). For turns the mean slope.
    looped: the last key is the first of the next round. times: (K,) seconds. values: (K,) or (K, n).

    >>> tangents(np.array([0.0, 1, 2, 3]), np.array([0.0, 1, 2, 0])).tolist()
    [0.0, 1.0, 0.0, 0.0]
    """
    times, values = arguments.array("times", times, ()), arguments.array("values", values, ())
    if len(times) < 2:
        return np.zeros_like(values)
    span = np.diff(times).reshape(-1, *[1] * (values.ndim - 1))
    slope = np.diff(values, axis=0) / span
    before, after = (np.concatenate([slope[-1:], slope]), np.concatenate([slope, slope[:1]]))
    left, right = np.concatenate([span[-1:], span]), np.concatenate([span, span[:1]])
    if values.shape[1:] == (4,):
        found = (right * before + left * after) / (left + right)
    else:
        first, second = (2 * right + left) / (3 * (left + right)), (right + 2 * left) / (3 * (left + right))
        same = before * after > 0
        found = np.where(same, before * after / np.where(same, first * after + second * before, 1.0), 0.0)
    if not looped:
        found[0] = found[-1] = 0.0
    return found


def _one_side(q):
    """Turns with signs such that each lies nearest to the one before."""
    flips = np.sign(np.einsum("ki,ki->k", q[1:], q[:-1]))
    return q * np.concatenate([[1.0], np.cumprod(np.where(flips < 0, -1.0, 1.0))])[:, None]


# ---- a motion -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Motion:
    """Tracks on a rig's channels: "control.channel", "control.move" or "control.turn" to Keys.

    period: seconds after which it loops, or None. advance: "control.channel" to what a number grows by in each period.
    Raises ValueError for a period that is not above zero, and for an advance with no period.
    """

    name: str
    tracks: dict
    period: float | None = None
    advance: dict = field(default_factory=dict)

    def __post_init__(self):
        if self.period is not None and not self.period > 0:
            raise ValueError(f"period is {self.period}; expected seconds above 0, or None for a motion that ends")
        if self.advance and (self.period is None or set(self.advance) - set(self.tracks)):
            raise ValueError(f"advance is {self.advance}; expected tracks of a motion with a period")
        object.__setattr__(self, "tracks", MappingProxyType(dict(self.tracks)))

    def __repr__(self):
        return f"Motion({self.name!r}, {len(self.tracks)} tracks, {self.length:g} s{', looped' if self.period else ''})"

    @property
    def length(self):
        """Seconds from 0 to the last key, or the period."""
        return self.period or max((float(keys.times[-1]) for keys in self.tracks.values()), default=0.0)

    def sample(self, times):
        """Return the values at `times` (...), seconds, all in one call: what `Rig.pose` takes.

        >>> nod = Motion("nod", {"centre_head_control.turn_x": Keys([0, 1, 2], [0, 0.4, 0])}, period=2)
        >>> nod.sample([0.5, 4.5])
        {'centre_head_control.turn_x': array([0.2, 0.2])}
        """
        times = arguments.array("times", times, ())
        rounds = np.floor(times / self.period) if self.period else np.zeros(times.shape)
        within = times - rounds * (self.period or 0.0)
        return {
            name: keys.at(within) + self.advance[name] * rounds if name in self.advance else keys.at(within)
            for name, keys in self.tracks.items()
        }


class Hinge(NamedTuple):
    """joint: its name. axis: (3,), in the joint's own frame. low, high: radians from rest."""

    joint: str
    axis: tuple
    low: float
    high: float


def hinge_angle(rig, pose, hinge):
    """Return how far a joint has turned about its hinge since rest (...), radians in [-pi, pi]."""
    i = rig.skeleton.index(hinge.joint)
    turned = rotation.multiply(rotation.invert(rig.skeleton.rest_rotations[i]), pose.local_rotations[..., i, :])
    return rotation.twist_angle(turned, hinge.axis)
