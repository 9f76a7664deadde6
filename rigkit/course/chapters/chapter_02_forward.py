"""Checkpoint 02.2: forward kinematics, from local turns and offsets to frames and places in the world.

A joint's frame is its parent's frame times its own turn; its place is its
parent's place plus its offset, turned by the parent's frame. So one pass from
the root outwards reaches them all (Craig, Introduction to Robotics, ch. 3;
Lynch & Park, Modern Robotics, ch. 4 (both memory)).
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_02_figure import (
    ARM,
    ARM_PARENTS,
    CLOSE,
    CLOSED,
    LEG_PARENTS,
    PARENTS,
    apart,
    bushy,
    by_hand,
    chain_case,
    degrees,
    not_a_turn,
    places,
    posed,
    random_turn,
    seen_from_parents,
    standing,
    turn,
    two_roots,
)  # fmt: skip
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.words import point, told_length

LEG = (0, 5, 6, 7, 8, 9)


def cases(rng, context):
    """Numbers a hand can check, Tally's arm and leg at rest and posed, straight and folded, mirrored, bushy, with several roots."""
    arm, leg = posed(context, ARM, rng), posed(context, LEG, rng)
    its_frames, its_places = context.given["frames"], places(context.robot)
    at_rest = seen_from_parents(ARM_PARENTS, its_frames[list(ARM)], its_places[list(ARM)])
    mirrored = [offset * [-1, 1, 1] for offset in arm[2]]
    whole = seen_from_parents(PARENTS, its_frames, its_places)
    bends = rng.integers(20, 70, 2)
    return [
        chain_case("bars of 4 and 3, bent by 90 and -90 degrees", *by_hand((0, 90, -90))),
        chain_case(f"bars of 4 and 3, bent by {bends[0]} and {bends[1]} degrees", *by_hand((bends[0], bends[1], 0))),
        chain_case("left arm at rest", ARM_PARENTS, *at_rest),
        chain_case("left arm, posed", *arm),
        chain_case("left leg, posed", LEG_PARENTS, *leg[1:]),
        chain_case("right arm, posed", ARM_PARENTS, arm[1], mirrored),
        chain_case("straight, nothing turned", [-1, 0, 1, 2], [np.eye(3)] * 4, [[0, 0, 0], *rng.uniform(0.1, 0.3, (3, 3))]),
        chain_case("folded by half turns", [-1, 0, 1, 2], [np.eye(3), *[turn([0, 0, 1], 180)] * 3], [[0, 0, 0], *[[0.3, 0, 0]] * 3]),
        chain_case("Tally's ten joints at rest", PARENTS, *whole),
        chain_case("Tally's ten joints, posed", *posed(context, range(10), rng)),
        chain_case("a bushy tree", *bushy(rng)),
        chain_case("one joint alone, turned and moved", [-1], [random_turn(rng)], rng.uniform(0.1, 0.4, (1, 3))),
        chain_case("two chains in one list", *two_roots(rng)),
        chain_case("a chain whose root is turned and moved", *_moved(arm, rng)),
    ]


def _moved(chain, rng):
    parents, turns, offsets = chain
    return parents, [random_turn(rng), *turns[1:]], [rng.uniform(0.3, 0.6, 3), *offsets[1:]]


# ---- what kind of case -------------------------------------------------------------------------------------------


def is_chain(case):
    """One joint after the other, on a root that is not turned."""
    parents = case.inputs["parents"]
    return parents == list(range(-1, len(parents) - 1)) and np.allclose(case.inputs["turns"][0], np.eye(3))


def is_tree(case):
    """Some joint carries several others."""
    parents = [p for p in case.inputs["parents"] if p >= 0]
    return len(set(parents)) < len(parents)


def is_rooted(case):
    """A root that is turned, or several roots."""
    parents, turns = case.inputs["parents"], case.inputs["turns"]
    return parents.count(-1) > 1 or not np.allclose(turns[0], np.eye(3))


# ---- measures ----------------------------------------------------------------------------------------------------


def expected(case):
    """World frames and places of a case."""
    return standing(*case.inputs.values())


def count_differs(case, answer):
    """A Measure where the answer has another number of joints, else None."""
    count, came = len(case.inputs["parents"]), (len(answer[0]), len(answer[1]))
    if came == (count, count):
        return None
    return Measure(False, f"{count} frames and {count} places, one a joint", f"{came[0]} frames and {came[1]} places", np.inf)


def lengths_kept(case, answer, context):
    """Each joint is as far from its parent as its offset is long."""
    wrong = count_differs(case, answer)
    if wrong:
        return wrong
    place, offsets = answer[1], case.inputs["offsets"]
    worst, off, told = 0, 0.0, ""
    for joint, parent in enumerate(case.inputs["parents"]):
        if parent >= 0:
            got, long = float(np.linalg.norm(place[joint] - place[parent])), float(np.linalg.norm(offsets[joint]))
            if abs(got - long) >= off:
                worst, off, told = joint, abs(got - long), f"it is {got:.4f} away; the offset is {long:.4f} long"
    return Measure(off <= CLOSE, f"joint {worst} as far from its parent as its offset is long", f"{told}   (tolerance 1e-6 m)", off)


