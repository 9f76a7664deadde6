"""Checkpoint 05.2: matched frames, in which equal turns on both sides are mirror images.

A turn D of the world is M D M in the mirror. From rest, the frame R turned by Q of its
own axes has turned the world by R Q R^T; the other side, R' Q R'^T, is to be its image
for every Q. That holds for R' = -M R and for no other turn. Source: algebra.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_05_planes import (
    BOOK,
    CLOSE,
    direction,
    in_degrees,
    move_off,
    not_a_turn,
    reflection,
    some_turn,
    turn_off,
)
from rigkit.course.chapters.chapter_05_show import show_matched
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake

ARGUMENTS = ("frames", "normal")
WAYS, TURNS, MOVES, HAND = "idea 2, step 1", "idea 2, step 3", "idea 2, step 4", "idea 1, step 4"


def one_each(measure):
    """The claim's measure, for an answer with a frame for each frame given."""

    def measured(case, answer, context):
        frames, normal = (np.asarray(case.inputs[name], float) for name in ARGUMENTS)
        if len(answer) != len(frames):
            return Measure(False, f"{len(frames)} frames", f"{len(answer)} frames", np.inf)
        return measure(frames, reflection(normal), answer)

    return measured


@one_each
def frames_turn(frames, mirror, answer):
    """Each frame is a turn."""
    gap, told = not_a_turn(answer)
    return Measure(gap <= CLOSE, "turns: axes of length 1, square to each other, right-handed", told, gap)


@one_each
def equal_turns(frames, mirror, answer):
    """+30 degrees about an own axis, on both sides, are mirror images."""
    off = np.array([[turn_off(f, g, mirror, k, 1) for k in range(3)] for f, g in zip(frames, answer)])
    row, _ = np.unravel_index(off.argmax(), off.shape)
    told = ", ".join(f"{axis} {np.degrees(gap):.4g}" for axis, gap in zip("xyz", off[row]))
    return Measure(
        bool(off.max() <= CLOSE),
        "+30 degrees about x, y or z, on both sides: the other side is the mirror image",
        f"frame {row}, degrees off the image when turned about each axis: {told}   (tolerance 1e-6 rad)",
        float(off.max()),
    )


@one_each
def opposite_moves(frames, mirror, answer):
    """A move along an own axis is mirrored by the opposite number."""
    off = np.array([[move_off(f, g, mirror, k, -1) for k in range(3)] for f, g in zip(frames, answer)])
    row, k = np.unravel_index(off.argmax(), off.shape)
    return Measure(
        bool(off.max() <= CLOSE),
        "+0.1 m along an axis is mirrored by -0.1 m along the other one's",
        f"frame {row}, along {'xyz'[k]}: the move points {in_degrees(off[row, k])} off its image   (tolerance 1e-6 rad)",
        float(off.max()),
    )


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """One for a hand, Tally's limbs over their own plane, the floor, oblique planes."""
    world = context.robot.skeleton.rest_world.rotations
    limbs = [
        [matrix_of(world[context.robot.skeleton.index(f"left_{name}_joint")]) for name in names]
        for names in (("shoulder", "elbow", "wrist"), ("hip", "knee", "ankle"))
    ]
    x = [1.0, 0, 0]
    return [
        case("like the world, over x = 0", [np.eye(3)], x),
        case("left arm over x = 0", limbs[0], x),
        case("left leg over x = 0", limbs[1], x),
        case("over the floor", [some_turn(rng) for _ in range(2)], [0, 1.0, 0]),
        case("oblique plane", [some_turn(rng) for _ in range(3)], direction(rng)),
        case("another oblique plane", [some_turn(rng) for _ in range(2)], direction(rng)),
    ]


def matrix_of(q):
    """The matrix of a quaternion (x, y, z, w)."""
    v, w = np.asarray(q[:3]), q[3]
    cross = np.array([[0, -v[2], v[1]], [v[2], 0, -v[0]], [-v[1], v[0], 0]])
    return np.eye(3) + 2 * w * cross + 2 * cross @ cross


