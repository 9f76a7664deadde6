"""Chapter 06's limbs: Tally's arm and leg as three points, what follows from a case, and the cases a solver is tried on."""

from dataclasses import dataclass

import numpy as np

from rigkit.course.checkpoint import Case

ARM = ("left_shoulder", "left_elbow", "left_wrist")
LEG = ("left_hip", "left_knee", "left_ankle")
ARGUMENTS = ("root", "mid", "end", "target", "pole")
LIMB = ("limb", "_limb_fast")  # closed: the package's own solver, pole point and swivel
NOTHING = 1e-9  # metres: below this a distance counts as none
HAIRY = (0.3, 0.25)  # metres: two bones whose full reach rounds so that a^2 - along^2 is below 0, however the formula is written


# ---- what is known of a case -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Facts:
    """What follows from one case's inputs: bone lengths, the line to the target, the side the pole is on.

    direction is None for a target on the root, side is None for a pole on the line.
    """

    root: np.ndarray
    upper: float
    lower: float
    distance: float
    direction: np.ndarray | None
    side: np.ndarray | None
    straight_rest: bool

    @property
    def bones(self):
        """Both bone lengths."""
        return np.array([self.upper, self.lower])

    @property
    def reach(self):
        """The distance from the root at which the wrist must end: the target's own, or the nearest the limb can do."""
        return float(np.clip(self.distance, abs(self.upper - self.lower), self.upper + self.lower))

    @property
    def out_of_reach(self):
        """Whether the target has a direction, but lies outside the outer or inside the inner reach."""
        return self.direction is not None and abs(self.distance - self.reach) > NOTHING

    @property
    def special(self):
        """Whether something is straight, on the root or on the line, so that a careless division or root fails."""
        at_edge = abs(self.distance - (self.upper + self.lower)) <= NOTHING
        return not self.out_of_reach and (self.direction is None or self.side is None or at_edge or self.straight_rest)

    @property
    def ordinary(self):
        """Whether the target is in reach and the pole gives a side."""
        return not self.out_of_reach and not self.special


def facts(case):
    """Return the Facts of a case."""
    root, mid, end, target, pole = (np.asarray(case.inputs[name], float) for name in ARGUMENTS)
    direction = unit(target - root)
    return Facts(
        root,
        float(np.linalg.norm(mid - root)),
        float(np.linalg.norm(end - mid)),
        float(np.linalg.norm(target - root)),
        direction,
        None if direction is None else unit(square(pole - root, direction)),
        bool(np.linalg.norm(np.cross(mid - root, end - root)) < 1e-12),
    )


def unit(v):
    """`v` at length 1, or None where it has no length."""
    length = np.linalg.norm(v)
    return v / length if length > NOTHING else None


def square(v, direction):
    """The part of `v` square to the unit vector `direction`."""
    return v - (v @ direction) * direction


def ordinary(case):
    """Whether a case is in reach, with a pole off the line."""
    return facts(case).ordinary


def out_of_reach(case):
    """Whether a case's target is too far or too near."""
    return facts(case).out_of_reach


