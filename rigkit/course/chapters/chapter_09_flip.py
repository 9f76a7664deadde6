"""Checkpoint 09.8: flip a whole pose to the other side.

What a joint has done since rest is D = posed @ inv(rest), a motion of the world. Its counterpart must do the mirror image of
it, M D M, from its own rest. No sign of any channel comes in, so matched and parallel frames flip alike. Flipped twice is the start.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_09_frames import BOOK, CLOSE, between, frame, is_turn, rest_frames, spun
from rigkit.course.chapters.chapter_09_show import draw_points, fresh
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

ARGUMENTS = ("rest", "posed", "other")
PLACE, DONE, BOTH, TWICE = "idea 3, step 7", "idea 3, step 6", "idea 3, step 8", "idea 3, twice"
MIRROR = np.diag([-1.0, 1, 1, 1])


def image(rest, posed, other):
    """The flipped pose (J, 4, 4), all joints at once."""
    return MIRROR @ posed[other] @ np.linalg.inv(rest[other]) @ MIRROR @ rest


# joint to (axis in its own frame, degrees): a pose that is not the same on both sides
POSE = {
    "centre_body_joint": ((0, 0, 1), -8), "centre_head_joint": ((0, 1, 0), -35), "left_shoulder_joint": ((0, 0, 1), 50),
    "left_elbow_joint": ((0, 0, 1), 60), "left_hip_joint": ((0, 0, 1), 25),
}  # fmt: skip


def given_pose(robot):
    """joint_names; rest_frames and pose_frames (J, 4, 4): Tally at rest and with its left hand raised."""
    skeleton = robot.skeleton
    rest = rest_frames(skeleton)
    posed = rest.copy()
    for i, (name, parent) in enumerate(zip(skeleton.names, skeleton.parents)):
        base = rest[i] if parent < 0 else posed[parent] @ np.linalg.inv(rest[parent]) @ rest[i]
        posed[i] = base @ frame(spun(*POSE[name]), np.zeros(3)) if name in POSE else base
    return {"joint_names": list(skeleton.names), "rest_frames": rest, "pose_frames": posed}


def inputs(case):
    """rest (J, 4, 4), posed (J, 4, 4), other (J,)."""
    return np.asarray(case.inputs["rest"], float), np.asarray(case.inputs["posed"], float), list(case.inputs["other"])


def is_twice(case):
    """Whether the pose is a flipped one."""
    return case.about.startswith("twice")


def is_rest(case):
    """Whether nothing has moved."""
    return case.about.startswith("rest")


def is_pose(case):
    """Whether it is a pose."""
    return not is_twice(case) and not is_rest(case)


def one_each(measure):
    """The measure, told of an answer with another count of frames."""

    def measured(case, answer, context):
        count = len(inputs(case)[0])
        if len(answer) != count:
            return Measure(False, f"{count} frames, one a joint", f"{len(answer)} of them", 999.0)
        return measure(case, answer, context)

    return measured


def label(case, i, context):
    """A joint's name, or its number where the case is not Tally's."""
    names = context.robot.skeleton.names
    return names[i] if len(inputs(case)[0]) == len(names) else f"joint {i}"


@one_each
def places_mirrored(case, answer, context):
    """Each joint where its counterpart's mirror image is."""
    _, posed, other = inputs(case)
    off = np.linalg.norm(answer[:, :3, 3] - posed[other][:, :3, 3] * [-1, 1, 1], axis=1)
    i = int(off.argmax())
    told = f"{label(case, i, context)}: {told_length(off[i])} off   (tolerance 1e-6 m)"
    return Measure(off[i] <= CLOSE, "every joint at the mirror image of its counterpart", told, float(off[i]))


@one_each
def turns_proper(case, answer, context):
    """Right-handed turns."""
    off = is_turn(answer[:, :3, :3])
    i = int(off.argmax())
    told = f"{label(case, i, context)}: determinant {np.linalg.det(answer[i][:3, :3]):.3g}   (tolerance 1e-6)"
    return Measure(off[i] <= CLOSE, "every frame a right-handed turn", told, float(off[i]))


@one_each
def done_mirrored(case, answer, context):
    """What the counterpart did since rest, mirrored."""
    right = image(*inputs(case))
    off = np.abs(answer - right)[:, :3, :3].max(axis=(1, 2))
    i = int(off.argmax())
    told = f"{label(case, i, context)}: {between(answer[i][:3, :3], right[i][:3, :3]):.3g} degrees off   (tolerance 1e-6)"
    return Measure(off[i] <= CLOSE, "from its own rest each does the mirror image of what its counterpart did", told, float(off[i]))


