"""Tally's rig, built step by step: a worked example of how controls and links make a rig.

Read it from top to bottom: where things stand, the controls of the left side and the centre, the other
side by mirroring, and the links, limb by limb.

>>> rig = tally_rig()
>>> raised = rig.pose({"left_hand_control.move_y": 0.1, "left_hand_control.curl": 0.5})
>>> raised.positions[rig.skeleton.index("left_wrist_joint")].round(3)
array([0.257, 0.582, 0.012])
"""

from dataclasses import replace
from functools import lru_cache
from math import pi, radians

import numpy as np

from rigkit import bend, limb, mirror
from rigkit.control import Channel, Control, both_sides, fit, moves, turns
from rigkit.links import Chain, Follow, Foot, Gaze, Limb, Share
from rigkit.motion import Hinge, walk
from rigkit.rig import Rig
from rigkit.robot import FINGERS, tally
from rigkit.rotation import from_axis_angle

PLANE = mirror.Plane()
MARKER = 0.30  # metres from the middle joint to its marker
LOOK = 0.60  # metres from the eyes to what they look at
EYES = ((-radians(35), radians(35)), (-radians(30), radians(20)))  # right and left, down and up
CURL = {"base": radians(8), "middle": radians(24)}  # how far a finger's joints turn for a curl of one: the three tips nearly meet
TURN_OVER = radians(40)  # the roll at which the foot goes from ball to toe
HINGES = {"elbow": ("shoulder", "wrist", 100), "knee": ("hip", "ankle", 95)}  # above, below; degrees from straight, shells apart
SOLES = [f"{side}_{part}" for side in ("left", "right") for part in ("heel_block", "toe_cap")]
LIMB = (Channel("blend", 1.0, 0.0, 1.0), Channel("soft", 0.0, 0.0, 0.1), Channel("stretch", 0.0, 0.0, 1.0), Channel("girth", 0.0, 0.0, 1.0))


@lru_cache(maxsize=16)
def tally_rig(variant=0):
    """Return the Rig of `rigkit.tally(variant)`: 46 joints, 29 controls."""
    robot = tally(variant)
    left = [*centre(robot), *arm(robot), *leg(robot)]
    controls = both_sides(left, PLANE, {c.name: "matched" for c in left if turned(c)})
    links = [*body_links(), *hose_links(robot)]
    for side in ("left", "right"):
        links += [*arm_links(side), *leg_links(robot, side), *eye_links(side)]
    return Rig(robot.skeleton, controls, links)


def rigged_tally(variant=0):
    """Return the Character of `rigkit.tally(variant)` with its rig and a walk."""
    rig = tally_rig(variant)
    return replace(tally(variant), rig=rig, motions=(walk(rig, "centre_body_control").motion,))


def hinges(variant=0):
    """Return the Hinge of every elbow and knee: from straight to as far as the shells leave free."""
    return [Hinge(f"{side}_{part}_joint", (0, 0, 1), *hinge_range(tally(variant), part)) for side in ("left", "right") for part in HINGES]


def hinge_range(robot, part):
    """How far an elbow or a knee turns from rest, radians: back to straight, and on to its greatest bend."""
    above, below, most = HINGES[part]
    rest = bend.angle(*(robot.landmarks[f"left_{name}"] for name in (above, part, below)))
    return -float(rest), radians(most) - float(rest)


# ---- controls ---------------------------------------------------------------------------------------------------


