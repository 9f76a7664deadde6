"""Checkpoint 10.4: a shell that gets longer gets thinner, so that its volume stays.

Along the bone everything is s times as far from its start, across it 1 / sqrt(s) times:
s g^2 = 1. Source: uniaxial extension of an incompressible solid (Treloar, The Physics of Rubber Elasticity).
The volume is measured by the linear map that the points went through; its determinant is
how many times as large any volume got.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_10_limbs import ARM, BOOK, CLOSE, LEG, rest
from rigkit.course.chapters.chapter_10_show import show_girth
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

ARGUMENTS = ("points", "start", "along", "stretch")
VOLUME = 1e-4  # of the volume
LONG, ROUND, KEPT = "idea 3, along the bone", "idea 3, across the bone", "idea 3, the volume"


def inputs(case):
    """points (N, 3), start (3,), along (3,), stretch."""
    return (*(np.asarray(case.inputs[name], float) for name in ARGUMENTS[:3]), float(case.inputs["stretch"]))


def stretches(case):
    """Whether anything changes at all."""
    return inputs(case)[3] != 1


def at_home(case):
    """Whether nothing does."""
    return not stretches(case)


def rows_fit(case, answer):
    """None, or the Measure of an answer that has another number of points."""
    expected = len(inputs(case)[0])
    return None if len(answer) == expected else Measure(False, f"{expected} points", f"{len(answer)} points", 9.0)


def parts(points, start, along):
    """How far along the bone (N,), and the way across it (N, 3)."""
    way = points - start
    length = way @ along
    return length, way - np.outer(length, along)


def longer(case, answer, context):
    """Along the bone every point is stretch times as far from the start."""
    points, start, along, stretch = inputs(case)
    wrong = rows_fit(case, answer)
    if wrong:
        return wrong
    before, now = parts(points, start, along)[0], parts(answer, start, along)[0]
    off = np.abs(now - stretch * before)
    i = int(off.argmax())
    return Measure(
        off[i] <= CLOSE,
        f"along the bone {stretch:.4g} times as far from its start",
        f"point {i}: {told_length(abs(now[i]))} along, should be {told_length(abs(stretch * before[i]))}   (tolerance 1e-6 m)",
        float(off[i]),
    )


def stays_round(case, answer, context):
    """Across the bone one factor for all points and all ways."""
    points, start, along, _ = inputs(case)
    wrong = rows_fit(case, answer)
    if wrong:
        return wrong
    before, now = parts(points, start, along)[1], parts(answer, start, along)[1]
    factor = float((before * now).sum() / (before * before).sum())
    off = np.linalg.norm(now - factor * before, axis=1)
    i = int(off.argmax())
    return Measure(
        bool(off[i] <= CLOSE and factor > 0),
        "across the bone all points go in or out by one factor",
        f"the best one is {factor:.4g}; point {i} is {told_length(off[i])} off it   (tolerance 1e-6 m)",
        float(off[i]) if factor > 0 else 9.0,
    )


def volume_kept(case, answer, context):
    """The determinant of the map is 1."""
    points, *_ = inputs(case)
    wrong = rows_fit(case, answer)
    if wrong:
        return wrong
    centred, moved = points - points.mean(axis=0), answer - answer.mean(axis=0)
    map_to = np.linalg.lstsq(centred, moved, rcond=None)[0]
    volume = float(np.linalg.det(map_to))
    off = abs(volume - 1)
    return Measure(off <= VOLUME, "the volume as it was", f"{volume:.6g} times the volume   (tolerance 0.01 %)", off)


def unmoved(case, answer, context):
    """Nothing moves."""
    points, _, _, _ = inputs(case)
    wrong = rows_fit(case, answer)
    if wrong:
        return wrong
    off = np.linalg.norm(answer - points, axis=1)
    i = int(off.argmax())
    return Measure(
        off[i] <= CLOSE,
        "stretch 1: every point where it was",
        f"point {i} moved by {told_length(off[i])}   (tolerance 1e-6 m)",
        float(off[i]),
    )


# ---- the cases -------------------------------------------------------------------------------------------------


def turn_at_random(rng):
    """A rotation matrix."""
    q, r = np.linalg.qr(rng.normal(size=(3, 3)))
    q = q * np.sign(np.diag(r))
    return q if np.linalg.det(q) > 0 else -q


def tube(context, part, joints, number):
    """A part's vertices, every third of them, where its bone begins, and the bone's direction."""
    points = rest(context.robot, joints)[number : number + 2]
    along = points[1] - points[0]
    return context.robot.part(part).mesh.vertices[::3], points[0], along / np.linalg.norm(along)


def cases(rng, context):
    """A plate of four points a hand can check, Tally's tubes at rest and turned any way: longer, shorter, much longer, and as they are."""
    square = np.array([[1.0, 0.1, 0], [1, -0.1, 0], [3, 0, 0.1], [3, 0, -0.1]])
    tubes = [
        tube(context, "left_upper_arm_tube", ARM, 0),
        tube(context, "left_forearm_tube", ARM, 1),
        tube(context, "left_thigh_tube", LEG, 0),
    ]

    def posed(one):
        turn, place = turn_at_random(rng), rng.uniform(-1, 1, 3)
        points, start, along = one
        return (points - start) @ turn.T + place, place, turn @ along

    rows = [
        ("four points along x, stretch 4", (square, np.zeros(3), np.array([1.0, 0, 0])), 4.0),
        ("upper arm, longer", tubes[0], float(rng.uniform(1.2, 1.5))),
        ("forearm, turned, longer", posed(tubes[1]), float(rng.uniform(1.2, 1.5))),
        ("thigh, turned, shorter", posed(tubes[2]), float(rng.uniform(0.6, 0.8))),
        ("upper arm, turned, far longer", posed(tubes[0]), float(rng.uniform(2.5, 3.5))),
        ("forearm, turned, stretch 1", posed(tubes[1]), 1.0),
    ]
    return [
        Case(about, dict(zip(ARGUMENTS, (*(np.array(part, float) for part in one), stretch))), tell=("along", "stretch"))
        for about, one, stretch in rows
    ]


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def thinned(points, start, along, stretch):
    """The worked answer."""
    way = points - start
    length = np.outer(way @ along, along)
    return start + stretch * length + (way - length) / np.sqrt(stretch)


