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

The steps are `_solve`, about a dozen lines. A hinge with a range of its own narrows the shell of
distances the end can have: see `reach`, and `bends` of `solve`.

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

from rigkit import _limb_axes as axes
from rigkit import _limb_fast, _limb_turns, arguments, rotation

REACHED = 1e-9  # of the limb's length: a gap below this is none
NO_SOFT = 1e-12  # of the reach: a soft this short is none
ROUNDING = 4e-16  # of the distance: a gap below this is rounding
FEW = 64  # limbs; below this many the clear form is as fast as blocks
_NUMBERS = (float, int)


@dataclass(frozen=True, eq=False)
class Solution:
    """A solved limb: `mid` and `end` (..., 3) metres; `stretch` (...) times its length; `gap` (...) metres from
    end to target; `reached` (...) whether the gap is below 1e-9 of the limb's length."""

    mid: np.ndarray
    end: np.ndarray
    stretch: np.ndarray
    gap: np.ndarray
    reached: np.ndarray


def solve(root, mid, end, target, pole, soft=0.0, stretch_limit=1.0, bends=None):
    """Return the Solution that puts the end of a two-bone limb on `target`, elbow towards `pole`.

    root, mid, end: rest points (..., 3), which give the bone lengths and the bend
    side to fall back on. target, pole: world points (..., 3). soft: metres before
    full reach where slowing begins, 0 for none. stretch_limit: how many times its
    length the limb may grow, 1 for not at all. bends: (least, greatest) bend of the hinge
    in radians, 0 straight, None for any: a target outside the `reach` they leave is met as
    near as it lets. Leading axes are broadcast.

    Raises ValueError for a bone of no length, a negative soft or one longer than
    the limb, a stretch_limit below 1, bends out of order, and numbers that are not finite.

    >>> s = solve([0, 0, 0], [3, 0, 0], [7, 0, 0], target=[5, 0, 0], pole=[0, 9, 0])
    >>> s.mid.round(6), bool(s.reached)
    (array([1.8, 2.4, 0. ]), True)
    """
    if bends is not None:
        shape, given = _checked(root, mid, end, target, pole, soft, stretch_limit, *_bends(bends))
        return _solve(shape, *given)
    if type(soft) in _NUMBERS and type(stretch_limit) in _NUMBERS:
        one = _limb_fast.one(root, mid, end, target, pole, soft, stretch_limit)
        if one:
            mid, end, stretch, gap, length = one
            return Solution(np.array(mid), np.array(end), stretch, gap, gap < REACHED * length)
    shape, given = _checked(root, mid, end, target, pole, soft, stretch_limit)
    return _solve(shape, *given) if np.prod(shape, dtype=int) < FEW else _solve_many(shape, *given)


def elbow_circle(upper, lower, distance):
    """Return (along, off): how far along the root-end line the elbow circle's centre lies, and its radius, metres.

    Written so that nothing cancels near full reach: off is twice the area of the
    triangle over its base, the area by Heron's rule in Kahan's form (Kahan,
    "Miscalculating area and angles of a needle-like triangle" (memory)).
    At distance 0 two equal bones fold on each other: (0, upper). Outside the reach
    shell off is 0. Raises ValueError for a negative length or distance.

    >>> along, off = elbow_circle(3.0, 4.0, 5.0)
    >>> round(float(along), 9), round(float(off), 9)
    (1.8, 2.4)
    """
    upper, lower, distance = _metres(upper=upper, lower=lower, distance=distance)
    thin, length = upper - lower, upper + lower
    base = np.where(distance > 0, distance, 1.0)
    along = 0.5 * (thin * (length / base) + distance)
    left = np.maximum(length - distance, 0.0)
    past = np.maximum((distance - thin) * (distance + thin), 0.0)
    off = np.sqrt((length + distance) * left) * np.sqrt(past) / (2.0 * base)
    folded = (distance == 0) & (axes.inner(upper, lower) == 0)
    return np.where(folded, 0.0, along), np.where(folded, upper, off)


