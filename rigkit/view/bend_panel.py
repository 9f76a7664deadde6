"""Turn some parts about a placed joint, and see whether the shells run into each other."""

import ipywidgets
import numpy as np

from rigkit import arguments, rotation, words
from rigkit.view import marks
from rigkit.view.collide import clearance
from rigkit.view.panel import Panel
from rigkit.view.pieces import note, slider
from rigkit.view.turns import one_at_a_time

TOUCH = 1e-4  # metres: nearer than this is touching
WARN = words.PALETTE["vermilion"]


class BendPanel(Panel):
    """joint (3,), hinge (3,): the moving parts turn about them, with all that hangs below; `sleeve` follows by its weights."""

    def __init__(self, viewer, joint, hinge, fixed_parts, moving_parts, sleeve=None, limit=120.0):
        self.turn_lock = viewer.turn_lock
        self._viewer = viewer
        self.joint, self.hinge = arguments.points("joint_point", joint), arguments.directions("hinge", hinge)
        self.fixed, self.moving = _listed(fixed_parts), _listed(moving_parts)
        self.sleeve = [] if sleeve is None else _listed(sleeve)
        character = viewer.character
        if character is None:
            raise ValueError("bend_at needs a viewer with a character: Viewer(robot)")
        self._shells = {name: (np.asarray(character.part(name).mesh.vertices), np.asarray(character.part(name).mesh.triangles))
                        for name in (*self.fixed, *self.moving)}
        for name in self.sleeve:
            character.part(name)
        self._carried = viewer.figure.below(self.moving, self.fixed)
        self.angle, self.gap, self.where, self.pair = 0.0, np.inf, None, None
        self._slider = slider("bend (deg)", 0.0, 0.0, limit, 1.0, "how far the moving parts are turned about the joint")
        self._slider.observe(lambda change: self.turn(change["new"]), names="value")
        self.widget = ipywidgets.VBox([note("Bend the limb about the ringed pivot. Shells that run into each other are tinted."), self._slider])
        self.turn(0.0)

    @one_at_a_time
    def turn(self, degrees):
        """Bend by `degrees`; measures and draws."""
        self.angle = float(degrees)
        turn = rotation.to_matrix(rotation.from_axis_angle(self.hinge, np.radians(self.angle)))
        move = self.joint - turn @ self.joint
        self._measure(turn, move)
        self._viewer.carry_parts(self._carried, self.sleeve, turn, move)
        self._viewer.tint(self.pair if self.gap < -TOUCH else ())
        self._viewer.say(self.told())
        self._viewer.redraw()

    @one_at_a_time
    def set(self, degrees):
        """Move the slider to `degrees`, rounded to its step, and all with it."""
        most, rounded = self._slider.max, float(round(degrees))
        if not 0 <= rounded <= most:
            raise ValueError(f"{degrees:g} is outside the slider's range; expected 0 to {most:g} degrees")
        self._slider.value = rounded

    def meeting(self):
        """The least bend in whole degrees at which the shells run into each other; None if they never do. Nothing moves in the picture."""
        kept, limit = (self.gap, self.where, self.pair), int(self._slider.max)
        found = next((degrees for degrees in range(limit + 1) if self._gap_at(degrees) < -TOUCH), None)
        self.gap, self.where, self.pair = kept
        return found

    def _gap_at(self, degrees):
        turn = rotation.to_matrix(rotation.from_axis_angle(self.hinge, np.radians(degrees)))
        self._measure(turn, self.joint - turn @ self.joint)
        return self.gap

    def _measure(self, turn, move):
        self.gap, self.where, self.pair = np.inf, None, None
        for still in self.fixed:
            for turned in self.moving:
                vertices, triangles = self._shells[turned]
                gap, where = clearance(self._shells[still], (vertices @ turn.T + move, triangles), self.gap)
                if gap < self.gap:
                    self.gap, self.where, self.pair = gap, where, (still, turned)

    def layer(self):
        """The joint, its hinge, and where the shells are deepest in each other."""
        length = 0.12
        drawn = [marks.strokes(self.joint - length * self.hinge, self.joint + length * self.hinge, words.AXIS_COLOUR["z"], 3)]
        dots = [marks.glyphs(self.joint, "ring", words.AXIS_COLOUR["z"], 16)]
        if self.gap < -TOUCH:
            dots.append(marks.glyphs(self.where, "cross", WARN, 18))
        return marks.Layer(strokes=tuple(drawn), glyphs=tuple(dots), words=(marks.Word("hinge", tuple(self.joint + length * self.hinge), words.AXIS_COLOUR["z"], (0, 24), 12),))

    def told(self):
        """Gap or overlap, in words."""
        first, second = self.pair
        if self.gap < -TOUCH:
            return f"bent {self.angle:.0f} degrees: {first} and {second} overlap by {words.millimetres(-self.gap)}"
        return f"bent {self.angle:.0f} degrees: no overlap; the smallest gap is {words.millimetres(max(self.gap, 0.0))}, between {first} and {second}"

    def numbers(self):
        """Rows of the number table."""
        over = self.gap < -TOUCH
        return [("bend", f"{self.angle:.0f} degrees"), ("joint", f"{words.point(self.joint, 4)} m"),
                ("overlap" if over else "smallest gap", words.millimetres(abs(self.gap)))]


def _listed(names):
    names = [names] if isinstance(names, str) else list(names)
    if not names:
        raise ValueError("an empty list of parts came; name at least one part")
    return names
