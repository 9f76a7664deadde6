"""The outlines of a rig's controls as the rig stands: all of them as one set of lines, and the one under the pointer.

Colour and line style tell the side, as in `rigkit.view.outlines`. What is picked is white and
thick, what the pointer is over yellow. A control that moves nothing as the rig stands is drawn only while it is picked.
"""

import numpy as np

from rigkit import rotation, words
from rigkit.view import marks, outlines

GRIP = 9  # pixels beside an outline in which it can be taken
PICKED, OVER = "#FFFFFF", words.PALETTE["yellow"]
BARE = 0.03  # metres from end to end of the small cross that stands for a control without an outline


class ControlLines:
    """controls: of a rig, in order; `place` puts them where they stand."""

    def __init__(self, controls):
        self.names = [control.name for control in controls]
        pieces = [_pieces(control) for control in controls]
        self._owner = np.repeat(np.arange(len(pieces)), [len(starts) for starts, _ in pieces])
        self._hidden = np.zeros(len(self.names), bool)
        self._starts, self._ends = (np.concatenate([np.zeros((0, 3)), *column]) for column in zip(*pieces))

    def place(self, rotations, positions, sizes):
        """Put them where their controls stand: (C, 4), (C, 3), (C,)."""
        turns = rotation.to_matrix(rotations)[self._owner] * np.asarray(sizes)[self._owner, None, None]
        self.positions = np.asarray(positions)
        at = self.positions[self._owner]
        self.starts, self.ends = (np.einsum("sab,sb->sa", turns, points) + at for points in (self._starts, self._ends))

    def under(self, eye, size, seen):
        """The name of the control whose outline is nearest to the pointer, or None beyond GRIP pixels."""
        shown = self._shown()
        if not shown.any():
            return None
        a, b = (eye.pixels(points[shown], size)[:, :2] for points in (self.starts, self.ends))
        pointer = eye.pixels(seen, size)[:2]
        along = b - a
        share = np.clip(((pointer - a) * along).sum(axis=1) / np.maximum((along * along).sum(axis=1), 1e-9), 0, 1)
        gap = np.linalg.norm(a + share[:, None] * along - pointer, axis=1)
        best = int(gap.argmin())
        return self.names[self._owner[shown][best]] if gap[best] <= GRIP else None

    def hide(self, names):
        """Leave these out from now on."""
        self._hidden = np.array([name in names for name in self.names])

    def _shown(self, picked=None):
        """Which strokes are drawn, (S,) of bool."""
        return ~(self._hidden & np.array([name != picked for name in self.names]))[self._owner]

    def place_of(self, name):
        """Where a control stands, (3,)."""
        return self.positions[self.names.index(name)]

    def layer(self, picked=None, over=None):
        """The marks of the outlines. The one under the pointer is told by name."""
        looks, shown = [_look(name, picked, over) for name in self.names], self._shown(picked)
        owner = self._owner[shown]
        colours = np.array([marks.rgb(colour) for colour, _ in looks]).reshape(-1, 3)[owner]
        widths = np.array([(width, width) for _, width in looks]).reshape(-1, 2)[owner]
        told = () if over in (None, picked) else (marks.Word(plain(over), tuple(self.place_of(over)), OVER, (0, 24), 12),)
        return marks.Layer(strokes=(marks.Strokes(self.starts[shown], self.ends[shown], colours, widths),), words=told)


def plain(name):
    """A name as people say it: left_hand_control as 'left hand control'."""
    return name.replace("_", " ")


def _look(name, picked, over):
    if name == picked:
        return PICKED, 4.0
    if name == over:
        return OVER, 3.6
    return words.SIDE_COLOUR[words.side(name)], 2.2


def _pieces(control):
    """The strokes of a control's outline in its own frame, in the line style of its side: starts and ends (S, 3)."""
    drawn = [outlines.styled(line, PICKED, words.SIDE_LINE[control.side]) for line in _lines(control)]
    return np.concatenate([one.starts for one in drawn]), np.concatenate([one.ends for one in drawn])


def _lines(control):
    if control.outline is None:
        return [BARE / 2 * np.array([-axis, axis]) for axis in np.eye(3)]
    return [np.vstack([line, line[:1]]) if closed else line for line, closed in zip(control.outline.lines, control.outline.closed)]
