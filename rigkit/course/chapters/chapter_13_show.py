"""Chapter 13's drawings: a chain as the learner's function leaves it, over a faint copy of the expected one."""

import numpy as np

from rigkit.course.chapters.chapter_13_chains import WAYS, bends, keep_limit, lengths, reach_for
from rigkit.view.eye import Eye
from rigkit.words import millimetres


def drawn(viewer, points, expected, marks):
    """A chain over a faint one, and labelled lines; framed by the lines and the faint one, for a wrong chain may be anywhere."""
    points = np.clip(points, -5, 5)
    viewer.clear()
    viewer.see_through(True)
    viewer.look("perspective")
    if expected is not None:
        viewer.faint(expected)
    viewer.lines(marks)
    viewer.joints(points, [f"centre_{k:02}" for k in range(len(points))])
    seen = np.vstack([*marks.values(), *([] if expected is None else [expected])])
    low, high = seen.min(axis=0), seen.max(axis=0)
    viewer.focus((low + high) / 2, 1.6 * float(np.linalg.norm(high - low)))


def show_reach(viewer, shown, context):
    """13.1: the chain after its steps, over ours after as many, with its target."""
    points, target = (np.asarray(shown.case.inputs[name], float) for name in ("points", "target"))
    steps = shown.case.inputs["steps"]
    drawn(viewer, shown.value, reach_for(points, target, steps), {"target": target[None], "_as it came": points})
    viewer.caption(f"13.1, {shown.case.about}, steps: {steps}. Your chain over a faint copy of ours, by passes; a line: as it came.")
    tip, long = np.linalg.norm(shown.value[-1] - target), np.abs(lengths(shown.value) - lengths(points)).max()
    viewer.say(f"tip to target {millimetres(tip, 2)}; the worst link is off by {millimetres(long, 2)}")


def show_compare(viewer, answer, context):
    """13.2: the hose as each way leaves it after the step that the answer says."""
    known = context.given
    steps = [int(np.clip(k, 0, len(known["trails"][0]) - 1)) for k in answer.get("steps", [])]
    chosen = [(way, own[k]) for way, own, k in zip(WAYS, known["trails"], steps)]
    if not chosen:
        raise ValueError("There are no steps yet.")
    lines = {f"_{way}": points for way, points in chosen[1:]} | {way: points[6:7] for way, points in chosen[1:]}
    drawn(viewer, chosen[0][1], None, lines | {"target": known["target"][None]})
    root = known["hose"][0]
    viewer.see_from(Eye(root + np.array([0.45, 0.2, -0.7]), root + np.array([0, -0.08, -0.08]), 0.5))
    viewer.caption("13.2: the hose after your number of steps: joints by sweeps, lines by passes and by damped steps.")
    viewer.table(
        [
            (way, f"step {k}, tip {millimetres(np.linalg.norm(points[-1] - known['target']), 2)} away")
            for k, (way, points) in zip(steps, chosen)
        ]
    )


def show_limit(viewer, shown, context):
    """13.3: the chain with its limit kept, over ours, and the chain as it came."""
    points, limit = np.asarray(shown.case.inputs["points"], float), shown.case.inputs["limit"]
    drawn(viewer, shown.value, keep_limit(points, limit), {"_as it came": points})
    viewer.caption(
        f"13.3, {shown.case.about}, limit {np.degrees(limit):.0f} degrees. Your chain over a faint copy of ours; a line: as it came."
    )
    viewer.say(f"largest bend {np.degrees(bends(shown.value).max()):.2f} degrees; before {np.degrees(bends(points).max()):.2f}")
