"""A rig: a skeleton, its controls, and the links that make joints obey them.

Give it channel values, get a pose. Each joint and control stands on what its link says, or, with no
link, a joint on its parent and a control where its home is; then its own channels move it from
there. What needs what is found once, when the rig is made; a cycle is an error that names its members.
Then one pose, or a whole motion with a value for every frame, is one call.

>>> from rigkit.control import Control, moves
>>> from rigkit.links import Follow
>>> body = Control("centre_body_control", [0, 1, 0], channels=moves())
>>> rig = Rig(Skeleton(["centre_body_joint"], [-1], [[0, 1, 0]]), [body], [Follow("centre_body_joint", "centre_body_control")])
>>> rig.pose({"centre_body_control.move_x": 0.25}).positions
array([[0.25, 1.  , 0.  ]])
"""

from dataclasses import dataclass
from difflib import get_close_matches
from functools import cached_property
from math import pi

import numpy as np

from rigkit import _rows as rows
from rigkit import arguments
from rigkit._rig_steps import Frames, drivers, ordered, own
from rigkit._rig_values import NUMBERS, as_rows, held, part, tried
from rigkit.arithmetic import product_rows, rotate_rows
from rigkit.control import MOVES, TURNS, Control
from rigkit.euler import to_euler
from rigkit.links import WORLD, Rest, Share, Step
from rigkit.pose import BLOCK, Pose
from rigkit.skeleton import Skeleton

NUDGE = {"move_x": 0.013, "move_y": -0.009, "move_z": 0.007, "turn_x": 0.031, "turn_y": 0.023, "turn_z": -0.017}  # metres, radians
CARRIED = 1e-7  # metres and radians
TRIED_POSES = 3


