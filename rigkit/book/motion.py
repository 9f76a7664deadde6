"""A motion of a rigged character as data for a page: every joint's turn and move at even times."""

import base64

import numpy as np

from rigkit import rotation
from rigkit.book import figures
from rigkit.motion import walk
from rigkit.robot.rig import tally_rig

FRAMES = 48  # of the walk: 2 % of the cycle from one to the next


def walk_scene(pool, robot):
    """Tally's walk, on the spot, as a scene with a motion panel, and its still picture as PNG bytes."""
    from rigkit.book.scenes import Recorder

    rig = tally_rig(0)
    told = walk(rig, "centre_body_control")
    length = told.motion.length
    times = np.linspace(0.0, length, FRAMES + 1)
    turns, moves = carried(rig, told.motion, times)
    moves[:, :, 2] -= (told.stride * times / length)[:, None]
    viewer = Recorder(robot, "Tally walks on the spot. This is where the workbook leads: a rig that an animator can use.")
    viewer.carry(turns[0], moves[0])
    target, height = viewer.figure.framing()
    viewer.focus(target, 1.15 * height * viewer.size[0] / viewer.size[1])
    made = viewer.described(pool)
    frames = np.concatenate([turns, moves[..., None]], axis=-1).reshape(len(times), -1)
    made["panel"] = {
        "kind": "motion", "note": "Press Play, or move the slider through one cycle: two steps.", "length": length, "joints": turns.shape[1],
        "owners": pool.put([joint for *_, joint in figures.slots(viewer.figure)]), "frames": base64.b64encode(frames.astype("<f4").tobytes()).decode("ascii"),
        "phases": phases(told, rig)}
    picture = viewer.picture()
    viewer.close()
    return made, picture


def carried(rig, motion, times):
    """How a motion carries each joint's parts from rest at `times` (T,): turns (T, J, 3, 3) and moves (T, J, 3)."""
    pose, rest = rig.pose(motion.sample(times)), rig.skeleton.rest_world
    turns = rotation.to_matrix(rotation.multiply(pose.rotations, rotation.invert(rest.rotations)))
    return turns, pose.positions - np.einsum("tjab,jb->tja", turns, rest.positions)


def phases(told, rig):
    """When each foot is planted, as (from, to, words), seconds."""
    spans = {}
    for contact in told.contacts:
        side = "left" if "left" in contact.joint else "right"
        spans.setdefault(side, []).append((float(contact.start), float(contact.end)))
    return [[start, end, f"{side} foot on the floor"] for side, found in spans.items() for start, end in _joined(found)]


def _joined(spans):
    """Spans that meet or overlap as one."""
    joined = []
    for start, end in sorted(spans):
        if joined and start <= joined[-1][1] + 1e-9:
            joined[-1][1] = max(joined[-1][1], end)
        else:
            joined.append([start, end])
    return joined
