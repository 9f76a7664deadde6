"""Forward kinematics: from local turns and moves to world ones.

A joint's local transform says where it is seen from its parent. The world
transform of a joint is its parent's world transform times its own local one;
so a list with parents first is worked through once, front to back. This is
`joint_by_joint`, the form to read.
"""

import numpy as np

from rigkit.arithmetic import matrix, product, rotate


def joint_by_joint(parents, rotations, translations):
    """Return world (rotations (..., J, 4), positions (..., J, 3)) of local ones of the same shapes.

    parents: J integers, -1 for a root, parents first. For a joint j with parent
    p: R_j = R_p r_j and x_j = x_p + R_p t_j.

    >>> bent = [[0, 0, np.sqrt(0.5), np.sqrt(0.5)], [0, 0, 0, 1]]
    >>> joint_by_joint([-1, 0], np.array(bent), np.array([[0.0, 0, 0], [2, 0, 0]]))[1].round(6) + 0.0
    array([[0., 0., 0.],
           [0., 2., 0.]])
    """
    world, positions = rotations.copy(), translations.copy()
    for joint, parent in enumerate(parents):
        if parent >= 0:
            world[..., joint, :] = product(world[..., parent, :], rotations[..., joint, :])
            positions[..., joint, :] = positions[..., parent, :] + rotate(world[..., parent, :], translations[..., joint, :])
    return world, positions


def local_matrices(rotations, translations, scales=None):
    """Return translation times rotation times scale as matrices (..., 4, 4).

    rotations: (..., 4). translations: (..., 3). scales: (..., 3) or None. The
    order T R S is that of glTF 2.0 (section 3.5.3, Transformations).
    """
    m = np.zeros(np.broadcast_shapes(rotations.shape[:-1], translations.shape[:-1]) + (4, 4))
    m[..., :3, :3] = matrix(rotations)
    if scales is not None:
        m[..., :3, :3] *= scales[..., None, :]
    m[..., :3, 3] = translations
    m[..., 3, 3] = 1.0
    return m


def chained_matrices(parents, local):
    """Return world matrices (..., J, 4, 4) of local ones, whatever they hold: turns, moves, scale, shear."""
    world = local.copy()
    for joint, parent in enumerate(parents):
        if parent >= 0:
            world[..., joint, :, :] = world[..., parent, :, :] @ local[..., joint, :, :]
    return world
