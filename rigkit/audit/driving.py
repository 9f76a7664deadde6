"""What the rig does when it is moved: carried twice or left behind, dead channels, the rest at home, hinge ranges, feet that roll."""

import numpy as np

from rigkit import bend, frame, rotation
from rigkit.audit.bending import NO_HINGE, each_limb
from rigkit.audit.controls import NO_RIG
from rigkit.audit.finding import Measured, Unknown
from rigkit.audit.finding import told as said
from rigkit.audit.frames import LETTERS
from rigkit.links import Foot, Limb

TURN = np.radians(137.0)  # no even share of a turn, so that nothing comes round to itself
ROLLS = 9  # steps through each range of a foot's channels
RATE, MOST_POSES = 60, 600  # poses a second of a motion, and most of one
STEP = np.radians(10.0)  # a roll that every leg can follow
SOLE = 1e-3  # metres: what is no higher at rest stands on the floor


def double(view):
    """How often a control carries a joint or control: 1 for what is carried soundly, each control's worst."""
    if not view.subject.rig:
        return [Unknown("controls", NO_RIG)]
    found = []
    for control, times in view.carried.items():
        twice = [name for name, count in times.items() if count and count > 1]
        most = max((times[name] for name in twice), default=1)
        shown = ", ".join(twice[:3]) + (f" and {len(twice) - 3} more" if len(twice) > 3 else "")
        point = view.subject.rig.control(control).position
        found.append(Measured(most, control, f"{control} carries {shown or 'nothing'} {most if twice else 'more than 1'} times", point))
    return found or [Unknown("controls", "no control moves or turns")]


def carried(view):
    """How far each joint is from where the whole rig should bring it, millimetres or degrees, whichever is more.

    The rig is turned by 137 degrees, and made twice as large where its control has a size.
    """
    rig = view.subject.rig
    if not rig:
        return [Unknown("controls", NO_RIG)]
    if view.whole is None:
        return [
            Measured(1000.0 * view.subject.size, view.subject.name, "no control carries the whole rig", view.subject.bounds.mean(axis=0))
        ]
    control = rig.control(view.whole)
    open_names = {c.name for c in control.open_channels}
    values, turn, size = {}, rotation.IDENTITY, 1.0
    if "turn_y" in open_names:
        values[f"{control.name}.turn_y"] = TURN
    if "size" in open_names and control.channel("size").high >= 2.0:
        values[f"{control.name}.size"], size = 2.0, 2.0
    if not values:
        return [Unknown(control.name, "the control of the whole does not turn")]
    if "turn_y" in open_names:
        y = rotation.rotate(control.rotation, [0.0, 1.0, 0.0])
        turn = rotation.from_axis_angle(y, TURN)
    moved, rest = rig.pose(values), rig.pose()
    expected = control.position + size * rotation.rotate(turn, rest.positions - control.position)
    off = 1000.0 * np.linalg.norm(moved.positions - expected, axis=1)
    spun = np.degrees(rotation.angle(moved.rotations, rotation.multiply(turn, rest.rotations)))
    return [
        Measured(
            max(off[j], spun[j]),
            name,
            f"{control.name} turned by 137 degrees leaves {name} {said(off[j], 'mm')} and {said(spun[j], 'degrees')} behind",
            view.at(j),
        )
        for j, name in enumerate(view.subject.names)
    ]


def dead(view):
    """Open channels that move nothing, 1 each."""
    if not view.subject.rig:
        return [Unknown("controls", NO_RIG)]
    rig = view.subject.rig
    gone = set(rig.dead_channels())
    found = []
    for control in rig.controls:
        for channel in control.open_channels:
            name = f"{control.name}.{channel.name}"
            found.append(
                Measured(int(name in gone), name, f"{name} {'moves nothing' if name in gone else 'moves something'}", control.position)
            )
    return found or [Unknown("controls", "no channel is open")]


