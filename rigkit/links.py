"""Links: what makes a joint obey a control.

A link is a pure function from frames and control channels to frames. It names what it
drives and what it needs; from the rest pose it works out once what stays the same, and gives
its *steps*: (names given, names needed, function of frames and channel values). `rigkit.rig` puts
the steps of all links in order. Frames are rows of numbers, see `rigkit._rows`.

Every link keeps the rest pose: with all channels at home, what it drives stands as it stood. And every link
works inside the frame that carries it, so that the whole rig may be turned, moved and scaled.
"""

from dataclasses import dataclass, field
from math import pi
from typing import NamedTuple

import numpy as np

from rigkit import _rows as rows
from rigkit import chain
from rigkit._limb_rows import two_bones
from rigkit.arithmetic import product_rows, rotate_rows

WORLD = "world"  # the frame that nothing moves
UPRIGHT = 1e-9  # a target this near to straight up, for its height, has no side
AT_REST = 1e-12  # of a chain's length: a target this near to the tip at rest leaves the chain as it is


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


@dataclass(frozen=True)
class Follow:
    """A joint or control that keeps the offset it has at rest from a leader.

    driven: its name. leaders: the names of joints or controls, or "world". channel: "control.channel" that
    picks one, 0 the first, 1 the second and so on, between two of them a blend; needed for more than one leader.
    held_by: where given, the leaders turn it only, and its place is the one it has on this joint or control.
    """

    driven: str
    leaders: tuple
    channel: str | None = None
    held_by: str | None = None

    def __post_init__(self):
        object.__setattr__(self, "leaders", _names(self.leaders))
        if not self.leaders:
            raise ValueError(f"{self.driven} follows nobody; expected a joint, a control or 'world'")
        if len(self.leaders) > 1 and self.channel is None:
            raise ValueError(
                f"{self.driven} follows {len(self.leaders)} leaders and no channel picks one; expected channel='control.channel'"
            )

    drives = property(lambda self: (self.driven,))
    channels = property(lambda self: _given(self.channel))

    def steps(self, rest):
        carried = {name: _carried(rest, name, self.driven) for name in (*self.leaders, *_given(self.held_by))}
        first, *others = (carried[name] for name in self.leaders)
        held = carried.get(self.held_by)

        def run(frames, values):
            found = first(frames)
            for k, other in enumerate(others):
                found = _blended(found, other, frames, rows.clip(values[self.channel] - k, 0.0, 1.0))
            return ((found[0], *held(frames)[1:]) if held else found,)

        return [Step((self.driven,), tuple(carried), run)]


@dataclass(frozen=True)
class Blend:
    """A joint or control between two others: its place and its turn are the share t of the way from first to second.

    share: a number from 0 to 1, or a "control.channel". The offsets at rest are kept from both.
    """

    driven: str
    first: str
    second: str
    share: float | str = 0.5

    drives = property(lambda self: (self.driven,))
    channels = property(lambda self: (self.share,) if isinstance(self.share, str) else ())

    def steps(self, rest):
        first, second = (_carried(rest, name, self.driven) for name in (self.first, self.second))

        def run(frames, values):
            share = values[self.share] if isinstance(self.share, str) else float(self.share)
            return (_blended(first(frames), second, frames, rows.clip(share, 0.0, 1.0)),)

        return [Step((self.driven,), (self.first, self.second), run)]


@dataclass(frozen=True)
class Share:
    """One channel that drives many: each of `gains`, "name.channel" of a joint or control, gets gain times its value added.

    source: "control.channel". A joint has the channels move_x to turn_z in its own rest frame.
    """

    source: str
    gains: dict = field(hash=False)

    drives = ()
    channels = property(lambda self: (self.source,))

    def steps(self, rest):
        return []


