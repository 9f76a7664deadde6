"""The Viewer's calls for motions and curves."""

import numpy as np

from rigkit import rotation
from rigkit.view import baked, curves
from rigkit.view.guides import Guide
from rigkit.view.marks import Layer
from rigkit.view.motion_panel import MotionPanel
from rigkit.view.turns import one_at_a_time

AXES = {"x": 0, "y": 1, "z": 2}


class MotionCalls:
    """What a Viewer can play. Seconds from the start of the motion; frames from 0."""

    def motion(self, motion, trails=(), curves=None, before_after=0, rate=baked.RATE, rounds=None, contacts=(), length=None, client=True):
        """Show a motion to play and scrub: a Walk, a Motion of the character's rig, an Animation, local rotations (F, J, 4), or a function.

        trails: names of joints whose way is drawn. curves: {label: what}, each a channel "control.turn_x" of the motion, a joint's name
        (degrees turned from rest), "joint.x", ".y" or ".z" (metres), or values (F,). before_after: how many moments before and
        after are drawn faintly. rate: frames a second. rounds: how often a looping motion is gone through. contacts: as
        `rigkit.motion.Contact`, what is planted when; a Walk brings its own. length: seconds, for a function(seconds) that draws.
        client: False has every picture made by Python, as a function's are. It never starts by itself.
        """
        self._need_character("a motion")
        made = baked.timed(motion, length, rate) if callable(motion) else baked.bake(motion, self.character, rate, rounds, contacts)
        charts = _charts(made, curves or {}, self.character.skeleton)
        self._use(None)
        panel = MotionPanel(self, made, trails, before_after, charts=charts, client=client)
        self._use(panel)
        if panel.framing():
            self.whole()
            self.say(panel.told())

    def play(self):
        """Play the motion from where it stands; ValueError where nothing is shown yet."""
        self._moving().play()

    def pause(self):
        """Stop the motion where it is."""
        self._moving().pause()

    def scrub(self, seconds):
        """Stop the motion at the frame nearest to `seconds`."""
        panel = self._moving()
        panel.go(panel.baked.frame_at(seconds))

    def _moving(self):
        if not isinstance(self._panel, MotionPanel):
            raise ValueError("nothing moves in this viewer yet; call viewer.motion(...) first")
        return self._panel

    _beside = None  # the curves that stand beside the scene, a curves.Shown

    @property
    def stage(self):
        """The scene in the browser, None before it is shown."""
        return self._stage

    def renumber(self):
        """Bring the number table up to date, and nothing else."""
        self._show_numbers()

    def resend(self):
        """Send the browser the model as it stands, after something else moved it there."""
        for branch in self.figure.branches:
            self._stage.move(branch.name, *self.figure.now(branch))
        self.stand()

    @one_at_a_time
    def curves(self, values, times=None, unit="", now=0):
        """Draw curves {label: (N,)} over times (N,) seconds beside the scene, with a line at the place `now`; None takes them away."""
        if values is None:
            self.aside("")
            self._beside = None
            return self.guide("curves", None)
        count = len(next(iter(values.values())))
        times = np.arange(count, dtype=float) if times is None else np.asarray(times, dtype=float)
        chart = curves.checked(values, times, unit)
        self.aside(curves.svg([chart], times, now))
        self._beside = curves.Shown([chart], times, now)
        self.guide("curves", Guide(Layer(), tuple(curves.rows([chart], times, now))))


def _charts(made, wanted, skeleton):
    """Charts of what `motion` was asked for, one for each unit."""
    found = {}
    for label, what in wanted.items():
        values, unit = _values(made, what, skeleton) if isinstance(what, str) else (np.asarray(what, dtype=float), "")
        found.setdefault(unit, {})[label] = values
    return [curves.checked(values, made.times, unit) for unit, values in found.items()]


def _values(made, what, skeleton):
    """The values (F,) of a channel, a joint's turn or a joint's coordinate, and their unit."""
    owner, _, part = what.rpartition(".")
    if owner in skeleton.names and part in AXES:
        return made.positions[:, skeleton.index(owner), AXES[part]], "m"
    if what in skeleton.names:
        joint = skeleton.index(what)
        above = skeleton.parents[joint]
        turned = made.turns[:, joint] if above < 0 else np.swapaxes(made.turns[:, above], -1, -2) @ made.turns[:, joint]
        return np.degrees(np.linalg.norm(rotation.to_vector(rotation.from_matrix(turned)), axis=-1)), "degrees"
    channels = made.sampled[1] if getattr(made, "sampled", None) else {}
    if what not in channels:
        raise ValueError(f"there is no curve of {what!r}; expected a joint, 'joint.y', or one of: {', '.join(sorted(channels)[:6])}, ...")
    values = np.asarray(channels[what])
    if part.startswith("move"):
        return values, "m"
    return (np.degrees(values), "degrees") if part.startswith(("turn", "roll", "tilt", "swivel", "heel", "toe")) else (values, "")
