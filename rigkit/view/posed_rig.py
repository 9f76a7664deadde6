"""A rig as a learner poses it: its channel values, which control is picked, what can be undone, and all of it in words.

Plain data and arithmetic: `rigkit.view.pose_panel` has the sliders and the mouse. A value is held in
its channel's range, and how much is left to the nearer end is told while there is something left. Only open
channels are known. Values are metres and radians; words say degrees.
"""

from itertools import pairwise
from math import degrees, pi, radians

import numpy as np

from rigkit import rotation, words
from rigkit.control import FAR, MOVES, TURNS
from rigkit.links import Foot, Limb

ANGLES = (*TURNS, "roll", "tilt", "swivel")  # names of channels in radians; others that end in one of the last three are too
TRY = 0.05  # metres or radians by which a control is nudged to see whether it moves anything
MOVED = 1e-6  # metres, or twice the vector part of a quaternion, nearly radians
SHORT = 5e-4  # metres that a limb's end may stay away from its target and count as on it
DIGITS = 5
CLOSE, SHARE = radians(10), 0.15  # a value is near its end within this, or within this share of its range where that is less


class PosedRig:
    """rig: a rigkit.rig.Rig. controls: names of those to pose, all by default. channels: names of channels to offer, all open ones by default.

    values: "control.channel" to a number to begin with; "control.move" (3,) and "control.turn" (4,) work too. Raises ValueError
    for names the rig does not know, and where no channel is left.
    """

    def __init__(self, rig, controls=None, channels=None, values=None):
        self.rig = rig
        names = [c.name for c in rig.controls] if controls is None else [controls] if isinstance(controls, str) else list(controls)
        channels = [channels] if isinstance(channels, str) else channels
        self.channels = {name: [c for c in rig.control(name).open_channels if channels is None or c.name in channels] for name in names}
        self.channels = {name: offered for name, offered in self.channels.items() if offered}
        if not self.channels:
            raise ValueError(f"of {', '.join(names) or 'no controls'} no open channel is left to pose by; expected at least one control with one")
        self.names = list(self.channels)
        self.picked = self.names[0]
        self._home = rig.home()
        self._limbs = [link for link in rig.links if isinstance(link, Limb)]
        self._blended = [link for link in rig.links if isinstance(link, Limb | Foot) and link.blend and link.turned]
        self.values = dict(self._home)
        self.take(values or {})
        self.start = dict(self.values)
        self._past, self._last = [], None

    # ---- values

    def take(self, values):
        """Set these values, those left out go home; ValueError as Rig.pose raises it."""
        single = {}
        for name, value in values.items():
            single |= self._single(name, value)
        self.rig.pose(single)
        self.values = dict(self._home)
        for name, value in single.items():
            self._put(name, value)

    def set(self, name, value, step=None):
        """Set one "control.channel", held in its range; what has the same `step` as the change before is undone with it."""
        before = self.values.get(name)
        self.remember(step)
        self._put(name, value)
        return self.values.get(name) != before

    def remember(self, step=None):
        """Note the values as they are, for `undo`, unless this is the same `step` as the last."""
        if step is None or step != self._last:
            self._past.append(dict(self.values))
        self._last = step

    def undo(self):
        """Take the last step back; returns whether there was one."""
        self._last = None
        if not self._past:
            return False
        self.values = self._past.pop()
        return True

    def home(self, control=None):
        """Bring a control, or all, back to home."""
        self.remember()
        owned = f"{control}."
        self.values |= {name: value for name, value in self._home.items() if control is None or name.startswith(owned)}

    def stand_at(self, control, place, base, size, step=None):
        """Move a control to a place (3,) in the world as near as its open moves allow; base, size: of what it stands on, see Pose.base."""
        turn, origin = base
        local = rotation.rotate(rotation.invert(turn), np.asarray(place) - origin) / size
        self.remember(step)
        for name, value in zip(MOVES, local.tolist()):
            if any(channel.name == name for channel in self.channels[control]):
                self._put(f"{control}.{name}", value)

    def _put(self, name, value):
        channel = self.rig.channel(name)
        if channel.open:
            self.values[name] = min(max(float(value), channel.low), channel.high)

    def _single(self, name, value):
        owner, _, channel = name.partition(".")
        if channel not in ("move", "turn"):
            return {name: value}
        control = self.rig.control(owner)
        parts = value if channel == "move" else rotation.to_euler(control.order, value)[[control.order.index(axis) for axis in "XYZ"]]
        every = MOVES if channel == "move" else TURNS
        return {f"{owner}.{one}": float(part) for one, part in zip(every, parts) if control.channel(one).open or abs(part) > 1e-9}

    def changed(self):
        """The values that are not at home."""
        return {name: value for name, value in self.values.items() if abs(value - self._home[name]) > 10**-DIGITS / 2}

    def pose(self, values=None):
        """The rig's Pose of the values now, or of others."""
        return self.rig.pose(self.changed() if values is None else values)

    @property
    def moves(self):
        """Whether the picked control can be moved."""
        return any(channel.name in MOVES for channel in self.channels[self.picked])

    def moved_by(self, control):
        """Which joints a control moves as the rig stands, (J,) of bool."""
        return self._tried([control])[control]

    def idle(self):
        """Names of controls that move no joint as the rig stands: a turned control of a limb that follows its target, and the other way round."""
        return {name for name, moved in self._tried(self.names).items() if not moved.any()}

    def _tried(self, names):
        """Each control's open channels nudged one by one: name to which joints moved, (J,)."""
        base, tried, owners = self.changed(), [], []
        for name in names:
            for channel in self.channels[name]:
                value = self.values[f"{name}.{channel.name}"]
                nudge = TRY if value + TRY <= channel.high else -TRY
                tried.append({**base, f"{name}.{channel.name}": min(max(value + nudge, channel.low), channel.high)})
                owners.append(name)
        keys = sorted({key for one in tried for key in one})
        pose = self.rig.pose({key: np.array([one.get(key, self._home[key]) for one in (base, *tried)]) for key in keys})
        seen = np.concatenate([pose.positions, 2 * np.abs(pose.rotations), pose.stretch[..., None], pose.girth[..., None]], axis=-1)
        moved = np.abs(seen[1:] - seen[0]).max(axis=-1) > MOVED
        return {name: moved[[owner == name for owner in owners]].any(axis=0) for name in names}

    # ---- words

    @property
    def code(self):
        """The pose as Python to paste: a dict of the values that are not at home; metres and radians, degrees in a comment."""
        lines = [_line(name, value) for name, value in self.changed().items()]
        return "\n".join(["pose = {", *lines, "}"]) if lines else "pose = {}  # everything at home"

    def rows(self):
        """Rows of the picked control for a number table: value, range and what is left of it."""
        owner = self.picked
        return [(label(channel.name), self._told(f"{owner}.{channel.name}", channel)) for channel in self.channels[owner]]

    def _told(self, name, channel):
        value, told = self.values[name], said(channel.name, self.values[name])
        if wide(channel):
            return told
        left, end = min((value - channel.low, "low"), (channel.high - value, "high"))
        told += f", from {number(channel.name, channel.low)} to {number(channel.name, channel.high)}"
        if abs(value - channel.home) <= 10**-DIGITS / 2:
            return told
        return told + (f"; at its {end} end" if left < 10**-DIGITS else f"; {said(channel.name, left)} left")

    def limb_rows(self, pose):
        """Rows on limbs that follow a target, with how much of their reach is left: those of the picked control, and any that falls short."""
        rows = []
        for link in self._limbs:
            place = [pose.positions[self.rig.skeleton.index(joint)] for joint in link.joints]
            if link.blend and self.values.get(link.blend, 1.0) < 0.5:
                continue
            bones = sum(float(np.linalg.norm(b - a)) for a, b in pairwise(place))
            left, gap = bones - float(np.linalg.norm(place[2] - place[0])), float(pose.gaps[link.joints[0]])
            if gap < SHORT and not self._serves(self.picked, link):
                continue
            told = f"{words.millimetres(left)} left until straight" if gap < SHORT else f"stays {words.millimetres(gap)} short of its target"
            rows.append((plain_joint(link.joints[2]), told))
        return rows

    def _serves(self, control, link):
        """Whether a control's numbers are what a limb follows."""
        given = (link.blend, link.soft, link.stretch, link.girth)
        return control in (link.target, link.marker) or any(name and name.startswith(f"{control}.") for name in given)

    def told(self, pose, idle=()):
        """One sentence on the picked control."""
        name = self.picked
        off = [self._with_room(name, c) for c in self.channels[name] if self._off(name, c)]
        text = f"{name.replace('_', ' ')}: {', '.join(off) if off else 'at home'}"
        ends = [label(c.name) for c in self.channels[name] if not wide(c) and self._off(name, c) and self._left(name, c) < 10**-DIGITS]
        text += f"; {' and '.join(ends)} {'is' if len(ends) == 1 else 'are'} at the end" if ends else ""
        short = [row for row in self.limb_rows(pose) if "short" in row[1]]
        text += "".join(f"; the {joint} {told}" for joint, told in short)
        return text + (f"; it moves nothing as the rig stands{self._why(name)}" if name in idle else "")

    def _with_room(self, name, channel):
        """A value, with what is left of its range where that has an end."""
        left = self._left(name, channel)
        room = "" if wide(channel) or left < 10**-DIGITS else f" ({number(channel.name, left)} left)"
        return f"{label(channel.name)} {said(channel.name, self.values[f'{name}.{channel.name}'])}{room}"

    def near(self, channel):
        """Whether a number of the picked control is off home and near an end of its range, or at it."""
        channel = next(c for c in self.channels[self.picked] if c.name == channel)
        value = self.values[f"{self.picked}.{channel.name}"]
        return not wide(channel) and self._off(self.picked, channel) and near_end(value, channel.low, channel.high) != ""

    def _why(self, name):
        """Why a control moves nothing, where that is a limb's blend."""
        for link in self._blended:
            blend, turned = self.values.get(link.blend, 1.0), link.turned if isinstance(link, Limb) else (link.turned,)
            if name in turned and blend > 0.5:
                return f": {link.blend} is {blend:g}, so the limb follows its target"
            if name in (getattr(link, "target", None), getattr(link, "marker", None)) and blend <= 0.5:
                return f": {link.blend} is {blend:g}, so the limb follows its turned controls"
        return ""

    def _off(self, name, channel):
        return abs(self.values[f"{name}.{channel.name}"] - channel.home) > 10**-DIGITS / 2

    def _left(self, name, channel):
        value = self.values[f"{name}.{channel.name}"]
        return min(value - channel.low, channel.high - value)


