"""The sliders of a limb's target and pole, in metres, and of its swivel, in degrees (`rigkit.view.dials` has how they behave)."""

import ipywidgets

from rigkit.view.dials import Dial, swap
from rigkit.view.pieces import heading, note

STEP = 0.001  # metres; the table shows as many digits
ROOM = 0.2  # metres


class LimbSliders:
    """`moved(name, axis, value)` and `turned(degrees)` are called when the learner moves a slider.

    colours: {"target": "#rrggbb", "pole": ...}; places: {name: (3,)}; middle (3,) and half: the range to begin with, metres.
    """

    def __init__(self, colours, places, middle, half, moved, turned):
        self._dials = {}
        for name, place in places.items():
            for k, axis in enumerate("xyz"):
                low, high = (round(float(middle[k]), 2) + shift for shift in (-half, half))
                act = _moving(moved, name, k)
                self._dials[name, k] = Dial(f"{axis} (m)", f"{name} {axis}, metres", place[k], *_holding(place[k], low, high), STEP, act, ROOM)
        told = "turn of the pole about the line from root to target; 0 is where it began"
        self._dials["swivel"] = Dial("turn (deg)", told, 0.0, -180.0, 180.0, 1.0, turned)
        rows = [row for name in places for row in (heading(name.capitalize(), colours[name]), *(self._dials[name, k].widget for k in range(3)))]
        self.widget = ipywidgets.VBox([
            note("Drag the target or the pole in the picture, or use the sliders."), *rows,
            heading("Swivel, from where the pole began", "#8A9299"), self._dials["swivel"].widget])

    @property
    def _widgets(self):
        return {key: dial.widget for key, dial in self._dials.items()}

    def show(self, places, degrees):
        """Bring every slider to what the scene holds."""
        for key, dial in self._dials.items():
            old = dial.show(degrees if key == "swivel" else places[key[0]][key[1]])
            if old is not None:
                swap(self.widget, old, dial.widget)


def _moving(moved, name, k):
    return lambda value: moved(name, k, value)


def _holding(value, low, high):
    """The range from `low` to `high`, widened to hold `value` with room to move, metres."""
    return min(low, float(value) - ROOM), max(high, float(value) + ROOM)
