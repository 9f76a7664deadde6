"""From one set of channel values to another that shows the same pose, or its mirror image.

`stand` puts a control on a given frame. On it rest: `switched`, which changes what a control
follows without a jump; `matched`, which lets the turned joints of a limb and its target change places; and
`flipped`, which brings a pose to the other side. Each takes one pose's values or a motion's, and gives new ones.

What a limb's target and pole can't say is lost in a match, and told: nine freedoms of three turned
joints do not fit in the seven of target and pole (six and a swivel angle). `rigkit.matching` has the maths for three joints alone.
"""

from dataclasses import dataclass

import numpy as np

from rigkit import _limb_axes as axes
from rigkit import frame, mirror, rotation
from rigkit.control import MOVES, TURNS
from rigkit.links import Foot, Limb
from rigkit.matching import pole_of

LOST = 1e-6  # metres or radians: less than this is not lost


@dataclass(frozen=True, eq=False)
class Match:
    """values: the new channel values. lost: joint to (radians, metres) that it is off by at most; empty when nothing is lost."""

    values: dict
    lost: dict


def stand(rig, values, control, rotation_, position):
    """Return values with which the control stands on a world frame, as near as its open channels allow.

    rotation_: (..., 4). position: (..., 3). A closed channel stays at home, one that is limited is held.
    """
    base, size = rig.pose(values).base(control), rig.pose(values).size_of(control)
    turn, place = frame.compose(frame.invert(base), (rotation_, position))
    found, control = dict(values), rig.control(control)
    for name in (*MOVES, *TURNS, "move", "turn"):
        found.pop(f"{control.name}.{name}", None)
    angles = _angles(control, turn)
    for name, value in (*zip(MOVES, np.moveaxis(place, -1, 0) / size), *zip(TURNS, np.moveaxis(angles, -1, 0))):
        channel = control.channel(name)
        if channel.open:
            found[f"{control.name}.{name}"] = _plain(np.clip(value, channel.low, channel.high))
    return found


def _angles(control, turn):
    """The angles about x, y, z for a turn; where one alone is open, the twist about its axis."""
    is_open = [control.channel(name).open for name in TURNS]
    if sum(is_open) == 1:
        return rotation.twist_angle(turn, np.eye(3)[is_open.index(True)])[..., None] * np.array(is_open, float)
    return rotation.to_euler(control.order, turn)[..., [control.order.index(axis) for axis in "XYZ"]]


def switched(rig, values, channel, new):
    """Return values with a channel, such as what a hand follows, set to `new`, its control standing where it stood.

    channel: "control.channel". new: a number, or one a frame.
    """
    control = channel.partition(".")[0]
    rig.channel(channel)
    return stand(rig, {**values, channel: new}, control, *rig.pose(values).frame(control))


# ---- turned joints and target -------------------------------------------------------------------------------------


def matched(rig, values, joint, to):
    """Return the Match in which the limb with this joint stands the same on its other controls.

    joint: any joint of a limb that has both. to: "turned" or "target"; for the target soft and stretch are set to
    zero, so that the end is on it. Lost, and told, is what the other
    controls can't say: to the target an elbow turned off its hinge or twisted, to turned joints a stretch.
    """
    link = _limb(rig, joint)
    if to not in ("turned", "target"):
        raise ValueError(f"to is {to!r}; expected 'turned' or 'target'")
    before = rig.pose(values)
    found = _to_turned(rig, values, link, before) if to == "turned" else _to_target(rig, values, link, before)
    found[link.blend] = 0.0 if to == "turned" else 1.0
    return Match(found, lost(rig, before, rig.pose(found)))


def lost(rig, before, after):
    """Return which joints stand differently in two poses: joint to (radians, metres) at most."""
    turns = rotation.angle(before.rotations, after.rotations).reshape(-1, len(rig.skeleton)).max(axis=0)
    moves = axes.norm(before.positions - after.positions).reshape(-1, len(rig.skeleton)).max(axis=0)
    return {name: (float(t), float(m)) for name, t, m in zip(rig.skeleton.names, turns, moves) if max(t, m) > LOST}


def _limb(rig, joint):
    limbs = [link for link in rig.links if isinstance(link, Limb) and link.turned]
    found = next((link for link in limbs if joint in link.joints), None)
    if found is None:
        every = ", ".join(name for link in limbs for name in link.joints) or "none"
        raise ValueError(f"{joint!r} is in no limb with turned controls and a target; there are: {every}")
    return found


