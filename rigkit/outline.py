"""Outlines: the lines that an animator sees and takes hold of.

A set of our own, named by plain geometry: ring, square, diamond, arrow, cross, cage
and a few more. Each is one polyline or several, open or closed, of size one about the
origin; flat ones lie in the plane y = 0, with +y the side they face. `fitted` makes one
as large as the part it stands for asks, and never too small to see and to pick.

An outline encloses a part where it stands out further in every direction it spans. How far a
set of points stands out along a direction is its support, max(p . d); a convex body holds another
exactly where its support is nowhere less (Schneider, Convex Bodies, section 1.7 (memory)).
"""

from dataclasses import dataclass

import numpy as np

from rigkit import arguments

RING_POINTS = 32
ROUND_TURNS = 256  # directions that a support is compared in, besides the outline's own
LEAST_SHARE = 0.05  # of the figure's height: 24 of 480 picture lines. WCAG 2.2, 2.5.8 Target Size (Minimum), asks for 24 (memory)
MARGIN = 0.10  # how far an outline stands off its part, as a share of the part's size
FLAT = 1e-9


@dataclass(frozen=True, eq=False)
class Outline:
    """Polylines of a control, in its own frame, metres.

    lines: arrays (N, 3). closed: for each, whether its last point joins its first.
    Raises ValueError for a line of fewer than two points.
    """

    lines: tuple
    closed: tuple

    def __post_init__(self):
        lines = tuple(_line(i, line) for i, line in enumerate(self.lines))
        if not lines or len(lines) != len(self.closed):
            raise ValueError(
                f"an outline has {len(lines)} lines and {len(self.closed)} words on whether they are closed; "
                "expected one for each, at least one"
            )
        object.__setattr__(self, "lines", lines)
        object.__setattr__(self, "closed", tuple(bool(c) for c in self.closed))

    @property
    def points(self):
        """All points of all lines, (N, 3)."""
        return np.concatenate(self.lines)

    @property
    def size(self):
        """How wide the outline is at most along one of its axes, metres."""
        return float(np.ptp(self.points, axis=0).max())

    def scaled(self, factor):
        """The outline `factor` (a number, or one an axis) times as large."""
        return Outline(tuple(line * factor for line in self.lines), self.closed)

    def moved(self, offset):
        """The outline moved by `offset` (3,)."""
        return Outline(tuple(line + offset for line in self.lines), self.closed)


def shape(name):
    """Return the Outline of size one called `name`; an unknown name is a ValueError that lists them.

    >>> shape("square").lines[0].tolist()
    [[1.0, 0.0, 1.0], [1.0, 0.0, -1.0], [-1.0, 0.0, -1.0], [-1.0, 0.0, 1.0]]
    """
    if name not in SHAPES:
        raise ValueError(f"no outline is called {name!r}; there are: {', '.join(SHAPES)}")
    return SHAPES[name]


def clearance(outline, points):
    """Return how far the outline stands out beyond `points` (N, 3) where it does so least, metres; below zero they stick out.

    Both in the control's frame. A flat outline is seen along the axis square to it, a
    cage from every side.

    >>> round(clearance(shape("square").scaled(2.0), [[1, 0, 0], [0, 5, 0]]), 6)
    1.0
    """
    points = _part(points)
    directions = _directions(outline)
    return float((support(outline.points, directions) - support(points, directions)).min())


def fitted(name, points, margin=MARGIN, least=0.0):
    """Return the outline called `name` large enough to enclose `points` (N, 3), given in the control's frame, metres.

    margin: how far it stands off, as a share of the points' own size. least: the
    smallest size, metres (see `least_size`); a small part gets this one. The outline keeps the
    control's pivot as its origin; it is as large as the side that stands out furthest asks.

    >>> round(fitted("square", [[0.1, 0, 0], [0, 0, -0.2]], margin=0.0).size, 6)
    0.4
    """
    points = _part(points)
    unit = shape(name)
    directions = _directions(unit)
    need = support(points, directions) + margin * np.ptp(points, axis=0).max()
    grown = max(float((need / support(unit.points, directions)).max()), least / unit.size)
    return unit.scaled(grown)


