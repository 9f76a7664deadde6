"""Binding: how the vertices of a model follow its joints.

A skinning transform carries a joint from where it was bound to where it is
posed: the pose times the inverse of the bind. A vertex shared by several joints
takes a mean of their transforms. *Linear blending* takes the mean of the moved
points (N. Magnenat-Thalmann, R. Laperriere, D. Thalmann, Joint-dependent local
deformations for hand animation and object grasping, Graphics Interface 1988
(memory)); a twist pulls such points towards the axis. *Dual quaternions* take
the mean of the rigid motions, and stay rigid (L. Kavan, S. Collins, J. Zara, C.
O'Sullivan, Geometric skinning with approximate dual quaternion blending, ACM
Transactions on Graphics 27(4):105, 2008).

The forms here are the ones to read. `skinning` holds faster ones for a mesh that
is bound once and posed many times.
"""

import numpy as np

from rigkit import arguments, rotation
from rigkit.arithmetic import conjugate, cross, join, length, matrix, product, rotate

MOST = 4  # joints a vertex may follow: what one attribute set of glTF 2.0 holds


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
    vertices, joints, weights, rotations, translations = checked(vertices, joints, weights, rotations, translations)
    matrices = matrix(rotations)
    blended = np.einsum("vk,...vkij->...vij", weights, matrices[..., joints, :, :])
    moved = np.einsum("vk,...vki->...vi", weights, translations[..., joints, :])
    return np.einsum("...vij,vj->...vi", blended, vertices) + moved


def dual_quaternion(vertices, joints, weights, rotations, translations):
    """Return the vertices (..., V, 3) moved by the blended rigid motion of their joints.

    Arguments as for `linear_blend`. Each transform is a pair (q, t q / 2); the
    pairs are added up by weight and scaled so that q has unit length again. q and
    -q are the same turn but cancel in a sum: each vertex takes the sign that lies
    nearer to its main joint, the one of the largest weight.

    >>> quarter = [0, 0, np.sqrt(0.5), np.sqrt(0.5)]
    >>> dual_quaternion([[1, 0, 0]], [[0, 1]], [[0.5, 0.5]], [[0, 0, 0, 1], quarter], np.zeros((2, 3))).round(6)
    array([[0.707107, 0.707107, 0.      ]])
    """
    vertices, joints, weights, rotations, translations = checked(vertices, joints, weights, rotations, translations)
    real, dual = dual_quaternions(rotations, translations)
    main = joints[np.arange(len(joints)), weights.argmax(axis=1)]
    towards = np.einsum("...vki,...vi->...vk", real[..., joints, :], real[..., main, :])
    shares = np.where(towards < 0, -weights, weights)
    blended_real = np.einsum("...vk,...vki->...vi", shares, real[..., joints, :])
    blended_dual = np.einsum("...vk,...vki->...vi", shares, dual[..., joints, :])
    return moved_by(blended_real, blended_dual, vertices)


def dual_quaternions(rotations, translations):
    """Return (q, t q / 2), each (..., 4): the rigid motion "turn by q, then move by t" as a unit dual quaternion.

    rotations: (..., 4). translations: (..., 3).
    """
    rotations, translations = arguments.quaternions("rotations", rotations), arguments.points("translations", translations)
    return rotations, product(join(translations, np.zeros(translations.shape[:-1] + (1,))), rotations) / 2


def moved_by(real, dual, vertices):
    """The vertices (..., 3) moved by a dual quaternion (real, dual) that need not be of unit length yet (Kavan et al., algorithm 1)."""
    size = length(real)
    real, dual = real / size, dual / size
    turned = rotate(real, vertices)
    return turned + 2.0 * (real[..., 3:] * dual[..., :3] - dual[..., 3:] * real[..., :3] + cross(real[..., :3], dual[..., :3]))


# ---------------------------------------------------------------- weights


def rigid_weights(count, joint):
    """Return (joints (V, 1), weights (V, 1)) of a hard part: `count` vertices that follow one joint.

    >>> rigid_weights(2, 7)
    (array([[7],
           [7]]), array([[1.],
           [1.]]))
    """
    if count < 0:
        raise ValueError(f"count is {count}; expected 0 or more vertices")
    return np.full((count, 1), joint, np.intp), np.ones((count, 1))


def sleeve_weights(along, stations):
    """Return weights (V, J) of vertices along a sleeve that J joints share.

    along: (V,), where each vertex sits along the sleeve, metres from its start;
    the same for all vertices of a loop, so that a loop stays whole. stations:
    (J,), rising, where each joint has the vertices for itself. Between two
    stations the share goes over smoothly, 3 s^2 - 2 s^3; outside them it is one.
    At most two joints share a vertex, each row adds up to one, and the shares
    rise and fall steadily along the sleeve.

    >>> sleeve_weights([0.0, 0.1, 0.2], [0.0, 0.2])
    array([[1. , 0. ],
           [0.5, 0.5],
           [0. , 1. ]])
    """
    along, stations = arguments.array("along", along, ()), arguments.array("stations", stations, ())
    if stations.ndim != 1 or len(stations) < 2 or not (np.diff(stations) > 0).all():
        raise ValueError(f"stations is {arguments.shorten(stations)}; expected two or more rising numbers, metres along the sleeve")
    share = np.clip((along[..., None] - stations[:-1]) / np.diff(stations), 0, 1)
    gone_over = share * share * (3 - 2 * share)
    ones, zeros = np.ones(along.shape + (1,)), np.zeros(along.shape + (1,))
    return np.concatenate([ones, gone_over], axis=-1) - np.concatenate([gone_over, zeros], axis=-1)


