"""A library of poor rigs: for each rule of the audit one that breaks it, made from Tally by one change.

`BROKEN[rule]` is a pair: a function that makes the Character (or, for what no Character can hold, the Subject), and the other rules that
the same change breaks too, each for a reason told beside it. `healthy()` is the rig they all start from.
"""

from dataclasses import replace
from functools import lru_cache

import numpy as np

from rigkit import mirror, rotation
from rigkit.audit import subject
from rigkit.control import Channel, Control, fit
from rigkit.links import Follow, Foot, Limb, Share
from rigkit.rig import Rig
from rigkit.robot.rig import rigged_tally
from rigkit.skeleton import Skeleton

PLANE = mirror.Plane()
SIDES = ("left", "right")


@lru_cache(maxsize=1)
def healthy():
    """Tally with its rig, which breaks no rule."""
    return rigged_tally(0)


def bare():
    """Tally without its rig: joints and model alone."""
    return replace(healthy(), rig=None, motions=())


# ---- changes ------------------------------------------------------------------------------------------------------


def reposed(character, moves=None, turns=None):
    """The character with some joints moved (name to (3,), metres) and turned (name to (4,)) in the world; all others stay."""
    skeleton = character.skeleton
    world, names = skeleton.rest_world, skeleton.names
    positions = world.positions + [(moves or {}).get(name, (0, 0, 0)) for name in names]
    rotations = rotation.multiply([(turns or {}).get(name, rotation.IDENTITY) for name in names], world.rotations)
    local_turns, local_moves = skeleton.local(rotations, positions)
    return reskeletoned(character, Skeleton(names, skeleton.parents, local_moves, local_turns))


def reskeletoned(character, skeleton):
    """The character on another skeleton of the same joints, its rig made anew on it."""
    rig = character.rig and Rig(skeleton, character.rig.controls, character.rig.links)
    return replace(character, skeleton=skeleton, rig=rig)


def rerigged(controls=None, links=None, more_controls=(), more_links=()):
    """Tally with some controls replaced by name, links changed by a function of each, and more of both added."""
    rig = healthy().rig
    every = [(controls or {}).get(c.name, lambda c: c)(c) for c in rig.controls]
    linked = [new for link in rig.links if (new := links(link) if links else link) is not None]
    return replace(healthy(), rig=Rig(rig.skeleton, [*every, *more_controls], [*linked, *more_links]), motions=())


def channelled(name, **channels):
    """Tally with channels of one control replaced or added."""

    def change(control):
        kept = [c for c in control.channels if c.name not in channels and (c.open or not c.name.startswith(("move", "turn")))]
        return replace(control, channels=(*kept, *channels.values()))

    return rerigged({name: change})


def renamed(old, new):
    """Bare Tally with one joint of another name."""

    def swap(name):
        return new if name == old else name

    character = bare()
    s = character.skeleton
    skeleton = Skeleton([swap(n) for n in s.names], s.parents, s.rest_translations, s.rest_rotations)
    parts = [replace(p, joints=tuple(map(swap, p.joints))) for p in character.parts]
    return replace(character, skeleton=skeleton, parts=parts)


def placed(matrix=np.eye(3), move=(0, 0, 0)):
    """Bare Tally turned or scaled as a whole by a matrix and moved."""
    character = bare()
    matrix = np.asarray(matrix, float)
    size = np.cbrt(np.linalg.det(matrix))
    world = character.skeleton.rest_world
    turn = rotation.from_matrix(matrix / size)
    local = character.skeleton.local(rotation.multiply(turn, world.rotations), world.positions @ matrix.T + move)
    skeleton = Skeleton(character.skeleton.names, character.skeleton.parents, local[1], local[0])
    parts = [replace(p, mesh=p.mesh.moved(p.mesh.vertices @ matrix.T + move)) for p in character.parts]
    landmarks = {name: point @ matrix.T + move for name, point in character.landmarks.items()}
    hinges = {name: axis @ matrix.T / size for name, axis in character.hinges.items()}
    return replace(character, skeleton=skeleton, parts=parts, landmarks=landmarks, hinges=hinges)


