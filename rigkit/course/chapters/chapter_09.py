"""Chapter 09, links: controls drive joints. Carried exactly once, look and match, without a jump and to the other side.

Each checkpoint has a module of its own beside this one. Frames are judged by what they do, so any right way to compute them passes.
"""

from rigkit.course.chapters import (
    chapter_09_blend,
    chapter_09_carry,
    chapter_09_curl,
    chapter_09_flip,
    chapter_09_follow,
    chapter_09_look,
    chapter_09_match,
    chapter_09_switch,
)
from rigkit.course.checkpoint import Chapter


def given(robot, variant):
    """What the notebook is handed: rest, frames {name: (4, 4)} of a part of the rig, leaders, who follows whom; left fingers; a pose."""
    return {
        "rest": chapter_09_carry.rest_of(robot),
        "leaders": dict(chapter_09_carry.FOLLOWS),
        **chapter_09_curl.given_fingers(robot),
        **chapter_09_flip.given_pose(robot),
    }


CHAPTER = Chapter(
    id="09",
    slug="links",
    title="Links",
    minutes=160,
    idea="make joints obey controls: carried once, eyes that look, a match and a blend, hands that change what they follow, a flipped pose",
    checkpoints=(
        chapter_09_follow.CHECKPOINT,
        chapter_09_carry.CHECKPOINT,
        chapter_09_look.CHECKPOINT,
        chapter_09_match.CHECKPOINT,
        chapter_09_blend.CHECKPOINT,
        chapter_09_switch.CHECKPOINT,
        chapter_09_curl.CHECKPOINT,
        chapter_09_flip.CHECKPOINT,
    ),
    given=given,
    uses=("04.4", "05.5", "06.2", "08.5"),
    recall=(
        (
            "What does a control read when nobody has touched it? (chapter 08)",
            ("where its joint stands", "moves and turns 0, size 1", "whatever it was left at"),
            1,
            "That is its home. What it reads later is its own move from there: this chapter hands that on.",
        ),
        (
            "Which pole points leave a bent arm as it is? (chapter 06)",
            ("all that are as far away as the elbow", "those straight behind the elbow", "those of the bend plane, on the elbow's side"),
            2,
            "The half-plane that begins at the line from shoulder to wrist and holds the elbow.",
        ),
        (
            "M is a mirror. A joint's frame is mirrored as M R. What is wrong with it? (chapter 05)",
            ("its determinant is -1: no turn", "nothing", "it stands in the wrong place"),
            0,
            "A second mirror behind it makes it a turn again. You will need that at the end.",
        ),
    ),
    wrap_up=(
        (
            "A rig is scaled by 2, and its hands come out four times as large. What happened?",
            ("the hands were left behind", "they are carried twice", "their rest offset is lost"),
            1,
            "The whole reached them by two ways. One leader each, and its frame already holds what its own leaders did. Idea 1.",
        ),
        (
            "You match a turned arm to a target. The forearm was twisted by 30 degrees. What is left of that?",
            ("nothing: a target and a pole can't say it", "all of it", "half"),
            0,
            "Nine numbers do not fit in seven. The places stay, the two bones' twists are lost, and should be told. Idea 2.",
        ),
        (
            "An arm turns by 350 degrees on the way from one pose to the next. What was forgotten?",
            ("to bring the mean to length 1", "which of q and -q is nearer", "the pole point"),
            1,
            "Both are the same turn, but only from one of them the way is 10 degrees. Idea 3.",
        ),
    ),
)
