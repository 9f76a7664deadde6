"""Checkpoint 07.6: a whole step on the right foot. Nothing slides, nothing goes under, and the ankle is where the stack ends.

Measured as an animator would see it, with no stored answer: what touches the floor
in two frames running must not have moved, the lowest point is on the floor, both
halves keep their shape, and the ankle moves as one with the heel part. A twentieth of
a pixel at Tally's size in a picture is about 0.1 mm. (Reasoned, no source.)
"""

from itertools import pairwise

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_07_roll import shares
from rigkit.course.chapters.chapter_07_show import show_contact
from rigkit.course.chapters.chapter_07_sole import BOOK, CLOSE, FLOOR, X, Y, Z, about, foot_of, rigid, stood
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

ORDER = ("swivel", "edges", "heel", "toe", "ball")
TURN, SHAPE = 0.1, 1e-5  # degrees, metres
WHOLE, WORLD, ANKLE, FLAT = "idea 3, the whole foot", "idea 3, back to the world", "idea 3, the ankle", "idea 3, contact"


def steps(rng, turn_over):
    """The frames of the step, (F, 3) degrees: roll, tilt, swivel. Heel strike, flat, onto either edge and back, heel up, toe off."""
    swivel = float(rng.integers(6, 15))
    rows = [
        (-rng.integers(16, 26), 0),
        (-rng.integers(5, 10), 0),
        (0, 0),
        (0, rng.integers(8, 15)),
        (0, 0),
        (0, -rng.integers(6, 12)),
        (0, 0),
        (rng.integers(10, 20), 0),
        (turn_over, 0),
        (turn_over + rng.integers(8, 14), 0),
        (turn_over + rng.integers(20, 30), 0),
    ]
    return np.array([(roll, tilt, swivel) for roll, tilt in rows], float)


def played(context):
    """(the right Foot, steps in radians, turn-over angle in radians)."""
    return (
        foot_of(context.robot, "right"),
        np.radians(np.asarray(context.given["steps"], float)),
        np.radians(float(context.given["turn_over"])),
    )


def named(context, frame):
    """A frame in words."""
    roll, tilt, swivel = np.asarray(context.given["steps"], float)[frame]
    return f"frame {frame} (roll {roll:.0f}, tilt {tilt:.0f}, swivel {swivel:.0f} degrees)"


def shaped(answer, context):
    """None, or a Measure that says which shape came."""
    one, rows, _ = played(context)
    for name, expected in (("soles", (len(rows), len(one.sole), 3)), ("ankles", (len(rows), 3))):
        if name in answer and answer[name].shape != expected:
            return Measure(False, f"{name} of shape {expected}", f"shape {answer[name].shape}", 9.0)
    return None


def parts(one):
    """The two halves of a sole, (name, which of its points)."""
    return (("heel part", one.behind), ("toe part", ~one.behind))


# ---- the claims ------------------------------------------------------------------------------------------------


def shapes_kept(case, answer, context):
    """Each half keeps its shape in every frame, and they meet at the fold."""
    wrong = shaped(answer, context)
    if wrong:
        return wrong
    one, _, _ = played(context)
    rest, fold = one.world(one.sole), one.world(one.pivots["ball"] + np.outer([-0.02, 0.02], X))
    worst, told = 0.0, ""
    for frame, sole in enumerate(answer["soles"]):
        ends = []
        for name, which in parts(one):
            turn, move = rigid(rest[which], sole[which])
            off = float(np.linalg.norm(rest[which] @ turn.T + move - sole[which], axis=1).max())
            ends.append(fold @ turn.T + move)
            if off > worst:
                worst, told = off, f"{named(context, frame)}: the {name} is bent or stretched, by up to {told_length(off)}"
        apart = float(np.linalg.norm(ends[0] - ends[1], axis=1).max())
        if apart > max(worst, FLOOR):
            worst, told = apart, f"{named(context, frame)}: the halves are {told_length(apart)} apart at the fold"
    return Measure(worst <= 2 * FLOOR, "both halves as they were, together at the fold", told or "so it is", worst)


def turned_as_asked(case, answer, context):
    """Each half turned by what the channels say."""
    wrong = shaped(answer, context)
    if wrong:
        return wrong
    one, rows, turn_over = played(context)
    rest, worst, told = one.world(one.sole), 0.0, ""
    for frame, (sole, (roll, tilt, swivel)) in enumerate(zip(answer["soles"], rows)):
        heel, ball, toe = shares(roll, turn_over)
        carried = about(Y, one.out * swivel) @ about(Z, -one.out * tilt)
        for (name, which), angle in zip(parts(one), (heel + ball + toe, heel + toe)):
            right = one.axes @ carried @ about(X, angle) @ one.axes.T
            turn, _ = rigid(rest[which], sole[which])
            off = float(np.degrees(np.arccos(np.clip((np.trace(turn @ right.T) - 1) / 2, -1, 1))))
            if off > worst:
                worst, told = off, f"{named(context, frame)}: the {name} is {off:.3g} degrees off"
    return Measure(worst <= TURN, "each half turned as roll, tilt and swivel say", told or "so it is", worst)


