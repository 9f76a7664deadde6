"""Checkpoint 03.1: a point turned about an axis through a pivot, by an angle.

Three things are known of the answer whatever the formula: it is as far from the
axis as before and as far along it, it has gone round by the angle, right-handed,
and a point of the axis has not moved. The formula is Rodrigues' (1840 (memory)).
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_03_show import show_axis
from rigkit.course.chapters.chapter_03_turns import CLOSE, NOTHING, TURNS, direction, in_degrees, turned, unit
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.rotation import from_axis_angle, rotate
from rigkit.words import point as told_point
from rigkit.words import told_length

ARGUMENTS = ("point", "pivot", "axis", "angle")
TURN = 2 * np.pi


def parts(inputs, place):
    """Along the axis, and the part square to it, of a place seen from the pivot."""
    axis, seen = unit(inputs["axis"]), place - inputs["pivot"]
    along = float(seen @ axis)
    return along, seen - along * axis


def expected(inputs):
    """Where the point belongs, by the package."""
    turn = from_axis_angle(inputs["axis"], inputs["angle"])
    return inputs["pivot"] + rotate(turn, inputs["point"] - inputs["pivot"])


# ---- what kind of case ------------------------------------------------------------------------------------------


def unit_axis(case):
    """Whether the axis has length 1."""
    return abs(np.linalg.norm(case.inputs["axis"]) - 1) < 1e-12


def still(case):
    """Whether the point must stay: it is on the axis, or the angle is no turn or a whole one."""
    _, square = parts(case.inputs, case.inputs["point"])
    return unit_axis(case) and (
        np.linalg.norm(square) < NOTHING or abs(case.inputs["angle"] / TURN - round(case.inputs["angle"] / TURN)) < 1e-12
    )


def moving(case):
    """An ordinary case."""
    return unit_axis(case) and not still(case)


def long_axis(case):
    """Whether the axis has another length than 1."""
    return not unit_axis(case)


# ---- the claims ------------------------------------------------------------------------------------------------


def distance_kept(case, answer, context):
    """As far from the axis as before, and as far along it."""
    (along, square), (now_along, now_square) = parts(case.inputs, case.inputs["point"]), parts(case.inputs, answer)
    before, now = np.linalg.norm(square), np.linalg.norm(now_square)
    gap = float(max(abs(now - before), abs(now_along - along)))
    return Measure(
        gap <= CLOSE,
        f"{before:.4f} m from the axis and {along:.4f} m along it, seen from the pivot, as before",
        f"{now:.4f} m from the axis and {now_along:.4f} m along it   (tolerance 1e-6 m)",
        gap,
    )


def angle_turned(case, answer, context):
    """Gone round the axis by the angle, right-handed."""
    (_, before), (_, now) = parts(case.inputs, case.inputs["point"]), parts(case.inputs, answer)
    wanted = case.inputs["angle"]
    if np.linalg.norm(now) < NOTHING:
        return Measure(
            False, f"the point has gone round the axis by {in_degrees(wanted)}", "it lies on the axis, at no angle at all", np.pi
        )
    got = float(np.arctan2(np.cross(before, now) @ unit(case.inputs["axis"]), before @ now))
    gap = abs((got - wanted + np.pi) % TURN - np.pi)
    nearest = wanted + ((got - wanted + np.pi) % TURN - np.pi)  # the turn that it shows, of those a whole turn apart
    return Measure(
        gap <= CLOSE,
        f"gone round the axis by {in_degrees(wanted)}",
        f"{in_degrees(nearest)}   ({in_degrees(gap)} off; tolerance 1e-6 rad)",
        gap,
    )


def placed(case, answer, context):
    """The whole place."""
    right = expected(case.inputs)
    gap = float(np.linalg.norm(answer - right))
    return Measure(
        gap <= CLOSE,
        f"the point at {told_point(right, 4)} m",
        f"{told_point(answer, 4)} m, {told_length(gap)} away   (tolerance 1e-6 m)",
        gap,
    )


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """A quarter turn that a hand can check, Tally's arm and leg, oblique axes, then what must stay, then axes of any length."""
    marks, hinges = context.robot.landmarks, context.robot.hinges
    elbow, knee = marks["left_elbow"], marks["left_knee"]
    around, away = direction(rng), direction(rng)
    place, pivot = away.round(2), direction(rng).round(2)
    return [
        case("a quarter turn about z", [0.3, 0.1, 0.2], [0, 0, 0], [0, 0, 1], np.pi / 2),
        case("wrist about the elbow's hinge", marks["left_wrist"], elbow, unit(hinges["left_elbow"].round(9)), rng.uniform(0.6, 2.0)),
        case(
            "ankle about the knee's hinge, more than half a turn",
            marks["left_ankle"],
            knee,
            unit(hinges["left_knee"].round(9)),
            rng.uniform(3.6, 5.5),
        ),
        case("wrist about an oblique axis, negative", marks["left_wrist"], marks["left_shoulder"], around, -rng.uniform(0.6, 2.0)),
        case("an oblique axis, a point farther off", 2 * away, pivot, direction(rng), rng.uniform(0.6, 2.0)),
        case("no turn", place, pivot, around, 0.0),
        case("once all the way round", place, pivot, around, TURN),
        case("a point of the axis", pivot + 0.3 * around, pivot, around, rng.uniform(0.6, 2.0)),
        case("the pivot itself", pivot, pivot, around, rng.uniform(0.6, 2.0)),
        case("axis of length 2.5", place, pivot, 2.5 * around, rng.uniform(0.6, 2.0)),
        case("axis of length 0.01", place, pivot, 0.01 * away[[2, 0, 1]], rng.uniform(0.6, 2.0)),
    ]


