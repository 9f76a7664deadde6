"""Checkpoint 13.1: a chain on its way to a target, by any of three ways, judged by what all of them keep and where they come to.

One pass of FABRIK never takes the tip further from a target in reach: a point moved on the line to its old place
moves no further than the point before it did. A sweep never does either. A damped step may. So what is asked for is where
many steps come to.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_13_chains import (
    BOOK,
    CLOSE,
    across,
    lengths,
    matrix,
    placed,
    random_chain,
    reach_for,
    start,
    swing,
    turned,
    unit,
)
from rigkit.course.chapters.chapter_13_show import show_reach
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

STEPS, ARRIVED, SETTLED = 60, 0.001, 0.1  # steps; metres; of the chain's length
ROOT, LONG, WAYS, LINE, JOINT, FAR, DAMPED, TURN = (
    "idea 1, both halves", "idea 1, lengths first", "idea 1, the three ways", "idea 1, in one line", "idea 1, no direction",
    "idea 1, out of reach", "idea 1, a damped step", "idea 1, a sweep",
)  # fmt: skip


def inputs(case):
    """(points (n + 1, 3), target (3,)) of a case."""
    return np.asarray(case.inputs["points"], float), np.asarray(case.inputs["target"], float)


def misfit(case, answer):
    """None, or the Measure of an answer with another number of points."""
    expected = len(inputs(case)[0])
    return None if len(answer) == expected else Measure(False, f"{expected} points, as they came", f"{len(answer)} points", 9.0)


def root_stays(case, answer, context):
    """The root where it was."""
    points, _ = inputs(case)
    off = float(np.linalg.norm(answer[0] - points[0]))
    return Measure(off <= CLOSE, "the root where it was", f"the root {told_length(off)} away from its place", off)


def lengths_stay(case, answer, context):
    """Every link as long as it was; told by the worst."""
    points, _ = inputs(case)
    wrong = misfit(case, answer)
    if wrong:
        return wrong
    off = lengths(answer) - lengths(points)
    k = int(np.abs(off).argmax())
    told = f"link {k} is {told_length(abs(off[k]))} too {'long' if off[k] > 0 else 'short'}"
    return Measure(bool(abs(off[k]) <= CLOSE), "every link as long as it was", told, float(abs(off[k])))


def arrives(case, answer, context):
    """The tip on the target."""
    _, target = inputs(case)
    gap = float(np.linalg.norm(answer[-1] - target))
    expected = f"the tip on its target after {case.inputs['steps']} steps, within 1 mm"
    return Measure(gap <= ARRIVED, expected, f"the tip {told_length(gap)} away from it   (tolerance 1 mm)", gap)


def settles(case, answer, context):
    """Out of reach: as near as a straight chain, within a tenth of its length."""
    points, target = inputs(case)
    long = float(lengths(points).sum())
    nearest = float(np.linalg.norm(target - points[0])) - long
    over = float(np.linalg.norm(answer[-1] - target)) - nearest
    expected = f"out of reach: no more than {told_length(SETTLED * long)} above the least gap, {told_length(nearest)}"
    return Measure(
        abs(over) <= SETTLED * long, expected, f"a gap of {told_length(nearest + over)}   (tolerance 10 % of its length)", abs(over)
    )


def told(*words):
    """A claim's `applies`: cases whose words begin with one of these."""
    return lambda case: case.about.startswith(words)


def cases(rng, context):
    """Three links a hand can check, Tally's hose, random chains, straight ones, a target on a joint and on the root, and out of reach."""
    known = context.given
    zigzag = np.array([[0, 0, 0], [0.1, 0, 0], [0.1, 0.1, 0], [0.2, 0.1, 0]])
    five, seven = random_chain(rng, 5), random_chain(rng, 7)
    axis = rng.choice([-1, 1]) * np.eye(3)[rng.integers(3)]  # along a world axis no rounding bends it
    straight = rng.uniform(-1, 1, 3) + np.outer(0.06 * np.arange(5), axis)

    def at(points, share):
        way = unit(unit(rng.normal(size=3)) + 0.5 * unit(points[-1] - points[0]))
        return points[0] + share * lengths(points).sum() * way

    rows = [
        ("one step, three links", zigzag, np.array([0.2, 0.15, 0.1]), 1),
        ("one step, Tally's hose", known["hose"], known["target"], 1),
        ("in reach, Tally's hose", known["hose"], known["target"], STEPS),
        ("in reach, five links", five, at(five, rng.uniform(0.45, 0.65)), STEPS),
        ("in reach, seven links", seven, at(seven, rng.uniform(0.45, 0.65)), STEPS),
        ("straight, target on its line", straight, straight[0] + 0.6 * (straight[-1] - straight[0]), STEPS),
        ("straight, target behind", straight, straight[0] - 0.5 * (straight[-1] - straight[0]), STEPS),
        ("target on a joint", five, five[-2].copy(), STEPS),
        ("target on the root", five, five[0].copy(), STEPS),
        ("out of reach, five links", five, at(five, 1.3), STEPS),
        ("out of reach, seven links", seven, at(seven, 1.5), STEPS),
    ]
    return [Case(about, {"points": points, "target": target, "steps": steps}, ("target", "steps")) for about, points, target, steps in rows]


