"""What chapter 08 measures on the robot: distances from an axis, and the limbs that markers belong to."""

import numpy as np

LIMBS = {"elbow": ("shoulder", "elbow", "wrist"), "knee": ("hip", "knee", "ankle")}
NAMES = tuple(f"{side}_{mid}_marker" for mid in LIMBS for side in ("left", "right"))


def circle(pivot, axis, radius, count=32):
    """`count` corners on a circle about an axis."""
    across = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
    across = across / np.linalg.norm(across)
    turn = np.linspace(0, 2 * np.pi, count, endpoint=False)[:, None]
    return pivot + radius * (np.cos(turn) * across + np.sin(turn) * np.cross(axis, across))


def off_axis(part, pivot, axis):
    """How far each point is from the axis."""
    off = part - pivot
    return np.linalg.norm(off - np.outer(off @ axis, axis), axis=1)


def joints(context, name):
    """Root, mid and end of the limb of a marker, (3, 3)."""
    side, mid, _ = name.split("_")
    return np.array([context.robot.landmarks[f"{side}_{part}"] for part in LIMBS[mid]])
