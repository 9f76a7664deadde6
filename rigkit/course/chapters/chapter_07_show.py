"""Chapter 07's drawings: what show() lays over the robot for each checkpoint. Everything is drawn at Tally's own feet."""

import numpy as np

from rigkit.course.chapters.chapter_07_sole import PARTS, Y, depth, foot_of, stood, turn_points
from rigkit.words import told_length

ORDER = ("swivel", "edges", "heel", "toe", "ball")


def fresh(viewer, one, look="perspective", width=0.42):
    """Put away what an earlier drawing left, and look at one foot."""
    viewer.clear()
    viewer.see_through(True)
    viewer.look(look)
    viewer.focus(one.world(np.array([0.0, 0.04, 0.04])), width)


def near(points):
    """Points that a picture can hold."""
    return np.clip(np.nan_to_num(points), -3, 3)


def rim(points):
    """The outline of a sole (N, 3) in its own frame as a closed way around it: by the angle about its middle, its hull."""
    return np.argsort(np.arctan2(*(points - points.mean(axis=0))[:, [0, 2]].T))[outermost(points)]


def outermost(points):
    """Of the points in order of their angle, those on the hull."""
    flat = points[:, [0, 2]]
    around = np.argsort(np.arctan2(*(flat - flat.mean(axis=0)).T))
    ways = np.array([[np.sin(t), np.cos(t)] for t in np.linspace(0, 2 * np.pi, 73)])
    hull = {int((flat @ way).argmax()) for way in ways}
    return np.array([k for k, index in enumerate(around) if int(index) in hull])


def ring(one, points):
    """A sole's outline (M, 3) in the world, closed. points: where the rest sole's points are now, in the own frame."""
    if len(points) != len(one.sole):
        return one.world(near(points))
    order = rim(one.sole)
    return one.world(near(points)[np.append(order, order[:1])])


def show_pivots(viewer, answer, context):
    """07.1: the pivots of the foot whose answer is there, over the faint right ones."""
    side = "right" if "right_pivots" in answer and "left_pivots" not in answer else "left"
    one = foot_of(context.robot, side)
    fresh(viewer, one)
    viewer.lines({"sole": ring(one, one.sole)})
    viewer.faint(one.world(np.array([one.pivots[name] for name in PARTS])), [-1] * 5)
    got = {name: point for name, point in answer[f"{side}_pivots"].items() if name in PARTS}
    if got:
        viewer.joints({name: one.world(near(point)) for name, point in got.items()}, parents=[-1] * len(got))
    viewer.caption(f"07.1: your pivots of the {side} foot over the faint expected ones, and the outline of its sole.")
    other = answer.get("right_pivots", {}) if side == "left" else {}
    told = {name: np.asarray(point) for name, point in other.items() if name in ("inner", "outer")}
    viewer.say("; ".join(f"right {name} at x = {told_length(point[0])}" for name, point in told.items()))


def show_order(viewer, answer, context):
    """07.2: sliders that turn the left sole in the answer's order."""
    one = foot_of(context.robot, "left")
    order = answer.get("order", ORDER)
    fresh(viewer, one)
    viewer.lines({"sole": ring(one, one.sole)})

    def move(degrees):
        roll, tilt, swivel = np.radians([degrees[name] for name in ("roll", "tilt", "swivel")])
        shares = min(roll, 0.0), min(max(roll, 0.0), np.pi / 6), max(roll - np.pi / 6, 0.0)
        now = stood(one, one.sole, one.behind, order, shares, tilt, swivel)
        viewer.lines({"_floor": ring(one, one.sole), "sole": ring(one, now)})
        viewer.table([("order", ", ".join(order)), ("under the floor", told_length(depth(now)))])

    viewer.sliders({"roll": (-30, 60), "tilt": (-30, 30), "swivel": (-45, 45)}, move)
    viewer.slide(tilt=20, swivel=30)
    viewer.caption("07.2: the left sole in your order, over its outline at rest.")


