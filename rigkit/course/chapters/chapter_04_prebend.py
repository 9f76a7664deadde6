"""Checkpoint 04.2: the straight practice limb, its elbow moved back, and what that costs when it bends.

The elbow joint leaves the middle of its fold by h. Bent by t about a joint that is
off by h, the shell stands off by the chord 2 h sin(t / 2) (chapter 01). How far
back is the learner's choice; the cost is measured for the elbow they chose.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_04_show import show_practice
from rigkit.course.chapters.chapter_04_vectors import (
    BOOK,
    CLOSE,
    bend_angle,
    bend_normal,
    between,
    square,
    unit,
)
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

LEAST, MOST = 2.0, 6.0  # degrees of pre-bend
WAY = 1.0  # degrees the bend plane's normal may be off the fold's hinge
COST = 1e-4  # metres
MOVE, BACK, CHORD = "idea 2, step 2", "idea 2, step 1", "idea 2, step 3"


def practice(context):
    """The straight limb handed out, (3, 3), and its fold's hinge, (3,)."""
    return np.asarray(context.given["practice"], float), np.asarray(context.given["practice_hinge"], float)


def ends_stay(straight, got):
    """A Measure: root and end of a pre-bent limb (3, 3) are those of the straight one."""
    gaps = np.linalg.norm(got - straight, axis=1)[[0, 2]]
    which = int(gaps.argmax())
    return Measure(
        bool(gaps.max() <= CLOSE),
        "both ends where they were",
        f"the {('first', 'last')[which]} joint moved by {told_length(gaps.max())}   (tolerance 1e-6 m)",
        float(gaps.max()),
    )


def bent_a_little(straight, got):
    """A Measure: the bend angle is from 2 to 6 degrees."""
    bend = float(np.degrees(bend_angle(*got)))
    gap = max(LEAST - bend, bend - MOST, 0.0)
    cause = ""
    if MOST < bend < 3 * MOST:
        cause = "both bones lean: the bend is the lean of the upper bone and that of the lower one together"
    x, y = np.linalg.norm(straight[1] - straight[0]), np.linalg.norm(straight[2] - straight[1])
    if bend > MOST and LEAST - 1e-6 <= float(np.linalg.norm(got[1] - straight[1])) * (x + y) / (x * y) <= MOST + 1e-6:
        cause = "h was worked out from degrees; the formula takes the angle in radians: np.radians"
    return Measure(gap <= 1e-6, f"a bend angle of {LEAST:g} to {MOST:g} degrees", f"{bend:.3f} degrees", gap, cause)


def bent_that_way(straight, got, hinge, mid, towards, wrong):
    """A Measure: the bend plane's normal is on the hinge, with its sign. mid, towards, wrong: words: "elbow", "back", "forward"."""
    normal = bend_normal(*got)
    expected = f"the {mid} moved {towards}: the bend plane's normal on the hinge, within {WAY:g} degree"
    if not normal.any():
        return Measure(False, expected, "a straight or folded limb, which has no bend plane", 180.0)
    off = float(np.degrees(between(normal, hinge)))
    cause = f"the {mid} went {wrong}" if off > 170 else f"the {mid} went to the side" if 80 < off < 100 else ""
    step = got[1] - straight[1]
    if off > WAY and not cause and np.linalg.norm(step[:2]) < 1e-6 * np.linalg.norm(step):
        cause = f"the {mid} took a step along the world's Z; this limb looks another way"
    return Measure(off <= WAY, expected, f"the normal is {off:.3g} degrees off the hinge", off, cause)


def chord_at_90(context, got):
    """What the learner's own elbow costs at 90 degrees, metres, and how far across the hinge it is off its fold."""
    straight, hinge = practice(context)
    across = float(np.linalg.norm(square(got[1] - straight[1], hinge)))
    return 2 * across * np.sin(np.pi / 4), across


def cost_told(case, answer, context):
    """The gap at 90 degrees, for the elbow of the answer."""
    right, across = chord_at_90(context, answer["pre_bent"])
    got = answer["gap_at_90"]
    gap = abs(got - right)
    cause = ""
    if across > 1e-3 and gap > COST:
        cause = {
            across: "this is how far the joint was moved; the gap is the chord 2 h sin(t / 2)",
            2 * across: "the half of the angle is missing: 2 h sin(t / 2), with t = 90 degrees",
            right * 1000: "this is in millimetres; lengths are in metres here",
            2 * across * np.sin(45): "the sine takes radians: half of np.radians(90)",
        }.get(next((x for x in (across, 2 * across, right * 1000, 2 * across * np.sin(45)) if abs(got - x) < 1e-4), None), "")
    return Measure(
        gap <= COST,
        f"2 h sin(t / 2) with your elbow's own h, {told_length(across)} off its fold, and t = 90 degrees",
        f"{got:.6f} m   ({told_length(gap)} off; tolerance 0.1 mm)",
        gap,
        cause,
    )


def limb_claim(measure):
    """A claim's measure about pre_bent from one of the straight and the bent limb."""
    return lambda case, answer, context: measure(practice(context)[0], answer["pre_bent"])