# ---- the planned mistakes -----------------------------------------------------------------


def root_left(points, target, steps):
    """Only the way back to the root."""
    p, long = start(points, target), lengths(points)
    for _ in range(steps):
        p[-1] = target
        for i in range(len(p) - 2, -1, -1):
            p[i] = placed(p[i + 1], p[i], long[i])
    return p


def root_put_back(points, target, steps):
    """The root is put back, and nothing follows it."""
    p = root_left(points, target, steps)
    p[0] = points[0]
    return p


def near_for_far(points, target, steps):
    """placed is given the two points the other way round."""
    p, long = start(points, target), lengths(points)
    for _ in range(steps):
        p[-1] = target
        for i in range(len(p) - 2, -1, -1):
            p[i] = placed(p[i], p[i + 1], long[i])
        p[0] = points[0]
        for i in range(len(p) - 1):
            p[i + 1] = placed(p[i + 1], p[i], long[i])
    return p


def lengths_late(points, target, steps):
    """The lengths are taken when the tip has been moved."""
    p = start(points, target)
    for _ in range(steps):
        p[-1] = target
        long = lengths(p)
        for i in range(len(p) - 2, -1, -1):
            p[i] = placed(p[i + 1], p[i], long[i])
        p[0] = points[0]
        for i in range(len(p) - 1):
            p[i + 1] = placed(p[i], p[i + 1], long[i])
    return p


def root_first(points, target, steps):
    """The way back to the root begins at the root."""
    p, long = start(points, target), lengths(points)
    for _ in range(steps):
        p[-1] = target
        for i in range(len(p) - 1):
            p[i] = placed(p[i + 1], p[i], long[i])
        p[0] = points[0]
        for i in range(len(p) - 1):
            p[i + 1] = placed(p[i], p[i + 1], long[i])
    return p


def last_link_left(points, target, steps):
    """The way out stops before the last link, so the tip stays on the target."""
    p, long = start(points, target), lengths(points)
    for _ in range(steps):
        p[-1] = target
        for i in range(len(p) - 2, -1, -1):
            p[i] = placed(p[i + 1], p[i], long[i])
        p[0] = points[0]
        for i in range(len(p) - 2):
            p[i + 1] = placed(p[i], p[i + 1], long[i])
    return p


def never_bends(points, target, steps):
    """A chain in one line with its target is left as it is."""
    p, long = np.array(points), lengths(points)
    for _ in range(steps):
        p[-1] = target
        for i in range(len(p) - 2, -1, -1):
            p[i] = placed(p[i + 1], p[i], long[i])
        p[0] = points[0]
        for i in range(len(p) - 1):
            p[i + 1] = placed(p[i], p[i + 1], long[i])
    return p


def no_direction(points, target, steps):
    """A way of length 0 is divided by 0."""
    p, long = start(points, target), lengths(points)
    for _ in range(steps):
        p[-1] = target
        for i in range(len(p) - 2, -1, -1):
            way = p[i] - p[i + 1]
            p[i] = p[i + 1] + long[i] * way / np.linalg.norm(way)
        p[0] = points[0]
        for i in range(len(p) - 1):
            way = p[i + 1] - p[i]
            p[i + 1] = p[i] + long[i] * way / np.linalg.norm(way)
    return p


def about_the_origin(points, target, steps):
    """A sweep whose turns go about the world's origin."""
    p = start(points, target)
    for _ in range(steps):
        for i in range(len(p) - 2, -1, -1):
            tip, aim = p[-1] - p[i], target - p[i]
            if min(np.linalg.norm(tip), np.linalg.norm(aim)) > 1e-9:
                p[i + 1 :] = p[i + 1 :] @ matrix(swing(tip, aim)).T
    return p


def turned_back(points, target, steps):
    """A sweep that turns from the target to the tip."""
    p = start(points, target)
    for _ in range(steps):
        for i in range(len(p) - 2, -1, -1):
            tip, aim = p[-1] - p[i], target - p[i]
            if min(np.linalg.norm(tip), np.linalg.norm(aim)) > 1e-9:
                p = turned(p, i, swing(aim, tip))
    return p


