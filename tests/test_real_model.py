"""A humanoid that others made, read from its package: the maths against a physics engine and against the model's own tables.

The model: PyPI jvrc-description 1.1.1 (Apache-2.0; (c) CNRS-UM LIRMM, CNRS-AIST JRL), a virtual humanoid for education and research, 44
turning joints. The oracle for forward kinematics: PyPI mujoco-core 4.0 (Apache-2.0), which reads the same file.
"""

import xml.etree.ElementTree as ElementTree

import jvrc_description
import mujoco
import numpy as np
import pytest

import rigkit as rk
from rigkit import foot, frame, limb, mirror, symmetry
from tests import urdf

PLANE = mirror.Plane(normal=(0, 1, 0))  # a URDF's y is to the left
ROBOT = urdf.read(jvrc_description.urdf_path, jvrc_description.meshes_path)
SKELETON = ROBOT.skeleton
MOVING = SKELETON.keep([SKELETON.names[i] for i in ROBOT.turning])
LIMITS = ROBOT.limits[ROBOT.turning]
AXES = ROBOT.axes[ROBOT.turning]


@pytest.fixture(scope="module")
def engine():
    """The same file in the physics engine, without its shells."""
    root = ElementTree.parse(jvrc_description.urdf_path).getroot()
    for link in root.findall("link"):
        for part in (*link.findall("visual"), *link.findall("collision")):
            link.remove(part)
    made = ElementTree.SubElement(root, "mujoco")
    ElementTree.SubElement(made, "compiler", fusestatic="false", balanceinertia="true", boundmass="0.001", boundinertia="0.000001")
    return mujoco.MjModel.from_xml_string(ElementTree.tostring(root, encoding="unicode"))


def engine_pose(model, angles):
    """World positions (J, 3) and rotations (J, 4) that the engine gives for an angle a joint (J,), in the skeleton's order."""
    data = mujoco.MjData(model)
    names = {urdf.sided(model.joint(k).name): model.joint(k).qposadr[0] for k in range(model.njnt)}
    for i in ROBOT.turning:
        data.qpos[names[SKELETON.names[i]]] = angles[i]
    mujoco.mj_kinematics(model, data)
    body = [0, *(mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_BODY, link) for link in ROBOT.body[1:])]  # the base is the engine's world
    return data.xpos[body], data.xquat[body][:, [1, 2, 3, 0]]


def random_angles(seed, count):
    low, high = ROBOT.limits.T
    return np.random.default_rng(seed).uniform(low, high, (count, len(SKELETON)))


def shell(name):
    """The points of a joint's shell in the world at rest."""
    i, world = SKELETON.index(name), SKELETON.rest_world
    return frame.to_world((world.rotations[i], world.positions[i]), ROBOT.shells[name])


# ---- forward kinematics ---------------------------------------------------------------------------------------------


@pytest.mark.source("MuJoCo", "JVRC-1")
def test_every_joint_stands_where_the_engine_puts_it(engine):
    angles = random_angles(0, 200)
    world = SKELETON.forward(ROBOT.rotations(angles))
    for k, pose in enumerate(angles):
        positions, rotations = engine_pose(engine, pose)
        np.testing.assert_allclose(world.positions[k], positions, atol=1e-12)
        assert rk.rotation.angle(world.rotations[k], rotations).max() < 1e-7
        np.testing.assert_allclose(SKELETON.forward(ROBOT.rotations(pose)).positions, positions, atol=1e-12)


@pytest.mark.source("JVRC-1")
def test_the_model_is_as_big_as_its_makers_say():
    """44 turning joints, as the file lists them; 1.72 m tall (the model's data sheet (memory)), 1.71 from sole to crown here."""
    points = np.vstack([shell(name) for name in ROBOT.shells])
    assert len(ROBOT.turning) == 44 and len(SKELETON) == 60
    assert np.ptp(points[:, 2]) == pytest.approx(1.72, abs=0.02)


# ---- symmetry -------------------------------------------------------------------------------------------------------


@pytest.mark.source("JVRC-1")
def test_its_joints_are_symmetric_to_rounding():
    off = symmetry.asymmetry(MOVING, PLANE)
    assert len(off) == 44 and max(off.values()) < 1e-14


@pytest.mark.source("JVRC-1")
def test_the_plane_of_its_shells_is_found():
    """From 13,564 points, with no hint: the plane y = 0, to a hundredth of a millimetre and three ten-thousandths of a degree.

    What keeps it off is pairs that are none: a point of the shells' fine details within a millimetre of another one's image.
    """
    plane = symmetry.best_plane(np.vstack([shell(name) for name in ROBOT.shells]))
    assert abs(plane.point[1]) < 1e-5
    assert np.degrees(np.arcsin(np.linalg.norm(np.cross(plane.normal, [0, 1, 0])))) < 3e-4


@pytest.mark.source("JVRC-1")
@pytest.mark.parametrize("name", ["hip_r", "hip_y", "knee", "shoulder_p", "shoulder_y", "elbow_p", "elbow_y", "wrist_y"])
def test_its_limbs_have_the_same_shells_on_both_sides(name):
    both = np.vstack([shell(f"left_{name}"), shell(f"right_{name}")])
    assert symmetry.partners(both, PLANE, 1e-4).share == 1.0


