"""Checkpoint 08.2: an outline that encloses its part, and can be seen and picked with the whole figure in view.

A flat outline is looked at along its axis. It encloses the part where no point of the
part's picture is outside it, and that is so exactly where the corners of the picture's
convex hull and the lines between them are inside. Size: a twentieth of the figure's height,
as `rigkit.outline` and the audit have it.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_04_vectors import CLOSE, square, unit
from rigkit.course.chapters.chapter_08_measures import circle, off_axis
from rigkit.course.chapters.chapter_08_show import show_outline
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.words import millimetres, told_length

ARGUMENTS = ("part", "pivot", "axis", "height")
STEP = ("idea 1, step 1", "idea 1, step 2", "idea 1, step 3", "idea 1, step 4")
MARGIN, SHARE = 0.05, 20  # of the part's own radius; a twentieth of the figure
WIDE = 0.98  # of a twentieth: a polygon is a little narrower than its circle
MOST = 200  # points of a part that are looked at


def outline(part, pivot, axis, height):
    """The worked answer: a circle of 32 corners about the axis."""
    off = part - pivot
    off = off - np.outer(off @ axis, axis)
    radius = max(1.1 * np.linalg.norm(off, axis=1).max(), height / 40)
    across = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
    across = across / np.linalg.norm(across)
    turn = np.linspace(0, 2 * np.pi, 32, endpoint=False)[:, None]
    return pivot + radius * (np.cos(turn) * across + np.sin(turn) * np.cross(axis, across))


# ---- in the plane ----------------------------------------------------------------------------------------------


def told(case):
    """part (N, 3), pivot (3,), axis (3,) and height of a case."""
    return [np.asarray(case.inputs[name], float) for name in ARGUMENTS]


def axes_across(axis):
    """Two directions square to an axis and to each other, (2, 3)."""
    across = unit(square(np.eye(3)[np.argmin(np.abs(axis))], axis))
    return np.array([across, np.cross(axis, across)])


def radius_of(part, pivot, axis):
    """The farthest that a part reaches from the axis through the pivot, metres."""
    return float(np.linalg.norm((part - pivot) @ axes_across(axis).T, axis=1).max())


def hull(points):
    """The corners of the convex hull of points (N, 2), in order (Andrew, Information Processing Letters 9 (1979) 216 (memory))."""
    points = sorted(map(tuple, points))

    def half(run):
        kept = []
        for p in run:
            while len(kept) > 1 and _left_turn(kept[-2], kept[-1], p) <= 0:
                kept.pop()
            kept.append(p)
        return kept[:-1]

    return np.array(half(points) + half(points[::-1]))


def _left_turn(a, b, c):
    """Above zero where the way from a over b to c turns left; twice the area between."""
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])


def room(part, line):
    """How far a closed line (M, 2) stays off what it encloses (N, 2), metres; below zero where a point of it is outside, or reached through."""
    corners = hull(part)
    share = np.linspace(0, 1, 8, endpoint=False)[:, None, None]
    rim = ((1 - share) * corners + share * np.roll(corners, -1, axis=0)).reshape(-1, 2)
    start, way = line, np.roll(line, -1, axis=0) - line
    at = np.einsum("nmk,mk->nm", rim[:, None] - start, way) / np.maximum((way**2).sum(axis=1), 1e-18)
    gaps = np.linalg.norm(start + np.clip(at, 0, 1)[..., None] * way - rim[:, None], axis=2).min(axis=1)
    return float(np.where(winding(rim, line) != 0, gaps, -gaps).min())


def winding(points, line):
    """How often a closed line (M, 2) goes round each of points (N, 2): the sum of the turns it is seen under."""
    seen = line - points[:, None]
    following = np.roll(seen, -1, axis=1)
    turns = np.arctan2(
        seen[..., 0] * following[..., 1] - seen[..., 1] * following[..., 0],
        (seen * following).sum(axis=2),
    )
    return np.round(turns.sum(axis=1) / (2 * np.pi)).astype(int)


def few(answer):
    """A Measure that says that there are too few points, or None."""
    if 3 <= len(answer) <= 500:
        return None
    return Measure(False, "a closed line of 3 to 500 points", f"{len(answer)} points", np.inf)


# ---- the claims ------------------------------------------------------------------------------------------------


def lies_flat(case, answer, context):
    """All points in the plane through the pivot, square to the axis."""
    if wrong := few(answer):
        return wrong
    _, pivot, axis, _ = told(case)
    off = float(np.abs((answer - pivot) @ axis).max())
    return Measure(
        off <= CLOSE,
        "all points in the plane through the pivot, square to the axis",
        f"up to {told_length(off)} off it",
        off,
    )


def encloses(case, answer, context):
    """The part, seen along the axis, is inside with room around it."""
    if wrong := few(answer):
        return wrong
    part, pivot, axis, _ = told(case)
    across = axes_across(axis)
    need = MARGIN * radius_of(part, pivot, axis)
    got = room((part - pivot) @ across.T, (answer - pivot) @ across.T)
    expected = f"every line at least {millimetres(need, 2)} outside the part, seen along the axis"
    if got < 0:
        return Measure(
            False,
            expected,
            f"the part sticks out by {millimetres(-got, 2)}",
            need - got,
        )
    return Measure(
        got >= need - 1e-9,
        expected,
        f"the nearest line is {millimetres(got, 2)} outside",
        need - got,
    )


def can_be_seen(case, answer, context):
    """At least a twentieth of the figure's height wide."""
    if wrong := few(answer):
        return wrong
    least = float(case.inputs["height"]) / SHARE
    wide = float(np.linalg.norm(answer[:, None] - answer[None], axis=2).max())
    expected = f"at least {millimetres(least)} wide: a twentieth of a figure of {told_length(float(case.inputs['height']))}"
    return Measure(
        wide >= WIDE * least,
        expected,
        f"{millimetres(wide)} wide   (tolerance 2 %)",
        least - wide,
    )