def soft_distance(distance, reach, soft):
    """Return the distance the end goes to when the target is at `distance`: slower and slower, never beyond reach.

    Up to d_a = reach - soft it is the distance itself; beyond, d_a + s (1 - exp(-(d - d_a) / s))
    with s = soft: the response of a first-order lag, with slope 1 at d_a. soft 0: the
    distance, up to the reach. All in metres, leading axes broadcast.

    Raises ValueError for a negative distance or reach, and for a soft that is not from 0 to the reach.

    >>> float(soft_distance(12.0, 10.0, 2.0).round(8))
    9.72932943
    """
    distance, reach, soft = _metres(distance=distance, reach=reach, soft=soft)
    axes.between("soft", soft, 0.0, reach, "metres, no more than the reach")
    start = reach - soft
    beyond = np.maximum(distance - start, 0.0)
    slowed = start - soft * np.expm1(-beyond / np.where(soft > NO_SOFT * reach, soft, 1.0))
    return np.where(distance <= start, distance, slowed)


def girth(stretch):
    """Return how many times as thick a limb is that is `stretch` times as long, if its volume is kept: 1 / sqrt(stretch).

    Two directions across share what the one along gains: s g^2 = 1. Source: uniaxial
    extension of an incompressible solid (Treloar, The Physics of Rubber Elasticity).
    Raises ValueError for a stretch that is not above 0.

    >>> float(girth(4.0))
    0.5
    """
    return 1.0 / np.sqrt(_above_zero("stretch", stretch, "a number above 0: 1 is the length at rest"))


def pole_point(root, mid, end, distance, side=None):
    """Return a pole point (..., 3) that leaves this limb as it is: `distance` metres from the middle joint, in the
    bend plane, square to the root-end line, on the bend's side.

    side: a direction (..., 3) to take for a straight limb, which shows none; what of it runs along the limb is taken off.
    Raises ValueError for a straight limb with no side, for root and end in one place, and for a distance that is not above 0.

    >>> pole_point([0, 0, 0], [3, 4, 0], [6, 0, 0], 10.0)
    array([ 3., 14.,  0.])
    >>> pole_point([0, 0, 0], [3, 0, 0], [6, 0, 0], 10.0, side=[1, 0, 1])
    array([ 3.,  0., 10.])
    """
    root, mid, end = axes.points(root=root, mid=mid, end=end)
    distance = _above_zero("distance", distance, "metres above 0: the pole lies on the bend's side")
    upper, _ = axes.lengths(root, mid, end)
    line = end - root
    length = axes.norm(line)
    bad = length <= axes.ON_LINE * upper
    if bad.any():
        raise ValueError(
            f"root and end{arguments.where(arguments.first(bad))} lie in one place; expected a line between them: unfold the limb first"
        )
    line = line / length[..., None]
    off = axes.square_to(mid - root, line)
    straight = axes.norm(off) <= axes.ON_LINE * upper
    if straight.any():
        off = np.where(straight[..., None], _given_side(side, line, straight), off)
    return mid + (distance / axes.norm(off))[..., None] * off


def _given_side(side, line, straight):
    """The side to take for straight limbs, square to their line."""
    row = arguments.where(arguments.first(straight))
    if side is None:
        raise ValueError(f"the limb{row} is straight; expected a bend that shows a side: move its middle joint off the line first")
    side = axes.square_to(arguments.directions("side", side), line)
    if (straight & (axes.norm(side) <= axes.ON_LINE)).any():
        raise ValueError(f"side lies along the limb{row}; expected a direction across it")
    return side


