"""A limb with a target and a pole that can be dragged, slid or typed; the solver runs at every step."""

import math

import numpy as np

from rigkit import arguments, words
from rigkit.view import guides, joints, limb_pose, marks
from rigkit.view.handles import Drag, Hands
from rigkit.view.limb_pose import cross, length
from rigkit.view.limb_sliders import LimbSliders
from rigkit.view.turns import one_at_a_time

TARGET, POLE = words.PALETTE["vermilion"], words.PALETTE["yellow"]


class LimbPanel(Hands):
    """root, mid, end, target, pole: (3,) metres. solve(root, mid, end, target, pole) gives an object with .mid and .end.

    expected: a second solver, whose answer is drawn as a faint copy beneath.
    """

    def __init__(self, viewer, root, mid, end, target, pole, solve, expected=None):
        self.turn_lock = viewer.turn_lock
        self._viewer, self._solve, self._expected = viewer, solve, expected
        self.rest = arguments.points("root, mid, end", np.array([root, mid, end], dtype=float))
        self.target = arguments.points("target", target).copy()
        self.pole = arguments.points("pole", pole).copy()
        self._drag, self._hovered, self._trouble = Drag(), None, ""
        self._pole_began, self.swivel = self.pole.copy(), 0.0  # degrees
        self._bones = [length(bone) for bone in np.diff(self.rest, axis=0)]
        self._chain = _chain(viewer.character, self.rest)
        self._branch = viewer.figure.branch_of(self._chain)
        self._mid, self._end = _called(viewer.character, self._chain)
        self._sliders = LimbSliders({"target": TARGET, "pole": POLE}, self.places(), self.rest[0], 1.6 * sum(self._bones), self._slid, self._swivelled)
        self.widget = self._sliders.widget
        self.solution = None
        self.update()

    # sliders

    def _slid(self, name, k, value):
        getattr(self, name)[k] = value
        self.update()

    def _swivelled(self, degrees):
        line = self.target - self.rest[0]
        self.pole = self.rest[0] + _turned(self.pole - self.rest[0], line, np.radians(degrees - self.swivel))
        self.update(swivel=degrees)

    # mouse

    def places(self):
        """What can be dragged."""
        return {"target": self.target, "pole": self.pole}

    def take(self, seen):
        """Take hold of the target or the pole."""
        return self._drag.press(self.places(), self._viewer.eye, self._viewer.size, seen)

    def drag(self, seen):
        """Carry it along."""
        place = self._drag.place(self._viewer.eye, seen)
        if place is not None:
            getattr(self, self._drag.held)[:] = place
            self.update(live=True)

    def let_go(self):
        """It stays where it is."""
        self._drag.release()
        self.update()

    def over(self, seen):
        """What can be taken is drawn larger."""
        hovered = self._drag.hover(self.places(), self._viewer.eye, self._viewer.size, seen)
        if hovered != self._hovered:
            self._hovered = hovered
            self._viewer.redraw()

    def click(self, seen):
        """A press and release on one spot."""
        return self._drag.hover(self.places(), self._viewer.eye, self._viewer.size, seen) is not None

    # solving

    def _swivel_now(self):
        """How far the pole has turned about the line from root to target since it was given, degrees."""
        root = self.rest[0]
        return _turn_between(self._pole_began - root, self.pole - root, self.target - root)

    @one_at_a_time
    def update(self, live=False, swivel=None):
        """Solve and draw; in a drag (`live`) the sliders wait for the end. swivel: degrees, where it was what changed."""
        try:
            self.solution = self._solve(*self.rest.copy(), self.target.copy(), self.pole.copy())
            self._now = np.array([self.rest[0], np.asarray(self.solution.mid, float), np.asarray(self.solution.end, float)])
            self._trouble = "" if np.isfinite(self._now).all() else "the solver's answer holds nan or infinity; the arm stays where it was"
        except Exception as error:  # the learner's own solver: say what happened, keep the viewer alive
            self._trouble = f"the solver stopped: {type(error).__name__}: {error}"
        if self._trouble:
            self._now = getattr(self, "_good", self.rest).copy()
        self._good = self._now
        self._wanted = self._expect()
        if not live:
            self.swivel = self._swivel_now() if swivel is None else swivel
            self._sliders.show(self.places(), self.swivel)
        self._pose()
        self._viewer.moved(self, live)

    def _pose(self):
        if self._chain:
            hinge = cross(self.target - self.rest[0], self.pole - self.rest[0])
            turns = limb_pose.turns(self.rest, self._now, now_hinge=-hinge if hinge.any() else None)
            figure = self._viewer.figure
            self._viewer.carry(*limb_pose.motion(figure.character.skeleton, figure.rest.positions, self._chain, self._now, turns))

    @property
    def branch(self):
        """The branch of the model that moves with the limb, or None."""
        return self._branch

    # drawing

    def layer(self):
        """Joints, bones, handles, the bend plane's edges."""
        root, mid, end = self._now
        side = words.side(self._viewer.character.skeleton.names[self._chain[1]]) if self._chain else "left"
        colour, shape = words.SIDE_COLOUR[side], words.SIDE_SHAPE[side]
        big = {name: 24 if name == (self._drag.held or self._hovered) else 19 for name in ("target", "pole")}
        gap = length(end - self.target) > 1e-4
        faint = marks.Layer() if self._wanted is None else joints.faint_layer(self._wanted, (-1, 0, 1))
        return marks.Layer(
            sheets=(guides.bend_plane(root, self.target, self.pole),),
            strokes=(
                *faint.strokes,
                marks.dashes(root, self.target, "#7F8A93", 1.5), marks.dashes(mid, self.pole, marks.mix(POLE, words.SCENE, 0.35), 1.5),
                marks.strokes(end, self.target, TARGET, 2.5 if gap else 0.001),
                marks.strokes([root, mid], [mid, end], marks.mix(colour, words.SCENE, 0.1), 8, 2.5)),
            glyphs=(*faint.glyphs, marks.glyphs(self._now, shape, colour, 14), marks.glyphs(self.target, "target", TARGET, big["target"]),
                    marks.glyphs(self.pole, "triangle", POLE, big["pole"])),
            words=(marks.Word("target", tuple(self.target), TARGET, (0, 22), 12), marks.Word("pole", tuple(self.pole), POLE, (0, 22), 12)))

    def _expect(self):
        """The three points of the expected answer, or None where there is nothing to expect."""
        if self._expected is None:
            return None
        right = self._expected(*self.rest.copy(), self.target.copy(), self.pole.copy())
        return np.array([self.rest[0], right.mid, right.end], dtype=float)

    def numbers(self):
        """Rows of the number table."""
        root, mid, end = self._now
        upper, lower = length(mid - root), length(end - mid)
        return [
            ("target", f"{words.point(self.target)} m"), ("pole", f"{words.point(self.pole)} m"),
            (self._mid, f"{words.point(mid)} m"), (self._end, f"{words.point(end)} m"),
            ("upper bone", f"{words.millimetres(upper)} (rest {words.millimetres(self._bones[0])})"),
            ("lower bone", f"{words.millimetres(lower)} (rest {words.millimetres(self._bones[1])})"),
            ("root to target", f"{words.millimetres(length(self.target - root))} of {words.millimetres(sum(self._bones))}"),
            (f"{self._end} to target", words.millimetres(length(end - self.target))),
            ("target to pole", words.degrees(_between(self.target - root, self.pole - root)) + " apart, seen from the root"),
        ] + ([(f"{self._mid} to expected", words.millimetres(length(mid - self._wanted[1])))] if self._wanted is not None else [])

    def told(self):
        """One sentence on how the limb stands."""
        if self._trouble:
            return self._trouble
        root, mid, end = self._now
        gap = length(end - self.target)
        bend = math.degrees(math.acos(min(max(_unit(mid - root) @ _unit(end - mid), -1.0), 1.0)))
        on = "is on the target" if gap < 1e-4 else f"misses the target by {words.millimetres(gap)}"
        return f"{self._mid} bent {bend:.1f} degrees; the {self._end} {on}"


