"""Checkpoint 13.3: no joint of a chain bends beyond its limit.

Judged by what any way of keeping a limit has in common: the links, the limit, a chain that needs nothing left
alone, and the first joint that goes too far brought to its limit, in its own plane and to its own side. What becomes of the links
beyond it is free: they may be carried along, or keep their directions as far as they may.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_13_chains import (
    BOOK,
    CLOSE,
    bend_and_axis,
    bends,
    keep_limit,
    lengths,
    matrix,
    random_chain,
    turned,
    unit,
)
from rigkit.course.chapters.chapter_13_show import show_limit
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

HOLD, LIMIT, EDGE, FOLDED = "idea 3, step 3", "idea 3, step 1", "idea 3, step 2", "idea 3, folded"


def inputs(case):
    """(points (n + 1, 3), limit, radians) of a case."""
    return np.asarray(case.inputs["points"], float), float(case.inputs["limit"])


def first_beyond(case):
    """The first joint that bends beyond the limit, or None."""
    points, limit = inputs(case)
    beyond = np.flatnonzero(bends(points) > limit + 1e-9)
    return int(beyond[0]) + 1 if len(beyond) else None


def is_within(case):
    """No joint bends too far."""
    return first_beyond(case) is None


def has_side(case):
    """The first joint that bends too far has a plane to bend in."""
    i = first_beyond(case)
    return i is not None and bends(inputs(case)[0])[i - 1] < np.pi - 1e-6


def misfit(case, answer):
    """None, or the Measure of an answer with another number of points."""
    expected = len(inputs(case)[0])
    return None if len(answer) == expected else Measure(False, f"{expected} points, as they came", f"{len(answer)} points", 9.0)


def holds(case, answer, context):
    """The root in its place, every link as long as it was."""
    wrong = misfit(case, answer)
    if wrong:
        return wrong
    points, _ = inputs(case)
    root, off = float(np.linalg.norm(answer[0] - points[0])), np.abs(lengths(answer) - lengths(points))
    k = int(off.argmax())
    told = f"the root is {told_length(root)} away" if root > off[k] else f"link {k} is off by {told_length(off[k])}"
    gap = max(root, float(off[k]))
    return Measure(gap <= CLOSE, "the root in its place, every link as long as it was", told, gap)


def limit_kept(case, answer, context):
    """No bend beyond the limit."""
    wrong = misfit(case, answer)
    if wrong:
        return wrong
    _, limit = inputs(case)
    found = bends(answer)
    i = int(found.argmax())
    over = max(float(found[i] - limit), 0.0)
    told = f"joint {i + 1} bends by {np.degrees(found[i]):.2f} degrees   (tolerance 1e-6 rad)"
    folded = over > CLOSE and found[i] > np.pi - 1e-6 and bends(inputs(case)[0])[i] > np.pi - 1e-6
    proves = "a link folded back was left so: it has no plane, any axis square to it will do" if folded else ""
    return Measure(over <= CLOSE, f"no joint beyond {np.degrees(limit):.2f} degrees", told, over, proves)


def left_alone(case, answer, context):
    """A chain within its limit is what it was."""
    wrong = misfit(case, answer)
    if wrong:
        return wrong
    points, _ = inputs(case)
    off = np.linalg.norm(answer - points, axis=1)
    i = int(off.argmax())
    return Measure(
        bool(off[i] <= CLOSE), "a chain within its limit stays as it is", f"point {i} moved by {told_length(off[i])}", float(off[i])
    )


def at_the_edge(case, answer, context):
    """The first joint that goes too far: bent by its limit, in its plane, and all before it unmoved."""
    wrong = misfit(case, answer)
    if wrong:
        return wrong
    points, limit = inputs(case)
    i = first_beyond(case)
    before, after = points[i] - points[i - 1], points[i + 1] - points[i]
    right = np.vstack([points[: i + 1], points[i] + edge(before, after, limit)])
    off = np.linalg.norm(answer[: i + 2] - right, axis=1)
    k = int(off.argmax())
    found = np.degrees(bends(answer[: i + 2])[-1])
    told = f"it bends by {found:.2f} degrees; point {k} is {told_length(off[k])} away from its place"
    return Measure(
        bool(off[k] <= CLOSE), f"joint {i}, the first beyond: {np.degrees(limit):.2f} degrees, in its own plane", told, float(off[k])
    )


def edge(before, after, limit):
    """The link `after` at the limit: in the plane of the two, on its own side."""
    along = unit(before)
    aside = after - (after @ along) * along
    return np.linalg.norm(after) * (np.cos(limit) * along + np.sin(limit) * unit(aside))


def cases(rng, context):
    """A square a hand can check, Tally's hose in and beyond its limit, random chains, one joint alone, straight, folded, limit 0."""
    known = context.given
    limit = np.radians(known["limit"])
    square = np.array([[0, 0, 0], [0.1, 0, 0], [0.1, 0.1, 0], [0, 0.1, 0]])
    wild, twelve, calm = random_chain(rng, 6, 3.0), random_chain(rng, 12, 2.0), random_chain(rng, 7, 0.3)
    alone = turned(calm, 4, 1.5 * unit(np.cross(calm[5] - calm[4], rng.normal(size=3))))
    straight = rng.uniform(-1, 1, 3) + np.outer(0.06 * np.arange(6), unit(rng.normal(size=3)))
    folded = np.array([[0, 0, 0], [0, -0.1, 0], [0, 0, 0], [0, 0.05, 0]])
    curled = np.asarray(known["trails"], float)[0, -1]
    rows = [
        ("a square corner twice", square, np.radians(60)),
        ("Tally's hose at rest", known["hose"], limit),
        ("Tally's hose after sweeps", curled, limit),
        ("six links, wild", wild, np.radians(rng.uniform(20, 35))),
        ("twelve links", twelve, np.radians(rng.uniform(20, 35))),
        ("within its limit", calm, float(bends(calm).max()) + 0.01),
        ("one joint beyond", alone, float(np.delete(bends(alone), 3).max()) + 0.01),
        ("straight", straight, np.radians(30)),
        ("a link folded back", folded, np.radians(40)),
        ("limit 0", wild, 0.0),
    ]
    return [Case(about, {"points": points, "limit": float(limit)}, ("limit",)) for about, points, limit in rows]


