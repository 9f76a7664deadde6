"""A humanoid that others made, examined: what its own tables say is found from its names and shape alone.

The model: PyPI jvrc-description 1.1.1 (Apache-2.0; (c) CNRS-UM LIRMM, CNRS-AIST JRL), a virtual humanoid for education and research.
A robot description has z up, x ahead and the origin at the waist; its joints have an axis each, several to a place.
"""

from dataclasses import replace

import jvrc_description
import numpy as np
import pytest

import rigkit as rk
from rigkit import audit
from rigkit.audit import guess, rulebook, subject
from tests import urdf

ROBOT = urdf.read(jvrc_description.urdf_path, jvrc_description.meshes_path)
STAND = np.array([[0.0, 1, 0], [0, 0, 1], [1, 0, 0]])  # y up, z ahead, from z up, x ahead
WORLD = ROBOT.skeleton.rest_world
LIMBS = ("left_elbow", "right_elbow", "left_knee", "right_knee")


def shells(turn=np.eye(3), move=(0, 0, 0)):
    """Each joint's shell as a hard part, a triangle from each three points, turned as a whole."""
    for name, points in ROBOT.shells.items():
        i = ROBOT.skeleton.index(name)
        points = rk.frame.to_world((WORLD.rotations[i], WORLD.positions[i]), points)[: len(points) // 3 * 3] @ turn.T + move
        mesh = rk.Mesh(points, np.arange(len(points)).reshape(-1, 3))
        yield rk.Part(f"{name}_shell", mesh, (name,), np.ones((len(points), 1)))


@pytest.fixture(scope="module")
def lying():
    return rk.Character("as it comes", ROBOT.skeleton, shells())


@pytest.fixture(scope="module")
def standing():
    turn = rk.rotation.from_matrix(STAND)
    lowest = min(part.mesh.vertices[:, 1].min() for part in shells(STAND))
    move = np.array([0.0, -lowest, 0.0])
    local_turns, local_moves = ROBOT.skeleton.local(rk.rotation.multiply(turn, WORLD.rotations), WORLD.positions @ STAND.T + move)
    skeleton = rk.Skeleton(ROBOT.skeleton.names, ROBOT.skeleton.parents, local_moves, local_turns)
    return rk.Character("stood up", skeleton, shells(STAND, move))


def test_a_model_with_z_up_is_told_so(lying):
    found = audit.examine(lying)
    assert found.of("up")[0].value == pytest.approx(90, abs=5)
    assert found.of("plane_place")


def test_stood_up_on_the_floor_its_place_in_space_is_good(standing):
    found = audit.examine(standing)
    assert {"unit", "size", "up", "facing", "feet_floor", "plane_place", "mirror_place", "mirror_frame", "name_side"} <= set(found.examined)
    assert {"unit", "size", "up", "facing", "feet_floor", "plane_place", "mirror_place", "mirror_frame", "name_side"}.isdisjoint(
        found.broken
    )


def test_its_limbs_are_found_and_hinge_about_the_axes_of_its_own_table(standing):
    looked_at = subject.of(standing)
    found = guess.roles(looked_at, rulebook.read())
    names, world = looked_at.names, standing.skeleton.rest_world
    for role in LIMBS:
        joint = names[found.joints[role]]
        assert joint.startswith(role)
        row = ROBOT.skeleton.index(joint)
        axis = rk.rotation.rotate(world.rotations[row], ROBOT.axes[row])
        assert abs(axis @ found.hinges[role]) == pytest.approx(1.0, abs=1e-6)


def test_joints_that_share_a_place_are_bones_of_no_length(standing):
    places = standing.skeleton.rest_world.positions
    shared = sum(np.allclose(places[j], places[p], atol=1e-9) for j, p in enumerate(standing.skeleton.parents) if p >= 0)
    assert len(audit.examine(standing).of("zero_bone")) == shared > 20


def test_what_a_description_does_not_hold_is_not_examined(standing):
    found = audit.examine(standing)
    missing = {rule for rule, *_ in found.not_examined}
    assert {"control_pivot", "marker_plane", "foot_stack", "weight_far", "joint_centre"} <= missing
    assert {"control_pivot", "marker_plane", "foot_stack", "weight_far", "joint_centre"}.isdisjoint(found.examined)


def test_a_shifted_shoulder_is_found_on_it_too(standing):
    skeleton = standing.skeleton
    places = skeleton.rest_world.positions + [(0, 0.02, 0) if n == "right_shoulder_p" else (0, 0, 0) for n in skeleton.names]
    turns, moves = skeleton.local(skeleton.rest_world.rotations, places)
    moved = replace(standing, skeleton=rk.Skeleton(skeleton.names, skeleton.parents, moves, turns))
    (found,) = audit.examine(moved).of("mirror_place")
    assert found.where == "right_shoulder_p" and found.value == pytest.approx(20.0, rel=1e-6)
