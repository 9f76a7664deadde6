"""Checkpoint 06.2: the learner's two-bone solver, judged by what every right answer has in common.

Two bones and a target make a triangle with known sides. The elbow lies on a
circle around the line from root to target (Tolani, Goswami & Badler, Graphical
Models 62 (2000) 353-388); the pole point chooses the place on it. Each claim is
one property, and each is measured on the cases that it is about, so that one
mistake costs one claim.
"""

import math

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_06_limbs import (
    ARM, LIMB, NOTHING, bones, case, cases, facts, limb, ordinary, out_of_reach, special, square, unit,
)
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import millimetres, point, told_length

CLOSE = 1e-6  # metres: what the claims allow
HAIR = 1e-15  # square metres: rounding can bring a square that should be 0 below it
MARGIN = 0.02  # of the limb's length: a straight limb that stops this short has a margin in its solver


def elbow_and_wrist():
    """The form of the answer: two points; where one is not a number, the line says which, and what the other is."""
    whole = forms.array(2, 3)

    def form(value):
        try:
            return whole(value)
        except forms.Wrong as wrong:
            if wrong.outcome != "not a number":
                raise
            raise forms.Wrong(wrong.outcome, which_is_nan(value) or wrong.line) from None

    form.expected = "elbow and wrist, two points"
    return form


def which_is_nan(value):
    """The line about an answer in which a point is nan or infinite, or "" where that can't be told."""
    try:
        points = dict(zip(("elbow", "wrist"), np.array(value, float)))
    except (TypeError, ValueError, OverflowError):
        return ""
    told = {
        name: "nan" if np.isnan(one).any() else point(one, 4) if np.isfinite(one).all() else "infinite" for name, one in points.items()
    }
    return ", ".join(f"the {name} is {what}" for name, what in told.items())


# ---- the claims ------------------------------------------------------------------------------------------------


def lengths_kept(case, answer, context):
    """Both bones keep their rest length."""
    known = facts(case)
    got = lengths(known.root, answer)
    off = worst(got - known.bones)
    return Measure(
        off <= CLOSE,
        f"upper bone {known.upper:.6f} m, lower bone {known.lower:.6f} m",
        f"{which_bone(got, known.bones)}   (tolerance 1e-6 m)",
        off / known.bones.sum(),
        other_bones(known, answer, context),
    )


def other_bones(known, answer, context):
    """What is proved by an elbow whose place along the line is that of the left arm's bones, where the limb is another; else ""."""
    upper, lower = bones(limb(context.robot, *ARM))
    foot = (upper**2 + known.distance**2 - lower**2) / (2 * known.distance)
    if abs(foot - (answer[0] - known.root) @ known.direction) > CLOSE or worst(known.bones - [upper, lower]) < 10 * CLOSE:
        return ""
    return "the left arm's bones (arm_upper, arm_lower) went into along, in place of this limb's own"


def target_reached(case, answer, context):
    """The wrist lies on the target."""
    known = facts(case)
    off = worst(np.linalg.norm(answer[1] - case.inputs["target"]))
    return Measure(
        off <= CLOSE,
        f"wrist on the target {point(case.inputs['target'], 4)}",
        f"wrist at {point(answer[1], 4)}   ({told_length(off)} away; tolerance 1e-6 m)",
        off / known.bones.sum(),
        margin(known, answer),
    )


def towards_the_pole(case, answer, context):
    """The elbow lies on the pole's side of the line from root to target."""
    known = facts(case)
    towards = float((answer[0] - known.root) @ known.side)
    return Measure(
        towards > 0,
        "elbow on the pole point's side of the root-to-target line",
        f"elbow {millimetres(towards)} towards the pole point   (tolerance: above 0 mm)",
        -towards / known.bones.sum(),
    )


def in_the_plane(case, answer, context):
    """The elbow lies in the plane of root, target and pole."""
    known = facts(case)
    off = worst((answer[0] - known.root) @ np.cross(known.direction, known.side))
    return Measure(
        off <= CLOSE,
        "elbow in the plane through root, target and pole point",
        f"elbow {told_length(off)} out of that plane   (tolerance 1e-6 m)",
        off / known.bones.sum(),
    )


def points_at_the_target(case, answer, context):
    """Out of reach: the wrist stops at the reach, on the line to the target, and the bones keep their length."""
    known = facts(case)
    stop = known.root + known.reach * known.direction
    off, told = worst_of(answer, known, np.linalg.norm(answer[1] - stop))
    how = "straight" if known.distance > known.reach else "folded"
    return Measure(
        off <= CLOSE, f"{how}, bone lengths kept, wrist at {point(stop, 4)}", told, off / known.bones.sum(), margin(known, answer)
    )


