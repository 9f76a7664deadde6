"""Circles to turn a control by: one for each open turn, lettered, with the allowed range drawn before its end is met.

The circle of a turn stands square to the axis about which that one number turns the control
*now*: of turns about moving axes, the second axis has been carried by the first turn, and
the third by both. So a drag along a circle changes one number and no other. Where two circles
fall together, two of the three numbers do the same.

A knob stands where the value is, a tick where home is, the range as the thick part of the circle
between two stops. Letter, colour and line style each tell the circles apart: x solid, y dashed, z dotted.
"""

from dataclasses import dataclass
from math import pi, radians

import numpy as np

from rigkit import rotation, words
from rigkit.control import TURNS
from rigkit.view import marks
from rigkit.view.handles import on_plane

RADIUS = 62  # pixels
GRIP = 8  # pixels beside a circle in which it can be taken
PIECES = 72  # of a whole circle
STYLE = {"x": (1, 0), "y": (3, 2), "z": (1, 1)}  # pieces drawn and left out, in turn
OUT = "#59626A"  # where the value can't go
WARN = words.PALETTE["vermilion"]
FULL = 2 * pi - 1e-6  # a range this wide has no end that is met on a circle
EDGE_ON = 0.3  # a circle is taken as seen from its edge where its axis and the line of sight are this near to square (cosine)
CLOSE, SHARE = radians(10), 0.15  # a value is near its end within this, or within this share of its range where that is less


@dataclass(frozen=True, eq=False)
class Circle:
    """channel: "turn_x". axis, zero: unit vectors (3,), square to each other; at an angle v the knob is `zero` turned by v about `axis`."""

    channel: str
    centre: np.ndarray
    axis: np.ndarray
    zero: np.ndarray
    value: float
    home: float
    low: float
    high: float
    radius: float

    @property
    def letter(self):
        """ "x", "y" or "z"."""
        return self.channel[-1]

    @property
    def limited(self):
        """Whether there is a part of the circle where the value can't go."""
        return self.high - self.low < FULL

    def at(self, angle, radius=1.0):
        """Points at angles (...) on the circle, (..., 3); `radius` as a share of its own."""
        angle = np.asarray(angle, dtype=float)[..., None]
        return self.centre + radius * self.radius * (np.cos(angle) * self.zero + np.sin(angle) * np.cross(self.axis, self.zero))


def near_end(value, low, high):
    """How near a value is to an end of its range: "at" it, "near" it, or "" ; no range, no end.

    >>> near_end(0.0, -1, 1), near_end(0.95, -1, 1), near_end(1.0, -1, 1)
    ('', 'near', 'at')
    """
    span, left = high - low, min(value - low, high - value)
    return "at" if left <= 1e-9 else "near" if left < min(CLOSE, SHARE * span) else ""


def circles(control, base, position, values, radius):
    """The Circles of a control's open turns.

    control: a rigkit.control.Control. base: the turn (4,) of what it stands on. position: where it is, (3,). values: channel's name to
    radians. radius: metres.
    """
    made, carried = [], np.asarray(base, dtype=float)
    for axis in control.order.lower():
        channel, k = control.channel(f"turn_{axis}"), "xyz".index(axis)
        frame = rotation.to_matrix(carried)
        value = values.get(channel.name, channel.home)
        if channel.open:
            at = np.asarray(position, dtype=float)
            ends = channel.low, channel.high
            made.append(Circle(channel.name, at, frame[:, k], frame[:, (k + 1) % 3], value, channel.home, *ends, radius))
        carried = rotation.multiply(carried, rotation.from_axis_angle(np.eye(3)[k], value))
    return sorted(made, key=lambda circle: TURNS.index(circle.channel))


# ---- with the mouse ---------------------------------------------------------------------------------------------


def under(drawn, eye, size, seen):
    """The channel of the circle under the pointer, or None; of two, the nearer to it."""
    best = None
    pointer = eye.pixels(seen, size)[:2]
    for circle in drawn:
        points = eye.pixels(circle.at(_all_round()), size)[:, :2]
        gap = float(np.linalg.norm(points - pointer, axis=1).min())
        if gap <= GRIP + 0.5 * 2 * pi * RADIUS / PIECES and (best is None or gap < best[0]):
            best = gap, circle.channel
    return best[1] if best else None


