"""Checkpoint 10.5: choose a soft for an arm, and say what it costs at home.

The elbow turns fastest where the soft zone begins, so the zone's length bounds it. A
nearly straight rest pose lies in the zone: its hand comes nearer as soon as soft is
on. That price is measured for the learner's own soft.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_10_limbs import BOOK, bend, bones, rest, shortest_soft, slowed
from rigkit.course.chapters.chapter_10_show import show_price
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

SOFT, SHIFT, TURN = 0.0003, 0.0001, 0.1  # metres, metres, degrees
FAST, HOME = "idea 2, how fast at most", "the price at home"


def arm_of(context):
    """(upper, lower, from shoulder to wrist at rest, fastest turn allowed in degrees a millimetre)."""
    points = rest(context.robot)
    return (*bones(points), float(np.linalg.norm(points[2] - points[0])), float(context.given["fastest"]))


def held(context, soft):
    """From shoulder to hand at home, with this soft on, metres."""
    a, b, now, _ = arm_of(context)
    return float(slowed(now, a + b, min(max(soft, 0.0), a + b)))


def shift_of(context, soft):
    """How far the hand leaves its place at home, metres."""
    return arm_of(context)[2] - held(context, soft)


def turn_of(context, soft):
    """How far the elbow turns at home, degrees."""
    a, b, now, _ = arm_of(context)
    return bend(a, b, held(context, soft)) - bend(a, b, now)


def soft_right(case, answer, context):
    """The shortest soft that keeps the elbow slow enough."""
    a, b, _, limit = arm_of(context)
    right, got = shortest_soft(a, b, limit), answer["soft"]
    off = abs(got - right)
    proves = "this is in millimetres: give metres" if 500 < got / right < 2000 else ""
    if abs(got / right / np.degrees(0.001) ** -2 - 1) < 0.02:
        proves = "degrees for a millimetre were put in as they are; the formula wants radians a metre"
    which = "longer than it has to be" if got > right else "too short: the elbow turns faster than that"
    told = f"{1000 * got:.4g} mm, {told_length(off)} {which}"
    return Measure(off <= SOFT, f"the shortest soft with at most {limit:g} degrees a millimetre", told, off, proves)


def matters(context, soft):
    """None, or the Measure of a soft that leaves home alone: there is no price to tell."""
    a, b, now, _ = arm_of(context)
    if soft > a + b - now:
        return None
    told = f"a soft of {1000 * soft:.4g} mm leaves it alone: it is too short for the speed"
    return Measure(False, "what a soft does that moves the arm at home", told, 9.0)


def shift_right(case, answer, context):
    """What the learner's own soft does to the hand."""
    wrong = matters(context, answer["soft"])
    if wrong:
        return wrong
    right, got = shift_of(context, answer["soft"]), answer["home_shift"]
    off = abs(got - right)
    proves = "a length is asked for: above 0" if got < 0 and abs(got + right) <= SHIFT else ""
    if abs(got / 1000 - right) <= SHIFT < right:
        proves = "this is in millimetres: give metres"
    a, b, now, _ = arm_of(context)
    if abs(got - (right + a + b - now)) <= SHIFT < off:
        proves = "this is from the hand to full reach; asked for is from the hand to where it was, and there the arm was not straight"
    return Measure(
        off <= SHIFT, "how far your soft carries the hand from its rest place", f"{1000 * got:.4g} mm, {told_length(off)} off", off, proves
    )


def turn_right(case, answer, context):
    """What it does to the elbow."""
    wrong = matters(context, answer["soft"])
    if wrong:
        return wrong
    right, got = turn_of(context, answer["soft"]), answer["home_turn"]
    off = abs(got - right)
    a, b, now, _ = arm_of(context)
    proves = "a turn is asked for, not a direction: above 0" if abs(got + right) <= TURN < off else ""
    if abs(got - right - bend(a, b, now)) <= TURN < off:
        proves = "this is the bend with soft on; the elbow was bent already, and turns by what is more"
    return Measure(off <= TURN, "how far your soft turns the elbow at home", f"{got:.4g} degrees, {off:.3g} off", off, proves)


