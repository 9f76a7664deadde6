"""Checkpoint 06.1: which targets the left wrist can reach, and how far away it stays from the others.

Straight, two bones add up; folded, the shorter is taken off the longer. The wrist
can be anywhere between (Lynch & Park, Modern Robotics, ch. 6 (memory)).
"""

from types import SimpleNamespace

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_06_limbs import ARM, LIMB, limb
from rigkit.course.chapters.chapter_06_show import show_reach
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length


def reach_of(context):
    """The left arm's bones and reach, and the targets' distances from the shoulder."""
    shoulder, elbow, wrist = limb(context.robot, *ARM)
    upper, lower = float(np.linalg.norm(elbow - shoulder)), float(np.linalg.norm(wrist - elbow))
    return SimpleNamespace(
        shoulder=shoulder,
        upper=upper,
        lower=lower,
        outer=upper + lower,
        inner=abs(upper - lower),
        stance=float(np.linalg.norm(wrist - shoulder)),
        distances=np.linalg.norm(np.asarray(context.given["targets"]) - shoulder, axis=1),
    )


def radii(case, answer, context):
    """Outer and inner reach are the sum and the difference of the bone lengths."""
    arm = reach_of(context)
    offs = {"outer_reach": abs(answer["outer_reach"] - arm.outer), "inner_reach": abs(answer["inner_reach"] - arm.inner)}
    name = max(offs, key=offs.get)
    return Measure(
        offs[name] <= 1e-6,
        "the wrist's largest and smallest distance from the shoulder",
        f"{name} = {answer[name]:.6g} m   ({told_length(offs[name])} off; tolerance 1e-6 m)",
        offs[name],
    )


def which_reached(case, answer, context):
    """Each of the eight targets is rightly called in reach or not."""
    arm, said = reach_of(context), answer["reachable"]
    if len(said) != len(arm.distances):
        return Measure(False, f"{len(arm.distances)} answers, in the order of the targets", f"{len(said)} answers", float("inf"))
    right = (arm.distances >= arm.inner) & (arm.distances <= arm.outer)
    wrong = [i for i in range(len(said)) if said[i] != bool(right[i])]
    about = f"targets[{wrong[0]}], {arm.distances[wrong[0]]:.4f} m from the shoulder, is called {said[wrong[0]]}" if wrong else ""
    return Measure(
        not wrong,
        "True for each target between inner and outer reach, else False",
        f"{len(wrong)} of {len(said)} wrong: {about}",
        len(wrong),
    )


def gaps_left(case, answer, context):
    """The distance from wrist to target that is left for each target."""
    arm = reach_of(context)
    right = np.abs(arm.distances - np.clip(arm.distances, arm.inner, arm.outer))
    off = np.abs(answer["gaps"] - right)
    i = int(off.argmax())
    return Measure(
        off.max() <= 1e-6,
        "for each target, how far the wrist stays away from it at best",
        f"gaps[{i}] = {answer['gaps'][i]:.4g} m, target at {arm.distances[i]:.4f} m   ({told_length(off[i])} off; tolerance 1e-6 m)",
        float(off.max()),
    )


def reach_answer(*, outer=lambda a: a.outer, inner=lambda a: a.inner, distances=lambda a, c: a.distances, gap=None):
    """Return the answer of 06.1 as a function of the context; the defaults are right, every other choice is one planned mistake."""

    def answer(context):
        arm = reach_of(context)
        far, near, d = outer(arm), inner(arm), distances(arm, context)
        gaps = np.maximum(0, np.maximum(d - far, near - d)) if gap is None else gap(d, far, near)
        return {"outer_reach": far, "inner_reach": near, "reachable": [bool(near <= x <= far) for x in d], "gaps": gaps}

    return answer


def from_the_origin(arm, context):
    """Distances of the targets from the world's origin."""
    return np.linalg.norm(context.given["targets"], axis=1)


CHECKPOINT = Checkpoint(
    id="06.1",
    title="Which targets can be reached",
    kind="value",
    names={
        "outer_reach": forms.number(),
        "inner_reach": forms.number(),
        "reachable": forms.listing(forms.boolean()),
        "gaps": forms.array(8),
    },
    claims=(
        Claim("radii", "outer and inner reach of the left wrist", 1, radii, "1e-6 m", ("outer_reach", "inner_reach"), "idea 1"),
        Claim("reachable", "each of the eight targets is rightly called in reach or not", 1, which_reached, "", ("reachable",), "idea 1"),
        Claim("gaps", "the gap that is left to each target", 1, gaps_left, "1e-6 m", ("gaps",), "idea 1"),
    ),
    worked=reach_answer(),
    mistakes=(
        Mistake(
            "no inner reach",
            reach_answer(inner=lambda a: 0.0),
            "the inner reach is left out: bones of different length can't fold to nothing",
            ("radii", "reachable", "gaps"),
            "idea 1",
        ),
        Mistake(
            "reach of the stance",
            reach_answer(outer=lambda a: a.stance),
            "shoulder to wrist was measured in the stance, where the elbow is still bent; add the two bones",
            ("radii", "reachable", "gaps"),
            "idea 1",
        ),
        Mistake(
            "from the origin",
            reach_answer(distances=from_the_origin),
            "the targets' distances were taken from the world's origin, not from the shoulder",
            ("reachable", "gaps"),
            "idea 1",
        ),
        Mistake(
            "near gaps missing",
            reach_answer(gap=lambda d, far, near: np.maximum(0, d - far)),
            "a target nearer than the inner reach leaves a gap too: inner reach minus distance",
            ("gaps",),
            "idea 1",
        ),
        Mistake(
            "signed gaps",
            reach_answer(gap=lambda d, far, near: d - np.clip(d, near, far)),
            "a gap is a distance, so never below 0; for near targets it came out negative",
            ("gaps",),
            "idea 1",
        ),
        Mistake(
            "stops for gaps",
            reach_answer(gap=lambda d, far, near: np.clip(d, near, far)),
            "these are the distances at which the wrist stops; a gap is from there to the target",
            ("gaps",),
            "idea 1",
        ),
        Mistake(
            "negative inner reach",
            reach_answer(inner=lambda a: -a.inner),
            "the inner reach came out below 0: whichever bone is longer, abs() makes it a distance",
            ("radii", "reachable", "gaps"),
            "idea 1",
        ),
        Mistake(
            "reach in millimetres",
            reach_answer(outer=lambda a: 1000 * a.outer, inner=lambda a: 1000 * a.inner),
            "the reach is in millimetres, the targets' distances are in metres: keep to metres",
            ("radii", "reachable", "gaps"),
            "the convention strip",
        ),
        Mistake(
            "millimetres",
            lambda c: {k: v if k == "reachable" else v * 1000 for k, v in reach_answer()(c).items()},
            "these are millimetres; lengths here are in metres",
            ("radii", "gaps"),
            "the convention strip",
        ),
    ),
    hint="Measure both bones with np.linalg.norm. Straight, they add up; folded, the shorter is taken off the longer. "
    "np.clip(distance, inner_reach, outer_reach) is where the wrist stops on its way to each target.",
    closed=LIMB,
    show=show_reach,
)
