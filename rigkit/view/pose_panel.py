"""Posing a rig: its controls as outlines to drag, circles to turn the picked one, sliders for each of its numbers.

Whatever moves evaluates the whole rig. The values, and what is said of them, are
`rigkit.view.posed_rig`'s; the circles `rigkit.view.circles`', the outlines `rigkit.view.control_lines`'.
"""

import time
from functools import partial
from math import degrees, radians

import ipywidgets
import numpy as np

from rigkit.control import MOVES
from rigkit.view import circles, dials, joints, marks, model
from rigkit.view.control_lines import PICKED, ControlLines, plain
from rigkit.view.handles import Drag, Hands
from rigkit.view.pace import Pace
from rigkit.view.pieces import button, copy_box, note
from rigkit.view.posed_rig import PosedRig, angular, label, wide
from rigkit.view.turns import one_at_a_time

HANDLE = 12  # pixels around the middle of the picked control in which a press moves it
STILL = 3  # pixels a press may wander before it is a drag
BURST = 0.8  # seconds between two changes by one slider that count as one step
SETTLE = 0.3  # seconds between two shadows on the floor
MOVE, FINE = 0.001, 0.01  # steps of sliders: metres, and numbers without a unit; turns go by a degree
AROUND = 0.5  # metres that a move's slider spans to each side at first, and other numbers without ends


