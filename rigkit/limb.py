"""Two bones and a target: where the elbow goes.

Hold the root (the shoulder) and put the end (the wrist) on a target. The distance
d from root to target and the two bone lengths a and b make a triangle whose three
sides are known, so its shape is known. What is left free is the turn of that
triangle about the line from root to target: the elbow may lie anywhere on a
circle, the *elbow circle*, square to the line. The *pole* is a point that picks
one place on it: the elbow lies on the pole's side of the line.

With u the unit vector from root to target and v the unit vector square to u,
towards the pole, the law of cosines (Euclid, Elements II.12-13) gives the elbow:

    along = (a^2 - b^2 + d^2) / (2 d)          how far along the line the circle's centre is
    off   = sqrt(a^2 - along^2)                the circle's radius
    elbow = root + along u + off v

Source: Tolani, Goswami & Badler, "Real-time inverse kinematics techniques for
anthropomorphic limbs", Graphical Models 62 (2000) 353-388.

Limits, none of them an error:
- Farther than a + b or nearer than abs(a - b) the target can't be reached. The limb
  goes straight, or folds, along the line to the target; `reached` is false.
- Target on the root: there is no line; the rest line from root to end stands in.
- Pole on the line: it picks nothing; the limb keeps the hinge of its rest bend. A
  straight rest limb has none and takes the world axis most square to it.
- Near full reach the elbow is sensitive: off grows as the square root of what is
  left of the reach. A rounding error of 1e-16 m in d moves the elbow of a limb 1 m
  long by 1e-9 m when 1e-14 m are left, and by up to 2e-8 m in the last 1e-16 m. The
  lengths stay right all the way.

Everything takes one limb or a batch in every leading axis.
"""

from dataclasses import dataclass

import numpy as np

from rigkit import arguments

REACHED = 1e-9  # of the limb's length: a gap below this is none
ON_LINE = 1e-9  # a pole this near to the line, for its distance, picks no side


@dataclass(frozen=True, eq=False)
class Solution:
    """A solved limb: `mid` and `end` (..., 3) metres; `stretch` (...) times its length; `gap` (...) metres from
    end to target; `reached` (...) whether the gap is below 1e-9 of the limb's length."""

    mid: np.ndarray
    end: np.ndarray
    stretch: np.ndarray
    gap: np.ndarray
    reached: np.ndarray


def solve(root, mid, end, target, pole, soft=0.0, stretch_limit=1.0):
    """Return the Solution that puts the end of a two-bone limb on `target`, elbow towards `pole`.

    root, mid, end: rest points (..., 3), which give the bone lengths and the bend
    side to fall back on. target, pole: world points (..., 3). soft: metres before
    full reach where slowing begins, 0 for none. stretch_limit: how many times its
    length the limb may grow, 1 for not at all. Leading axes are broadcast.

    Raises ValueError for a bone of no length, a negative soft or one longer than
    the limb, a stretch_limit below 1, and numbers that are not finite.

    >>> s = solve([0, 0, 0], [3, 0, 0], [7, 0, 0], target=[5, 0, 0], pole=[0, 9, 0])
    >>> s.mid.round(6), bool(s.reached)
    (array([1.8, 2.4, 0. ]), True)
    """
    root, mid, end, target, pole = (
        arguments.points(name, value)
        for name, value in (("root", root), ("mid", mid), ("end", end), ("target", target), ("pole", pole))
    )
    upper, lower = _bones(root, mid, end)
    soft = _between("soft", soft, 0.0, upper + lower, "metres, no more than the limb is long")
    stretch_limit = _between("stretch_limit", stretch_limit, 1.0, np.inf, "times the limb's length")
    line, side, distance = _directions(root, mid, end, target, pole)
    nearer = soft_distance(distance, upper + lower, soft)
    held = np.clip(nearer, np.abs(upper - lower), upper + lower)
    stretch = np.clip(distance / np.where(nearer > 0, nearer, 1.0), 1.0, stretch_limit)
    along, off = elbow_circle(upper, lower, held)
    gap = np.abs(distance - held * stretch)
    gap = np.where(gap <= 4e-16 * distance, 0.0, gap)
    solved_mid = root + (along * stretch)[..., None] * line + (off * stretch)[..., None] * side
    solved_end = root + (held * stretch)[..., None] * line
    shape = np.broadcast_shapes(solved_mid.shape, solved_end.shape)
    return Solution(
        np.broadcast_to(solved_mid, shape), np.broadcast_to(solved_end, shape),
        *(np.broadcast_to(x, shape[:-1]) for x in (stretch, gap, gap < REACHED * (upper + lower))),
    )


