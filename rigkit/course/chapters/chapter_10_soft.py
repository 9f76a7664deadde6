"""Checkpoint 10.2: a soft distance. Up to the soft zone the target's own, then slower and slower, never beyond reach.

Judged as a curve, by what it does: any curve without a jump or a kink that keeps to
the target before the zone and comes near to the reach after it is right. The chapter's
own is the response of a first-order lag, d_a + s (1 - exp(-(d - d_a) / s)). Source: Mechanical Engineers' Handbook,
vol. 2, first-order response.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_10_limbs import BOOK, CLOSE, bones, rest
from rigkit.course.chapters.chapter_10_show import show_soft
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

STEPS = 50  # distances in one length of the soft zone
KINK = 0.1  # a change of slope from one step to the next; the exponential's own is 1 / STEPS
NEAR = 0.1  # of the soft zone: what may be left of the reach for a target eleven such zones past where it begins
BEFORE, NEVER, SMOOTH, ZERO = "idea 2, step 1", "idea 2, step 3", "idea 2, step 2", "idea 2, at zero"


def inputs(case):
    """(distances (N,), reach, soft) of a case."""
    return np.asarray(case.inputs["distances"], float), float(case.inputs["reach"]), float(case.inputs["soft"])


def is_soft(case):
    """Whether there is a soft zone."""
    return inputs(case)[2] > 0


def is_hard(case):
    """Whether there is none."""
    return not is_soft(case)


def lengths_fit(case, answer):
    """None, or the Measure of an answer that has another length than the distances."""
    expected = len(inputs(case)[0])
    if len(answer) == expected:
        return None
    return Measure(False, f"{expected} distances, one for each", f"{len(answer)} of them", 9.0)


def at(case, i):
    """A target's distance in words."""
    distances, *_ = inputs(case)
    return f"target at {distances[i]:.4f} m"


def keeps_before(case, answer, context):
    """Up to the soft zone the distance itself."""
    distances, reach, soft = inputs(case)
    wrong = lengths_fit(case, answer)
    if wrong:
        return wrong
    off = np.abs(answer - distances) * (distances <= reach - soft)
    i = int(off.argmax())
    return Measure(
        off[i] <= CLOSE,
        f"up to {reach - soft:.4f} m the distance itself",
        f"{at(case, i)}: {answer[i]:.4f} m, {told_length(off[i])} off   (tolerance 1e-6 m)",
        float(off[i]),
    )


def never_beyond(case, answer, context):
    """Neither past the reach nor past the target."""
    distances, reach, _ = inputs(case)
    wrong = lengths_fit(case, answer)
    if wrong:
        return wrong
    past = answer - np.minimum(distances, reach)
    i = int(past.argmax())
    over = max(float(past[i]), 0.0)
    what = "the reach" if distances[i] > reach else "the target"
    return Measure(
        over <= CLOSE,
        f"never past the reach of {reach:.4f} m, nor past the target",
        f"{at(case, i)}: {answer[i]:.4f} m, {told_length(over)} past {what}   (tolerance 1e-6 m)",
        over,
    )


def no_kink(case, answer, context):
    """The slope changes little from one step to the next."""
    distances, reach, soft = inputs(case)
    wrong = lengths_fit(case, answer)
    if wrong:
        return wrong
    slopes = np.diff(answer) / np.diff(distances)
    change = np.abs(np.diff(slopes))
    i = int(change.argmax())
    where = (
        "where the soft zone begins"
        if abs(distances[i + 1] - (reach - soft)) <= soft / 20
        else ("at the reach" if abs(distances[i + 1] - reach) <= soft / 20 else "there")
    )
    told = f"{at(case, i + 1)}, {where}: slope {slopes[i]:.3g}, then {slopes[i + 1]:.3g}   (tolerance 0.1)"
    return Measure(bool(change[i] <= KINK), "no jump and no kink: the slope changes little by little", told, float(change[i]))


def comes_near(case, answer, context):
    """Never back, and near to the reach in the end."""
    distances, reach, soft = inputs(case)
    wrong = lengths_fit(case, answer)
    if wrong:
        return wrong
    back = -np.minimum(np.diff(answer), 0.0)
    i = int(back.argmax())
    if back[i] > CLOSE:
        told = f"from {at(case, i)} to {distances[i + 1]:.4f} m the hand goes back by {told_length(back[i])}"
        return Measure(False, "the farther the target, the farther the hand", told, 1.0 + float(back[i]))
    left = float(reach - answer[-1])
    return Measure(
        left <= NEAR * soft,
        f"less than a tenth of the soft zone, {told_length(NEAR * soft)}, left of the reach in the end",
        f"{at(case, -1)}: {told_length(abs(left))} left",
        left,
    )


