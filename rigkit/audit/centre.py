"""Joints in the middle of what they bend.

Where skin goes over from the joints above to a joint and those below it, there is a line around the model on which both have half the
weight. The model bends there, so the joint belongs at the area centre of that line. The line is cut out of the triangles as a
contour of the weight; like any closed line, its area centre needs its pieces alone, each with the way it runs, and not their order
(`rigkit.placement` has the formula). Where the character brings its own loops, they are taken: a hard part that turns has no contour.
"""

import numpy as np

from rigkit import placement
from rigkit.audit.finding import Measured, Unknown
from rigkit.audit.finding import told as said

HALF = 0.5 - 1e-7  # a vertex with exactly half counts as above
RIGID = 0.999  # a vertex with as much weight on one joint hangs on it alone
CLOSED = 1e-6  # of the contour's size: ends that leave no more than this open
FLAT = 1e-9  # of the contour's size squared: an area of no more is none


def joint_centre(view):
    """How far each joint is from the centre of what it bends, millimetres."""
    subject = view.subject
    loops = _loops(view)
    bound = [_cumulated(view, skin) for skin in subject.skins]
    found = []
    for joint, above in enumerate(subject.parents):
        centre = loops.get(joint)
        if centre is None and above >= 0:
            centre = _contour_centre(view, joint, bound)
        if centre is None:
            if above >= 0 and view.used[joint]:
                found.append(Unknown(view.name(joint), "no closed line around the model shows where it bends"))
            continue
        off = 1000.0 * np.linalg.norm(view.at(joint) - centre)
        found.append(
            Measured(off, view.name(joint), f"{view.name(joint)} is {said(off, 'mm')} off the centre of what it bends", view.at(joint))
        )
    return found or [Unknown(subject.name, "no joint bends a part of the model")]


def _loops(view):
    """Joint to the area centre of the loop that the character names for it: 'left_elbow' for left_elbow_joint."""
    subject, vertices = view.subject, {skin.name: skin.vertices for skin in view.subject.skins}
    names = {name: j for j, name in enumerate(subject.names)}
    found = {}
    for landmark, (part, numbers) in subject.loops.items():
        joint = next((names[n] for n in (f"{landmark}_joint", f"centre_{landmark}_joint", landmark) if n in names), None)
        if joint is not None:
            found[joint] = placement.area_centre(vertices[part][numbers])
    return found


def _cumulated(view, skin):
    """The skin's weights summed up over joints in the order of a walk through the tree, so that a branch is a difference: (V, K + 1).

    With them the places of the joints in that walk (K,), and the corners (3, T) of the triangles that do not hang on one joint alone.
    """
    place = view.walk[0][skin.joints]
    order = np.argsort(place, kind="stable")
    total = np.zeros((len(skin.vertices), len(order) + 1), np.float32)
    np.cumsum(skin.weights[:, order], axis=1, out=total[:, 1:], dtype=np.float32)
    rigid = np.where(skin.weights.max(axis=1) > RIGID, skin.weights.argmax(axis=1), -1)
    a, b, c = rigid[np.ascontiguousarray(skin.triangles.T)]
    return place[order], total, np.ascontiguousarray(skin.triangles[(a != b) | (b != c) | (a < 0)].T)


def _contour_centre(view, joint, bound):
    """The area centre of the lines on which a joint's branch has half the weight, or None where they are not closed or not there."""
    place, end = (values[joint] for values in view.walk)
    starts, ends = [], []
    for skin, (places, total, triangles) in zip(view.subject.skins, bound):
        low, high = np.searchsorted(places, [place, end])
        if low == high or high - low == len(places):
            continue
        pieces = _pieces(skin.vertices, triangles, total[:, high] - total[:, low])
        if len(pieces[0]):
            starts.append(pieces[0])
            ends.append(pieces[1])
    if not starts:
        return None
    p, q = np.concatenate(starts), np.concatenate(ends)
    middle = p.mean(axis=0)
    p, q = p - middle, q - middle
    size = np.abs(p).max()
    if len(p) < 3 or not size > 0 or _open(p, q, size):
        return None
    fan = np.cross(p, q)
    vector = fan.sum(axis=0)
    area = np.linalg.norm(vector)
    if area <= FLAT * size * size:
        return None
    signed = fan @ (vector / area)
    return middle + signed @ (p + q) / (3.0 * signed.sum())


def _pieces(vertices, triangles, share):
    """The pieces of the line where `share` (V,) is a half, as (starts, ends), (N, 3) each; the higher share lies on one hand of all."""
    above = share >= HALF
    a, b, c = above[triangles]
    cut = triangles[:, (a != b) | (b != c)]
    if not cut.size:
        return np.zeros((0, 3)), np.zeros((0, 3))
    inside = above[cut]
    one = inside.sum(axis=0) == 1
    alone = np.where(one, inside.argmax(axis=0), (~inside).argmax(axis=0))
    rows = np.arange(cut.shape[1])
    a, b, c = (cut[(alone + k) % 3, rows] for k in range(3))
    first, second = _crossing(vertices, share, a, b), _crossing(vertices, share, a, c)
    turned = one[:, None]
    return np.where(turned, first, second), np.where(turned, second, first)


def _crossing(vertices, share, a, b):
    """Where the share passes a half between the vertices a and b, (N, 3)."""
    s, t = share[a].astype(float), share[b].astype(float)
    return vertices[a] + ((HALF - s) / (t - s))[:, None] * (vertices[b] - vertices[a])


def _open(p, q, size):
    """Whether some end of a piece has no start of another there: compared as places, for a file may hold a vertex more than once.

    Two places next to each other may fall in two cells of a grid; they do not in one that is shifted by half a cell too.
    """
    grid = max(CLOSED * size, 1e-12)
    return all(_unmatched(np.floor(np.concatenate([p, q]) / grid + shift), len(p)) for shift in (0.0, 0.5))


def _unmatched(cells, count):
    number = np.unique(cells, axis=0, return_inverse=True)[1].reshape(-1)
    starts, ends = (np.bincount(part, minlength=number.max() + 1) for part in (number[:count], number[count:]))
    return bool((starts != ends).any())
