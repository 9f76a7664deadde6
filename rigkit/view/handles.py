"""Dragging: what the mouse takes hold of, and where it goes.

A handle moves in the plane through it that faces the eye, so that it stays
under the pointer in every view. The newest place wins: what came before it and
was not drawn yet is dropped.
"""

import numpy as np

from rigkit.view.panel import Panel

GRIP = 18  # pixels around a handle in which it can be taken


def on_plane(origin, direction, through, normal):
    """Where a ray meets the plane through `through` (3,) with `normal` (3,); None where it runs along the plane or behind.

    >>> on_plane([0, 0, 5], [0, 0, -1], [1, 1, 2], [0, 0, 1]).tolist()
    [0.0, 0.0, 2.0]
    """
    origin, direction, normal = (np.asarray(v, dtype=float) for v in (origin, direction, normal))
    along = direction @ normal
    if abs(along) < 1e-9:
        return None
    t = (np.asarray(through, dtype=float) - origin) @ normal / along
    return origin + t * direction if t > 0 else None


class Drag:
    """One drag of one of several handles, from press to release."""

    def __init__(self):
        self.held, self._offset, self._plane = None, None, None

    def hover(self, places, eye, size, seen):
        """The name of the handle under the pointer, or None; `places` {name: (3,)}, `seen` a point on the pixel's ray."""
        names = list(places)
        pixels = eye.pixels(np.array([places[n] for n in names]), size)[:, :2]
        gap = np.linalg.norm(pixels - eye.pixels(seen, size)[:2], axis=1)
        return names[int(gap.argmin())] if gap.min() <= GRIP else None

    def press(self, places, eye, size, seen):
        """Take hold of the handle under the pointer; returns its name or None."""
        name = self.hover(places, eye, size, seen)
        return self.take(name, places[name], eye, seen) if name else None

    def take(self, name, place, eye, seen):
        """Take hold of the handle `name` at `place` (3,), wherever the pointer is; returns its name."""
        self.held, self._plane = name, (place, eye.back)
        self._offset = place - on_plane(*eye.ray(seen), *self._plane)
        return name

    def place(self, eye, seen):
        """Where the held handle is now, (3,), or None when nothing is held or the ray misses."""
        hit = on_plane(*eye.ray(seen), *self._plane) if self.held else None
        return None if hit is None else hit + self._offset

    def release(self):
        """Let go; returns the name of what was held."""
        held, self.held = self.held, None
        return held


class Hands(Panel):
    """A panel with something in the picture to take hold of; `_viewer` is whose.

    Where there is something to drag, a drag turns the view only after a press that
    was seen to take no handle: a hurried press on a handle must not turn it too.
    """

    wants_hover = True
    _turning = _holding = False

    def take(self, seen):
        """A press: take hold of what is under the pointer; returns whether something is."""
        raise NotImplementedError

    def drag(self, seen):
        """The pointer moved while something is held."""
        raise NotImplementedError

    def let_go(self):
        """The end of a drag."""
        raise NotImplementedError

    def over(self, seen):
        """The pointer moved while nothing is held."""

    def away(self):
        """The pointer left the picture while nothing is held."""

    def mouse(self, kind, seen):
        """Handle a mouse event; returns whether it is used up."""
        if kind == "mousedown":
            self._holding = bool(self.take(seen))
            self._turning = not self._holding
            self._viewer.turning(self._turning)
            return self._holding
        if self._holding:
            if kind != "mouseleave":
                self.drag(seen)
            if kind != "mousemove":
                self._holding = False
                self.let_go()
            return True
        if kind == "mouseup":
            self.turned()
        elif kind == "mousemove" and not self._turning:
            self._viewer.turning(False)
            self.over(seen)
        elif kind == "mouseleave":
            self.away()
        return False

    def turned(self):
        """The learner let go of the view (the browser says so also where that was outside the picture)."""
        self._turning = False
        self._viewer.turning(False)