# ---- the planned mistakes -----------------------------------------------------------------


def not_carried(points, limit):
    """The next joint alone is moved."""
    p = np.array(points)
    for i in range(1, len(p) - 1):
        bend, axis = bend_and_axis(p, i)
        if bend > limit:
            p[i + 1] = p[i] + matrix((limit - bend) * axis) @ (p[i + 1] - p[i])
    return p


def all_at_limit(points, limit):
    """Every joint is set to its limit."""
    p = np.array(points)
    for i in range(1, len(p) - 1):
        bend, axis = bend_and_axis(p, i)
        p = turned(p, i, (limit - bend) * axis)
    return p


def straightened(points, limit):
    """A joint that goes too far is made straight."""
    p = np.array(points)
    for i in range(1, len(p) - 1):
        bend, axis = bend_and_axis(p, i)
        if bend > limit:
            p = turned(p, i, -bend * axis)
    return p


def other_side(points, limit):
    """Brought to its limit on the other side."""
    p = np.array(points)
    for i in range(1, len(p) - 1):
        bend, axis = bend_and_axis(p, i)
        if bend > limit:
            p = turned(p, i, (-limit - bend) * axis)
    return p


def back_by_limit(points, limit):
    """Turned back by the limit, not to it."""
    p = np.array(points)
    for i in range(1, len(p) - 1):
        bend, axis = bend_and_axis(p, i)
        if bend > limit:
            p = turned(p, i, -limit * axis)
    return p


def wrong_way(points, limit):
    """Turned further, by what it is too far."""
    p = np.array(points)
    for i in range(1, len(p) - 1):
        bend, axis = bend_and_axis(p, i)
        if bend > limit:
            p = turned(p, i, (bend - limit) * axis)
    return p


def tip_first(points, limit):
    """From the tip to the root, each link against the one before as that still was."""
    links = np.diff(points, axis=0)
    for i in range(len(links) - 1, 0, -1):
        p = np.vstack([np.zeros(3), links[i - 1], links[i - 1] + links[i]])
        bend, axis = bend_and_axis(p, 1)
        if bend > limit:
            links[i] = matrix((limit - bend) * axis) @ links[i]
    return np.vstack([points[:1], points[0] + np.cumsum(links, axis=0)])


