"""Chapter 08's drawings: what show() lays over the robot for each checkpoint."""

import numpy as np

from rigkit import limb, mirror
from rigkit.course.chapters.chapter_04_vectors import unit
from rigkit.course.chapters.chapter_08_measures import NAMES, circle, joints, off_axis
from rigkit.words import millimetres

GREY = "#7C858C"
FARTHEST = 100.0  # metres: what is farther off is drawn there


def fresh(viewer, look="perspective"):
    """Put away what an earlier drawing left, and look at the whole robot."""
    viewer.clear()
    viewer.see_through(True)
    viewer.look(look)


def ring(points):
    """Points (N, 3) with the first one again at the end, none farther than FARTHEST."""
    points = np.clip(np.asarray(points, float).reshape(-1, 3), -FARTHEST, FARTHEST)
    return np.vstack([points, points[:1]]) if len(points) else np.zeros((1, 3))


def size_of(*sets):
    """How wide a picture must be to hold sets of points, metres."""
    points = np.concatenate([np.asarray(one, float).reshape(-1, 3) for one in sets])
    return 1.6 * max(
        float(np.linalg.norm(np.ptp(np.clip(points, -FARTHEST, FARTHEST), axis=0))),
        0.05,
    )


def frame_lines(at, axes, long, label):
    """A frame as three short lines; columns of no length are left out."""
    return {f"{label} {letter}": np.array([at, at + long * unit(axes[:, k])]) for k, letter in enumerate("xyz")}


def show_outline(viewer, shown, context):
    """08.2: the part of the case as crosses, the answer's outline, and one as large as the part asks, grey."""
    fresh(viewer)
    part, pivot, axis, height = (np.asarray(shown.case.inputs[name], float) for name in ("part", "pivot", "axis", "height"))
    right = circle(pivot, axis, max(1.1 * off_axis(part, pivot, axis).max(), float(height) / 40))
    viewer.faint(part[:: max(1, len(part) // 60)], [-1] * len(part[:: max(1, len(part) // 60)]))
    viewer.lines(
        {
            "yours": ring(shown.value),
            "_axis": np.array([pivot, pivot + 0.6 * np.ptp(right) * axis]),
            "fitted": ring(right),
        }
    )
    viewer.focus(pivot, size_of(part, right))
    viewer.caption(f"08.2, {shown.case.about}: your outline, a fitted one, and points of the part as faint rings.")
    viewer.say(f"the part reaches {millimetres(off_axis(part, pivot, axis).max())} from the axis")


def show_home(viewer, shown, context):
    """08.3: where the outline was, faint, and where the answer draws it; the answer's home frame."""
    from rigkit.course.chapters.chapter_08_control import drawn

    fresh(viewer)
    was, now = drawn(shown.case.inputs["control"]), drawn(shown.value)
    joint = np.asarray(shown.case.inputs["joint_at"], float)
    viewer.faint(was, [-1] * len(was))
    at = np.clip(shown.value["at"], -FARTHEST, FARTHEST)
    viewer.joints(joint[None], ["centre_given_joint"])
    viewer.lines({"yours": ring(now), **frame_lines(at, shown.value["axes"], 0.08, "home")})
    viewer.focus((joint + was.mean(axis=0)) / 2, size_of(was, now, joint, at))
    viewer.caption(f"08.3, {shown.case.about}: your outline over faint points where it was, your home frame, and the joint.")
    viewer.say(f"your home stands {millimetres(np.linalg.norm(at - joint))} from the joint")


def show_other(viewer, shown, context):
    """08.4: the control as given, the answer, and faint points where the mirror image is."""
    from rigkit.course.chapters.chapter_08_control import drawn

    fresh(viewer)
    given, plane = (
        shown.case.inputs["control"],
        mirror.Plane(shown.case.inputs["point"], shown.case.inputs["normal"]),
    )
    was, now = drawn(given), drawn(shown.value)
    right = mirror.points(was, plane)
    viewer.faint(right, [-1] * len(right))
    at = np.clip(shown.value["at"], -FARTHEST, FARTHEST)
    viewer.lines(
        {
            given["name"]: ring(was),
            "yours": ring(now),
            **frame_lines(at, shown.value["axes"], 0.08, "home"),
        }
    )
    viewer.focus((was.mean(axis=0) + right.mean(axis=0)) / 2, size_of(was, right, now))
    viewer.caption(f"08.4, {shown.case.about}: the control as it came, yours over faint points of its mirror image.")
    viewer.say(f"your name is {shown.value['name'][:60]}")


def show_markers(viewer, answer, context):
    """08.5: the answer's markers, and faint ones that are right; a line from each to its joint."""
    fresh(viewer)
    right = {name: limb.pole_point(*joints(context, name), distance=0.30) for name in NAMES}
    viewer.faint(np.array(list(right.values())), [-1] * len(right))
    got = {name: np.clip(at, -5, 5) for name, at in answer["markers"].items() if name in NAMES}
    if not got:
        raise ValueError(f"markers holds none of {', '.join(NAMES)}")
    viewer.joints(got, parents=[-1] * len(got))
    viewer.lines({f"_{name}": np.array([joints(context, name)[1], at]) for name, at in got.items()})
    viewer.whole()
    viewer.caption("08.5: your markers, each with a line to its joint, over faint ones that are right.")
    off = [float(np.linalg.norm(at - joints(context, name)[1])) for name, at in got.items()]
    viewer.say(f"from {min(off):.2f} to {max(off):.2f} m from their joints")
