"""Chapter 05, the other side: mirrored points and frames, matched and parallel, the sign table, names, the plane, the whole side.

Each checkpoint has a module of its own beside this one. The notebook's robot tells
joints and hinges of the left and the middle; the right ones are the learner's to make.
"""

from dataclasses import replace

import numpy as np

from rigkit.course.chapters import (
    chapter_05_matched,
    chapter_05_mirror,
    chapter_05_names,
    chapter_05_plane,
    chapter_05_side,
    chapter_05_signs,
)
from rigkit.course.checkpoint import Chapter


def model(robot):
    """The robot without the landmarks, hinges and loops of its right side."""

    def left_and_middle(table):
        return {name: value for name, value in table.items() if not name.startswith("right_")}

    tables = {name: left_and_middle(getattr(robot, name)) for name in ("landmarks", "hinges", "loops")}
    return replace(robot, **tables)


def given(robot, variant):
    """What the notebook is handed for this variant.

    plane_point, plane_normal: (3,) each, and placed: name to (3,), for 05.6. pair: "left", "right" to a frame (3, 3), for
    05.3. pose: joint name to a turn from rest, a quaternion (x, y, z, w), for 05.7.
    """
    rng = np.random.default_rng([5, variant])
    return {**chapter_05_plane.placed(robot, rng), "pair": chapter_05_signs.pair(rng), "pose": chapter_05_side.pose(rng)}


CHAPTER = Chapter(
    id="05",
    slug="the-other-side",
    title="The other side",
    minutes=140,
    idea="mirror points and frames, say which channels change sign, make a whole side and flip a pose",
    checkpoints=(
        chapter_05_mirror.CHECKPOINT,
        chapter_05_matched.CHECKPOINT,
        chapter_05_signs.TABLE,
        chapter_05_signs.CHOICE,
        chapter_05_names.CHECKPOINT,
        chapter_05_plane.CHECKPOINT,
        chapter_05_side.CHECKPOINT,
    ),
    given=given,
    model=model,
    uses=("01.4", "01.5", "04.4"),
    recall=(
        (
            "How do you find the plane of symmetry of a model? (chapter 01)",
            (
                "it goes through the origin, square to x",
                "half-way between a left part and its right one, square to the way between them",
                "it is the best plane through all points",
            ),
            1,
            "A point half-way between a pair, and the way from one to the other as its normal. The check mirrored every point over it.",
        ),
        (
            "A frame has the determinant -1. What is it? (chapter 04)",
            ("a turn by 180 degrees", "a frame whose axes are not square to each other", "left-handed, a mirror image of a frame"),
            2,
            "No quaternion can hold it. y = np.cross(z, x) makes a frame right-handed.",
        ),
        (
            "A point of the forearm's frame is seen from the world as R @ p. What are the columns of R? (chapter 02)",
            ("the forearm's own axes, as the world sees them", "the world's axes, as the forearm sees them", "three points of the forearm"),
            0,
            "Put p = (1, 0, 0): out comes the first column, the forearm's x axis in the world.",
        ),
    ),
    wrap_up=(
        (
            "A frame is mirrored, its determinant is -1. How many of its own axes do you turn round?",
            ("two", "one, or all three", "none: a file will take it as it is"),
            1,
            "Each sign changes the sign of the determinant, so it takes an odd number. All three is matched, x alone is parallel. Idea 1, step 4.",
        ),
        (
            "With some frames, a move along z is mirrored by the same number. What about a turn about z?",
            ("it takes the opposite sign", "it takes the same sign", "nobody can say"),
            0,
            "A move takes the sign s of its axis, a turn takes -s: a mirror changes the sense of every turn. Idea 2.",
        ),
        (
            "Limbs are matched, the body stands like the world. You flip a pose. What happens to its numbers?",
            (
                "all turns change two signs",
                "left and right change places, and nothing else happens",
                "left and right change places, the middle's turns become (x, -y, -z, w)",
            ),
            2,
            "Matched limbs take over the numbers as they are. A joint of the middle is its own counterpart, and parallel. Idea 3.",
        ),
    ),
)
