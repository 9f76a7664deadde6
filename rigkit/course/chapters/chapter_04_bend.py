"""Checkpoint 04.1: the bend angle of three joints, and the right-handed normal of their bend plane.

The bend angle is the turn from the first bone's direction to the second's: 0 when
straight. The normal is the axis of that turn, the first bone cross the second.
A straight or folded limb has no plane; zeros say so. Source: the cross product and
its right-hand rule, any textbook of linear algebra.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_04_show import show_bend
from rigkit.course.chapters.chapter_04_vectors import (
    BOOK,
    CLOSE,
    bend_angle,
    bend_normal,
    in_degrees,
    unit,
)
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake

ARGUMENTS = ("a", "b", "c")
OUTER, HAND, LENGTH, NONE = "idea 1, step 2", "idea 1, step 3", "idea 1, step 4", "idea 1, no plane"


def points(case):
    """The three joints of a case."""
    return tuple(np.asarray(case.inputs[name], float) for name in ARGUMENTS)


def is_bent(case):
    """Whether the case has a bend plane."""
    return bool(bend_normal(*points(case)).any())


def has_no_plane(case):
    """Whether it is straight or folded."""
    return not is_bent(case)


# ---- the claims ------------------------------------------------------------------------------------------------


def angle_told(case, answer, context):
    """The bend angle: 0 when straight."""
    right = bend_angle(*points(case))
    gap = abs(answer[0] - right)
    return Measure(
        gap <= CLOSE,
        f"a bend angle of {right:.7f} rad ({in_degrees(right)})",
        f"{answer[0]:.7f}   ({gap:.3g} rad off; tolerance 1e-6 rad)",
        gap,
    )


def normal_square(case, answer, context):
    """The normal is square to both bones, whichever side it points to."""
    a, b, c = points(case)
    n = unit(answer[1])
    if not n.any():
        return Measure(False, "a normal square to both bones", "a normal of length 0", np.pi)
    off = [abs(float(np.arcsin(np.clip(n @ unit(bone), -1, 1)))) for bone in (b - a, c - b)]
    which, gap = ("first", off[0]) if off[0] > off[1] else ("second", off[1])
    return Measure(
        gap <= CLOSE, "a normal square to both bones", f"it leans towards the {which} bone by {in_degrees(gap)}   (tolerance 1e-6 rad)", gap
    )


def normal_side(case, answer, context):
    """Thumb along the normal, the fingers curl from the first bone to the second."""
    right, got = bend_normal(*points(case)), unit(answer[1])
    along = float(right @ got)
    told = "(" + ", ".join(f"{x:.3f}" for x in right + 0.0) + ")"
    return Measure(
        along > 1e-3,
        f"a normal on the side of {told}",
        "it points to the other side" if along < -1e-3 else "it points to neither side",
        1 - along,
    )


def normal_length(case, answer, context):
    """Length 1."""
    size = float(np.linalg.norm(answer[1]))
    gap = abs(size - 1)
    return Measure(gap <= CLOSE, "a normal of length 1", f"length {size:.6g}   (tolerance 1e-6)", gap)


def none_told(case, answer, context):
    """Straight is 0, folded is pi, and the normal is zeros."""
    right = bend_angle(*points(case))
    gap, size = abs(answer[0] - right), float(np.linalg.norm(answer[1]))
    expected = f"{'straight: 0' if right < 1 else 'folded: pi'} rad, and the normal (0, 0, 0): there is no plane"
    if gap > CLOSE:
        return Measure(False, expected, f"an angle of {answer[0]:.7g} rad   (tolerance 1e-6 rad)", gap)
    return Measure(size <= CLOSE, expected, f"the angle is right, the normal has length {size:.3g}", size)


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """Two that a hand can check, Tally's limbs, oblique ones of every size and bend, and those without a plane."""
    marks = context.robot.landmarks
    arm, leg, right = (
        [marks[f"{side}_{name}"] for name in names]
        for side, names in (
            ("left", ("shoulder", "elbow", "wrist")),
            ("left", ("hip", "knee", "ankle")),
            ("right", ("shoulder", "elbow", "wrist")),
        )
    )
    top = np.array([0, 1.0, 0])
    return [
        case("by hand", [0, 0, 0], [0.3, 0, 0], [0.3, 0.2, 0]),
        case("3-4-5 triangle", [0, 0, 0], [0.5, 0, 0], [0.8, -0.4, 0]),
        case("left arm", *arm),
        case("left leg", *leg),
        case("right arm", *right),
        oblique("a small bend", rng, 0.3, 0.25, np.radians(rng.uniform(10, 40))),
        oblique("beyond a right angle", rng, 0.25, 0.3, np.radians(rng.uniform(110, 150))),
        oblique("long and short", rng, 0.9, 0.004, np.radians(rng.uniform(40, 80))),
        oblique("nearly straight", rng, 0.3, 0.25, 1e-3),
        oblique("nearly folded", rng, 0.3, 0.25, np.pi - 1e-3),
        oblique("large, far away", rng, 30.0, 20.0, np.radians(rng.uniform(40, 80))),
        case("straight", top, [0, 0.7, 0], [0, 0.4, 0]),
        straight_but_for_rounding(rng),
        case("folded", top, [0, 0.7, 0], [0, 0.9, 0]),
    ]


