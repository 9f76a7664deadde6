"""Checkpoint 08.4: the control of the other side, with no scale in it.

The outline's world points are mirrored, and then told in a home frame that is right-handed
again. With M the reflection and S signs on the frame's own axes, det S = -1: axes' = M axes S,
points' = S points. Every such S draws the same outline, so every one is right here; which
of them suits limbs and which the body is chapter 05's question.
"""

import numpy as np

from rigkit import mirror, rotation
from rigkit.course import forms
from rigkit.course.chapters.chapter_04_vectors import CLOSE, unit
from rigkit.course.chapters.chapter_08_control import drawn, fields, points_gap
from rigkit.course.chapters.chapter_08_show import show_other
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.outline import shape
from rigkit.words import SIDE_COLOUR, SIDE_LINE, point, told_length

NAME, LOOK, FRAME, POINTS = (
    "idea 3, step 1",
    "idea 3, step 1",
    "idea 3, step 2",
    "idea 3, step 3",
)
KEYS = ("name", "colour", "line", "at", "axes", "size", "points")
FORM = fields(
    name=forms.string(),
    colour=forms.string(),
    line=forms.string(),
    at=forms.point(),
    axes=forms.array(3, 3),
    size=forms.point(),
    points=forms.array(None, 3),
)


def other_side(control, point, normal):
    """The worked answer: parallel axes, and the points' x turned round."""
    swap = {"left": "right", "right": "left"}
    words = [swap.get(word, word) for word in control["name"].split("_")]
    reflect = np.eye(3) - 2 * np.outer(normal, normal)
    signs = np.array([-1, 1, 1])
    return {
        "name": "_".join(words),
        "colour": SIDE_COLOUR[words[0]],
        "line": SIDE_LINE[words[0]],
        "at": point + reflect @ (control["at"] - point),
        "axes": reflect @ control["axes"] * signs,
        "size": np.ones(3),
        "points": control["points"] * signs,
    }


def plane_of(case):
    """The Plane of a case."""
    return mirror.Plane(case.inputs["point"], case.inputs["normal"])


# ---- the claims ------------------------------------------------------------------------------------------------


def name_swapped(case, answer, context):
    """The side in the name, by whole words."""
    right = mirror.names(case.inputs["control"]["name"])
    return Measure(answer["name"] == right, repr(right), repr(answer["name"][:60]), 1.0)


def look_of_side(case, answer, context):
    """Colour and line style of the new side."""
    side = mirror.names(case.inputs["control"]["name"]).split("_")[0]
    right = SIDE_COLOUR[side], SIDE_LINE[side]
    got = answer["colour"], answer["line"]
    same = got[0].casefold() == right[0].casefold() and got[1].casefold() == right[1]
    return Measure(
        same,
        f"{right[0]}, {right[1]}: the look of the {side}",
        f"{got[0][:20]}, {got[1][:20]}",
        1.0,
    )


def home_mirrored(case, answer, context):
    """The home stands at the mirror image."""
    old, right = (
        case.inputs["control"]["at"],
        mirror.points(case.inputs["control"]["at"], plane_of(case)),
    )
    off = float(np.linalg.norm(answer["at"] - right))
    ahead = np.array([0, 0, 1.0])
    proves = ""
    if np.linalg.norm(answer["at"] - (right - case.inputs["point"])) <= CLOSE < off:
        proves = "the point of the plane was taken off, and not put on again"
    elif off > CLOSE and abs((answer["at"] - right) @ ahead) > 1e-3 and np.allclose(answer["at"], [-old[0], old[1], -old[2]], atol=1e-6):
        proves = "turned half round instead of mirrored: what was behind is now in front"
    return Measure(
        off <= CLOSE,
        f"at = {point(right)} m, the mirror image of {point(old)} m",
        f"{point(answer['at'])} m, {told_length(off)} off",
        off,
        proves,
    )


def axes_right_handed(case, answer, context):
    """A turn whose axes lie along or against the mirrored ones."""
    axes = answer["axes"]
    gap = float(np.abs(axes.T @ axes - np.eye(3)).max())
    expected = "axes along or against the mirrored ones, right-handed"
    if gap > 1e-6:
        return Measure(
            False,
            expected,
            f"axes that are {gap:.3g} off length 1 or a right angle",
            2.0,
        )
    if np.linalg.det(axes) < 0:
        return Measure(
            False,
            expected,
            f"determinant {np.linalg.det(axes):.4f}",
            3.0,
            "the frame is left-handed: a mirror image, no turn",
        )
    images = mirror.directions(case.inputs["control"]["axes"].T, plane_of(case))
    off = float(np.degrees(np.arcsin(np.clip(np.linalg.norm(np.cross(images, axes.T), axis=1).max(), 0, 1))))
    return Measure(off <= 1e-3, expected, f"an axis {off:.4g} degrees off", off / 180)


