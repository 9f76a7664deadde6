"""Checkpoint 07.1: the points a foot turns about, read off its sole, in the foot's own frame, for both feet.

A turn about the farthest point of a sole only lifts the others: at a distance d
from it a point rises by d sin(t). Along the edge it lies on, a pivot may stand
anywhere: the axis is the same. Source: that sine; the ball pivot at the ball joint
is common practice in the trade, no source.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_07_show import show_pivots
from rigkit.course.chapters.chapter_07_sole import BOOK, FLOOR, foot_of, shell
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

NEAR = 1e-4  # metres
FRAME, FARTHEST, STANDS, OTHER = "idea 1, step 1", "idea 1, step 4", "idea 1, step 3", "idea 1, the other foot"
ALONG = {
    "heel": (2, -1),
    "toe": (2, 1),
    "inner": (0, -1),
    "outer": (0, 1),
}  # the axis a pivot is farthest on, and which way on the left foot


def pivots_of(answer, side):
    """The pivots of a side as the learner has them, name to point."""
    return answer[f"{side}_pivots"]


def gap_of(one, name, got):
    """How far a pivot is off what matters, metres, and that gap in words."""
    if name == "ball":
        gap = float(np.linalg.norm(got - one.pivots["ball"]))
        return gap, f"ball is {told_length(gap)} from the ball joint"
    axis, way = ALONG[name]
    way *= one.out if axis == 0 else 1
    short = float(way * (one.pivots[name][axis] - got[axis]))
    if abs(short) > NEAR:
        where = f"{told_length(abs(short))} {'short of' if short > 0 else 'beyond'} the edge"
        under = f"; at 20 degrees the sole goes {told_length(short * np.sin(np.radians(20)))} under" if short > 0 else ""
        return abs(short), f"{name} is {where}{under}"
    if abs(got[1]) > NEAR:
        return abs(float(got[1])), f"{name} is {told_length(abs(got[1]))} {'above' if got[1] > 0 else 'under'} the floor"
    other = 2 - axis
    aside = max(0.0, float(one.sole[:, other].min() - got[other]), float(got[other] - one.sole[:, other].max()))
    return aside, f"{name} is {told_length(aside)} beside the sole"


def placed(side, names, expected):
    """The claim's measure for some pivots of one side."""

    def measure(case, answer, context):
        one, got = foot_of(context.robot, side), pivots_of(answer, side)
        missing = [name for name in names if name not in got]
        if missing:
            return Measure(
                False, expected, f"{side}_pivots has no {missing[0]!r}; it holds {', '.join(map(repr, got)) or 'nothing'}"[:110], 9.0
            )
        gap, told = max((gap_of(one, name, got[name]) for name in names), key=lambda pair: pair[0])
        return Measure(gap <= NEAR, expected, f"{told}   (tolerance 0.1 mm)", gap, cause(one, names, got))

    return measure


def cause(one, names, got):
    """What the places prove."""
    if set(names) >= {"inner", "outer"} and one.out * (got["outer"][0] - got["inner"][0]) < 0:
        return f"inner and outer are swapped: x points to the left, so the {one.side} foot's outer edge is at its {edge_word(one)} x"
    if set(names) >= {"heel", "toe"} and got["heel"][2] > got["toe"][2]:
        return "heel and toe are swapped: z runs to the toes, so the heel has the least z"
    world = max(float(np.linalg.norm(got[name] - one.world(one.pivots[name]))) for name in names)
    if world < 0.002:
        return "these are places in the world; the foot's own frame is asked for"
    if "ball" in names and np.linalg.norm(got["ball"] - one.pivots["ball"] * [1, 0, 1]) < NEAR:
        return "this is the floor under the ball joint; the joint itself is asked for: there the two halves meet"
    gap, told = max(gap_of(one, name, got[name]) for name in names)
    bulge = "beyond the edge" in told and gap < 0.02
    return "beyond the sole there is only the shell, which bulges out above the floor: take what stands on it" if bulge else ""


def edge_word(one):
    """ "greatest" or "least": where the outer edge is on x."""
    return "greatest" if one.out > 0 else "least"


def balls(case, answer, context):
    """Both ball pivots are the ball joints."""
    both = [
        placed(side, ("ball",), f"the {side} ball joint itself, in the {side} foot's own frame")(case, answer, context)
        for side in ("left", "right")
    ]
    return max(both, key=lambda one: one.gap)


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def own_frame(ankle, ball):
    """The foot's own frame: axes (3, 3) in columns, and its place on the floor."""
    ahead = (ball - ankle) * [1, 0, 1]
    z = ahead / np.linalg.norm(ahead)
    y = np.array([0, 1.0, 0])
    return np.column_stack([np.cross(y, z), y, z]), ankle * [1, 0, 1]


def read(points, ball, side, standing=True, swapped=False):
    """The pivots of points (N, 3) and a ball joint, in one frame. standing: only what is on the floor; swapped: edges."""
    sole = points[points[:, 1] <= FLOOR] if standing else points
    outer, inner = (sole[:, 0].max(), sole[:, 0].min()) if (side == "left") != swapped else (sole[:, 0].min(), sole[:, 0].max())
    return {
        "heel": np.array([0, 0, sole[:, 2].min()]),
        "ball": ball,
        "toe": np.array([0, 0, sole[:, 2].max()]),
        "inner": np.array([inner, 0, ball[2]]),
        "outer": np.array([outer, 0, ball[2]]),
    }