class PosePanel(Hands):
    """rig, controls, channels, values: as rigkit.view.posed_rig.PosedRig takes them; `pose` is the rig's Pose as it is drawn."""

    def __init__(self, viewer, rig, controls=None, channels=None, values=None):
        self.turn_lock = viewer.turn_lock
        self._viewer = viewer
        self.rigged = PosedRig(rig, controls, channels, values)
        self._fits = _fits(viewer.character, rig)
        self._lines = ControlLines([rig.control(name) for name in self.rigged.names])
        self._drag, self._turning_by, self._pressed_at, self._step = Drag(), None, None, None
        self._over, self._hot, self.shows_start = None, None, False
        self._idle_for, self._idle = None, set()
        self._slid_at = 0.0, None
        self._floor = Pace(viewer.stand, self.turn_lock, SETTLE)
        self._quiet = False
        self._parts()
        self.pick(self.rigged.picked)

    # ---- what is beside the picture

    def _parts(self):
        self._list = ipywidgets.Dropdown(options=self.rigged.names, description="control", layout=ipywidgets.Layout(width="98%"))
        self._list.observe(lambda change: None if self._quiet else self.pick(change["new"]), names="value")
        self._start = ipywidgets.ToggleButton(
            value=False, description="Show start", tooltip="Show the pose as it was at first, and where the joints are now as a faint copy",
            layout=ipywidgets.Layout(width="max-content"))
        self._start.observe(lambda change: None if self._quiet else self.show_start(change["new"]), names="value")
        row = ipywidgets.HBox(
            [button("Home", "Bring the picked control home", lambda: self.home(self.rigged.picked)), button("All home", "Bring every control home", self.home),
             button("Undo", "Take the last step back", self.undo), self._start], layout=ipywidgets.Layout(flex_flow="row wrap"))
        self._box = ipywidgets.VBox()
        self._code = copy_box("The pose as code to paste")
        self._dials = {}
        several = [self._list] if len(self.rigged.names) > 1 else []
        told = "Click an outline to pick a control. Drag it to move it; drag along a circle to turn it. Or use the sliders."
        self.widget = ipywidgets.VBox([note(told), *several, row, self._box, self._code])

    def _make_dials(self):
        old = list(self._box.children)
        self._dials = {channel.name: self._dial(channel) for channel in self.rigged.channels[self.rigged.picked]}
        self._box.children = [dial.widget for dial in self._dials.values()]
        for widget in old:
            dials.close_tree(widget)

    def _dial(self, channel):
        turned = angular(channel.name)
        unit, step = (" (deg)", 1.0) if turned else (" (m)", MOVE) if channel.name in MOVES else ("", FINE if channel.high - channel.low > 0.2 else MOVE)
        value = self._shown(channel.name)
        room = 0.0 if turned or not wide(channel) else AROUND
        ends = [degrees(end) if turned else end for end in (channel.low, channel.high)]
        low, high = (max(ends[0], value - room), min(ends[1], value + room)) if room else ends
        told = f"{label(channel.name)} of {plain(self.rigged.picked)}" + ("" if wide(channel) else f", from {ends[0]:g} to {ends[1]:g}")
        return dials.Dial(label(channel.name) + unit, told, value, low, high, step, partial(self._slid, channel.name), room, 92)

    def _shown(self, channel):
        """A channel's value as its slider tells it."""
        value = self.rigged.values[f"{self.rigged.picked}.{channel}"]
        return degrees(value) if angular(channel) else value

    @one_at_a_time
    def _slid(self, channel, shown):
        now, before = time.monotonic(), self._slid_at
        if now - before[0] > BURST or before[1] != channel:
            self._step = object()
        self._slid_at = now, channel
        name = f"{self.rigged.picked}.{channel}"
        if self.rigged.set(name, radians(shown) if angular(channel) else shown, self._step):
            self.update()

    # ---- what can be done

    @one_at_a_time
    def pick(self, name):
        """Take a control up: its numbers are beside the picture, its circles around it. ValueError for one that is not offered."""
        if name not in self.rigged.names:
            raise ValueError(f"no control called {name!r} is to be posed here; there are: {', '.join(self.rigged.names)}")
        self.rigged.picked, self._hot = name, None
        self._quiet, self._list.value, self._quiet = True, name, False
        self._make_dials()
        self.branch = self._branch()
        self._viewer.share()
        self.update()

    @one_at_a_time
    def home(self, control=None):
        """Bring a control, or all, home."""
        self.rigged.home(control)
        self.update()

    @one_at_a_time
    def undo(self):
        """Take the last step back."""
        if self.rigged.undo():
            self.update()
        else:
            self._viewer.say("there is nothing to undo")

    @one_at_a_time
    def take_values(self, values):
        """Set the whole pose."""
        self.rigged.remember()
        self.rigged.take(values)
        self.update()

    @one_at_a_time
    def show_start(self, on):
        """Show the pose as it was at first, with the joints as they are now as a faint copy; or as it is now."""
        self.update(start=on)

    @property
    def code(self):
        """The pose as Python to paste."""
        return self.rigged.code

    @one_at_a_time
    def update(self, live=False, start=False):
        """Evaluate the rig and draw; in a drag (`live`) sliders, code and shadow wait for the end."""
        self.shows_start = start
        self.pose = self.rigged.pose(self.rigged.start if start else None)
        self._lines.place(*self.pose.frames(self._lines.names))
        if self._fits:
            figure = self._viewer.figure
            self._viewer.carry(*model.motion(figure.character.skeleton, figure.rest, self.pose))
        if not live:
            self._floor.ask()
            self._find_idle()
            self._show()
        self._viewer.moved(self, live)

    def _show(self):
        """Bring sliders, switch and code to what the scene holds."""
        for channel, dial in self._dials.items():
            old = dial.show(self._shown(channel))
            if old is not None:
                dials.swap(self._box, old, dial.widget)
            dial.warn(circles.WARN if self.rigged.near(channel) else None)
        self._quiet, self._start.value, self._quiet = True, self.shows_start, False
        self._code.value = self.rigged.code

    def _find_idle(self):
        """What moves nothing depends on numbers that are no moves and turns: on what a limb or a control follows."""
        key = tuple(value for name, value in self.rigged.values.items() if name.endswith((".blend", ".follow")))
        if key != self._idle_for:
            self._idle_for, self._idle = key, self.rigged.idle()
            self._lines.hide(self._idle)

    def _branch(self):
        """The largest of the model's branches that the picked control moves, or None."""
        if not self._fits:
            return None
        moved = self.rigged.moved_by(self.rigged.picked)
        found = [branch for branch in self._viewer.figure.branches if moved[branch.joints].any()]
        return max(found, key=lambda branch: len(branch.points)).name if found else None

    # ---- the mouse

    def take(self, seen):
        """A press: on the middle of the picked control, on one of its circles, or on an outline."""
        eye, size, picked = self._viewer.eye, self._viewer.size, self.rigged.picked
        if self.shows_start:
            self.update()  # what is taken hold of is the pose as it is now
        self._pressed_at, self._step = eye.pixels(seen, size)[:2], object()
        if self.rigged.moves and self._at_middle(seen):
            self._hold(picked, seen)
            return True
        channel = circles.under(self._circles(), eye, size, seen)
        if channel is not None:
            self._hot = channel
            self._turning_by = circles.Turning(next(c for c in self._circles() if c.channel == channel), eye, size, seen)
            self._viewer.redraw()
            return True
        name = self._lines.under(eye, size, seen)
        if name is None:
            return False
        if name != picked:
            self.pick(name)
        if self.rigged.moves:
            self._hold(name, seen)
        return True

    def _hold(self, name, seen):
        self._drag.take(name, self._lines.place_of(name).copy(), self._viewer.eye, seen)
        self._base = self.pose.base(name), self.pose.size_of(name)

    def drag(self, seen):
        """The picked control goes with the pointer, or turns by its circle."""
        eye, size = self._viewer.eye, self._viewer.size
        if self._pressed_at is not None:
            if np.linalg.norm(eye.pixels(seen, size)[:2] - self._pressed_at) < STILL:
                return
            self._pressed_at = None
        picked = self.rigged.picked
        if self._turning_by is not None:
            value = self._turning_by.value(eye, size, seen)
            self.rigged.set(f"{picked}.{self._turning_by.circle.channel}", value, self._step)
            self.update(live=True)
        elif self._drag.held:
            place = self._drag.place(eye, seen)
            if place is not None:
                self.rigged.stand_at(picked, place, *self._base, self._step)
                self.update(live=True)

    def let_go(self):
        """It stays where it is."""
        moved = self._pressed_at is None
        self._drag.release()
        self._turning_by = None
        if moved:
            self.update()

    def over(self, seen):
        """What a press would take is lit."""
        eye, size = self._viewer.eye, self._viewer.size
        middle = self.rigged.moves and self._at_middle(seen)
        hot = None if middle else circles.under(self._circles(), eye, size, seen)
        over = self.rigged.picked if middle else None if hot else self._lines.under(eye, size, seen)
        if (hot, over) != (self._hot, self._over):
            self._hot, self._over = hot, over
            self._viewer.redraw()

    def away(self):
        """Nothing is lit any more."""
        if (self._hot, self._over) != (None, None):
            self._hot, self._over = None, None
            self._viewer.redraw()

    def left(self):
        """No shadow is to fall any more."""
        self._floor.drop()

    def _at_middle(self, seen):
        eye, size = self._viewer.eye, self._viewer.size
        middle = eye.pixels(self._lines.place_of(self.rigged.picked), size)[:2]
        return np.linalg.norm(middle - eye.pixels(seen, size)[:2]) <= HANDLE

    # ---- drawing

    def _circles(self):
        picked, eye, size = self.rigged.picked, self._viewer.eye, self._viewer.size
        place = self._lines.place_of(picked)
        far = 1.0 if eye.parallel else float(eye.pixels(place, size)[2]) / eye.distance
        radius = circles.RADIUS * eye.metres_per_pixel(size) * far
        values = self.rigged.start if self.shows_start else self.rigged.values
        own = {channel.name: values[f"{picked}.{channel.name}"] for channel in self.rigged.channels[picked]}
        return circles.circles(self.rigged.rig.control(picked), self.pose.base(picked)[0], place, own, radius)

    def layer(self):
        """Outlines, the picked control's circles and middle, and where the joints are."""
        picked = self.rigged.picked
        layers = [self._bones(), self._lines.layer(picked, self._over), circles.layer(self._circles(), self._hot)]
        if self.shows_start:
            layers.insert(0, self._faint_now())
        middle = self._lines.place_of(picked)
        dots = [marks.glyphs(middle, "target" if self.rigged.moves else "ring", PICKED, 17 if self._over == picked else 13)]
        told = marks.Word(plain(picked), tuple(middle), PICKED, (0, -circles.RADIUS - 26), 13)
        return marks.Layer(
            tuple(g for layer in layers for g in layer.glyphs) + tuple(dots), tuple(s for layer in layers for s in layer.strokes),
            (*(w for layer in layers for w in layer.words), told), tuple(s for layer in layers for s in layer.sheets))

    def _faint_now(self):
        """The joints as they are now, those that are elsewhere than at the start, and where their bones come from."""
        places, skeleton = self.rigged.pose().positions, self.rigged.rig.skeleton
        moved = np.linalg.norm(places - self.pose.positions, axis=1) > 1e-6
        kept = [j for j in range(len(moved)) if moved[j] or any(moved[k] and skeleton.parents[k] == j for k in range(len(moved)))]
        return joints.faint_layer(places[kept], [kept.index(skeleton.parents[j]) if skeleton.parents[j] in kept else -1 for j in kept], 12)

    def _bones(self):
        """Joints and bones, where the model does not hide them."""
        if self._fits and not self._viewer.glass:
            return marks.Layer()
        skeleton = self.rigged.rig.skeleton
        return joints.layer(self.pose.positions, skeleton.names, skeleton.parents, 10)

    def compared(self):
        """The joints as they are drawn, {name: (3,)}, and their turns, {name: (4,)}."""
        names = self.rigged.rig.skeleton.names
        return dict(zip(names, self.pose.positions)), dict(zip(names, self.pose.rotations))

    def numbers(self):
        """Rows of the number table."""
        off = self.rigged.changed()
        controls = {name.partition(".")[0] for name in off}
        count = f"{_counted(len(off), 'number')} of {_counted(len(controls), 'control')}" if off else "nothing"
        return [("picked", plain(self.rigged.picked)), *self.rigged.rows(), *self.rigged.limb_rows(self.pose), ("not at home", count), *self._resting()]

    def _resting(self):
        """A row on the controls that are not drawn."""
        return [("not drawn", f"{_counted(len(self._idle), 'control')} that move nothing as the rig stands; they are in the list")] if self._idle else []

    def told(self):
        """One sentence on the picked control."""
        return "this is the pose at the start; the faint copy is where the joints are now" if self.shows_start else self.rigged.told(self.pose, self._idle)


def _fits(character, rig):
    """Whether a character's skeleton is the rig's; ValueError where there is a character and it is not."""
    if character is None:
        return False
    if list(character.skeleton.names) != list(rig.skeleton.names):
        missing = sorted(set(rig.skeleton.names) ^ set(character.skeleton.names))
        raise ValueError(f"the rig's joints are not the character's: {', '.join(missing[:3]) or 'they come in another order'}; expected a rig of the same skeleton")
    return True


def _counted(count, what):
    return f"{count} {what}" + ("" if count == 1 else "s")
