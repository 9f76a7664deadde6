"""Checkpoint 07.5: a foot that swivels on ball, heel or toe, and on several of them at once.

All three turn about an upright, so heights stay. Above zero the toes turn outward:
a positive turn about y on the left foot, a negative one on the right. Several at
once are a stack again: the ball's is outermost, then the heel's, then the toe's.
Source: the product of turns about fixed uprights.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_07_show import show_swivel
from rigkit.course.chapters.chapter_07_sole import BOOK, CLOSE, Y, Z, about, foot_of, rigid, turn_points
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

UPRIGHT, OUTWARD, STACK = "idea 3, swivel", "idea 3, which way", "idea 2, from the inside out"
ARGUMENTS = ("points", "pivots", "angles", "side")
NAMES = ("ball", "heel", "toe")


def inputs(case):
    """The inputs as they are called."""
    return tuple(case.inputs[name] for name in ARGUMENTS)


def one_alone(case):
    """Whether one of the three angles is at work."""
    return int((inputs(case)[2] != 0).sum()) == 1


def several(case):
    """Whether more than one is."""
    return int((inputs(case)[2] != 0).sum()) > 1


def out_of(side):
    """1 where x points outward."""
    return 1.0 if side == "left" else -1.0


def shaped(case, answer):
    """None, or a Measure that says how many points came."""
    points = inputs(case)[0]
    if answer.shape == points.shape:
        return None
    return Measure(False, f"{len(points)} points, each where it goes", f"{len(answer)} points", 9.0)


def expected(case):
    """Where the points go."""
    points, pivots, angles, side = inputs(case)
    for pivot, angle in reversed(list(zip(pivots, angles))):
        points = turn_points(points, pivot, Y, out_of(side) * angle)
    return points


# ---- the claims ------------------------------------------------------------------------------------------------


def pivot_stays(case, answer, context):
    """The point it swivels on stays."""
    wrong = shaped(case, answer)
    if wrong:
        return wrong
    points, pivots, angles, _ = inputs(case)
    which = int(np.flatnonzero(angles)[0])
    turn, move = rigid(points, answer)
    gap = float(np.linalg.norm(turn @ pivots[which] + move - pivots[which]))
    return Measure(gap <= CLOSE, f"the {NAMES[which]} stays where it is", f"it moves by {told_length(gap)}   (tolerance 1e-6 m)", gap)


def heights_stay(case, answer, context):
    """Every point keeps its height, and the foot its shape."""
    wrong = shaped(case, answer)
    if wrong:
        return wrong
    points = inputs(case)[0]
    off = float(np.abs(answer - points)[:, 1].max())
    turn, move = rigid(points, answer)
    bent = float(np.linalg.norm(points @ turn.T + move - answer, axis=1).max())
    if off <= CLOSE < bent / 10:
        return Measure(
            False, "the same foot as before, each height kept", f"heights kept, but bent or stretched by up to {told_length(bent)}", bent
        )
    return Measure(off <= CLOSE, "each point at the height it had", f"heights change by up to {told_length(off)}   (tolerance 1e-6 m)", off)


def toes_outward(case, answer, context):
    """Turned by the angles together, outward above zero."""
    wrong = shaped(case, answer)
    if wrong:
        return wrong
    points, _, angles, side = inputs(case)
    total = float(angles.sum())
    turn, _ = rigid(points, answer)
    right = about(Y, out_of(side) * total)
    off = float(np.arccos(np.clip((np.trace(turn @ right.T) - 1) / 2, -1, 1)))
    other = float(np.arccos(np.clip((np.trace(turn @ right) - 1) / 2, -1, 1)))
    way = "outward" if total > 0 else "inward"
    cause = (
        f"the {side} foot turns the wrong way: outward is {'+' if side == 'left' else '-'}angle about y here" if other < 1e-6 < off else ""
    )
    return Measure(
        off <= 1e-5, f"the {side} foot's toes {abs(np.degrees(total)):.4g} degrees {way}", f"{np.degrees(off):.4g} degrees off", off, cause
    )


def stacked(case, answer, context):
    """Several at once: the ball's carries the heel's, the heel's the toe's."""
    wrong = shaped(case, answer)
    if wrong:
        return wrong
    gap = float(np.linalg.norm(answer - expected(case), axis=1).max())
    return Measure(
        gap <= CLOSE,
        "each point where ball, then heel, then toe take it, the ball outermost",
        f"up to {told_length(gap)} away   (tolerance 1e-6 m)",
        gap,
    )


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """Each pivot alone on either foot, inward and outward, a foot that stands on its edge, and several at once."""
    left, right = foot_of(context.robot, "left"), foot_of(context.robot, "right")

    def some(low=10, high=40):
        return rng.uniform(low, high)

    leaning = turn_points(left.sole, left.pivots["outer"], Z, -np.radians(some(10, 20)))
    return [
        case("a quarter turn on the ball", left, left.sole, (90, 0, 0)),
        case("on the ball, outward", left, left.sole, (some(), 0, 0)),
        case("on the heel, inward", left, left.sole, (0, -some(), 0)),
        case("on the toe, outward", left, left.sole, (0, 0, some())),
        case("on the ball, outward", right, right.sole, (some(), 0, 0)),
        case("on the heel, outward", right, right.sole, (0, some(), 0)),
        case("on the toe, inward", right, right.sole, (0, 0, -some())),
        case("on the ball, standing on its outer edge", left, leaning, (some(), 0, 0)),
        case("on ball and heel", left, left.sole, (some(), some(), 0)),
        case("on heel and toe", right, right.sole, (0, some(), -some())),
        case("on all three", right, right.sole, (some(), -some(), some())),
        case("nothing to do", left, left.sole, (0, 0, 0)),
    ]


def case(about_it, one, points, degrees):
    """A Case of a Foot; degrees: on ball, heel and toe."""
    pivots = np.array([one.pivots[name] for name in NAMES])
    values = (np.array(points, float), pivots, np.radians(np.array(degrees, float)), one.side)
    return Case(about_it, dict(zip(ARGUMENTS, values)), tell=("angles", "side"))


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def swivelled(points, pivots, angles, side):
    """The worked answer."""
    out = 1.0 if side == "left" else -1.0
    for pivot, angle in reversed(list(zip(pivots, angles))):
        points = turn_points(points, pivot, np.array([0, 1.0, 0]), out * angle)
    return points


def outermost_first(points, pivots, angles, side):
    """The ball's turn first, then the others, each about its place at rest."""
    return swivelled(points, pivots[::-1], angles[::-1], side)


