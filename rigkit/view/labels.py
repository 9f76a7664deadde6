"""Where the label of a line stands: at that end of it that is clearest of the other labels, as seen now.

A line's label may stand at either end; a closed line's anywhere along it. Labels
are laid one after the other. The last point wins where it is clear already, so
that labels stay put while nothing is in their way.
"""

from dataclasses import replace

import numpy as np

LETTER, LINE = 0.6, 1.5  # width of a letter and height of a plate, as shares of a text's size
ALONG = 12  # places that are tried along a closed line
CLEAR = 1.25  # label sizes from middle to middle that count as clear


def places(points):
    """The places for the label of a line through points (N, 3), best liked first: its last point, its first; more where it is closed."""
    points = np.asarray(points, dtype=float)
    if len(points) > 3 and closed(points):
        return points[np.round(np.linspace(len(points) - 1, 0, ALONG, endpoint=False)).astype(int)]
    return points[[-1, 0]] if len(points) > 1 else points


def closed(points):
    """Whether a line comes back to where it began, up to twice its longest step."""
    return np.linalg.norm(points[0] - points[-1]) <= 2 * np.linalg.norm(np.diff(points, axis=0), axis=1).max()


def lay(told, candidates, others, eye, size):
    """Words `told` moved to one of their candidates (K, 3) each, clear of the words `others` and of each other, inside the picture."""
    boxes = [box(word, word.point, eye, size) for word in others]
    laid = []
    for word, at in zip(told, candidates):
        tried = [box(word, point, eye, size) for point in at]
        best = int(np.argmax([_clearance(one, boxes, size) for one in tried]))
        boxes.append(tried[best])
        laid.append(replace(word, point=tuple(at[best])))
    return laid


def box(word, point, eye, size):
    """Where a word at `point` (3,) falls: its middle and half its width and height, (x, y, w, h) in pixels; far off if behind the eye."""
    x, y, depth = eye.pixels(np.asarray(point, dtype=float), size)
    if depth <= 0:
        x = y = -1e6
    return x + word.offset[0], y - word.offset[1], LETTER * word.size * len(word.text) / 2, LINE * word.size / 2


def _clearance(one, boxes, size):
    """How clear a label is of the nearest other, up to CLEAR; less than nothing where it leaves the picture."""
    x, y, w, h = one
    if not (w <= x <= size[0] - w and h <= y <= size[1] - h):
        return -1.0
    return min([CLEAR, *(max(abs(x - a) / (w + u), abs(y - b) / (h + v)) for a, b, u, v in boxes)])