class Turning:
    """A drag along a circle: `value(eye, size, seen)` is what the channel is then, within its range."""

    def __init__(self, circle, eye, size, seen):
        self.circle, self._free = circle, circle.value
        self._angle = self._angle_at(eye, seen)
        self._pixel, self._along = None, None
        if self._angle is None:
            self._from_the_edge(eye, size, seen)

    def value(self, eye, size, seen):
        """The value with the pointer over `seen` (3,)."""
        if self._along is not None:
            self._free = self.circle.value + float((eye.pixels(seen, size)[:2] - self._pixel) @ self._along)
        else:
            angle = self._angle_at(eye, seen)
            if angle is not None:
                self._free += (angle - self._angle + pi) % (2 * pi) - pi
                self._angle = angle
        return min(max(self._free, self.circle.low), self.circle.high)

    def _angle_at(self, eye, seen):
        """The angle of the pointer about the circle's axis, or None where the circle is seen from its edge."""
        circle = self.circle
        if abs(circle.axis @ eye.back) < EDGE_ON:
            return None
        hit = on_plane(*eye.ray(seen), circle.centre, circle.axis)
        if hit is None:
            return None
        out = hit - circle.centre
        return float(np.arctan2(out @ np.cross(circle.axis, circle.zero), out @ circle.zero))

    def _from_the_edge(self, eye, size, seen):
        """Seen from the edge a circle is a line: what counts is how far the pointer goes along it, from where it was taken."""
        circle, self._pixel = self.circle, eye.pixels(seen, size)[:2]
        angles = _all_round()
        points = eye.pixels(circle.at(angles), size)[:, :2]
        near = np.linalg.norm(points - self._pixel, axis=1) <= GRIP + 6
        towards = circle.at(angles) @ eye.back
        best = int(np.where(near, towards, -np.inf).argmax()) if near.any() else int(np.linalg.norm(points - self._pixel, axis=1).argmin())
        step = 1e-3
        a, b = eye.pixels(circle.at([angles[best] - step, angles[best] + step]), size)[:, :2]
        along = (b - a) / (2 * step)  # pixels a radian
        least = 0.35 * RADIUS
        self._along = along / max(float(along @ along), least**2)


# ---- drawn ------------------------------------------------------------------------------------------------------


def layer(drawn, hot=None):
    """The marks of Circles; the one of the channel `hot` is thick."""
    strokes, dots, told, sheets = [], [], [], []
    for circle in drawn:
        colour, wide = words.AXIS_COLOUR[circle.letter], 4.5 if circle.channel == hot else 2.5
        strokes += [*_arcs(circle, colour, wide), _tick(circle, circle.home, 0.92, 1.08, "#ECECEC", 1.5)]
        if circle.limited:
            strokes += [_tick(circle, end, 0.84, 1.16, "#ECECEC", 3.5) for end in (circle.low, circle.high)]
        near = near_end(circle.value, circle.low, circle.high) if circle.limited else ""
        knob = circle.at(circle.value)
        dots.append(marks.glyphs(knob, {"": "round", "near": "diamond", "at": "square"}[near], WARN if near else colour, 13 if not near else 15))
        text = circle.letter.upper() + {"": "", "near": " near its end", "at": " at its end"}[near]
        told.append(marks.Word(text, tuple(circle.at(circle.value, 1.2)), WARN if near else colour, (0, 0), 13))
        sheets.append(_wedge(circle, colour))
    return marks.Layer(glyphs=tuple(dots), strokes=tuple(strokes), words=tuple(told), sheets=tuple(sheets))


def _all_round():
    return np.linspace(0, 2 * pi, PIECES, endpoint=False)


def _arcs(circle, colour, wide):
    """The circle in its line style where the value can go, thin where it can't."""
    on, off = STYLE[circle.letter]
    step = 2 * pi / PIECES
    begin = circle.low if circle.limited else 0.0
    edges = begin + step * np.arange(PIECES + 1)
    kept = np.arange(PIECES) % (on + off) < on
    if not circle.limited:
        return [marks.strokes(circle.at(edges[:-1][kept]), circle.at(edges[1:][kept]), colour, wide)]
    inside = edges[:-1] < circle.high
    starts, stops = edges[:-1], np.where(inside, np.minimum(edges[1:], circle.high), edges[1:])
    allowed = inside & kept
    return [
        marks.strokes(circle.at(starts[~inside]), circle.at(stops[~inside]), OUT, 1.2),
        marks.strokes(circle.at(starts[allowed]), circle.at(stops[allowed]), colour, wide + 1.5),
    ]


def _tick(circle, angle, inner, outer, colour, width):
    return marks.strokes(circle.at(angle, inner), circle.at(angle, outer), colour, width)


def _wedge(circle, colour, pieces=24):
    """The turn from home to the value as a thin fan; it has as many corners however small it is."""
    rim = circle.at(np.linspace(circle.home, circle.value, pieces + 1))
    fan = np.array([[0, i, i + 1] for i in range(1, pieces + 1)])
    return marks.Sheet(np.vstack([circle.centre, rim]), fan, colour, 0.22)
