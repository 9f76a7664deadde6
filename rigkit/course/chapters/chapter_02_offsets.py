"""Checkpoint 02.1: each of ten joints as its parent sees it, at rest.

The columns of a frame are the joint's axes in the world; the axes are square to
each other and of length 1, so the dot product with each gives the number along
it: frame.T @ (end - start). The places are the learner's own of chapter 01, which
lie within 0.1 mm of the true ones each, so an offset is compared within 0.5 mm.
Source: change of basis between orthonormal frames, any textbook of linear algebra.
"""

from functools import partial

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_02_figure import (
    CLOSED,
    JOINTS,
    PARENTS,
    apart,
    degrees,
    not_a_turn,
    places,
    seen_from_parents,
)  # fmt: skip
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import point, told_length

NEAR = 5e-4  # metres: twice what two snapped joints may add up to
SAME_WAY = np.radians(0.1)
ON_THE_BODY = tuple(joint for joint, parent in enumerate(PARENTS) if parent <= 0)  # the body itself, shoulder, hip
BELOW = tuple(joint for joint, parent in enumerate(PARENTS) if parent > 0)


def right(context):
    """The right rest turns and offsets, of the true joints."""
    return seen_from_parents(PARENTS, context.given["frames"], places(context.robot))


# ---- wrong ways, each once as a planned mistake and once as a cause that a measure proves -----------------------------


def world_offsets(above, own, start, end):
    """The offset as the world sees it."""
    return end - start


def other_way(above, own, start, end):
    """From the parent's frame to the world in place of back."""
    return above @ (end - start)


def own_frame(above, own, start, end):
    """Seen from the joint itself."""
    return own.T @ (end - start)


def start_kept(above, own, start, end):
    """The parent's place is not taken off."""
    return above.T @ end


def backwards(above, own, start, end):
    """From the joint to its parent."""
    return above.T @ (start - end)


def turn_in_world(above, own):
    """The joint's frame itself."""
    return own


def turn_swapped(above, own):
    """The order of the two swapped."""
    return own @ above.T


def turn_back(above, own):
    """The parent as the joint sees it."""
    return own.T @ above


def turn_of_parent(above, own):
    """The parent's frame, not turned back."""
    return above @ own


def rest(context, offset=None, turn=None, above=lambda joint: PARENTS[joint], scale=1.0):
    """The answer of 02.1 with one step done another way; the defaults are right."""
    its_frames, its_places = context.given["frames"], places(context.robot)
    turns, offsets = right(context)
    for joint in range(1, len(PARENTS)):
        parent = its_frames[above(joint)]
        if offset is not None:
            offsets[joint] = offset(parent, its_frames[joint], its_places[above(joint)], its_places[joint])
        if turn is not None:
            turns[joint] = turn(parent, its_frames[joint])
    return {"rest_turns": turns, "offsets": scale * offsets}


def right_offset(above, own, start, end):
    """The offset as the parent sees it."""
    return above.T @ (end - start)


def right_turn(above, own):
    """The turn as the parent sees it."""
    return above.T @ own


def rows_before(context):
    """Each joint seen from the row before it, not from its parent."""
    return rest(context, right_offset, right_turn, above=lambda joint: joint - 1)


def root_without_turn(context):
    """The root's rest turn left at zero."""
    answer = rest(context)
    answer["rest_turns"][0] = 0
    return answer


def root_at_zero(context):
    """The root's row left at zero."""
    answer = rest(context)
    answer["offsets"][0] = 0
    return answer