def elbow_circle(upper, lower, distance):
    """Return (along, off): how far along the root-end line the elbow circle's centre lies, and its radius, metres.

    Written so that nothing cancels near full reach: off is twice the area of the
    triangle over its base, the area by Heron's rule in Kahan's form (Kahan,
    "Miscalculating area and angles of a needle-like triangle" (memory)).
    At distance 0 two equal bones fold on each other: (0, upper).

    >>> along, off = elbow_circle(3.0, 4.0, 5.0)
    >>> round(float(along), 9), round(float(off), 9)
    (1.8, 2.4)
    """
    upper, lower, distance = (np.asarray(x, dtype=np.float64) for x in (upper, lower, distance))
    base = np.where(distance > 0, distance, 1.0)
    along = 0.5 * ((upper - lower) * ((upper + lower) / base) + distance)
    left = np.maximum(upper + lower - distance, 0.0)
    past = np.maximum((distance - (upper - lower)) * (distance + (upper - lower)), 0.0)
    off = np.sqrt((upper + lower + distance) * left) * np.sqrt(past) / (2.0 * base)
    folded = distance <= 0
    return np.where(folded, 0.0, along), np.where(folded, np.minimum(upper, lower), off)


def soft_distance(distance, reach, soft):
    """Return the distance the end goes to when the target is at `distance`: slower and slower, never beyond reach.

    Up to d_a = reach - soft it is the distance itself; beyond, d_a + s (1 - exp(-(d - d_a) / s))
    with s = soft: the response of a first-order lag, with slope 1 at d_a. soft 0: the
    distance, up to the reach.

    >>> float(soft_distance(12.0, 10.0, 2.0).round(8))
    9.72932943
    """
    distance, reach, soft = (np.asarray(x, dtype=np.float64) for x in (distance, reach, soft))
    start = reach - soft
    s = np.where(soft > 0, soft, 1.0)
    beyond = np.maximum(distance - start, 0.0)
    slowed = start - soft * np.expm1(-beyond / s)
    return np.where(distance <= start, distance, slowed)


def pole_point(root, mid, end, distance):
    """Return a pole point (..., 3) that leaves this limb as it is: `distance` metres from the middle joint, in the
    bend plane, square to the root-end line, on the bend's side.

    Raises ValueError for a straight limb, for root and end in one place, and for a distance that is not above 0.

    >>> pole_point([0, 0, 0], [3, 4, 0], [6, 0, 0], 10.0)
    array([ 3., 14.,  0.])
    """
    root, mid, end = (arguments.points(name, value) for name, value in (("root", root), ("mid", mid), ("end", end)))
    distance = arguments.array("distance", distance, ())
    if (distance <= 0).any():
        bad = arguments.first(distance <= 0)
        raise ValueError(f"distance{arguments.where(bad)} is {distance[bad]:g}; expected metres above 0: the pole lies on the bend's side")
    upper, _ = _bones(root, mid, end)
    line = end - root
    length = np.linalg.norm(line, axis=-1)
    bad = length <= ON_LINE * upper
    if bad.any():
        raise ValueError(f"root and end{arguments.where(arguments.first(bad))} lie in one place; expected a line between them: unfold the limb first")
    off = _square_to(mid - root, line / length[..., None])
    height = np.linalg.norm(off, axis=-1)
    bad = height <= ON_LINE * upper
    if bad.any():
        raise ValueError(f"the limb{arguments.where(arguments.first(bad))} is straight; expected a bend that shows a side: move its middle joint off the line first")
    return mid + (distance / height)[..., None] * off


