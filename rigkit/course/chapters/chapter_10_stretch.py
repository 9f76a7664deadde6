"""Checkpoint 10.3: how many times its length a limb grows for a target out of reach, and why the rig's own size is not in it.

stretch = distance / (size times what the bones are together), from 1 to the limit. A rig
of twice the size, whose target is twice as far, is the same picture: so the same stretch.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_10_limbs import ARM, BOOK, CLOSE, LEG, bones, rest
from rigkit.course.chapters.chapter_10_show import show_stretch
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

ARGUMENTS = ("distance", "upper", "lower", "limit", "size")
RULE, LIMITS, SIZE, BOTH = "idea 3, step 1", "idea 3, step 2", "idea 3, the size of the rig", "idea 3, step 3"


def inputs(case):
    """distance, upper, lower, limit, size."""
    return tuple(float(case.inputs[name]) for name in ARGUMENTS)


def far(case):
    """How many times its own length, whole rig scaled, the limb would have to be."""
    distance, upper, lower, _, size = inputs(case)
    return distance / (size * (upper + lower))


def right(case):
    """The stretch."""
    return float(np.clip(far(case), 1.0, inputs(case)[3]))


def small_near(case):
    """A rig of size 1, its target in reach."""
    return inputs(case)[4] == 1 and far(case) <= 1


def small_far(case):
    """A rig of size 1, its target out of reach and within the limit."""
    return inputs(case)[4] == 1 and 1 < far(case) <= inputs(case)[3]


def small_too_far(case):
    """A rig of size 1, its target past the limit."""
    return inputs(case)[4] == 1 and far(case) > inputs(case)[3]


def sized(case):
    """A rig of another size."""
    return inputs(case)[4] != 1


# ---- the claims ------------------------------------------------------------------------------------------------


def told(expected):
    """The claim's measure: the stretch itself."""

    def measure(case, answer, context):
        off = abs(answer[0] - right(case))
        return Measure(
            off <= CLOSE,
            f"{expected}: stretch {right(case):.6f}",
            f"stretch {answer[0]:.6g}   ({off:.3g} off; tolerance 1e-6)",
            off,
        )

    return measure


def on_target(case, answer, context):
    """Straight, the two bones end on the target."""
    distance = inputs(case)[0]
    gap = abs(answer[1] + answer[2] - distance)
    return Measure(
        gap <= CLOSE,
        f"straight, both bones together reach the target at {distance:.4f} m",
        f"they are {answer[1] + answer[2]:.4f} m: {told_length(gap)} {'short' if answer[1] + answer[2] < distance else 'too long'}"
        "   (tolerance 1e-6 m)",
        gap,
    )


def bones_follow(case, answer, context):
    """Each bone is size times stretch times as long as modelled, with the answer's own stretch."""
    _, upper, lower, _, size = inputs(case)
    expected = size * answer[0] * np.array([upper, lower])
    off = np.abs(np.array(answer[1:]) - expected)
    i = int(off.argmax())
    return Measure(
        off[i] <= CLOSE,
        f"for your stretch of {answer[0]:.4g}: bones of {expected[0]:.4f} m and {expected[1]:.4f} m",
        f"{answer[1]:.4f} m and {answer[2]:.4f} m: the {('upper', 'lower')[i]} is {told_length(off[i])} off   (tolerance 1e-6 m)",
        float(off[i]),
    )


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """Bones of 3 and 2 that a hand can check, Tally's arm and leg: near, far, too far, exactly at both ends, and rigs of other sizes."""
    arm, leg = bones(rest(context.robot, ARM)), bones(rest(context.robot, LEG))

    def one(about, limb, share, limit, size=1.0):
        return Case(about, dict(zip(ARGUMENTS, (share * size * sum(limb), *limb, limit, size))), tell=("distance", "limit", "size"))

    limit = float(rng.uniform(1.25, 1.6))
    double, half = float(rng.uniform(1.7, 2.5)), float(rng.uniform(0.4, 0.6))
    return [
        one("bones of 3 and 2, target at 6", (3.0, 2.0), 1.2, 1.5),
        one("left arm, target near", arm, float(rng.uniform(0.4, 0.9)), limit),
        one("left arm, target exactly at reach", arm, 1.0, limit),
        one("left arm, a little too far", arm, float(rng.uniform(1.02, 1.1)), limit),
        one("left leg, too far", leg, float(rng.uniform(1.1, 1.2)), limit),
        one("left arm, past the limit", arm, float(rng.uniform(2.8, 3.5)), limit),
        one("left leg, may not grow at all", leg, 1.4, 1.0),
        one("large rig, target near", arm, float(rng.uniform(0.6, 0.95)), limit, double),
        one("large rig, too far", arm, float(rng.uniform(1.05, 1.2)), limit, double),
        one("small rig, too far", leg, float(rng.uniform(1.05, 1.2)), limit, half),
        one("small rig, past the limit", arm, 3.0, limit, half),
        one("large rig, past the limit", leg, 3.2, limit, 2.0),
    ]


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def stretched(distance, upper, lower, limit, size):
    """The worked answer."""
    reach = size * (upper + lower)
    stretch = min(max(distance / reach, 1.0), limit)
    return stretch, size * stretch * upper, size * stretch * lower