def bind(view):
    """How far a vertex is from its place at rest while every control is at home, the worst of each piece, millimetres."""
    rig, subject = view.subject.rig, view.subject
    if not rig:
        return [Unknown(subject.name, "there is no rig to bring home; a file bound in another pose than its own is told by file_mended")]
    pose, rest = rig.pose(), rig.skeleton.rest_world
    matrices = pose.matrices @ np.linalg.inv(rest.matrices)
    shift = matrices - np.eye(4)
    if not subject.skins:
        off = 1000.0 * np.linalg.norm(pose.positions - rest.positions, axis=1)
        return [
            Measured(off[j], name, f"{name} is {said(off[j], 'mm')} from its rest at home", view.at(j))
            for j, name in enumerate(subject.names)
        ]
    found = []
    for skin in subject.skins:
        if not len(skin.vertices):
            continue
        moved = np.zeros_like(skin.vertices)
        for column, joint in enumerate(skin.joints):
            if np.abs(shift[joint]).max() > 0:
                moved += skin.weights[:, column, None] * (skin.vertices @ shift[joint, :3, :3].T + shift[joint, :3, 3])
        off = 1000.0 * np.linalg.norm(moved, axis=1)
        worst = int(off.argmax())
        found.append(
            Measured(float(off[worst]), skin.name, f"{skin.name} is {said(off[worst], 'mm')} from its rest at home", skin.vertices[worst])
        )
    return found


def hinge_range(view):
    """How far each elbow and knee is bent at the ends of its range, degrees from straight; below zero it bends backward.

    The range is that of its turned control, and what motions and animations make of it.
    """
    played = _played(view)

    def measure(mid, joints, points):
        axis = view.roles.hinges.get(mid)
        if axis is None:
            return [Unknown(view.name(joints[1]), NO_HINGE)]
        found, turned = [], _turned(view, joints)
        if turned is not None:
            found += _channel_ends(turned, axis, np.degrees(_bent(points, axis)), points[1])
        for one in played:
            found += _bends(view, one, joints, axis)
        if turned is None and not played:
            found.append(Unknown(view.name(joints[1]), "no control turns it and no motion moves it"))
        return found

    return each_limb(view, measure)


def hinge_open(view):
    """Turns besides the hinge that the turned control of an elbow or knee leaves open: their number."""
    if not view.subject.rig:
        return [Unknown("hinges", NO_RIG)]

    def measure(mid, joints, points):
        control, axis = _turned(view, joints), view.roles.hinges.get(mid)
        if control is None or axis is None:
            return [Unknown(view.name(joints[1]), "no control turns it" if control is None else "no hinge is known for it")]
        letter = _letter(control, axis)[0]
        others = [c.name for c in control.open_channels if c.name.startswith("turn_") and c.name != f"turn_{letter}"]
        what = f"{control.name} turns about {letter}, its hinge" + (f", and about {', '.join(n[-1] for n in others)} too" if others else "")
        return [Measured(len(others), control.name, what, points[1])]

    return each_limb(view, measure)


def foot_stack(view):
    """How far the ankle is from the end of its foot's stack, at home and rolled a little, millimetres."""

    def measure(link, rig):
        steps = np.array([0.0, STEP])
        pose = rig.pose({f"{link.control}.roll": steps, **({link.blend: np.ones(2)} if link.blend else {})})
        off = 1000.0 * np.linalg.norm(pose.frame(link.ankle)[1] - pose.frame(link.target)[1], axis=-1)
        k = int(off.argmax())
        return float(
            off[k]
        ), f"{link.ankle} is {said(off[k], 'mm')} from the end of the stack of {link.control}, {('at home', 'rolled by 10 degrees')[k]}"

    return _feet(view, measure)


def foot_contact(view):
    """How far the sole goes under the floor while its foot rolls, tilts and swivels through its ranges, millimetres.

    The sole is what stands on the floor at rest: a heel that bulges out above it does not stand there, see `rigkit.foot`.
    """
    subject = view.subject

    def measure(link, rig):
        joints = [subject.names.index(name) for name in (link.ankle, link.ball)]
        soles = [(k, points[points[:, 1] <= SOLE]) for k, joint in enumerate(joints) if len(points := view.driven([joint]))]
        if not any(len(points) for _, points in soles):
            return None
        worst, control = (0.0, "stays over the floor"), rig.control(link.control)
        for name in ("roll", "tilt", *link.swivels):
            channel = control.channel(name)
            steps = np.linspace(max(channel.low, -np.pi / 2), min(channel.high, np.pi / 2), ROLLS)
            frames = _planted(rig, link, f"{link.control}.{name}", steps)
            depth = 1000.0 * np.max([_under(rig, joints[k], frames[k], points) for k, points in soles if len(points)], axis=0)
            k = int(depth.argmax())
            worst = max(
                worst, (float(depth[k]), f"goes {said(depth[k], 'mm')} under the floor at {name} {np.degrees(steps[k]):.0f} degrees")
            )
        return worst[0], f"the sole of {link.control} {worst[1]}"

    return _feet(view, measure, "nothing that hangs on the foot stands on the floor at rest")


# ---- helpers ----------------------------------------------------------------------------------------------------


