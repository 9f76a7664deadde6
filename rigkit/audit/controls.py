"""Controls as an animator meets them: at home, pivot, scale, size, seen, side and shape, markers, number."""

import numpy as np

from rigkit import control as controls
from rigkit import mirror, words
from rigkit.audit import inside
from rigkit.audit.bending import STRAIGHT
from rigkit.audit.finding import Measured, Unknown
from rigkit.audit.finding import told as said
from rigkit.bend import angle, normal
from rigkit.links import Follow, Limb

DENSE = 96  # points looked at along an outline
NO_RIG = "there is no rig: the file holds joints and model alone"


def home(view):
    """The largest move or turn, metres or radians, that a control has left over at home, and how far its size is from one."""

    def measure(control):
        left = {
            c.name: abs(c.home - (1.0 if c.name.startswith("size") else 0.0))
            for c in control.channels
            if c.name in (*controls.MOVES, *controls.TURNS) or c.name.startswith("size")
        }
        name = max(left, key=left.get)
        return left[name], f"{control.name} has {name} {control.channel(name).home:.4g} at home"

    return _each(view, measure)


def scale(view):
    """The least of a control's sizes at home over its greatest: 1 for even ones, below zero for a mirrored one."""

    def measure(control):
        sizes = [c.home for c in control.channels if c.name.startswith("size")] or [1.0]
        most = max(map(abs, sizes))
        share = min(sizes) / most if most > 0 else 0.0
        return share, f"{control.name} has the sizes {', '.join(f'{s:.4g}' for s in sizes)} at home"

    return _each(view, measure)


def pivot(view):
    """How far a control's pivot is from the joint it serves, millimetres."""
    if not view.subject.rig:
        return [Unknown("controls", NO_RIG)]
    found = []
    for control, joint in _served(view):
        at = view.at(view.subject.names.index(joint))
        off = 1000.0 * float(np.linalg.norm(control.position - at))
        found.append(Measured(off, control.name, f"the pivot of {control.name} is {said(off, 'mm')} from {joint}", control.position))
    return found or [Unknown("controls", "no control is linked to a joint of its own")]


def size(view):
    """A control's size in percent of the figure's."""
    return _each(
        view,
        lambda control: (
            percent := 100.0 * control.outline.size / view.subject.size,
            f"{control.name} is {said(percent, 'percent')} of the figure's size",
        ),
        drawn=True,
    )


def hidden(view):
    """The share of a control's outline that is inside the model, percent."""
    if view.subject.rig and not len(view.subject.points):
        return [Unknown("controls", "there is no model to be inside of")]
    corners = inside.faces(view.subject.skins)

    def measure(control):
        points = _dense(controls.drawn(control))
        share = 100.0 * float(inside.inside(corners, points).mean())
        return share, f"{said(share, 'percent')} of {control.name} is inside the model"

    return _each(view, measure, drawn=True)


def colour(view):
    """Whether a control is drawn in the colour of its side and in no other side's line style: the number of the two that are wrong."""

    def measure(control):
        drawn, line = view.subject.styles[control.name][:2]
        wanted, style = view.book.colours[control.side], words.SIDE_LINE[control.side]
        wrong = int(drawn.lower() != wanted.lower()) + int(line != style)
        return wrong, f"{control.name} is drawn {line} in {drawn}; the side {control.side} is {style} in {wanted}"

    return _each(view, measure)


def shape(view):
    """How far the outline of a right control is from the mirror image of its counterpart's, millimetres."""
    plane, known = view.roles.plane, {c.name: c for c in view.subject.controls}
    if not view.subject.rig:
        return [Unknown("controls", NO_RIG)]
    if plane is None:
        return [Unknown("controls", "no plane of symmetry was found: give one in a roles file")]
    found = []
    for control in view.subject.controls:
        other = known.get(_other(control.name))
        if control.side != "right" or control.outline is None:
            continue
        if other is None or other.outline is None:
            found.append(Unknown(control.name, "it has no counterpart with an outline"))
            continue
        mine, image = np.concatenate(controls.drawn(control)), mirror.points(np.concatenate(controls.drawn(other)), plane)
        off = 1000.0 * _farthest(mine, image)
        what = f"the outline of {control.name} is {said(off, 'mm')} from the mirror image of that of {other.name}"
        found.append(Measured(off, control.name, what, control.position))
    return found or [Unknown("controls", "no control of the right has an outline")]