WORLD = "the world's numbers: right length, but the parent's frame is turned; take frame.T @ (end - start)"
OTHER_WAY = "frame @ v goes from the joint's numbers to the world's; the way back is frame.T @ v"
MISTAKES = (
    Mistake("world offsets", lambda context: rest(context, world_offsets), WORLD, ("directions",), "idea 1, step 3"),
    Mistake("the other way", lambda context: rest(context, other_way), OTHER_WAY, ("directions",), "idea 1, two ways"),
    Mistake(
        "own frame",
        lambda context: rest(context, own_frame),
        "seen from the joint's own frame; an offset is seen from the parent's",
        ("on_the_body", "directions"),
        "idea 1, step 1",
    ),
    Mistake(
        "start not taken off",
        lambda context: rest(context, start_kept),
        "the parent's place was not taken off: an offset runs from the parent to the joint",
        ("on_the_body", "lengths", "directions"),
        "idea 1, step 2",
    ),
    Mistake(
        "backwards",
        lambda context: rest(context, backwards),
        "these run from the joint to its parent: end minus start is joint minus parent",
        ("on_the_body", "directions"),
        "idea 1, step 2",
    ),
    Mistake(
        "the row before",
        rows_before,
        "each joint was seen from the row before it; the hip's parent is the body, row parents[5]",
        ("on_the_body", "lengths", "turns"),
        "conventions, a list of parents",
    ),
    Mistake(
        "root at zero",
        root_at_zero,
        "the root has no parent: its row is its place in the world, not zero",
        ("on_the_body",),
        "idea 1, own step",
    ),
    Mistake(
        "millimetres",
        lambda context: rest(context, scale=1000.0),
        "these are millimetres; lengths here are in metres",
        ("on_the_body", "lengths", "directions"),
        "the convention strip",
    ),
    Mistake(
        "turns in the world",
        lambda context: rest(context, turn=turn_in_world),
        "these are the frames as the world sees them; a rest turn is seen from the parent",
        ("turns",),
        "idea 1, step 4",
    ),
    Mistake(
        "turns swapped",
        lambda context: rest(context, turn=turn_swapped),
        "frame @ parent.T has the two in the wrong order: parent.T comes first",
        ("turns",),
        "idea 1, step 4",
    ),
    Mistake(
        "turns back",
        lambda context: rest(context, turn=turn_back),
        "this is the parent as the joint sees it, the turn back; it is the joint as the parent sees it",
        ("turns",),
        "idea 1, step 4",
    ),
    Mistake(
        "parent not turned back",
        lambda context: rest(context, turn=turn_of_parent),
        "the parent's frame must be turned back: parent.T @ frame",
        ("turns",),
        "idea 1, step 4",
    ),
    Mistake(
        "root without a turn",
        root_without_turn,
        "the root's rest turn is still all zeros: its row keeps its frame, as the world sees it",
        ("turns",),
        "idea 1, own step",
    ),
    Mistake(
        "all in the world",
        lambda context: rest(context, world_offsets, turn_in_world),
        "nothing is seen from a parent here: offsets and turns are the world's",
        ("directions", "turns"),
        "idea 1, step 3",
    ),
)
ROWS = [mistake for mistake in MISTAKES if mistake.name not in ("root at zero", "root without a turn", "all in the world")]


def proved(name, answer, context):
    """The planned mistake that an answer comes near, within what the learner's own joints may be off; "" where none does."""
    limit = NEAR if name == "offsets" else 1e-6
    for mistake in ROWS:
        wrong = mistake.answer(context)[name]
        if np.abs(right(context)[name == "offsets"] - wrong).max() > 2 * limit and np.abs(answer - wrong).max() <= limit:
            return mistake.diagnosis
    return ""


def offset_rows(rows, expected, case, answer, context):
    """Some rows of the offsets, compared with the right ones; told by the farthest."""
    got, target = answer["offsets"], right(context)[1]
    off = np.linalg.norm(got[list(rows)] - target[list(rows)], axis=1)
    worst = rows[int(off.argmax())]
    told = f"{JOINTS[worst]}: {point(got[worst], 4)} m, {told_length(float(off.max()))} off   (tolerance 0.5 mm)"
    return Measure(off.max() <= NEAR, expected, told, float(off.max()), "" if off.max() <= NEAR else proved("offsets", got, context))


