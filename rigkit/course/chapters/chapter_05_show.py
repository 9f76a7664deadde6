"""Chapter 05's drawings: an answer over a faint copy of what is expected."""

import numpy as np

from rigkit.course.chapters.chapter_04_frames import joint_frames
from rigkit.course.chapters.chapter_05_planes import YZ, reflection, unit
from rigkit.words import told_length


def fresh(viewer, look="perspective"):
    """An empty stage: the scene of another cell may have left a panel, a pose and marks."""
    viewer.clear()
    viewer.see_through(True)
    viewer.look(look)


def spread(points):
    """How far points spread, metres; never nothing."""
    return max(float(np.linalg.norm(np.ptp(points, axis=0))), 0.2)


def drawn(frame):
    """The columns of a frame at length 1, for drawing; the world's where there are none."""
    return np.column_stack([unit(column) if np.linalg.norm(column) > 1e-9 else axis for column, axis in zip(frame.T, np.eye(3))])


def sheet(point, normal, size):
    """Lines of a square piece of a plane, as curves."""
    n = unit(np.asarray(normal, float))
    u = unit(np.cross(n, np.eye(3)[np.argmin(np.abs(n))]))
    v = np.cross(n, u)
    ends = [point + size * (a * u + b * v) for a, b in ((1, 1), (1, -1), (-1, -1), (-1, 1), (1, 1))]
    return {"plane": np.array(ends), "_normal": np.array([point, point + 0.3 * size * n])}


def show_mirror(viewer, shown, context):
    """05.1: the answer's points and frames over the faint images; the points as they were, and a piece of the plane, as lines."""
    fresh(viewer)
    points, q, n = (np.asarray(shown.case.inputs[name], float) for name in ("points", "plane_point", "plane_normal"))
    got, turns = shown.value
    right = q + (points - q) @ reflection(n)
    middle = (points + right).mean(axis=0) / 2
    size = spread(np.concatenate([points, right]))
    viewer.faint(right, [-1] * len(right))
    foot = middle - ((middle - q) @ unit(n)) * unit(n)
    viewer.lines({**sheet(foot, n, 0.4 * size), **{f"_{k}": np.array(pair) for k, pair in enumerate(zip(points, right))}})
    if len(got):
        got = np.clip(got, -100, 100)
        viewer.joints(got, [f"image {k}" for k in range(len(got))], [-1] * len(got))
        if len(turns) == len(got):
            viewer.frames(got, np.array([drawn(frame) for frame in turns]))
    viewer.focus(middle, 1.8 * size)
    viewer.caption(f"05.1, {shown.case.about}: your images and their frames; rings where the images belong, lines from point to image.")
    if len(got) == len(right):
        viewer.say(f"your points are up to {told_length(float(np.linalg.norm(got - right, axis=1).max()))} off")


def show_matched(viewer, shown, context):
    """05.2: the first frame of the case beside the plane, the answer's frame where its image belongs; the matched axes as grey lines."""
    fresh(viewer)
    frames, n = (np.asarray(shown.case.inputs[name], float) for name in ("frames", "normal"))
    middle = np.array([0.0, 0.7, 0.5])
    here = middle + 0.15 * n
    there = middle - 0.15 * n
    right = -reflection(n) @ frames[0]
    viewer.lines({f"_{k}": np.array([there, there + 0.13 * axis]) for k, axis in enumerate(right.T)}, colour="#7C858C")
    if len(shown.value):
        viewer.frames(np.array([here, there]), np.array([frames[0], drawn(shown.value[0])]))
    viewer.focus(middle, 0.8)
    viewer.caption(f"05.2, {shown.case.about}: the first frame, and yours on the other side. Grey, where its axes are expected.")
    viewer.say("grey lines and letters have to lie on each other")


def show_plane(viewer, answer, context):
    """05.6: the answer's joints over the faint feet on the plane; the model stands at the origin, the joints where they were handed out."""
    fresh(viewer)
    q, n = np.asarray(context.given["plane_point"], float), np.asarray(context.given["plane_normal"], float)
    start = {name: np.asarray(p, float) for name, p in context.given["placed"].items()}
    right = {name: p - ((p - q) @ n) * n if name.startswith("centre_") else p for name, p in start.items()}
    viewer.faint(np.array(list(right.values())), [-1] * len(right))
    told = "no on_plane yet"
    if got := {name: p for name, p in answer.get("on_plane", {}).items() if name in right}:
        names = list(got)
        viewer.joints(np.clip(list(got.values()), -5, 5), names, [-1] * len(names))
        worst = max(got, key=lambda name: np.linalg.norm(got[name] - right[name]))
        told = f"{worst} is farthest from where it belongs: {told_length(float(np.linalg.norm(got[worst] - right[worst])))}"
    middle = np.mean(list(right.values()), axis=0)
    viewer.lines(sheet(middle - ((middle - q) @ n) * n, n, 0.3))
    viewer.focus(middle * [0.5, 1, 0.5], 2.2)
    viewer.caption("05.6: your joints; rings where they belong, and a piece of the plane. Millimetres are small here: read the line below.")
    viewer.say(told)


def show_side(viewer, answer, context):
    """05.7: the model in the answer's flipped pose if there is one, the right joints and their frames over the faint ones at rest."""
    fresh(viewer, "front")
    right = {name: p for name, p in context.robot.landmarks.items() if name in RIGHT}
    viewer.faint(np.array([right[name] for name in RIGHT]), PARENTS)
    told = "no right_joints yet"
    if got := {name: p for name, p in answer.get("right_joints", {}).items() if name in right}:
        viewer.joints(np.clip(list(got.values()), -5, 5), list(got), [-1] * len(got))
        told = f"your joints are up to {told_length(max(float(np.linalg.norm(got[name] - right[name])) for name in got))} off"
        frames = {name: f for name, f in answer.get("right_frames", {}).items() if name in got}
        if frames:
            viewer.frames(np.array([np.clip(got[name], -5, 5) for name in frames]), np.array([drawn(f) for f in frames.values()]))
    grey = {
        f"_{name}{k}": np.array([right[name], right[name] + 0.13 * way])
        for name, f in matched_frames(context).items()
        for k, way in enumerate(f.T)
    }
    viewer.lines(grey, colour="#7C858C")
    viewer.focus([np.mean([p[0] for p in right.values()]), 0.48, 0], 1.5)
    viewer.caption("05.7: your right joints and frames. Rings, where the joints belong; grey, where the axes belong.")
    viewer.say(told)


def matched_frames(context):
    """The frames that 05.7 expects, right name to (3, 3)."""
    found, robot = {}, context.robot
    for names, hinge in ((RIGHT[:4], "left_elbow"), (RIGHT[4:], "left_knee")):
        points = np.array([robot.landmarks[name.replace("right", "left")] for name in names])
        found |= dict(zip(names, -YZ @ joint_frames(points, robot.hinges[hinge])))
    return found


RIGHT = [f"right_{name}" for name in ("shoulder", "elbow", "wrist", "gripper", "hip", "knee", "ankle", "ball", "toe_end")]
PARENTS = [-1, 0, 1, 2, -1, 4, 5, 6, 7]
