"""Sliders that turn a joint, with all that hangs below it, and say what one turn they make together.

Each slider is an angle. What they mean is up to the caller: `turn(*radians)` gives
the turn of the joint in the world's axes, so that fixed axes, moving axes or three
angles in some order are a line of code each. Drawn are the joint's lettered frame,
faint where it was, the axes the caller names, and the way a point below has come:
one slider after the other, from the first to the last.
"""

from itertools import pairwise

import numpy as np

from rigkit import arguments, rotation, words
from rigkit.view import guides, marks
from rigkit.view.slider_panel import SliderPanel
from rigkit.view.turns import one_at_a_time

FAINT = "#7C858C"
AXIS = words.PALETTE["purple"]
TRAIL = words.PALETTE["yellow"]
STEPS = 24  # pieces of the trail, a slider


class TurnPanel(SliderPanel):
    """joint: a joint's name. ranges: label to (low, high), degrees. turn(*radians): a quaternion (4,) or a matrix (3, 3).

    frame: the turn of the drawn frame where no slider is moved, the world's by default. axes(*radians): label to a direction (3,)
    to draw through the joint. tip: the joint whose way is drawn. pose: local rotations (J, 4) to begin from, the rest pose by default.
    """

    def __init__(self, viewer, joint, ranges, turn, frame=None, axes=None, tip=None, pose=None):
        super().__init__(viewer, ranges, None)
        if viewer.character is None:
            raise ValueError("turn needs a viewer with a character: Viewer(robot)")
        self._turn, self._axes, self._tip = turn, axes or (lambda *_: {}), tip
        self.frame, self.now = _quaternion(rotation.IDENTITY if frame is None else frame), rotation.IDENTITY
        self._stands(viewer.character.skeleton, joint, pose)

    def _stands(self, skeleton, joint, pose):
        """Where everything is before a slider moves, and what hangs below the joint."""
        rest, posed = skeleton.forward(), skeleton.forward(pose)
        self._before = rotation.to_matrix(rotation.multiply(posed.rotations, rotation.invert(rest.rotations)))
        self._rest, self._posed = rest.positions, posed.positions
        self._below, self.pivot = skeleton.below(joint), posed.positions[skeleton.index(joint)]
        self._start = None if self._tip is None else posed.positions[skeleton.index(self._tip)]

    @one_at_a_time
    def update(self):
        """Turn the model and draw."""
        self.now = self._turned(self._at())
        matrix = rotation.to_matrix(self.now)
        turns, positions = self._before.copy(), self._posed.copy()
        turns[self._below] = matrix @ turns[self._below]
        positions[self._below] = (positions[self._below] - self.pivot) @ matrix.T + self.pivot
        self._viewer.carry(turns, positions - np.einsum("jab,jb->ja", turns, self._rest))
        self._viewer.say(self.told())
        self._viewer.redraw()

    def _at(self):
        return np.array(list(self.degrees.values()))

    def _turned(self, degrees):
        return _quaternion(self._turn(*np.radians(degrees)))

    def _way(self):
        """Where the tip has been, (N, 3), one slider after the other."""
        now = self._at()
        stops = [np.where(np.arange(len(now)) < k, now, 0.0) for k in range(len(now) + 1)]
        steps = [a + (b - a) * t for a, b in pairwise(stops) if (a != b).any() for t in np.linspace(0, 1, STEPS)]
        return np.array([self.tip_at(degrees) for degrees in steps or [now]])

    def tip_at(self, degrees):
        """Where the tip is when the sliders stand at `degrees`, (3,)."""
        return self.pivot + rotation.rotate(self._turned(degrees), self._start - self.pivot)

    def layer(self):
        """The frame now and, faint, before; the axes; the way of the tip."""
        before = rotation.to_matrix(self.frame)
        drawn = [marks.strokes(np.tile(self.pivot, (3, 1)), self.pivot + 0.13 * before.T, FAINT, 2)]
        told, dots = [], [marks.glyphs(self.pivot, "ring", "#ECECEC", 14)]
        for place, (label, way) in enumerate(self._axes(*np.radians(self._at())).items()):
            tip = 0.22 * arguments.directions(label, way)
            drawn.append(marks.strokes(self.pivot - 0.45 * tip, self.pivot + 0.85 * tip, AXIS, 2))
            head = np.linspace(0.8, 1.0, 6)[:, None] * tip + self.pivot  # in pieces: a still picture gives each piece one width
            drawn += [marks.strokes(a, b, AXIS, width, width - 2) for (a, b), width in zip(pairwise(head), (11, 9, 7, 5, 3))]
            told.append(marks.Word(label, tuple(self.pivot + tip), AXIS, (0, (12, -14)[place % 2]), 12))  # two on one line stay readable
        if self._start is not None:
            way = self._way()
            drawn += [marks.path(way, TRAIL, 2.2)] if len(way) > 1 else []
            dots += [marks.glyphs(way[0], "ring", TRAIL, 12), marks.glyphs(way[-1], "round", TRAIL, 10)]
        frame = guides.frames(self.pivot, rotation.multiply(self.now, self.frame), 0.13)
        return marks.Layer(glyphs=tuple(dots), strokes=(*drawn, *frame.strokes), words=(*told, *frame.words))

    def told(self):
        """The one turn that all sliders make, in words."""
        axis, angle = rotation.to_axis_angle(self.now)
        if angle < 1e-9:
            return "no turn yet"
        return f"all in all one turn by {words.degrees(angle)} about the axis {words.point(axis)}"

    def numbers(self):
        """Rows of the number table."""
        axis, angle = rotation.to_axis_angle(self.now)
        rows = [*super().numbers(), ("one turn", f"{words.degrees(angle)} about {words.point(axis)}" if angle > 1e-9 else "none")]
        rows.append(("quaternion", words.point(self.now)))
        return [*rows, *([] if self._tip is None else [(self._tip, f"{words.point(self.tip_at(self._at()))} m")])]


def _quaternion(turn):
    """A turn given as a quaternion (4,) or a matrix (3, 3), as a quaternion."""
    turn = np.asarray(turn, dtype=float)
    return rotation.from_matrix(turn) if turn.shape == (3, 3) else arguments.quaternions("turn", turn)