@dataclass(frozen=True)
class Limb:
    """Two bones: joints (root, mid, end) that stand as turned controls say, or reach for a target, or between.

    joints: three names. target: the joint or control the end is on, its turn too. marker: the control that
    carries the pole point. turned: three controls whose frames the joints take, or (). blend: channel, 0 turned, 1
    target; None: target. soft: channel, metres before full reach. stretch: channel, by what share of its
    length the limb may grow. girth: channel, how far the volume is kept, 1 wholly. All three are zero at home.
    hinge: (3,) in the world at rest, for a limb modelled straight. most_bend: radians, 0 straight.
    Girth and stretch are told beside the frames, as "joint:stretch"; a bone's scale is in no frame.
    Raises ValueError for a straight limb with no hinge, a bone of no length, and turned controls but no blend.
    """

    joints: tuple
    target: str
    marker: str
    turned: tuple = ()
    blend: str | None = None
    soft: str | None = None
    stretch: str | None = None
    girth: str | None = None
    hinge: tuple | None = None
    most_bend: float = pi

    def __post_init__(self):
        for name in ("joints", "turned"):
            object.__setattr__(self, name, tuple(getattr(self, name)))
        if len(self.joints) != 3 or len(self.turned) not in (0, 3):
            raise ValueError(
                f"a limb has joints {self.joints} and turned controls {self.turned}; expected three of each, or no turned ones"
            )
        if bool(self.turned) != bool(self.blend):
            raise ValueError(
                f"the limb of {self.joints[0]} has turned controls {self.turned} and blend {self.blend!r}; expected both or neither"
            )

    @property
    def drives(self):
        return (*self.joints, f"{self.joints[0]}:stretch")

    @property
    def channels(self):
        return _given(self.blend, self.soft, self.stretch, self.girth)

    def steps(self, rest):
        carrier = rest.parents[self.joints[0]]
        local = [rows.seen_from(rest.frames[carrier], rest.frames[name]) for name in self.joints]
        solve = two_bones(local, _turned_back(rest.frames[carrier], self.hinge), self.most_bend)
        on_target = _carried(rest, self.target, self.joints[2])
        turned = [_carried(rest, control, joint) for control, joint in zip(self.turned, self.joints)]

        def run(frames, values):
            held, blend = frames[carrier], values[self.blend] if self.blend else 1.0
            if type(blend) is float and blend == 0.0:
                return (*(found(frames) for found in turned), (1.0, 1.0, 0.0))
            soft, stretch, keep = (values[name] if name else 0.0 for name in (self.soft, self.stretch, self.girth))
            target = rows.seen_from(held, on_target(frames))
            *solved, grown, gap = solve(target, rows.into(held, frames[self.marker][1]), soft, 1.0 + stretch)
            if not (type(blend) is float and blend == 1.0):
                solved = _chained_blend([rows.seen_from(held, found(frames)) for found in turned], solved, blend)
                grown, gap = 1.0 + blend * (grown - 1.0), blend * gap
            thick = 1.0 if type(grown) is float and grown == 1.0 else 1.0 + keep * (1.0 / rows.sqrt(grown) - 1.0)
            return (*(rows.compose(held, joint) for joint in solved), (grown, thick, gap * held[2]))

        return [Step(self.drives, (carrier, self.target, self.marker), run, self.turned)]