@pytest.mark.source("JVRC-1")
def test_its_feet_and_hands_have_not():
    """The measure finds what its makers left unequal: two points of a foot, and the fingers' turns about their length."""
    feet = symmetry.partners(np.vstack([shell("left_ankle_p"), shell("right_ankle_p")]), PLANE, 1e-4)
    assert len(ROBOT.shells["left_ankle_p"]) - len(ROBOT.shells["right_ankle_p"]) == 2 and 0.99 < feet.share < 1
    fingers = symmetry.partners(np.vstack([shell("left_uindex"), shell("right_uindex")]), PLANE, 1e-4)
    assert fingers.share == 0


# ---- the other side -------------------------------------------------------------------------------------------------


@pytest.mark.source("JVRC-1")
def test_the_derived_signs_mirror_its_published_limits():
    """Each joint's range, from the makers' table: the left one is the right one times the sign that `channel_signs` derives."""
    world, other = MOVING.rest_world, mirror.counterparts(MOVING.names)
    signed = 0
    for i, j in enumerate(other):
        if i == j:
            continue
        turns, _ = mirror.channel_signs(world.rotations[i], world.rotations[j], PLANE)
        sign = turns[np.abs(AXES[i]).argmax()]
        np.testing.assert_allclose(sorted(sign * LIMITS[i]), LIMITS[j], atol=1e-11)
        signed += sign < 0
    assert signed == 28  # on each side 4 rolls, 4 yaws and 6 fingers turn round, and 5 pitches stay


@pytest.mark.source("MuJoCo", "JVRC-1")
def test_a_flipped_pose_is_what_the_engine_makes_of_mirrored_angles(engine):
    angles = random_angles(3, 20)
    other, world = mirror.counterparts(MOVING.names), MOVING.rest_world
    signs = [mirror.channel_signs(world.rotations[i], world.rotations[j], PLANE)[0][np.abs(AXES[i]).argmax()] for i, j in enumerate(other)]
    flipped = np.zeros_like(angles)
    flipped[:, ROBOT.turning[other]] = np.array(signs) * angles[:, ROBOT.turning]
    rotations, translations = mirror.pose(MOVING, PLANE, ROBOT.rotations(angles)[:, ROBOT.turning])
    found = MOVING.forward(rotations, translations)
    for k in range(len(angles)):
        positions, turns = engine_pose(engine, flipped[k])
        np.testing.assert_allclose(found.positions[k], positions[ROBOT.turning], atol=1e-12)
        assert rk.rotation.angle(found.rotations[k], turns[ROBOT.turning]).max() < 1e-7


# ---- limbs and feet -------------------------------------------------------------------------------------------------


@pytest.mark.source("MuJoCo", "JVRC-1")
@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("joints", [("hip_p", "knee", "ankle_r"), ("shoulder_p", "elbow_p", "wrist_r")])
def test_two_bones_reach_where_the_engine_stands(engine, side, joints):
    """Hand the solver the engine's end joint as the target and its middle joint as the pole: both come out again."""
    rows = [SKELETON.index(f"{side}_{name}") for name in joints]
    rest = SKELETON.rest_world.positions[rows]
    root, mid, end = np.array([engine_pose(engine, angles)[0][rows] for angles in random_angles(5, 50)]).swapaxes(0, 1)
    solved = limb.solve(root, root + rest[1] - rest[0], root + rest[2] - rest[0], target=end, pole=mid)
    assert solved.reached.all()
    np.testing.assert_allclose(solved.mid, mid, atol=1e-7)
    np.testing.assert_allclose(solved.end, end, atol=1e-9)


@pytest.mark.source("JVRC-1")
def test_the_pivots_of_its_feet_are_mirror_images_and_its_foot_rolls_on_the_floor():
    """The ball is ours, two thirds along the sole: this robot has one sole plate a foot."""
    made = {}
    for side in ("left", "right"):
        ankle, points = SKELETON.rest_world.positions[SKELETON.index(f"{side}_ankle_r")], shell(f"{side}_ankle_p")
        own = foot.own_frame(ankle, ankle + [0.1, 0, -0.05], up=[0, 0, 1], floor=points[:, 2].min())
        outline = foot.sole(frame.to_local(own, points), within=1e-3)
        ball = [0, 0.01, outline[:, 2].min() + 2 / 3 * np.ptp(outline[:, 2])]
        made[side] = foot.pivots(outline, ball, side)
        roll, tilt = np.meshgrid(np.linspace(-0.8, 1.5, 24), np.linspace(-0.5, 0.5, 11))
        assert foot.carried(outline, made[side], foot.stack(made[side], roll, tilt, swivel=0.3))[..., 1].min() > -1e-4
    for name in ("heel", "toe", "inner", "outer"):
        np.testing.assert_allclose(getattr(made["left"], name), getattr(made["right"], name) * [-1, 1, 1], atol=1e-4)