def centre(robot):
    """Controls of the centre and the left eye: their frames stand like the world, so that x is the character's left."""
    figure, at = np.concatenate([part.mesh.vertices for part in robot.parts]), robot.landmarks
    ahead, tip = np.array([0.0, at["left_eye"][1], at["left_eye"][2] + LOOK]), at["hose_end"]
    follow = Channel("follow", 0.0, 0.0, 1.0)
    feet = np.concatenate([robot.part(name).mesh.vertices for name in SOLES])
    drum, lantern = (robot.part(name).mesh.vertices for name in ("body_drum", "head_lantern"))
    whole = Control("centre_whole_control", [0, 0, 0], channels=(*moves(), *turns(), Channel("size", 1.0, 0.01, 100.0)))
    return [
        fit(whole, "square", feet, figure, 0.3),
        fit(Control("centre_body_control", at["body"], channels=(*moves(), *turns())), "ring", drum, figure, 0.2),
        fit(Control("centre_head_control", at["head"], channels=(*turns(), follow)), "ring", lantern, figure),
        fit(Control("centre_eyes_control", ahead, channels=(*moves(), follow)), "diamond", ahead + np.diag([0.09, 0.01, 0.03]), figure),
        fit(Control("left_eye_control", ahead + (at["left_eye"][0], 0, 0), channels=moves()), "cross", [ahead], figure),
        fit(Control("centre_hose_control", tip, channels=moves()), "ball", robot.part("hose_coupling").mesh.vertices[:1], figure),
    ]


def arm(robot):
    """Controls of the left arm: a turned one on each joint, the hand that is the target, the elbow's marker."""
    hand = (*moves(), *turns(), Channel("curl", 0.0, -1.0, 1.0), Channel("follow", 0.0, 0.0, 2.0), *LIMB)
    return [
        on_joint(robot, "shoulder", turns(), "left_upper_arm_tube"),
        on_joint(robot, "elbow", turns("z", *hinge_range(robot, "elbow")), "left_elbow_sleeve"),
        on_joint(robot, "wrist", turns(), "left_wrist_collar"),
        around(robot, Control("left_hand_control", robot.landmarks["left_wrist"], channels=hand), "cage", "left_gripper_plate"),
        marker(robot, "shoulder", "elbow", "wrist"),
    ]


def leg(robot):
    """Controls of the left leg: turned ones, the foot, whose frame is the foot's own, and the knee's marker."""
    at = robot.landmarks
    ahead = at["left_ball"] - at["left_ankle"]
    own = from_axis_angle([0, 1, 0], np.arctan2(ahead[0], ahead[2]))
    rolling = Channel("roll", 0.0, -pi / 4, pi / 2), Channel("tilt", 0.0, -pi / 6, pi / 6), Channel("swivel", 0.0, -pi / 2, pi / 2)
    channels = (*moves(), *turns(), *rolling, *LIMB)
    foot = Control("left_foot_control", [at["left_ankle"][0], 0.0, at["left_ankle"][2]], own, channels)
    return [
        on_joint(robot, "hip", turns(), "left_thigh_tube"),
        on_joint(robot, "knee", turns("z", *hinge_range(robot, "knee")), "left_knee_sleeve"),
        on_joint(robot, "ankle", turns(), "left_ankle_collar"),
        on_joint(robot, "ball", turns("z", -radians(50), pi / 6), "left_toe_cap"),
        around(robot, foot, "square", "left_heel_block"),
        marker(robot, "hip", "knee", "ankle", (Channel("follow", 0.0, 0.0, 1.0),)),
    ]


def on_joint(robot, part, channels, around_part):
    """A turned control of the left side: its home frame is the joint's."""
    joint = robot.skeleton.index(f"left_{part}_joint")
    world = robot.skeleton.rest_world
    return around(robot, Control(f"left_{part}_control", world.positions[joint], world.rotations[joint], channels), "ring", around_part)


def marker(robot, root, mid, end, more=()):
    """The marker that carries the pole point of a left limb: on its bend plane, on the bend's side."""
    points = (robot.landmarks[f"left_{part}"] for part in (root, mid, end))
    control = Control(f"left_{mid}_marker", limb.pole_point(*points, MARKER), channels=(*moves(), *more))
    return fit(control, "diamond", [control.position], np.concatenate([part.mesh.vertices for part in robot.parts]))


