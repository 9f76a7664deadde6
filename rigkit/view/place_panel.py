"""The buttons and numbers for placing joints, and what they draw."""

import ipywidgets
import numpy as np

from rigkit import bend, words
from rigkit.view import limb_guides, marks
from rigkit.view.panel import Panel
from rigkit.view.pieces import button, copy_box, note, number
from rigkit.view.placing import Placement
from rigkit.view.turns import one_at_a_time

FLAT = 1e-3  # radians; below this the three joints are in line as far as placing by hand can tell


class PlacePanel(Panel):
    """Clicks place joints; each thing a click does can be done by keyboard here too."""

    def __init__(self, viewer, names, loops):
        self.turn_lock = viewer.turn_lock
        self._viewer, self.placement = viewer, Placement(names, loops)
        self._lit, self._aim = None, None
        place = self.placement
        self._name = ipywidgets.Dropdown(options=place.names, description="joint", layout=ipywidgets.Layout(width="95%"))
        self._loop = ipywidgets.Dropdown(
            options=["choose a loop", *place.labels], description="loop", layout=ipywidgets.Layout(width="95%"))
        self._snap = ipywidgets.Checkbox(value=True, description="snap to loop centres", indent=False)
        self._numbers = [number(axis, 0.0, step=None) for axis in ("x mm", "y mm", "z mm")]  # a step would snap 233.86 to 234 first
        self._undo = button("Undo", "Take the last step back", self.undo)
        self._code = copy_box("Code to paste into the answer cell")
        self.widget = ipywidgets.VBox([
            note("Click in the picture to place a joint. Click again from another view to set the depth."),
            self._name, self._loop, self._snap, *self._numbers, self._undo, self._code])
        self._name.observe(self._choose, names="value")
        self._loop.observe(self._take_loop, names="value")
        self._snap.observe(self._switch, names="value")
        for axis, widget in enumerate(self._numbers):
            widget.observe(lambda change, axis=axis: self._type(axis, change["new"]), names="value")
        self._quiet = False
        self._show()

    # mouse

    wants_hover = True

    def mouse(self, kind, seen):
        """Handle a mouse event; returns whether it is used up."""
        eye, size = self._viewer.eye, self._viewer.size
        if kind == "mousemove":
            lit, pixels = self.placement.near(eye, size, seen) if self.placement.snapping else (None, None)
            if lit != self._lit:
                self._lit = lit
                self._viewer.redraw()
                if lit is None and self.placement.snapping:
                    self._viewer.say(f"no loop's centre is near: a click places {self.placement.current} where you point, and keeps its depth")
            if lit:
                off = words.millimetres(pixels * eye.metres_per_pixel(size), 0)
                self._viewer.say(f"{lit}, {off} from its centre: a click places {self.placement.current} there{self._bend_there()}")
        return False

    @one_at_a_time
    def click(self, seen):
        """A press and release on one spot."""
        point, label = self.placement.aim(self._viewer.eye, self._viewer.size, seen)
        if point is not None:
            name = self.placement.current
            first = self.placement.places[name] is None
            self.placement.put(point, whole=label is not None)
            self._show()
            self._viewer.say(self._told(name, label) + ("" if label or not first else "; for its depth click again from another view"))
        return True

    def _told(self, name, label):
        near = self.placement.off_centre(name)
        where = f"{name} at {words.point(self.placement.places[name], 4)} m"
        if label:
            return f"{where}, on the centre of {label}"
        return f"{where}, {words.millimetres(near[1])} from the centre of {near[0]}" if near else where

    def _lit_centre(self):
        """The centre of the lit loop, (3,), or None."""
        return self.placement.centres[self.placement.labels.index(self._lit)] if self._lit else None

    def _bend_there(self):
        """What bend a click on the lit loop would give."""
        found = self.placement.bends(self._lit_centre())
        told = [f"{name} would bend by {words.degrees(bend.angle(*three))}" for name, three in found.items()]
        return f"; {', '.join(told)}" if told else ""

    # keyboard

    @one_at_a_time
    def undo(self):
        """Take the last step back."""
        self._viewer.say("the last step is taken back" if self.placement.undo() else "there is nothing to undo")
        self._show()

    def _choose(self, change):
        if not self._quiet:
            self.placement.current = change["new"]
            self._show()

    def _take_loop(self, change):
        if not self._quiet and change["new"] in self.placement.labels:
            name = self.placement.current
            self.placement.put(self.placement.centres[self.placement.labels.index(change["new"])])
            self._show()
            self._viewer.say(self._told(name, change["new"]))

    def _switch(self, change):
        self.placement.snapping = change["new"]

    @one_at_a_time
    def _type(self, axis, millimetres):
        """One coordinate of the current joint; the other two stay exactly where they are."""
        if self._quiet:
            return
        name = self.placement.current
        here = self.placement.places[name]
        if here is None:
            self.placement.put(np.array([field.value for field in self._numbers]) / 1000)
            self.placement.current = name
        else:
            self.placement.nudge((millimetres / 1000 - here[axis]) * np.eye(3)[axis])
        self._show()
        self._viewer.say(self._told(name, None))

    @one_at_a_time
    def _show(self):
        place = self.placement
        here = place.places[place.current]
        self._quiet = True
        self._name.value = place.current
        self._loop.value = "choose a loop"
        for widget, value in zip(self._numbers, np.zeros(3) if here is None else here):
            widget.value = round(float(value) * 1000, 2)
        self._quiet = False
        self._code.value = place.code
        self._viewer.redraw()

    # drawing

    def layer(self):
        """Loops, the lit loop and its centre, placed joints and their bones."""
        place = self.placement
        drawn = [marks.path(points, "#7F8A93", 1.6, closed=True) for points in place.loops.values()]
        told, dots = [], []
        if self._lit:
            points = place.loops[self._lit]
            drawn.append(marks.path(points, words.PALETTE["yellow"], 3.5, closed=True))
            centre = self._lit_centre()
            dots.append(marks.glyphs(centre, "cross", words.PALETTE["yellow"], 14))
            told.append(marks.Word(self._lit, tuple(centre), words.PALETTE["yellow"], (0, 26), 12))
        plane = self._plane()
        return marks.Layer(strokes=(*plane.strokes, *drawn), glyphs=tuple(dots), words=(*plane.words, *told), sheets=plane.sheets)

    def _plane(self):
        """The marks of the bend plane at the current joint, else at the last one that has one."""
        found = self.placement.bends(self._lit_centre())
        bent = {name: three for name, three in found.items() if bend.angle(*three) > FLAT}
        if not bent:
            return marks.Layer()
        return limb_guides.plane(*bent.get(self.placement.current, list(bent.values())[-1])).layer

    @property
    def code(self):
        """The placed joints as Python to paste."""
        return self.placement.code

    def joints(self):
        """The placed joints {name: (3,)} to draw as a chain."""
        return self.placement.placed()

    def numbers(self):
        """Rows of the number table."""
        rows = [(name, "not placed yet" if p is None else f"{words.point(p, 4)} m") for name, p in self.placement.places.items()]
        return [*rows, *((f"bend at {name}", _bend_told(three)) for name, three in self.placement.bends(self._lit_centre()).items())]


def _bend_told(three):
    """A bend and the normal of its plane, in words."""
    angle = float(bend.angle(*three))
    return f"{words.degrees(angle)}, normal of its plane {words.point(bend.normal(*three), 2)}" if angle > FLAT else "0.0 degrees: straight, so no plane"
