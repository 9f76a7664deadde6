"""Chapter 11, shell and sleeve: weights along a sleeve, linear blending and what it costs, dual quaternions, and a twist spread out.

Each checkpoint has a module of its own beside this one, but for the two about the law of the radius. Weights are judged by what they do.
"""

from rigkit.course.chapters import (
    chapter_11_dual,
    chapter_11_linear,
    chapter_11_return,
    chapter_11_sleeve,
    chapter_11_twist,
    chapter_11_weights,
)
from rigkit.course.checkpoint import Chapter

CHAPTER = Chapter(
    id="11",
    slug="shell-and-sleeve",
    title="Shell and sleeve",
    minutes=120,
    idea="give a sleeve its weights, blend it two ways, measure what a twist costs, and spread it",
    checkpoints=(
        chapter_11_weights.CHECKPOINT,
        chapter_11_linear.CHECKPOINT,
        chapter_11_twist.CHECKPOINT_3,
        chapter_11_dual.CHECKPOINT,
        chapter_11_twist.CHECKPOINT_5,
        chapter_11_return.CHECKPOINT,
    ),
    given=chapter_11_sleeve.given,
    recall=(
        (
            "A point in the forearm's frame is to be told in the world. What does it take? (chapter 03)",
            ("the frame's matrix", "the inverse of the frame's matrix", "only the frame's place"),
            0,
            "world_from_forearm @ point. The inverse goes the other way, into the frame.",
        ),
        (
            "q is the quaternion of a turn. What turn is -q? (chapter 03)",
            ("the opposite turn", "the same turn", "no turn"),
            1,
            "All four signs turned over give the same turn. The opposite one has only x, y and z turned over.",
        ),
        (
            "A hard part hangs on two joints. What goes wrong when one of them turns? (chapter 01)",
            ("nothing", "distances inside it change", "it gets heavier"),
            1,
            "Its points go to means of two places. A hard part hangs on one joint; only sleeves share.",
        ),
    ),
    wrap_up=(
        (
            "A sleeve is twisted by 180 degrees and blended linearly. What is left of its radius in the middle?",
            ("all of it", "half", "nothing"),
            2,
            "cos(90 degrees) is 0: the two places lie opposite each other, and their mean is on the axis. Idea 2.",
        ),
        (
            "A rig with dual quaternions is written to an open-format file. What will another program show?",
            ("a linear blend", "dual quaternions", "no skin"),
            0,
            "Such a file holds joints and weights, and says that they blend linearly. Idea 3.",
        ),
        (
            "Which of q and -q do you take for a joint, before you add up?",
            ("the one with w above 0", "the one nearer to the main joint's", "either"),
            1,
            "With w above 0, turns of 170 and 190 degrees would cancel. Idea 3.",
        ),
    ),
)
