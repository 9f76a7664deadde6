"""What all links share: steps, the rest of the rig, and frames between frames. See `rigkit.links`."""

from typing import NamedTuple

from rigkit import _rows as rows
from rigkit.arithmetic import rotate_rows

WORLD = "world"  # the frame that nothing moves


class Step(NamedTuple):
    """gives, needs: names of frames. run: function (frames, values) that returns a frame for each name given.

    maybe: names of frames that are needed for some values only.
    """

    gives: tuple
    needs: tuple
    run: object
    maybe: tuple = ()


class Rest(NamedTuple):
    """What a link sees of the rig: the rest frame of every joint and control, and the name of each joint's parent."""

    frames: dict
    parents: dict


def mixed(a, b, share):
    """The frame between two: place and size along the line, turn the shorter way."""
    return rows.slerp(a[0], b[0], share), rows.mix(a[1], b[1], share), a[2] + share * (b[2] - a[2])


def blended(first, second, frames, share):
    """`mixed`, with `second`, a function of frames, asked only where it is needed."""
    if type(share) is float and share in (0.0, 1.0):
        return second(frames) if share else first
    return mixed(first, second(frames), share)


def carried_by(rest, leader, driven):
    """A function of frames: where `driven` stands for as long as it keeps its rest offset from the leader."""
    carry = rows.carrier(rows.seen_from(rest.frames[leader], rest.frames[driven]))
    return lambda frames: carry(frames[leader])


def turned_back(frame, direction):
    return None if direction is None else rotate_rows(rows.back(frame[0]), tuple(map(float, direction)))


def as_names(names):
    return (names,) if isinstance(names, str) else tuple(names)


def given(*names):
    return tuple(name for name in names if name is not None)