def on_the_floor(case, answer, context):
    """Nothing under the floor, and something on it."""
    wrong = shaped(answer, context)
    if wrong:
        return wrong
    lowest = answer["soles"][:, :, 1].min(axis=1)
    frame = int(np.abs(lowest).argmax())
    low = float(lowest[frame])
    told = f"{named(context, frame)}: its lowest point is {told_length(abs(low))} {'under' if low < 0 else 'above'} the floor   (tolerance 0.1 mm)"
    return Measure(abs(low) <= FLOOR, "in each frame the lowest point is on the floor", told, abs(low))


def nothing_slides(case, answer, context):
    """What touches in two frames running has not moved in between."""
    wrong = shaped(answer, context)
    if wrong:
        return wrong
    soles, worst, told, touched = answer["soles"], 0.0, "", 0
    for frame, (before, after) in enumerate(pairwise(soles)):
        down = (np.abs(before[:, 1]) <= FLOOR) & (np.abs(after[:, 1]) <= FLOOR)
        touched += int(down.any())
        moved = float(np.linalg.norm((after - before)[down][:, [0, 2]], axis=1).max()) if down.any() else 0.0
        if moved > worst:
            worst, told = (
                moved,
                f"from frame {frame} to {frame + 1} what stands on the floor slides by {told_length(moved)}   (tolerance 0.1 mm)",
            )
    if touched < len(soles) - 2:  # from edge to edge nothing need stay
        return Measure(
            False,
            "in each frame something stands where it stood",
            f"only {touched} of {len(soles) - 1} steps keep a point on the floor",
            9.0,
        )
    return Measure(worst <= FLOOR, "what touches the floor in two frames running stays where it is", told or "so it is", worst)


def ankle_carried(case, answer, context):
    """The ankle moves as one with the heel part of the same answer."""
    wrong = shaped(answer, context)
    if wrong:
        return wrong
    one, _, _ = played(context)
    rest, ankle = one.world(one.sole)[one.behind], one.world(one.ankle)
    worst, told = -1.0, ""
    for frame, (sole, got) in enumerate(zip(answer["soles"], answer["ankles"])):
        turn, move = rigid(rest, sole[one.behind])
        gap = float(np.linalg.norm(turn @ ankle + move - got))
        if gap > worst:
            worst, told = gap, f"{named(context, frame)}: the ankle is {told_length(gap)} from there   (tolerance 1e-6 m)"
    return Measure(worst <= CLOSE, "the ankle where the heel part carries it, in each frame", told, worst)


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def answer(
    order=ORDER,
    share=shares,
    pivots=lambda one: one.pivots,
    side="right",
    frames=lambda rows: rows,
    ankle_behind=True,
    place=lambda one, points: one.world(points),
):
    """The answer of 07.6 as a function of the context; the defaults are right.

    pivots(one) are used in place of its own; side: whose outward; frames(rows): the rows of the step; place: own frame to the world.
    """

    def answer_of(context):
        one, rows, turn_over = played(context)
        used = one._replace(pivots=pivots(one), side=side)
        points, behind = np.vstack([one.sole, one.ankle]), np.append(one.behind, ankle_behind)
        soles, ankles = [], []
        for roll, tilt, swivel in frames(rows):
            now = place(one, stood(used, points, behind, order, share(roll, turn_over), tilt, swivel))
            soles.append(now[:-1])
            ankles.append(now[-1])
        return {"soles": np.array(soles), "ankles": np.array(ankles)}

    return answer_of


def ankle_left_behind(context):
    """The ankle at rest in every frame."""
    good = answer()(context)
    one, rows, _ = played(context)
    return {**good, "ankles": np.tile(one.world(one.ankle), (len(rows), 1))}


def swapped_edges(one):
    """Inner and outer exchanged."""
    return {**one.pivots, "inner": one.pivots["outer"], "outer": one.pivots["inner"]}


def ball_on_the_floor(one):
    """The ball pivot under its joint."""
    return {**one.pivots, "ball": one.pivots["ball"] * [1, 0, 1]}


def toe_too_short(one):
    """The toe pivot 10 mm behind the end of the sole."""
    return {**one.pivots, "toe": one.pivots["toe"] - [0, 0, 0.01]}


def heel_round(roll, turn_over):
    """The heel's share without its sign."""
    return -min(roll, 0.0), min(max(roll, 0.0), turn_over), max(roll - turn_over, 0.0)


def fades(roll, turn_over):
    """The ball fades out past the turn-over angle."""
    ball = max(0.0, min(max(roll, 0.0), turn_over) - max(roll - turn_over, 0.0))
    return min(roll, 0.0), ball, max(roll, 0.0) - ball


