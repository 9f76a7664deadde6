"""A walk for a rig with two legs, timed like people's.

One round of a leg is the gait cycle, from the moment its heel touches the floor to the next time it does. Its
phases, in percent of the cycle, and how far the knee is bent in them (J. Perry, Gait Analysis: Normal and
Pathological Function, 1992): initial contact 0, loading response 0-12 (knee to 20 degrees), mid stance 12-31, terminal
stance 31-50 (knee 0-5), pre-swing 50-62 (knee to 40), swing 62-100 (knee to 60-70). The other leg is half a cycle ahead.

How the walk is found: a planted foot does not move, so while the heel turns down and the foot stands flat, where the hip is says how
far the knee is bent. The body therefore rises and falls just so that the knee is nearly straight at two moments. Then the heel
lifts by as much as the knee's bend asks, with the toes planted. In swing the bend shortens the leg, and its line swings forward.
The rig keeps contact by itself: a foot control that does not move, and a roll about heel, ball or toe.
"""

from typing import NamedTuple

import numpy as np

from rigkit import rotation
from rigkit.acceptance import Contact
from rigkit.keys import Keys, Motion, tangents
from rigkit.links import Foot, Limb

PHASES = {"initial contact": 0.0, "loading response": 0.12, "mid stance": 0.31, "terminal stance": 0.50, "pre-swing": 0.62, "swing": 1.0}
FLAT, HEEL_OFF, OTHER_CONTACT, TOE_OFF = 0.12, 0.31, 0.50, 0.62
FIXED = ((0.0, 8.0), (0.31, 8.0))  # share of the cycle, knee bend in degrees: these two set the body's rise and fall
LOWEST = 0.11  # of the cycle: the body is lowest while both feet carry
LATER = ((0.40, 6.0), (0.50, 11.0), (0.62, 40.0), (0.73, 64.0), (0.86, 34.0), (0.96, 9.0))
STRIDE = 0.85  # of the hip's height, for the whole cycle
LANDING = 0.28  # of the stride: how far the foot lands in front of the hip
LEVEL = 0.84  # of the cycle: the foot is level in swing
TOES_UP = np.radians(10.0)  # at initial contact
PELVIS = np.radians(3.0)  # turn to each side
SWAY = 0.06  # of the hips' distance, to the side of the leg that carries
ARMS, ELBOWS = np.radians(14.0), np.radians(16.0)
KEYS = 96  # a cycle
ROLLS = np.radians(np.linspace(-45.0, 85.0, 1301))


class Walk(NamedTuple):
    """motion: one period, which loops and advances by the stride. contacts: what is planted when.

    soles: (joint, point) that stay above the floor. stride: metres.
    """

    motion: Motion
    contacts: list
    soles: list
    stride: float


def walk(rig, body, period=1.0, stride=STRIDE, name="walk"):
    """Return a Walk straight ahead, +z, for a rig with two Foot links and the limbs that reach for them.

    body: the control that carries the hips. period: seconds for two steps. stride: how far two steps go, in heights of the
    hip: from 0.75 to 0.9, and with a second or more for them, the walk passes `rigkit.acceptance` (measured on Tally). Arms with
    turned controls swing against the legs. Raises ValueError for a rig without two such legs, and for a
    stride that the legs can't reach.

    >>> from rigkit.robot.rig import tally_rig
    >>> found = walk(tally_rig(), "centre_body_control")
    >>> round(found.stride, 3), found.motion.period, len(found.contacts)
    (0.448, 1.0, 5)
    """
    for told, value in (("period", period), ("stride", stride)):
        if not value > 0:
            raise ValueError(f"{told} is {value}; expected a number above 0: seconds for two steps, and how far they go in hips' heights")
    legs = [_Leg(rig, body, foot) for foot in rig.links if isinstance(foot, Foot)]
    if len(legs) != 2 or {leg.outward for leg in legs} != {1.0, -1.0}:
        raise ValueError(f"the rig has {len(legs)} feet; expected a left and a right one, each a Foot link with a Limb that reaches for it")
    legs.sort(key=lambda leg: -leg.outward)
    stride = stride * float(legs[0].hip[1])
    gait = [_Gait(leg, stride) for leg in legs]
    rise = np.mean([g.rise for g in gait], axis=0)
    times = np.linspace(0.0, period, KEYS + 1)
    cycle = times / period
    tracks = _body_tracks(body, rise, legs[0], stride, cycle)
    for leg, own, ahead in zip(legs, gait, (0.0, 0.5)):
        tracks |= _foot_tracks(leg, own, rise, cycle + ahead, ahead)
    tracks |= _arm_tracks(rig, legs, cycle)
    keys = {channel: Keys(times, values, "smooth", *[tangents(times, values, looped=True)] * 2) for channel, values in tracks.items()}
    frames = {body: rig.control(body).rotation} | {leg.foot.control: leg.turn for leg in legs}
    steps = {owner: rotation.rotate(rotation.invert(turn), [0.0, 0.0, stride]) for owner, turn in frames.items()}
    advance = {
        f"{owner}.move_{axis}": float(step[k]) for owner, step in steps.items() for k, axis in enumerate("xyz") if abs(step[k]) > 1e-12
    }
    contacts = [contact for leg, ahead in zip(legs, (0.0, 0.5)) for contact in _contacts(leg, ahead, period)]
    return Walk(Motion(name, keys, period, advance), contacts, [sole for leg in legs for sole in leg.soles], stride)