def special(case):
    """Whether a case is one of the special ones."""
    return facts(case).special


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """The inputs the solver is tried on: Tally's own limbs, a 3-4-5 triangle that a hand can check, then everything special."""
    arm, leg = limb(context.robot, "left_shoulder", "left_elbow", "left_wrist"), limb(context.robot, "left_hip", "left_knee", "left_ankle")
    right = limb(context.robot, "right_shoulder", "right_elbow", "right_wrist")
    plain = (np.array([0, 1.0, 0]), np.array([0, 0.7, 0]), np.array([0.4, 0.7, 0]))
    equal = (np.array([0, 1.0, 0]), np.array([0, 0.75, 0]), np.array([0, 0.75, 0.25]))  # equal to the last digit: along is 0 / 0
    hair = (np.zeros(3), np.array([0, -HAIRY[0], 0]), np.array([0, -HAIRY[0], HAIRY[1]]))
    straight = (arm[0], *(arm[0] + [0, -length, 0] for length in np.cumsum(bones(arm))))
    large = tuple(10 * p + [30, -20, 10] for p in arm)
    return [
        inside("left arm", arm, rng),
        case("3-4-5 triangle", plain, [0.3, 0.6, 0], [0, 0.5, 1]),
        inside("left arm, nearly straight", arm, rng, share=0.999),
        inside("right arm", right, rng),
        inside("left leg", leg, rng),
        inside("left arm, pole 0.1 mm off the line", arm, rng, off=1e-4),
        inside("large, far away", large, rng),
        outside("left arm, target too far", arm, rng, share=1.3),
        outside("left leg, target far too far", leg, rng, share=3),
        outside("too far, rounding", hair, rng, share=2),
        outside("target too near", plain, rng, distance=0.05),
        outside("too near, lower shorter", plain[::-1], rng, distance=0.06),
        inside("straight arm", straight, rng),
        outside("left arm, target exactly at full reach", arm, rng, share=1.0),
        case("left arm, target on the root", arm, arm[0], arm[0] + [0, 0, -0.4], tell=("target",)),
        case("equal bones, target on the root", equal, equal[0], equal[0] + [0, 0, 0.4], tell=("target",)),
        case("pole on the line", arm, arm[0] + [0, -0.6 * sum(bones(arm)), 0], arm[0] + [0, -0.5, 0], tell=("target", "pole")),
        case("left arm, pole on the root", arm, arm[0] + [0, 0, 0.7 * sum(bones(arm))], arm[0], tell=("pole",)),
    ]


def limb(robot, *landmarks):
    """Root, mid and end of a limb, from the robot's landmarks."""
    return tuple(np.array(robot.landmarks[name], float) for name in landmarks)


def bones(rest):
    """The two bone lengths of rest points (root, mid, end)."""
    return np.linalg.norm(np.diff(rest, axis=0), axis=1)


def case(about, rest, target, pole, tell=()):
    """A Case with its five points. tell: those that a panel names; three points more than fill its line."""
    points = (np.array(p, float) for p in (*rest, target, pole))
    return Case(about, dict(zip(ARGUMENTS, points)), tell or ("root", "target", "pole"))


def inside(about, rest, rng, share=None, off=None):
    """A case with a random target at `share` of the way from inner to outer reach and a pole point `off` metres off the line.

    Where neither is given both points are round, to the millimetre, so that they can be typed.
    """
    upper, lower = bones(rest)
    between = rng.uniform(0.3, 0.9) if share is None else share
    direction, side = directions(rng)
    target = rest[0] + (abs(upper - lower) + between * (upper + lower - abs(upper - lower))) * direction
    beside = rng.uniform(0.5, 1.5) * upper if off is None else off
    pole = rest[0] + rng.uniform(-0.5, 1.2) * upper * direction + beside * side
    if share is None and off is None:
        return case(about, rest, target.round(3), pole.round(3), tell=("target", "pole"))
    return case(about, rest, target, pole, tell=("target",) if off is None else ("pole",))


def outside(about, rest, rng, share=None, distance=None):
    """A case with a random target at `share` of the outer reach, or at `distance`; where its pole point lies matters little."""
    direction, side = directions(rng)
    distance = share * bones(rest).sum() if distance is None else distance
    own = ("target",) if "left" in about else ("root", "target")
    target = rest[0] + distance * direction
    return case(about, rest, target if share == 1.0 else target.round(3), rest[0] + 0.2 * direction + 0.4 * side, own)


def directions(rng):
    """Two random unit vectors, square to each other."""
    a, b = rng.normal(size=(2, 3))
    direction = a / np.linalg.norm(a)
    side = square(b, direction)
    return direction, side / np.linalg.norm(side)
