"""Motions of a rig: keys and their sampling, mirroring, a range-of-motion test, a walk, and what an animator looks for, measured.

The keys and the curves between them are in `rigkit.keys`, the walk in `rigkit.walk`, the measures in `rigkit.acceptance`; their
public names are here too.
"""

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from rigkit import mirror
from rigkit.acceptance import Contact, Measure, acceptance  # noqa: F401 (part of this module's calls)
from rigkit.keys import Hinge, Keys, Motion, hinge_angle, tangents  # noqa: F401
from rigkit.posing import flip_of, flipped  # noqa: F401
from rigkit.walk import Walk, walk  # noqa: F401

OUT_OF_REACH = 1e-6  # metres
UNLIMITED = 50.0  # a range wider than this is no limit that a test can go through
TRIED = 0.3  # metres or radians to both sides, for a channel with no limit


def mirrored(motion, rig, plane=None):
    """Return the motion of the mirror image: the left side does what the right one did. Twice is itself.

    plane: x = 0 when left out. Raises ValueError for a channel whose counterpart is missing.
    """
    plane = plane or mirror.Plane()
    flips = {name: flip_of(rig, name, plane) for name in motion.tracks}
    tracks = {other: _signed(motion.tracks[name], sign) for name, (other, sign) in flips.items()}
    advance = {flips[name][0]: step * flips[name][1] for name, step in motion.advance.items()}
    return replace(motion, tracks=tracks, advance=advance)


def _signed(keys, sign):
    smooth = keys.kind == "smooth"
    return Keys(keys.times, keys.values * sign, keys.kind, keys.ins * sign if smooth else None, keys.outs * sign if smooth else None)


# ---- range of motion ----------------------------------------------------------------------------------------------


class Sweep(NamedTuple):
    """A channel gone through: values (N,), the Pose of each, and hits: what reached a limit to the first value at which it did."""

    channel: str
    values: np.ndarray
    pose: object
    hits: dict


def range_of_motion(rig, hinges=(), steps=9, base=None):
    """Return a Sweep for each open channel: each gone through from end to end, the others as in `base` (None: home).

    hinges: Hinge of joints whose turn is limited. A channel with no limits of its own goes 0.3 m or rad to
    both sides. Hits: a target out of reach, by the limb's root joint; a hinge beyond its range, by its joint.
    """
    return [_sweep(rig, name, home, hinges, steps, base or {}) for name, home in rig.home().items()]


def _sweep(rig, name, home, hinges, steps, base):
    channel = rig.channel(name)
    low = channel.low if channel.low > -UNLIMITED else home - TRIED
    high = channel.high if channel.high < UNLIMITED else home + TRIED
    values = np.unique(np.append(np.linspace(low, high, steps), home))
    pose = rig.pose({**base, name: values})
    off = {f"{root} out of reach": gap > OUT_OF_REACH for root, gap in pose.gaps.items()}
    for hinge in hinges:
        angle = hinge_angle(rig, pose, hinge)
        off[f"{hinge.joint} beyond its range"] = (angle < hinge.low - OUT_OF_REACH) | (angle > hinge.high + OUT_OF_REACH)
    nearest = np.argsort(np.abs(values - home))
    hits = {what: float(values[nearest[np.argmax(bad[nearest])]]) for what, bad in off.items() if bad.any()}
    return Sweep(name, values, pose, hits)