@dataclass(frozen=True)
class Foot:
    """A foot that rolls: pivots in reverse order between its control and the ankle it carries.

    control: its home frame is the foot's own, y up and z to the toes. ankle, ball: joints. target: the name of
    the frame the foot makes for a Limb to reach: where the ankle should be. heel, toe, inner, outer: pivots on the floor, (3,) in the
    world at rest; the ball pivot is the ball joint. Channels of the control, radians: roll below zero turns back on the heel; above,
    it lifts the heel about the ball as far as turn_over, what is more turns about the toe, so that ball and toe
    add up to the roll. tilt above zero stands on the outer edge. swivel, heel_swivel and toe_swivel, above zero, bring
    the toes outward about ball, heel and toe. swivels: those the control has.
    turned, blend: a control of the ball for turned legs, and the limb's channel. Order from outside: the swivels, edges, heel, toe, ball.
    """

    control: str
    ankle: str
    ball: str
    target: str
    heel: tuple
    toe: tuple
    inner: tuple
    outer: tuple
    turn_over: float = pi / 6
    turned: str | None = None
    blend: str | None = None
    swivels: tuple = ("swivel",)

    drives = property(lambda self: (self.target, f"{self.ball}:planted", self.ball))
    handles = property(lambda self: {self.target: self.ankle})

    @property
    def channels(self):
        return (*(f"{self.control}.{name}" for name in ("roll", "tilt", *self.swivels)), *_given(self.blend))

    def steps(self, rest):
        home = rest.frames[self.control]
        heel, toe, inner, outer = (rows.into(home, tuple(map(float, p))) for p in (self.heel, self.toe, self.inner, self.outer))
        ankle, ball = (rows.seen_from(home, rest.frames[name]) for name in (self.ankle, self.ball))
        outward = 1.0 if outer[0] > inner[0] else -1.0
        about = {"swivel": ball[1], "heel_swivel": heel, "toe_swivel": toe}
        on_ankle, turned = _carried(rest, self.ankle, self.ball), _carried(rest, self.turned, self.ball) if self.turned else None

        def stack(frames, values):
            roll, tilt = values[f"{self.control}.roll"], values[f"{self.control}.tilt"]
            frame = rows.WORLD
            for name in self.swivels:
                frame = _pivoted(frame, "Y", outward * values[f"{self.control}.{name}"], about[name])
            frame = _pivoted(frame, "Z", -outward * rows.most(tilt, 0.0), outer)
            frame = _pivoted(frame, "Z", -outward * rows.least(tilt, 0.0), inner)
            frame = _pivoted(frame, "X", rows.least(roll, 0.0), heel)
            planted = _pivoted(frame, "X", rows.most(roll - self.turn_over, 0.0), toe)
            lifted = _pivoted(planted, "X", rows.clip(roll, 0.0, self.turn_over), ball[1])
            foot = frames[self.control]
            return rows.compose(foot, rows.compose(lifted, ankle)), rows.compose(foot, rows.compose(planted, ball))

        def ball_joint(frames, values):
            blend = values[self.blend] if self.blend else 1.0
            below = rows.compose(frames[self.ankle], rows.seen_from(frames[self.target], frames[f"{self.ball}:planted"]))
            return (below if type(blend) is float and blend == 1.0 else mixed((turned or on_ankle)(frames), below, blend),)

        return [
            Step((self.target, f"{self.ball}:planted"), (self.control,), stack),
            Step((self.ball,), (self.ankle, self.target, f"{self.ball}:planted"), ball_joint, _given(self.turned)),
        ]


@dataclass(frozen=True)
class Gaze:
    """An eye that looks at a target, level with what carries it: turned about its up axis, then about its own side, never rolled.

    driven: joint or control. target: joint or control. up: (3,) in the world at rest. limits: ((right, left), (down, up)),
    radians, right and down below zero, see `rigkit.gaze.held`. Two eyes with one target converge.
    carrier: what carries the eye, else its parent.
    """

    driven: str
    target: str
    up: tuple = (0.0, 1.0, 0.0)
    limits: tuple = ((-pi, pi), (-pi / 2, pi / 2))
    carrier: str | None = None

    drives = property(lambda self: (self.driven,))
    channels = ()

    def steps(self, rest):
        carrier = self.carrier or rest.parents[self.driven]
        turn, place, _ = rows.seen_from(rest.frames[carrier], rest.frames[self.driven])
        ahead = rows.subtract(rows.into(rest.frames[carrier], rest.frames[self.target][1]), place)
        level = rows.frame(_level(ahead, _turned_back(rest.frames[carrier], self.up)), place)
        side, rise = _angles(rows.into(level, rows.add(place, ahead)))
        (right, left), (down, up) = (tuple(map(float, pair)) for pair in self.limits)
        kept = product_rows(rows.back(_looking(side, rise)), product_rows(rows.back(level[0]), turn))

        def run(frames, values):
            seen = rows.into(level, rows.into(frames[carrier], frames[self.target][1]))
            to_side, to_rise = _angles(seen)
            looking = _looking(rows.clip(to_side, right, left), rows.clip(to_rise, down, up))
            return (rows.compose(frames[carrier], (product_rows(level[0], product_rows(looking, kept)), place, 1.0)),)

        return [Step((self.driven,), (carrier, self.target), run)]


