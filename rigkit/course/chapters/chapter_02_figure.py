"""Chapter 02's figure: ten joints of Tally's body, left arm and left leg, the frames they came with, and chains to try functions on.

A frame is a matrix (3, 3) whose columns are a joint's axes as the world sees
them: world_from_joint. The frames handed out here are turned away from those of
the finished rig, as a model maker's often are; chapter 04 makes tidy ones. So no
offset can be read off the package's own skeleton.
"""

import numpy as np

from rigkit import rotation
from rigkit.course.checkpoint import Case

LANDMARKS = (
    "left_shoulder", "left_elbow", "left_wrist", "left_gripper",
    "left_hip", "left_knee", "left_ankle", "left_ball", "left_toe_end",
)  # fmt: skip
JOINTS = ("centre_body_joint", *(f"{name}_joint" for name in LANDMARKS))
PARENTS = (-1, 0, 1, 2, 3, 0, 5, 6, 7, 8)
ARM = range(5)  # the rows of body, shoulder, elbow, wrist, gripper
ARM_PARENTS, LEG_PARENTS = [-1, 0, 1, 2, 3], [-1, 0, 1, 2, 3, 4]
CLOSED = (
    "forward.joint_by_joint",
    "forward.chained_matrices",
    "forward.doubling",
    "forward.in_blocks",
    "skeleton.Skeleton.forward",
    "skeleton.Skeleton.local",
    "skeleton.Skeleton.reparent",
    "skeleton.Skeleton.keep",
    "skeleton.Skeleton.sorted",
    "skeleton._parents_first",
    "skeleton._check_order",
)
CLOSE = 1e-6  # metres and radians: what a learner computes


# ---- the ten joints ---------------------------------------------------------------------------------------------


def places(robot):
    """Where the ten joints stand at rest, (10, 3): the true ones."""
    body = robot.skeleton.rest_world.positions[robot.skeleton.index(JOINTS[0])]
    return np.array([body, *(robot.landmarks[name] for name in LANDMARKS)])


def frames(robot, variant):
    """The frames that came with the model, (10, 3, 3): the body's stands like the world, the others are turned away from the tidy ones."""
    rng = np.random.default_rng([2, variant])
    found = [np.eye(3)]
    for name in LANDMARKS:
        tidy = rotation.to_matrix(robot.skeleton.rest_world.rotations[robot.skeleton.index(f"{name}_joint")])
        found.append(tidy @ _aside(rng))
    return np.array(found)


def _aside(rng):
    """A turn by 35 to 75 degrees after which the tidy frame's x axis, the way of the bone, lies along none of the three axes."""
    while True:
        away = turn(rng.normal(size=3), rng.uniform(35, 75))
        if np.abs(away[0]).max() < 0.85:  # the x axis as the turned frame sees it is the first row
            return away


def hinges(robot, its_frames):
    """Each joint's hinge in its own frame, (10, 3), length 1; the body's is its x axis."""
    own = [np.array([1.0, 0, 0])]
    return np.array([*own, *(frame.T @ robot.hinges[name] for frame, name in zip(its_frames[1:], LANDMARKS))])


def turn(axis, degrees):
    """The matrix (3, 3) of a turn about an axis of any length."""
    return rotation.to_matrix(rotation.from_axis_angle(np.asarray(axis, float), np.radians(degrees)))


def seen_from_parents(parents, its_frames, its_places):
    """Local turns (J, 3, 3) and offsets (J, 3) of joints with these world frames and places."""
    turns, offsets = [], []
    for joint, parent in enumerate(parents):
        above, origin = (np.eye(3), np.zeros(3)) if parent < 0 else (its_frames[parent], its_places[parent])
        turns.append(above.T @ its_frames[joint])
        offsets.append(above.T @ (its_places[joint] - origin))
    return np.array(turns), np.array(offsets)


def standing(parents, turns, offsets):
    """World frames (J, 3, 3) and places (J, 3) of any sound parent list, in whatever order: the check's own forward kinematics."""
    found = {}

    def world(joint):
        if joint not in found:
            above, origin = (np.eye(3), np.zeros(3)) if parents[joint] < 0 else world(parents[joint])
            found[joint] = above @ turns[joint], origin + above @ offsets[joint]
        return found[joint]

    both = [world(joint) for joint in range(len(parents))]
    return np.array([frame for frame, _ in both]), np.array([place for _, place in both])


# ---- measuring --------------------------------------------------------------------------------------------------


def apart(a, b):
    """The angle between two frames, radians; for what is no turn the size of the difference of the matrices, which is no less.

    The chord |A - B| of two turns by an angle t is 2 sqrt(2) sin(t / 2) (Frobenius norm).
    """
    size = float(np.linalg.norm(np.asarray(a) - np.asarray(b)))
    if not_a_turn(a) > CLOSE or not_a_turn(b) > CLOSE:
        return max(size, 2 * CLOSE)
    return float(2 * np.arcsin(min(size / np.sqrt(8), 1.0)))


def not_a_turn(m):
    """How far a matrix (3, 3) is from a turn: from axes square to each other and of length 1, and right-handed."""
    m = np.asarray(m, float)
    if not np.abs(m).max() < 1e6:
        return np.inf
    return max(float(np.abs(m.T @ m - np.eye(3)).max()), abs(float(np.linalg.det(m)) - 1))


def degrees(radians):
    """An angle in words."""
    return f"{np.degrees(radians):.3g} degrees"


# ---- chains to try functions on ---------------------------------------------------------------------------------


def chain_case(about, parents, turns, offsets, **more):
    """A Case of a tree of joints; the panel names its parents where they are few."""
    inputs = {"parents": [int(p) for p in parents], "turns": np.array(turns, float), "offsets": np.array(offsets, float), **more}
    tell = tuple(name for name in ("joint", "new_parent") if name in more) or ("parents",)
    return Case(about, inputs, tell)


def by_hand(bends):
    """Bars of 4 and 3 on a plain root, each joint turned about z by so many degrees: numbers that a hand can check."""
    return [-1, 0, 1], [turn([0, 0, 1], bend) for bend in bends], [[0, 0, 0], [4, 0, 0], [3, 0, 0]]


def posed(context, rows, rng, least=15, most=110):
    """Some rows of Tally's ten joints, each but the root turned away from rest about an axis of its own: parents, turns, offsets."""
    rows = list(rows)
    parents = [rows.index(PARENTS[row]) if PARENTS[row] in rows else -1 for row in rows]
    turns, offsets = seen_from_parents(parents, context.given["frames"][rows], places(context.robot)[rows])
    return parents, [turns[0], *(rest @ turn(rng.normal(size=3), rng.uniform(least, most)) for rest in turns[1:])], offsets


def random_turn(rng):
    """A turn about any axis by 30 to 150 degrees."""
    return turn(rng.normal(size=3), rng.uniform(30, 150))


def bushy(rng, count=9):
    """A tree in which some joints carry several others and no branch is listed in one piece, its root at the origin and not turned."""
    parents = [-1, 0, 0, 1, 2, 1, *(int(rng.integers(0, joint - 1)) for joint in range(6, count))]
    turns = [np.eye(3), *(random_turn(rng) for _ in range(count - 1))]
    return parents, turns, np.array([np.zeros(3), *rng.uniform(0.1, 0.4, (count - 1, 3))])


def two_roots(rng):
    """Two chains in one list, taking turns, each with a root that is moved and turned."""
    return [-1, -1, 0, 1, 2, 3], [random_turn(rng) for _ in range(6)], rng.uniform(-0.4, 0.4, (6, 3)) + [0.5, 0, 0]