def inner_angle(points, limit):
    """The angle inside is compared with the limit."""
    p = np.array(points)
    for i in range(1, len(p) - 1):
        bend, axis = bend_and_axis(p, i)
        if np.pi - bend > limit:
            p = turned(p, i, (np.pi - limit - bend) * axis)
    return p


def degrees_again(points, limit):
    """The limit is taken for degrees."""
    return keep_limit(points, np.radians(limit))


def one_axis(points, limit):
    """Every joint turns about the world's x, as if the hose still hung in its plane."""
    p = np.array(points)
    for i in range(1, len(p) - 1):
        bend, axis = bend_and_axis(p, i)
        if bend > limit:
            p = turned(p, i, np.array([(limit - bend) * (1.0 if axis[0] >= 0 else -1.0), 0, 0]))
    return p


def no_axis(points, limit):
    """A link folded back has no plane, and is divided by 0."""
    p = np.array(points)
    for i in range(1, len(p) - 1):
        before, after = unit(p[i] - p[i - 1]), unit(p[i + 1] - p[i])
        axis = np.cross(before, after)
        sine = np.linalg.norm(axis)
        bend = np.arctan2(sine, before @ after)
        if bend > limit:
            p = turned(p, i, (limit - bend) * axis / sine)
    return p


MISTAKES = (
    Mistake("not carried", not_carried, "only the next joint moves: carry all that lies beyond it, or lengths change", ("hold",), HOLD),
    Mistake("all at the limit", all_at_limit, "every joint is set to the limit: one that bends less is left alone", ("within",), LIMIT),
    Mistake("straightened", straightened, "a joint that goes too far is made straight: it stays bent, by the limit", ("edge",), EDGE),
    Mistake("other side", other_side, "it bends by the limit, but to the other side", ("edge",), EDGE),
    Mistake("back by the limit", back_by_limit, "turned back by the limit: what is too much is bend - limit", ("limit", "edge"), EDGE),
    Mistake("the wrong way", wrong_way, "turned on instead of back: about the bend's axis it is limit - bend, below 0", ("limit",), EDGE),
    Mistake("tip first", tip_first, "tip first, each link is held against one that still moves: begin at the root", ("limit",), HOLD),
    Mistake("inner angle", inner_angle, "this is the angle inside; the bend is the outer one, 0 when straight", ("within", "edge"), LIMIT),
    Mistake("degrees again", degrees_again, "the limit comes in radians already", ("edge",), LIMIT),
    Mistake("one axis", one_axis, "the chain is not in one plane: turn back about the axis of the joint's own bend", ("edge",), EDGE),
    Mistake("no axis", no_axis, "a link folded back has no plane, and 0 / 0 is nan: take any axis square to it", ("limit",), FOLDED),
)  # fmt: skip

CHECKPOINT = Checkpoint(
    id="13.3",
    title="A limit at every joint",
    kind="function",
    names={"keep_limit": forms.array(None, 3)},
    claims=(
        Claim("hold", "the root stays, every link keeps its length", 1, holds, "1e-6 m", look_at=HOLD),
        Claim("limit", "no joint bends beyond the limit", 2, limit_kept, "1e-6 rad", look_at=LIMIT),
        Claim("within", "a chain within its limit stays as it is", 1, left_alone, "1e-6 m", look_at=LIMIT, applies=is_within),
        Claim("edge", "the first joint beyond goes to its limit, in its own plane and on its own side", 2, at_the_edge, "1e-6 m", look_at=EDGE, applies=has_side),
    ),
    worked=keep_limit,
    hint="Go from the root out: for i in range(1, len(p) - 1), the links before and after joint i, both at unit length.\n"
    "axis = np.cross(before, after); the bend is np.arctan2(length of axis, before @ after). Only if it is above the limit:\n"
    "turn all beyond joint i back by limit - bend about that axis: rk.rotation.from_axis_angle, then p[i + 1:] = p[i] + rk.rotation.rotate(turn, p[i + 1:] - p[i]).",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_limit,
)  # fmt: skip
