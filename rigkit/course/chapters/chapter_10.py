"""Chapter 10, soft and stretchy: the last percent of reach, a soft distance, stretch with a limit, girth, and what soft costs at home.

Each checkpoint has a module of its own beside this one. A soft distance is judged as a
curve, by what it does, so that any smooth one passes.
"""

import numpy as np

from rigkit.course.chapters import chapter_10_girth, chapter_10_last, chapter_10_price, chapter_10_soft, chapter_10_stretch
from rigkit.course.checkpoint import Chapter


def given(robot, variant):
    """What the notebook is handed for this variant: tube, (N, 3), vertices of the left upper arm; fastest, degrees a millimetre, for 10.5."""
    rng = np.random.default_rng([10, variant])
    return {"tube": robot.part("left_upper_arm_tube").mesh.vertices.copy(), "fastest": float(rng.integers(15, 21)) / 10}


CHAPTER = Chapter(
    id="10",
    slug="soft-and-stretchy",
    title="Soft and stretchy",
    minutes=120,
    idea="predict the last percent of reach, slow a hand down before it, let a limb grow to a limit, and keep its volume",
    checkpoints=(
        chapter_10_last.CHECKPOINT,
        chapter_10_soft.CHECKPOINT,
        chapter_10_stretch.CHECKPOINT,
        chapter_10_girth.CHECKPOINT,
        chapter_10_price.CHECKPOINT,
    ),
    given=given,
    uses=("06.2",),
    recall=(
        (
            "Two bones of 0.2 m and 0.15 m. From where to where can the end be? (chapters 02 and 06)",
            ("from 0 to 0.35 m", "from 0.05 to 0.35 m", "from 0.15 to 0.2 m"),
            1,
            "Straight they add up, folded the shorter is taken off the longer.",
        ),
        (
            "A target is out of reach. What does your solver of chapter 06 do?",
            ("it goes straight and stops at full reach", "it stretches", "it gives nan"),
            0,
            "It brings the distance into the reach. This chapter changes what happens just before and just past that.",
        ),
        (
            "A limb has a bend of 0. What is the angle inside the triangle at its elbow? (chapter 04)",
            ("0 degrees", "90 degrees", "180 degrees"),
            2,
            "The bend is the outer angle: 180 degrees minus the inner one.",
        ),
    ),
    wrap_up=(
        (
            "An arm is at 99 % of its reach. Which turns its elbow further: from 99 to 100 %, or from 50 to 55 %?",
            ("from 50 to 55 %, it is five times the way", "both alike", "from 99 to 100 %"),
            2,
            "About 16 degrees against about 6 or 7: near full reach the bend goes with the root of what is left. Idea 1.",
        ),
        (
            "Stretch is on, soft is 0. The target goes out past full reach. What of the snap?",
            ("it is as before", "it is gone", "it is half as large"),
            0,
            "Up to full reach nothing has changed, and there the elbow goes straight as fast as ever. Soft bounds that. Idea 3.",
        ),
        (
            "A limb is stretched 4 times. How thick is it, if it keeps its volume?",
            ("a quarter", "half", "as thick as before"),
            1,
            "1 / sqrt(4): the two ways across share what the length takes. Idea 3.",
        ),
    ),
)