def reweighted(part, change):
    """The Subject of bare Tally with a part's full weights (V, J) changed by a function."""
    found = subject.of(bare())
    skins = []
    for skin in found.skins:
        if skin.name == part:
            full = np.zeros((len(skin.vertices), len(found)))
            full[:, skin.joints] = skin.weights
            skin = replace(skin, joints=np.arange(len(found)), weights=change(full, found.names))
        skins.append(skin)
    return replace(found, skins=tuple(skins))


def scaled_joint(name, scale):
    found = subject.of(bare())
    scales = found.scales.copy()
    scales[found.names.index(name)] = scale
    return replace(found, scales=scales)


def axis_of(name, axis):
    """A joint's own axis (3,) in the world at rest."""
    world = healthy().skeleton.rest_world
    return rotation.rotate(world.rotations[healthy().skeleton.index(name)], np.eye(3)["xyz".index(axis)])


def about(name, axis, degrees):
    return {name: rotation.from_axis_angle(axis_of(name, axis), np.radians(degrees))}


# ---- rigs ---------------------------------------------------------------------------------------------------------


def half_the_skeleton():
    character = bare()
    s = character.skeleton
    return reskeletoned(replace(character, loops={}), Skeleton(s.names, s.parents, s.rest_translations * 0.2, s.rest_rotations))


def doubled_name():
    found = subject.of(bare())
    return replace(found, names=tuple("centre_hose_11_joint" if n == "centre_hose_12_joint" else n for n in found.names))


def swapped_eyes():
    character = renamed("left_eye_joint", "centre_spare_joint")
    names = {"centre_spare_joint": "right_eye_joint", "right_eye_joint": "left_eye_joint"}
    s = character.skeleton
    skeleton = Skeleton([names.get(n, n) for n in s.names], s.parents, s.rest_translations, s.rest_rotations)
    parts = [replace(p, joints=tuple(names.get(j, j) for j in p.joints)) for p in character.parts]
    return replace(character, skeleton=skeleton, parts=parts)


def ring_of_parents():
    found = subject.of(bare())
    parents = found.parents.copy()
    parents[found.names.index("left_shoulder_joint")] = found.names.index("left_wrist_joint")
    return replace(found, parents=parents)


def finger_of_nothing():
    character = healthy()
    kept = [p for p in character.parts if not p.name.startswith("left_finger_03")]
    loops = {name: loop for name, loop in character.loops.items() if not loop[0].startswith("left_finger_03")}
    return replace(character, parts=kept, loops=loops)


def elbow_offset():
    """From the line of the left arm to its elbow, (3,) metres."""
    a, b, c = (healthy().landmarks[f"left_{part}"] for part in ("shoulder", "elbow", "wrist"))
    line = (c - a) / np.linalg.norm(c - a)
    return (b - a) - ((b - a) @ line) * line


def elbows_moved(share):
    """Bare Tally, both elbows moved by a share of the way back to their limb's line and beyond."""
    off = -share * elbow_offset()
    return reposed(bare(), {"left_elbow_joint": off, "right_elbow_joint": off * (-1, 1, 1)})


def flipped_knee():
    return reposed(bare(), turns=about("right_knee_joint", "x", 180))


def flipped_elbows():
    return reposed(bare(), turns=about("left_elbow_joint", "x", 180) | about("right_elbow_joint", "x", 180))


def five_joints(weights, names):
    weights[0] = 0
    weights[0, [names.index(f"centre_hose_0{k}_joint") for k in range(1, 6)]] = 0.2
    return weights


def under_zero(weights, names):
    weights[0, [names.index("centre_hose_01_joint"), names.index("centre_hose_02_joint")]] = 1.25, -0.25
    return weights


def light(weights, names):
    weights[3] *= 0.9
    return weights


def far_away(weights, names):
    weights[:, names.index("right_wrist_joint")] = 0.0
    weights[5] *= 0.7
    weights[5, names.index("right_wrist_joint")] = 0.3
    return weights


def torn(weights, names):
    """A forearm whose tip is carried by the wrist."""
    weights[-20:] = 0
    weights[-20:, names.index("left_wrist_joint")] = 1.0
    return weights


def many_controls():
    spare = [Control(f"centre_spare_{k:02}_control", [0, 1, 0]) for k in range(1, 16)]
    return rerigged(more_controls=spare)


