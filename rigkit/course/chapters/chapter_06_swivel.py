"""Checkpoint 06.5: the swivel angle, read off a limb and set on it.

With root and end held, the elbow can only go round a circle about the line
between them. One number says where it is: the angle from a reference direction
made square to the line, right-hand about the direction from root to end
(Tolani, Goswami & Badler, Graphical Models 62 (2000) 353-388).
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_06_limbs import LIMB, directions, limb, square, unit
from rigkit.course.chapters.chapter_06_solver import CLOSE, which_bone, worst
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.words import point, told_length

ARGUMENTS = ("root", "mid", "end", "reference", "angle")


def frame(inputs):
    """Circle centre, radius, and the two directions u (reference, made square) and v = n x u, of one case's inputs."""
    root, mid, end, reference = (np.asarray(inputs[name], float) for name in ARGUMENTS[:4])
    n = unit(end - root)
    u = unit(square(reference, n))
    centre = root + ((mid - root) @ n) * n
    return centre, float(np.linalg.norm(mid - centre)), u, np.cross(n, u)


def reading(inputs, elbow):
    """The swivel angle at which `elbow` stands, radians."""
    centre, _, u, v = frame(inputs)
    return float(np.arctan2((elbow - centre) @ v, (elbow - centre) @ u))


def apart(a, b):
    """The size of the turn between two angles, radians, at most pi."""
    return abs((a - b + np.pi) % (2 * np.pi) - np.pi)


def in_degrees(radians):
    """An angle as a person reads it, with digits enough to show a small gap."""
    return f"{np.degrees(radians):.4f} degrees"


# ---- the claims ------------------------------------------------------------------------------------------------


def angle_read(case, answer, context):
    """The first value is the swivel angle of the elbow as given."""
    right = reading(case.inputs, np.asarray(case.inputs["mid"], float))
    off = apart(answer[0], right)
    return Measure(
        off <= CLOSE,
        f"now = {right:.6f} rad ({in_degrees(right)})",
        f"now = {answer[0]:.6f} rad   ({in_degrees(off)} off; tolerance 1e-6 rad)",
        off,
    )


def angle_set(case, answer, context):
    """The new elbow stands at the swivel angle asked for."""
    off = apart(reading(case.inputs, answer[1]), case.inputs["angle"])
    return Measure(
        off <= CLOSE,
        f"new elbow at a swivel angle of {in_degrees(case.inputs['angle'])}",
        f"it stands at {in_degrees(reading(case.inputs, answer[1]))}   ({in_degrees(off)} off; tolerance 1e-6 rad)",
        off,
    )


def lengths_kept(case, answer, context):
    """Both bones keep their length."""
    root, mid, end = (np.asarray(case.inputs[name], float) for name in ARGUMENTS[:3])
    right = np.array([np.linalg.norm(mid - root), np.linalg.norm(end - mid)])
    got = np.array([np.linalg.norm(answer[1] - root), np.linalg.norm(end - answer[1])])
    off = worst(got - right)
    return Measure(
        off <= CLOSE,
        f"upper bone {right[0]:.6f} m, lower bone {right[1]:.6f} m",
        f"{which_bone(got, right)}   (tolerance 1e-6 m)",
        off,
    )


def stays(case, answer, context):
    """The elbow stays where it is."""
    off = worst(np.linalg.norm(answer[1] - case.inputs["mid"]))
    return Measure(
        off <= CLOSE,
        f"new elbow where the old one is, {point(case.inputs['mid'], 4)}",
        f"new elbow at {point(answer[1], 4)}   ({told_length(off)} away; tolerance 1e-6 m)",
        off,
    )


def bent(case):
    """Whether the limb is bent, so that it has a swivel angle."""
    return frame(case.inputs)[1] > 1e-9