def bone_lengths(case, answer, context):
    """Each offset as long as its bone, whatever the frame."""
    got, bones = (np.linalg.norm(found[1:], axis=1) for found in (answer["offsets"], right(context)[1]))
    off = np.abs(got - bones)
    i = int(off.argmax())
    return Measure(
        off[i] <= NEAR,
        f"the {JOINTS[i + 1]} is {bones[i]:.4f} m from its parent",
        f"its offset is {got[i]:.4g} m long   (tolerance 0.5 mm)",
        float(off[i]),
        "" if off[i] <= NEAR else proved("offsets", answer["offsets"], context),
    )


def rest_turns(case, answer, context):
    """The parent's frame times the rest turn is the joint's own frame."""
    its_frames, turns = context.given["frames"], answer["rest_turns"]
    above = [np.eye(3) if parent < 0 else its_frames[parent] for parent in PARENTS]
    off = [apart(frame @ turn, its_frame) for frame, turn, its_frame in zip(above, turns, its_frames)]
    broken = [not_a_turn(turn) > SAME_WAY for turn in turns]
    i = broken.index(True) if any(broken) else int(np.argmax(off))
    said = "no turn: its axes are not square and of length 1" if broken[i] else f"{degrees(off[i])} away from its frame"
    return Measure(
        off[i] <= SAME_WAY,
        "the parent's frame @ the rest turn is the joint's frame",
        f"{JOINTS[i]}: {said}   (tolerance 0.1 degree)",
        off[i],
        "" if off[i] <= SAME_WAY else proved("rest_turns", turns, context),
    )


def show_offsets(viewer, answer, context):
    """The ten joints, each put where its offset takes it from its true parent, over the faint true ones."""
    viewer.clear()
    viewer.see_through(True)
    viewer.look("perspective")
    true, its_frames = places(context.robot), context.given["frames"]
    viewer.faint(true, list(PARENTS))
    if "offsets" in answer:
        put = [answer["offsets"][0], *(true[p] + its_frames[p] @ o for p, o in zip(PARENTS[1:], answer["offsets"][1:]))]
        viewer.joints(np.clip(put, -3, 3), list(JOINTS), list(PARENTS))
        off = np.linalg.norm(put - true, axis=1) > NEAR
        viewer.say(
            f"{len(off) - off.sum()} of {len(off)} joints are in their place"
            + (f"; not: {', '.join(np.array(JOINTS)[off])}" if off.any() else "")
        )
    viewer.focus((true[1] + true[6]) / 2, 1.65)
    viewer.caption("02.1: each joint where your offset puts it, seen from its parent; faint, where it belongs.")


CHECKPOINT = Checkpoint(
    id="02.1",
    title="Ten joints as their parents see them",
    kind="value",
    names={"offsets": forms.array(10, 3), "rest_turns": forms.array(10, 3, 3)},
    claims=(
        Claim(
            "on_the_body",
            "body, shoulder and hip: seen from a frame that stands like the world",
            1,
            partial(offset_rows, ON_THE_BODY, "the root's own place; shoulder and hip from the body"),
            "0.5 mm",
            ("offsets",),
            "idea 1, own step",
            settable=True,
        ),
        Claim("lengths", "each offset is as long as its bone", 1, bone_lengths, "0.5 mm", ("offsets",), "idea 1, step 2", settable=True),
        Claim(
            "directions",
            "each offset below the shoulder and the hip points the right way in the parent's frame",
            2,
            partial(offset_rows, BELOW, "the joint's place as the parent's frame sees it"),
            "0.5 mm",
            ("offsets",),
            "idea 1, step 3",
            settable=True,
        ),
        Claim(
            "turns",
            "each rest turn takes the parent's frame to the joint's",
            2,
            rest_turns,
            "0.1 degree",
            ("rest_turns",),
            "idea 1, step 4",
        ),
    ),
    worked=lambda context: rest(context),
    hint="Go through the rows with a for loop: parent = parents[joint]. Row 0 has no parent; keep its place and its frame.\n"
    "For the others: frames[parent].T @ (places[joint] - places[parent]), and frames[parent].T @ frames[joint].",
    mistakes=MISTAKES,
    closed=CLOSED,
    show=show_offsets,
)