def places_right(case, answer, context):
    """Each joint in its place."""
    wrong = count_differs(case, answer)
    if wrong:
        return wrong
    target = expected(case)[1]
    off = np.linalg.norm(answer[1] - target, axis=1)
    joint = _first_off(off)
    return Measure(
        off.max() <= CLOSE,
        f"joint {joint} at {point(target[joint], 4)}",
        f"joint {joint} at {point(answer[1][joint], 4)}, {told_length(float(off[joint]))} off   (tolerance 1e-6 m)",
        float(off.max()),
    )


def frames_right(case, answer, context):
    """Each joint turned by all turns from the root down to it."""
    wrong = count_differs(case, answer)
    if wrong:
        return wrong
    target = expected(case)[0]
    off = np.array([apart(got, frame) for got, frame in zip(answer[0], target)])
    joint = _first_off(off)
    said = degrees(off[joint]) + " away" if not_a_turn(answer[0][joint]) <= CLOSE else "no turn: its axes are not square and of length 1"
    return Measure(
        off.max() <= CLOSE,
        f"joint {joint}'s frame turned by all turns down to it",
        f"joint {joint}: {said}   (tolerance 1e-6 rad)",
        float(off.max()),
    )


def _first_off(off):
    """The first joint that is off, from which an error runs down; else the one that is off the most."""
    return int(np.argmax(off > CLOSE)) if (off > CLOSE).any() else int(off.argmax())


def all_right(case, answer, context):
    """Frames and places both."""
    placed, framed = places_right(case, answer, context), frames_right(case, answer, context)
    return placed if not placed.ok else framed


# ---- the worked answer and the planned mistakes --------------------------------------------------------------------


def forward(parents, turns, offsets):
    """The worked answer."""
    frames, places = [], []
    for joint, parent in enumerate(parents):
        if parent < 0:
            frames.append(turns[joint])
            places.append(offsets[joint])
        else:
            frames.append(frames[parent] @ turns[joint])
            places.append(places[parent] + frames[parent] @ offsets[joint])
    return np.array(frames), np.array(places)


def pass_over(
    *,
    root=lambda joint, parent: parent < 0,
    first=lambda turn, offset: (turn, offset),
    above=lambda joint, parent: parent,
    turned=lambda frame, turn: frame @ turn,
    arm=lambda frame, own, turn, offset: frame @ offset,
    start=lambda place: place,
):
    """Return a pass from the root outwards; the defaults are right, every other choice is one planned mistake."""

    def wrong(parents, turns, offsets):
        frames, places = [], []
        for joint, parent in enumerate(parents):
            if root(joint, parent):
                frame, place = first(turns[joint], offsets[joint])
            else:
                up = above(joint, parent)
                frame = turned(frames[up], turns[joint])
                place = start(places[up]) + arm(frames[up], frame, turns[up], offsets[joint])
            frames.append(frame)
            places.append(place)
        return np.array(frames), np.array(places)

    return wrong


def last_row_of_zeros(parents, turns, offsets):
    """Arrays of zeros, filled from joint 1 on: another root's parent -1 is the last row, still zero."""
    frames, places = np.zeros(np.shape(turns)), np.zeros(np.shape(offsets))
    frames[0], places[0] = turns[0], offsets[0]
    for joint in range(1, len(parents)):
        frames[joint] = frames[parents[joint]] @ turns[joint]
        places[joint] = places[parents[joint]] + frames[parents[joint]] @ offsets[joint]
    return frames, places


