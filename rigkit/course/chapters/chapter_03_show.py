"""Chapter 03's drawings: what show() lays over the robot for each checkpoint."""

import numpy as np

from rigkit import rotation
from rigkit.course.chapters.chapter_03_turns import in_degrees, inverse, product, turned, unit
from rigkit.words import point as told_point
from rigkit.words import told_length

FAR = 3.0  # metres: nothing is drawn farther off


def fresh(viewer, point, width):
    """Put away what an earlier drawing left, and look at a point."""
    viewer.clear()
    viewer.see_through(True)
    viewer.look("perspective")
    viewer.focus(point, width)


def gap_of(a, b):
    """How far two points are apart, metres."""
    return float(np.linalg.norm(a - b))


def arc(place, pivot, axis, angle, steps=33):
    """The way of a point that turns, (steps, 3)."""
    return np.array([pivot + turned(place - pivot, axis, share * angle) for share in np.linspace(0, 1, steps)])


def near(place, centre):
    """A place, brought so near that it can be seen."""
    way = place - centre
    return centre + way * min(1.0, FAR / max(float(np.linalg.norm(way)), 1e-12))


def axes(place, columns, length=0.09):
    """Origin and the three tips of a frame, (4, 3)."""
    return np.array([place, *(place + length * column for column in np.clip(columns.T, -5, 5))])


def show_axis(viewer, shown, context):
    """03.1: the axis, the way the point should go, the learner's point over the faint right one."""
    place, pivot, axis, angle = (np.asarray(shown.case.inputs[name], float) for name in ("point", "pivot", "axis", "angle"))
    u, shift = unit(axis), context.robot.landmarks["left_elbow"] - pivot
    size = max(float(np.linalg.norm(place - pivot)), 0.05)
    shrink = min(1.0, 0.3 / size)  # what is far from the pivot is drawn smaller
    centre = pivot + shift

    def drawn(p):
        return centre + shrink * (p - pivot)

    right = pivot + turned(place - pivot, u, float(angle))
    fresh(viewer, centre, 1.1)
    viewer.lines(
        {
            "axis": np.array([centre - 0.2 * u, centre + 0.3 * u]),
            "_way": np.array([drawn(p) for p in arc(place, pivot, u, float(angle))]),
            "the point as given": np.array([centre, drawn(place)]),
        }
    )
    viewer.faint(np.array([centre, drawn(right)]))
    viewer.joints(np.array([centre, near(drawn(shown.value), centre)]), ["left_pivot", "left_your_point"])
    scale = "" if shrink == 1 else f", {1 / shrink:.1f} times smaller"
    viewer.caption(f"03.1, {shown.case.about}: your point over the faint right one, drawn at the left elbow{scale}.")
    viewer.say(f"asked for: {in_degrees(float(angle))}; your point is {told_length(gap_of(shown.value, right))} from the right one")


def show_order(viewer, shown, context):
    """03.2: the learner's two points over the faint right ones, about the left shoulder."""
    given = {name: np.asarray(value, float) for name, value in shown.case.inputs.items()}
    centre = np.asarray(context.robot.landmarks["left_shoulder"], float)
    shrink = 0.4 / max(float(np.linalg.norm(given["point"])), 0.05)
    once = turned(given["point"], given["first_axis"], float(given["first_angle"]))
    carried = turned(given["second_axis"], given["first_axis"], float(given["first_angle"]))
    right = [turned(once, carried, float(given["second_angle"])), turned(once, given["second_axis"], float(given["second_angle"]))]
    zero = np.zeros(3)
    ways = {
        "_first": arc(given["point"], zero, given["first_axis"], float(given["first_angle"])),
        "_moving": arc(once, zero, carried, float(given["second_angle"])),
        "_fixed": arc(once, zero, given["second_axis"], float(given["second_angle"])),
    }
    fresh(viewer, centre, 1.5)
    viewer.lines(
        {
            **{name: centre + shrink * way for name, way in ways.items()},
            "first axis": np.array([centre, centre + 0.3 * given["first_axis"]]),
            "second axis": np.array([centre, centre + 0.3 * given["second_axis"]]),
            "second axis, carried": np.array([centre, centre + 0.3 * carried]),
        }
    )
    viewer.faint(centre + shrink * np.array(right), [-1, -1])
    viewer.joints(np.array([near(centre + shrink * p, centre) for p in shown.value]), ["left_moving", "left_fixed"], [-1, -1])
    viewer.caption(f"03.2, {shown.case.about}: your two points over the faint right ones, drawn about the left shoulder.")
    viewer.say(
        "; ".join(f"{name} is {told_length(gap_of(got, p))} off" for name, got, p in zip(("moving", "fixed"), shown.value, right))
    )


