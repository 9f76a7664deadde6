"""Checkpoint 01.1: a model as it was delivered, and what must be measured before any joint goes in.

The file's numbers are centimetres, its up is the third axis, and the robot
stands somewhere, turned by some angle. Everything that brings it home can be
measured: the unit from one length that is known, the height from the highest
and the lowest point, the facing from a part that sits in front of another, the
plane of symmetry from a pair of parts.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import millimetres

UNIT = 0.01  # metres in one unit of the file
UP_FIRST = "divided too early: take the up out first, then divide by the length that is left"
IN_METRES = "the point is in metres; the plane is asked for in the file's units"
ANGLE_TOLERANCE = np.radians(0.5)
LENS = "left_eye_lens"  # the part whose height the delivery note states


def placing(variant):
    """How this variant was delivered: (R, t), a turn (3, 3) and a shift (3,) from metres in the course's axes to the file's units.

    The course's up (+Y) becomes the file's third axis; then the robot is turned about it and set down off the origin.
    """
    rng = np.random.default_rng([1, 1, variant])
    angle = np.radians(rng.uniform(25, 65)) * rng.choice([-1, 1]) + np.pi * rng.choice([0, 1])
    c, s = np.cos(angle), np.sin(angle)
    upright = np.array([[1.0, 0, 0], [0, 0, -1.0], [0, 1.0, 0]])  # x, y, z -> x, -z, y
    turn = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]]) @ upright
    shift = np.array([rng.uniform(80, 180) * rng.choice([-1, 1]), rng.uniform(60, 110), rng.uniform(8, 30)])
    return turn, shift.round(2)


def delivered(robot, variant):
    """The model as it came: part name to points (V, 3) in the file's axes and units."""
    turn, shift = placing(variant)
    return {part.name: part.mesh.vertices @ turn.T / UNIT + shift for part in robot.parts}


def lens_height(robot):
    """The known length of the delivery note, metres: one eye lens from its lowest to its highest point."""
    return float(np.ptp(robot.part(LENS).mesh.vertices[:, 1]))


def right(context):
    """The right values, in the file's axes and units where they are points or directions."""
    turn, shift = placing(context.variant)
    tops = np.concatenate([part.mesh.vertices[:, 1] for part in context.robot.parts])
    return {
        "metres_per_unit": UNIT,
        "height": float(tops.max() - tops.min()),
        "facing": turn @ [0.0, 0.0, 1.0],
        "plane_point": shift + turn @ [0.0, 0.5, 0.0] / UNIT,
        "plane_normal": turn @ [1.0, 0.0, 0.0],
    }


def metres(length):
    """A length in metres as a person reads it, large ones in full.

    >>> metres(1.1853), metres(11853.4), metres(3e9)
    ('1.185 m', '11 853 m', '3e+09 m')
    """
    return f"{length:,.0f} m".replace(",", " ") if 1000 <= abs(length) < 1e7 else f"{length:.4g} m"


# --- measures ---------------------------------------------------------------------------------------------------------


def measure_unit(case, answer, context):
    """The unit, as a factor."""
    got = answer["metres_per_unit"]
    gap = abs(got / UNIT - 1)
    height = right(context)["height"] / UNIT * got
    proves = "the file's numbers were taken for metres" if got == 1 else ""
    return Measure(gap <= 1e-3, "one file unit in metres, within 0.1 %", f"{got:g}: the robot would be {metres(height)} tall", gap, proves)


def measure_height(case, answer, context):
    """The height, metres."""
    expected, got = right(context)["height"], answer["height"]
    gap = abs(got - expected)
    proves = "this is in the file's units, not in metres" if abs(got - expected / UNIT) < 1e-3 / UNIT else ""
    off = millimetres(gap) if gap < 1 else metres(gap)
    return Measure(gap <= 1e-3, "sole to the highest point, within 1 mm", f"{metres(got)}, off by {off}", gap, proves)


def measure_facing(case, answer, context):
    """The angle between the facing given and the right one."""
    expected, got = right(context)["facing"], answer["facing"]
    length = float(np.linalg.norm(got))
    if abs(length - 1) > 1e-3:
        return Measure(
            False,
            "a direction of length 1",
            f"a vector of length {length:.4g}",
            np.pi,
            UP_FIRST if 0 < length < 1 and abs(got[2]) < 1e-9 else "not divided by its length" if length else "a zero vector",
        )
    got = got / length
    angle = float(np.arctan2(np.linalg.norm(np.cross(got, expected)), got @ expected))
    proves = ""
    if angle > ANGLE_TOLERANCE:
        if angle > np.pi - ANGLE_TOLERANCE:
            proves = "this points out of the back"
        elif abs(got[2]) > np.sin(ANGLE_TOLERANCE):
            way, lean = "rises" if got[2] > 0 else "falls", np.degrees(np.arcsin(abs(got[2])))
            proves = f"not level: it {way} by {lean:.1f} degrees; up is the file's third number"
        elif abs(got @ expected) < np.sin(ANGLE_TOLERANCE):
            proves = "this points out of the side"
    return Measure(
        angle <= ANGLE_TOLERANCE, "the way it looks, level, within 0.5 degree", f"{np.degrees(angle):.1f} degrees off", np.degrees(angle), proves
    )