MISTAKES = (
    Mistake(
        "child first",
        pass_over(turned=lambda frame, turn: turn @ frame),
        "the joint's own turn stands left of the parent's frame: frames[parent] @ turns[joint]",
        ("chain_places", "chain_frames", "tree"),
        "idea 2, step 1",
    ),
    Mistake(
        "own turn",
        pass_over(arm=lambda frame, own, turn, offset: own @ offset),
        "the offset is turned by the joint's own frame; a joint's turn moves what hangs below it, not itself",
        ("chain_places", "tree"),
        "idea 2, step 2",
    ),
    Mistake(
        "offset not turned",
        pass_over(arm=lambda frame, own, turn, offset: offset),
        "offsets are added up as they are; each must be turned by its parent's frame",
        ("chain_places", "tree", "roots"),
        "idea 2, step 2",
    ),
    Mistake(
        "parent's own turn alone",
        pass_over(arm=lambda frame, own, turn, offset: turn @ offset),
        "the offset is turned by the parent's local turn alone; all turns above count: its frame",
        ("chain_places", "tree"),
        "idea 2, step 2",
    ),
    Mistake(
        "back turned",
        pass_over(arm=lambda frame, own, turn, offset: frame.T @ offset),
        "frame.T (or offset @ frame) goes from the world to the joint; outwards it is frame @ offset",
        ("chain_places", "tree"),
        "idea 1, two ways",
    ),
    Mistake(
        "place not added",
        pass_over(start=lambda place: np.zeros(3)),
        "the parent's place is missing: an offset begins where the parent stands",
        ("lengths", "chain_places", "tree"),
        "idea 2, step 2",
    ),
    Mistake(
        "turns not gathered",
        pass_over(turned=lambda frame, turn: turn),
        "a frame is the local turn alone; it must be put on the parent's frame",
        ("chain_places", "chain_frames", "tree"),
        "idea 2, step 1",
    ),
    Mistake(
        "the joint before",
        pass_over(above=lambda joint, parent: joint - 1),
        "the joint before in the list is taken for the parent; in a tree it is parents[joint]",
        ("tree",),
        "conventions, a list of parents",
    ),
    Mistake(
        "one root only",
        pass_over(root=lambda joint, parent: joint == 0),
        "only joint 0 is taken for a root; another -1 then means row -1, which is the last one so far",
        ("roots",),
        "idea 2, own step",
    ),
    Mistake(
        "a last row of zeros",
        last_row_of_zeros,
        "only joint 0 is taken for a root; another -1 then means row -1, the last one, still all zeros",
        ("roots",),
        "idea 2, own step",
    ),
    Mistake(
        "roots at the origin",
        pass_over(first=lambda turn, offset: (turn, np.zeros(3))),
        "the root stands at the origin; its place is its offset, seen from the world",
        ("chain_places", "tree", "roots"),
        "idea 2, own step",
    ),
    Mistake(
        "root not turned",
        pass_over(first=lambda turn, offset: (np.eye(3), offset)),
        "the root's own turn is left out; its frame is its turn, seen from the world",
        ("roots",),
        "idea 2, own step",
    ),
    Mistake(
        "root turned about the origin",
        pass_over(first=lambda turn, offset: (turn, turn @ offset)),
        "the root's offset is turned by the root's own turn; it is its place in the world as it is",
        ("roots",),
        "idea 2, own step",
    ),
)


def show_forward(viewer, shown, context):
    """The learner's joints and frames over the faint expected ones, for the case the panel tells."""
    viewer.clear()
    viewer.see_through(True)
    viewer.look("perspective")
    case: Case = shown.case
    frames, put = shown.value
    target = expected(case)[1]
    parents = case.inputs["parents"]
    if len(put) != len(parents):
        raise ValueError(f"{len(put)} places came for {len(parents)} joints.")
    viewer.faint(target, parents)
    viewer.joints(np.clip(put, -50, 50), [f"joint_{i}" for i in range(len(put))], parents)
    viewer.focus((target.min(axis=0) + target.max(axis=0)) / 2, 1.6 * float(max(np.ptp(target, axis=0).max(), 0.3)))
    viewer.caption(f"02.2, {case.about}: your joints over a faint copy of the expected ones.")
    off = np.linalg.norm(put - target, axis=1) > CLOSE
    viewer.say(
        f"{len(off) - off.sum()} of {len(off)} joints are in their place"
        + (f"; the first that is not: joint {off.argmax()}" if off.any() else "")
    )


CHECKPOINT = Checkpoint(
    id="02.2",
    title="Forward kinematics",
    kind="function",
    names={"forward": forms.several(forms.array(None, 3, 3), forms.array(None, 3))},
    claims=(
        Claim("lengths", "each joint is as far from its parent as its offset is long", 1, lengths_kept, "1e-6 m", look_at="idea 2, step 2"),
        Claim("chain_places", "a chain: each joint in its place", 2, places_right, "1e-6 m", look_at="idea 2, step 2", applies=is_chain),
        Claim(
            "chain_frames",
            "a chain: each frame turned by all turns from the root down to it",
            1,
            frames_right,
            "1e-6 rad",
            look_at="idea 2, step 1",
            applies=is_chain,
        ),
        Claim(
            "tree",
            "a tree: several joints on one parent",
            2,
            all_right,
            "1e-6 m and rad",
            look_at="conventions, a list of parents",
            applies=is_tree,
        ),
        Claim(
            "roots",
            "roots that are moved and turned, and several in one list",
            1,
            all_right,
            "1e-6 m and rad",
            look_at="idea 2, own step",
            applies=is_rooted,
        ),
    ),
    worked=forward,
    hint="Two lists, frames and places, and one for loop over the joints: for joint, parent in enumerate(parents).\n"
    "A root (parent < 0): append turns[joint] and offsets[joint] as they are.\n"
    "Any other: append frames[parent] @ turns[joint], and places[parent] + frames[parent] @ offsets[joint]. "
    "At the end return np.array(frames), np.array(places).",
    mistakes=MISTAKES,
    cases=cases,
    closed=CLOSED,
    show=show_forward,
)
