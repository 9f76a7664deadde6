"""Checkpoint 01.6: what a hinge costs that is off its place.

Turn a point p about the right pivot c, and about a wrong one c + d. The results
differ by d - R d, whatever p is: the whole shell is moved aside by one and the
same vector. Only the part of d across the hinge axis counts, because R leaves
the part along it alone. With h the length across and t the turn, |d - R d| is
the chord of a circle of radius h: 2 h sin(t / 2). Source: Euclid, Elements III
(a chord seen from the centre under the angle t); derived in the chapter.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import millimetres

TOLERANCE = 1e-5  # metres: a hundredth of a millimetre


def slip(robot, variant):
    """What 01.6 hands out: a pivot's offset, the hinge, a bend, and the limit for the way back. Metres and degrees."""
    rng = np.random.default_rng([1, 6, variant])
    hinge = np.asarray(robot.hinges["left_elbow"], dtype=float)
    aside = np.cross(hinge, [0.0, 0.6, 0.8])
    aside /= np.linalg.norm(aside)
    offset = rng.uniform(0.006, 0.010) * aside + rng.choice([-1, 1]) * rng.uniform(0.004, 0.008) * hinge
    return {
        "offset": offset.round(4),
        "hinge": hinge,
        "bend_degrees": float(rng.integers(7, 11) * 10),
        "gap_limit": 0.002,
        "full_bend_degrees": float(rng.choice([110, 130, 140])),
    }


def chord(h, degrees):
    """2 h sin(t / 2), with t in degrees."""
    return 2 * h * np.sin(np.radians(degrees) / 2)


def right(given):
    """The three right values from what was handed out."""
    offset, hinge = np.asarray(given["offset"]), np.asarray(given["hinge"])
    across = float(np.linalg.norm(offset - (offset @ hinge) * hinge))
    return {
        "across": across,
        "gap": float(chord(across, given["bend_degrees"])),
        "allowed": float(given["gap_limit"] / chord(1.0, given["full_bend_degrees"])),
    }


def size(length):
    """A length in words, in metres where it is a large one."""
    return millimetres(length, 2) if abs(length) < 0.2 else f"{length:.4g} m"


def measure(name):
    """A measure of one of the three lengths against its right value."""

    def measure_length(case, answer, context):
        expected, got = right(context.given["slip"])[name], float(answer[name])
        gap = abs(got - expected)
        proves = ""
        if 500 < got / expected < 2000:
            proves = "this is in millimetres: give metres"
        elif (
            name == "gap"
            and "across" in answer
            and abs(got - chord(answer["across"], context.given["slip"]["bend_degrees"])) < TOLERANCE < gap
        ):
            proves = "the formula is right, the length across that went in is not"
        return Measure(gap <= TOLERANCE, f"a length within {millimetres(TOLERANCE, 2)}", f"{size(got)}, off by {size(gap)}", gap, proves)

    return measure_length


def wrong(across=None, turn=None, scale=1.0):
    """A planned mistake: `across(offset, hinge)` for the length across, `turn(h, degrees)` for the chord."""

    def answer(context):
        given = context.given["slip"]
        offset, hinge = np.asarray(given["offset"]), np.asarray(given["hinge"])
        h = across(offset, hinge) if across else right(given)["across"]
        f = turn or chord
        return {
            "across": scale * float(h),
            "gap": scale * float(f(h, given["bend_degrees"])),
            "allowed": scale * float(given["gap_limit"] / f(1.0, given["full_bend_degrees"])),
        }

    return answer


def multiplied(context):
    """The way there taken for the way back: what a limit-sized offset costs."""
    given = context.given["slip"]
    return {**right(given), "allowed": float(chord(given["gap_limit"], given["full_bend_degrees"]))}


HINGE = Checkpoint(
    id="01.6",
    title="What a hinge off its place costs",
    kind="value",
    names={"across": forms.number(), "gap": forms.number(), "allowed": forms.number()},
    claims=(
        Claim("across", "how far the pivot is off, across the hinge", 1, measure("across"), "0.01 mm", ("across",), "step 3c"),
        Claim("gap", "how far the shell is off at your bend", 1, measure("gap"), "0.01 mm", ("gap",), "step 3c"),
        Claim("allowed", "how far off a pivot may be to stay under the limit", 1, measure("allowed"), "0.01 mm", ("allowed",), "step 3d"),
    ),
    worked=lambda context: right(context.given["slip"]),
    closed=("placement.hinge_gap",),
    hint="First take away from the offset what runs along the hinge: offset - (offset @ hinge) * hinge; its length is `across`. "
    "Then 2 * across * sin(half the bend), with the bend in radians (np.radians). For `allowed` solve the same line for h.",
    mistakes=(
        Mistake(
            "whole offset",
            wrong(across=lambda d, a: np.linalg.norm(d)),
            "the whole offset was taken; its part along the hinge costs nothing",
            ("across", "gap"),
            "step 3c",
        ),
        Mistake(
            "part along",
            wrong(across=lambda d, a: abs(d @ a)),
            "the part along the hinge was taken; the part across it is the rest",
            ("across", "gap"),
            "step 3c",
        ),
        Mistake(
            "degrees",
            wrong(turn=lambda h, t: 2 * h * np.sin(t / 2)),
            "degrees went into the sine; it takes radians (np.radians)",
            ("gap", "allowed"),
            "step 3d",
        ),
        Mistake(
            "whole angle",
            wrong(turn=lambda h, t: 2 * h * np.sin(np.radians(t))),
            "the sine of the whole bend; the chord takes half of it",
            ("gap", "allowed"),
            "step 3c",
        ),
        Mistake(
            "two forgotten",
            wrong(turn=lambda h, t: h * np.sin(np.radians(t) / 2)),
            "half a chord: the factor 2 is missing",
            ("gap", "allowed"),
            "step 3c",
        ),
        Mistake(
            "multiplied",
            multiplied,
            "the limit was multiplied by 2 sin(t / 2); the other way round, it is divided",
            ("allowed",),
            "step 3d",
        ),
        Mistake(
            "arc",
            wrong(turn=lambda h, t: h * np.radians(t)),
            "the arc h * t; the straight way between its ends is shorter",
            ("gap", "allowed"),
            "step 3c",
        ),
        Mistake(
            "millimetres",
            wrong(scale=1000.0),
            "this one is in millimetres; the course's unit is the metre",
            ("across", "gap", "allowed"),
            "conventions",
        ),
    ),
)
