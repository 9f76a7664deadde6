"""Checkpoint 02.3: how near and how far the end of a limb can be, when its hinge bends from one angle to another.

Seen in the limb's plane, the upper bone is (a, 0) and the lower, turned by the
bend t, is (b cos t, b sin t). Pythagoras: d^2 = a^2 + b^2 + 2 a b cos t, the law
of cosines (Euclid, Elements II.12-13) for the outer angle. From 0 to 180 degrees
it only falls, so the least bend gives the outer reach and the most the inner.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_02_figure import CLOSE, CLOSED
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

NAMES = {"arm_outer": ("arm", 0), "arm_inner": ("arm", 1), "leg_outer": ("leg", 0), "leg_inner": ("leg", 1)}
PARTS = {"arm": ("posed_arm", "elbow_range"), "leg": ("posed_leg", "knee_range")}


def distance(a, b, bend):
    """From root to end, with bones a and b bent by `bend` degrees."""
    return np.sqrt(a * a + b * b + 2 * a * b * np.cos(np.radians(bend)))


def limb_of(context, limb):
    """(upper bone, lower bone, root to end as it stands, least bend, most bend) of "arm" or "leg"."""
    points, bends = (context.given[name] for name in PARTS[limb])
    root, mid, end = np.asarray(points, float)
    return float(np.linalg.norm(mid - root)), float(np.linalg.norm(end - mid)), float(np.linalg.norm(end - root)), *bends


def reach_answer(
    outer=lambda a, b, now, low, high: distance(a, b, low), inner=lambda a, b, now, low, high: distance(a, b, high), scale=1.0
):
    """Return the answer of 02.3 as a function of the context; the defaults are right, every other choice is one planned mistake."""

    def answer(context):
        limbs = {limb: limb_of(context, limb) for limb in PARTS}
        return {name: scale * float((outer, inner)[which](*limbs[limb])) for name, (limb, which) in NAMES.items()}

    return answer


def measure(name):
    """A measure of one of the four distances."""

    def measure_reach(case, answer, context):
        right, got = reach_answer()(context)[name], answer[name]
        limb, which = NAMES[name]
        off, bends = abs(got - right), context.given[PARTS[limb][1]]
        words = f"the {('farthest', 'nearest')[which]} for a bend from {bends[0]:g} to {bends[1]:g} degrees"
        told = f"{name} = {got:.6g} m, {told_length(off)} too {'large' if got > right else 'small'}   (tolerance 1e-6 m)"
        return Measure(off <= CLOSE, words, told, off)

    return measure_reach


MISTAKES = (
    Mistake(
        "limit left out",
        reach_answer(inner=lambda a, b, now, low, high: abs(a - b)),
        "this is the limb folded flat, |a - b|; its hinge stops before that, at the most bend",
        ("arm_inner", "leg_inner"),
        "idea 2, how near",
    ),
    Mistake(
        "least bend left out",
        reach_answer(outer=lambda a, b, now, low, high: a + b),
        "this is the limb straight, a + b; its hinge does not get that far, it keeps the least bend",
        ("leg_outer",),
        "idea 2, how near",
    ),
    Mistake(
        "both limits left out",
        reach_answer(lambda a, b, now, low, high: a + b, lambda a, b, now, low, high: abs(a - b)),
        "straight and folded flat; the hinge's range is left out at both ends",
        ("arm_inner", "leg_outer", "leg_inner"),
        "idea 2, how near",
    ),
    Mistake(
        "inner angle",
        reach_answer(inner=lambda a, b, now, low, high: distance(a, b, 180 - high)),
        "the most bend is taken for the angle inside the triangle; the bend is the outer one, so + 2 a b cos",
        ("arm_inner", "leg_inner"),
        "idea 2, the outer angle",
    ),
    Mistake(
        "inner angle at both ends",
        reach_answer(lambda a, b, now, low, high: distance(a, b, 180 - low), lambda a, b, now, low, high: distance(a, b, 180 - high)),
        "the bend is taken for the angle inside the triangle: with the outer angle it is + 2 a b cos",
        ("arm_outer", "arm_inner", "leg_outer", "leg_inner"),
        "idea 2, the outer angle",
    ),
    Mistake(
        "degrees",
        reach_answer(
            lambda a, b, now, low, high: np.sqrt(a * a + b * b + 2 * a * b * np.cos(low)),
            lambda a, b, now, low, high: np.sqrt(a * a + b * b + 2 * a * b * np.cos(high)),
        ),
        "degrees went into the cosine; it takes radians (np.radians)",
        ("arm_inner", "leg_outer", "leg_inner"),
        "the convention strip",
    ),
    Mistake(
        "as it stands",
        reach_answer(outer=lambda a, b, now, low, high: now),
        "this is from root to end as the limb stands, bent; the outer reach belongs to the least bend",
        ("arm_outer", "leg_outer"),
        "idea 2, how near",
    ),
    Mistake(
        "near and far changed places",
        reach_answer(lambda a, b, now, low, high: distance(a, b, high), lambda a, b, now, low, high: distance(a, b, low)),
        "near and far have changed places: the most bend brings the end nearest",
        ("arm_outer", "arm_inner", "leg_outer", "leg_inner"),
        "idea 2, the outer angle",
    ),
    Mistake(
        "root not taken",
        reach_answer(lambda a, b, now, low, high: distance(a, b, low) ** 2, lambda a, b, now, low, high: distance(a, b, high) ** 2),
        "this is the square of the distance; the root is missing",
        ("arm_outer", "arm_inner", "leg_outer", "leg_inner"),
        "idea 2, the outer angle",
    ),
    Mistake(
        "a share of the bend",
        reach_answer(inner=lambda a, b, now, low, high: (a + b) * (1 - high / 180)),
        "the distance was shrunk in proportion to the bend; it falls with the cosine, not evenly",
        ("arm_inner", "leg_inner"),
        "idea 2, the outer angle",
    ),
    Mistake(
        "millimetres",
        reach_answer(scale=1000.0),
        "these are millimetres; lengths here are in metres",
        ("arm_outer", "arm_inner", "leg_outer", "leg_inner"),
        "the convention strip",
    ),
)


def show_reach(viewer, answer, context):
    """The arm as it stands, with the answer's shell around its shoulder, and faint the two distances as they should be."""
    viewer.clear()
    viewer.see_through(True)
    viewer.look("side")
    root, mid, end = np.asarray(context.given["posed_arm"], float)
    a, b, _, low, high = limb_of(context, "arm")
    outer, inner = (float(np.clip(answer.get(name, 0.0), 0.0, 3.0)) for name in ("arm_outer", "arm_inner"))
    viewer.reach(root, outer, min(inner, outer))
    viewer.joints({"left_shoulder": root, "left_elbow": mid, "left_wrist": end})
    way = (end - root) / np.linalg.norm(end - root)
    viewer.faint([root + distance(a, b, low) * way, root + distance(a, b, high) * way], [-1, -1])
    viewer.focus(root, 3.0 * (a + b))
    viewer.caption("02.3: your reach of the arm as a shell around the shoulder; faint, on one line: where it should begin and end.")


def claim(name, text, look_at):
    """The claim about one distance."""
    return Claim(name, text, 1, measure(name), "1e-6 m", (name,), look_at)


CHECKPOINT = Checkpoint(
    id="02.3",
    title="How near and how far",
    kind="value",
    names=dict.fromkeys(NAMES, forms.number()),
    claims=(
        claim("arm_outer", "the arm's outer reach", "idea 2, how near"),
        claim("arm_inner", "the arm's inner reach, at the elbow's most bend", "idea 2, the outer angle"),
        claim("leg_outer", "the leg's outer reach, at the knee's least bend", "idea 2, how near"),
        claim("leg_inner", "the leg's inner reach, at the knee's most bend", "idea 2, the outer angle"),
    ),
    worked=reach_answer(),
    hint="The bones first: np.linalg.norm between neighbours; they are as long in every pose.\n"
    "distance = np.sqrt(a**2 + b**2 + 2 * a * b * np.cos(np.radians(bend))). The least bend gives the outer reach, the most the inner.",
    mistakes=MISTAKES,
    closed=(*CLOSED, "chain.reach", "limb.reach"),
    show=show_reach,
)
