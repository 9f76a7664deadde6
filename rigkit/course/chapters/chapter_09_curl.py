"""Checkpoint 09.7: one channel curls three fingers. Each joint turns about its own hinge, by its share of one number."""

import numpy as np

from rigkit import rotation
from rigkit.course import forms
from rigkit.course.chapters.chapter_09_frames import BOOK, CLOSE, between, is_turn, matrix_of, spun
from rigkit.course.chapters.chapter_09_show import fresh, see
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake

FINGERS = tuple(f"left_finger_{k:02}_{part}_joint" for k in (1, 2, 3) for part in ("base", "middle"))
OWN, GAIN, HELD = "idea 3, step 4", "idea 3, step 3", "idea 3, step 5"
GAINS = (8.0, 24.0)  # degrees for a curl of one: base, middle


def given_fingers(robot):
    """finger_rest (6, 3, 3), the joints' turns at rest seen from their parents; finger_gains (6,), radians for a curl of one."""
    rest = robot.skeleton.rest_rotations
    return {
        "finger_rest": np.array([matrix_of(rest[robot.skeleton.index(name)]) for name in FINGERS]),
        "finger_gains": np.radians(np.tile(GAINS, 3)),
    }


def inputs(case):
    """curl, rest (J, 3, 3), gains (J,)."""
    return float(case.inputs["curl"]), np.asarray(case.inputs["rest"], float), np.asarray(case.inputs["gains"], float)


def is_home(case):
    """Whether the curl is 0."""
    return inputs(case)[0] == 0


def is_beyond(case):
    """Whether the curl is out of its range."""
    return abs(inputs(case)[0]) > 1


def is_within(case):
    """Whether it is in it, and not 0."""
    return not is_home(case) and not is_beyond(case)


def measured(case, answer, expected):
    """Every joint against the worked answer."""
    right = curled(*inputs(case))
    if len(answer) != len(right):
        return Measure(False, f"{len(right)} turns, one a joint", f"{len(answer)} of them", 999.0)
    off = [max(float(np.abs(a - b).max()), is_turn(a)) for a, b in zip(answer, right)]
    i = int(np.argmax(off))
    told = f"joint {i}: {between(answer[i], right[i]):.3g} degrees off" if is_turn(answer[i]) <= CLOSE else f"joint {i}: no turn"
    return Measure(off[i] <= CLOSE, expected, f"{told}   (tolerance 1e-6)", off[i])


def at_rest(case, answer, context):
    """Curl 0 is rest."""
    return measured(case, answer, "curl 0: every joint as at rest")


def own_hinge(case, answer, context):
    """Each about its own z, by its gain."""
    curl = inputs(case)[0]
    return measured(case, answer, f"each joint turned about its own z by {curl:.3g} times its gain")


def range_kept(case, answer, context):
    """Held at the end of the range."""
    return measured(case, answer, f"curl {inputs(case)[0]:.3g} is out of range: held at {np.sign(inputs(case)[0]):.0f}")


def cases(rng, context):
    """A hand's fingers half closed, wholly, opened; other fingers at random; nothing; out of range."""
    known = given_fingers(context.robot)
    rest, gains = known["finger_rest"], known["finger_gains"]
    other = np.array([spun(rng.normal(size=3), rng.uniform(20, 150)) for _ in range(4)])
    other_gains = rng.uniform(0.2, 1.2, 4) * [1, -1, 1, 1]
    rows = (
        ("Tally's left fingers", 0.5, rest, gains),
        ("Tally's left fingers", 1.0, rest, gains),
        ("opened", float(rng.uniform(-0.9, -0.4)), rest, gains),
        ("four other joints, one that turns back", float(rng.uniform(0.3, 0.9)), other, other_gains),
        ("at home", 0.0, rest, gains),
        ("four other joints at home", 0.0, other, other_gains),
        ("too much", float(rng.uniform(1.5, 3)), rest, gains),
        ("too little", float(rng.uniform(-3, -1.5)), other, other_gains),
    )
    return [Case(about, {"curl": a, "rest": b, "gains": c}, tell=("curl",)) for about, a, b, c in rows]


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def curled(curl, rest, gains):
    """The worked answer."""
    curl = np.clip(curl, -1, 1)
    found = []
    for own, gain in zip(rest, gains):
        c, s = np.cos(gain * curl), np.sin(gain * curl)
        found.append(own @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]))
    return np.array(found)