def unmoved(case):
    """Whether the elbow must stay: it is straight, or asked for the angle that it has."""
    return not bent(case) or apart(reading(case.inputs, case.inputs["mid"]), case.inputs["angle"]) < 1e-12


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """A 3-4-5 triangle that a hand can check, Tally's limbs bent at random, the angle it has, a straight limb."""
    limbs = {side: limb(context.robot, f"{side}_shoulder", f"{side}_elbow", f"{side}_wrist") for side in ("left", "right")}
    leg = limb(context.robot, "left_hip", "left_knee", "left_ankle")
    straight = (limbs["left"][0], limbs["left"][0] + [0, 0, 0.2], limbs["left"][0] + [0, 0, 0.35])
    plain = tuple(np.array(p) for p in ([0, 1.0, 0], [0.24, 0.82, 0], [0, 0.5, 0]))
    return [
        make("3-4-5 triangle, reference forward", plain, np.array([0, 0, 1.0]), np.radians(30)),
        bend("left arm", limbs["left"], rng),
        bend("right arm", limbs["right"], rng),
        bend("left leg", leg, rng),
        bend("left arm, a negative angle to read", limbs["left"], rng, now=-2.0),
        bend("left arm, more than half a turn asked for", limbs["left"], rng, angle=3.6),
        bend("left leg, asked for the angle it has", leg, rng, now=1.1, angle=1.1, exact=True),
        bend("right arm, asked for the angle it has", limbs["right"], rng, now=-0.7, angle=-0.7, exact=True),
        make("straight limb", straight, np.array([0, -1.0, 0.3]), 0.8),
    ]


def make(about, points, reference, angle):
    """A Case with its five inputs."""
    return Case(
        about,
        dict(zip(ARGUMENTS, (*(np.array(p, float) for p in points), np.array(reference, float), float(angle)))),
        tell=("mid", "reference", "angle"),
    )


def bend(about, rest, rng, now=None, angle=None, exact=False):
    """A case: the limb of these bone lengths, bent at random with a swivel angle `now`, asked for `angle`.

    The reference is never along the line, never square to it, and neither it nor its part square to the line has length 1.
    """
    upper, lower = np.linalg.norm(np.diff(rest, axis=0), axis=1)
    n, u = directions(rng)
    distance = rng.uniform(0.5, 0.95) * (upper + lower)
    now = rng.uniform(-3, 3) if now is None else now
    angle = rng.uniform(-3, 3) if angle is None else angle
    along = (upper**2 + distance**2 - lower**2) / (2 * distance)
    elbow = rest[0] + along * n + np.sqrt(upper**2 - along**2) * (np.cos(now) * u + np.sin(now) * np.cross(n, u))
    reference = rng.choice([0.3, 0.5, 2.0, 3.0]) * (u + rng.choice([-1.0, 1.0]) * rng.uniform(0.5, 1.2) * n)
    made = make(about, (rest[0], elbow, rest[0] + distance * n), reference, angle)
    return make(about, (rest[0], elbow, rest[0] + distance * n), reference, reading(made.inputs, made.inputs["mid"])) if exact else made


# ---- the worked answer and the planned mistakes ----------------------------------------------------------------


def swivel(root, mid, end, reference, angle):
    """The worked answer."""
    n = unit(end - root)
    u = unit(square(reference, n))
    v = np.cross(n, u)
    centre = root + ((mid - root) @ n) * n
    now = np.arctan2((mid - centre) @ v, (mid - centre) @ u)
    radius = np.linalg.norm(mid - centre)
    return float(now), centre + radius * (np.cos(angle) * u + np.sin(angle) * v)


def other_way_round(root, mid, end, reference, angle):
    """Left-hand about the line, or right-hand about the direction from end to root."""
    now, _ = swivel(root, mid, end, reference, angle)
    return -now, swivel(root, mid, end, reference, -angle)[1]


