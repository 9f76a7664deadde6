"""Which way limbs bend, by how much, and whether chains lie in a plane."""

import numpy as np

from rigkit import bend
from rigkit.audit.finding import Measured, Unknown
from rigkit.audit.finding import told as said
from rigkit.audit.roles import LIMBS

SHORT = 1e-6  # of the figure's size: a bone of no more has no direction
STRAIGHT = np.radians(0.05)  # a limb bent by less tells no side
NO_HINGE = "the limb is straight, and no hinge is given for it"


def each_limb(view, measure):
    """What measure(mid, joints, points) finds of each limb that is known, a list each, and an Unknown for each that is not.

    mid: the role of the middle joint. joints, points: root, mid and end.
    """
    found = []
    for mid, chain in LIMBS.items():
        joints = view.roles.limb(mid)
        if joints is None:
            missing = next(role for role in chain if role not in view.roles)
            found.append(Unknown(mid.replace("_", " "), f"no {missing.replace('_', ' ')} is known: name it in a roles file"))
            continue
        points = view.subject.positions[joints]
        if (np.linalg.norm(np.diff(points, axis=0), axis=1) <= SHORT * view.subject.size).any():
            found.append(Unknown(view.name(joints[1]), "a bone of the limb has no length"))
            continue
        found += measure(mid, joints, points)
    return found


def prebend(view):
    """How far each elbow and knee is bent at rest, degrees."""

    def measure(mid, joints, points):
        angle = float(np.degrees(bend.angle(*points)))
        return [Measured(angle, view.name(joints[1]), f"{_told(mid)} is bent by {said(angle, 'degrees')} at rest", points[1])]

    return each_limb(view, measure)


def bend_side(view):
    """How far each elbow stands behind, and each knee ahead of, the line of its limb, millimetres; below zero on the wrong side."""

    def measure(mid, joints, points):
        if view.ahead is None:
            return [Unknown(view.name(joints[1]), "no left and right are known, so neither what is ahead")]
        if bend.angle(*points) < STRAIGHT:
            return [Unknown(view.name(joints[1]), "the limb is straight: it bends no way")]
        knee = mid.endswith("knee")
        off = 1000.0 * _height(*points) @ (view.ahead if knee else -view.ahead)
        side = "ahead of" if knee == (off > 0) else "behind"
        what = f"{_told(mid)} stands {said(abs(off), 'mm')} {side} the line of its limb"
        return [Measured(float(off), view.name(joints[1]), what, points[1])]

    return each_limb(view, measure)


def planarity(view):
    """How far the joints of a chain of four or more are from the plane through its ends that fits best, millimetres."""
    found = []
    for chain in view.chains:
        points = view.subject.positions[chain]
        if len(chain) < 4:
            continue
        try:
            off = 1000.0 * np.abs(bend.off_plane(points))
        except ValueError:  # a straight chain lies in many planes, and one with a ring or no length in none
            continue
        worst = int(off.argmax())
        name = view.name(chain[worst])
        what = f"{name} is {said(off[worst], 'mm')} off the plane of its chain, {view.name(chain[0])} to {view.name(chain[-1])}"
        found.append(Measured(float(off[worst]), name, what, points[worst]))
    if found:
        return found
    return [Unknown(view.subject.name, "no chain has four joints and a bend: three joints always lie in a plane")]


def _height(a, b, c):
    """From the foot of b on the line ac to b."""
    line = c - a
    return (b - a) - ((b - a) @ line) / (line @ line) * line


def _told(mid):
    return f"the {mid.replace('_', ' ')}"
