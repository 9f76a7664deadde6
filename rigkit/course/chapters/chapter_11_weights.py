"""Checkpoint 11.1: weights along a sleeve, judged by what they do, so that any smooth share passes."""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_11_sleeve import BOOK, CLOSE
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake

ARGUMENTS = ("along", "loop", "stations")
STEEP = 3.0  # times the slope of an even share: twice what 3 s^2 - 2 s^3 needs
SUM, LOOP, ENDS, STEADY = "idea 1, sum one", "idea 1, one loop, one weight", "idea 1, the ends", "idea 1, steadily"


def inputs(case):
    """along (V,), loop (V,), stations (J,)."""
    return np.asarray(case.inputs["along"], float), np.asarray(case.inputs["loop"], int), np.asarray(case.inputs["stations"], float)


def misfit(case, answer):
    """None, or the Measure of an answer of another shape."""
    along, loop, stations = inputs(case)
    expected = (len(along), len(stations))
    proves = "a row for each loop; a row for each vertex is asked for" if answer.shape == (loop.max() + 1, len(stations)) else ""
    return None if answer.shape == expected else Measure(False, f"shape {expected}", f"shape {answer.shape}", 9.0, proves)


def by_loop(along, loop):
    """The place of each loop: the mean of its vertices, (L,)."""
    return np.bincount(loop, along) / np.bincount(loop)


def sums_to_one(case, answer, context):
    """Rows of 0 or more that add up to one, no more than four above 0."""
    wrong = misfit(case, answer)
    if wrong:
        return wrong
    off = np.abs(answer.sum(axis=1) - 1) + np.maximum(-answer, 0).sum(axis=1)
    count = (answer > CLOSE).sum(axis=1)
    i = int((off + 9 * (count > 4)).argmax())
    got = f"vertex {i}: sum {answer[i].sum():.4g}, least {answer[i].min():.3g}, {count[i]} joints"
    return Measure(
        bool(off[i] <= CLOSE and count[i] <= 4), "sum 1, none below 0, at most four joints", got, float(off[i] + 9 * (count[i] > 4))
    )


def same_around(case, answer, context):
    """All vertices of a loop alike."""
    wrong = misfit(case, answer)
    if wrong:
        return wrong
    _, loop, _ = inputs(case)
    spread = [np.ptp(answer[loop == k], axis=0).max() for k in range(loop.max() + 1)]
    k = int(np.argmax(spread))
    proves = "vertices of one loop have weights of their own: give all of them the loop's place, the mean of along"
    got = f"loop {k}: weights differ by {spread[k]:.3g}"
    return Measure(spread[k] <= CLOSE, "one weight all around a loop", got, float(spread[k]), proves if spread[k] > CLOSE else "")


def ends_alone(case, answer, context):
    """At and before the first station, at and beyond the last, one joint alone."""
    wrong = misfit(case, answer)
    if wrong:
        return wrong
    along, loop, stations = inputs(case)
    place = by_loop(along, loop)[loop]
    ends = [(place <= stations[0] + 1e-9, 0, "first"), (place >= stations[-1] - 1e-9, -1, "last")]
    gaps = [(float(np.abs(answer[where, column] - 1).max()), told) for where, column, told in ends if where.any()]
    gap, told = max(gaps)
    return Measure(gap <= CLOSE, "the ends hang on one joint alone", f"at the {told} station that joint is {gap:.3g} off 1", gap)


def steady(case, answer, context):
    """What has gone over to later joints never comes back, and never jumps; where a loop is at a station, its own joint has the most."""
    wrong = misfit(case, answer)
    if wrong:
        return wrong
    along, loop, stations = inputs(case)
    places = by_loop(along, loop)
    order = np.argsort(places)
    mean = np.array([answer[loop == k].mean(axis=0) for k in order])
    later = np.cumsum(mean[:, ::-1], axis=1)[:, ::-1][:, 1:]
    step, way = np.diff(later, axis=0), np.diff(places[order])[:, None]
    back, jump = float(np.maximum(-step, 0).max()), float(np.maximum(step - STEEP * way / np.diff(stations).min(), 0).max())
    got = f"it comes back by {back:.3g}" if back >= jump else f"it jumps: {jump:.3g} more than {STEEP:g} times an even share"
    if max(back, jump) <= CLOSE:
        return own_station(places[order], mean, stations)
    return Measure(False, "later joints gain steadily along the sleeve", got, max(back, jump))


def own_station(places, mean, stations):
    """Whether the loops at a station hang on its own joint the most: places (L,), mean (L, J)."""
    at = [(k, row) for k, station in enumerate(stations) for row in mean[np.abs(places - station) < 1e-6]]
    short = [(float(row.max() - row[k]), k, row) for k, row in at]
    worst, k, row = max(short, key=lambda one: one[0], default=(0.0, 0, mean[0]))
    got = f"at station {k} joint {k} has {row[k]:.3g}, joint {int(row.argmax())} has {row.max():.3g}"
    return Measure(worst <= CLOSE, "at each station its own joint has the most", got, worst)


