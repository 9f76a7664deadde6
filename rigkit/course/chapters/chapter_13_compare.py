"""Checkpoint 13.2: sweeps, passes and damped steps beside each other: how many, how near, and how evenly the hose is bent."""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_13_chains import NEAR, WAYS, arrived, bends
from rigkit.course.chapters.chapter_13_show import show_compare
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake

COUNT, ERROR, SPREAD, SHARP = "idea 2, when it has arrived", "idea 2, when it has arrived", "idea 2, evenness", "idea 2, the sharpest bend"
TOLERANCE = {"steps": 0, "errors": 0.001, "evenness": 0.1, "sharpest": 0.1}
UNIT = {"steps": " steps", "errors": " mm", "evenness": " degrees", "sharpest": " degrees"}


def compared(steps=0, millimetres=1000.0, ends=False, angles=lambda p: np.degrees(bends(p)), spread=np.std, largest=np.max, order=1):
    """The answer of a context; what may be changed: a step more, other units, another angle, another spread."""

    def answer(context):
        known = context.given
        trails, target = np.asarray(known["trails"], float)[::order], np.asarray(known["target"], float)
        counts = [arrived(one, target) for one in trails]
        chosen = [one[-1 if ends else k] for one, k in zip(trails, counts)]
        return {
            "steps": [k + steps for k in counts],
            "errors": [millimetres * float(np.linalg.norm(points[-1] - target)) for points in chosen],
            "evenness": [float(spread(angles(points))) for points in chosen],
            "sharpest": [float(largest(angles(points))) for points in chosen],
        }

    return answer


def near(name, what):
    """The measure of one list of three, told by the worst."""

    def measure(case, answer, context):
        got, right = answer[name], compared()(context)[name]
        if len(got) != len(WAYS):
            return Measure(False, "three numbers: sweep, pass, damped step", f"{len(got)} numbers", 9e9)
        off = [abs(a - b) for a, b in zip(got, right)]
        k = int(np.argmax(off))
        tolerance, unit = TOLERANCE[name], UNIT[name]
        told = "" if not tolerance else f"   (tolerance {tolerance:g}{unit})"
        return Measure(off[k] <= tolerance, f"for the {WAYS[k]} {what}", f"{got[k]:.5g}{unit}, {off[k]:.3g}{unit} off{told}", float(off[k]))

    return measure


def inner_angles(points):
    """The angle inside at each joint, degrees: 180 where the chain is straight."""
    return 180 - np.degrees(bends(points))


def with_tip(points):
    """A 0 for the end of the chain too."""
    return np.append(np.degrees(bends(points)), 0.0)


def n_less_one(angles):
    """The standard deviation of a sample."""
    return np.std(angles, ddof=1)


MISTAKES = (
    Mistake("counted from one", compared(steps=1), "the first row of a trail is the start, step 0: count from 0", ("steps",), COUNT),
    Mistake("metres", compared(millimetres=1.0), "these errors are metres; millimetres are asked for", ("errors",), ERROR),
    Mistake("the last step", compared(ends=True), "this is the end of each trail; asked for is the first step that is near enough", ("errors",), COUNT),
    Mistake("radians", compared(angles=bends), "these bends are radians; degrees are asked for (np.degrees)", ("evenness", "sharpest"), SPREAD),
    Mistake("inner angles", compared(angles=inner_angles), "this is the angle inside; the bend is 0 where the hose goes straight on", ("sharpest",), SHARP),
    Mistake("the mean", compared(spread=np.mean), "this is the mean bend, which says nothing of how evenly it is shared: np.std", ("evenness",), SPREAD),
    Mistake("the variance", compared(spread=np.var), "this is the variance; its root is in degrees again: np.std", ("evenness",), SPREAD),
    Mistake("n less one", compared(spread=n_less_one), "divided by one less than there are; all bends are here: plain np.std", ("evenness",), SPREAD),
    Mistake("the tip too", compared(angles=with_tip), "a bend for the tip was counted too: a hose of 12 links has 11 inner joints", ("evenness",), SPREAD),
    Mistake("other order", compared(order=-1), "the ways are in another order: sweep, pass, damped step", ("steps", "evenness"), COUNT),
)  # fmt: skip

CHECKPOINT = Checkpoint(
    id="13.2",
    title="Three ways beside each other",
    kind="value",
    names={
        "steps": forms.listing(forms.integer()),
        "errors": forms.listing(forms.number()),
        "evenness": forms.listing(forms.number()),
        "sharpest": forms.listing(forms.number()),
    },
    claims=(
        Claim("steps", "steps: the first that is near enough", 1, near("steps", f"the first step within {1000 * NEAR:g} mm"), "exact", ("steps",), COUNT),
        Claim("errors", "errors: how far the tip is off then", 1, near("errors", "how far the tip is off after it"), "0.001 mm", ("errors",), ERROR),
        Claim("evenness", "evenness: the standard deviation of the bends", 2, near("evenness", "how far the bends lie around their mean"), "0.1 degrees", ("evenness",), SPREAD),
        Claim("sharpest", "sharpest: the largest bend", 1, near("sharpest", "the bend at the joint that bends most"), "0.1 degrees", ("sharpest",), SHARP),
    ),
    worked=compared(),
    hint="gaps = np.linalg.norm(trail[:, -1] - target, axis=1) tells how far the tip is off in each row; (gaps <= 0.0001).argmax() is the first row that is near.\n"
    "The hose after that step: trail[k]. Its bends: np.degrees([bend(*points[i:i + 3])[0] for i in range(11)]).\n"
    "Then 1000 * gaps[k], np.std(bends), np.max(bends): the same for all three trails, so put it in a function.",
    mistakes=MISTAKES,
    show=show_compare,
    closed=(),
)  # fmt: skip