def around(robot, control, shape, part):
    """The control with an outline that encloses a part of the robot."""
    return fit(control, shape, robot.part(part).mesh.vertices, np.concatenate([p.mesh.vertices for p in robot.parts]))


def turned(control):
    """Whether a control turns a limb's joint: equal turns then give mirror images."""
    part, kind = control.name.split("_")[1:]
    return kind == "control" and part in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle", "ball")


# ---- links ------------------------------------------------------------------------------------------------------


def body_links():
    """The whole carries the body, the body the head; the head's turn follows the body or the whole."""
    whole, body, head, eyes = (f"centre_{part}_control" for part in ("whole", "body", "head", "eyes"))
    return [
        Follow(body, whole), Follow("centre_body_joint", body),
        Follow(head, (body, whole), f"{head}.follow", held_by="centre_body_joint"), Follow("centre_head_joint", head),
        Follow(eyes, ("centre_head_joint", whole), f"{eyes}.follow"),
    ]


def hose_links(robot):
    """The hose's tip goes where its control is."""
    joints = [name for name in robot.skeleton.names if name.startswith("centre_hose")]
    return [Follow("centre_hose_control", "centre_body_joint"), Chain(joints, "centre_hose_control", tuple(robot.landmarks["hose_end"]))]


def eye_links(side):
    """Both eyes follow one control, each looks at its own."""
    return [Follow(f"{side}_eye_control", "centre_eyes_control"), Gaze(f"{side}_eye_joint", f"{side}_eye_control", limits=EYES)]


def arm_links(side):
    """Turned controls one on another, the hand on body, head or whole, and the limb between."""
    shoulder, elbow, wrist, hand = (f"{side}_{part}_control" for part in ("shoulder", "elbow", "wrist", "hand"))
    joints = tuple(f"{side}_{part}_joint" for part in ("shoulder", "elbow", "wrist"))
    curl = {f"{side}_finger_{name}_{part}_joint.turn_z": gain for name, _ in FINGERS for part, gain in CURL.items()}
    return [
        Follow(shoulder, "centre_body_joint"), Follow(elbow, shoulder), Follow(wrist, elbow),
        Follow(hand, ("centre_body_joint", "centre_head_joint", "centre_whole_control"), f"{hand}.follow"),
        Follow(f"{side}_elbow_marker", "centre_body_joint"),
        limb_link(joints, hand, f"{side}_elbow_marker", (shoulder, elbow, wrist), hand),
        Share(f"{hand}.curl", curl),
    ]


def limb_link(joints, target, marker, turned, control):
    """The limb itself, its channels on one control: blend, soft and stretch, girth; it bends as far as its shells leave free."""
    middle = marker.split("_")[1]
    return Limb(joints, target, marker, turned, *(f"{control}.{c.name}" for c in LIMB), most_bend=radians(HINGES[middle][2]))


def leg_links(robot, side):
    """As the arm, with the foot's pivots between its control and the ankle."""
    hip, knee, ankle, ball, foot = (f"{side}_{part}_control" for part in ("hip", "knee", "ankle", "ball", "foot"))
    joints = tuple(f"{side}_{part}_joint" for part in ("hip", "knee", "ankle"))
    heel, toe, inner, outer = (tuple(robot.landmarks[f"{side}_{part}"]) for part in ("heel", "sole_toe", "sole_inner", "sole_outer"))
    return [
        Follow(hip, "centre_body_joint"), Follow(knee, hip), Follow(ankle, knee), Follow(ball, ankle),
        Follow(foot, "centre_whole_control"),
        Follow(f"{side}_knee_marker", ("centre_body_joint", foot), f"{side}_knee_marker.follow"),
        Foot(foot, joints[2], f"{side}_ball_joint", f"{side}_ankle_target", heel, toe, inner, outer, TURN_OVER, ball, f"{foot}.blend"),
        limb_link(joints, f"{side}_ankle_target", f"{side}_knee_marker", (hip, knee, ankle), foot),
    ]
