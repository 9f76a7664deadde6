"""Checkpoint 07.4: a foot tilted onto its outer or its inner edge.

Above zero a foot stands on its outer edge, below zero on its inner one. Either way
it turns about the foot's length, and the edge stays where it is. Which turn is
outward depends on the side: x points to the character's left on both feet. Source:
the turn about a fixed line; the signs are the workbook's own.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_07_show import show_tilt
from rigkit.course.chapters.chapter_07_sole import BOOK, CLOSE, FLOOR, X, Z, about, depth, foot_of, rigid, turn_points
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

EDGE, WAY, AXIS = "idea 3, which edge", "idea 3, which way", "idea 3, tilt"
ARGUMENTS = ("points", "inner", "outer", "side", "angle")


def inputs(case):
    """The inputs as they are called."""
    return tuple(case.inputs[name] for name in ARGUMENTS)


def tilts(case):
    """Whether there is an angle."""
    return inputs(case)[-1] != 0


def still(case):
    """Whether there is none."""
    return not tilts(case)


def shaped(case, answer):
    """None, or a Measure that says how many points came."""
    points = inputs(case)[0]
    if answer.shape == points.shape:
        return None
    return Measure(False, f"{len(points)} points, each where it goes", f"{len(answer)} points", 9.0)


# ---- the claims ------------------------------------------------------------------------------------------------


def above(case, answer, context):
    """Nothing under the floor."""
    wrong = shaped(case, answer)
    if wrong:
        return wrong
    *_, angle = inputs(case)
    deep = depth(answer)
    turn, _ = rigid(inputs(case)[0], answer)
    flat = np.abs(turn - np.eye(3)).max() < 1e-3 * abs(angle)
    if deep <= FLOOR and flat:
        return Measure(False, "a tilted sole, nothing of it under the floor", "it is not turned at all", 1.0)
    return Measure(deep <= FLOOR, "nothing under the floor", f"{told_length(deep)} under it   (tolerance 0.1 mm)", deep)


def edge_stays(case, answer, context):
    """The edge that the sole stands on stays where it is."""
    wrong = shaped(case, answer)
    if wrong:
        return wrong
    points, inner, outer, _, angle = inputs(case)
    name, edge = ("outer", outer) if angle > 0 else ("inner", inner)
    turn, move = rigid(points, answer)
    gap = float(np.linalg.norm(turn @ edge + move - edge))
    return Measure(gap <= CLOSE, f"the {name} pivot stays where it is", f"it moves by {told_length(gap)}   (tolerance 1e-6 m)", gap)


def as_asked(case, answer, context):
    """Turned by the angle, onto the right side, about the foot's length, and not bent."""
    wrong = shaped(case, answer)
    if wrong:
        return wrong
    points, _, _, side, angle = inputs(case)
    out = 1.0 if side == "left" else -1.0
    turn, move = rigid(points, answer)
    bent = float(np.linalg.norm(points @ turn.T + move - answer, axis=1).max())
    expected = f"tilted by {abs(np.degrees(angle)):.4g} degrees, the {'inner' if angle > 0 else 'outer'} edge up"
    if bent > 10 * CLOSE:
        return Measure(False, expected, f"the sole is bent or stretched, by up to {told_length(bent)}", np.pi)
    right = about(Z, -out * angle)
    off = float(np.arccos(np.clip((np.trace(turn @ right.T) - 1) / 2, -1, 1)))
    other = float(np.arccos(np.clip((np.trace(turn @ right) - 1) / 2, -1, 1)))
    cause = (
        "it is tilted the other way round: on the left foot a turn about z lifts the outer edge, on the right foot the inner one"
        if other < 1e-6 < off
        else ""
    )
    return Measure(off <= 1e-5, expected, f"{np.degrees(off):.4g} degrees off", off, cause)


