"""Checkpoint 09.6: change what a hand follows without a jump: the hand's own move takes up the difference."""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_09_frames import (
    BOOK,
    CLOSE,
    between,
    frame,
    frames_measure,
    gap_of,
    rest_frames,
    sizes,
    some_frame,
    spun,
)
from rigkit.course.chapters.chapter_09_show import draw_frames, fresh
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

ARGUMENTS = ("hand", "home", "leader_rest", "leader_now")
BASE, BACK, SIZE = "idea 3, step 1", "idea 3, step 2", "idea 3, size"


def inputs(case):
    """hand, home, leader_rest, leader_now, (4, 4) each."""
    return tuple(np.asarray(case.inputs[name], float) for name in ARGUMENTS)


def stood(case, answer):
    """Where the new leader carries the hand with this own move."""
    _, home, rest, now = inputs(case)
    return now @ np.linalg.inv(rest) @ home @ answer


def is_home(case):
    """Whether the hand stands where the leader carries its home."""
    return case.about.startswith("home")


def is_large(case):
    """Whether the whole rig is larger than modelled."""
    return case.about.startswith("size")


def is_plain(case):
    """Whether it is neither."""
    return not is_home(case) and not is_large(case)


def place_stays(case, answer, context):
    """The hand's place."""
    hand, got = inputs(case)[0], stood(case, answer)
    gap = float(np.linalg.norm(got[:3, 3] - hand[:3, 3]))
    return Measure(
        gap <= CLOSE, "under its new leader the hand stands where it stood", f"it jumps by {told_length(gap)}   (tolerance 1e-6 m)", gap
    )


def turn_stays(case, answer, context):
    """The hand's turn."""
    hand, got = inputs(case)[0], stood(case, answer)
    off, degrees = float(np.abs(got[:3, :3] - hand[:3, :3]).max()), between(got[:3, :3], hand[:3, :3])
    told = f"it turns by {degrees:.3g} degrees" if degrees > 1e-4 else f"its axes are {sizes(got[:3, :3]).mean():.3g} long"
    return Measure(off <= CLOSE, "under its new leader the hand is turned as it was", f"{told}   (tolerance 1e-6)", off)


def zero_at_home(case, answer, context):
    """Nothing to take up: the own move is none."""
    return frames_measure([answer], [np.eye(4)], ["the own move"], "the new leader carries the hand to just where it is: no own move")


def size_one(case, answer, context):
    """A rig twice as large: the hand stays, its own size is one."""
    hand, got = inputs(case)[0], stood(case, answer)
    size, gap = float(sizes(answer[:3, :3]).mean()), gap_of(got, hand)
    told = f"it jumps by {told_length(float(np.linalg.norm(got[:3, 3] - hand[:3, 3])))}, its own size is {size:.3g}"
    return Measure(
        max(gap, abs(size - 1)) <= CLOSE, "the whole rig twice as large: the hand stays, its own size is 1", told, max(gap, abs(size - 1))
    )


def cases(rng, context):
    """Round numbers; Tally's hand to head, body and world; frames at random; a hand at its carried home; a rig twice as large."""
    rest, row = rest_frames(context.robot.skeleton), context.robot.skeleton.index
    body, head, home = (rest[row(name)] for name in ("centre_body_joint", "centre_head_joint", "left_wrist_joint"))
    lean = frame(spun(rng.normal(size=3), rng.uniform(15, 50)), rng.uniform(-0.3, 0.3, 3))
    nod = lean @ head @ frame(spun(rng.normal(size=3), rng.uniform(20, 60)), np.zeros(3))
    hand = frame(spun(rng.normal(size=3), rng.uniform(30, 90)) @ home[:3, :3], home[:3, 3] + rng.uniform(0.05, 0.3, 3))
    large = frame(2 * spun([0, 1, 0], 137), rng.uniform(-0.5, 0.5, 3))
    post = frame(np.eye(3), [0, 1, 0])
    a, b, c, d = (some_frame(rng) for _ in range(4))
    rows = (
        ("a post that has turned by 90 degrees", (frame(np.eye(3), [0.5, 1, 0]), frame(np.eye(3), [0.3, 1, 0]), post, frame(spun([0, 1, 0], 90), [0, 1, 0]))),
        ("Tally's hand from the body to the head", (hand, home, head, nod)),
        ("Tally's hand from the head to the body", (nod @ np.linalg.inv(head) @ home, home, body, lean @ body)),
        ("Tally's hand to the world", (hand, home, np.eye(4), np.eye(4))),
        ("frames at random", (a, b, c, d)),
        ("home: the head as it was at rest, the hand too", (home, home, head, head)),
        ("home: the body leans, and has carried the hand along", (lean @ home, home, body, lean @ body)),
        ("size: the whole rig twice as large, hand to the head", (large @ hand, home, head, large @ nod)),
    )  # fmt: skip
    return [Case(about, dict(zip(ARGUMENTS, values)), tell=("-",)) for about, values in rows]


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def switched(hand, home, leader_rest, leader_now):
    """The worked answer."""
    base = leader_now @ np.linalg.inv(leader_rest) @ home
    return np.linalg.inv(base) @ hand


