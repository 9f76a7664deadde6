"""The middle of Tally: body drum with its tide gauge, lantern head with two eyes, mooring hose.

Built on the layout for the centre and the left side, each part as (part, loops):
see `rigkit.robot.fittings.hard`. What lies across the middle is symmetric about
x = 0 bit for bit, because its outlines are.
"""

from math import cos, pi, radians, sin

import numpy as np

from rigkit.character import Part
from rigkit.mesh import joined
from rigkit.robot.fittings import BRASS, BRICK, CREAM, FOG, GLASS, LAMP, SLATE, TEAL, bolts, hard
from rigkit.robot.layout import HOSE_RIBS, HOSE_STEPS, X, Y, Z
from rigkit.robot.shapes import Place, both_sides, box, circle, hexagon, loft, ring, rounded_rectangle, stacked, turned, unit

BODY = "centre_body_joint"
HEAD = "centre_head_joint"


# ---- body -----------------------------------------------------------------------------------------------------


def body(m, plan):
    """The drum and what is fixed to it."""
    where, high = plan.places["body"], m["body_height"]
    half = 0.5 * (m["shoulder_width"] - m["shoulder_seat"])
    ratio = m["body_depth"] / (2 * half)

    def outline(r):
        return hexagon(2 * r, 2 * r * ratio, 0.010, 0.040 * r / half)

    yield hard("body_drum", BODY, stacked(outline, where, _drum(half, high), 0.003), CREAM, smooth=False)
    yield hard("body_skirt", BODY, stacked(outline, where, _skirt(half, high), 0.0), TEAL, smooth=False)
    yield hard("body_belt", BODY, stacked(outline, where, _belt(half, high), 0.0), SLATE, smooth=False)
    yield from _hips(m, plan, where)
    yield _seat(plan, half)
    yield from _gauge(where, half * ratio, high)
    yield from _lamp(Place(where.at(b=-0.5 * m["body_depth"], s=0.7425 * high), X, Y, Z))
    back = Place(where.at(b=0.5 * m["body_depth"] - 0.012, s=0.80 * high), -X, Y, -Z)
    flange = [(0, 0.040, 0), (0.010, 0.040, 0), (0.012, 0.038, 0), (0.013, 0.028, 0), (0.026, 0.026, 0)]
    yield hard("body_hose_flange", BODY, turned(flange, back, 20), TEAL)
    yield hard("body_hose_bolts", BODY, bolts(back.moved(s=0.012), 6, 0.0335, 0.0034, 0.003), BRASS, smooth=False)


def _slope(t):
    """The drum's half width at the height fraction t of its lower, straight part, as a fraction of the widest."""
    return 0.74 + (0.975 - 0.74) * (t - 0.04) / (0.60 - 0.04)


def _drum(half, high):
    """The profile of the drum: a straight flare, a groove for the belt, the widest part at the shoulders, a sloping top with a groove."""
    rows = [
        (0.0, 0.66), (0.04, 0.74), (0.10, _slope(0.10)), (0.605, 0.965), (0.61, 0.95), (0.645, 0.95), (0.65, 0.985), (0.69, 1.0),
        (0.795, 1.0), (0.825, 0.975), (0.905, 0.815), (0.910, 0.785), (0.925, 0.755), (0.930, 0.765), (0.975, 0.665), (1.0, 0.63),
    ]
    return [(t * high, share * half, 0) for t, share in rows]


def _belt(half, high):
    """The fender in the groove below the shoulders."""
    rows = [(0.600, 0.955), (0.604, 1.0), (0.616, 1.015), (0.640, 1.02), (0.652, 1.005), (0.656, 0.96)]
    return [(t * high, share * half) for t, share in rows]


def _skirt(half, high):
    """The teal lower edge, a millimetre outside the drum."""
    proud = 0.0014
    rows = [(0.034, 0.70, 0.0), (0.036, _slope(0.036), proud), (0.088, _slope(0.088), proud), (0.094, _slope(0.094) - 0.02, 0.0)]
    return [(t * high, share * half + more) for t, share, more in rows]


def _hips(m, plan, where):
    """The keel under the drum and the axle that carries the legs."""
    axle = plan.points["hip"][1]
    low = axle - where.origin[1]
    keel = [(low - 0.016, 0.036), (low - 0.010, 0.044), (low + 0.014, 0.058), (low + 0.030, 0.074), (0.004, 0.076)]
    yield hard("body_keel", BODY, stacked(lambda r: hexagon(2 * r, 1.35 * r, 0.008, 0.014), where, keel, 0.0), TEAL, smooth=False)
    reach = 0.5 * m["hip_width"] - 0.036
    ends = [(reach - 0.014, 0.023), (reach - 0.012, 0.026), (reach - 0.002, 0.026), (reach, 0.024)]
    profile = [*((-s, r) for s, r in reversed(ends)), *ends]
    yield hard("body_axle", BODY, turned(profile, Place(np.array([0.0, axle, 0.0]), Y, Z, X), 16, 0.0), SLATE)