def unmoved(case, answer, context):
    """No angle, no move."""
    wrong = shaped(case, answer)
    if wrong:
        return wrong
    gap = float(np.linalg.norm(answer - inputs(case)[0], axis=1).max())
    return Measure(gap <= CLOSE, "a tilt of 0 leaves all points where they are", f"they move by up to {told_length(gap)}", gap)


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """Tally's soles both ways, a plain rectangle, one whose edges are uneven, already turned points, and no tilt."""
    left, right = foot_of(context.robot, "left"), foot_of(context.robot, "right")

    def some():
        return rng.uniform(8, 30)

    slab = np.array([[-0.03, 0, -0.06], [0.05, 0, -0.06], [0.05, 0, 0.14], [-0.03, 0, 0.14]])
    ends = np.array([-0.03, 0, 0.04]), np.array([0.05, 0, 0.04])
    uneven = np.array([[-0.03, 0, -0.06], [0.02, 0, -0.07], [0.045, 0, 0.05], [0.03, 0, 0.12], [0, 0, 0.14], [-0.025, 0, 0.1]])
    low, high = np.array([-0.03, 0, -0.06]), np.array([0.045, 0, 0.05])
    rolled = turn_points(left.sole, left.pivots["heel"], X, -np.radians(rng.uniform(5, 15)))
    return [
        case("a plain left sole, outward", slab, *ends, "left", 20),
        case("the same, inward", slab, *ends, "left", -20),
        case("a plain right sole, outward", slab, ends[1], ends[0], "right", 20),
        case("Tally's left sole, outward", left.sole, left.pivots["inner"], left.pivots["outer"], "left", some()),
        case("Tally's left sole, inward", left.sole, left.pivots["inner"], left.pivots["outer"], "left", -some()),
        case("Tally's right sole, outward", right.sole, right.pivots["inner"], right.pivots["outer"], "right", some()),
        case("Tally's right sole, inward", right.sole, right.pivots["inner"], right.pivots["outer"], "right", -some()),
        case("an uneven left sole, outward", uneven, low, high, "left", some()),
        case("an uneven right sole, inward", uneven * [-1, 1, 1], low * [-1, 1, 1], high * [-1, 1, 1], "right", -some()),
        case("a left foot rolled back on its heel, outward", rolled, left.pivots["inner"], left.pivots["outer"], "left", some()),
        case("no tilt, left", left.sole, left.pivots["inner"], left.pivots["outer"], "left", 0),
        case("no tilt, right", right.sole, right.pivots["inner"], right.pivots["outer"], "right", 0),
    ]


def case(about_it, points, inner, outer, side, degrees):
    """A Case; degrees: the tilt."""
    values = (*(np.array(v, float) for v in (points, inner, outer)), side, float(np.radians(degrees)))
    return Case(about_it, dict(zip(ARGUMENTS, values)), tell=("side", "angle"))


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def tilted(points, inner, outer, side, angle):
    """The worked answer."""
    out = 1.0 if side == "left" else -1.0
    edge = outer if angle > 0 else inner
    return turn_points(points, edge, np.array([0, 0, 1.0]), -out * angle)


def same_sign(points, inner, outer, side, angle):
    """Both feet turn the way of the left one."""
    return turn_points(points, outer if angle > 0 else inner, np.array([0, 0, 1.0]), -angle)


def other_sign(points, inner, outer, side, angle):
    """Onto the other edge, by the same angle."""
    return tilted(points, inner, outer, side, -angle)


def onto_the_other_edge(points, inner, outer, side, angle):
    """The right turn about the edge that rises."""
    return tilted(points, outer, inner, side, angle)


def turned_round(points, inner, outer, side, angle):
    """The right edge, turned the other way."""
    out = 1.0 if side == "left" else -1.0
    return turn_points(points, outer if angle > 0 else inner, np.array([0, 0, 1.0]), out * angle)


def always_outer(points, inner, outer, side, angle):
    """The outer edge for either sign."""
    out = 1.0 if side == "left" else -1.0
    return turn_points(points, outer, np.array([0, 0, 1.0]), -out * angle)


