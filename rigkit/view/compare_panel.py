"""A switch between before and after: what is not shown lies under it as a faint copy, and the differences are told."""

import ipywidgets
import numpy as np

from rigkit.view import joints, marks, model
from rigkit.view.panel import Panel
from rigkit.view.pieces import note
from rigkit.view.turns import one_at_a_time


class BeforePanel(Panel):
    """before, after: both a rig's Pose, or both joints as {name: (3,)}. `other` is what is not shown."""

    def __init__(self, viewer, before, after):
        self.turn_lock = viewer.turn_lock
        self._viewer, self._poses = viewer, {"before": before, "after": after}
        if hasattr(before, "positions") != hasattr(after, "positions"):
            raise ValueError("before and after are not of one kind; expected two poses of a rig, or two mappings of joint names to points")
        self._carries = hasattr(before, "positions")
        if self._carries and viewer.character is None:
            raise ValueError("before_after of poses needs a viewer with a character: Viewer(robot)")
        self.shown = "after"
        self._switch = ipywidgets.ToggleButtons(options=["before", "after"], value="after", description="show", style={"button_width": "90px"})
        self._switch.observe(lambda change: self.show(change["new"]), names="value")
        self.widget = ipywidgets.VBox([note("The joints of the other one lie under it as a faint copy."), self._switch])
        self._stand()

    @property
    def other(self):
        """What is not shown."""
        return self._poses["before" if self.shown == "after" else "after"]

    @one_at_a_time
    def show(self, which):
        """Show "before" or "after"."""
        if which not in self._poses:
            raise ValueError(f"there is no {which!r} to show; expected 'before' or 'after'")
        self.shown = which
        if self._switch.value != which:
            self._switch.value = which
        self._stand()
        self._viewer.stand()
        self._viewer.moved(self, live=False)

    def _stand(self):
        if self._carries:
            figure = self._viewer.figure
            self._viewer.carry(*model.motion(figure.character.skeleton, figure.rest, self._poses[self.shown]))

    def compared(self):
        """The joints shown, {name: (3,)}, and their turns where they are known."""
        pose = self._poses[self.shown]
        if not self._carries:
            return {name: np.asarray(point, dtype=float) for name, point in pose.items()}, {}
        names = self._viewer.character.skeleton.names
        return dict(zip(names, pose.positions)), dict(zip(names, pose.rotations))

    def layer(self):
        """Joints and bones, where no model shows them."""
        if self._carries and not self._viewer.glass:
            return marks.Layer()
        points, names, parents = joints.named(self.compared()[0], None, self._viewer.character.skeleton.parents if self._carries else None)
        return joints.layer(points, names, parents)

    def numbers(self):
        """Rows of the number table."""
        return [("shown", self.shown)]

    def told(self):
        """Which one is shown."""
        return f"this is {self.shown}; the faint copy is {'before' if self.shown == 'after' else 'after'}"
