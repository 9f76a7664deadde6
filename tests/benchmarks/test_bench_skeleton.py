"""Forward kinematics of 40 joints, beside SciPy's rigid transforms chained joint by joint. Run with `--benchmark-only`."""

import numpy as np
import pytest
from scipy.spatial.transform import RigidTransform, Rotation

import rigkit as rk
from tests.strategies import random_turns

POSES = 10_000


def figure():
    """A made-up two-legged tree of 40 joints: spine, arms with fingers, legs, a head."""
    branches = [(0, 3), (2, 4), (2, 4), (0, 5), (0, 5), (3, 6)] + [(6, 2), (6, 2), (10, 2), (10, 2), (10, 2), (2, 2)]
    parents = [-1]
    for start, count in branches:
        for step in range(count):
            parents.append(start if step == 0 else len(parents) - 1)
    rng = np.random.default_rng(4)
    count = len(parents)
    return rk.Skeleton([f"joint_{i:02d}" for i in range(count)], parents, rng.normal(size=(count, 3)), random_turns(rng, count))


FIGURE = figure()
POSE = random_turns(np.random.default_rng(5), len(FIGURE))
MANY = random_turns(np.random.default_rng(6), POSES, len(FIGURE))


def ours(turns):
    return FIGURE.forward(turns).matrices


def ours_turns_and_places(turns):
    world = FIGURE.forward(turns)
    return world.positions, world.rotations


def scipy(turns):
    """World transforms joint by joint; one transform each, or one for all poses."""
    world = []
    for joint, parent in enumerate(FIGURE.parents):
        local = RigidTransform.from_components(FIGURE.rest_translations[joint], Rotation.from_quat(turns[..., joint, :]))
        world.append(local if parent < 0 else world[parent] * local)
    return world


def test_the_figure_has_forty_joints():
    assert len(FIGURE) == 40


@pytest.mark.benchmark(group="forward kinematics, 40 joints, one pose")
@pytest.mark.parametrize("library", ["rigkit", "scipy"])
def test_one_pose(benchmark, library):
    result = benchmark(ours if library == "rigkit" else scipy, POSE)
    assert np.allclose(result[-1] if library == "rigkit" else result[-1].as_matrix(), scipy(POSE)[-1].as_matrix(), atol=1e-9)


@pytest.mark.benchmark(group=f"forward kinematics, 40 joints, {POSES:,} poses", min_rounds=3, max_time=1.0)
@pytest.mark.parametrize("library", ["rigkit", "scipy"])
def test_many_poses(benchmark, library):
    result = benchmark(ours_turns_and_places if library == "rigkit" else scipy, MANY)
    last = result[0][:, -1] if library == "rigkit" else result[-1].translation
    assert np.allclose(last[:20], FIGURE.forward(MANY[:20]).positions[:, -1], atol=1e-9)
