"""Checkpoint 04.3: a wobbly chain put on the plane through its two ends that fits the rest best.

Every plane through both ends is one turned about the line between them. Taking off
what runs along that line leaves each joint's way off it, a point of a plane square
to it; the main direction of these is where the chain bends to. Least squares by
the singular value decomposition (Eckart & Young, Psychometrika 1 (1936) 211 (memory)).
"""

import numpy as np

from rigkit import bend as bends
from rigkit.course import forms
from rigkit.course.chapters.chapter_04_show import show_flat
from rigkit.course.chapters.chapter_04_vectors import (
    BOOK,
    CLOSE,
    in_degrees,
    unit,
)
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

LINE, MAIN, PUT, STILL = "idea 2, step 4", "idea 2, step 5", "idea 2, step 6", "idea 2, nothing to flatten"


def chain_of(case):
    """The points (n, 3) of a case."""
    return np.asarray(case.inputs["points"], float)


def expected(points):
    """The package's flat chain; the points themselves where they lie on one line."""
    try:
        return bends.flatten(points)
    except ValueError:
        return points


def wobbles(case):
    """Whether anything stands off the best plane."""
    points = chain_of(case)
    return bool(np.abs(expected(points) - points).max() > 1e-9)


def still(case):
    """Whether there is nothing to flatten."""
    return not wobbles(case)


def across(points, ends):
    """Each point's part square to the line between the ends of `ends`, (n, 3)."""
    line = unit(ends[-1] - ends[0])
    off = points - ends[0]
    return off - np.outer(off @ line, line)


# ---- the claims ------------------------------------------------------------------------------------------------


def on_chains(measure):
    """The claim's measure, for an answer with a row for each joint."""

    def measured(case, answer, context):
        points = chain_of(case)
        if len(answer) != len(points):
            return Measure(False, f"a point for each of the {len(points)} joints", f"{len(answer)} points", np.inf)
        return measure(points, answer)

    return measured


@on_chains
def ends_stay(points, answer):
    """First and last joint have not moved."""
    gaps = np.linalg.norm(answer - points, axis=1)[[0, -1]]
    which = ("first", "last")[int(gaps.argmax())]
    return Measure(
        bool(gaps.max() <= CLOSE),
        "both ends where they were",
        f"the {which} joint moved by {told_length(gaps.max())}   (tolerance 1e-6 m)",
        float(gaps.max()),
    )


@on_chains
def flat(points, answer):
    """All joints lie on one plane that holds both ends."""
    off = across(answer, points)
    gap = float(np.linalg.svd(off)[1][1])
    return Measure(
        gap <= CLOSE, "all joints on one plane, with both ends", f"they stand off it by {told_length(gap)}   (tolerance 1e-6 m)", gap
    )


@on_chains
def best(points, answer):
    """Every joint is where the best plane puts it."""
    right = expected(points)
    gap = float(np.linalg.norm(answer - right, axis=1).max())
    moves = [float(np.sqrt(np.mean(np.square(to - points).sum(axis=1)))) for to in (right, answer)]
    told = f"off by up to {told_length(gap)}; moved by {told_length(moves[1])}   (tolerance 1e-6 m)"
    return Measure(
        gap <= CLOSE,
        f"the joints move by as little as can be: {told_length(moves[0])} (root mean square)",
        told,
        gap,
        cause_of(points, answer, right),
    )


def cause_of(points, answer, right):
    """What a measurement proves: a plane turned about the line, or a chain that has lost its bend."""
    mine, theirs = across(right, points), across(answer, points)
    if np.linalg.norm(theirs) < 1e-3 * np.linalg.norm(mine):
        return "the joints ended on the line between the ends: the bend itself is gone"
    one, other = np.linalg.svd(mine)[2][0], np.linalg.svd(theirs)
    if other[1][1] > CLOSE or np.abs(answer[[0, -1]] - points[[0, -1]]).max() > CLOSE:
        return ""
    turned = float(np.arccos(np.clip(abs(one @ other[2][0]), 0, 1)))
    return f"your plane is turned by {in_degrees(turned)} about the line between the ends" if turned > 1e-4 else ""