class _Leg:
    """A leg as the rig stands: hip, bone lengths, the foot's control, and where the ankle is for each roll, seen from the control."""

    def __init__(self, rig, body, foot):
        limb = next((link for link in rig.links if isinstance(link, Limb) and link.target == foot.target), None)
        if limb is None:
            raise ValueError(f"no limb reaches for {foot.target!r}; expected a Limb with this target")
        rest, index = rig.skeleton.rest_world.positions, rig.skeleton.index
        self.foot, self.limb = foot, limb
        self.hip, knee, ankle = (rest[index(joint)] for joint in limb.joints)
        self.upper, self.lower = np.linalg.norm(knee - self.hip), np.linalg.norm(ankle - knee)
        self.control, self.body = rig.control(foot.control).position, rig.control(body).position
        self.turn = rig.control(foot.control).rotation
        self.ankles = rig.pose({f"{foot.control}.roll": ROLLS}).frame(foot.target)[1] - self.control
        self.outward = 1.0 if self.hip[0] > self.body[0] else -1.0
        self.soles = [(foot.ankle, foot.heel), (foot.ball, foot.toe), (foot.ball, foot.inner), (foot.ball, foot.outer)]

    def length(self, bend):
        """From hip to ankle, for a knee bent by so many degrees."""
        return np.sqrt(self.upper**2 + self.lower**2 + 2 * self.upper * self.lower * np.cos(np.radians(bend)))

    def bend(self, length):
        """The knee's bend in degrees."""
        cosine = (length**2 - self.upper**2 - self.lower**2) / (2 * self.upper * self.lower)
        return np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))

    def ankle(self, roll):
        """Where the ankle is, seen from the foot control's place."""
        return np.stack([np.interp(roll, ROLLS, row) for row in self.ankles.T], axis=-1)

    def hips(self, cycle, rise, stride):
        """The hip over the leg's own cycle: the body goes straight on, sways, turns, rises and falls."""
        place, angle = _body_place(self, cycle, rise, stride)
        return self.body + place + rotation.rotate(rotation.from_axis_angle([0, 1, 0], angle), self.hip - self.body)


