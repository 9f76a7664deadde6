"""Checkpoint 09.3: eyes that look at a point, level with the head.

A look fixes two of an eye's three freedoms. The third is its roll: level means that the eye's side axis is square to the
head's up. Judged by what the axes do, so straight up any level answer passes.
"""

import numpy as np

from rigkit import rotation
from rigkit.course import forms
from rigkit.course.chapters.chapter_09_frames import BOOK, CLOSE, angle, is_turn, spun
from rigkit.course.chapters.chapter_09_show import fresh, held, see
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake

ARGUMENTS = ("head", "eyes", "target")
AHEAD, SIDE, TURN, UPRIGHT = "idea 2, step 1", "idea 2, step 2", "idea 2, step 3", "idea 2, no side"
WITHIN = 0.001  # degrees
ON_EYE = 1e-9  # metres


def inputs(case):
    """head (3, 3), eyes (E, 3), target (3,)."""
    return tuple(np.asarray(case.inputs[name], float) for name in ARGUMENTS)


def special(case):
    """Whether a case has no side to look to, or nothing to look at."""
    return case.about.startswith("no side")


def plain(case):
    """Whether it has."""
    return not special(case)


def one_each(measure):
    """The measure, told of an answer with another count of turns than eyes."""

    def measured(case, answer, context):
        count = len(inputs(case)[1])
        if len(answer) != count:
            return Measure(False, f"{count} turns, one for each eye", f"{len(answer)} of them", 999.0)
        return measure(case, answer, context)

    return measured


def misses(case, answer):
    """By how many degrees each eye misses the target; an eye on the target must look as the head faces."""
    head, eyes, target = inputs(case)
    ways = [target - eye if np.linalg.norm(target - eye) > ON_EYE else head[:, 2] for eye in eyes]
    return [angle(axes[:, 2], way) for axes, way in zip(answer, ways)]


def rolls(case, answer):
    """By how many degrees each eye's side axis is off square to the head's up; 180 less for an eye upside down."""
    up = inputs(case)[0][:, 1]
    lean = [abs(90 - angle(axes[:, 0], up)) for axes in answer]
    return [180 - one if axes[:, 1] @ up < -CLOSE else one for one, axes in zip(lean, answer)]


@one_each
def looks_at(case, answer, context):
    """Each eye's z goes through the target."""
    off = misses(case, answer)
    i = int(np.argmax(off))
    return Measure(
        off[i] <= WITHIN, "each eye's z axis goes to the target", f"eye {i} looks {off[i]:.3g} degrees past it   (tolerance 0.001)", off[i]
    )


@one_each
def level(case, answer, context):
    """x square to the head's up, y on its side."""
    off = rolls(case, answer)
    i = int(np.argmax(off))
    how = "stands upside down" if off[i] > 90 else f"leans {off[i]:.3g} degrees   (tolerance 0.001)"
    return Measure(off[i] <= WITHIN, "each eye's x axis square to the head's up, its y on the upper side", f"eye {i} {how}", off[i])


@one_each
def turns(case, answer, context):
    """Right-handed, square, of length one."""
    off = [is_turn(axes) for axes in answer]
    i = int(np.argmax(off))
    told = f"eye {i}: determinant {np.linalg.det(answer[i]):.3g}, axes of length {np.linalg.norm(answer[i], axis=0).round(3)}"
    return Measure(off[i] <= CLOSE, "three axes of length 1, square to each other, determinant 1", f"{told}   (tolerance 1e-6)", off[i])


@one_each
def answered(case, answer, context):
    """Straight up, straight down and on the eye: a level turn that looks there."""
    for one in (looks_at, turns, level):
        found = one(case, answer, context)
        if not found.ok:
            return found
    return found


