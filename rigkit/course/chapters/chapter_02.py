"""Chapter 02, chains: parents, rest, pose, forward kinematics, reach; a parent list that is sound, a joint on another parent.

Turns are handed out as matrices (3, 3) here; where they come from, and quaternions, is chapter 03.
"""

import numpy as np

from rigkit.course.chapters import (
    chapter_02_forward,
    chapter_02_offsets,
    chapter_02_parents,
    chapter_02_reach,
    chapter_02_rehang,
)
from rigkit.course.chapters.chapter_02_figure import (
    JOINTS,
    PARENTS,
    frames,
    hinges,
    places,
    seen_from_parents,
    standing,
    turn,
)
from rigkit.course.checkpoint import Chapter


def given(robot, variant):
    """What the notebook is handed for this variant.

    joints: ten names; parents: their parents' rows, -1 for none. body: (3,), the root's place. frames: (10, 3, 3),
    world_from_joint at rest. hinges: (10, 3), each joint's hinge in its own frame. posed_arm, posed_leg: (3, 3), root, mid
    and end of a bent limb in the world; elbow_range, knee_range: least and most bend in degrees, for 02.3.
    """
    rng = np.random.default_rng([2, 3, variant])
    its_frames = frames(robot, variant)
    its_hinges = hinges(robot, its_frames)
    turns, offsets = seen_from_parents(PARENTS, its_frames, places(robot))
    bent = dict(
        zip(range(10), [0, rng.integers(-50, -20), rng.integers(50, 80), 20, 0, rng.integers(-50, -25), rng.integers(50, 80), 10, 0, 0])
    )
    posed = standing(PARENTS, [turns[j] @ turn(its_hinges[j], degrees) for j, degrees in bent.items()], offsets)[1]
    return {
        "joints": list(JOINTS),
        "parents": list(PARENTS),
        "body": places(robot)[0],
        "frames": its_frames,
        "hinges": its_hinges,
        "posed_arm": posed[1:4],
        "posed_leg": posed[5:8],
        "elbow_range": (0.0, 150.0),
        "knee_range": (float(rng.integers(14, 23)), float(rng.integers(120, 139))),
    }


CHAPTER = Chapter(
    id="02",
    slug="chains",
    title="Chains",
    minutes=120,
    idea="say where a joint is as its parent sees it, move whole chains, tell their reach, mend a tree of joints",
    checkpoints=(
        chapter_02_offsets.CHECKPOINT,
        chapter_02_forward.CHECKPOINT,
        chapter_02_reach.CHECKPOINT,
        chapter_02_parents.CHECKPOINT,
        chapter_02_rehang.CHECKPOINT,
    ),
    given=given,
    uses=("01.4", "01.5"),
    recall=(
        (
            "A sleeve of many loops joins two tubes. Where does the elbow joint go?",
            ("to the middle of the sleeve", "to the centre of its narrowest loop", "to the centre of its widest rib"),
            1,
            "It folds where there is least of it: at the narrowest loop. Its pivot is the area centre of that loop. Chapter 01, step 2f.",
        ),
        (
            "The elbow bends. Which joint carries the forearm tube?",
            ("the elbow", "the wrist", "half the elbow and half the wrist"),
            0,
            "What sits on a bone goes with the joint at the bone's upper end, and a hard part is on exactly one joint. "
            "Chapter 01, step 3f.",
        ),
        (
            "What does a misplaced joint cost at rest, before anything bends?",
            ("as much as it is off", "twice as much", "nothing"),
            2,
            "The gap is 2 h sin(t / 2), and at rest t is 0. It shows only when the joint bends. Chapter 01, step 3c.",
        ),
    ),
    wrap_up=(
        (
            "The shoulder turns. What changes in the elbow's offset, seen from the shoulder?",
            ("nothing", "its direction", "its length and its direction"),
            0,
            "The shoulder's frame turns with the arm, so what it sees stays. That is why a rest pose is kept as offsets. Idea 1.",
        ),
        (
            "frames[elbow] is ...",
            ("turns[elbow] @ frames[shoulder]", "frames[shoulder] @ turns[elbow]", "turns[shoulder] @ turns[elbow]"),
            1,
            "world_from_elbow = world_from_shoulder @ shoulder_from_elbow: read from right to left, neighbours cancel. Idea 2.",
        ),
        (
            "A joint gets another parent and keeps its turn and offset. What happens?",
            ("nothing", "it jumps, with all that hangs on it", "the parents form a cycle"),
            1,
            "Turn and offset are seen from the parent. A new parent sees others: above.T @ frame and "
            "above.T @ (place - its place). Idea 3.",
        ),
    ),
)
