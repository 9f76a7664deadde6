"""Nodes: the tree of a scene, and which of its nodes are joints of the skeleton.

A node stands T * R * S, or a matrix, in its parent (glTF 2.0, section 3.5.2, "Nodes and Hierarchy" and 3.5.3, "Transformations").
Joints are the nodes that skins name or animations move, those that carry a mesh with no skin, and all above them. A mesh
node that hangs by itself on a skin's joint is a part of that joint and no joint; nor is a skinned mesh's node, whose own transform
counts for nothing.
"""

from functools import cached_property

import numpy as np

from rigkit import arguments, forward, rotation
from rigkit.gltf.fields import Item

OWN = "rigkit"  # our key in extras
SHEAR = 1e-4
UNIT = 1e-3


class Tree:
    """The nodes of a document, all of them, with parents and transforms; and those of one scene, parents first.

    items: N Items. parents: (N,), -1 for none. translations (N, 3), rotations (N, 4), scales (N, 3): local. order: the nodes of
    the scene. notes: texts on what was set right.
    """

    def __init__(self, document, scene=None):
        root = Item(document, "")
        self.items, self.notes = root.items("nodes"), []
        self.children = [item.indices("children", len(self.items)) for item in self.items]
        self.parents = self._parents()
        self.scene, roots = _roots(root, scene, len(self.items), self.parents)
        self.order = self._below(roots)
        self._transforms()

    def _parents(self):
        parents = np.full(len(self.items), -1)
        for above, children in enumerate(self.children):
            for node in children:
                if parents[node] >= 0:
                    raise ValueError(f"nodes[{node}] is a child of nodes[{parents[node]}] and of nodes[{above}]; expected one parent")
                parents[node] = above
        sound = np.zeros(len(parents), bool)
        for start in range(len(parents)):
            climb, node = {}, start
            while node >= 0 and not sound[node]:
                if node in climb:
                    ring = [*list(climb)[list(climb).index(node) :], node]
                    raise ValueError(
                        f"nodes form a cycle: {' -> '.join(f'nodes[{n}]' for n in ring[::-1])}; expected each to end at a root"
                    )
                climb[node] = None
                node = int(parents[node])
            sound[list(climb)] = True
        return parents

    def _below(self, roots):
        order, waiting = [], list(reversed(roots))
        while waiting:
            order.append(waiting.pop())
            waiting += reversed(self.children[order[-1]])
        return order

    def _transforms(self):
        count = len(self.items)
        self.translations, self.scales = np.zeros((count, 3)), np.ones((count, 3))
        self.rotations = np.tile(rotation.IDENTITY, (count, 1))
        for i, item in enumerate(self.items):
            matrix = item.numbers("matrix", 16)
            if matrix is not None:
                self.translations[i], self.rotations[i], self.scales[i] = self._taken_apart(item, matrix.reshape(4, 4).T)
                continue
            for name, width, values in (("translation", 3, self.translations), ("scale", 3, self.scales), ("rotation", 4, self.rotations)):
                found = item.numbers(name, width)
                if found is not None:
                    values[i] = found
            self.rotations[i] = self._unit(item, self.rotations[i])

    def _unit(self, item, turn):
        length = np.linalg.norm(turn)
        if not length > 1e-9:
            item.fail("rotation", "a quaternion of length 1")
        if abs(length - 1) > UNIT:
            self.notes.append(f"{item.at('rotation')} has length {length:.6g}; divided by it")
        return turn / length if abs(length - 1) > 1e-12 else turn

    def _taken_apart(self, item, matrix):
        if np.abs(matrix[3] - [0, 0, 0, 1]).max() > 1e-6:
            item.fail("matrix", "a last row of 0, 0, 0, 1")
        turn, scale, shear = taken_apart(matrix[:3, :3])
        if shear > SHEAR:
            self.notes.append(f"{item.at('matrix')} has shear, which no translation, rotation and scale make; it is left out")
        return matrix[:3, 3], turn, scale

    @cached_property
    def local(self):
        """Local transforms, (N, 4, 4)."""
        return forward.local_matrices(self.rotations, self.translations, self.scales)

    @cached_property
    def world(self):
        """World transforms of the scene's nodes as the file poses them, (N, 4, 4); others stand in their parent only."""
        world = self.local.copy()
        for node in self.order:
            if self.parents[node] >= 0:
                world[node] = world[self.parents[node]] @ self.local[node]
        return world


def taken_apart(linear):
    """Return (rotation (4,), scale (3,), shear) of a (3, 3) matrix; a mirrored one has a negative first scale.

    shear: the largest cosine between two of its axes.
    """
    scale = np.linalg.norm(linear, axis=0)
    if not (scale > 1e-12).all():
        return rotation.IDENTITY, scale, 0.0
    axes = linear / scale
    if np.linalg.det(axes) < 0:
        axes[:, 0], scale[0] = -axes[:, 0], -scale[0]
    shear = float(np.abs(axes.T @ axes - np.eye(3)).max())
    u, _, v = np.linalg.svd(axes)
    return rotation.from_matrix(u @ np.diag([1, 1, np.linalg.det(u @ v)]) @ v), scale, shear