def marker_plane(view):
    """How far the marker of a limb is off its bend plane, millimetres."""

    def measure(marker, points):
        off = 1000.0 * abs(float((marker.position - points[0]) @ normal(*points)))
        return off, f"{marker.name} is {said(off, 'mm')} off the bend plane of its limb"

    return _markers(view, measure)


def marker_side(view):
    """How far the marker of a limb is from the line root to end, towards where it bends, millimetres; below zero on the wrong side."""

    def measure(marker, points):
        a, b, c = points
        line = (c - a) / np.linalg.norm(c - a)
        side = (b - a) - ((b - a) @ line) * line
        off = 1000.0 * float((marker.position - a) @ side / np.linalg.norm(side))
        return off, f"{marker.name} is {said(abs(off), 'mm')} on the {'side its limb bends to' if off > 0 else 'wrong side of its limb'}"

    return _markers(view, measure)


def budget(view):
    """The number of controls."""
    if not view.subject.rig:
        return [Unknown("controls", NO_RIG)]
    count = controls.count(view.subject.controls)[0]
    return [Measured(count, view.subject.name, f"the rig has {count} controls")]


def channels(view):
    """The number of open channels of each control."""
    return _each(view, lambda control: (len(control.open_channels), f"{control.name} has {len(control.open_channels)} open channels"))


# ---- helpers ----------------------------------------------------------------------------------------------------


def _each(view, measure, drawn=False):
    """What `measure(control)`, (value, what), says of each control; drawn: of those with an outline."""
    if not view.subject.rig:
        return [Unknown("controls", NO_RIG)]
    found = []
    for control in view.subject.controls:
        if drawn and control.outline is None:
            found.append(Unknown(control.name, "it has no outline"))
        else:
            value, what = measure(control)
            found.append(Measured(float(value), control.name, what, control.position))
    return found or [Unknown("controls", "the rig has no controls")]


def _served(view):
    """(control, joint) of each control that one joint follows or is turned by; feet, which stand under the ankle, are not among them."""
    joints, known, rig = set(view.subject.names), {c.name: c for c in view.subject.controls}, view.subject.rig
    found = {}
    for link in rig.links:
        if isinstance(link, Follow) and link.driven in joints and len(link.leaders) == 1 and link.leaders[0] in known:
            found.setdefault(link.leaders[0], link.driven)
        elif isinstance(link, Limb):
            for control, joint in zip(link.turned, link.joints):
                found.setdefault(control, joint)
            if link.target in known:
                found.setdefault(link.target, link.joints[2])
    return [(known[control], joint) for control, joint in found.items()]


def _markers(view, measure):
    """What `measure(marker, points)` says of the marker of each limb of the rig."""
    if not view.subject.rig:
        return [Unknown("markers", NO_RIG)]
    found = []
    for link in view.subject.rig.links:
        if not isinstance(link, Limb):
            continue
        points = view.subject.positions[[view.subject.names.index(j) for j in link.joints]]
        marker = next((c for c in view.subject.controls if c.name == link.marker), None)
        if marker is None:
            found.append(Unknown(link.marker, "the limb's pole point is carried by no control"))
        elif angle(*points) < STRAIGHT:
            found.append(Unknown(marker.name, "its limb is straight and has no bend plane"))
        else:
            value, what = measure(marker, points)
            found.append(Measured(value, marker.name, what, marker.position))
    return found or [Unknown("markers", "the rig has no limb that reaches for a target")]


def _other(name):
    try:
        return mirror.names(name)
    except ValueError:  # both sides in one name
        return name


def _dense(lines):
    """Points along polylines, a list of (N, 3), about DENSE of them in all: each stretch in as many pieces, (M, 3)."""
    pieces = max(1, DENSE // sum(map(len, lines)))
    share = np.linspace(0, 1, pieces, endpoint=False)[:, None, None]
    found = [((1 - share) * line[:-1] + share * line[1:]).reshape(-1, 3) for line in lines]
    return np.concatenate([*found, *(line[-1:] for line in lines)])


def _farthest(a, b):
    """The farthest that a point of one set is from the nearest of the other, metres."""
    apart = np.linalg.norm(a[:, None] - b[None], axis=-1)
    return float(max(apart.min(axis=0).max(), apart.min(axis=1).max()))
