"""Checkpoint 09.2: the body carries everything exactly once.

Each thing has one leader, keeps its rest offset from it, and then does what its own channels say. So the
whole, turned by 137 degrees and twice as large, gives the same pose elsewhere: each frame is the whole's motion times the
frame before. What is carried twice is four times as large; what is left behind has not moved.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_09_frames import BOOK, CLOSE, frame, frames_measure, gap_of, rest_frames, some_frame, spun
from rigkit.course.chapters.chapter_09_show import draw_points, fresh
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake

BASE, OWN, ORDER = "idea 1, step 3", "idea 1, step 4", "idea 1, the order"
WHOLE = "centre_whole_control"
# who follows whom: a part of Tally's rig
FOLLOWS = {
    WHOLE: "world", "centre_body_control": WHOLE, "centre_body_joint": "centre_body_control",
    "centre_head_control": "centre_body_joint", "centre_head_joint": "centre_head_control", "centre_eyes_control": "centre_head_joint",
    "left_eye_control": "centre_eyes_control", "left_hand_control": "centre_body_joint", "left_foot_control": WHOLE,
    "left_knee_marker": "centre_body_joint", "left_hip_joint": "centre_body_joint",
}  # fmt: skip
TURN, SIZE = 137, 2.0


def rest_of(robot):
    """Rest frames {name: (4, 4)} of what FOLLOWS names: joints as they are, controls that stand like the world."""
    joints = dict(zip(robot.skeleton.names, rest_frames(robot.skeleton)))
    at = robot.landmarks
    ahead = np.array([0, at["left_eye"][1], at["left_eye"][2] + 0.6])
    places = {
        WHOLE: np.zeros(3), "centre_body_control": at["body"], "centre_head_control": at["head"], "centre_eyes_control": ahead,
        "left_eye_control": ahead + [at["left_eye"][0], 0, 0], "left_hand_control": at["left_wrist"],
        "left_foot_control": at["left_ankle"] * [1, 0, 1], "left_knee_marker": at["left_knee"] + [0, 0, 0.3],
    }  # fmt: skip
    return {name: frame(np.eye(3), places[name]) if name in places else joints[name].copy() for name in FOLLOWS}


def inputs(case):
    """rest, leaders, own of a case."""
    return case.inputs["rest"], case.inputs["leaders"], case.inputs["own"]


def of_kind(word):
    """Whether a case begins with a word."""
    return lambda case: case.about.startswith(word)


def measured(case, answer, expected, proves=lambda name: ""):
    """Every name's frame against the worked one."""
    right = carried(*inputs(case))
    missing = next((name for name in right if name not in answer), None)
    if missing:
        return Measure(False, "a frame for each name of rest", f"none for {missing!r}", 9.0)
    names = list(right)
    return frames_measure([answer[name] for name in names], list(right.values()), names, expected, lambda i: proves(names[i]))


def at_home(case, answer, context):
    """Nothing moved: all stands at rest."""
    return measured(case, answer, "no control has moved: all stands as at rest")


def own_moves(case, answer, context):
    """A control moves itself, and what follows it."""
    return measured(case, answer, "a control moves in its own frame, and takes along what follows it, nothing else")


def exactly_once(case, answer, context):
    """The whole's motion, once, times what each frame was before."""
    rest, leaders, own = inputs(case)
    before = carried(rest, leaders, {name: move for name, move in own.items() if name != WHOLE})
    motion = rest[WHOLE] @ own[WHOLE] @ np.linalg.inv(rest[WHOLE])

    def proves(name):
        if name not in answer:
            return ""
        if gap_of(answer[name], motion @ motion @ before[name]) < CLOSE:
            return f"{name} is carried twice: four times as large, not twice"
        return f"{name} is left behind: it has not moved" if gap_of(answer[name], before[name]) < CLOSE else ""

    return measured(case, answer, "the whole turned, moved and twice as large: the same pose elsewhere", proves)


def any_order(case, answer, context):
    """Leaders that are listed behind those who follow them."""
    return measured(case, answer, "in whatever order the names are listed, a leader is worked out first")


