"""What chapter 11 draws: loops of the sleeve over the expected points."""

import numpy as np

from rigkit.course.chapters.chapter_11_sleeve import CORNERS
from rigkit.course.chapters.chapter_11_weights import sleeve_weights


def shares(known):
    """The worked weights (V, 2) of the given sleeve."""
    return sleeve_weights(known["along"], known["loop"], known["stations"])


def rings(points, every=2):
    """Loops of the sleeve as closed curves {label: (19, 3)}, labels not written."""
    loops = np.asarray(points, float).reshape(-1, CORNERS, 3)[::every]
    return {f"_loop {k}": np.vstack([loop, loop[:1]]) for k, loop in enumerate(loops)}


def drawn(viewer, context, points, expected=None):
    """The loops of `points`, over every third of the expected points, faint."""
    viewer.clear()
    viewer.see_through(True)
    viewer.look("side")
    viewer.focus(context.robot.landmarks["left_elbow"], 0.3)
    if expected is not None:
        viewer.faint(expected[::3], [-1] * len(expected[::3]))
    viewer.lines(rings(np.clip(points, -5, 5)))
