"""Checkpoint 06.3: a pole point that moves nothing when the solver is switched on.

Every point of the half-plane that begins at the root-end line and holds the mid
joint is right. What is measured is how far the bones turn, so each of them passes.
The limbs stand at an angle to all axes: a step straight back or forward fails.
"""

import numpy as np

from rigkit import limb as limbs
from rigkit.course import forms
from rigkit.course.chapters.chapter_06_limbs import ARM, LEG, LIMB, limb, square, unit
from rigkit.course.chapters.chapter_06_show import show_poles
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import millimetres

TURN = 0.1  # degrees a bone may turn when the solver is switched on
SLIP = 1.0  # degrees the elbow may swing for a slip of 1 mm of the pole point


def turn_when_on(rest, pole):
    """The largest turn of a bone, in degrees, when the solver is switched on with the target on the end itself."""
    root, mid, end = rest
    s = limbs.solve(root, mid, end, end, pole)
    pairs = ((mid - root, s.mid - root), (end - mid, s.end - s.mid))
    return max(float(np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b))) for a, b in pairs)


def off_the_line(rest, point):
    """The distance of a point from the line through root and end, metres."""
    return float(np.linalg.norm(square(point - rest[0], unit(rest[2] - rest[0]))))


def off_the_plane(rest, point):
    """The angle, in degrees, between the pole point's side and the bend's side of the root-end line."""
    side = unit(square(point - rest[0], unit(rest[2] - rest[0])))
    return float(np.degrees(np.arccos(np.clip(side @ bend_side(*rest), -1, 1))))


def rest_of(context, name):
    """Root, mid and end of the limb that "arm_pole" or "leg_pole" is for, in the stance handed out."""
    return tuple(np.asarray(context.given[name.removesuffix("_pole")], float))


def unmoved(name):
    """The claim's measure for one pole point and one limb."""

    def measure(case, answer, context):
        rest = rest_of(context, name)
        off = off_the_line(rest, answer[name])
        if off < 0.001:
            return Measure(
                False,
                f"{name} at least 1 mm off the line from root to end of the limb",
                f"{millimetres(off, 3)} off it: it picks no side",
                180.0,
                "the pole point lies on the line from root to end, where it picks no side",
            )
        turn = turn_when_on(rest, answer[name])
        return Measure(
            turn < TURN,
            f"no bone turns by more than {TURN} degrees when the solver is switched on",
            f"a bone turns by {turn:.3f} degrees",
            turn,
            f"seen along the line, the pole point is {off_the_plane(rest, answer[name]):.1f} degrees away from the bend's side",
        )

    return measure


def steady(case, answer, context):
    """Both pole points are so far from their lines that a slip of 1 mm swings the elbow by less than a degree."""
    swings = {
        name: float(np.degrees(np.arctan2(0.001, off_the_line(rest_of(context, name), answer[name])))) for name in ("arm_pole", "leg_pole")
    }
    name = max(swings, key=swings.get)
    off = off_the_line(rest_of(context, name), answer[name])
    return Measure(
        swings[name] < SLIP,
        f"less than {SLIP:g} degree of swing for a slip of 1 mm of the pole point",
        f"{swings[name]:.2f} degrees: {name} is only {millimetres(off)} off its line",
        swings[name],
    )


def poles(place):
    """Return the answer of 06.3 as a function of the context, from place(root, mid, end) -> pole point."""
    return lambda context: {name: place(*rest_of(context, name)) for name in ("arm_pole", "leg_pole")}


def at_rest(arm, leg):
    """The same from the limbs of the rest pose, which are others: arm(root, mid, end), leg(root, mid, end) -> pole point."""
    return lambda context: {"arm_pole": arm(*limb(context.robot, *ARM)), "leg_pole": leg(*limb(context.robot, *LEG))}


def along_z(context):
    """From the joint straight back or forward: right for a bend along Z only."""
    return {"arm_pole": rest_of(context, "arm_pole")[1] - [0, 0, 0.3], "leg_pole": rest_of(context, "leg_pole")[1] + [0, 0, 0.3]}