def swivel_angle(root, mid, end, reference):
    """Return the swivel angle (...) in radians: how far the middle joint is turned about the line from root to end.

    Zero where it lies on the side of `reference`, a direction (..., 3), made square to
    the line; positive right-handed about the line from root to end; from -pi to pi.

    Raises ValueError for a straight limb and for a reference along the line.

    >>> round(float(swivel_angle([0, 0, 0], [1, 0, 1], [2, 0, 0], reference=[0, 1, 0])), 6)
    1.570796
    """
    root, mid, end = (arguments.points(name, value) for name, value in (("root", root), ("mid", mid), ("end", end)))
    line, zero, quarter = _circle_axes(root, end, reference)
    off = mid - root
    x, y = np.einsum("...i,...i->...", off, zero), np.einsum("...i,...i->...", off, quarter)
    bad = np.hypot(x, y) <= ON_LINE * np.linalg.norm(off, axis=-1)
    if bad.any():
        raise ValueError(f"the limb{arguments.where(arguments.first(bad))} is straight; expected a bend: a middle joint on the line has no swivel angle")
    return np.arctan2(y, x)


def mid_from_swivel(root, end, upper, lower, angle, reference):
    """Return the middle joint (..., 3) of a limb with bones `upper` and `lower` metres at a swivel angle in radians.

    The inverse of `swivel_angle`, with the same reference direction.
    Raises ValueError where the two bones can't span the distance from root to end.

    >>> mid_from_swivel([0, 0, 0], [5, 0, 0], 3.0, 4.0, 0.0, reference=[0, 1, 0]).round(6)
    array([1.8, 2.4, 0. ])
    """
    root, end = arguments.points("root", root), arguments.points("end", end)
    upper, lower, angle = (arguments.array(n, x, ()) for n, x in (("upper", upper), ("lower", lower), ("angle", angle)))
    line, zero, quarter = _circle_axes(root, end, reference)
    distance = np.linalg.norm(end - root, axis=-1)
    inner, outer = reach(upper, lower)
    bad = (distance > outer * (1 + REACHED)) | (distance < inner - outer * REACHED)
    if bad.any():
        row = arguments.first(bad)
        told = [float(np.broadcast_to(x, bad.shape)[row]) for x in (distance, inner, outer)]
        raise ValueError("root and end{} are {:.6g} m apart; expected {:.6g} to {:.6g} m for these bones".format(arguments.where(row), *told))
    along, off = elbow_circle(upper, lower, distance)
    spoke = np.cos(angle)[..., None] * zero + np.sin(angle)[..., None] * quarter
    return root + along[..., None] * line + off[..., None] * spoke


def reach(upper, lower, hinge_limit=np.pi):
    """Return (inner, outer): the least and the greatest distance from root to end, metres.

    hinge_limit: the greatest bend in radians, 0 being straight. Without one the inner
    radius is the difference of the lengths; with one it is the third side of the
    triangle at that bend.

    >>> [round(float(r), 6) for r in reach(3.0, 4.0, hinge_limit=np.pi / 2)]
    [5.0, 7.0]
    """
    upper, lower = (_between(n, x, 0.0, np.inf, "metres") for n, x in (("upper", upper), ("lower", lower)))
    limit = _between("hinge_limit", hinge_limit, 0.0, np.pi, "radians of bend, 0 being straight")
    return np.hypot(upper - lower, 2.0 * np.sqrt(upper * lower) * np.cos(limit / 2.0)), upper + lower


# ---- directions and checks ------------------------------------------------------------------------------------


