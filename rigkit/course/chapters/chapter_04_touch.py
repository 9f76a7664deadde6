"""Checkpoint 04.6: the bend at which the shells touch, and a limit that keeps them apart.

The slider turns from the rest pose; the bend angle counts from straight. The rest
pose is bent already, so the two differ by the bend at rest. Measured by the package's
search for the first touch of the two meshes, see `rigkit.placement.touching_angle`.
"""

from functools import lru_cache

import numpy as np

from rigkit import placement
from rigkit.course import forms
from rigkit.course.chapters.chapter_04_show import show_touch
from rigkit.course.chapters.chapter_04_vectors import BOOK, bend_angle
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake

NEAR = 1.5  # degrees: a slider of whole degrees, a gap measured between vertices
APART = 0.005  # metres that a limit leaves between the shells
MOST = np.radians(130)
LIMBS = {
    "arm": ("left_shoulder", "left_elbow", "left_wrist", "left_upper_arm_tube", "left_forearm_tube"),
    "leg": ("left_hip", "left_knee", "left_ankle", "left_thigh_tube", "left_shin_tube"),
}
SLIDER, REST, LIMIT = "idea 3, where shells touch", "idea 3, from rest or from straight", "idea 3, a limit"


def rest_bend(robot, limb):
    """The bend angle of the arm or the leg at rest, degrees."""
    return float(np.degrees(bend_angle(*(np.asarray(robot.landmarks[name]) for name in LIMBS[limb][:3]))))


@lru_cache(maxsize=32)  # four of a robot, each a fifth of a second
def turn_to_touch(robot, limb, clearance=0.0):
    """The turn from rest, degrees, at which the shells come within `clearance` metres."""
    joint, (fixed, moving) = LIMBS[limb][1], (robot.part(name).mesh for name in LIMBS[limb][3:])
    return float(
        np.degrees(placement.touching_angle(fixed, moving, robot.landmarks[joint], robot.hinges[joint], MOST, clearance, tolerance=1e-3))
    )


def touch(robot, limb):
    """The bend angle at which the shells touch, degrees."""
    return rest_bend(robot, limb) + turn_to_touch(robot, limb)


def limit(robot, limb):
    """The largest bend angle that leaves 5 mm, degrees."""
    return rest_bend(robot, limb) + turn_to_touch(robot, limb, APART)


# ---- the claims ------------------------------------------------------------------------------------------------


def touch_told(limb):
    """The claim's measure for one limb."""

    def measure(case, answer, context):
        got, right = answer[f"{limb}_touch"], touch(context.robot, limb)
        return against(got, right, f"the bend angle at which the shells of the {limb} first touch", rest_bend(context.robot, limb))

    return measure


def limits_told(case, answer, context):
    """Both limits; told by the worse."""
    told = [
        against(
            answer[f"{limb}_limit"],
            limit(context.robot, limb),
            f"{limb}_limit: the largest bend angle that leaves 5 mm",
            rest_bend(context.robot, limb),
            touch(context.robot, limb),
        )
        for limb in LIMBS
    ]
    return max(told, key=lambda one: (not one.ok, one.gap))


def against(got, right, what, at_rest, at_touch=None):
    """A Measure of an angle in degrees against the right one; at_touch: for a limit, where the shells touch."""
    gap = abs(got - right)
    cause = ""
    if gap > NEAR and at_touch is not None and abs(got - at_touch) <= NEAR:
        cause = "at this limit the shells touch; it is to leave 5 mm between them"
    elif gap > NEAR and at_touch is not None and abs(got - at_touch + 5) <= NEAR:
        cause = "5 degrees were taken off; the limit is to leave 5 millimetres: read the gap"
    elif gap > NEAR:
        cause = {
            right - at_rest: "this is the turn from rest; the bend angle counts from straight, and the rest pose is bent already",
            right - 2 * at_rest: "the bend at rest was taken off; it is to be added",
            180 - right: "this is the angle inside the triangle; the bend angle is 0 when straight",
        }.get(next((x for x in (right - at_rest, right - 2 * at_rest, 180 - right) if abs(got - x) <= NEAR), None), "")
        cause = "the angle is in radians; this answer uses degrees" if abs(got - np.radians(right)) < 0.2 else cause
    return Measure(
        gap <= NEAR,
        what,
        f"{got:.4g} degrees: {gap:.3g} too {'small' if got < right else 'large'}   (tolerance {NEAR:g} degrees)",
        gap,
        cause,
    )


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def answer(touching=touch, limiting=limit):
    """The answer of 04.6 as a function of the context; the defaults are right. touching, limiting: (robot, limb) to degrees."""

    def answer_of(context):
        robot = context.robot
        return {f"{limb}_{name}": float(of(robot, limb)) for name, of in (("touch", touching), ("limit", limiting)) for limb in LIMBS}

    return answer_of