def same_sign(points, pivots, angles, side):
    """Both feet turn the way of the left one."""
    return swivelled(points, pivots, angles, "left")


def inward(points, pivots, angles, side):
    """The other way."""
    return swivelled(points, pivots, -angles, side)


def on_the_ball_alone(points, pivots, angles, side):
    """All angles about the ball."""
    return swivelled(points, np.array([pivots[0]] * 3), angles, side)


def on_the_origin(points, pivots, angles, side):
    """All angles about the upright below the ankle."""
    return swivelled(points, np.zeros((3, 3)), angles, side)


def rows_mixed_up(points, pivots, angles, side):
    """The rows taken for heel, ball, toe."""
    return swivelled(points, pivots[[1, 0, 2]], angles, side)


def about_z(points, pivots, angles, side):
    """About the foot's length."""
    out = 1.0 if side == "left" else -1.0
    for pivot, angle in reversed(list(zip(pivots, angles))):
        points = turn_points(points, pivot, np.array([0, 0, 1.0]), out * angle)
    return points


def last_alone(points, pivots, angles, side):
    """Each turn begins from the points as they came, so that only the last one counts."""
    out = 1.0 if side == "left" else -1.0
    found = points
    for pivot, angle in reversed(list(zip(pivots, angles))):
        found = turn_points(points, pivot, np.array([0, 1.0, 0]), out * angle)
    return found


def from_degrees(points, pivots, angles, side):
    """The angles are turned into radians once more."""
    return swivelled(points, pivots, np.radians(angles), side)


MISTAKES = (
    Mistake(
        "outermost first",
        outermost_first,
        "the ball's turn was done first: what is outermost is done last, for it carries the others",
        ("stack",),
        STACK,
    ),
    Mistake(
        "same sign on both",
        same_sign,
        "the right foot turns like the left one: outward is +angle about y on the left foot, -angle on the right",
        ("outward", "stack"),
        OUTWARD,
    ),
    Mistake("inward", inward, "the toes turn inward; above zero is outward", ("outward", "stack"), OUTWARD),
    Mistake(
        "on the ball alone",
        on_the_ball_alone,
        "every angle turns about the ball; each has its own row of pivots",
        ("stays", "stack"),
        UPRIGHT,
    ),
    Mistake(
        "on the origin",
        on_the_origin,
        "it turns about the frame's origin, below the ankle; each angle has its own pivot",
        ("stays", "stack"),
        UPRIGHT,
    ),
    Mistake(
        "rows mixed up",
        rows_mixed_up,
        "the rows are ball, heel, toe in this order; heel and ball are mixed up",
        ("stays", "stack"),
        UPRIGHT,
    ),
    Mistake(
        "about z",
        about_z,
        "it turns about z: that is a tilt. A swivel turns about the upright, y",
        ("heights", "outward", "stack"),
        UPRIGHT,
    ),
    Mistake(
        "last alone",
        last_alone,
        "each turn starts from the points as they came: put the result back in, so that the next one turns it on",
        ("outward", "stack"),
        STACK,
    ),
    Mistake(
        "radians twice",
        from_degrees,
        "the angles are in radians already; they were turned into radians once more",
        ("outward", "stack"),
        "the convention strip",
    ),
)

CHECKPOINT = Checkpoint(
    id="07.5",
    title="Swivel on ball, heel or toe",
    kind="function",
    names={"swivelled": forms.array(None, 3)},
    claims=(
        Claim("stays", "what the foot swivels on stays where it is", 1, pivot_stays, "1e-6 m", look_at=UPRIGHT, applies=one_alone),
        Claim("heights", "heights stay, and so does the shape", 1, heights_stay, "1e-6 m", look_at=UPRIGHT),
        Claim(
            "outward",
            "above zero the toes turn outward, on both feet, by all angles together",
            1,
            toes_outward,
            "1e-5 rad",
            look_at=OUTWARD,
        ),
        Claim(
            "stack",
            "several at once: the ball's outermost, then the heel's, then the toe's",
            2,
            stacked,
            "1e-6 m",
            look_at=STACK,
            applies=several,
        ),
    ),
    worked=swivelled,
    mistakes=MISTAKES,
    hint="out = 1 for the left side, -1 for the right: the sign of every angle about y.\n"
    "A loop over the three rows, one turn_points each, about (0, 1, 0). Put the result back into points.\n"
    "Innermost first: toe, heel, ball. reversed(list(zip(pivots, angles))) goes through the rows from the last to the first.",
    cases=cases,
    closed=BOOK,
    show=show_swivel,
)