def show_matrix(viewer, shown, context):
    """03.3: the columns of the learner's matrix as lettered axes, over the faint right ones."""
    place = np.asarray(context.robot.landmarks["left_elbow"], float) + [0.25, 0.1, 0.1]
    right = rotation.to_matrix(shown.case.inputs["q"])
    fresh(viewer, place, 0.9)
    viewer.faint(axes(place, right), [-1, 0, 0, 0])
    viewer.frames(place[None], np.clip(shown.value, -5, 5)[None])
    viewer.caption(f"03.3, {shown.case.about}: the three columns of your matrix as axes, over the faint right ones.")
    ways = [float(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b)) for a, b in zip(shown.value.T, right.T)]
    viewer.say("; ".join(f"column {letter} points {np.degrees(way):.1f} degrees off" for letter, way in zip("xyz", ways)))


def show_forearm(viewer, answer, context):
    """03.4: the first pose with the forearm's frame; the learner's lamp, knob and later sticker, over faint right ones."""
    r, o, lamp, knob, sticker = (
        np.asarray(context.given[name], float) for name in ("world_from_forearm", "elbow", "lamp", "knob", "sticker")
    )
    later, there = (np.asarray(context.given[name], float) for name in ("later_world_from_forearm", "later_elbow"))
    right = {"lamp_in_forearm": lamp, "knob_in_world": o + r @ knob, "sticker_later": there + later @ (r.T @ (sticker - o))}
    put = {"lamp_in_forearm": lambda p: o + r @ p, "knob_in_world": lambda p: p, "sticker_later": lambda p: p}
    placed = {name: put[name](answer[name]) for name in right if name in answer}
    fresh(viewer, (o + lamp) / 2, 1.5)
    viewer.pose(context.given["stance"])
    viewer.frames(np.array([o, there]), np.array([r, later]))
    viewer.faint(np.array([right[name] for name in placed]).reshape(-1, 3), [-1] * len(placed))
    viewer.joints(np.array([near(p, o) for p in placed.values()]).reshape(-1, 3), [f"left_{name}" for name in placed], [-1] * len(placed))
    viewer.caption(
        "03.4: the first pose, and the forearm's frame in both. Your points, the lamp's put back into the world, over the faint right ones."
    )
    viewer.say("; ".join(f"{name}: {told_length(gap_of(p, right[name]))} off, at {told_point(p)} m" for name, p in placed.items()))


def show_twist(viewer, shown, context):
    """03.6: the axis, and frames of q, of the learner's twist, and of the learner's swing * twist over the faint one of q."""
    q, axis = (np.asarray(shown.case.inputs[name], float) for name in ("q", "axis"))
    swing, twist = (part / max(float(np.linalg.norm(part)), 1e-9) for part in shown.value)
    if min(np.linalg.norm(part) for part in (swing, twist)) < 0.5:
        raise ValueError("swing or twist has length 0: it is no turn, so there is nothing to turn")
    base = np.asarray(context.robot.landmarks["left_elbow"], float)
    places = base + np.array([[0.2, 0.15, 0.2], [0.5, 0.15, 0.2]])
    both = product(swing, twist)
    fresh(viewer, places.mean(axis=0), 1.1)
    viewer.faint(np.concatenate([axes(places[1], rotation.to_matrix(q))]), [-1, 0, 0, 0])
    viewer.frames(places, np.array([rotation.to_matrix(part) for part in (twist, both)]))
    carried = rotation.rotate(q, axis)
    viewer.lines(
        {
            "axis": np.array([places[0], places[0] + 0.2 * axis]),
            "axis, as q carries it": np.array([places[1], places[1] + 0.2 * carried]),
        }
    )
    apart, left = float(rotation.angle(both, q)), float(rotation.angle(twist, [0, 0, 0, 1.0]))
    viewer.caption(f"03.6, {shown.case.about}: left, a frame turned by your twist; right, by your swing * twist, over the faint one of q.")
    viewer.say(
        f"swing * twist and q are {in_degrees(apart)} apart; your twist is a turn by {in_degrees(left)}, "
        f"your swing one by {in_degrees(float(rotation.angle(product(both, inverse(twist)), [0, 0, 0, 1.0])))}"
    )