def strongest(weights, most=MOST):
    """Return (joints (V, K), weights (V, K)) of full weights (V, J): the `most` largest of each row, adding up to one again.

    K is the smaller of `most` and J. Places without weight name joint 0, as glTF
    2.0 asks of unused ones. Raises where a row has no weight at all.

    >>> strongest([[0.1, 0.0, 0.3, 0.6]], most=2)
    (array([[3, 2]]), array([[0.66666667, 0.33333333]]))
    """
    weights = arguments.array("weights", weights, ())
    if weights.ndim != 2 or (weights < 0).any():
        raise ValueError(f"weights has shape {weights.shape}, least {weights.min(initial=0):.6g}; expected (V, J), none below 0")
    if most < 1:
        raise ValueError(f"most is {most}; expected 1 or more joints a vertex")
    joints = np.argsort(-weights, axis=1, kind="stable")[:, :most]
    kept = np.take_along_axis(weights, joints, axis=1)
    total = kept.sum(axis=1, keepdims=True)
    if not total.all():
        raise ValueError(f"weights[{int((total == 0).argmax())}] are all 0; expected some weight for every vertex: bind it to a joint")
    return np.where(kept > 0, joints, 0), kept / total


# ---------------------------------------------------------------- twist


def twist_radius(angle, weight=0.5):
    """Return what is left (0 to 1) of the distance to the axis when a twist is blended linearly.

    angle: radians (...), between two joints. weight: (...), the share of one of
    them. The mean of two points on a circle: sqrt(1 - 2 w (1 - w) (1 - cos
    angle)), half and half cos(angle / 2). Source: Kavan et al. 2008, section 1.

    >>> round(float(twist_radius(np.pi / 2)), 6), round(float(abs(twist_radius(np.pi))), 6)
    (0.707107, 0.0)
    """
    angle, weight = arguments.array("angle", angle, ()), arguments.array("weight", weight, ())
    arguments.broadcast(angle=angle.shape, weight=weight.shape)
    return np.sqrt(np.maximum(1 - 4 * weight * (1 - weight) * np.sin(angle / 2) ** 2, 0))


def spread_twist(q, axis, shares):
    """Return local turns (..., n, 4) about `axis` of n joints in a row that together twist as q does.

    q: (..., 4), its swing is left out. axis: (..., 3). shares: (n,), adding up to
    one. Each neighbour then twists by its share only, and loses little radius. A
    quaternion knows no more than half a turn: 200 degrees one way are 160 the other,
    so spread what an arm may twist beyond that by its own angle.

    >>> turns = spread_twist(rotation.from_axis_angle([1, 0, 0], 1.2), [1, 0, 0], [0.5, 0.25, 0.25])
    >>> rotation.twist_angle(turns, [1, 0, 0]).round(6)
    array([0.6, 0.3, 0.3])
    """
    shares, axis = arguments.array("shares", shares, ()), arguments.directions("axis", axis)
    if shares.ndim != 1 or abs(shares.sum() - 1) > arguments.UNIT_TOLERANCE:
        raise ValueError(f"shares is {arguments.shorten(shares)}; expected numbers that add up to 1, one a joint")
    angle = rotation.twist_angle(q, axis)
    return rotation.from_axis_angle(axis[..., None, :], angle[..., None] * shares)


# ---------------------------------------------------------------- checks


def checked(vertices, joints, weights, rotations, translations):
    """Return the five arguments of a blend as arrays that fit together, or raise."""
    vertices, joints, weights = checked_binding(vertices, joints, weights)
    rotations, translations = checked_transforms(rotations, translations)
    _check_joints(joints, rotations.shape[-2])
    return vertices, joints, weights, rotations, translations


def checked_transforms(rotations, translations):
    """Return skinning rotations (..., J, 4) and translations (..., J, 3) that fit together, or raise."""
    rotations, translations = arguments.quaternions("rotations", rotations), arguments.points("translations", translations)
    if rotations.ndim < 2 or translations.ndim < 2 or rotations.shape[-2] != translations.shape[-2]:
        raise ValueError(
            f"rotations {rotations.shape} and translations {translations.shape} do not fit; "
            "expected (..., J, 4) and (..., J, 3)"
        )
    arguments.broadcast(rotations=rotations.shape[:-2], translations=translations.shape[:-2])
    return rotations, translations


def checked_binding(vertices, joints, weights):
    """Return vertices (V, 3), joints (V, K) and weights (V, K) that fit together, or raise."""
    vertices, weights, joints = arguments.points("vertices", vertices), arguments.array("weights", weights, ()), np.asarray(joints)
    if vertices.ndim != 2:
        raise ValueError(f"vertices has shape {vertices.shape}; expected (V, 3): one mesh at a time")
    if joints.ndim != 2 or joints.shape != weights.shape or len(joints) != len(vertices):
        raise ValueError(
            f"joints {joints.shape} and weights {weights.shape} do not fit; "
            f"expected ({len(vertices)}, K) for both, a row a vertex"
        )
    if not np.issubdtype(joints.dtype, np.integer):
        raise ValueError(f"joints holds {joints.dtype} numbers; expected integers, the places of joints in the skeleton")
    bad = (np.abs(weights.sum(axis=1) - 1) > arguments.UNIT_TOLERANCE) | (weights < 0).any(axis=1)
    if bad.any():
        row = int(bad.argmax())
        raise ValueError(
            f"weights[{row}] is {arguments.shorten(weights[row])}; "
            "expected weights of 0 or more that add up to 1: divide the row by its sum"
        )
    return vertices, joints.astype(np.intp), weights


def _check_joints(joints, count):
    bad = ((joints < 0) | (joints >= count)).any(axis=1)
    if bad.any():
        row = int(bad.argmax())
        raise ValueError(f"joints[{row}] is {joints[row].tolist()}; expected numbers from 0 to {count - 1}, one for each transform given")
