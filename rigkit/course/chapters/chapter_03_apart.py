"""Checkpoint 03.7, extra: how far apart two turns are, in one angle.

The quaternion from one to the other holds half the angle: sin in its first three
numbers, cos in w. q and -q are the same turn, so the size of w counts; and an arc
cosine of a number near 1 loses half its digits, so both are used, by arctan2.
Source: D. Q. Huynh, Metrics for 3D rotations, J. Mathematical Imaging and Vision 35
(2009) 155 (memory).
"""

import numpy as np

from rigkit import rotation
from rigkit.course import forms
from rigkit.course.chapters.chapter_03_turns import CLOSE, TURNS, direction, in_degrees, inverse, product, quaternion, telling_quaternion
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake

TINY = 1e-9  # radians


def within(tolerance, text):
    """The claim's measure: the answer is the angle between the two turns."""

    def measure(case, answer, context):
        right = float(rotation.angle(case.inputs["p"], case.inputs["q"]))
        gap = abs(answer - right)
        return Measure(
            gap <= tolerance,
            f"{right:.10g} rad ({in_degrees(right)})",
            f"{answer:.10g} rad, {gap:.3g} rad off   (tolerance {text})",
            gap,
        )

    return measure


def near(case):
    """Whether the two are the same turn, or nearly, written with the same sign."""
    return float(rotation.angle(case.inputs["p"], case.inputs["q"])) < 1e-4 and not other_sign(case)


def other_sign(case):
    """Whether the two lie on opposite sides, so that one is written with the other sign."""
    return float(case.inputs["p"] @ case.inputs["q"]) < 0


def ordinary(case):
    """Anything else."""
    return not near(case) and not other_sign(case)


def cases(rng, context):
    """A quarter and a half turn, oblique ones, the same with one sign changed, and turns that are nearly one."""
    p, step = telling_quaternion(rng), rng.uniform(0.5, 2.5)
    q = product(p, quaternion(direction(rng), step))
    close = product(p, quaternion(direction(rng), 3e-8))
    z = np.array([0, 0, 1.0])
    return [
        case("a quarter turn apart", np.array([0, 0, 0, 1.0]), quaternion(z, np.pi / 2)),
        case("an oblique pair", p, q),
        case("the other way round", q, p),
        case("nearly half a turn apart", p, product(p, quaternion(direction(rng), 3.1))),
        case("an oblique pair, one as -q", p, -q),
        case("the same turn, as q and -q", p, -p),
        case("a quarter turn, one as -q", np.array([0, 0, 0, -1.0]), quaternion(z, np.pi / 2)),
        case("the same turn", p, p.copy()),
        case(
            "less than a millionth of a degree apart",
            p,
            quaternion(z, 1e-8) if p @ close < 0 else product(p, quaternion(direction(rng), 1e-8)),
        ),
        case("a little more than that", p, close),
    ]


def case(about, p, q):
    """A Case with its two inputs."""
    return Case(about, {"p": p, "q": q})


def turn_apart(p, q):
    """The worked answer."""
    d = product(inverse(p), q)
    return float(2 * np.arctan2(np.linalg.norm(d[:3]), abs(d[3])))


def signs_kept(p, q):
    """No thought of -q."""
    d = product(inverse(p), q)
    return float(2 * np.arctan2(np.linalg.norm(d[:3]), d[3]))


def by_arccos(p, q):
    """arccos of the size of the dot product."""
    return float(2 * np.arccos(min(abs(p @ q), 1.0)))


def half_of_it(p, q):
    """Not doubled."""
    return turn_apart(p, q) / 2


def number_by_number(p, q):
    """The length of the difference of four numbers."""
    return float(np.linalg.norm(p - q))


def told_in_degrees(p, q):
    """In degrees."""
    return float(np.degrees(turn_apart(p, q)))


APART = "extra, how far apart"
CHECKPOINT = Checkpoint(
    id="03.7",
    title="How far apart two turns are",
    kind="function",
    names={"turn_apart": forms.number()},
    claims=(
        Claim("angle", "the angle from one turn to the other", 2, within(CLOSE, "1e-6 rad"), "1e-6 rad", look_at=APART, applies=ordinary),
        Claim(
            "sign",
            "one of them written as -q makes no difference",
            1,
            within(CLOSE, "1e-6 rad"),
            "1e-6 rad",
            look_at=APART,
            applies=other_sign,
        ),
        Claim(
            "near", "turns that are nearly the same are told apart", 1, within(TINY, "1e-9 rad"), "1e-9 rad", look_at=APART, applies=near
        ),
    ),
    worked=turn_apart,
    hint="The turn from p to q is d = product(inverse(p), q). The length of d[:3] is sin(angle / 2), and d[3] is cos(angle / 2).\n"
    "np.arctan2(sine, cosine) gives the half angle. abs(d[3]) makes -q count as q.",
    mistakes=(
        Mistake(
            "signs kept",
            signs_kept,
            "-q is the same turn as q: the size of w counts, not its sign; this is 360 degrees minus the angle",
            ("sign",),
            "idea 2, four numbers",
        ),
        Mistake("arccos", by_arccos, "arccos of a number near 1 loses half its digits: take arctan2 of sine and cosine", ("near",), APART),
        Mistake(
            "not doubled",
            half_of_it,
            "this is half the angle: a quaternion holds half angles",
            ("angle", "sign", "near"),
            "idea 2, four numbers",
        ),
        Mistake(
            "number by number",
            number_by_number,
            "the four numbers were compared one by one: that is no angle, and q and -q come out far apart",
            ("angle", "sign"),
            APART,
        ),
        Mistake(
            "in degrees",
            told_in_degrees,
            "the angle is in degrees; code uses radians here",
            ("angle", "sign", "near"),
            "the convention strip",
        ),
    ),
    cases=cases,
    closed=TURNS,
    core=False,
)
