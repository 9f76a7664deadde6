"""Checkpoint 03.6: a turn split into a swing and a twist about an axis, q = swing * twist.

The twist keeps the part of (x, y, z) along the axis, and w, at length 1; the swing
is what is left, q times the twist turned back. The swing's own axis is square to
the given one. Where the swing is a half turn both kept numbers are 0 and any twist
would do. Source: P. Dobrowolski, Swing-twist decomposition in Clifford algebra,
arXiv:1506.05481 (2015). All is measured for the turns, so that q or -q makes no difference.
"""

import numpy as np

from rigkit import rotation
from rigkit.course import forms
from rigkit.course.chapters.chapter_03_show import show_twist
from rigkit.course.chapters.chapter_03_turns import (
    CLOSE,
    NOTHING,
    TURNS,
    direction,
    in_degrees,
    inverse,
    product,
    quaternion,
    telling_quaternion,
    unit,
)
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake

TOGETHER, OWN_TWIST, SWING, HALF = "idea 3, which one first", "idea 3, the twist", "idea 3, the swing", "idea 3, a swing of half a turn"


def at_length_one(answer):
    """Swing and twist at length 1, and which of them has no length at all ("" if neither)."""
    sizes = [float(np.abs(part).max()) for part in answer]
    none = next((name for name, size in zip(("swing", "twist"), sizes) if size < NOTHING), "")
    return (*(answer if none else (unit(part / size) for part, size in zip(answer, sizes))), none)


def on_turns(measure):
    """The claim's measure with swing and twist at length 1: their length is a claim of its own."""

    def measured(case, answer, context):
        swing, twist, none = at_length_one(answer)
        if none:
            return Measure(False, "two quaternions of length 1", f"{none} has length 0: it is no turn", np.pi)
        return measure(case, swing, twist)

    return measured


# ---- the claims ------------------------------------------------------------------------------------------------


@on_turns
def together(case, swing, twist):
    """swing * twist is q."""
    gap = float(rotation.angle(rotation.multiply(swing, twist), case.inputs["q"]))
    return Measure(gap <= CLOSE, "swing * twist is the same turn as q", f"they are {in_degrees(gap)} apart   (tolerance 1e-6 rad)", gap)


@on_turns
def twist_about_axis(case, swing, twist):
    """The twist leaves the axis where it is."""
    axis = case.inputs["axis"]
    moved = rotation.rotate(twist, axis)
    gap = angle_apart(axis, moved)
    return Measure(
        gap <= CLOSE, "the twist leaves the axis where it is", f"it carries the axis away by {in_degrees(gap)}   (tolerance 1e-6 rad)", gap
    )


def angle_apart(a, b):
    """The angle between two directions, radians."""
    return float(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b))


@on_turns
def swing_alone(case, swing, twist):
    """The swing's own axis is square to the axis, and it turns by as much as the axis is carried away."""
    axis = case.inputs["axis"]
    wanted, size = angle_apart(axis, rotation.rotate(case.inputs["q"], axis)), float(np.linalg.norm(swing[:3]))
    left = abs(2 * float(np.arcsin(np.clip(swing[:3] @ axis, -1, 1))))
    turns = 2 * float(np.arctan2(size, abs(swing[3])))
    if left > CLOSE:
        return Measure(
            False,
            "the swing's own axis is square to the axis",
            f"{in_degrees(left)} of turning about the axis is left in it   (tolerance 1e-6 rad)",
            left,
        )
    gap = abs(turns - wanted)
    return Measure(
        gap <= CLOSE,
        f"a swing by {in_degrees(wanted)}, as far as q carries the axis",
        f"a swing by {in_degrees(turns)}   (tolerance 1e-6 rad)",
        gap,
    )


def lengths(case, answer, context):
    """Both have length 1."""
    sizes = [float(np.linalg.norm(part)) for part in answer]
    which = int(np.abs(np.array(sizes) - 1).argmax())
    gap = abs(sizes[which] - 1)
    return Measure(
        gap <= CLOSE,
        "swing and twist of length 1",
        f"the {('swing', 'twist')[which]} has length {sizes[which]:.6f}   (tolerance 1e-6)",
        gap,
    )


def all_of_it(case, answer, context):
    """Everything together, for a swing of half a turn."""
    every = (lengths, together, twist_about_axis, swing_alone)
    return max((measure(case, answer, context) for measure in every), key=lambda one: (not one.ok, one.gap))


