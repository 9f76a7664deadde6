"""The shells, sleeves and fittings of Tally: what is built on the layout, part by part, for the left side and the centre.

A hard part follows one joint. A sleeve is a row of ribs around a middle joint;
its narrowest loop, the *fold*, stands in that joint, and its loops are D-shaped:
the flat of the D is parallel to the hinge and lies on the side to which a
positive turn about the hinge folds (front of the elbow, back of the knee, sole
of the foot). Its weights run from the upper joint to the lower one, the same
around each loop.
"""

from math import cos, pi, radians, sin

import numpy as np

from rigkit.character import Part
from rigkit.mesh import joined
from rigkit.robot_layout import FINGERS, HOSE_RIBS, HOSE_STEPS, X, Y, Z
from rigkit.shapes import (
    Place, both_sides, bevelled, box, circle, d_outline, hexagon, loft, place, ring, rounded_rectangle, stacked, turned, unit,
)

FOG, TEAL, CREAM, SLATE = "#A8B4B8", "#2F6C74", "#E8DFC8", "#454F54"
BRASS, BRICK, LAMP, GLASS = "#C2A367", "#B25A44", "#F3D9A0", "#16262C"

SLEEVE_STEPS = 4  # rings from one fold of a sleeve to the next
ARM_D = d_outline()


def parts(m, plan):
    """Return (parts, loops) for the measures `m` and the `Layout` plan.

    loops: landmark to (part name, vertex numbers of the closed loop whose area centre it is).
    """
    made, loops = [], {}
    for section in (_body, _head, _eye, _hose, _arm, _hand, _leg, _foot):
        for part, found in section(m, plan):
            made.append(part)
            loops |= {landmark: (part.name, found[landmark]) for landmark in found}
    return made, loops


def hard(name, joint, mesh, colour, smooth=True, **loops):
    """A part on one joint, and its loops: landmark to the place that a loop of the mesh lies in."""
    part = Part(name, mesh, (joint,), np.ones((len(mesh.vertices), 1)), "hard", colour, smooth)
    return part, {landmark: loop_in(mesh, *where) for landmark, where in loops.items()}


