"""A character: a skeleton with the parts of its model, each part bound to joints.

A hard part follows one joint with weight one; a sleeve or a hose is shared
between the joints it runs along. Both are written the same way: the names of
the joints and one weight per vertex and joint.
"""

import re
from collections import Counter
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from rigkit import arguments
from rigkit.animation import Animation
from rigkit.mesh import Mesh
from rigkit.rig import Rig
from rigkit.skeleton import Skeleton

KINDS = ("hard", "sleeve", "hose")
BLENDS = ("linear", "dual quaternion")
WEIGHT_SUM_TOLERANCE = 1e-6


@dataclass(frozen=True, eq=False)
class Part:
    """One piece of the model.

    mesh: its geometry in the rest pose, metres. joints: K joint names. weights:
    (V, K), each row sums to one. kind: "hard" or "sleeve" or "hose". colour:
    "#rrggbb". smooth: shade it round rather than flat. blend: how vertices shared by joints move, "linear" or
    "dual quaternion", see `rigkit.binding`.

    Raises ValueError for weights of another shape, below zero or with a sum other
    than one, for a joint named twice, and for an unknown kind or blend or a colour of another form.
    """

    name: str
    mesh: Mesh
    joints: tuple
    weights: np.ndarray
    kind: str = "hard"
    colour: str = "#9AA5AC"
    smooth: bool = False
    blend: str = "linear"

    def __repr__(self):
        return f"Part({self.name!r}, {self.kind}, {len(self.mesh.vertices)} vertices, on {', '.join(self.joints)})"

    def __post_init__(self):
        object.__setattr__(self, "joints", tuple(self.joints))
        object.__setattr__(self, "weights", _weights(self))
        if len(set(self.joints)) != len(self.joints):
            raise ValueError(f"part {self.name} names a joint twice: {', '.join(self.joints)}; add the two columns of weights into one")
        if self.kind not in KINDS:
            raise ValueError(f"part {self.name} is of kind {self.kind!r}; expected one of {', '.join(KINDS)}")
        if self.blend not in BLENDS:
            raise ValueError(f"part {self.name} is blended {self.blend!r}; expected one of {', '.join(BLENDS)}")
        if not re.fullmatch("#[0-9A-Fa-f]{6}", self.colour):
            raise ValueError(f"part {self.name} has the colour {self.colour!r}; expected the form #rrggbb")