def _planted(rig, link, channel, steps):
    """Frames of ankle and ball on the foot's stack, wherever the leg can bring them: the ball as the ankle would carry it."""
    pose = rig.pose({channel: steps, **({link.blend: np.ones(len(steps))} if link.blend else {})})
    ankle = pose.frame(link.target)
    return ankle, frame.compose(ankle, frame.compose(frame.invert(pose.frame(link.ankle)), pose.frame(link.ball)))


def _under(rig, joint, place, points):
    """The greatest depth under y = 0, (N,), of points (V, 3) at rest that a joint carries to the frames `place`."""
    rest = rig.skeleton.rest_world
    local = frame.to_local((rest.rotations[joint], rest.positions[joint]), points)
    height = np.einsum("nj,vj->nv", rotation.to_matrix(place[0])[:, 1], local) + place[1][:, 1, None]
    return np.maximum(0.0, -height.min(axis=1))


def _feet(view, measure, unknown=""):
    if not view.subject.rig:
        return [Unknown("feet", NO_RIG)]
    found = []
    for link in view.subject.rig.links:
        if isinstance(link, Foot):
            got = measure(link, view.subject.rig)
            if got is None:
                found.append(Unknown(link.control, unknown))
            else:
                found.append(Measured(got[0], link.control, got[1], view.subject.rig.control(link.control).position))
    return found or [Unknown("feet", "the rig has no foot that rolls")]


def _turned(view, joints):
    """The control that turns the middle joint of a limb, or None."""
    name = view.name(joints[1])
    for link in view.subject.rig.links if view.subject.rig else ():
        if isinstance(link, Limb) and link.turned and link.joints[1] == name:
            return view.subject.rig.control(link.turned[1])
    return None


def _letter(control, axis):
    """(letter, sign) of the control's own axis that is nearest to a hinge."""
    own = axis @ rotation.to_matrix(control.rotation)
    k = int(np.abs(own).argmax())
    return LETTERS[k], float(np.sign(own[k]))


def _channel_ends(control, axis, rest, point):
    letter, sign = _letter(control, axis)
    channel = control.channel(f"turn_{letter}")
    if not channel.open:
        return [Unknown(control.name, f"turn_{letter}, its hinge, is closed")]
    ends = (channel.low, channel.high) if sign > 0 else (-channel.high, -channel.low)
    return [
        Measured(rest + np.degrees(end), control.name, f"{control.name} {what} {said(rest + np.degrees(end), 'degrees')} of bend", point)
        for end, what in zip(ends, ("opens to", "closes to"))
    ]


def _played(view):
    """(name, times (N,), positions (N, J, 3), turns since rest (N, J, 4)) of every motion, and of animations that are none of these."""
    subject, found = view.subject, []
    for motion in subject.motions:
        if motion.length > 0:
            times = _times(motion.length)
            pose = subject.rig.pose(motion.sample(times))
            found.append((motion.name, times, pose.positions, _since_rest(subject.rig.skeleton, pose.rotations)))
    for animation in subject.animations:
        if animation.length > 0 and animation.name not in {name for name, *_ in found}:
            times = _times(animation.length)
            world = subject.skeleton.forward(*animation.sample(subject.skeleton, times, subject.scales))
            found.append((animation.name, times, world.positions, _since_rest(subject.skeleton, world.rotations)))
    return found


def _times(length):
    return np.linspace(0.0, length, max(2, min(MOST_POSES, int(length * RATE) + 1)))


def _since_rest(skeleton, rotations):
    return rotation.multiply(rotations, rotation.invert(skeleton.rest_world.rotations))


def _bends(view, played, joints, axis):
    """The least and the greatest bend of a limb through a motion, the hinge carried by its root joint."""
    name, times, positions, turns = played
    bent = np.degrees(_bent(np.moveaxis(positions[:, joints], 1, 0), rotation.rotate(turns[:, joints[0]], axis)))
    joint = view.name(joints[1])
    return [
        Measured(
            float(bent[k]),
            f"{joint} in {name}",
            f"{joint} is bent by {said(bent[k], 'degrees')} at {times[k]:.2f} s of {name}",
            view.at(joints[1]),
        )
        for k in (int(bent.argmin()), int(bent.argmax()))
    ]


def _bent(points, axis):
    """The bend at the middle of three points, radians, positive about the axis."""
    a, b, c = points
    angle = bend.angle(a, b, c)
    side = np.einsum("...i,...i->...", np.cross(b - a, c - b), axis)
    return np.where(side < 0, -angle, angle)
