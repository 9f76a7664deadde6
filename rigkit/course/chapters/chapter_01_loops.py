"""Checkpoint 01.2: the centre of a closed loop.

A loop is cut into a fan of triangles that all share its first point. The centre
of the whole is the mean of the triangles' centres, each weighted by its signed
area; the length of the summed area vectors is the loop's area. Spacing of the
points then makes no difference, which a plain mean of the points can't say.
Source: Archimedes, On the Equilibrium of Planes I, propositions 6, 7 and 13 (memory).
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.placement import area_centre
from rigkit.words import millimetres, point

CENTRE_TOLERANCE = 1e-6  # metres
LEVEL = np.array([[1.0, 0, 0], [0, 0, 1.0], [0, -1.0, 0]])  # columns lay a drawing's x and y on the floor plane, right-handed


# --- loops to try answers on -----------------------------------------------------------------------------------------


def outline(corners, counts):
    """A closed polygon (N, 3) in the drawing plane: each side of `corners` (C, 2) cut into `counts[i]` equal edges."""
    corners = np.asarray(corners, dtype=float)
    ends = np.roll(corners, -1, axis=0)
    flat = np.concatenate([a + (b - a) * (np.arange(n) / n)[:, None] for a, b, n in zip(corners, ends, counts, strict=True)])
    return np.column_stack([flat, np.zeros(len(flat))])


def d_corners(radius, cut, sides=14):
    """Corners (sides, 2) of a D: a circle of `radius` whose flat side lies at x = cut * radius."""
    half = np.arccos(cut)
    angles = np.linspace(half, 2 * np.pi - half, sides)
    return radius * np.column_stack([np.cos(angles), np.sin(angles)])


def crowded(rng, sides, most=5):
    """Edge counts (sides,) that crowd the points on one half of a loop: ones, then up to `most`."""
    counts = np.ones(sides, dtype=int)
    counts[: sides // 2] = rng.integers(most - 1, most + 1, sides // 2)
    return counts


def tilt(rng):
    """A turn (3, 3) that leans well away from all three axes."""
    axis = rng.uniform(0.5, 1.0, 3) * rng.choice([-1.0, 1.0], 3)
    axis /= np.linalg.norm(axis)
    k = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    angle = rng.uniform(0.6, 1.1)
    return np.eye(3) + np.sin(angle) * k + (1 - np.cos(angle)) * k @ k


def centre_cases(rng, context):
    """Loops for 01.2: round, D-shaped and crowded, tilted, walked the other way round, upright, dented."""
    radius = rng.uniform(0.028, 0.036)
    angles = np.arange(24) * 2 * np.pi / 24
    around = radius * np.column_stack([np.cos(angles), np.sin(angles), np.zeros(24)])
    d = outline(d_corners(radius, rng.uniform(0.2, 0.45)), crowded(rng, 14))
    dent = rng.uniform(0.2, 0.3)  # a boot: the fan from its first corner has triangles that count as negative
    boot = outline(radius * np.array([[1, dent], [dent, dent], [dent, 1], [-1, 1], [-1, -1], [1, -1]]), [6, 1, 5, 2, 1, 1])
    away = rng.uniform(0.2, 0.9, 3)
    return [
        Case("a round loop, evenly spaced", {"points": around @ LEVEL.T + away}),
        Case("a D-shaped loop, points crowded on one half", {"points": d @ LEVEL.T + away}),
        Case("the same D, tilted", {"points": d @ tilt(rng).T - away}),
        Case("the same D, tilted, walked the other way round", {"points": d[::-1] @ tilt(rng).T + 2 * away}),
        Case("the same D, standing upright", {"points": d + away}),  # its normal is z: nothing of it lies along y
        Case("a boot-shaped loop, with an inner corner", {"points": boot @ LEVEL.T + away}),
    ]


def about(*starts):
    """A claim's `applies`: the case's description starts with one of `starts`."""
    return lambda case: case.about.startswith(starts)


def measure_centre(case, answer, context):
    """The distance from the loop's area centre."""
    right = area_centre(case.inputs["points"])
    gap = float(np.linalg.norm(answer - right))
    far = millimetres(gap) if gap < 10 else f"{gap:.1f} m"
    return Measure(gap <= CENTRE_TOLERANCE, f"centre at {point(right, 4)}", f"{point(answer, 4)}, {far} away", gap)


# --- 01.2: the worked answer and what goes wrong ---------------------------------------------------------------------


def fan(points):
    """Centres (N-2, 3) and signed areas (N-2,) of the triangles that share points[0]."""
    a, b, c = points[0], points[1:-1], points[2:]
    cross = np.cross(b - a, c - a)  # twice the area, square to the triangle
    normal = cross.sum(axis=0) / np.linalg.norm(cross.sum(axis=0))
    return (a + b + c) / 3, cross @ normal / 2


def loop_centre(points):
    """The worked answer of 01.2."""
    points = np.asarray(points, dtype=float)
    centres, areas = fan(points)
    return areas @ centres / areas.sum()


def plain_mean(points):
    """Every point weighs the same, so a crowded side weighs more."""
    return np.mean(points, axis=0)


def box_centre(points):
    """The middle of the smallest box along the axes."""
    return (np.min(points, axis=0) + np.max(points, axis=0)) / 2


def perimeter_centre(points):
    """The centre of the wire, not of the face it bounds: edge middles weighted by edge lengths."""
    ends = np.roll(points, -1, axis=0)
    lengths = np.linalg.norm(ends - points, axis=1)
    return lengths @ (points + ends) / 2 / lengths.sum()


def unsigned_fan(points):
    """Areas taken as lengths: what lies outside a dent is added instead of taken off."""
    centres, areas = fan(np.asarray(points, dtype=float))
    return np.abs(areas) @ centres / np.abs(areas).sum()


