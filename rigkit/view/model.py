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

from rigkit.corners import CREASE, corners
from rigkit.view.marks import rgb


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
        for where, joint in self._rigid:
            turn = rotations[joint].T
            np.matmul(self.points[where], turn, out=points[where])
            points[where] += moves[joint]
            np.matmul(self.normals[where], turn, out=normals[where])
        for where, joints, weighed, weighed_normals in self._soft:
            turns = [rotations[joint].T for joint in joints]
            points[where] = weighed @ np.concatenate([np.vstack([turn, moves[joint]]) for turn, joint in zip(turns, joints)])
            turned = weighed_normals @ np.concatenate(turns)
            normals[where] = turned / np.maximum(np.sqrt(np.einsum("vi,vi->v", turned, turned)), 1e-9)[:, None]
        return points, normals

    @cached_property
    def _soft(self):
        """Of each patch that several joints move: rows, joints, and its corners' weights times (p, 1), (V, 4K), and times n, (V, 3K).

        The linear blend is one product then: those times the joints' turns and moves, one below the other.
        """
        made = []
        for patch in self.patches:
            if len(patch.joints) > 1:
                p, n = self.points[patch.where], self.normals[patch.where]
                p = np.column_stack([p, np.ones(len(p))])
                weighed = [np.concatenate([share[:, None] * rows for share in patch.weights.T], axis=1) for rows in (p, n)]
                made.append((patch.where, patch.joints.tolist(), *weighed))
        return made

    @cached_property
    def _rigid(self):
        """Runs of rows that one joint moves: (slice, joint), neighbours on the same joint in one."""
        runs = []
        for patch in self.patches:
            if len(patch.joints) == 1:
                joint, where = int(patch.joints[0]), patch.where
                if runs and runs[-1][1] == joint and runs[-1][0].stop == where.start:
                    where = slice(runs.pop()[0].start, where.stop)
                runs.append((where, joint))
        return runs

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


def motion(skeleton, rest, pose):
    """The rotation matrices (J, 3, 3) and moves (J, 3) that carry points from the rest pose to a pose, both as forward() gives them."""
    turns = np.asarray(pose.matrices)[:, :3, :3] @ np.swapaxes(np.asarray(rest.matrices)[:, :3, :3], -1, -2)
    return turns, pose.positions - np.einsum("jab,jb->ja", turns, rest.positions)


def closed(branches):
    """Whether the surfaces of all branches have an inside: the triangles' area vectors cancel, as those of a box or a tube do and a sheet's do not."""
    for branch in branches:
        for patch in branch.patches:
            a, b, c = (branch.points[patch.triangles[:, k]] for k in range(3))
            areas = np.cross(b - a, c - a)
            if np.linalg.norm(areas.sum(axis=0)) > 0.2 * np.linalg.norm(areas, axis=1).sum():
                return False
    return True