def loop_in(mesh, where, count):
    """Return the vertex numbers of the first ring of `count` vertices that lies in the plane u, v of `where`."""
    rows = mesh.vertices[: len(mesh.vertices) // count * count].reshape(-1, count, 3)
    off = np.abs((rows - where.origin) @ where.w).max(axis=1)
    row = int(np.argmax(off < 1e-9))
    return np.arange(row * count, (row + 1) * count)


# ---- sleeves --------------------------------------------------------------------------------------------------


def sleeve(name, joints, before, fold, after, pitch, ribs, radii, outline, squash=(1.0, 1.0)):
    """Return a ribbed sleeve whose fold stands in `fold`, between the places `before` and `after` it.

    ribs: how many on either side of the fold. radii: of the fold, the other valleys and the
    crests, metres. squash: width and height of the outline for radius one.
    """
    first, last = (-SLEEVE_STEPS * ribs[0], SLEEVE_STEPS * ribs[1])
    steps = [first - 0.5, *range(first, last + 1), last + 0.5]
    shape = outline * squash
    rings = [ring(shape * _rib(k, radii), _along(before, fold, after, k / SLEEVE_STEPS * pitch, pitch)) for k in steps]
    mesh = loft(rings)
    ramp = [_ramp(k, first, last) for k in steps]
    ramp = np.concatenate([np.repeat(ramp, len(outline)), [ramp[0], ramp[-1]]])
    part = Part(name, mesh, tuple(joints), np.stack([1.0 - ramp, ramp], axis=1), "sleeve", SLATE, True)
    number = steps.index(0)
    return part, np.arange(number * len(outline), (number + 1) * len(outline))


def _along(before, fold, after, s, pitch):
    """The place at distance s along the bent middle line of a sleeve; it turns over from bone to bone within one pitch."""
    if s == 0:
        return fold
    bone = before if s < 0 else after
    share = min(abs(s) / pitch, 1.0)
    return place(fold.origin + s * bone.w, (1.0 - share) * fold.w + share * bone.w, fold.u)


def _rib(k, radii):
    fold, valley, crest = radii
    low = fold if abs(k) < SLEEVE_STEPS / 2 else valley
    return low + (crest - low) * abs(sin(pi * k / SLEEVE_STEPS)) ** 1.5


def _ramp(k, first, last):
    """0 at the first ring, 1/2 at the fold, 1 at the last, smooth and rising."""
    t = 0.5 - 0.5 * k / first if k < 0 else 0.5 + 0.5 * k / last
    t = min(max(t, 0.0), 1.0)
    return t * t * (3.0 - 2.0 * t)


# ---- fittings -------------------------------------------------------------------------------------------------


def bolts(where, count, radius, size=0.0045, height=0.004, turn=0.0):
    """A ring of six-sided bolt heads that stand on `where`."""
    spots = radius * circle(count, turn)
    return joined([turned([(0, size), (height, size)], where.moved(a, b), 6, 0.0012) for a, b in spots])


def band(where, s, radius, width=0.010, proud=0.0016):
    """A raised band around a tube, from height s."""
    return turned([(s, radius - 0.001, 0), (s, radius + proud), (s + width, radius + proud), (s + width, radius - 0.001, 0)], where, 24, 0.0008)


# ---- centre ---------------------------------------------------------------------------------------------------


def _body(m, plan):
    where, joint = plan.places["body"], "centre_body_joint"
    high, half = m["body_height"], 0.5 * (m["shoulder_width"] - m["shoulder_seat"])
    ratio = m["body_depth"] / (2 * half)
    hexa = lambda r: hexagon(2 * r, 2 * r * ratio, 0.014, 0.040 * r / half)  # noqa: E731
    groove = 0.0035
    profile = [
        (0.0, 0.66 * half, 0.012), (0.05 * high, 0.74 * half, 0.006), (0.585 * high, 0.975 * half, 0.004),
        (0.590 * high, 0.975 * half - groove, 0), (0.606 * high, 0.980 * half - groove, 0), (0.611 * high, 0.980 * half, 0.001),
        (0.66 * high, half, 0.010), (0.80 * high, half, 0.014), (0.955 * high, 0.74 * half, 0.010), (high, 0.68 * half, 0.008),
    ]
    yield hard("body_drum", joint, stacked(hexa, where, profile, 0.003), CREAM, smooth=False)

    axle = plan.points["hip"][1]
    reach = 0.5 * m["hip_width"] - 0.036
    keel = [(axle - 0.012 - where.origin[1], 0.040, 0.008), (axle + 0.012 - where.origin[1], 0.056, 0.006), (0.004, 0.074)]
    yield hard("body_keel", joint, stacked(lambda r: hexagon(2 * r, 1.35 * r, 0.008, 0.014), where, keel, 0.004), TEAL, smooth=False)
    line = Place(np.array([0.0, axle, 0.0]), Y, Z, X)
    axle_profile = [(-reach, 0.027), (-reach + 0.012, 0.027, 0.001), (-reach + 0.014, 0.023, 0.001), (reach - 0.014, 0.023, 0.001), (reach - 0.012, 0.027, 0.001), (reach, 0.027)]
    yield hard("body_axle", joint, turned(axle_profile, line, 24, 0.003), SLATE)

    yield from _seats(m, plan, half)
    yield from _gauge(m, where, half, ratio)
    back = Place(where.at(b=0.5 * m["body_depth"] - 0.012, s=0.80 * high), -X, Y, -Z)
    yield hard("body_hose_flange", joint, turned([(0, 0.040), (0.012, 0.040), (0.012, 0.027), (0.026, 0.027)], back, 24, 0.002), TEAL)
    yield hard("body_hose_bolts", joint, bolts(back.moved(s=0.0115), 8, 0.0335, 0.0032, 0.003, pi / 8), BRASS, smooth=False)


def _seats(m, plan, half):
    """What carries the shoulder drum: a turned seat on the side of the body."""
    shoulder = plan.points["shoulder"]
    inner, outer = half - 0.030, shoulder[0] - 0.036
    where = Place(np.array([inner, shoulder[1], shoulder[2]]), Y, Z, X)
    profile = [(0, 0.036), (outer - inner - 0.012, 0.036, 0.003), (outer - inner - 0.010, 0.030, 0.001), (outer - inner, 0.030, 0.001)]
    yield hard("left_shoulder_seat", "centre_body_joint", turned(profile, where, 24, 0.003), SLATE)


def _gauge(m, where, half, ratio):
    """The tide gauge on the front: a plate on the slanting face, its marks, and the float that shows the level."""
    joint, high = "centre_body_joint", m["body_height"]
    low, top = 0.11 * high, 0.545 * high
    scale = lambda s: (0.74 + (0.975 - 0.74) * (s / high - 0.05) / (0.585 - 0.05)) * half * ratio  # noqa: E731
    foot, head = where.at(b=-scale(low), s=low), where.at(b=-scale(top), s=top)
    up = unit(head - foot)
    long = float(np.linalg.norm(head - foot))
    face = Place(0.5 * (foot + head), X, up, np.cross(X, up))
    yield hard("body_gauge_plate", joint, box((0.066, long, 0.0075), face.moved(s=-0.003), 0.003), FOG, smooth=False)
    marks, count = [], 11
    for k in range(count):
        wide = 0.046 if k % 5 == 0 else 0.022
        marks.append(box((wide, 0.0046, 0.003), face.moved(b=long * 0.86 * (k / (count - 1) - 0.5), s=0.0038), 0.0008))
    yield hard("body_gauge_marks", joint, joined(marks), TEAL, smooth=False)
    level = face.moved(b=long * 0.86 * (0.6 - 0.5) + 0.0045, s=0.0038)
    yield hard("body_gauge_float", joint, box((0.058, 0.010, 0.008), level, 0.003), BRICK, smooth=False)


def _head(m, plan):
    joint = "centre_head_joint"
    collar, half = plan.places["collar"], 0.5 * m["collar_height"]
    profile = [(-half - 0.002, 0.052), (-half + 0.008, 0.052), (-half + 0.013, 0.037, 0.001), (0, 0.033, 0), (half - 0.009, 0.036, 0.001), (half - 0.002, 0.046, 0.001), (half + 0.001, 0.046, 0.001)]
    yield hard("head_collar", joint, turned(profile, collar, 24, 0.002), SLATE, head=(collar, 24))

    where, wide, tall = plan.places["lantern"], 0.5 * m["lantern_width"], m["lantern_height"]
    ratio = 0.5 * m["lantern_depth"] / wide
    hexa = lambda r: hexagon(2 * r, 2 * r * ratio, 0.012, 0.026)  # noqa: E731
    base = [(0, 0.80 * wide, 0.005), (0.012, 0.97 * wide, 0.004), (0.030, wide, 0.004), (0.036, 0.90 * wide, 0.002)]
    yield hard("head_lantern", joint, stacked(hexa, where, base, 0.003), TEAL, smooth=False)
    glass = [(0.035, 0.84 * wide), (tall - 0.014, 0.84 * wide)]
    yield hard("head_window", joint, stacked(hexa, where, glass, 0.001), LAMP, smooth=False)
    yield hard("head_posts", joint, _posts(where, hexa(0.845 * wide), 0.034, tall - 0.012), TEAL, smooth=False)
    roof = [
        (tall - 0.014, 0.92 * wide, 0.002), (tall - 0.010, 1.06 * wide, 0.003), (tall + 0.004, 1.08 * wide, 0.005),
        (tall + 0.042, 0.50 * wide, 0.006), (tall + 0.048, 0.42 * wide, 0.002),
    ]
    yield hard("head_roof", joint, stacked(hexa, where, roof, 0.003), CREAM, smooth=False)
    vent = [(tall + 0.044, 0.034), (tall + 0.054, 0.034, 0.001), (tall + 0.055, 0.027, 0.001), (tall + 0.061, 0.027, 0.001), (tall + 0.062, 0.036, 0.001), (tall + 0.070, 0.036), (tall + 0.076, 0.020)]
    yield hard("head_vent", joint, turned(vent, where, 24, 0.002), TEAL)
    yield hard("head_handle", joint, _handle(where.moved(s=tall + 0.010), 0.88 * wide, 0.0052, radians(84)), SLATE)
    yield hard("head_handle_grip", joint, _handle(where.moved(s=tall + 0.010), 0.88 * wide, 0.0075, radians(26)), BRICK)


def _posts(where, outline, low, top):
    """Posts on the corners of the lantern's window."""
    middles = 0.5 * (outline[0::2] + outline[1::2])
    return joined([turned([(low, 0.0058), (top, 0.0058)], where.moved(a, b), 8, 0.0008) for a, b in middles])


def _handle(where, radius, thick, spread):
    """A hoop over the roof, `spread` radians to either side of the top."""
    turn = np.linspace(-spread, spread, 21)
    rings = []
    for s, c in np.round(np.stack([np.sin(turn), np.cos(turn)], axis=1), 12):  # rounded, so that both sides match bit for bit
        out, on = s * X + c * Y, c * X - s * Y
        rings.append(ring(thick * circle(12), Place(where.at(a=radius * s, s=0.92 * radius * c), -Z, out, on)))
    return loft(rings)


def _eye(m, plan):
    eye, joint = plan.places["eye"], "left_eye_joint"
    half = 0.5 * m["eye_spacing"]
    bar = Place(np.array([0.0, eye.origin[1] - 0.013, eye.origin[2]]), Y, Z, X)
    profile = [(-half - 0.024, 0.0105), (-half - 0.017, 0.0145), (half + 0.017, 0.0145), (half + 0.024, 0.0105)]
    outline = rounded_rectangle(1.1, 2.0, 0.4)
    yield hard("eye_bracket", "centre_head_joint", stacked(lambda r: r * outline, bar, profile, 0.002), SLATE, smooth=False)
    mount = [(-0.008, 0.0125), (0, 0.0125, 0), (0.004, 0.0125), (0.005, 0.009, 0.0005), (0.012, 0.009)]
    yield hard("left_eye_mount", joint, turned(mount, eye, 24, 0.001), BRASS, left_eye=(eye, 24))
    axis = Place(eye.at(s=0.036), X, Y, Z)
    barrel = [
        (-0.020, 0.021, 0.004), (-0.006, 0.027, 0.003), (0.022, 0.027, 0.001), (0.024, 0.029, 0.001), (0.034, 0.029, 0.002),
        (0.034, 0.0245, 0.001), (0.028, 0.0235, 0.0),
    ]
    yield hard("left_eye_barrel", joint, turned(barrel, axis, 24, 0.002), TEAL)
    dome = [(0.0275, 0.0225, 0), *((0.0275 + 0.009 * sin(radians(d)), 0.0225 * cos(radians(d)), 0) for d in (18, 36, 54, 72))]
    yield hard("left_eye_lens", joint, turned(dome, axis, 24, 0.0), GLASS)
    yield hard("left_eye_iris", joint, turned([(0.034, 0.0085), (0.0372, 0.0085), (0.0376, 0.006)], axis, 16, 0.0006), LAMP)


def _hose(m, plan):
    count, outline = 16, circle(16)
    total = HOSE_RIBS * HOSE_STEPS
    rings = [ring(outline * _hose_radius(k), plan.places[f"hose_ring_{k:02}"]) for k in range(total + 1)]
    mesh = loft(rings)
    joints = tuple(f"centre_hose_{k + 1:02}_joint" for k in range(HOSE_RIBS))
    rows = np.array([_hose_weights(k / HOSE_STEPS) for k in range(total + 1)])
    weights = np.concatenate([np.repeat(rows, count, axis=0), rows[[0, -1]]])
    folds = {f"hose_{k + 1:02}": np.arange(k * HOSE_STEPS * count, (k * HOSE_STEPS + 1) * count) for k in range(HOSE_RIBS)}
    folds["hose_end"] = np.arange(total * count, (total + 1) * count)
    yield Part("hose", mesh, joints, weights, "hose", SLATE, True), folds
    end = plan.places[f"hose_ring_{total:02}"]
    nozzle = [(-0.004, 0.024), (0.010, 0.024, 0.002), (0.012, 0.020, 0.001), (0.030, 0.020, 0.001), (0.032, 0.024, 0.001), (0.040, 0.024)]
    yield hard("hose_coupling", joints[-1], turned(nozzle, end, 24, 0.002), BRASS)


def _hose_radius(k):
    taper = 1.0 - 0.16 * k / (HOSE_RIBS * HOSE_STEPS)
    return taper * (0.0185 + 0.0065 * abs(sin(pi * k / HOSE_STEPS)) ** 1.2)


def _hose_weights(x):
    """One row of weights at x pitches along the hose: each joint carries its rib, and shares the fold before it half and half."""
    row = np.zeros(HOSE_RIBS)
    segment = min(int(x), HOSE_RIBS - 1)
    row[segment] = 1.0
    if x == int(x) and 0 < x < HOSE_RIBS:
        row[segment - 1 : segment + 1] = 0.5
    return row


# ---- arm ------------------------------------------------------------------------------------------------------


def _arm(m, plan):
    shoulder, elbow, wrist = plan.points["shoulder"], plan.points["elbow"], plan.points["wrist"]
    drum = Place(shoulder, Y, Z, X)
    joint = "left_shoulder_joint"
    profile = [(-0.034, 0.044), (-0.026, 0.052, 0.002), (0, 0.0526, 0), (0.026, 0.052, 0.002), (0.034, 0.044), (0.034, 0.026, 0.001), (0.031, 0.025, 0.001)]
    yield hard("left_shoulder_drum", joint, turned(profile, drum, 32, 0.003), TEAL, left_shoulder=(drum, 32))
    yield hard("left_shoulder_bolts", joint, bolts(drum.moved(s=0.0335), 8, 0.0335, 0.0042, 0.0035, pi / 8), BRASS, smooth=False)
    upper, fore = plan.places["upper_arm"], plan.places["forearm"]
    pitch, ribs = m["elbow_pitch"], (m["elbow_ribs_above"], m["elbow_ribs_below"])
    end = m["upper_arm"] - ribs[0] * pitch
    tube = [(0.030, 0.026, 0.001), (0.058, 0.026, 0.001), (0.062, 0.0315), (end - 0.026, 0.0315, 0.001), (end - 0.024, 0.0295, 0.0005), (end - 0.018, 0.0295, 0.0005), (end - 0.016, 0.0325, 0.001), (end, 0.0325)]
    yield hard("left_upper_arm_tube", joint, turned(tube, upper, 24, 0.0025), FOG)
    part, fold = sleeve(
        "left_elbow_sleeve", (joint, "left_elbow_joint"), upper, plan.places["elbow"], fore, pitch, ribs, (0.0215, 0.0245, 0.0290), ARM_D
    )
    yield part, {"left_elbow": fold}
    start, long = ribs[1] * pitch, m["forearm"]
    joint = "left_elbow_joint"
    tube = [(start, 0.0325), (start + 0.016, 0.0325, 0.001), (start + 0.018, 0.0300, 0.0005), (start + 0.024, 0.0300, 0.0005), (start + 0.026, 0.0345, 0.001), (start + 0.050, 0.0355, 0.006), (long - 0.022, 0.0285, 0.003), (long - 0.018, 0.0285)]
    yield hard("left_forearm_tube", joint, turned(tube, fore, 24, 0.0025), CREAM)
    at = long - 0.040
    yield hard("left_forearm_band", joint, band(fore, at, 0.0298), BRICK)


def _hand(m, plan):
    wrist, hand = plan.places["wrist"], plan.places["hand"]
    joint, gap = "left_wrist_joint", m["hand"] - 0.012
    collar = [(-0.020, 0.025), (-0.010, 0.025), (-0.006, 0.020, 0.001), (0, 0.0175, 0), (0.006, 0.019, 0.001), (gap - 0.006, 0.025, 0.003), (gap + 0.001, 0.027)]
    yield hard("left_wrist_collar", joint, turned(collar, wrist, 24, 0.002), SLATE, left_wrist=(wrist, 24))
    joint = "left_gripper_joint"
    plate = [(-0.012, 0.034), (0, 0.0366, 0), (0.009, 0.036), (0.009, 0.020, 0.001), (0.006, 0.018, 0.001)]
    yield hard("left_gripper_plate", joint, stacked(_three_lobes, hand, plate, 0.003), TEAL, smooth=False, left_gripper=(hand, 24))
    for name, _ in FINGERS:
        yield from _finger(m, plan, name)


def _three_lobes(radius, count=24):
    """A round outline drawn in between the three fingers; its area centre is at (0, 0)."""
    t = 2.0 * np.pi * np.arange(count) / count
    out = radius * (1.0 + 0.05 * np.cos(3.0 * (t + 0.5 * np.pi)))
    return np.stack([out * np.cos(t), out * np.sin(t)], axis=1)


def _finger(m, plan, name):
    for piece, long, wide, colour in (("base", m["finger_base"], 0.0150, FOG), ("tip", m["finger_tip"], 0.0130, SLATE)):
        where = plan.places[f"finger_{name}_{piece}"]
        hinge = Place(where.origin, where.v, where.w, where.u)
        half = 0.5 * wide + 0.001
        knuckle = turned([(-half, 0.0090), (0, 0.0090, 0), (half, 0.0090)], hinge, 12, 0.0015)
        last = long - 0.010 if piece == "base" else long
        depth = 0.0120 if piece == "base" else 0.0105
        outlines = [(0.003, 1.0, 1.0), (0.012, 1.0, 1.0), (0.6 * last, 0.94, 0.92), (last - 0.004, 0.80, 0.74), (last, 0.60, 0.50)]
        link = loft([ring(rounded_rectangle(wide * a, depth * b, 0.0028 * b, 1), where, s) for s, a, b in outlines])
        landmark = f"left_finger_{name}_" + ("base" if piece == "base" else "middle")
        yield hard(f"left_finger_{name}_{piece}", f"{landmark}_joint", joined([knuckle, link]), colour, False, **{landmark: (hinge, 12)})


# ---- leg ------------------------------------------------------------------------------------------------------


def _leg(m, plan):
    hip, thigh, shin = plan.points["hip"], plan.places["thigh"], plan.places["shin"]
    drum, joint = Place(hip, Y, Z, X), "left_hip_joint"
    profile = [(-0.035, 0.040), (-0.028, 0.050, 0.002), (0, 0.0506, 0), (0.028, 0.050, 0.002), (0.035, 0.040), (0.035, 0.026, 0.001), (0.032, 0.025, 0.001)]
    yield hard("left_hip_drum", joint, turned(profile, drum, 32, 0.003), TEAL, left_hip=(drum, 32))
    yield hard("left_hip_bolts", joint, bolts(drum.moved(s=0.0345), 8, 0.0325, 0.0042, 0.0035, pi / 8), BRASS, smooth=False)
    pitch, ribs = m["knee_pitch"], (m["knee_ribs_above"], m["knee_ribs_below"])
    end = m["thigh"] - ribs[0] * pitch
    tube = [(0.030, 0.032, 0.001), (0.056, 0.032, 0.001), (0.060, 0.0425), (end - 0.030, 0.0400, 0.001), (end - 0.028, 0.0365, 0.0005), (end - 0.021, 0.0365, 0.0005), (end - 0.019, 0.0385, 0.001), (end, 0.0385)]
    yield hard("left_thigh_tube", joint, turned(tube, thigh, 24, 0.003), FOG)
    part, fold = sleeve(
        "left_knee_sleeve", (joint, "left_knee_joint"), thigh, plan.places["knee"], shin, pitch, ribs, (0.0255, 0.0290, 0.0345), ARM_D
    )
    yield part, {"left_knee": fold}
    joint, start, long = "left_knee_joint", ribs[1] * pitch, m["shin"]
    tube = [(start, 0.0385), (start + 0.018, 0.0385, 0.001), (start + 0.020, 0.0360, 0.0005), (start + 0.026, 0.0360, 0.0005), (start + 0.028, 0.0415, 0.001), (start + 0.056, 0.0430, 0.008), (long - 0.030, 0.0335, 0.004), (long - 0.024, 0.0335)]
    yield hard("left_shin_tube", joint, turned(tube, shin, 24, 0.003), CREAM)
    yield hard("left_shin_band", joint, band(shin, long - 0.046, 0.0350), BRICK)


def _foot(m, plan):
    ankle, sole, joint = plan.places["ankle"], plan.places["foot"], "left_ankle_joint"
    drop = m["ankle_height"] - 0.058
    collar = [(-0.026, 0.030), (-0.014, 0.030), (-0.009, 0.025, 0.001), (0, 0.0215, 0), (0.009, 0.025, 0.001), (drop - 0.006, 0.034, 0.003), (drop + 0.001, 0.036)]
    mesh = stacked(lambda r: r * ARM_D, ankle, collar, 0.002)
    yield hard("left_ankle_collar", joint, mesh, SLATE, left_ankle=(ankle, len(ARM_D)))
    wide, ball, pitch = m["foot_width"], m["ball_length"], m["ball_pitch"]
    ribs = (m["ball_ribs_behind"], m["ball_ribs_before"])
    back, front = -m["heel_length"], ball - ribs[0] * pitch
    block = [
        (back, 0.52, 0.022, 0.010), (back + 0.006, 0.68, 0.036, 0.003), (back + 0.014, 0.76, 0.046, 0.0), (back + 0.030, 0.82, 0.058, 0.0),
        (0.026, 0.88, 0.059, 0.0), (0.5 * (0.026 + front), 0.95, 0.054, 0.0), (front - 0.005, 1.0, 0.047, 0.0), (front, 0.95, 0.040, 0.003),
    ]
    yield hard("left_heel_block", joint, _sole_loft(sole, block, wide), CREAM, smooth=True)
    part, fold = sleeve(
        "left_ball_sleeve", (joint, "left_ball_joint"), plan.places["ball"], plan.places["ball"], plan.places["ball"], pitch, ribs,
        (0.0190, 0.0215, 0.0245), d_outline(crowded_at=2.3), (0.46 * wide / 0.0245, 1.0),
    )
    yield part, {"left_ball": fold}
    start, end = ball + ribs[1] * pitch, ball + m["toe_length"]
    cap = [
        (start, 0.95, 0.040, 0.003), (start + 0.005, 1.0, 0.047, 0.0), (start + 0.45 * (end - start), 0.97, 0.045, 0.0), (start + 0.75 * (end - start), 0.86, 0.040, 0.0),
        (end - 0.005, 0.70, 0.034, 0.002), (end, 0.54, 0.022, 0.008),
    ]
    front_loop = sole.moved(s=end)
    yield hard("left_toe_cap", "left_ball_joint", _sole_loft(sole, cap, wide), TEAL, True, left_toe_end=(front_loop, 20))


def _sole_loft(sole, stations, wide):
    """A block along the foot: stations (s, width as a share, height, height of the underside)."""
    rings = []
    for s, share, tall, low in stations:
        outline = rounded_rectangle(share * wide, tall, min(0.014, 0.38 * tall), 3, 3)
        rings.append(ring(outline + [0.0, low + 0.5 * tall], sole, s))
    return loft(rings)


# ---- practice limb --------------------------------------------------------------------------------------------


def practice_parts(m, plan):
    """Return (parts, loops) of the straight practice limb; see `parts`."""
    top, middle, end = (plan.places[f"practice_{name}"] for name in ("shoulder", "elbow", "wrist"))
    joints = tuple(f"centre_practice_{name}_joint" for name in ("shoulder", "elbow", "wrist"))
    pitch, ribs = m["elbow_pitch"], (m["elbow_ribs_above"], m["elbow_ribs_below"])
    last = m["upper_arm"] - ribs[0] * pitch
    collar = [(-0.016, 0.030), (-0.006, 0.030, 0.002), (0, 0.024, 0), (0.006, 0.030, 0.002)]
    upper = [*collar, (last - 0.016, 0.0315, 0.001), (last - 0.014, 0.0325, 0.001), (last, 0.0325)]
    first = ribs[1] * pitch
    lower = [(first, 0.0325), (first + 0.014, 0.0325, 0.001), (first + 0.016, 0.0310, 0.001), (m["forearm"] - 0.014, 0.0285)]
    tip = [(-0.012, 0.0265), (-0.006, 0.0265, 0.002), (0, 0.0205, 0), (0.006, 0.0265, 0.002), (0.016, 0.0265)]
    made = [
        hard("practice_upper_tube", joints[0], turned(upper, top, 24, 0.0025), FOG, practice_shoulder=(top, 24)),
        sleeve("practice_sleeve", joints[:2], top, middle, end, pitch, ribs, (0.0215, 0.0245, 0.0290), ARM_D),
        hard("practice_lower_tube", joints[1], turned(lower, middle, 24, 0.0025), CREAM),
        hard("practice_wrist_collar", joints[2], turned(tip, end, 24, 0.0015), TEAL, practice_wrist=(end, 24)),
    ]
    loops = {"practice_elbow": ("practice_sleeve", made[1][1])}
    for part, found in (made[0], made[2], made[3]):
        loops |= {landmark: (part.name, numbers) for landmark, numbers in found.items()}
    return [part for part, _ in made], loops
