"""Checkpoint 04.5: the same for the leg. The knee goes forward: its hinge is the other way round, and nothing else changes.

For every limb: the mid joint goes to bone cross hinge, and a positive turn about
the hinge bends further. Elbow behind and knee in front are common practice in the
trade, no source.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_04_frames import joint_frames
from rigkit.course.chapters.chapter_04_prebend import (
    back,
    bent_a_little,
    bent_that_way,
    ends_stay,
    moved,
    rise,
)
from rigkit.course.chapters.chapter_04_show import show_leg
from rigkit.course.chapters.chapter_04_vectors import BOOK, between
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake

HINGE = 0.5  # degrees
MARKS = ("left_hip", "left_knee", "left_ankle")
SIGN, FRAMES, RULE = "idea 1, the fold's hinge", "idea 3, step 1", "idea 2, one rule"


def leg(context):
    """Tally's hip, knee and ankle, (3, 3), and the knee's hinge, (3,)."""
    return np.array([context.robot.landmarks[name] for name in MARKS]), np.asarray(context.robot.hinges["left_knee"], float)


def straight_leg(context):
    """The straight leg handed out, (3, 3), and its fold's hinge, (3,)."""
    return np.asarray(context.given["straight_leg"], float), np.asarray(context.given["straight_leg_hinge"], float)


# ---- the claims ------------------------------------------------------------------------------------------------


def hinge_told(case, answer, context):
    """The knee's hinge, with the sign that bends it further."""
    off = float(np.degrees(between(answer["knee_hinge"], leg(context)[1])))
    size = float(np.linalg.norm(answer["knee_hinge"]))
    expected = "the knee's hinge, of length 1; a positive turn takes the shin back"
    if abs(size - 1) > 1e-3:
        return Measure(False, expected, f"a direction of length {size:.4g}", 180.0, "bring it to length 1" if size > 1e-9 else "")
    cause = "the sign is the other one: a positive turn takes the shin forward, as at an elbow" if off > 179 else ""
    return Measure(off <= HINGE, expected, f"{off:.3g} degrees off it", off, cause)


def frames_told(case, answer, context):
    """Hip, knee and ankle: x along the bone, z on the hinge, right-handed, the ankle as the knee."""
    points, hinge = leg(context)
    right, got = joint_frames(points, hinge), answer["leg_frames"]
    expected = "x along the bone, z on the knee's hinge, right-handed; the ankle as the knee"
    sizes = np.linalg.norm(got, axis=1)
    if np.abs(sizes - 1).max() > 1e-3:
        row, column = np.unravel_index(np.abs(sizes - 1).argmax(), (3, 3))
        return Measure(False, expected, f"{MARKS[row][5:]}: {'xyz'[column]} has length {sizes[row, column]:.4g}", 180.0)
    off = np.degrees([[between(got[j, :, k], right[j, :, k]) for k in range(3)] for j in range(3)])
    row, column = np.unravel_index(off.argmax(), (3, 3))
    told = f"{MARKS[row][5:]}: {'xyz'[column]} is {off[row, column]:.3g} degrees off"
    return Measure(bool(off.max() <= HINGE), expected, told, float(off.max()), cause_of_frames(got, off))


def cause_of_frames(got, off):
    """What the axes that are off prove."""
    wrong = (off > 90).any(axis=0)
    if (np.linalg.det(got) < 0).any():
        return "a frame is left-handed: y = np.cross(z, x)"
    if wrong[1] and wrong[2] and not wrong[0]:
        return "x is right, y and z point the other way: the hinge has the wrong sign"
    return ""


def knee_forward(case, answer, context):
    """Ends stay, the bend is small, and the knee went forward."""
    straight, hinge = straight_leg(context)
    got = answer["bent_leg"]
    every = (ends_stay(straight, got), bent_a_little(straight, got), bent_that_way(straight, got, hinge, "knee", "forward", "back"))
    return next((one for one in every if not one.ok), every[-1])


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def answer(
    hinge=lambda context: leg(context)[1], frames=joint_frames, step=lambda straight, hinge: rise(straight, 4) * back(straight, hinge)
):
    """The answer of 04.5 as a function of the context; the defaults are right.

    hinge(context), frames(points, hinge), step(straight, hinge).
    """

    def answer_of(context):
        straight, fold = straight_leg(context)
        own = hinge(context)
        return {"knee_hinge": own, "leg_frames": frames(leg(context)[0], own), "bent_leg": moved(straight, step(straight, fold))}

    return answer_of