def answer(of=read, left=True):
    """The answer of 07.1 as a function of the context. of(points, ball, side): pivots in the own frame; left: whether it is used there too."""

    def answer_of(context):
        found = {}
        for side in ("left", "right"):
            ankle, ball = (context.robot.landmarks[f"{side}_{name}"] for name in ("ankle", "ball"))
            axes, place = own_frame(ankle, ball)
            use = of if left or side == "right" else read
            found[f"{side}_pivots"] = on_its_edge(use((shell(context.robot, side) - place) @ axes, (ball - place) @ axes, side))
        return found

    return answer_of


def on_its_edge(pivots):
    """Copies, for a learner's values are their own."""
    return {name: np.array(point, float) for name, point in pivots.items()}


def but(**changes):
    """A planned mistake: the pivots, some of them changed by functions of (pivots, points)."""

    def of(points, ball, side):
        good = read(points, ball, side)
        return {**good, **{name: change(good, points) for name, change in changes.items()}}

    return answer(of)


def in_the_world(context):
    """The right points, left in the world's frame."""
    own = answer()(context)
    return {
        f"{side}_pivots": {name: foot_of(context.robot, side).world(point) for name, point in own[f"{side}_pivots"].items()}
        for side in ("left", "right")
    }


def farthest_in_the_world(context):
    """The farthest points of the sole along the world's axes, seen from the foot's place."""
    found = {}
    for side in ("left", "right"):
        ankle, ball = (context.robot.landmarks[f"{side}_{name}"] for name in ("ankle", "ball"))
        place = ankle * [1, 0, 1]
        found[f"{side}_pivots"] = on_its_edge(read(shell(context.robot, side) - place, ball - place, side))
    return found


def toe_at_the_joint(context):
    """The toe_end joint for the toe pivot."""
    own = answer()(context)
    for side in ("left", "right"):
        one = foot_of(context.robot, side)
        own[f"{side}_pivots"]["toe"] = one.own(context.robot.landmarks[f"{side}_toe_end"])
    return own


MISTAKES = (
    Mistake(
        "edges not swapped",
        answer(lambda points, ball, side: read(points, ball, side, swapped=side == "right")),
        "the right foot has the left one's edges: its outer edge is at its least x, for x points to the character's left",
        ("right",),
        OTHER,
    ),
    Mistake(
        "edges swapped",
        answer(lambda points, ball, side: read(points, ball, side, swapped=True)),
        "inner and outer are swapped: x points to the character's left, and that is outward for the left foot",
        ("edges", "right"),
        FARTHEST,
    ),
    Mistake(
        "left in the world",
        in_the_world,
        "these are places in the world; the foot's own frame is asked for",
        ("ends", "edges", "ball", "right"),
        FRAME,
    ),
    Mistake(
        "turned as the world",
        farthest_in_the_world,
        "only the place was taken off: the foot is turned outwards, so its z is not the world's",
        ("ends", "ball", "right"),
        FRAME,
    ),
    Mistake(
        "whole shell",
        answer(lambda points, ball, side: read(points, ball, side, standing=False)),
        "the whole shell was taken: it bulges out above the floor, where nothing stands. Only the sole turns on the floor",
        ("ends", "edges", "right"),
        STANDS,
    ),
    Mistake(
        "toe at the joint",
        toe_at_the_joint,
        "the toe_end joint was taken for the toe pivot: it is at the tip of the shell, above the floor",
        ("ends", "right"),
        FARTHEST,
    ),
    Mistake(
        "ball on the floor",
        but(ball=lambda good, points: good["ball"] * [1, 0, 1]),
        "the ball pivot was put on the floor, under the joint: then the two halves of the foot tear apart at their fold",
        ("ball",),
        FARTHEST,
    ),
    Mistake(
        "heel and toe swapped",
        but(heel=lambda good, points: good["toe"], toe=lambda good, points: good["heel"]),
        "heel and toe are swapped: z runs to the toes, so the heel has the least z",
        ("ends", "right"),
        FARTHEST,
    ),
    Mistake(
        "mean of the sole",
        but(inner=lambda good, points: good["inner"] * [0.5, 1, 1], outer=lambda good, points: good["outer"] * [0.5, 1, 1]),
        "the edges lie half way out: a pivot is the farthest point of the sole on its side",
        ("edges", "right"),
        FARTHEST,
    ),
)

CHECKPOINT = Checkpoint(
    id="07.1",
    title="Pivots from the sole",
    kind="value",
    names={"left_pivots": forms.mapping(forms.point()), "right_pivots": forms.mapping(forms.point())},
    claims=(
        Claim(
            "ends",
            "left heel and toe: the ends of the sole, on the floor",
            1,
            placed("left", ("heel", "toe"), "the rearmost and the foremost line of the left sole, on the floor"),
            "0.1 mm",
            ("left_pivots",),
            FARTHEST,
        ),
        Claim(
            "edges",
            "left inner and outer: its edges, on the floor",
            1,
            placed("left", ("inner", "outer"), "the innermost and the outermost line of the left sole, on the floor"),
            "0.1 mm",
            ("left_pivots",),
            FARTHEST,
        ),
        Claim("ball", "both balls: the ball joints themselves", 1, balls, "0.1 mm", (), FARTHEST),
        Claim(
            "right",
            "right heel, toe, inner and outer, its edges where they belong",
            2,
            placed("right", ("heel", "toe", "inner", "outer"), "the ends and edges of the right sole, on the floor"),
            "0.1 mm",
            ("right_pivots",),
            OTHER,
        ),
    ),
    worked=answer(),
    mistakes=MISTAKES,
    hint="For each foot its own frame first, then all points into it: (points - place) @ axes, the ball joint too.\n"
    "Only the points at height 0 stand on the floor: points[points[:, 1] < 0.0001].\n"
    "Heel: least z. Toe: greatest z. Outer of the left foot: greatest x; of the right foot: least x. y is 0; "
    "along its edge a pivot may be anywhere.",
    closed=BOOK,
    show=show_pivots,
)