def ankle_in_its_own_frame(context):
    """The ankles without the way back to the world."""
    good = answer()(context)
    one, _, _ = played(context)
    return {**good, "ankles": one.own(good["ankles"])}


MISTAKES = (
    Mistake(
        "left foot's step",
        answer(side="left", pivots=swapped_edges),
        "this is a left foot's step: its pivots, its outward. The right foot tilts and swivels the other way",
        ("turned",),
        "idea 3, which way",
    ),
    Mistake(
        "ankle in its own frame",
        ankle_in_its_own_frame,
        "the ankle is still in the foot's own frame; it goes back to the world as the sole does",
        ("ankle",),
        WORLD,
    ),
    Mistake(
        "left foot's outward",
        answer(side="left"),
        "tilt and swivel have the left foot's signs: outward is the other way on the right foot",
        ("turned",),
        "idea 3, which way",
    ),
    Mistake(
        "edges not swapped",
        answer(pivots=swapped_edges),
        "inner and outer edge are exchanged: the foot tilts about the edge that should rise",
        ("floor",),
        "idea 1, the other foot",
    ),
    Mistake(
        "swivel innermost",
        answer(("edges", "heel", "toe", "ball", "swivel")),
        "the swivel was done first, inside all others: it is the outermost turn and is done last",
        ("floor",),
        "idea 2, why the swivel is outermost",
    ),
    Mistake(
        "own frame",
        answer(place=lambda one, points: points),
        "these are places in the foot's own frame; the world's are asked for",
        ("turned",),
        WORLD,
    ),
    Mistake(
        "turned as the world",
        answer(place=lambda one, points: one.place + points),
        "the foot's place was added, its turn left out: place + points @ axes.T",
        ("turned",),
        WORLD,
    ),
    Mistake(
        "not turned back",
        answer(place=lambda one, points: one.place + points @ one.axes),
        "points @ axes goes into the own frame; out of it is points @ axes.T",
        ("turned",),
        WORLD,
    ),
    Mistake(
        "degrees",
        answer(frames=lambda rows: np.degrees(rows)),
        "the steps are in degrees; the turns take radians",
        ("turned",),
        "the convention strip",
    ),
    Mistake(
        "heel turned round",
        answer(share=heel_round),
        "the heel turns the wrong way at the strike: the toes go under the floor",
        ("turned", "floor"),
        "idea 3, heel",
    ),
    Mistake(
        "ball fades out",
        answer(share=fades),
        "the ball lets go of its angle past the turn-over: the toe turns twice as fast and the fold closes",
        ("turned",),
        "idea 3, past the turn-over angle",
    ),
    Mistake(
        "ball on the floor",
        answer(pivots=ball_on_the_floor),
        "the ball pivot lies on the floor, not at the ball joint: the halves come apart at their fold",
        ("shape",),
        "idea 1, step 4",
    ),
    Mistake(
        "toe too short",
        answer(pivots=toe_too_short),
        "the toe pivot is 10 mm behind the end of the sole, and the tip goes under the floor",
        ("floor",),
        "idea 1, step 4",
    ),
    Mistake(
        "ankle left behind",
        ankle_left_behind,
        "the ankle stays at rest; it is the end of the stack and moves with the heel part",
        ("ankle",),
        ANKLE,
    ),
    Mistake(
        "ankle on the toes",
        answer(ankle_behind=False),
        "the ankle goes with the toe part; it is behind the ball, so the ball's turn carries it too",
        ("ankle",),
        ANKLE,
    ),
)

CHECKPOINT = Checkpoint(
    id="07.6",
    title="A step that stays on the floor",
    kind="value",
    names={"soles": forms.array(None, None, 3), "ankles": forms.array(None, 3)},
    claims=(
        Claim("shape", "soles: both halves keep their shape, and meet at the fold", 1, shapes_kept, "0.2 mm", ("soles",), WHOLE),
        Claim("turned", "soles: turned as roll, tilt and swivel say", 2, turned_as_asked, "0.1 degree", ("soles",), WHOLE),
        Claim("floor", "soles: the lowest point is on the floor, nothing under it", 2, on_the_floor, "0.1 mm", ("soles",), FLAT),
        Claim("slide", "soles: what touches the floor does not slide", 1, nothing_slides, "0.1 mm", ("soles",), FLAT),
        Claim("ankle", "ankles: on the end of the stack", 2, ankle_carried, "1e-6 m", (), ANKLE),
    ),
    worked=answer(),
    mistakes=MISTAKES,
    hint='One row of steps at a time: roll, tilt and swivel into radians, then carried(...) with right_pivots and "right".\n'
    "Put the ankle under the sole's points, as one more row: np.vstack([right_sole, right_ankle]). It comes back as the last one.\n"
    "Then back to the world: right_place + points @ right_axes.T. Collect frame by frame in two lists.",
    closed=BOOK,
    show=show_contact,
)