def way_claim(case, answer, context):
    """The elbow went back."""
    straight, hinge = practice(context)
    return bent_that_way(straight, answer["pre_bent"], hinge, "elbow", "back", "forward")


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def rise(straight, degrees):
    """How far the mid joint must leave the line for a bend of so many degrees: two leans, atan(h / x) + atan(h / y)."""
    x, y = (np.linalg.norm(straight[i + 1] - straight[i]) for i in (0, 1))
    low, high = 0.0, min(x, y)
    for _ in range(60):
        h = (low + high) / 2
        low, high = (h, high) if np.arctan(h / x) + np.arctan(h / y) < np.radians(degrees) else (low, h)
    return h


def moved(straight, step):
    """The limb with its mid joint moved."""
    return straight + np.outer([0, 1, 0], step)


def back(straight, hinge):
    """The way the mid joint of a limb goes so that a positive turn about the hinge bends it further."""
    return unit(np.cross(straight[2] - straight[0], hinge))


def answer(step=lambda straight, hinge: rise(straight, 4) * back(straight, hinge), cost=lambda h: 2 * h * np.sin(np.pi / 4)):
    """The answer of 04.2 as a function of the context; the defaults are right. step(straight, hinge), cost(h)."""

    def answer_of(context):
        straight, hinge = practice(context)
        move = step(straight, hinge)
        return {"pre_bent": moved(straight, move), "gap_at_90": float(cost(np.linalg.norm(square(move, hinge))))}

    return answer_of


def forearm_turned(context):
    """The forearm turned by 4 degrees about the elbow: the wrist goes along."""
    straight, hinge = practice(context)
    bone = straight[2] - straight[1]
    turn = np.radians(4)
    wrist = straight[1] + np.cos(turn) * bone + np.sin(turn) * np.cross(hinge, bone)
    return {"pre_bent": np.array([straight[0], straight[1], wrist]), "gap_at_90": 0.0}


MISTAKES = (
    Mistake("wrist moved", forearm_turned, "the forearm was turned and the wrist went along; only the elbow is to move", ("ends",), MOVE),
    Mistake(
        "sideways",
        answer(lambda straight, hinge: rise(straight, 4) * hinge),
        "the elbow was moved along the hinge, to the side: the limb now bends sideways",
        ("way",),
        BACK,
    ),
    Mistake(
        "forward",
        answer(lambda straight, hinge: -rise(straight, 4) * back(straight, hinge)),
        "the elbow was moved forward: the limb now bends like a knee",
        ("way",),
        BACK,
    ),
    Mistake(
        "one lean only",
        answer(lambda straight, hinge: np.linalg.norm(straight[1] - straight[0]) * np.sin(np.radians(4)) * back(straight, hinge)),
        "upper bone times the sine of 4 degrees: the lower bone leans as well, so the bend is about twice that",
        ("angle",),
        MOVE,
    ),
    Mistake(
        "not moved",
        answer(lambda straight, hinge: 0.0 * hinge),
        "the elbow has not moved: three points on a line have no bend plane",
        ("angle", "way"),
        MOVE,
    ),
    Mistake(
        "shift for gap",
        answer(cost=lambda h: h),
        "this is how far the joint was moved; the gap is the chord 2 h sin(t / 2)",
        ("cost",),
        CHORD,
    ),
    Mistake(
        "whole angle",
        answer(cost=lambda h: 2 * h),
        "the half of the angle is missing: 2 h sin(t / 2), with t = 90 degrees",
        ("cost",),
        CHORD,
    ),
    Mistake(
        "millimetres",
        answer(cost=lambda h: 2000 * h * np.sin(np.pi / 4)),
        "this is in millimetres; lengths are in metres here",
        ("cost",),
        "the convention strip",
    ),
    Mistake(
        "degrees for radians",
        answer(cost=lambda h: 2 * h * np.sin(45)),
        "np.sin takes radians: np.sin(np.radians(90) / 2)",
        ("cost",),
        "the convention strip",
    ),
)

CHECKPOINT = Checkpoint(
    id="04.2",
    title="A pre-bend, and its price",
    kind="value",
    names={"pre_bent": forms.array(3, 3), "gap_at_90": forms.number()},
    claims=(
        Claim("ends", "pre_bent: shoulder and wrist stay", 1, limb_claim(ends_stay), "1e-6 m", ("pre_bent",), MOVE),
        Claim("angle", "pre_bent: the bend angle is 2 to 6 degrees", 1, limb_claim(bent_a_little), "", ("pre_bent",), MOVE),
        Claim("way", "pre_bent: the elbow went back, on the fold's own plane", 2, way_claim, "1 degree", ("pre_bent",), BACK, settable=True),
        Claim("cost", "gap_at_90: what your elbow costs at 90 degrees", 1, cost_told, "0.1 mm", ("pre_bent", "gap_at_90"), CHORD, settable=True),
    ),
    worked=answer(),
    mistakes=MISTAKES,
    hint="Which way is back? np.cross(bone, hinge), at length 1.\n"
    "How far? With the bones x and y long, a small step h bends by about h / x + h / y radians; 4 degrees are np.radians(4).\n"
    "The gap: h is the length of your step, as it is square to the hinge; then 2 * h * np.sin(np.radians(90) / 2).",
    closed=BOOK,
    show=show_practice,
)
