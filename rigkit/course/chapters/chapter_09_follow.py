"""Checkpoint 09.1: follow without a jump. What is kept is how the driven thing stands as its leader sees it."""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_09_frames import BOOK, CLOSE, between, frame, frames_measure, rest_frames, sizes, some_frame, spun
from rigkit.course.chapters.chapter_09_show import draw_frames, fresh
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.words import point, told_length

ARGUMENTS = ("leader_then", "driven_then", "leader_now")
OFFSET, OUT, LARGE = "idea 1, step 1", "idea 1, step 2", "idea 1, size"


def inputs(case):
    """leader_then, driven_then, leader_now of a case, (4, 4) each."""
    return tuple(np.asarray(case.inputs[name], float) for name in ARGUMENTS)


def is_still(case):
    """Whether the leader has not moved."""
    return case.about.startswith("nothing")


def is_large(case):
    """Whether the leader has grown."""
    return case.about.startswith("size")


def is_moved(case):
    """Whether it has moved and kept its size."""
    return not is_still(case) and not is_large(case)


def stays(case, answer, context):
    """The leader stands still, so does what follows it."""
    return frames_measure([answer], [inputs(case)[1]], ["the driven frame"], "the leader stands where it stood: no jump")


def place_kept(case, answer, context):
    """Its place beside the leader, as the leader sees it."""
    then, driven, now = inputs(case)
    before, after = (np.linalg.inv(then) @ driven)[:3, 3], (np.linalg.inv(now) @ answer)[:3, 3]
    gap = float(np.linalg.norm(after - before))
    told = f"it is {told_length(gap)} from there, at {point(after)}   (tolerance 1e-6 m)"
    return Measure(gap <= CLOSE, f"seen from the leader at {point(before)}, as before", told, gap)


def turn_kept(case, answer, context):
    """Its turn against the leader."""
    then, driven, now = inputs(case)
    right = (now @ np.linalg.inv(then) @ driven)[:3, :3]
    degrees, off = between(answer[:3, :3], right), float(np.abs(answer[:3, :3] - right).max())
    told = f"turned {degrees:.3g} degrees off" if degrees > 1e-4 else "axes that are not as long as they were"
    return Measure(off <= CLOSE, "the leader turns it as it turns itself", f"{told}   (tolerance 1e-6)", off)


def grown(case, answer, context):
    """A leader twice as large: the offset and the driven thing too."""
    then, driven, now = inputs(case)
    right = now @ np.linalg.inv(then) @ driven
    found = frames_measure([answer], [right], ["the driven frame"], "the leader twice as large: twice as far from it, twice as large")
    told = found.got if found.ok else f"{found.got.split('   (')[0]}; size {sizes(answer[:3, :3]).mean():.3g}"
    return Measure(found.ok, found.expected, told, found.gap)


def cases(rng, context):
    """A lamp of round numbers, Tally's hand that follows the body and the head, and frames at random."""
    rest, row = rest_frames(context.robot.skeleton), context.robot.skeleton.index
    body, head, hand = (rest[row(name)] for name in ("centre_body_joint", "centre_head_joint", "left_wrist_joint"))
    post, lamp = frame(np.eye(3), [0, 1, 0]), frame(np.eye(3), [0.3, 1, 0])
    raised = frame(spun([1, 0, 0], -70) @ hand[:3, :3], hand[:3, 3] + [0, 0.4, 0.2])
    leans = frame(spun(rng.normal(size=3), rng.uniform(20, 60)), rng.uniform(-0.3, 0.3, 3))
    one, two, three = (some_frame(rng) for _ in range(3))
    rows = (
        ("nothing has moved, hand and body", (body, hand, body)),
        ("nothing has moved, hand taken hold of in a pose", (leans @ body, raised, leans @ body)),
        ("nothing has moved, frames at random", (one, two, one)),
        ("a post turns by 90 degrees about y", (post, lamp, frame(spun([0, 1, 0], 90), [0, 1, 0]))),
        ("the body leans", (body, hand, leans @ body)),
        ("the head turns, hand taken hold of in a pose", (head, raised, head @ frame(spun([0, 1, 0], 50), [0, 0, 0]))),
        ("the leader moves only", (one, two, frame(one[:3, :3], three[:3, 3]))),
        ("frames at random", (one, two, three)),
        ("size: the post twice as large", (post, lamp, frame(2 * np.eye(3), [0, 1, 0]))),
        ("size: turned, moved and twice as large", (one, two, some_frame(rng, size=2.0))),
    )
    return [Case(about, dict(zip(ARGUMENTS, values)), tell=("-",)) for about, values in rows]


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def followed(leader_then, driven_then, leader_now):
    """The worked answer."""
    return leader_now @ np.linalg.inv(leader_then) @ driven_then


