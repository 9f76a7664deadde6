"""Checkpoint 05.1: points and frames mirrored over a plane in any position, the frames still turns.

A point goes straight across, twice its height: p' = p - 2 ((p - q) . n) n. A frame's
image M R is left-handed; an odd number of its own axes turned round, M R S, makes it
a turn again. Which ones is left open here. Source: algebra.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_05_planes import (
    BOOK,
    CLOSE,
    between,
    direction,
    in_degrees,
    not_a_turn,
    reflection,
    some_turn,
)
from rigkit.course.chapters.chapter_05_show import show_mirror
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.words import point as told_point
from rigkit.words import told_length

ARGUMENTS = ("points", "frames", "plane_point", "plane_normal")
HEIGHT, IMAGE, SIGNS, NORMAL = "idea 1, step 2", "idea 1, step 3", "idea 1, step 4", "idea 1, step 1"


def inputs_of(case):
    """points (n, 3), frames (n, 3, 3), plane's point (3,) and normal (3,) of a case."""
    return tuple(np.asarray(case.inputs[name], float) for name in ARGUMENTS)


def images(points, plane_point, plane_normal):
    """Where the points belong, (n, 3)."""
    return plane_point + (points - plane_point) @ reflection(plane_normal)


def is_unit(case):
    """Whether the normal has length 1."""
    return abs(np.linalg.norm(case.inputs["plane_normal"]) - 1) < 1e-9


def is_long(case):
    """Whether it has another length."""
    return not is_unit(case)


# ---- the claims ------------------------------------------------------------------------------------------------


def one_each(measure):
    """The claim's measure, for an answer with a point and a frame for each point given."""

    def measured(case, answer, context):
        n = len(case.inputs["points"])
        if len(answer[0]) != n or len(answer[1]) != n:
            return Measure(False, f"{n} points and {n} frames", f"{len(answer[0])} points and {len(answer[1])} frames", np.inf)
        return measure(case, answer)

    return measured


def points_off(case, answer):
    """A Measure of the points against where they belong; told by the worst."""
    points, _, q, n = inputs_of(case)
    right = images(points, q, n)
    off = np.linalg.norm(answer[0] - right, axis=1)
    worst = int(off.argmax())
    return Measure(
        bool(off[worst] <= CLOSE),
        f"point {worst}, {told_point(points[worst])} m, at {told_point(right[worst], 4)} m",
        f"{told_point(answer[0][worst], 4)} m, {told_length(float(off[worst]))} away   (tolerance 1e-6 m)",
        float(off[worst]),
        proved(case, answer[0]) if off[worst] > CLOSE else "",
    )


def proved(case, got):
    """What the places alone prove, whichever axes of the frames were turned round: a learner chooses those freely."""
    points, _, q, n = inputs_of(case)
    scaled = [points - 2 * np.outer((points - q) @ a, b) for a, b in ((n, n), (n / np.linalg.norm(n), n), (n, n / np.linalg.norm(n)))]
    known = (
        (images(points, np.zeros(3), n), "the plane's point was left out: this mirrors over a plane through the origin"),
        ((points + images(points, q, n)) / 2, "the points were put onto the plane; the image lies beyond it, twice the height"),
        *((one, "the formula needs the normal at length 1; bring it there first, in both its places") for one in scaled),
    )
    return next((told for places, told in known if np.abs(places - got).max() <= CLOSE), "")


points_across = one_each(points_off)


@one_each
def frames_turn(case, answer):
    """Each frame is a turn: right-handed, axes of length 1, square to each other."""
    gap, told = not_a_turn(answer[1])
    return Measure(gap <= CLOSE, "turns: axes of length 1, square to each other, right-handed", told, gap)


@one_each
def axes_on_images(case, answer):
    """Each axis lies on the image of the axis it was, or against it."""
    _, frames, _, n = inputs_of(case)
    gap, told = axes_off(frames, answer[1], reflection(n))
    return Measure(gap <= CLOSE, "each axis on the image of the same axis, or against it", told, gap)


def axes_off(frames, got, mirror):
    """(radians, words) of the axis that is farthest from its image's line."""
    off = np.array([[min(between(mirror @ a, b), between(mirror @ a, -b)) for a, b in zip(f.T, g.T)] for f, g in zip(frames, got)])
    row, k = np.unravel_index(off.argmax(), off.shape)
    return float(off[row, k]), f"frame {row}: {'xyz'[k]} is {in_degrees(off[row, k])} off that line   (tolerance 1e-6 rad)"


