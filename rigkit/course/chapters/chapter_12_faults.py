"""Chapter 12's case: a rig as a sheet of numbers, with five faults in it, other ones for every learner.

The sheet is taken from the worked rig of the learner's robot. Sound numbers are off by a little too, well within the audit's
limits, so that "not quite equal" proves nothing. Each fault sits where no other rule can see it. What the
animator writes tells how a fault feels, never where it is.
"""

from typing import NamedTuple

import numpy as np

from rigkit import bend, mirror
from rigkit.bend import normal
from rigkit.course.chapters.chapter_01_loops import loop_centre
from rigkit.course.chapters.chapter_12_pieces import build, rigged
from rigkit.robot.assembly import material

ARM, LEG = ("shoulder", "elbow", "wrist", "gripper"), ("hip", "knee", "ankle", "ball", "toe_end")
SIDES = ("left", "right")
FINGERS = tuple(f"finger_{k:02}" for k in (1, 2, 3))
LIMBS = {"elbow": ("shoulder", "elbow", "wrist"), "knee": ("hip", "knee", "ankle")}
SERVED = ("shoulder", "elbow", "wrist", "hip", "knee", "ankle", "ball")
RESETS = ("left_hand", "right_hand", "left_foot", "right_foot", "centre_head", "centre_hose", "centre_eyes", "centre_body")
LETTERS = "abcde"


class Kind(NamedTuple):
    """letter: what the animator writes. unit: of the amount. places: names it can sit at."""

    letter: str
    unit: str
    places: tuple


def _both(parts, kind="joint"):
    return tuple(f"{side}_{part}_{kind}" for side in SIDES for part in parts)


KINDS = {
    "off": Kind(
        "A small part wobbles when I turn it, as if its axle were bent. How many millimetres is its joint off the fold?",
        "mm",
        _both(["gripper", "toe_end", *(f"{one}_{part}" for one in FINGERS for part in ("base", "middle"))]),
    ),
    "hinge": Kind(
        "I give all joints of a limb the same turn, and one of them folds the other way. By how many degrees is its z axis off its parent's?",
        "degrees",
        _both(["elbow", "wrist", "knee", "ankle"]),
    ),
    "past": Kind(
        "A limb of mine bends backward before its slider ends. How many degrees past straight does it go?",
        "degrees",
        _both(["elbow", "knee"], "control"),
    ),
    "hand": Kind(
        "There is a joint that no flipped pose ever fits, whatever I do. What is its determinant?",
        "",
        tuple(f"centre_hose_{k:02}_joint" for k in range(2, 12)) + _both(["eye"]),
    ),
    "short": Kind(
        "A sleeve has a dent that points at the floor between the feet, though nothing has moved. What is its least sum of weights?",
        "",
        ("left_elbow_sleeve", "right_elbow_sleeve", "left_knee_sleeve", "right_knee_sleeve", "left_ball_sleeve", "right_ball_sleeve"),
    ),
    "home": Kind(
        "I press reset, and something jumps. By how many millimetres?",
        "mm",
        tuple(f"{name}_control" for name in RESETS),
    ),
    "marker": Kind(
        "A limb gives a twitch when I switch it to its target. How many millimetres is its marker off the plane?",
        "mm",
        _both(["elbow", "knee"], "marker"),
    ),
    "pivot": Kind(
        "I turn a control, and its part swings about a point in the air. How many millimetres from its joint?",
        "mm",
        _both(SERVED, "control"),
    ),
}  # fmt: skip
DEGREES = ("hinge", "past")


_cases = {}


def case_of(robot, variant):
    """(sheet, complaints, truth) for a learner's robot, made once; none of it may be changed.

    sheet: "joints" {name: parent, at (3,), axes (3, 3)}, "folds" {joint: loop (N, 3)}, "controls" {name: at, serves, home, low, high},
    "markers" {name: at, limb}, "weights" {part: (V, K)}, metres and radians. complaints: letter to words. truth: letter to (kind, name, amount).
    """
    key = (variant, robot.landmarks["left_wrist"].tobytes())
    if key not in _cases:
        _cases[key] = _case(robot, variant)
    return _cases[key]


