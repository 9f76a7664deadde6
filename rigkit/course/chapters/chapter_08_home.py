"""Checkpoint 08.3: home. A control that reads zero, stands on its joint, and is still seen where it was.

What stands in the channels at rest goes into the home frame, and what a scale did goes into
the outline's points. So the drawing stays and the numbers are clean. That no values are left on a
control at rest, and that its pivot is on the joint, is common practice, no source.
"""

import numpy as np

from rigkit import rotation
from rigkit.course import forms
from rigkit.course.chapters.chapter_04_vectors import CLOSE, unit
from rigkit.course.chapters.chapter_08_control import (
    axes_gap,
    drawn,
    fields,
    points_gap,
)
from rigkit.course.chapters.chapter_08_show import show_home
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.outline import shape
from rigkit.words import point, told_length

ZERO, PIVOT, STAY = "idea 2, step 3", "idea 2, step 2", "idea 2, step 1"
KEYS = ("at", "axes", "move", "turn", "size", "points")
FORM = fields(
    at=forms.point(),
    axes=forms.array(3, 3),
    move=forms.point(),
    turn=forms.array(3, 3),
    size=forms.point(),
    points=forms.array(None, 3),
)


def put_home(control, joint_at, joint_axes):
    """The worked answer: the same drawing from a home on the joint."""
    local = (control["points"] * control["size"]) @ control["turn"].T + control["move"]
    seen = local @ control["axes"].T + control["at"]
    points = (seen - joint_at) @ joint_axes
    return {
        "at": joint_at,
        "axes": joint_axes,
        "move": np.zeros(3),
        "turn": np.eye(3),
        "size": np.ones(3),
        "points": points,
    }


# ---- the claims ------------------------------------------------------------------------------------------------


def reads_zero(case, answer, context):
    """Moves zero, no turn, size one."""
    off = {
        "move": (
            float(np.abs(answer["move"]).max()),
            lambda: f"move {point(answer['move'])} m",
        ),
        "turn": (
            float(np.abs(answer["turn"] - np.eye(3)).max()),
            lambda: "a turn that is not the identity, np.eye(3)",
        ),
        "size": (
            float(np.abs(answer["size"] - 1).max()),
            lambda: f"size {point(answer['size'])}",
        ),
    }
    worst = max(off, key=lambda name: off[name][0])
    proves = ""
    if worst == "move" and np.allclose(answer["move"], case.inputs["joint_at"], atol=1e-6):
        proves = "the move is the joint's own position: the home was left at the world's origin"
    return Measure(
        off[worst][0] <= CLOSE,
        "moves 0, no turn, size 1",
        off[worst][1](),
        off[worst][0],
        proves,
    )


def pivot_on_joint(case, answer, context):
    """The home stands on the joint."""
    joint = np.asarray(case.inputs["joint_at"], float)
    off = float(np.linalg.norm(answer["at"] - joint))
    proves = "the pivot is at the world's origin" if off > CLOSE and not answer["at"].any() else ""
    return Measure(
        off <= CLOSE,
        f"at = {point(joint)} m, the joint",
        f"{point(answer['at'])} m, {told_length(off)} off",
        off,
        proves,
    )


def axes_of_joint(case, answer, context):
    """The home is turned as the joint is."""
    off, told = axes_gap(answer["axes"], np.asarray(case.inputs["joint_axes"], float))
    return Measure(off <= np.degrees(CLOSE), "axes as the joint's", told, off)