class _Gait:
    """One leg's walk over its own cycle: the body's rise and fall that it asks for, and the foot once the rise is settled."""

    def __init__(self, leg, stride):
        self.leg, self.stride = leg, stride
        self.planted = np.array([0.0, 0.0, leg.hips(np.zeros(1), np.zeros(2), stride)[0, 2] + LANDING * stride - leg.control[2]])
        at, bend = np.array(FIXED).T
        ankle = leg.control + self.planted + leg.ankle(_landing_roll(at))
        hip = leg.hips(at, np.zeros(2), stride)
        flat = ankle - hip
        room = leg.length(bend) ** 2 - flat[:, 0] ** 2 - flat[:, 2] ** 2
        if (room <= 0).any():
            raise ValueError(f"a stride of {stride:.3f} m is too long for legs of {leg.upper + leg.lower:.3f} m; expected a shorter one")
        self.rise = np.linalg.solve(_waves(at), ankle[:, 1] + np.sqrt(room) - hip[:, 1])

    def solve(self, rise):
        """Return (cycle, roll, control moves) at KEYS + 1 moments of the leg's own cycle, 0 to 1."""
        cycle = np.linspace(0.0, 1.0, 4 * KEYS + 1)
        hips = self.leg.hips(cycle, rise, self.stride)
        early, late, swing = cycle <= HEEL_OFF, (cycle > HEEL_OFF) & (cycle <= TOE_OFF), cycle > TOE_OFF
        roll, move = np.where(early, _landing_roll(cycle), 0.0), np.tile(self.planted, (len(cycle), 1))
        stood = self.leg.control + self.planted
        length = np.linalg.norm(stood + self.leg.ankle(roll) - hips, axis=-1)
        short = length[early].max() - self.leg.upper - self.leg.lower
        if short > 0:
            raise ValueError(
                f"with a stride of {self.stride:.3f} m the planted leg would have to grow by {short * 1000:.1f} mm; "
                "expected 0.75 to 0.9 of the hip's height"
            )
        bend = self._bends(cycle, self.leg.bend(length), early)
        roll[late] = [self._lift(hip - stood, b) for hip, b in zip(hips[late], bend[late])]
        self._swing(cycle, hips, bend, roll, move, swing)
        return cycle, roll, move

    def _bends(self, cycle, measured, early):
        """The knee's bend: measured while the foot stands as it must, then through the published values, back to the start."""
        step = cycle[1] - cycle[0]
        stood = measured[early]
        last = cycle[early][-1]
        at = np.array([last, *(a for a, _ in LATER), 1.0])
        values = np.array([stood[-1], *(b for _, b in LATER), stood[0]])
        slopes = tangents(at, values)
        slopes[0], slopes[-1] = (stood[-1] - stood[-2]) / step, (stood[1] - stood[0]) / step
        return np.where(early, measured, Keys(at, values, "smooth", slopes, slopes).at(cycle))

    def _lift(self, hip, bend):
        """The roll that lifts the heel until the knee is bent so far; hip is seen from the planted control."""
        up = ROLLS >= 0
        over = np.linalg.norm(self.leg.ankles[up] - hip, axis=-1) - self.leg.length(bend)
        if (over > 0).all():
            raise ValueError(f"the leg behind can't reach the floor in a stride of {self.stride:.3f} m; expected a shorter one")
        k = int(np.argmax(over <= 0))
        return ROLLS[up][k] - (over[k] / (over[k] - over[k - 1]) * (ROLLS[1] - ROLLS[0]) if k else 0.0)

    def _swing(self, cycle, hips, bend, roll, move, swing):
        """Fill in roll and move of the swing: the leg's line and the roll go from toe-off to landing at the speeds they have there."""
        first = int(np.argmax(swing)) - 1
        step = cycle[1] - cycle[0]
        stood = self.leg.control + self.planted
        ends = np.array([first - 1, first, 0, 1])
        ankle = stood + self.leg.ankle(roll[ends])
        line = ankle - hips[ends]
        angle = np.arctan2(line[:, 2], -line[:, 1])
        t = (cycle[swing] - cycle[first]) / (1.0 - cycle[first])
        span = (1.0 - cycle[first]) / step
        roll[swing] = self._swing_roll(cycle[swing], cycle[first], roll[first], (roll[first] - roll[first - 1]) / step)
        leaning = _hermite(t, angle[1], (angle[1] - angle[0]) * span, angle[2], (angle[3] - angle[2]) * span)
        offset = self.leg.ankle(roll[swing])
        aside = stood[0] + offset[:, 0] - hips[swing][:, 0]
        sagittal = np.sqrt(self.leg.length(bend[swing]) ** 2 - aside**2)
        move[swing, 1] = hips[swing][:, 1] - sagittal * np.cos(leaning) - offset[:, 1] - self.leg.control[1]
        move[swing, 2] = hips[swing][:, 2] + sagittal * np.sin(leaning) - offset[:, 2] - self.leg.control[2]

    def _swing_roll(self, cycle, start, roll, speed):
        """From toe-off to flat, a rest there, for ball and heel are different pivots, then the toes up for landing."""
        down, up = np.clip((cycle - start) / (LEVEL - start), 0.0, 1.0), np.clip((cycle - LEVEL) / (1.0 - LEVEL), 0.0, 1.0)
        return np.where(
            cycle < LEVEL, np.maximum(_hermite(down, roll, speed * (LEVEL - start), 0.0, 0.0), 0.0), _hermite(up, 0.0, 0.0, -TOES_UP, 0.0)
        )


