"""Checkpoint 06.4: the line of targets where the elbow flips, and how fast it swivels near it.

Root, target and pole point on one line make no plane, so there is no side. At an
angle phi from the pole's direction, one degree of the target swivels the elbow by
cot phi degrees: the derivation stands in the chapter, a test measures it.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_06_limbs import LIMB, unit
from rigkit.course.chapters.chapter_06_reach import reach_of
from rigkit.course.chapters.chapter_06_show import show_flips
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import millimetres

BY_HAND = 0.005  # metres: a target placed by hand
OTHER = {"flip_front": "it would do for flip_back", "flip_back": "it would do for flip_front"}
GAIN = 0.02  # swivel gain, a plain ratio


def on_flip_line(name, sign):
    """The claim's measure for one target: on the line through shoulder and pole point, on one side, in reach."""

    def measure(case, answer, context):
        arm, target = reach_of(context), answer[name]
        way = sign * unit(np.asarray(context.given["flip_pole"]) - arm.shoulder)
        distance, off = float(np.linalg.norm(target - arm.shoulder)), off_half_line(target - arm.shoulder, way)
        side = "towards" if sign > 0 else "away from"
        proves = cause(target, arm.shoulder, way, name)
        wanted = f"{name} in reach, on the line through shoulder and pole, {side} the pole"
        if not arm.inner <= distance <= arm.outer:
            return Measure(
                False,
                wanted,
                f"{distance:.4f} m from the shoulder; in reach is {arm.inner:.4f} to {arm.outer:.4f} m",
                off,
                "it is on the line, but out of reach" if off <= BY_HAND else proves,
            )
        return Measure(off <= BY_HAND, wanted, f"{millimetres(off)} off that half of the line   (tolerance 5 mm)", off, proves)

    return measure


def off_half_line(step, way):
    """How far a step from the shoulder ends from the half line that goes off along `way`, metres."""
    return float(np.linalg.norm(step - max(float(step @ way), 0.0) * way))


def cause(target, shoulder, way, name):
    """What is proved by where a target lies that is off its half line; else ""."""
    if off_half_line(target, way) <= BY_HAND < np.linalg.norm(target):
        return "this is a step from the shoulder, not a point: the shoulder was not added"
    if off_half_line(target - shoulder, -way) <= BY_HAND:
        return f"this is on the other half of the line, beyond the shoulder: {OTHER[name]}"
    return ""


def gains_right(case, answer, context):
    """The swivel gain at the three angles handed out."""
    angles = np.asarray(context.given["angles"], float)
    off = np.abs(answer["gains"] - 1 / np.tan(np.radians(angles)))
    i = int(off.argmax())
    return Measure(
        off.max() <= GAIN,
        f"degrees of swivel for a degree of the target, {angles[0]:g}, {angles[1]:g}, {angles[2]:g} degrees from the pole",
        f"gains[{i}] = {answer['gains'][i]:.4f} at {angles[i]:g} degrees   ({off[i]:.4f} off; tolerance {GAIN})",
        float(off.max()),
    )


def flips(
    *,
    front=lambda arm, pole: arm.shoulder + 0.7 * arm.outer * unit(pole - arm.shoulder),
    back=lambda arm, pole: arm.shoulder - 0.7 * arm.outer * unit(pole - arm.shoulder),
    gain=lambda radians: 1 / np.tan(radians),
):
    """Return the answer of 06.4 as a function of the context; the defaults are right, every other choice is one planned mistake."""

    def answer(context):
        arm, pole = reach_of(context), np.asarray(context.given["flip_pole"], float)
        return {"flip_front": front(arm, pole), "flip_back": back(arm, pole), "gains": gain(np.radians(context.given["angles"]))}

    return answer


def beside_the_line(arm, pole):
    """A direction square to the pole's."""
    way = unit(pole - arm.shoulder)
    return unit(np.cross(way, [1.0, 0, 0]))


CHECKPOINT = Checkpoint(
    id="06.4",
    title="Where it flips",
    kind="value",
    names={"flip_front": forms.point(), "flip_back": forms.point(), "gains": forms.array(3)},
    claims=(
        Claim(
            "front",
            "flip_front: the elbow flips there, in reach, on the pole's side of the shoulder",
            1,
            on_flip_line("flip_front", 1.0),
            "5 mm",
            ("flip_front",),
            "idea 3, where it flips",
        ),
        Claim(
            "back",
            "flip_back: the same, on the other side of the shoulder",
            1,
            on_flip_line("flip_back", -1.0),
            "5 mm",
            ("flip_back",),
            "idea 3, where it flips",
        ),
        Claim("gain", "the swivel gain at three angles", 2, gains_right, "0.02", ("gains",), "idea 3, where it flips"),
    ),
    worked=flips(),
    mistakes=(
        Mistake(
            "the pole point itself",
            flips(front=lambda arm, pole: pole),
            "the pole point is on the line, but out of the arm's reach: go along the line, not all the way",
            ("front",),
            "idea 3, where it flips",
        ),
        Mistake(
            "the pole's mirror image",
            flips(back=lambda arm, pole: 2 * arm.shoulder - pole),
            "the pole point's mirror image is on the line, but out of the arm's reach",
            ("back",),
            "idea 3, where it flips",
        ),
        Mistake(
            "square to the line",
            flips(
                front=lambda arm, pole: arm.shoulder + 0.7 * arm.outer * beside_the_line(arm, pole),
                back=lambda arm, pole: arm.shoulder - 0.7 * arm.outer * beside_the_line(arm, pole),
            ),
            "square to the pole's direction the gain is 0: that is where it is steadiest",
            ("front", "back"),
            "idea 3, where it flips",
        ),
        Mistake(
            "shoulder not added",
            flips(
                front=lambda arm, pole: 0.7 * arm.outer * unit(pole - arm.shoulder),
                back=lambda arm, pole: -0.7 * arm.outer * unit(pole - arm.shoulder),
            ),
            "this is a step from the shoulder, not a point: the shoulder was not added",
            ("front", "back"),
            "idea 3, where it flips",
        ),
        Mistake(
            "same side twice",
            flips(back=lambda arm, pole: arm.shoulder + 0.5 * arm.outer * unit(pole - arm.shoulder)),
            "both targets are on the pole's side; the line goes on behind the shoulder",
            ("back",),
            "idea 3, where it flips",
        ),
        Mistake(
            "tan for cot",
            flips(gain=np.tan),
            "tan grows where the gain shrinks: the gain is its inverse, cot = 1 / tan",
            ("gain",),
            "idea 3, where it flips",
        ),
        Mistake(
            "1 / sin",
            flips(gain=lambda radians: 1 / np.sin(radians)),
            "1 / sin never falls to 0; square to the pole's direction the gain is 0",
            ("gain",),
            "idea 3, where it flips",
        ),
        Mistake(
            "degrees into tan",
            flips(gain=lambda radians: 1 / np.tan(np.degrees(radians))),
            "np.tan takes radians; it was given degrees",
            ("gain",),
            "the convention strip",
        ),
    ),
    hint="A side needs a plane: root, target and pole point must not be on one line. For the gains, measure: turn the "
    "target by a tenth of a degree and see how far "
    "the elbow swivels, or use the formula just above the task.",
    closed=LIMB,
    show=show_flips,
)