def outline_mirrored(case, answer, context):
    """What is drawn is the mirror image of what was drawn."""
    right = mirror.points(drawn(case.inputs["control"]), plane_of(case))
    off, told = points_gap(drawn(answer), right)
    return Measure(
        off <= CLOSE,
        "every point of the outline at its mirror image",
        told or f"one {told_length(off)} off",
        off,
    )


def no_scale(case, answer, context):
    """Size one on every axis."""
    off = float(np.abs(answer["size"] - 1).max())
    proves = "a negative scale is left: whatever hangs on it is mirrored too" if (answer["size"] < 0).any() else ""
    return Measure(off <= CLOSE, "size (1, 1, 1)", f"size {point(answer['size'])}", off, proves)


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """Outlines that stand out to one side, on Tally's own controls over its own plane, both ways, then planes anywhere; sides inside words."""
    marks, world = context.robot.landmarks, context.robot.skeleton.rest_world
    axes = {one: rotation.to_matrix(world.rotations[context.robot.skeleton.index(f"left_{one}_joint")]) for one in ("elbow", "knee")}
    still, origin, x = np.eye(3), np.zeros(3), np.array([1.0, 0, 0])
    lean = rotation.to_matrix(rotation.from_axis_angle(unit(rng.normal(size=3)), rng.uniform(0.4, 1.2)))
    normal, away = unit(rng.normal(size=3)), rng.uniform(-0.5, 0.5, 3)
    arrow, triangle = (
        shape("arrow").scaled(0.1).points + (0.06, 0.01, 0.02),
        shape("triangle").scaled(0.08).points + (-0.05, 0, 0.01),
    )
    marker = marks["left_elbow"] + (0.0, 0.0, -0.30)
    return [
        case(
            "a foot",
            control("left_foot_control", marks["left_ankle"], still, arrow),
            origin,
            x,
        ),
        case(
            "an elbow, turned",
            control("left_elbow_control", marks["left_elbow"], axes["elbow"], triangle),
            origin,
            x,
        ),
        case(
            "the elbow's marker",
            control("left_elbow_marker", marker, still, arrow),
            origin,
            x,
        ),
        case(
            "back from the right",
            control("right_knee_control", marks["right_knee"], lean, arrow),
            origin,
            x,
        ),
        case(
            "a side inside a word",
            control("left_bright_lamp_control", (0.3, 0.9, 0.2), still, triangle),
            origin,
            x,
        ),
        case(
            "another, from the right",
            control("right_leftover_hook_control", (-0.2, 0.5, -0.1), lean, triangle),
            origin,
            x,
        ),
        case(
            "a plane elsewhere",
            control("left_finger_01_control", (0.9, 1.0, 0.1), lean, arrow),
            np.array([0.6, 0, 0]),
            x,
        ),
        case(
            "oblique plane",
            control("left_hand_control", (0.3, 0.8, 0.2), lean, arrow),
            away,
            normal,
        ),
    ]


def control(name, at, axes, points):
    """A control as plain data, with the look of its side."""
    side = name.split("_")[0]
    values = (
        name,
        SIDE_COLOUR[side],
        SIDE_LINE[side],
        np.array(at, float),
        np.array(axes, float),
        np.ones(3),
        np.array(points, float),
    )
    return dict(zip(KEYS, values))


def case(about, given, point, normal):
    """A Case; a panel tells the plane."""
    return Case(
        f"{about}, {given['name']}",
        {
            "control": given,
            "point": np.array(point, float),
            "normal": np.array(normal, float),
        },
        tell=("normal",),
    )


# ---- the planned mistakes ---------------------------------------------------------------------------------------


def negative_scale(control, point, normal):
    """Mirrored by a size of -1; axes and points as they were."""
    good = other_side(control, point, normal)
    reflect = np.eye(3) - 2 * np.outer(normal, normal)
    signs = np.array([-1, 1, 1])
    return {
        **good,
        "axes": reflect @ control["axes"] * signs,
        "size": np.array([-1.0, 1.0, 1.0]),
        "points": control["points"],
    }


def left_handed(control, point, normal):
    """The axes mirrored, and left so."""
    reflect = np.eye(3) - 2 * np.outer(normal, normal)
    return {
        **other_side(control, point, normal),
        "axes": reflect @ control["axes"],
        "points": control["points"],
    }


def points_kept(control, point, normal):
    """The home mirrored, the outline's points as they were."""
    return {**other_side(control, point, normal), "points": control["points"]}


def axes_kept(control, point, normal):
    """The axes of the side it came from."""
    return {**other_side(control, point, normal), "axes": control["axes"]}


def turned_half_round(control, point, normal):
    """Turned half round the vertical instead of mirrored."""
    half = np.diag([-1.0, 1.0, -1.0])
    good = other_side(control, point, normal)
    return {
        **good,
        "at": half @ control["at"],
        "axes": half @ control["axes"],
        "points": control["points"],
    }


def world_x_only(control, point, normal):
    """The x coordinate negated, whatever the plane."""
    return other_side(control, np.zeros(3), np.array([1.0, 0.0, 0.0]))


