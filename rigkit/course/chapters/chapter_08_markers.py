"""Checkpoint 08.5: elbow and knee markers, the controls that carry the pole points.

On the plane of the limb's three joints, on the side the limb bends to: then nothing
moves when the solver is switched on (chapter 06). Limits are the audit's. Elbow behind
and knee in front are common practice in the trade, no source.
"""

import numpy as np

from rigkit import limb, mirror
from rigkit.bend import normal
from rigkit.course import forms
from rigkit.course.chapters.chapter_04_vectors import square, unit
from rigkit.course.chapters.chapter_08_measures import LIMBS, NAMES, joints
from rigkit.course.chapters.chapter_08_show import show_markers
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import millimetres, point

PLANE, SIDE = 0.001, 0.010  # metres: rules marker_plane and marker_side of the audit
NEAR, FAR = 0.15, 0.60  # metres from the joint
WHERE = {"elbow": "behind", "knee": "in front"}
OFF_PLANE, WRONG_SIDE, PAIR, ROOM = (
    "idea 3, step 4",
    "idea 3, step 4",
    "idea 3, a pair",
    "idea 3, how far out",
)


def worst(answer, context, measure):
    """The Measure of the marker with the largest gap; what is missing or unknown comes first."""
    markers = answer["markers"]
    missing = [name for name in NAMES if name not in markers]
    if missing:
        return Measure(False, f"{', '.join(NAMES)}", f"no {missing[0]}", np.inf)
    if more := [name for name in markers if name not in NAMES]:
        return Measure(False, f"{', '.join(NAMES)}", f"{more[0][:40]!r} besides", np.inf)
    found = [measure(name, markers[name], joints(context, name)) for name in NAMES]
    failing = [one for one in found if not one.ok]
    return max(failing, key=lambda one: one.gap) if failing else found[0]


# ---- the claims ------------------------------------------------------------------------------------------------


def on_the_plane(case, answer, context):
    """Within a millimetre of the plane of the limb's joints."""

    def measure(name, at, points):
        off = abs(float((at - points[0]) @ normal(*points)))
        return Measure(
            off <= PLANE,
            f"{name}: on the plane of its three joints",
            f"{millimetres(off, 2)} off it",
            off,
        )

    return worst(answer, context, measure)


def on_the_side(case, answer, context):
    """A centimetre or more from the line root to end, towards where the limb bends."""

    def measure(name, at, points):
        a, b, c = points
        line = unit(c - a)
        out = float((at - a) @ unit(square(b - a, line)))
        word = WHERE[name.split("_")[1]]
        told = f"{millimetres(abs(out))} {'out' if out > 0 else 'on the other side'}"
        proves = f"the marker is on the wrong side: {word} is where this limb bends" if out < -SIDE else ""
        return Measure(
            out >= SIDE,
            f"{name}: {word}, 10 mm or more from the line through root and end",
            told,
            SIDE - out,
            proves,
        )

    return worst(answer, context, measure)


def are_pairs(case, answer, context):
    """Left markers are on the left, and each right one is the mirror image of its left one."""
    plane = mirror.Plane()

    def measure(name, at, points):
        if name.startswith("left"):
            return Measure(bool(at[0] > 0), f"{name}: on the left, x above 0", f"x = {at[0]:.3f} m", -float(at[0]))
        left = answer["markers"].get(mirror.names(name))
        off = float(np.linalg.norm(at - mirror.points(left, plane)))
        return Measure(
            off <= PLANE,
            f"{name}: the mirror image of the left one",
            f"{millimetres(off)} off, at {point(at)} m",
            off,
        )

    return worst(answer, context, measure)