def hides_nothing(case, answer, context):
    """No point farther from the pivot than twice what is needed."""
    if wrong := few(answer):
        return wrong
    part, pivot, axis, height = told(case)
    most = 2 * max(radius_of(part, pivot, axis), float(height) / (2 * SHARE))
    far = float(np.linalg.norm(answer - pivot, axis=1).max())
    return Measure(
        far <= most,
        f"no point farther than {millimetres(most)} from the pivot",
        f"one at {millimetres(far)}",
        far - most,
    )


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """Tally's parts, with pivots that are not in their middle, long ones, tiny ones; made-up ones, oblique and large."""
    robot, marks = context.robot, context.robot.landmarks
    height = float(np.ptp(np.concatenate([part.mesh.vertices for part in robot.parts])[:, 1]))
    arm = unit(marks["left_wrist"] - marks["left_elbow"])
    up = np.array([0, 1.0, 0])
    return [
        case(
            "the elbow's sleeve",
            some(robot, "left_elbow_sleeve"),
            marks["left_elbow"],
            arm,
            height,
        ),
        case(
            "the whole forearm",
            some(robot, "left_forearm_tube"),
            marks["left_elbow"],
            arm,
            height,
        ),
        case("the body drum", some(robot, "body_drum"), marks["body"], up, height),
        case(
            "the gripper plate",
            some(robot, "left_gripper_plate"),
            marks["left_wrist"],
            arm,
            height,
        ),
        case(
            "a lens",
            some(robot, "left_eye_lens"),
            marks["left_eye"],
            np.array([0, 0, 1.0]),
            height,
        ),
        case("pivot on one side", *box(rng, (0.05, 0.20, 0.03), 0.4), 1.2),
        case("oblique tube", *box(rng, (0.04, 0.30, 0.04), 0.0), 1.2),
        case("a pin", *box(rng, (0.003, 0.004, 0.003), 0.0), 1.2),
        case("a tower crane", *box(rng, (1.5, 9.0, 1.0), 0.2), 30.0),
    ]


def some(robot, name):
    """At most MOST vertices of a part, spread over it; the part's farthest ones are among them."""
    points = robot.part(name).mesh.vertices
    kept = np.unique(
        np.concatenate(
            [
                np.linspace(0, len(points) - 1, MOST).astype(int),
                points.argmin(axis=0),
                points.argmax(axis=0),
            ]
        )
    )
    return points[kept]


def box(rng, size, aside):
    """The corners of a box turned at random, a pivot `aside` of its width beside its middle, and the axis along its second side."""
    turn = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    corners = np.array([[x, y, z] for x in (-0.5, 0.5) for y in (-0.5, 0.5) for z in (-0.5, 0.5)]) * size
    middle = rng.uniform(0.2, 0.8, 3)
    return middle + corners @ turn.T, middle + aside * size[0] * turn[:, 0], turn[:, 1]


def case(about, part, pivot, axis, height):
    """A Case; a panel tells pivot and height."""
    inputs = {
        "part": np.asarray(part, float),
        "pivot": np.asarray(pivot, float),
        "axis": np.asarray(axis, float),
        "height": float(height),
    }
    return Case(about, inputs, tell=("pivot", "height"))


# ---- the planned mistakes ---------------------------------------------------------------------------------------


def mean_radius(part, pivot, axis, height):
    """The mean distance: half of the part is farther out."""
    return circle(pivot, axis, max(1.1 * off_axis(part, pivot, axis).mean(), height / 40))