def reference_not_square(root, mid, end, reference, angle):
    """The reference keeps its part along the line."""
    n, u = unit(end - root), unit(reference)
    v = np.cross(n, u)
    offset = square(mid - root, n)
    return float(np.arctan2(offset @ v, offset @ u)), mid - offset + np.linalg.norm(offset) * (np.cos(angle) * u + np.sin(angle) * v)


def reference_not_of_length_1(root, mid, end, reference, angle):
    """The reference is made square to the line, and keeps its length."""
    n = unit(end - root)
    u, offset = square(reference, n), square(mid - root, n)
    v = np.cross(n, u)
    return float(np.arctan2(offset @ v, offset @ u)), mid - offset + np.linalg.norm(offset) * (np.cos(angle) * u + np.sin(angle) * v)


def by_arccos(root, mid, end, reference, angle):
    """arccos of the dot product never gives a negative angle."""
    now, elbow = swivel(root, mid, end, reference, angle)
    return abs(now), elbow


def now_in_degrees(root, mid, end, reference, angle):
    """The angle is read in degrees."""
    now, elbow = swivel(root, mid, end, reference, angle)
    return float(np.degrees(now)), elbow


def about(centre_of, radius_of):
    """A swivel whose circle has another centre or another radius; its frame is right, and so is the angle it reads."""

    def answer(root, mid, end, reference, angle):
        centre, radius, u, v = frame(dict(zip(ARGUMENTS, (root, mid, end, reference))))
        put = centre_of(root, end, centre)
        return swivel(root, mid, end, reference, angle)[0], put + radius_of(root, mid, put, radius) * (np.cos(angle) * u + np.sin(angle) * v)

    return answer


def added_to_now(root, mid, end, reference, angle):
    """The elbow is turned on by the angle, instead of to it."""
    now, _ = swivel(root, mid, end, reference, angle)
    return now, swivel(root, mid, end, reference, now + angle)[1]


def arctan2_swapped(root, mid, end, reference, angle):
    """np.arctan2(part along u, part along v)."""
    now, elbow = swivel(root, mid, end, reference, angle)
    return float(np.arctan2(np.cos(now), np.sin(now))), elbow


def angle_as_degrees(root, mid, end, reference, angle):
    """The angle asked for is taken for degrees."""
    return swivel(root, mid, end, reference, np.radians(angle))


def radius_left_out(root, mid, end, reference, angle):
    """The circle has a radius of 1 m."""
    now, _ = swivel(root, mid, end, reference, angle)
    n = unit(end - root)
    u = unit(square(reference, n))
    return now, root + ((mid - root) @ n) * n + np.cos(angle) * u + np.sin(angle) * np.cross(n, u)


def reference_fixed(root, mid, end, reference, angle):
    """The worked step's own reference, the world's +X, in place of the one handed in."""
    n, x = unit(end - root), np.array([1.0, 0, 0])
    return swivel(root, mid, end, x if unit(square(x, n)) is not None else reference, angle)


def reference_as_point(root, mid, end, reference, angle):
    """The root is taken off the reference, as if it were a point."""
    return swivel(root, mid, end, reference - root, angle)