def _seat(plan, half):
    """What carries the shoulder drum: a turned seat on the side of the body."""
    shoulder = plan.points["shoulder"]
    inner, long = half - 0.030, shoulder[0] - 0.036 - (half - 0.030)
    profile = [(0, 0.037), (long - 0.015, 0.036), (long - 0.012, 0.029), (long, 0.029)]
    where = Place(np.array([inner, shoulder[1], shoulder[2]]), Y, Z, X)
    return hard("left_shoulder_seat", BODY, turned(profile, where, 20, 0.0), SLATE)


def _gauge(where, depth, high):
    """The tide gauge on the front: a plate on the slanting face, its marks, and the float that shows the level."""
    low, top = (where.at(b=-_slope(t) * depth, s=t * high) for t in (0.125, 0.575))
    long, up = float(np.linalg.norm(top - low)), unit(top - low)
    face = Place(0.5 * (low + top), X, up, np.cross(X, up))
    yield hard("body_gauge_plate", BODY, box((0.064, long, 0.0075), face.moved(s=-0.003), 0.003), FOG, smooth=False)
    marks = []
    for k in range(11):
        wide = 0.044 if k % 5 == 0 else 0.020
        marks.append(box((wide, 0.0044, 0.003), face.moved(b=long * 0.086 * (k - 5), s=0.0038)))
    yield hard("body_gauge_marks", BODY, joined(marks), TEAL, smooth=False)
    level = face.moved(b=long * 0.086 * 2, s=0.0038)
    yield hard("body_gauge_float", BODY, box((0.056, 0.011, 0.008), level, 0.0028), BRICK, smooth=False)


def _lamp(face):
    """A long signal lamp in a brass frame, high on the front."""
    yield hard("body_lamp_frame", BODY, box((0.098, 0.025, 0.009), face.moved(s=-0.004), 0.003), BRASS, smooth=False)
    yield hard("body_lamp", BODY, box((0.088, 0.015, 0.006), face.moved(s=0.0015), 0.002), LAMP, smooth=False)


# ---- head -----------------------------------------------------------------------------------------------------


def head(m, plan):
    """A flat lantern on a short collar: base, window with posts, roof, vent and a carrying hoop."""
    collar, half = plan.places["collar"], 0.5 * m["collar_height"]
    lower = [(-half - 0.002, 0.054), (-half + 0.008, 0.054), (-half + 0.011, 0.050), (-half + 0.012, 0.038)]
    profile = [*lower, (0, 0.034), (half - 0.010, 0.038), (half - 0.008, 0.050), (half + 0.001, 0.052)]
    yield hard("head_collar", HEAD, turned(profile, collar, 20, 0.0), SLATE, head=(collar, 20))
    where, wide, tall = plan.places["lantern"], 0.5 * m["lantern_width"], m["lantern_height"]
    ratio = 0.5 * m["lantern_depth"] / wide

    def outline(r):
        return hexagon(2 * r, 2 * r * ratio, 0.010, 0.024)

    base = [(0, 0.76), (0.010, 0.94), (0.014, 0.985), (0.018, 1.0), (0.028, 1.0), (0.032, 0.985), (0.034, 0.90)]
    yield hard("head_lantern", HEAD, stacked(outline, where, [(s, share * wide) for s, share in base], 0.0), TEAL, smooth=False)
    window = [(0.033, 0.84 * wide), (tall - 0.010, 0.84 * wide)]
    yield hard("head_window", HEAD, stacked(outline, where, window, 0.0), LAMP, smooth=False)
    cuts = outline(0.845 * wide)
    corners = 0.5 * (cuts[0::2] + cuts[1::2])
    posts = [turned([(0.033, 0.0056), (tall - 0.010, 0.0056)], where.moved(a, b), 6, 0.0) for a, b in corners]
    yield hard("head_posts", HEAD, joined(posts), TEAL)
    eave = where.moved(s=tall)
    roof = [(-0.012, 0.90), (-0.010, 1.04), (-0.006, 1.075), (0.003, 1.08), (0.008, 1.05), (0.034, 0.52), (0.038, 0.49), (0.042, 0.40)]
    yield hard("head_roof", HEAD, stacked(outline, eave, [(s, share * wide) for s, share in roof], 0.0), CREAM, smooth=False)
    neck = [(0.036, 0.032), (0.050, 0.032), (0.051, 0.026), (0.057, 0.026)]
    vent = [*neck, (0.058, 0.033), (0.060, 0.036), (0.066, 0.036), (0.070, 0.030), (0.072, 0.018)]
    yield hard("head_vent", HEAD, turned(vent, eave, 16, 0.0), TEAL)
    foot = eave.moved(s=0.006)
    yield hard("head_handle", HEAD, _hoop(foot, 0.90 * wide, 0.0050, radians(86), 14), SLATE)
    knob = turned([(0.0, 0.0095), (0.010, 0.0075)], Place(foot.at(a=0.89 * wide), Y, Z, X), 10, 0.0)
    yield hard("head_handle_knobs", HEAD, both_sides(knob), BRASS)
    yield hard("head_handle_grip", HEAD, _hoop(foot, 0.90 * wide, 0.0080, radians(24), 4), BRICK)


