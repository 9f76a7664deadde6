"""What the learner builds in chapter 12: the pieces of a rig, made from a robot's material; and what becomes of them.

A rig is put together from pieces once and kept, with its audit and its walk, for several claims and checkpoints ask
for the same. What no rig can be made of says so in words.
"""

import hashlib

import numpy as np

from rigkit import audit, bend, limb
from rigkit.course import forms
from rigkit.course.chapters.chapter_01_loops import loop_centre
from rigkit.course.chapters.chapter_04_frames import joint_frames
from rigkit.course.chapters.chapter_05_matched import matched
from rigkit.course.chapters.chapter_05_names import swap_side
from rigkit.course.chapters.chapter_08_outline import outline
from rigkit.robot import assembly

CLOSED = ("robot.rig", "robot.assembly")
KEPT = 400  # results, each small beside a robot
ARM, LEG = ("shoulder", "elbow", "wrist", "gripper"), ("hip", "knee", "ankle", "ball", "toe_end")
FOLLOWS = {
    "centre_body_control": "centre_whole_control",
    "centre_head_control": "centre_body_control",
    "centre_eyes_control": "centre_head_joint",
    "centre_hose_control": "centre_body_joint",
    "left_shoulder_control": "centre_body_joint",
    "left_hand_control": "centre_body_joint",
    "left_elbow_marker": "centre_body_joint",
    "left_hip_control": "centre_body_joint",
    "left_foot_control": "centre_whole_control",
    "left_knee_marker": "centre_body_joint",
}


# ---- the form -----------------------------------------------------------------------------------------------------


def named(names, of):
    """A dict with exactly these names, each value of one form."""
    return fields(dict.fromkeys(names, of), f"a dict of {len(names)} names, {names[0]} to {names[-1]}; each {of.expected}")


def fields(inner, expected):
    """A dict with exactly these names, each value of its own form; `expected` says it in words."""

    def form(value):
        if type(value) is not dict:
            raise forms.Wrong("wrong kind", forms.came(value, expected))
        if lacking := [name for name in inner if name not in value]:
            raise forms.Wrong(
                "wrong shape", f"there is no {lacking[0]!r} in it" + (f", nor {len(lacking) - 1} more" if lacking[1:] else "")
            )
        if more := [str(name)[:30] for name in value if name not in inner]:
            raise forms.Wrong("wrong shape", f"there is {more[0]!r} in it besides what is asked for")
        return {name: _inside(one, value[name], name) for name, one in inner.items()}

    form.expected = expected
    return form


def _inside(form, value, name):
    try:
        return form(value)
    except forms.Wrong as wrong:
        raise forms.Wrong(wrong.outcome, f"[{name!r}]: {wrong.line}") from None


PIECES = fields(
    {
        "joints": named(assembly.JOINTS, forms.point()),
        "frames": named(assembly.JOINTS, forms.array(3, 3)),
        "markers": named(assembly.MARKERS, forms.point()),
        "pivots": named(assembly.PIVOTS, forms.point()),
        "ranges": named(("elbow", "knee"), forms.several(forms.number(), forms.number())),
        "outlines": named(assembly.CONTROLS, forms.array(None, 3)),
        "follows": named(assembly.FOLLOWERS, forms.string()),
    },
    "a dict of seven pieces: joints, frames, markers, pivots, ranges, outlines, follows",
)


# ---- what becomes of pieces ---------------------------------------------------------------------------------------

_kept = {}


def once(what, robot, pieces, make, *more):
    """What make() gives for this robot and these pieces; made once. A ValueError is kept too, as its text."""
    key = (what, robot.name, robot.landmarks["left_wrist"].tobytes(), digest(pieces), *more)
    if key not in _kept:
        while len(_kept) >= KEPT:
            _kept.pop(next(iter(_kept)))
        try:
            _kept[key] = make()
        except (ValueError, np.linalg.LinAlgError, OverflowError) as error:
            _kept[key] = str(error) or type(error).__name__
    return _kept[key]


