"""What an animator looks for in a walk, measured: feet that slide, feet under the floor, snaps, hinges, the loop, level eyes.

A snap is a joint that turns too fast, or whose speed changes too fast. A nearly straight knee is
touchy: there a millimetre of leg length is many degrees, the more the straighter, as 1 / sin(bend / 2). So the limits of a limb's
joints grow in that proportion where its middle joint is bent by less than 20 degrees. All limits are common practice, no source.
"""

from typing import NamedTuple

import numpy as np

from rigkit import bend, frame, rotation
from rigkit.keys import hinge_angle
from rigkit.links import Limb

RATE = 120.0  # poses a second
TOUCHY = np.radians(20.0)  # a limb bent by less than this is allowed more
LIMITS = {
    "slide": 1e-4,
    "floor": 1e-4,
    "speed": np.radians(600.0),
    "change": np.radians(12_000.0),
    "hinge": 1e-6,
    "loop": 1e-6,
    "level": np.radians(1.0),
    "reach": 1e-6,
}
UNITS = {"slide": "m", "floor": "m", "speed": "rad/s", "change": "rad/s2", "hinge": "rad", "loop": "m", "level": "rad", "reach": "m"}


class Contact(NamedTuple):
    """A point of a joint, (3,) in the world at rest, that stays on the floor from start to end, seconds in the motion."""

    joint: str
    point: tuple
    start: float
    end: float


class Measure(NamedTuple):
    """rule, value, limit, unit, where it is worst (joint and seconds), and whether the value is within the limit."""

    rule: str
    value: float
    limit: float
    unit: str
    where: str
    good: bool


def acceptance(rig, motion, contacts=(), soles=(), hinges=(), level=(), rate=RATE, limits=None):
    """Return a list of Measure, one a rule, of a motion on a rig; the floor is y = 0.

    contacts: Contact of planted points; none may slide or lift. soles: (joint, point) that may never go under the floor.
    hinges: `rigkit.keys.Hinge`. level: joints whose side-to-side axis stays level. limits: rule to another limit.
    A looping motion is looked at over its period and across the seam. Raises ValueError for a motion with no length.
    """
    if not motion.length > 0:
        raise ValueError(f"{motion.name} has no length; expected keys at two times or more")
    limits = {**LIMITS, **(limits or {})}
    count = int(np.ceil(motion.length * rate)) + 1
    times = np.linspace(0.0, motion.length, count) if motion.period is None else np.arange(count + 2) * (motion.length / (count - 1))
    pose = rig.pose(motion.sample(times))
    found = [_slide(rig, motion, pose, times, contacts), _floor(rig, pose, times, [*soles, *((c.joint, c.point) for c in contacts)])]
    found += _snaps(rig, pose, times, limits)
    found += [_hinges(rig, pose, times, hinges), _reach(pose, times), _level(rig, pose, times, level)]
    found += [_loop(rig, motion)] if motion.period else []
    return [
        Measure(rule, float(value), float(limits[rule]), UNITS[rule], where, bool(value <= limits[rule])) for rule, value, where in found
    ]


def carried(rig, pose, joint, point):
    """Return a point (3,) of the rest pose, in the world, as the joint carries it: (..., 3)."""
    i, rest = rig.skeleton.index(joint), rig.skeleton.rest_world
    local = frame.to_local((rest.rotations[i], rest.positions[i]), point)
    return frame.to_world((pose.rotations[..., i, :], pose.positions[..., i, :]), local)


def _slide(rig, motion, pose, times, contacts):
    """The farthest that a planted point is from where it was planted, sideways or up."""
    worst = (0.0, "nothing planted")
    for contact in contacts:
        planted = (times >= contact.start - 1e-9) & (times <= contact.end + 1e-9)
        if planted.sum() > 1:
            at = carried(rig, pose, contact.joint, contact.point)[planted]
            off = np.linalg.norm(at - at[:1] * (1, 0, 1), axis=-1)
            worst = max(worst, (off.max(), _told(contact.joint, times[planted][off.argmax()])))
    return "slide", *worst


def _floor(rig, pose, times, soles):
    worst = (0.0, "nowhere")
    for joint, point in soles:
        depth = -carried(rig, pose, joint, point)[..., 1]
        worst = max(worst, (depth.max(), _told(joint, times[depth.argmax()])))
    return "floor", *worst


def _snaps(rig, pose, times, limits):
    """Angular speed and its change, each over what is allowed, brought back to the limit's own unit."""
    step = times[1] - times[0]
    local = pose.local_rotations
    turned = rotation.multiply(local[1:], rotation.invert(local[:-1]))
    speed = rotation.to_vector(turned) / step
    change = np.diff(speed, axis=0) / step
    room = _room(rig, pose)
    for rule, value, allowed in (
        ("speed", speed, np.maximum(room[1:], room[:-1])),
        ("change", change, np.maximum.reduce([room[2:], room[1:-1], room[:-2]])),
    ):
        size = np.linalg.norm(value, axis=-1) / allowed
        frame_number, joint = np.unravel_index(size.argmax(), size.shape)
        yield rule, size.max(), _told(rig.skeleton.names[joint], times[frame_number])


def _room(rig, pose):
    """How many times as much each joint is allowed (N, J): more on a limb that is nearly straight."""
    room = np.ones(pose.positions.shape[:-1])
    for link in rig.links:
        if isinstance(link, Limb):
            joints = [rig.skeleton.index(name) for name in link.joints]
            angle = bend.angle(*(pose.positions[:, j] for j in joints))
            room[:, joints] = np.maximum(1.0, np.sin(TOUCHY / 2) / np.maximum(np.sin(angle / 2), 1e-3))[:, None]
    return room


def _hinges(rig, pose, times, hinges):
    worst = (0.0, "nowhere")
    for hinge in hinges:
        angle = hinge_angle(rig, pose, hinge)
        off = np.maximum(hinge.low - angle, angle - hinge.high)
        worst = max(worst, (off.max(), _told(hinge.joint, times[off.argmax()])))
    return "hinge", *worst


def _reach(pose, times):
    worst = (0.0, "nowhere")
    for root, gap in pose.gaps.items():
        worst = max(worst, (gap.max(), _told(root, times[gap.argmax()])))
    return "reach", *worst


def _level(rig, pose, times, joints):
    """How far the joints' side-to-side axis (the world's x at rest) leaves the level."""
    worst = (0.0, "nowhere")
    for name in joints:
        i = rig.skeleton.index(name)
        across = rotation.rotate(rotation.invert(rig.skeleton.rest_world.rotations[i]), [1.0, 0.0, 0.0])
        off = np.abs(np.arcsin(np.clip(rotation.rotate(pose.rotations[:, i], across)[:, 1], -1.0, 1.0)))
        worst = max(worst, (off.max(), _told(name, times[off.argmax()])))
    return "level", *worst


def _loop(rig, motion):
    """How far the end of a period is from the start of the next, anywhere in the skeleton."""
    end, start = motion.period * (1 - 1e-9), motion.period
    pose = rig.pose(motion.sample(np.array([end, start])))
    off = np.linalg.norm(pose.positions[1] - pose.positions[0], axis=-1)
    return "loop", off.max(), _told(rig.skeleton.names[off.argmax()], motion.period)


def _told(name, seconds):
    return f"{name} at {seconds:.3f} s"
