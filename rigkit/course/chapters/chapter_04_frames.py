"""Checkpoint 04.4: the frames of a chain's joints, x along the bone, z on one hinge for all, the last joint as its parent.

The columns of a frame are its axes as the world sees them. z is the hinge less its
part along the bone, at length 1; y = z cross x makes it right-handed. Source: the
Gram-Schmidt process, any textbook of linear algebra.
"""

from itertools import pairwise

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_04_show import show_frames
from rigkit.course.chapters.chapter_04_vectors import (
    BOOK,
    CLOSE,
    between,
    in_degrees,
    square,
    unit,
)
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake

BONE, HINGE, HAND, LAST = "idea 3, step 1", "idea 3, step 2", "idea 3, step 3", "idea 3, step 4"


def chain_of(case):
    """Points (n, 3) and hinge (3,) of a case."""
    return np.asarray(case.inputs["points"], float), np.asarray(case.inputs["hinge"], float)


# ---- the claims ------------------------------------------------------------------------------------------------


def on_joints(measure):
    """The claim's measure, for an answer with a frame for each joint."""

    def measured(case, answer, context):
        points, hinge = chain_of(case)
        if len(answer) != len(points):
            lacks = "the last joint has no bone of its own, but a frame: that of its parent" if len(answer) == len(points) - 1 else ""
            return Measure(False, f"a frame for each of the {len(points)} joints", f"{len(answer)} frames", np.inf, lacks)
        return measure(points, hinge, answer)

    return measured


@on_joints
def turns(points, hinge, answer):
    """Each frame is a turn: its axes are of length 1, square to each other, right-handed."""
    off = np.abs(np.swapaxes(answer, 1, 2) @ answer - np.eye(3)).max(axis=(1, 2))
    left = np.linalg.det(answer) < 0
    expected = "axes of length 1, square to each other, right-handed"
    if off.max() > CLOSE:
        worst = int(off.argmax())
        sizes = np.linalg.norm(answer[worst], axis=0)
        axis = int(np.abs(sizes - 1).argmax())
        long = f"{'xyz'[axis]} has length {sizes[axis]:.6g}" if abs(sizes[axis] - 1) > CLOSE else "its axes are not square to each other"
        return Measure(False, expected, f"joint {worst}: {long}   (tolerance 1e-6)", float(off.max()))
    first = int(left.argmax())
    return Measure(
        not left.any(), expected, f"joint {first} is left-handed: its determinant is -1", 2.0, "y is on the wrong side: y = np.cross(z, x)"
    )


@on_joints
def along_bones(points, hinge, answer):
    """x runs along the joint's own bone."""
    off = [between(frame[:, 0], bone) for frame, bone in zip(answer, np.diff(points, axis=0))]
    worst = int(np.argmax(off))
    cause = "x points back to the parent" if off[worst] > 3.1 and np.linalg.norm(answer[worst][:, 0]) > 0.5 else ""
    return Measure(
        off[worst] <= CLOSE,
        "x along the bone, to the next joint",
        f"joint {worst}: x is {in_degrees(off[worst])} off its bone   (tolerance 1e-6 rad)",
        off[worst],
        cause,
    )


def hinge_of(bone, hinge):
    """The hinge without its part along a bone, at length 1."""
    return unit(square(hinge, unit(bone)))


@on_joints
def on_hinge(points, hinge, answer):
    """z is on the hinge, as far as the bone lets it, and on the same side in all joints."""
    off = [between(frame[:, 2], hinge_of(bone, hinge)) for frame, bone in zip(answer, np.diff(points, axis=0))]
    worst = int(np.argmax(off))
    cause = ""
    if off[worst] > 3.1 and np.linalg.norm(answer[worst][:, 2]) > 0.5:
        cause = (
            "all hinges point the other way"
            if min(off) > 3.1
            else f"the hinge has flipped: joint {worst} has it on the other side than joint {int(np.argmin(off))}"
        )
    return Measure(
        off[worst] <= CLOSE,
        "z on the hinge, less its part along the bone",
        f"joint {worst}: z is {in_degrees(off[worst])} off   (tolerance 1e-6 rad)",
        off[worst],
        cause,
    )