@one_each
def long_normal(case, answer):
    """A normal of another length gives the same plane."""
    told = points_off(case, answer)
    if not told.ok:
        return told
    _, frames, _, n = inputs_of(case)
    gap, words = axes_off(frames, answer[1], reflection(n))
    return Measure(gap <= CLOSE, "the same as for a normal of length 1", words, gap)


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """One for a hand, Tally's limbs over their own plane, planes beside the origin and oblique ones, points on the plane, long normals."""
    marks = context.robot.landmarks
    arm = [marks[f"left_{name}"] for name in ("shoulder", "elbow", "wrist")]
    leg = [marks[f"left_{name}"] for name in ("hip", "knee", "ankle")]
    origin, x = np.zeros(3), np.array([1.0, 0, 0])
    n, q = direction(rng), rng.uniform(0.3, 0.9, 3).round(2)
    flat = rng.normal(size=(3, 3))
    return [
        case("easy to check by hand", [[0.2, 1.0, 0.3]], [np.eye(3)], origin, x),
        case("left arm over x = 0", arm, [some_turn(rng) for _ in arm], origin, x),
        case("left leg over x = 0.3", leg, [some_turn(rng) for _ in leg], [0.3, 0, 0], x),
        case("over the floor", arm, [some_turn(rng) for _ in arm], origin, [0, 1.0, 0]),
        case("oblique plane through the origin", rng.uniform(-1, 1, (4, 3)), [some_turn(rng) for _ in range(4)], origin, n),
        case("oblique plane anywhere", rng.uniform(-1, 1, (4, 3)), [some_turn(rng) for _ in range(4)], q, direction(rng)),
        case("points of the plane", q + flat - np.outer(flat @ n, n), [some_turn(rng) for _ in range(3)], q, n),
        case("a long normal", rng.uniform(-1, 1, (3, 3)), [some_turn(rng) for _ in range(3)], q[[1, 2, 0]], 3.0 * direction(rng)),
        case("a short normal", rng.uniform(-1, 1, (2, 3)), [some_turn(rng) for _ in range(2)], q[[2, 0, 1]], 0.2 * direction(rng)),
    ]


def case(about, points, frames, plane_point, plane_normal):
    """A Case; the panel tells the plane."""
    values = (np.array(points, float), np.array(frames, float), np.array(plane_point, float), np.array(plane_normal, float))
    return Case(about, dict(zip(ARGUMENTS, values)), tell=("plane_point", "plane_normal"))


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def mirrored(points, frames, plane_point, plane_normal):
    """The worked answer."""
    n = plane_normal / np.linalg.norm(plane_normal)
    m = np.eye(3) - 2 * np.outer(n, n)
    return points - 2 * np.outer((points - plane_point) @ n, n), m @ frames @ np.diag([-1.0, -1.0, -1.0])


def x_negated(points, frames, plane_point, plane_normal):
    """The plane is taken to be x = 0."""
    flip = np.diag([-1.0, 1.0, 1.0])
    return points @ flip, -flip @ frames


def image_only(points, frames, plane_point, plane_normal):
    """M R, left-handed."""
    there, frames = mirrored(points, frames, plane_point, plane_normal)
    return there, -frames


def two_signs(points, frames, plane_point, plane_normal):
    """Two own axes turned round: still left-handed."""
    there, frames = mirrored(points, frames, plane_point, plane_normal)
    return there, frames @ np.diag([1.0, 1.0, -1.0])


def through_the_origin(points, frames, plane_point, plane_normal):
    """The plane's point is left out."""
    return mirrored(points, frames, np.zeros(3), plane_normal)


def onto_the_plane(points, frames, plane_point, plane_normal):
    """Once the height, not twice."""
    there, frames = mirrored(points, frames, plane_point, plane_normal)
    return (points + there) / 2, frames


def both_sides(points, frames, plane_point, plane_normal):
    """M R M."""
    there, frames = mirrored(points, frames, plane_point, plane_normal)
    n = plane_normal / np.linalg.norm(plane_normal)
    return there, -frames @ (np.eye(3) - 2 * np.outer(n, n))


def signs_in_front(points, frames, plane_point, plane_normal):
    """S M R."""
    there, frames = mirrored(points, frames, plane_point, plane_normal)
    return there, np.diag([1.0, -1.0, -1.0]) @ frames


