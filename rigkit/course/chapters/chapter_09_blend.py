"""Checkpoint 09.5: blend two poses the short way.

q and -q are one turn, so there are two ways from one turn to another: by t, or by 360 degrees minus t the other way round.
Judged by angles: what is left to the second pose and what has been done since the first must add up to the turn between the two.
Source of the even way between: spherical linear interpolation, as in glTF 2.0, Appendix C.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_09_frames import BOOK, matrix_of
from rigkit.course.chapters.chapter_09_show import fresh, held
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake

ENDS, SHORT, EVEN, SAME = "idea 3, ends", "idea 3, the short way", "idea 3, evenly", "idea 3, equal turns"
WITHIN = 0.01  # degrees


def turn_between(p, q):
    """The angle between turns (..., 4), degrees: four times the arcsine of half the chord between the nearer of q and -q."""
    p, q = (one / np.maximum(np.linalg.norm(one, axis=-1), 1e-12)[..., None] for one in (p, q))
    chord = np.minimum(np.linalg.norm(p - q, axis=-1), np.linalg.norm(p + q, axis=-1))
    return np.degrees(4 * np.arcsin(np.minimum(chord / 2, 1)))


def inputs(case):
    """first (J, 4), second (J, 4), share."""
    return np.asarray(case.inputs["first"], float), np.asarray(case.inputs["second"], float), float(case.inputs["share"])


def is_end(case):
    """Whether the share is 0 or 1."""
    return inputs(case)[2] in (0.0, 1.0)


def is_way(case):
    """Whether it is on the way."""
    return not is_end(case)


def fits(case, answer):
    """None, or the Measure of an answer with another count of joints."""
    count = len(inputs(case)[0])
    return None if len(answer) == count else Measure(False, f"{count} turns, one a joint", f"{len(answer)} of them", 999.0)


def length_one(case, answer, context):
    """Quaternions of length one."""
    wrong = fits(case, answer)
    if wrong:
        return wrong
    lengths = np.linalg.norm(answer, axis=1)
    i = int(np.abs(lengths - 1).argmax())
    off = float(abs(lengths[i] - 1))
    return Measure(off <= 1e-6, "every quaternion of length 1", f"joint {i}: length {lengths[i]:.6g}   (tolerance 1e-6)", off)


def ends_met(case, answer, context):
    """Share 0 the first pose, share 1 the second."""
    first, second, share = inputs(case)
    wrong = fits(case, answer)
    off = np.zeros(1) if wrong else turn_between(answer, second if share else first)
    i = int(off.argmax())
    told = f"joint {i}: {off[i]:.3g} degrees off   (tolerance 0.01)"
    return wrong or Measure(off[i] <= WITHIN, f"share {share:g}: the {'second' if share else 'first'} pose", told, float(off[i]))


def short_way(case, answer, context):
    """Done and left add up to the turn between."""
    first, second, _ = inputs(case)
    wrong = fits(case, answer)
    if wrong:
        return wrong
    whole, done, left = turn_between(first, second), turn_between(first, answer), turn_between(answer, second)
    off = done + left - whole
    i = int(off.argmax())
    told = f"joint {i}: {done[i]:.1f} degrees from the first and {left[i]:.1f} from the second"
    return Measure(
        off[i] <= WITHIN, f"on the short way of {whole[i]:.1f} degrees: the two add up to it", f"{told}   (tolerance 0.01)", float(off[i])
    )


def evenly(case, answer, context):
    """A quarter of the share, a quarter of the turn."""
    first, second, share = inputs(case)
    wrong = fits(case, answer)
    if wrong:
        return wrong
    whole, done = turn_between(first, second), turn_between(first, answer)
    off = np.abs(done - share * whole)
    i = int(off.argmax())
    told = f"joint {i}: {done[i]:.3f} degrees   (tolerance 0.01)"
    return Measure(off[i] <= WITHIN, f"share {share:.3g} of {whole[i]:.1f} degrees: {share * whole[i]:.3f}", told, float(off[i]))


def quaternion(axis, degrees):
    """A turn as (x, y, z, w)."""
    axis = np.asarray(axis, float) / np.linalg.norm(axis)
    return np.append(np.sin(np.radians(degrees) / 2) * axis, np.cos(np.radians(degrees) / 2))


def cases(rng, context):
    """A quarter turn by hand, an arm at random, second turns written as -q, 170 and 190 degrees, equal turns; shares on the way and at the ends."""

    def some(count):
        return np.array([quaternion(rng.normal(size=3), rng.uniform(20, 170)) for _ in range(count)])

    def near(turns):
        found = turns + rng.normal(scale=0.35, size=turns.shape)
        return found / np.linalg.norm(found, axis=1)[:, None]

    arm, other = some(3), some(3)
    other[:2] *= -np.sign((arm[:2] * other[:2]).sum(axis=1))[:, None]
    other[2] *= np.sign(arm[2] @ other[2])
    z = [0, 0, 1]
    quarter = np.array([quaternion(z, 0)]), np.array([quaternion(z, 90)])
    far = np.array([quaternion([1, 0, 0], 170)] * 2), np.array([quaternion([1, 0, 0], 190), -quaternion([1, 0, 0], 150)])
    same = np.array([arm[0], arm[1], arm[2]]), np.array([arm[0], -arm[1], arm[2]])
    rows = (
        ("a quarter turn about z", *quarter, 0.25),
        ("an arm, turns far apart", arm, other, 0.3),
        ("an arm, turns far apart", arm, other, float(rng.uniform(0.55, 0.9))),
        ("an arm, turns near each other", arm, near(arm), 0.5),
        ("170 and 190 degrees about x, and 150", *far, 0.4),
        ("equal turns, one of them written as -q", *same, 0.5),
        ("the first end", arm, other, 0.0),
        ("the other end", arm, other, 1.0),
    )
    return [Case(about, {"first": a, "second": b, "share": c}, tell=("share",)) for about, a, b, c in rows]


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def blended(first, second, share):
    """The worked answer."""
    found = []
    for p, q in zip(first, second):
        q = q if p @ q >= 0 else -q
        half = np.arccos(np.clip(p @ q, -1, 1))
        mixed = (np.sin((1 - share) * half) * p + np.sin(share * half) * q) / np.sin(half) if half > 1e-6 else p
        found.append(mixed / np.linalg.norm(mixed))
    return np.array(found)


def the_long_way(first, second, share):
    """No sign is looked at."""
    found = []
    for p, q in zip(first, second):
        half = np.arccos(np.clip(p @ q, -1, 1))
        mixed = (np.sin((1 - share) * half) * p + np.sin(share * half) * q) / np.sin(half) if 1e-6 < half < np.pi - 1e-6 else p
        found.append(mixed / np.linalg.norm(mixed))
    return np.array(found)


def w_above_zero(first, second, share):
    """Each w made positive."""
    turned = [np.where(q[:, 3:] < 0, -q, q) for q in (first, second)]
    return the_long_way(*turned, share)


def straight_mean(first, second, share):
    """The mean brought to length one."""
    signed = np.where((first * second).sum(axis=1)[:, None] < 0, -second, second)
    mixed = (1 - share) * first + share * signed
    return mixed / np.linalg.norm(mixed, axis=1)[:, None]


def mean_as_it_is(first, second, share):
    """The mean, whatever its length."""
    signed = np.where((first * second).sum(axis=1)[:, None] < 0, -second, second)
    return (1 - share) * first + share * signed


def plain_mean(first, second, share):
    """The mean of the numbers as they come."""
    return (1 - share) * first + share * second


def turned_round(first, second, share):
    """The shares changed places."""
    return blended(second, first, share)


def sine_of_nothing(first, second, share):
    """0 / 0 for equal turns."""
    found = []
    for p, q in zip(first, second):
        q = q if p @ q >= 0 else -q
        half = np.arccos(np.minimum(p @ q, 1.0))
        found.append((np.sin((1 - share) * half) * p + np.sin(share * half) * q) / np.sin(half) if abs(p @ q) < 1 - 1e-12 else p * np.nan)
    return np.array(found)


def whole_angle(first, second, share):
    """The whole turn for the half: the arccos of the product is half of it."""
    found = []
    for p, q in zip(first, second):
        q = q if p @ q >= 0 else -q
        whole = 2 * np.arccos(np.clip(p @ q, -1, 1))
        mixed = (np.sin((1 - share) * whole) * p + np.sin(share * whole) * q) / np.sin(whole) if whole > 1e-6 else p
        found.append(mixed / np.linalg.norm(mixed))
    return np.array(found)


MISTAKES = (
    Mistake("the long way", the_long_way, "360 minus: a joint goes the long way round. Where p @ q is below 0, take -q, the same turn", ("short",), SHORT),
    Mistake("w above zero", w_above_zero, "w was made positive: 170 and 190 degrees, close to each other, then lie far apart. Look at p @ q", ("short",), SHORT),
    Mistake("straight mean", straight_mean, "a mean brought to length 1 is on the short way, but not evenly: it is slow at the ends. Use the sines", ("even",), EVEN),
    Mistake("mean as it is", mean_as_it_is, "the mean is shorter than 1: no turn any more", ("length",), EVEN),
    Mistake("plain mean", plain_mean, "a mean of the numbers as they come: q and -q cancel in it, and it is too short to be a turn", ("length", "short"), SHORT),
    Mistake("turned round", turned_round, "the shares have changed places: share 0 is the first pose, 1 the second", ("ends", "even"), ENDS),
    Mistake("sine of nothing", sine_of_nothing, "equal turns: the sine is 0, and 0 / 0 is nan. There is nothing to blend: take the first", ("length",), SAME),
    Mistake("whole angle", whole_angle, "arccos of p @ q is the angle to use as it is; twice that is the turn in space", ("even",), EVEN),
)  # fmt: skip


def show_blend(viewer, shown, context):
    """The way of a point that the told case's joints carry, in twelve steps: yours, and the expected one in grey."""
    first, second, _ = inputs(shown.case)
    i = int(np.argmin([p @ q for p, q in zip(first, second)]))
    at, arm = np.array(context.robot.landmarks["left_elbow"]), np.array([0.05, 0.2, 0.1])

    def way(function):
        return np.array([at + matrix_of(function(first, second, share)[i]) @ arm for share in np.linspace(0, 1, 13)])

    fresh(viewer, f"09.5, {shown.case.about}: the way of a point that joint {i} carries; yours, over the expected one.")
    viewer.faint(way(blended), list(range(-1, 12)))
    viewer.trails({"yours": held(way(shown))}, every=1)
    viewer.focus(at, 0.8)


CHECKPOINT = Checkpoint(
    id="09.5",
    title="Blend the short way",
    kind="function",
    names={"blended": forms.array(None, 4)},
    claims=(
        Claim("length", "quaternions of length 1, never nan", 1, length_one, "1e-6", look_at=SAME),
        Claim("ends", "share 0 is the first pose, share 1 the second", 1, ends_met, "0.01 degrees", look_at=ENDS, applies=is_end),
        Claim("short", "every joint goes the short way", 2, short_way, "0.01 degrees", look_at=SHORT, applies=is_way),
        Claim("even", "evenly: a quarter of the share is a quarter of the turn", 1, evenly, "0.01 degrees", look_at=EVEN, applies=is_way),
    ),
    worked=blended,
    hint="Joint by joint: p from the first, q from the second. First the sign: where p @ q is below 0, q = -q.\n"
    "half = np.arccos(p @ q), with the product kept between -1 and 1 by np.clip. Nearly 0? Then the two are equal: take p.\n"
    "(np.sin((1 - share) * half) * p + np.sin(share * half) * q) / np.sin(half).",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_blend,
)
