"""A rig of Tally put together from pieces: joints, frames, markers, pivots, ranges, outlines, and who follows whom.

`material(robot)` is what a builder may look at: loops, fold axes, soles, shells. From it somebody makes the *pieces*, for
any robot of the kind. `assemble(robot, pieces)` puts them into the sockets that they belong in, and adds what is the same for
all: fingers, hose, eyes and the links themselves, as `rigkit.robot.rig` has them. It mends nothing: what is wrong in the pieces
is wrong in the rig, where an audit can find it.

>>> from rigkit.robot import tally
>>> sorted(material(tally()))
['figure', 'hinges', 'loops', 'most_bend', 'shells', 'soles']
"""

from dataclasses import replace
from math import radians

import numpy as np

from rigkit import mirror, outline, rotation
from rigkit.acceptance import acceptance
from rigkit.keys import Hinge
from rigkit.links import Follow
from rigkit.outline import Outline
from rigkit.rig import Rig
from rigkit.robot import rig as worked
from rigkit.robot.rig import HINGES, PLANE
from rigkit.skeleton import Skeleton
from rigkit.walk import walk

ARM = ("shoulder", "elbow", "wrist", "gripper")
LEG = ("hip", "knee", "ankle", "ball", "toe_end")
JOINTS = tuple(f"{side}_{part}" for side in ("left", "right") for part in (*ARM, *LEG))
MARKERS = tuple(f"{side}_{part}_marker" for side in ("left", "right") for part in ("elbow", "knee"))
PIVOTS = tuple(f"{side}_{part}" for side in ("left", "right") for part in ("heel", "sole_toe", "sole_inner", "sole_outer"))
SHELLS = {  # what a control's outline goes round
    "shoulder": ("upper_arm_tube", "shoulder_drum"),
    "elbow": ("elbow_sleeve",),
    "wrist": ("wrist_collar",),
    "hip": ("thigh_tube", "hip_drum"),
    "knee": ("knee_sleeve",),
    "ankle": ("ankle_collar",),
    "ball": ("toe_cap",),
}
CONTROLS = tuple(f"{side}_{part}_control" for side in ("left", "right") for part in SHELLS)
FOLLOWERS = (
    "centre_body_control",
    "centre_head_control",
    "centre_eyes_control",
    "centre_hose_control",
    "left_shoulder_control",
    "left_hand_control",
    "left_elbow_marker",
    "left_hip_control",
    "left_foot_control",
    "left_knee_marker",
)


def material(robot):
    """Return what a builder is handed of a robot, plain data, left side only, metres in the world.

    loops: landmark to the points (N, 3) of its fold, of nine joints from left_shoulder to left_toe_end. hinges: "arm",
    "leg" and "foot" to the axis (3,) of their folds. soles: "points" (N, 3) of the left sole on the floor, "axes" (3, 3): x across
    to the left, y up, z ahead. shells: control to the points (N, 3) of the part that it is to go round. most_bend: "elbow" and
    "knee" to the bend, radians from straight, up to which the shells are free. figure: (2, 3), the least and the greatest corner.
    """
    points = np.concatenate([part.mesh.vertices for part in robot.parts])
    sole = _points(robot, ("heel_block", "toe_cap"))
    ahead = robot.hinges["left_ball"] * [1, 0, 1]
    across = ahead / np.linalg.norm(ahead)
    return {
        "loops": {f"left_{part}": _loop(robot, f"left_{part}") for part in (*ARM, *LEG)},
        "hinges": {name: robot.hinges[f"left_{part}"].copy() for name, part in (("arm", "elbow"), ("leg", "knee"), ("foot", "ball"))},
        "soles": {
            "points": sole[sole[:, 1] < 1e-9].copy(),
            "axes": np.column_stack([across, [0, 1, 0], np.cross(across, [0, 1, 0])]),
        },
        "shells": {f"left_{name}_control": _points(robot, parts) for name, parts in SHELLS.items()},
        "most_bend": {name: radians(row[2]) for name, row in HINGES.items()},
        "figure": np.array([points.min(axis=0), points.max(axis=0)]),
    }


