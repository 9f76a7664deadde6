"""The floor: a metre grid with lettered axes, a pool of light, a mark for the front, and soft contact under what stands on it."""

import numpy as np

from rigkit import words
from rigkit.view import marks

REACH = 1.0  # metres from the middle to the edge of the grid
STEP = 0.1
GREY = "#8A9299"
THICK, FINE = 0.006, 2.0  # the axes' width: metres, and pixels at most
CELLS = 128  # of the picture of contact, over 2 * REACH metres


def grid():
    """The lines of the grid as ends (L, 2, 3) and their colours (L, 3): every 0.1 m, brighter every 0.5 m."""
    at = np.round(np.arange(-REACH, REACH + STEP / 2, STEP), 6)
    ends, colours = [], []
    for a in at:
        strong = abs(a / 0.5 - round(a / 0.5)) < 1e-6
        colour = marks.rgb("#4A5158" if strong else "#25292D")
        for line in (((a, 0, -REACH), (a, 0, REACH)), ((-REACH, 0, a), (REACH, 0, a))):
            ends.append(line)
            colours.append(colour)
    return np.array(ends), np.array(colours)


def lines():
    """Axes of the world and the mark that says where the front is, as strokes whose widths are metres."""
    tip, edge = 0.24, REACH
    arrow = [(-0.06, 0, edge + 0.06), (0, 0, edge + 0.14), (0.06, 0, edge + 0.06)]
    return marks.Layer(strokes=(
        marks.strokes((0, 0, 0), (tip, 0, 0), words.AXIS_COLOUR["x"], THICK), marks.strokes((0, 0, 0), (0, 0, tip), words.AXIS_COLOUR["z"], THICK),
        marks.path(arrow, GREY, THICK)))


def thinned(metres_per_pixel):
    """What the widths of `lines` are multiplied by, so that they are no wider than FINE pixels when looked at from near.

    >>> thinned(0.006), round(thinned(0.0003), 9)
    (1.0, 0.1)
    """
    return min(1.0, FINE * metres_per_pixel / THICK)


def layer():
    """The words on the floor: letters of the axes, lengths, the front."""
    tip, edge = 0.24, REACH
    return marks.Layer(words=(
        marks.Word("x", (tip, 0, 0), words.AXIS_COLOUR["x"], (9, 6)), marks.Word("z", (0, 0, tip), words.AXIS_COLOUR["z"], (-9, -6)),
        marks.Word("front", (0, 0, edge + 0.14), "#B9C0C6", (0, -14)),
        marks.Word("1 m", (edge, 0, 0), GREY, (18, 0), 11), marks.Word("0.5 m", (0.5, 0, edge), GREY, (0, -12), 11)))


def contact(points):
    """How dark the floor is under points (N, 3): (CELLS, CELLS) from 0 to 1; nearer the floor is darker, and blurred.

    Row 0 is z = -REACH, column 0 is x = -REACH.
    """
    low = points[(points[:, 1] < 0.12) & (np.abs(points[:, [0, 2]]) < REACH).all(axis=1)]
    shade = np.zeros((CELLS, CELLS))
    if len(low):
        cell = np.clip(((low[:, [2, 0]] + REACH) / (2 * REACH) * CELLS).astype(int), 0, CELLS - 1)
        np.maximum.at(shade, (cell[:, 0], cell[:, 1]), np.clip(1.1 - low[:, 1] / 0.12, 0, 1))
    for _ in range(3):
        shade = _blurred(_blurred(shade, 0), 1)
    return np.clip(shade * 2.2, 0, 1)


def _blurred(shade, axis, width=2):
    return sum(np.roll(shade, k, axis) for k in range(-width, width + 1)) / (2 * width + 1)


def ground(points):
    """The floor's picture (CELLS, CELLS, 4) uint8: a pool of light that fades out, darkened where something stands."""
    at = (np.arange(CELLS) + 0.5) / CELLS * 2 - 1
    far = np.hypot(at[:, None], at[None, :])
    pool = np.clip(1 - far, 0, 1) ** 1.4
    shade = contact(points)
    picture = np.zeros((CELLS, CELLS, 4))
    picture[..., :3] = np.array([0.155, 0.165, 0.18]) * (1 - shade[..., None])
    picture[..., 3] = np.maximum(pool * 0.9, shade * 0.9)
    return (picture * 255).astype(np.uint8)
