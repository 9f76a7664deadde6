"""Checkpoint 03.2: two turns in a row, about axes that stay and about axes that move along.

About fixed axes the second turn is put in front: R2 R1. About moving axes the
second axis has been carried by the first turn: R1 R2 R1^-1 R1 = R1 R2. So the same
two turns about moving axes are the swapped ones about fixed axes. Source: that
product, multiplied out; the words intrinsic and extrinsic as in SciPy.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_03_show import show_order
from rigkit.course.chapters.chapter_03_turns import CLOSE, TURNS, direction, turned
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.rotation import from_axis_angle, multiply, rotate
from rigkit.words import point as told_point
from rigkit.words import told_length

ARGUMENTS = ("point", "first_axis", "first_angle", "second_axis", "second_angle")


def expected(inputs):
    """The point after both turns, about moving and about fixed axes, by the package."""
    first, second = (from_axis_angle(inputs[f"{name}_axis"], inputs[f"{name}_angle"]) for name in ("first", "second"))
    return rotate(multiply(first, second), inputs["point"]), rotate(multiply(second, first), inputs["point"])


# ---- the claims ------------------------------------------------------------------------------------------------


def placed(which, name):
    """The claim's measure for one of the two points."""

    def measure(case, answer, context):
        right = expected(case.inputs)[which]
        gap = float(np.linalg.norm(answer[which] - right))
        return Measure(
            gap <= CLOSE,
            f"{name} at {told_point(right, 4)} m",
            f"{told_point(answer[which], 4)} m, {told_length(gap)} away   (tolerance 1e-6 m)",
            gap,
        )

    return measure


def distance_kept(case, answer, context):
    """Both points are as far from the pivot as before."""
    before = float(np.linalg.norm(case.inputs["point"]))
    now = np.linalg.norm(answer, axis=1)
    which = int(np.abs(now - before).argmax())
    gap = float(abs(now[which] - before))
    return Measure(
        gap <= CLOSE,
        f"{before:.4f} m from the pivot, as before",
        f"{('moving', 'fixed')[which]} is {now[which]:.4f} m from it   (tolerance 1e-6 m)",
        gap,
    )


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """Quarter turns that a hand can check, Tally's gripper about its shoulder, oblique axes, and turns that make no difference."""
    marks = context.robot.landmarks
    hand = marks["left_gripper"] - marks["left_shoulder"]
    a, b = direction(rng), direction(rng)
    return [
        case("quarter turns about z, then x", [0.3, 0, 0], [0, 0, 1], np.pi / 2, [1, 0, 0], np.pi / 2),
        case("gripper about x, then y", hand, [1, 0, 0], -rng.uniform(0.5, 1.4), [0, 1, 0], rng.uniform(0.5, 1.4)),
        case("oblique axes", direction(rng), a, rng.uniform(0.5, 1.4), b[[1, 2, 0]], rng.uniform(1.6, 2.6)),
        case("oblique axes, one angle negative", direction(rng), b, rng.uniform(0.5, 1.4), a[[2, 0, 1]], -rng.uniform(0.5, 1.4)),
        case("oblique axes, more than half a turn", direction(rng), a[[1, 2, 0]], rng.uniform(3.5, 5.0), b, rng.uniform(0.5, 1.4)),
        case("twice about the same axis", direction(rng), a, rng.uniform(0.5, 1.4), a, rng.uniform(0.5, 1.4)),
        case("no first turn", direction(rng), a, 0.0, b, rng.uniform(0.5, 1.4)),
        case("no second turn", direction(rng), a, rng.uniform(0.5, 1.4), b, 0.0),
    ]


def case(about, point, first_axis, first_angle, second_axis, second_angle):
    """A Case with its five inputs; the angles are told."""
    values = (np.array(point, float), np.array(first_axis, float), float(first_angle), np.array(second_axis, float), float(second_angle))
    return Case(about, dict(zip(ARGUMENTS, values)), tell=("point", "first_angle", "second_angle"))


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def two_turns(point, first_axis, first_angle, second_axis, second_angle):
    """The worked answer."""
    once = turned(point, first_axis, first_angle)
    carried = turned(second_axis, first_axis, first_angle)
    return turned(once, carried, second_angle), turned(once, second_axis, second_angle)


