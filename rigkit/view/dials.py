"""A slider that shows what the scene holds, and changes it only when the learner moves it.

A slider in the browser snaps to its grid and reports the snapped value back, even
when it was the scene that set it. So it is given values on its grid, while the scene
keeps the value it was set to; and a report of a value that was sent to it is an echo,
not news. A value beyond the range brings a new slider with a wider one: to widen the
range of a slider that is on the page makes the browser's slider call itself without end.
"""

import time

import numpy as np

from rigkit.view.desks import close_tree
from rigkit.view.pieces import slider

ECHO = 2.0  # seconds in which a report of a value sent is an echo, also when another was sent since
NEAR = 1e-6  # a report differs from what was sent by rounding
DIGITS = 6


class Dial:
    """`widget` is the slider; act(value) is called when the learner moves it. room: by how much the range is widened beyond
    a value outside it. label_pixels: the label's width.
    """

    def __init__(self, label, told, value, low, high, step, act, room=0.0, label_pixels=76):
        self._label, self._told, self._step, self._act, self._room, self._wide = label, told, step, act, room, label_pixels
        self._recent = []
        self._make(self._on_grid(value), low, high)

    def show(self, value):
        """Bring the slider to `value`, nearly; returns the widget it took the place of where the range had to be another, else None."""
        value = self._on_grid(value)
        if value == self._sent:
            return None
        if not self.widget.min - NEAR <= value <= self.widget.max + NEAR:
            return self._widen(value)
        self._recent = [(time.monotonic(), self._sent), *self._recent[:50]]
        self._sent = value
        self.widget.value = value
        return None

    def warn(self, colour):
        """Colour the slider's handle, or leave it as it is for None."""
        if self.widget.style.handle_color != colour:
            self.widget.style.handle_color = colour

    def _widen(self, value):
        old = self.widget
        self._make(value, old.min, old.max)
        old.unobserve_all()
        return old

    def _make(self, value, low, high):
        if not low <= value <= high:
            low, high = min(low, value - self._room), max(high, value + self._room)
        self.widget, self._sent, self._recent = slider(self._label, value, low, high, self._step, self._told, self._wide), value, []
        self.widget.observe(lambda change: self._reported(change["new"]), names="value")

    def _on_grid(self, value):
        return round(self._step * round(float(value) / self._step), DIGITS) + 0.0

    def _reported(self, value):
        """The browser reports the slider's value: news, or an echo of what was sent."""
        now = time.monotonic()
        old = [sent for at, sent in self._recent if now - at < ECHO]
        if np.isclose([self._sent, *old], value, rtol=0, atol=NEAR).any():
            return
        value = round(float(value), DIGITS) + 0.0
        self._sent, self._recent = value, []
        self._act(value)


def swap(box, old, new):
    """Put `new` where `old` stands in a box, and close `old`."""
    box.children = [new if child is old else child for child in box.children]
    close_tree(old)