@dataclass(frozen=True, eq=False)
class Rig:
    """A skeleton, controls and links, ready to be posed.

    Raises ValueError for two things of one name, a link to something that is not there, a frame driven
    by two links, a cycle (named from member to member), and a share that feeds another share.
    """

    skeleton: Skeleton
    controls: tuple
    links: tuple

    def __post_init__(self):
        object.__setattr__(self, "controls", tuple(self.controls))
        object.__setattr__(self, "links", tuple(self.links))
        _check_kinds(self.controls, self.links)
        assert self._plan is not None  # found once, so that an unsound rig is told at once

    def __repr__(self):
        return f"Rig({len(self.skeleton)} joints, {len(self.controls)} controls, {len(self.links)} links)"

    # ------------------------------------------------------------ what a rig has

    def control(self, name):
        """Return the control called `name`; an unknown one is a ValueError that names near ones."""
        if name not in self._controls:
            raise ValueError(f"no control is called {name!r}; near it: {_near(name, self._controls)}")
        return self._controls[name]

    def channel(self, name):
        """Return the Channel called "control.channel"."""
        owner, _, channel = name.partition(".")
        return self.control(owner).channel(channel)

    def check_name(self, name):
        """Raise the ValueError that `pose` would for an unknown "control.channel", "control.move" or "control.turn"."""
        self._width(name)

    def home(self):
        """Return every open channel at home: the values of the rest pose, "control.channel" to a number."""
        return {f"{c.name}.{channel.name}": channel.home for c in self.controls for channel in c.open_channels}

    # ------------------------------------------------------------ posing

    def pose(self, values=None):
        """Return the Pose of channel values, or of a whole motion of them.

        values: "control.channel" to a number, or to an array (...) with one for every frame; "control.move" to
        points (..., 3) and "control.turn" to quaternions (..., 4) set three channels at once. Channels left out are at
        home. A value outside its channel's range is held at the end of the range: `outside` tells which.
        Raises ValueError for an unknown control or channel (near names are told), for a closed
        channel off its home, for "control.move" beside "control.move_x", and for numbers that are not finite.
        """
        values = values or {}
        shape = self._shape(values)
        if not shape:
            return Pose(self, (), [self._evaluate(self._slots(values, None))])
        count = int(np.prod(shape))
        slots = self._slots(values, shape)
        parts = [self._evaluate(part(slots, start)) for start in range(0, count, BLOCK)]
        return Pose(self, shape, parts, count)

    def outside(self, values):
        """Return which values lie outside their channel's range: "control.channel" to (the one that is furthest out, low, high)."""
        found = {}
        for name, value in values.items():
            if name in self._channels:
                channel, value = self._channels[name], np.asarray(value, float)
                off = np.maximum(channel.low - value, value - channel.high)
                if off.size and off.max() > 0:
                    found[name] = (float(value.flat[off.argmax()]), channel.low, channel.high)
        return found

    # ------------------------------------------------------------ measured

    def carried(self, control):
        """Return how often everything moves along with a control: joint or control to 0, 1, 2 or 3 times, None for anything else.

        The control is moved and turned a little from home and what each frame did is compared with
        what the control did, done so many times. An elbow that only gives way is None.
        """
        moved = {f"{control}.{c.name}": c.home + NUDGE[c.name] for c in self.control(control).open_channels if c.name in NUDGE}
        before, after = self.pose(), self.pose(moved)
        old, new = (pose._parts[0] for pose in (before, after))
        step = _difference(old[control], new[control])
        times, powers = {}, [rows.WORLD]
        for _ in range(3):
            powers.append(rows.compose(step, powers[-1]))
        for name in (*self.skeleton.names, *self._controls):
            near = [_apart(rows.compose(power, old[name]), new[name]) < CARRIED for power in powers]
            times[name] = near.index(True) if any(near) else None
        return times

    def double_transforms(self):
        """Return what a control carries more than once: a list of (control, joint or control, times), empty for a sound rig."""
        movable = [c.name for c in self.controls if any(channel.name in NUDGE for channel in c.open_channels)]
        return [(control, name, times) for control in movable for name, times in self.carried(control).items() if times and times > 1]

    def left_behind(self, control):
        """Return the joints that a control does not carry exactly once; empty for the control that carries the whole rig."""
        times = self.carried(control)
        return [name for name in self.skeleton.names if times[name] != 1]

    def dead_channels(self):
        """Return the open channels that move no joint, in none of a few poses: they should be closed."""
        names = list(self.home())
        rng = np.random.default_rng(0)
        low, high = np.array([tried(self._channels[name]) for name in names]).T
        bases = np.vstack([[self._channels[name].home for name in names], rng.uniform(low, high, (TRIED_POSES, len(names)))])
        alive = np.zeros(len(names), bool)
        for base in bases:
            batch = np.tile(base, (len(names) + 1, 1))
            batch[np.arange(len(names)), np.arange(len(names))] = np.where(np.abs(base - high) > np.abs(base - low), high, low)
            pose = self.pose(dict(zip(names, batch.T)))
            seen = np.concatenate([pose.positions, 2 * np.abs(pose.rotations), pose.stretch[..., None], pose.girth[..., None]], axis=-1)
            alive |= np.abs(seen[:-1] - seen[-1]).max(axis=(1, 2)) > 1e-9
        return [name for name, moves in zip(names, alive) if not moves]

    def _evaluate(self, slots):
        """The frames of everything that joints need, as rows, of channel values, as rows; the rest is worked out when it is asked for."""
        frames = Frames(self._makers, slots)
        for gives, run in self._plan:
            for name, frame in zip(gives, run(frames, slots)):
                frames[name] = frame
        return frames

    # ------------------------------------------------------------ values

    def _shape(self, values):
        if all(type(value) in NUMBERS for value in values.values()):
            return ()
        return arguments.broadcast(**{name: np.shape(value)[: np.ndim(value) - self._width(name)] for name, value in values.items()})

    def _width(self, name):
        """How many axes one value of this name has: 1 for a move or a turn, else 0."""
        if name in self._channels:
            return 0
        owner, _, channel = name.partition(".")
        if channel not in ("move", "turn"):
            self.channel(name)  # raises, with near names
        self.control(owner)
        return 1

    def _slots(self, values, shape):
        _check_said_once(values)
        slots = self._home.copy()
        for name, value in values.items():
            channel = self._channels.get(name)
            if channel is None:
                self._set_group(slots, name, value, shape)
            else:
                slots[name] = held(name, channel, value, shape)
        for source, target, gain in self._shares:
            amount = slots[source]
            if type(amount) is not float or amount:
                slots[target] = slots[target] + gain * amount
        return slots

    def _set_group(self, slots, name, value, shape):
        width = self._width(name) and (3 if name.endswith(".move") else 4)
        control = self.control(name.partition(".")[0])
        check = arguments.points if width == 3 else arguments.quaternions
        value = check(name, value)
        every = MOVES if width == 3 else TURNS
        channels = [control.channel(n) for n in every]
        if width == 4 and all(c.open and c.low <= -pi and c.high >= pi for c in channels):
            slots[name] = as_rows(value, shape)
            return
        parts = value if width == 3 else to_euler(control.order, value)[..., [control.order.index(axis) for axis in "XYZ"]]
        for k, channel in enumerate(channels):
            slots[f"{control.name}.{channel.name}"] = held(f"{control.name}.{channel.name}", channel, parts[..., k], shape)

    # ------------------------------------------------------------ the plan

    @cached_property
    def _controls(self):
        return {c.name: c for c in self.controls}

    @cached_property
    def _channels(self):
        return {f"{c.name}.{channel.name}": channel for c in self.controls for channel in c.channels}

    @cached_property
    def _home(self):
        joints = {target: 0.0 for _, target, _ in self._shares if target not in self._channels}
        return {name: float(channel.home) for name, channel in self._channels.items()} | joints

    @cached_property
    def _shares(self):
        found = [
            (link.source, target, float(gain)) for link in self.links if isinstance(link, Share) for target, gain in link.gains.items()
        ]
        targets = {target for _, target, _ in found}
        for source, target, _ in found:
            if source in targets:
                raise ValueError(f"{source} is shared to others and gets a share itself; expected one step: share from the first channel")
            owner, _, channel = target.partition(".")
            if owner not in self._controls:
                self.skeleton.index(owner)
                if channel not in (*MOVES, *TURNS):
                    raise ValueError(f"{source} is shared to {target!r}; expected one of {', '.join((*MOVES, *TURNS))} of a joint")
            elif target not in self._channels:
                self.channel(target)
        return found

    @cached_property
    def rest(self):
        """The rest frames of all joints and controls, and the parents of joints: what links work from."""
        world = self.skeleton.rest_world
        frames = {WORLD: rows.WORLD}
        frames |= {name: rows.frame(world.rotations[i], world.positions[i]) for i, name in enumerate(self.skeleton.names)}
        for control in self.controls:
            if control.name in frames:
                raise ValueError(
                    f"{control.name!r} is there twice among joints and controls; expected a name for each: end them in joint and control"
                )
            frames[control.name] = rows.frame(control.rotation, control.position)
        handles = {handle: place for link in self.links for handle, place in getattr(link, "handles", {}).items()}
        frames |= {handle: frames[place] for handle, place in handles.items()}
        return Rest(frames, {name: self.skeleton.parent(name) or WORLD for name in self.skeleton.names})

    @cached_property
    def _plan(self):
        """The steps that joints always need, in order."""
        steps, asked = self._steps, set(self.skeleton.names)
        for step in reversed(steps):
            if not asked.isdisjoint(step.gives):
                asked.update(step.needs)
        return [(step.gives, step.run) for step in steps if not asked.isdisjoint(step.gives)]

    @cached_property
    def _makers(self):
        return {name: step for step in self._steps for name in step.gives}

    @cached_property
    def _steps(self):
        """All steps, in an order in which each finds what it needs."""
        steps = [step for link in self.links for step in self._link_steps(link)]
        driven = drivers(self.links)
        for name in self.skeleton.names:
            steps += self._joint_steps(name, driven)
        for control in self.controls:
            steps += self._control_steps(control, driven)
        return ordered(steps)

    def _link_steps(self, link):
        for name in link.channels:
            self.channel(name)
        for name in (n for n in link.drives if ":" not in n):
            self._known(name, link)
        try:
            steps = link.steps(self.rest)
        except KeyError as missing:
            self._known(missing.args[0], link)
            raise
        return [step._replace(gives=tuple(self._standing(name) for name in step.gives)) for step in steps]

    def _known(self, name, link):
        if name not in self.rest.frames:
            raise ValueError(
                f"{type(link).__name__} names {name!r}, which is no joint or control; near it: {_near(name, self.rest.frames)}"
            )

    def _standing(self, name):
        """Where what `name` stands on is kept: apart from the frame itself where channels move it further."""
        return f"{name}:base" if name in self._controls or name in self._moved_joints else name

    @cached_property
    def _moved_joints(self):
        return {target.partition(".")[0] for _, target, _ in self._shares} - set(self._controls)

    def _joint_steps(self, name, driven):
        steps = [] if name in driven else [self._on_parent(name)]
        return steps + ([own(name, "XYZ", self._used(name, ()))] if name in self._moved_joints else [])

    def _on_parent(self, name):
        parent = self.rest.parents[name]
        carry = rows.carrier(rows.seen_from(self.rest.frames[parent], self.rest.frames[name]))
        return Step((self._standing(name),), (parent,), lambda frames, values: (carry(frames[parent]),))

    def _control_steps(self, control, driven):
        home = self.rest.frames[control.name]
        moved = own(control.name, control.order, self._used(control.name, control.open_channels))
        return [moved] if control.name in driven else [Step((f"{control.name}:base",), (), lambda frames, values: (home,)), moved]

    def _used(self, name, channels):
        """The channels that may move a frame: open ones, and those that a share reaches."""
        return {c.name for c in channels} | {target.partition(".")[2] for _, target, _ in self._shares if target.startswith(f"{name}.")}


