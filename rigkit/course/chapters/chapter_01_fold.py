"""Checkpoint 01.3: the fold of a ribbed sleeve, its narrowest loop.

The sleeves tried are made so that every honest width (area, length around, reach
across) names the same loop, and every shortcut names another. Their loops are
turned about the sleeve, so that a size along one axis says nothing.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_01_loops import LEVEL, about, d_corners, outline, tilt
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.placement import area_centre, loop_area


def sleeve(rng, crowd, turn, sides=12):
    """Loops (list of (N, 3)) of a ribbed sleeve along y, and the index of the fold.

    Ribs and valleys take turns. The fold is the narrowest valley, at least 5 % less across than any other, off the
    middle and never the first valley. The fold and the first valley show their full width along x and z, the others in
    turn their short side along one of the two. With `crowd`, points crowd on one half of every loop but the fold.
    """
    count = 2 * int(rng.integers(4, 6)) + 1  # 9 or 11 loops, valleys at odd places
    valleys = np.arange(1, count, 2)
    middle = count // 2
    choices = [v for v in valleys[1:] if abs(v - middle) > 1] or [valleys[-1]]
    fold = int(rng.choice(choices))
    radius = rng.uniform(0.030, 0.034, count)
    radius[valleys] = rng.uniform(0.0262, 0.0272, len(valleys))
    radius[fold] = rng.uniform(0.0240, 0.0248)
    around = np.arange(count) % 4 * np.pi / 2
    others = valleys[1:][valleys[1:] != fold]
    around[others] = np.arange(len(others)) % 2 * np.pi / 2
    around[[fold, valleys[0]]] = np.pi / 4
    loops = []
    for i, r in enumerate(radius):
        counts = np.ones(sides, dtype=int) + (2 if crowd and i == fold else 0)
        if crowd and i != fold:
            counts[: sides // 3] = rng.integers(4, 6)
        c, s = np.cos(around[i]), np.sin(around[i])
        flat = outline(d_corners(r, 0.6, sides) @ np.array([[c, s], [-s, c]]), counts)
        loops.append((flat @ LEVEL.T + [0, 0.012 * i, 0]) @ turn.T)
    return loops, fold


def fold_cases(rng, context):
    """Sleeves for 01.3: plain and upright, crowded, tilted and far from the origin."""
    plain, _ = sleeve(rng, False, np.eye(3))
    crowd, _ = sleeve(rng, True, np.eye(3))
    tilted, _ = sleeve(rng, False, tilt(rng))
    away = rng.uniform(0.4, 0.9, 3)
    return [
        Case("an upright sleeve", {"loops": plain}),
        Case("a sleeve with crowded points", {"loops": crowd}),
        Case("a tilted sleeve, far from the origin", {"loops": [loop + away for loop in tilted]}),
    ]


def measure_fold(case, answer, context):
    """Whether the loop named is the one with the least area."""
    areas = [float(loop_area(loop)) for loop in case.inputs["loops"]]
    right = int(np.argmin(areas))
    expected = f"loop {right} of {len(areas)}, area {areas[right] * 1e4:.1f} cm2"
    if not 0 <= answer < len(areas):
        return Measure(False, expected, f"loop {answer}, which there is not: indices go from 0 to {len(areas) - 1}", float(len(areas)))
    wider = np.sqrt(areas[answer] / areas[right]) - 1
    return Measure(
        answer == right, expected, f"loop {answer}, area {areas[answer] * 1e4:.1f} cm2: {100 * wider:.0f} % more across", float(wider)
    )


def vector_area(points):
    """The area of a closed loop: half the length of the sum of its edges' cross products."""
    return np.linalg.norm(np.cross(points - points[0], np.roll(points, -1, axis=0) - points[0]).sum(axis=0)) / 2


def find_fold(loops):
    """The worked answer of 01.3."""
    return int(np.argmin([vector_area(np.asarray(loop, dtype=float)) for loop in loops]))


def widest(loops):
    """argmax for argmin."""
    return int(np.argmax([vector_area(loop) for loop in loops]))


def middle_loop(loops):
    """Half-way along the sleeve."""
    return len(loops) // 2


def fewest_points(loops):
    """Fewest points, or the first where all are alike."""
    return int(np.argmin([len(loop) for loop in loops]))


def first_valley(loops):
    """The first loop that is narrower than both neighbours."""
    areas = [vector_area(loop) for loop in loops]
    return next(i for i in range(1, len(areas) - 1) if areas[i] < areas[i - 1] and areas[i] < areas[i + 1])


