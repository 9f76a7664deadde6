"""Sliders, in degrees or another unit, that a cell's own function answers: it poses the model, draws over it and fills the table."""

import math

import ipywidgets

from rigkit.view.panel import Panel
from rigkit.view.pieces import note, slider
from rigkit.view.turns import one_at_a_time


class SliderPanel(Panel):
    """ranges: label to (low, high), degrees, with 0 between them; move({label: degrees}) is called after each change.

    unit: what the sliders count where it is not degrees, as "mm".
    """

    def __init__(self, viewer, ranges, move, unit="degrees"):
        self.turn_lock = viewer.turn_lock
        self._viewer, self._move, self._unit = viewer, move, unit
        self.degrees = {label: 0.0 for label in ranges}
        self._ranges = {label: _range(label, low, high) for label, (low, high) in ranges.items()}
        self._sliders = {}
        for label, (low, high) in self._ranges.items():
            self._sliders[label] = slider(label, 0.0, low, high, 1.0, f"{label}, in {unit}")
            self._sliders[label].observe(lambda change, label=label: self._slid(label, change["new"]), names="value")
        counted = "Degrees from the rest pose." if unit == "degrees" else f"In {unit}."
        told = note(f"{counted} Arrow keys work too, once a slider has the focus.")
        self.widget = ipywidgets.VBox([told, *self._sliders.values()])

    @one_at_a_time
    def update(self):
        """Call the cell's function with the degrees as they are."""
        self._move(dict(self.degrees))
        self._viewer.say(", ".join(f"{label} {degrees:.0f} {self._unit}" for label, degrees in self.degrees.items()))
        self._viewer.redraw()

    @one_at_a_time
    def set(self, degrees):
        """Set some sliders, label to degrees, and update once; ValueError for an unknown label or degrees outside its range."""
        for label, value in degrees.items():
            if label not in self._ranges:
                raise ValueError(f"no slider is called {label!r}; there are: {', '.join(self._ranges)}")
            low, high = self._ranges[label]
            if not low <= value <= high:
                raise ValueError(f"{label} = {value:g} is outside its range; expected {low:g} to {high:g} {self._unit}")
        self.degrees |= {label: float(value) for label, value in degrees.items()}
        for label in degrees:
            self._sliders[label].value = self.degrees[label]
        self.update()

    @one_at_a_time
    def _slid(self, label, value):
        value = round(float(value), 6) + 0.0  # the browser's grid is off by rounding: -1e-14 would read as -0
        if value == self.degrees[label]:
            return
        self.degrees[label] = value
        try:
            self.update()
        except Exception as error:  # the function is the learner's: what stops it belongs below the picture, not in a log
            self._viewer.say(f"the function behind the sliders stopped: {type(error).__name__}: {error}")

    def numbers(self):
        """Rows of the number table."""
        return [(label, f"{degrees:.0f} {self._unit}") for label, degrees in self.degrees.items()]


def _range(label, low, high):
    if not (math.isfinite(low) and math.isfinite(high) and low <= 0 <= high):
        raise ValueError(f"the range of {label} is {low:g} to {high:g}; expected degrees, low <= 0 <= high: 0 is the rest pose")
    return float(low), float(high)
