"""Sliders that bend the joints of chains (rigkit.view.slider_panel), as data for a page.

A cell's own function poses the model, so what it does has to be found out. Each
slider alone turns some slots and some marks about one axis through one point. If
it is forward kinematics, then several sliders together are these turns one after
the other, the nearest to the root last: the product of exponentials (Lynch & Park,
Modern Robotics, 2017, section 4.1 (memory)). That is tried out on random settings; a page
then computes it for any angles. Where it does not hold, None: a table does the rest.
"""

import numpy as np

from rigkit import rotation
from rigkit.book import figures
from rigkit.book.scenes import layer

TRIES = 6
NEAR = 1e-6  # radians, metres: slots
MARKS = 3e-5  # metres: marks are written down to a hundredth of a millimetre


def described(viewer, panel, pool):
    """A SliderPanel of a Recorder as plain data, or None where it is no forward kinematics."""
    labels, began = list(panel._ranges), dict(panel.degrees)
    told = viewer._status_text
    try:
        return _found(viewer, panel, labels, began, pool)
    finally:
        panel.set(began)
        viewer.say(told)


def _found(viewer, panel, labels, began, pool):
    zero = _seen(viewer, panel, dict.fromkeys(labels, 0.0))
    alone, screws = [], []
    for label in labels:
        low, high = panel._ranges[label]
        angle = min(high, 30.0) if high >= -low else max(low, -30.0)
        if angle == 0:
            return None
        alone.append(_seen(viewer, panel, {**dict.fromkeys(labels, 0.0), label: angle}))
        screws.append(_screw(zero["slots"], alone[-1]["slots"], np.radians(angle)))
    if any(screw is None for screw in screws) or any(one["shape"] != zero["shape"] for one in alone):
        return None
    order = sorted(range(len(labels)), key=lambda k: -int(screws[k][2].sum()))  # what moves more is nearer to the root
    slots = sum((1 << k) * screws[k][2].astype(int) for k in range(len(labels)))
    masks = {what: sum((1 << k) * (np.abs(one[what] - zero[what]).max(axis=1) > MARKS).astype(int) for k, one in enumerate(alone))
             for what in ("marks", "joints")}
    rng = np.random.default_rng(5)
    for _ in range(TRIES):
        setting = {label: float(np.round(rng.uniform(*panel._ranges[label]))) for label in labels}
        if not _holds(zero, _seen(viewer, panel, setting), [np.radians(setting[label]) for label in labels], screws, order, slots, masks):
            return None
    rows = _rows(viewer, zero, masks["joints"], labels)
    if rows is None:
        return None
    return {
        "kind": "chain", "note": "Degrees from the rest pose. Arrow keys work too, once a slider has the focus.",
        "sliders": [{"label": label, "low": panel._ranges[label][0], "high": panel._ranges[label][1], "step": 1, "value": began[label]} for label in labels],
        "order": order, "screws": [[figures.digits(axis), figures.digits(point)] for axis, point, _ in screws],
        "base": pool.put(zero["slots"].reshape(-1, 12).round(6).tolist()), "slots": pool.put(slots.tolist()),
        "marks": [pool.put(one) for one in zero["layers"]], "masks": pool.put(masks["marks"].tolist()), "rows": rows}


def _seen(viewer, panel, degrees):
    """What a setting shows: slots (S, 3, 4), every point of the marks (N, 3), joints (J, 3), rows, and what must stay the same."""
    panel.set(degrees)
    layers = [layer(one) for one in viewer.layers()]
    points, shape = [], []
    for one in layers:
        for place, rest in _points(one):
            points += place
            shape.append((len(place), rest))
    return {"slots": figures.motions(viewer.figure, viewer.stance), "marks": np.array(points, dtype=float).reshape(-1, 3), "joints": viewer._joints.copy(),
            "rows": list(viewer._rows), "layers": layers, "shape": (shape, list(viewer._names))}


