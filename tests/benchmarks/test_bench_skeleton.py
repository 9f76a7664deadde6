"""Forward kinematics of 40 joints, beside SciPy's rigid transforms chained joint by joint, and a physics engine in C.

Run with: python -m tests.benchmarks skeleton
"""

import mujoco
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


def engine():
    """The figure as a model of the engine: a body with a ball joint for each joint. Its order of bodies is depth first, its own."""
    def body(joint):
        below = "".join(body(child) for child in np.flatnonzero(FIGURE.parents == joint))
        place = " ".join(map(str, FIGURE.rest_translations[joint]))
        return f'<body name="{FIGURE.names[joint]}" pos="{place}"><joint type="ball"/><geom size="0.01"/>{below}</body>'

    model = mujoco.MjModel.from_xml_string(f"<mujoco><worldbody>{body(0)}</worldbody></mujoco>")
    order = [FIGURE.index(model.body(k).name) for k in range(1, model.nbody)]
    return model, mujoco.MjData(model), order


def mujoco_turns(turns, order):
    """(w, x, y, z) of the joints in the engine's order, one row a pose."""
    return np.ascontiguousarray(turns[..., order, :][..., [3, 0, 1, 2]].reshape(*turns.shape[:-2], -1))


@pytest.mark.benchmark(group="forward kinematics, 40 joints, one pose")
def test_one_pose_by_mujoco(benchmark):
    model, data, order = engine()
    data.qpos[:] = mujoco_turns(POSE, order)
    benchmark(mujoco.mj_kinematics, model, data)
    assert np.allclose(data.xpos[1:], FIGURE.forward(POSE).positions[order], atol=1e-9)


@pytest.mark.benchmark(group=f"forward kinematics, 40 joints, {POSES:,} poses", min_rounds=3, max_time=1.0)
def test_many_poses_by_mujoco(benchmark):
    """A loop, places and turns copied out."""
    model, data, order = engine()
    qpos, places, rotations = mujoco_turns(MANY, order), np.empty((POSES, 41, 3)), np.empty((POSES, 41, 4))

    def loop():
        for k, pose in enumerate(qpos):
            data.qpos[:] = pose
            mujoco.mj_kinematics(model, data)
            places[k], rotations[k] = data.xpos, data.xquat

    benchmark(loop)
    assert np.allclose(places[:20, 1:], FIGURE.forward(MANY[:20]).positions[:, order], atol=1e-9)


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