def stays_put(case, answer, expected, context):
    """Every frame as worked."""
    right = image(*inputs(case))
    off = np.abs(answer - right).max(axis=(1, 2))
    i = int(off.argmax())
    metres, degrees = np.linalg.norm(answer[i, :3, 3] - right[i, :3, 3]), between(answer[i, :3, :3], right[i, :3, :3])
    told = f"{label(case, i, context)}: {told_length(metres)} and {degrees:.3g} degrees off   (tolerance 1e-6)"
    return Measure(off[i] <= CLOSE, expected, told, float(off[i]))


@one_each
def rest_stays(case, answer, context):
    """Rest flipped is rest."""
    return stays_put(case, answer, "the rest pose, flipped, is the rest pose", context)


@one_each
def start_again(case, answer, context):
    """A flipped pose flipped is the pose before."""
    return stays_put(case, answer, "a flipped pose, flipped again, is the start", context)


def counterparts(names):
    """The number of each joint's counterpart."""
    swap = {"left": "right", "right": "left"}
    return [names.index("_".join(swap.get(word, word) for word in name.split("_"))) for name in names]


def pose_of(skeleton, rng):
    """World frames (J, 4, 4) of a pose at random, joint by joint, the parent first."""
    rest = rest_frames(skeleton)
    posed = rest.copy()
    for i, parent in enumerate(skeleton.parents):
        base = rest[i] if parent < 0 else posed[parent] @ np.linalg.inv(rest[parent]) @ rest[i]
        posed[i] = base @ frame(spun(rng.normal(size=3), rng.uniform(5, 60)), np.zeros(3))
    return posed


def cases(rng, context):
    """Tally in poses, Tally with only its body and head turned, two hands of round numbers, parallel frames; rest; a flipped pose."""
    skeleton = context.robot.skeleton
    rest, other = rest_frames(skeleton), counterparts(list(skeleton.names))
    pose, second = pose_of(skeleton, rng), pose_of(skeleton, rng)
    motion = frame(spun(rng.normal(size=3), 40), rng.uniform(-0.3, 0.3, 3))
    hands = np.array([frame(np.eye(3), [x, 1, 0]) for x in (0.2, -0.2)])
    waving = hands.copy()
    waving[0] = hands[0] @ frame(spun([0, 0, 1], 30), [0, 0, 0])
    axes = spun(rng.normal(size=3), 70)
    tilted = np.array([frame(axes, [0.3, 1, 0.1]), frame(np.diag([-1.0, 1, 1]) @ axes @ np.diag([-1.0, 1, 1]), [-0.3, 1, 0.1])])
    some = np.array([motion, frame(spun(rng.normal(size=3), 55), rng.uniform(-0.2, 0.2, 3))]) @ tilted
    rows = (
        ("two hands that stand like the world, the left turned", (hands, waving, [1, 0])),
        ("two parallel frames", (tilted, some, [1, 0])),
        ("Tally in a pose", (rest, pose, other)),
        ("Tally, only the body has moved and turned", (rest, motion @ rest, other)),
        ("rest: Tally", (rest, rest, other)),
        ("twice: Tally's flipped pose", (rest, image(rest, second, other), other)),
    )
    return [Case(about, dict(zip(ARGUMENTS, values)), tell=("-",)) for about, values in rows]


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def flipped(rest, posed, other):
    """The worked answer."""
    mirror = np.diag([-1.0, 1, 1, 1])
    return np.array([mirror @ posed[o] @ np.linalg.inv(rest[o]) @ mirror @ rest[i] for i, o in enumerate(other)])


def sides_kept(rest, posed, other):
    """Each joint mirrors itself."""
    mirror = np.diag([-1.0, 1, 1, 1])
    return np.array([mirror @ posed[i] @ np.linalg.inv(rest[i]) @ mirror @ rest[i] for i in range(len(rest))])


def as_it_was(rest, posed, other):
    """The pose itself."""
    return posed.copy()


def only_swapped(rest, posed, other):
    """Sides change places, nothing is mirrored."""
    return np.array([posed[o] for o in other])


def image_only(rest, posed, other):
    """The mirror on the left only."""
    mirror = np.diag([-1.0, 1, 1, 1])
    return np.array([mirror @ posed[o] for o in other])


def both_sides_of_the_frame(rest, posed, other):
    """M posed M: parallel frames, whatever the rest."""
    mirror = np.diag([-1.0, 1, 1, 1])
    return np.array([mirror @ posed[o] @ mirror for o in other])


def motion_not_mirrored(rest, posed, other):
    """The counterpart's motion as it is."""
    return np.array([posed[o] @ np.linalg.inv(rest[o]) @ rest[i] for i, o in enumerate(other)])