def case(about, point, pivot, axis, angle):
    """A Case with its four inputs; three of them are told."""
    values = (*(np.array(v, float) for v in (point, pivot, axis)), float(angle))
    return Case(about, dict(zip(ARGUMENTS, values)), tell=("point", "axis", "angle"))


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def turn_point(point, pivot, axis, angle):
    """The worked answer."""
    u = axis / np.linalg.norm(axis)
    v = point - pivot
    return pivot + np.cos(angle) * v + np.sin(angle) * np.cross(u, v) + (1 - np.cos(angle)) * (u @ v) * u


def angle_as_degrees(point, pivot, axis, angle):
    """The angle is taken for degrees and made radians once more."""
    return turn_point(point, pivot, axis, np.radians(angle))


def angle_made_degrees(point, pivot, axis, angle):
    """The angle is made degrees for sine and cosine."""
    return turn_point(point, pivot, axis, np.degrees(angle))


def axis_as_given(point, pivot, axis, angle):
    """The axis is not brought to length 1."""
    return pivot + turned(point - pivot, axis, angle)


def left_handed(point, pivot, axis, angle):
    """np.cross(v, u): turned the other way."""
    return turn_point(point, pivot, axis, -angle)


def pivot_forgotten(point, pivot, axis, angle):
    """Turned about the world's origin."""
    return turn_point(point, np.zeros(3), axis, angle)


def pivot_not_added(point, pivot, axis, angle):
    """The answer is seen from the pivot."""
    return turn_point(point, pivot, axis, angle) - pivot


def along_lost(point, pivot, axis, angle):
    """The third term is left out."""
    u, v = unit(axis), point - pivot
    return pivot + np.cos(angle) * v + np.sin(angle) * np.cross(u, v)


def along_twice(point, pivot, axis, angle):
    """The whole part along the axis is added, where 1 - cos of it is wanted."""
    u, v = unit(axis), point - pivot
    return pivot + np.cos(angle) * v + np.sin(angle) * np.cross(u, v) + (u @ v) * u


def number_by_number(point, pivot, axis, angle):
    """u * v where u @ v belongs."""
    u, v = unit(axis), point - pivot
    return pivot + np.cos(angle) * v + np.sin(angle) * np.cross(u, v) + (1 - np.cos(angle)) * (u * v) * u


