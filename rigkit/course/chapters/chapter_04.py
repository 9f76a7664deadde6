"""Chapter 04, which way it bends: bend angle and bend plane, pre-bend, flat chains, joint frames, and where the shells touch.

Each checkpoint has a module of its own beside this one. The straight practice limb
hangs beside Tally, on the same stage, so that one viewer shows both.
"""

import re
from dataclasses import replace

import numpy as np

from rigkit import rotation
from rigkit.course.chapters import (
    chapter_04_bend,
    chapter_04_flatten,
    chapter_04_frames,
    chapter_04_leg,
    chapter_04_prebend,
    chapter_04_touch,
)
from rigkit.course.chapters.chapter_04_vectors import square, unit
from rigkit.course.chapters.chapter_06_stance import X, Y, Z, turn, turned
from rigkit.course.checkpoint import Chapter
from rigkit.robot import practice_limb
from rigkit.skeleton import Skeleton

ASIDE = np.array(
    [-1.25, 0.0, 0.90]
)  # metres from the left shoulder: on Tally's right and before it, where no view of its left limbs shows it
HOSE = tuple(f"hose_{k:02}" for k in range(1, 13))


def model(robot):
    """The robot with the straight practice limb beside it."""
    limb, move = practice_of(robot)
    skeleton, more = robot.skeleton, limb.skeleton
    shift = np.where(more.parents[:, None] < 0, move, 0.0)
    return replace(
        robot,
        skeleton=Skeleton(
            [*skeleton.names, *more.names],
            [*skeleton.parents, *np.where(more.parents < 0, -1, more.parents + len(skeleton.names))],
            np.concatenate([skeleton.rest_translations, more.rest_translations + shift]),
            np.concatenate([skeleton.rest_rotations, more.rest_rotations]),
        ),
        parts=[*robot.parts, *(replace(part, mesh=replace(part.mesh, vertices=part.mesh.vertices + move)) for part in limb.parts)],
        landmarks={**robot.landmarks, **{name: point + move for name, point in limb.landmarks.items()}},
        hinges={**robot.hinges, **limb.hinges},
        loops={**robot.loops, **limb.loops},
    )


def practice_of(robot):
    """The practice limb of the robot's own variant, which its name tells, and the move that brings it beside the robot."""
    number = re.search(r"variant (\d+)", robot.name)
    limb = practice_limb(int(number[1]) if number else 0)
    return limb, robot.landmarks["left_shoulder"] + ASIDE - limb.landmarks["practice_shoulder"]


def given(robot, variant):
    """What the notebook is handed for this variant.

    folds: landmark to the fold's loop (N, 3). practice, practice_hinge: the straight limb (3, 3) and its hinge (3,). hose_stance:
    local rotations (J, 4), the hose swung aside; hose: (12, 3), its joints there as placed by hand. straight_leg,
    straight_leg_hinge: (3, 3), (3,).
    """
    rng = np.random.default_rng([4, variant])
    whole = model(robot)
    folds = {
        name: whole.part(whole.loops[name][0]).mesh.vertices[whole.loops[name][1]] for name in ("left_elbow", "left_knee", "practice_elbow")
    }
    swung = turned(
        whole,
        {"centre_hose_01_joint": rotation.multiply(turn(Y, -np.radians(rng.uniform(38, 50))), turn(Z, np.radians(rng.uniform(8, 14))))},
    )
    leg, hinge = outward_leg(robot, rng)
    return {
        "folds": folds,
        "practice": np.array([whole.landmarks[f"practice_{name}"] for name in ("shoulder", "elbow", "wrist")]),
        "practice_hinge": whole.hinges["practice_elbow"] + 0.0,
        "hose_stance": swung,
        "hose": by_hand(whole, swung, rng),
        "straight_leg": leg,
        "straight_leg_hinge": hinge,
    }