def scaled(points, start, along, longer_by, wider_by):
    """Along the bone by one factor, across it by another."""
    way = points - start
    length = np.outer(way @ along, along)
    return start + longer_by * length + wider_by * (way - length)


def one_over_s(points, start, along, stretch):
    """Both ways across by 1 / s."""
    return scaled(points, start, along, stretch, 1 / stretch)


def as_thick_as_before(points, start, along, stretch):
    """Only longer."""
    return scaled(points, start, along, stretch, 1.0)


def thicker(points, start, along, stretch):
    """By the root, the wrong way."""
    return scaled(points, start, along, stretch, np.sqrt(stretch))


def larger(points, start, along, stretch):
    """Everything by s."""
    return scaled(points, start, along, stretch, stretch)


def only_thinner(points, start, along, stretch):
    """Thinner, not longer."""
    return scaled(points, start, along, 1.0, 1 / np.sqrt(stretch))


def about_the_origin(points, start, along, stretch):
    """The start is not taken off."""
    return thinned(points, np.zeros(3), along, stretch)


def start_not_added(points, start, along, stretch):
    """The start is not added again."""
    return thinned(points, start, along, stretch) - start


def along_y(points, start, along, stretch):
    """The world's upright in place of the bone."""
    return thinned(points, start, np.array([0, 1.0, 0]), stretch)


def thinner_one_way(points, start, along, stretch):
    """All of it in one way across: the volume is kept, the tube gets flat."""
    side = np.cross(along, np.eye(3)[np.argmin(np.abs(along))])
    side = side / np.linalg.norm(side)
    longer_now = scaled(points, start, along, stretch, 1.0)
    return longer_now - np.outer((points - start) @ side, side) * (1 - 1 / stretch)


def cube_root(points, start, along, stretch):
    """The cube root, as if all three ways had to share."""
    return scaled(points, start, along, stretch, stretch ** (-1 / 3))


MISTAKES = (
    Mistake("1 / s", one_over_s, "1 / s across is too thin: two ways across share it, 1 / sqrt(s) each", ("volume",), KEPT),
    Mistake("as thick as before", as_thick_as_before, "it gets longer and stays as thick: the volume grows by the stretch", ("volume",), KEPT),
    Mistake("thicker", thicker, "it gets thicker as it gets longer: divide by the root, don't multiply", ("volume",), KEPT),
    Mistake("larger", larger, "everything is scaled alike: that is size, not stretch", ("volume",), KEPT),
    Mistake("only thinner", only_thinner, "it gets thinner, but no longer: the part along the bone is to be multiplied by stretch", ("along", "volume"), LONG),
    Mistake("about the origin", about_the_origin, "the start was not taken off: points are stretched away from the world's origin", ("along",), LONG),
    Mistake("start not added", start_not_added, "the start was not added again: the shell lies at the world's origin", ("along", "home"), LONG),
    Mistake("along y", along_y, "the world's y was stretched in place of the bone: use along", ("along",), LONG),
    Mistake("thinner one way", thinner_one_way, "it gets thinner in one way across only: the volume is kept, but a round tube gets flat", ("round",), ROUND),
    Mistake("cube root", cube_root, "the cube root shares among three ways; only the two across get thinner", ("volume",), KEPT),
)  # fmt: skip

CHECKPOINT = Checkpoint(
    id="10.4",
    title="Girth that keeps the volume",
    kind="function",
    names={"thinned": forms.array(None, 3)},
    claims=(
        Claim("along", "along the bone: stretch times as far from its start", 1, longer, "1e-6 m", look_at=LONG, applies=stretches),
        Claim("round", "across it all ways alike: round stays round", 1, stays_round, "1e-6 m", look_at=ROUND, applies=stretches),
        Claim(
            "volume",
            "the volume stays",
            2,
            volume_kept,
            "0.01 %",
            look_at=KEPT,
            applies=lambda case: stretches(case) and len(inputs(case)[0]) > 4,
        ),
        Claim("home", "stretch 1: nothing moves", 1, unmoved, "1e-6 m", look_at=LONG, applies=at_home),
    ),
    worked=thinned,
    hint="Cut each way from start to a point in two: way = points - start; the part along is np.outer(way @ along, along), the rest is across.\n"
    "The part along times stretch; the part across times girth.\n"
    "stretch * girth**2 must be 1. Then put both together, and add start again.",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_girth,
)