def numbers_always(case, answer, context):
    """Special cases: numbers, bone lengths kept, the wrist as near to the target as the limb allows."""
    known = facts(case)
    apart = (
        np.linalg.norm(answer[1] - known.root) - known.reach
        if known.direction is None
        else (np.linalg.norm(answer[1] - known.root - known.reach * known.direction))
    )
    off, told = worst_of(answer, known, apart)
    return Measure(
        off <= CLOSE,
        f"no nan, bone lengths kept, wrist {known.reach:.4f} m from the root",
        told,
        off / known.bones.sum(),
        margin(known, answer),
    )


def worst_of(answer, known, apart):
    """The largest of three gaps, and the words for it: the wrist `apart` metres from where it should be, or a bone's change of length."""
    got = lengths(known.root, answer)
    off, bones_off = worst(apart), worst(got - known.bones)
    if off >= bones_off:
        return off, f"wrist at {point(answer[1], 4)}   ({told_length(off)} off; tolerance 1e-6 m)"
    return bones_off, f"{which_bone(got, known.bones)}   (tolerance 1e-6 m)"


def which_bone(got, bones):
    """The bone that changed its length the most, in words."""
    i = int(np.abs(got - bones).argmax())
    change = got[i] - bones[i]
    return f"{('upper', 'lower')[i]} bone {got[i]:.6f} m, {told_length(abs(change))} too {'long' if change > 0 else 'short'}"


def margin(known, answer):
    """What is proved by a wrist on the line, bone lengths kept, a little short of where it should stop; else ""."""
    if known.direction is None or worst(lengths(known.root, answer) - known.bones) > CLOSE:
        return ""
    short = known.reach - float(np.linalg.norm(answer[1] - known.root))
    ahead = known.root + (known.reach - short) * known.direction
    if not CLOSE < short < MARGIN * known.bones.sum() or np.linalg.norm(answer[1] - ahead) > CLOSE:
        return ""
    return f"the limb stops {told_length(short)} short on the way to the target: there is a margin before its reach"


def lengths(root, answer):
    """The two bone lengths of an answer (elbow, wrist)."""
    return np.array([np.linalg.norm(answer[0] - root), np.linalg.norm(answer[1] - answer[0])])


def worst(values):
    """The largest size among `values`."""
    return float(np.abs(values).max())


# ---- the worked answer and the planned mistakes ----------------------------------------------------------------


def some_square(direction):
    """A unit vector square to `direction`: the world axis it is least along, made square."""
    axis = np.eye(3)[np.argmin(np.abs(direction))]
    return unit(square(axis, direction))


def within(distance, upper, lower):
    """The distance brought into the reach."""
    return np.clip(distance, abs(upper - lower), upper + lower)


def solver(
    *,
    toward=lambda root, end, target: target - root,
    side_of=lambda root, mid, pole, direction: square(pole - root, direction),
    scaled=True,
    sign=1.0,
    guard=True,
    guard_foot=True,
    bring=within,
    hair=0.0,
    under_root=lambda x: np.maximum(x, 0.0),
    wrist_stops=True,
    along=lambda a, b, d: (a * a + d * d - b * b) / (2 * d),
):
    """Return a two-bone solver; the defaults are right, every other choice is one planned mistake."""

    def two_bones(root, mid, end, target, pole):
        upper, lower, line = np.linalg.norm(mid - root), np.linalg.norm(end - mid), toward(root, end, target)
        distance, size = np.linalg.norm(target - root), np.linalg.norm(line)
        with np.errstate(all="ignore"):
            direction = np.array([0, -1.0, 0]) if guard and size < NOTHING else line / size
            side = side_of(root, mid, pole, direction)
            size = np.linalg.norm(side)
            side = some_square(direction) if guard and size < NOTHING else side / size if scaled else side
            reach = bring(distance, upper, lower)
            foot = 0.0 if guard and guard_foot and reach < NOTHING else along(upper, lower, reach)
            height = np.sqrt(under_root(upper**2 - foot**2 - hair))
        return root + foot * direction + sign * height * side, root + (reach if wrist_stops else distance) * direction

    return two_bones


def two_bones(root, mid, end, target, pole):
    """The worked answer."""
    return solver()(root, mid, end, target, pole)


def inner_for_outer(root, mid, end, target, pole):
    """The right elbow; then the lower bone is turned from the upper one's direction by the inner angle, not the outer."""
    elbow, wrist = two_bones(root, mid, end, target, pole)
    upper, lower = elbow - root, wrist - elbow
    ahead = upper / np.linalg.norm(upper)
    return elbow, elbow + lower - 2 * (lower @ ahead) * ahead