def swapped(point, first_axis, first_angle, second_axis, second_angle):
    """Moving given for fixed, and fixed for moving."""
    moving, fixed = two_turns(point, first_axis, first_angle, second_axis, second_angle)
    return fixed, moving


def always_fixed(point, first_axis, first_angle, second_axis, second_angle):
    """The second axis is taken as it came, both times."""
    _, fixed = two_turns(point, first_axis, first_angle, second_axis, second_angle)
    return fixed, fixed


def always_moving(point, first_axis, first_angle, second_axis, second_angle):
    """The second axis is carried, both times."""
    moving, _ = two_turns(point, first_axis, first_angle, second_axis, second_angle)
    return moving, moving


def turned_once(point, first_axis, first_angle, second_axis, second_angle):
    """The second turn begins at the point as it came."""
    carried = turned(second_axis, first_axis, first_angle)
    return turned(point, carried, second_angle), turned(point, second_axis, second_angle)


def carried_back(point, first_axis, first_angle, second_axis, second_angle):
    """The second axis is carried against the first turn."""
    once = turned(point, first_axis, first_angle)
    carried = turned(second_axis, first_axis, -first_angle)
    return turned(once, carried, second_angle), turned(once, second_axis, second_angle)


def one_vector(point, first_axis, first_angle, second_axis, second_angle):
    """The two turns are added like arrows."""
    both = first_angle * first_axis + second_angle * second_axis
    angle = np.linalg.norm(both)
    one = turned(point, both / angle, angle)
    return one, one


ORDER = "idea 2, which axis moves"
MISTAKES = (
    Mistake("swapped", swapped, "the two are swapped: return moving first, then fixed", ("moving", "fixed"), "idea 2, own step"),
    Mistake(
        "second axis never carried",
        always_fixed,
        "the second axis is used as it came; about moving axes the first turn has carried it along",
        ("moving",),
        ORDER,
    ),
    Mistake(
        "second axis always carried",
        always_moving,
        "the second axis is carried both times; about fixed axes it stays where it was",
        ("fixed",),
        ORDER,
    ),
    Mistake(
        "second turn from the start",
        turned_once,
        "the second turn begins at the point as it came; give it what the first turn has made",
        ("moving", "fixed"),
        ORDER,
    ),
    Mistake(
        "carried the wrong way",
        carried_back,
        "the second axis is carried by the first turn backwards; it goes the same way as the point",
        ("moving",),
        ORDER,
    ),
    Mistake(
        "added like arrows",
        one_vector,
        "axis times angle was added up: turns do not add like arrows, do one after the other",
        ("moving", "fixed"),
        ORDER,
    ),
)

CHECKPOINT = Checkpoint(
    id="03.2",
    title="Two turns in a row",
    kind="function",
    names={"two_turns": forms.several(forms.point(), forms.point())},
    claims=(
        Claim(
            "moving",
            "moving: both turns, the second about the axis that the first has carried",
            2,
            placed(0, "moving"),
            "1e-6 m",
            look_at=ORDER,
        ),
        Claim("fixed", "fixed: both turns, the second about the axis as it was", 2, placed(1, "fixed"), "1e-6 m", look_at=ORDER),
        Claim("distance", "both are as far from the pivot as before", 1, distance_kept, "1e-6 m", look_at="idea 1, the formula"),
    ),
    worked=two_turns,
    hint="Begin with the point after the first turn; both answers go on from it.\n"
    "fixed: turn it about second_axis. moving: turn it about the axis you get when you turn second_axis by the first turn.\n"
    "Your turn_point turns an axis as well as a point: the pivot is np.zeros(3).",
    mistakes=MISTAKES,
    cases=cases,
    closed=TURNS,
    show=show_order,
)
