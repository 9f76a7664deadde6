"""Checkpoint 05.7: the whole right arm and leg, and a pose flipped to the other side.

Names, places and matched frames make the side. With matched frames a pose flips by
plain numbers: left and right change places, and only a joint of the middle, its own
counterpart and standing like the world at rest, changes signs: (x, -y, -z, w) for a
turn over the plane x = 0 (algebra). Flipped twice is the start.
"""

import numpy as np

from rigkit import mirror, rotation
from rigkit.course import forms
from rigkit.course.chapters.chapter_04_frames import joint_frames
from rigkit.course.chapters.chapter_05_names import swap_side
from rigkit.course.chapters.chapter_05_planes import BOOK, CLOSE, YZ, apart, not_a_turn
from rigkit.course.chapters.chapter_05_show import show_side
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

ARM = ("shoulder", "elbow", "wrist", "gripper")
LEG = ("hip", "knee", "ankle", "ball", "toe_end")
NEAR, TURNED, FLIPPED = 2e-4, 0.5, 0.1  # metres, degrees, degrees
PLACES, FRAMES, FLIP, TWICE = "idea 3, step 2", "idea 3, step 3", "idea 3, a pose for the other side", "idea 3, a pose for the other side"
POSED = ("centre_body_joint", "centre_head_joint") + tuple(
    f"{side}_{name}_joint" for side in ("left", "right") for name in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")
)


def pose(rng):
    """A pose: joint name to its turn from rest in its own frame, a quaternion (x, y, z, w); the two sides differ, the body leans and looks aside."""

    def turn(x, y, z):
        return rotation.from_euler("XYZ", np.radians(np.array([x, y, z]) + rng.uniform(-4, 4, 3)))

    turns = {
        "centre_body_joint": turn(12, 22, -12),
        "centre_head_joint": turn(-8, 24, 14),
        "left_shoulder_joint": turn(15, 76, 30),
        "left_elbow_joint": turn(0, 0, 48),
        "left_wrist_joint": turn(30, 10, 12),
        "left_hip_joint": turn(6, -14, -25),
        "left_knee_joint": turn(0, 0, 34),
        "left_ankle_joint": turn(0, 6, -17),
        "right_shoulder_joint": turn(-12, 14, 44),
        "right_elbow_joint": turn(0, 0, 72),
        "right_wrist_joint": turn(-26, 8, -14),
        "right_hip_joint": turn(-8, -10, -48),
        "right_knee_joint": turn(0, 0, 56),
        "right_ankle_joint": turn(0, -8, -14),
    }
    return {name: np.round(turns[name] / np.linalg.norm(turns[name]), 6) for name in POSED}


def left_side(context):
    """Name to place (3,), and name to frame (3, 3), of Tally's own left arm and leg."""
    robot = context.robot
    places, frames = {}, {}
    for limb, hinge in ((ARM, "left_elbow"), (LEG, "left_knee")):
        names = [f"left_{name}" for name in limb]
        points = np.array([robot.landmarks[name] for name in names])
        places |= dict(zip(names, points))
        frames |= dict(zip(names, joint_frames(points, robot.hinges[hinge])))
    return places, frames


def start_pose(context):
    """Name to quaternion (4,), as handed out."""
    return {name: np.asarray(q, float) for name, q in context.given["pose"].items()}


# ---- the claims ------------------------------------------------------------------------------------------------


def wrong_names(got, wanted):
    """What is wrong with the names of a dict; "" when they are those wanted."""
    lacks, more = sorted(set(wanted) - set(got)), sorted(set(got) - set(wanted))
    besides = f"; there is {more[0][:40]}, which is none of them" if more else ""
    return f"{lacks[0]} is missing{besides}" if lacks else f"{more[0]} is none of them" if more else ""


def places_told(case, answer, context):
    """The nine right joints, each at the mirror image of Tally's left one."""
    right = {mirror.names(name): p * [-1, 1, 1] for name, p in left_side(context)[0].items()}
    got, expected = answer["right_joints"], "nine right joints, each at the mirror image of the left one"
    if wrong := wrong_names(got, right):
        return Measure(False, expected, wrong, np.inf, name_cause(got))
    off = {name: float(np.linalg.norm(got[name] - right[name])) for name in right}
    worst = max(off, key=off.get)
    return Measure(off[worst] <= NEAR, expected, f"{worst} is {told_length(off[worst])} off   (tolerance 0.2 mm)", off[worst])


def name_cause(got):
    """What wrong names prove."""
    return "the names still say left" if got and all(name.startswith("left_") for name in got) else ""


