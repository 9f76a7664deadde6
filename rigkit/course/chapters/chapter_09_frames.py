"""Chapter 09's frames: each joint and control as one matrix (4, 4), world_from_it, and how far two of them are apart.

The first three columns hold the axes, as long as the thing is large, and the fourth holds the place. So a rig that is
scaled needs no word of its own: the product of two frames carries the size along.
"""

import numpy as np

from rigkit.course.checkpoint import Measure
from rigkit.words import told_length

# closed in the whole chapter: what the package has of links, matches, looks and flips
BOOK = ("links", "rig", "posing", "matching", "gaze", "mirror.pose", "mirror.skeleton", "rotation.slerp", "rotation.blend")
CLOSE = 1e-6  # metres, or a plain ratio


def spun(axis, degrees):
    """The matrix (3, 3) of a turn about an axis of any length."""
    x, y, z = np.asarray(axis, float) / np.linalg.norm(axis)
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + np.sin(np.radians(degrees)) * cross + (1 - np.cos(np.radians(degrees))) * cross @ cross


def frame(axes, place):
    """One matrix (4, 4) from axes (3, 3) and a place (3,)."""
    made = np.eye(4)
    made[:3, :3], made[:3, 3] = axes, place
    return made


def some_frame(rng, reach=0.6, size=1.0):
    """A frame turned and placed at random."""
    return frame(size * spun(rng.normal(size=3), rng.uniform(30, 150)), rng.uniform(-reach, reach, 3) + [0, 1, 0])


def rest_frames(skeleton):
    """World frames (J, 4, 4) of all joints at rest."""
    rest = skeleton.rest_world
    return np.array([frame(matrix_of(q), p) for q, p in zip(rest.rotations, rest.positions)])


def matrix_of(q):
    """The matrix (3, 3) of a unit quaternion (x, y, z, w)."""
    x, y, z, w = q
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + 2 * w * cross + 2 * cross @ cross


def sizes(axes):
    """How long the three axes of (..., 3, 3) are."""
    return np.linalg.norm(axes, axis=-2)


def is_turn(axes):
    """How far (3, 3) is from a right-handed turn: 0 for one. Of several, (N, 3, 3), each."""
    square = np.abs(np.swapaxes(axes, -1, -2) @ axes - np.eye(3)).max(axis=(-1, -2))
    off = np.maximum(square, np.abs(np.linalg.det(axes) - 1))
    return float(off) if axes.ndim == 2 else off


def angle(a, b):
    """Degrees between two directions; 180 where one has no length."""
    if min(np.linalg.norm(a), np.linalg.norm(b)) < 1e-12:
        return 180.0
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b)))


def between(a, b):
    """The largest angle between an axis of (3, 3) and the same axis of another, degrees."""
    return max(angle(a[:, k], b[:, k]) for k in range(3))


def apart(got, right):
    """(metres, degrees, ratio of sizes) between two frames."""
    metres = float(np.linalg.norm(got[:3, 3] - right[:3, 3]))
    ratio = float(np.linalg.norm(got[:3, :3]) / np.linalg.norm(right[:3, :3]))
    return metres, between(got[:3, :3], right[:3, :3]), ratio


def gap_of(got, right):
    """One number for how far two frames are apart: metres, and an axis's ends."""
    return float(max(np.linalg.norm(got[:3, 3] - right[:3, 3]), np.abs(got[:3, :3] - right[:3, :3]).max(), np.abs(got[3] - right[3]).max()))


def told_apart(got, right):
    """What differs between two frames, in words."""
    if np.abs(got[3] - right[3]).max() > CLOSE:
        return f"its last row is ({', '.join(f'{x:.3g}' for x in got[3])}), not (0, 0, 0, 1)"
    metres, degrees, ratio = apart(got, right)
    parts = [f"{told_length(metres)} off"] * (metres > CLOSE)
    parts += [f"turned {degrees:.3g} degrees off"] * (degrees > 1e-4)
    parts += [f"{ratio:.3g} times as large as it should be"] * (abs(ratio - 1) > CLOSE)
    return ", ".join(parts) or ("axes that are no frame" if gap_of(got, right) > CLOSE else "as it should be")


def frames_measure(got, right, names, expected, proves=lambda i: ""):
    """The Measure of frames (N, 4, 4) against others: the worst is told by its name. proves(i): a cause the numbers prove, or ""."""
    off = [gap_of(a, b) for a, b in zip(got, right)]
    i = int(np.argmax(off))
    return Measure(off[i] <= CLOSE, expected, f"{names[i]}: {told_apart(got[i], right[i])}   (tolerance 1e-6 m)", off[i], proves(i))
