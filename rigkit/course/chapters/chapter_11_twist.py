"""Checkpoints 11.3 and 11.5: what a linear blend leaves of the radius of a twisted sleeve, and a twist spread over several joints.

The mean of two points on a circle lies inside it: for the share w and the twist t the radius
left is sqrt(1 - 2 w (1 - w) (1 - cos t)), half and half cos(t / 2). Source: Kavan, Collins,
Zara, O'Sullivan, ACM TOG 27(4):105 (2008).
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_11_show import drawn, shares
from rigkit.course.chapters.chapter_11_sleeve import BOOK, blended, radius_left, twisted_poses
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake

SHARE, DEGREES = 1e-3, 0.1
LAW, SPREAD = "idea 2, the law", "idea 3, spread it"
LOSES = ("middle_left", "quarter_left", "most_twist")


def collapse(left=radius_left, most=None, scale=1.0):
    """Return the answer of 11.3 as a function of the context; the defaults are right, every other choice is one planned mistake."""

    def answer(context):
        twist, keep = context.given["twist"], context.given["keep"]
        limit = 2 * np.degrees(np.arccos(keep)) if most is None else most(keep)
        return dict(zip(LOSES, map(float, (left(twist, 0.5), left(twist, 0.25), scale * limit))))

    return answer


def near(name, right, limit, unit, words):
    """A measure of one number against `right(context)`."""

    def measure(case, answer, context):
        expected, got = right(context), answer[name]
        off = abs(got - expected)
        side = "too large" if got > expected else "too small"
        proves = "this is in percent; a share is asked for, from 0 to 1" if not unit and abs(got / 100 - expected) <= limit < off else ""
        return Measure(off <= limit, words, f"{name} = {got:.5g}{unit}, {off:.3g} {side}", off, proves)

    return measure


def loses(name, limit, unit, words):
    """A measure of one number of 11.3."""
    return near(name, lambda context: collapse()(context)[name], limit, unit, words)


def spread(count=None, each=None, kept=None):
    """Return the answer of 11.5 as a function of the context."""

    def answer(context):
        twist, keep = context.given["twist"], context.given["keep"]
        number = fewest(twist, keep) if count is None else count(twist, keep)
        local = [twist / number] * number if each is None else each(twist, number)
        return {
            "joints": number,
            "local_twists": [float(one) for one in local],
            "kept": radius_left(twist / number) if kept is None else float(kept(twist, number)),
        }

    return answer


def fewest(twist, keep):
    """The fewest equal steps of a twist with which the middle between neighbours keeps `keep` of its radius."""
    return int(np.ceil(twist / (2 * np.degrees(np.arccos(keep))) - 1e-9))


def count_right(case, answer, context):
    """The fewest joints."""
    twist, keep, got = context.given["twist"], context.given["keep"], answer["joints"]
    right = fewest(twist, keep)
    told = f"joints = {got}: " + (f"the middle keeps {radius_left(twist / got):.4f}" if got > 0 else "no joint twists")
    return Measure(got == right, f"the fewest with which the middle keeps {keep:g} or more", told, float(abs(got - right)))


def twists_right(case, answer, context):
    """As many as joints, adding up to the twist, none larger than the limit."""
    twist, keep, got = context.given["twist"], context.given["keep"], np.asarray(answer["local_twists"], float)
    if not len(got):
        return Measure(False, "one number a joint", "no number", 9.0)
    limit = 2 * np.degrees(np.arccos(keep))
    off = max(
        abs(got.sum() - twist), float(np.abs(got).max() - limit), float(got.max() - got.min()) if len(got) != fewest(twist, keep) else 0
    )
    return Measure(
        off <= DEGREES and len(got) == fewest(twist, keep),
        f"{fewest(twist, keep)} turns that add up to {twist} degrees, none beyond {limit:.2f}",
        f"{len(got)} turns, sum {got.sum():.4g}, largest {np.abs(got).max():.4g} degrees",
        float(off),
    )


def show_collapse(viewer, answer, context):
    """The sleeve's loops twisted linearly."""
    known = context.given
    poses = twisted_poses(np.asarray(known["binds"]), known["twist"])
    drawn(viewer, context, blended(known["vertices"], shares(known), np.asarray(known["binds"]), poses), known["vertices"])
    viewer.caption(f"11.3: the sleeve's loops, twisted by {known['twist']} degrees and blended linearly; faint, as modelled.")
    viewer.say(", ".join(f"{name} {answer[name]:.4g}" for name in LOSES if name in answer))


def show_spread(viewer, answer, context):
    """The sleeve's loops twisted by one step."""
    known = context.given
    step = float(np.clip(max(map(abs, answer.get("local_twists") or [known["twist"]])), 0, 180))
    poses = twisted_poses(np.asarray(known["binds"]), step)
    drawn(viewer, context, blended(known["vertices"], shares(known), np.asarray(known["binds"]), poses), known["vertices"])
    viewer.caption(
        f"11.5: the sleeve's loops between two neighbours, twisted by your largest step, {step:.1f} degrees; faint, as modelled."
    )


