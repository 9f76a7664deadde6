"""What chapter 12 draws: findings in place, accused names, another robot's joints, the way of the ankles."""

import numpy as np

from rigkit.course.chapters.chapter_12_faults import LETTERS, MEASURES, case_of
from rigkit.course.chapters.chapter_12_pieces import report, rigged, walked
from rigkit.robot import tally
from rigkit.words import millimetres


def clean(viewer, look, see_through=True):
    """An empty scene, seen from one side, the whole figure in view."""
    viewer.clear()
    viewer.see_through(see_through)
    viewer.look(look)
    viewer.whole()


def show_pieces(viewer, answer, context):
    """What the audit finds on the learner's rig, in place, over its joints."""
    found = report(context.robot, answer["pieces"])
    if isinstance(found, str):
        raise ValueError(f"No rig can be made of the pieces: {found}")  # noqa: TRY004 (the notebook tells it)
    clean(viewer, "perspective", see_through=False)
    viewer.findings(found)
    viewer.caption(f"12.1: {len(found.findings)} findings on your rig. Choose one from the list, and the eye turns there.")


def show_other(viewer, shown, context):
    """The other robot's joints, faint, and those that the answer gave for it; the model is one's own robot."""
    number = int(shown.case.about.split()[-1])
    joints, right = shown.value["joints"], tally(number).landmarks
    clean(viewer, "front")
    viewer.faint(np.array([right[name] for name in joints]), [-1] * len(joints))
    viewer.joints(np.array(list(joints.values())), None, [-1] * len(joints))
    off = max(float(np.linalg.norm(at - right[name])) for name, at in joints.items())
    viewer.table([("robot", shown.case.about), ("your farthest joint", f"{millimetres(off, 2)} off its fold")])
    viewer.caption(f"12.5: your joints for {shown.case.about}, over its true ones, faint. The model is your own robot, for comparison.")


def show_hunt(viewer, answer, context):
    """Whom the learner accuses, each in place, with what was measured there."""
    sheet, _, truth = case_of(context.robot, context.variant)
    clean(viewer, "perspective")
    rows, marks = [], {}
    for letter in LETTERS:
        name = answer.get("culprits", {}).get(letter, "")
        place = place_of(context.robot, sheet, name)
        if place is None:
            rows.append((letter, f"{name[:40]!r} is not on the sheet"))
            continue
        marks[letter] = place
        try:
            rows.append((f"{letter}  {name}", f"{MEASURES[truth[letter][0]](sheet, name):.4g}"))
        except (KeyError, ValueError, IndexError):
            rows.append((f"{letter}  {name}", "nothing of the kind that this complaint is about"))
    if marks:
        viewer.joints(np.array(list(marks.values())), None, [-1] * len(marks))
        viewer.lines({letter: np.array([place, place + [0.0, 0.03, 0.0]]) for letter, place in marks.items()})
    viewer.table(rows)
    viewer.caption("12.2: whom you accuse, and what is measured there by the complaint's own rule.")


def place_of(robot, sheet, name):
    """Where a name of the sheet is, or None."""
    for group in ("joints", "controls", "markers"):
        if name in sheet[group]:
            return np.asarray(sheet[group][name]["at"], float)
    return robot.part(name).mesh.vertices.mean(axis=0) if name in sheet["weights"] else None


def show_walk(viewer, answer, context):
    """The ways of the ankles over one cycle, and the test's numbers."""
    if not {"pieces", "stride", "period"} <= set(answer):
        raise ValueError("The walk needs pieces, stride and period.")
    if not (0 < answer["stride"] < 10 and 0.05 < answer["period"] < 60):
        raise ValueError("Stride and period have to be above 0, the stride in heights of the hip.")
    found = walked(context.robot, answer["pieces"], answer["stride"], answer["period"])
    if isinstance(found, str):
        raise ValueError(f"There is no such walk: {found}")  # noqa: TRY004 (the notebook tells it)
    walk, measures = found
    clean(viewer, "side")
    rig = rigged(context.robot, answer["pieces"]).rig
    pose = rig.pose(walk.motion.sample(np.linspace(0, walk.motion.period, 49)))
    names = ("left_ankle_joint", "right_ankle_joint")
    viewer.trails({name: pose.positions[:, rig.skeleton.index(name)] for name in names}, every=4)
    viewer.table([(one.rule, f"{one.value / one.limit:.2f} of its limit{'' if one.good else ', too much'}") for one in measures])
    viewer.caption("12.4: the way of both ankles in one cycle; a dot each twelfth of it. The table tells how much of each limit is used.")


def show_file(viewer, answer, context):
    """The two sleeves, and what others see of them."""
    from rigkit.course.chapters.chapter_12_file import written

    if not {"pieces", "blends"} <= set(answer):
        raise ValueError("The file needs pieces and blends.")
    found = written(context.robot, answer["pieces"], answer["blends"])
    if isinstance(found, str):
        raise ValueError(f"No file can be written: {found}")  # noqa: TRY004 (the notebook tells it)
    notes, off, name = found
    clean(viewer, "front", see_through=False)
    viewer.focus(name, 0.5)
    viewer.table([("notes of the reader", str(len(notes))), ("farthest vertex, for a stranger", f"{millimetres(off, 2)}, on {name}")])
    viewer.caption("12.6: your sleeves. The table says how far others see a vertex from where you see it, with the elbows bent.")
