"""Where Tally's joints are: from the table of dimensions to points, hinge axes and places, for the left side and the centre.

A limb is laid out from its line: root to end, a direction and a length that
follows from two bones and the bend between them. The middle joint stands off the
line, behind it for an elbow, in front of it for a knee; the hinge is square to
both bones. Everything on the right is the mirror image and is made later.
"""

from math import cos, radians, sin, sqrt
from typing import NamedTuple

import numpy as np

from rigkit.robot.shapes import Place, place, unit

X, Y, Z = np.eye(3)
HOSE_RIBS = 12
HOSE_STEPS = 3  # rings a rib
FINGERS = (("01", 0.0), ("02", 130.0), ("03", -130.0))  # name, degrees around the hand from straight ahead


class Layout(NamedTuple):
    """points, hinges: name to (3,), for the left side and the centre, without the word left. places: name to Place."""

    points: dict
    hinges: dict
    places: dict


def layout(m):
    """Return the layout for the measures `m`, a mapping of the table's names to numbers (metres, degrees, ribs)."""
    points, hinges, places = {}, {}, {}
    for section in (_leg, _body, _arm, _hand, _foot, _head, _hose):
        section(m, points, hinges, places)
    return Layout(points, hinges, places)


def limb(root, line, first, second, bend, off):
    """Return middle joint, end joint and hinge of a limb that leaves `root` along `line`, (3,) each.

    first, second: lengths of the bones. bend: radians, 0 is straight. off: the side on
    which the middle joint leaves the line, made square to it. A positive turn about the hinge bends further.
    """
    line = unit(line)
    reach = sqrt(first**2 + second**2 + 2 * first * second * cos(bend))
    along = (first**2 + reach**2 - second**2) / (2 * reach)
    aside = unit(np.asarray(off) - (np.asarray(off) @ line) * line)
    mid = root + along * line + sqrt(first**2 - along**2) * aside
    end = root + reach * line
    return mid, end, unit(np.cross(mid - root, end - mid))


def _leg(m, points, hinges, places):
    line = _down(m["leg_out"], -m["leg_back"])
    bend = radians(m["knee_bend"])
    hip = np.array([m["hip_width"] / 2, 0.0, 0.0])
    _, ankle, _ = limb(hip, line, m["thigh"], m["shin"], bend, Z)
    hip[1] = m["ankle_height"] - ankle[1]
    knee, ankle, hinge = limb(hip, line, m["thigh"], m["shin"], bend, Z)
    ankle[1] = m["ankle_height"]
    points |= {"hip": hip, "knee": knee, "ankle": ankle}
    hinges |= {"hip": hinge, "knee": hinge}
    places |= {"thigh": place(hip, knee - hip, hinge), "shin": place(knee, ankle - knee, hinge)}
    places["knee"] = place(knee, unit(knee - hip) + unit(ankle - knee), hinge)


def _body(m, points, hinges, places):
    bottom = points["hip"][1] + m["body_over_hip"]
    points["body"] = np.array([0.0, bottom + 0.5 * m["body_height"], 0.0])
    places["body"] = Place(np.array([0.0, bottom, 0.0]), X, -Z, Y)


def _arm(m, points, hinges, places):
    height = places["body"].origin[1] + m["shoulder_height"] * m["body_height"]
    shoulder = np.array([m["shoulder_width"] / 2, height, 0.0])
    elbow, wrist, hinge = limb(
        shoulder, _down(m["arm_out"], m["arm_forward"]), m["upper_arm"], m["forearm"], radians(m["elbow_bend"]), -Z
    )
    points |= {"shoulder": shoulder, "elbow": elbow, "wrist": wrist}
    hinges |= {"shoulder": hinge, "elbow": hinge, "wrist": hinge}
    places |= {"upper_arm": place(shoulder, elbow - shoulder, hinge), "forearm": place(elbow, wrist - elbow, hinge)}
    places["elbow"] = place(elbow, unit(elbow - shoulder) + unit(wrist - elbow), hinge)