def cases(rng, context):
    """A head upright and one that tilts; targets ahead, aside, up, behind and near; one eye, two, three; straight up and on the eye."""
    robot = context.robot
    pair = np.array([robot.landmarks["left_eye"], robot.landmarks["right_eye"]])
    middle, still = pair.mean(axis=0), np.eye(3)
    tilted = spun([0, 0, 1], rng.uniform(20, 40)) @ spun([1, 0, 0], rng.uniform(-30, -15))
    turned = spun(rng.normal(size=3), rng.uniform(30, 80))
    tilted_pair = middle + (pair - middle) @ tilted.T
    aside = middle + np.array([0.4, 0.5, 0.5]) * rng.uniform(0.8, 1.2, 3)
    rows = (
        ("both, straight ahead and far", (still, pair, middle + [0, 0, 50.0])),
        ("both, up and to the left", (still, pair, aside)),
        ("both, near: 8 cm before the nose", (still, pair, middle + [0, 0, 0.08])),
        ("one eye, steeply up", (still, pair[:1], pair[0] + [0.05, 0.6, 0.1])),
        ("both, the head tilted", (tilted, tilted_pair, middle + tilted @ [-0.3, 0.4, 0.5])),
        ("both, the target behind the head", (still, pair, middle + [0.2, 0.1, -0.6])),
        ("three eyes of some head", (turned, rng.uniform(-0.1, 0.1, (3, 3)), rng.uniform(0.3, 0.8, 3))),
        ("no side: straight up", (still, pair[:1], pair[0] + [0, 0.7, 0])),
        ("no side: straight down, the head tilted", (tilted, tilted_pair[:1], tilted_pair[0] - 0.7 * tilted[:, 1])),
        ("no side: the target on the eye", (tilted, tilted_pair[:1], tilted_pair[0])),
    )
    return [Case(about, dict(zip(ARGUMENTS, values)), tell=("target",)) for about, values in rows]


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def looking(head, eyes, target):
    """The worked answer."""
    found = []
    for eye in eyes:
        z = target - eye
        z = z / np.linalg.norm(z) if np.linalg.norm(z) > 1e-9 else head[:, 2]
        x = np.cross(head[:, 1], z)
        x = x / np.linalg.norm(x) if np.linalg.norm(x) > 1e-9 else head[:, 0]
        found.append(np.column_stack([x, np.cross(z, x), z]))
    return np.array(found)


def shortest_way(head, eyes, target):
    """Turned the shortest way from straight ahead: it rolls."""
    found = []
    for eye in eyes:
        z = target - eye
        z = z / np.linalg.norm(z) if np.linalg.norm(z) > 1e-9 else head[:, 2]
        axis, cosine = np.cross(head[:, 2], z), float(head[:, 2] @ z)
        cross = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
        found.append((np.eye(3) + cross + cross @ cross / max(1 + cosine, 1e-9)) @ head)
    return np.array(found)


def level_with_the_world(head, eyes, target):
    """The world's up for the head's."""
    upright = head.copy()
    upright[:, 1] = [0, 1, 0]
    return looking(upright, eyes, target)


def side_by_side(head, eyes, target):
    """All eyes turned as one in their middle would be."""
    return np.repeat(looking(head, eyes.mean(axis=0)[None], target), len(eyes), axis=0)


def away(head, eyes, target):
    """z from the target to the eye."""
    return (
        looking(head, eyes, 2 * eyes[0] - target) if len(eyes) == 1 else np.array([looking(head, e[None], 2 * e - target)[0] for e in eyes])
    )


def upside_down(head, eyes, target):
    """x = z cross up."""
    return looking(head * [-1, -1, 1], eyes, target)


def left_handed(head, eyes, target):
    """x to the right, y up."""
    return looking(head, eyes, target) * [-1, 1, 1]


def up_kept(head, eyes, target):
    """The head's up for y."""
    found = looking(head, eyes, target)
    found[:, :, 1] = head[:, 1]
    return found


def rows_for_columns(head, eyes, target):
    """Axes in rows."""
    return np.swapaxes(looking(head, eyes, target), 1, 2)