def many_channels():
    channels = tuple(Channel(f"extra_{k:02}", 0.0, -1.0, 1.0) for k in range(12))
    shares = [Share(f"centre_head_control.{c.name}", {"left_toe_end_joint.turn_z": 1.0}) for c in channels]
    return rerigged({"centre_head_control": lambda c: replace(c, channels=(*c.channels, *channels))}, more_links=shares)


def twice_carried():
    shares = [Share(f"centre_eyes_control.move_{axis}", {f"left_eye_control.move_{axis}": 1.0}) for axis in "xyz"]
    return rerigged(more_links=shares)


def left_hose():
    return rerigged(links=lambda link: None if isinstance(link, Follow) and link.driven == "centre_hose_control" else link)


def unstacked_foot():
    """The left leg reaches for the foot's control, and not for the end of its stack."""

    def change(link):
        if isinstance(link, Limb) and link.target == "left_ankle_target":
            return replace(link, target="left_foot_control")
        return link

    return rerigged(links=change)


def early_heel():
    """The left foot's heel pivot stands 30 mm ahead of the end of the sole."""

    def change(link):
        return (
            replace(link, heel=tuple(link.heel + np.array([0, 0, 0.03])))
            if isinstance(link, Foot) and link.control == "left_foot_control"
            else link
        )

    return rerigged(links=change)


def resized(name, factor):
    return rerigged({name: lambda c: replace(c, outline=c.outline.scaled(factor))})


def moved_control(name, move):
    return rerigged({name: lambda c: replace(c, position=c.position + move)})


def square_hand():
    plate = healthy().part("right_gripper_plate").mesh.vertices
    return rerigged({"right_hand_control": lambda c: fit(c, "square", plate)})


def wrong_colour():
    return replace(healthy(), extras={"styles": {"left_hand_control": ("#E69F00", "solid")}})


def hinge_channel(low):
    elbow = healthy().rig.channel("left_elbow_control.turn_z")
    return channelled("left_elbow_control", turn_z=replace(elbow, low=low))


def open_hinge():
    elbow = healthy().rig.control("left_elbow_control")
    return channelled("left_elbow_control", turn_z=elbow.channel("turn_z"), turn_x=Channel("turn_x", 0.0, -1.0, 1.0))


def marker_ahead():
    """The left elbow's marker on the other side of the line of the arm."""
    a, c = (healthy().landmarks[f"left_{part}"] for part in ("shoulder", "wrist"))
    marker = healthy().rig.control("left_elbow_marker").position
    line = (c - a) / np.linalg.norm(c - a)
    return moved_control("left_elbow_marker", -2 * ((marker - a) - ((marker - a) @ line) * line))


QUARTER = np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]])  # y to -z: lying on the back
ABOUT = np.diag([-1.0, 1, -1])  # a half turn about y