def _turn_between(a, b, axis):
    """The turn about `axis` that carries the half plane of `a` to that of `b`, degrees; 0 where one lies on the axis."""
    k = _unit(axis)
    a, b = a - (k @ a) * k, b - (k @ b) * k
    if min(np.linalg.norm(a), np.linalg.norm(b)) < 1e-9:
        return 0.0
    return float(np.degrees(np.arctan2(k @ np.cross(a, b), a @ b)))


def _between(a, b):
    """The angle between two vectors, radians; 0 where one has no length."""
    return math.atan2(length(cross(a, b)), a @ b)


def _unit(v):
    return v / max(length(v), 1e-12)


def _turned(v, axis, angle):
    """`v` turned about `axis` (Rodrigues), also where the axis has no length."""
    k = _unit(axis)
    return v * np.cos(angle) + np.cross(k, v) * np.sin(angle) + k * (k @ v) * (1 - np.cos(angle))


def _called(character, chain):
    """What the middle and the end joint are called: "knee" and "ankle" where the limb is a leg."""
    names = [character.skeleton.names[j] for j in chain[1:]] if chain else ("elbow", "wrist")
    return [name.removeprefix("left_").removeprefix("right_").removesuffix("_joint").replace("_", " ") for name in names]


def _chain(character, rest):
    """The numbers of the skeleton's joints at root, mid and end, or None where the limb is not the character's."""
    if character is None:
        return None
    positions = character.skeleton.forward().positions
    gap = np.linalg.norm(positions[None] - rest[:, None], axis=2)
    found = gap.argmin(axis=1).tolist()
    return found if gap.min(axis=1).max() < 0.02 and len(set(found)) == 3 else None
