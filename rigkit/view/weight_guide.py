"""How much each corner of the model hangs on one joint: a ramp of lightness on the mesh, a legend beside it, a table of counts."""

import numpy as np

from rigkit.view import marks, ramp
from rigkit.view.guides import Guide

STEPS = 20  # of the legend
EDGES = (0.0, 0.25, 0.5, 0.75, 1.0)


def shares(branch, joint):
    """The weight (V,) of joint number `joint` at each corner of a Branch."""
    found = np.zeros(len(branch.points))
    for patch in branch.patches:
        own = patch.joints == joint
        if own.any():
            found[patch.where] = 1.0 if len(patch.joints) == 1 else patch.weights[:, own].sum(axis=1)
    return found


def counts(character, joint_name):
    """Rows for the number table: how many vertices have which weight on a joint."""
    own = [
        part.weights[:, part.joints.index(joint_name)] if joint_name in part.joints else np.zeros(len(part.weights))
        for part in character.parts
    ]
    weights = np.concatenate([np.zeros(0), *own])
    rows = [("weight 1", (weights >= 1 - 1e-9).sum())]
    for low, high in zip(EDGES[-2::-1], EDGES[:0:-1]):
        told = f"{low:g} to {high:g}" if low else f"over 0, to {high:g}"
        rows.append((f"weight {told}", ((weights >= max(low, 1e-9)) & (weights < (high - 1e-9 if high == 1 else high))).sum()))
    rows.append(("weight 0", (weights < 1e-9).sum()))
    return [(label, f"{count:,} vertices") for label, count in rows]


def legend(eye, size, joint_name):
    """The ramp as an upright bar at the right of the picture as `eye` sees it, with its numbers."""
    right, up, _ = eye.axes().T
    wide = eye.height * size[0] / size[1]
    foot = eye.target + 0.40 * wide * right - 0.28 * eye.height * up
    tall = 0.5 * eye.height * up
    at = np.linspace(0, 1, STEPS + 1)[:, None]
    ends, shown = foot + at * tall, ramp.colours((at[:-1, 0] + at[1:, 0]) / 2)
    frame = marks.strokes(foot - 0.004 * tall, foot + 1.004 * tall, "#8A9299", 20)
    bar = marks.Strokes(ends[:-1], ends[1:], shown, np.full((STEPS, 2), 16.0))
    told = [marks.Word(f"{share:g}", tuple(foot + share * tall), "#ECECEC", (-26, 0), 12) for share in (0.0, 0.5, 1.0)]
    told.append(marks.Word("weight", tuple(foot + tall), "#ECECEC", (-6, 18), 12))
    return marks.Layer(strokes=(frame, bar), words=tuple(told))


def guide(character, joint_name, eye, size):
    """Legend and counts of one joint."""
    return Guide(legend(eye, size, joint_name), (("weights of", joint_name), *counts(character, joint_name)))