def frames_told(case, answer, context):
    """Nine frames, each matched to the left one."""
    right = {mirror.names(name): -YZ @ frame for name, frame in left_side(context)[1].items()}
    got, expected = answer["right_frames"], "nine frames, each matched to the left one"
    if wrong := wrong_names(got, right):
        return Measure(False, expected, wrong, np.inf, name_cause(got))
    gap, told = not_a_turn(np.array([got[name] for name in right]))
    if gap > 1e-3:
        return Measure(False, expected, told.replace("frame 0", "right_shoulder"), 360.0 + gap)
    off = {name: float(np.degrees(apart(got[name], right[name]))) for name in right}
    worst = max(off, key=off.get)
    return Measure(
        off[worst] <= TURNED, expected, f"{worst} is turned by {off[worst]:.3g} degrees from it   (tolerance 0.5 degree)", off[worst]
    )


def pose_told(case, answer, context):
    """Every joint of the flipped pose stands in the world as the mirror image of its counterpart in the pose handed out."""
    start, got = start_pose(context), answer["flipped"]
    expected = "every joint, in the world, as the mirror image of its counterpart"
    if wrong := wrong_names(got, start):
        return Measure(False, expected, wrong, np.inf)
    if wrong := no_quaternion(got):
        return Measure(False, expected, wrong, np.inf)
    skeleton = context.robot.skeleton
    wanted, _ = mirror.pose(skeleton, mirror.Plane(), local(skeleton, start))
    right, there = (skeleton.forward(turns).rotations for turns in (wanted, local(skeleton, got)))
    rows = [skeleton.index(name) for name in start]
    off = np.degrees(rotation.angle(right[rows], there[rows]))
    first = int((off > FLIPPED).argmax()) if (off > FLIPPED).any() else int(off.argmax())  # nearest to the root: the others hang on it
    return Measure(
        bool(off.max() <= FLIPPED),
        expected,
        f"{list(start)[first]} is {off[first]:.3g} degrees off its image   (tolerance 0.1 degree)",
        float(off.max()),
    )


def no_quaternion(turns):
    """Which of the turns is no quaternion of length 1; "" when all are."""
    size = {name: float(np.linalg.norm(q)) for name, q in turns.items()}
    worst = max(size, key=lambda name: abs(size[name] - 1))
    return f"{worst} has length {size[worst]:.4g}; a turn has length 1" if abs(size[worst] - 1) > 1e-3 else ""


def local(skeleton, turns):
    """Local rotations (J, 4): rest ones, with turns from rest in the joints' own frames."""
    out = skeleton.rest_rotations.copy()
    for name, q in turns.items():
        row = skeleton.index(name)
        out[row] = rotation.multiply(out[row], q / np.linalg.norm(q))
    return out


def twice_told(case, answer, context):
    """The flipped pose, flipped again by the same steps, is the start."""
    start, got, once = start_pose(context), answer["flipped_back"], answer["flipped"]
    expected = "the pose handed out, every joint of it"
    if wrong := wrong_names(got, start) or no_quaternion(got):
        return Measure(False, expected, wrong, np.inf)
    off = {name: float(rotation.angle(q / np.linalg.norm(q), start[name] / np.linalg.norm(start[name]))) for name, q in got.items()}
    worst = max(off, key=off.get)
    if off[worst] > CLOSE:
        return Measure(False, expected, f"{worst} is {np.degrees(off[worst]):.3g} degrees off   (tolerance 1e-6 rad)", off[worst])
    same = set(once) == set(start) and all(np.allclose(once[name], start[name]) for name in start)
    return Measure(not same, expected, "it is, but flipped is the start as well: nothing was flipped", 1.0)


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def flip(turns):
    """A pose flipped: left and right change places, the middle changes signs."""
    return {swap_side(name, []): q * [1, -1, -1, 1] if name.startswith("centre") else q for name, q in turns.items()}


def answer(place=lambda p: p * [-1.0, 1.0, 1.0], frame=lambda f: -YZ @ f, rename=mirror.names, flipping=flip):
    """The answer of 05.7 as a function of the context; the defaults are right."""

    def answer_of(context):
        places, frames = left_side(context)
        start = start_pose(context)
        once = flipping(start)
        return {
            "right_joints": {rename(name): place(p) for name, p in places.items()},
            "right_frames": {rename(name): frame(f) for name, f in frames.items()},
            "flipped": once,
            "flipped_back": flipping(once),
        }

    return answer_of


def middle_left(turns):
    """Sides change places, the middle keeps its numbers."""
    return {swap_side(name, []): q for name, q in turns.items()}


def sides_left(turns):
    """The middle changes signs, each side keeps its own numbers."""
    return {name: q * [1, -1, -1, 1] if name.startswith("centre") else q for name, q in turns.items()}


def signs_everywhere(turns):
    """The signs of the middle on every joint."""
    return {swap_side(name, []): q * [1, -1, -1, 1] for name, q in turns.items()}


