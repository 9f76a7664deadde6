"""Chapter 05's arithmetic: reflections, how far axes are off their images, and what the chapter closes.

A reflection over a plane with the normal n is M = I - 2 n n^T. It turns right hands
into left hands: its determinant is -1. A frame on the other side is M R S, where S
changes the signs of the frame's own axes and has determinant -1 too. Source: algebra.
"""

import numpy as np

CLOSE = 1e-6  # metres, radians, or the length of a direction: what a learner computes
BOOK = ("mirror", "symmetry")  # closed in the whole chapter
MATCHED, PARALLEL = np.array([-1.0, -1.0, -1.0]), np.array([-1.0, 1.0, 1.0])
YZ = np.diag([-1.0, 1.0, 1.0])  # the reflection over the plane x = 0
TRY = np.radians(30)  # the turn with which channels are tried


def reflection(normal):
    """The matrix I - 2 n n^T of a normal (3,) of any length but 0."""
    n = np.asarray(normal, float)
    n = n / np.linalg.norm(n)
    return np.eye(3) - 2 * np.outer(n, n)


def unit(v):
    """`v` at length 1; zeros where it has no length."""
    length = np.linalg.norm(v)
    return v / length if length > 1e-12 else np.zeros(3)


def between(u, v):
    """The angle between two vectors, radians; pi where one has no length. All digits near 0 and pi."""
    u, v = unit(u), unit(v)
    if not u.any() or not v.any():
        return float(np.pi)
    return float(2 * np.arctan2(np.linalg.norm(u - v), np.linalg.norm(u + v)))


def about(k, angle):
    """The matrix of a turn by `angle` radians about the frame's own axis k."""
    c, s = np.cos(angle), np.sin(angle)
    m = np.eye(3)
    i, j = (k + 1) % 3, (k + 2) % 3
    m[i, i], m[i, j], m[j, i], m[j, j] = c, -s, s, c
    return m


def apart(a, b):
    """The angle of the turn between two rotation matrices, radians; all digits near 0 and pi."""
    d = a.T @ b
    axis = np.array([d[2, 1] - d[1, 2], d[0, 2] - d[2, 0], d[1, 0] - d[0, 1]])
    return float(np.arctan2(np.linalg.norm(axis), np.trace(d) - 1))


def turn_off(frame, other, mirror, k, sign):
    """By how many radians the other side is off when one turns by TRY about its axis k and the other by sign times that."""
    wanted = mirror @ (frame @ about(k, TRY) @ frame.T) @ mirror
    return apart(wanted, other @ about(k, sign * TRY) @ other.T)


def move_off(frame, other, mirror, k, sign):
    """The angle in radians between the image of a move along axis k and the move along the other frame's, times sign."""
    return between(mirror @ frame[:, k], sign * other[:, k])


def not_a_turn(frames):
    """(gap, words) of the frame (n, 3, 3) that is least of all a turn; words are "" where all are right-handed turns."""
    off = np.abs(np.swapaxes(frames, 1, 2) @ frames - np.eye(3)).max(axis=(1, 2))
    if off.max() > CLOSE:
        worst = int(off.argmax())
        sizes = np.linalg.norm(frames[worst], axis=0)
        k = int(np.abs(sizes - 1).argmax())
        long = f"{'xyz'[k]} has length {sizes[k]:.6g}" if abs(sizes[k] - 1) > CLOSE else "its axes are not square to each other"
        return float(off.max()), f"frame {worst}: {long}   (tolerance 1e-6)"
    left = np.linalg.det(frames) < 0
    return (2.0, f"frame {int(left.argmax())} is left-handed: its determinant is -1") if left.any() else (0.0, "")


def in_degrees(radians):
    """An angle with four digits at any size."""
    return f"{np.degrees(radians):.4g} degrees"


def some_turn(rng):
    """A rotation matrix, turned at random."""
    q = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    return q * np.sign(np.linalg.det(q))


def direction(rng):
    """A direction of length 1 whose three numbers differ and are none of them small."""
    while True:
        v = unit(rng.normal(size=3))
        size = np.sort(np.abs(v))
        if size[0] > 0.25 and np.diff(size).min() > 0.08:
            return v