def _hoop(where, radius, thick, spread, steps):
    """A round bar bent over the roof, `spread` radians to either side of the top."""
    rings, turn = [], np.linspace(-spread, spread, steps + 1)
    for s, c in np.round(np.stack([np.sin(turn), np.cos(turn)], axis=1), 12):  # rounded, so that both sides match bit for bit
        out, on = s * X + c * Y, c * X - s * Y
        rings.append(ring(thick * circle(8), Place(where.at(a=radius * s, s=0.90 * radius * c), -Z, out, on)))
    return loft(rings)


def eye(m, plan):
    """The shared bracket, and the left eye: a swivel mount, a barrel with a slanting hood, a lens."""
    mount, joint, half = plan.places["eye"], "left_eye_joint", 0.5 * m["eye_spacing"]
    bar = Place(np.array([0.0, mount.origin[1] - 0.013, mount.origin[2]]), Y, Z, X)
    outline = rounded_rectangle(1.1, 2.0, 0.4)
    ends = [(half + 0.017, 0.0145), (half + 0.024, 0.0110)]
    bracket = stacked(lambda r: r * outline, bar, [*((-s, r) for s, r in reversed(ends)), *ends], 0.0)
    yield hard("eye_bracket", HEAD, bracket, SLATE, smooth=False)
    post = [(-0.007, 0.0120), (-0.004, 0.0128), (0, 0.0134), (0.004, 0.0125), (0.005, 0.009), (0.014, 0.009)]
    yield hard("left_eye_mount", joint, turned(post, mount, 12, 0.0), BRASS, left_eye=(mount, 12))
    axis = Place(mount.at(s=0.034) + 0.020 * Z, X, Y, Z)  # ahead of the swivel, so that it looks up without meeting the lantern
    yield hard("left_eye_barrel", joint, _barrel(axis), TEAL)
    dome = [(0.021 + 0.008 * sin(radians(d)), 0.0215 * cos(radians(d))) for d in (0, 25, 50, 72)]
    yield hard("left_eye_lens", joint, turned(dome, axis, 16, 0.0), GLASS)
    yield hard("left_eye_iris", joint, turned([(0.026, 0.0085), (0.0300, 0.0085), (0.0308, 0.0065)], axis, 12, 0.0), LAMP)


def _barrel(axis, count=16):
    """A lamp barrel along w: the rim slants, so that the hood above reaches out and the underside draws back."""
    rows = [
        (-0.024, 0.015, 0), (-0.022, 0.020, 0), (-0.012, 0.0225, 0), (-0.010, 0.0245, 0), (0.012, 0.0245, 0), (0.014, 0.0265, 0),
        (0.026, 0.0268, 0.34), (0.028, 0.0255, 0.34), (0.027, 0.0235, 0.34), (0.020, 0.0222, 0),
    ]
    rings = []
    for s, radius, slant in rows:
        outline = radius * circle(count)
        rings.append(ring(outline, axis, s) + slant * outline[:, 1:] * axis.w)
    return loft(rings)


# ---- hose -----------------------------------------------------------------------------------------------------


def hose(m, plan):
    """The mooring hose: twelve ribs, a joint in the fold before each, and a coupling at the end."""
    count, total = 12, HOSE_RIBS * HOSE_STEPS
    shape = circle(count)
    rings = [ring(shape * _hose_radius(k), plan.places[f"hose_ring_{k:02}"]) for k in range(total + 1)]
    joints = tuple(f"centre_hose_{k + 1:02}_joint" for k in range(HOSE_RIBS))
    rows = np.array([_hose_weights(k) for k in range(total + 1)])
    weights = np.concatenate([np.repeat(rows, count, axis=0), rows[[0, -1]]])
    folds = {f"hose_{k + 1:02}": np.arange(count) + k * HOSE_STEPS * count for k in range(HOSE_RIBS)}
    folds["hose_end"] = np.arange(count) + total * count
    yield Part("hose", loft(rings), joints, weights, "hose", SLATE, True), folds
    grip = [(-0.003, 0.022), (0.010, 0.024), (0.012, 0.019), (0.030, 0.019)]
    nozzle = [*grip, (0.032, 0.024), (0.039, 0.0235), (0.041, 0.019), (0.034, 0.014)]
    yield hard("hose_coupling", joints[-1], turned(nozzle, plan.places[f"hose_ring_{total:02}"], 16, 0.0), BRASS)


def _hose_radius(k):
    taper = 1.0 - 0.16 * k / (HOSE_RIBS * HOSE_STEPS)
    return taper * (0.0185 + 0.0075 * abs(sin(pi * k / HOSE_STEPS)))


def _hose_weights(k):
    """The weights of ring k: each joint carries its rib, and shares the fold before it half and half."""
    row, rib = np.zeros(HOSE_RIBS), min(k // HOSE_STEPS, HOSE_RIBS - 1)
    row[rib] = 1.0
    if k % HOSE_STEPS == 0 and 0 < k < HOSE_RIBS * HOSE_STEPS:
        row[rib - 1 : rib + 1] = 0.5
    return row
