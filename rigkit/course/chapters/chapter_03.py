"""Chapter 03, turns and frames: one turn, turn after turn, frames, three angles, swing and twist.

Each checkpoint has a module of its own beside this one. Turns are compared as turns,
by the angle between them or by where points go: q and -q are the same.
"""

import numpy as np

from rigkit import rotation
from rigkit.course.chapters import (
    chapter_03_apart,
    chapter_03_axis,
    chapter_03_elbow,
    chapter_03_forearm,
    chapter_03_matrix,
    chapter_03_order,
    chapter_03_twist,
)
from rigkit.course.chapters.chapter_06_stance import X, Y, Z, turn, turned
from rigkit.course.checkpoint import Chapter


def given(robot, variant):
    """What the notebook is handed for this variant.

    elbow_bent: local rotations (J, 4), the left elbow bent by a right angle, for the scenes. stance, later_stance: two poses
    for 03.4, with the forearm's frame in each, world_from_forearm (3, 3) and elbow (3,); lamp, sticker: (3,) in the world, in
    the first pose; knob: (3,) in the forearm's frame. shin: world_from_shin (3, 3) at rest. elbow_turns: (N, 4), for 03.5.
    """
    rng = np.random.default_rng([3, variant])
    stance, later = standing(robot, rng, 1), standing(robot, rng, -1)
    (turn_now, elbow), (turn_later, later_elbow) = (joint(robot, pose, "left_elbow_joint") for pose in (stance, later))
    fore = float(np.linalg.norm(robot.landmarks["left_wrist"] - robot.landmarks["left_elbow"]))
    lamp = elbow + turn_now @ (fore * np.array([rng.uniform(1.6, 2.0), -rng.uniform(0.9, 1.3), rng.uniform(0.5, 0.9)]))
    sticker = elbow + turn_now @ (fore * np.array([rng.uniform(0.45, 0.6), rng.uniform(0.2, 0.26), -rng.uniform(0.1, 0.18)]))
    return {
        "elbow_bent": turned(robot, {"left_elbow_joint": turn(robot.hinges["left_elbow"], np.radians(90))}),
        "stance": stance,
        "later_stance": later,
        "world_from_forearm": turn_now,
        "elbow": elbow,
        "later_world_from_forearm": turn_later,
        "later_elbow": later_elbow,
        "lamp": lamp.round(3),
        "knob": (fore * np.array([rng.uniform(0.6, 0.8), -rng.uniform(0.2, 0.3), rng.uniform(0.1, 0.2)])).round(3),
        "sticker": sticker.round(3),
        "world_from_shin": joint(robot, None, "left_knee_joint")[0],
        "elbow_turns": chapter_03_elbow.elbow_turns(rng),
    }


def standing(robot, rng, side):
    """Local rotations (J, 4): Tally turned to a side, its left arm lifted and bent, ahead (side 1) or out (-1).

    No axis of the forearm is one of the world's.
    """

    def between(low, high):
        return np.radians(rng.uniform(low, high))

    out, ahead, bend = ((18, 28), (40, 55), (45, 60)) if side > 0 else ((55, 68), (12, 22), (70, 90))
    lifted = rotation.multiply(turn(Z, between(*out)), turn(X, -between(*ahead)))
    return turned(
        robot,
        {
            "centre_body_joint": turn(Y, -side * between(16, 26)),
            "left_shoulder_joint": rotation.multiply(lifted, turn(Y, -side * between(12, 24))),
            "left_elbow_joint": turn(robot.hinges["left_elbow"], between(*bend)),
        },
    )


def joint(robot, pose, name):
    """A joint's frame in a pose: world_from_joint (3, 3) and its place (3,)."""
    world, index = robot.skeleton.forward(pose), robot.skeleton.index(name)
    return rotation.to_matrix(world.rotations[index]), world.positions[index].copy()


CHAPTER = Chapter(
    id="03",
    slug="turns-and-frames",
    title="Turns and frames",
    minutes=150,
    idea="turn a point, put turns in order, see through a part's eyes, split a twist from a swing",
    checkpoints=(
        chapter_03_axis.CHECKPOINT,
        chapter_03_order.CHECKPOINT,
        chapter_03_matrix.CHECKPOINT,
        chapter_03_forearm.CHECKPOINT,
        chapter_03_elbow.CHECKPOINT,
        chapter_03_twist.CHECKPOINT,
        chapter_03_apart.CHECKPOINT,
    ),
    given=given,
    uses=("01.4",),
    recall=(
        (
            "In chapter 01, what did a hinge that was 2 mm off the fold do when the arm bent?",
            ("nothing, 2 mm is small", "it opened a gap that grew with the bend", "it made the forearm longer"),
            1,
            "A hinge that is off by h opens a gap of 2 h sin(t/2) at a bend of t. A turn always has an axis, and the axis has a place.",
        ),
        (
            "A child joint hangs below a parent. The parent turns. What changes in the child's offset, as the parent sees it?",
            ("its length", "its direction", "nothing"),
            2,
            "The parent's frame has turned along with the child. Seen from the parent nothing has moved; seen from the world it has.",
        ),
        (
            "A frame's matrix has three columns. What are they?",
            ("the frame's axes, as the world sees them", "the world's axes, as the frame sees them", "the frame's place"),
            0,
            "Column x is where the frame's own x axis points in the world, and so on. That is why world_from_joint @ p takes a point "
            "of the joint's frame into the world's axes.",
        ),
    ),
    wrap_up=(
        (
            "A hanging arm is turned by 90 degrees about the axis to its side, so that it points forward, then by 90 degrees about the "
            "world's up axis. "
            "Then the same two turns in the other order. Where does the arm point at the end?",
            ("the same way both times", "to the side, then forward", "forward, then to the side"),
            1,
            "Up last, the arm that points forward is carried round to the side. Up first, it only spins about itself as it hangs, and "
            "is then lifted forward. Turns about different axes do not change places.",
        ),
        (
            "A file holds the quaternion (0, 0, 0.6, -0.8). Another holds (0, 0, -0.6, 0.8). How far apart are the two turns?",
            ("0 degrees", "180 degrees", "360 degrees, so they differ"),
            0,
            "They are q and -q, one turn written in two ways. Compare turns by the angle between them, never number by number.",
        ),
        (
            "q = swing * twist, the twist about the bone. Which of the two moves first, and where does the bone point after q?",
            (
                "the swing; where the twist puts it",
                "the twist; where the swing puts it",
                "both at once; it depends on both",
            ),
            1,
            "Read right to left: the twist comes first and leaves the bone where it is. So the swing alone says where the bone points.",
        ),
    ),
)
