"""What is drawn around a motion: marks of contact on the floor, trails, and the skeleton at moments before and after.

A planted spot is a filled shape on the floor while something stands on it, else its outline: round on the left, square on the right.
"""

import numpy as np

from rigkit import words
from rigkit.view import marks, trails

SPOT = 0.055  # metres, half the size of a mark of contact
FILLED = 0.5  # opacity of what a foot stands on, where it is drawn over the foot
LIFT = 0.002  # metres over the floor
CORNERS = {"left": 20, "right": 4, "centre": 6}


def outline(planted):
    """The corners (C, 3) of a mark of contact, on the floor."""
    count = CORNERS[planted.side]
    turn = 2 * np.pi * (np.arange(count) + 0.5) / count
    size = SPOT * (np.sqrt(2) if count == 4 else 1.0)
    return np.array([planted.point[0], LIFT, planted.point[2]]) + size * np.stack([np.sin(turn), 0 * turn, np.cos(turn)], axis=1)


def fan(count):
    """Triangles (count - 2, 3) that fill a convex outline."""
    return np.column_stack([np.zeros(count - 2, int), np.arange(1, count - 1), np.arange(2, count)])


def contact_outlines(baked):
    """The outlines of all marks of contact."""
    return marks.Layer(
        strokes=tuple(
            marks.path(outline(p), marks.mix(words.SIDE_COLOUR[p.side], words.SCENE, 0.35), 1.2, closed=True) for p in baked.planted
        )
    )


def contact_fillings(baked, frame):
    """The marks of what stands on the floor at a frame, filled."""
    found = []
    for one in baked.on_floor(frame):
        corners = outline(one)
        found.append(marks.Sheet(corners, fan(len(corners)), words.SIDE_COLOUR[one.side], FILLED))
    return marks.Layer(sheets=tuple(found))


def trail_layer(baked, joints, every):
    """The ways of joints, with a dot each `every` frames."""
    ways = {_short(name): baked.positions[:, baked.names.index(name)] for name in joints}
    return trails.trails(ways, None, every).layer


def trail_dots(baked, joints, frame):
    """Where these joints are at a frame, in the colours of their trails."""
    points = [(baked.positions[frame, baked.names.index(name)], trails.COLOURS[i % len(trails.COLOURS)]) for i, name in enumerate(joints)]
    return marks.Layer(glyphs=tuple(marks.glyphs(point, "target", colour, 16) for point, colour in points))


def trail_rows(baked, joints, frame):
    """Where these joints are at a frame, for the number table."""
    return [(_short(name), f"{words.point(baked.positions[frame, baked.names.index(name)])} m") for name in joints]


def around(baked, frame, count, every):
    """The skeleton `count` times before and after a frame, `every` frames apart: dashed before, whole after, dimmer farther off."""
    strokes, told = [], []
    bones = [(p, j) for j, p in enumerate(baked.parents) if p >= 0]
    for k in [k for k in range(-count, count + 1) if k]:
        at = frame + k * every
        if not 0 <= at < len(baked):
            continue
        points, colour = baked.positions[at], marks.mix("#C4CCD2", words.SCENE, 0.2 + 0.6 * (abs(k) - 1) / max(count, 1))
        starts, ends = (points[[bone[side] for bone in bones]] for side in (0, 1))
        long = np.linalg.norm(ends - starts, axis=1) > 0.012
        starts, ends = starts[long], ends[long]
        if k < 0:
            cuts = np.arange(0, 7, 2)[:, None, None] / 7
            starts, ends = (starts + cuts * (ends - starts)).reshape(-1, 3), (starts + (cuts + 1 / 7) * (ends - starts)).reshape(-1, 3)
        strokes.append(marks.strokes(starts, ends, colour, 1.6))
        top = points[points[:, 1].argmax()]
        told.append(marks.Word(f"{k * every:+d}", tuple(top), colour, (0, 14), 11))
    return marks.Layer(strokes=tuple(strokes), words=tuple(told))


def _short(name):
    return name.removesuffix("_joint").replace("_", " ")
