"""Tally's rig: what an animator complains of first must not happen, on several variants."""

from pathlib import Path

import numpy as np
import pytest

import rigkit as rk
from rigkit import frame, posing
from rigkit.placement import touching_angle
from rigkit.robot import rig as script
from rigkit.robot.rig import tally_rig
from rigkit.view import collide

VARIANTS = (0, 2, 5, 29, 61, 99)  # 29, 61 and 99 leave the least room of the first hundred
TUBES = {"elbow": ("upper_arm_tube", "forearm_tube"), "knee": ("thigh_tube", "shin_tube")}
FINGERS = [f"left_finger_{number}_{piece}" for number in ("01", "02", "03") for piece in ("base", "tip")]


# ---- shells ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("variant", VARIANTS)
@pytest.mark.parametrize("part", list(TUBES))
def test_the_tubes_of_elbow_and_knee_stay_apart_inside_the_hinge_range(variant, part):
    robot = rk.tally(variant)
    fixed, moving = (robot.part(f"left_{name}").mesh for name in TUBES[part])
    free = touching_angle(fixed, moving, robot.landmarks[f"left_{part}"], robot.hinges[f"left_{part}"], tolerance=1e-3)
    low, high = script.hinge_range(robot, part)
    assert low < 0 < high < free
    channel = tally_rig(variant).channel(f"left_{part}_control.turn_z")
    assert (channel.low, channel.high) == (low, high)


def test_the_hinge_ranges_are_useful():
    assert script.HINGES["elbow"][2] >= 100 and script.HINGES["knee"][2] >= 95


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_target_bends_a_limb_no_further_than_its_shells_leave_free(side):
    rig = tally_rig()
    towards = rig.control(f"{side}_shoulder_control").position - rig.control(f"{side}_hand_control").position
    pose = rig.pose({f"{side}_hand_control.move": towards, f"{side}_foot_control.move_y": 0.4})
    for (root, mid, end), most in ((("shoulder", "elbow", "wrist"), 100), (("hip", "knee", "ankle"), 95)):
        joints = (pose.positions[rig.skeleton.index(f"{side}_{part}_joint")] for part in (root, mid, end))
        assert np.degrees(rk.bend.angle(*joints)) == pytest.approx(most, abs=1e-6)


def shells(variant, names, values):
    """Every pair of these parts that is apart at rest, and how far it is then, metres: negative where they overlap."""
    robot, rig = rk.tally(variant), tally_rig(variant)
    pose, rest = rig.pose(values), rig.pose()
    posed = {}
    for name in names:
        part = robot.part(name)
        carried = frame.compose(pose.frame(part.joints[0]), frame.invert(rest.frame(part.joints[0])))
        posed[name] = part, frame.to_world(carried, part.mesh.vertices)
    for i, one in enumerate(names):
        for other in names[i + 1 :]:
            (a, moved_a), (b, moved_b) = posed[one], posed[other]
            if collide.clearance((a.mesh.vertices, a.mesh.triangles), (b.mesh.vertices, b.mesh.triangles), beyond=0.02)[0] > 0:
                yield one, other, collide.clearance((moved_a, a.mesh.triangles), (moved_b, b.mesh.triangles), beyond=0.02)[0]


def overlapping(variant, names, values):
    return [(one, other, gap) for one, other, gap in shells(variant, names, values) if gap < 0]


@pytest.mark.parametrize("curl", [-1.0, 0.5, 1.0])
@pytest.mark.parametrize("variant", [0, 5, 23])
def test_fingers_open_and_close_without_meeting(variant, curl):
    names = [*FINGERS, "left_gripper_plate", "left_wrist_collar"]
    assert overlapping(variant, names, {"left_hand_control.curl": curl}) == []


def test_closed_fingers_nearly_meet():
    tips = [name for name in FINGERS if name.endswith("tip")]
    assert 0 < min(gap for _, _, gap in shells(0, tips, {"left_hand_control.curl": 1.0})) < 0.010


@pytest.mark.parametrize("turn", [-np.radians(50), np.pi / 6])
@pytest.mark.parametrize("variant", VARIANTS)
def test_the_toe_cap_stays_clear_of_the_heel_block(variant, turn):
    channel = tally_rig(variant).channel("left_ball_control.turn_z")
    assert turn in (channel.low, channel.high)
    values = {"left_foot_control.blend": 0.0, "left_ball_control.turn_z": turn}
    assert overlapping(variant, ["left_heel_block", "left_toe_cap", "left_ankle_collar"], values) == []


@pytest.mark.parametrize("variant", [0, 3, 42])
@pytest.mark.parametrize("rise", [-9.0, 0.0, 9.0])
@pytest.mark.parametrize("side", [-9.0, 0.0, 9.0])
def test_eyes_look_to_their_limits_without_meeting_the_head(variant, side, rise):
    head = ["head_lantern", "head_window", "head_posts", "head_roof", "eye_bracket", "left_eye_barrel", "right_eye_barrel"]
    assert overlapping(variant, head, {"centre_eyes_control.move_x": side, "centre_eyes_control.move_y": rise}) == []


def test_eyes_cross_without_meeting_each_other():
    values = {"left_eye_control.move_x": -5.0, "right_eye_control.move_x": 5.0}
    assert overlapping(0, ["left_eye_barrel", "right_eye_barrel", "left_eye_lens", "right_eye_lens"], values) == []