def m_behind(points, frames, plane_point, plane_normal):
    """R M S: the mirror in the frame's own axes."""
    there, _ = mirrored(points, frames, plane_point, plane_normal)
    n = plane_normal / np.linalg.norm(plane_normal)
    return there, -frames @ (np.eye(3) - 2 * np.outer(n, n))


def frames_left(points, frames, plane_point, plane_normal):
    """The frames stand as they stood."""
    return mirrored(points, frames, plane_point, plane_normal)[0], frames.copy()


def axes_exchanged(points, frames, plane_point, plane_normal):
    """The image made right-handed by exchanging two of its axes."""
    there, frames = mirrored(points, frames, plane_point, plane_normal)
    return there, -frames[:, :, [1, 0, 2]]


def normal_as_it_comes(points, frames, plane_point, plane_normal):
    """The normal at the length it has."""
    n = plane_normal
    m = np.eye(3) - 2 * np.outer(n, n)
    return points - 2 * np.outer((points - plane_point) @ n, n), -m @ frames


MISTAKES = (
    Mistake(
        "only x negated",
        x_negated,
        "only x was negated: that mirrors over the plane x = 0 and no other; take the plane from its point and normal",
        ("points", "axes"),
        NORMAL,
    ),
    Mistake(
        "left-handed",
        image_only,
        "this is M R, the bare image: its determinant is -1, and no turn has that. Turn an odd number of its own axes round",
        ("turn",),
        SIGNS,
    ),
    Mistake("two signs", two_signs, "two axes turned round leave the determinant at -1; it takes one or all three", ("turn",), SIGNS),
    Mistake(
        "through the origin",
        through_the_origin,
        "the plane's point was left out: this mirrors over a plane through the origin",
        ("points",),
        HEIGHT,
    ),
    Mistake(
        "onto the plane",
        onto_the_plane,
        "the points were put onto the plane; the image lies beyond it, twice the height",
        ("points",),
        HEIGHT,
    ),
    Mistake(
        "M on both sides",
        both_sides,
        "this is M R M: a turn, but M behind R mixes the frame's own axes unless the normal is one of x, y, z",
        ("axes",),
        SIGNS,
    ),
    Mistake(
        "M behind",
        m_behind,
        "M stands behind R: there it mirrors in the frame's own axes; the mirror stands in the world, so it goes in front",
        ("axes",),
        IMAGE,
    ),
    Mistake(
        "signs in front",
        signs_in_front,
        "signs in front of M R change the world's x, y, z; the frame's own axes are its columns: S goes behind",
        ("axes",),
        SIGNS,
    ),
    Mistake(
        "axes exchanged",
        axes_exchanged,
        "two axes were exchanged: that is right-handed too, but then y lies where x was. Turn axes round instead",
        ("axes",),
        SIGNS,
    ),
    Mistake("frames left", frames_left, "the frames stand as they stood: only the points were mirrored", ("axes",), IMAGE),
    Mistake(
        "length of the normal", normal_as_it_comes, "the formula needs the normal at length 1; bring it there first", ("long",), NORMAL
    ),
)

CHECKPOINT = Checkpoint(
    id="05.1",
    title="Points and frames in the mirror",
    kind="function",
    names={"mirrored": forms.several(forms.array(None, 3), forms.array(None, 3, 3))},
    claims=(
        Claim(
            "points", "each point straight across the plane, as far behind it", 2, points_across, "1e-6 m", look_at=HEIGHT, applies=is_unit
        ),
        Claim("turn", "each frame is a turn, right-handed", 2, frames_turn, "1e-6", look_at=SIGNS, applies=is_unit),
        Claim(
            "axes", "each axis on the image of the same axis, or against it", 2, axes_on_images, "1e-6 rad", look_at=IMAGE, applies=is_unit
        ),
        Claim("long", "a normal of another length gives the same", 1, long_normal, "1e-6", look_at=NORMAL, applies=is_long),
    ),
    worked=mirrored,
    hint="First n, the normal at length 1, and M = np.eye(3) - 2 * np.outer(n, n).\n"
    "Heights of all points at once: (points - plane_point) @ n. Each point goes back by twice its height along n: np.outer(heights, n).\n"
    "M @ frames are the images of all frames, left-handed. Turn one own axis round, or all three: @ np.diag([-1, 1, 1]), or a minus.",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_mirror,
)
