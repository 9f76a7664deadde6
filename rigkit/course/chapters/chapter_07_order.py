"""Checkpoint 07.2: which turn carries which. The swivel is outermost, the ball innermost.

Turns stack like parents: the outermost carries all the others. A swivel that is
inside a tilt turns about a leaning line, or turns the foot away from the edge it
tilts on; either way the sole goes under the floor. A ball that is outside the rest
stays behind when they move the foot. Between edges, heel and toe the order makes
no difference as long as only one of them is at work: any order of these passes.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_07_show import show_order
from rigkit.course.chapters.chapter_07_sole import BOOK, X, depth, foot_of, stood
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

ORDER = ("swivel", "edges", "heel", "toe", "ball")
INSIDE = ("edges", "heel", "toe", "ball", "swivel")
TILT, SWIVEL = 20, 30  # degrees, for depth_inside
NEAR = 1e-4  # metres
REASONS = ("a", "b", "c", "d")
WHY, SEE, HINGE = "idea 2, why the swivel is outermost", "idea 2, see", "idea 2, why the ball is innermost"
SETTINGS = (  # degrees: shares of heel, ball and toe, tilt, swivel
    ((0, 0, 0), 20, 30),
    ((0, 0, 0), -20, 30),
    ((-25, 0, 0), 0, 30),
    ((0, 30, 0), 0, 30),
    ((0, 30, 25), 0, -30),
    ((0, 20, 0), 12, 0),
    ((0, 30, 25), 0, 0),
)


def order_of_turns():
    """A form: the five turns, each once, outermost first."""

    def form(value):
        told = forms.listing(forms.string())(value)
        names = [name.strip().casefold() for name in told]
        if sorted(names) != sorted(ORDER):
            raise forms.Wrong("wrong kind", f"came {', '.join(names) or 'an empty list'}; expected {form.expected}"[:160])
        return names

    form.expected = "the five names, each once: " + ", ".join(map(repr, ORDER))
    return form


# ---- the claims ------------------------------------------------------------------------------------------------


def told(setting):
    """A setting in words."""
    (heel, ball, toe), tilt, swivel = setting
    named = {"roll": heel + ball + toe, "tilt": tilt, "swivel": swivel}
    return ", ".join(f"{name} {value}" for name, value in named.items() if value)


def placed(one, points, behind, order, setting):
    """`stood` in degrees."""
    shares, tilt, swivel = setting
    return stood(one, points, behind, order, np.radians(shares), np.radians(tilt), np.radians(swivel))


def stands(case, answer, context):
    """In every setting the lowest point of the sole is on the floor."""
    one, order = foot_of(context.robot, "left"), answer["order"]
    lowest = {setting: float(placed(one, one.sole, one.behind, order, setting)[:, 1].min()) for setting in SETTINGS}
    worst = max(lowest, key=lambda setting: abs(lowest[setting]))
    low = lowest[worst]
    return Measure(
        abs(low) <= NEAR,
        "the lowest point of the sole on the floor, for every setting tried",
        f"it is {told_length(abs(low))} {'under' if low < 0 else 'over'} it at {told(worst)} degrees   (tolerance 0.1 mm)",
        abs(low),
        "" if order[0] == "swivel" else f"the swivel is inside {order[0]!r}, which no longer turns about the foot's own edge",
    )


def together(case, answer, context):
    """Both halves keep the fold at the ball between them."""
    one, order = foot_of(context.robot, "left"), answer["order"]
    fold = one.pivots["ball"] + np.outer([-0.02, 0.02], X)
    gaps = {}
    for setting in SETTINGS:
        heel_part, toe_part = (placed(one, fold, np.full(2, behind), order, setting) for behind in (True, False))
        gaps[setting] = float(np.linalg.norm(heel_part - toe_part, axis=1).max())
    worst = max(gaps, key=gaps.get)
    return Measure(
        gaps[worst] <= NEAR,
        "heel part and toe part meet at the fold, for every setting tried",
        f"they are {told_length(gaps[worst])} apart at {told(worst)} degrees   (tolerance 0.1 mm)",
        gaps[worst],
        "" if order[-1] == "ball" else f"the ball is outside {order[-1]!r}: its pivot stays behind when the foot is moved",
    )


def inside_measured(case, answer, context):
    """The depth that an inner swivel costs."""
    one = foot_of(context.robot, "left")
    right = 1000 * depth(placed(one, one.sole, one.behind, INSIDE, ((0, 0, 0), TILT, SWIVEL)))
    got = answer["depth_inside"]
    gap = abs(got - right)
    other = 1000 * depth(placed(one, one.sole, one.behind, INSIDE, ((0, 0, 0), SWIVEL, TILT)))
    seen = {  # what a number read off the table, to two digits, proves
        "a depth is counted from the floor down: without a minus sign": -right,
        "the depth is in metres; millimetres are asked for": right / 1000,
        f"that is tilt {SWIVEL} and swivel {TILT}: the two angles have changed places": other,
        "that is the depth with the swivel outermost; it has to be inside here": 0.0,
    }
    cause = next((words for words, value in seen.items() if abs(got - value) <= (2e-4 if 0 < value < 0.1 else 0.02)), "")
    return Measure(
        gap <= 0.1,
        f"how deep the sole is under the floor, in mm, with the swivel inside, at tilt {TILT} and swivel {SWIVEL} degrees",
        f"{answer['depth_inside']:.6g}   ({gap:.3g} mm off; tolerance 0.1 mm)",
        gap,
        cause,
    )


def reason_given(case, answer, context):
    """The reason."""
    return Measure(answer["reason"] == "a", "why the swivel carries all the others", f"reason {answer['reason']!r}, which is not it", 1.0)


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def answer(order=ORDER, deep=lambda mm: mm, reason="a"):
    """The answer of 07.2 as a function of the context; the defaults are right. deep: what becomes of the right depth."""

    def answer_of(context):
        one = foot_of(context.robot, "left")
        right = 1000 * depth(placed(one, one.sole, one.behind, INSIDE, ((0, 0, 0), TILT, SWIVEL)))
        return {"order": list(order), "depth_inside": deep(right), "reason": reason}

    return answer_of


MISTAKES = (
    Mistake(
        "turned round",
        answer(ORDER[::-1]),
        "the list begins with the innermost; the outermost, which carries all others, comes first",
        ("floor", "together"),
        WHY,
    ),
    Mistake(
        "swivel innermost",
        answer(INSIDE),
        "the swivel is innermost: it turns the foot away from the edge it tilts on",
        ("floor", "together"),
        WHY,
    ),
    Mistake(
        "swivel inside the edges",
        answer(("edges", "swivel", "heel", "toe", "ball")),
        "the tilt is outside the swivel: a foot that is turned aside tilts about a line that is no longer its edge",
        ("floor",),
        WHY,
    ),
    Mistake(
        "ball outside the toe",
        answer(("swivel", "edges", "heel", "ball", "toe")),
        "the ball is outside the toe: when the toe lifts the foot, the ball's pivot stays behind and the foot tears",
        ("together",),
        HINGE,
    ),
    Mistake(
        "ball outermost",
        answer(("ball", "swivel", "edges", "heel", "toe")),
        "the ball is outermost: it carries the heel part alone, and the rest moves away from it",
        ("together",),
        HINGE,
    ),
    Mistake("in metres", answer(deep=lambda mm: mm / 1000), "the depth is in metres; millimetres are asked for", ("depth",), SEE),
    Mistake("below zero", answer(deep=lambda mm: -mm), "a depth is counted from the floor down: without a minus sign", ("depth",), SEE),
    Mistake(
        "in the right order",
        answer(deep=lambda mm: 0.0),
        "that is the right order's depth; the swivel has to be inside here",
        ("depth",),
        SEE,
    ),
    Mistake("used most", answer(reason="b"), "how often a turn is used says nothing about what it must carry", ("reason",), WHY),
    Mistake("largest angle", answer(reason="c"), "a small swivel inside a tilt goes under the floor as well", ("reason",), WHY),
    Mistake(
        "pivots in line", answer(reason="d"), "the ball's upright is one of three; with any of them the order matters", ("reason",), WHY
    ),
)

CHECKPOINT = Checkpoint(
    id="07.2",
    title="The order of the stack",
    kind="choice",
    names={"order": order_of_turns(), "depth_inside": forms.number(), "reason": forms.choice(*REASONS)},
    claims=(
        Claim("floor", "order: the sole stays on the floor, neither under nor over it", 2, stands, "0.1 mm", ("order",), WHY),
        Claim("together", "order: the two halves stay together at the fold", 1, together, "0.1 mm", ("order",), HINGE),
        Claim("depth", "depth_inside: what an inner swivel costs", 1, inside_measured, "0.1 mm", ("depth_inside",), SEE),
        Claim("reason", "reason: why the swivel is outermost", 1, reason_given, "", ("reason",), WHY),
    ),
    worked=answer(),
    mistakes=MISTAKES,
    hint="Ask of each pair: which of the two must go on working where the other has taken the foot? That one is inside.\n"
    "The fold at the ball must hold whatever the rest does; the swivel must leave every foot on the floor as it finds it.\n"
    f"For depth_inside: the scene's slider, tilt {TILT} and swivel {SWIVEL}, with the swivel inside; then read the table.",
    closed=BOOK,
    show=show_order,
)
