"""Look-at lines: from each eye to what it is to look at, and where its line of sight really goes.

The left eye's line is solid and the right one's dashed, so that they are told apart without colour.
"""

import numpy as np

from rigkit import arguments, rotation, words
from rigkit.gaze import AHEAD
from rigkit.view import marks
from rigkit.view.guides import Guide

TARGET, SIGHT = words.PALETTE["vermilion"], words.PALETTE["yellow"]
ON_TARGET = np.radians(0.05)


def look_lines(eyes, target, turns=None):
    """Lines from eyes {name: (3,)} to a target (3,), metres; turns (E, 4) in the world, of the eyes, say where they look.

    An eye that misses the target gets a thin line of sight of its own, and the angle it is off by.
    """
    target = arguments.points("target", target)
    turns = [None] * len(eyes) if turns is None else arguments.quaternions("turns", turns).reshape(-1, 4)
    if len(turns) != len(eyes):
        raise ValueError(f"{len(turns)} turns came for {len(eyes)} eyes; give one for each eye")
    drawn, glyphs, told, rows = (
        [],
        [marks.glyphs(target, "target", TARGET, 19)],
        [marks.Word("look at", tuple(target), TARGET, (0, 22), 12)],
        [],
    )
    for (name, eye), turn in zip(eyes.items(), turns):
        eye, side = arguments.points(name, eye), words.side(name)
        colour, away = words.SIDE_COLOUR[side], np.linalg.norm(target - eye)
        drawn.append(marks.dashes(eye, target, colour, 2.2, 19) if side == "right" else marks.strokes(eye, target, colour, 2.2))
        glyphs.append(marks.glyphs(eye, words.SIDE_SHAPE[side], colour, 10))
        label, off = name.replace("_", " ").removesuffix(" joint"), 0.0
        if turn is not None:
            sight = rotation.rotate(turn, AHEAD)
            off = float(np.arctan2(np.linalg.norm(np.cross(sight, target - eye)), sight @ (target - eye)))
            if off > ON_TARGET:
                drawn.append(marks.dashes(eye, eye + away * sight, SIGHT, 1.5, 29))
                told.append(marks.Word(f"off by {words.degrees(off, 0)}", tuple(eye + away * sight), SIGHT, (0, 12), 12))
        rows.append((label, f"{words.told_length(away)} from the target" + (f", off by {words.degrees(off)}" if turn is not None else "")))
    return Guide(marks.Layer(glyphs=tuple(glyphs), strokes=tuple(drawn), words=tuple(told)), tuple(rows))
