"""Chapter 12, the whole rig: pieces put together, audited, searched for faults, moved to its ends, walked, built anew, handed over.

Each checkpoint has a module of its own beside this one, but for the two that the audit judges. What is built, and what becomes
of it, is in `chapter_12_pieces`.
"""

from copy import deepcopy

from rigkit.course.chapters import (
    chapter_12_audit,
    chapter_12_faults,
    chapter_12_file,
    chapter_12_hunt,
    chapter_12_note,
    chapter_12_range,
    chapter_12_tools,
    chapter_12_walk,
)
from rigkit.course.checkpoint import Chapter
from rigkit.robot import assembly


def given(robot, variant):
    """What the notebook is handed: the material of the robot, the case of the five complaints, the quay, the sister's sleeve."""
    sheet, complaints, _ = chapter_12_faults.case_of(robot, variant)
    return {
        "model": assembly.material(robot),
        "sheet": deepcopy(sheet),
        "complaints": dict(complaints),
        "quay": chapter_12_walk.quay(robot, variant),
        "sister": chapter_12_file.task(robot, variant),
    }


CHAPTER = Chapter(
    id="12",
    slug="the-whole-rig",
    title="The whole rig",
    minutes=205,
    idea="put Tally's rig together from your own pieces, audit it, let it walk, build it again on another robot, hand it over",
    checkpoints=(
        chapter_12_audit.AUDIT,
        chapter_12_hunt.CHECKPOINT,
        chapter_12_range.CHECKPOINT,
        chapter_12_walk.CHECKPOINT,
        chapter_12_audit.OTHER,
        chapter_12_file.CHECKPOINT,
        chapter_12_note.CHECKPOINT,
    ),
    given=given,
    uses=("01.2", "04.4", "05.2", "05.5", "08.2"),
    tools=chapter_12_tools.TOOLS,
    recall=(
        (
            "A joint turns about a point that is h off its centre. At 90 degrees its part shifts by how much? (chapter 01)",
            ("h", "1.4 times h", "nothing"),
            1,
            "2 h sin(t / 2), and sin(45 degrees) is 0.71.",
        ),
        (
            "On which points may an elbow's marker stand without moving the arm? (chapter 06)",
            ("on the half-plane that holds the elbow", "anywhere behind the robot", "on the line through shoulder and wrist"),
            0,
            "Any point of the half-plane that begins at the line and holds the elbow. On the line it picks no side.",
        ),
        (
            "The frames of the right side are matched to the left ones. What do equal turns give? (chapter 05)",
            ("the same pose turned round", "the mirror image", "nothing"),
            1,
            "R' = -M R: equal turns, mirror images; moves need the opposite sign.",
        ),
    ),
    wrap_up=(
        (
            "The audit has no open finding. What do you know?",
            ("the rig is good", "no rule that was measured is broken", "an animator will like it"),
            1,
            "It knows its rules, and says what it did not examine. Whether the rig is good, the walk and the animator tell.",
        ),
        (
            "Why does a range-of-motion test move one channel at a time?",
            ("so that what breaks has a name", "so that it is shorter", "because the rig can't do two"),
            0,
            "Two at once, and you know that something breaks, but not what did it.",
        ),
        (
            "You open your file in another program. What is missing?",
            ("joints", "weights", "controls and links"),
            2,
            "The open format knows joints, weights and keys. It has no word for controls and links.",
        ),
    ),
)