def near_end(value, low, high):
    """How near a value is to an end of its range: "at" it, "near" it, or "" .

    >>> near_end(0.0, -1, 1), near_end(0.95, -1, 1), near_end(1.0, -1, 1)
    ('', 'near', 'at')
    """
    left = min(value - low, high - value)
    return "at" if left <= 1e-9 else "near" if left < min(CLOSE, SHARE * (high - low)) else ""


def angular(channel):
    """Whether a channel of this name is in radians.

    >>> angular("turn_z"), angular("heel_swivel"), angular("move_x")
    (True, True, False)
    """
    return channel in ANGLES or channel.endswith(("_roll", "_tilt", "_swivel"))


def wide(channel):
    """Whether nobody meets the ends of a channel's range: moves of metres, turns all the way round, sizes."""
    reach = channel.high - channel.low
    return reach >= (2 * pi - 1e-6 if angular(channel.name) else FAR / 2)


def label(channel):
    """A channel's name as people say it.

    >>> label("turn_z")
    'turn z'
    """
    return channel.replace("_", " ")


def number(channel, value):
    """A value without its unit: degrees, or metres with three digits."""
    return f"{degrees(value) + 0.0:.1f}" if angular(channel) else f"{value + 0.0:.3f}"


def said(channel, value):
    """A value with its unit, for people.

    >>> said("turn_z", pi / 2), said("move_x", 0.0125), said("curl", 0.5)
    ('90.0 degrees', '12.5 mm', '0.500')
    """
    if channel in MOVES:
        return words.millimetres(value + 0.0)
    return f"{number(channel, value)} degrees" if angular(channel) else number(channel, value)


def plain_joint(name):
    """left_wrist_joint as 'left wrist'."""
    return name.removesuffix("_joint").replace("_", " ")


def _line(name, value):
    comment = f"  # {degrees(value):.1f} degrees" if angular(name.partition(".")[2]) else ""
    return f'    "{name}": {round(value, DIGITS) + 0.0:.{DIGITS}f},{comment}'