def least_size(figure):
    """Return the size below which an outline can't be picked with the whole figure in view, metres.

    figure: points (N, 3) of the whole model. A twentieth of its height.

    >>> least_size([[0, 0, 0], [0.3, 1.2, 0]])
    0.06
    """
    return LEAST_SHARE * float(np.ptp(arguments.points("figure", figure), axis=0).max())


def support(points, directions):
    """Return how far points (N, 3) stand out along each of directions (D, 3): (D,) metres."""
    return (points @ directions.T).max(axis=0)


def _part(points):
    points = arguments.points("points", points)
    if points.ndim != 2 or not len(points):
        raise ValueError(f"points has shape {points.shape}; expected (N, 3), one or more: the part that is to be enclosed")
    return points


def _directions(outline):
    points = outline.points
    flat = int(np.argmin(np.ptp(points, axis=0)))
    if np.ptp(points, axis=0)[flat] > FLAT * outline.size:
        return _all_round()
    along, across = [axis for axis in range(3) if axis != flat]
    turn = np.linspace(0.0, 2 * np.pi, ROUND_TURNS, endpoint=False)
    directions = np.zeros((ROUND_TURNS, 3))
    directions[:, along], directions[:, across] = np.cos(turn), np.sin(turn)
    return directions


def _all_round():
    """Directions spread over the sphere (a spiral of equal steps in height), and the six axes."""
    k = np.arange(ROUND_TURNS) + 0.5
    height, turn = 1 - 2 * k / ROUND_TURNS, k * np.pi * (3 - np.sqrt(5))
    wide = np.sqrt(1 - height**2)
    return np.concatenate([np.stack([wide * np.cos(turn), height, wide * np.sin(turn)], axis=1), np.eye(3), -np.eye(3)])


def _line(i, line):
    line = arguments.points(f"lines[{i}]", line).copy()
    if line.ndim != 2 or len(line) < 2:
        raise ValueError(f"lines[{i}] has shape {line.shape}; expected (N, 3) with two points or more")
    line.flags.writeable = False
    return line


# ---- the set --------------------------------------------------------------------------------------------------


def _flat(*pairs):
    return np.array([[x, 0.0, z] for x, z in pairs], float)


def _ring():
    turn = np.linspace(0.0, 2 * np.pi, RING_POINTS, endpoint=False)
    return _flat(*zip(np.cos(turn), np.sin(turn)))


def _cage():
    """The twelve edges of a cube: two faces and the four edges between."""
    face = np.array([[1, 0, 1], [1, 0, -1], [-1, 0, -1], [-1, 0, 1]], float)
    low, high = face - (0, 1, 0), face + (0, 1, 0)
    return Outline((low, high, *np.stack([low, high], axis=1)), (True, True, False, False, False, False))


def _ball():
    """Three rings, square to each other."""
    ring = _ring()
    return Outline((ring, ring[:, [1, 2, 0]], ring[:, [0, 2, 1]]), (True, True, True))


def _one(line, closed=True):
    return Outline((line,), (closed,))


def _cross():
    """A plus sign with arms a third as wide as long."""
    w = 1 / 3
    return _flat((w, 1), (w, w), (1, w), (1, -w), (w, -w), (w, -1), (-w, -1), (-w, -w), (-1, -w), (-1, w), (-w, w), (-w, 1))


SHAPES = {
    "ring": _one(_ring()),
    "square": _one(_flat((1, 1), (1, -1), (-1, -1), (-1, 1))),
    "diamond": _one(_flat((0, 1), (1, 0), (0, -1), (-1, 0))),
    "triangle": _one(_flat((0, 1), (np.sqrt(0.75), -0.5), (-np.sqrt(0.75), -0.5))),
    "arrow": _one(_flat((0, 1), (0.8, 0), (0.35, 0), (0.35, -1), (-0.35, -1), (-0.35, 0), (-0.8, 0))),
    "cross": _one(_cross()),
    "arc": _one(_ring()[: RING_POINTS // 2 + 1], closed=False),
    "cage": _cage(),
    "ball": _ball(),
}
