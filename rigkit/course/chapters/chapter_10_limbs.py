"""Chapter 10's limbs: bones, reach, bend at a distance, how fast the elbow turns, and the exponential soft distance.

With bones a and b bent by t, root and end are d apart: d^2 = a^2 + b^2 + 2 a b cos t,
the law of cosines (Euclid, Elements II.12-13) for the outer angle. Its slope says how
fast the elbow turns: dt/dd = -d / (a b sin t). Where m is what is left of the
reach L, that is about sqrt(2 / (m L)) for equal bones: without bound as m goes to 0.
"""

import numpy as np

BOOK = ("limb",)  # closed in the whole chapter: the package's soft distance, stretch and girth
CLOSE = 1e-6  # metres, or a plain ratio: what a learner's function gives
ARM = ("left_shoulder", "left_elbow", "left_wrist")
LEG = ("left_hip", "left_knee", "left_ankle")


def rest(robot, names=ARM):
    """Root, mid and end of a limb at rest, (3, 3)."""
    return np.array([robot.landmarks[name] for name in names], float)


def bones(points):
    """The two bone lengths of (root, mid, end)."""
    return tuple(float(length) for length in np.linalg.norm(np.diff(points, axis=0), axis=1))


def bend(a, b, distance):
    """The bend, degrees, 0 straight, of bones a and b whose ends are `distance` apart."""
    return float(np.degrees(np.arccos(np.clip((distance**2 - a * a - b * b) / (2 * a * b), -1, 1))))


def turn(a, b, start, stop):
    """How far the elbow turns, degrees, while its end goes from one share of the reach to another."""
    return bend(a, b, start * (a + b)) - bend(a, b, stop * (a + b))


def rate(a, b, left):
    """How fast the elbow turns, degrees a millimetre, where `left` metres are left of the reach."""
    distance = a + b - left
    return float(np.degrees(distance / (a * b * np.sin(np.radians(bend(a, b, distance))))) / 1000)


def slowed(distance, reach, soft):
    """The exponential soft distance of the chapter; numbers or arrays, metres."""
    beyond = np.maximum(distance - (reach - soft), 0.0)
    if soft == 0:
        return np.minimum(distance, reach)
    return np.where(beyond > 0, reach - soft * np.exp(-beyond / soft), distance)


def shortest_soft(a, b, limit):
    """The shortest soft, metres, with which the elbow turns by no more than `limit` degrees a millimetre of the target.

    It turns fastest where the soft zone begins: before, m is larger; behind, the hand slows by m / soft, and sqrt(m) / soft only falls.
    """
    low, high = 1e-6, 0.5 * (a + b)
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if rate(a, b, middle) > limit else (low, middle)
    return high