def by_hand(robot, pose, rng):
    """The hose's joints in a pose, each but the ends placed up to 6 mm beside its own plane."""
    world = robot.skeleton.forward(pose)
    rows = [robot.skeleton.index(f"centre_{name}_joint") for name in HOSE]
    points = world.positions[rows]
    line = unit(points[-1] - points[0])
    aside = unit(np.cross(line, square(points[len(points) // 2] - points[0], line)))
    wobble = rng.choice([-1, 1], len(points)) * rng.uniform(0.003, 0.006, len(points))
    wobble[[0, -1]] = 0.0
    return (points + np.outer(wobble, aside)).round(6)


def outward_leg(robot, rng):
    """A straight leg beside Tally, as long as its own, turned outwards so that its forward is none of the world's axes; with its hinge."""
    thigh, shin = (
        np.linalg.norm(robot.landmarks[f"left_{a}"] - robot.landmarks[f"left_{b}"]) for a, b in (("hip", "knee"), ("knee", "ankle"))
    )
    out = np.radians(rng.uniform(24, 36))
    way = unit(np.array([np.tan(np.radians(rng.uniform(5, 9))), -1.0, np.tan(np.radians(rng.uniform(3, 6)))]))
    hinge = unit(square(np.cos(out) * X - np.sin(out) * Z, way))
    hip = robot.landmarks["left_hip"] + [0.42, 0.0, 0.10]
    return np.array([hip, hip + thigh * way, hip + (thigh + shin) * way]), hinge


CHAPTER = Chapter(
    id="04",
    slug="which-way-it-bends",
    title="Which way it bends",
    minutes=150,
    idea="read a bend plane and its hinge, bend a straight limb a little, frame a chain, find where shells touch",
    checkpoints=(
        chapter_04_bend.CHECKPOINT,
        chapter_04_prebend.CHECKPOINT,
        chapter_04_flatten.CHECKPOINT,
        chapter_04_frames.CHECKPOINT,
        chapter_04_leg.CHECKPOINT,
        chapter_04_touch.CHECKPOINT,
    ),
    given=given,
    model=model,
    uses=("01.4", "01.5"),
    recall=(
        (
            "A hinge is off by h, across its axis. The part bends by t. By how much is the shell off? (chapter 01)",
            ("h sin t", "2 h sin(t / 2)", "h, whatever t is"),
            1,
            "The chord of a circle of radius h, seen under the angle t.",
        ),
        (
            "What are the three columns of a joint's frame? (chapter 02)",
            (
                "the joint's x, y and z axis, as the world sees them",
                "the places of three joints",
                "the world's axes, as the joint sees them",
            ),
            0,
            "world_from_joint: put (1, 0, 0) in, and out comes the joint's x axis as the world sees it.",
        ),
        (
            "An axis points at you. Which way round do you see a positive turn go? (chapter 03)",
            ("clockwise", "it depends on the angle", "counter-clockwise"),
            2,
            "Right hand, thumb along the axis, towards you: the fingers curl counter-clockwise.",
        ),
    ),
    wrap_up=(
        (
            "A limb has a bend angle of 150 degrees. What is the angle inside the triangle of its joints?",
            ("150 degrees", "30 degrees", "210 degrees"),
            1,
            "The inner angle is 180 degrees minus the bend angle. A straight limb has 0 of the one and 180 of the other. Idea 1, step 2.",
        ),
        (
            "Joints were placed freely, within 5 mm. Where do you take the hinge of a nearly straight limb from?",
            ("from the flat side of the model's fold", "from the three joints", "from the world's x axis"),
            0,
            "The elbow stands off its line by only two or three times that, so the joints' plane may be tens of degrees off. Idea 1.",
        ),
        (
            "Along a hose you take each joint's hinge from its own two bones. Where does it flip?",
            ("nowhere", "at every second joint", "where the hose begins to bend the other way"),
            2,
            "The cross product changes its sign with the way the chain bends. One hinge for the whole chain can't flip. Idea 3.",
        ),
    ),
)