def _roots(root, scene, count, parents):
    """(number of the scene or None, its roots)."""
    scenes = root.items("scenes")
    default = root.index("scene", len(scenes))
    names = [item.text("name", "") for item in scenes]
    if isinstance(scene, str):
        if scene not in names:
            raise ValueError(f"no scene is called {scene!r}; there are: {', '.join(names) or 'none'}")
        scene = names.index(scene)
    elif scene is not None and not 0 <= scene < len(scenes):
        raise ValueError(f"scene is {scene!r}; expected a name, or a number from 0 to {len(scenes) - 1}")
    number = scene if scene is not None else default if default is not None else 0 if scenes else None
    if number is None:
        return None, [int(n) for n in np.flatnonzero(parents < 0)]
    roots = scenes[number].indices("nodes", count)
    for node in roots:
        if parents[node] >= 0:
            raise ValueError(f"{scenes[number].place}.nodes has {node}, a child of nodes[{parents[node]}]; expected roots")
    return number, roots


# ---- joints -----------------------------------------------------------------------------------------------------


def joints(tree, skins, moved):
    """Return the numbers of the nodes that are joints, parents first.

    skins: for each skin of the document its list of nodes. moved: the nodes that animations move.
    """
    inside = set(tree.order)
    named = {
        node
        for item in map(tree.items.__getitem__, tree.order)
        if "mesh" in item.value and _skin(item, skins) is not None
        for node in skins[_skin(item, skins)]
    }
    if lost := sorted(named - inside):
        raise ValueError(f"nodes[{lost[0]}] is a joint of a skin and not in the scene; expected all joints of a skin in it")
    flags = {node: own(tree.items[node]) for node in tree.order}
    found = named | (moved & inside) | {node for node in tree.order if flags[node].get("joint")}
    for node in tree.order:
        if "mesh" in tree.items[node].value and _skin(tree.items[node], skins) is None:
            above = int(tree.parents[node])
            hung = above >= 0 and not tree.children[node] and node not in named
            found.add(above if hung and (above in named or flags[node].get("part")) else node)
    found -= {node for node in found if flags[node].get("bone") and tree.parents[node] >= 0} - named
    found = found or inside
    for node in list(found):
        while tree.parents[node] >= 0 and tree.parents[node] not in found:
            node = int(tree.parents[node])
            found.add(node)
    return [node for node in tree.order if node in found and (node in named or not _common_root(tree, node, flags))]


def _common_root(tree, node, flags):
    """Whether a node is one we wrote above several roots, since joints of a skin must have one."""
    return (
        bool(flags[node].get("root"))
        and tree.parents[node] < 0
        and np.abs(tree.local[node] - np.eye(4)).max() == 0
        and bool(tree.children[node])
    )


def _skin(item, skins):
    return item.index("skin", len(skins))


def own(item):
    """What we wrote about a node under our key of its extras, or {}."""
    extras = item.value.get("extras")
    found = extras.get(OWN) if isinstance(extras, dict) else None
    return found if isinstance(found, dict) else {}


def names(tree, nodes):
    """Return a name for each of these nodes, different ones: the file's own where it has one that nobody else has.

    >>> names(Tree({"nodes": [{"name": "arm"}, {}, {"name": "arm"}]}), [0, 1, 2])
    ['arm', 'node 1', 'arm (node 2)']
    """
    found, taken = [], set()
    for node in nodes:
        name = tree.items[node].text("name", "") or f"node {node}"
        if name in taken:
            tree.notes.append(
                f"{tree.items[node].at('name')} is {arguments.shorten(name)}, as another node's; here it is '{name} (node {node})'"
            )
            name = f"{name} (node {node})"
        while name in taken:
            name += " again"
        taken.add(name)
        found.append(name)
    return found


def baked(tree, nodes, used):
    """Return (sizes, translations, scales), of these nodes: the uniform scale above and at the topmost used ones is baked in.

    sizes (J,): what each joint's frame and all below it is larger by in the file, now in the translations (J, 3), metres.
    scales (J, 3): what is left. used: nodes that a skin names or that carry a mesh. A uniform scale s of a node takes every
    length below it times s, so it may go into the lengths. Below a used node scale is kept: it is the rig's.
    """
    place = {node: j for j, node in enumerate(nodes)}
    sizes, beneath = np.ones(len(nodes)), np.zeros(len(nodes), bool)
    translations, scales = tree.translations[nodes].copy(), tree.scales[nodes].copy()
    for j, node in enumerate(nodes):
        above = place.get(int(tree.parents[node]), -1)
        sizes[j] = sizes[above] if above >= 0 else 1.0
        translations[j] *= sizes[j]
        beneath[j] = above >= 0 and (beneath[above] or nodes[above] in used)
        scale = float(scales[j].mean())
        if not beneath[j] and scale > 1e-9 and np.abs(scales[j] - scale).max() < 1e-6 * scale:
            scales[j] = 1.0
            if abs(scale - 1) > 1e-6:
                sizes[j] *= scale
                tree.notes.append(f"{tree.items[node].at('scale')} is {scale:.6g} for all below it; it is baked into lengths and vertices")
    return sizes, translations, scales
