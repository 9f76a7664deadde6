"""A mesh bound once and posed many times: `binding` made fast.

Everything that stays the same from pose to pose is worked out when binding.
Vertices are sorted by their main joint, so that each block of them follows a
handful of joints. For linear blending, the rest points times their weights are
laid out as one matrix a block: a pose is then one small matrix product. For dual
quaternions the whole block has the same main joint, and with it the same signs.

Tests hold both equal to the readable forms in `binding`.
"""

from dataclasses import dataclass

import numpy as np

from rigkit import binding
from rigkit.arithmetic import matrix, write_cross


@dataclass(frozen=True, eq=False)
class Block:
    """Vertices with one main joint.

    rows: where in the sorted vertices. joints: (A,), all that any of them
    follows, the main one first. weights: (A, n). points: (n, 4 A), for each joint
    the weight times (x, y, z, 1). places: (5, n), the vertices as rows y, z, x, y, z.
    """

    rows: slice
    joints: np.ndarray
    weights: np.ndarray
    points: np.ndarray
    places: np.ndarray


@dataclass(frozen=True, eq=False)
class Skin:
    """A bound mesh: see `bind`. place: (V,), where each vertex stands in the sorted order; None where they were sorted already."""

    vertices: np.ndarray
    place: np.ndarray | None
    blocks: tuple
    joint_count: int

    def linear_blend(self, rotations, translations):
        """Return the vertices (..., V, 3) as `binding.linear_blend` does. rotations: (..., J, 4). translations: (..., J, 3)."""
        return self._each_pose(self._linear, rotations, translations)

    def dual_quaternion(self, rotations, translations):
        """Return the vertices (..., V, 3) as `binding.dual_quaternion` does. rotations: (..., J, 4). translations: (..., J, 3)."""
        return self._each_pose(self._dual, rotations, translations)

    def _each_pose(self, pose, rotations, translations):
        rotations, translations = binding.checked_transforms(rotations, translations)
        if rotations.shape[-2] < self.joint_count:
            raise ValueError(
                f"rotations has shape {rotations.shape}; "
                f"expected at least {self.joint_count} joints: the mesh is bound to joint {self.joint_count - 1}"
            )
        shape = np.broadcast_shapes(rotations.shape[:-2], translations.shape[:-2])
        rotations = np.broadcast_to(rotations, shape + rotations.shape[-2:])
        translations = np.broadcast_to(translations, shape + translations.shape[-2:])
        out = np.empty(shape + self.vertices.shape)
        for index in np.ndindex(shape):
            moved = pose(rotations[index], translations[index])
            out[index] = moved if self.place is None else moved.take(self.place, axis=0)
        return out

    def _linear(self, rotations, translations):
        columns = np.empty((len(rotations), 4, 3))
        columns[:, :3], columns[:, 3] = matrix(rotations).transpose(0, 2, 1), translations
        moved = np.empty(self.vertices.shape)
        for block in self.blocks:
            np.matmul(block.points, columns.take(block.joints, axis=0).reshape(-1, 3), out=moved[block.rows])
        return moved

    def _dual(self, rotations, translations):
        pairs = np.concatenate(binding.dual_quaternions(rotations, translations), axis=1).take(_YZXYZW, axis=1)
        moved = np.empty(self.vertices.shape)
        for block in self.blocks:
            near = pairs.take(block.joints, axis=0)
            near[near[:, 2:6] @ near[0, 2:6] < 0] *= -1.0
            move(near.T @ block.weights, block.places, moved[block.rows])
        return moved


def bind(vertices, joints, weights):
    """Return the Skin of a mesh: vertices (V, 3), joints (V, K) integers, weights (V, K) adding up to one.

    >>> skin = bind([[1, 0, 0]], [[0, 1]], [[0.5, 0.5]])
    >>> skin.linear_blend([[0, 0, 0, 1], [0, 0, 0, 1]], [[0, 0, 0], [0, 1, 0]])
    array([[1. , 0.5, 0. ]])
    """
    vertices, joints, weights = binding.checked_binding(vertices, joints, weights)
    if (joints < 0).any():
        raise ValueError(f"joints holds {joints.min()}; expected 0 or more, the places of joints in the skeleton")
    main = joints[np.arange(len(joints)), weights.argmax(axis=1)] if joints.size else np.zeros(0, np.intp)
    order = np.argsort(main, kind="stable")
    place = None if (order == np.arange(len(order))).all() else np.argsort(order)
    edges = np.flatnonzero(np.diff(main[order], prepend=-1, append=-1))
    vertices, joints, weights = vertices[order], joints[order], weights[order]
    blocks = tuple(_block(slice(start, stop), vertices, joints, weights) for start, stop in zip(edges, edges[1:]))
    return Skin(vertices, place, blocks, int(joints.max(initial=-1)) + 1)


def _block(rows, vertices, joints, weights):
    joints, weights, vertices = joints[rows], weights[rows], vertices[rows]
    main = joints[0, weights[0].argmax()]
    others = np.setdiff1d(joints[weights > 0], main)
    active = np.concatenate([[main], others])
    full = np.zeros((len(active), len(vertices)))
    for row, joint in enumerate(active):
        full[row] = np.where(joints == joint, weights, 0).sum(axis=1)
    ones = np.concatenate([vertices, np.ones((len(vertices), 1))], axis=1)
    points = (full.T[:, :, None] * ones[:, None, :]).reshape(len(vertices), -1)
    return Block(rows, active, full, points, np.ascontiguousarray(vertices.T[[1, 2, 0, 1, 2]]))


_YZXYZW = [1, 2, 0, 1, 2, 3, 4, 5, 6, 7]  # y and z once more in front: then three neighbours are the vector, or what a cross product needs


def move(pairs, places, out):
    """Write into `out` (n, 3) the vertices moved by dual quaternions not yet of unit length.

    pairs: (10, n), the parts y, z, x, y, z, w of q and the four of the dual part. places: (5, n), the parts y, z, x, y, z
    of the vertices. With q = (u, w) and the dual part (d, e): v' = v + 2 (u x s + w d - e u) / |q|^2
    where s = u x v + w v + d. It is `binding.moved_by` with one division, and three rows worked on by a call.
    """
    u, w, d, e, v = pairs[2:5], pairs[5], pairs[6:9], pairs[9], places[2:]
    side, term = np.empty(places.shape), np.empty(v.shape)
    write_cross(pairs, places, side[2:], term)
    side[2:] += np.multiply(w, v, out=term)
    side[2:] += d
    side[:2] = side[3:]
    half = np.empty(v.shape)
    write_cross(pairs, side, half, term)
    half += np.multiply(w, d, out=term)
    half -= np.multiply(e, u, out=term)
    x, y, z = np.square(u, out=term)
    half *= 2.0 / (x + y + z + w * w)
    half += v
    out[:] = half.T