def cases(rng, context):
    """A part of Tally's rig at home, with moves of its own, carried by the whole, listed backwards; and a tree at random."""
    rest = rest_of(context.robot)
    tilt, step, look = (
        frame(spun(rng.normal(size=3), rng.uniform(15, 50)), np.zeros(3)),
        frame(np.eye(3), rng.uniform(0.05, 0.2, 3)),
        frame(spun([0, 1, 0], rng.uniform(20, 60)), np.zeros(3)),
    )
    some = {"centre_body_control": step @ tilt, "centre_head_control": look, "left_foot_control": frame(np.eye(3), [0, 0.1, 0.1])}
    whole = {WHOLE: frame(SIZE * spun([0, 1, 0], TURN), rng.uniform(-0.5, 0.5, 3))}
    backwards = dict(reversed(FOLLOWS.items()))
    names = [f"centre_part_{k:02}" for k in range(7)]
    tree = {name: names[rng.integers(k)] if k else "world" for k, name in enumerate(names)}
    mixed = {names[k]: tree[names[k]] for k in rng.permutation(7)}
    random_rest = {name: some_frame(rng) for name in names}
    rows = (
        ("home: a part of Tally's rig", rest, FOLLOWS, {}),
        ("own: the body moves and tilts, the foot steps, the head turns", rest, FOLLOWS, some),
        ("own: only the foot steps", rest, FOLLOWS, {"left_foot_control": some["left_foot_control"]}),
        ("whole: turned by 137 degrees, moved, twice as large", rest, FOLLOWS, whole),
        ("whole: the same in a pose", rest, FOLLOWS, {**whole, **some}),
        ("order: Tally's rig listed backwards, in a pose", {name: rest[name] for name in backwards}, backwards, {**whole, **some}),
        ("order: seven frames at random", random_rest, mixed, {name: some_frame(rng, 0.2) for name in names[::2]}),
    )
    return [Case(about, {"rest": a, "leaders": dict(b), "own": c}, tell=("-",)) for about, a, b, c in rows]


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def carried(rest, leaders, own):
    """The worked answer."""
    now = {}

    def stand(name):
        if name not in now:
            leader = leaders[name]
            base = rest[name] if leader == "world" else stand(leader) @ np.linalg.inv(rest[leader]) @ rest[name]
            now[name] = base @ own.get(name, np.eye(4))
        return now[name]

    for name in rest:
        stand(name)
    return now


def carried_twice(rest, leaders, own):
    """The leader's motion, and the motion of the leader's leader once more."""
    right, now = carried(rest, leaders, own), {}
    for name in rest:
        above = leaders.get(leaders[name], "world")
        again = np.eye(4) if above == "world" else right[above] @ np.linalg.inv(rest[above])
        now[name] = again @ right[name]
    return now


def one_level(rest, leaders, own):
    """The leader at rest with its own move only."""
    still = np.eye(4)
    now = {}
    for name, leader in leaders.items():
        base = rest[name] if leader == "world" else rest[leader] @ own.get(leader, still) @ np.linalg.inv(rest[leader]) @ rest[name]
        now[name] = base @ own.get(name, still)
    return now


def in_list_order(rest, leaders, own):
    """One pass; a leader that comes later counts as at rest."""
    now = dict(rest)
    for name in rest:
        leader = leaders[name]
        base = rest[name] if leader == "world" else now[leader] @ np.linalg.inv(rest[leader]) @ rest[name]
        now[name] = base @ own.get(name, np.eye(4))
    return now


def joints_only(rest, leaders, own):
    """Markers and what the eyes look at stand in the world."""
    free = {name: "world" if "marker" in name or "eye" in name else leader for name, leader in leaders.items()}
    return carried(rest, free, own)


def own_first(rest, leaders, own):
    """The own move in the world's axes."""
    now = {}

    def stand(name):
        if name not in now:
            leader = leaders[name]
            base = rest[name] if leader == "world" else stand(leader) @ np.linalg.inv(rest[leader]) @ rest[name]
            now[name] = own.get(name, np.eye(4)) @ base
        return now[name]

    for name in rest:
        stand(name)
    return now