def in_space(part, pivot, axis, height):
    """The distance from the pivot in space: along the bone too."""
    return circle(pivot, axis, max(1.1 * np.linalg.norm(part - pivot, axis=1).max(), height / 40))


def on_the_part(part, pivot, axis, height):
    """No room: the line lies on the part."""
    return circle(pivot, axis, max(off_axis(part, pivot, axis).max(), height / 40))


def four_corners(part, pivot, axis, height):
    """The corners are outside, the lines between them are not."""
    return circle(pivot, axis, max(1.1 * off_axis(part, pivot, axis).max(), height / 40), 4)


def as_small_as_the_part(part, pivot, axis, height):
    """No least size."""
    return circle(pivot, axis, 1.1 * off_axis(part, pivot, axis).max())


def least_only(part, pivot, axis, height):
    """The least size for every part."""
    return circle(pivot, axis, height / 40)


def flat_on_the_floor(part, pivot, axis, height):
    """In the plane of world x and z."""
    radius = max(1.1 * off_axis(part, pivot, axis).max(), height / 40)
    turn = np.linspace(0, 2 * np.pi, 32, endpoint=False)
    return pivot + radius * np.column_stack([np.cos(turn), np.zeros(32), np.sin(turn)])


def about_the_origin(part, pivot, axis, height):
    """The pivot left out at the end."""
    return circle(np.zeros(3), axis, max(1.1 * off_axis(part, pivot, axis).max(), height / 40))


def width_for_radius(part, pivot, axis, height):
    """Twice and more what is needed: a width where a radius is wanted."""
    return circle(pivot, axis, max(2.2 * off_axis(part, pivot, axis).max(), height / 20))


MISTAKES = (
    Mistake(
        "mean distance",
        mean_radius,
        "the mean distance from the axis: half of the part is farther out. The farthest counts",
        ("encloses",),
        STEP[1],
    ),
    Mistake(
        "distance in space",
        in_space,
        "the distance was taken along the axis too: a long part makes the ring too large",
        ("modest",),
        STEP[0],
    ),
    Mistake(
        "no room",
        on_the_part,
        "the line lies on the part itself: half of it is hidden. Leave a tenth",
        ("encloses",),
        STEP[1],
    ),
    Mistake(
        "four corners",
        four_corners,
        "the corners are outside, the lines between them cut through the part",
        ("encloses",),
        STEP[3],
    ),
    Mistake(
        "no least size",
        as_small_as_the_part,
        "a small part gets an outline that nobody can hit: there is a least size",
        ("seen",),
        STEP[2],
    ),
    Mistake(
        "least size for all",
        least_only,
        "this is the least size, whatever the part: large ones stick out",
        ("encloses",),
        STEP[1],
    ),
    Mistake(
        "flat on the floor",
        flat_on_the_floor,
        "the outline lies level, whatever the axis: it is to be square to it",
        ("flat",),
        STEP[3],
    ),
    Mistake(
        "about the origin",
        about_the_origin,
        "the outline stands about the world's origin: add the pivot",
        ("flat", "encloses", "modest"),
        STEP[3],
    ),
    Mistake(
        "width for radius",
        width_for_radius,
        "this is a width where a radius is wanted: the ring is twice too large",
        ("modest",),
        STEP[2],
    ),
)

CHECKPOINT = Checkpoint(
    id="08.2",
    title="An outline to take hold of",
    kind="function",
    names={"outline": forms.array(None, 3)},
    claims=(
        Claim(
            "flat",
            "flat, through the pivot, square to the axis",
            1,
            lies_flat,
            "1e-6 m",
            look_at=STEP[3],
        ),
        Claim(
            "encloses",
            "encloses the part, seen along the axis, with room around it",
            2,
            encloses,
            "",
            look_at=STEP[1],
        ),
        Claim(
            "seen",
            "wide enough to be picked with the whole figure in view",
            1,
            can_be_seen,
            "2 %",
            look_at=STEP[2],
        ),
        Claim(
            "modest",
            "no larger than twice what is needed",
            1,
            hides_nothing,
            "",
            look_at=STEP[2],
        ),
    ),
    worked=outline,
    hint="off = part - pivot, then less its part along the axis, point by point: off - np.outer(off @ axis, axis).\n"
    "The farthest of them, and a tenth: that is the radius. But never below height / 40: half of a twentieth.\n"
    "Two directions square to the axis and to each other span the plane: np.cross(axis, something), then np.cross(axis, that one).",
    mistakes=MISTAKES,
    cases=cases,
    closed=("outline.fitted", "control.fit"),
    show=show_outline,
)