def has_room(case, answer, context):
    """Between 15 and 60 cm from its joint."""

    def measure(name, at, points):
        far = float(np.linalg.norm(at - points[1]))
        off = max(NEAR - far, far - FAR)
        in_mm = NEAR <= float(np.linalg.norm(at / 1000 - points[1])) <= FAR
        proves = "these are millimetres: metres are asked for" if off > 1e-9 and in_mm else ""
        return Measure(off <= 1e-9, f"{name}: 0.15 to 0.60 m from its joint", f"{far:.3f} m", off, proves)

    return worst(answer, context, measure)


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def markers(
    context,
    left=lambda points: limb.pole_point(*points, distance=0.30),
    right=lambda at: at * [-1, 1, 1],
):
    """All four: left(points) is the left marker of a limb's three joints (3, 3), right(at) the right one of a left one."""
    found = {}
    for mid in LIMBS:
        at = left(joints(context, f"left_{mid}_marker"))
        found |= {f"left_{mid}_marker": at, f"right_{mid}_marker": right(at)}
    return {"markers": found}


def out_of(points, distance):
    """A marker `distance` from the joint, towards the bend; below zero on the other side."""
    a, b, c = points
    return b + distance * unit(square(b - a, unit(c - a)))


def along_the_hinge(points):
    """Sideways, along the hinge."""
    return points[1] + 0.30 * normal(*points)


def a_little_aside(points):
    """Right, and 2 cm aside: placed in one view only."""
    return out_of(points, 0.30) + 0.02 * normal(*points)


MISTAKES = (
    Mistake(
        "wrong side",
        lambda context: markers(context, lambda points: out_of(points, -0.30)),
        "elbow in front, knee behind: that is the wrong way round",
        ("side",),
        WRONG_SIDE,
    ),
    Mistake(
        "all behind",
        lambda context: markers(context, lambda points: points[1] + [0, 0, -0.30]),
        "all four are behind: the knee bends forward, its marker is in front",
        ("side",),
        WRONG_SIDE,
    ),
    Mistake(
        "to the side",
        lambda context: markers(context, along_the_hinge),
        "the markers are out to the side, along the hinge: square to the bend plane",
        ("plane",),
        OFF_PLANE,
    ),
    Mistake(
        "one view only",
        lambda context: markers(context, a_little_aside),
        "each marker is 20 mm beside the plane: it was placed in one view only",
        ("plane",),
        OFF_PLANE,
    ),
    Mistake(
        "copied",
        lambda context: markers(context, right=lambda at: at),
        "the right markers are where the left ones are: copied, not mirrored",
        ("plane", "pair"),
        PAIR,
    ),
    Mistake(
        "turned half round",
        lambda context: markers(context, right=lambda at: at * [-1, 1, -1]),
        "the right ones are turned half round: their elbow's marker is in front",
        ("side", "pair"),
        PAIR,
    ),
    Mistake(
        "on the joint",
        lambda context: markers(context, lambda points: points[1]),
        "the markers are on the joints themselves: inside the model",
        ("room",),
        ROOM,
    ),
    Mistake(
        "far away",
        lambda context: markers(context, lambda points: out_of(points, 2.0)),
        "two metres out: out of the picture when the whole figure is in view",
        ("room",),
        ROOM,
    ),
)

CHECKPOINT = Checkpoint(
    id="08.5",
    title="Elbow and knee markers",
    kind="value",
    names={"markers": forms.mapping(forms.point())},
    claims=(
        Claim(
            "plane",
            "each on the bend plane of its limb",
            2,
            on_the_plane,
            "1 mm",
            look_at=OFF_PLANE,
        ),
        Claim(
            "side",
            "on the side the limb bends to: elbow behind, knee in front",
            2,
            on_the_side,
            "",
            look_at=WRONG_SIDE,
        ),
        Claim(
            "pair",
            "right ones are mirror images of left ones",
            1,
            are_pairs,
            "1 mm",
            look_at=PAIR,
        ),
        Claim("room", "0.15 to 0.60 m from the joint", 1, has_room, "", look_at=ROOM),
    ),
    worked=markers,
    hint="Chapter 06: a pole point that moves nothing. rk.limb.pole_point(root, mid, end, distance=0.3) is one.\n"
    "Do the two left ones. The right ones are mirrored over the plane x = 0: the sign of x changes, nothing else.",
    mistakes=MISTAKES,
    show=show_markers,
)