def _directions(root, mid, end, target, pole):
    """Return (line, side, distance): unit vectors from root to target and, square to it, to the elbow's side."""
    rest_line, hinge = _rest_axes(root, mid, end)
    distance = np.linalg.norm(target - root, axis=-1)
    away = distance > 0
    line = np.where(away[..., None], (target - root) / np.where(away, distance, 1.0)[..., None], rest_line)
    to_pole = pole - root
    side = _square_to(to_pole, line)
    size = np.linalg.norm(side, axis=-1)
    picks = size > ON_LINE * np.linalg.norm(to_pole, axis=-1)
    kept = _rest_side(line, rest_line, hinge)
    side = np.where(picks[..., None], side / np.where(picks, size, 1.0)[..., None], kept)
    return line, side, distance


def _rest_axes(root, mid, end):
    """The rest limb's unit line from root to end, and the unit normal of its bend plane."""
    upper = mid - root
    upper = upper / np.linalg.norm(upper, axis=-1, keepdims=True)
    line = end - root
    length = np.linalg.norm(line, axis=-1, keepdims=True)
    folded = length <= ON_LINE * np.linalg.norm(mid - root, axis=-1, keepdims=True)
    line = np.where(folded, upper, line / np.where(folded, 1.0, length))
    hinge = np.cross(line, upper)
    size = np.linalg.norm(hinge, axis=-1, keepdims=True)
    straight = size <= ON_LINE
    return line, np.where(straight, _any_hinge(line), hinge / np.where(straight, 1.0, size))


def _any_hinge(line):
    """A unit normal for a straight limb: square to it and to the world axis that is most square to it."""
    axis = np.eye(3)[np.argmin(np.abs(line), axis=-1)]
    hinge = np.cross(line, axis)
    return hinge / np.linalg.norm(hinge, axis=-1, keepdims=True)


def _rest_side(line, rest_line, hinge):
    """The elbow's side that keeps the rest hinge; where the line lies along the hinge, the rest limb's own side."""
    side = np.cross(hinge, line)
    size = np.linalg.norm(side, axis=-1, keepdims=True)
    lost = size <= ON_LINE
    return np.where(lost, np.cross(hinge, rest_line), side / np.where(lost, 1.0, size))


def _square_to(v, line):
    """The part of `v` square to the unit vector `line`; taken twice, so that rounding leaves nothing along it."""
    for _ in range(2):
        v = v - np.einsum("...i,...i->...", v, line)[..., None] * line
    return v


def _circle_axes(root, end, reference):
    """The unit line from root to end, the reference direction made square to it, and the third axis."""
    reference = arguments.directions("reference", reference)
    line = end - root
    length = np.linalg.norm(line, axis=-1)
    if not length.all():
        raise ValueError(f"root and end{arguments.where(arguments.first(length == 0))} lie in one place; expected a line between them")
    line = line / length[..., None]
    zero = _square_to(reference, line)
    size = np.linalg.norm(zero, axis=-1)
    bad = size <= ON_LINE
    if bad.any():
        raise ValueError(f"reference{arguments.where(arguments.first(bad))} lies along the line from root to end; expected a direction across it")
    zero = zero / size[..., None]
    return line, zero, np.cross(line, zero)


def _bones(root, mid, end):
    """The bone lengths (...); one of no length is an error that names the bone and the row."""
    upper, lower = np.linalg.norm(mid - root, axis=-1), np.linalg.norm(end - mid, axis=-1)
    for name, length, other in (("upper bone (root to mid)", upper, lower), ("lower bone (mid to end)", lower, upper)):
        bad = length <= 1e-12 * other
        if bad.any():
            raise ValueError(f"the {name}{arguments.where(arguments.first(bad))} has length 0; expected two bones: move the joints apart")
    return upper, lower


def _between(name, value, low, high, what):
    value = arguments.array(name, value, ())
    bad = ~((value >= low) & (value <= high))
    if bad.any():
        row = arguments.first(bad)
        shown = float(np.broadcast_to(value, bad.shape)[row])
        upto = np.broadcast_to(high, bad.shape)[row]
        limit = f"{low:g} or more" if np.isinf(upto) else f"{low:g} to {upto:.6g}"
        raise ValueError(f"{name}{arguments.where(row)} is {shown:.6g}; expected {limit} {what}")
    return value