def bend_side(root, mid, end):
    """The unit vector from the root-end line to the middle joint."""
    return unit(square(mid - root, unit(end - root)))


CHECKPOINT = Checkpoint(
    id="06.3",
    title="A pole point that moves nothing",
    kind="value",
    names={"arm_pole": forms.point(), "leg_pole": forms.point()},
    claims=(
        Claim(
            "arm",
            "switched on, the left arm stays as it is",
            2,
            unmoved("arm_pole"),
            "0.1 degree",
            ("arm_pole",),
            "idea 3, the half-plane",
            settable=True,
        ),
        Claim(
            "leg",
            "switched on, the left leg stays as it is",
            2,
            unmoved("leg_pole"),
            "0.1 degree",
            ("leg_pole",),
            "idea 3, the half-plane",
            settable=True,
        ),
        Claim(
            "steady",
            "a slip of 1 mm of either pole point swings its joint by less than 1 degree",
            1,
            steady,
            "1 degree",
            (),
            "idea 3, the half-plane",
        ),
    ),
    worked=poles(lambda root, mid, end: mid + 0.3 * bend_side(root, mid, end)),
    mistakes=(
        Mistake(
            "off the plane",
            poles(
                lambda root, mid, end: mid + 0.3 * bend_side(root, mid, end) + 0.1 * np.cross(unit(end - root), bend_side(root, mid, end))
            ),
            "the pole point lies off the bend plane, so the limb swings round to it",
            ("arm", "leg"),
            "idea 3, the half-plane",
        ),
        Mistake(
            "other side",
            poles(lambda root, mid, end: mid - 0.3 * bend_side(root, mid, end)),
            "the pole point is on the far side of the line: the limb turns over by 180 degrees",
            ("arm", "leg"),
            "idea 3, the half-plane",
        ),
        Mistake(
            "a direction",
            poles(lambda root, mid, end: 0.3 * bend_side(root, mid, end)),
            "this is a direction from the elbow, not a point: the elbow's own position was not added",
            ("arm", "leg"),
            "idea 3, the half-plane",
        ),
        Mistake(
            "beside the elbow",
            poles(lambda root, mid, end: mid + np.array([0.3, 0, 0])),
            "a step along the world's X: this bend plane lies at an angle to the axes",
            ("arm", "leg"),
            "idea 3, the half-plane",
        ),
        Mistake(
            "straight back and forward",
            along_z,
            "a step along the world's Z: this bend plane lies at an angle to the axes",
            ("arm", "leg"),
            "idea 3, the half-plane",
        ),
        Mistake(
            "behind the arm at rest",
            at_rest(lambda root, mid, end: mid + np.array([0, 0, -0.3]), lambda root, mid, end: mid + np.array([0, 0, 0.3])),
            "this is beside the limb of the rest pose; the limb in this stance has another bend plane",
            ("arm", "leg"),
            "idea 3, the half-plane",
        ),
        Mistake(
            "half-plane of the rest pose",
            at_rest(
                lambda root, mid, end: mid + 0.3 * bend_side(root, mid, end), lambda root, mid, end: mid + 0.3 * bend_side(root, mid, end)
            ),
            "this is the half-plane of the rest pose; the limb in this stance has another one",
            ("arm", "leg"),
            "idea 3, the half-plane",
        ),
        Mistake(
            "the joint itself",
            poles(lambda root, mid, end: mid),
            "the joint itself is in the half-plane, but so near the line that a small slip swings the limb far",
            ("steady",),
            "idea 3, the half-plane",
        ),
        Mistake(
            "towards the wrist",
            poles(lambda root, mid, end: end + 0.3 * unit(end - root)),
            "the pole point lies on the line from root to end, where it picks no side",
            ("arm", "leg", "steady"),
            "idea 3, the half-plane",
        ),
    ),
    hint="Take the vector from the shoulder to the elbow. Take its part along the shoulder-wrist line off it. What is "
    "left points to the bend's side: "
    "go from the elbow a good way along it. Then the same for hip, knee and ankle.",
    closed=LIMB,
    show=show_poles,
)
