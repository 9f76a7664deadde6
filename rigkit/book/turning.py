"""Sliders that turn a joint (rigkit.view.turn_panel), as data for a page.

Most such sliders are turns about fixed axes, one after the other: then the turn is a
product, q = q1 q2 q3, with one factor a slider. Whether it is, and in which order, is
found by trying; a page then computes it for any angles. Where it is not, the turns on a grid of angles are written
down. The arrows of the cell are directions that the first factors carry, or are written down too.
"""

from itertools import permutations, product

import numpy as np

from rigkit import rotation
from rigkit.book import figures

SAME = 1e-9
TRIES = 8
NODES = 2500  # turns in a table, at most
COARSER = (5, 10, 15, 20, 30, 45, 60, 90)  # degrees


def described(viewer, panel, pool, layers):
    """A TurnPanel of a Recorder as plain data; `layers` are the marks that are not the panel's."""
    sliders = list(panel._sliders.items())
    found = as_product(panel, len(sliders))
    grids = [_whole(dial.min, dial.max, 1) for _, dial in sliders]
    if found is None:
        coarser = ([_whole(d.min, d.max, step) for _, d in sliders] for step in COARSER)
        grids = next((tried for tried in coarser if np.prod([len(grid) for grid in tried]) <= NODES), None)
        if grids is None:
            return None
    step = grids[0][1] - grids[0][0] if len(grids[0]) > 1 else 1
    stood = ("joints", panel._before, panel._posed - np.einsum("jab,jb->ja", panel._before, panel._rest))
    below = set(np.arange(len(panel._rest))[panel._below].tolist())
    note = "Move a slider, or type a number beside it." + ("" if step == 1 else f" Here in steps of {step:g} degrees; in the notebook in whole degrees.")
    return {
        "kind": "turn", "note": note,
        "sliders": [{"label": label, "low": grid[0], "high": grid[-1], "step": step, "value": float(min(grid, key=lambda v: abs(v - dial.value)))}
                    for (label, dial), grid in zip(sliders, grids)],
        **(_product(panel, found, len(sliders)) if found is not None else _table(panel, grids)),
        "pivot": figures.digits(panel.pivot), "start": None if panel._start is None else figures.digits(panel._start),
        "tip": panel._tip, "frame": figures.digits(panel.frame),
        "base": pool.put(figures.motions(viewer.figure, stood).reshape(-1, 12).round(6).tolist()),
        "below": pool.put([i for i, (*_, joint) in enumerate(figures.slots(viewer.figure)) if joint in below]), "marks": layers}


def as_product(panel, count):
    """[(slider's number, axis (3,)), ...] so that the turn is their product in this order, and whether q is taken with w >= 0; None if it is none."""
    singles = []
    for k in range(count):
        axis, angle = rotation.to_axis_angle(panel._turned(np.eye(count)[k] * 30.0))
        if abs(angle - np.radians(30.0)) > SAME:
            return None
        singles.append(axis)
    rng = np.random.default_rng(3)
    tries = rng.uniform([d.min for d in panel._sliders.values()], [d.max for d in panel._sliders.values()], (TRIES, count))
    right = np.array([panel._turned(one) for one in tries])
    for order in permutations(range(count)):
        made = np.array([_multiplied(order, singles, np.radians(one)) for one in tries])
        for upright in (False, True):
            shown = np.where(made[:, 3:] < 0, -made, made) if upright else made
            if np.abs(shown - right).max() < 1e-7:
                return [(k, singles[k]) for k in order], upright
    return None


def _multiplied(order, axes, angles):
    made = rotation.IDENTITY
    for k in order:
        made = rotation.multiply(made, rotation.from_axis_angle(axes[k], angles[k]))
    return np.asarray(made)


def _product(panel, found, count):
    """The factors, and each arrow as a direction carried by the first few of them; one that is not is left out."""
    factors, upright = found
    order, axes = [k for k, _ in factors], {k: axis for k, axis in factors}
    arrows, rng = [], np.random.default_rng(4)
    tries = rng.uniform(-1.0, 1.0, (TRIES, count)) * [max(abs(d.min), abs(d.max)) for d in panel._sliders.values()]
    for label, way in panel._axes(*np.zeros(count)).items():
        way = np.asarray(way, dtype=float) / np.linalg.norm(way)
        for first in range(count + 1):
            carried = [rotation.rotate(_multiplied(order[:first], axes, np.radians(one)), way) for one in tries]
            shown = [np.asarray(panel._axes(*np.radians(one))[label], dtype=float) for one in tries]
            if max(np.linalg.norm(a - b / np.linalg.norm(b)) for a, b in zip(carried, shown)) < 1e-7:
                arrows.append([label, first, figures.digits(way)])
                break
    return {"factors": [[k, figures.digits(axis)] for k, axis in factors], "upright": upright, "arrows": arrows}


def _table(panel, grids):
    """The turn and the arrows at each setting; the last slider runs fastest."""
    settings = [np.array(setting) for setting in product(*grids)]
    arrows = [panel._axes(*np.radians(setting)) for setting in settings]
    return {
        "turns": [round(float(x), 6) for setting in settings for x in panel._turned(setting)],
        "arrows": [[label, [round(float(x), 5) for one in arrows for x in np.asarray(one[label]) / np.linalg.norm(one[label])]] for label in arrows[0]]}


def _whole(low, high, step):
    """Multiples of `step` from low to high, with 0 among them where it lies between."""
    return [float(step * k) for k in range(int(np.ceil(low / step)), int(np.floor(high / step)) + 1)]