@on_joints
def last_as_parent(points, hinge, answer):
    """The last joint has no bone: it stands as its parent."""
    gap = max(between(answer[-1][:, k], answer[-2][:, k]) for k in range(3))
    return Measure(gap <= CLOSE, "the last joint's axes as its parent's", f"an axis is {in_degrees(gap)} off   (tolerance 1e-6 rad)", gap)


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """Two bones for a hand, Tally's limbs, the hose, which bends both ways, hinges that lean or are long, a straight chain."""
    marks, hinges = context.robot.landmarks, context.robot.hinges
    limbs = [
        case(about, [marks[f"{side}_{name}"] for name in names], hinges[f"{side}_{names[1]}"])
        for about, side, names in (
            ("left arm", "left", ("shoulder", "elbow", "wrist")),
            ("left leg", "left", ("hip", "knee", "ankle")),
            ("right arm", "right", ("shoulder", "elbow", "wrist", "gripper")),
        )
    ]
    return [
        case("two bones, for a hand", [[0, 1, 0], [0, 0.5, 0], [0, 0.5, 0.5]], [1, 0, 0]),
        *limbs,
        case("the hose, bent both ways", [marks[f"hose_{k:02}"] for k in range(1, 13)], hinges["hose_01"]),
        wave("a wave", rng, 7),
        wave("a hinge that leans", rng, 5, lean=rng.uniform(0.2, 0.4)),
        wave("a long hinge", rng, 4, size=3.0),
        wave("straight", rng, 4, high=0.0),
        wave("two joints", rng, 2),
    ]


def case(about, points, hinge):
    """A Case with its chain and its hinge."""
    return Case(about, {"points": np.array(points, float), "hinge": np.array(hinge, float)})


def wave(about, rng, n, high=0.08, lean=0.0, size=1.0):
    """A chain that bends both ways about an oblique hinge; lean: how much of the hinge runs along the chain."""
    x, y, z = np.linalg.qr(rng.normal(size=(3, 3)))[0].T
    t = np.linspace(0, 1, n)
    points = rng.uniform(0.2, 0.9, 3) + 0.6 * np.outer(t, x) + high * np.outer(np.sin(2.2 * np.pi * t), y)
    return case(about, points, size * (z + lean * x))


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def joint_frames(points, hinge):
    """The worked answer."""
    found = []
    for start, stop in pairwise(points):
        x = (stop - start) / np.linalg.norm(stop - start)
        z = hinge - (hinge @ x) * x
        z = z / np.linalg.norm(z)
        found.append(np.column_stack([x, np.cross(z, x), z]))
    return np.array([*found, found[-1]])


def left_handed(points, hinge):
    """y = x cross z."""
    return joint_frames(points, hinge) * [1, -1, 1]


def own_hinges(points, hinge):
    """Each joint's hinge from its own two bones: where the chain bends the other way, it flips."""
    bones = np.diff(points, axis=0)
    found, own = [], hinge
    for k, bone in enumerate(bones):
        crossed = np.cross(bones[k - 1], bone) if k else np.cross(bone, bones[1]) if len(bones) > 1 else np.zeros(3)
        own = crossed / np.linalg.norm(crossed) if np.linalg.norm(crossed) > 1e-9 else own
        found.append(joint_frames(np.array([points[k], points[k] + bone]), own)[0])
    return np.array([*found, found[-1]])


def hinge_first(points, hinge):
    """z kept exactly on the hinge, x bent off the bone to be square to it."""
    z = hinge / np.linalg.norm(hinge)
    found = []
    for bone in np.diff(points, axis=0):
        x = bone - (bone @ z) * z
        x = x / np.linalg.norm(x)
        found.append(np.column_stack([x, np.cross(z, x), z]))
    return np.array([*found, found[-1]])


def hinge_as_it_comes(points, hinge):
    """The hinge as it was handed in: neither square to the bone nor of length 1."""
    frames = joint_frames(points, hinge)
    for frame in frames:
        frame[:, 1], frame[:, 2] = np.cross(hinge, frame[:, 0]), hinge
    return frames


def rows(points, hinge):
    """The axes in the rows."""
    return np.swapaxes(joint_frames(points, hinge), 1, 2).copy()


def towards_the_parent(points, hinge):
    """Each x looks back."""
    return joint_frames(points, hinge) * [-1, -1, 1]


def last_stands_like_the_world(points, hinge):
    """The last joint has no bone, so no turn."""
    return np.array([*joint_frames(points, hinge)[:-1], np.eye(3)])


def last_looks_back(points, hinge):
    """The last joint's x along the bone back to its parent."""
    frames = joint_frames(points, hinge)
    frames[-1] = frames[-2] * [-1, -1, 1]
    return frames


