"""Checkpoint 11.6: the sleeve bound with the learner's own weights: at rest untouched, twisted as they say, and back.

Each claim is measured against the learner's own weights, so that every sound share passes.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_11_show import drawn, shares
from rigkit.course.chapters.chapter_11_sleeve import BOOK, CLOSE, blended, twisted_poses
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

NAMES = ("bound", "at_rest", "twisted", "back")
BIND, SUM = "idea 2, step 1", "idea 1, sum one"


def returned(weights=lambda w: w, rest=None, degrees=lambda t: t, back=None, poses=twisted_poses):
    """Return the answer of 11.6 as a function of the context; the defaults are right, every other choice is one planned mistake."""

    def answer(context):
        known = context.given
        vertices, binds, share = np.asarray(known["vertices"]), np.asarray(known["binds"]), weights(shares(known))
        turned = poses(binds, degrees(known["twist"]))
        one = blended(vertices, share, binds, binds) if rest is None else rest(vertices, share, binds)
        two = blended(vertices, share, binds, turned)
        return {"bound": share, "at_rest": one, "twisted": two, "back": one if back is None else back(two, share, binds, turned)}

    return answer


def sound(case, answer, context):
    """Rows that add up to one, the same around a loop, ends alone."""
    got, known = answer["bound"], context.given
    loop = np.asarray(known["loop"])
    if got.shape != (len(loop), 2):
        return Measure(False, f"shape {(len(loop), 2)}", f"shape {got.shape}", 9.0)
    total = float(np.abs(got.sum(axis=1) - 1).max())
    around = max(float(np.ptp(got[loop == k], axis=0).max()) for k in np.unique(loop))
    ends = float(max(np.abs(got[loop == 0, 0] - 1).max(), np.abs(got[loop == loop.max(), 1] - 1).max()))
    off = max(total, around, ends)
    return Measure(
        off <= CLOSE, "sum 1, loops whole, ends alone", f"sums off by {total:.3g}, loops by {around:.3g}, ends by {ends:.3g}", off
    )


def near(name, right, words):
    """A measure of one set of points."""

    def measure(case, answer, context):
        got, expected = answer[name], right(answer, context)
        if got.shape != expected.shape:
            return Measure(False, f"shape {expected.shape}", f"shape {got.shape}", 9.0)
        off = np.linalg.norm(got - expected, axis=1)
        i = int(off.argmax())
        return Measure(off[i] <= CLOSE, words, f"{name}: vertex {i} is {told_length(off[i])} off   (tolerance 1e-6 m)", float(off[i]))

    return measure


def modelled(answer, context):
    """The vertices as given."""
    return np.asarray(context.given["vertices"])


def by_own_weights(answer, context):
    """The twist by the learner's own weights."""
    known, share = context.given, answer["bound"]
    binds = np.asarray(known["binds"])
    if share.shape != (len(known["vertices"]), 2):
        share = shares(known)
    return blended(np.asarray(known["vertices"]), share, binds, twisted_poses(binds, known["twist"]))


def pose_alone(vertices, share, binds):
    """The inverse bind left out."""
    return np.einsum("vj,vja->va", share, np.einsum("jab,vb->vja", binds[:, :3, :3], vertices) + binds[:, :3, 3])


def about_the_origin(binds, degrees):
    """The turn on the left: about the world's x, through the world's origin."""
    at_rest = np.eye(4)
    return np.array([binds[0], twisted_poses(np.array([at_rest, at_rest]), degrees)[1] @ binds[1]])


def undone(points, share, binds, turned):
    """The twist blended backwards from the twisted points."""
    return blended(points, share, turned, binds)


MISTAKES = (
    Mistake("no inverse bind", returned(rest=pose_alone), "the inverse bind is left out: at rest the sleeve shifts by the joints' positions", ("rest", "back"), BIND),
    Mistake("sum not one", returned(weights=lambda w: 0.9 * w), "the weights do not add up to one: every vertex is pulled to the world's origin", ("bound", "rest", "back"), SUM),
    Mistake("degrees for radians", returned(degrees=lambda t: np.degrees(t)), "the twist was turned in degrees: use np.radians", ("twisted",), "the convention strip"),
    Mistake("the other way", returned(degrees=lambda t: -t), "the twist goes the other way: thumb along x of the joint", ("twisted",), "the convention strip"),
    Mistake("turn on the left", returned(poses=about_the_origin), "the turn stands on the left: it goes about the world's x, through the origin. Put it on the right: binds[1] @ turn", ("twisted",), BIND),
    Mistake("blended backwards", returned(back=undone), "going back is no blend from the twisted points: those have lost radius. Blend the modelled ones, with the poses at rest", ("back",), BIND),
)  # fmt: skip


def show_return(viewer, answer, context):
    """The learner's twisted sleeve."""
    drawn(viewer, context, answer.get("twisted", modelled(answer, context)), modelled(answer, context))
    viewer.caption("11.6: the loops of your twisted sleeve; faint, as modelled.")


CHECKPOINT = Checkpoint(
    id="11.6",
    title="Bind and return",
    kind="value",
    names={"bound": forms.array(None, 2), "at_rest": forms.array(None, 3), "twisted": forms.array(None, 3), "back": forms.array(None, 3)},
    claims=(
        Claim("bound", "bound: sum one, loops whole, ends alone", 1, sound, "1e-6", ("bound",), SUM),
        Claim("rest", "at_rest: where it was modelled", 1, near("at_rest", modelled, "at rest every vertex as modelled"), "1e-6 m", ("at_rest",), BIND),
        Claim("twisted", "twisted: as your own weights say", 1, near("twisted", by_own_weights, "each vertex at the mean of its joints"), "1e-6 m", ("bound", "twisted"), BIND),
        Claim("back", "back: where it was modelled", 1, near("back", modelled, "back home every vertex as modelled"), "1e-6 m", ("back",), BIND),
    ),
    worked=returned(),
    hint="Call your functions: sleeve_weights(along, loop, stations), then linear_blend(vertices, bound, binds, poses).\n"
    "At rest the poses are the binds.\n"
    "For the twist only poses[1] changes: binds[1] @ turn, a turn about x, in radians. Going back: the poses are the binds again.",
    mistakes=MISTAKES,
    closed=BOOK,
    show=show_return,
)  # fmt: skip
