"""The two sides: counterparts there, in mirrored places, and joints of the middle on the plane. The plane is found, not assumed."""

import numpy as np

from rigkit import mirror
from rigkit.audit.finding import Measured, Unknown
from rigkit.audit.finding import told as said


def mirror_place(view):
    """How far a right joint is from the mirror image of its counterpart, millimetres."""
    plane = view.roles.plane
    if plane is None or not view.lefts:
        return [Unknown(view.subject.name, "no pairs of left and right, or no plane between them, are known")]
    found = []
    for i in view.lefts:
        j = view.pairs[i]
        off = 1000.0 * float(np.linalg.norm(mirror.points(view.at(i), plane) - view.at(j)))
        found.append(
            Measured(off, view.name(j), f"{view.name(j)} is {said(off, 'mm')} from the mirror image of {view.name(i)}", view.at(j))
        )
    return found


def counterpart(view):
    """Joints whose name tells a side and that have no counterpart: 1 each."""
    sided = [j for j, told in enumerate(view.wordings) if told.side in ("left", "right")]
    if not sided:
        return [Unknown(view.subject.name, "no name tells a side")]
    return [
        Measured(
            0 if j in view.pairs else 1, view.name(j), f"{view.name(j)} has {'a' if j in view.pairs else 'no'} counterpart", view.at(j)
        )
        for j in sided
    ]


def plane_place(view):
    """How far the plane of symmetry found is from x = 0: its greatest distance within the figure, millimetres."""
    plane, subject = view.roles.plane, view.subject
    if plane is None:
        return [Unknown(subject.name, "no plane of symmetry was found: give one in a roles file")]
    if abs(plane.normal[0]) < 0.5:
        return [Measured(1000.0 * subject.size, subject.name, "the plane of symmetry is not upright between left and right", plane.point)]
    low, high = subject.bounds
    corners = np.array([[0.0, y, z] for y in (low[1], high[1]) for z in (low[2], high[2])])
    off = 1000.0 * float(np.abs((corners - plane.point) @ plane.normal / plane.normal[0]).max())
    return [Measured(off, subject.name, f"the plane of symmetry is up to {said(off, 'mm')} off x = 0", plane.point)]


def near_plane(view):
    """How far joints with no counterpart that stand near the plane of symmetry are off it, millimetres."""
    plane = view.roles.plane
    if plane is None:
        return [Unknown(view.subject.name, "no plane of symmetry was found: give one in a roles file")]
    near, found = view.settings["near_plane_mm"], []
    for joint, told in enumerate(view.wordings):
        off = 1000.0 * abs(float((view.at(joint) - plane.point) @ plane.normal))
        if joint not in view.pairs and told.side not in ("left", "right") and off <= near:
            found.append(
                Measured(off, view.name(joint), f"{view.name(joint)} is {said(off, 'mm')} off the plane of symmetry", view.at(joint))
            )
    return found or [Unknown(view.subject.name, f"no joint of the middle stands within {near:g} mm of the plane")]