def turned_back(turns):
    """The middle turned the other way altogether."""
    return {swap_side(name, []): q * [-1, -1, -1, 1] if name.startswith("centre") else q for name, q in turns.items()}


def moves_signs(turns):
    """The middle with the signs of moves."""
    return {swap_side(name, []): q * [-1, 1, 1, 1] if name.startswith("centre") else q for name, q in turns.items()}


def left_copied(turns):
    """The left's numbers on both sides."""
    out = {name: q * [1, -1, -1, 1] if name.startswith("centre") else q for name, q in turns.items()}
    return out | {swap_side(name, []): q for name, q in turns.items() if name.startswith("left_")}


def nothing(turns):
    """The pose as it is."""
    return dict(turns)


MISTAKES = (
    Mistake(
        "joints not mirrored",
        answer(place=lambda p: p),
        "these are the left joints under right names: x was not mirrored",
        ("places",),
        PLACES,
    ),
    Mistake(
        "names not swapped",
        answer(rename=lambda name: name),
        "the names still say left: give each its other side's",
        ("places", "frames"),
        "idea 3, step 1",
    ),
    Mistake(
        "frames not mirrored", answer(frame=lambda f: f), "these are the left frames: only the places were mirrored", ("frames",), FRAMES
    ),
    Mistake(
        "parallel frames",
        answer(frame=lambda f: YZ @ f @ YZ),
        "these frames are parallel, x alone is turned round; limbs are matched here",
        ("frames",),
        FRAMES,
    ),
    Mistake(
        "left-handed frames",
        answer(frame=lambda f: YZ @ f),
        "this is M R, left-handed: a sign for every own axis is missing",
        ("frames",),
        FRAMES,
    ),
    Mistake(
        "middle left",
        answer(flipping=middle_left),
        "body and head kept their numbers; they stand in the middle and change two signs of a turn: (x, -y, -z, w)",
        ("flipped",),
        FLIP,
    ),
    Mistake("sides left", answer(flipping=sides_left), "left and right kept their own numbers; they change places", ("flipped",), FLIP),
    Mistake(
        "signs everywhere",
        answer(flipping=signs_everywhere),
        "the signs of the middle were given to the limbs as well; matched frames take the numbers as they are",
        ("flipped",),
        FLIP,
    ),
    Mistake(
        "turned back",
        answer(flipping=turned_back),
        "the middle was turned back, all three signs: a nod stays a nod in the mirror, x keeps its sign",
        ("flipped",),
        FLIP,
    ),
    Mistake(
        "signs of moves",
        answer(flipping=moves_signs),
        "the middle got the signs of moves, (-, +, +); a turn takes (+, -, -)",
        ("flipped",),
        FLIP,
    ),
    Mistake(
        "left on both sides",
        answer(flipping=left_copied),
        "both sides have the left's numbers now; what the right did is lost",
        ("flipped", "twice"),
        FLIP,
    ),
    Mistake("not flipped", answer(flipping=nothing), "the pose is as it was: nothing was flipped", ("flipped", "twice"), FLIP),
)

CHECKPOINT = Checkpoint(
    id="05.7",
    title="The whole right side, and a flipped pose",
    kind="value",
    names={
        "right_joints": forms.mapping(forms.point()),
        "right_frames": forms.mapping(forms.array(3, 3)),
        "flipped": forms.mapping(forms.array(4)),
        "flipped_back": forms.mapping(forms.array(4)),
    },
    claims=(
        Claim("places", "right_joints: nine names, each in its place", 2, places_told, "0.2 mm", ("right_joints",), PLACES, settable=True),
        Claim(
            "frames",
            "right_frames: nine frames, matched to the left ones",
            2,
            frames_told,
            "0.5 degree",
            ("right_frames",),
            FRAMES,
            settable=True,
        ),
        Claim(
            "flipped",
            "flipped: in the world every joint is the mirror image of its counterpart",
            3,
            pose_told,
            "0.1 degree",
            ("flipped",),
            FLIP,
            settable=True,
        ),
        Claim("twice", "flipped_back: flipped twice, the pose is the start", 1, twice_told, "1e-6 rad", ("flipped_back", "flipped"), TWICE),
    ),
    worked=answer(),
    mistakes=MISTAKES,
    hint="The arm of the worked step and the leg of the faded step are two dicts; one | other puts them together.\n"
    "Write flip(turns) for a pose: a new dict, under swap_side(name, []) each joint's own numbers.\n"
    'Names that start with "centre" swap to themselves: there the turn (x, y, z, w) becomes (x, -y, -z, w), q * [1, -1, -1, 1].',
    closed=BOOK,
    show=show_side,
)
