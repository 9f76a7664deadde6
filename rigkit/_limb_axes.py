"""The directions and checks of `rigkit.limb`: line, side, hinge, and what makes two bones sound.

The *line* runs from the root to the target or the end; the *side* is square to it,
towards the middle joint; the *hinge* is square to both, so that a positive turn
about it bends the limb further (the sign of `rigkit.bend.normal`).
"""

import numpy as np

from rigkit import arguments, rotation

ON_LINE = 1e-9  # a pole this near to the line, for its distance, picks no side
ON_ROOT = 1e-12  # of the upper bone's length: a target this near to the root lies on it
NO_BONE = 1e-12  # of the other bone's length: a bone this short is none


def directions(root, mid, end, target, pole, hinge=None):
    """Return (line, side, distance): unit vectors from root to target and, square to it, to the elbow's side."""
    rest_line, hinge = rest_axes(root, mid, end, hinge)
    line, distance = _unit_or(rest_line, target - root, ON_ROOT * norm(mid - root))
    to_pole = pole - root
    side, _ = _unit_or(_kept_side(line, rest_line, hinge), square_to(to_pole, line), ON_LINE * norm(to_pole))
    return line, side, distance


def rest_axes(root, mid, end, hinge=None):
    """The rest limb's unit line from root to end, and its hinge: the unit normal about which a positive turn bends it further."""
    upper = (mid - root) / norm(mid - root)[..., None]
    line, _ = _unit_or(upper, end - root, ON_LINE * norm(mid - root))
    stand_in = _any_hinge(line) if hinge is None else _given_hinge(hinge, line)
    return line, _unit_or(stand_in, np.cross(upper, line), ON_LINE)[0]


def _any_hinge(line):
    """A unit hinge for a straight limb: it bends to the side of the world axis that is most square to it."""
    axis = np.eye(3)[np.argmin(np.abs(line), axis=-1)]
    hinge = np.cross(axis, line)
    return hinge / norm(hinge)[..., None]


def _given_hinge(hinge, line):
    hinge = square_to(arguments.directions("hinge", hinge), line)
    size = norm(hinge)
    if (size <= ON_LINE).any():
        raise ValueError(f"hinge{arguments.where(arguments.first(size <= ON_LINE))} lies along the limb; expected a direction across it")
    return hinge / size[..., None]


def _kept_side(line, rest_line, hinge):
    """The elbow's side that keeps the rest hinge; where the line lies along the hinge, the rest limb's own side."""
    return _unit_or(np.cross(rest_line, hinge), np.cross(line, hinge), ON_LINE)[0]


def _unit_or(stand_in, v, least):
    """Return (unit vectors, lengths) of v (..., 3); one no longer than `least` counts as 0, and `stand_in` takes its place."""
    length = norm(v)
    good = length > least
    length = np.where(good, length, 0.0)
    return np.where(good[..., None], v / np.where(good, length, 1.0)[..., None], stand_in), length


def angle(bone, line, side):
    """The angle of a bone to `line`, positive towards `side`."""
    return np.arctan2(np.einsum("...i,...i->...", bone, side), np.einsum("...i,...i->...", bone, line))


def frame(line, side):
    """The turn that carries x to `line` and y to `side`."""
    return rotation.from_matrix(np.stack(np.broadcast_arrays(line, side, np.cross(line, side)), axis=-1))


def square_to(v, line):
    """The part of `v` square to the unit vector `line`; taken twice, so that rounding leaves nothing along it."""
    for _ in range(2):
        v = v - np.einsum("...i,...i->...", v, line)[..., None] * line
    return v


def circle_axes(root, end, reference):
    """The unit line from root to end, the reference direction made square to it, and the third axis."""
    reference = arguments.directions("reference", reference)
    line = unit("end", end - root, "root")
    zero = square_to(reference, line)
    size = norm(zero)
    bad = size <= ON_LINE
    if bad.any():
        raise ValueError(
            f"reference{arguments.where(arguments.first(bad))} lies along the line from root to end; expected a direction across it"
        )
    zero = zero / size[..., None]
    return line, zero, np.cross(line, zero)


def points(**named):
    return tuple(arguments.points(name, value) for name, value in named.items())


def unit(name, v, origin):
    """`v` (..., 3), from `origin` to the point called `name`, at unit length."""
    length = norm(v)
    if not length.all():
        raise ValueError(
            f"{name}{arguments.where(arguments.first(length == 0))} lies on {origin}; "
            "expected a point away from it: a direction needs two places"
        )
    return v / length[..., None]


def lengths(root, mid, end):
    """The bone lengths (...); one of no length is an error that names the bone and the row."""
    upper, lower = norm(mid - root), norm(end - mid)
    for name, length, other in (("upper bone (root to mid)", upper, lower), ("lower bone (mid to end)", lower, upper)):
        bad = length <= NO_BONE * other
        if bad.any():
            raise ValueError(f"the {name}{arguments.where(arguments.first(bad))} has length 0; expected two bones: move the joints apart")
    return upper, lower


def norm(v):
    """The length of vectors (..., 3); several times as fast as numpy's norm on a large batch."""
    return np.sqrt(np.einsum("...i,...i->...", v, v))


def inner(upper, lower):
    """The least distance from root to end; 0 for bones that are equal but for rounding."""
    least = np.abs(upper - lower)
    return np.where(least > ON_ROOT * (upper + lower), least, 0.0)


def between(name, value, low, high, what):
    value = arguments.array(name, value, ())
    bad = ~((value >= low) & (value <= high))
    if bad.any():
        row = arguments.first(bad)
        shown = float(np.broadcast_to(value, bad.shape)[row])
        upto = np.broadcast_to(high, bad.shape)[row]
        limit = f"{low:g} or more" if np.isinf(upto) else f"{low:g} to {upto:.6g}"
        raise ValueError(f"{name}{arguments.where(row)} is {shown:.6g}; expected {limit} {what}")
    return value