def elbow_hinge(context):
    """The elbow's hinge, for the knee."""
    return np.asarray(context.robot.hinges["left_elbow"], float)


MISTAKES = (
    Mistake(
        "as the elbow",
        answer(elbow_hinge),
        "this is the elbow's hinge: the knee has a fold of its own, and its flat side is behind",
        ("hinge", "frames"),
        SIGN,
    ),
    Mistake(
        "other sign",
        answer(lambda context: -leg(context)[1]),
        "the sign is the other one: a positive turn takes the shin forward, as at an elbow",
        ("hinge", "frames"),
        SIGN,
    ),
    Mistake(
        "world's x",
        answer(lambda context: np.array([1.0, 0, 0])),
        "this is the world's x axis: near, but the leg stands a little outwards, and so does its hinge",
        ("hinge",),
        SIGN,
    ),
    Mistake(
        "left-handed",
        answer(frames=lambda points, hinge: joint_frames(points, hinge) * [1, -1, 1]),
        "a frame is left-handed: y = np.cross(z, x)",
        ("frames",),
        "idea 3, step 3",
    ),
    Mistake(
        "ankle like the world",
        answer(frames=lambda points, hinge: np.array([*joint_frames(points, hinge)[:2], np.eye(3)])),
        "the ankle stands like the world; the last joint is to stand as its parent",
        ("frames",),
        "idea 3, step 4",
    ),
    Mistake(
        "knee back",
        answer(step=lambda straight, hinge: -rise(straight, 4) * back(straight, hinge)),
        "the knee went back, like an elbow",
        ("forward",),
        RULE,
    ),
    Mistake(
        "along the world's z",
        answer(step=lambda straight, hinge: rise(straight, 4) * np.array([0, 0, 1.0])),
        "a step along the world's Z: this leg is turned outwards, its forward is another",
        ("forward",),
        RULE,
    ),
    Mistake(
        "to the side",
        answer(step=lambda straight, hinge: rise(straight, 4) * hinge),
        "the knee was moved along its hinge, to the side",
        ("forward",),
        RULE,
    ),
    Mistake(
        "too far",
        answer(step=lambda straight, hinge: rise(straight, 12) * back(straight, hinge)),
        "that is a bend of 12 degrees: two to six are enough to tell the side",
        ("forward",),
        "idea 2, step 2",
    ),
)

CHECKPOINT = Checkpoint(
    id="04.5",
    title="The leg: the knee goes forward",
    kind="value",
    names={"knee_hinge": forms.point(), "leg_frames": forms.array(3, 3, 3), "bent_leg": forms.array(3, 3)},
    claims=(
        Claim(
            "hinge",
            "knee_hinge: on the knee's fold; a positive turn bends the knee further",
            2,
            hinge_told,
            "0.5 degree",
            ("knee_hinge",),
            SIGN,
            settable=True,
        ),
        Claim("frames", "leg_frames: hip, knee and ankle, on this hinge", 2, frames_told, "0.5 degree", ("leg_frames",), FRAMES, settable=True),
        Claim("forward", "bent_leg: both ends stay, 2 to 6 degrees, and the knee went forward", 2, knee_forward, "", ("bent_leg",), RULE),
    ),
    worked=answer(),
    mistakes=MISTAKES,
    hint="The hinge: rk.placement.fold_hinge(folds['left_knee']) runs along the fold's flat side. "
    "Does its sign agree with bend(hip, knee, ankle)[1]? If not, turn it round.\n"
    "The frames: your joint_frames of hip, knee and ankle, with that hinge.\n"
    "The straight leg: one step of the knee along np.cross(bone, hinge), at length 1, "
    "with its own bone and straight_leg_hinge; as far as in 04.2.",
    closed=BOOK,
    show=show_leg,
)