def still_seen(case, answer, context):
    """The outline, home after channels after points, is where it was."""
    off, told = points_gap(drawn(answer), drawn(case.inputs["control"]))
    return Measure(
        off <= CLOSE,
        "the outline where it was",
        told or f"a point of it {told_length(off)} away",
        off,
    )


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """A control with nothing wrong, one leftover at a time, and all of them."""
    marks, world = context.robot.landmarks, context.robot.skeleton.rest_world
    elbow = context.robot.skeleton.index("left_elbow_joint")
    at, axes = marks["left_elbow"], rotation.to_matrix(world.rotations[elbow])
    some = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    own = some * np.sign(np.linalg.det(some))
    ring, square, still = (
        shape("ring").scaled(0.09).points,
        shape("square").scaled(0.07).points,
        np.eye(3),
    )
    quarter = np.array([[0, 0, 1.0], [0, 1, 0], [-1, 0, 0]])
    turned = rotation.to_matrix(rotation.from_axis_angle(unit(rng.normal(size=3)), rng.uniform(0.5, 2.0)))
    return [
        case(
            "home already",
            at,
            axes,
            control(at, axes, (0, 0, 0), still, (1, 1, 1), ring),
            at,
            axes,
        ),
        case(
            "left at the origin",
            at,
            still,
            control((0, 0, 0), still, at, still, (1, 1, 1), ring),
        ),
        case(
            "beside the joint",
            at,
            axes,
            control(at + (0.02, -0.01, 0.03), axes, (0, 0, 0), still, (1, 1, 1), square),
        ),
        case(
            "turned in its channels",
            at,
            axes,
            control(at, still, (0, 0, 0), axes, (1, 1, 1), ring),
        ),
        case(
            "a quarter turn, and moved",
            at,
            still,
            control(at, still, (0.05, 0, 0), quarter, (1, 1, 1), square),
        ),
        case(
            "twice as large",
            at,
            axes,
            control(at, axes, (0, 0, 0), still, (2, 2, 2), square),
        ),
        case(
            "uneven, and turned",
            at,
            axes,
            control(at, own, (0.01, 0.02, 0), turned, (1.0, 0.5, 3.0), square),
        ),
        case(
            "mirrored by a scale",
            at,
            axes,
            control(at, axes, (0, 0, 0), still, (-1, 1, 1), square + (0.02, 0, 0.01)),
        ),
        case(
            "everything",
            own[0] * 0.7,
            own,
            control(own[1] * 0.4, axes, (0.1, -0.2, 0.05), turned, (1.5, 1.0, 0.8), ring),
        ),
    ]


def control(at, axes, move, turn, size, points):
    """A control as plain data."""
    return dict(
        zip(
            KEYS,
            (np.array(value, float) for value in (at, axes, move, turn, size, points)),
        )
    )


def case(about, joint_at, joint_axes, given, *_):
    """A Case; a panel tells the joint."""
    inputs = {
        "control": given,
        "joint_at": np.array(joint_at, float),
        "joint_axes": np.array(joint_axes, float),
    }
    return Case(about, inputs, tell=("joint_at",))


# ---- the planned mistakes ---------------------------------------------------------------------------------------


def seen_points(control):
    """Where the outline is drawn."""
    return ((control["points"] * control["size"]) @ control["turn"].T + control["move"]) @ control["axes"].T + control["at"]


def clean(control, at, axes, points):
    """A control with clean channels."""
    return {
        "at": at,
        "axes": axes,
        "move": np.zeros(3),
        "turn": np.eye(3),
        "size": np.ones(3),
        "points": points,
    }


def zeroed_only(control, joint_at, joint_axes):
    """Channels set to zero, nothing else done: the outline jumps to where the home is."""
    return clean(control, control["at"], control["axes"], control["points"])


def points_left(control, joint_at, joint_axes):
    """A clean home on the joint, and the old points."""
    return clean(control, joint_at, joint_axes, control["points"])


def joint_in_the_move(control, joint_at, joint_axes):
    """Home at the origin, and the joint's position in the moves."""
    points = (seen_points(control) - joint_at) @ joint_axes
    return {
        "at": np.zeros(3),
        "axes": np.eye(3),
        "move": joint_at,
        "turn": joint_axes,
        "size": np.ones(3),
        "points": points,
    }


def pivot_at_the_origin(control, joint_at, joint_axes):
    """Clean channels, the drawing in its place, and the pivot at the world's origin."""
    return clean(control, np.zeros(3), np.eye(3), seen_points(control))


def channels_left(control, joint_at, joint_axes):
    """Home on the joint, and what was in the channels still there."""
    return {**control, "at": joint_at, "axes": joint_axes}


def like_the_world(control, joint_at, joint_axes):
    """On the joint, but its axes are the world's."""
    return clean(control, joint_at, np.eye(3), seen_points(control) - joint_at)


