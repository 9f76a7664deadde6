"""Chapter 06's oblique stance: Tally turned to its left, the left arm and the left leg lifted out to the side.

At rest both bends lie nearly along Z, so that a step straight back or forward
looks right by chance. Here they lie at an angle to every axis: only the half-plane
of the limb itself is right. The bends stay small: the joint itself is too near
its line to be a steady pole point.
"""

import numpy as np

from rigkit import rotation

X, Y, Z = np.eye(3)


def stance(robot, rng):
    """Local rotations (J, 4) of the robot's skeleton: a stance of this variant's own, within a few degrees of the others'."""

    def between(low, high):
        return np.radians(rng.uniform(low, high))

    shoulder = rotation.multiply(turn(Z, between(25, 35)), turn(Y, -between(58, 70)))
    hip = rotation.multiply(turn(Z, between(14, 20)), rotation.multiply(turn(Y, between(14, 22)), turn(X, -between(22, 30))))
    return turned(
        robot,
        {
            "centre_body_joint": turn(Y, between(15, 22)),
            "left_shoulder_joint": shoulder,
            "left_elbow_joint": turn(robot.hinges["left_elbow"], between(11, 17)),
            "left_hip_joint": hip,
            "left_knee_joint": turn(robot.hinges["left_knee"], between(9, 14)),
        },
    )


def turn(axis, angle):
    """A quaternion."""
    return rotation.from_axis_angle(np.asarray(axis, float), float(angle))


def turned(robot, turns):
    """Local rotations (J, 4) with some joints turned. turns: joint name to a quaternion in the axes of the rest pose's world."""
    skeleton = robot.skeleton
    local, world = skeleton.rest_rotations.copy(), skeleton.forward().rotations
    for name, q in turns.items():
        j = skeleton.index(name)
        parent = skeleton.parents[j]
        above = world[parent] if parent >= 0 else np.array([0, 0, 0, 1.0])
        local[j] = rotation.multiply(rotation.multiply(rotation.invert(above), q), world[j])
    return local


def standing(robot, rotations, landmarks):
    """The points (3, 3) of a limb's joints in a pose. landmarks: "left_shoulder" and so on."""
    positions = robot.skeleton.forward(rotations).positions
    return np.array([positions[robot.skeleton.index(f"{name}_joint")] for name in landmarks])