def hinge_on_y(points, hinge):
    """The hinge in the second column."""
    frames = joint_frames(points, hinge)
    return np.stack([frames[:, :, 0], frames[:, :, 2], -frames[:, :, 1]], axis=2)


def no_length(points, hinge):
    """x is the bone, at the length it has."""
    frames = joint_frames(points, hinge)
    sizes = np.linalg.norm(np.diff(points, axis=0), axis=1)
    return frames * np.array([[size, 1.0, 1.0] for size in [*sizes, sizes[-1]]])[:, None, :]


def hinge_leans(points, hinge):
    """z is the hinge at length 1, with its part along the bone left in."""
    frames, z = joint_frames(points, hinge), hinge / np.linalg.norm(hinge)
    for frame in frames:
        frame[:, 1], frame[:, 2] = np.cross(z, frame[:, 0]), z
    return frames


def hinge_too_long(points, hinge):
    """The part along the bone is taken off, but z is not brought to length 1."""
    frames = joint_frames(points, hinge)
    for frame in frames:
        frame[:, 1:] *= (frame[:, 2] @ hinge) * np.ones(2)
    return frames


def bone_of_the_parent(points, hinge):
    """Each joint has the frame of the bone before it."""
    frames = joint_frames(points, hinge)
    return np.array([frames[0], *frames[:-1]])


def turned_hinge(points, hinge):
    """The hinge's sign swapped."""
    return joint_frames(points, -hinge)


MISTAKES = (
    Mistake(
        "left-handed", left_handed, "y is on the wrong side, and the frame left-handed: y = np.cross(z, x), in this order", ("turn",), HAND
    ),
    Mistake(
        "own hinges",
        own_hinges,
        "each joint's hinge was taken from its own bones: where the chain bends the other way, it flips",
        ("hinge",),
        HINGE,
    ),
    Mistake(
        "hinge first", hinge_first, "z was kept and x bent off the bone; keep x, and take the hinge's part along it off", ("bone",), HINGE
    ),
    Mistake("hinge as it comes", hinge_as_it_comes, "the hinge is neither square to the bone nor of length 1 yet", ("turn",), HINGE),
    Mistake("hinge leans", hinge_leans, "z is not square to the bone: take off the hinge's part along it", ("turn",), HINGE),
    Mistake("hinge too long", hinge_too_long, "z has the length that is left of the hinge; bring it to length 1", ("turn",), HINGE),
    Mistake("bone of the parent", bone_of_the_parent, "each joint has the bone before it; its own runs to the next joint", ("bone",), BONE),
    Mistake("rows", rows, "the axes stand in the rows; they belong in the columns", ("bone", "hinge"), "the convention strip"),
    Mistake("towards the parent", towards_the_parent, "x points back to the parent; the bone runs to the next joint", ("bone",), BONE),
    Mistake(
        "last like the world",
        last_stands_like_the_world,
        "the last joint stands like the world; it is to stand as its parent",
        ("last",),
        LAST,
    ),
    Mistake(
        "last looks back", last_looks_back, "the last joint's x runs back along the bone; it is to stand as its parent", ("last",), LAST
    ),
    Mistake("hinge on y", hinge_on_y, "the hinge is in the second column, y; it belongs on z, the third", ("hinge",), HINGE),
    Mistake("length left in", no_length, "x still has the bone's length; bring it to length 1", ("turn",), BONE),
    Mistake("other sign", turned_hinge, "the hinge's sign was changed: a positive turn now bends the other way", ("hinge",), HINGE),
)

CHECKPOINT = Checkpoint(
    id="04.4",
    title="Frames along a chain",
    kind="function",
    names={"joint_frames": forms.array(None, 3, 3)},
    claims=(
        Claim("turn", "each frame is a turn: axes of length 1, square to each other, right-handed", 2, turns, "1e-6", look_at=HAND),
        Claim("bone", "x runs along the joint's bone", 1, along_bones, "1e-6 rad", look_at=BONE),
        Claim("hinge", "z is on the hinge, on the same side in every joint", 2, on_hinge, "1e-6 rad", look_at=HINGE),
        Claim("last", "the last joint stands as its parent", 1, last_as_parent, "1e-6 rad", look_at=LAST),
    ),
    worked=joint_frames,
    hint="A loop over the bones: for start, stop in zip(points[:-1], points[1:]). x is stop - start, at length 1.\n"
    "z is the hinge less its part along x, hinge - (hinge @ x) * x, at length 1. y = np.cross(z, x).\n"
    "np.column_stack([x, y, z]) is one frame. At the end, append the last frame once more.",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_frames,
)