def angles_in_degrees(root, mid, end, target, pole):
    """The angle at the root is turned into degrees and put into cos and sin as it is."""
    elbow, wrist = two_bones(root, mid, end, target, pole)
    known = facts(case("", (root, mid, end), target, pole))
    if not known.ordinary:
        return elbow, wrist
    angle = np.degrees(np.arccos((elbow - root) @ known.direction / known.upper))
    return root + known.upper * (np.cos(angle) * known.direction + np.sin(angle) * known.side), wrist


def by_acos(root, mid, end, target, pole):
    """The angle at the root by math.acos, which stops with an error where there is no triangle."""
    upper, lower, distance = np.linalg.norm(mid - root), np.linalg.norm(end - mid), np.linalg.norm(target - root)
    if distance > NOTHING:
        math.acos((upper**2 + distance**2 - lower**2) / (2 * upper * distance))
    return two_bones(root, mid, end, target, pole)


def unguarded_unit(root, mid, end, target, pole):
    """The worked step's lines with nothing for a vector without length: the chapter's `unit` then gives None, as `unit` does here."""
    upper, lower = np.linalg.norm(mid - root), np.linalg.norm(end - mid)
    direction = unit(target - root)
    distance = np.clip(np.linalg.norm(target - root), abs(upper - lower), upper + lower)
    side = unit(square(pole - root, direction))
    along = (upper**2 + distance**2 - lower**2) / (2 * distance)
    off = np.sqrt(max(upper**2 - along**2, 0.0))
    return root + along * direction + off * side, root + distance * direction


def swapped(root, mid, end, target, pole):
    """The right points in the wrong order."""
    return two_bones(root, mid, end, target, pole)[::-1]


def rest_side(root, mid, end, target, pole):
    """The pole point is not used: the elbow goes to the side it is bent to in the rest pose."""
    return two_bones(root, mid, end, target, mid if unit(np.cross(mid - root, end - root)) is not None else pole)


MISTAKES = (
    Mistake(
        "bends away",
        solver(sign=-1.0),
        "the elbow is on the other side of the line: a sign is flipped at the side",
        ("towards",),
        "idea 2, step 3",
    ),
    Mistake(
        "pole as a direction",
        solver(side_of=lambda root, mid, pole, direction: square(pole, direction)),
        "the pole point is used as a direction: take the root off it first",
        ("plane",),
        "idea 2, step 2",
    ),
    Mistake(
        "pole not square",
        solver(side_of=lambda root, mid, pole, direction: pole - root),
        "the way to the pole point still has a part along the line to the target",
        ("lengths",),
        "idea 2, step 2",
    ),
    Mistake(
        "side not of length 1", solver(scaled=False), "the side direction was not divided by its own length", ("lengths",), "idea 2, step 2"
    ),
    Mistake(
        "inner for outer angle",
        inner_for_outer,
        "the lower bone is turned by the inner angle; it turns by 180 degrees minus that",
        ("reach", "unreachable"),
        "idea 2, the triangle",
    ),
    Mistake(
        "nan out of reach",
        solver(bring=lambda d, a, b: d, under_root=lambda x: x, guard=False),
        "no triangle out of reach: bring the distance into the reach before any root",
        ("unreachable", "special"),
        "idea 1",
    ),
    Mistake(
        "a hair below 0",
        solver(hair=HAIR, under_root=lambda x: x),
        "by rounding a² - along² falls a hair below 0: off = np.sqrt(max(a² - along², 0))",
        ("unreachable", "special"),
        "idea 2, a hair below 0",
    ),
    Mistake(
        "0 / 0",
        solver(guard_foot=False),
        "equal bones fold to a distance of 0, where along is 0 / 0: take 0 there",
        ("special",),
        "idea 2, own step",
    ),
    Mistake(
        "unit gives None",
        unguarded_unit,
        "`unit` gave None for a vector without length: say what instead (otherwise=)",
        ("special",),
        "the three small tools",
    ),
    Mistake(
        "distance not brought in",
        solver(bring=lambda d, a, b: d),
        "the distance is not brought into the reach first (np.clip), so the bones stretch",
        ("unreachable", "special"),
        "idea 1",
    ),
    Mistake(
        "inner reach forgotten",
        solver(bring=lambda d, a, b: min(d, a + b)),
        "the inner reach is left out: nearer than |a - b| the wrist can't get",
        ("unreachable",),
        "idea 1",
    ),
    Mistake(
        "difference without abs",
        solver(bring=lambda d, a, b: np.clip(d, a - b, a + b)),
        "a - b is below 0 where the lower bone is the longer one: take abs(a - b)",
        ("unreachable",),
        "idea 1",
    ),
    Mistake(
        "outer reach forgotten",
        solver(bring=lambda d, a, b: max(d, abs(a - b))),
        "the outer reach is left out: beyond a + b the wrist stops",
        ("unreachable",),
        "idea 1",
    ),
    Mistake(
        "a margin before full reach",
        solver(bring=lambda d, a, b: np.clip(d, abs(a - b), 0.999 * (a + b))),
        "the reach is cut by 0.999: a limb that is asked for its full reach must give it",
        ("unreachable",),
        "idea 1",
    ),
    Mistake(
        "swapped", swapped, "elbow and wrist are swapped: return the elbow first, then the wrist", ("lengths", "reach"), "idea 2, own step"
    ),
    Mistake(
        "/ 2 * d",
        solver(along=lambda a, b, d: (a * a + d * d - b * b) / 2 * d),
        "/ 2 * d halves and then multiplies by d: write / (2 * d)",
        ("lengths",),
        "idea 2, step 3",
    ),
    Mistake(
        "side from the elbow",
        solver(side_of=lambda root, mid, pole, direction: square(pole - mid, direction)),
        "the way to the pole point begins at the root, not at the rest pose's elbow",
        ("plane",),
        "idea 2, step 2",
    ),
    Mistake(
        "cross product",
        solver(side_of=lambda root, mid, pole, direction: np.cross(direction, pole - root)),
        "a cross product is square to the bend plane; the side lies in that plane",
        ("plane",),
        "idea 2, step 2",
    ),
    Mistake(
        "cross product, turned round",
        solver(side_of=lambda root, mid, pole, direction: np.cross(pole - root, direction)),
        "a cross product is square to the bend plane; the side lies in that plane",
        ("plane",),
        "idea 2, step 2",
    ),
    Mistake(
        "end for target",
        solver(toward=lambda root, end, target: end - root),
        "the direction runs from the root to the end at rest, not to the target",
        ("reach", "unreachable"),
        "idea 2, step 1",
    ),
    Mistake(
        "acos out of reach",
        by_acos,
        "no triangle out of reach, so no angle: bring the distance into the reach first",
        ("unreachable",),
        "idea 1",
    ),
    Mistake(
        "no guard",
        solver(guard=False),
        "a vector of no length is divided by its length (target on root, pole on line)",
        ("special",),
        "the three small tools",
    ),
    Mistake(
        "wrist on the target",
        solver(wrist_stops=False),
        "the wrist goes to the target even out of reach, so the lower bone stretches",
        ("unreachable", "special"),
        "idea 1",
    ),
    Mistake(
        "bones taken as equal",
        solver(along=lambda a, b, d: d / 2),
        "the elbow is put half way along the line: right for equal bones only",
        ("lengths", "unreachable"),
        "idea 2, the triangle",
    ),
    Mistake(
        "bones swapped",
        solver(along=lambda a, b, d: (b * b + d * d - a * a) / (2 * d)),
        "upper and lower bone are swapped in the law of cosines",
        ("lengths", "unreachable"),
        "idea 2, the triangle",
    ),
    Mistake(
        "degrees", angles_in_degrees, "an angle in degrees went into cos and sin, which take radians", ("lengths",), "the convention strip"
    ),
    Mistake("pole not used", rest_side, "the pole point is not used: the elbow bends to its rest side", ("plane",), "idea 2, step 2"),
)

