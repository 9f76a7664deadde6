"""What is examined: joints, skins and controls as they were found, sound or not.

A `Skeleton` refuses a cycle, a `Part` a negative weight. An audit must be able to look at both. So it works on a `Subject`: plain
arrays with no promise, made from a `Character`, or from the lists of a file that no Character can hold.
"""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from rigkit import forward, words


@dataclass(frozen=True, eq=False)
class Skin:
    """A piece of the model: vertices (V, 3) in the world at rest, metres; triangles (T, 3); joints (K,) numbers; weights (V, K).

    kind: "hard", "sleeve" or "hose", or None where nobody says.
    """

    name: str
    vertices: np.ndarray
    triangles: np.ndarray
    joints: np.ndarray
    weights: np.ndarray
    kind: str | None = None


@dataclass(frozen=True, eq=False)
class Subject:
    """names: J texts. parents: (J,) integers, -1 for a root. rotations (J, 4), translations (J, 3), scales (J, 3): local, at rest.

    skins: Skins. rig: the Rig, or None. motions: Motions. landmarks, hinges, loops: as a Character has them. styles: control
    name to (colour, line style), how controls are drawn. skeleton, animations: as a Character has them, None and () where there
    is none. notes: what was set right when the file was loaded, texts.
    """

    name: str
    names: tuple
    parents: np.ndarray
    rotations: np.ndarray
    translations: np.ndarray
    scales: np.ndarray
    skins: tuple = ()
    rig: object = None
    motions: tuple = ()
    landmarks: dict = field(default_factory=dict)
    hinges: dict = field(default_factory=dict)
    loops: dict = field(default_factory=dict)
    styles: dict = field(default_factory=dict)
    skeleton: object = None
    animations: tuple = ()
    notes: tuple = ()

    def __len__(self):
        return len(self.names)

    @property
    def controls(self):
        return self.rig.controls if self.rig else ()

    @cached_property
    def cycle(self):
        """The joints of a cycle of parents, in order, or []."""
        state = np.zeros(len(self), int)  # 0 not seen, 1 on this climb, 2 ends at a root
        for start in range(len(self)):
            climb, joint = [], start
            while joint >= 0 and state[joint] == 0:
                state[joint] = 1
                climb.append(joint)
                joint = int(self.parents[joint])
            if joint >= 0 and state[joint] == 1:
                return climb[climb.index(joint) :]
            state[climb] = 2
        return []

    @cached_property
    def depth(self):
        """How many joints are above each, (J,); only where there is no cycle."""
        depth = np.full(len(self), -1)
        for joint in range(len(self)):
            climb = []
            while joint >= 0 and depth[joint] < 0:
                climb.append(joint)
                joint = int(self.parents[joint])
            start = depth[joint] + 1 if joint >= 0 else 0
            depth[climb[::-1]] = np.arange(start, start + len(climb))
        return depth

    @cached_property
    def order(self):
        """All joints, parents first, (J,); only where there is no cycle."""
        return np.argsort(self.depth, kind="stable")

    @cached_property
    def matrices(self):
        """World transforms at rest, (J, 4, 4), with scale."""
        local = forward.local_matrices(self.rotations, self.translations, self.scales)
        world = np.empty_like(local)
        for joint in self.order:
            above = self.parents[joint]
            world[joint] = local[joint] if above < 0 else world[above] @ local[joint]
        return world

    @cached_property
    def positions(self):
        """(J, 3), metres, in the world at rest."""
        return self.matrices[:, :3, 3]

    @cached_property
    def axes(self):
        """The axes of each joint in the world, as unit columns, (J, 3, 3)."""
        linear = self.matrices[:, :3, :3]
        size = np.linalg.norm(linear, axis=1, keepdims=True)
        return np.divide(linear, size, out=np.zeros_like(linear), where=size > 0)

    @cached_property
    def children(self):
        """For each joint the list of joints right below it."""
        found = [[] for _ in self.names]
        for joint, above in enumerate(self.parents):
            if above >= 0:
                found[above].append(joint)
        return found

    def below(self, joint):
        """The joint and all that hangs below it, a list."""
        found = [joint]
        for one in found:
            found += self.children[one]
        return found

    def path(self, joint):
        """From the root down to the joint, a list of numbers."""
        found = []
        while joint >= 0:
            found.append(joint)
            joint = int(self.parents[joint])
        return found[::-1]

    @cached_property
    def points(self):
        """All vertices of all skins, (N, 3)."""
        return np.concatenate([np.zeros((0, 3)), *(skin.vertices for skin in self.skins)])

    @cached_property
    def bounds(self):
        """The corners of the box around model and joints' positions, (2, 3)."""
        every = self.points if len(self.points) else self.positions
        return np.array([every.min(axis=0), every.max(axis=0)])

    @property
    def size(self):
        """The longest side of that box, metres."""
        return float(np.ptp(self.bounds, axis=0).max())


def of(character):
    """Return the Subject of a Character; a Subject is returned as it is."""
    if isinstance(character, Subject):
        return character
    skeleton = character.skeleton
    place = {name: i for i, name in enumerate(skeleton.names)}
    skins = tuple(
        Skin(part.name, part.mesh.vertices, part.mesh.triangles, np.array([place[j] for j in part.joints], int), part.weights, part.kind)
        for part in character.parts
    )
    return Subject(
        name=character.name,
        names=skeleton.names,
        parents=skeleton.parents,
        rotations=skeleton.rest_rotations,
        translations=skeleton.rest_translations,
        scales=np.ones((len(skeleton), 3)) if character.scales is None else character.scales,
        skins=skins,
        rig=character.rig,
        motions=character.motions,
        landmarks=dict(character.landmarks),
        hinges=dict(character.hinges),
        loops=dict(character.loops),
        styles=_styles(character),
        skeleton=skeleton,
        animations=character.animations,
        notes=tuple(map(str, character.extras.get("notes", ()))),
    )


def _styles(character):
    """How each control is drawn: as the file says under extras["styles"], else as rigkit draws it by the side in its name."""
    if not character.rig:
        return {}
    drawn = {c.name: (words.SIDE_COLOUR[c.side], words.SIDE_LINE[c.side]) for c in character.rig.controls}
    given = character.extras.get("styles", {})
    return drawn | {name: tuple(style) for name, style in given.items() if name in drawn}
