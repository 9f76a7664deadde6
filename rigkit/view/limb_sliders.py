"""The sliders of a limb's target and pole: they show what the scene holds, and change it only when the learner moves one.

A slider in the browser snaps to its grid and reports the snapped value back, even
when it was the scene that set it. So it is given values on its grid, whole
millimetres and degrees, while the scene keeps the value it was set to; and a
report of a value that was sent to it is an echo, not news. A value beyond the
range brings a new slider with a wider one: to widen the range of a slider that is
on the page makes the browser's slider call itself without end.
"""

import time

import ipywidgets
import numpy as np

from rigkit.view.desks import close_tree
from rigkit.view.pieces import heading, note, slider

STEP, DIGITS = 0.001, 3  # metres; the table shows as many digits
ECHO = 2.0  # seconds in which a report of a value sent is an echo, also when another was sent since
NEAR = 1e-6  # a report differs from what was sent by rounding


class LimbSliders:
    """`moved(name, axis, value)` and `turned(degrees)` are called when the learner moves a slider.

    colours: {"target": "#rrggbb", "pole": ...}; places: {name: (3,)}; middle (3,) and half: the range to begin with, metres.
    """

    def __init__(self, colours, places, middle, half, moved, turned):
        self._widgets, self._sent, self._recent, self._act = {}, {}, {}, {"swivel": turned}
        for name, place in places.items():
            for k in range(3):
                self._act[name, k] = lambda value, name=name, k=k: moved(name, k, value)
                low, high = _holding(place[k], round(float(middle[k]), 2) - half, round(float(middle[k]), 2) + half)
                self._add((name, k), round(float(place[k]), DIGITS), low, high)
        self._add("swivel", 0.0, -180.0, 180.0)
        rows = [row for name in places for row in (heading(name.capitalize(), colours[name]), *(self._widgets[name, k] for k in range(3)))]
        self.widget = ipywidgets.VBox([
            note("Drag the target or the pole in the picture, or use the sliders."), *rows,
            heading("Swivel, from where the pole began", "#8A9299"), self._widgets["swivel"]])

    def show(self, places, degrees):
        """Bring every slider to what the scene holds."""
        for (name, k), value in [((name, k), place[k]) for name, place in places.items() for k in range(3)]:
            self._put((name, k), round(float(value), DIGITS))
        self._put("swivel", float(round(degrees)))

    def _add(self, key, value, low, high):
        """A new slider at `value`."""
        if key == "swivel":
            made = slider("turn (deg)", value, low, high, 1.0, "turn of the pole about the line from root to target; 0 is where it began")
        else:
            name, axis = key[0], "xyz"[key[1]]
            made = slider(f"{axis} (m)", value, low, high, STEP, f"{name} {axis}, metres")
        self._widgets[key], self._sent[key], self._recent[key] = made, value, []
        made.observe(lambda change: self._reported(key, change["new"]), names="value")

    def _put(self, key, value):
        if value == self._sent[key]:
            return
        old = self._widgets[key]
        if not old.min <= value <= old.max:
            self._add(key, value, *_holding(value, old.min, old.max))
            self.widget.children = [self._widgets[key] if child is old else child for child in self.widget.children]
            old.unobserve_all()
            close_tree(old)
            return
        self._recent[key] = [(time.monotonic(), self._sent[key]), *self._recent[key][:50]]
        self._sent[key] = value
        old.value = value

    def _reported(self, key, value):
        """The browser reports a slider's value: news, or an echo of what was sent."""
        now = time.monotonic()
        old = [sent for at, sent in self._recent[key] if now - at < ECHO]
        if np.isclose([self._sent[key], *old], value, rtol=0, atol=NEAR).any():
            return
        value = round(float(value), DIGITS)
        self._sent[key], self._recent[key] = value, []
        self._act[key](value)


def _holding(value, low, high):
    """The range from `low` to `high`, widened to hold `value` with room to move, metres."""
    return min(low, float(value) - 0.2), max(high, float(value) + 0.2)