def _hand(m, points, hinges, places):
    wrist = places["forearm"]._replace(origin=points["wrist"])
    hand = wrist.moved(s=m["hand"])
    places |= {"wrist": wrist, "hand": hand}
    points["gripper"] = hand.origin
    hinges["gripper"] = hand.u
    for name, turn in FINGERS:
        out = -cos(radians(turn)) * hand.v - sin(radians(turn)) * hand.u
        hinge = np.cross(out, hand.w)  # a positive turn brings the finger to the middle of the hand
        base = hand.origin + 0.0285 * out + 0.018 * hand.w
        first = cos(radians(20)) * hand.w + sin(radians(20)) * out
        second = cos(radians(16)) * hand.w - sin(radians(16)) * out
        middle = base + m["finger_base"] * first
        tip = middle + m["finger_tip"] * second
        points |= {f"finger_{name}_base": base, f"finger_{name}_middle": middle, f"finger_{name}_tip": tip}
        hinges |= {f"finger_{name}_base": hinge, f"finger_{name}_middle": hinge}
        places |= {f"finger_{name}_base": place(base, first, hinge), f"finger_{name}_tip": place(middle, second, hinge)}


def _foot(m, points, hinges, places):
    ankle, turn = points["ankle"], radians(m["toe_out"])
    forward, outward = np.array([sin(turn), 0.0, cos(turn)]), np.array([cos(turn), 0.0, -sin(turn)])
    sole = Place(np.array([ankle[0], 0.0, ankle[2]]), outward, Y, forward)
    places["foot"] = sole
    places["ankle"] = place(ankle, -Y, outward)
    places["ball"] = sole.moved(b=m["ball_height"], s=m["ball_length"])
    points["ball"] = places["ball"].origin
    points["toe_end"] = sole.at(b=0.019, s=m["ball_length"] + m["toe_length"])
    hinges |= {"ankle": outward, "ball": outward, "toe_end": outward}


def _head(m, points, hinges, places):
    top = places["body"].moved(s=m["body_height"])
    points["head"] = top.at(s=0.5 * m["collar_height"])
    places["collar"] = top._replace(origin=points["head"])
    places["lantern"] = top.moved(s=m["collar_height"])
    points["lantern"] = places["lantern"].at(s=0.5 * m["lantern_height"])
    eye = np.array([m["eye_spacing"] / 2, places["lantern"].origin[1] + 0.030, 0.5 * m["lantern_depth"] + 0.014])
    points["eye"] = eye
    places["eye"] = Place(eye, X, -Z, Y)


def _hose(m, points, hinges, places):
    steps = np.arange(HOSE_RIBS * HOSE_STEPS)
    heading = np.array([_hose_heading((k + 0.5) / len(steps)) for k in steps])
    step = np.stack([np.zeros(len(steps)), -np.sin(heading), -np.cos(heading)], axis=1) * m["hose_pitch"] / HOSE_STEPS
    start = places["body"].at(b=0.5 * m["body_depth"] + 0.010, s=0.80 * m["body_height"])
    line = np.concatenate([[start], start + np.cumsum(step, axis=0)])
    turn = np.array([_hose_heading(k / len(steps)) for k in range(len(steps) + 1)])
    way = np.stack([np.zeros(len(turn)), -np.sin(turn), -np.cos(turn)], axis=1)
    for k in range(len(line)):
        places[f"hose_ring_{k:02}"] = Place(line[k], -X, np.cross(way[k], -X), way[k])
    for k in range(HOSE_RIBS):
        points[f"hose_{k + 1:02}"] = line[k * HOSE_STEPS]
        hinges[f"hose_{k + 1:02}"] = -X
    points["hose_end"] = line[-1]


def _hose_heading(t):
    """The way of the hose at fraction t of its length: radians below straight back. It drops, then sweeps out again."""
    return radians(6.0 + 96.0 * sin(min(t / 0.62, 1.0) * np.pi / 2) ** 2 - 62.0 * max(0.0, (t - 0.62) / 0.38) ** 2)


def _down(outward, forward):
    """A direction straight down, turned outwards and forwards by these degrees."""
    return unit([np.tan(radians(outward)), -1.0, np.tan(radians(forward))])


def practice_layout(m):
    """Return the layout of the straight practice limb for the measures `m`: along -Y at x = z = 0."""
    top = np.array([0.0, 0.45, 0.0])
    middle, end = top - m["upper_arm"] * Y, top - (m["upper_arm"] + m["forearm"]) * Y
    points = {"practice_shoulder": top, "practice_elbow": middle, "practice_wrist": end}
    places = {name: place(point, -Y, -X) for name, point in points.items()}
    return Layout(points, {"practice_elbow": -X}, places)
