"""The limbs of Tally: arm, hand, leg and foot of the left side, and the straight practice limb.

Built on the layout, each part as (part, loops): see `rigkit.robot.fittings.hard`.
Profiles are rows of (distance along the bone, radius), metres.
"""

import numpy as np

from rigkit.mesh import joined
from rigkit.robot.fittings import BRASS, BRICK, CREAM, D_OUTLINE, FOG, SLATE, TEAL, TUBE, band, bolts, hard, sleeve
from rigkit.robot.layout import FINGERS, X, Y, Z
from rigkit.robot.shapes import Place, d_outline, loft, ring, rounded_rectangle, stacked, turned

ELBOW_RADII = (0.0205, 0.0235, 0.0280)  # of the fold, the other valleys, the crests
KNEE_RADII = (0.0240, 0.0275, 0.0330)
BALL_RADII = (0.0190, 0.0215, 0.0245)


# ---- arm ------------------------------------------------------------------------------------------------------


def arm(m, plan):
    """Shoulder drum, upper tube, elbow sleeve, forearm tube."""
    upper, fore, joint = plan.places["upper_arm"], plan.places["forearm"], "left_shoulder_joint"
    drum = Place(plan.points["shoulder"], Y, Z, X)
    yield hard("left_shoulder_drum", joint, turned(_drum(0.034, 0.052, 0.026), drum, 20, 0.0), TEAL, left_shoulder=(drum, 20))
    yield hard("left_shoulder_bolts", joint, bolts(drum.moved(s=0.0315), 6, 0.0345), BRASS, smooth=False)
    pitch, ribs = m["elbow_pitch"], (m["elbow_ribs_above"], m["elbow_ribs_below"])
    end = m["upper_arm"] - ribs[0] * pitch
    tube = [(0.034, 0.027), (0.057, 0.027), (0.062, 0.033), (end - 0.028, 0.0325), *_lip(end, 0.0300, 0.0315)]
    yield hard("left_upper_arm_tube", joint, turned(tube, upper, TUBE, 0.0), FOG)
    places = (upper, plan.places["elbow"], fore)
    yield sleeve("left_elbow_sleeve", (joint, "left_elbow_joint"), "left_elbow", places, pitch, ribs, ELBOW_RADII)
    start, long, joint = ribs[1] * pitch, m["forearm"], "left_elbow_joint"
    swell = [(start + 0.026, 0.0345), (start + 0.050, 0.0360), (long - 0.040, 0.0310), (long - 0.024, 0.0290), (long - 0.020, 0.0265)]
    tube = [*_lip(start, 0.0300, 0.0315, -1), *swell]
    yield hard("left_forearm_tube", joint, turned(tube, fore, TUBE, 0.0), CREAM)
    yield hard("left_forearm_band", joint, band(fore, long - 0.043, 0.0315), BRICK)


def _drum(half, radius, recess):
    """A wheel, widest in the middle where its joint is, with a dished outer face."""
    rim = [(half - 0.010, radius - 0.0008), (half - 0.006, radius - 0.002), (half, radius - 0.010)]
    return [*((-s, r) for s, r in reversed(rim)), (0, radius), *rim, (half - 0.003, recess)]


def _lip(end, groove, radius, way=1):
    """The end of a tube at a sleeve: a groove, then a lip; way -1 for a tube that starts there."""
    rows = [(0.019, radius + 0.001), (0.0175, groove), (0.0125, groove), (0.011, radius), (0.002, radius), (0.0, radius - 0.002)]
    return [(end - way * s, r) for s, r in rows[::way]]


def hand(m, plan):
    """Wrist collar, gripper plate and three fingers."""
    wrist, plate, gap = plan.places["wrist"], plan.places["hand"], m["hand"] - 0.012
    profile = [(-0.021, 0.024), (-0.011, 0.025), (-0.008, 0.022), (0, 0.0185), (0.008, 0.021), (gap - 0.006, 0.030), (gap + 0.002, 0.031)]
    yield hard("left_wrist_collar", "left_wrist_joint", turned(profile, wrist, TUBE, 0.0), SLATE, left_wrist=(wrist, TUBE))
    profile = [(-0.013, 0.034), (-0.010, 0.0385), (0, 0.0395), (0.008, 0.0385), (0.011, 0.034), (0.011, 0.022), (0.008, 0.020)]
    yield hard("left_gripper_plate", "left_gripper_joint", stacked(_lobes, plate, profile, 0.0), TEAL, left_gripper=(plate, 18))
    for name, _ in FINGERS:
        yield from _finger(m, plan, name)