def price(soft=lambda a, b, now, limit: shortest_soft(a, b, limit), shift=shift_of, turned=turn_of, soft_scale=1.0):
    """Return the answer of 10.5 as a function of the context; the defaults are right, every other choice is one planned mistake."""

    def answer(context):
        length = soft(*arm_of(context))
        return {
            "soft": soft_scale * float(length),
            "home_shift": float(shift(context, length)),
            "home_turn": float(turned(context, length)),
        }

    return answer


def per_metre(a, b, now, limit):
    """The limit taken for degrees a metre, within the reach."""
    return 2 / (np.radians(limit) ** 2 * (a + b))


def in_degrees(a, b, now, limit):
    """Degrees a metre in place of radians a metre."""
    return 2 / ((1000 * limit) ** 2 * (a + b))


def not_squared(a, b, now, limit):
    """The speed is not squared."""
    return 2 / (np.radians(1000 * limit) * (a + b))


MISTAKES = (
    Mistake(
        "degrees a metre",
        price(soft=in_degrees),
        "degrees went into the formula: np.radians first, and 1000 mm to the metre",
        ("soft",),
        FAST,
    ),
    Mistake("not squared", price(soft=not_squared), "the speed has to be squared: s = 2 / (speed**2 * L)", ("soft",), FAST),
    Mistake(
        "millimetres not counted",
        price(soft=per_metre),
        "the limit was taken for degrees a metre; a metre has 1000 millimetres",
        ("soft",),
        FAST,
    ),
    Mistake(
        "as long as the rest pose allows",
        price(soft=lambda a, b, now, limit: a + b - now),
        "this is the longest soft that leaves the rest pose alone; it lets the elbow turn faster than the limit",
        ("soft",),
        FAST,
    ),
    Mistake(
        "what is left of the reach",
        price(shift=lambda context, soft: sum(arm_of(context)[:2]) - held(context, soft)),
        "this is from the hand to full reach; asked for is from the hand to where it was, and there the arm was not straight",
        ("home_shift",),
        HOME,
    ),
    Mistake(
        "home is left alone",
        price(shift=lambda context, soft: 0.0, turned=lambda context, soft: 0.0),
        "home moves: the rest pose lies in the soft zone, for its arm is nearly straight",
        ("home_shift", "home_turn"),
        HOME,
    ),
    Mistake(
        "the bend, not the turn",
        price(turned=lambda context, soft: bend(*arm_of(context)[:2], held(context, soft))),
        "this is the bend with soft on; the elbow was bent already, and turns by what is more",
        ("home_turn",),
        HOME,
    ),
    Mistake(
        "radians",
        price(turned=lambda context, soft: np.radians(turn_of(context, soft))),
        "home_turn is in radians; degrees are asked for",
        ("home_turn",),
        "the convention strip",
    ),
)

CHECKPOINT = Checkpoint(
    id="10.5",
    title="What soft costs at home",
    kind="value",
    names={"soft": forms.number(), "home_shift": forms.number(), "home_turn": forms.number()},
    claims=(
        Claim("soft", "soft: as short as it can be for that speed", 2, soft_right, "0.3 mm", ("soft",), FAST, settable=True),
        Claim("home_shift", "home_shift: what it does to the hand", 1, shift_right, "0.1 mm", ("soft", "home_shift"), HOME, settable=True),
        Claim(
            "home_turn", "home_turn: what it does to the elbow", 1, turn_right, "0.1 degrees", ("soft", "home_turn"), HOME, settable=True
        ),
    ),
    worked=price(),
    hint="The elbow turns fastest where the zone begins, soft metres before the reach: about sqrt(2 / (soft * L)) radians a metre.\n"
    "Turned round: soft = 2 / (speed**2 * L), the speed in radians a metre: np.radians(1000 * degrees a millimetre).\n"
    "home: the target is where the wrist is at rest. The soft distance says where the hand stops now; the bends before and after say the turn.",
    mistakes=MISTAKES,
    closed=BOOK,
    show=show_price,
)