def assemble(robot, pieces):
    """Return the Character of a robot on a rig of somebody's pieces, a dict.

    joints: the names of JOINTS to places (3,); frames: the same names to axes (3, 3), columns, of rotations; markers: MARKERS to
    places; pivots: PIVOTS to places; ranges: "elbow" and "knee" to (low, high), radians from rest; outlines: CONTROLS to
    corners (M, 3), closed; follows: FOLLOWERS to the name each is carried by (right ones as left ones). Metres, in the world.
    Raises ValueError for what no rig can be made of, such as followers in a ring.

    >>> from rigkit.robot import tally
    >>> assemble(tally(), {})
    Traceback (most recent call last):
    ...
    ValueError: the pieces lack joints; expected joints, frames, markers, pivots, ranges, outlines, follows
    """
    wanted = ("joints", "frames", "markers", "pivots", "ranges", "outlines", "follows")
    if lacking := [name for name in wanted if name not in pieces]:
        raise ValueError(f"the pieces lack {lacking[0]}; expected {', '.join(wanted)}")
    body = replace(robot, skeleton=_skeleton(robot, pieces), landmarks={**robot.landmarks, **pieces["joints"], **pieces["pivots"]})
    left = [*worked.centre(body), *worked.arm(body), *worked.leg(body)]
    controls = worked.both_sides(left, PLANE, {c.name: "matched" for c in left if worked.turned(c)})
    links = [*worked.body_links(), *worked.hose_links(body)]
    for side in ("left", "right"):
        links += [*worked.arm_links(side), *worked.leg_links(body, side), *worked.eye_links(side)]
    rig = Rig(body.skeleton, [_control(body, pieces, c) for c in controls], [_link(pieces["follows"], link) for link in links])
    return replace(robot, name=f"{robot.name}, rigged", skeleton=body.skeleton, rig=rig)


def walked(character, stride=0.85, period=1.0):
    """Return (Walk, list of Measure) of an assembled character: its walk, and what an animator looks for in it.

    stride: for two steps, in heights of the hip; period: seconds for two steps. ValueError where the legs can't.
    """
    found = walk(character.rig, "centre_body_control", period=period, stride=stride)
    level = ("left_eye_joint", "right_eye_joint")
    return found, acceptance(character.rig, found.motion, found.contacts, found.soles, hinges(character), level)


def hinges(character):
    """Return the Hinge of each elbow and knee, with the range of its control."""
    limits = {}
    for side in ("left", "right"):
        for part in HINGES:
            channel = character.rig.channel(f"{side}_{part}_control.turn_z")
            limits[f"{side}_{part}_joint"] = (channel.low, channel.high)
    return [Hinge(joint, (0, 0, 1), *ends) for joint, ends in limits.items()]


# ---- helpers --------------------------------------------------------------------------------------------------------


def _points(robot, parts):
    return np.concatenate([robot.part(f"left_{part}").mesh.vertices for part in parts])


def _loop(robot, name):
    part, numbers = robot.loops[name]
    return robot.part(part).mesh.vertices[numbers].copy()


def _skeleton(robot, pieces):
    """The robot's skeleton with the pieces' places and frames; what hangs on them stays where it is."""
    old = robot.skeleton
    places, turns = old.rest_world.positions.copy(), old.rest_world.rotations.copy()
    for name in JOINTS:
        j = old.index(f"{name}_joint")
        places[j], turns[j] = pieces["joints"][name], _turn(name, pieces["frames"][name])
    local_turns, local_places = old.local(turns, places)
    return Skeleton(old.names, old.parents, local_places, local_turns)


def _turn(name, axes):
    try:
        return rotation.from_matrix(axes)
    except ValueError as error:
        raise ValueError(f"the frame of {name} is no turn: {error}") from None


def _control(body, pieces, control):
    """A control with its piece put in: on its joint, with its outline; a marker on its place; a hinge with its range."""
    if control.name in pieces["markers"]:
        return replace(control, position=np.asarray(pieces["markers"][control.name], float))
    if control.name not in pieces["outlines"]:
        return control
    part = control.name.split("_")[1]
    joint = body.skeleton.index(control.name.replace("_control", "_joint"))
    world = body.skeleton.rest_world
    place, turn = world.positions[joint], world.rotations[joint]
    corners = rotation.rotate(rotation.invert(turn), np.asarray(pieces["outlines"][control.name], float) - place)
    channels = control.channels
    if part in HINGES:
        low, high = pieces["ranges"][part]
        channels = tuple(replace(c, low=float(low), high=float(high)) if c.name == "turn_z" else c for c in channels)
    return replace(control, position=place, rotation=turn, outline=Outline((corners,), (True,)), channels=channels)


def _link(follows, link):
    """A Follow with the leader of the pieces first; any other link as it is."""
    if not isinstance(link, Follow):
        return link
    name = link.driven if link.driven in follows else mirror.names(link.driven)
    if name not in follows:
        return link
    leader = follows[name] if name == link.driven else mirror.names(follows[name])
    others = [one for one in link.leaders if one != leader] if link.channel else []
    return replace(link, leaders=(leader, *others))


def least_outline(figure):
    """The least size of an outline that can be picked with the whole figure in view, metres; figure: two corners (2, 3)."""
    return outline.least_size(figure)