def digest(value):
    """A short text that differs when any number or name in plain data does."""
    if isinstance(value, dict):
        inside = [f"{key}:{digest(value[key])}" for key in sorted(value)]
    elif isinstance(value, (list, tuple)):
        inside = [digest(item) for item in value]
    else:
        inside = [value if isinstance(value, str) else np.asarray(value, float).tobytes().hex()]
    return hashlib.sha256(" ".join(inside).encode()).hexdigest()


def rigged(robot, pieces):
    """The Character of these pieces, or a text that says why there is none."""
    return once("rig", robot, pieces, lambda: assembly.assemble(robot, pieces))


def report(robot, pieces):
    """The audit's Report of the rig, by its default rules, or a text."""
    found = rigged(robot, pieces)
    return found if isinstance(found, str) else once("audit", robot, pieces, lambda: audit.examine(found))


def walked(robot, pieces, stride=0.85, period=1.0):
    """(Walk, measures) of the rig, or a text."""
    found = rigged(robot, pieces)
    make = lambda: assembly.walked(found, stride, period)
    return found if isinstance(found, str) else once("walk", robot, pieces, make, stride, period)


# ---- the worked builder -------------------------------------------------------------------------------------------


def build(model):
    """The pieces of a rig, from a robot's material."""
    joints = {name: loop_centre(loop) for name, loop in model["loops"].items()}
    arm = np.array([joints[f"left_{part}"] for part in ARM])
    leg = np.array([joints[f"left_{part}"] for part in LEG])
    frames = framed(model, arm, leg)
    markers = {"left_elbow_marker": limb.pole_point(*arm[:3], 0.3), "left_knee_marker": limb.pole_point(*leg[:3], 0.3)}
    outlines = outlined(model, joints, frames)
    across = np.array([-1.0, 1.0, 1.0])
    return {
        "joints": both(joints, lambda at: at * across),
        "frames": both(frames, lambda axes: matched(axes[None], np.array([1.0, 0.0, 0.0]))[0]),
        "markers": both(markers, lambda at: at * across),
        "pivots": both(pivots(model, joints), lambda at: at * across),
        "ranges": {"elbow": turning(arm, model["most_bend"]["elbow"]), "knee": turning(leg, model["most_bend"]["knee"])},
        "outlines": both(outlines, lambda points: points * across),
        "follows": dict(FOLLOWS),
    }


def both(left, other):
    """A dict of left things with the right ones added: names swapped, values by other(value)."""
    return {**left, **{swap_side(name, []): other(value) for name, value in left.items()}}


def framed(model, arm, leg):
    """Frames of arm and leg: the leg's hinge down to the knee, the foot's from the ankle on."""
    hinge = model["hinges"]
    found = [*joint_frames(arm, hinge["arm"]), *joint_frames(leg[:3], hinge["leg"])[:2], *joint_frames(leg[2:], hinge["foot"])]
    return {f"left_{part}": axes for part, axes in zip((*ARM, *LEG), found)}


def pivots(model, joints):
    """Where the left sole ends: heel, toe, inner and outer edge, in the world."""
    ankle, axes = joints["left_ankle"], model["soles"]["axes"]
    own = (model["soles"]["points"] - ankle) @ axes
    ball = ((joints["left_ball"] - ankle) @ axes)[2]
    found = {
        "left_heel": (0, own[:, 2].min()),
        "left_sole_toe": (0, own[:, 2].max()),
        "left_sole_inner": (own[:, 0].min(), ball),
        "left_sole_outer": (own[:, 0].max(), ball),
    }
    return {name: ankle + axes @ np.array([x, -ankle[1], z]) for name, (x, z) in found.items()}


def turning(points, most):
    """How far a middle joint turns from rest: back to straight, and on to its greatest bend."""
    rest = float(bend.angle(*points[:3]))
    return -rest, float(most) - rest


