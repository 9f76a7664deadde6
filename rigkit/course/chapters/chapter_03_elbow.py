"""Checkpoint 03.5: the order of three angles that suits an elbow.

Three turns one after the other about moving axes reach every orientation, and every
order has its own bad place: where the middle angle is 90 degrees, the first axis
and the last are one line (gimbal lock). So the axis with the smallest range goes
into the middle. An elbow bends far, its forearm rolls far, and it gives a little to
the side: the side is the middle. Ranges of a joint: American Academy of Orthopaedic
Surgeons (memory); here Tally's own, invented.
"""

from functools import cache
from itertools import permutations

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_03_turns import TURNS, product, quaternion
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.rotation import to_euler

ORDERS = tuple("".join(letters) for letters in permutations("XYZ"))
NEAR = 0.1  # degrees
REASONS = ("a", "b", "c", "d")


def rotation_order():
    """A form: three different letters, all capitals (moving axes) or all small (fixed axes)."""
    every = {*ORDERS, *(order.lower() for order in ORDERS)}

    def form(value):
        if type(value) is not str or value.strip() not in every:
            raise forms.Wrong("wrong kind", forms.came(value, form.expected))
        return value.strip()

    form.expected = "an order in quotes, X, Y and Z once each in capitals, such as 'XYZ'"
    return form


def elbow_turns(rng):
    """Turns (N, 4) of an elbow's frame from rest, over its range: bend about z, a little about y, roll about x."""
    bend, roll, give = rng.integers(128, 146), rng.integers(58, 77), rng.integers(3, 7)
    x, y, z = np.eye(3)
    grid = [(b, g, r) for b in np.linspace(0, bend, 13) for g in (-give, 0, give) for r in np.linspace(-roll, roll, 9)]
    return np.array([product(product(quaternion(z, b), quaternion(y, g)), quaternion(x, r)) for b, g, r in np.radians(grid)])


def largest_middle(order, turns):
    """The largest middle angle, without its sign, of these turns (N, 4) in an order; degrees."""
    return float(np.degrees(np.abs(to_euler(order, turns)[:, 1]).max()))


@cache
def _best(turns):
    """The smallest of all orders' largest middle angles. turns: as a tuple, so that it can be kept."""
    return min(largest_middle(order, np.array(turns)) for order in ORDERS)


def turns_of(context):
    """The turns handed out, (N, 4)."""
    return np.asarray(context.given["elbow_turns"], float)


# ---- the claims ------------------------------------------------------------------------------------------------


def best_order(case, answer, context):
    """No other order keeps its middle angle further from 90 degrees."""
    turns, order = turns_of(context), answer["order"]
    got, best = largest_middle(order, turns), _best(tuple(map(tuple, turns)))
    return Measure(
        got <= best + NEAR,
        "the order whose middle angle stays furthest from 90 degrees over all the turns",
        f"{order}: its middle angle comes to {got:.1f} degrees, {90 - got:.1f} short of 90; another stays further off",
        got - best,
        f"small letters mean fixed axes: {order} is {order[::-1].upper()} about moving ones" if order.islower() else "",
    )


def middle_told(case, answer, context):
    """The largest middle angle of the order given."""
    right = largest_middle(answer["order"], turns_of(context))
    gap = abs(answer["largest_middle"] - right)
    return Measure(
        gap <= NEAR,
        f"the largest middle angle of {answer['order']} over all the turns, without its sign, in degrees",
        f"{answer['largest_middle']:.4f}   ({gap:.2f} off; tolerance 0.1 degree)",
        gap,
    )


def reason_given(case, answer, context):
    """The reason is the range of the middle letter's axis."""
    return Measure(answer["reason"] == "a", "what makes this order the best one", f"reason {answer['reason']!r}, which is not it", 1.0)


def elbow(order="ZYX", middle=largest_middle, reason="a"):
    """Return the answer of 03.5 as a function of the context; the defaults are right."""

    def answer(context):
        return {"order": order, "largest_middle": middle(order, turns_of(context)), "reason": reason}

    return answer