def case(about, frames, normal):
    """A Case; the panel tells the plane."""
    return Case(about, {"frames": np.array(frames, float), "normal": np.array(normal, float)}, tell=("normal",))


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def matched(frames, normal):
    """The worked answer."""
    return -(np.eye(3) - 2 * np.outer(normal, normal)) @ frames


def parallel(frames, normal):
    """The other way: x turned round only."""
    return matched(frames, normal) @ np.diag([1.0, -1.0, -1.0])


def y_round(frames, normal):
    """y turned round only."""
    return matched(frames, normal) @ np.diag([-1.0, 1.0, -1.0])


def z_round(frames, normal):
    """z turned round only."""
    return matched(frames, normal) @ np.diag([-1.0, -1.0, 1.0])


def left_handed(frames, normal):
    """The bare image."""
    return -matched(frames, normal)


def x_negated(frames, normal):
    """The plane is taken to be x = 0."""
    return np.diag([1.0, -1.0, -1.0]) @ frames


def both_sides(frames, normal):
    """M R M."""
    m = np.eye(3) - 2 * np.outer(normal, normal)
    return m @ frames @ m


def m_behind(frames, normal):
    """M behind R: it mirrors in the frame's own axes."""
    return -frames @ (np.eye(3) - 2 * np.outer(normal, normal))


def not_mirrored(frames, normal):
    """The frames as they are."""
    return frames.copy()


def turned_back(frames, normal):
    """The image's inverse: rows for columns."""
    return np.swapaxes(matched(frames, normal), 1, 2).copy()


MISTAKES = (
    Mistake(
        "parallel for matched",
        parallel,
        "only x was turned round: these are the parallel frames; turns about y and z go the wrong way",
        ("turns", "moves"),
        WAYS,
    ),
    Mistake(
        "y turned round", y_round, "only y was turned round: turns about x and z go the wrong way; matched is all three", ("turns",), WAYS
    ),
    Mistake(
        "z turned round", z_round, "only z was turned round: turns about x and y go the wrong way; matched is all three", ("turns",), WAYS
    ),
    Mistake("left-handed", left_handed, "this is M R, the bare image, left-handed: a sign for every own axis is missing", ("turn",), HAND),
    Mistake(
        "plane x = 0",
        x_negated,
        "this is right for the plane x = 0 only; make M from the normal: np.eye(3) - 2 * np.outer(n, n)",
        ("turns",),
        WAYS,
    ),
    Mistake(
        "M on both sides",
        both_sides,
        "this is M R M: right for nothing but turns of the world, M D M. A frame has its M in front, its signs behind",
        ("turns",),
        WAYS,
    ),
    Mistake(
        "M behind",
        m_behind,
        "M stands behind the frames: there it mirrors in their own axes; the mirror stands in the world, so it goes in front",
        ("turns",),
        WAYS,
    ),
    Mistake(
        "not mirrored", not_mirrored, "the frames are as they were: turns on both sides go the same way, not mirrored", ("turns",), WAYS
    ),
    Mistake(
        "rows for columns", turned_back, "the matrix is transposed: a frame's axes are its columns", ("turns",), "the convention strip"
    ),
)

CHECKPOINT = Checkpoint(
    id="05.2",
    title="Matched frames",
    kind="function",
    names={"matched": forms.array(None, 3, 3)},
    claims=(
        Claim("turn", "each frame is a turn, right-handed", 1, frames_turn, "1e-6", look_at=HAND),
        Claim("turns", "equal turns on both sides are mirror images", 3, equal_turns, "1e-6 rad", look_at=TURNS),
        Claim("moves", "moves along an own axis need the opposite sign", 1, opposite_moves, "1e-6 rad", look_at=MOVES),
    ),
    worked=matched,
    hint="M as in 05.1, from the normal, which has length 1 here.\n"
    "M @ frames are the images; matched means that all three own axes are turned round: S = -I.\n"
    "A minus in front of the whole is the same as a minus for every axis.",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_matched,
)
