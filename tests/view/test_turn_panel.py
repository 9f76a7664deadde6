"""Sliders that turn a joint: what hangs below goes along, the rest stays, and the numbers are those of one turn."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

import rigkit as rk
from rigkit.view import Viewer

ARM = ("left_elbow_joint", "left_wrist_joint", "left_gripper_joint")
Z, Y = np.eye(3)[2], np.eye(3)[1]


@pytest.fixture(scope="module")
def robot():
    return rk.tally()


@pytest.fixture
def viewer(robot):
    made = Viewer(robot)
    yield made
    made.close()


def about(axis, angle):
    return rk.rotation.from_axis_angle(axis, angle)


def fixed(first, second):
    """About z, then about the y that stays."""
    return rk.rotation.multiply(about(Y, second), about(Z, first))


def test_the_parts_below_turn_about_the_joint_and_the_others_stay(viewer, robot):
    before = {name: viewer.figure.part_points(name).copy() for name in ("left_forearm_tube", "left_gripper_plate", "left_upper_arm_tube")}
    viewer.turn("left_elbow_joint", {"first": (-180, 180), "second": (-180, 180)}, fixed)
    viewer.slide(first=40, second=-70)
    # SciPy's extrinsic "zy": about z, then about the y that stays
    turn, elbow = Rotation.from_euler("zy", [40, -70], degrees=True), robot.landmarks["left_elbow"]
    for name in ("left_forearm_tube", "left_gripper_plate"):
        assert viewer.figure.part_points(name) == pytest.approx(turn.apply(before[name] - elbow) + elbow, abs=1e-9)
    assert viewer.figure.part_points("left_upper_arm_tube") == pytest.approx(before["left_upper_arm_tube"])


def test_it_begins_from_a_pose(viewer, robot):
    skeleton = robot.skeleton
    pose = skeleton.rest_rotations.copy()
    pose[skeleton.index(ARM[0])] = rk.rotation.multiply(pose[skeleton.index(ARM[0])], about(Z, 0.9))
    viewer.turn("left_wrist_joint", {"turn": (0, 90)}, lambda angle: about(Y, angle), pose=pose, tip=ARM[2])
    world = skeleton.forward(pose)
    wrist, gripper = (world.positions[skeleton.index(name)] for name in ARM[1:])
    assert dict(viewer._panel.numbers())[ARM[2]] == f"{rk.words.point(gripper)} m"
    viewer.slide(turn=90)
    moved = Rotation.from_rotvec([0, np.pi / 2, 0]).apply(gripper - wrist) + wrist  # SciPy
    assert dict(viewer._panel.numbers())[ARM[2]] == f"{rk.words.point(moved)} m"


def test_it_says_the_one_turn_that_the_sliders_make(viewer):
    viewer.turn("left_elbow_joint", {"first": (-180, 180), "second": (-180, 180)}, fixed)
    assert "no turn yet" in viewer.text()
    viewer.slide(first=90)
    assert "one turn by 90.0 degrees about the axis (0.000, 0.000, 1.000)" in viewer.text()
    assert "(0.000, 0.000, 0.707, 0.707)" in viewer.text()


def test_a_whole_turn_shows_the_other_quaternion(viewer):
    viewer.turn("left_elbow_joint", {"turn": (-360, 360)}, lambda angle: about(Z, angle))
    viewer.slide(turn=360)
    assert dict(viewer._panel.numbers())["quaternion"] == "(0.000, 0.000, 0.000, -1.000)"


def test_the_way_goes_one_slider_after_the_other(viewer, robot):
    viewer.turn("left_elbow_joint", {"first": (-180, 180), "second": (-180, 180)}, fixed, tip=ARM[2])
    viewer.slide(first=90, second=90)
    way, elbow = viewer._panel._way(), robot.landmarks["left_elbow"]
    start = robot.landmarks["left_gripper"]
    assert way[0] == pytest.approx(start)
    assert way[23] == pytest.approx(Rotation.from_euler("z", 90, degrees=True).apply(start - elbow) + elbow)  # SciPy
    assert way[-1] == pytest.approx(viewer._panel.tip_at([90, 90]))
    assert np.linalg.norm(way - elbow, axis=1) == pytest.approx(np.linalg.norm(start - elbow))


def test_a_matrix_does_as_well_and_the_axes_are_drawn(viewer):
    def as_matrix(angle):
        return rk.rotation.to_matrix(about(Z, angle))

    viewer.turn("left_elbow_joint", {"turn": (0, 90)}, as_matrix, frame=np.eye(3), axes=lambda _: {"axis z": Z})
    viewer.slide(turn=30)
    assert [word.text for word in viewer._panel.layer().words] == ["axis z", "x", "y", "z"]
    assert rk.rotation.angle(viewer._panel.now, about(Z, np.radians(30))) < 1e-9


def test_it_needs_a_character():
    bare = Viewer()
    with pytest.raises(ValueError, match="a viewer with a character"):
        bare.turn("left_elbow_joint", {"turn": (0, 90)}, lambda angle: about(Z, angle))
    bare.close()
