"""Joint frames: an axis along the bone, the same one in a chain, and hinges that agree along a chain and across the sides."""

import numpy as np

from rigkit import mirror
from rigkit.audit.bending import NO_HINGE, each_limb
from rigkit.audit.finding import Measured, Unknown
from rigkit.audit.finding import told as said

LETTERS = "xyz"
SIGNS = [np.diag(s) for s in ((-1.0, -1, -1), (-1, 1, 1), (1, -1, 1), (1, 1, -1))]  # of the frame's own axes; determinant -1


def bone_axis(view):
    """The angle between a joint's bone and the nearest axis of its frame, degrees, for every joint of a chain but its last."""
    found = []
    for joint, along in _bones(view):
        angle = float(np.degrees(np.arccos(np.clip(np.abs(along).max(), -1, 1))))
        axis = LETTERS[int(np.abs(along).argmax())]
        found.append(
            Measured(
                angle, view.name(joint), f"the bone of {view.name(joint)} is {said(angle, 'degrees')} off its {axis} axis", view.at(joint)
            )
        )
    return found or [Unknown(view.subject.name, "no chain of three joints is known")]


def chain_axis(view):
    """The angle between the axis along a joint's bone and the one that most joints of its chain have there, degrees: 0, 90 or 180."""
    bones, found = dict(_bones(view)), []
    for chain in view.chains:
        axes = {joint: _nearest(bones[joint]) for joint in chain[:-1] if joint in bones}
        if len(axes) < 2:
            continue
        told = [tuple(axis) for axis in axes.values()]
        usual = max(dict.fromkeys(told), key=told.count)
        for joint, axis in axes.items():
            angle = float(np.degrees(np.arccos(np.clip(axis @ np.array(usual), -1, 1))))
            what = f"{view.name(joint)} has {_letter(axis)} along its bone, its chain {_letter(usual)}"
            found.append(Measured(angle, view.name(joint), what, view.at(joint)))
    return found or [Unknown(view.subject.name, "no chain of three joints is known")]


def hinge_chain(view):
    """The angle between the hinge axis of each elbow and knee and the same axis of the joint above, degrees: 180 where it has flipped."""

    def measure(mid, joints, points):
        axis = hinge_letter(view, mid)
        if axis is None:
            return [Unknown(view.name(joints[1]), NO_HINGE)]
        found, path = [], view.subject.path(joints[1])
        for upper, lower in zip(path[path.index(joints[0]) :], path[path.index(joints[0]) + 1 :]):
            angle = _apart(view.subject.axes[upper][:, axis], view.subject.axes[lower][:, axis])
            what = f"the {LETTERS[axis]} axes of {view.name(upper)} and {view.name(lower)} are {said(angle, 'degrees')} apart"
            found.append(Measured(angle, view.name(lower), what, view.at(lower)))
        return found

    return each_limb(view, measure)


def hinge_bend(view):
    """The angle between the hinge of each elbow and knee and the nearest axis of its frame, degrees."""

    def measure(mid, joints, points):
        axis = hinge_letter(view, mid)
        if axis is None:
            return [Unknown(view.name(joints[1]), NO_HINGE)]
        angle = _apart(view.subject.axes[joints[1]][:, axis], view.roles.hinges[mid])
        angle = min(angle, 180.0 - angle)
        what = f"the hinge of {view.name(joints[1])} is {said(angle, 'degrees')} off its {LETTERS[axis]} axis"
        return [Measured(angle, view.name(joints[1]), what, points[1])]

    return each_limb(view, measure)


def hinge_sides(view):
    """The angle between the hinge of a right elbow or knee and the mirror image of the left one, degrees.

    The limb's root tells which sign is meant.
    """
    plane, found = view.roles.plane, []
    for part in ("elbow", "knee"):
        left, right = (view.roles.limb(f"{side}_{part}") for side in ("left", "right"))
        axis = hinge_letter(view, f"left_{part}")
        if plane is None or left is None or right is None or axis is None:
            found.append(Unknown(f"{part}s", "the limbs of both sides, their hinge and the plane between are not all known"))
            continue
        images = mirror.directions(view.subject.axes[left][:, :, axis], plane)
        across = view.subject.axes[right][:, :, axis]
        sign = 1.0 if images[0] @ across[0] >= 0 else -1.0
        angle = _apart(sign * images[1], across[1])
        what = f"the hinge of {view.name(right[1])} is {said(angle, 'degrees')} off the mirror image of that of {view.name(left[1])}"
        found.append(Measured(angle, view.name(right[1]), what, view.at(right[1])))
    return found


def mirror_frame(view):
    """The angle between a right joint's frame and the nearest mirrored frame of its counterpart, degrees.

    Mirrored frames are matched, parallel, or of another choice of signs.
    """
    plane, subject = view.roles.plane, view.subject
    if plane is None or not view.lefts:
        return [Unknown(subject.name, "no pairs of left and right, or no plane between them, are known")]
    found = []
    for i in view.lefts:
        j = view.pairs[i]
        image = mirror.matrix(plane) @ subject.axes[i]
        angle = min(_turn(image @ sign, subject.axes[j]) for sign in SIGNS)
        what = f"{view.name(j)} is turned {said(angle, 'degrees')} from a mirror image of {view.name(i)}"
        found.append(Measured(angle, view.name(j), what, view.at(j)))
    return found


def hinge_letter(view, mid):
    """The place (0, 1, 2) of the axis of a middle joint's frame that is nearest to its hinge, or None where no hinge is known."""
    if mid not in view.roles.hinges or mid not in view.roles:
        return None
    return int(np.abs(view.roles.hinges[mid] @ view.subject.axes[view.roles[mid]]).argmax())


def _bones(view):
    """(joint, its bone's unit direction in its own frame) of the chains."""
    seen = set()
    for chain in view.chains:
        for joint, following in zip(chain, chain[1:]):
            bone = view.at(following) - view.at(joint)
            size = np.linalg.norm(bone)
            if joint not in seen and size > 1e-6 * view.subject.size:
                seen.add(joint)
                yield joint, (bone / size) @ view.subject.axes[joint]


def _nearest(direction):
    axis = np.zeros(3)
    k = int(np.abs(direction).argmax())
    axis[k] = np.sign(direction[k])
    return axis


def _letter(axis):
    k = int(np.abs(np.array(axis)).argmax())
    return ("-" if axis[k] < 0 else "") + LETTERS[k]


def _apart(a, b):
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b)))


def _turn(a, b):
    """The angle between two rotation matrices, degrees."""
    spin = a.T @ b
    sine = np.linalg.norm([spin[2, 1] - spin[1, 2], spin[0, 2] - spin[2, 0], spin[1, 0] - spin[0, 1]])
    return float(np.degrees(np.arctan2(sine, np.trace(spin) - 1.0)))
