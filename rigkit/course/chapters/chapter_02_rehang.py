"""Checkpoint 02.5: hang a joint on another parent, and nothing moves.

World frame F and place x of the joint, P and p of the new parent: what the parent
sees is the turn P.T @ F and the offset P.T @ (x - p). The checkpoint's own forward
kinematics puts the joint back, and it must stand where it stood.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_02_figure import (
    CLOSE,
    CLOSED,
    PARENTS,
    apart,
    bushy,
    by_hand,
    chain_case,
    degrees,
    not_a_turn,
    places,
    posed,
    seen_from_parents,
    standing,
    two_roots,
)  # fmt: skip
from rigkit.course.chapters.chapter_02_forward import forward
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import point, told_length


def cases(rng, context):
    """A hand's numbers first, then Tally's joints at rest and posed, up, down and across the tree, to the same parent, and to none."""
    rest = PARENTS, *seen_from_parents(PARENTS, context.given["frames"], places(context.robot))
    pose = posed(context, range(10), rng)
    tree, apart_trees = bushy(rng), two_roots(rng)
    turned = [tree[0], [apart_trees[1][0], *tree[1][1:]], tree[2] + [0.2, 0.1, 0]]
    return [
        case("bars of 4 and 3: joint 2 from joint 1 to joint 0", *by_hand((0, 90, 40)), 2, 0),
        case("at rest: left gripper to the body", *rest, 4, 0),
        case("posed: left gripper to the body", *pose, 4, 0),
        case("posed: left wrist to the left hip", *pose, 3, 5),
        case("posed: left knee to the left gripper", *pose, 6, 4),
        case("posed: left elbow to the left ball, later in the list", *pose, 2, 8),
        case("a bushy tree on a turned root", *turned, 7, 2),
        case("to the parent it has", *pose, 3, 2),
        case("from one root's chain to the other's", *apart_trees, 4, 1),
        case("a root hung on the other root's chain", *apart_trees, 0, 3),
        case("posed: left wrist to nothing", *pose, 3, -1),
        case("a joint of the bushy tree to nothing", *turned, 5, -1),
    ]


def case(about, parents, turns, offsets, joint, new_parent):
    """A Case with the joint and its new parent."""
    return chain_case(about, parents, turns, offsets, joint=joint, new_parent=new_parent)


def on_a_joint(case):
    """Whether the new parent is a joint."""
    return case.inputs["new_parent"] >= 0


def on_nothing(case):
    """Whether the joint becomes a root."""
    return case.inputs["new_parent"] < 0


def before_and_after(case, answer):
    """The joint's world frame and place before, and with the answer under its new parent."""
    parents, turns, offsets, joint, new_parent = case.inputs.values()
    before = standing(parents, turns, offsets)
    moved, turned, shifted = list(parents), np.array(turns), np.array(offsets)
    moved[joint], turned[joint], shifted[joint] = new_parent, *answer
    after = standing(moved, turned, shifted)
    return (before[0][joint], before[1][joint]), (after[0][joint], after[1][joint])


def stays_in_place(case, answer, context):
    """The joint is where it was."""
    (_, before), (_, after) = before_and_after(case, answer)
    off = float(np.linalg.norm(after - before))
    return Measure(
        off <= CLOSE,
        f"the joint stays at {point(before, 4)}",
        f"it jumps to {point(after, 4)}, {told_length(off)} away   (tolerance 1e-6 m)",
        off,
    )


def stays_turned(case, answer, context):
    """The joint is turned as it was."""
    (before, _), (after, _) = before_and_after(case, answer)
    off = apart(after, before)
    said = f"it turns by {degrees(off)}" if not_a_turn(answer[0]) <= CLOSE else "turn is none: its axes are not square and of length 1"
    return Measure(off <= CLOSE, "the joint stays turned as it was", f"{said}   (tolerance 1e-6 rad)", off)


def stays_as_a_root(case, answer, context):
    """Hung on nothing: its frame and place in the world."""
    placed, turned = stays_in_place(case, answer, context), stays_turned(case, answer, context)
    return placed if not placed.ok else turned


# ---- the worked answer and the planned mistakes --------------------------------------------------------------------


def rehang(parents, turns, offsets, joint, new_parent):
    """The worked answer."""
    frames, places = forward(parents, turns, offsets)
    if new_parent < 0:
        return frames[joint], places[joint]
    above = frames[new_parent]
    return above.T @ frames[joint], above.T @ (places[joint] - places[new_parent])


def hung(*, turn=lambda above, own: above.T @ own, offset=lambda above, own, start, end: above.T @ (end - start), roots=True, old=False):
    """Return a re-parenting; the defaults are right, every other choice is one planned mistake."""

    def wrong(parents, turns, offsets, joint, new_parent):
        frames, places = forward(parents, turns, offsets)
        if roots and new_parent < 0:
            return frames[joint], places[joint]
        up = parents[joint] if old and parents[joint] >= 0 else new_parent
        return turn(frames[up], frames[joint]), offset(frames[up], frames[joint], places[up], places[joint])

    return wrong


def kept(parents, turns, offsets, joint, new_parent):
    """The local values as they were."""
    return turns[joint], offsets[joint]


def world_kept(parents, turns, offsets, joint, new_parent):
    """World values for every parent."""
    frames, places = forward(parents, turns, offsets)
    return frames[joint], places[joint]