def not_of_length_one(head, eyes, target):
    """x is not brought to length one."""
    found = []
    for eye in eyes:
        z = target - eye
        z = z / np.linalg.norm(z) if np.linalg.norm(z) > 1e-9 else head[:, 2]
        x = np.cross(head[:, 1], z)
        found.append(np.column_stack([x, np.cross(z, x), z]))
    return np.array(found)


def nothing_special(head, eyes, target):
    """0 / 0 where there is no side, or nothing to look at."""
    found = []
    for eye in eyes:
        z = (target - eye) / np.linalg.norm(target - eye)
        x = np.cross(head[:, 1], z) / np.linalg.norm(np.cross(head[:, 1], z))
        found.append(np.column_stack([x, np.cross(z, x), z]))
    return np.array(found)


MISTAKES = (
    Mistake("shortest way", shortest_way, "turned the shortest way from straight ahead: it rolls when it looks up and aside. Build it from the head's up", ("level",), SIDE),
    Mistake("level with the world", level_with_the_world, "level with the world, not with the head: when the head tilts, its eyes must tilt along", ("level",), SIDE),
    Mistake("side by side", side_by_side, "all eyes look the same way: each has its own way to the target, and near by they must converge", ("looks",), AHEAD),
    Mistake("away", away, "z goes from the target to the eye: take target - eye", ("looks",), AHEAD),
    Mistake("upside down", upside_down, "x and y are turned round: x, to the left, is up cross z; z cross up is to the right", ("level",), SIDE),
    Mistake("left-handed", left_handed, "the axes are left-handed, a mirror image: y must be z cross x", ("turn",), TURN),
    Mistake("up kept", up_kept, "y is still the head's up, so it is not square to z when the eye looks up: y is z cross x", ("turn",), TURN),
    Mistake("rows", rows_for_columns, "the axes stand in rows: they are columns. np.column_stack puts them there", ("looks",), TURN),
    Mistake("length", not_of_length_one, "x is not of length 1: up and z are not square to each other, so their cross product is shorter", ("turn",), SIDE),
    Mistake("no side", nothing_special, "0 / 0: straight up there is no side, on the eye no way. Take the head's own axis there", ("special",), UPRIGHT),
)  # fmt: skip


def show_look(viewer, shown, context):
    """The told case: the eyes' lines of sight and axes."""
    head, eyes, target = inputs(shown.case)
    fresh(viewer, f"09.3, {shown.case.about}: your eyes' axes, and where they look.")
    names = ("left_eye", "right_eye", "centre_eye")[: len(eyes)]
    ahead = [rotation.from_matrix(axes) for axes in shown.value]
    viewer.look_lines(dict(zip(names, eyes)), target if np.linalg.norm(target - eyes[0]) > ON_EYE else target + 0.3 * head[:, 2], ahead)
    viewer.frames(held(eyes), shown.value)
    see(viewer, eyes, eyes.mean(axis=0) + 0.5 * (target - eyes.mean(axis=0)))


CHECKPOINT = Checkpoint(
    id="09.3",
    title="Eyes that look at a point",
    kind="function",
    names={"looking": forms.array(None, 3, 3)},
    claims=(
        Claim("looks", "each eye looks at the target", 1, looks_at, "0.001 degrees", look_at=AHEAD, applies=plain),
        Claim("level", "each is level with the head", 2, level, "0.001 degrees", look_at=SIDE, applies=plain),
        Claim("turn", "each is a turn: right-handed, square, of length 1", 1, turns, "1e-6", look_at=TURN, applies=plain),
        Claim("special", "straight up, straight down, on the eye: numbers", 1, answered, "0.001 degrees", look_at=UPRIGHT, applies=special),
    ),
    worked=looking,
    hint="For each eye: z = target - eye, at length 1.\n"
    "x, to the left, is square to the head's up and to z: np.cross(head[:, 1], z), at length 1. Where that has no length, head[:, 0].\n"
    "y = np.cross(z, x). The three are columns: np.column_stack([x, y, z]). Where z has no length, head[:, 2].",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_look,
)