BROKEN = {
    "unit": (lambda: placed(100 * np.eye(3)), set()),
    "size": (half_the_skeleton, {"joint_centre"}),  # every joint is far from the part it bends
    "up": (
        lambda: placed(QUARTER, (0, 0.5, 0)),
        {"feet_floor", "bend_side"},
    ),  # lying down, the feet are off the floor, and ahead is another way
    "facing": (lambda: placed(ABOUT), {"name_side"}),  # turned round, left is at -x
    "feet_floor": (lambda: placed(move=(0, 0.05, 0)), set()),
    "name_pattern": (lambda: renamed("centre_head_joint", "centre_hd_joint"), set()),
    "name_counter": (lambda: renamed("centre_hose_12_joint", "centre_hose_12_joint_2"), set()),
    "name_duplicate": (doubled_name, {"joint_centre"}),  # two joints of one name, one loop
    "name_side": (swapped_eyes, {"joint_centre"}),  # each eye's loop is where the other joint stands
    "file_mended": (lambda: replace(bare(), extras={"notes": ("nodes[3].rotation has length 1.2; divided by it",)}), set()),
    "cycle": (ring_of_parents, set()),
    "orphan": (lambda: reskeletoned(bare(), bare().skeleton.reparent("centre_head_joint", None)), set()),
    "zero_bone": (
        lambda: reposed(bare(), {"left_toe_end_joint": bare().landmarks["left_ball"] - bare().landmarks["left_toe_end"]}),
        {"joint_centre", "mirror_place"},
    ),  # the joint has left its place
    "joint_scale": (lambda: scaled_joint("centre_hose_12_joint", (1.2, 1, 1)), set()),
    "frame_handed": (
        lambda: scaled_joint("centre_hose_12_joint", (-1, 1, 1)),
        {"joint_scale"},
    ),  # only a negative scale makes a frame left-handed
    "unused_joint": (finger_of_nothing, set()),
    "joint_centre": (lambda: reposed(bare(), {"centre_head_joint": (0, 0.012, 0)}), set()),
    "prebend": (lambda: elbows_moved(1.0), {"joint_centre"}),  # the elbows have left their folds
    "bend_side": (lambda: elbows_moved(2.0), {"joint_centre", "bone_axis"}),  # as above, by twice as much
    "planarity": (
        lambda: reposed(bare(), {"centre_hose_06_joint": (0.002, 0, 0)}),
        {"near_plane"},
    ),  # the hose lies on the plane of symmetry
    "bone_axis": (lambda: reposed(bare(), turns=about("centre_hose_04_joint", "z", 20)), set()),
    "chain_axis": (lambda: reposed(bare(), turns=about("centre_hose_04_joint", "z", 90)), set()),
    "hinge_bend": (
        lambda: reposed(bare(), turns=about("left_elbow_joint", "x", 8)),
        {"hinge_sides", "mirror_frame"},
    ),  # one side only is turned
    "hinge_chain": (flipped_elbows, set()),
    "hinge_sides": (flipped_knee, {"hinge_chain"}),  # the knee has flipped against its own hip
    "mirror_frame": (lambda: reposed(bare(), turns=about("right_eye_joint", "y", 5)), set()),
    "mirror_place": (lambda: reposed(bare(), {"right_toe_end_joint": (0, 0, 0.004)}), set()),
    "counterpart": (lambda: renamed("right_eye_joint", "centre_eye_joint"), set()),
    "near_plane": (lambda: reposed(bare(), {"centre_head_joint": (0.003, 0, 0)}), set()),
    "plane_place": (lambda: placed(move=(0.02, 0, 0)), set()),
    "weight_sum": (lambda: reweighted("hose", light), set()),
    "weight_count": (lambda: reweighted("hose", five_joints), set()),
    "weight_negative": (lambda: reweighted("hose", under_zero), set()),
    "weight_far": (lambda: reweighted("left_elbow_sleeve", far_away), set()),
    "hard_part": (lambda: reweighted("left_forearm_tube", torn), set()),
    "control_home": (
        lambda: channelled("centre_hose_control", move_y=Channel("move_y", 0.05, -1, 1)),
        {"bind_return"},
    ),  # the model is moved at home
    "control_scale": (
        lambda: channelled("centre_head_control", size_x=Channel("size_x", -1.0, -2, 2)),
        {"control_home", "dead_channel"},
    ),  # a size is left over, and this rig has no use for one axis alone
    "control_pivot": (lambda: moved_control("centre_head_control", (0, -0.05, 0)), set()),
    "control_size": (lambda: resized("centre_eyes_control", 0.2), set()),
    "control_hidden": (lambda: resized("centre_body_control", 0.4), set()),
    "control_colour": (wrong_colour, set()),
    "control_shape": (square_hand, set()),
    "control_count": (many_controls, set()),
    "channel_count": (many_channels, set()),
    "marker_plane": (
        lambda: moved_control("left_elbow_marker", (0.03, 0, 0)),
        {"bind_return", "control_shape"},
    ),  # the solver turns the arm at home; the other marker stays
    "marker_side": (marker_ahead, {"bind_return", "control_shape"}),  # as above, by more
    "dead_channel": (lambda: channelled("centre_head_control", spare=Channel("spare", 0.0, -1, 1)), set()),
    "double_transform": (twice_carried, set()),
    "whole_carries": (left_hose, set()),
    "bind_return": (lambda: channelled("left_hand_control", curl=Channel("curl", 0.3, -0.2, 1.0)), set()),
    "hinge_range": (lambda: hinge_channel(-1.5), set()),
    "hinge_open": (open_hinge, set()),
    "foot_stack": (
        unstacked_foot,
        {"control_pivot", "dead_channel"},
    ),  # its tilt and swivel move no joint, and the foot's control is on the floor
    "foot_contact": (early_heel, set()),
}
