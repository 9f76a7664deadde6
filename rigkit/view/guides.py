"""Lines and shapes that explain: labelled curves, lettered frames, a bend plane, the shell of what can be reached.

A `Guide` is marks with the numbers they show. Guides of limbs, feet, eyes and ways are in modules of their own
(`limb_guides`, `foot_guides`, `gaze_guides`, `trails`); the Viewer's calls for all of them are in `guiding`.
"""

from typing import NamedTuple

import numpy as np

from rigkit import arguments, rotation, words
from rigkit.view import marks


class Guide(NamedTuple):
    """layer: a Layer of marks. rows: of the number table, [(label, text), ...]."""

    layer: marks.Layer
    rows: tuple = ()


def frames(positions, rotations, length=0.09, letters=True):
    """Frames at positions (N, 3), turned by quaternions (N, 4) or matrices (N, 3, 3): three lettered axes each."""
    positions = arguments.points("positions", positions).reshape(-1, 3)
    turns = np.asarray(rotations, dtype=float)
    turns = (
        turns.reshape(-1, 3, 3)
        if turns.shape[-2:] == (3, 3)
        else rotation.to_matrix(arguments.quaternions("rotations", turns).reshape(-1, 4))
    )
    if len(turns) != len(positions):
        raise ValueError(f"{len(turns)} rotations came for {len(positions)} positions; give one for each position")
    drawn, told = [], []
    for k, (letter, colour) in enumerate(words.AXIS_COLOUR.items()):
        tips = positions + length * turns[:, :, k]
        drawn.append(marks.strokes(positions, tips, colour, 3, 2))
        told += [marks.Word(letter, tuple(tip), colour, (0, 9), 12) for tip in tips] if letters else []
    return marks.Layer(strokes=tuple(drawn), words=tuple(told))


def lines(curves, colour=None):
    """Curves {label: (N, 3)}, each with its label at the last point; a label that starts with "_" is not written."""
    colours = [words.PALETTE[name] for name in ("yellow", "green", "purple", "vermilion", "sky")]
    drawn, told = [], []
    for i, (label, points) in enumerate(curves.items()):
        points = arguments.points(f"lines[{label!r}]", points).reshape(-1, 3)
        own = colour or colours[i % len(colours)]
        drawn.append(marks.path(points, own, 2.2) if len(points) > 1 else marks.strokes(points, points, own))
        if written(label):
            told.append(marks.Word(label, tuple(points[-1]), own, (0, 13), 12))
    return marks.Layer(strokes=tuple(drawn), words=tuple(told))


def written(label):
    """Whether a curve's label is written beside it."""
    return not label.startswith("_")


def bend_plane(root, target, pole, colour=words.PALETTE["yellow"]):
    """The part of the bend plane between root, target and pole point, (3,) each."""
    return marks.Sheet(np.array([root, target, pole], dtype=float), np.array([[0, 1, 2]]), colour, 0.10)


def reach(centre, outer, inner=0.0, colour=None, soft=0.0):
    """The shell between the nearest and the farthest reach, metres, as three circles for each radius.

    soft: width of the zone at its outer edge, metres, shaded and begun by dashed circles.
    Raises ValueError for a soft that is not from 0 to `outer`.
    """
    own = colour or words.PALETTE["purple"]
    if not 0 <= soft <= outer:
        raise ValueError(f"soft is {soft:g}; expected metres from 0 to the outer reach, {outer:g}")
    edges = [marks.circle(centre, axis, r, own, 1.2) for r in (outer, inner) if r > 1e-6 for axis in np.eye(3)]
    if not soft:
        return marks.Layer(strokes=tuple(edges))
    edges += [dashed_circle(centre, axis, outer - soft, own, 1.6) for axis in np.eye(3)]
    bands = [marks.Sheet(*_band(centre, axis, outer - soft, outer), own, 0.16) for axis in np.eye(3)]
    at = np.asarray(centre, dtype=float) + (0, outer - soft / 2, 0)
    return marks.Layer(strokes=tuple(edges), sheets=tuple(bands), words=(marks.Word("soft zone", tuple(at), own, (0, 14), 12),))


def dashed_circle(centre, axis, radius, colour, width=1.5, count=72):
    """A circle around `axis` (3,) made of dashes, metres."""
    points = marks.ring(centre, axis, radius, count)
    return marks.strokes(points[0::2], points[1::2], colour, width)


def _band(centre, axis, inner, outer, count=64):
    """Vertices and triangles of a flat ring between two radii."""
    rings = [marks.ring(centre, axis, max(radius, 1e-9), count) for radius in (inner, outer)]
    here, following = np.arange(count), (np.arange(count) + 1) % count
    inside = np.column_stack([here, following, here + count])
    outside = np.column_stack([following, following + count, here + count])
    return np.concatenate(rings), np.concatenate([inside, outside])
