"""A skeleton: joints in a tree, and where they stand at rest.

Each joint has a name, a parent (-1 for a root) and a rest transform seen from
that parent: a translation and a rotation. Joints are listed parents first, so
that one pass from front to back reaches them all. A pose replaces the local rest
values by others; `forward` turns it into world rotations and positions.
"""

import difflib
import math
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from rigkit import arguments, forward
from rigkit.arithmetic import conjugate, product, rotate
from rigkit.rotation import IDENTITY


class World:
    """Joints in world space: rotations (..., J, 4), positions (..., J, 3) in metres, matrices (..., J, 4, 4).

    With scales in the pose, `matrices` holds everything; `rotations` are the
    turns alone, as if nothing had been scaled. What is not known from the start
    is worked out when it is first asked for.
    """

    def __init__(self, positions, rotations, matrices):
        self.positions = positions
        self._rotations, self._matrices = rotations, matrices  # functions of nothing

    @cached_property
    def rotations(self):
        """World rotations (..., J, 4)."""
        return self._rotations()

    @cached_property
    def matrices(self):
        """World transforms (..., J, 4, 4), acting on column vectors."""
        return self._matrices()


@dataclass(frozen=True, eq=False)
class Skeleton:
    """Joints, parents first, with their rest transforms.

    names: J different names. parents: J integers, -1 for a root. rest_translations:
    (J, 3) metres. rest_rotations: (J, 4), none given: no turn. Raises ValueError
    for an unsound list: see `sorted` for lists in another order.

    >>> arm = Skeleton(["upper", "fore"], [-1, 0], [[0, 1, 0], [0.3, 0, 0]])
    >>> arm.forward().positions
    array([[0. , 1. , 0. ],
           [0.3, 1. , 0. ]])
    """

    names: tuple
    parents: np.ndarray
    rest_translations: np.ndarray
    rest_rotations: np.ndarray | None = None

    def __post_init__(self):
        names = _names(self.names)
        parents = _parents(self.parents, names)
        translations = _per_joint("rest_translations", self.rest_translations, len(names), 3, arguments.points)
        turns = np.tile(IDENTITY, (len(names), 1)) if self.rest_rotations is None else self.rest_rotations
        turns = _per_joint("rest_rotations", turns, len(names), 4, arguments.quaternions)
        _check_order(parents, names)
        for name, value in zip(("parents", "rest_translations", "rest_rotations"), (parents, translations, turns)):
            value = value.copy()
            value.flags.writeable = False
            object.__setattr__(self, name, value)
        object.__setattr__(self, "names", names)

    def __len__(self):
        return len(self.names)

    def __repr__(self):
        return f"Skeleton({len(self)} joints from {self.names[0]!r})"

    # ------------------------------------------------------------ finding joints

    @cached_property
    def _index(self):
        return {name: i for i, name in enumerate(self.names)}

    def index(self, name):
        """Return the place of the joint called `name`; an unknown name is a ValueError that names near ones."""
        if name not in self._index:
            near = difflib.get_close_matches(str(name), self.names, n=3, cutoff=0.5) or self.names[:3]
            raise ValueError(f"no joint is called {name!r}; near it: {', '.join(near)}")
        return self._index[name]

    def parent(self, name):
        """Return the name of the parent of `name`, None for a root."""
        above = self.parents[self.index(name)]
        return None if above < 0 else self.names[above]

    def children(self, name):
        """Return the names of the joints right below `name`."""
        return tuple(self.names[i] for i in np.flatnonzero(self.parents == self.index(name)))

    def chain(self, above, below):
        """Return the indices from the joint `above` down to the joint `below`, both with them.

        How far they reach, with hinge limits: `rigkit.chain.reach` of their lengths.

        >>> Skeleton("abcd", [-1, 0, 0, 2], np.zeros((4, 3))).chain("a", "d").tolist()
        [0, 2, 3]
        """
        top, joint = self.index(above), self.index(below)
        found = [joint]
        while joint != top and joint >= 0:
            joint = int(self.parents[joint])
            found.append(joint)
        if joint < 0:
            raise ValueError(f"{below!r} does not hang below {above!r}; expected a joint and one of its descendants")
        return np.array(found[::-1])

    def below(self, name):
        """Return the indices of the joint `name` and all that hangs below it."""
        under = np.zeros(len(self), bool)
        under[self.index(name)] = True
        for joint, above in enumerate(self.parents):
            under[joint] |= above >= 0 and under[above]
        return np.flatnonzero(under)

    # ------------------------------------------------------------ poses

    def forward(self, rotations=None, translations=None, scales=None):
        """Return the World of a pose or of a batch of poses.

        rotations: (..., J, 4) and translations: (..., J, 3) are local values that
        replace the rest ones; None keeps the rest. scales: (..., J, 3), glTF's
        T R S order, or None.
        """
        r, t = self._local("rotations", rotations), self._local("translations", translations)
        if scales is not None:
            return self._scaled(r, t, _joints("scales", arguments.points("scales", scales), len(self)))
        if r.ndim == t.ndim == 2:
            return self._one(r, t)
        shape = arguments.broadcast(rotations=r.shape[:-2], translations=t.shape[:-2]) + (len(self),)
        flat = (math.prod(shape[:-1]), len(self))
        r = np.broadcast_to(r, shape + (4,)).reshape(flat + (4,))
        t = t[None] if t.ndim == 2 else np.broadcast_to(t, shape + (3,)).reshape(flat + (3,))
        turns, positions = forward.in_blocks(self.parents, r, t)
        turns, positions = turns.reshape(shape + (4,)), positions.reshape(shape + (3,))
        return World(positions, partial(np.asarray, turns), partial(forward.local_matrices, turns, positions))

    def _one(self, r, t):
        turns, matrices, positions = forward.doubling(self._rounds, r, t)
        return World(positions[:, :-1].T.copy(), turns[:, :-1].T.copy, partial(forward.laid_out, matrices, positions))

    def _scaled(self, r, t, scales):
        shape = arguments.broadcast(rotations=r.shape[:-2], translations=t.shape[:-2], scales=scales.shape[:-2]) + (len(self),)
        r, t = np.broadcast_to(r, shape + (4,)), np.broadcast_to(t, shape + (3,))
        matrices = forward.chained_matrices(self.parents, forward.local_matrices(r, t, scales))
        turns = forward.joint_by_joint(self.parents, r, t)[0]
        return World(matrices[..., :3, 3].copy(), partial(np.asarray, turns), partial(np.asarray, matrices))

    @cached_property
    def _rounds(self):
        return forward.rounds(self.parents)

    def local(self, rotations, positions):
        """Return local (rotations, translations) of world ones: `forward` backwards.

        rotations: (..., J, 4). positions: (..., J, 3).
        """
        world = _joints("rotations", arguments.quaternions("rotations", rotations), len(self))
        positions = _joints("positions", arguments.points("positions", positions), len(self))
        root = self.parents < 0
        above = np.where(root[:, None], IDENTITY, world[..., self.parents, :])
        origin = np.where(root[:, None], 0.0, positions[..., self.parents, :])
        inverse = conjugate(above)
        return product(inverse, world), rotate(inverse, positions - origin)

    @cached_property
    def rest_world(self):
        """The World of the rest pose; its arrays are shared, so they can't be written to."""
        world = self.forward()
        for value in (world.positions, world.rotations, world.matrices):
            value.flags.writeable = False
        return world

    def _local(self, name, value):
        if value is None:
            return getattr(self, f"rest_{name}")
        check = arguments.quaternions if name == "rotations" else arguments.points
        return _joints(name, check(name, value), len(self))

    # ------------------------------------------------------------ other skeletons

    @classmethod
    def sorted(cls, names, parents, rest_translations, rest_rotations=None):
        """Return a Skeleton of joints given in any order; a valid order stays as it is.

        Local rest values need no change: they are seen from the parent, wherever
        it stands in the list.

        >>> Skeleton.sorted(["fore", "upper"], [1, -1], [[0.3, 0, 0], [0, 1, 0]]).names
        ('upper', 'fore')
        """
        names = _names(names)
        parents = _parents(parents, names)
        order = _parents_first(parents, names)
        place = np.argsort(order)
        moved = np.where(parents < 0, -1, place[parents])
        translations = _per_joint("rest_translations", rest_translations, len(names), 3, arguments.points)
        if rest_rotations is not None:
            rest_rotations = _per_joint("rest_rotations", rest_rotations, len(names), 4, arguments.quaternions)[order]
        return cls(tuple(names[i] for i in order), moved[order], translations[order], rest_rotations)

    def reparent(self, name, parent):
        """Return a Skeleton in which `name` hangs under `parent` (None: a root), every joint standing where it stood.

        >>> loose = Skeleton("abc", [-1, 0, 0], [[0, 1, 0], [1, 0, 0], [0, 0, 2]]).reparent("c", "b")
        >>> loose.rest_translations[2]
        array([-1.,  0.,  2.])
        """
        joint, parents = self.index(name), self.parents.copy()
        parents[joint] = -1 if parent is None else self.index(parent)
        if parent is not None and parents[joint] in self.below(name):
            raise ValueError(f"{parent!r} hangs below {name!r}; expected a parent outside that branch: a joint can't hang under itself")
        order = _parents_first(parents, self.names)
        place = np.argsort(order)
        return self._standing(order, np.where(parents < 0, -1, place[parents])[order])

    def keep(self, names):
        """Return a Skeleton of the joints `names` alone, in this one's order, each standing where it stood.

        A joint hangs under the nearest of its ancestors that is kept, and is a
        root where none is.

        >>> line = Skeleton("abc", [-1, 0, 1], [[0, 1, 0], [1, 0, 0], [0, 0, 2]])
        >>> line.keep(["a", "c"]).rest_translations
        array([[0., 1., 0.],
               [1., 0., 2.]])
        """
        kept = np.zeros(len(self), bool)
        kept[[self.index(name) for name in names]] = True
        above = np.full(len(self), -1)  # the nearest kept ancestor
        for joint, parent in enumerate(self.parents):
            if parent >= 0:
                above[joint] = parent if kept[parent] else above[parent]
        place = np.cumsum(kept) - 1
        return self._standing(np.flatnonzero(kept), np.where(above < 0, -1, place[above])[kept])

    def _standing(self, joints, parents):
        """A Skeleton of these joints under new parents, all where they stand at rest."""
        names = tuple(self.names[i] for i in joints)
        bare = Skeleton(names, parents, np.zeros((len(names), 3)))
        rotations, translations = bare.local(self.rest_world.rotations[joints], self.rest_world.positions[joints])
        return Skeleton(names, parents, translations, rotations)


