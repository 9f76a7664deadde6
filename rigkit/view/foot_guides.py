"""The pivots of a foot, where the stack has carried them, and which of them it turns about now.

A pivot that turns is a filled diamond with its axis drawn through it and its angle beside its name; one that rests is a hollow
ring. So the lit ones are told by shape and words too.
"""

import numpy as np

from rigkit import foot, frame, rotation, words
from rigkit.view import marks
from rigkit.view.guides import Guide

LIT, RESTING = words.PALETTE["yellow"], "#B9C0C6"
AXIS = 0.055  # metres to both sides
NAMES = ("heel", "ball", "toe", "inner", "outer")
_AXES = {"heel": "x", "ball": "x", "toe": "x", "inner": "z", "outer": "z", "swivel": "y", "heel_swivel": "y", "toe_swivel": "y"}


def pivots(found, stands, **channels):
    """The Pivots `found` of a foot whose frame `stands` (rotation (4,), position (3,)) in the world.

    channels: radians, as `rigkit.foot.stack` takes them.
    """
    turns = turning(**channels)
    stack, world = foot.stack(found, **channels), frame.pair("stands", stands)
    stage = {"heel": stack.heel, "ball": stack.ball, "toe": stack.toe, "inner": stack.edge, "outer": stack.edge}
    places = {name: _in_world(world, stage[name], getattr(found, name)) for name in NAMES}
    swivels = {"swivel": places["ball"], "heel_swivel": places["heel"], "toe_swivel": places["toe"]}
    strokes = [
        marks.dashes(places[a], places[b], RESTING, 1.5, 6)
        for a, b in (("heel", "outer"), ("outer", "toe"), ("toe", "inner"), ("inner", "heel"))
    ]
    for name in turns:
        carried = stage.get(name, stack.swivel)[0]
        axis = rotation.rotate(rotation.multiply(world[0], carried), np.eye(3)["xyz".index(_AXES[name])])
        at = places.get(name, swivels.get(name))
        strokes.append(marks.strokes(at - AXIS * axis, at + AXIS * axis, LIT, 3.5))
    lit = [name for name in NAMES if name in turns or any(name == _pivot(turn) for turn in turns)]
    glyphs = [marks.glyphs(p, "diamond", LIT, 17) if name in lit else marks.glyphs(p, "ring", RESTING, 12) for name, p in places.items()]
    told = [
        marks.Word(_label(name, turns), tuple(p), LIT if name in lit else RESTING, _beside(name, found), 12) for name, p in places.items()
    ]
    return Guide(marks.Layer(glyphs=tuple(glyphs), strokes=tuple(strokes), words=tuple(told)), _rows(turns))


def turning(roll=0.0, tilt=0.0, swivel=0.0, heel_swivel=0.0, toe_swivel=0.0, turn_over=foot.TURN_OVER):
    """What turns, and by how much: {"ball": radians, ...}, pivots and swivels off zero, in the order of the stack.

    >>> {name: round(float(np.degrees(angle))) for name, angle in turning(roll=np.radians(40)).items()}
    {'toe': 10, 'ball': 30}
    """
    heel, ball, toe = (float(share) for share in foot.shares(roll, turn_over))
    found = {"swivel": swivel, "heel_swivel": heel_swivel, "toe_swivel": toe_swivel, "outer": max(tilt, 0.0), "inner": min(tilt, 0.0)}
    found |= {"heel": heel, "toe": toe, "ball": ball}
    return {name: float(angle) for name, angle in found.items() if abs(angle) > 1e-9}


def _pivot(turn):
    """The pivot that a swivel goes through."""
    return {"swivel": "ball", "heel_swivel": "heel", "toe_swivel": "toe"}.get(turn)


def _in_world(world, carried, point):
    return frame.to_world(world, frame.to_world(carried, point))


def _label(name, turns):
    angles = [words.degrees(turns[turn], 0) for turn in turns if name in (turn, _pivot(turn))]
    return f"{name} {', '.join(angles)}" if angles else name


def _beside(name, found):
    """Words of neighbouring pivots stand on different sides."""
    right = {"outer": 1, "inner": -1}.get(name, 0) * found.outward
    return (34 * right, 0) if right else (0, -16 if name in ("heel", "ball") else 16)


def _rows(turns):
    if not turns:
        return (("foot", "flat, turns about no pivot"),)
    told = {name: f"swivel about the {_pivot(name)}" if _pivot(name) else f"turn about the {name}" for name in turns}
    return tuple((told[name], words.degrees(angle)) for name, angle in turns.items())