def _case(robot, variant):
    rng = np.random.default_rng([12, variant])
    sheet = _sheet(robot, rigged(robot, build(material(robot))).rig, rng)
    rest = [kind for kind in KINDS if kind != "off" and kind not in DEGREES]
    kinds = ["off", str(rng.choice(DEGREES)), *(str(one) for one in rng.permutation(rest)[:3])]
    taken, truth = set(), {}
    for letter, kind in zip(LETTERS, (kinds[k] for k in rng.permutation(5))):
        name = str(rng.choice([one for one in KINDS[kind].places if _limb_word(one) not in taken]))
        taken.add(_limb_word(name))
        truth[letter] = (kind, name, BREAK[kind](sheet, name, rng))
    return sheet, {letter: KINDS[kind].letter for letter, (kind, _, _) in truth.items()}, truth


def _limb_word(name):
    """What two faults must not share: the joint, control or marker of one part."""
    return name.rsplit("_", 1)[0]


# ---- the sheet ----------------------------------------------------------------------------------------------------


def _sheet(robot, rig, rng):
    skeleton, world = robot.skeleton, robot.skeleton.rest_world
    axes = world.matrices[:, :3, :3]
    joints = {
        name: {
            "parent": skeleton.names[skeleton.parents[j]] if skeleton.parents[j] >= 0 else "",
            "at": world.positions[j] + (_noise(rng, 0.0008) if name in KINDS["off"].places else 0.0),
            "axes": axes[j].copy(),
        }
        for j, name in enumerate(skeleton.names)
    }
    folds = {}
    for name, (part, numbers) in robot.loops.items():
        joint = f"{name}_joint" if name.startswith(SIDES) else f"centre_{name}_joint"
        if joint in joints and name.split("_")[0] in SIDES:
            folds[joint] = robot.part(part).mesh.vertices[numbers].copy()
    return {
        "joints": joints,
        "folds": folds,
        "controls": {c.name: _control(c, joints, rng) for c in rig.controls if c.name.endswith("_control")},
        "markers": {c.name: _marker(c, rng) for c in rig.controls if c.name.endswith("_marker")},
        "weights": {part.name: _weights(part, rng) for part in robot.parts if part.kind == "sleeve"},
    }


def _noise(rng, size):
    return rng.uniform(-size, size, 3)


def _control(control, joints, rng):
    served = control.name.replace("_control", "_joint")
    served = served if control.name.split("_")[1] in SERVED else ""
    low, high = 0.0, 0.0
    if control.name.split("_")[1] in LIMBS:
        low, high = control.channel("turn_z").low, control.channel("turn_z").high
    return {
        "at": joints[served]["at"] + _noise(rng, 0.0003) if served else control.position.copy(),
        "serves": served,
        "move": np.zeros(3),
        "low": low + float(rng.uniform(0, 0.01)) if served else 0.0,
        "high": high,
    }


def _marker(control, rng):
    side, part, _ = control.name.split("_")
    limb = [f"{side}_{one}_joint" for one in LIMBS[part]]
    return {"at": control.position + _noise(rng, 0.0002), "limb": limb}


def _weights(part, rng):
    """The part's weights, rounded as a file's are; rows still add up to one within a thousandth."""
    return np.round(part.weights, 4) + rng.uniform(0, 1e-4, (len(part.weights), 1)) / part.weights.shape[1]


# ---- the faults: each changes one thing, and returns its amount ---------------------------------------------------


def _off(sheet, name, rng):
    way = rng.normal(size=3)
    centre = loop_centre(sheet["folds"][name])
    sheet["joints"][name]["at"] = centre + rng.uniform(0.006, 0.012) * way / np.linalg.norm(way)
    return off_fold(sheet, name)


def _hinge(sheet, name, rng):
    sheet["joints"][name]["axes"] = sheet["joints"][name]["axes"] * [1, -1, -1]
    return hinge_off(sheet, name)


def _past(sheet, name, rng):
    sheet["controls"][name]["low"] -= float(np.radians(rng.uniform(15, 60)))
    return past_straight(sheet, name)


def _hand(sheet, name, rng):
    signs = np.ones(3)
    signs[rng.integers(3)] = -1
    sheet["joints"][name]["axes"] = sheet["joints"][name]["axes"] * signs
    return float(np.linalg.det(sheet["joints"][name]["axes"]))


