"""Chapter 07, feet that roll: pivots from the sole, a stack of turns, one number for the roll, tilt, swivel, and contact.

Each checkpoint has a module of its own beside this one. The robot is handed out
without the marks on its soles: finding those is the first task.
"""

from dataclasses import replace

import numpy as np

from rigkit.course.chapters import (
    chapter_07_contact,
    chapter_07_order,
    chapter_07_pivots,
    chapter_07_roll,
    chapter_07_swivel,
    chapter_07_tilt,
)
from rigkit.course.chapters.chapter_07_sole import shell
from rigkit.course.checkpoint import Chapter


def model(robot):
    """The robot without the marks on its soles."""
    return replace(
        robot, landmarks={name: point for name, point in robot.landmarks.items() if not name.endswith("_heel") and "_sole_" not in name}
    )


def given(robot, variant):
    """What the notebook is handed for this variant.

    shells: side to the vertices (N, 3) of a foot's two hard parts, world. turn_over: degrees. steps: (F, 3), degrees of roll,
    tilt and swivel, frame by frame, for 07.6.
    """
    rng = np.random.default_rng([7, variant])
    turn_over = float(rng.integers(27, 36))
    return {
        "shells": {side: shell(robot, side) for side in ("left", "right")},
        "turn_over": turn_over,
        "steps": chapter_07_contact.steps(rng, turn_over),
    }


CHAPTER = Chapter(
    id="07",
    slug="feet-that-roll",
    title="Feet that roll",
    minutes=140,
    idea="find the points a foot turns about, stack its turns, roll it with one number, keep it on the floor",
    checkpoints=(
        chapter_07_pivots.CHECKPOINT,
        chapter_07_order.CHECKPOINT,
        chapter_07_roll.CHECKPOINT,
        chapter_07_tilt.CHECKPOINT,
        chapter_07_swivel.CHECKPOINT,
        chapter_07_contact.CHECKPOINT,
    ),
    given=given,
    model=model,
    uses=("01.5", "03.1", "06.2"),
    recall=(
        (
            "You look at Tally from its left: its toes point to the left. A positive turn about its x axis takes the toes where? (chapter 03)",
            ("up", "down", "to the side"),
            1,
            "x points to Tally's left, so it points at you. Seen from its tip a positive turn is counter-clockwise: what is on the left goes down.",
        ),
        (
            "Two turns in a row about axes that stay. The same two about axes that move along: what has to change? (chapter 03)",
            ("their order", "their signs", "nothing"),
            0,
            "The same turns about moving axes are the swapped ones about fixed axes.",
        ),
        (
            "A point is turned about a pivot. What comes first? (chapter 03)",
            (
                "turn the point, then take the pivot off",
                "add the pivot",
                "take the pivot off: the way from the pivot to the point is turned",
            ),
            2,
            "The way from the pivot to the point is what turns; then the pivot is added again.",
        ),
    ),
    wrap_up=(
        (
            "A foot stands on its outer edge and swivels. Which of the two turns is inside?",
            ("the tilt", "the swivel", "either"),
            0,
            "The swivel is outermost: it carries the foot as it stands, and heights do not change. Idea 2.",
        ),
        (
            "The turn-over angle is 30 degrees and the roll is 50. What does the ball turn by?",
            ("20 degrees", "50 degrees", "30 degrees"),
            2,
            "The ball keeps the turn-over angle; the toe takes the 20 that are left. Idea 3.",
        ),
        (
            "Why is a pivot the farthest point of the sole on its side?",
            ("it is the easiest to find", "then every other point of the sole can only rise", "there the foot is heaviest"),
            1,
            "A point beyond the pivot would go down by its distance times the sine of the turn. Idea 1.",
        ),
    ),
)
