"""Forward kinematics: from local turns and moves to world ones.

A joint's local transform says where it is seen from its parent. The world
transform of a joint is its parent's world transform times its own local one;
so a list with parents first is worked through once, front to back. This is
`joint_by_joint`, the form to read. Two faster forms give the same numbers, and
tests hold them equal: `doubling` for one pose, `in_blocks` for many.
"""

import numpy as np

from rigkit.arithmetic import matrix, product, product_rows, rotate, rotate_rows

BLOCK = 2048  # poses worked on together: few enough to stay in the processor's cache


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


# ---------------------------------------------------------------- one pose: as many rounds as the depth has binary digits


def rounds(parents):
    """Return the rounds of `doubling`: pairs (joints, the ancestor of each that is 1, 2, 4, ... steps above it).

    >>> [(joints.tolist(), above.tolist()) for joints, above in rounds(np.array([-1, 0, 1, 2]))]
    [([1, 2, 3], [0, 1, 2]), ([2, 3], [0, 1])]
    """
    above, found = np.array(parents), []
    while (above >= 0).any():
        joints = np.flatnonzero(above >= 0)
        found.append((joints, above[joints]))
        above = np.where(above >= 0, above[above], -1)
    return found


def doubling(rounds, matrices):
    """Return world matrices (J, 4, 4) of local ones; `matrices` is worked on in place.

    After each round a joint's matrix reaches twice as far up the chain: pointer
    jumping (J. C. Wyllie, The complexity of parallel computations, Cornell
    University, 1979 (memory)). All joints of a round are one call of numpy.
    """
    for joints, above in rounds:
        matrices[joints] = matrices.take(above, axis=0) @ matrices.take(joints, axis=0)
    return matrices


def affine_matrices(rotations, translations):
    """The local matrices (J, 4, 4) of rotations (J, 4) and translations (J, 3), fast for one pose."""
    matrices = (rotations.take(_FIRST, axis=1) * rotations.take(_SECOND, axis=1) @ _TO_MATRIX).reshape(-1, 4, 4)
    matrices[:, :3, 3] = translations
    return matrices


def product_matrices(rotations):
    """The matrices (J, 4, 4) with `product(q, r) = matrix @ r`; their last column is q itself."""
    return (rotations @ _TO_PRODUCT).reshape(-1, 4, 4)


def _matrix_table():
    """The ten products of two components, xx xy xz ... ww, as entries of the matrix of the turn: (10, 16)."""
    first, second = np.triu_indices(4)
    pairs = np.eye(4)[first], np.eye(4)[second]
    # a quadratic form f has the mixed part f(a + b) - f(a) - f(b), which is 2 f(a) where b is a
    form = np.array([_quadratic(a + b) - _quadratic(a) - _quadratic(b) for a, b in zip(*pairs)])
    form[first == second] /= 2
    return first, second, form.reshape(10, 16)


def _quadratic(q):
    """The matrix of the turn of a quaternion times the square of its length, (4, 4)."""
    square = float(q @ q)
    m = np.zeros((4, 4))
    m[:3, :3], m[3, 3] = matrix(q / np.sqrt(square)) * square, square
    return m


_FIRST, _SECOND, _TO_MATRIX = _matrix_table()
_TO_PRODUCT = np.array([[product(q, r) for r in np.eye(4)] for q in np.eye(4)]).transpose(0, 2, 1).reshape(4, 16)


# ---------------------------------------------------------------- many poses: blocks, poses last in memory


def in_blocks(parents, rotations, translations):
    """Return what `joint_by_joint` does for N poses, rotations (N, J, 4) and translations (N, J, 3), block by block.

    Poses come last in memory, so that each step of the product runs along one
    row; a block's rows stay in the cache. Memory beside the result: one block.
    """
    world, positions = np.empty(rotations.shape), np.empty(translations.shape)
    for start in range(0, len(rotations), BLOCK):
        block = slice(start, start + BLOCK)
        turns, places = _poses_last(rotations[block]), _poses_last(translations[block])
        for joint, parent in enumerate(parents):
            if parent >= 0:
                places[joint] = _place(turns[parent], places[parent], places[joint])
                turns[joint] = product_rows(turns[parent], turns[joint])
        world[block], positions[block] = turns.transpose(2, 0, 1), places.transpose(2, 0, 1)
    return world, positions


def _poses_last(values):
    return np.array(values.transpose(1, 2, 0), order="C")


def _place(q, origin, v):
    (ox, oy, oz), (x, y, z) = origin, rotate_rows(q, v)
    return ox + x, oy + y, oz + z