def _landing_roll(cycle):
    """Toes up at first contact, flat at the end of loading, with no speed at either end."""
    s = np.clip(cycle / FLAT, 0.0, 1.0)
    return -TOES_UP * (1 - s) ** 2 * (1 + 2 * s)


def _waves(cycle):
    """A height and one wave for each step: the body rises and falls twice a cycle."""
    return np.stack([np.ones_like(cycle), -np.cos(4 * np.pi * (cycle - LOWEST))], axis=-1)


def _body_place(leg, cycle, rise, stride):
    """(place (N, 3) off home, turn about y (N,)) of the body over a leg's own cycle."""
    sway = leg.outward * SWAY * abs(leg.hip[0] - leg.body[0]) * 2 * np.sin(2 * np.pi * (cycle - 0.06))
    return np.stack([sway, _waves(cycle) @ rise, stride * cycle], axis=-1), -leg.outward * PELVIS * np.cos(2 * np.pi * cycle)


def _hermite(t, a, slope_a, b, slope_b):
    return (2 * t**3 - 3 * t**2 + 1) * a + (t**3 - 2 * t**2 + t) * slope_a + (3 * t**2 - 2 * t**3) * b + (t**3 - t**2) * slope_b


def _body_tracks(body, rise, leg, stride, cycle):
    place, angle = _body_place(leg, cycle, rise, stride)
    return {f"{body}.move_{axis}": place[:, k] for k, axis in enumerate("xyz")} | {f"{body}.turn_y": angle}


def _foot_tracks(leg, gait, rise, cycle, ahead):
    own, roll, move = gait.solve(rise)
    rounds = np.floor(cycle + 1e-12)
    within = np.maximum(cycle - rounds, 0.0)
    moved = np.stack([np.interp(within, own, column) for column in move.T], axis=-1)
    moved[:, 2] += gait.stride * (rounds - ahead)
    moved = rotation.rotate(rotation.invert(leg.turn), moved)  # a control's moves are along its own axes
    return {f"{leg.foot.control}.roll": np.interp(within, own, roll)} | {
        f"{leg.foot.control}.move_{axis}": moved[:, k] for k, axis in enumerate("xyz")
    }


def _arm_tracks(rig, legs, cycle):
    """Each arm swings with the leg of the other side; its turned controls take over from the target."""
    reached = {leg.foot.target for leg in legs}
    tracks = {}
    for limb in (link for link in rig.links if isinstance(link, Limb) and link.turned and link.target not in reached):
        shoulder, elbow = (rig.control(name) for name in limb.turned[:2])
        outward = 1.0 if shoulder.position[0] > 0 else -1.0
        swing = outward * ARMS * np.cos(2 * np.pi * cycle)  # the left arm goes back, a turn about +x, when the left leg is in front
        home = shoulder.rotation
        about_x = rotation.from_axis_angle([1.0, 0.0, 0.0], swing)
        tracks[f"{shoulder.name}.turn"] = rotation.multiply(rotation.invert(home), rotation.multiply(about_x, home))
        tracks[f"{elbow.name}.turn_z"] = ELBOWS * (1.0 - 0.4 * outward * np.cos(2 * np.pi * cycle))
        tracks[limb.blend] = np.zeros_like(cycle)
    return tracks


def _contacts(leg, ahead, period):
    """What is planted when, in seconds from 0 to the period, cut where the period ends: heel, flat foot, toe."""
    heel, toe = (leg.foot.ankle, leg.foot.heel), (leg.foot.ball, leg.foot.toe)
    for (joint, point), start, end in ((heel, 0.0, HEEL_OFF), (toe, FLAT, TOE_OFF)):
        for turn in (0.0, 1.0):
            low, high = max(start - ahead + turn, 0.0), min(end - ahead + turn, 1.0)
            if high > low:
                yield Contact(joint, point, low * period, high * period)
