"""The Viewer's calls for posing a rig and for comparing: what `rigkit.view.pose_panel` and `rigkit.view.compare` do."""

import numpy as np

from rigkit.view import compare
from rigkit.view.compare_panel import BeforePanel
from rigkit.view.pose_panel import PosePanel


class Posing:
    """What a Viewer can do with a rig, and with what is expected of joints."""

    @property
    def panel(self):
        """The panel beside the scene, or None."""
        return self._panel

    # posing

    def rig(self, rig=None, controls=None, channels=None, values=None):
        """Pose a rig: outlines to click and drag, circles to turn by, sliders. `values`, `posed` and `code` are the result.

        rig: a Rig of the character's skeleton; the character's own by default. controls, channels: names of those to offer, all by
        default. values: "control.channel" to a number, to begin with.
        """
        found = getattr(self.character, "rig", None) if rig is None else getattr(rig, "rig", rig)
        if found is None:
            raise ValueError("there is no rig to pose; give one, viewer.rig(rig), or a character that has one")
        self._use(PosePanel(self, found, controls, channels, values))

    @property
    def values(self):
        """The channel values that are not at home, "control.channel" to a number; set it to pose the rig: what is left out goes home."""
        return self._posing().rigged.changed()

    @values.setter
    def values(self, values):
        self._posing().take_values(values)

    @property
    def posed(self):
        """The Pose of the rig as it is drawn."""
        return self._posing().pose

    def home(self, control=None):
        """Bring a control, or the whole rig, home."""
        self._posing().home(control)

    def undo(self):
        """Take the last step back, of posing or of placing."""
        if not hasattr(self._panel, "undo"):
            raise ValueError("there is nothing to undo in this viewer yet; call viewer.rig(...) or viewer.place(...) first")
        self._panel.undo()

    def show_start(self, on=True):
        """Show the rig as it was when it was given here, with the joints as they are now as a faint copy."""
        self._posing().show_start(on)

    def _posing(self):
        if not isinstance(self._panel, PosePanel):
            raise ValueError("no rig is posed in this viewer yet; call viewer.rig(...) first")
        return self._panel

    # comparing

    def compare(self, expected, names=None, parents=None, parts=(), limit=compare.LIMIT):
        """Draw what is expected as a faint copy under one's own joints, with what differs in mm and degrees. None removes it.

        expected: points (N, 3) with `names`, {name: (3,)}, or a rig's Pose. One's own are the joints of the rig that is posed, else those drawn
        by `joints` or placed. parents: numbers, as in `joints`. parts: names of parts to draw faintly too, as a Pose has them; True for all.
        limit: metres; less is no difference. It follows what moves; `differences` has it as data.
        """
        self._compared = None if expected is None else compare.Comparison(self, expected, names, parents, parts, limit)
        self.guide("compare", self._compared and self._compared.guide)

    def compare_sides(self, source="left", plane=None):
        """Lay the joints of one side, mirrored over the plane x = 0 or another, over the other side as a faint copy, with what differs."""
        self._compared = compare.Sides(self, source, plane)
        self.guide("compare", self._compared.guide)

    @property
    def differences(self):
        """What `compare` or `compare_sides` finds now: a list of differences, each with name, metres and radians, the largest first."""
        if self._compared is None:
            raise ValueError("nothing is compared in this viewer yet; call viewer.compare(...) first")
        return self._compared.found()

    _compared = None

    def before_after(self, before, after):
        """A switch between two poses of a rig, or two {name: (3,)} of joints, with what differs."""
        panel = BeforePanel(self, before, after)
        self._use(panel)
        self._compared = compare.Switched(self, panel)
        self.guide("compare", self._compared.guide)

    def switch(self, which):
        """Set the switch of `before_after`: "before" or "after"."""
        if not isinstance(self._panel, BeforePanel):
            raise ValueError("there is nothing to switch in this viewer yet; call viewer.before_after(...) first")
        self._panel.show(which)

    def drawn_joints(self):
        """The joints drawn by `joints`, {name: (3,)}."""
        return {name: np.array(point) for name, point in zip(self._names, self._joints)}
