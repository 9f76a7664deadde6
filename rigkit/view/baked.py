"""A motion worked out once: how every joint carries its parts at even times, and what stands on the floor when.

Plain numpy, so that the browser, the still picture and the book play the same numbers. Between two frames a page goes straight.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from rigkit import rotation, words
from rigkit.acceptance import carried as point_carried
from rigkit.animation import Animation
from rigkit.keys import Motion
from rigkit.links import Foot
from rigkit.walk import Walk

RATE = 30  # frames a second
MOST = 2000  # frames: what one texture of a page holds on any machine


class Planted(NamedTuple):
    """What stands on the floor where and when: label, side ("left", "right" or "centre"), point (3,) metres, start, end in seconds."""

    label: str
    side: str
    point: np.ndarray
    start: float
    end: float


@dataclass(frozen=True, eq=False)
class Baked:
    """name. times: (F,) seconds. turns (F, J, 3, 3), moves (F, J, 3): how joint j carries its parts from rest. positions: (F, J, 3),
    rest: (J, 3).

    planted: Planted, in order of their starts. sampled: the Pose and the channel values of a rig, where there is one.
    """

    name: str
    times: np.ndarray
    turns: np.ndarray
    moves: np.ndarray
    positions: np.ndarray
    rest: np.ndarray
    names: tuple
    parents: tuple
    planted: tuple = ()
    loops: bool = False
    sampled: tuple | None = None

    def __len__(self):
        return len(self.times)

    @property
    def length(self):
        """Seconds from the first frame to the last."""
        return float(self.times[-1])

    @property
    def rate(self):
        """Frames a second."""
        return (len(self) - 1) / self.length

    def frame_at(self, seconds):
        """The number of the frame nearest to `seconds`."""
        return int(np.clip(round(float(seconds) * self.rate), 0, len(self) - 1))

    def on_floor(self, frame):
        """The Planted that stand on the floor at a frame."""
        now = self.times[frame]
        return [one for one in self.planted if one.start - 1e-9 <= now <= one.end + 1e-9]

    def told(self, frame):
        """Frame, seconds and what touches the floor, in words."""
        touching = list(dict.fromkeys(one.label for one in self.on_floor(frame)))
        where = f"frame {frame} of {len(self) - 1}, {self.times[frame]:.2f} of {self.length:.2f} s"
        if not self.planted:
            return where
        return f"{where}: {' and '.join(touching)} on the floor" if touching else f"{where}: nothing on the floor"


def bake(motion, character, rate=RATE, rounds=None, contacts=()):
    """Return the Baked of a Walk, a Motion (the character needs its rig), an Animation, or local rotations (F, J, 4) at `rate` a second.

    rounds: how often a looping motion is gone through; by itself 2 where it advances, else 1. contacts: `rigkit.motion.Contact` of one
    round; a Walk brings its own. Raises ValueError for anything else, a motion with no length, and one of too many frames.
    """
    walked = isinstance(motion, Walk)
    contacts, motion = (contacts or motion.contacts, motion.motion) if walked else (contacts, motion)
    if isinstance(motion, Motion):
        return _of_rig(motion, _rig(character, motion), rate, rounds, contacts)
    if isinstance(motion, Animation):
        times = _times(motion.name, motion.length, rate)
        turned, moved, _ = motion.sample(character.skeleton, times)
        return _of_skeleton(motion.name, character.skeleton, times, turned, moved)
    turned = np.asarray(motion, dtype=float)
    if turned.ndim != 3 or turned.shape[1:] != (len(character.skeleton), 4):
        raise ValueError(
            f"the motion has shape {turned.shape}; expected a Walk, a Motion, an Animation, a function of seconds, "
            f"or local rotations (F, {len(character.skeleton)}, 4)"
        )
    times = np.arange(len(turned)) / rate
    return _of_skeleton("motion", character.skeleton, _checked("motion", times), turned, None)


def _rig(character, motion):
    if character is None or character.rig is None:
        raise ValueError(f"{motion.name} moves a rig's channels; expected Viewer(character) of a character with a rig, see rk.rigged_tally")
    return character.rig


def _times(name, length, rate):
    return _checked(name, np.linspace(0.0, length, int(np.ceil(length * rate - 1e-9)) + 1))


def _checked(name, times):
    if len(times) < 2 or not times[-1] > 0:
        raise ValueError(f"{name} has no length; expected keys at two times or more")
    if len(times) > MOST:
        raise ValueError(f"{name} has {len(times)} frames; expected {MOST} at most: show a part of it, or fewer frames a second")
    return times


def _of_skeleton(name, skeleton, times, rotations, translations):
    pose, rest = skeleton.forward(rotations, translations), skeleton.rest_world
    return Baked(
        name, times, *_carry(pose.rotations, pose.positions, rest), pose.positions, rest.positions, skeleton.names, tuple(skeleton.parents)
    )


def _of_rig(motion, rig, rate, rounds, contacts):
    rounds = (rounds or (2 if motion.advance else 1)) if motion.period else 1
    times = _times(motion.name, motion.length * rounds, rate)
    values = motion.sample(times)
    pose, rest = rig.pose(values), rig.skeleton.rest_world
    planted = sorted(_planted(rig, motion, contacts, rounds), key=lambda one: one.start)
    return Baked(
        motion.name,
        times,
        *_carry(pose.rotations, pose.positions, rest),
        pose.positions,
        rest.positions,
        rig.skeleton.names,
        tuple(rig.skeleton.parents),
        tuple(planted),
        bool(motion.period),
        (pose, values),
    )


def _carry(rotations, positions, rest):
    turns = rotation.to_matrix(rotation.multiply(rotations, rotation.invert(rest.rotations)))
    return turns, positions - np.einsum("fjab,jb->fja", turns, rest.positions)


def _planted(rig, motion, contacts, rounds):
    """Each contact in each round, where its point is half way through; what goes on over the end of a round is one."""
    spans = {}
    for contact in contacts:
        for k in range(rounds):
            start, end = (t + k * motion.length for t in (contact.start, contact.end))
            pose = rig.pose(motion.sample(np.array([(start + end) / 2])))
            point = point_carried(rig, pose, contact.joint, contact.point)[0]
            spans.setdefault((_part(rig, contact), words.side(contact.joint)), []).append([start, end, point])
    for (label, side), found in spans.items():
        for start, end, point in _joined(sorted(found, key=lambda span: span[0])):
            yield Planted(label, side, point, start, end)


def _joined(spans):
    """Spans that meet on the same spot as one."""
    joined = []
    for start, end, point in spans:
        if joined and start <= joined[-1][1] + 1e-9 and np.linalg.norm(point - joined[-1][2]) < 1e-3:
            joined[-1][1] = max(joined[-1][1], end)
        else:
            joined.append([start, end, point])
    return joined


def _part(rig, contact):
    """What stands there: "left heel", "left toe", else the joint."""
    for foot in (link for link in rig.links if isinstance(link, Foot)):
        for joint, name in ((foot.ankle, "heel"), (foot.ball, "toe")):
            if contact.joint == joint:
                return f"{words.side(joint)} {name}"
    return contact.joint.removesuffix("_joint").replace("_", " ")


@dataclass(frozen=True, eq=False)
class Timed:
    """A motion that a function of seconds draws, `move(seconds)`: it can't be worked out once, so Python draws each picture of it."""

    name: str
    times: np.ndarray
    move: object
    planted = ()
    loops = True
    __len__, length, rate, frame_at = Baked.__len__, Baked.length, Baked.rate, Baked.frame_at

    def told(self, frame):
        """Frame and seconds, in words."""
        return f"frame {frame} of {len(self) - 1}, {self.times[frame]:.2f} of {self.length:.2f} s"


def timed(move, length, rate=RATE):
    """Return the Timed of a function of seconds. Raises ValueError for a length that is not above zero, and for too many frames."""
    if not (length and length > 0):
        raise ValueError(f"length is {length}; expected seconds above 0: how long a motion by a function goes on")
    return Timed(getattr(move, "__name__", "motion"), _times("the motion", length, rate), move)