def swivel_angle(root, mid, end, reference):
    """Return the swivel angle (...) in radians: how far the middle joint is turned about the line from root to end.

    Zero where it lies on the side of `reference`, a direction (..., 3), made square to
    the line; positive right-handed about the line from root to end; from -pi to pi.

    Raises ValueError for a straight limb and for a reference along the line.

    >>> round(float(swivel_angle([0, 0, 0], [1, 0, 1], [2, 0, 0], reference=[0, 1, 0])), 6)
    1.570796
    """
    root, mid, end = axes.points(root=root, mid=mid, end=end)
    line, zero, quarter = axes.circle_axes(root, end, reference)
    off = mid - root
    x, y = np.einsum("...i,...i->...", off, zero), np.einsum("...i,...i->...", off, quarter)
    bad = np.hypot(x, y) <= axes.ON_LINE * axes.norm(off)
    if bad.any():
        raise ValueError(
            f"the limb{arguments.where(arguments.first(bad))} is straight; expected a bend: a middle joint on the line has no swivel angle"
        )
    return np.arctan2(y, x)


def mid_from_swivel(root, end, upper, lower, angle, reference):
    """Return the middle joint (..., 3) of a limb with bones `upper` and `lower` metres at a swivel angle in radians.

    The inverse of `swivel_angle`, with the same reference direction.
    Raises ValueError where the two bones can't span the distance from root to end.

    >>> mid_from_swivel([0, 0, 0], [5, 0, 0], 3.0, 4.0, 0.0, reference=[0, 1, 0]).round(6)
    array([1.8, 2.4, 0. ])
    """
    root, end = axes.points(root=root, end=end)
    upper, lower, angle = (arguments.array(n, x, ()) for n, x in (("upper", upper), ("lower", lower), ("angle", angle)))
    line, zero, quarter = axes.circle_axes(root, end, reference)
    distance = axes.norm(end - root)
    inner, outer = reach(upper, lower)
    bad = (distance > outer * (1 + REACHED)) | (distance < inner - outer * REACHED)
    if bad.any():
        row = arguments.first(bad)
        told = [float(np.broadcast_to(x, bad.shape)[row]) for x in (distance, inner, outer)]
        raise ValueError(
            "root and end{} are {:.6g} m apart; expected {:.6g} to {:.6g} m for these bones".format(arguments.where(row), *told)
        )
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
    upper, lower = _metres(upper=upper, lower=lower)
    limit = axes.between("hinge_limit", hinge_limit, 0.0, np.pi, "radians of bend, 0 being straight")
    arguments.broadcast(upper=upper.shape, lower=lower.shape, hinge_limit=limit.shape)
    straightness = np.sin((np.pi - limit) / 2.0)  # the cosine of half the bend, and exactly 0 at pi
    return np.hypot(upper - lower, 2.0 * np.sqrt(upper * lower) * straightness), upper + lower


def rotations(root, mid, end, solution, pole, hinge=None):
    """Return (upper, lower): the world turns (..., 4) that carry the rest bones to those of a Solution.

    Each turns its bone and keeps it on the bend plane: between the two lies only a
    turn about the limb's hinge. `pole` is the one solved with. hinge: the direction
    (..., 3) a straight rest limb hinges about, for example that of its fold; a bent
    one has its own.

    Both are three turns in a row: back from the rest frame (line, side), the change of
    the bone's angle to the line, out to the solved frame.

    Raises ValueError as `solve` does, and for a hinge along the bones of a straight limb.

    >>> rest, pole = ([0, 0, 0], [3, 0, 0], [7, 0, 0]), [0, 9, 0]
    >>> upper, lower = rotations(*rest, solve(*rest, [5, 0, 0], pole), pole, hinge=[0, 0, -1])
    >>> rotation.rotate(upper, [3, 0, 0]).round(6)
    array([1.8, 2.4, 0. ])
    """
    if hinge is None and (one := _limb_turns.one(root, mid, end, solution.mid, solution.end, pole)):
        return tuple(np.array(turn) for turn in one)
    root, mid, end, pole = axes.points(root=root, mid=mid, end=end, pole=pole)
    axes.lengths(root, mid, end)
    line, hinge = axes.rest_axes(root, mid, end, hinge)
    shape = np.broadcast_shapes(solution.mid.shape[:-1], solution.end.shape[:-1], pole.shape[:-1])
    few = np.prod(shape, dtype=int) < FEW or line.ndim > 1 or hinge.ndim > 1
    return (_turns if few else _turns_many)(root, mid, end, line, hinge, solution.mid, solution.end, pole)


