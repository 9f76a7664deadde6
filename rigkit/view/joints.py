"""Joints and bones over the model, and the faint copy of what is expected.

A joint's side is told by shape and colour: left round and cool, right square
and warm, centre a neutral diamond. A bone is a slim taper from a parent to its
child. The faint copy is hollow and dim, so that one's own lies visibly over it.
"""

import numpy as np

from rigkit import arguments, words
from rigkit.view import marks


def named(points, names=None, parents=None):
    """Points (N, 3), names (N,) and parents (N,) from what was given; a mapping of names to points works too.

    Without parents each joint hangs on the one before it.
    """
    if isinstance(points, dict):
        names, points = list(points) if names is None else names, list(points.values())
    points = arguments.points("points", points).reshape(-1, 3)
    names = [f"joint {i}" for i in range(len(points))] if names is None else list(names)
    parents = list(range(-1, len(points) - 1)) if parents is None else [int(p) for p in parents]
    for what, given in (("names", names), ("parents", parents)):
        if len(given) != len(points):
            raise ValueError(f"{len(given)} {what} came for {len(points)} points; give one for each point")
    if any(not -1 <= p < len(points) for p in parents):
        raise ValueError(f"parents are {parents}; expected numbers from -1 (no parent) to {len(points) - 1}")
    return points, names, parents


def layer(points, names, parents, size=14):
    """The marks of joints and their bones."""
    sides = [words.side(name) for name in names]
    bones = [(p, i) for i, p in enumerate(parents) if p >= 0]
    drawn = [marks.strokes(points[a], points[b], marks.mix(words.SIDE_COLOUR[sides[b]], words.SCENE, 0.15), 7, 2) for a, b in bones]
    dots = [marks.glyphs(points[i], words.SIDE_SHAPE[side], words.SIDE_COLOUR[side], size) for i, side in enumerate(sides)]
    return marks.Layer(glyphs=tuple(dots), strokes=tuple(drawn))


def faint_layer(points, parents, size=20):
    """The marks of what is expected: hollow rings and dashed bones, the same on either side."""
    colour = "#9AA3AA"
    bones = [marks.dashes(points[p], points[i], colour, 2, 9) for i, p in enumerate(parents) if p >= 0]
    return marks.Layer(glyphs=(marks.glyphs(points, "ring", colour, size),), strokes=tuple(bones))


def nearest(points, eye, size, pixel, within=14):
    """The number of the point (N, 3) that falls nearest to `pixel` (x, y), or None beyond `within` pixels."""
    if not len(points):
        return None
    gap = np.linalg.norm(eye.pixels(points, size)[:, :2] - pixel, axis=1)
    best = int(gap.argmin())
    return best if gap[best] <= within else None
