"""Forward kinematics of a real humanoid with 60 joints, beside the physics engine that the tests compare it with.

Run with: python -m tests.benchmarks real_model
"""

import mujoco
import numpy as np
import pytest

from tests.test_real_model import ROBOT, SKELETON, engine, random_angles  # noqa: F401 (engine is a fixture)

MANY = 10_000


@pytest.fixture(scope="module")
def poses():
    return ROBOT.rotations(random_angles(1, MANY))


@pytest.mark.benchmark(group="forward kinematics of a humanoid, 60 joints, one pose")
def test_rigkit_one_pose(benchmark, poses):
    assert benchmark(lambda: SKELETON.forward(poses[0]).positions).shape == (60, 3)


@pytest.mark.benchmark(group="forward kinematics of a humanoid, 60 joints, one pose")
def test_mujoco_one_pose(benchmark, engine):  # noqa: F811
    """From joint angles; the engine multiplies the turns in itself, in C."""
    data = mujoco.MjData(engine)
    data.qpos[:] = 0.1
    benchmark(mujoco.mj_kinematics, engine, data)
    assert data.xpos.shape == (engine.nbody, 3)


@pytest.mark.benchmark(group="forward kinematics of a humanoid, 60 joints, 10,000 poses")
def test_rigkit_many_poses(benchmark, poses):
    assert benchmark.pedantic(lambda: SKELETON.forward(poses).positions, rounds=5, warmup_rounds=1).shape == (MANY, 60, 3)


@pytest.mark.benchmark(group="forward kinematics of a humanoid, 60 joints, 10,000 poses")
def test_mujoco_many_poses(benchmark, engine):  # noqa: F811
    """A loop, places and turns copied out."""
    data = mujoco.MjData(engine)
    angles = np.random.default_rng(0).uniform(-0.5, 0.5, (MANY, engine.nq))
    places, turns = np.empty((MANY, engine.nbody, 3)), np.empty((MANY, engine.nbody, 4))

    def loop():
        for k, pose in enumerate(angles):
            data.qpos[:] = pose
            mujoco.mj_kinematics(engine, data)
            places[k], turns[k] = data.xpos, data.xquat

    benchmark.pedantic(loop, rounds=3, warmup_rounds=1)