def _points(one):
    """Each list of points of a layer as data, in the order in which the script goes through them, with what else is told of it."""
    for vertices, *rest in one["sheets"]:
        yield vertices, rest
    for colour, wide, narrow, lines in one["strokes"]:
        for line in lines:
            yield line, [colour, wide, narrow]
    for shape, colour, size, points in one["glyphs"]:
        yield points, [shape, colour, size]
    for text, point, *rest in one["words"]:
        yield point, [text, *rest]


def _screw(before, after, angle):
    """The axis (3,) and a point on it (3,) about which one slider turns, and which slots (S,) it turns; None where it is no such turn."""
    moved = np.abs(after - before).max(axis=(1, 2)) > NEAR
    if not moved.any():
        return None
    turns = after[moved][:, :, :3] @ before[moved][:, :, :3].transpose(0, 2, 1)
    shifts = after[moved][:, :, 3] - np.einsum("sab,sb->sa", turns, before[moved][:, :, 3])
    if np.ptp(turns, axis=0).max() > NEAR or np.ptp(shifts, axis=0).max() > NEAR:
        return None
    axis, found = rotation.to_axis_angle(rotation.from_matrix(turns[0]))
    point = np.linalg.lstsq(np.eye(3) - turns[0], shifts[0], rcond=1e-9)[0]
    if abs(found - abs(angle)) > NEAR or np.abs(point - turns[0] @ point - shifts[0]).max() > NEAR:
        return None
    return axis * np.sign(angle), point, moved


def _holds(zero, seen, angles, screws, order, slots, masks):
    """Whether the product of turns gives what a setting shows. Words may change sides: they are not held to it."""
    if seen["shape"] != zero["shape"] or [label for label, _ in seen["rows"]] != [label for label, _ in zero["rows"]]:
        return False
    if any(a != b for a, b in zip(seen["rows"], zero["rows"])):
        return False
    for mask in np.unique(slots):
        turn, move = _product(mask, angles, screws, order)
        rows = slots == mask
        made = np.concatenate([turn @ zero["slots"][rows][:, :, :3], (zero["slots"][rows][:, :, 3] @ turn.T + move)[:, :, None]], axis=2)
        if np.abs(made - seen["slots"][rows]).max() > 10 * NEAR:
            return False
    written = _are_words(zero)
    for what, near in (("marks", MARKS), ("joints", 10 * NEAR)):
        for mask in np.unique(masks[what]):
            turn, move = _product(mask, angles, screws, order)
            off = np.abs(zero[what] @ turn.T + move - seen[what]).max(axis=1)
            rows = (masks[what] == mask) & (~written if what == "marks" else True)
            if (off[rows] > near).any():
                return False
    return True


def _are_words(seen):
    """Which points of the marks carry words, (N,)."""
    kinds = [np.full(len(place) // 3, place is word) for one in seen["layers"] for place, _ in _points(one)
             for word in [next((w[1] for w in one["words"] if w[1] is place), None)]]
    return np.concatenate(kinds) if kinds else np.zeros(0, bool)


def _product(mask, angles, screws, order):
    """The turns of the sliders in a mask, one after the other, as a matrix and a move."""
    turn, move = np.eye(3), np.zeros(3)
    for k in order:
        if mask >> k & 1:
            axis, point, _ = screws[k]
            own = rotation.to_matrix(rotation.from_axis_angle(axis, angles[k]))
            turn, move = turn @ own, turn @ (point - own @ point) + move
    return turn, move


def _rows(viewer, zero, masks, labels):
    """The number table: rows that stay, the sliders', and the joints' that are listed; None where anything else is in it."""
    rows = [["text", label, value] for label, value in zero["rows"]] + [["slider", label, k] for k, label in enumerate(labels)]
    if len(viewer._joints) <= 12:
        rows += [["point", name, figures.digits(point), int(mask)] for name, point, mask in zip(viewer._names, zero["joints"], masks)]
    shown = [label for label, _ in viewer._all_rows()]
    return rows if shown == [row[1] for row in rows] else None