def half_swing(case):
    """Whether the axis ends up reversed."""
    q, axis = case.inputs["q"], case.inputs["axis"]
    return bool(np.hypot(q[:3] @ axis, q[3]) < 1e-6)


def ordinary(case):
    """Any other turn."""
    return not half_swing(case)


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """Quarter turns that a hand can check, Tally's forearm, oblique ones, pure ones, -q, large twists, half a turn of swing."""
    marks = context.robot.landmarks
    bone = unit(marks["left_wrist"] - marks["left_elbow"])
    x, y, z = np.eye(3)
    across = unit(np.cross(bone, direction(rng)))
    axis = direction(rng)
    beside = unit(np.cross(axis, direction(rng)))
    return [
        case("a quarter about x, then a quarter about z", product(quaternion(z, np.pi / 2), quaternion(x, np.pi / 2)), x),
        case(
            "forearm: twisted, then swung",
            product(quaternion(across, rng.uniform(0.6, 1.4)), quaternion(bone, rng.uniform(0.6, 1.4))),
            bone,
        ),
        case("an oblique turn", telling_quaternion(rng), axis),
        case("an oblique turn, as -q", -telling_quaternion(rng), direction(rng)),
        case("the same kind, about y", telling_quaternion(rng), y),
        case(
            "a twist of more than half a turn",
            product(quaternion(beside, rng.uniform(0.6, 1.4)), quaternion(axis, rng.uniform(3.6, 5.0))),
            axis,
        ),
        case("a twist alone", quaternion(axis, -rng.uniform(0.6, 1.4)), axis),
        case("a swing alone", quaternion(beside, rng.uniform(0.6, 1.4)), axis),
        case("no turn", np.array([0, 0, 0, 1.0]), axis),
        case("no turn, as -q", np.array([0, 0, 0, -1.0]), axis),
        case("nearly half a turn of swing", product(quaternion(beside, np.pi - 1e-3), quaternion(axis, rng.uniform(0.6, 1.4))), axis),
        case("half a turn of swing", np.array([0, 0, 1.0, 0]), x),
        case("half a turn of swing, oblique", quaternion(beside, np.pi), axis),
        case("half a turn of swing, about y", np.array([0.6, 0, 0.8, 0]), y),
    ]


def case(about, q, axis):
    """A Case with its two inputs."""
    return Case(about, {"q": q, "axis": np.array(axis, float)})


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def swing_twist(q, axis):
    """The worked answer."""
    twist = np.array([*((q[:3] @ axis) * axis), q[3]])
    size = np.linalg.norm(twist)
    twist = twist / size if size > 1e-9 else np.array([0, 0, 0, 1.0])
    return product(q, inverse(twist)), twist


def twist_last(q, axis):
    """q = twist * swing."""
    _, twist = swing_twist(q, axis)
    return product(inverse(twist), q), twist


def given_back_swapped(q, axis):
    """Twist first in what is returned."""
    swing, twist = swing_twist(q, axis)
    return twist, swing


def not_normalised(q, axis):
    """The twist keeps the length it has."""
    twist = np.array([*((q[:3] @ axis) * axis), q[3]])
    return product(q, inverse(twist)), twist


def no_guard(q, axis):
    """0 / 0 where nothing of the twist is left."""
    twist = np.array([*((q[:3] @ axis) * axis), q[3]])
    twist = twist / np.linalg.norm(twist)
    return product(q, inverse(twist)), twist


def only_w_flipped(q, axis):
    """w made positive in the twist, the rest left: the double cover got half-way."""
    _, twist = swing_twist(q, axis)
    twist = np.array([*twist[:3], abs(twist[3])])
    return product(q, inverse(twist)), twist


def by_the_vector(q, axis):
    """The part of axis times angle that lies along the axis, taken for the twist."""
    size = np.linalg.norm(q[:3])
    whole = 2 * np.arctan2(size, q[3]) * q[:3] / max(size, 1e-12)
    twist = quaternion(axis, whole @ axis)
    return product(q, inverse(twist)), twist


def w_first(q, axis):
    """Read, and written, as (w, x, y, z)."""
    swing, twist = swing_twist(q[[1, 2, 3, 0]], axis)
    return swing[[3, 0, 1, 2]], twist[[3, 0, 1, 2]]