def counted_copy(control, point, normal):
    """The name of a copy: a counter at the end."""
    good = other_side(control, point, normal)
    return {**good, "name": control["name"] + "_2"}


def swapped_by_letters(control, point, normal):
    """Every left and right in the letters exchanged."""
    good = other_side(control, point, normal)
    name = control["name"].replace("left", "*").replace("right", "left").replace("*", "right")
    return {**good, "name": name}


def one_way(control, point, normal):
    """Only left to right: a control of the right stays right."""
    good = other_side(control, point, normal)
    words = ["right" if word == "left" else word for word in control["name"].split("_")]
    return {
        **good,
        "name": "_".join(words),
        "colour": SIDE_COLOUR["right"],
        "line": SIDE_LINE["right"],
    }


def colour_kept(control, point, normal):
    """The look of the side it came from."""
    good = other_side(control, point, normal)
    return {**good, "colour": control["colour"], "line": control["line"]}


def line_kept(control, point, normal):
    """The colour is right, the line style is the old one."""
    good = other_side(control, point, normal)
    return {**good, "line": control["line"]}


def signs_of_another_way(control, point, normal):
    """All three axes turned round in the frame, one of them in the points."""
    good = other_side(control, point, normal)
    reflect = np.eye(3) - 2 * np.outer(normal, normal)
    return {**good, "axes": -reflect @ control["axes"]}


MISTAKES = (
    Mistake(
        "negative scale",
        negative_scale,
        "a size of -1 did the mirroring: whatever hangs on the control is mirrored too",
        ("size",),
        POINTS,
    ),
    Mistake(
        "left-handed",
        left_handed,
        "the frame is left-handed: a mirror image, no turn. Turn one of its axes round",
        ("axes",),
        FRAME,
    ),
    Mistake(
        "points kept",
        points_kept,
        "the home is mirrored, the points are not: the outline is on the wrong side",
        ("outline",),
        POINTS,
    ),
    Mistake(
        "axes kept",
        axes_kept,
        "the home's axes are those of the other side: mirror them as well",
        ("axes", "outline"),
        FRAME,
    ),
    Mistake(
        "turned half round",
        turned_half_round,
        "turned half round instead of mirrored: an elbow's marker ends in front",
        ("place", "outline"),
        FRAME,
    ),
    Mistake(
        "world's x",
        world_x_only,
        "only x was negated: right for a plane through the origin, wrong for any other",
        ("place", "axes", "outline"),
        FRAME,
    ),
    Mistake(
        "counter",
        counted_copy,
        "the name has got a counter, as a copy gets one: swap the side instead",
        ("name",),
        NAME,
    ),
    Mistake(
        "letters",
        swapped_by_letters,
        "the side was swapped by letters: 'bright' became 'bleft'. Whole words only",
        ("name",),
        NAME,
    ),
    Mistake(
        "one way",
        one_way,
        "a control of the right stays right: swap both ways",
        ("name", "look"),
        NAME,
    ),
    Mistake(
        "look kept",
        colour_kept,
        "colour and line are still those of the side it came from",
        ("look",),
        LOOK,
    ),
    Mistake(
        "line kept",
        line_kept,
        "the line style is still that of the side it came from",
        ("look",),
        LOOK,
    ),
    Mistake(
        "signs of another way",
        signs_of_another_way,
        "three axes are turned round in the frame, one in the points: use the same signs",
        ("outline",),
        POINTS,
    ),
)

CHECKPOINT = Checkpoint(
    id="08.4",
    title="The other side's control",
    kind="function",
    names={"other_side": FORM},
    claims=(
        Claim(
            "name",
            "the side in the name swapped, whole words only",
            1,
            name_swapped,
            "",
            look_at=NAME,
        ),
        Claim(
            "look",
            "colour and line style of its own side",
            1,
            look_of_side,
            "",
            look_at=LOOK,
        ),
        Claim(
            "place",
            "the home stands at the mirror image",
            1,
            home_mirrored,
            "1e-6 m",
            look_at=FRAME,
        ),
        Claim(
            "axes",
            "the home's axes: mirrored, and right-handed again",
            1,
            axes_right_handed,
            "",
            look_at=FRAME,
        ),
        Claim(
            "outline",
            "the outline that is drawn is the mirror image",
            2,
            outline_mirrored,
            "1e-6 m",
            look_at=POINTS,
        ),
        Claim("size", "no scale is left", 1, no_scale, "1e-6", look_at=POINTS),
    ),
    worked=other_side,
    hint='Name: split at "_", swap the words left and right, join again. Colour and line by the new first word.\n'
    "reflect = np.eye(3) - 2 * np.outer(normal, normal). A place: point + reflect @ (at - point). Axes: reflect @ axes is left-handed.\n"
    "signs = np.array([-1, 1, 1]): axes * signs turns the x column round, points * signs does the same to the outline. Use both.",
    mistakes=MISTAKES,
    cases=cases,
    closed=("control.mirrored", "control.both_sides"),
    show=show_other,
)
