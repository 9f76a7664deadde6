"""Chapter 04's drawings: what show() lays over the robot for each checkpoint."""

import numpy as np

from rigkit import bend as bends
from rigkit.course.chapters.chapter_04_vectors import (
    bend_angle,
    bend_normal,
    in_degrees,
    unit,
)
from rigkit.words import millimetres


def fresh(viewer, look="perspective"):
    """Put away what an earlier drawing left, and look at the whole robot."""
    viewer.clear()
    viewer.see_through(True)
    viewer.look(look)


def size_of(points):
    """How far a chain spreads, metres; never nothing."""
    return max(float(np.linalg.norm(np.ptp(points, axis=0))), 1e-3)


def show_bend(viewer, shown, context):
    """04.1: the limb of the case, the answer's normal at its mid joint, the right one faint."""
    fresh(viewer)
    a, b, c = (np.asarray(shown.case.inputs[name], float) for name in ("a", "b", "c"))
    angle, normal = shown.value
    long = 0.35 * size_of(np.array([a, b, c]))
    viewer.joints(np.array([a, b, c]), ["a", "b", "c"])
    viewer.faint(np.array([b, b + long * bend_normal(a, b, c)]), [-1, 0])
    viewer.lines({"normal": np.array([b, b + long * np.clip(normal, -3, 3)])})
    viewer.focus(b, 4.5 * long)
    viewer.caption(f"04.1, {shown.case.about}: your normal over a faint copy of the expected one.")
    viewer.say(f"your bend angle {in_degrees(angle)}; expected {in_degrees(bend_angle(a, b, c))}")


def show_practice(viewer, answer, context):
    """04.2: the practice limb with the answer's joints, the straight ones faint."""
    fresh(viewer, "side")
    straight = np.asarray(context.given["practice"], float)
    viewer.faint(straight)
    told = "no pre_bent yet"
    if "pre_bent" in answer:
        got = np.clip(answer["pre_bent"], -5, 5)
        viewer.joints(got, ["practice_shoulder", "practice_elbow", "practice_wrist"])
        told = f"bend angle {in_degrees(bend_angle(*got))}; the elbow moved by {millimetres(np.linalg.norm(got[1] - straight[1]))}"
    viewer.focus(straight[1], 0.5)
    viewer.caption("04.2: your practice limb from its left, over the faint straight one; its front is on the left of the picture.")
    viewer.say(told)


def show_flat(viewer, shown, context):
    """04.3: the answer's chain over a faint copy of the flat one; the wobbly one as a line."""
    fresh(viewer)
    points, answer = np.asarray(shown.case.inputs["points"], float), shown.value
    try:
        flat = bends.flatten(points)
    except ValueError:
        flat = points
    viewer.faint(flat)
    viewer.lines({"yours": np.clip(answer, -100, 100), "as it came": points, "_line": points[[0, -1]]})
    viewer.focus(points.mean(axis=0), 1.8 * size_of(points))
    viewer.caption(f"04.3, {shown.case.about}: your chain over a faint copy of the flat one.")
    if len(answer) == len(flat):
        viewer.say(f"your joints are off by up to {millimetres(np.linalg.norm(answer - flat, axis=1).max(), 3)}")


def show_frames(viewer, shown, context):
    """04.4: the answer's frames along the chain of the case; the expected z axes as lines."""
    fresh(viewer)
    points, hinge = np.asarray(shown.case.inputs["points"], float), np.asarray(shown.case.inputs["hinge"], float)
    viewer.faint(points)
    if len(shown.value) == len(points):
        viewer.frames(points, np.array([turn_near(frame) for frame in shown.value]))
    bones = np.diff(points, axis=0)
    viewer.lines(
        {f"_{k}": np.array([p, p + 0.12 * hinge_on(bone, hinge)]) for k, (p, bone) in enumerate(zip(points, bones))}, colour="#7C858C"
    )
    viewer.focus(points.mean(axis=0), 1.6 * size_of(points) + 0.2)
    viewer.caption(f"04.4, {shown.case.about}: your frames. Grey, where each z axis is expected.")


def hinge_on(bone, hinge):
    """The hinge less its part along the bone, at length 1."""
    x = unit(bone)
    return unit(hinge - (hinge @ x) * x)


def turn_near(frame):
    """The columns of a frame at length 1, for drawing; the world's where there are none."""
    return np.column_stack([unit(column) if np.linalg.norm(column) > 1e-9 else axis for column, axis in zip(frame.T, np.eye(3))])


def show_leg(viewer, answer, context):
    """04.5: the leg's frames on Tally, with the hinge; the straight leg and the bent one beside it."""
    fresh(viewer)
    points = np.array([context.robot.landmarks[f"left_{name}"] for name in ("hip", "knee", "ankle")])
    straight = np.asarray(context.given["straight_leg"], float)
    lines = {}
    if "leg_frames" in answer:
        viewer.frames(points, np.array([turn_near(frame) for frame in answer["leg_frames"]]))
    if "knee_hinge" in answer:
        lines["knee_hinge"] = np.array([points[1], points[1] + 0.16 * unit(answer["knee_hinge"])])
    viewer.faint(straight)
    told = "no bent_leg yet"
    if "bent_leg" in answer:
        got = np.clip(answer["bent_leg"], -5, 5)
        viewer.joints(got, ["hip", "knee", "ankle"])
        told = f"bent_leg: {in_degrees(bend_angle(*got))}"
    viewer.lines({**lines, "straight leg": straight})
    viewer.focus((points[1] + straight[1]) / 2, 1.6)
    viewer.caption("04.5: your frames and your hinge on Tally's leg; beside it your bent leg over the faint straight one.")
    viewer.say(told)


def show_touch(viewer, answer, context):
    """04.6: the arm bent to the answer's touch, the shells tinted where they overlap; the slider goes on from there."""
    fresh(viewer, "side")
    robot, limb = context.robot, "arm" if "arm_touch" in answer or "leg_touch" not in answer else "leg"
    names = {"arm": ("shoulder", "elbow", "wrist", "upper_arm", "forearm"), "leg": ("hip", "knee", "ankle", "thigh", "shin")}[limb]
    a, b, c = (np.asarray(robot.landmarks[f"left_{name}"]) for name in names[:3])
    viewer.bend_at(b, robot.hinges[f"left_{names[1]}"], f"left_{names[3]}_tube", f"left_{names[4]}_tube", f"left_{names[1]}_sleeve")
    turn = answer.get(f"{limb}_touch", 0.0) - float(np.degrees(bend_angle(a, b, c)))
    viewer.bend(float(np.clip(turn, 0, 120)))
    viewer.focus(b, 0.7)
    viewer.caption(f"04.6: the {limb} at your {limb}_touch, {turn:.0f} degrees from rest. Move the slider on from here.")