def with_stretch(stretch, upper, lower, size):
    """The answer for a stretch."""
    return stretch, size * stretch * upper, size * stretch * lower


def shortens(distance, upper, lower, limit, size):
    """Nothing keeps the stretch from going below 1."""
    return with_stretch(min(distance / (size * (upper + lower)), limit), upper, lower, size)


def size_forgotten(distance, upper, lower, limit, size):
    """The reach is the model's; the bones are those of the model too."""
    stretch = min(max(distance / (upper + lower), 1.0), limit)
    return stretch, stretch * upper, stretch * lower


def size_taken_for_stretch(distance, upper, lower, limit, size):
    """The reach is the model's, so the size of the rig counts as stretch."""
    return with_stretch(min(max(distance / (upper + lower), 1.0), limit), upper, lower, size)


def size_in_the_stretch(distance, upper, lower, limit, size):
    """The stretch holds the size as well."""
    stretch, one, other = stretched(distance, upper, lower, limit, size)
    return size * stretch, one, other


def bones_of_the_model(distance, upper, lower, limit, size):
    """The bones are stretched, but not as large as the rig."""
    stretch, _, _ = stretched(distance, upper, lower, limit, size)
    return stretch, stretch * upper, stretch * lower


def bones_as_before(distance, upper, lower, limit, size):
    """The bones come back as they went in."""
    return stretched(distance, upper, lower, limit, size)[0], upper, lower


def no_limit(distance, upper, lower, limit, size):
    """It grows without end."""
    return with_stretch(max(distance / (size * (upper + lower)), 1.0), upper, lower, size)


def limit_on_top(distance, upper, lower, limit, size):
    """The limit is what may come on top."""
    return with_stretch(min(max(distance / (size * (upper + lower)), 1.0), 1 + limit), upper, lower, size)


def gives_up(distance, upper, lower, limit, size):
    """Past the limit it goes back to its own length."""
    need = distance / (size * (upper + lower))
    return with_stretch(max(need, 1.0) if need <= limit else 1.0, upper, lower, size)


def one_bone_grows(distance, upper, lower, limit, size):
    """Only the lower bone gets longer."""
    stretch, one, other = stretched(distance, upper, lower, limit, size)
    return stretch, size * upper, one + other - size * upper


def what_is_missing(distance, upper, lower, limit, size):
    """Metres in place of times."""
    reach = size * (upper + lower)
    stretch, one, other = stretched(distance, upper, lower, limit, size)
    return stretch * reach - reach, one, other


def turned_round(distance, upper, lower, limit, size):
    """The fraction stands upside down."""
    return with_stretch(min(max(size * (upper + lower) / distance, 1.0), limit), upper, lower, size)


def size_on_the_distance(distance, upper, lower, limit, size):
    """The distance is made larger once more."""
    return with_stretch(min(max(size * distance / (upper + lower), 1.0), limit), upper, lower, size)


def size_on_the_limit(distance, upper, lower, limit, size):
    """A larger rig may stretch further."""
    return with_stretch(min(max(distance / (size * (upper + lower)), 1.0), size * limit), upper, lower, size)


