"""The outputs of cells in which scenes are live: at most six at once, whichever viewers they belong to.

A page keeps eight renderers alive. It takes the one used longest ago away, and what
it leaves is black: the picture in the renderer is gone by then. So the oldest
output is closed before that, and shows a still picture of when its cell ran, with
a sentence that says so.
"""

import ipywidgets
from IPython import get_ipython

from rigkit.view import naming
from rigkit.view.pieces import note

LIVE = 6  # of one kernel
CLOSED = f"This is a still picture of when the cell ran: only the {LIVE} newest scenes are live. Run the cell again to turn and change it."

_live = []  # the desks of all viewers that have a canvas, oldest first
_still = []  # those that were retired and stand in an output as pictures


class Desk:
    """What stands in the output of one cell: a box of widgets with a canvas. `lock` is that of the viewer it belongs to.

    `place` is the cell and the run that shows it (`asked`); `parted(desk)` is called once it has no canvas any more, or no output.
    In a narrow window what is `beside` the canvas slides below it; what is `below` stays right under it all the same.
    """

    def __init__(self, box, canvas, shared, stage, lock, above, beside, below, place, parted, keep_box=False):
        self.box, self.still, self._caption, self.closed = box, None, "", False
        self.place, self._parted, self._keep_box = place, parted, keep_box
        self._canvas, self._shared, self._stage, self._lock = canvas, shared, stage, lock
        under = ipywidgets.VBox([canvas.renderer, *below], layout=ipywidgets.Layout(width=f"{canvas.renderer.width}px"))
        self._row = ipywidgets.HBox([under, beside], layout=ipywidgets.Layout(flex_flow="row wrap"))
        box.children = (*above, self._row)
        box.add_class(naming.INSIDE)
        _live.append(self)

    @property
    def live(self):
        """Whether it has a canvas."""
        return self._canvas is not None

    def keep(self, png, caption_html):
        """What to show once it is closed: PNG bytes and the caption as it is now."""
        self.still, self._caption = png, caption_html

    def retire(self):
        """Close the canvas; a still picture takes its place."""
        with self._lock:
            if not self.live:
                return
            picture = ipywidgets.Image(value=self.still or b"", format="png", width=self._canvas.renderer.width)
            self.box.children = (ipywidgets.HTML(self._caption), picture, note(CLOSED))
            self._drop()

    def close(self):
        """Close all that is its own: its output is gone, or its viewer goes."""
        with self._lock:
            if self.closed:
                return
            shared = {id(widget) for widget in self._shared}
            own = [child for child in self.box.children if id(child) not in shared and child is not self._row]
            self.box.children, self.closed = (), True
            for widget in own:
                close_tree(widget)
            if not self._keep_box:
                close_tree(self.box)
            if self.live:
                self._drop()
            else:
                _still.remove(self)
                self._parted(self)

    def _drop(self):
        self._stage.drop(self._canvas)
        close_tree(self._row, keep=self._shared)
        self._canvas = self._stage = None
        _live.remove(self)
        if not self.closed:
            _still.append(self)
        self._parted(self)


def leave(place):
    """Close what earlier runs of a cell showed, of any viewer: their output is gone. Call it without holding a viewer's lock."""
    cell, run = place
    if cell is not None:
        for desk in [*_live, *_still]:
            if desk.place[0] == cell and desk.place[1] != run:
                desk.close()


def make_room():
    """Retire the oldest live desks, so that one more may open. Call it without holding a viewer's lock."""
    for desk in _live[: max(0, len(_live) - LIVE + 1)]:
        desk.retire()


def asked():
    """The cell that is running and which of its runs this is, (id, id); (None, None) where nobody says."""
    shell = get_ipython()
    parent = (getattr(shell, "get_parent", dict)() if shell is not None else {}) or {}
    return parent.get("metadata", {}).get("cellId"), parent.get("header", {}).get("msg_id")


def close_tree(widget, keep=(), call=None):
    """Close a widget, its children, and their layouts and styles; what is in `keep` stays open."""
    kept = {id(w) for w in keep}
    for child in getattr(widget, "children", ()):
        if id(child) not in kept:
            close_tree(child, keep)
    for name in ("layout", "style"):
        owned = getattr(widget, name, None)
        if isinstance(owned, ipywidgets.Widget):
            owned.close()
    (call or widget.close)()
