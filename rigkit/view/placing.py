"""Placing joints by a click: what is snapped to, what has been placed, and the code that says so.

A click near the centre of a loop takes that centre exactly. A click elsewhere
fixes the two coordinates that this view shows; the third stays what it was, or
comes from the joint placed before. A second click from the side then fixes it.
Everything here is plain arithmetic; the buttons are in `place_panel`.
"""

import keyword

import numpy as np

from rigkit import arguments, placement
from rigkit.view.handles import on_plane

SNAP = 22  # pixels from the pointer to a loop's centre
DIGITS = 5  # of metres in the code: a hundredth of a millimetre


class Placement:
    """Joints `names` to be placed, one after the other, on a model with `loops` {label: (N, 3)}."""

    def __init__(self, names, loops):
        self.names = _names(names)
        self.loops = {str(label): arguments.points(f"loops[{label!r}]", points) for label, points in loops.items()}
        self.labels = list(self.loops)
        self.centres = np.array([placement.area_centre(points) for points in self.loops.values()]).reshape(-1, 3)
        self.places = {name: None for name in self.names}
        self.current = self.names[0]
        self.snapping = True
        self._past = []

    def near(self, eye, size, seen):
        """The label of the loop whose centre is nearest to the pointer, and its distance in pixels; (None, None) beyond SNAP."""
        if not self.labels:
            return None, None
        gap = np.linalg.norm(eye.pixels(self.centres, size)[:, :2] - eye.pixels(seen, size)[:2], axis=1)
        best = int(gap.argmin())
        return (self.labels[best], float(gap[best])) if gap[best] <= SNAP else (None, None)

    def aim(self, eye, size, seen):
        """Where a click would put the current joint: a point (3,) and the label of the loop it snaps to, or None."""
        label = self.near(eye, size, seen)[0] if self.snapping else None
        if label is not None:
            return self.centres[self.labels.index(label)].copy(), label
        return on_plane(*eye.ray(seen), self._depth(), eye.back), None

    def _depth(self):
        """A point at the depth of a free click: the current joint, the joint placed before it, or the middle of the loops."""
        mine = self.places[self.current]
        before = [self.places[n] for n in self.names[: self.names.index(self.current)] if self.places[n] is not None]
        if mine is not None:
            return mine
        return before[-1] if before else (self.centres.mean(axis=0) if len(self.centres) else np.zeros(3))

    def put(self, point, whole=True):
        """Place the current joint; when it had no place yet, the next one without a place becomes current.

        Not so where the point is not `whole`: two coordinates of a free click, for which a click from another view is still to come.
        """
        self._remember()
        first = self.places[self.current] is None
        self.places[self.current] = np.asarray(point, dtype=float)
        waiting = [n for n in self.names if self.places[n] is None]
        if first and whole and waiting:
            self.current = waiting[0]

    def nudge(self, shift):
        """Move the current joint by `shift` (3,) metres; nothing happens while it has no place."""
        if self.places[self.current] is not None:
            self._remember()
            self.places[self.current] = self.places[self.current] + np.asarray(shift, dtype=float)

    def undo(self):
        """Take the last step back; returns whether there was one."""
        if not self._past:
            return False
        self.places, self.current = self._past.pop()
        return True

    def _remember(self):
        self._past.append((dict(self.places), self.current))

    @property
    def code(self):
        """Python that binds each placed name to its point, to paste into an answer cell.

        Names not placed yet are left as `...`.
        """
        return "\n".join(f"{name} = {_tuple(point)}" for name, point in self.places.items())

    def placed(self):
        """The placed joints {name: (3,)}, in order."""
        return {name: point for name, point in self.places.items() if point is not None}

    def bends(self, at=None):
        """Each placed joint whose neighbours in the order of names are placed too, with the three points: {name: (root, mid, end)}.

        at: where the current joint would be, (3,), to see what that would give.
        """
        places = self.places if at is None else self.places | {self.current: np.asarray(at, dtype=float)}
        threes = {mid: (places[a], places[mid], places[c]) for a, mid, c in zip(self.names, self.names[1:], self.names[2:])}
        return {mid: three for mid, three in threes.items() if not any(p is None for p in three) and _apart(*three)}

    def off_centre(self, name):
        """The label of the loop whose centre is nearest to a placed joint, and the distance in metres; None without loops."""
        if not self.labels or self.places[name] is None:
            return None
        gap = np.linalg.norm(self.centres - self.places[name], axis=1)
        return self.labels[int(gap.argmin())], float(gap.min())


def _apart(a, b, c):
    """Whether two bones have a length."""
    return min(np.linalg.norm(b - a), np.linalg.norm(c - b)) > 1e-6


def _names(names):
    names = [names] if isinstance(names, str) else list(names)
    if not names:
        raise ValueError("names is empty; give the names of the joints to place, in order")
    for name in names:
        if not isinstance(name, str) or not name.isidentifier() or keyword.iskeyword(name):
            raise ValueError(f"{name!r} can't be a Python name; joints to place are named like left_elbow, so that the code can be pasted")
    return names


def _tuple(point):
    return "..." if point is None else "(" + ", ".join(f"{c + 0.0:.{DIGITS}f}" for c in np.round(point, DIGITS)) + ")"