def _lobes(radius, count=18):
    """A round outline, a little fuller between the three fingers; its area centre is at (0, 0)."""
    t = 2.0 * np.pi * np.arange(count) / count
    out = radius * (1.0 + 0.05 * np.cos(3.0 * (t + 0.5 * np.pi)))
    return np.stack([out * np.cos(t), out * np.sin(t)], axis=1)


def _finger(m, plan, name):
    for piece, landmark, long, wide, deep, colour in (
        ("base", "base", m["finger_base"], 0.0175, 0.0140, FOG), ("tip", "middle", m["finger_tip"], 0.0155, 0.0120, SLATE),
    ):
        where, landmark = plan.places[f"finger_{name}_{piece}"], f"left_finger_{name}_{landmark}"
        hinge, half = Place(where.origin, where.v, where.w, where.u), 0.5 * wide + 0.001
        knuckle = turned([(-half, 0.0088), (0, 0.0100), (half, 0.0088)], hinge, 10, 0.0)
        last = long - 0.009 if piece == "base" else long
        rows = [(0.003, 1.0, 1.0), (last - 0.006, 0.84, 0.80), (last, 0.62, 0.48)]
        link = loft([ring(rounded_rectangle(wide * a, deep * b, 0.003 * b, 1), where, s) for s, a, b in rows])
        yield hard(f"left_finger_{name}_{piece}", f"{landmark}_joint", joined([knuckle, link]), colour, False, **{landmark: (hinge, 10)})


# ---- leg ------------------------------------------------------------------------------------------------------


def leg(m, plan):
    """Hip drum, thigh tube, knee sleeve, shin tube."""
    thigh, shin, joint = plan.places["thigh"], plan.places["shin"], "left_hip_joint"
    drum = Place(plan.points["hip"], Y, Z, X)
    yield hard("left_hip_drum", joint, turned(_drum(0.035, 0.050, 0.026), drum, 20, 0.0), TEAL, left_hip=(drum, 20))
    yield hard("left_hip_bolts", joint, bolts(drum.moved(s=0.0325), 6, 0.0335), BRASS, smooth=False)
    pitch, ribs = m["knee_pitch"], (m["knee_ribs_above"], m["knee_ribs_below"])
    end = m["thigh"] - ribs[0] * pitch
    tube = [(0.034, 0.033), (0.055, 0.033), (0.060, 0.0435), (end - 0.030, 0.0395), *_lip(end, 0.0350, 0.0370)]
    yield hard("left_thigh_tube", joint, turned(tube, thigh, TUBE, 0.0), FOG)
    places = (thigh, plan.places["knee"], shin)
    yield sleeve("left_knee_sleeve", (joint, "left_knee_joint"), "left_knee", places, pitch, ribs, KNEE_RADII)
    start, long, joint = ribs[1] * pitch, m["shin"], "left_knee_joint"
    swell = [(start + 0.028, 0.0415), (start + 0.052, 0.0430), (long - 0.052, 0.0360), (long - 0.030, 0.0335), (long - 0.026, 0.0310)]
    tube = [*_lip(start, 0.0350, 0.0370, -1), *swell]
    yield hard("left_shin_tube", joint, turned(tube, shin, TUBE, 0.0), CREAM)
    yield hard("left_shin_band", joint, band(shin, long - 0.055, 0.0362), BRICK)