CHECKPOINT_3 = Checkpoint(
    id="11.3",
    title="How much a twisted sleeve collapses",
    kind="value",
    names=dict.fromkeys(LOSES, forms.number()),
    claims=(
        Claim("middle", "middle_left: half and half", 1, loses("middle_left", SHARE, "", "the radius left in the middle"), "0.001", ("middle_left",), LAW),
        Claim("quarter", "quarter_left: one quarter and three", 1, loses("quarter_left", SHARE, "", "the radius left at a quarter"), "0.001", ("quarter_left",), LAW),
        Claim("most", "most_twist: the largest twist", 1, loses("most_twist", DEGREES, " degrees", "the twist that keeps just so much"), "0.1 degrees", ("most_twist",), LAW),
    ),
    worked=collapse(),
    hint="np.cos takes radians: np.radians(twist).\n"
    "The law for any share: np.sqrt(1 - 2 * w * (1 - w) * (1 - np.cos(t))).\n"
    "Half and half it is cos(t / 2). For most_twist go back: t = 2 * np.arccos(keep), in degrees.",
    mistakes=(
        Mistake("whole angle", collapse(lambda t, w: abs(np.cos(np.radians(t)))), "cos t is too much: half and half the radius is cos(t / 2)", ("middle", "quarter"), LAW),
        Mistake("in proportion", collapse(lambda t, w: 1 - t / 180), "as if the radius went evenly with the angle: it is a mean of two points on a circle", ("middle", "quarter"), LAW),
        Mistake("half everywhere", collapse(lambda t, w: radius_left(t)), "the law for half and half was taken at a quarter too: put w = 0.25 in", ("quarter",), LAW),
        Mistake("a quarter of the twist", collapse(lambda t, w: np.cos(np.radians(t) * w)), "a share of weights is no share of the angle: put w = 0.25 into the law", ("quarter",), LAW),
        Mistake("what is lost", collapse(lambda t, w: 1 - radius_left(t, w)), "this is what is lost; asked for is what is left", ("middle", "quarter"), LAW),
        Mistake("radians", collapse(scale=np.pi / 180), "these are radians; degrees are asked for (np.degrees)", ("most",), LAW),
        Mistake("half the twist", collapse(scale=0.5), "this is half the twist: cos(t / 2) = keep, so t is twice the arccos", ("most",), LAW),
    ),
    closed=BOOK,
    show=show_collapse,
)  # fmt: skip

CHECKPOINT_5 = Checkpoint(
    id="11.5",
    title="A twist spread over several joints",
    kind="value",
    names={"joints": forms.integer(), "local_twists": forms.listing(forms.number()), "kept": forms.number()},
    claims=(
        Claim("count", "joints: the fewest that keep enough", 1, count_right, "exact", ("joints",), SPREAD),
        Claim("local", "local_twists: what each turns against its parent", 1, twists_right, "0.1 degrees", ("local_twists",), SPREAD),
        Claim("kept", "kept: the radius left in the middle of a step", 1, near("kept", lambda context: spread()(context)["kept"], SHARE, "", "the share of the radius"), "0.001", ("kept",), SPREAD),
    ),
    worked=spread(),
    hint="most_twist of 11.3 is what one step may be.\n"
    "As many steps as np.ceil(twist / most_twist), a whole number: int(...).\n"
    "The joints are a chain: each turns its parent's turn further, so each has twist / joints on its own.",
    mistakes=(
        Mistake("cumulative", spread(each=lambda t, n: [t * (k + 1) / n for k in range(n)]), "these are turns in the world: in a chain each joint is carried by its parent, so each adds only its own step", ("local",), SPREAD),
        Mistake("whole twist each", spread(each=lambda t, n: [t] * n), "every joint has the whole twist: the end would turn by joints times the twist", ("local",), SPREAD),
        Mistake("rounded down", spread(count=lambda t, k: max(1, fewest(t, k) - 1)), "one joint too few: round up, not down", ("count", "local", "kept"), SPREAD),
        Mistake("one more", spread(count=lambda t, k: fewest(t, k) + 1), "one joint too many: the one at the end of the last step is counted already", ("count", "local"), SPREAD),
        Mistake("whole step", spread(kept=lambda t, n: np.cos(np.radians(t / n))), "cos of the whole step: the middle keeps cos(step / 2)", ("kept",), SPREAD),
        Mistake("not spread", spread(kept=lambda t, n: radius_left(t)), "this is what the whole twist leaves; between neighbours there is only one step", ("kept",), SPREAD),
    ),
    closed=BOOK,
    show=show_spread,
)  # fmt: skip
