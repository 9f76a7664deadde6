"""Checkpoints 01.7 and 01.8: each hard part on exactly one joint, and why a shell needs no joint inside.

A rigid motion keeps every distance inside a part. A part that follows two joints
half and half is carried to the mean of two places, and the mean of two turned
copies is smaller than either: distances inside it change (Kavan, Collins, Zara
and O'Sullivan, ACM TOG 27(4):105, 2008, section 3). So a part is checked by
moving the arm and measuring.
"""

import numpy as np

from rigkit import rotation
from rigkit.course import forms
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import millimetres

CHAIN = ("left_shoulder", "left_elbow", "left_wrist", "left_gripper")
JOINTS = tuple(f"{name}_joint" for name in CHAIN)
BENDS = np.radians([20.0, 60.0, 30.0, 40.0])  # the pose a mapping is tried in, joint by joint
SEGMENTS = {
    "upper": ("left_shoulder_drum", "left_shoulder_bolts", "left_upper_arm_tube"),
    "fore": ("left_forearm_tube", "left_forearm_band"),
    "hand": ("left_wrist_collar", "left_gripper_plate"),
}
PARTS = tuple(part for parts in SEGMENTS.values() for part in parts)
SHAPE, PLACE = 1e-4, 1e-3  # metres: distances inside a part, and where a part lands


def joint_names():
    """A form: one joint's name, or a list of them; comes back as a tuple."""
    one, many = forms.string(), forms.listing(forms.string())

    def form(value):
        return (one(value),) if type(value) is str else tuple(many(value))

    form.expected = "a joint's name in quotes, or a list of names"
    return form


# --- moving ----------------------------------------------------------------------------------------------------------


def bent(context):
    """The arm's pose as (R, t) of each joint, (3, 3) and (3,): a rest point p goes to R p + t."""
    marks, hinges = context.robot.landmarks, context.robot.hinges
    turn, shift, out = np.eye(3), np.zeros(3), {}
    for name, angle in zip(CHAIN, BENDS):
        own = rotation.to_matrix(rotation.from_axis_angle(hinges[name], angle))
        turn, shift = turn @ own, turn @ (marks[name] - own @ marks[name]) + shift
        out[f"{name}_joint"] = (turn, shift)
    return out


def carried(points, joints, pose):
    """Points (N, 3) that follow `joints` in equal shares."""
    return np.mean([points @ pose[joint][0].T + pose[joint][1] for joint in joints], axis=0)


def change_of_shape(before, after):
    """The largest change of a distance between points (N, 3) of one part; a few points are held against all."""
    few = np.linspace(0, len(before) - 1, 12).astype(int)

    def gaps(points):
        return np.linalg.norm(points[few, None] - points[None], axis=2)

    return float(np.abs(gaps(after) - gaps(before)).max())


def unknown(mapping, parts):
    """What is missing or unknown in the mapping, in words, or ""."""
    for part in parts:
        if part not in mapping:
            return f"{part} has no joint yet"
        if not mapping[part]:
            return f"{part} has an empty list of joints"
        wrong = [joint for joint in mapping[part] if joint not in JOINTS]
        if wrong:
            return f"{part} is on {wrong[0]!r}, which is none of the arm's joints"
    return ""


def measure_shape(case, answer, context):
    """Distances inside each part, before and after the arm is bent."""
    mapping = answer["carried_by"]
    trouble = unknown(mapping, PARTS)
    if trouble:
        return Measure(False, f"a joint for each of the {len(PARTS)} parts", trouble, np.inf)
    pose = bent(context)
    change = {}
    for part in PARTS:
        points = context.robot.part(part).mesh.vertices
        change[part] = change_of_shape(points, carried(points, mapping[part], pose))
    worst = max(change, key=change.get)
    proves = f"{worst} is on {len(mapping[worst])} joints" if change[worst] > SHAPE else ""
    return Measure(
        change[worst] <= SHAPE,
        "no distance inside a part changes when the arm bends",
        f"{worst}: a distance changes by {millimetres(change[worst])}",
        change[worst],
        proves,
    )


def measure_segment(segment):
    """A measure: the parts of a segment land where the bone they sit on takes them."""

    def measure(case, answer, context):
        mapping = answer["carried_by"]
        trouble = unknown(mapping, SEGMENTS[segment])
        if trouble:
            return Measure(False, "a joint for each part", trouble, np.inf)
        pose, off = bent(context), {}
        for part in SEGMENTS[segment]:
            points, right = context.robot.part(part).mesh.vertices, context.robot.part(part).joints
            off[part] = float(np.linalg.norm(carried(points, mapping[part], pose) - carried(points, right, pose), axis=1).max())
        worst = max(off, key=off.get)
        return Measure(
            off[worst] <= PLACE,
            "each part stays on its bone when the arm bends",
            f"{worst} on {' and '.join(mapping[worst])}: {millimetres(off[worst])} off its bone",
            off[worst],
        )

    return measure


# --- worked answer and mistakes ---------------------------------------------------------------------------------------


