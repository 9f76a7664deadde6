"""How the figure stands in space: its unit, its size beside its joints, up, facing, feet on the floor."""

import numpy as np

from rigkit.audit.finding import Measured, Unknown, beyond
from rigkit.audit.finding import told as said
from rigkit.audit.view import UP

UNITS = {"centimetres": 0.01, "millimetres": 0.001, "inches": 0.0254, "feet": 0.3048, "kilometres": 1000.0, "hundreds of metres": 100.0}
LIKELY = (0.5, 3.0)  # metres: the size that a guess at another unit should lead to


def unit(view):
    """The longest side of the figure, metres: far from that of a figure, it was made in another unit."""
    size = view.subject.size
    likely = next((name for name, metres in UNITS.items() if LIKELY[0] <= size * metres <= LIKELY[1]), None)
    guess = f", as if {likely} had been taken for metres" if likely and beyond(size, view.book.rules["unit"].limit) else ""
    return [
        Measured(
            size, view.subject.name, f"the figure is {said(size, 'm')} long on its longest side{guess}", view.subject.bounds.mean(axis=0)
        )
    ]


def size(view):
    """The joints' extent over the model's: near one where both are of one size."""
    subject = view.subject
    if not len(subject.points):
        return [Unknown(subject.name, "there is no model to compare the joints with")]
    if len(subject) < 3:
        return [Unknown(subject.name, f"{len(subject)} joints span no figure")]
    bones, model = np.ptp(subject.positions, axis=0).max(), np.ptp(subject.points, axis=0).max()
    ratio = bones / model if model > 0 else np.inf
    return [Measured(ratio, subject.name, f"the joints span {said(ratio, 'times')} what the model spans", subject.bounds.mean(axis=0))]


def up(view):
    """The angle between +y and the way from the feet to the head, degrees."""
    roles, at = view.roles, view.subject.positions
    feet = [roles[r] for r in ("left_ankle", "right_ankle") if r in roles]
    top = next((roles[r] for r in ("head", "body") if r in roles), None)
    if not feet or top is None:
        return [Unknown(view.subject.name, "no ankle and head are known: name them in a roles file")]
    way = at[top] - at[feet].mean(axis=0)
    angle = _angle(way, UP)
    return [Measured(angle, view.name(top), f"from the feet to {view.name(top)} is {said(angle, 'degrees')} off +y", at[top])]


def facing(view):
    """The angle between +z and the way the figure faces, degrees."""
    ahead, how = view.ahead, "left and right"
    toes = [
        (view.roles[f"{s}_ankle"], view.roles[f"{s}_{end}"])
        for s in ("left", "right")
        for end in ("ball", "toe_end")
        if f"{s}_ankle" in view.roles and f"{s}_{end}" in view.roles
    ]
    if toes:
        way = sum(view.at(b) - view.at(a) for a, b in toes)
        way = way - (way @ UP) * UP
        if np.linalg.norm(way) > 1e-6 * view.subject.size:
            ahead, how = way / np.linalg.norm(way), "the toes"
    if ahead is None:
        return [Unknown(view.subject.name, "neither toes nor a left and a right are known: name them in a roles file")]
    angle = _angle(ahead, np.array([0.0, 0.0, 1.0]))
    return [
        Measured(angle, view.subject.name, f"by {how}, the figure faces {said(angle, 'degrees')} off +z", view.subject.bounds.mean(axis=0))
    ]


def feet_floor(view):
    """How far the lowest point of each foot is from the floor y = 0, millimetres."""
    found = []
    for side in ("left", "right"):
        ankle = view.roles.joints.get(f"{side}_ankle")
        if ankle is None:
            found.append(Unknown(f"{side} foot", f"no {side} ankle is known: name it in a roles file"))
            continue
        points = view.driven(view.subject.below(view.same_place(ankle)))
        if not len(points):
            found.append(Unknown(f"{side} foot", f"no part of the model hangs on {view.name(ankle)}"))
            continue
        lowest = points[points[:, 1].argmin()]
        off = 1000.0 * abs(lowest[1])
        where = "under" if lowest[1] < 0 else "over"
        found.append(Measured(off, view.name(ankle), f"the {side} foot's lowest point is {said(off, 'mm')} {where} the floor", lowest))
    return found


def _angle(a, b):
    size = np.linalg.norm(a) * np.linalg.norm(b)
    if size == 0:
        return 180.0
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b)))
