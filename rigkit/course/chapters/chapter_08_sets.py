"""Two sets of controls on Tally that the notebook plays with: one as nobody should build it, and the material for one's own."""

import numpy as np

from rigkit import limb
from rigkit.course.chapters.chapter_04_vectors import unit
from rigkit.course.chapters.chapter_08_outline import outline, some

RADIUS = 0.015  # metres: half of a fortieth of Tally's height
CORNERS = 24
UP = np.array([0.0, 1.0, 0.0])
STRAY = {  # its name in the stray set: what it is for
    "new_7": "left foot",
    "thing_b": "right foot",
    "grip": "left hand",
    "grip_copy": "right hand",
    "x2": "head",
    "main_old": "body",
    "main_old_final": "hose",
    "tmp_11": "whole",
    "pt_1": "left elbow marker",
    "pt_1_copy": "right elbow marker",
}
ASKED = ("left hand", "right foot", "body", "right elbow marker", "head")
QUESTIONS = {
    "left hand": "the left hand",
    "right foot": "the right foot",
    "body": "the body",
    "right elbow marker": "the marker of the right elbow",
    "head": "the head",
}
PARTS = {  # the part that a control of the own set encloses, its pivot, and the axis
    "left foot": ("left_heel_block", "left_ankle", UP),
    "right foot": ("right_heel_block", "right_ankle", UP),
    "left hand": ("left_gripper_plate", "left_wrist", None),
    "right hand": ("right_gripper_plate", "right_wrist", None),
    "head": ("head_lantern", "head", UP),
    "body": ("body_drum", "body", UP),
    "hose": ("hose_coupling", "hose_end", UP),
}


def rows():
    """(side, part, kind) of each thing that is controlled, and what it is for."""
    found = {}
    for what in STRAY.values():
        words = what.split()
        side, rest = (words[0], words[1:]) if words[0] in ("left", "right") else ("centre", words)
        kind = rest.pop() if rest[-1] == "marker" else "control"
        found[what] = (side, " ".join(rest), kind)
    return found


def stray(robot):
    """The stray set: name to "at" (3,) and "points" (N, 3) in its own frame, level rings, all of one size; elbow markers in front."""
    marks = robot.landmarks
    places = {what: marks[pivot] for what, (_, pivot, _) in PARTS.items()}
    places["whole"] = np.zeros(3)
    for side in ("left", "right"):
        places[f"{side} elbow marker"] = marks[f"{side}_elbow"] + [0.0, 0.0, 0.30]
    turn = np.linspace(0, 2 * np.pi, CORNERS, endpoint=False)
    points = RADIUS * np.column_stack([np.cos(turn), np.zeros(CORNERS), np.sin(turn)])
    return {name: {"at": np.asarray(places[what], float), "points": points.copy()} for name, what in STRAY.items()}


def own(robot):
    """For the own set: what it is for to "row", and "part" (N, 3), "pivot", "axis" to fit an outline to, or "at" of a marker or the whole.

    "points": an outline of ours, in the world, for a learner who has none yet.
    """
    marks, height = (
        robot.landmarks,
        float(np.ptp(np.concatenate([part.mesh.vertices for part in robot.parts])[:, 1])),
    )
    found = {}
    for what, row in rows().items():
        if what in PARTS:
            name, pivot, axis = PARTS[what]
            if axis is None:
                side = what.split()[0]
                axis = unit(marks[f"{side}_wrist"] - marks[f"{side}_elbow"])
            part, at = some(robot, name), np.asarray(marks[pivot], float)
        elif what == "whole":
            at, axis = np.zeros(3), UP
            part = np.concatenate([some(robot, f"{side}_{one}") for side in ("left", "right") for one in ("heel_block", "toe_cap")])
        else:
            side = what.split()[0]
            at = limb.pole_point(
                *(marks[f"{side}_{one}"] for one in ("shoulder", "elbow", "wrist")),
                distance=0.30,
            )
            part, axis = (
                at + 0.02 * np.array([[1, 0, 0], [-1, 0, 0], [0, 0, 1], [0, 0, -1.0]]),
                UP,
            )
        found[what] = {
            "row": row,
            "part": part,
            "pivot": at,
            "axis": axis,
            "points": outline(part, at, axis, height),
        }
    return found