def measure_plane(case, answer, context):
    """A property: the mirror image of every point of the model lies on a point of the model (its other side, within 0.1 mm)."""
    point, normal = answer["plane_point"], answer["plane_normal"]
    length = float(np.linalg.norm(normal))
    if not length:
        return Measure(False, "a normal that is not zero", "a normal of length 0", np.inf)
    turn, shift = placing(context.variant)
    in_metres = abs((point / UNIT - shift) @ normal / length) * UNIT < 1e-4
    normal = turn.T @ (normal / length)  # back to metres in the course's axes, where the model is symmetric about x = 0
    point = turn.T @ (point - shift) * UNIT
    points = np.concatenate([part.mesh.vertices for part in context.robot.parts])
    image = points - 2 * ((points - point) @ normal)[:, None] * normal
    gap = float(np.linalg.norm(image - points * [-1, 1, 1], axis=1).max())
    angle, distance = float(np.degrees(np.arccos(min(abs(normal[0]), 1.0)))), abs(float(point @ normal))
    proves = ""
    if gap > 1e-4:
        if angle < 0.01:
            proves = IN_METRES if in_metres else f"the normal is right; the point lies {millimetres(distance)} beside the plane"
        elif abs(normal[2]) > np.cos(ANGLE_TOLERANCE):
            proves = "this plane parts front from back"
        elif abs(normal[1]) > np.cos(ANGLE_TOLERANCE):
            proves = "this plane parts top from bottom"
    off = millimetres(gap) if gap < 1 else f"{gap:.1f} m"
    return Measure(gap <= 1e-4, "each point's mirror image on its partner, within 0.1 mm", f"the farthest lands {off} away", gap, proves)


# --- worked answer and mistakes ---------------------------------------------------------------------------------------


def worked(context):
    """The worked answer: every value measured on the delivered parts."""
    parts, known = context.given["delivered"], context.given["lens_height"]
    middle = {name: points.mean(axis=0) for name, points in parts.items()}
    unit = known / np.ptp(parts[LENS][:, 2])
    heights = np.concatenate([points[:, 2] for points in parts.values()])
    lenses = (middle["left_eye_lens"] + middle["right_eye_lens"]) / 2
    facing = lenses - middle["body_drum"]
    facing = np.array([facing[0], facing[1], 0.0])
    side = middle["left_eye_lens"] - middle["right_eye_lens"]
    return {
        "metres_per_unit": float(unit),
        "height": float((heights.max() - heights.min()) * unit),
        "facing": facing / np.linalg.norm(facing),
        "plane_point": lenses,
        "plane_normal": side / np.linalg.norm(side),
    }


def but(**changes):
    """A planned mistake: the worked answer with some values changed by functions of (answer, context)."""

    def answer(context):
        good = worked(context)
        return {**good, **{name: change(good, context) for name, change in changes.items()}}

    return answer


def means(context):
    """The plain mean of each delivered part."""
    return {name: points.mean(axis=0) for name, points in context.given["delivered"].items()}


def tilted_facing(good, context):
    """From the middle of the drum up to the lenses, not laid level."""
    middle = means(context)
    v = (middle["left_eye_lens"] + middle["right_eye_lens"]) / 2 - middle["body_drum"]
    return v / np.linalg.norm(v)


def too_early(good, context):
    """Divided by its length while the up was still in it."""
    return tilted_facing(good, context) * [1, 1, 0]


def wrong_number_out(good, context):
    """The second number set to 0, as if it were the up of the file too."""
    v = tilted_facing(good, context) * [1, 0, 1]
    return v / np.linalg.norm(v)


def undivided(good, context):
    """Level, but as long as the way is."""
    middle = means(context)
    return ((middle["left_eye_lens"] + middle["right_eye_lens"]) / 2 - middle["body_drum"]) * [1, 1, 0]


def highest(context):
    """The highest point of all, in the file's units."""
    return float(max(points[:, 2].max() for points in context.given["delivered"].values()))


def middle_to_middle(good, context):
    """From the mean of the heel blocks to the mean of the lantern."""
    middle = means(context)
    return float(middle["head_lantern"][2] - middle["left_heel_block"][2]) * good["metres_per_unit"]