def worked(context):
    """The worked answer: a part goes with the joint at the near end of its bone, or with the joint it sits on."""
    joint = {"left_wrist_collar": JOINTS[2], "left_gripper_plate": JOINTS[3]}
    joint |= dict.fromkeys(SEGMENTS["upper"], JOINTS[0]) | dict.fromkeys(SEGMENTS["fore"], JOINTS[1])
    return {"carried_by": {part: (joint[part],) for part in PARTS}}


def but(**changes):
    """A planned mistake: the worked mapping with some parts on other joints (numbers in the chain); None leaves a part out."""

    def answer(context):
        mapping = dict(worked(context)["carried_by"])
        for part, numbers in changes.items():
            mapping.pop(part)
            if numbers is not None:
                mapping[part] = tuple(JOINTS[i] for i in numbers)
        return {"carried_by": {part: mapping[part] for part in PARTS if part in mapping}}

    return answer


def shifted(step):
    """A planned mistake: every part on the joint `step` further down the chain."""

    def answer(context):
        good = worked(context)["carried_by"]
        return {"carried_by": {part: (JOINTS[min(max(JOINTS.index(joints[0]) + step, 0), 3)],) for part, joints in good.items()}}

    return answer


MOTION = Checkpoint(
    id="01.7",
    title="First motion",
    kind="value",
    names={"carried_by": forms.mapping(joint_names())},
    claims=(
        Claim("shape", "no part changes its shape: each is on exactly one joint", 2, measure_shape, "0.1 mm", look_at="step 3f"),
        Claim("upper", "shoulder and upper arm stay on their bone", 1, measure_segment("upper"), "1 mm", look_at="step 3f"),
        Claim("fore", "the forearm stays on its bone", 1, measure_segment("fore"), "1 mm", look_at="step 3f"),
        Claim("hand", "collar and gripper stay on their bones", 1, measure_segment("hand"), "1 mm", look_at="step 3f"),
    ),
    worked=worked,
    hint="Bend one joint in your head. What moves is on it or below it. A tube goes with the joint at its upper end, "
    "and what sits around a joint goes with that joint.",
    mistakes=(
        Mistake(
            "forearm on two joints",
            but(left_forearm_tube=(0, 1)),
            "the forearm tube is shared by shoulder and elbow: it shrinks as the elbow bends; shells are not shared",
            ("shape", "fore"),
            "step 3f",
        ),
        Mistake(
            "collar on two joints",
            but(left_wrist_collar=(1, 2)),
            "the collar is shared by elbow and wrist: it is a hard part, so one joint only",
            ("shape", "hand"),
            "step 3f",
        ),
        Mistake(
            "upper arm on two joints",
            but(left_upper_arm_tube=(0, 1)),
            "the upper tube is shared by shoulder and elbow: its lower end would bend; shells are not shared",
            ("shape", "upper"),
            "step 3f",
        ),
        Mistake(
            "all on the shoulder",
            but(**dict.fromkeys(PARTS, (0,))),
            "all parts are on the shoulder: nothing turns at elbow or wrist",
            ("fore", "hand"),
            "step 3f",
        ),
        Mistake(
            "the joint below",
            shifted(1),
            "each part is on the joint at the lower end of its bone; a bone turns about its upper end",
            ("upper", "fore", "hand"),
            "step 3f",
        ),
        Mistake(
            "the joint above",
            shifted(-1),
            "each part is on the joint above its own: it does not follow its own joint",
            ("fore", "hand"),
            "step 3f",
        ),
        Mistake(
            "band forgotten",
            but(left_forearm_band=None),
            "the forearm band has no joint: it stays in the air when the arm moves",
            ("shape", "fore"),
            "step 3f",
        ),
        Mistake(
            "collar with the forearm",
            but(left_wrist_collar=(1,)),
            "the collar is on the elbow; it sits around the wrist and turns with it",
            ("hand",),
            "step 3f",
        ),
    ),
)

SHELL = Checkpoint(
    id="01.8",
    title="Why a hard shell needs no joint inside",
    kind="text",
    names={"why_no_joint": forms.text(30)},
    claims=(
        Claim(
            "rigid",
            "says that distances inside a hard part never change, so one joint moves all of it",
            1,
            lambda case, answer, context: Measure(True),
        ),
        Claim(
            "where",
            "says where the joints go instead: where two parts turn against each other",
            1,
            lambda case, answer, context: Measure(True),
        ),
        Claim(
            "cost",
            "names what a joint inside would do, with something seen or measured in this chapter",
            1,
            lambda case, answer, context: Measure(True),
        ),
    ),
    worked=lambda context: {"why_no_joint": WORKED_TEXT},
    hint="Three sentences: what stays the same inside a shell when it moves; where joints are needed then; what you saw or measured "
    "when a part was on two joints.",
)

WORKED_TEXT = (
    "A hard shell never changes its shape: the distance between any two of its points stays the same however it moves. "
    "One joint can carry all of it, so a second one inside would have nothing to bend. Joints are needed only where two parts turn "
    "against each other, at the centre of the loop that folds. When I put the forearm tube on two joints and bent the elbow, distances "
    "inside it changed by centimetres: the shell was squashed, which metal does not do."
)