MISTAKES = (
    Mistake(
        "from rest",
        answer(lambda robot, limb: turn_to_touch(robot, limb), lambda robot, limb: turn_to_touch(robot, limb, APART)),
        "this is the turn from rest; the bend angle counts from straight, and the rest pose is bent already",
        ("arm", "leg", "limits"),
        REST,
    ),
    Mistake(
        "rest taken off",
        answer(
            lambda robot, limb: touch(robot, limb) - 2 * rest_bend(robot, limb),
            lambda robot, limb: limit(robot, limb) - 2 * rest_bend(robot, limb),
        ),
        "the bend at rest was taken off; it is to be added",
        ("arm", "leg", "limits"),
        REST,
    ),
    Mistake(
        "radians",
        answer(lambda robot, limb: np.radians(touch(robot, limb)), lambda robot, limb: np.radians(limit(robot, limb))),
        "the angle is in radians; this answer uses degrees",
        ("arm", "leg", "limits"),
        "the convention strip",
    ),
    Mistake(
        "inner angle",
        answer(lambda robot, limb: 180 - touch(robot, limb), lambda robot, limb: 180 - limit(robot, limb)),
        "this is the angle inside the triangle; the bend angle is 0 when straight",
        ("arm", "leg", "limits"),
        "idea 1, step 2",
    ),
    Mistake(
        "the touch for a limit",
        answer(limiting=touch),
        "at this limit the shells touch; it is to leave 5 mm between them",
        ("limits",),
        LIMIT,
    ),
    Mistake(
        "5 degrees for 5 mm",
        answer(limiting=lambda robot, limb: touch(robot, limb) - 5),
        "5 degrees were taken off; the limit is to leave 5 millimetres: read the gap",
        ("limits",),
        LIMIT,
    ),
    Mistake(
        "limit beyond the touch",
        answer(limiting=lambda robot, limb: 2 * touch(robot, limb) - limit(robot, limb)),
        "this limit lies beyond the touch: the shells overlap there",
        ("limits",),
        LIMIT,
    ),
)

CHECKPOINT = Checkpoint(
    id="04.6",
    title="Where the shells touch",
    kind="value",
    names={"arm_touch": forms.number(), "leg_touch": forms.number(), "arm_limit": forms.number(), "leg_limit": forms.number()},
    claims=(
        Claim(
            "arm",
            "arm_touch: the bend angle at which upper arm and forearm first touch",
            1,
            touch_told("arm"),
            "1.5 degrees",
            ("arm_touch",),
            SLIDER,
            settable=True,
        ),
        Claim("leg", "leg_touch: the same for thigh and shin", 1, touch_told("leg"), "1.5 degrees", ("leg_touch",), SLIDER, settable=True),
        Claim(
            "limits",
            "arm_limit, leg_limit: the largest bend angles that leave 5 mm",
            2,
            limits_told,
            "1.5 degrees",
            ("arm_limit", "leg_limit"),
            LIMIT,
            settable=True,
        ),
    ),
    worked=answer(),
    mistakes=MISTAKES,
    hint="Run the scene. Move the slider until two shells are tinted, then back by one: that is the turn from rest.\n"
    "The bend angle is that turn plus the bend at rest, np.degrees(bend(shoulder, elbow, wrist)[0]).\n"
    "For the limit go further back until the table says 5 mm. The leg: the same scene with the leg's joints, knee_hinge and parts.",
    closed=BOOK,
    show=show_touch,
)
