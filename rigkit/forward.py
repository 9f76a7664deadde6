"""Forward kinematics: from local turns and moves to world ones.

A joint's local transform says where it is seen from its parent. The world
transform of a joint is its parent's world transform times its own local one;
so a list with parents first is worked through once, front to back. This is
`joint_by_joint`, the form to read. Two faster forms give the same numbers, and
tests hold them equal: `doubling` for one pose, `in_blocks` for many.
"""

import numpy as np

from rigkit.arithmetic import matrix, product, rotate, write_cross

BLOCK = 1000  # poses worked on together: they fit the cache; a power of two would step through memory onto the same few lines of it


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
    """Return the rounds of `doubling`: which joint is 1, 2, 4, ... steps above each; J, one past the last, stands for none.

    >>> [above.tolist() for above in rounds(np.array([-1, 0, 1, 2]))]
    [[4, 0, 1, 2, 4], [4, 4, 0, 1, 4]]
    """
    none = len(parents)
    above = np.append(np.where(np.less(parents, 0), none, parents), none)
    found = [above]
    while ((above := above[above]) < none).any():
        found.append(above)
    return found


def doubling(rounds, rotations, translations):
    """Return (turns (4, J + 1), turns' matrices (9, J + 1), positions (3, J + 1)) of one pose, as rows; the last column is no joint.

    After each round a joint's turn reaches twice as far up the chain: pointer
    jumping (J. C. Wyllie, The complexity of parallel computations, Cornell
    University, 1979 (memory)). Then each joint's step is turned by its parent, and
    the steps are added up by the same rounds. A product of quaternions, like the
    matrix of one, is a table times the products of pairs of components: few calls
    of numpy, each over all joints.
    """
    turns = np.empty((4, len(rotations) + 1))
    turns[:, :-1], turns[:, -1] = rotations.T, (0.0, 0.0, 0.0, 1.0)
    for above in rounds:
        pairs = turns.take(above, axis=1).take(_LEFT, axis=0)
        pairs *= turns.take(_RIGHT, axis=0)
        turns = _PRODUCT.dot(pairs)
    matrices = _MATRIX.dot(turns.take(_FIRST, axis=0) * turns.take(_SECOND, axis=0))
    steps = np.zeros((3, len(rotations) + 1))
    steps[:, :-1] = translations.T
    positions = _ROW_SUMS.dot(matrices.take(rounds[0], axis=1) * steps.take(_COLUMN, axis=0))
    for above in rounds:
        positions += positions.take(above, axis=1)
    return turns, matrices, positions


def laid_out(matrices, positions):
    """The world matrices (J, 4, 4) of the rows that `doubling` returns."""
    out = np.zeros((matrices.shape[1] - 1, 4, 4))
    out[:, :3, :3] = matrices[:, :-1].T.reshape(-1, 3, 3)
    out[:, :3, 3], out[:, 3, 3] = positions[:, :-1].T, 1.0
    return out


def _matrix_table():
    """The nine entries of a turn's matrix as sums of products of two components, xx xy xz ... ww: (first, second, (9, 10))."""
    first, second = np.triu_indices(4)
    pairs = np.eye(4)[first], np.eye(4)[second]
    # a quadratic form f has the mixed part f(a + b) - f(a) - f(b), which is 2 f(a) where b is a
    form = np.array([_quadratic(a + b) - _quadratic(a) - _quadratic(b) for a, b in zip(*pairs)])
    form[first == second] /= 2
    return first, second, np.ascontiguousarray(form.T)


def _quadratic(q):
    """The matrix of the turn of a quaternion (u, w) times the square of its length, (9,): (w^2 - u.u) I + 2 u u^T + 2 w [u]."""
    (x, y, z), w = q[:3], q[3]
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return ((w * w - q[:3] @ q[:3]) * np.eye(3) + 2 * np.outer(q[:3], q[:3]) + 2 * w * cross).ravel()


_LEFT, _RIGHT = (part.ravel() for part in np.indices((4, 4)))
_PRODUCT = np.ascontiguousarray(product(np.eye(4)[_LEFT], np.eye(4)[_RIGHT]).T)
_FIRST, _SECOND, _MATRIX = _matrix_table()
_COLUMN, _ROW_SUMS = np.tile(np.arange(3), 3), np.repeat(np.eye(3), 3, axis=1)


# ---------------------------------------------------------------- many poses: blocks, poses last in memory


def in_blocks(parents, rotations, translations):
    """Return what `joint_by_joint` does for N poses, block by block: rotations (N, J, 4), translations (N, J, 3) or (1, J, 3) for all.

    Poses come last in memory, so that each step of the product runs along whole
    rows; a block's rows stay in the cache. The rows of a vector are y, z, x, y, z:
    then three neighbours are the vector, or what its cross product needs of it.
    Memory beside the result: one block.
    """
    count, parents = len(rotations), np.asarray(parents).tolist()
    world, positions = np.empty(rotations.shape), np.empty((count, len(parents), 3))
    size = min(count, BLOCK)
    turns, places, spare = np.empty((len(parents), 6, size)), np.empty((len(parents), 3, size)), np.empty((11, size))
    moves = np.empty((len(parents), 5, min(size, len(translations))))
    for start in range(0, count, BLOCK):
        block = slice(start, min(start + BLOCK, count))
        turn, place, space = (rows[..., : block.stop - start] for rows in (turns, places, spare))
        move = moves[..., : block.stop - start]
        _lay(turn, rotations[block])
        if start == 0 or len(translations) > 1:
            _lay(move, translations[block] if len(translations) > 1 else translations)
        for joint, parent in enumerate(parents):
            if parent < 0:
                place[joint] = move[joint, 2:]
            else:
                _carry(turn[parent], place[parent], move[joint], place[joint], space)
                _turn(turn[parent], turn[joint], space)
        world[block], positions[block] = turn[:, 2:].transpose(2, 0, 1), place.transpose(2, 0, 1)
    return world, positions


def _lay(rows, values):
    """Write values (B, J, n) as rows (J, n + 2, B): y and z come once more, in front."""
    rows[:, 2:] = values.transpose(1, 2, 0)
    rows[:, :2] = rows[:, 3:5]


def _carry(q, origin, v, out, spare):
    """Write origin + v + 2 u x (u x v + w v) into `out`: the vector v turned by q = (u, w), from `origin`."""
    side, term = spare[:5], spare[5:8]
    write_cross(q, v, side[2:], term)
    side[2:] += np.multiply(q[5], v[2:], out=term)
    side[:2] = side[3:]
    write_cross(q, side, out, term)
    out += out
    out += v[2:]
    out += origin


def _turn(p, q, spare):
    """Write Hamilton's product p q into q: (w_p v_q + w_q v_p + v_p x v_q, w_p w_q - v_p . v_q)."""
    vector, term, last = spare[:3], spare[3:6], q[5]
    write_cross(p, q, vector, term)
    vector += np.multiply(p[5], q[2:5], out=term)
    vector += np.multiply(last, p[2:5], out=term)
    x, y, z = np.multiply(p[2:5], q[2:5], out=term)
    last *= p[5]
    for part in (x, y, z):
        last -= part
    q[2:5], q[:2] = vector, vector[1:]
