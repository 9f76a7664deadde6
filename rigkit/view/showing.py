"""How a Drawing comes to the page and leaves it: a desk for each cell that shows it, and one stage while a desk is live.

The browser's objects (more than a hundred widgets, and the model's numbers) live as
long as some cell shows the scene live. When the last such cell is run again or
retired, they are closed; the scene itself, plain numpy, stays, and may be shown again.
"""

import base64

import ipywidgets
from IPython.display import display

from rigkit import words
from rigkit.view import picture, warm
from rigkit.view.desks import Desk, asked, close_tree, leave, make_room
from rigkit.view.turns import one_at_a_time


class Showing:
    """What a Drawing (a box of widgets) inherits to be displayed, kept few, and closed."""

    def show(self):
        """Display the scene in this cell; again in a later cell, it is a further view of the same scene."""
        display(self._repr_mimebundle_(), raw=True)

    def _repr_mimebundle_(self, **_):
        bundle = {"text/plain": self.text()}
        if words.text_only():
            return bundle
        desk, png = self._desk(), self.picture(fine=1)
        desk.keep(png, self._caption.value)
        bundle["application/vnd.jupyter.widget-view+json"] = {"version_major": 2, "version_minor": 0, "model_id": desk.box.model_id}
        bundle["image/png"] = base64.b64encode(png).decode("ascii")
        return bundle

    def text(self):
        """Caption and numbers as plain text."""
        rows = self._all_rows()
        width = max((len(label) for label, _ in rows), default=0)
        return "\n".join(filter(None, [self._caption_text, *(f"  {label:<{width}}  {value}" for label, value in rows), self._status_text]))

    def picture(self, fine=2, beside=True):
        """The scene as PNG bytes, drawn without WebGL, with its curves below it; each pixel is the mean of fine x fine.

        beside: False leaves out the curves of `viewer.curves`, for a page that has them.
        """
        warm.ready()
        charts = [self._beside if beside else None, self._panel and self._panel.curves()]
        look = "glass" if self._glass else "flat" if self.figure.weighed else "solid"
        return picture.draw(self.eye, self.figure.surfaces(), self._all_layers(), self.size, look, fine, [one for one in charts if one])

    def _desk(self):
        """The widgets for this cell's output: a canvas of its own, the controls shared. What an earlier run of the cell showed is closed."""
        place = asked()
        leave(place)
        make_room()
        with self.turn_lock:
            stage = self._live()
            box = self if not self.children else ipywidgets.VBox()
            above, below = [self._caption, self._bar], [self._status]
            desk = Desk(box, stage.canvas(), self._shared(), stage, self.turn_lock, above, self._side, below, place, self._parted, keep_box=box is self)
            self._desks.append(desk)
            return desk

    def _live(self):
        if self._stage is None:
            warm.ready()
            from rigkit.view.stage import Stage

            self._stage = Stage(self.figure.branches, self._eye_moved, self._mouse)
            self._stage.look(self.eye)
            self._send_model()
            self._stage.flat(self.figure.weighed is not None)
            self.see_through(self._glass)
            self._join()
        return self._stage

    def _parted(self, desk):
        """A desk lost its canvas; `desk` is still in an output (retired), or closed."""
        if desk.closed:
            self._desks.remove(desk)
        if self._stage is not None and not any(one.live for one in self._desks):
            if self._panel is not None:
                self._panel.parted()
            self._stage.close()
            self._stage = None

    @one_at_a_time
    def close(self):
        """Close every widget of this viewer; it can't be shown again."""
        self._pace.drop()
        for desk in list(self._desks):
            desk.close()
        for widget in self._shared():
            close_tree(widget)
        close_tree(self, call=super().close)

    def _shared(self):
        return [self._caption, self._bar, self._side, self._status, self._table, self._aside, *([self._panel.widget] if self._panel else [])]
