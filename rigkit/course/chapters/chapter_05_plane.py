"""Checkpoint 05.6: joints of the middle put on the plane, straight across; those with a side left alone.

A joint that is h off the plane has its mirror image 2 h away from itself. Which
joints belong on the plane is told by their names, not by how near they are: a pair of
pins may stand nearer to it than a joint that was placed carelessly. Source: algebra.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_05_planes import BOOK, CLOSE
from rigkit.course.chapters.chapter_05_show import show_plane
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

MIDDLE = ("body", "head", "hose_01", "hose_02", "hose_03")
PIN = 0.003  # metres from the plane to each pin of the latch
NEAR = 1e-4  # metres
FOOT, WHICH, TWICE = "idea 3, the foot on the plane", "idea 3, which joints belong there", "idea 3, near the plane"


def placed(robot, rng):
    """Tally turned and standing aside, joints of the middle placed by hand: {"plane_point", "plane_normal", "placed": name to (3,)}."""
    turn = np.radians(rng.uniform(18, 38)) * rng.choice([-1, 1])
    out = np.array([[np.cos(turn), 0, np.sin(turn)], [0, 1, 0], [-np.sin(turn), 0, np.cos(turn)]])
    aside = out @ np.array([rng.uniform(0.3, 0.6), 0.0, rng.uniform(-0.5, 0.0)])
    off = rng.choice([-1, 1], len(MIDDLE)) * rng.uniform(0.0012, 0.0026, len(MIDDLE))
    off[rng.integers(1, len(MIDDLE))] = -rng.uniform(0.0036, 0.0052)  # one of them, on the right, is farther off than the pins
    x = np.array([1.0, 0, 0])
    points = {f"centre_{name}_joint": robot.landmarks[name] + h * x for name, h in zip(MIDDLE, off)}
    latch = robot.landmarks["body"] + [0, 0.05, 0.16]
    points |= {"left_pin_joint": latch + PIN * x, "right_pin_joint": latch - PIN * x}
    normal = out @ x
    anywhere = out @ np.array([0.0, rng.uniform(0.4, 0.9), rng.uniform(0.1, 0.3)]) + aside
    return {"plane_point": anywhere, "plane_normal": normal, "placed": {name: out @ p + aside for name, p in points.items()}}


def plane_of(context):
    """The plane's point and normal, (3,) each."""
    return np.asarray(context.given["plane_point"], float), np.asarray(context.given["plane_normal"], float)


def as_placed(context):
    """Name to point (3,), as handed out."""
    return {name: np.asarray(p, float) for name, p in context.given["placed"].items()}


def height(point, context):
    """How far a point is off the plane, metres, with the side's sign."""
    q, n = plane_of(context)
    return float((point - q) @ n)


# ---- the claims ------------------------------------------------------------------------------------------------


def names_match(measure):
    """The claim's measure, for an answer with the names that were handed out."""

    def measured(case, answer, context):
        start, got = as_placed(context), answer["on_plane"]
        if set(got) != set(start):
            lacks, more = sorted(set(start) - set(got)), sorted(set(got) - set(start))
            told = f"{lacks[0]} is missing" if lacks else f"{more[0]} is none of them"
            return Measure(False, f"a point for each of the {len(start)} names in placed", told, np.inf)
        return measure(start, got, context)

    return measured


def of_the_middle(points):
    """The names of those that belong on the plane."""
    return [name for name in points if name.startswith("centre_")]


@names_match
def on_plane_told(start, got, context):
    """Every joint of the middle is on the plane."""
    off = {name: abs(height(got[name], context)) for name in of_the_middle(start)}
    worst = max(off, key=off.get)
    return Measure(
        off[worst] <= CLOSE,
        "every centre joint on the plane",
        f"{worst} is {told_length(off[worst])} off it   (tolerance 1e-6 m)",
        off[worst],
    )


@names_match
def straight_told(start, got, context):
    """They went straight across, along the normal and no other way."""
    _, n = plane_of(context)
    aside = {name: float(np.linalg.norm((got[name] - start[name]) - ((got[name] - start[name]) @ n) * n)) for name in of_the_middle(start)}
    worst = max(aside, key=aside.get)
    return Measure(
        aside[worst] <= CLOSE,
        "each moved along the normal only",
        f"{worst} slid by {told_length(aside[worst])} along the plane   (tolerance 1e-6 m)",
        aside[worst],
    )


@names_match
def sides_told(start, got, context):
    """Joints with a side did not move."""
    moved = {name: float(np.linalg.norm(got[name] - start[name])) for name in start if name not in of_the_middle(start)}
    worst = max(moved, key=moved.get)
    return Measure(
        moved[worst] <= CLOSE,
        "left and right joints as they were",
        f"{worst} moved by {told_length(moved[worst])}   (tolerance 1e-6 m)",
        moved[worst],
    )


