"""Circles to turn a control by: one for each open turn, lettered, with the allowed range drawn before its end is met.

The circle of a turn stands square to the axis about which that one number turns the control
*now*: of turns about moving axes, the second axis has been carried by the first turn, and
the third by both. So a drag along a circle changes one number and no other. Where two circles
fall together, two of the three numbers do the same.

A knob stands where the value is, a tick where home is, the range as the thick part of the circle
between two stops. Letter, colour and line style each tell the circles apart: x solid, y dashed, z dotted.
"""

from dataclasses import dataclass
from math import pi

import numpy as np

from rigkit import rotation, words
from rigkit.control import TURNS
from rigkit.view import marks
from rigkit.view.handles import on_plane
from rigkit.view.posed_rig import near_end

RADIUS = 62  # pixels
GRIP = 8  # pixels beside a circle in which it can be taken
KNOB = 11  # pixels around a knob in which its circle is taken before any other
PIECES = 72  # of a whole circle
STYLE = {"x": (1, 0), "y": (3, 2), "z": (1, 1)}  # pieces drawn and left out, in turn
OUT = "#59626A"  # where the value can't go
STOP = "#ECECEC"  # ends and home
WARN = words.PALETTE["vermilion"]
FULL = 2 * pi - 1e-6  # a range this wide has no end that is met on a circle
EDGE_ON = 0.3  # a circle is taken as seen from its edge where its axis and the line of sight are this near to square (cosine)


@dataclass(frozen=True, eq=False)
class Circle:
    """channel: "turn_x". frame: (3, 3), its columns the axis, the direction of angle 0, and that of a quarter turn; the knob is at `value`."""

    channel: str
    centre: np.ndarray
    frame: np.ndarray
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

    @property
    def axis(self):
        """The axis it turns about, (3,)."""
        return self.frame[:, 0]

    def at(self, angles, shares=1.0):
        """Points at angles (...) on the circle, (..., 3); `shares` (...) of its radius."""
        return self.centre + self.out(angles) * (self.radius * np.asarray(shares, dtype=float))[..., None]

    def out(self, angles):
        """Unit vectors from the centre to points at angles (...), (..., 3)."""
        angles = np.asarray(angles, dtype=float)
        return np.stack([np.cos(angles), np.sin(angles)], axis=-1) @ self.frame[:, 1:].T


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
            place, turned = np.asarray(position, dtype=float), frame[:, [k, (k + 1) % 3, (k + 2) % 3]]
            made.append(Circle(channel.name, place, turned, value, channel.home, channel.low, channel.high, radius))
        carried = rotation.multiply(carried, rotation.from_axis_angle(np.eye(3)[k], value))
    return sorted(made, key=lambda circle: TURNS.index(circle.channel))


# ---- with the mouse ---------------------------------------------------------------------------------------------


def under(drawn, eye, size, seen):
    """The channel of the circle under the pointer, or None: the one whose knob is there, else the nearest line."""
    pointer, all_round = eye.pixels(seen, size)[:2], _all_round()
    gaps = {}
    for circle in drawn:
        points = eye.pixels(circle.at(np.append(all_round, circle.value)), size)[:, :2]
        *line, knob = np.linalg.norm(points - pointer, axis=1).tolist()
        gaps[circle.channel] = knob - 2 * KNOB if knob <= KNOB else min(line)
    best = min(gaps, key=gaps.get, default=None)
    return best if best is not None and gaps[best] <= GRIP + pi * RADIUS / PIECES else None


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
        _, x, y = (hit - circle.centre) @ circle.frame
        return float(np.arctan2(y, x))

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
    looks = [_look(circle) for circle in drawn]
    return marks.Layer(
        tuple(marks.glyphs(circle.at(circle.value), shape, colour, size) for circle, (shape, size, colour, _) in zip(drawn, looks)),
        tuple(lines for circle in drawn for lines in _lines(circle, 4.5 if circle.channel == hot else 2.5)),
        tuple(marks.Word(text, tuple(circle.at(circle.value, 1.2)), colour, (0, 0), 13) for circle, (*_, colour, text) in zip(drawn, looks)),
        tuple(_wedge(circle) for circle in drawn))


def _look(circle):
    """The knob's shape, size and colour, and what is written beside it."""
    near = near_end(circle.value, circle.low, circle.high) if circle.limited else ""
    if not near:
        return "round", 13, words.AXIS_COLOUR[circle.letter], circle.letter.upper()
    return "diamond" if near == "near" else "square", 15, WARN, f"{circle.letter.upper()} {near} its end"


def _all_round():
    return np.linspace(0, 2 * pi, PIECES, endpoint=False)


def _lines(circle, wide):
    """The circle in its line style where the value can go, thin where it can't, stops at the ends, a tick at home."""
    on, off = STYLE[circle.letter]
    begin, end = (circle.low, circle.high) if circle.limited else (0.0, 2 * pi)
    edges = begin + 2 * pi / PIECES * np.arange(PIECES + 1)
    drawn = (edges[:-1] < end) & (np.arange(PIECES) % (on + off) < on)
    points = circle.at(np.minimum(edges, end))
    lines = [marks.strokes(points[:-1][drawn], points[1:][drawn], words.AXIS_COLOUR[circle.letter], wide + 1.5 * circle.limited)]
    if circle.limited:
        rest = circle.at(np.linspace(end, begin + 2 * pi, PIECES // 2))
        lines.append(marks.path(rest, OUT, 1.2))
        lines.append(_ticks(circle, (circle.low, circle.high), 0.84, 1.16, 3.5))
    return [*lines, _ticks(circle, (circle.home,), 0.92, 1.08, 1.5)]


def _ticks(circle, angles, inner, outer, width):
    return marks.strokes(circle.at(angles, [inner] * len(angles)), circle.at(angles, [outer] * len(angles)), STOP, width)


def _wedge(circle):
    """The turn from home to the value as a thin fan; it has as many corners however small it is."""
    rim = circle.at(np.linspace(circle.home, circle.value, len(FAN) + 1))
    return marks.Sheet(np.vstack([circle.centre, rim]), FAN, words.AXIS_COLOUR[circle.letter], 0.22)


FAN = np.array([[0, i, i + 1] for i in range(1, 25)])