def outlined(model, joints, frames):
    """An outline round each shell, square to the bone."""
    height = model["figure"][1][1] - model["figure"][0][1]
    places = {name: name.replace("_control", "") for name in model["shells"]}
    return {name: outline(shell, joints[places[name]], frames[places[name]][:, 0], height) for name, shell in model["shells"].items()}


# ---- wrong pieces: what learners do -------------------------------------------------------------------------------


def changed(pieces, **what):
    """The pieces with some of them put in place of ours."""
    return {**pieces, **what}


def plain_means(model):
    """Joints at the mean of their loop's points."""
    return build({**model, "loops": {name: dense(loop) for name, loop in model["loops"].items()}})


def dense(loop):
    """A small loop round the plain mean of the points, so that its area centre is that mean."""
    mean, (u, v) = loop.mean(axis=0), np.linalg.svd(loop - loop.mean(axis=0))[2][:2]
    return mean + 0.001 * np.array([u, v, -u, -v])


def frames_copied(model):
    """The right side has the left side's frames."""
    right = build(model)
    frames = right["frames"]
    return changed(right, frames={name: frames[name.replace("right", "left")] for name in frames})


def degrees_given(model):
    """Ranges in degrees."""
    right = build(model)
    return changed(right, ranges={name: tuple(float(np.degrees(end)) for end in ends) for name, ends in right["ranges"].items()})


def range_from_straight(model):
    """Ranges counted from straight, not from rest."""
    return changed(build(model), ranges={name: (0.0, float(most)) for name, most in model["most_bend"].items()})


def markers_turned(model):
    """Right markers turned half round the vertical, in place of mirrored."""
    right = build(model)
    across, about = np.array([-1.0, 1.0, 1.0]), np.array([-1.0, 1.0, -1.0])
    turned = {name: at if name.startswith("left") else at * across * about for name, at in right["markers"].items()}
    return changed(right, markers=turned)


def outlines_small(model):
    """Outlines of a fixed radius of 2 cm."""
    right = build(model)
    places = {name: right["joints"][name.replace("_control", "")] for name in right["outlines"]}
    shrunk = {
        name: places[name] + 0.02 * (points - places[name]) / np.linalg.norm(points - places[name], axis=1)[:, None]
        for name, points in right["outlines"].items()
    }
    return changed(right, outlines=shrunk)


def heel_under_the_ankle(model):
    """Heel pivots on the floor straight under the ankles."""
    right = build(model)
    under = {f"{side}_heel": right["joints"][f"{side}_ankle"] * [1, 0, 1] for side in ("left", "right")}
    return changed(right, pivots={**right["pivots"], **under})


def hose_in_the_world(model):
    """The hose follows nobody."""
    right = build(model)
    return changed(right, follows={**right["follows"], "centre_hose_control": "world"})


def feet_on_the_body(model):
    """Feet that follow the body: fine in an audit, and they slide in a walk."""
    right = build(model)
    return changed(right, follows={**right["follows"], "left_foot_control": "centre_body_control"})


def elbow_of_mine(model):
    """The elbow of the printed robot, typed in as numbers."""
    loops = {**model["loops"], "left_elbow": model["loops"]["left_elbow"] * 0 + PRINTED_ELBOW + SMALL[: len(model["loops"]["left_elbow"])]}
    return build({**model, "loops": loops})


def scaled_by_height(model):
    """All joints of the printed robot's knee, scaled by the figure's height."""
    height = model["figure"][1][1] - model["figure"][0][1]
    knee = PRINTED_KNEE * height / 1.2
    loops = {**model["loops"], "left_knee": model["loops"]["left_knee"] * 0 + knee + SMALL[: len(model["loops"]["left_knee"])]}
    return build({**model, "loops": loops})


PRINTED_ELBOW, PRINTED_KNEE = np.array([0.237, 0.646, -0.006]), np.array([0.10, 0.32, 0.01])
SMALL = 0.001 * np.array([[np.cos(a), 0.0, np.sin(a)] for a in np.linspace(0, 2 * np.pi, 200, endpoint=False)])