def flip_line(root, target, pole):
    """Return (distance, direction): how far, metres (...), and which way, a unit vector (..., 3), the target would have
    to move to stand on the line through root and pole, where the elbow's side is undefined and flips.

    The line goes on behind the root: a target opposite to the pole flips too. A target
    on the line has distance 0 and direction 0.
    Raises ValueError for a pole on the root.

    >>> distance, direction = flip_line([0, 0, 0], [0.3, 0.2, 0], [1, 0, 0])
    >>> float(distance), direction.tolist()
    (0.2, [-0.0, -1.0, -0.0])
    """
    root, target, pole = axes.points(root=root, target=target, pole=pole)
    away = -axes.square_to(target - root, axes.unit("pole", pole - root, "root"))
    distance = axes.norm(away)
    return distance, np.divide(away, distance[..., None], out=np.zeros_like(away), where=distance[..., None] > 0)


def swivel_gain(root, target, pole):
    """Return how many degrees the elbow swivels for a degree that the target moves sideways about the root (...).

    The cotangent of the angle at the root between target and pole: 0 where they stand
    square, 1 at 45 degrees, 57 at one degree, infinite on the flip line; negative behind the
    root. On a globe with the pole at its top this is how fast the bearing of the pole
    turns as one walks west (the convergence of the meridians).
    Raises ValueError for a target or a pole on the root.

    >>> round(float(swivel_gain([0, 0, 0], [1, 1, 0], [0, 1, 0])), 6)
    1.0
    """
    root, target, pole = axes.points(root=root, target=target, pole=pole)
    to_target, to_pole = axes.unit("target", target - root, "root"), axes.unit("pole", pole - root, "root")
    with np.errstate(divide="ignore"):
        return np.einsum("...i,...i->...", to_target, to_pole) / axes.norm(np.cross(to_target, to_pole))


# ---- the solver -----------------------------------------------------------------------------------------------


def _solve(shape, root, mid, end, target, pole, upper, lower, soft, stretch_limit, inner, outer):
    """The two-bone solver, to be read. Arguments are checked arrays; their leading axes are broadcast to `shape`."""
    line, side, distance = axes.directions(root, mid, end, target, pole)  # to the target; square to it, to the pole; how far
    held = np.maximum(soft_distance(distance, outer, soft), inner)  # how far the end goes before it grows
    stretch = np.clip(distance / np.where(held > 0, held, 1.0), 1.0, stretch_limit)  # makes up what is missing, as far as it may
    along, off = elbow_circle(upper, lower, held)
    solved_mid = root + (along * stretch)[..., None] * line + (off * stretch)[..., None] * side
    solved_end = root + (held * stretch)[..., None] * line
    gap = np.abs(distance - held * stretch)
    gap = np.where(gap <= ROUNDING * distance, 0.0, gap)
    return _solution(shape, solved_mid, solved_end, stretch, gap, gap < REACHED * (upper + lower))


def _solve_many(shape, root, mid, end, target, pole, upper, lower, soft, stretch_limit, inner, outer):
    """The same in blocks (see `rigkit._limb_fast`); the rows that are not plain go through `_solve`."""
    *solved, plain = _limb_fast.many(root, target, pole, upper, lower, soft, stretch_limit, shape)
    odd = np.flatnonzero(~plain)
    if len(odd):
        row = np.unravel_index(odd, shape)
        points = [np.broadcast_to(x, (*shape, 3))[row] for x in (root, mid, end, target, pole)]
        again = _solve((len(odd),), *points, *(np.broadcast_to(x, shape)[row] for x in (upper, lower, soft, stretch_limit, inner, outer)))
        for array, rows in zip(solved, (again.mid, again.end, again.stretch, again.gap)):
            array[odd] = rows
    mid, end, stretch, gap = solved
    gap = gap.reshape(shape)
    return Solution(mid.reshape(*shape, 3), end.reshape(*shape, 3), stretch.reshape(shape), gap, gap < REACHED * (upper + lower))


