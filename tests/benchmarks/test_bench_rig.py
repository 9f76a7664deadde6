"""Tally's whole rig, from controls to joints, one pose and many; beside SciPy's rigid transforms. Run with `--benchmark-only`.

No general-purpose library evaluates such a rig. SciPy is given a part of the work, the easier one: with the local turns and moves
that the rig found, chain the 46 joints' rigid transforms. Ours follows 29 controls, solves four limbs and a hose, rolls two feet, and aims
two eyes besides.
"""

import numpy as np
import pytest
from scipy.spatial.transform import RigidTransform, Rotation

from rigkit import arithmetic, skinning
from rigkit.motion import walk
from rigkit.robot.rig import tally_rig

RIG = tally_rig()
POSES = 2_000
VALUES = {
    "centre_body_control.move_y": -0.03, "centre_body_control.turn_y": 0.1, "left_hand_control.move_y": 0.1, "left_hand_control.curl": 0.5,
    "right_hand_control.move_z": 0.1, "left_foot_control.roll": 0.5, "right_foot_control.tilt": 0.1, "centre_eyes_control.move_x": 0.2,
}
HOSE = {**VALUES, "centre_hose_control.move_y": 0.05}
WALK = walk(RIG, "centre_body_control").motion
TIMES = np.linspace(0.0, 10.0, POSES)


def scipy(rotations, translations):
    """The world transforms of the joints, one after another, from their local ones."""
    world = []
    for joint, parent in enumerate(RIG.skeleton.parents):
        local = RigidTransform.from_components(translations[..., joint, :], Rotation.from_quat(rotations[..., joint, :]))
        world.append(local if parent < 0 else world[parent] * local)
    return world


def check(pose, world):
    np.testing.assert_allclose(pose.positions[..., -1, :], world[-1].translation, atol=1e-9)


@pytest.mark.benchmark(group="Tally's rig, one pose")
@pytest.mark.parametrize("values", [VALUES, HOSE], ids=["rigkit, hose at home", "rigkit, hose reaching too"])
def test_one_pose(benchmark, values):
    pose = benchmark(RIG.pose, values)
    check(pose, scipy(pose.local_rotations, pose.local_translations))


@pytest.mark.benchmark(group="Tally's rig, one pose")
def test_one_pose_chained_by_scipy_from_local_values(benchmark):
    pose = RIG.pose(VALUES)
    check(pose, benchmark(scipy, pose.local_rotations, pose.local_translations))


@pytest.mark.benchmark(group="Tally's rig, one pose, and a mesh of 10,000 vertices skinned")
def test_one_pose_with_a_mesh_of_ten_thousand_vertices(benchmark):
    """Random vertices, each on a joint and the two next in the list."""
    rng, count, rest = np.random.default_rng(0), len(RIG.skeleton), RIG.skeleton.rest_world
    joints = np.minimum(rng.integers(0, count, (10_000, 1)) + [0, 1, 2], count - 1)
    skin = skinning.bind(rng.normal(size=(10_000, 3)), joints, rng.dirichlet([3, 1, 1], 10_000))

    def posed():
        pose = RIG.pose(VALUES)
        turns = arithmetic.product(pose.rotations, arithmetic.conjugate(rest.rotations))
        return skin.linear_blend(turns, pose.positions - arithmetic.rotate(turns, rest.positions))

    assert benchmark(posed).shape == (10_000, 3)


@pytest.mark.benchmark(group=f"Tally's walk, {POSES:,} poses", min_rounds=3, max_time=1.0)
def test_many_poses(benchmark):
    pose = benchmark(lambda: RIG.pose(WALK.sample(TIMES)))
    check(pose, scipy(pose.local_rotations, pose.local_translations))


@pytest.mark.benchmark(group=f"Tally's walk, {POSES:,} poses", min_rounds=3, max_time=1.0)
def test_many_poses_chained_by_scipy_from_local_values(benchmark):
    pose = RIG.pose(WALK.sample(TIMES))
    check(pose, benchmark(scipy, pose.local_rotations, pose.local_translations))
