"""The two-bone solver of `rigkit.limb` on rows of numbers, for the limb of a rig: one pose or a whole motion.

Read `rigkit.limb._solve` and `rigkit.limb.rotations` first: it is the same sum, and a test holds these equal
to it. What the rest pose gives (lengths, hinge, frames) is worked out once.
"""

import numpy as np

from rigkit import _limb_axes as axes
from rigkit import _rows as rows
from rigkit import limb
from rigkit.arithmetic import cross_rows, product_rows

NO_SOFT = limb.NO_SOFT


def two_bones(local, hinge, most_bend):
    """Return solve(target frame, pole, soft, limit) -> (root, mid, end frames, stretch, gap).

    local: the three rest frames, seen from the carrier, as is everything here. hinge: (3,) for a straight limb, or
    None. most_bend: radians, 0 straight.
    """
    (root_rest, root, _), (mid_rest, mid, _), (_, end, _) = local
    points = [np.array(p) for p in (root, mid, end)]
    upper, lower = (float(x) for x in axes.lengths(*points))
    whole, thin = upper + lower, upper - lower
    inner = limb.reach(upper, lower, most_bend)[0].item()
    inner = inner if inner > axes.ON_ROOT * whole else 0.0
    line0, hinge0 = (tuple(axis.tolist()) for axis in _rest_axes(points, hinge))
    side0 = cross_rows(line0, hinge0)
    before = rows.back(rows.from_axes(line0, side0, cross_rows(line0, side0)))
    root_rest, mid_rest = product_rows(before, root_rest), product_rows(before, mid_rest)
    root_angle, mid_angle = (
        rows.arctan(rows.dot(b, side0), rows.dot(b, line0)) for b in (rows.subtract(mid, root), rows.subtract(end, mid))
    )

    def solve(target, pole, soft, limit):
        line, side, distance = directions(target[1], pole)
        held = rows.most(soft_distance(distance, whole, soft), inner)
        near = not_zero(held)
        grown = rows.clip(distance / near, 1.0, limit)
        along, off = elbow(held, near)
        out = rows.from_axes(line, side, cross_rows(line, side))
        root_turn = product_rows(out, product_rows(rows.about_z(rows.arctan(off, along) - root_angle), root_rest))
        mid_turn = product_rows(out, product_rows(rows.about_z(rows.arctan(-off, held - along) - mid_angle), mid_rest))
        middle = rows.add(root, rows.add(rows.scale(line, along * grown), rows.scale(side, off * grown)))
        tip = rows.add(root, rows.scale(line, held * grown))
        return (root_turn, root, 1.0), (mid_turn, middle, 1.0), (target[0], tip, 1.0), grown, abs(distance - held * grown)

    def directions(target, pole):
        line, distance = rows.unit_or(line0, rows.subtract(target, root), axes.ON_ROOT * upper)
        to_pole = rows.subtract(pole, root)
        kept = rows.unit_or(side0, cross_rows(line, hinge0), axes.ON_LINE)[0]
        return line, rows.unit_or(kept, square_to(square_to(to_pole, line), line), axes.ON_LINE * rows.length(to_pole))[0], distance

    def elbow(held, near):
        along = 0.5 * (thin * (whole / near) + held)
        left, past = rows.most(whole - held, 0.0), rows.most((held - thin) * (held + thin), 0.0)
        off = rows.sqrt((whole + held) * left) * rows.sqrt(past) / (2.0 * near)
        folded = held <= 0.0
        return rows.choose(folded, 0.0, along), rows.choose(folded, upper, off)

    return solve


def soft_distance(distance, whole, soft):
    """`rigkit.limb.soft_distance` on rows; a soft longer than the limb is as long as the limb."""
    if type(soft) is float and soft <= NO_SOFT * whole:
        return rows.least(distance, whole)
    soft = rows.least(soft, whole)
    start = whole - soft
    none = soft <= NO_SOFT * whole
    beyond = rows.most(distance - start, 0.0)
    slowed = start + soft * (1.0 - rows.exp(-beyond / rows.choose(none, 1.0, soft)))
    return rows.choose(distance <= start, distance, rows.choose(none, rows.least(distance, whole), slowed))


def not_zero(x):
    """x, or 1 where it is not above 0: to divide by."""
    return rows.choose(x > 0.0, x, 1.0)


def square_to(v, line):
    """The part of v square to a unit vector."""
    return rows.subtract(v, rows.scale(line, rows.dot(v, line)))


def _rest_axes(points, hinge):
    root, mid, end = points
    if hinge is None and axes.norm(np.cross(mid - root, end - mid)) <= axes.ON_LINE * axes.norm(mid - root) * axes.norm(end - mid):
        raise ValueError("the limb is straight at rest; expected a bend, or a hinge: the direction of the model's fold")
    return axes.rest_axes(*points, None if hinge is None else np.array(hinge))
