"""The drawing core of a Viewer: one scene, how it is looked at, what is drawn over it, and the words beside it.

The scene is kept as plain numpy: the posed model and named layers of marks. Its way
to the page is `rigkit.view.showing`'s. Panels (`rigkit.view.panel`) are opened by the calls of `rigkit.view.viewer`.
"""

from dataclasses import replace
from threading import RLock

import ipywidgets
import numpy as np

from rigkit import arguments, control, words
from rigkit.view import floor, guides, joints, labels, model, naming, outlines, warm
from rigkit.view.eye import Eye, looking
from rigkit.view.figure import Figure
from rigkit.view.pace import Pace
from rigkit.view.pieces import headline, status, table
from rigkit.view.showing import Showing
from rigkit.view.toolbar import Toolbar
from rigkit.view.turns import one_at_a_time

SIZE = (640, 500)


class Drawing(Showing, ipywidgets.VBox):
    """The scene of a Viewer, which adds what opens a panel and what the mouse does (`done`, `_mouse`).

    Of its panel it knows only what `rigkit.view.panel.Panel` tells.
    """

    def __init__(self, character=None, caption=""):
        super().__init__()
        self.turn_lock = RLock()
        self._pace = Pace(self._tell, self.turn_lock)
        self.character, self.figure = character, Figure(character)
        self.eye, self.size = looking("perspective", *self.figure.framing()), SIZE
        self._layers, self._guides = {"floor": floor.layer()}, {}
        self._joints, self._names, self._parents = np.zeros((0, 3)), [], []
        self._curves, self._outlines = {}, {}
        self._glass, self._panel, self._stage, self._desks = False, None, None, []
        self._caption_text, self._status_text, self._rows = caption, "", []
        self._caption, self._status, self._table, self._aside = (ipywidgets.HTML() for _ in range(4))
        self._side = ipywidgets.VBox(layout=ipywidgets.Layout(flex="1 1 260px", min_width="250px", max_width="430px", padding="0 0 0 10px"))
        self._bar = Toolbar(self.look, self._step, self.whole, self.see_through)
        self.caption(caption)
        self.say("")
        if not words.text_only():
            warm.begin()

    # the view

    def look(self, view):
        """Look from the "front", "side" (the character's left), "top", all parallel, or in "perspective"."""
        self.eye = looking(view, self.eye.target, self.eye.height)
        self._aim()
        self.say(f"{view} view" + (", parallel: lengths across the view can be compared" if self.eye.parallel else ""))

    def focus(self, point_or_part_name, width):
        """Frame a point (3,) or a part, so that `width` metres fit across the picture."""
        if isinstance(point_or_part_name, str):
            target = self._part_points(point_or_part_name)
            target = (target.min(axis=0) + target.max(axis=0)) / 2
        else:
            target = arguments.points("point", point_or_part_name)
        height = float(width) * self.size[1] / self.size[0]
        away = self.eye.back * (self.eye.distance if self.eye.parallel else self.eye.distance * height / self.eye.height)
        self.eye = Eye(target + away, target, height, self.eye.parallel)
        self._aim()

    def see_from(self, eye):
        """Look from an Eye (`rigkit.view.eye`)."""
        self.eye = eye
        self._aim()

    def see_through(self, on):
        """Draw the model as glass, so that what is inside can be seen."""
        self._glass = bool(on)
        self._bar.glass.value = self._glass
        if self._stage is not None:
            self._stage.see_through(self._glass)

    def whole(self):
        """Frame the whole character again."""
        target, height = (self._panel and self._panel.framing()) or self.figure.framing()
        distance = self.eye.distance if self.eye.parallel else self.eye.distance * height / self.eye.height
        self.eye = Eye(target + self.eye.back * distance, target, height, self.eye.parallel)
        self._aim()

    @one_at_a_time
    def _aim(self):
        if self._stage is not None:
            self._stage.look(self.eye)
        self.redraw()

    @one_at_a_time
    def _eye_moved(self):
        """The learner turned or zoomed the view."""
        zoomed = abs(self._stage.eye.height / self.eye.height - 1) > 0.02
        self.eye = self._stage.eye
        if self._panel is not None:
            self._panel.turned()
        if zoomed:
            self.redraw()

    # what is drawn

    def joints(self, points, names=None, parents=None):
        """Draw joints (N, 3) and their bones over the model; replaces earlier ones. None removes them.

        A mapping {name: point} works too. Without parents each joint hangs on the one before it.
        """
        if points is None:
            self._joints, self._names, self._parents = np.zeros((0, 3)), [], []
            return self._set("joints", None)
        self._joints, self._names, self._parents = joints.named(points, names, parents)
        self._set("joints", joints.layer(self._joints, self._names, self._parents))

    def faint(self, points, parents=None):
        """Draw a faint copy of what is expected, (N, 3) or {name: point}; None removes it."""
        if points is None:
            return self._set("faint", None)
        points, _, parents = joints.named(points, None, parents)
        self._set("faint", joints.faint_layer(points, parents))

    def frames(self, positions, rotations):
        """Draw lettered axes at positions (N, 3) turned by quaternions (N, 4) or matrices (N, 3, 3); None removes them."""
        self._set("frames", None if positions is None else guides.frames(positions, rotations))

    def lines(self, curves, colour=None):
        """Draw labelled curves {label: (N, 3)}; replaces earlier ones. None removes them."""
        self._curves = {} if curves is None else {label: arguments.points(f"lines[{label!r}]", points).reshape(-1, 3) for label, points in curves.items()}
        self._set("lines", None if curves is None else guides.lines(self._curves, colour))

    def controls(self, controls, looks=None):
        """Draw the outlines of Controls at home, each in the colour and line style of its side; replaces earlier ones. None removes them.

        looks: name to (colour, line style), for some that are to look otherwise.
        """
        self._outlines = {} if controls is None else outlines.lines_of(controls)
        told = None if controls is None else outlines.layer(self._outlines, control.styles(controls) | dict(looks or {}))
        self._set("controls", told)

    @one_at_a_time
    def clear(self):
        """Put the panel away and the model at rest, and take away everything that was drawn over it or written beside it."""
        self.done()
        self._guides = {}
        self.aside("")
        self._weigh(None)
        self._joints, self._names, self._parents, self._rows = np.zeros((0, 3)), [], [], []
        self._layers, self._outlines = {"floor": self._layers["floor"]}, {}
        self.say("")
        self.redraw()

    def _set(self, name, layer):
        if layer is None:
            self._layers.pop(name, None)
        else:
            self._layers[name] = layer
        self.redraw()

    @one_at_a_time
    def redraw(self):
        """Draw all marks again, and bring the numbers up to date."""
        self._lay_labels()
        if self._stage is not None:
            self._stage.painter.draw(self._all_layers(), self.eye.metres_per_pixel(self.size))
            self._show_numbers()

    def _lay_labels(self):
        """Bring the labels of lines clear of all other words; they stay there until the next redrawing."""
        if "lines" in self._layers:
            layer = self._layers["lines"]
            others = [word for other in self._all_layers() if other is not layer for word in other.words]
            candidates = [labels.places(points) for label, points in self._curves.items() if guides.written(label)]
            self._layers["lines"] = replace(layer, words=tuple(labels.lay(layer.words, candidates, others, self.eye, self.size)))

    def _join(self):
        """Put the panel beside the scene, and let its marks share the moving branch's page."""
        self._side.children = (*([self._panel.widget] if self._panel else []), self._aside, self._table)
        self.share()
        if self._stage is not None:
            self._stage.listen(bool(self._panel and self._panel.wants_hover))
            self._stage.turning(True, everywhere=True)
            if self._panel is not None:
                self._panel.joined(self._stage)
            self.redraw()

    def share(self):
        """Let the panel's marks go in one message with the branch of the model that it moves now."""
        if self._stage is not None:
            self._stage.share(self._panel.branch if self._panel else None)

    def _all_layers(self):
        layers = [self._layers[name] for name in ("floor", "controls", "lines", "faint", "frames", "joints") if name in self._layers]
        layers[1:1] = [guide.layer for guide in self.guides_now()]
        if self._panel is not None:
            layers.append(self._panel.layer())
            placed = self._panel.joints()
            if placed:
                layers.append(joints.layer(*joints.named(placed)))
        return layers

    @one_at_a_time
    def moved(self, panel, live):
        """A panel has moved: its model is carried, its marks and words are new.

        A frame of a drag (`live`) is one binary message; table and readout follow with
        one short text message each, at most ten times a second and once at the end.
        """
        if panel is not self._panel:  # it is still being made
            return
        if not live:
            self._lay_labels()
        if self._stage is not None:
            self._stage.painter.draw(self._all_layers(), self.eye.metres_per_pixel(self.size))
        if live:
            self._pace.ask()
        else:
            self._pace.drop()
            self._show_numbers()
            self.say(panel.told())

    def _tell(self):
        """Table and readout in the middle of a drag."""
        if self._panel is not None:
            self._show_numbers()
            self.say(self._panel.told(), busy=True)

    def turning(self, on, everywhere=False):
        """Whether dragging turns the view: in the picture under the pointer, or in all."""
        if self._stage is not None:
            self._stage.turning(on, everywhere)

    # the model

    def pose(self, rotations=None, translations=None):
        """Pose the character's skeleton, as Skeleton.forward takes it; the parts follow. Without arguments: the rest pose."""
        self._need_character("pose")
        now = self.character.skeleton.forward(rotations, translations)
        self.carry(*model.motion(self.character.skeleton, self.figure.rest, now))
        self.stand()

    @one_at_a_time
    def stand(self):
        """Darken the floor under the model as it stands."""
        if self._stage is not None:
            self._stage.stand(self.figure.points())

    @property
    def glass(self):
        """Whether the model is drawn see-through."""
        return self._glass

    @one_at_a_time
    def carry(self, turns, moves):
        """Let joint j carry its parts from rest by turns[j] (3, 3) and moves[j] (3,)."""
        self._send_moved(self.figure.carry(turns, moves))

    @one_at_a_time
    def carry_parts(self, moving, sleeves, turn, move):
        """Carry whole parts by one turn (3, 3) and move (3,), sleeves by their share."""
        self._send_moved(self.figure.carry_parts(moving, sleeves, turn, move))

    def _send_moved(self, branches):
        if self._stage is not None:
            for branch in branches:
                shared = self._panel is not None and self._panel.branch == branch.name
                self._stage.move(branch.name, *self.figure.now(branch), send=not shared)

    @one_at_a_time
    def tint(self, part_names):
        """Tint parts in the colour of a warning; an empty list takes it back."""
        self._colour(self.figure.tint(part_names))

    def _weigh(self, joint_name):
        """Colour the model by its weights on a joint, unlit, so that the colours stay what they are; None takes it back."""
        self._colour(self.figure.weigh(joint_name))
        if self._stage is not None:
            self._stage.flat(joint_name is not None)
            self._stage.see_through(self._glass)

    def _colour(self, branches):
        if self._stage is not None:
            for branch in branches:
                self._stage.tint(branch.name, self.figure.colours(branch))

    def _send_model(self):
        """Bring a fresh stage to how the figure stands."""
        for branch in self.figure.branches:
            points, normals = self.figure.now(branch)
            if points is not branch.points:
                self._stage.move(branch.name, points, normals)
        if self.figure.tinted or self.figure.weighed:
            self._colour(self.figure.branches)

    def _part_points(self, name):
        self._need_character("a part's name")
        return self.figure.part_points(name)

    def _need_character(self, what):
        if self.character is None:
            raise ValueError(f"{what} needs a viewer with a character: Viewer(robot)")

    # words

    def caption(self, text):
        """The sentence over the picture."""
        self._caption_text = text
        self._caption.value = headline(text) + naming.bridge()

    def aside(self, svg):
        """A picture beside the scene, as SVG text; "" takes it away."""
        self._aside.value = svg

    def say(self, text, busy=False):
        """The readout below the picture; screen readers read it out, once it is no longer `busy` changing."""
        self._status_text = text
        self._status.value = status(text, busy)

    def table(self, rows):
        """The numbers beside the picture: [(label, text), ...]."""
        self._rows = [(str(label), str(value)) for label, value in rows]
        self._show_numbers()

    def _all_rows(self):
        own = self._panel.numbers() if self._panel is not None else []
        shown = [(name, f"{words.point(p, 4)} m") for name, p in zip(self._names, self._joints)] if len(self._joints) <= 12 else []
        return [*self._rows, *own, *(row for guide in self.guides_now() for row in guide.rows), *shown]

    def _show_numbers(self):
        self._table.value = table(self._all_rows(), "Numbers")

    def _step(self, change):
        self.eye = change(self.eye)
        self._aim()