def farthest_told(case, answer, context):
    """The largest distance between a joint of the middle, as placed, and its own image."""
    right = farthest(context)
    gap = abs(answer["farthest"] - right)
    return Measure(
        gap <= NEAR,
        "the largest distance from a centre joint, as placed, to its own mirror image, metres",
        f"{answer['farthest']:.6g} m: {told_length(gap)} off   (tolerance 0.1 mm)",
        gap,
    )


def farthest(context):
    """Twice the largest height of a joint of the middle, metres."""
    start = as_placed(context)
    return 2 * max(abs(height(start[name], context)) for name in of_the_middle(start))


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def foot(point, q, n):
    """The nearest point of the plane."""
    return point - ((point - q) @ n) * n


def answer(put=foot, which=lambda name, point, context: name.startswith("centre_"), far=farthest):
    """The answer of 05.6 as a function of the context; the defaults are right. put(point, q, n), which(name, point, context), far(context)."""

    def answer_of(context):
        q, n = plane_of(context)
        start = as_placed(context)
        moved = {name: put(p, q, n) if which(name, p, context) else p for name, p in start.items()}
        return {"on_plane": moved, "farthest": far(context)}

    return answer_of


def along_x(p, q, n):
    """Along the world's x until it meets the plane."""
    return p - np.array([(p - q) @ n / n[0], 0.0, 0.0])


MISTAKES = (
    Mistake(
        "x set to zero",
        answer(put=lambda p, q, n: p * [0.0, 1.0, 1.0]),
        "x was set to 0; this Tally has turned and stands aside, so the plane is not x = 0",
        ("on", "straight"),
        FOOT,
    ),
    Mistake(
        "all that are near",
        answer(which=lambda name, p, context: True),
        "the two pins were put onto the plane too, and are one now: their names say left and right",
        ("sides",),
        WHICH,
    ),
    Mistake(
        "by distance",
        answer(which=lambda name, p, context: abs(height(p, context)) < 0.0028),
        "chosen by distance: the worst centre joint was left out. Which joints belong on the plane is told by their names",
        ("on",),
        WHICH,
    ),
    Mistake(
        "mirrored",
        answer(put=lambda p, q, n: p - 2 * ((p - q) @ n) * n),
        "the joints were mirrored, twice the height; their place is on the plane, once the height",
        ("on",),
        FOOT,
    ),
    Mistake(
        "along x",
        answer(put=along_x),
        "the joints slid along the world's x; the nearest point of the plane lies along its normal",
        ("straight",),
        FOOT,
    ),
    Mistake(
        "through the origin",
        answer(put=lambda p, q, n: p - (p @ n) * n),
        "the plane's point was left out: they lie on a plane through the origin now",
        ("on",),
        FOOT,
    ),
    Mistake(
        "all in one point",
        answer(put=lambda p, q, n: q),
        "all centre joints stand on the plane's point now; each keeps its own place on the plane",
        ("straight",),
        FOOT,
    ),
    Mistake(
        "once the height",
        answer(far=lambda context: farthest(context) / 2),
        "this is the height over the plane; the image is as far beyond it again",
        ("farthest",),
        TWICE,
    ),
    Mistake(
        "sign kept",
        answer(far=lambda context: 2 * max(height(p, context) for name, p in as_placed(context).items() if name.startswith("centre_"))),
        "heights on the right of the plane are negative: take their sizes, abs, before the largest",
        ("farthest",),
        TWICE,
    ),
    Mistake(
        "millimetres",
        answer(far=lambda context: 1000 * farthest(context)),
        "this is the number in millimetres; it is asked for in metres",
        ("farthest",),
        "the convention strip",
    ),
)

CHECKPOINT = Checkpoint(
    id="05.6",
    title="Joints near the plane",
    kind="value",
    names={"on_plane": forms.mapping(forms.point()), "farthest": forms.number()},
    claims=(
        Claim("on", "every centre joint lies on the plane", 2, on_plane_told, "1e-6 m", ("on_plane",), FOOT),
        Claim("straight", "each went straight across, along the normal", 1, straight_told, "1e-6 m", ("on_plane",), FOOT),
        Claim("sides", "joints with a side stay where they are", 1, sides_told, "1e-6 m", ("on_plane",), WHICH),
        Claim(
            "farthest",
            "farthest: how far a centre joint and its image were apart at most",
            1,
            farthest_told,
            "0.1 mm",
            ("farthest",),
            TWICE,
            settable=True,
        ),
    ),
    worked=answer(),
    mistakes=MISTAKES,
    hint="The height of a point over the plane is (point - plane_point) @ plane_normal, with a sign.\n"
    "The nearest point of the plane: the point less its height along the normal. Once, not twice.\n"
    'A dict is made in one line: {name: ... for name, point in placed.items()}; name.startswith("centre_") tells which.',
    closed=BOOK,
    show=show_plane,
)