def case(about, a, b, c):
    """A Case with its three points; a panel has room for two."""
    return Case(about, {name: np.array(p, float) for name, p in zip(ARGUMENTS, (a, b, c))}, tell=("b", "c"))


def oblique(about, rng, upper, lower, bend):
    """Two bones of these lengths that bend by `bend`, turned at random."""
    u, v = np.linalg.qr(rng.normal(size=(3, 3)))[0][:, :2].T
    a = rng.uniform(0.2, 0.9, 3) * (upper + lower)
    b = a + upper * u
    return case(about, a, b, b + lower * (np.cos(bend) * u + np.sin(bend) * v))


def straight_but_for_rounding(rng):
    """A straight limb on an oblique line whose unit bones have a dot product a hair above 1: arccos gives nan."""
    while True:
        a, bone, share = rng.uniform(0.2, 0.9, 3).round(3), rng.uniform(0.1, 0.3, 3).round(3), rng.uniform(0.4, 0.9)
        b = a + bone
        c = b + share * bone
        u, v = (b - a) / np.linalg.norm(b - a), (c - b) / np.linalg.norm(c - b)
        if u @ v > 1 and np.linalg.norm(np.cross(u, v)) < 1e-14:
            return case("straight, oblique", a, b, c)


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def bend(a, b, c):
    """The worked answer."""
    u, v = (b - a) / np.linalg.norm(b - a), (c - b) / np.linalg.norm(c - b)
    axis = np.cross(u, v)
    sine = np.linalg.norm(axis)
    return np.arctan2(sine, u @ v), axis / sine if sine > 1e-9 else np.zeros(3)


def inner_angle(a, b, c):
    """The angle inside the triangle."""
    angle, normal = bend(a, b, c)
    return np.pi - angle, normal


def both_from_the_mid(a, b, c):
    """Both bones taken as they leave the mid joint: the inner angle, and the other side."""
    u, v = (a - b) / np.linalg.norm(a - b), (c - b) / np.linalg.norm(c - b)
    axis = np.cross(u, v)
    sine = np.linalg.norm(axis)
    return np.arctan2(sine, u @ v), axis / sine if sine > 1e-9 else np.zeros(3)


def other_side(a, b, c):
    """The second bone cross the first."""
    angle, normal = bend(a, b, c)
    return angle, -normal


def by_arcsin(a, b, c):
    """arcsin of the cross product's length: never above a right angle."""
    angle, normal = bend(a, b, c)
    return np.arcsin(np.clip(np.sin(angle), 0, 1)), normal


def in_degrees_told(a, b, c):
    """Degrees."""
    angle, normal = bend(a, b, c)
    return np.degrees(angle), normal


def places_for_bones(a, b, c):
    """The points themselves, as if they were directions."""
    angle, _ = bend(a, b, c)
    axis = np.cross(b, c)
    size = np.linalg.norm(axis)
    return angle, axis / size if size > 1e-9 else np.zeros(3)