def exact_at_zero(case, answer, context):
    """Without a soft zone: the distance, up to the reach."""
    distances, reach, _ = inputs(case)
    wrong = lengths_fit(case, answer)
    if wrong:
        return wrong
    off = np.abs(answer - np.minimum(distances, reach))
    i = int(off.argmax())
    return Measure(
        off[i] <= 1e-9,
        "soft 0: the distance up to the reach, then the reach",
        f"{at(case, i)}: {answer[i]:.6f} m, {told_length(off[i])} off   (tolerance 1e-9 m)",
        float(off[i]),
    )


# ---- the cases -------------------------------------------------------------------------------------------------


def curve(about, reach, soft):
    """A case: targets from well before the soft zone to eleven zones past where it begins, fifty to a zone; the zone's start is one of them."""
    steps = np.arange(-min(int(STEPS * (reach - soft) / soft), 2 * STEPS), 11 * STEPS + 1)
    return Case(about, {"distances": reach - soft + steps * (soft / STEPS), "reach": reach, "soft": soft})


def cases(rng, context):
    """A limb of round numbers, Tally's arm and leg, a long and a short zone, one as long as the limb, and none at all."""
    arm, leg = sum(bones(rest(context.robot))), sum(bones(rest(context.robot, ("left_hip", "left_knee", "left_ankle"))))
    hard = np.sort(np.concatenate([rng.uniform(0.05, 2.0, 40) * arm, [0.0, arm, arm - 1e-6, arm + 1e-6]]))
    return [
        curve("reach 10, soft 2", 10.0, 2.0),
        curve("left arm", arm, float(rng.integers(20, 60)) / 1000),
        curve("left leg", leg, float(rng.integers(20, 60)) / 1000),
        curve("left arm, a short zone", arm, 0.002),
        curve("a zone as long as the arm", arm, arm),
        Case("left arm, soft 0", {"distances": hard, "reach": arm, "soft": 0.0}),
        Case("left leg, soft 0", {"distances": np.array([0.5 * leg, leg, 1.5 * leg]), "reach": leg, "soft": 0.0}),
    ]


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def soft_reach(distances, reach, soft):
    """The worked answer."""
    start = reach - soft
    if soft == 0:
        return np.minimum(distances, reach)
    beyond = np.maximum(distances - start, 0)
    return np.where(distances <= start, distances, start + soft * (1 - np.exp(-beyond / soft)))


def hard_stop(distances, reach, soft):
    """The soft zone is not used."""
    return np.minimum(distances, reach)


def half_speed(distances, reach, soft):
    """Half as fast in the zone, then the reach."""
    start = reach - soft
    return np.minimum(np.where(distances <= start, distances, start + (distances - start) / 2), reach)


def past_reach(distances, reach, soft):
    """The slowing begins at the reach."""
    beyond = np.maximum(distances - reach, 0)
    return np.minimum(distances, reach) + (soft * (1 - np.exp(-beyond / soft)) if soft else 0)


def exponent_in_metres(distances, reach, soft):
    """The exponent is not divided by soft."""
    start = reach - soft
    beyond = np.maximum(distances - start, 0)
    return np.where(distances <= start, distances, start + soft * (1 - np.exp(-beyond)))


def soft_everywhere(distances, reach, soft):
    """Slowed from the root on."""
    return np.minimum(distances, reach) if soft == 0 else reach * (1 - np.exp(-distances / reach))


def start_left_out(distances, reach, soft):
    """start is not added again."""
    start = reach - soft
    if soft == 0:
        return np.minimum(distances, reach)
    return np.where(distances <= start, distances, soft * (1 - np.exp(-np.maximum(distances - start, 0) / soft)))


def soft_left_out(distances, reach, soft):
    """1 - exp is not multiplied by soft."""
    start = reach - soft
    if soft == 0:
        return np.minimum(distances, reach)
    return np.where(distances <= start, distances, start + (1 - np.exp(-np.maximum(distances - start, 0) / soft)))


def exponent_turned_round(distances, reach, soft):
    """exp of plus."""
    start = reach - soft
    if soft == 0:
        return np.minimum(distances, reach)
    return np.where(distances <= start, distances, start + soft * (1 - np.exp(np.maximum(distances - start, 0) / soft)))


def divides_by_zero(distances, reach, soft):
    """No word about soft 0, and the zone begins a hair earlier: 0 / 0 for a target exactly at the reach."""
    start = reach - soft
    beyond = np.maximum(distances - start, 0)
    return np.where(distances < start, distances, start + soft * (1 - np.exp(-beyond / soft)))


def a_little_soft_always(distances, reach, soft):
    """A least soft of 1 mm, so that nothing is divided by 0."""
    return soft_reach(distances, reach, max(soft, 0.001))


