"""Chapter 11's sleeve: the vertices of Tally's left elbow sleeve, its loops, and the frames of the joints that it hangs on.

`along` is the way along the upper arm, metres from the first loop. Loops lean near the fold, so
vertices of one loop differ in it; a loop's place is the mean of its own.
"""

import numpy as np

from rigkit.course.checkpoint import Measure
from rigkit.words import told_length

BOOK = ("binding", "skinning")  # closed in the whole chapter
CLOSE = 1e-6  # metres, or a plain share
CORNERS = 18  # vertices of a loop of the sleeve
TWISTS, KEEPS = (100, 110, 130, 140), (0.95, 0.96, 0.97, 0.98)  # degrees; share of the radius
JOINTS = ("left_shoulder_joint", "left_elbow_joint")


def given(robot, variant):
    """What the notebook is handed: vertices, loop, along and stations of the sleeve; binds (2, 4, 4); twist, degrees; keep, a share."""
    vertices = robot.part("left_elbow_sleeve").mesh.vertices
    vertices = vertices[: len(vertices) // CORNERS * CORNERS].copy()  # without the middles of its two caps
    loop = np.arange(len(vertices)) // CORNERS
    start, end = vertices[:CORNERS].mean(axis=0), vertices[-CORNERS:].mean(axis=0)
    along = (vertices - start) @ ((end - start) / np.linalg.norm(end - start))
    rng = np.random.default_rng([11, variant])
    return {
        "vertices": vertices,
        "loop": loop,
        "along": along,
        "stations": np.array([0.0, float(np.linalg.norm(end - start))]),
        "binds": np.array([bind(robot, name) for name in JOINTS]),
        "twist": int(rng.choice(TWISTS)),
        "keep": float(rng.choice(KEEPS)),
    }


def bind(robot, name):
    """world_from_joint (4, 4) of a joint at rest."""
    row, rest = robot.skeleton.index(name), robot.skeleton.rest_world
    found = np.eye(4)
    found[:3, :3], found[:3, 3] = matrix(rest.rotations[row]), rest.positions[row]
    return found


def matrix(q):
    """The matrix (3, 3) of a unit quaternion (x, y, z, w)."""
    x, y, z, w = q
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + 2 * w * cross + 2 * cross @ cross


def about(axis, angle):
    """The quaternion (x, y, z, w) of a turn about a unit axis, radians; w is below zero beyond half a turn."""
    return np.append(np.sin(angle / 2) * np.asarray(axis, float), np.cos(angle / 2))


def twisted_poses(binds, degrees):
    """The frames when the second joint has turned about its own x."""
    turn = np.eye(4)
    turn[:3, :3] = matrix(about([1, 0, 0], np.radians(degrees)))
    return np.array([binds[0], binds[1] @ turn])


def radius_left(degrees, weight=0.5):
    """The share of the radius that a linear blend leaves of a twist (Kavan et al. 2008): sqrt(1 - 2 w (1 - w) (1 - cos t))."""
    return float(np.sqrt(max(0.0, 1 - 2 * weight * (1 - weight) * (1 - np.cos(np.radians(degrees))))))


def blended(vertices, weights, binds, poses):
    """The worked linear blend: the mean, by weights (V, J), of where each joint carries each vertex (V, 3)."""
    carry = poses @ np.linalg.inv(binds)
    moved = np.einsum("jab,vb->vja", carry[:, :3, :3], vertices) + carry[:, :3, 3]
    return np.einsum("vj,vja->va", weights, moved)


def vertices_apart(answer, right, expected):
    """The Measure of points (V, 3) against the right ones, told by the farthest."""
    if answer.shape != right.shape:
        return Measure(False, f"{len(right)} points", f"{len(answer)} points", 9.0)
    off = np.linalg.norm(answer - right, axis=1)
    i = int(off.argmax())
    return Measure(
        off[i] <= CLOSE,
        expected,
        f"vertex {i} is {told_length(off[i])} off   (tolerance 1e-6 m)",
        float(off[i]),
    )