def _turns(root, mid, end, line, hinge, solved_mid, solved_end, pole):
    """The turns of the two bones, to be read. line, hinge: of the rest limb."""
    rest = line, np.cross(line, hinge)
    solved = axes.directions(root, mid, end, solved_end, pole, hinge)[:2]
    back, out = rotation.invert(axes.frame(*rest)), axes.frame(*solved)
    bones = (mid - root, solved_mid - root), (end - mid, solved_end - solved_mid)
    changes = [axes.angle(new, *solved) - axes.angle(old, *rest) for old, new in bones]
    return tuple(rotation.multiply(out, rotation.multiply(rotation.from_axis_angle([0, 0, 1], change), back)) for change in changes)


def _turns_many(root, mid, end, line, hinge, *solved):
    """The same in blocks for one rest limb (see `rigkit._limb_turns`); the rows that are not plain go through `_turns`."""
    shape = np.broadcast_shapes(*(x.shape[:-1] for x in solved))
    before = _limb_turns.rest([(mid - root).tolist(), (end - mid).tolist()], line.tolist(), np.cross(line, hinge).tolist())
    *turns, plain = _limb_turns.many(root, *solved, before, axes.norm(mid - root).item(), shape)
    odd = np.flatnonzero(~plain)
    if len(odd):
        again = _turns(root, mid, end, line, hinge, *(np.broadcast_to(x, (*shape, 3)).reshape(-1, 3)[odd] for x in solved))
        for table, rows in zip(turns, again):
            table[odd] = rows
    return tuple(table.reshape(*shape, 4) for table in turns)


def _solution(shape, mid, end, stretch, gap, reached):
    """A Solution with every array in the full batch shape; one limb has plain numbers."""
    mid, end = (np.array(np.broadcast_to(x, (*shape, 3))) for x in (mid, end))
    numbers = [np.array(np.broadcast_to(x, shape)) for x in (stretch, gap, reached)]
    return Solution(mid, end, *(numbers if shape else [x.item() for x in numbers]))


def _checked(root, mid, end, target, pole, soft, stretch_limit, least=0.0, most=np.pi):
    """Return (shape, arguments as arrays), or raise the ValueError that `solve` promises. least, most: bends, radians."""
    named = {"root": root, "mid": mid, "end": end, "target": target, "pole": pole}
    points = axes.points(**named)
    upper, lower = axes.lengths(*points[:3])
    inner = axes.inner(upper, lower) if most == np.pi else reach(upper, lower, most)[0]
    outer = upper + lower if least == 0.0 else reach(upper, lower, least)[0]
    soft = axes.between("soft", soft, 0.0, outer, "metres, no more than the limb is long")
    stretch_limit = axes.between("stretch_limit", stretch_limit, 1.0, np.inf, "times the limb's length")
    shapes = {name: p.shape[:-1] for name, p in zip(named, points)}
    shape = arguments.broadcast(**shapes, soft=soft.shape, stretch_limit=stretch_limit.shape)
    return shape, (*points, upper, lower, soft, stretch_limit, inner, outer)


def _bends(bends):
    """The least and the greatest bend, radians: one hinge range for all limbs of a call."""
    bends = arguments.array("bends", bends, (2,))
    if bends.shape != (2,) or not 0 <= bends[0] <= bends[1] <= np.pi:
        raise ValueError(
            f"bends is {arguments.shorten(bends)}; expected the least and the greatest of one hinge, from 0 (straight) to {np.pi:.6g} radians"
        )
    return bends.tolist()


def _metres(**numbers):
    """Lengths (...) of 0 or more that fit together, as arrays."""
    found = [axes.between(name, value, 0.0, np.inf, "metres") for name, value in numbers.items()]
    arguments.broadcast(**{name: value.shape for name, value in zip(numbers, found)})
    return found


def _above_zero(name, value, what):
    value = arguments.array(name, value, ())
    if (value <= 0).any():
        bad = arguments.first(value <= 0)
        raise ValueError(f"{name}{arguments.where(bad)} is {value[bad]:g}; expected {what}")
    return value
