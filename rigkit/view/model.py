"""The model of a character as triangles that can follow joints.

Each part is split into corners that shade right: smooth where faces meet at a
small angle, crisp at an edge. The corners of all parts that hang on the same
branch of the skeleton stand in one array, so that a moving arm is one message
and leaves the rest alone.

A part follows its joints by a linear blend: with one joint of weight one, that
is a rigid motion.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from rigkit.view.marks import rgb

CREASE = {True: np.radians(50), False: np.radians(25)}  # faces that meet at less are shaded as one surface: smooth parts, hard parts


@dataclass(frozen=True, eq=False)
class Patch:
    """One part inside a branch: rows `where` of the branch, its joints' numbers, weights (V, K)."""

    name: str
    where: slice
    joints: np.ndarray
    weights: np.ndarray
    triangles: np.ndarray  # (T, 3), numbered within the branch


@dataclass(frozen=True, eq=False)
class Branch:
    """Parts that move together: rest points and normals (V, 3), colours (V, 3), triangles (T, 3)."""

    name: str
    points: np.ndarray
    normals: np.ndarray
    colours: np.ndarray
    triangles: np.ndarray
    patches: tuple

    def posed(self, rotations, moves):
        """Points and normals (V, 3) each, when joint j carries a point p to rotations[j] @ p + moves[j]."""
        points, normals = np.empty_like(self.points), np.empty_like(self.normals)
        for patch in self.patches:
            p, n = self.points[patch.where], self.normals[patch.where]
            if len(patch.joints) == 1:
                turn = rotations[patch.joints[0]].T
                np.matmul(p, turn, out=points[patch.where])
                points[patch.where] += moves[patch.joints[0]]
                np.matmul(n, turn, out=normals[patch.where])
            else:
                each = [(share[:, None], rotations[joint].T, moves[joint]) for joint, share in zip(patch.joints, patch.weights.T)]
                points[patch.where] = sum(share * (p @ turn + move) for share, turn, move in each)
                turned = sum(share * (n @ turn) for share, turn, _ in each)
                normals[patch.where] = turned / np.maximum(np.sqrt(np.einsum("vi,vi->v", turned, turned)), 1e-9)[:, None]
        return points, normals

    @cached_property
    def joints(self):
        """The numbers of all joints that move this branch, in order."""
        return np.unique(np.concatenate([patch.joints for patch in self.patches]))


def branches(character):
    """The Branches of a character's model."""
    skeleton = character.skeleton
    roots = _branch_roots(skeleton)
    members = {}
    for part in character.parts:
        joints = np.array([skeleton.index(name) for name in part.joints])
        main = joints[np.argmax(part.weights.sum(axis=0))]
        members.setdefault(roots[main], []).append((part, joints))
    return [_branch(skeleton.names[root], parts) for root, parts in members.items()]


def _branch_roots(skeleton):
    """For each joint the joint where its branch leaves the trunk: the joint with most children is the trunk's end."""
    parents = np.asarray(skeleton.parents)
    children = np.bincount(parents[parents >= 0], minlength=len(parents))
    trunk = int(children.argmax())
    roots = np.arange(len(parents))
    for joint, parent in enumerate(parents):  # parents come first
        if parent >= 0 and parent != trunk:
            roots[joint] = roots[parent]
    return roots


def _branch(name, members):
    blocks, start, base = [], 0, []
    for part, joints in members:
        points, normals, triangles, source = corners(part.mesh.vertices, part.mesh.triangles, CREASE[bool(part.smooth)])
        where = slice(start, start + len(points))
        base.append((points, normals, np.tile(rgb(part.colour), (len(points), 1))))
        blocks.append(Patch(part.name, where, *_used(joints, np.asarray(part.weights)[source]), triangles + start))
        start = where.stop
    points, normals, colours = (np.concatenate(column) for column in zip(*base))
    return Branch(name, points, normals, colours, np.concatenate([b.triangles for b in blocks]), tuple(blocks))


def _used(joints, weights):
    """Only the joints that have any weight: a hard part listed with others that weigh nothing stays rigid."""
    used = weights.any(axis=0)
    return joints[used], weights[:, used]


def corners(vertices, triangles, crease):
    """Split vertices along edges sharper than `crease` radians: points, unit normals (V', 3), triangles (T, 3), source (V',).

    A corner's normal is the mean of the normals of its vertex's faces (weighted by
    area) that lie within `crease` of its own face. Corners of one vertex with the
    same normal are one.
    """
    vertices, triangles = np.asarray(vertices), np.asarray(triangles)
    area = np.cross(vertices[triangles[:, 1]] - vertices[triangles[:, 0]], vertices[triangles[:, 2]] - vertices[triangles[:, 0]])
    unit = area / np.maximum(np.linalg.norm(area, axis=1, keepdims=True), 1e-30)
    owner, face = triangles.ravel(), np.repeat(np.arange(len(triangles)), 3)
    order = np.argsort(owner, kind="stable")
    counts = np.bincount(owner, minlength=len(vertices))
    first = np.concatenate([[0], np.cumsum(counts)[:-1]])
    mine = np.repeat(np.arange(len(owner)), counts[owner])  # every pair of corners of one vertex
    within = np.arange(len(mine)) - np.repeat(np.cumsum(counts[owner]) - counts[owner], counts[owner])
    theirs = order[first[owner[mine]] + within]
    near = np.einsum("pi,pi->p", unit[face[mine]], unit[face[theirs]]) > np.cos(crease)
    normals = np.zeros((len(owner), 3))
    np.add.at(normals, mine[near], area[face[theirs[near]]])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-30)
    rounded = np.round((normals + 1) * 500).astype(np.int64)
    key = ((owner * 1024 + rounded[:, 0]) * 1024 + rounded[:, 1]) * 1024 + rounded[:, 2]
    _, keep, number = np.unique(key, return_index=True, return_inverse=True)
    return vertices[owner[keep]], normals[keep], number.reshape(-1, 3), owner[keep]


def motion(skeleton, rest, pose):
    """The rotation matrices (J, 3, 3) and moves (J, 3) that carry points from the rest pose to a pose, both as forward() gives them."""
    turns = np.asarray(pose.matrices)[:, :3, :3] @ np.swapaxes(np.asarray(rest.matrices)[:, :3, :3], -1, -2)
    return turns, pose.positions - np.einsum("jab,jb->ja", turns, rest.positions)