DELIVERED = Checkpoint(
    id="01.1",
    title="Take the model in",
    kind="value",
    names={
        "metres_per_unit": forms.number(),
        "height": forms.number(),
        "facing": forms.point(),
        "plane_point": forms.point(),
        "plane_normal": forms.point(),
    },
    claims=(
        Claim("unit", "how many metres one unit of the file is", 1, measure_unit, "0.1 %", ("metres_per_unit",), "step 1c"),
        Claim("height", "how tall the robot is, in metres", 1, measure_height, "1 mm", ("height",), "step 1d", settable=True),
        Claim("facing", "which way it faces, in the file's axes", 1, measure_facing, "0.5 degree", ("facing",), "step 1e", settable=True),
        Claim(
            "plane",
            "mirrored over your plane, the model lands on itself",
            2,
            measure_plane,
            "0.1 mm",
            ("plane_point", "plane_normal"),
            "step 1f",
            settable=True,
        ),
    ),
    worked=worked,
    hint="Each value is one subtraction. Unit: the known height of a lens divided by its height in the file. "
    "Height: highest minus lowest, times the unit. Facing: lenses minus drum, third number set to 0, divided by its length. "
    "Plane: between two parts that are each other's mirror image.",
    mistakes=(
        Mistake(
            "centimetres for metres",
            but(metres_per_unit=lambda g, c: 1.0, height=lambda g, c: g["height"] / UNIT),
            "centimetres were taken for metres: a robot as tall as a church tower",
            ("unit", "height"),
            "step 1c",
        ),
        Mistake(
            "millimetres",
            but(metres_per_unit=lambda g, c: 0.001, height=lambda g, c: g["height"] / 10),
            "millimetres were assumed, not measured: a robot as tall as a hand",
            ("unit", "height"),
            "step 1c",
        ),
        Mistake(
            "upside down",
            but(metres_per_unit=lambda g, c: 1 / g["metres_per_unit"]),
            "the division is upside down: these are units in a metre",
            ("unit",),
            "step 1c",
        ),
        Mistake(
            "height in units",
            but(height=lambda g, c: g["height"] / UNIT),
            "the height is still in the file's units",
            ("height",),
            "step 1d",
        ),
        Mistake(
            "middle to middle",
            but(height=middle_to_middle),
            "from the middle of the heel to the middle of the head, not from sole to top",
            ("height",),
            "step 1d",
        ),
        Mistake(
            "highest alone",
            but(height=lambda g, c: highest(c) * g["metres_per_unit"]),
            "this is the highest point alone; the sole does not lie at 0: take the lowest away",
            ("height",),
            "step 1d",
        ),
        Mistake(
            "highest alone in units",
            but(height=lambda g, c: highest(c)),
            "this is the highest point alone, in the file's units: take the lowest away, then go to metres",
            ("height",),
            "step 1d",
        ),
        Mistake(
            "back to front",
            but(facing=lambda g, c: -g["facing"]),
            "the facing points out of the back: end minus start",
            ("facing",),
            "step 1e",
        ),
        Mistake(
            "sideways",
            but(facing=lambda g, c: g["plane_normal"]),
            "from lens to lens: that is its side, not its front",
            ("facing",),
            "step 1e",
        ),
        Mistake("not level", but(facing=tilted_facing), "the head is above the drum: the way up must be taken out", ("facing",), "step 1e"),
        Mistake("divided too early", but(facing=too_early), UP_FIRST, ("facing",), "step 1e"),
        Mistake("not divided", but(facing=undivided), "level, but not divided by its length", ("facing",), "step 1e"),
        Mistake(
            "wrong number out",
            but(facing=wrong_number_out),
            "the second number was set to 0; in this file up is the third number",
            ("facing",),
            "step 1e",
        ),
        Mistake(
            "assumed",
            but(facing=lambda g, c: np.array([0.0, 0.0, 1.0])),
            "the course's +Z was assumed; in this file that is up",
            ("facing",),
            "step 1e",
        ),
        Mistake(
            "plane through the origin",
            but(plane_point=lambda g, c: np.zeros(3)),
            "the plane goes through the file's origin, where the robot isn't",
            ("plane",),
            "step 1f",
        ),
        Mistake(
            "plane in metres",
            but(plane_point=lambda g, c: g["plane_point"] * g["metres_per_unit"]),
            IN_METRES,
            ("plane",),
            "step 1f",
        ),
        Mistake(
            "plane at one lens",
            but(plane_point=lambda g, c: means(c)["left_eye_lens"]),
            "the plane goes through the left lens, not half-way between the two",
            ("plane",),
            "step 1f",
        ),
        Mistake(
            "front from back",
            but(plane_normal=lambda g, c: g["facing"]),
            "the facing was taken for the plane's normal: that parts front from back",
            ("plane",),
            "step 1f",
        ),
        Mistake(
            "file's x",
            but(plane_normal=lambda g, c: np.array([1.0, 0.0, 0.0])),
            "the file's x axis was assumed to be the side; the robot is turned",
            ("plane",),
            "step 1f",
        ),
    ),
)
