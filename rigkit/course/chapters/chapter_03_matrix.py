"""Checkpoint 03.3: the matrix of a quaternion (x, y, z, w).

Its columns are where the three axes go: v' = v + 2 w (q x v) + 2 q x (q x v), with
q the first three numbers, is Rodrigues' formula with half the angle. q and -q give
the same matrix, since every term holds two of the four numbers.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_03_show import show_matrix
from rigkit.course.chapters.chapter_03_turns import CLOSE, TURNS, four, in_degrees, quaternion, telling_quaternion, turned
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.rotation import to_matrix


def skew(m):
    """How far the columns are from length 1 and from square to each other: the largest entry of M^T M - 1."""
    return float(np.abs(m.T @ m - np.eye(3)).max())


def angle_of(m):
    """The angle of a rotation matrix, radians: from its trace and its skew part, exact for small angles too."""
    sine = np.linalg.norm([m[2, 1] - m[1, 2], m[0, 2] - m[2, 0], m[1, 0] - m[0, 1]])
    return float(np.arctan2(sine, np.trace(m) - 1))


# ---- the claims ------------------------------------------------------------------------------------------------


def is_rotation(case, answer, context):
    """Columns of length 1, square to each other, right-handed."""
    lengths, handed = np.linalg.norm(answer, axis=0), float(np.linalg.det(answer))
    off = skew(answer)
    worst = int(np.abs(lengths - 1).argmax())
    told = (
        f"column {'xyz'[worst]} has length {lengths[worst]:.4f}"
        if abs(lengths[worst] - 1) > CLOSE / 2
        else "two columns are not square to each other"
    )
    told = told if off > CLOSE else f"the determinant is {handed:.4f}: left-handed" if handed < 0 else "so they are"
    return Measure(
        off <= CLOSE and handed > 0, "three columns of length 1, square to each other, right-handed", told, max(off, float(handed < 0))
    )


def right_turn(case, answer, context):
    """Every point goes where the quaternion takes it."""
    right = to_matrix(case.inputs["q"])
    gap = float(np.linalg.norm(answer - right, 2))
    column = int(np.linalg.norm(answer - right, axis=0).argmax())
    turn = f"; another turn, by {in_degrees(angle_of(right.T @ answer))}" if skew(answer) <= CLOSE and np.linalg.det(answer) > 0 else ""
    return Measure(
        gap <= CLOSE,
        f"column {'xyz'[column]} is {four(right[:, column])}",
        f"{four(answer[:, column])}{turn if gap > CLOSE else ''}   (tolerance 1e-6)",
        gap,
    )


def above(case):
    """An ordinary quaternion, w above 0."""
    return case.inputs["q"][3] > 0 and not small(case)


def below(case):
    """The same turn written with w below 0."""
    return case.inputs["q"][3] < 0


def small(case):
    """No turn, or next to none."""
    return bool(np.linalg.norm(case.inputs["q"][:3]) < 1e-6)


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """A turn that a hand can check, turns that show a mistake (no half turn, no two numbers of one size), two as -q, no turn."""
    found = [telling_quaternion(rng) for _ in range(4)]
    axis = found[0][:3] / np.linalg.norm(found[0][:3])
    return [
        case("0.6 and 0.8", np.array([0, 0, 0.6, 0.8])),
        *(case("an oblique turn", q) for q in found),
        *(case("the same turn as -q", -q) for q in found[:2]),
        case("no turn", np.array([0, 0, 0, 1.0])),
        case("a billionth of a radian", quaternion(axis, 1e-9)),
    ]


def case(about, q):
    """A Case with its one input."""
    return Case(about, {"q": q})


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def matrix_of(q):
    """The worked answer."""
    v, w = q[:3], q[3]
    columns = [e + 2 * w * np.cross(v, e) + 2 * np.cross(v, np.cross(v, e)) for e in np.eye(3)]
    return np.column_stack(columns)


def w_first(q):
    """Read as (w, x, y, z)."""
    return matrix_of(q[[1, 2, 3, 0]])


def transposed(q):
    """The columns written as rows."""
    return matrix_of(q).T


def twos_left_out(q):
    """Both factors 2 are missing."""
    v, w = q[:3], q[3]
    return np.column_stack([e + w * np.cross(v, e) + np.cross(v, np.cross(v, e)) for e in np.eye(3)])


def half_the_angle(q):
    """arccos(w) taken for the whole angle."""
    v, angle = q[:3], np.arccos(np.clip(q[3], -1, 1))
    size = np.linalg.norm(v)
    return np.column_stack([turned(e, v / size, angle) for e in np.eye(3)]) if size > 0 else np.eye(3)


def by_the_axis(q):
    """Through axis and angle, with no thought of a turn that has no axis."""
    angle, axis = 2 * np.arccos(np.clip(q[3], -1, 1)), q[:3] / np.linalg.norm(q[:3])
    return np.column_stack([turned(e, axis, angle) for e in np.eye(3)])


def w_made_positive(q):
    """w made positive, the other three left."""
    return matrix_of(np.array([*q[:3], abs(q[3])]))


def first_cross_only(q):
    """The last term is left out."""
    v, w = q[:3], q[3]
    return np.column_stack([e + 2 * w * np.cross(v, e) for e in np.eye(3)])


FOUR, COLUMNS = "idea 2, four numbers", "idea 2, the columns"
MISTAKES = (
    Mistake(
        "wxyz",
        w_first,
        "q is read as (w, x, y, z); here w is the last of the four, q[3]",
        ("right", "minus", "none"),
        "the convention strip",
    ),
    Mistake("transposed", transposed, "the matrix is transposed: where an axis goes is a column, not a row", ("right", "minus"), COLUMNS),
    Mistake("twos left out", twos_left_out, "the factors 2 are missing in both terms", ("rotation", "right", "minus"), COLUMNS),
    Mistake("half the angle", half_the_angle, "arccos of w is half the angle: double it", ("right", "minus"), FOUR),
    Mistake("through the axis", by_the_axis, "no turn has no axis: 0 / 0 gives nan; the formula needs no axis", ("none",), COLUMNS),
    Mistake("w made positive", w_made_positive, "only w has lost its sign: -q is the same turn when all four change", ("minus",), FOUR),
    Mistake("last term left out", first_cross_only, "the last term, 2 q x (q x e), is missing", ("rotation", "right", "minus"), COLUMNS),
)

CHECKPOINT = Checkpoint(
    id="03.3",
    title="From a quaternion to a matrix",
    kind="function",
    names={"matrix_of": forms.array(3, 3)},
    claims=(
        Claim(
            "rotation",
            "its columns are of length 1, square to each other, right-handed",
            1,
            is_rotation,
            "1e-6",
            look_at=COLUMNS,
            applies=above,
        ),
        Claim("right", "it turns every point as the quaternion does", 3, right_turn, "1e-6", look_at=COLUMNS, applies=above),
        Claim("minus", "-q gives the same matrix", 1, right_turn, "1e-6", look_at=FOUR, applies=below),
        Claim(
            "none",
            "no turn, and one next to none, give the matrix that changes nothing",
            1,
            right_turn,
            "1e-6",
            look_at=COLUMNS,
            applies=small,
        ),
    ),
    worked=matrix_of,
    hint="v = q[:3], w = q[3]. Turn each of the three axes, the rows of np.eye(3), by the formula under the drawing.\n"
    "np.cross(v, e) once for the middle term, np.cross(v, np.cross(v, e)) for the last; both times 2.\n"
    "np.column_stack([a, b, c]) puts three arrows side by side as columns.",
    mistakes=MISTAKES,
    cases=cases,
    closed=TURNS,
    show=show_matrix,
)