def offset_lost(leader_then, driven_then, leader_now):
    """It stands on the leader."""
    return leader_now.copy()


def moved_along(leader_then, driven_then, leader_now):
    """Moved as the leader moves; turns are left out."""
    found = driven_then.copy()
    found[:3, 3] += leader_now[:3, 3] - leader_then[:3, 3]
    return found


def turned_as_leader(leader_then, driven_then, leader_now):
    """Its axes are the leader's."""
    found = followed(leader_then, driven_then, leader_now)
    found[:3, :3] = leader_now[:3, :3]
    return found


def place_left(leader_then, driven_then, leader_now):
    """Turned as the leader turns, on its own place."""
    found = followed(leader_then, driven_then, leader_now)
    found[:3, 3] = driven_then[:3, 3] + leader_now[:3, 3] - leader_then[:3, 3]
    return found


def wrong_side(leader_then, driven_then, leader_now):
    """The offset in front."""
    return np.linalg.inv(leader_then) @ driven_then @ leader_now


def wrong_way(leader_then, driven_then, leader_now):
    """Then and now changed places."""
    return leader_then @ np.linalg.inv(leader_now) @ driven_then


def by_transpose(leader_then, driven_then, leader_now):
    """Transposed for inverted."""
    return leader_now @ leader_then.T @ driven_then


def offset_turned_round(leader_then, driven_then, leader_now):
    """The leader as the driven thing sees it."""
    return leader_now @ np.linalg.inv(driven_then) @ leader_then


def size_left(leader_then, driven_then, leader_now):
    """The leader's size is taken off first."""
    size = np.linalg.norm(leader_now[:3, 0]) / np.linalg.norm(leader_then[:3, 0])
    plain = leader_now.copy()
    plain[:3, :3] /= size
    return plain @ np.linalg.inv(leader_then) @ driven_then


MISTAKES = (
    Mistake("offset lost", offset_lost, "the offset is lost: it jumps onto its leader. Keep how it stands as the leader sees it", ("still",), OFFSET),
    Mistake("moved along", moved_along, "it moves as the leader moves, but is not turned by it: it must swing round with the leader", ("place", "turn"), OUT),
    Mistake("turned as the leader", turned_as_leader, "it takes the leader's axes: it must keep its own turn against the leader", ("still", "turn"), OFFSET),
    Mistake("place left", place_left, "it turns on its own spot: what hangs on a leader goes round the leader", ("place",), OUT),
    Mistake("wrong side", wrong_side, "the factors are in the wrong order: the leader now stands at the left, the driven frame at the right", ("still", "place"), OUT),
    Mistake("wrong way", wrong_way, "then and now have changed places: it goes the opposite way", ("place",), OUT),
    Mistake("transposed", by_transpose, "a frame was transposed for its inverse: that is right for turns alone, not with a place in it", ("still",), OFFSET),
    Mistake("offset turned round", offset_turned_round, "the offset is turned round: it is the driven frame seen from the leader, inv(leader) @ driven", ("still",), OFFSET),
    Mistake("size left", size_left, "the leader's size was taken off: with a leader twice as large the offset is twice as long", ("size",), LARGE),
)  # fmt: skip


def show_follow(viewer, shown, context):
    """The told case: the leader then and now, the driven frame then; yours with its axes, the expected one grey."""
    then, driven, now = inputs(shown.case)
    fresh(viewer, f"09.1, {shown.case.about}: your frame with lettered axes, the expected one in grey.")
    draw_frames(viewer, {"leader then": then, "driven then": driven, "leader now": now}, shown.value, followed(then, driven, now))


CHECKPOINT = Checkpoint(
    id="09.1",
    title="Follow without a jump",
    kind="function",
    names={"followed": forms.array(4, 4)},
    claims=(
        Claim("still", "while the leader stands still, nothing jumps", 1, stays, "1e-6 m", look_at=OFFSET, applies=is_still),
        Claim("place", "it keeps its place beside the leader", 1, place_kept, "1e-6 m", look_at=OUT, applies=is_moved),
        Claim("turn", "it keeps its turn against the leader", 1, turn_kept, "1e-6", look_at=OUT, applies=is_moved),
        Claim("size", "a leader twice as large carries it twice as far away", 1, grown, "1e-6 m", look_at=LARGE, applies=is_large),
    ),
    worked=followed,
    hint="How did the driven frame stand, seen from the leader, when it was taken hold of? np.linalg.inv(leader_then) @ driven_then.\n"
    "Out of the leader again, as it stands now: leader_now @ that.",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_follow,
)