def foot(m, plan):
    """Ankle collar, heel block, ball sleeve, toe cap."""
    ankle, sole, ball, wide = plan.places["ankle"], plan.places["foot"], plan.places["ball"], m["foot_width"]
    low, joint = m["ankle_height"] - 0.058, "left_ankle_joint"
    collar = [(-0.027, 0.029), (-0.014, 0.030), (-0.010, 0.026), (0, 0.0215), (0.010, 0.026), (low - 0.004, 0.038), (low + 0.001, 0.039)]
    collar = stacked(lambda r: r * D_OUTLINE, ankle, collar, 0.0)
    yield hard("left_ankle_collar", joint, collar, SLATE, left_ankle=(ankle, len(D_OUTLINE)))
    pitch, ribs = m["ball_pitch"], (m["ball_ribs_behind"], m["ball_ribs_before"])
    back, front = -m["heel_length"], m["ball_length"] - ribs[0] * pitch
    block = [
        (back, 0.52, 0.024, 0.010), (back + 0.005, 0.66, 0.036, 0.003), (back + 0.014, 0.77, 0.047, 0.0), (back + 0.030, 0.84, 0.058, 0.0),
        (0.028, 0.90, 0.060, 0.0), (0.5 * (0.028 + front), 0.96, 0.055, 0.0), (front - 0.004, 1.0, 0.049, 0.0), (front, 0.96, 0.043, 0.002),
    ]
    yield hard("left_heel_block", joint, _block(sole, block, wide), CREAM)
    outline = d_outline(crowded_at=2.3) * [0.46 * wide / BALL_RADII[2], 1.0]
    yield sleeve("left_ball_sleeve", (joint, "left_ball_joint"), "left_ball", (ball, ball, ball), pitch, ribs, BALL_RADII, outline)
    start, end = m["ball_length"] + ribs[1] * pitch, m["ball_length"] + m["toe_length"]
    cap = [
        (start, 0.96, 0.043, 0.002), (start + 0.004, 1.0, 0.049, 0.0), (start + 0.40 * (end - start), 0.98, 0.047, 0.0),
        (start + 0.72 * (end - start), 0.89, 0.042, 0.0), (end - 0.005, 0.74, 0.035, 0.002), (end, 0.56, 0.022, 0.008),
    ]
    yield hard("left_toe_cap", "left_ball_joint", _block(sole, cap, wide), TEAL, left_toe_end=(sole.moved(s=end), 18))


def _block(sole, rows, wide):
    """A block along the foot: rows of (distance, width as a share, height, height of the underside)."""
    rings = []
    for s, share, tall, low in rows:
        outline = rounded_rectangle(share * wide, tall, min(0.014, 0.38 * tall), 2, 4)
        rings.append(ring(outline + [0.0, 0.5 * tall], sole.moved(b=low), s))
    return loft(rings)


# ---- practice limb --------------------------------------------------------------------------------------------


def practice(m, plan):
    """Two tubes and a sleeve in one straight line, a collar at either end."""
    top, middle, end = places = [plan.places[f"practice_{name}"] for name in ("shoulder", "elbow", "wrist")]
    joints = [f"centre_practice_{name}_joint" for name in ("shoulder", "elbow", "wrist")]
    pitch, ribs = m["elbow_pitch"], (m["elbow_ribs_above"], m["elbow_ribs_below"])
    collar = [(-0.018, 0.026), (-0.016, 0.028), (-0.008, 0.028), (0, 0.022), (0.008, 0.028), (0.012, 0.0325)]
    upper = [*collar, *_lip(m["upper_arm"] - ribs[0] * pitch, 0.0300, 0.0315)]
    yield hard("practice_upper_tube", joints[0], turned(upper, top, 20, 0.0), FOG, practice_shoulder=(top, 20))
    yield sleeve("practice_sleeve", joints[:2], "practice_elbow", (places[0], middle, places[1]), pitch, ribs, ELBOW_RADII)
    lower = [*_lip(ribs[1] * pitch, 0.0300, 0.0315, -1), (m["forearm"] - 0.020, 0.0290), (m["forearm"] - 0.016, 0.0265)]
    yield hard("practice_lower_tube", joints[1], turned(lower, middle, 20, 0.0), CREAM)
    tip = [(-0.015, 0.024), (-0.008, 0.024), (0, 0.0185), (0.008, 0.024), (0.016, 0.024), (0.018, 0.022)]
    yield hard("practice_wrist_collar", joints[2], turned(tip, end, 20, 0.0), TEAL, practice_wrist=(end, 20))
