"""A mesh of 100,000 vertices on 40 joints with 4 weights each, beside SciPy's sparse matrices. Run with `--benchmark-only`.

SciPy's way with dual quaternions takes no care of signs; here all turns lie on one side, so that both give the same.
"""

import numpy as np
import pytest
from scipy.sparse import csr_array
from scipy.spatial.transform import RigidTransform, Rotation

from rigkit import binding, rotation, skinning

VERTICES, JOINTS = 100_000, 40


def mesh():
    """Vertices in a row of 40 stretches; each follows its own joint and the three nearest."""
    rng = np.random.default_rng(2)
    main = np.sort(rng.integers(0, JOINTS, VERTICES))
    joints = np.clip(main[:, None] + [0, 1, -1, 2], 0, JOINTS - 1)
    weights = rng.uniform(0, 1, (VERTICES, 4)) + [1, 0, 0, 0]
    return rng.normal(size=(VERTICES, 3)), joints, weights / weights.sum(axis=1, keepdims=True)


MESH = mesh()
RNG = np.random.default_rng(3)
TURNS, MOVES = rotation.from_vector(RNG.uniform(-1, 1, (JOINTS, 3))), RNG.normal(size=(JOINTS, 3))


def sparse():
    vertices, joints, weights = MESH
    rows = np.repeat(np.arange(VERTICES), 4)
    return csr_array((weights.ravel(), (rows, joints.ravel())), shape=(VERTICES, JOINTS))


def scipy_linear(weights):
    matrices = RigidTransform.from_components(MOVES, Rotation.from_quat(TURNS)).as_matrix()[:, :3]
    blended = (weights @ matrices.reshape(JOINTS, 12)).reshape(-1, 3, 4)
    return np.einsum("vij,vj->vi", blended[..., :3], MESH[0]) + blended[..., 3]


def scipy_dual(weights):
    pairs = RigidTransform.from_components(MOVES, Rotation.from_quat(TURNS)).as_dual_quat()
    return RigidTransform.from_dual_quat(weights @ pairs).apply(MESH[0])


def prepared(library, ours, theirs):
    if library == "scipy":
        weights = sparse()
        return lambda: theirs(weights)
    skin = skinning.bind(*MESH)
    return lambda: getattr(skin, ours)(TURNS, MOVES)


@pytest.mark.benchmark(group=f"linear blend, {VERTICES:,} vertices, {JOINTS} joints")
@pytest.mark.parametrize("library", ["rigkit", "scipy"])
def test_linear_blend(benchmark, library):
    moved = benchmark(prepared(library, "linear_blend", scipy_linear))
    assert np.allclose(moved, binding.linear_blend(*MESH, TURNS, MOVES), atol=1e-9)


@pytest.mark.benchmark(group=f"dual quaternions, {VERTICES:,} vertices, {JOINTS} joints")
@pytest.mark.parametrize("library", ["rigkit", "scipy"])
def test_dual_quaternions(benchmark, library):
    moved = benchmark(prepared(library, "dual_quaternion", scipy_dual))
    assert np.allclose(moved, binding.dual_quaternion(*MESH, TURNS, MOVES), atol=1e-9)