def number_by_number(q, axis):
    """q[:3] * axis where (q[:3] @ axis) * axis belongs."""
    twist = np.array([*(q[:3] * axis), q[3]])
    size = np.linalg.norm(twist)
    twist = twist / size if size > 1e-9 else np.array([0, 0, 0, 1.0])
    return product(q, inverse(twist)), twist


def whole_angle(q, axis):
    """The whole angle of q, about the axis."""
    angle = 2 * np.arccos(np.clip(q[3], -1, 1))
    twist = quaternion(axis, angle)
    return product(q, inverse(twist)), twist


def always_x(q, axis):
    """The twist about x, whatever axis is handed in."""
    return swing_twist(q, np.array([1.0, 0, 0]))


def inverse_left_out(q, axis):
    """q * twist in place of q * inverse(twist)."""
    _, twist = swing_twist(q, axis)
    return product(q, twist), twist


MISTAKES = (
    Mistake("twist last", twist_last, "twist * swing is q here; asked for is q = swing * twist, the twist first", ("product",), TOGETHER),
    Mistake(
        "swapped",
        given_back_swapped,
        "the two are swapped: return swing first, then twist",
        ("product", "twist", "swing"),
        "idea 3, own step",
    ),
    Mistake("not normalised", not_normalised, "the twist was not brought to length 1", ("unit",), OWN_TWIST),
    Mistake("no guard", no_guard, "the axis ends up reversed: nothing is left to normalise, 0 / 0", ("half",), HALF),
    Mistake(
        "double cover got half-way",
        only_w_flipped,
        "only w has lost its sign: from q to -q all four numbers change",
        ("swing",),
        "idea 2, four numbers",
    ),
    Mistake(
        "part of axis times angle",
        by_the_vector,
        "axis times angle was split; split the quaternion, not that vector",
        ("swing",),
        OWN_TWIST,
    ),
    Mistake(
        "number by number",
        number_by_number,
        "q[:3] * axis is number by number; wanted is (q[:3] @ axis) * axis",
        ("twist", "swing"),
        OWN_TWIST,
    ),
    Mistake(
        "the whole angle",
        whole_angle,
        "the whole angle of q was taken for the twist, though a part of it is swing",
        ("swing",),
        OWN_TWIST,
    ),
    Mistake("wxyz", w_first, "all was read, and written, as (w, x, y, z); here w is the last, q[3]", ("product",), "the convention strip"),
    Mistake(
        "always about x",
        always_x,
        "the twist is about x, as in the worked step: use the axis that is handed in",
        ("twist", "swing"),
        OWN_TWIST,
    ),
    Mistake(
        "inverse left out",
        inverse_left_out,
        "the twist was put on once more: the swing is q times the twist turned back",
        ("product", "swing"),
        SWING,
    ),
)

CHECKPOINT = Checkpoint(
    id="03.6",
    title="Swing and twist",
    kind="function",
    names={"swing_twist": forms.several(forms.array(4), forms.array(4))},
    claims=(
        Claim(
            "product",
            "swing * twist is the same turn as q: the twist comes first",
            2,
            together,
            "1e-6 rad",
            look_at=TOGETHER,
            applies=ordinary,
        ),
        Claim("twist", "the twist leaves the axis where it is", 1, twist_about_axis, "1e-6 rad", look_at=OWN_TWIST, applies=ordinary),
        Claim(
            "swing",
            "the swing turns as far as q carries the axis, and not about the axis",
            2,
            swing_alone,
            "1e-6 rad",
            look_at=SWING,
            applies=ordinary,
        ),
        Claim("unit", "both are of length 1", 1, lengths, "1e-6", look_at=OWN_TWIST, applies=ordinary),
        Claim("half", "all this holds for a swing of half a turn as well", 1, all_of_it, "1e-6", look_at=HALF, applies=half_swing),
    ),
    worked=swing_twist,
    hint="The twist: the part of q[:3] along the axis, (q[:3] @ axis) * axis, and q[3] behind it; then at length 1.\n"
    "Is there any length? Below 1e-9 take np.array([0, 0, 0, 1.0]), no twist.\n"
    "The swing is what q has more than the twist. q = swing * twist; put the twist's inverse behind both sides.",
    mistakes=MISTAKES,
    cases=cases,
    closed=TURNS,
    show=show_twist,
)