def unweighted_fan(points):
    """The triangles' centres averaged as if all were the same size."""
    return fan(np.asarray(points, dtype=float))[0].mean(axis=0)


def thirds_forgotten(points):
    """The three corners added up, not averaged."""
    return 3 * loop_centre(points)


def fan_about_the_origin(points):
    """Triangles that share the world's origin: they stand up out of the loop's plane."""
    ends = np.roll(points, -1, axis=0)
    areas = np.linalg.norm(np.cross(points, ends), axis=1) / 2
    return areas @ (points + ends) / 3 / areas.sum()


def normal_of_the_first(points):
    """The normal from the fan's first triangle: none at all where its corners lie on one line."""
    points = np.asarray(points, dtype=float)
    a, b, c = points[0], points[1:-1], points[2:]
    cross = np.cross(b - a, c - a)
    areas = cross @ (cross[0] / np.linalg.norm(cross[0])) / 2
    return areas @ ((a + b + c) / 3) / areas.sum()


def normal_up(points):
    """Areas counted along y whatever way the loop lies: right until it stands upright."""
    points = np.asarray(points, dtype=float)
    a, b, c = points[0], points[1:-1], points[2:]
    areas = np.cross(b - a, c - a) @ np.array([0.0, 1.0, 0.0]) / 2
    return areas @ ((a + b + c) / 3) / areas.sum()


def flat_formula(points):
    """The textbook formula of the plane for two coordinates, a plain mean for the third."""
    x, z = points[:, 0] - points[0, 0], points[:, 2] - points[0, 2]
    cross = x * np.roll(z, -1) - np.roll(x, -1) * z
    cx, cz = (np.sum(cross * (v + np.roll(v, -1))) / (3 * cross.sum()) for v in (x, z))
    return np.array([cx + points[0, 0], points[:, 1].mean(), cz + points[0, 2]])


def show_centre(viewer, answer, context):
    """Draw the loop of the case that was told, with the learner's centre over the faint right one."""
    case, centre = answer.case, answer.value
    loop = case.inputs["points"]
    right = area_centre(loop)
    viewer.clear()
    viewer.lines({case.about: np.vstack([loop, loop[:1]])})
    viewer.faint([right])
    viewer.joints([centre], names=["your centre"])
    viewer.caption("One of the loops that were tried: your centre, and faint the right one")
    viewer.table([("off by", millimetres(float(np.linalg.norm(centre - right))))])
    viewer.focus(right, 0.16)


CENTRE = Checkpoint(
    id="01.2",
    title="The centre of a closed loop",
    kind="function",
    names={"loop_centre": forms.point()},
    cases=centre_cases,
    claims=(
        Claim(
            "round", "a round, evenly spaced loop: its middle", 1, measure_centre, "0.001 mm", look_at="step 2e", applies=about("a round")
        ),
        Claim(
            "crowded",
            "crowding points on one side does not pull it",
            2,
            measure_centre,
            "0.001 mm",
            look_at="step 2e",
            applies=about("a D"),
        ),
        Claim(
            "tilted",
            "a loop may lie at any tilt, and be walked either way",
            1,
            measure_centre,
            "0.001 mm",
            look_at="step 2d",
            applies=about("the same"),
        ),
        Claim("dented", "a loop may have an inner corner", 1, measure_centre, "0.001 mm", look_at="step 2d", applies=about("a boot")),
    ),
    worked=loop_centre,
    closed=("placement.area_centre", "placement.chain_from_loops"),
    hint="Take step 2d apart: corners a, b, c of each triangle, its centre, its signed area. Do all triangles of the fan in a loop, "
    "add up area * centre and area, divide at the end. The sign of an area: its cross product against the sum of all of them.",
    show=show_centre,
    mistakes=(
        Mistake(
            "plain mean",
            plain_mean,
            "the plain mean of the points: the side with more points pulls it",
            ("crowded", "tilted", "dented"),
            "step 2c",
        ),
        Mistake(
            "box centre",
            box_centre,
            "the middle of the box around the loop: it knows only the outermost points",
            ("crowded", "tilted", "dented"),
            "step 2c",
        ),
        Mistake(
            "perimeter centre",
            perimeter_centre,
            "the centre of the wire (edges weighted by length), not of the face inside it",
            ("crowded", "tilted", "dented"),
            "step 2c",
        ),
        Mistake(
            "unsigned areas",
            unsigned_fan,
            "areas without a sign: a triangle outside the dent is added, it must be taken off",
            ("dented",),
            "step 2d",
        ),
        Mistake(
            "equal weights",
            unweighted_fan,
            "the triangles' centres without their areas as weights",
            ("round", "crowded", "tilted", "dented"),
            "step 2d",
        ),
        Mistake(
            "thirds forgotten",
            thirds_forgotten,
            "corners added up but not divided by 3: the result is three times too far out",
            ("round", "crowded", "tilted", "dented"),
            "step 2d",
        ),
        Mistake(
            "fan about the origin",
            fan_about_the_origin,
            "triangles that start at the world's origin, with areas that have no sign: start the fan at a point of the loop",
            ("round", "crowded", "tilted", "dented"),
            "step 2d",
        ),
        Mistake(
            "normal of the first triangle",
            normal_of_the_first,
            "a triangle with no area has no direction: take n from the sum of all cross products",
            ("dented",),
            "step 2d",
        ),
        Mistake(
            "normal up",
            normal_up,
            "areas along one fixed direction: take n from the loop, the sum of all its cross products",
            ("tilted",),
            "step 2d",
        ),
        Mistake(
            "flat formula",
            flat_formula,
            "a formula for the flat plane in x and z, and a plain mean for y: right on a level loop only",
            ("tilted",),
            "step 2d",
        ),
    ),
)
