"""A model as numbers for a page: its corners once, and for each pose one matrix a slot.

A *slot* is a part's share in one of its joints. Every corner hangs on up to four
slots, so that whatever moves the model, joints or whole parts, is said by the
slots' matrices alone, and all scenes of a page share the corners.
"""

import base64
import hashlib
import json
import zlib

import numpy as np

from rigkit.view import floor

MOST = 4  # slots a corner hangs on
LEVELS = 65535  # steps of a coordinate over the model's box: below 0.05 mm for a robot of 2 m


def slots(figure):
    """The slots of a Figure, in order: (branch, patch, joint's number) each."""
    return [(branch, patch, int(joint)) for branch in figure.branches for patch in branch.patches for joint in patch.joints]


def model(figure):
    """The corners of a Figure at rest as plain data that JSON takes, with a name made of the content; None without parts.

    "data", deflated, holds one after the other: triangles (T, 3) as uint32; points (V, 3) as uint16, in steps from `low`; slots (V, 4) as uint16;
    their shares (V, 4) as uint8; normals (V, 3) as int8, in 127ths.
    """
    if not figure.branches:
        return None
    points, normals = (np.concatenate([getattr(b, what) for b in figure.branches]) for what in ("points", "normals"))
    starts = np.cumsum([0, *(len(b.points) for b in figure.branches)])
    triangles = np.concatenate([b.triangles + at for b, at in zip(figure.branches, starts)])
    hung, shares = _hung(figure, len(points))
    low = points.min(axis=0)
    step = max(float(np.ptp(points, axis=0).max()), 1e-6) / LEVELS
    blocks = (
        (triangles, np.uint32), (np.round((points - low) / step), np.uint16), (hung, np.uint16), (shares, np.uint8), (np.round(normals * 127), np.int8))
    made = {
        "low": _rounded(low, 7), "step": step, "corners": len(points), "triangles": len(triangles),
        "colours": [_rounded(branch.colours[patch.where.start], 4) for branch, patch, _ in slots(figure)],
        "data": base64.b64encode(zlib.compress(b"".join(_bytes(*block) for block in blocks), 9)).decode("ascii"),
    }
    made["name"] = hashlib.sha256(json.dumps(made, sort_keys=True).encode()).hexdigest()[:12]
    return made


def _hung(figure, count):
    """The slots (V, 4) of each corner and their shares (V, 4), which add up to 255."""
    hung, shares = np.zeros((count, MOST), np.uint16), np.zeros((count, MOST))
    first, row = 0, 0
    for branch in figure.branches:
        for patch in branch.patches:
            rows = slice(row + patch.where.start, row + patch.where.stop)
            weights = np.ones((patch.where.stop - patch.where.start, 1)) if len(patch.joints) == 1 else patch.weights
            best = np.argsort(-weights, axis=1, kind="stable")[:, :MOST]
            hung[rows, : best.shape[1]] = first + best
            shares[rows, : best.shape[1]] = np.take_along_axis(weights, best, axis=1)
            first += len(patch.joints)
        row += len(branch.points)
    parts = np.floor(shares / shares.sum(axis=1, keepdims=True) * 255)
    parts[:, 0] += 255 - parts.sum(axis=1)
    return hung, parts


def motions(figure, stance):
    """How a stance carries each slot from rest, (S, 3, 4): turn and move side by side.

    stance: None for rest, ("joints", turns (J, 3, 3), moves (J, 3)) as Figure.carry takes them, or ("parts", moving, sleeves, turn, move) as
    Figure.carry_parts.
    """
    owned = slots(figure)
    carried = np.tile(np.eye(3, 4), (len(owned), 1, 1))
    if stance and stance[0] == "joints":
        joints = [joint for *_, joint in owned]
        carried[:] = np.concatenate([stance[1], stance[2][:, :, None]], axis=2)[joints]
    elif stance:
        _, moving, sleeves, turn, move = stance
        moved = {figure.character.skeleton.index(name) for part in moving for name in figure.character.part(part).joints}
        for i, (_, patch, joint) in enumerate(owned):
            hangs = [int(j) in moved for j in patch.joints]
            last = not any(hangs) and joint == int(patch.joints[-1])
            if patch.name in moving or (patch.name in sleeves and (joint in moved or last)):
                carried[i] = np.column_stack([turn, move])
    return carried


def contact(points):
    """How dark the floor is under points (N, 3), as a page takes it: 64 x 64 bytes, or None where nothing is near the floor."""
    shade = floor.contact(np.asarray(points, dtype=float).reshape(-1, 3))
    shade = shade.reshape(64, 2, 64, 2).mean(axis=(1, 3))
    return base64.b64encode(_bytes(np.round(shade * 255), np.uint8)).decode("ascii") if shade.any() else None


def _bytes(numbers, kind):
    """Numbers of a kind as bytes, the least first."""
    return np.ascontiguousarray(numbers, dtype=np.dtype(kind).newbyteorder("<")).tobytes()


def _rounded(values, digits):
    return [round(float(v), digits) + 0.0 for v in values]


def digits(values):
    """Numbers as a page holds them: a list, to nine digits behind the point."""
    return [round(float(v), 9) + 0.0 for v in np.ravel(values)]