def numbers_copied(rest, posed, other):
    """The own turn since rest is copied, as if all frames were matched."""
    mirror = np.diag([-1.0, 1, 1, 1])
    found = []
    for i, o in enumerate(other):
        own = (np.linalg.inv(rest[o]) @ posed[o])[:3, :3]
        one = mirror @ posed[o] @ np.linalg.inv(rest[o]) @ mirror @ rest[i]
        one[:3, :3] = rest[i][:3, :3] @ own
        found.append(one)
    return np.array(found)


def middle_left_out(rest, posed, other):
    """Joints without a side stay as they are."""
    mirror = np.diag([-1.0, 1, 1, 1])
    right = [mirror @ posed[o] @ np.linalg.inv(rest[o]) @ mirror @ rest[i] for i, o in enumerate(other)]
    return np.array([posed[i] if i == o else right[i] for i, o in enumerate(other)])


def own_rest_for_both(rest, posed, other):
    """The motion counted from one's own rest."""
    mirror = np.diag([-1.0, 1, 1, 1])
    return np.array([mirror @ posed[o] @ np.linalg.inv(rest[i]) @ mirror @ rest[i] for i, o in enumerate(other)])


MISTAKES = (
    Mistake("as it was", as_it_was, "this is the pose as it came: nothing was flipped", ("places", "done", "twice"), PLACE),
    Mistake("sides kept", sides_kept, "each joint mirrors itself: left and right must change places too, other[i] says with whom", ("places", "done"), PLACE),
    Mistake("only swapped", only_swapped, "the sides have changed places, and nothing is mirrored: the left arm is where the right one was", ("places", "done"), PLACE),
    Mistake("image only", image_only, "the mirror stands at one side only: such frames are left-handed, determinant -1", ("turns", "rest"), BOTH),
    Mistake("both sides of the frame", both_sides_of_the_frame, "M posed M makes parallel frames: matched limbs then stand turned round, even at rest. Mirror the motion", ("done", "rest"), BOTH),
    Mistake("motion not mirrored", motion_not_mirrored, "the counterpart's motion is copied, not mirrored: M D M is its mirror image", ("places", "done"), BOTH),
    Mistake("numbers copied", numbers_copied, "the own turns are copied: right for matched limbs, wrong for the middle and for frames that stand like the world", ("done",), BOTH),
    Mistake("middle left out", middle_left_out, "joints of the middle stay as they are: they are their own counterparts, and are mirrored like all", ("places", "done"), PLACE),
    Mistake("own rest for both", own_rest_for_both, "the motion was counted from the wrong rest: what the counterpart did began at its own rest, rest[other]", ("rest",), DONE),
)  # fmt: skip


def show_flip(viewer, shown, context):
    """Tally in a pose, flipped by the answer, over the expected joints."""
    skeleton, known = context.robot.skeleton, given_pose(context.robot)
    rest, pose, other = known["rest_frames"], known["pose_frames"], counterparts(list(skeleton.names))
    got, right = shown(rest, pose, other), image(rest, pose, other)
    fresh(viewer, "09.8: a pose, flipped by your function, over the expected one; the model stands at rest.")
    limbs = [i for i, name in enumerate(skeleton.names) if "hose" not in name and "finger" not in name]
    names = [skeleton.names[i] for i in limbs]
    parents = [limbs.index(skeleton.parents[i]) if skeleton.parents[i] in limbs else -1 for i in limbs]
    draw_points(viewer, dict(zip(names, got[limbs][:, :3, 3])), dict(zip(names, right[limbs][:, :3, 3])), parents)


CHECKPOINT = Checkpoint(
    id="09.8",
    title="Flip a pose",
    kind="function",
    names={"flipped": forms.array(None, 4, 4)},
    claims=(
        Claim("places", "each joint at its counterpart's mirror image", 1, places_mirrored, "1e-6 m", look_at=PLACE, applies=is_pose),
        Claim("turns", "frames are right-handed turns", 1, turns_proper, "1e-6", look_at=BOTH, applies=is_pose),
        Claim("done", "each does the mirror image of what its counterpart did", 1, done_mirrored, "1e-6", look_at=DONE, applies=is_pose),
        Claim("rest", "the rest pose stays", 1, rest_stays, "1e-6", look_at=BOTH, applies=is_rest),
        Claim("twice", "flipped twice is the start", 1, start_again, "1e-6", look_at=TWICE, applies=is_twice),
    ),
    worked=flipped,
    hint="What has the counterpart done since rest? posed[o] @ np.linalg.inv(rest[o]), with o = other[i].\n"
    "Its mirror image: a mirror in front and one behind. mirror = np.diag([-1.0, 1, 1, 1]).\n"
    "Then do that from joint i's own rest: ... @ rest[i].",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_flip,
)
