"""What stands beside a scene to do something with: the calls a Viewer makes to its panel, each doing nothing unless a panel says otherwise.

A panel changes the scene through its viewer: `carry`, `tint`, `redraw`, `say`, and
`moved` where every step of a drag is to be one message.
"""

from rigkit.view import marks


class Panel:
    """`widget` is what is seen of it, beside the scene."""

    widget = None
    wants_hover = False  # whether it wants to be told of every move of the mouse, a message each
    branch = None  # the branch of the model that moves with its marks, so that both go in one message

    def joined(self, stage):
        """The scene is in the browser now: a `rigkit.view.stage.Stage`."""

    def parted(self):
        """The scene is in the browser no more; it may be shown again, and `joined` called with another Stage."""

    def left(self):
        """It is no longer the viewer's panel."""

    def framing(self):
        """What to look at (3,) and how many metres from bottom to top, where it needs more room than the figure; or None."""
        return None

    def mouse(self, kind, seen):
        """A "mousedown", "mousemove", "mouseup" or "mouseleave" at a point (3,) on the pixel's ray; returns whether it is used up."""
        return False

    def click(self, seen):
        """A press and release on one spot; returns whether it is used up."""
        return False

    def turned(self):
        """The learner turned, moved or zoomed the view."""

    def layer(self):
        """The marks it draws."""
        return marks.Layer()

    def joints(self):
        """Joints {name: (3,)} to draw as a chain."""
        return {}

    def curves(self):
        """What it shows over time, a `rigkit.view.curves.Shown`, for a still picture; or None."""
        return None

    def numbers(self):
        """Rows of the number table."""
        return []

    def told(self):
        """One sentence on how it stands; "" leaves the readout as it is."""
        return ""