def jumps_at_reach(distances, reach, soft):
    """Past the reach at once the reach."""
    return np.where(distances >= reach, reach, soft_reach(distances, reach, soft))


def at_zero_nothing(distances, reach, soft):
    """soft 0 gives the distance, without a limit."""
    return distances if soft == 0 else soft_reach(distances, reach, soft)


def beyond_the_reach(distances, reach, soft):
    """beyond is counted from the reach."""
    if soft == 0:
        return np.minimum(distances, reach)
    beyond = np.maximum(distances - reach, 0)
    return np.where(distances <= reach - soft, distances, reach - soft * np.exp(-beyond / soft))


def what_is_left(distances, reach, soft):
    """What is left of the reach in place of where the hand is."""
    return reach - soft_reach(distances, reach, soft)


MISTAKES = (
    Mistake("hard stop", hard_stop, "the soft zone is not used: the hand stops at the reach with a kink", ("kink",), SMOOTH),
    Mistake(
        "half speed",
        half_speed,
        "half as fast at one stroke: a kink where the zone begins, another where it ends",
        ("kink",),
        SMOOTH,
    ),
    Mistake(
        "past the reach",
        past_reach,
        "the slowing begins at the reach; it has to begin at reach - soft",
        ("beyond",),
        NEVER,
    ),
    Mistake(
        "exponent in metres",
        exponent_in_metres,
        "the exponent is in metres: divide it by soft, a plain number belongs there",
        ("kink", "near"),
        SMOOTH,
    ),
    Mistake(
        "soft everywhere", soft_everywhere, "the hand is slowed from the root on; up to reach - soft it must follow", ("before",), BEFORE
    ),
    Mistake(
        "start left out", start_left_out, "what the zone lets through is counted from its start: add reach - soft", ("kink", "near"), NEVER
    ),
    Mistake(
        "soft left out", soft_left_out, "1 - exp goes from 0 to 1: times soft, or the hand goes on for a metre", ("beyond", "kink"), NEVER
    ),
    Mistake(
        "exponent turned round",
        exponent_turned_round,
        "the exponent has the wrong sign: exp must fall as the target goes away",
        ("kink", "near"),
        SMOOTH,
    ),
    Mistake(
        "0 / 0",
        divides_by_zero,
        "soft 0 divides 0 by 0 and gives nan: soft 0 is a case of its own",
        ("zero",),
        ZERO,
    ),
    Mistake(
        "a little soft always",
        a_little_soft_always,
        "a least soft was put in: soft 0 must be exactly no soft, or every rest pose moves",
        ("zero",),
        ZERO,
    ),
    Mistake(
        "jump at the reach", jumps_at_reach, "at the reach the hand jumps: what is past the reach is slowed as well", ("kink",), SMOOTH
    ),
    Mistake(
        "beyond the reach",
        beyond_the_reach,
        "beyond is counted from the reach; the zone begins before it, at reach - soft",
        ("kink",),
        SMOOTH,
    ),
    Mistake(
        "what is left",
        what_is_left,
        "this is what is left of the reach; asked for is how far from the root the hand stops",
        ("before", "beyond", "near", "zero"),
        NEVER,
    ),
    Mistake("no limit at zero", at_zero_nothing, "soft 0 still has a reach: the distance, but never more than the reach", ("zero",), ZERO),
)

CHECKPOINT = Checkpoint(
    id="10.2",
    title="A soft distance",
    kind="function",
    names={"soft_reach": forms.array(None)},
    claims=(
        Claim("before", "up to the soft zone it is the distance itself", 1, keeps_before, "1e-6 m", look_at=BEFORE, applies=is_soft),
        Claim("beyond", "never past the reach, nor past the target", 1, never_beyond, "1e-6 m", look_at=NEVER, applies=is_soft),
        Claim("kink", "no jump and no kink", 2, no_kink, "0.1 of slope a step", look_at=SMOOTH, applies=is_soft),
        Claim("near", "it never goes back, and comes near to the reach", 1, comes_near, "a tenth of soft", look_at=NEVER, applies=is_soft),
        Claim("zero", "soft 0: exactly the distance up to the reach", 1, exact_at_zero, "1e-9 m", look_at=ZERO, applies=is_hard),
    ),
    worked=soft_reach,
    hint="Three names first: start = reach - soft; beyond = np.maximum(distances - start, 0); and what the hand does there.\n"
    "In the zone: start + soft * (1 - np.exp(-beyond / soft)). Before it: the distances. np.where(distances <= start, ..., ...) chooses.\n"
    "soft 0 is a case of its own, with an `if` in front: np.minimum(distances, reach).",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_soft,
)