@on_chains
def unchanged(points, answer):
    """What is flat, or straight, stays."""
    gap = float(np.linalg.norm(answer - points, axis=1).max())
    return Measure(
        gap <= CLOSE,
        "a chain that is flat or straight comes back as it was",
        f"a joint moved by {told_length(gap)}   (tolerance 1e-6 m)",
        gap,
    )


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """Tally's hose as placed by hand, a chain that a hand can check, bows and waves, and those with nothing to flatten."""
    return [
        case("the hose, placed by hand", context.given["hose"]),
        case("four joints, for a hand", [[0, 0, 0], [1, 0.5, 0.01], [2, 0.5, -0.01], [3, 0, 0]]),
        bow("a bow", rng, 6, 0.10, 0.006),
        bow("nearly straight", rng, 8, 0.012, 0.005, crowd=1.8),
        bow("a wave", rng, 9, 0.08, 0.006, waves=2),
        bow("few joints", rng, 4, 0.06, 0.006),
        bow("large, far away", rng, 7, 2.0, 0.1, size=10.0),
        bow("joints crowded at one end", rng, 9, 0.10, 0.006, crowd=2.5),
        bow("three joints", rng, 3, 0.05, 0.0),
        bow("flat already", rng, 7, 0.08, 0.0),
        straight("straight", rng),
        case("straight, down", [[0, 1, 0], [0, 0.8, 0], [0, 0.5, 0], [0, 0.4, 0]]),
    ]


def case(about, points):
    """A Case with its chain."""
    return Case(about, {"points": np.array(points, float)})


def bow(about, rng, n, high, wobble, waves=1, size=0.5, crowd=1.0):
    """A chain of n joints in an oblique plane, `high` metres off its line; joints about `wobble` off the plane, to either side."""
    x, y, z = np.linalg.qr(rng.normal(size=(3, 3)))[0].T
    t = np.linspace(0, 1, n) ** crowd
    side = wobble * (-1) ** np.arange(n) * rng.uniform(0.5, 1.0, n) * (np.arange(n) % (n - 1) > 0)
    points = rng.uniform(0.2, 0.9, 3) * size + size * np.outer(t, x) + np.outer(high * np.sin(np.pi * waves * t), y) + np.outer(side, z)
    return case(about, points)


def straight(about, rng):
    """Five joints on an oblique line."""
    start, way = rng.uniform(0.2, 0.9, 3), rng.uniform(0.1, 0.4, 3)
    return case(about, start + np.outer([0, 0.2, 0.5, 0.7, 1], way))


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def flatten(points):
    """The worked answer."""
    line = (points[-1] - points[0]) / np.linalg.norm(points[-1] - points[0])
    off = points - points[0]
    off = off - np.outer(off @ line, line)
    main = np.linalg.svd(off)[2][0]
    normal = np.cross(line, main)
    return points - np.outer((points - points[0]) @ normal, normal)


def put_on(points, normal, through):
    """Each point moved square onto the plane through a point."""
    return points - np.outer((points - through) @ normal, normal)


def drop_x(points):
    """One coordinate made that of the root."""
    return np.column_stack([np.full(len(points), points[0, 0]), points[:, 1:]])


def drop_z(points):
    """The same with z."""
    return np.column_stack([points[:, :2], np.full(len(points), points[0, 2])])


def free_plane(points):
    """The best plane of all, through the mean of the joints: the ends leave their places."""
    middle = points.mean(axis=0)
    return put_on(points, np.linalg.svd(points - middle)[2][2], middle)


def free_plane_at_root(points):
    """The same normal, through the root."""
    return put_on(points, np.linalg.svd(points - points.mean(axis=0))[2][2], points[0])


def free_plane_made_square(points):
    """The same normal, made square to the line: a plane through both ends, but not the best one."""
    line = (points[-1] - points[0]) / np.linalg.norm(points[-1] - points[0])
    normal = np.linalg.svd(points - points.mean(axis=0))[2][2]
    normal = normal - (normal @ line) * line
    size = np.linalg.norm(normal)
    return put_on(points, normal / size, points[0]) if size > 1e-9 else points.copy()