def _check_kinds(controls, links):
    for i, control in enumerate(controls):
        if not isinstance(control, Control):
            raise ValueError(f"controls[{i}] is {arguments.shorten(control)}; expected a rigkit.control.Control")
    for i, link in enumerate(links):
        if not hasattr(link, "steps"):
            raise ValueError(f"links[{i}] is {arguments.shorten(link)}; expected a link of rigkit.links, such as Follow")


def _check_said_once(values):
    """A control moved or turned as a whole and by one of its channels too is told twice, and no order decides."""
    for name in values:
        owner, _, channel = name.partition(".")
        if channel in ("move", "turn") and (twice := [n for n in values if n.startswith(f"{name}_")]):
            raise ValueError(f"{name} and {twice[0]} are both given; expected one of the two: {channel} sets all three axes of {owner}")


def _difference(old, new):
    """The motion of space that brings the frame `old` to `new`."""
    turn = product_rows(new[0], rows.back(old[0]))
    return turn, rows.subtract(new[1], rotate_rows(turn, old[1])), 1.0


def _apart(a, b):
    """How far two frames are apart: metres, and twice the length of the vector part of the turn between, which is nearly radians."""
    turn = product_rows(rows.back(a[0]), b[0])
    return max(rows.length(rows.subtract(a[1], b[1])), 2.0 * rows.length(turn[:3]))


def _near(name, known):
    known = [k for k in known if ":" not in k]
    return ", ".join(get_close_matches(str(name), known, n=3, cutoff=0.5) or known[:4])
