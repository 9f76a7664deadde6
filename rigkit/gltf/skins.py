"""Skins: which joints move a mesh, and from which pose they were bound.

A skinned vertex stands at sum_j w_j P_j B_j v: B_j the inverse bind matrix, P_j where the joint stands (glTF 2.0, section
3.7.3.3, "Skinned Mesh Attributes"). Our parts have no such matrices: their vertices stand in the world at rest, and rest is the
pose in which they were bound. So, with N_j where the joints stand in the file,

- N_j B_j is the same for all joints, as in most files: rest is as the file poses it, and a vertex at N B v;
- else the joints were bound in another pose than the file's: rest is the bind pose, G B_j^-1, with G such that the first joint stays;
- where that is no rigid pose, or skins contradict each other, the vertices are carried to the rest pose; blended ones then move a little
  differently than in the file, and the notes say so.
"""

from typing import NamedTuple

import numpy as np

from rigkit import forward
from rigkit.gltf import scene
from rigkit.gltf.fields import Item

SAME = 1e-4  # of the skeleton's size


class SkinData(NamedTuple):
    """place: in the document. joints: nodes, in order. inverse_binds: (n, 4, 4)."""

    place: str
    joints: list
    inverse_binds: np.ndarray


def read(document, accessors):
    """Return the SkinData of every skin."""
    root, found = Item(document, ""), []
    nodes = len(root.list("nodes"))
    for skin in root.items("skins"):
        joints = skin.indices("joints", nodes, least=1)
        number = skin.index("inverseBindMatrices", len(accessors.items))
        binds = np.tile(np.eye(4), (len(joints), 1, 1))
        if number is not None:
            place = skin.at("inverseBindMatrices")
            if accessors.count(number) < len(joints):
                raise ValueError(
                    f"{place}: accessor {number} has {accessors.count(number)} matrices; expected one for each of {len(joints)} joints"
                )
            binds = accessors.numbers(number, place, ("MAT4",))[: len(joints)].reshape(-1, 4, 4).transpose(0, 2, 1)
            off = np.abs(binds[:, 3] - [0, 0, 0, 1]).max(axis=1)
            if (off > 1e-5).any():
                row = int(off.argmax())
                raise ValueError(f"{place}: accessor {number}, matrix {row} has the last row {binds[row, 3].tolist()}; expected 0, 0, 0, 1")
        found.append(SkinData(skin.place, joints, binds))
    return found


def through_bones(skins, tree):
    """Return the skins with each bone node of ours (the drawn length of a joint, see `rigkit.gltf.baking`) replaced by its joint."""

    def joint(node):
        above = int(tree.parents[node])
        return above if scene.own(tree.items[node]).get("bone") and above >= 0 else node

    found = []
    for skin in skins:
        joints = [joint(node) for node in skin.joints]
        if len(set(joints)) < len(joints):
            raise ValueError(f"{skin.place}.joints names a joint and the bone below it; expected one of the two")
        found.append(skin._replace(joints=joints))
    return found


def rest(skins, place, parents, local, world):
    """Return (rest world transforms (J, 4, 4), whether it is the file's own pose, notes).

    skins: those in use. place: node to joint. parents: (J,). local, world: (J, 4, 4) as the file poses them.
    """
    held, notes, size = {}, [], _size(world)
    for skin in skins:
        joints = [place[node] for node in skin.joints]
        bound = _bound(joints, skin.inverse_binds, world, held, size)
        if bound is None:
            notes.append(
                f"{skin.place} was bound in a pose that is no rest pose of its joints; its vertices are carried to rest, and blended "
                "ones move a little differently than in the file"
            )
            bound = {}
        held |= {j: matrix for j, matrix in bound.items() if j not in held}
    if all(_near(matrix, world[j], size) for j, matrix in held.items()):
        return world, True, notes
    notes.append("the file poses its joints otherwise than its skins were bound; rest is the bind pose")
    found = np.empty_like(world)
    for j, above in enumerate(parents):
        found[j] = held[j] if j in held else local[j] if above < 0 else found[above] @ local[j]
    return found, False, notes


def _bound(joints, binds, world, held, size):
    """Joint to where it stood when the skin was bound, or None where that can't be."""
    if not (np.abs(np.linalg.det(binds[:, :3, :3])) > 1e-12).all():
        return None
    stood = np.linalg.inv(binds)
    known = next((k for k, j in enumerate(joints) if j in held), None)
    if known is not None:
        placed = held[joints[known]] @ binds[known] @ stood
        return dict(zip(joints, placed)) if all(_near(placed[k], held[j], size) for k, j in enumerate(joints) if j in held) else None
    first = int(np.argmin(joints))
    placed = world[joints[first]] @ binds[first] @ stood
    if all(_near(matrix, world[j], size) for matrix, j in zip(placed, joints)):
        return {j: world[j] for j in joints}
    for matrix, j in zip(placed, joints):
        ours, theirs = (np.linalg.norm(m[:3, :3], axis=0) for m in (matrix, world[j]))
        if scene.taken_apart(matrix[:3, :3])[2] > 1e-3 or np.abs(ours - theirs).max() > 1e-3 * theirs.max():
            return None
    return dict(zip(joints, placed))


def carried(skin, joints, weights, points, world):
    """Return (points at rest (V, 3), the one matrix that carried them or None).

    joints: for each column of the weights (V, K) its place in the skin. world: (K, 4, 4) the rest transforms of those joints.
    """
    matrices = world @ skin.inverse_binds[joints]
    if all(_near(matrix, matrices[0], _size(world)) for matrix in matrices[1:]):
        return points @ matrices[0, :3, :3].T + matrices[0, :3, 3], matrices[0]
    out = np.zeros_like(points)
    for column, matrix in enumerate(matrices):
        out += weights[:, column, None] * (points @ matrix[:3, :3].T + matrix[:3, 3])
    return out, None


def locally(world, parents):
    """Return (rotations (J, 4), translations (J, 3), scales (J, 3)) that stack up to the world transforms (J, 4, 4)."""
    found = []
    for j, above in enumerate(parents):
        local = world[j] if above < 0 else np.linalg.pinv(world[above]) @ world[j]
        turn, scale, _ = scene.taken_apart(local[:3, :3])
        found.append((turn, local[:3, 3], scale))
    return tuple(np.array(column) for column in zip(*found))


def stacked(parents, rotations, translations, scales):
    """Return the world transforms (J, 4, 4) of local values, parents first."""
    return forward.chained_matrices(parents, forward.local_matrices(rotations, translations, scales))


def _size(world):
    return max(float(np.ptp(world[:, :3, 3], axis=0).max(initial=0.0)), 1e-6)


def _near(a, b, size):
    linear = np.abs(b[:3, :3]).max()
    return np.abs(a[:3, :3] - b[:3, :3]).max() <= SAME * max(linear, 1e-12) and np.abs(a[:3, 3] - b[:3, 3]).max() <= SAME * size