@dataclass(frozen=True, eq=False)
class Character:
    """A skeleton, its parts, and named points and directions of the model.

    landmarks: name to point (3,), for example "left_elbow". hinges: name to unit
    direction (3,), for example "left_elbow". loops: landmark to (part name, vertex
    numbers) of the closed loop of edges whose area centre the landmark is, for those
    that have one. All in the rest pose, metres; arrays can't be written to. rig: the Rig that
    moves the skeleton, or None. motions: Motions on its channels. extras: what a file brought along, kept for the next.
    animations: Animations of joints, as files of others have them. scales: (J, 3), local scales at rest that a file brought
    and that no rigid joint can hold, or None; `rest` heeds them.

    Raises ValueError for two parts, motions or animations of one name, for a part bound to a joint that the
    skeleton does not have, for a loop of an unknown landmark or part, for a rig of another
    skeleton, for a motion on a channel that the rig lacks, and for an animation of a joint that is not there.
    """

    name: str
    skeleton: Skeleton
    parts: tuple
    landmarks: MappingProxyType = field(default_factory=lambda: MappingProxyType({}))
    hinges: MappingProxyType = field(default_factory=lambda: MappingProxyType({}))
    loops: MappingProxyType = field(default_factory=lambda: MappingProxyType({}))
    rig: Rig | None = None
    motions: tuple = ()
    extras: MappingProxyType = field(default_factory=lambda: MappingProxyType({}))
    animations: tuple = ()
    scales: np.ndarray | None = None

    def __post_init__(self):
        object.__setattr__(self, "parts", tuple(self.parts))
        names = [part.name for part in self.parts]
        if twice := min((name for name, count in Counter(names).items() if count > 1), default=None):
            raise ValueError(f"{self.name} has two parts called {twice!r}; expected a name for each")
        known = set(self.skeleton.names)
        for part in self.parts:
            if unknown := [j for j in part.joints if j not in known]:
                raise ValueError(f"part {part.name} is bound to {unknown[0]!r}; expected a joint of the skeleton of {self.name}")
        for field_name in ("landmarks", "hinges"):
            points = {key: _frozen(arguments.points(f"{field_name}[{key!r}]", value)) for key, value in getattr(self, field_name).items()}
            object.__setattr__(self, field_name, MappingProxyType(points))
        loops = {key: (part, _frozen(np.asarray(numbers))) for key, (part, numbers) in self.loops.items()}
        for key, (part, numbers) in loops.items():
            if key not in self.landmarks or part not in names:
                raise ValueError(f"loops[{key!r}] is of the part {part!r}; expected a landmark and a part of {self.name}")
        object.__setattr__(self, "loops", MappingProxyType(loops))
        object.__setattr__(self, "extras", MappingProxyType(dict(self.extras)))
        for name in ("motions", "animations"):
            object.__setattr__(self, name, tuple(getattr(self, name)))
        self._check_rig()
        self._check_animations()

    def _check_rig(self):
        if self.rig and self.rig.skeleton.names != self.skeleton.names:
            raise ValueError(
                f"the rig moves {len(self.rig.skeleton)} joints of other names than the {len(self.skeleton)} of {self.name}; "
                "expected the same skeleton"
            )
        names = [motion.name for motion in self.motions]
        if twice := next((n for n in names if names.count(n) > 1), None):
            raise ValueError(f"{self.name} has two motions called {twice!r}; expected a name for each")
        if self.motions and not self.rig:
            raise ValueError(f"{self.name} has the motion {names[0]!r} and no rig; expected the rig whose channels it moves")
        for motion in self.motions:
            for channel in motion.tracks:
                self.rig.check_name(channel)

    def _check_animations(self):
        if self.scales is not None:
            scales = arguments.points("scales", self.scales)
            if scales.shape != (len(self.skeleton), 3):
                raise ValueError(f"scales has shape {scales.shape}; expected ({len(self.skeleton)}, 3): one row a joint, or None")
            object.__setattr__(self, "scales", _frozen(scales))
        names = [one.name for one in self.animations]
        if twice := next((n for n in names if names.count(n) > 1), None):
            raise ValueError(f"{self.name} has two animations called {twice!r}; expected a name for each")
        for one in self.animations:
            if not isinstance(one, Animation):
                raise ValueError(f"{self.name} has the animation {arguments.shorten(one)}; expected a rigkit.animation.Animation")
            for joint, _ in one.tracks:
                self.skeleton.index(joint)

    @property
    def rest(self):
        """The World of the rest pose, with what scale there is."""
        return self.skeleton.rest_world if self.scales is None else self.skeleton.forward(scales=self.scales)

    def animation(self, name):
        """Return the Animation called `name`; an unknown one is a ValueError that lists those there are."""
        found = next((one for one in self.animations if one.name == name), None)
        if found is None:
            raise ValueError(f"no animation is called {name!r}; {self.name} has: {', '.join(one.name for one in self.animations) or 'none'}")
        return found

    def animate(self, name, times):
        """Return the World of an animation at `times` (...), seconds, in one call; `play` does so for a motion of the rig."""
        return self.skeleton.forward(*self.animation(name).sample(self.skeleton, times, self.scales))

    def motion(self, name):
        """Return the motion called `name`; an unknown one is a ValueError that lists those there are."""
        found = next((m for m in self.motions if m.name == name), None)
        if found is None:
            raise ValueError(f"no motion is called {name!r}; {self.name} has: {', '.join(m.name for m in self.motions) or 'none'}")
        return found

    def play(self, name, times):
        """Return the Pose of a motion at `times` (...), seconds, in one call."""
        return self.rig.pose(self.motion(name).sample(times))

    def __repr__(self):
        return f"Character({self.name!r}, {len(self.skeleton)} joints, {len(self.parts)} parts)"

    def part(self, name):
        """Return the part called `name`; an unknown name is a ValueError that lists those near it."""
        found = next((p for p in self.parts if p.name == name), None)
        if found is None:
            words = set(name.split("_"))
            near = [p.name for p in self.parts if words & set(p.name.split("_"))] or [p.name for p in self.parts]
            raise ValueError(f"no part is called {name!r}; {self.name} has, among others: {', '.join(near[:8])}")
        return found

    def loop(self, landmark):
        """Return the closed loop (N, 3) whose area centre the landmark is, metres.

        A landmark that has no loop, and an unknown one, is a ValueError.
        """
        if landmark not in self.loops:
            raise ValueError(f"no loop is known for {landmark!r}; {self.name} has loops for {', '.join(self.loops) or 'none'}")
        part, numbers = self.loops[landmark]
        return self.part(part).mesh.vertices[numbers]


def _weights(part):
    weights = arguments.array(f"weights of {part.name}", part.weights, ()).copy()
    expected = (len(part.mesh.vertices), len(part.joints))
    if weights.shape != expected:
        raise ValueError(f"part {part.name} has weights of shape {weights.shape}; expected {expected}: a row a vertex, a column a joint")
    off = np.abs(weights.sum(axis=1) - 1.0)
    bad = (off > WEIGHT_SUM_TOLERANCE) | (weights < 0).any(axis=1)
    if bad.any():
        row = int(np.argmax(bad))
        raise ValueError(
            f"part {part.name}, vertex {row}: weights {weights[row]}; expected none below zero and a sum of 1: divide the row by its sum"
        )
    return _frozen(weights)


def _frozen(array):
    array = array.copy()
    array.flags.writeable = False
    return array