def size_forgotten(control, joint_at, joint_axes):
    """The size is set to one and left out of the points."""
    seen = (control["points"] @ control["turn"].T + control["move"]) @ control["axes"].T + control["at"]
    return clean(control, joint_at, joint_axes, (seen - joint_at) @ joint_axes)


def size_last(control, joint_at, joint_axes):
    """Turned first, then scaled."""
    local = (control["points"] @ control["turn"].T) * control["size"] + control["move"]
    return clean(
        control,
        joint_at,
        joint_axes,
        (local @ control["axes"].T + control["at"] - joint_at) @ joint_axes,
    )


def into_the_joint_twice(control, joint_at, joint_axes):
    """The frame where its transpose is wanted."""
    return clean(control, joint_at, joint_axes, (seen_points(control) - joint_at) @ joint_axes.T)


def joint_not_taken_off(control, joint_at, joint_axes):
    """Turned into the joint's axes, but not counted from the joint."""
    return clean(control, joint_at, joint_axes, seen_points(control) @ joint_axes)


MISTAKES = (
    Mistake(
        "zeroed only",
        zeroed_only,
        "the channels were set to zero and nothing else: the outline jumps to the old home",
        ("pivot", "stays"),
        STAY,
    ),
    Mistake(
        "points left",
        points_left,
        "the home moved and the points did not: the outline is drawn somewhere else",
        ("stays",),
        STAY,
    ),
    Mistake(
        "joint in the move",
        joint_in_the_move,
        "what is left over equals the joint's position: the home is still at the world's origin",
        ("zero", "pivot"),
        PIVOT,
    ),
    Mistake(
        "pivot at the origin",
        pivot_at_the_origin,
        "the drawing is right, the pivot is the world's origin: the part turns about the floor",
        ("pivot", "axes"),
        PIVOT,
    ),
    Mistake(
        "channels left",
        channels_left,
        "the home was moved, the channels were left: their values now come on top of it",
        ("zero", "stays"),
        ZERO,
    ),
    Mistake(
        "like the world",
        like_the_world,
        "the axes are the world's, not the joint's: turn_z no longer bends the hinge",
        ("axes",),
        PIVOT,
    ),
    Mistake(
        "size forgotten",
        size_forgotten,
        "the size was set to one and forgotten in the points: the outline changes its size",
        ("stays",),
        STAY,
    ),
    Mistake(
        "size last",
        size_last,
        "scaled after the turn: the order is size, then turn, then move",
        ("stays",),
        STAY,
    ),
    Mistake(
        "transposed",
        into_the_joint_twice,
        "from the world into the joint it is joint_axes.T @ v for one point, rows @ joint_axes for many",
        ("stays",),
        ZERO,
    ),
    Mistake(
        "joint not taken off",
        joint_not_taken_off,
        "the points are counted from the world's origin: take joint_at off first",
        ("stays",),
        ZERO,
    ),
)

CHECKPOINT = Checkpoint(
    id="08.3",
    title="Home",
    kind="function",
    names={"put_home": FORM},
    claims=(
        Claim("zero", "moves 0, no turn, size 1", 2, reads_zero, "1e-6", look_at=ZERO),
        Claim(
            "pivot",
            "the pivot is on the joint",
            1,
            pivot_on_joint,
            "1e-6 m",
            look_at=PIVOT,
        ),
        Claim(
            "axes",
            "the home is turned as the joint is",
            1,
            axes_of_joint,
            "1e-6 rad",
            look_at=PIVOT,
        ),
        Claim(
            "stays",
            "the outline is still seen where it was",
            2,
            still_seen,
            "1e-6 m",
            look_at=STAY,
        ),
    ),
    worked=put_home,
    hint="First where the outline is seen now: size, then turn, then move, then the home's axes and place.\n"
    "Then the same points from the joint: take joint_at off, and turn them into the joint's axes.\n"
    "Rows of points turn by @ axes.T on the way out, and by @ axes on the way in.",
    mistakes=MISTAKES,
    cases=cases,
    show=show_home,
)