@dataclass(frozen=True)
class Chain:
    """A chain of many joints whose tip goes to a control: see `rigkit.chain.fabrik`. Each bone turns the shortest way, so none twists.

    joints: names, each the parent of the next. target: a control. tip: (3,), where the last bone ends, in the world at rest.
    """

    joints: tuple
    target: str
    tip: tuple

    def __post_init__(self):
        object.__setattr__(self, "joints", tuple(self.joints))

    drives = property(lambda self: self.joints)
    channels = ()

    def steps(self, rest):
        carrier = rest.parents[self.joints[0]]
        held = rest.frames[carrier]
        local = [rows.seen_from(held, rest.frames[name]) for name in self.joints]
        places = np.array([*(place for _, place, _ in local), rows.into(held, tuple(map(float, self.tip)))])
        aim = rows.into(rest.frames[self.target], tuple(map(float, self.tip)))
        size = float(np.linalg.norm(np.diff(places, axis=0), axis=1).sum())
        ways = [rows.scale(way, 1.0 / rows.length(way)) for way in map(tuple, np.diff(places, axis=0).tolist())]

        def run(frames, values):
            goal = rows.into(frames[carrier], rows.at(frames[self.target], aim))
            off = rows.length(rows.subtract(goal, tuple(places[-1].tolist())))
            if type(off) is float and off <= AT_REST * size:
                return tuple(rows.compose(frames[carrier], joint) for joint in local)
            points = _solved(places, goal)
            carried, turn = [], rows.NO_TURN
            for k, (rest_turn, _, _) in enumerate(local):
                bone = rows.subtract(points[k + 1], points[k])
                now = rows.scale(bone, 1.0 / rows.length(bone))
                turn = product_rows(rows.between(rotate_rows(turn, ways[k]), now), turn)
                carried.append(rows.compose(frames[carrier], (product_rows(turn, rest_turn), points[k], 1.0)))
            return tuple(carried)

        return [Step(self.joints, (carrier, self.target), run)]


def _solved(places, goal):
    """The points of the solved chain, each as rows."""
    if type(goal[0]) is float:
        return [tuple(p) for p in chain.fabrik(places, np.array(goal)).points.tolist()]
    points = chain.fabrik(places, np.stack(np.broadcast_arrays(*goal), axis=-1)).points
    return [tuple(points[:, k].T) for k in range(len(places))]


def _pivoted(frame, axis, angle, point):
    """The frame, then a turn about an axis through a point of it."""
    turn = rows.from_turns(axis, angle, angle, angle)
    if turn is None:
        return frame
    return rows.compose(frame, (turn, rows.subtract(point, rotate_rows(turn, point)), 1.0))


def _level(ahead, up):
    """The turn (4,) with y up and z ahead, as level as up says."""
    y = np.array(up, float) / np.linalg.norm(up)
    z = np.array(ahead) - (np.array(ahead) @ y) * y
    if not np.linalg.norm(z) > 1e-9 * np.linalg.norm(ahead):
        raise ValueError(
            f"the target stands straight along up {tuple(map(float, up))} at rest; expected it ahead: move it in front of the eye"
        )
    z = z / np.linalg.norm(z)
    x = np.cross(y, z)
    return np.array(rows.from_axes(*(tuple(axis.tolist()) for axis in (x, y, z))))


def _angles(seen):
    """(to the side, up): the two turns that bring z to a point."""
    x, y, z = seen
    flat = rows.sqrt(x * x + z * z)
    return rows.choose(flat > UPRIGHT * abs(y), rows.arctan(x, z), 0.0), rows.arctan(y, flat)


def _looking(side, rise):
    return product_rows(rows.from_turns("Y", side, side, side) or rows.NO_TURN, rows.from_turns("X", -rise, -rise, -rise) or rows.NO_TURN)


def _chained_blend(first, second, share):
    """Frames of a chain between two, joint by joint as each is seen from the one above, so that bones keep their lengths."""
    above, found = (rows.WORLD, rows.WORLD), []
    for a, b in zip(first, second):
        one = mixed(rows.seen_from(above[0], a), rows.seen_from(above[1], b), share)
        found.append(rows.compose(found[-1], one) if found else one)
        above = a, b
    return found


def mixed(a, b, share):
    """The frame between two: place and size along the line, turn the shorter way."""
    return rows.slerp(a[0], b[0], share), rows.mix(a[1], b[1], share), a[2] + share * (b[2] - a[2])


def _blended(first, second, frames, share):
    """`mixed`, with `second`, a function of frames, asked only where it is needed."""
    if type(share) is float and share in (0.0, 1.0):
        return second(frames) if share else first
    return mixed(first, second(frames), share)


def _carried(rest, leader, driven):
    """A function of frames: where `driven` stands for as long as it keeps its rest offset from the leader."""
    carry = rows.carrier(rows.seen_from(rest.frames[leader], rest.frames[driven]))
    return lambda frames: carry(frames[leader])


def _turned_back(frame, direction):
    return None if direction is None else rotate_rows(rows.back(frame[0]), tuple(map(float, direction)))


def _names(names):
    return (names,) if isinstance(names, str) else tuple(names)


def _given(*names):
    return tuple(name for name in names if name is not None)