def parents_axis(curl, rest, gains):
    """About the parent's z."""
    curl = np.clip(curl, -1, 1)
    found = []
    for own, gain in zip(rest, gains):
        c, s = np.cos(gain * curl), np.sin(gain * curl)
        found.append(np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]) @ own)
    return np.array(found)


def rest_lost(curl, rest, gains):
    """The turn alone."""
    return curled(curl, np.repeat(np.eye(3)[None], len(rest), axis=0), gains)


def one_gain(curl, rest, gains):
    """All joints by the first gain."""
    return curled(curl, rest, np.full(len(gains), gains[0]))


def no_range(curl, rest, gains):
    """Not held."""
    return curled(1.0, rest, gains * curl)


def never_opens(curl, rest, gains):
    """Held between 0 and 1."""
    return curled(np.clip(curl, 0, 1), rest, gains)


def wrong_way(curl, rest, gains):
    """The other sense."""
    return curled(-curl, rest, gains)


def degrees_for_radians(curl, rest, gains):
    """The gains taken for degrees."""
    return curled(curl, rest, np.radians(gains))


def angle_held(curl, rest, gains):
    """The angle is held between -1 and 1, not the channel."""
    return curled(1.0, rest, np.clip(gains * curl, -1, 1))


MISTAKES = (
    Mistake("parent's axis", parents_axis, "turned about the parent's z: the turn stands in front of the rest. Behind it is the joint's own axis", ("own",), OWN),
    Mistake("rest lost", rest_lost, "the rest is lost: every joint stands as its parent and turns from there. rest @ turn", ("home", "own"), OWN),
    Mistake("one gain", one_gain, "all joints have the first one's gain: each has its own", ("own",), GAIN),
    Mistake("no range", no_range, "the channel is not held: beyond 1 the fingers go through the palm", ("held",), HELD),
    Mistake("never opens", never_opens, "held between 0 and 1: the range is -1 to 1, so that the hand can open", ("own", "held"), HELD),
    Mistake("wrong way", wrong_way, "the sense is turned round: counter-clockwise is positive, (c, -s), (s, c)", ("own",), OWN),
    Mistake("degrees", degrees_for_radians, "the gains are radians already", ("own",), GAIN),
    Mistake("angle held", angle_held, "the angle was held between -1 and 1: it is the channel that has the range, before the gain comes in", ("held",), HELD),
)  # fmt: skip


def show_curl(viewer, shown, context):
    """Tally's left hand, wholly closed by the answer; faint, where the joints should be."""
    known, skeleton = given_fingers(context.robot), context.robot.skeleton
    rows = [skeleton.index(name) for name in FINGERS]

    def pose_with(function):
        turns = skeleton.rest_rotations.copy()
        turns[rows] = [rotation.from_matrix(one) for one in function(1.0, known["finger_rest"], known["finger_gains"])]
        return turns

    own, right = pose_with(shown), skeleton.forward(pose_with(curled)).positions
    fresh(viewer, "09.7: Tally's left hand, closed by your channel at 1; faint, the finger joints as expected.", "front", False)
    viewer.pose(own)
    viewer.faint(right[rows], [-1, 0, -1, 2, -1, 4])
    see(viewer, right[rows])


CHECKPOINT = Checkpoint(
    id="09.7",
    title="One channel curls three fingers",
    kind="function",
    names={"curled": forms.array(None, 3, 3)},
    claims=(
        Claim("home", "curl 0: as at rest", 1, at_rest, "1e-6", look_at=OWN, applies=is_home),
        Claim("own", "each joint turns about its own z by its share", 1, own_hinge, "1e-6", look_at=OWN, applies=is_within),
        Claim("held", "below -1 and above 1 the channel is held", 1, range_kept, "1e-6", look_at=HELD, applies=is_beyond),
    ),
    worked=curled,
    hint="First hold the channel: np.clip(curl, -1, 1).\n"
    "Then for each joint: angle = gain * curl, and own @ (the turn about z by that angle). The turn stands behind: it is about the joint's own z.",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_curl,
)
