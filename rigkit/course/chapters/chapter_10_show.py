"""Chapter 10's drawings: an arm that the learner's own function slows, stretches or thins, over a faint copy of the expected one."""

from types import SimpleNamespace

import numpy as np

from rigkit import limb as limbs
from rigkit.course.chapters.chapter_10_limbs import bones, rest

SOFT, LIMIT, LONGER = 0.04, 1.3, 1.5  # of the drawings


def drawn(viewer, points, solve, expected, caption):
    """The left arm with a target a little past its reach, which can be moved on."""
    viewer.clear()
    viewer.see_through(True)
    viewer.look("side")
    root, mid, end = points
    way = (end - root) / np.linalg.norm(end - root)
    reach = sum(bones(points))
    viewer.limb(root, mid, end, root + 1.02 * reach * way, mid + np.array([0, 0, -0.3]), solve, expected=expected)
    viewer.focus(root + 0.6 * reach * way, 2.6 * reach)
    viewer.caption(caption)


def solved(points, target, pole, held, stretch):
    """The limb with its end `held` metres from the root on the way to the target, its bones `stretch` times as long."""
    root = points[0]
    a, b = (stretch * length for length in bones(points))
    distance = float(np.linalg.norm(target - root))
    way = (target - root) / distance if distance > 1e-9 else np.array([0, -1.0, 0])
    held = float(np.clip(held, abs(a - b), 3.0))
    along = (a * a + held * held - b * b) / (2 * held) if held > 1e-9 else 0.0
    side = pole - root - ((pole - root) @ way) * way
    side = side / max(float(np.linalg.norm(side)), 1e-9)
    return SimpleNamespace(mid=root + along * way + np.sqrt(max(a * a - along * along, 0.0)) * side, end=root + held * way)


def show_soft(viewer, shown, context):
    """10.2: the arm, its hand held back by the learner's soft distance."""
    points = rest(context.robot)
    reach = sum(bones(points))

    def solve(root, mid, end, target, pole):
        distance = float(np.linalg.norm(target - root))
        held = shown(np.array([distance]), reach, SOFT)
        return solved((root, mid, end), target, pole, float(held[0]), 1.0)

    def expected(*five):
        return limbs.solve(*five, soft=SOFT)

    drawn(
        viewer,
        points,
        solve,
        expected,
        "10.2: the arm with your soft distance, over a faint copy with ours. Both have a soft zone of 40 mm.",
    )
    viewer.reach(points[0], reach, soft=SOFT)


def show_stretch(viewer, shown, context):
    """10.3: the arm as long as the learner's stretch makes it."""
    points = rest(context.robot)
    a, b = bones(points)

    def solve(root, mid, end, target, pole):
        distance = float(np.linalg.norm(target - root))
        stretch, upper, lower = shown(distance, a, b, LIMIT, 1.0)
        stretch = float(np.clip((upper + lower) / (a + b), 0.05, 5))
        return solved((root, mid, end), target, pole, min(distance, stretch * (a + b)), stretch)

    def expected(*five):
        return limbs.solve(*five, stretch_limit=LIMIT)

    drawn(
        viewer,
        points,
        solve,
        expected,
        "10.3: the arm with your stretch, over a faint copy of the expected one. It may grow to 1.3 times its length.",
    )


def show_girth(viewer, shown, context):
    """10.4: the tube of the left upper arm, half as long again, as the answer makes it, over the expected points, faint."""
    viewer.clear()
    viewer.see_through(True)
    viewer.look("side")
    root, mid, _ = rest(context.robot)
    along = (mid - root) / np.linalg.norm(mid - root)
    points = np.asarray(context.given["tube"], float)[::3]
    got = np.clip(shown(points, root, along, LONGER), -5, 5)
    length = np.outer((points - root) @ along, along)
    right = root + LONGER * length + (points - root - length) / np.sqrt(LONGER)
    viewer.faint(right, [-1] * len(right))
    viewer.joints(got, [f"left_point_{i:02}" for i in range(len(got))], [-1] * len(got))
    viewer.lines({"_bone": np.array([root, root + LONGER * (mid - root)])})
    viewer.focus(root + 0.75 * (mid - root), 0.5)
    viewer.caption(
        "10.4: the upper arm's tube, half as long again: a third of its points as your function puts them, over the expected ones, faint."
    )


def show_price(viewer, answer, context):
    """10.5: the arm with its target on the wrist and the answer's soft on, over the arm at rest."""
    points = rest(context.robot)
    reach = sum(bones(points))
    soft = float(np.clip(answer.get("soft", 0.0), 0.0, reach))
    viewer.clear()
    viewer.see_through(True)
    viewer.look("side")
    now = limbs.solve(*points, points[2], points[1] + np.array([0, 0, -0.3]), soft=soft)
    viewer.faint(points)
    viewer.joints(np.array([points[0], now.mid, now.end]), ["left_shoulder", "left_elbow", "left_wrist"])
    viewer.reach(points[0], reach, soft=soft)
    viewer.focus(points[1], 0.55)
    viewer.caption("10.5: the arm at home with your soft on, over a faint copy of the rest pose.")
    viewer.say(f"the wrist is {1000 * np.linalg.norm(now.end - points[2]):.2f} mm from its place")
