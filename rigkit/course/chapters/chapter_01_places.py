"""Where the nine joints of the left arm and leg belong, and how a misplaced one is told: the way to go, and what the place proves.

What folds (a sleeve, a collar) folds at its narrowest loop. What turns in a
seat (a drum, a plate) turns in its widest. A chain ends at the last loop of the
part that ends it.
"""

import numpy as np

from rigkit.course.chapters.chapter_01_fold import vector_area
from rigkit.course.chapters.chapter_01_loops import loop_centre
from rigkit.words import millimetres

FREE, SNAPPED = 5e-3, 1e-4  # metres: placed by eye, and on the loop's centre
PLACES = {  # joint: (part, which of its loops)
    "left_shoulder": ("left_shoulder_drum", "widest"),
    "left_elbow": ("left_elbow_sleeve", "narrowest"),
    "left_wrist": ("left_wrist_collar", "narrowest"),
    "left_gripper": ("left_gripper_plate", "widest"),
    "left_hip": ("left_hip_drum", "widest"),
    "left_knee": ("left_knee_sleeve", "narrowest"),
    "left_ankle": ("left_ankle_collar", "narrowest"),
    "left_ball": ("left_ball_sleeve", "narrowest"),
    "left_toe_end": ("left_toe_cap", "last"),
}
ARM, LEG = tuple(PLACES)[:4], tuple(PLACES)[4:]
WAYS = (("outwards", "inwards"), ("up", "down"), ("forwards", "backwards"))  # +x and -x of the left side, +-y, +-z


ON_THE_FLOOR = {
    "left_ankle": "the ankle is on the floor; it lies in the collar above the foot",
    "left_ball": "the ball is on the floor: that is the sole; the fold's centre is above it",
}


def floor(context):
    """The height of the floor: the lowest point of the robot, metres."""
    return min(float(part.mesh.vertices[:, 1].min()) for part in context.robot.parts)


def words(joint):
    """'left_toe_end' as 'toe end'."""
    return joint.removeprefix("left_").replace("_", " ")


def pick(loops, which):
    """The narrowest, the widest or the last of some loops (N, 3)."""
    if which == "last":
        return loops[-1]
    choose = np.argmin if which == "narrowest" else np.argmax
    return loops[int(choose([vector_area(loop) for loop in loops]))]


def told(joint, chain, got, context):
    """How far off a joint is, and the way to go: along the bone towards a named joint, then up, forwards and so on."""
    way = context.robot.landmarks[joint] - got
    gap = float(np.linalg.norm(way))
    if gap > 1.0:
        return f"{gap:.1f} m off"
    steps = []
    bones = {other: context.robot.landmarks[other] - context.robot.landmarks[joint] for other in neighbours(joint, chain)}
    shares = {other: float(way @ bone) / float(np.linalg.norm(bone)) for other, bone in bones.items()}
    other = max(shares, key=shares.get)
    if shares[other] >= 1e-3:
        steps.append(f"{millimetres(shares[other])} towards the {words(other)}")
        way = way - shares[other] * bones[other] / np.linalg.norm(bones[other])
    for axis in np.argsort(-np.abs(way)):
        if abs(way[axis]) >= max(1e-3, 0.25 * gap) and len(steps) < 3:
            steps.append(f"{millimetres(abs(way[axis]))} {WAYS[axis][int(way[axis] < 0)]}")
    return f"{millimetres(gap)} off" + (f": go {', '.join(steps)}" if steps else "")


def neighbours(joint, chain):
    """The joints before and after this one."""
    i = chain.index(joint)
    return chain[max(i - 1, 0) : i] + chain[i + 1 : i + 2]


def cause(joint, chain, got, context):
    """What the place itself proves about how it came about, or ""."""
    marks = context.robot.landmarks
    right = marks[joint]
    off = np.abs(got - right)
    if np.linalg.norm(got * 0.01 - right) < FREE:
        return "this is in centimetres: the robot is handed out in metres"
    if np.linalg.norm(got * [-1, 1, 1] - right) < FREE:
        return "this is on the right-hand limb; the robot's left is at +x"
    other = next((name for name in chain if name != joint and np.linalg.norm(got - marks[name]) < FREE), None)
    if other:
        return f"this is where the {words(other)} is"
    part, which = PLACES[joint]
    loops = context.given["loops"][part]
    if joint in ON_THE_FLOOR and abs(got[1] - floor(context)) < FREE:
        return ON_THE_FLOOR[joint]
    if which == "widest" and np.linalg.norm(got - loop_centre(pick(loops, "narrowest"))) < SNAPPED:
        return f"this is its narrowest loop; a {part.split('_')[-1]} turns in its seat, at its widest"
    if min(np.linalg.norm(loop - got, axis=1).min() for loop in loops) < 2e-3:
        return "this is on the surface, off by the radius; a pivot lies inside, at the loop's centre"
    if which == "narrowest":
        found = nearest_loop(got, loops)
        if found:
            return f"this is at {found}; the fold is the narrower loop"
    if (off < 1e-3).sum() == 2 and off.argmax() != 1:
        return f"two coordinates are right, {'xyz'[int(off.argmax())]} is not: a view that does not show it was the only one used"
    return ""


def nearest_loop(got, loops):
    """What the loop is that a point inside a sleeve lies in, in words; "" when it is the fold, or when the point is not inside."""
    spots = np.array([loop_centre(loop) for loop in loops])
    widths = np.sqrt([vector_area(loop) for loop in loops])
    k, fold = int(np.linalg.norm(spots - got, axis=1).argmin()), int(np.argmin(widths))
    wider = widths[k] / widths[fold] - 1
    if k == fold or wider < 0.01 or np.linalg.norm(spots[k] - got) > 0.4 * widths[k]:
        return ""
    return f"{'a rib' if wider > 0.25 else 'another valley'}, {100 * wider:.0f} % more across"