def nothing_taken_up(hand, home, leader_rest, leader_now):
    """The own move is set to none."""
    return np.eye(4)


def seen_from_leader(hand, home, leader_rest, leader_now):
    """The hand as the leader sees it."""
    return np.linalg.inv(leader_now) @ hand


def seen_from_home(hand, home, leader_rest, leader_now):
    """The leader is left out."""
    return np.linalg.inv(home) @ hand


def rest_left_out(hand, home, leader_rest, leader_now):
    """The leader's rest is left out."""
    return np.linalg.inv(leader_now @ home) @ hand


def turned_round(hand, home, leader_rest, leader_now):
    """The way back."""
    base = leader_now @ np.linalg.inv(leader_rest) @ home
    return np.linalg.inv(hand) @ base


def in_the_world(hand, home, leader_rest, leader_now):
    """What is between the two, in the world's axes."""
    base = leader_now @ np.linalg.inv(leader_rest) @ home
    return hand @ np.linalg.inv(base)


def place_only(hand, home, leader_rest, leader_now):
    """The turn is forgotten."""
    base = leader_now @ np.linalg.inv(leader_rest) @ home
    found = np.eye(4)
    found[:3, 3] = (np.linalg.inv(base) @ hand)[:3, 3]
    return found


def world_offset(hand, home, leader_rest, leader_now):
    """The way between in the world's axes, the turn as it should be."""
    base = leader_now @ np.linalg.inv(leader_rest) @ home
    found = np.linalg.inv(base) @ hand
    found[:3, 3] = hand[:3, 3] - base[:3, 3]
    return found


MISTAKES = (
    Mistake("nothing taken up", nothing_taken_up, "the own move is none: the hand jumps to where its new leader carries its home", ("place", "turn"), BACK),
    Mistake("seen from the leader", seen_from_leader, "this is the hand seen from the leader: seen from where the leader carries its home is asked for", ("zero", "place"), BASE),
    Mistake("seen from home", seen_from_home, "the leader is left out: it has moved since rest, and carries the hand's home along", ("place",), BASE),
    Mistake("rest left out", rest_left_out, "the leader's rest is left out: home is told in the world, so go into the leader's rest frame first", ("zero", "place"), BASE),
    Mistake("turned round", turned_round, "turned round: the inverse belongs to the base, the hand stands behind it", ("place",), BACK),
    Mistake("in the world", in_the_world, "the difference is in the world's axes: an own move stands behind, base @ own = hand, so own = inv(base) @ hand", ("place",), BACK),
    Mistake("place only", place_only, "the turn is forgotten: the hand stays on its place and turns at once", ("turn",), BACK),
    Mistake("world offset", world_offset, "the way from base to hand is in the world's axes: see it from the base", ("place",), BACK),
)  # fmt: skip


def show_switch(viewer, shown, context):
    """The told case: the new leader, and the hand under it with your own move; grey, where it stood."""
    hand, home, _, now = inputs(shown.case)
    fresh(viewer, f"09.6, {shown.case.about}: the hand under its new leader with lettered axes; grey, where it stood.")
    draw_frames(viewer, {"leader now": now, "home": home}, stood(shown.case, shown.value), hand)


CHECKPOINT = Checkpoint(
    id="09.6",
    title="Change what a hand follows",
    kind="function",
    names={"switched": forms.array(4, 4)},
    claims=(
        Claim("place", "the hand stays on its place", 1, place_stays, "1e-6 m", look_at=BACK, applies=is_plain),
        Claim("turn", "the hand stays as it is turned", 1, turn_stays, "1e-6", look_at=BACK, applies=is_plain),
        Claim("zero", "where the new leader brings it anyway: no own move", 1, zero_at_home, "1e-6 m", look_at=BASE, applies=is_home),
        Claim("size", "in a rig twice as large: no jump, own size 1", 1, size_one, "1e-6", look_at=SIZE, applies=is_large),
    ),
    worked=switched,
    hint="Where would the new leader carry the hand's home? That is your function of 09.1: the base.\n"
    "The own move comes behind: base @ own is where the hand stands. Solve that for own.",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_switch,
)