CHECKPOINT = Checkpoint(
    id="06.2",
    title="The two-bone solver",
    kind="function",
    names={"two_bones": elbow_and_wrist()},
    claims=(
        Claim(
            "lengths", "in reach, both bones keep their length", 2, lengths_kept, "1e-6 m", look_at="idea 2, the triangle", applies=ordinary
        ),
        Claim(
            "reach", "the wrist reaches a target inside the reach", 1, target_reached, "1e-6 m", look_at="idea 2, step 4", applies=ordinary
        ),
        Claim(
            "towards",
            "the elbow bends towards the pole point",
            2,
            towards_the_pole,
            "above 0 mm",
            look_at="idea 2, step 3",
            applies=ordinary,
        ),
        Claim(
            "plane",
            "the elbow lies in the plane of root, target and pole point",
            1,
            in_the_plane,
            "1e-6 m",
            look_at="idea 2, step 2",
            applies=ordinary,
        ),
        Claim(
            "unreachable",
            "out of reach: straight (too far) or folded (too near), pointing at the target",
            2,
            points_at_the_target,
            "1e-6 m",
            look_at="idea 1",
            applies=out_of_reach,
        ),
        Claim(
            "special",
            "straight, on the root, pole on the line: numbers, never nan",
            1,
            numbers_always,
            "1e-6 m",
            look_at="the three small tools",
            applies=special,
        ),
    ),
    worked=two_bones,
    hint="Bring the distance into the reach first (np.clip). Then the elbow is: root, plus `along` in the direction of "
    "the target, plus `off` "
    "square to it on the pole's side. `along` comes from the law of cosines, `off` from Pythagoras with the upper bone.",
    mistakes=MISTAKES,
    cases=cases,
    closed=LIMB,
)