MISTAKES = (
    Mistake(
        "other way round",
        other_way_round,
        "the sign is flipped: v is n x u with n from root to end, in this order",
        ("read", "set", "stays"),
        "idea 3, the swivel angle",
    ),
    Mistake(
        "reference not square",
        reference_not_square,
        "the reference keeps its part along the line, so the elbow leaves its circle",
        ("lengths", "stays"),
        "idea 3, the swivel angle",
    ),
    Mistake(
        "arccos",
        by_arccos,
        "arccos gives no sign: -40 degrees reads as 40. Use arctan2 with v and u",
        ("read",),
        "idea 3, the swivel angle",
    ),
    Mistake("degrees", now_in_degrees, "the angle is in degrees; code uses radians here", ("read",), "the convention strip"),
    Mistake(
        "reference not at length 1",
        reference_not_of_length_1,
        "the reference was made square to the line, but not brought to length 1",
        ("lengths", "stays"),
        "idea 3, the swivel angle",
    ),
    Mistake(
        "circle half way",
        about(lambda root, end, centre: (root + end) / 2, lambda root, mid, put, radius: radius),
        "the circle's centre is put half way between root and end: right for bones of equal length only",
        ("lengths", "stays"),
        "idea 3, the swivel angle",
    ),
    Mistake(
        "circle half way, its radius from there",
        about(lambda root, end, centre: (root + end) / 2, lambda root, mid, put, radius: np.linalg.norm(mid - put)),
        "the circle's centre is put half way between root and end: right for bones of equal length only",
        ("lengths", "stays"),
        "idea 3, the swivel angle",
    ),
    Mistake(
        "circle about the root",
        about(lambda root, end, centre: root, lambda root, mid, put, radius: np.linalg.norm(mid - put)),
        "the circle is put about the root; its centre is the foot of the elbow on the line",
        ("lengths", "stays"),
        "idea 3, the swivel angle",
    ),
    Mistake(
        "upper bone for the radius",
        about(lambda root, end, centre: centre, lambda root, mid, put, radius: np.linalg.norm(mid - root)),
        "the upper bone is taken for the radius: that is the elbow's distance from the centre",
        ("lengths", "stays"),
        "idea 3, the swivel angle",
    ),
    Mistake(
        "added to now",
        added_to_now,
        "the elbow is turned on by the angle; it should stand at the angle",
        ("set", "stays"),
        "idea 3, the swivel angle",
    ),
    Mistake(
        "arctan2 swapped",
        arctan2_swapped,
        "the two parts are swapped: np.arctan2(part along v, part along u), the sine first",
        ("read",),
        "idea 3, the swivel angle",
    ),
    Mistake(
        "angle taken for degrees",
        angle_as_degrees,
        "the angle asked for is in radians already; it was turned into radians once more",
        ("set", "stays"),
        "the convention strip",
    ),
    Mistake(
        "radius left out",
        radius_left_out,
        "the circle's radius is missing: the elbow is put 1 m from the centre",
        ("lengths", "stays"),
        "idea 3, the swivel angle",
    ),
    Mistake(
        "fixed reference",
        reference_fixed,
        "the zero is the world's +X, as in the worked step: use the reference that is handed in",
        ("read", "set"),
        "idea 3, the swivel angle",
    ),
    Mistake(
        "reference as a point",
        reference_as_point,
        "the root was taken off the reference: it is a direction, not a point",
        ("read", "set", "stays"),
        "idea 3, the swivel angle",
    ),
)

CHECKPOINT = Checkpoint(
    id="06.5",
    title="The swivel angle, read and set",
    kind="function",
    names={"swivel": forms.several(forms.number(), forms.point())},
    claims=(
        Claim(
            "read",
            "now is the swivel angle of the elbow as given",
            2,
            angle_read,
            "1e-6 rad",
            look_at="idea 3, the swivel angle",
            applies=bent,
        ),
        Claim(
            "set", "the new elbow stands at the angle asked for", 1, angle_set, "1e-6 rad", look_at="idea 3, the swivel angle", applies=bent
        ),
        Claim("lengths", "the new elbow keeps both bone lengths", 1, lengths_kept, "1e-6 m", look_at="idea 3, the swivel angle", applies=bent),
        Claim(
            "stays",
            "asked for the angle it has, or straight: the elbow stays",
            1,
            stays,
            "1e-6 m",
            look_at="idea 3, the swivel angle",
            applies=unmoved,
        ),
    ),
    worked=swivel,
    hint="Everything happens in the circle's own frame: its centre, u (the reference without its part along the line, "
    "at length 1) and v = np.cross(n, u). "
    "np.arctan2(offset @ v, offset @ u) reads the angle; cos(angle) * u + sin(angle) * v is the direction that sets it.",
    mistakes=MISTAKES,
    cases=cases,
    closed=LIMB,
)