def through_the_middle(points):
    """The plane of both ends and the middle joint alone."""
    normal = np.cross(points[len(points) // 2] - points[0], points[-1] - points[0])
    size = np.linalg.norm(normal)
    return put_on(points, normal / size, points[0]) if size > 1e-9 else points.copy()


def least_for_main(points):
    """The last direction of the decomposition, which is the line itself: nothing stands off along it."""
    line = (points[-1] - points[0]) / np.linalg.norm(points[-1] - points[0])
    off = points - points[0]
    off = off - np.outer(off @ line, line)
    return put_on(points, np.linalg.svd(off)[2][2], points[0])


def main_for_normal(points):
    """The main direction taken for the normal: the bend is flattened, the wobble kept."""
    line = (points[-1] - points[0]) / np.linalg.norm(points[-1] - points[0])
    off = points - points[0]
    off = off - np.outer(off @ line, line)
    return put_on(points, np.linalg.svd(off)[2][0], points[0])


def onto_the_line(points):
    """Put on the line, not on a plane."""
    line = (points[-1] - points[0]) / np.linalg.norm(points[-1] - points[0])
    return points[0] + np.outer((points - points[0]) @ line, line)


def along_left_in(points):
    """The part along the line not taken off: the main direction is then nearly the line."""
    line = (points[-1] - points[0]) / np.linalg.norm(points[-1] - points[0])
    normal = np.cross(line, np.linalg.svd(points - points[0])[2][0])
    size = np.linalg.norm(normal)
    return put_on(points, normal / size, points[0]) if size > 1e-9 else points.copy()


def bends_added_up(points):
    """The triangles of the chain, seen from the root, added up as arrows: in a wave they cancel, in a straight chain all are nothing."""
    ways = points - points[0]
    normal = np.cross(ways[:-1], ways[1:]).sum(axis=0)
    return put_on(points, normal / np.linalg.norm(normal), points[0])


MISTAKES = (
    Mistake(
        "x dropped",
        drop_x,
        "one coordinate, x, was made the same for all: right only for a plane that faces along x",
        ("best",),
        "idea 2, the wobbly chain",
    ),
    Mistake(
        "z dropped",
        drop_z,
        "one coordinate, z, was made the same for all: right only for a plane that faces along z",
        ("best",),
        "idea 2, the wobbly chain",
    ),
    Mistake("free plane", free_plane, "this is the best plane of all; it need not hold the ends, and they have moved", ("ends",), LINE),
    Mistake(
        "free plane at the root",
        free_plane_at_root,
        "a free best plane was shifted to the root: the other end is still off it",
        ("ends",),
        LINE,
    ),
    Mistake(
        "free plane made square",
        free_plane_made_square,
        "a free best plane was turned until it holds both ends: degrees off the one that fits best among those",
        ("best",),
        MAIN,
    ),
    Mistake(
        "through the middle joint",
        through_the_middle,
        "the plane of both ends and one joint: that joint's own slip decides for all",
        ("best",),
        MAIN,
    ),
    Mistake(
        "last direction",
        least_for_main,
        "the last direction is the line itself, along which nothing is left; take the first, the main one",
        ("best",),
        MAIN,
    ),
    Mistake(
        "main for normal",
        main_for_normal,
        "the main direction lies in the plane; the normal is square to it and to the line",
        ("best",),
        MAIN,
    ),
    Mistake("on the line", onto_the_line, "the joints were put on the line between the ends; the bend is gone", ("best",), PUT),
    Mistake("along left in", along_left_in, "the part along the line was left in, and it drowns the bend", ("best",), LINE),
    Mistake(
        "bends added up",
        bends_added_up,
        "the bends were added up for a normal: in a wave they cancel, in a straight chain it is 0 / 0",
        ("best", "still"),
        MAIN,
    ),
)

CHECKPOINT = Checkpoint(
    id="04.3",
    title="A chain put on its plane",
    kind="function",
    names={"flatten": forms.array(None, 3)},
    claims=(
        Claim("ends", "both ends stay", 1, ends_stay, "1e-6 m", look_at=LINE, applies=wobbles),
        Claim("flat", "all joints lie on one plane, with both ends", 1, flat, "1e-6 m", look_at=PUT, applies=wobbles),
        Claim(
            "best",
            "it is the plane that fits the rest best, and joints move square to it",
            3,
            best,
            "1e-6 m",
            look_at=MAIN,
            applies=wobbles,
        ),
        Claim("still", "flat already, or straight: the chain comes back as it was", 1, unchanged, "1e-6 m", look_at=STILL, applies=still),
    ),
    worked=flatten,
    hint="line = the way from the first to the last joint, at length 1. "
    "off = points - points[0], less each row's part along the line: np.outer(off @ line, line).\n"
    "np.linalg.svd(off)[2][0] is the direction in which these ways are largest together. The plane's normal is np.cross(line, main).\n"
    "Take off each joint's part along the normal, measured from the first joint.",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_flat,
)