def _to_turned(rig, values, link, before):
    pairs = [*zip(link.turned, link.joints)]
    if foot := _foot(rig, link):
        pairs += [(foot.turned, foot.ball)] if foot.turned else []
    for control, joint in pairs:
        values = stand(rig, values, control, *frame.compose(before.frame(joint), _rest_offset(rig, joint, control)))
    return dict(values)


def _to_target(rig, values, link, before):
    goal = frame.compose(before.frame(link.joints[2]), _rest_offset(rig, link.joints[2], link.target))
    control, foot = link.target, _foot(rig, link)
    values = {**values, **{channel: 0.0 for channel in (link.soft, link.stretch) if channel}}
    if foot:
        control = foot.control
        values = {**values, f"{control}.roll": _plain(_roll(rig, before, foot)), f"{control}.tilt": 0.0} | {
            f"{control}.{s}": 0.0 for s in foot.swivels
        }
        now = rig.pose(values)
        goal = frame.compose(goal, frame.compose(frame.invert(now.frame(link.target)), now.frame(control)))
    values = stand(rig, values, control, *goal)
    marker = link.marker
    return stand(rig, values, marker, before.frame(marker)[0], _pole(rig, before, link))


def _foot(rig, link):
    return next((foot for foot in rig.links if isinstance(foot, Foot) and foot.target == link.target), None)


def _roll(rig, before, foot):
    """The roll that bends the ball joint as it is bent."""
    rest = rig.pose()
    now, still = (frame.compose(frame.invert(pose.frame(foot.ankle)), pose.frame(foot.ball))[0] for pose in (before, rest))
    across = rotation.rotate(
        rotation.invert(rest.frame(foot.ankle)[0]), rotation.rotate(rig.control(foot.control).rotation, [1.0, 0.0, 0.0])
    )
    bend = -rotation.twist_angle(rotation.multiply(now, rotation.invert(still)), across)
    return np.clip(bend, 0.0, foot.turn_over)


def _pole(rig, before, link):
    """A pole point for the limb as it stands, as far from the middle joint as the marker is at rest."""
    (turn, root), (_, mid), (_, end) = (before.frame(joint) for joint in link.joints)
    rest = rig.pose()
    (rest_turn, rest_root), (_, rest_mid), (_, rest_end) = (rest.frame(joint) for joint in link.joints)
    size = before.size_of(link.marker)
    distance = np.linalg.norm(rig.control(link.marker).position - rest_mid) * size
    turned = rotation.multiply(turn, rotation.invert(rest_turn))
    line, hinge = (rotation.rotate(turned, axis) for axis in axes.rest_axes(rest_root, rest_mid, rest_end, link.hinge))
    return pole_of((root, mid, end), line, hinge, distance)


def _rest_offset(rig, leader, driven):
    """The frame of `driven` as `leader` sees it at rest."""
    (a, p, _), (b, q, _) = rig.rest.frames[leader], rig.rest.frames[driven]
    return frame.compose(frame.invert((a, p)), (b, q))


def _plain(value):
    value = np.asarray(value)
    return value.item() if value.ndim == 0 else value


# ---- the other side ---------------------------------------------------------------------------------------------


def flipped(rig, values, plane=None):
    """Return the values of the pose's mirror image: the left hand does what the right one did. Twice is the start.

    plane: the rig's plane of symmetry, x = 0 when left out. Channels left out are at home on both sides. Raises
    ValueError for a control whose counterpart is missing, or whose frame is not mirrored.
    """
    plane = plane or mirror.Plane()
    return {other: value * signs for name, value in values.items() for other, signs in [flip_of(rig, name, plane)]}


def flip_of(rig, name, plane):
    """Return (the other side's name, the sign or signs of its value) for "control.channel" or "control.move" or ".turn"."""
    owner, _, channel = name.partition(".")
    control = rig.control(owner)
    there = rig.control(mirror.names(owner))
    if channel in ("move", "turn") or channel in (*MOVES, *TURNS):
        turns, moves = mirror.channel_signs(control.rotation, there.rotation, plane)
        signs = {"move": moves, "turn": np.append(turns, 1)} | dict(zip(MOVES, moves.tolist())) | dict(zip(TURNS, turns.tolist()))
        sign = signs[channel]
    else:
        sign = -1 if control.channel(channel).flips else 1
    return f"{there.name}.{channel}", sign
