"""Lines and shapes that explain: labelled curves, lettered frames, a bend plane, the shell of what can be reached."""

import numpy as np

from rigkit import arguments, rotation, words
from rigkit.view import marks


def frames(positions, rotations, length=0.09, letters=True):
    """Frames at positions (N, 3), turned by quaternions (N, 4) or matrices (N, 3, 3): three lettered axes each."""
    positions = arguments.points("positions", positions).reshape(-1, 3)
    turns = np.asarray(rotations, dtype=float)
    turns = turns.reshape(-1, 3, 3) if turns.shape[-2:] == (3, 3) else rotation.to_matrix(arguments.quaternions("rotations", turns).reshape(-1, 4))
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
    colours = [words.PALETTE[name] for name in ("yellow", "green", "purple", "vermilion", "blue")]
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


def reach(centre, outer, inner=0.0, colour=None):
    """The shell between the nearest and the farthest reach, as three circles for each radius."""
    own = colour or words.PALETTE["purple"]
    radii = [r for r in (outer, inner) if r > 1e-6]
    return marks.Layer(strokes=tuple(marks.circle(centre, axis, r, own, 1.2) for r in radii for axis in np.eye(3)))