def axis_missing_at_the_end(point, pivot, axis, angle):
    """The last term is a number, added to all three coordinates."""
    u, v = unit(axis), point - pivot
    return pivot + np.cos(angle) * v + np.sin(angle) * np.cross(u, v) + (1 - np.cos(angle)) * (u @ v)


def turned_from_zero(point, pivot, axis, angle):
    """Only the part square to the axis comes back."""
    u, v = unit(axis), point - pivot
    square = v - (u @ v) * u
    return pivot + np.cos(angle) * square + np.sin(angle) * np.cross(u, square)


WORKED, RIGHT_HAND, STRIP = "idea 1, the formula", "idea 1, the right hand", "the convention strip"
MISTAKES = (
    Mistake(
        "angle taken for degrees",
        angle_as_degrees,
        "the angle is in radians already; it was turned into radians once more",
        ("angle",),
        STRIP,
    ),
    Mistake("angle made degrees", angle_made_degrees, "np.cos and np.sin take radians; they were given degrees", ("angle",), STRIP),
    Mistake("axis not unit", axis_as_given, "the axis is used as it came; bring it to length 1 first", ("length",), WORKED),
    Mistake(
        "left-handed", left_handed, "it turns the other way round: the cross product is axis first, np.cross(u, v)", ("angle",), RIGHT_HAND
    ),
    Mistake(
        "pivot forgotten",
        pivot_forgotten,
        "it turns about the world's origin; the axis goes through the pivot",
        ("distance", "angle"),
        WORKED,
    ),
    Mistake(
        "axis missing at the end",
        axis_missing_at_the_end,
        "the last term is a number and was added to all three coordinates: it goes along the axis, times u",
        ("distance",),
        WORKED,
    ),
    Mistake(
        "pivot not added",
        pivot_not_added,
        "the answer is seen from the pivot; add the pivot again at the end",
        ("distance", "stays", "length"),
        WORKED,
    ),
    Mistake(
        "third term left out",
        along_lost,
        "the part along the axis has shrunk by cos: the third term is missing",
        ("distance", "stays", "length"),
        WORKED,
    ),
    Mistake(
        "the whole part along the axis",
        along_twice,
        "the part along the axis comes in twice: cos of it is in the first term, so add only 1 - cos of it",
        ("distance", "stays", "length"),
        WORKED,
    ),
    Mistake(
        "number by number",
        number_by_number,
        "u * v multiplies number by number; the dot product is u @ v, one number",
        ("distance", "stays", "length"),
        WORKED,
    ),
    Mistake(
        "the square part only",
        turned_from_zero,
        "only the part square to the axis came back; the part along it does not turn, and is added as it was",
        ("distance", "stays", "length"),
        WORKED,
    ),
)

CHECKPOINT = Checkpoint(
    id="03.1",
    title="Turn a point",
    kind="function",
    names={"turn_point": forms.point()},
    claims=(
        Claim(
            "distance",
            "the point stays as far from the axis, and as far along it",
            1,
            distance_kept,
            "1e-6 m",
            look_at=WORKED,
            applies=moving,
        ),
        Claim("angle", "it has gone round by the angle, right-handed", 2, angle_turned, "1e-6 rad", look_at=RIGHT_HAND, applies=moving),
        Claim(
            "stays",
            "a point of the axis stays, and so do all for no turn or a whole one",
            1,
            placed,
            "1e-6 m",
            look_at=WORKED,
            applies=still,
        ),
        Claim("length", "an axis of another length gives the same turn", 1, placed, "1e-6 m", look_at=WORKED, applies=long_axis),
    ),
    worked=turn_point,
    hint="Bring the axis to length 1: u. Look from the pivot: v = point - pivot.\n"
    "The formula has three terms: np.cos(angle) * v, np.sin(angle) * np.cross(u, v), and (1 - np.cos(angle)) * (u @ v) * u.\n"
    "What you have then is seen from the pivot. Add the pivot to it.",
    mistakes=MISTAKES,
    cases=cases,
    closed=TURNS,
    show=show_axis,
)