def nearest_the_mean(loops):
    """Mean distance of the points from their plain mean, which crowded points make too small."""
    return int(np.argmin([np.linalg.norm(loop - loop.mean(axis=0), axis=1).mean() for loop in loops]))


def shortest_reach(loops):
    """Largest distance from the world's origin: a distance to the loop, not across it."""
    return int(np.argmin([np.linalg.norm(loop, axis=1).max() for loop in loops]))


def along_x(loops):
    """The size along the world's x: a loop that turns its short side there looks narrow."""
    return int(np.argmin([np.ptp(loop[:, 0]) for loop in loops]))


def along_z(loops):
    """The size along the world's z."""
    return int(np.argmin([np.ptp(loop[:, 2]) for loop in loops]))


def counted_from_one(loops):
    """The right loop, counted from 1."""
    return find_fold(loops) + 1


def show_fold(viewer, answer, context):
    """Draw the learner's loop in the sleeve of the case that was told, its ends and its fold; all areas as a table."""
    case, chosen = answer.case, answer.value
    loops = case.inputs["loops"]
    viewer.clear()
    fold = int(np.argmin([loop_area(loop) for loop in loops]))
    right = loops[fold]
    told = {"first loop": 0, "last loop": len(loops) - 1, "the fold": fold, "your loop": chosen}
    viewer.lines({name: np.vstack([loops[i], loops[i][:1]]) for name, i in told.items() if 0 <= i < len(loops)})
    viewer.faint([area_centre(right)])
    viewer.caption("One of the sleeves that were tried: the loop you chose, and the fold")
    viewer.table([(f"loop {i}", f"{loop_area(loop) * 1e4:.1f} cm2") for i, loop in enumerate(loops)])
    viewer.focus(area_centre(right), 0.3)


ALL_SLEEVES = ("upright", "crowded", "tilted")
FOLD = Checkpoint(
    id="01.3",
    title="Find the fold",
    kind="function",
    names={"find_fold": forms.integer()},
    cases=fold_cases,
    claims=(
        Claim(
            "upright",
            "an upright sleeve: the narrowest loop, wherever it is",
            1,
            measure_fold,
            "",
            look_at="step 2f",
            applies=about("an upright sleeve"),
        ),
        Claim(
            "crowded",
            "loops may have different numbers of points",
            1,
            measure_fold,
            "",
            look_at="step 2f",
            applies=about("a sleeve with crowded points"),
        ),
        Claim(
            "tilted",
            "the sleeve may lie at any tilt, anywhere",
            1,
            measure_fold,
            "",
            look_at="step 2f",
            applies=about("a tilted sleeve, far from the origin"),
        ),
    ),
    worked=find_fold,
    closed=("placement.narrowest_loop", "placement.loop_area", "placement.loop_length"),
    hint="Measure each loop by one number, then take the index of the smallest with np.argmin. Its area is a good number: "
    "the signed areas of the fan, added up. You have them in loop_centre.",
    show=show_fold,
    mistakes=(
        Mistake("widest", widest, "the widest loop: that is a rib; the fold is the narrowest", ALL_SLEEVES, "step 2f"),
        Mistake("middle", middle_loop, "the loop half-way along: a fold need not be in the middle", ALL_SLEEVES, "step 2f"),
        Mistake("fewest points", fewest_points, "the loop with the fewest points: that says nothing of its width", ALL_SLEEVES, "step 2f"),
        Mistake(
            "first valley",
            first_valley,
            "the first valley: it is narrower than its neighbours, not the narrowest of all",
            ALL_SLEEVES,
            "step 2f",
        ),
        Mistake(
            "nearest the mean",
            nearest_the_mean,
            "distances from the plain mean: crowded points make a loop look narrow",
            ("crowded",),
            "step 2c",
        ),
        Mistake(
            "from the origin",
            shortest_reach,
            "distances from the world's origin: that measures where the loop is, not how wide",
            ("upright", "crowded"),
            "step 2f",
        ),
        Mistake(
            "along x",
            along_x,
            "the size along one axis: a loop may turn its short side there; its area knows no axis",
            ("upright", "crowded"),
            "step 2f",
        ),
        Mistake(
            "along z",
            along_z,
            "the size along one axis: a loop may turn its short side there; its area knows no axis",
            ("upright", "crowded"),
            "step 2f",
        ),
        Mistake("counted from one", counted_from_one, "the right loop counted from 1; Python counts from 0", ALL_SLEEVES, "step 2f"),
    ),
)