def _short(sheet, name, rng):
    weights = sheet["weights"][name]
    where = rng.choice(len(weights), 3, replace=False)
    weights[where] *= rng.uniform(0.82, 0.95, (3, 1))
    return float(weights.sum(axis=1).min())


def _home(sheet, name, rng):
    move = np.zeros(3)
    move[rng.integers(3)] = rng.uniform(0.008, 0.04) * rng.choice([-1, 1])
    sheet["controls"][name]["move"] = move
    return 1000 * float(np.linalg.norm(move))


def _marker_off(sheet, name, rng):
    points = limb_of(sheet, name)
    sheet["markers"][name]["at"] = sheet["markers"][name]["at"] + rng.choice([-1, 1]) * rng.uniform(0.015, 0.045) * normal(*points)
    return off_plane(sheet, name)


def _pivot(sheet, name, rng):
    way = rng.normal(size=3)
    sheet["controls"][name]["at"] = sheet["controls"][name]["at"] + rng.uniform(0.008, 0.025) * way / np.linalg.norm(way)
    return off_joint(sheet, name)


BREAK = {"off": _off, "hinge": _hinge, "past": _past, "hand": _hand, "short": _short, "home": _home, "marker": _marker_off, "pivot": _pivot}


# ---- how each is measured -----------------------------------------------------------------------------------------


def off_fold(sheet, name):
    """Millimetres from a joint to the area centre of its fold."""
    return 1000 * float(np.linalg.norm(sheet["joints"][name]["at"] - loop_centre(sheet["folds"][name])))


def hinge_off(sheet, name):
    """Degrees between a joint's z axis and its parent's."""
    one = sheet["joints"][name]
    return float(np.degrees(np.arccos(np.clip(one["axes"][:, 2] @ sheet["joints"][one["parent"]]["axes"][:, 2], -1, 1))))


def past_straight(sheet, name):
    """Degrees past straight at the low end of an elbow's or a knee's control; the limb is bent at rest."""
    side, part, _ = name.split("_")
    points = [sheet["joints"][f"{side}_{one}_joint"]["at"] for one in LIMBS[part]]
    return -float(np.degrees(bend.angle(*points) + sheet["controls"][name]["low"]))


def limb_of(sheet, name):
    """The three joints of a marker's limb, (3, 3)."""
    return np.array([sheet["joints"][one]["at"] for one in sheet["markers"][name]["limb"]])


def off_plane(sheet, name):
    """Millimetres from a marker to the plane of its limb's joints."""
    points = limb_of(sheet, name)
    return 1000 * abs(float((sheet["markers"][name]["at"] - points[0]) @ normal(*points)))


def off_joint(sheet, name):
    """Millimetres from a control to the joint it serves."""
    one = sheet["controls"][name]
    return 1000 * float(np.linalg.norm(one["at"] - sheet["joints"][one["serves"]]["at"]))


def least_sum(sheet, name):
    """The least sum of weights of a sleeve."""
    return float(sheet["weights"][name].sum(axis=1).min())


def left_over(sheet, name):
    """Millimetres that a control has in its moves at home."""
    return 1000 * float(np.linalg.norm(sheet["controls"][name]["move"]))


def determinant(sheet, name):
    """Of a joint's axes: 1 for a turn."""
    return float(np.linalg.det(sheet["joints"][name]["axes"]))


MEASURES = {
    "off": off_fold,
    "hinge": hinge_off,
    "past": past_straight,
    "hand": determinant,
    "short": least_sum,
    "home": left_over,
    "marker": off_plane,
    "pivot": off_joint,
}
LIMITS = {"off": 5.0, "hinge": 10.0, "past": 1.0, "hand": 0.001, "short": 0.001, "home": 0.001, "marker": 1.0, "pivot": 1.0}  # the audit's


def beyond(kind, sheet, name):
    """Whether a name is beyond the audit's limit for a kind of fault."""
    value = MEASURES[kind](sheet, name)
    return abs(value - 1) > LIMITS[kind] if kind in ("hand", "short") else value > LIMITS[kind]


def other_side(name):
    """The name of the other side; a name of the centre as it is."""
    return mirror.names(name)