def about_the_middle(points, inner, outer, side, angle):
    """The middle of the sole for a pivot."""
    out = 1.0 if side == "left" else -1.0
    return turn_points(points, (inner + outer) / 2, np.array([0, 0, 1.0]), -out * angle)


def size_only(points, inner, outer, side, angle):
    """The size of the angle: the inner edge turns outward as well."""
    out = 1.0 if side == "left" else -1.0
    return turn_points(points, outer if angle > 0 else inner, np.array([0, 0, 1.0]), -out * abs(angle))


def about_x(points, inner, outer, side, angle):
    """A roll for a tilt."""
    out = 1.0 if side == "left" else -1.0
    return turn_points(points, outer if angle > 0 else inner, np.array([1.0, 0, 0]), -out * angle)


def made_radians_again(points, inner, outer, side, angle):
    """The angle is turned into radians once more."""
    return tilted(points, inner, outer, side, np.radians(angle))


MISTAKES = (
    Mistake(
        "same sign on both",
        same_sign,
        "the right foot turns like the left one: x is outward on the left foot and inward on the right, so the sign differs",
        ("above", "turned"),
        WAY,
    ),
    Mistake(
        "tilted the other way",
        other_sign,
        "it tilts onto the other edge: above zero it stands on the outer one, below on the inner one",
        ("edge", "turned"),
        WAY,
    ),
    Mistake(
        "on the other edge",
        onto_the_other_edge,
        "it turns about the edge that should rise, so the other one goes under the floor",
        ("above", "edge"),
        EDGE,
    ),
    Mistake(
        "turned round",
        turned_round,
        "the edge is right, the turn has the wrong sign: the rest of the sole goes under the floor",
        ("above", "turned"),
        WAY,
    ),
    Mistake(
        "always the outer edge",
        always_outer,
        "the outer edge is the pivot for both signs; below zero it is the inner one",
        ("above", "edge"),
        EDGE,
    ),
    Mistake(
        "about the middle",
        about_the_middle,
        "it turns about the middle of the sole: half of it goes under the floor",
        ("above", "edge"),
        EDGE,
    ),
    Mistake(
        "size only",
        size_only,
        "the angle has lost its sign: below zero the sole tilts outward about its inner edge",
        ("above", "turned"),
        WAY,
    ),
    Mistake("about x", about_x, "it turns about x: that is a roll. A tilt turns about the foot's length, z", ("above", "turned"), AXIS),
    Mistake(
        "radians twice",
        made_radians_again,
        "the angle is in radians already; it was turned into radians once more",
        ("turned",),
        "the convention strip",
    ),
)

CHECKPOINT = Checkpoint(
    id="07.4",
    title="Tilt to either edge",
    kind="function",
    names={"tilted": forms.array(None, 3)},
    claims=(
        Claim("above", "tilted either way, nothing is under the floor", 2, above, "0.1 mm", look_at=EDGE, applies=tilts),
        Claim("edge", "the pivot of the edge it stands on stays", 1, edge_stays, "1e-6 m", look_at=EDGE, applies=tilts),
        Claim("turned", "turned by the angle, onto the right edge, on both feet", 1, as_asked, "1e-5 rad", look_at=WAY, applies=tilts),
        Claim("still", "no tilt: nothing moves", 1, unmoved, "1e-6 m", look_at=EDGE, applies=still),
    ),
    worked=tilted,
    mistakes=MISTAKES,
    hint="One turn_points call is enough: which pivot, which axis, which sign?\n"
    "Pivot: outer for an angle above zero, else inner. Axis: the foot's length, (0, 0, 1).\n"
    "Sign: put your right thumb along z, to the toes. The fingers lift what is at positive x: the left foot's outer edge. "
    "Outward it must go down, so -angle on the left foot, and +angle on the right.",
    cases=cases,
    closed=BOOK,
    show=show_tilt,
)