def show_roll(viewer, shown, context):
    """07.3: a slider rolls the left sole by the learner's own function, over the expected one."""
    one = foot_of(context.robot, "left")
    turn_over = float(shown.case.inputs["turn_over"])
    fresh(viewer, one, "side")

    def move(degrees):
        roll = np.radians(degrees["roll"])
        right = min(roll, 0.0), min(max(roll, 0.0), turn_over), max(roll - turn_over, 0.0)
        got = np.clip(shown(float(roll), turn_over), -6, 6)
        expected, now = (stood(one, one.sole, one.behind, ORDER, shares) for shares in (right, got))
        viewer.lines({"expected": ring(one, expected), "yours": ring(one, now)})
        names = ("heel", "ball", "toe")
        viewer.table(
            [
                *((f"your {name}", f"{np.degrees(angle) + 0.0:.1f} degrees") for name, angle in zip(names, got)),
                ("under the floor", told_length(depth(now))),
            ]
        )

    viewer.sliders({"roll": (-40, 80)}, move)
    viewer.slide(roll=float(np.clip(np.round(np.degrees(shown.case.inputs["roll"])), -40, 80)))
    viewer.caption(f"07.3: your shares roll the left sole. The turn-over angle is {np.degrees(turn_over):.1f} degrees.")


def show_tilt(viewer, shown, context):
    """07.4: the sole of the case as the answer has it, over the one at rest."""
    side = shown.case.inputs["side"]
    one = foot_of(context.robot, side)
    fresh(viewer, one, "front", 0.3)
    inner, outer = shown.case.inputs["inner"], shown.case.inputs["outer"]
    viewer.lines({"at rest": points_of(one, shown.case.inputs["points"]), "yours": points_of(one, shown.value)})
    viewer.joints({"inner": one.world(inner), "outer": one.world(outer)}, parents=[-1, -1])
    viewer.caption(f"07.4, {shown.case.about}: your sole over the one at rest, from the front.")
    viewer.say(f"under the floor: {told_length(min(depth(shown.value), 9.0))}" if len(shown.value) else "no points")


def points_of(one, points):
    """A sole in the world: its outline where it is the foot's own, else the way through its points."""
    return ring(one, points) if len(points) == len(one.sole) else one.world(near(np.asarray(points, float).reshape(-1, 3)[:60]))


def show_swivel(viewer, shown, context):
    """07.5: the sole of the case as the answer has it, over the one at rest, from above."""
    points, pivots, angles, side = (shown.case.inputs[name] for name in ("points", "pivots", "angles", "side"))
    one = foot_of(context.robot, side)
    fresh(viewer, one, "top")
    expected = points
    for pivot, angle in reversed(list(zip(pivots, angles))):
        expected = turn_points(expected, pivot, Y, one.out * angle)
    viewer.lines({"at rest": ring(one, points), "expected": ring(one, expected), "yours": points_of(one, shown.value)})
    viewer.joints({name: one.world(point) for name, point in zip(("ball", "heel", "toe"), pivots)}, parents=[-1] * 3)
    viewer.caption(f"07.5, {shown.case.about}: your sole and the expected one, from above.")


def show_contact(viewer, answer, context):
    """07.6: a slider goes through the frames of the step; the sole and the ankle as the answer has them."""
    one = foot_of(context.robot, "right")
    fresh(viewer, one, width=0.5)
    soles, ankles = answer.get("soles", np.zeros((0, 0, 3))), answer.get("ankles", np.zeros((0, 3)))
    count = max(len(soles), len(ankles))
    if not count:
        raise ValueError("There are no frames in it.")
    rest = one.world(one.sole)
    order = rim(one.sole)
    order = np.append(order, order[:1])

    def move(chosen):
        k = int(chosen["frame"])
        drawn = {"at rest": rest[order]}
        if k < len(soles) and len(soles[k]) == len(rest):
            drawn["yours"] = near(soles[k])[order]
        viewer.lines(drawn)
        if k < len(ankles):
            viewer.joints({"ankle": near(ankles[k])})
        steps = np.asarray(context.given["steps"], float)
        rows = list(zip(("roll", "tilt", "swivel"), (f"{value:.0f} degrees" for value in steps[k]))) if k < len(steps) else []
        low = float(soles[k][:, 1].min()) if k < len(soles) and soles[k].size else 0.0
        viewer.table([*rows, ("lowest point", f"{told_length(abs(low))} {'under the floor' if low < 0 else 'over it'}")])

    viewer.sliders({"frame": (0, max(count - 1, 1))}, move)
    viewer.caption("07.6: your step, frame by frame, over the right sole at rest. The slider counts frames.")