def normal_as_it_comes(a, b, c):
    """The cross product of the unit bones, at the length it has: the sine."""
    angle, normal = bend(a, b, c)
    return angle, np.sin(angle) * normal


def plain_arccos(a, b, c):
    """arccos of a dot product that rounding puts above 1, and 0 / 0 for the normal."""
    u, v = (b - a) / np.linalg.norm(b - a), (c - b) / np.linalg.norm(c - b)
    return np.arccos(u @ v), np.cross(u, v) / np.linalg.norm(np.cross(u, v))


def clipped_arccos(a, b, c):
    """The angle is saved, the normal is 0 / 0."""
    u, v = (b - a) / np.linalg.norm(b - a), (c - b) / np.linalg.norm(c - b)
    return np.arccos(np.clip(u @ v, -1, 1)), np.cross(u, v) / np.linalg.norm(np.cross(u, v))


def some_normal(a, b, c):
    """Any direction where there is none."""
    angle, normal = bend(a, b, c)
    return angle, normal if normal.any() else np.array([1.0, 0, 0])


MISTAKES = (
    Mistake(
        "inner angle",
        inner_angle,
        "this is the angle inside the triangle; the bend angle is 180 degrees minus it, 0 when straight",
        ("angle", "none"),
        OUTER,
    ),
    Mistake(
        "both from the mid joint",
        both_from_the_mid,
        "both bones leave the mid joint here: a - b for b - a gives the inner angle and the other side",
        ("angle", "side", "none"),
        "idea 1, step 1",
    ),
    Mistake("other side", other_side, "the order is swapped: the first bone cross the second, np.cross(u, v)", ("side",), HAND),
    Mistake(
        "arcsin",
        by_arcsin,
        "arcsin never goes beyond 90 degrees: 130 reads as 50. Use arctan2 of sine and cosine",
        ("angle", "none"),
        OUTER,
    ),
    Mistake("degrees", in_degrees_told, "the angle is in degrees; code uses radians here", ("angle", "none"), "the convention strip"),
    Mistake(
        "places for bones",
        places_for_bones,
        "the joints' places were crossed: a bone is the way between two joints, b - a and c - b",
        ("plane",),
        "idea 1, step 1",
    ),
    Mistake(
        "normal as it comes",
        normal_as_it_comes,
        "the cross product has the sine of the angle as its length; bring it to length 1",
        ("unit",),
        LENGTH,
    ),
    Mistake(
        "plain arccos",
        plain_arccos,
        "rounding puts a dot product a hair above 1: arccos gives nan. And the normal is 0 / 0",
        ("none",),
        NONE,
    ),
    Mistake("0 / 0", clipped_arccos, "the normal of a straight limb is 0 / 0: look at the length before you divide", ("none",), NONE),
    Mistake("some normal", some_normal, "a straight or folded limb lies in every plane through it: say so with zeros", ("none",), NONE),
)

CHECKPOINT = Checkpoint(
    id="04.1",
    title="Bend angle and bend plane",
    kind="function",
    names={"bend": forms.several(forms.number(), forms.point())},
    claims=(
        Claim("angle", "the bend angle, 0 when straight", 2, angle_told, "1e-6 rad", look_at=OUTER, applies=is_bent),
        Claim("plane", "the normal is square to both bones", 1, normal_square, "1e-6 rad", look_at=HAND, applies=is_bent),
        Claim(
            "side",
            "the normal is right-handed: the fingers curl from the first bone to the second",
            2,
            normal_side,
            "",
            look_at=HAND,
            applies=is_bent,
        ),
        Claim("unit", "the normal has length 1", 1, normal_length, "1e-6", look_at=LENGTH, applies=is_bent),
        Claim("none", "straight or folded: the angle, and zeros for the normal", 1, none_told, "1e-6", look_at=NONE, applies=has_no_plane),
    ),
    worked=bend,
    hint="The two bones as directions of length 1, both away from the root: u from b - a, v from c - b.\n"
    "axis = np.cross(u, v). Its length is the sine of the bend, u @ v is the cosine: np.arctan2(sine, cosine).\n"
    "Only where the sine is above 1e-9 is there anything to divide by; else the normal is np.zeros(3).",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_bend,
)
