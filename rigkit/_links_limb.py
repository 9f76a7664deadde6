"""The links of a limb: two bones that reach or turn, and the foot at their end. See `rigkit.links`."""

from dataclasses import dataclass
from math import pi

from rigkit import _rows as rows
from rigkit._limb_rows import two_bones
from rigkit._links_base import Step, carried_by, given, mixed, turned_back
from rigkit.arithmetic import rotate_rows


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
        return given(self.blend, self.soft, self.stretch, self.girth)

    def steps(self, rest):
        carrier = rest.parents[self.joints[0]]
        local = [rows.seen_from(rest.frames[carrier], rest.frames[name]) for name in self.joints]
        solve = two_bones(local, turned_back(rest.frames[carrier], self.hinge), self.most_bend)
        on_target = carried_by(rest, self.target, self.joints[2])
        turned = [carried_by(rest, control, joint) for control, joint in zip(self.turned, self.joints)]

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
        return (*(f"{self.control}.{name}" for name in ("roll", "tilt", *self.swivels)), *given(self.blend))

    def steps(self, rest):
        home = rest.frames[self.control]
        heel, toe, inner, outer = (rows.into(home, tuple(map(float, p))) for p in (self.heel, self.toe, self.inner, self.outer))
        ankle, ball = (rows.seen_from(home, rest.frames[name]) for name in (self.ankle, self.ball))
        outward = 1.0 if outer[0] > inner[0] else -1.0
        about = {"swivel": ball[1], "heel_swivel": heel, "toe_swivel": toe}
        on_ankle, turned = carried_by(rest, self.ankle, self.ball), carried_by(rest, self.turned, self.ball) if self.turned else None

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
            Step((self.ball,), (self.ankle, self.target, f"{self.ball}:planted"), ball_joint, given(self.turned)),
        ]


# ---- helpers ----------------------------------------------------------------------------------------------------


def _pivoted(frame, axis, angle, point):
    """The frame, then a turn about an axis through a point of it."""
    turn = rows.from_turns(axis, angle, angle, angle)
    if turn is None:
        return frame
    return rows.compose(frame, (turn, rows.subtract(point, rotate_rows(turn, point)), 1.0))


def _chained_blend(first, second, share):
    """Frames of a chain between two, joint by joint as each is seen from the one above, so that bones keep their lengths."""
    above, found = (rows.WORLD, rows.WORLD), []
    for a, b in zip(first, second):
        one = mixed(rows.seen_from(above[0], a), rows.seen_from(above[1], b), share)
        found.append(rows.compose(found[-1], one) if found else one)
        above = a, b
    return found