# ---------------------------------------------------------------- checks


def _names(names):
    try:
        names = tuple(names)
    except TypeError:
        raise ValueError(f"names is {arguments.shorten(names)}; expected a text for each joint") from None
    if not names:
        raise ValueError("names is empty; expected at least one joint")
    odd = next((name for name in names if not isinstance(name, str) or not name), None)
    if odd is not None:
        raise ValueError(f"names holds {odd!r}; expected texts that are not empty")
    seen = set()
    for i, name in enumerate(names):
        if name in seen:
            raise ValueError(f"names[{i}] = {name!r} is there twice; expected different names: rename one of the two")
        seen.add(name)
    return names


def _parents(parents, names):
    raw = np.asarray(parents)
    if raw.shape != (len(names),) or not (np.issubdtype(raw.dtype, np.integer) or np.array_equal(raw, np.round(raw))):
        raise ValueError(f"parents is {arguments.shorten(raw)}; expected {len(names)} integers, one a joint: -1 for a root")
    bad = (raw < -1) | (raw >= len(names))
    if bad.any():
        i = int(bad.argmax())
        raise ValueError(f"parents[{i}] = {raw[i]} is no joint; expected -1 for a root, or 0 to {len(names) - 1}")
    return raw.astype(np.intp)


def _check_order(parents, names):
    late = parents >= np.arange(len(parents))
    if not late.any():
        return
    _parents_first(parents, names)  # a cycle can't be sorted, and is told first
    i = int(late.argmax())
    raise ValueError(f"parents[{i}] = {parents[i]} comes after its child; list parents first, see Skeleton.sorted")


def _parents_first(parents, names):
    """The indices in an order with parents first, else as given; a cycle is a ValueError that names its joints."""
    order, placed = [], np.zeros(len(parents), bool)
    for joint in range(len(parents)):
        climb = []
        while joint >= 0 and not placed[joint]:
            if joint in climb:
                ring = [names[i] for i in climb[climb.index(joint):]]
                raise ValueError(f"parents form a cycle: {' -> '.join([*ring, ring[0]])}; expected each joint to end at a root (-1)")
            climb.append(joint)
            joint = int(parents[joint])
        placed[climb] = True
        order += climb[::-1]
    return np.array(order, np.intp)


def _per_joint(name, value, count, width, check):
    value = check(name, value)
    if value.shape != (count, width):
        raise ValueError(f"{name} has shape {value.shape}; expected ({count}, {width}): one row a joint")
    return value


def _joints(name, value, count):
    if value.ndim < 2 or value.shape[-2] != count:
        raise ValueError(
            f"{name} has shape {value.shape}; "
            f"expected (..., {count}, {value.shape[-1]}): one row for each of the {count} joints"
        )
    return value
