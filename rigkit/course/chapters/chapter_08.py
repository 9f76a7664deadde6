"""Chapter 08, controls: seen and found, a home that reads zero, the other side and the markers.

Each checkpoint has a module of its own beside this one; the sets of controls that the
notebook plays with are in `chapter_08_sets`.
"""

import numpy as np

from rigkit.course.chapters import (
    chapter_08_budget,
    chapter_08_home,
    chapter_08_markers,
    chapter_08_names,
    chapter_08_other,
    chapter_08_outline,
    chapter_08_sets,
)
from rigkit.course.checkpoint import Chapter


def given(robot, variant):
    """What the notebook is handed for this variant.

    height: of the figure, metres. stray, stray_wanted: a set of controls nobody should build, and what is asked of it. own, own_wanted:
    the material for one's own set, and what is asked. channels: see `chapter_08_budget.given_channels`.
    """
    questions = [(chapter_08_sets.QUESTIONS[what], what) for what in chapter_08_sets.ASKED]
    names = {what: name for name, what in chapter_08_sets.STRAY.items()}
    return {
        "height": float(np.ptp(np.concatenate([part.mesh.vertices for part in robot.parts])[:, 1])),
        "stray": chapter_08_sets.stray(robot),
        "stray_wanted": [(question, names[what]) for question, what in questions],
        "own": chapter_08_sets.own(robot),
        "own_wanted": questions,
        "channels": chapter_08_budget.given_channels(variant),
    }


CHAPTER = Chapter(
    id="08",
    slug="controls",
    title="Controls",
    minutes=160,
    idea="name, colour and fit controls that are found at once, put them home, mirror them, place markers, close what is dead",
    checkpoints=(
        chapter_08_names.CHECKPOINT,
        chapter_08_outline.CHECKPOINT,
        chapter_08_home.CHECKPOINT,
        chapter_08_other.CHECKPOINT,
        chapter_08_markers.CHECKPOINT,
        chapter_08_budget.CHECKPOINT,
        chapter_08_budget.CONFUSED,
    ),
    given=given,
    uses=("04.4",),
    recall=(
        (
            "A point of a joint's frame has the numbers p there. How do you get its place in the world? (chapter 02)",
            ("frame.T @ p + place", "frame @ (p + place)", "frame @ p + place"),
            2,
            "Out of the frame first, then from the joint's place. The way back takes the place off first: frame.T @ (w - place).",
        ),
        (
            "Which pole points leave a bent arm as it is? (chapter 06)",
            (
                "those of the bend plane, on the elbow's side",
                "all that are as far away as the elbow",
                "those straight behind the elbow",
            ),
            0,
            "The half-plane from the line shoulder to wrist that holds the elbow. Its distance does not matter for the bend.",
        ),
        (
            "A part's pivot is off by h. The part is turned by t. By how much is it off its joint? (chapter 01)",
            ("nothing at all", "2 h sin(t / 2)", "h, whatever t is"),
            1,
            "Nothing at rest, and more with every degree: a chord of a circle of radius h. A pivot a metre off throws the part across the room.",
        ),
    ),
    wrap_up=(
        (
            "A control stands where it should, and its moves read 0.21, 0.93 and -0.02. What is wrong?",
            (
                "nothing, it stands where it should",
                "its home is not where it stands: reset, and it flies off",
                "its outline is too large",
            ),
            1,
            "Zero must be home. What stands in the channels belongs in the home frame. Idea 2.",
        ),
        (
            "A control was mirrored by a scale of -1. The outline is in the right place. Who pays for it later?",
            (
                "nobody",
                "whoever looks at the colour",
                "everything that hangs on it: it is mirrored too",
            ),
            2,
            "A scale is handed on. Mirror the points and the frame instead, and leave the size at one. Idea 3.",
        ),
        (
            "A channel does nothing. Why close it, when it does no harm?",
            (
                "an animator tries it, and searches for what it is for",
                "it makes the file larger",
                "it could be keyed by mistake, which moves the joint",
            ),
            0,
            "Each channel is a promise that something answers. A list of those that keep it is short. The whole set.",
        ),
    ),
)