@pytest.mark.parametrize("size", [1.0, 2.0, 0.01])
def test_stretch_and_girth_stay_on_their_bones_at_any_size_of_the_rig(size):
    """The volume is kept, 1 / sqrt(1.3) as thick; what hangs on the wrist is neither longer nor thicker."""
    rig = tally_rig()
    values = {f"left_hand_control.{name}": value for name, value in (("move_x", 0.5), ("stretch", 0.3), ("girth", 1.0))}
    pose = rig.pose({**values, "centre_whole_control.size": size, "centre_whole_control.turn_y": np.radians(137)})
    shoulder, elbow, wrist, gripper = (rig.skeleton.index(f"left_{part}_joint") for part in ("shoulder", "elbow", "wrist", "gripper"))
    np.testing.assert_allclose(pose.stretch[[shoulder, elbow, wrist, gripper]], [1.3, 1.3, 1, 1], atol=1e-9)
    np.testing.assert_allclose(pose.girth[[shoulder, elbow, wrist, gripper]], [1.3**-0.5, 1.3**-0.5, 1, 1], atol=1e-9)
    for joint in (wrist, gripper):
        axes = pose.matrices[joint, :3, :3]
        np.testing.assert_allclose(axes.T @ axes, size**2 * np.eye(3), atol=1e-9 * size**2)
    rest, bone = rig.skeleton.rest_world.positions, np.linalg.norm
    assert bone(pose.positions[elbow] - pose.positions[shoulder]) == pytest.approx(1.3 * size * bone(rest[elbow] - rest[shoulder]))


# ---- what an animator complains of first ------------------------------------------------------------------------------


@pytest.mark.parametrize("variant", VARIANTS)
def test_the_script_gives_40_to_55_joints_and_names_that_tell(variant):
    rig = tally_rig(variant)
    assert 40 <= len(rig.skeleton) <= 55
    assert rk.naming.check([c.name for c in rig.controls]) == []
    assert rig.double_transforms() == [] and rig.dead_channels() == []


def test_the_script_is_short():
    assert len(Path(script.__file__).read_text(encoding="utf-8").splitlines()) < 200


@pytest.mark.parametrize("side", ["left", "right"])
def test_every_control_stands_out_of_the_part_it_is_named_for(side):
    parts = {
        "shoulder": "upper_arm_tube", "elbow": "elbow_sleeve", "wrist": "wrist_collar", "hand": "gripper_plate",
        "hip": "thigh_tube", "knee": "knee_sleeve", "ankle": "ankle_collar", "ball": "ball_sleeve", "foot": "heel_block",
    }
    robot, rig = rk.tally(), tally_rig()
    for part, shell in parts.items():
        points = robot.part(f"{side}_{shell}").mesh.vertices
        assert rk.control.clearance(rig.control(f"{side}_{part}_control"), points) > 0, part


@pytest.mark.parametrize("follow", [0, 1, 2])
def test_a_hand_follows_body_head_or_the_whole(follow):
    """The body moves and turns, then the head: a hand that follows one of them goes where it carries it, else it stays."""
    rig = tally_rig()
    leader = ("centre_body_joint", "centre_head_joint", "centre_whole_control")[follow]
    values = {"centre_body_control.move_x": 0.2, "centre_body_control.turn_y": 0.5, "centre_head_control.turn_x": 0.3}
    pose, rest = rig.pose({**values, "left_hand_control.follow": follow}), rig.pose()
    carried = frame.compose(pose.frame(leader), frame.invert(rest.frame(leader)))
    turn, place = frame.compose(carried, rest.frame("left_hand_control"))
    found = pose.frame("left_hand_control")
    np.testing.assert_allclose(found[1], place, atol=1e-12)
    assert rk.rotation.angle(found[0], turn) < 1e-7
    if leader == "centre_whole_control":
        np.testing.assert_allclose(found[1], rest.frame("left_hand_control")[1], atol=1e-12)


def test_the_head_keeps_its_turn_in_the_world_where_asked_and_its_place_on_the_body():
    rig = tally_rig()
    turn = {"centre_body_control.turn_y": 0.5, "centre_body_control.move_x": 0.1}
    with_body, with_world = rig.pose(turn), rig.pose({**turn, "centre_head_control.follow": 1.0})
    head = rig.skeleton.index("centre_head_joint")
    assert rk.rotation.angle(with_world.rotations[head], rig.pose().rotations[head]) < 1e-7
    assert rk.rotation.angle(with_body.rotations[head], with_world.rotations[head]) == pytest.approx(0.5)
    np.testing.assert_allclose(with_body.positions[head], with_world.positions[head], atol=1e-12)


@pytest.mark.parametrize("variant", [0, 29])
def test_a_pose_flipped_twice_is_itself_and_reset_is_home(variant):
    rig, rng = tally_rig(variant), np.random.default_rng(variant)
    values = {name: float(rng.uniform(-0.1, 0.1)) for name in rig.home() if not name.endswith(("size", "follow", "blend"))}
    twice = posing.flipped(rig, posing.flipped(rig, values))
    assert twice.keys() == values.keys() and all(twice[name] == pytest.approx(values[name], abs=1e-15) for name in values)
    np.testing.assert_allclose(rig.pose(rig.home()).positions, rig.skeleton.rest_world.positions, atol=1e-9)