def tip_turned_alone(points, target, steps):
    """A sweep that turns the next joint only, and leaves what lies beyond."""
    p = start(points, target)
    for _ in range(steps):
        for i in range(len(p) - 2, -1, -1):
            tip, aim = p[-1] - p[i], target - p[i]
            if min(np.linalg.norm(tip), np.linalg.norm(aim)) > 1e-9:
                p[i + 1] = p[i] + matrix(swing(tip, aim)) @ (p[i + 1] - p[i])
    return p


def stepped(points, target, steps, damping, sign=1.0):
    """Damped steps of a given damping, metres; sign: of the Jacobian."""
    p = start(points, target)
    for _ in range(steps):
        jacobian = sign * np.hstack([across(p[-1] - joint) for joint in p[:-1]])
        turns = jacobian.T @ np.linalg.pinv(jacobian @ jacobian.T + damping**2 * np.eye(3)) @ (target - p[-1])
        for i, turn in enumerate(turns.reshape(-1, 3)):
            p = turned(p, i, turn)
    return p


def undamped(points, target, steps):
    """Least squares without damping."""
    return stepped(points, target, steps, 0.0)


def wrong_cross(points, target, steps):
    """Arm x turn in place of turn x arm."""
    return stepped(points, target, steps, 0.3 * lengths(points).sum(), -1.0)


MISTAKES = (
    Mistake("root left", root_left, "the root has left its place: put points[0] back (p[0] moves), and go out again", ("root",), ROOT),
    Mistake("near for far", near_for_far, "placed(near, far, length): near is the point that stays, far the one moved", ("lengths",), ROOT),
    Mistake("root put back alone", root_put_back, "the root is back, but the links do not follow it: go out again, link by link", ("lengths",), ROOT),
    Mistake("lengths late", lengths_late, "the lengths are taken after the tip has moved: take them before anything moves", ("lengths",), LONG),
    Mistake("root first", root_first, "the way back begins at the root: begin at the tip, which has the news", ("reach",), ROOT),
    Mistake("last link left", last_link_left, "the tip is left on the target: the way out goes on to the last link", ("lengths",), ROOT),
    Mistake("never bends", never_bends, "in one line with its target nothing tells it a side: bend it a little first", ("line",), LINE),
    Mistake("no direction", no_direction, "a way of length 0 has no direction, and 0 / 0 is nan: take any direction", ("joint",), JOINT),
    Mistake("about the origin", about_the_origin, "the turns go about the world's origin: take the joint off, turn, put it back", ("lengths",), TURN),
    Mistake("turned back", turned_back, "the turn goes from the target to the tip: turn the tip to the target", ("reach",), TURN),
    Mistake("next joint alone", tip_turned_alone, "only the next joint is turned: all that lies beyond turns with it", ("lengths",), TURN),
    Mistake("no damping", undamped, "without damping a step may be huge: out of reach the chain whips about", ("far",), DAMPED),
    Mistake("wrong cross", wrong_cross, "the tip moves by turn x arm, not by arm x turn: every step goes the wrong way", ("reach",), DAMPED),
)  # fmt: skip

CHECKPOINT = Checkpoint(
    id="13.1",
    title="A chain on its way",
    kind="function",
    names={"reach_for": forms.array(None, 3)},
    claims=(
        Claim("root", "the root stays where it is", 1, root_stays, "1e-6 m", look_at=ROOT),
        Claim("lengths", "every link keeps its length", 1, lengths_stay, "1e-6 m", look_at=LONG),
        Claim("reach", "a target in reach: the tip comes to it", 2, arrives, "1 mm", look_at=WAYS, applies=told("in reach")),
        Claim("line", "straight, the target on its line: it bends and gets there", 1, arrives, "1 mm", look_at=LINE, applies=told("straight")),
        Claim("joint", "the target on a joint, or on the root: it gets there", 1, arrives, "1 mm", look_at=JOINT, applies=told("target")),
        Claim("far", "out of reach: it settles, nearly straight", 1, settles, "10 % of its length", look_at=FAR, applies=told("out of reach")),
    ),
    worked=reach_for,
    hint="Three things before the loop: a copy p of the points, the lengths of its links, and a small bow where all lies in one line.\n"
    "Passes: in `for _ in range(steps):` put p[-1] on the target; for i from the joint before it down to 0: p[i] = placed(p[i + 1], p[i], long[i]).\n"
    "Then the way out: p[0] = points[0]; for i from 0 up: p[i + 1] = placed(p[i], p[i + 1], long[i]). After the loop, return p.",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_reach,
    seconds=20.0,
)  # fmt: skip
