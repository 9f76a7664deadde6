"""The Viewer: one scene a chapter shares, and the calls that open a panel beside it.

A panel (`rigkit.view.panel`) is something to do: sliders, handles, joints to place.
One is open at a time; the calls here open it, read it and close it. The scene
itself, its views, marks and words, is `rigkit.view.drawing`'s.
"""

import numpy as np

from rigkit import arguments, words
from rigkit.view import joints, outlines
from rigkit.view.bend_panel import BendPanel
from rigkit.view.desks import close_tree
from rigkit.view.drawing import Drawing
from rigkit.view.guiding import Guiding
from rigkit.view.find_panel import FindPanel
from rigkit.view.findings_panel import FindingsPanel
from rigkit.view.limb_panel import LimbPanel
from rigkit.view.motion_calls import MotionCalls
from rigkit.view.place_panel import PlacePanel
from rigkit.view.posing_calls import Posing
from rigkit.view.slider_panel import SliderPanel
from rigkit.view.turn_panel import TurnPanel
from rigkit.view.turns import one_at_a_time

CLICK = 4  # pixels a press may wander and still be a click


class Viewer(Guiding, MotionCalls, Posing, Drawing):
    """A 3D view of a character (or of bare points), with what is drawn over it.

    Nothing is shown until `show()`. Where RIGKIT_OUTPUT=text it shows its caption and
    numbers as text; elsewhere the scene, and a picture for where no kernel runs.
    """

    # things to do

    def bend_at(self, joint_point, hinge, fixed_parts, moving_parts, sleeve=None):
        """A slider turns `moving_parts` about a placed joint; shells that run into each other are tinted and measured."""
        self._use(BendPanel(self, joint_point, hinge, fixed_parts, moving_parts, sleeve))

    def bend(self, degrees):
        """Set the slider of `bend_at`, whole degrees; ValueError outside its range."""
        if not isinstance(self._panel, BendPanel):
            raise ValueError("nothing bends in this viewer yet; call viewer.bend_at(...) first")
        self._panel.set(degrees)

    def meeting(self):
        """The least bend of `bend_at` in whole degrees at which the shells run into each other; None if they never do."""
        if not isinstance(self._panel, BendPanel):
            raise ValueError("nothing bends in this viewer yet; call viewer.bend_at(...) first")
        return self._panel.meeting()

    def place(self, names, loops):
        """Let a click place joints `names` one after the other; loops {label: (N, 3)} are what it snaps to. `code` is the result."""
        self._use(PlacePanel(self, names, loops))

    def limb(self, root, mid, end, target, pole, solve, expected=None):
        """A target and a pole to drag; solve(root, mid, end, target, pole) gives an object with .mid and .end.

        expected: a second solver, whose answer is drawn as a faint copy beneath.
        """
        self._use(LimbPanel(self, root, mid, end, target, pole, solve, expected))

    def sliders(self, ranges, move, unit="degrees"):
        """Sliders {label: (low, high)} in degrees, all at 0; move({label: degrees}) is called now and after each change.

        unit: what they count where it is not degrees, as "mm".
        """
        self._use(SliderPanel(self, ranges, move, unit))
        self._panel.update()

    def slide(self, **degrees):
        """Set sliders by their labels, in degrees: slide(elbow=40)."""
        if not isinstance(self._panel, SliderPanel):
            raise ValueError("this viewer has no sliders yet; call viewer.sliders(...) first")
        self._panel.set(degrees)

    def turn(self, joint, ranges, turn, frame=None, axes=None, tip=None, pose=None):
        """Sliders as in `sliders` turn a joint and all below it; turn(*radians) gives the turn, a quaternion or a matrix, in the world's axes.

        frame: how the lettered frame stands at first. axes(*radians): {label: direction} to draw. tip: the joint whose way is
        drawn. pose: local rotations (J, 4) to begin from.
        """
        self._use(TurnPanel(self, joint, ranges, turn, frame, axes, tip, pose))
        self._panel.update()

    def find(self, controls, wanted, looks=None):
        """A game: draw Controls, and ask for one after the other; wanted: [(question, name of the control that is meant), ...].

        looks: as in `controls`.
        """
        self.controls(controls, looks)
        self._use(FindPanel(self, controls, wanted))

    def pick(self, name):
        """Take hold of a control of `rig` or `find` by its name."""
        if not hasattr(self._panel, "pick"):
            raise ValueError("there is nothing to find or to pose in this viewer yet; call viewer.rig(...) or viewer.find(...) first")
        self._panel.pick(name)

    def findings(self, report):
        """What an audit found (`rk.audit.examine`), one place after the other: choose one from the list, and the eye turns there."""
        self._use(FindingsPanel(self, report))
        self._panel.begin()

    def finding(self, number):
        """Choose a finding of `findings` by its number, from 1."""
        if not isinstance(self._panel, FindingsPanel):
            raise ValueError("no findings are shown in this viewer yet; call viewer.findings(report) first")
        if not 1 <= number <= len(self._panel.found):
            raise ValueError(f"number is {number}; expected 1 to {len(self._panel.found)}: the findings as they are listed")
        self._panel.go(number - 1)

    @one_at_a_time
    def done(self):
        """Put the panel away and the model back to rest."""
        self._use(None)
        if self.character is not None:
            self.pose()
        self.tint(())

    @property
    def code(self):
        """What the panel sets as Python to paste: placed joints, a rig's pose; empty where it has none."""
        return getattr(self._panel, "code", "")

    @property
    def target(self):
        """Where the limb's target is, (3,)."""
        return self._limb().target.copy()

    @target.setter
    def target(self, point):
        self._limb().target = arguments.points("target", point).copy()
        self._limb().update()

    @property
    def pole(self):
        """Where the limb's pole point is, (3,)."""
        return self._limb().pole.copy()

    @pole.setter
    def pole(self, point):
        self._limb().pole = arguments.points("pole", point).copy()
        self._limb().update()

    def _limb(self):
        if not isinstance(self._panel, LimbPanel):
            raise ValueError("this viewer has no target and pole yet; call viewer.limb(...) first")
        return self._panel

    @one_at_a_time
    def _use(self, panel):
        old, self._panel = self._panel, panel
        if old is not None:
            old.left()
        self._join()
        if old is not None:
            close_tree(old.widget)
        self.redraw()
        if panel is not None and panel.told():
            self.say(panel.told())

    # the mouse

    _pressed = None  # the pixel of a press that no panel used

    @one_at_a_time
    def _mouse(self, kind, seen):
        used = self._panel.mouse(kind, seen) if self._panel is not None else False
        if kind == "mousedown":
            self._pressed = None if used else self.eye.pixels(seen, self.size)[:2]
        elif kind == "mouseup" and self._pressed is not None:
            wandered = np.linalg.norm(self.eye.pixels(seen, self.size)[:2] - self._pressed)
            self._pressed = None
            if wandered <= CLICK and not (self._panel is not None and self._panel.click(seen)):
                self.say(self._what(seen))

    def _what(self, seen):
        """The name and numbers of what is under the pointer."""
        near = joints.nearest(self._joints, self.eye, self.size, self.eye.pixels(seen, self.size)[:2])
        if near is not None:
            return f"{self._names[near]} at {words.point(self._joints[near], 4)} m"
        control = outlines.nearest(self._outlines, self.eye, self.size, self.eye.pixels(seen, self.size)[:2])
        if control is not None:
            middle = np.concatenate(self._outlines[control]).mean(axis=0)
            return f"{control}, its outline about {words.point(middle)} m"
        found = self.figure.part_at(self.eye, seen)
        if found is None:
            return "nothing there"
        box = np.ptp(self._part_points(found), axis=0) * 1000
        part = self.character.part(found)
        return f"{found}, {box[0]:.0f} x {box[1]:.0f} x {box[2]:.0f} mm, follows {' and '.join(part.joints)}"


