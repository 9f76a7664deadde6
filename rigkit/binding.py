"""Binding: how the vertices of a model follow its joints.

A skinning transform carries a joint from where it was bound to where it is
posed: the pose times the inverse of the bind. Linear blending moves a vertex by
each of its joints' transforms and takes the weighted mean of the results
(N. Magnenat-Thalmann, R. Laperriere, D. Thalmann, Joint-dependent local
deformations for hand animation and object grasping, Graphics Interface 1988).
"""

import numpy as np

from rigkit import arguments
from rigkit.arithmetic import conjugate, matrix, product, rotate


def skinning_transforms(skeleton, rotations=None, translations=None):
    """Return (rotations (..., J, 4), translations (..., J, 3)) that carry each joint from rest to a pose.

    rotations, translations: local values as for `Skeleton.forward`. With bind B
    and pose P in the world: R = R_P R_B^-1 and t = x_P - R x_B.
    """
    rest, pose = skeleton.rest_world, skeleton.forward(rotations, translations)
    turns = product(pose.rotations, conjugate(rest.rotations))
    return turns, pose.positions - rotate(turns, rest.positions)


def linear_blend(vertices, joints, weights, rotations, translations):
    """Return the vertices (..., V, 3) moved by their joints: v' = sum_k w_k (R_k v + t_k).

    vertices: (V, 3) metres, in the rest pose. joints: (V, K) integers. weights:
    (V, K), each row adding up to one. rotations: (..., J, 4) and translations:
    (..., J, 3), the skinning transforms (pose times inverse bind).

    >>> quarter = [0, 0, np.sqrt(0.5), np.sqrt(0.5)]
    >>> linear_blend([[1, 0, 0]], [[0, 1]], [[0.5, 0.5]], [[0, 0, 0, 1], quarter], np.zeros((2, 3))).round(6)
    array([[0.5, 0.5, 0. ]])
    """
    vertices, joints, weights, rotations, translations = _arguments(vertices, joints, weights, rotations, translations)
    matrices = matrix(rotations)
    blended = np.einsum("vk,...vkij->...vij", weights, matrices[..., joints, :, :])
    moved = np.einsum("vk,...vki->...vi", weights, translations[..., joints, :])
    return np.einsum("...vij,vj->...vi", blended, vertices) + moved


def _arguments(vertices, joints, weights, rotations, translations):
    vertices, weights = arguments.points("vertices", vertices), arguments.array("weights", weights, ())
    rotations, translations = arguments.quaternions("rotations", rotations), arguments.points("translations", translations)
    joints = np.asarray(joints)
    if vertices.ndim != 2:
        raise ValueError(f"vertices has shape {vertices.shape}; expected (V, 3): one mesh at a time")
    if rotations.ndim < 2 or rotations.shape[-2] != translations.shape[-2]:
        raise ValueError(f"rotations {rotations.shape} and translations {translations.shape} do not fit; expected (..., J, 4) and (..., J, 3)")
    arguments.broadcast(rotations=rotations.shape[:-2], translations=translations.shape[:-2])
    _check_weights(len(vertices), joints, weights, rotations.shape[-2])
    return vertices, joints.astype(np.intp), weights, rotations, translations


def _check_weights(count, joints, weights, joint_count):
    if joints.ndim != 2 or joints.shape != weights.shape or len(joints) != count:
        raise ValueError(f"joints {joints.shape} and weights {weights.shape} do not fit; expected ({count}, K) for both, a row a vertex")
    if not np.issubdtype(joints.dtype, np.integer):
        raise ValueError(f"joints holds {joints.dtype} numbers; expected integers, the places of joints in the skeleton")
    bad = ((joints < 0) | (joints >= joint_count)).any(axis=1)
    if bad.any():
        row = int(bad.argmax())
        raise ValueError(f"joints[{row}] is {joints[row].tolist()}; expected numbers from 0 to {joint_count - 1}, one for each transform given")
    sums = weights.sum(axis=1)
    bad = (np.abs(sums - 1) > arguments.UNIT_TOLERANCE) | (weights < 0).any(axis=1)
    if bad.any():
        row = int(bad.argmax())
        raise ValueError(f"weights[{row}] is {arguments.shorten(weights[row])}; expected weights of 0 or more that add up to 1: divide the row by its sum")
