"""Weights of the model: sums, counts, signs, far influence, hard parts on more than one joint."""

import numpy as np

from rigkit.audit.finding import Measured, Unknown


def sums(view):
    """How far the weights of a vertex are from adding up to one, the worst of each piece."""
    limit = view.book.rules["weight_sum"].limit

    def measure(skin, _):
        off = np.abs(skin.weights.sum(axis=1) - 1.0)
        worst = int(off.argmax())
        total = skin.weights[worst].sum()
        return (
            off[worst],
            worst,
            f"the weights of vertex {worst} of {skin.name} add up to {total:.6g}, {(off > limit).sum()} vertices are off",
        )

    return _each(view, measure)


def counts(view):
    """How many joints a vertex hangs on, the most of each piece."""

    def measure(skin, _):
        count = (skin.weights != 0).sum(axis=1)
        worst = int(count.argmax())
        return count[worst], worst, f"vertex {worst} of {skin.name} hangs on {count[worst]} joints"

    return _each(view, measure)


def negative(view):
    """The most that a weight of each piece is below zero."""

    def measure(skin, _):
        low = skin.weights.min(axis=1)
        worst = int(low.argmin())
        return max(0.0, -low[worst]), worst, f"vertex {worst} of {skin.name} has the weight {low[worst]:.4g}"

    return _each(view, measure)


def hard(view):
    """How many joints a hard part hangs on; for pieces that are said to be hard."""
    found = []
    for skin in view.subject.skins:
        if skin.kind == "hard" and len(skin.vertices):
            used = (np.abs(skin.weights) > 1e-6).any(axis=0)
            names = ", ".join(view.name(j) for j in skin.joints[used][:4])
            found.append(Measured(int(used.sum()), skin.name, f"the hard part {skin.name} hangs on {names}", skin.vertices.mean(axis=0)))
    return found or [Unknown(view.subject.name, "nothing says which pieces of the model are hard")]


def far(view):
    """How much farther a vertex is from a joint it hangs on than from its main one, in percent of the figure's size.

    The distance is that from the joint's bones: the lines to its children, or the joint alone. The worst of each piece and joint.
    """
    subject, found = view.subject, []
    for skin, main in zip(subject.skins, view.mains):
        least = view.settings["far_weight"]
        near = {}
        for column in np.flatnonzero((np.abs(skin.weights) > least).any(axis=0)):
            joint = int(skin.joints[column])
            rows = np.flatnonzero((np.abs(skin.weights[:, column]) > least) & (main != joint))
            if not len(rows):
                continue
            beyond = _distance(view, joint, skin.vertices[rows]) - _from_main(view, skin, main, rows, near)
            worst = int(beyond.argmax())
            vertex, percent = int(rows[worst]), max(0.0, 100.0 * beyond[worst] / subject.size)
            what = (
                f"vertex {vertex} of {skin.name}, at {view.name(main[vertex])}, hangs on {view.name(joint)} by "
                f"{100 * skin.weights[vertex, column]:.3g} percent, {1000 * beyond[worst]:.0f} mm farther away"
            )
            found.append(Measured(percent, f"{skin.name}: {view.name(joint)}", what, skin.vertices[vertex]))
    return found or [Unknown(subject.name, "no vertex hangs on more than one joint")]


def _from_main(view, skin, main, rows, known):
    """The distance of vertices from the bones of their main joints, worked out once for each main joint of a piece."""
    out = np.empty(len(rows))
    for joint in np.unique(main[rows]):
        if joint not in known:
            every = np.flatnonzero(main == joint)
            known[joint] = every, _distance(view, int(joint), skin.vertices[every])
        every, distance = known[joint]
        mine = np.flatnonzero(main[rows] == joint)
        out[mine] = distance[np.searchsorted(every, rows[mine])]
    return out


def _distance(view, joint, points):
    """From points (N, 3) to the nearest of a joint's bones, metres."""
    start = view.at(joint)
    best = np.linalg.norm(points - start, axis=1)
    for child in view.subject.children[joint]:
        bone = view.at(child) - start
        square = bone @ bone
        if square > 0:
            along = np.clip((points - start) @ bone / square, 0.0, 1.0)
            best = np.minimum(best, np.linalg.norm(points - start - along[:, None] * bone, axis=1))
    return best


def _each(view, measure):
    """What `measure(skin, main)` says, (value, vertex, what), of each piece with vertices."""
    found = []
    for skin, main in zip(view.subject.skins, view.mains):
        if skin.weights.size:
            value, vertex, what = measure(skin, main)
            found.append(Measured(float(value), skin.name, what, skin.vertices[vertex]))
    return found or [Unknown(view.subject.name, "there is no model with weights")]