def cases(rng, context):
    """Five loops a hand can check, Tally's sleeve, and leaning loops between three and six joints, out of order."""
    known = context.given
    plain = (np.repeat([0.0, 0.25, 0.5, 0.75, 1.0], 2), np.repeat(np.arange(5), 2), np.array([0.0, 1.0]))

    def leaning(joints):
        places = rng.permutation(np.linspace(-0.02, 0.22, 25))
        loop = np.repeat(np.arange(25), 4)
        return places[loop] + np.tile([-0.004, 0.004, -0.002, 0.002], 25), loop, np.linspace(0, 0.2, joints)

    rows = [
        ("five level loops", plain),
        ("Tally's sleeve", (known["along"], known["loop"], known["stations"])),
        ("leaning loops, three joints", leaning(3)),
        ("leaning loops, six joints", leaning(6)),
    ]
    return [Case(about, dict(zip(ARGUMENTS, values)), tell=("stations",)) for about, values in rows]


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def sleeve_weights(along, loop, stations):
    """The worked answer."""
    place = (np.bincount(loop, along) / np.bincount(loop))[loop]
    share = np.clip((place[:, None] - stations[:-1]) / np.diff(stations), 0, 1)
    over = share**2 * (3 - 2 * share)
    ones, zeros = np.ones((len(place), 1)), np.zeros((len(place), 1))
    return np.hstack([ones, over]) - np.hstack([over, zeros])


def each_vertex(along, loop, stations):
    """Every vertex by its own place."""
    return sleeve_weights(along, np.arange(len(along)), stations)


def not_one(along, loop, stations):
    """A hump for each joint, not divided by the sum."""
    place = (np.bincount(loop, along) / np.bincount(loop))[loop]
    return np.exp(-(((place[:, None] - stations) / np.diff(stations).min()) ** 2))


def nearest(along, loop, stations):
    """The nearest joint takes all."""
    place = (np.bincount(loop, along) / np.bincount(loop))[loop]
    return np.eye(len(stations))[np.abs(place[:, None] - stations).argmin(axis=1)]


def backwards(along, loop, stations):
    """The joints in the wrong order."""
    return sleeve_weights(along, loop, stations)[:, ::-1]


def everybody(along, loop, stations):
    """One over the distance, divided by the sum: every joint has a little everywhere."""
    place = (np.bincount(loop, along) / np.bincount(loop))[loop]
    near = 1 / (np.abs(place[:, None] - stations) + 0.01)
    return near / near.sum(axis=1, keepdims=True)


def not_clipped(along, loop, stations):
    """A straight share from the first station to the last, which goes on beyond them."""
    place = (np.bincount(loop, along) / np.bincount(loop))[loop]
    share = (place - stations[0]) / (stations[-1] - stations[0])
    found = np.zeros((len(place), len(stations)))
    found[:, 0], found[:, -1] = 1 - share, share
    return found


def ends_only(along, loop, stations):
    """From the first station to the last in one go: the joints between get nothing."""
    place = (np.bincount(loop, along) / np.bincount(loop))[loop]
    share = np.clip((place - stations[0]) / (stations[-1] - stations[0]), 0, 1)
    found = np.zeros((len(place), len(stations)))
    found[:, 0], found[:, -1] = 1 - share, share
    return found


MISTAKES = (
    Mistake("each vertex", each_vertex, "each vertex has its own weight: a loop that leans is torn. Take the mean of along in the loop", ("around",), LOOP),
    Mistake("sum not one", not_one, "the weights do not add up to one: a vertex at p is pulled by (1 - sum) |p| to the world's origin", ("sum",), SUM),
    Mistake("nearest", nearest, "the nearest joint takes all: between two loops the share jumps, and the sleeve tears there", ("steady",), STEADY),
    Mistake("backwards", backwards, "the joints are in the wrong order: the start of the sleeve follows the last joint", ("ends", "steady"), ENDS),
    Mistake("everybody", everybody, "every joint has a little everywhere: more than four, and the ends are not alone", ("sum", "ends"), ENDS),
    Mistake("ends only", ends_only, "only the first and the last joint share: those between them have nothing to carry", ("steady",), STEADY),
    Mistake("not clipped", not_clipped, "the share goes on beyond the stations: clip it to 0 and 1", ("sum", "ends"), ENDS),
)  # fmt: skip


def show_weights(viewer, shown, context):
    """The loops' weights on the last joint, as a curve over their places."""
    known = context.given
    got = np.asarray(shown(known["along"], known["loop"], known["stations"]), float)
    right = sleeve_weights(known["along"], known["loop"], known["stations"])
    viewer.clear()
    viewer.see_through(False)
    viewer.look("side")
    viewer.focus(context.robot.landmarks["left_elbow"], 0.3)
    viewer.weights("left_elbow_joint")
    viewer.caption("11.1: the model's own weights on the left elbow; light is 1. The table compares yours with the worked ones.")
    rows = [
        (f"loop {k}", f"yours {got[known['loop'] == k][:, -1].mean():.3f}, worked {right[known['loop'] == k][0, -1]:.3f}")
        for k in range(0, 21, 4)
    ]
    viewer.table(rows)


CHECKPOINT = Checkpoint(
    id="11.1",
    title="Weights along a sleeve",
    kind="function",
    names={"sleeve_weights": forms.array(None, None)},
    claims=(
        Claim("sum", "each row adds up to one, none below 0, at most four joints", 2, sums_to_one, "1e-6", look_at=SUM),
        Claim("around", "the same all around a loop", 1, same_around, "1e-6", look_at=LOOP),
        Claim("ends", "at the first and the last station one joint alone, and beyond them", 1, ends_alone, "1e-6", look_at=ENDS),
        Claim("steady", "steadily along: later joints only gain, without a jump", 1, steady, "1e-6", look_at=STEADY),
    ),
    worked=sleeve_weights,
    hint="First one place for each loop: np.bincount(loop, along) / np.bincount(loop), then [loop] for each vertex.\n"
    "Between two stations in a row: share = (place - a) / (b - a), clipped to 0 and 1.\n"
    "What has gone over to joint k + 1 is taken off joint k.",
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
    show=show_weights,
)