def seen_from_local(parents, turns, offsets, joint, new_parent):
    """The new parent's local turn in place of its frame in the world."""
    frames, places = forward(parents, turns, offsets)
    if new_parent < 0:
        return frames[joint], places[joint]
    above = turns[new_parent]
    return above.T @ frames[joint], above.T @ (places[joint] - places[new_parent])


def turn_kept(parents, turns, offsets, joint, new_parent):
    """The offset is right, the turn is the old one."""
    return turns[joint], rehang(parents, turns, offsets, joint, new_parent)[1]


MISTAKES = (
    Mistake(
        "kept as they were",
        kept,
        "turn and offset are the old ones: they were seen from the old parent; the new one sees others",
        ("place", "turn", "root"),
        "idea 3, step 3",
    ),
    Mistake(
        "world values",
        world_kept,
        "these are the world's values: right for a root; under a parent they are turned and moved once more",
        ("place", "turn"),
        "idea 3, step 3",
    ),
    Mistake(
        "turn kept",
        turn_kept,
        "the turn is still the one the old parent saw; it changes with the parent as the offset does",
        ("turn", "root"),
        "idea 3, step 3",
    ),
    Mistake(
        "offset not turned",
        hung(offset=lambda above, own, start, end: end - start),
        "the offset is the world's; the new parent sees above.T @ (end - start)",
        ("place",),
        "idea 1, step 3",
    ),
    Mistake(
        "swapped",
        hung(turn=lambda above, own: own @ above.T),
        "own @ above.T has the two in the wrong order: above.T comes first",
        ("turn",),
        "idea 1, step 4",
    ),
    Mistake(
        "not turned back",
        hung(turn=lambda above, own: above @ own, offset=lambda above, own, start, end: above @ (end - start)),
        "above goes from the new parent to the world; the way back is above.T",
        ("place", "turn"),
        "idea 1, two ways",
    ),
    Mistake(
        "parent as the joint sees it",
        hung(turn=lambda above, own: own.T @ above, offset=lambda above, own, start, end: own.T @ (start - end)),
        "this is the new parent as the joint sees it; it is the joint as the parent sees it",
        ("place", "turn"),
        "idea 1, step 3",
    ),
    Mistake(
        "place not taken off",
        hung(offset=lambda above, own, start, end: above.T @ end),
        "the new parent's place was not taken off before turning",
        ("place",),
        "idea 1, step 2",
    ),
    Mistake(
        "local turn of the parent",
        seen_from_local,
        "the new parent's local turn is used; all turns above it count: its frame in the world",
        ("place", "turn"),
        "idea 2, step 1",
    ),
    Mistake(
        "the old parent",
        hung(old=True),
        "seen from the old parent once more; it is the new one that counts",
        ("place", "turn"),
        "idea 3, step 3",
    ),
    Mistake(
        "row -1",
        hung(roots=False),
        "new_parent is -1 for none, and row -1 of an array is its last: a root keeps frame and place of the world",
        ("root",),
        "idea 3, own step",
    ),
)


def show_rehang(viewer, shown, context):
    """The joint before and after, in the tree of the case the panel tells."""
    viewer.clear()
    viewer.see_through(True)
    viewer.look("perspective")
    parents, turns, offsets, joint, new_parent = shown.case.inputs.values()
    put = standing(parents, turns, offsets)[1]
    (_, before), (after_frame, after) = before_and_after(shown.case, shown.value)
    viewer.faint(put, parents)
    after = np.clip(after, -50, 50)
    lines = {"_to its new parent": np.array([put[new_parent], after])} if new_parent >= 0 else {}
    viewer.lines({**lines, "_jump": np.array([before, after])})
    viewer.joints({f"joint_{joint}": after}, parents=[-1])
    if not_a_turn(after_frame) <= CLOSE:
        viewer.frames(after[None], after_frame[None])
    viewer.focus((put.min(axis=0) + put.max(axis=0)) / 2, 1.6 * float(max(np.ptp(put, axis=0).max(), 0.3)))
    viewer.caption(f"02.5, {shown.case.about}: where your values put the joint, in the faint tree as it was.")
    viewer.say(f"joint {joint} moves by {told_length(float(np.linalg.norm(after - before)))}")


CHECKPOINT = Checkpoint(
    id="02.5",
    title="Another parent, and nothing moves",
    kind="function",
    names={"rehang": forms.several(forms.array(3, 3), forms.array(3))},
    claims=(
        Claim(
            "place",
            "hung on another joint: it stays in its place",
            2,
            stays_in_place,
            "1e-6 m",
            look_at="idea 3, step 3",
            applies=on_a_joint,
        ),
        Claim(
            "turn",
            "hung on another joint: it stays turned as it was",
            2,
            stays_turned,
            "1e-6 rad",
            look_at="idea 3, step 3",
            applies=on_a_joint,
        ),
        Claim(
            "root",
            "hung on nothing, a root: it stays as it was",
            1,
            stays_as_a_root,
            "1e-6 m and rad",
            look_at="idea 3, own step",
            applies=on_nothing,
        ),
    ),
    worked=rehang,
    hint="Frames and places in the world first: frames, places = forward(parents, turns, offsets).\n"
    "With above = frames[new_parent]: turn = above.T @ frames[joint], offset = above.T @ (places[joint] - places[new_parent]).\n"
    "For new_parent -1 return frames[joint], places[joint].",
    mistakes=MISTAKES,
    cases=cases,
    closed=CLOSED,
    show=show_rehang,
)