def only_on_top(distance, upper, lower, limit, size):
    """What comes on top of its own length."""
    stretch, one, other = stretched(distance, upper, lower, limit, size)
    return stretch - 1, one, other


def bones_first(distance, upper, lower, limit, size):
    """The right three in another order."""
    stretch, one, other = stretched(distance, upper, lower, limit, size)
    return one, other, stretch


MISTAKES = (
    Mistake("shortens", shortens, "a target in reach makes the limb shorter: the stretch is never below 1", ("near",), LIMITS),
    Mistake(
        "size forgotten",
        size_forgotten,
        "the size is not used: reach and bones are both size times as long",
        ("size", "bones"),
        SIZE,
    ),
    Mistake(
        "size taken for stretch",
        size_taken_for_stretch,
        "the rig's size is taken for stretch: its reach is size times the model's",
        ("size",),
        SIZE,
    ),
    Mistake("size in the stretch", size_in_the_stretch, "the size is in the stretch; at home the stretch is 1, whatever the size", ("size",), SIZE),
    Mistake("bones of the model", bones_of_the_model, "the bones are not as large as the rig: size times stretch times the model's", ("bones",), BOTH),
    Mistake("bones as before", bones_as_before, "the bones come back as they are modelled: times stretch, and times size", ("far", "bones"), BOTH),
    Mistake("no limit", no_limit, "the limit is not used: the limb grows without end", ("limit",), LIMITS),
    Mistake("limit on top", limit_on_top, "limit 1.3 means up to 1.3 times its length, not 1.3 times on top of it", ("limit",), LIMITS),
    Mistake("gives up", gives_up, "past the limit the limb goes back to its own length; it should stay at the limit", ("limit",), LIMITS),
    Mistake("one bone grows", one_bone_grows, "only the lower bone grows; both do, by the same stretch", ("bones",), BOTH),
    Mistake("metres", what_is_missing, "these are the metres that are missing; stretch is how many times as long", ("near", "limit", "bones"), RULE),
    Mistake("size on the distance", size_on_the_distance, "the distance is in the world already: times size belongs to the bones", ("size",), SIZE),
    Mistake("size on the limit", size_on_the_limit, "the limit is how many times its length, whatever the size of the rig", ("size",), SIZE),
    Mistake("only on top", only_on_top, "this is what comes on top; stretch is how many times as long: 1 as modelled", ("near", "limit", "bones"), RULE),
    Mistake("bones first", bones_first, "the bones stand first: the order is stretch, upper, lower", ("near", "far", "limit", "size", "bones"), RULE),
    Mistake("turned round", turned_round, "the fraction stands upside down: distance over reach", ("near", "far"), RULE),
)  # fmt: skip

CHECKPOINT = Checkpoint(
    id="10.3",
    title="Stretch with a limit",
    kind="function",
    names={"stretched": forms.several(forms.number(), forms.number(), forms.number())},
    claims=(
        Claim("near", "a target in reach: as long as modelled, stretch 1", 1, told("in reach"), "1e-6", look_at=LIMITS, applies=small_near),
        Claim("far", "a target out of reach: straight, the limb ends on it", 1, on_target, "1e-6 m", look_at=RULE, applies=small_far),
        Claim("limit", "past the limit it stays at the limit", 1, told("past the limit"), "1e-6", look_at=LIMITS, applies=small_too_far),
        Claim(
            "size",
            "the whole rig scaled, with its target: the same stretch",
            2,
            told("as in a rig of size 1, target as many times nearer"),
            "1e-6",
            look_at=SIZE,
            applies=sized,
        ),
        Claim("bones", "both bones grow alike", 1, bones_follow, "1e-6 m", look_at=BOTH),
    ),
    worked=stretched,
    hint="How far does the limb reach in the world? The bones as modelled, times the size of the rig.\n"
    "stretch = distance / reach says how many times as long it would have to be. Then keep it from 1 to limit: min(max(..., 1.0), limit).\n"
    "Each bone is now size * stretch times as long as modelled.",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_stretch,
)
