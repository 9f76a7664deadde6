"""Checkpoint 12.4: so many cycles across the quay in so much time, on the learner's own rig, and the animator's test passes.

Few cycles make long strides, and legs snap straight; many make strides too short for the walk. What is measured is the
walk itself, so every number of cycles that works is right.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_12_audit import told
from rigkit.course.chapters.chapter_12_pieces import CLOSED, PIECES, build, feet_on_the_body, walked
from rigkit.course.chapters.chapter_12_show import show_walk
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake

FAR, LATE = 0.010, 0.05  # metres, seconds
TEST, QUAY, WHO = "the quay, the test", "the quay", "idea 1, who follows whom"
ALL = ("pieces", "cycles", "stride", "period")


def quay(robot, variant):
    """The task: metres to go, seconds for it, and the height of the hip."""
    rng = np.random.default_rng([124, variant])
    hip = float(robot.landmarks["left_hip"][1])
    return {"distance": round(float(rng.uniform(5.56, 5.68)) * hip, 3), "seconds": round(float(rng.uniform(7.45, 7.65)), 2), "hip": hip}


def made(answer, context):
    """(Walk, measures) of the answer's pieces, or a text."""
    if not (answer["stride"] > 0 and answer["period"] > 0):
        return "stride and period have to be above 0"
    if answer["stride"] > 10 or not 0.05 < answer["period"] < 60:
        return "a stride of more than 10 hips' heights, or a period that is not between 0.05 and 60 seconds"
    return walked(context.robot, answer["pieces"], answer["stride"], answer["period"])


def arrives(case, answer, context):
    """Distance and time."""
    task, cycles = context.given["quay"], answer["cycles"]
    way, time = cycles * answer["stride"] * task["hip"], cycles * answer["period"]
    off, late = abs(way - task["distance"]), abs(time - task["seconds"])
    proves = (
        "stride is in metres; it is asked for in heights of the hip" if abs(cycles * answer["stride"] - task["distance"]) <= FAR else ""
    )
    got = f"{way:.3f} m in {time:.3f} s"
    expected = f"{task['distance']:.3f} m in {task['seconds']:.2f} s, within 10 mm and 0.05 s"
    return Measure(cycles > 0 and off <= FAR and late <= LATE, expected, got, max(off, late), proves)


def obeys(*rules):
    """The claim that a walk keeps some rules of the animator's test."""

    def measure(case, answer, context):
        found = made(answer, context)
        if isinstance(found, str):
            return Measure(False, "a walk can be made", f"none: {found}"[:150], 99.0)
        seen = [one for one in found[1] if one.rule in rules]
        bad = [one for one in seen if not one.good]
        gap = max((one.value / one.limit for one in seen), default=0.0)
        return Measure(not bad, " and ".join(rules) + " within the limit", told(bad[0]) if bad else "within", gap)

    return measure


def gait(builder=build, cycles=7, stride=lambda task, n: task["distance"] / (n * task["hip"]), period=lambda task, n: task["seconds"] / n):
    """The answer of 12.4 as a function of the context; every choice but ours is one planned mistake."""

    def answer(context):
        task = context.given["quay"]
        return {
            "pieces": builder(context.given["model"]),
            "cycles": cycles,
            "stride": float(stride(task, cycles)),
            "period": float(period(task, cycles)),
        }

    return answer


MISTAKES = (
    Mistake("too few", gait(cycles=5), "five strides are too long for these legs: a foot is out of reach. More, shorter ones", ("hinges",), TEST),
    Mistake("too many", gait(cycles=9), "nine strides are too short: the legs would have to grow to stay nearly straight. Fewer ones", ("feet", "knees"), TEST),
    Mistake(
        "metres",
        gait(stride=lambda task, n: task["distance"] / n),
        "stride is in metres; it is asked for in heights of the hip: divide by quay's hip",
        ("arrive",),
        QUAY,
    ),
    Mistake(
        "a step, not a cycle",
        gait(period=lambda task, n: task["seconds"] / (2 * n)),
        "this is the time of one step; a cycle is two steps",
        ("arrive", "knees"),
        QUAY,
    ),
    Mistake(
        "not in time",
        gait(period=lambda task, n: 1.0),
        "a second for each cycle gets there too early: the time is told",
        ("arrive",),
        QUAY,
    ),
    Mistake("feet on the body", gait(builder=feet_on_the_body), "the feet follow the body, which drags them: they slide", ("feet",), WHO),
)  # fmt: skip

CHECKPOINT = Checkpoint(
    id="12.4",
    title="Across the quay",
    kind="value",
    names={"pieces": PIECES, "cycles": forms.integer(), "stride": forms.number(), "period": forms.number()},
    claims=(
        Claim("arrive", "it arrives: the distance within 10 mm, the time within 0.05 s", 1, arrives, "", ("cycles", "stride", "period"), QUAY),
        Claim("feet", "feet do not slide, nor go under the floor", 2, obeys("slide", "floor"), "0.1 mm", ALL, TEST),
        Claim("knees", "nothing snaps: speed, and change of speed", 2, obeys("speed", "change"), "", ALL, TEST),
        Claim("hinges", "hinges stay in their range, and every foot is reached", 1, obeys("hinge", "reach"), "", ALL, TEST),
        Claim("loops", "it loops, and the eyes stay level", 1, obeys("loop", "level"), "", ALL, TEST),
    ),
    worked=gait(),
    hint="Whole cycles: stride = distance / (cycles * hip), period = seconds / cycles.\n"
    "try_walk(rig, stride, period) prints the test. Try 5 to 10 cycles, and look at what breaks at either end.",
    mistakes=MISTAKES,
    closed=CLOSED,
    show=show_walk,
    seconds=10.0,
)  # fmt: skip