def in_radians(order, turns):
    """The middle angle left in radians."""
    return float(np.radians(largest_middle(order, turns)))


def first_angle(order, turns):
    """The first column in place of the middle one."""
    return float(np.degrees(np.abs(to_euler(order, turns)[:, 0]).max()))


def with_its_sign(order, turns):
    """The mean of the middle angles, in which left and right cancel."""
    return float(np.degrees(to_euler(order, turns)[:, 1].mean()))


def short_of_ninety(order, turns):
    """How far the middle angle stays from 90."""
    return 90 - largest_middle(order, turns)


THREE, LOCK = "idea 3, three angles", "idea 3, the middle angle"
CHECKPOINT = Checkpoint(
    id="03.5",
    title="An order for the elbow",
    kind="choice",
    names={"order": rotation_order(), "largest_middle": forms.number(), "reason": forms.choice(*REASONS)},
    claims=(
        Claim("order", "order: no other order's middle angle stays further from 90 degrees", 2, best_order, "0.1 degree", ("order",), LOCK),
        Claim("middle", "largest_middle: how near to 90 it comes", 1, middle_told, "0.1 degree", ("order", "largest_middle"), THREE),
        Claim("reason", "reason: why it is this order", 1, reason_given, "", ("reason",), LOCK),
    ),
    worked=elbow(),
    mistakes=(
        Mistake(
            "hinge in the middle",
            elbow("XZY"),
            "the middle axis is the hinge, and an elbow bends through 90 degrees: that order locks",
            ("order",),
            LOCK,
        ),
        Mistake(
            "hinge in the middle, the other way",
            elbow("YZX"),
            "the middle axis is the hinge, about which the elbow bends through 90 degrees: it locks there",
            ("order",),
            LOCK,
        ),
        Mistake("bone in the middle", elbow("ZXY"), "the middle axis is the bone, about which the forearm rolls far", ("order",), LOCK),
        Mistake(
            "bone in the middle, the other way",
            elbow("YXZ"),
            "the middle axis is the bone, and the forearm rolls far about it",
            ("order",),
            LOCK,
        ),
        Mistake(
            "back to front",
            elbow("XYZ"),
            "right axis in the middle, but back to front: the bend is the outer turn, so its letter comes first",
            ("order",),
            LOCK,
        ),
        Mistake(
            "in radians",
            elbow(middle=in_radians),
            "the angle is in radians; sentences, and this answer, use degrees",
            ("middle",),
            "the convention strip",
        ),
        Mistake(
            "first column",
            elbow(middle=first_angle),
            "this is the first angle of each turn; the middle one is column 1, counted from 0",
            ("middle",),
            THREE,
        ),
        Mistake(
            "mean with signs",
            elbow(middle=with_its_sign),
            "a mean in which plus and minus cancel: take the largest of the sizes, np.abs first",
            ("middle",),
            THREE,
        ),
        Mistake(
            "distance from 90",
            elbow(middle=short_of_ninety),
            "this is how far it stays from 90; asked for is the angle itself",
            ("middle",),
            THREE,
        ),
        Mistake(
            "reason b", elbow(reason="b"), "the axis with the largest range is the one that must not be in the middle", ("reason",), LOCK
        ),
        Mistake(
            "reason c",
            elbow(reason="c"),
            "it does: compare XYZ with ZYX, which have the same middle; the bend carries the roll, so it comes first",
            ("reason",),
            LOCK,
        ),
        Mistake(
            "reason d",
            elbow(reason="d"),
            "YZX has the bone last as well, and locks: what is in the middle is what counts",
            ("reason",),
            LOCK,
        ),
    ),
    hint="A loop over the six orders: rk.rotation.to_euler(order, elbow_turns) gives three columns, radians; the middle one is column 1.\n"
    "Of each order take the largest size, np.degrees(np.abs(...).max()). The smallest of the six is the best order's.",
    closed=TURNS,
)