def offset_lost(rest, leaders, own):
    """Everything stands on its leader."""
    now = {}

    def stand(name):
        if name not in now:
            base = rest[name] if leaders[name] == "world" else stand(leaders[name])
            now[name] = base @ own.get(name, np.eye(4))
        return now[name]

    for name in rest:
        stand(name)
    return now


def rest_as_seen(rest, leaders, own):
    """The rest frame, which is in the world, taken for one seen from the leader."""
    now = {}

    def stand(name):
        if name not in now:
            base = rest[name] if leaders[name] == "world" else stand(leaders[name]) @ rest[name]
            now[name] = base @ own.get(name, np.eye(4))
        return now[name]

    for name in rest:
        stand(name)
    return now


def size_dropped(rest, leaders, own):
    """The leader's size is taken off."""
    now = {}

    def stand(name):
        if name not in now:
            leader, base = leaders[name], rest[name]
            if leader != "world":
                plain = stand(leader).copy()
                plain[:3, :3] /= np.linalg.norm(plain[:3, 0])
                base = plain @ np.linalg.inv(rest[leader]) @ rest[name]
            now[name] = base @ own.get(name, np.eye(4))
        return now[name]

    for name in rest:
        stand(name)
    return now


MISTAKES = (
    Mistake("twice", carried_twice, "carried twice: the leader's frame holds what its own leader did, so that must not come in again", ("once",), BASE),
    Mistake("one level", one_level, "only the leader's own move is passed on: what its leader did is left behind. Use where the leader stands now", ("once",), BASE),
    Mistake("list order", in_list_order, "worked out in the order of the list: what is listed before its leader is left behind", ("order",), ORDER),
    Mistake("markers and eyes", joints_only, "markers and eyes have no leader here: knees and eyes are left behind. Take every leader as it is given", ("once",), BASE),
    Mistake("own first", own_first, "the own move stands in front: it turns about the world's origin. It belongs behind, in the thing's own frame", ("own",), OWN),
    Mistake("offset lost", offset_lost, "the rest offset is lost: everything stands on its leader", ("home",), BASE),
    Mistake("rest as seen", rest_as_seen, "rest frames are told in the world: seen from the leader they are inv(rest of the leader) @ rest", ("home",), BASE),
    Mistake("size dropped", size_dropped, "the size is taken off on the way: a rig twice as large keeps its old distances", ("once",), BASE),
)  # fmt: skip


def show_carry(viewer, shown, context):
    """The told case: the places of all frames, joined to their leaders, over the expected ones."""
    rest, leaders, own = inputs(shown.case)
    right, names = carried(rest, leaders, own), list(rest)
    if not set(names) <= set(shown.value):
        raise ValueError("A frame is missing for some names of rest.")
    fresh(viewer, f"09.2, {shown.case.about}: your frames, joined to their leaders, over the expected ones, faint.")
    parents = [names.index(leaders[name]) if leaders[name] != "world" else -1 for name in names]
    draw_points(viewer, {name: shown.value[name][:3, 3] for name in names}, {name: right[name][:3, 3] for name in names}, parents)


CHECKPOINT = Checkpoint(
    id="09.2",
    title="Carried exactly once",
    kind="function",
    names={"carried": forms.mapping(forms.array(4, 4))},
    claims=(
        Claim("home", "nothing moved: all stands as at rest", 1, at_home, "1e-6 m", look_at=BASE, applies=of_kind("home")),
        Claim("own", "a control moves itself and all that follow it", 1, own_moves, "1e-6 m", look_at=OWN, applies=of_kind("own")),
        Claim("once", "the whole carries everything exactly once", 2, exactly_once, "1e-6 m", look_at=BASE, applies=of_kind("whole")),
        Claim("order", "in whatever order the names come", 1, any_order, "1e-6 m", look_at=ORDER, applies=of_kind("order")),
    ),
    worked=carried,
    hint="Write a small function inside: stand(name) gives where one thing stands, and keeps it in a dict `now`.\n"
    "With a leader: stand(leader) @ np.linalg.inv(rest[leader]) @ rest[name]. Without: rest[name]. Then @ own.get(name, np.eye(4)).\n"
    "stand(leader) inside stand(name) works a leader out first, whatever the order of the list. Call stand for each name, return now.",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_carry,
)
