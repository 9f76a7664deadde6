"""Chapter 01, where joints go: taking the model in, loops, folds, pivots, and a first motion."""

from dataclasses import replace

import numpy as np

from rigkit import mesh
from rigkit.course.chapters import (
    chapter_01_delivered,
    chapter_01_fold,
    chapter_01_hinge,
    chapter_01_joints,
    chapter_01_loops,
    chapter_01_motion,
    chapter_01_places,
)
from rigkit.course.checkpoint import Chapter
from rigkit.skeleton import Skeleton

WHOLE = "centre_whole_joint"
ENDS = ("centre_upper_joint", "centre_lower_joint")  # what a sleeve hangs on while no joint has a place: its two ends


def model(robot):
    """The robot as the chapter hands it out: the model on joints at the origin, with no place of any joint in it."""
    skeleton = Skeleton([WHOLE, *ENDS], [-1, 0, 0], np.zeros((3, 3)))
    parts = [unbound(part) for part in robot.parts]
    return replace(robot, skeleton=skeleton, parts=parts, landmarks={}, hinges={}, loops={})


def unbound(part):
    """A part that follows the whole; a sleeve keeps how it is shared between its two ends."""
    if part.kind == "sleeve":
        return replace(part, joints=ENDS)
    return replace(part, joints=(WHOLE,), weights=np.ones((len(part.mesh.vertices), 1)))


def loops(robot, names):
    """Every closed loop of some parts as points: part name to a list of (N, 3), in order along the part."""
    found = {}
    for name in names:
        points = robot.part(name).mesh.vertices
        found[name] = [points[loop] for loop in mesh.loops(robot.part(name).mesh)]
    return found


def given(robot, variant):
    """What the notebook is handed: the model as delivered, the loops of the left limbs, the hinge of the elbow, numbers for 01.6."""
    places = chapter_01_places.PLACES
    found = loops(robot, [part for part, _ in places.values()])
    return {
        "delivered": chapter_01_delivered.delivered(robot, variant),
        "lens_height": chapter_01_delivered.lens_height(robot),
        "loops": found,
        "hinges": {name: robot.hinges[name] for name in chapter_01_motion.CHAIN},
        "slip": chapter_01_hinge.slip(robot, variant),
        "hard_parts": list(chapter_01_motion.PARTS),
    }


CHAPTER = Chapter(
    id="01",
    slug="where-joints-go",
    title="Where joints go",
    minutes=170,
    idea="taking a model in, loops, folds and pivots; nine joints placed, and an arm that moves",
    checkpoints=(
        chapter_01_delivered.DELIVERED,
        chapter_01_loops.CENTRE,
        chapter_01_fold.FOLD,
        chapter_01_joints.ARM_JOINTS,
        chapter_01_joints.LEG_JOINTS,
        chapter_01_hinge.HINGE,
        chapter_01_motion.MOTION,
        chapter_01_motion.SHELL,
    ),
    given=given,
    model=model,
    recall=(
        (
            "The robot stands in front of you and looks at you. Where is its left arm?",
            ("on your left, at -x", "on your right, at +x", "behind it, at -z"),
            1,
            "It faces +z and up is +y; then its left is +x, which is on your right.",
        ),
        (
            "What does the course measure lengths in?",
            ("metres", "centimetres", "whatever the file uses"),
            0,
            "Metres everywhere; a file in another unit is converted once, when it is taken in.",
        ),
        (
            "A panel says [look] beside a claim. What is lost?",
            ("the whole checkpoint", "only that claim's points", "one of your attempts"),
            1,
            "Each claim is measured on its own and earns its own points; you may try as often as you like.",
        ),
    ),
    wrap_up=(
        (
            "Twenty more points are added along one side of a loop. Its pivot ...",
            ("moves to that side", "moves to the other side", "stays where it is"),
            2,
            "The area inside has not changed, so its centre has not. A plain mean would move. Step 2c, checkpoint 01.2.",
        ),
        (
            "A sleeve bends. Where?",
            ("in its middle", "at its widest rib", "at its narrowest loop"),
            2,
            "The least material is the first to give way. Step 2f, checkpoint 01.3.",
        ),
        (
            "A hinge is 10 mm off, along its own axis. At a bend of 90 degrees the shell is off by ...",
            ("14 mm", "10 mm", "0 mm"),
            2,
            "Turning does not care where along its axis you stand. Across the hinge it would be 14 mm. Step 3c, checkpoint 01.6.",
        ),
    ),
)
