"""Chapter 06, two bones and a target: reach, the solver, the pole point, where it flips, the swivel angle.

Each checkpoint has a module of its own beside this one. Every answer is measured
for what it does (how far a bone turns, how far a point is off a line), so any
right one passes.
"""

from dataclasses import replace

import numpy as np

from rigkit.course.chapters import chapter_06_flips, chapter_06_poles, chapter_06_reach, chapter_06_solver, chapter_06_swivel
from rigkit.course.chapters.chapter_06_limbs import ARM, LEG, limb
from rigkit.course.chapters.chapter_06_show import show_solver, show_swivel
from rigkit.course.chapters.chapter_06_stance import stance, standing
from rigkit.course.checkpoint import Chapter


def given(robot, variant):
    """What the notebook is handed for this variant.

    targets: (8, 3), for 06.1. stance: local rotations (J, 4) of the robot in 06.3, with arm and leg: (3, 3), root, mid
    and end there. flip_pole: (3,), straight ahead of or behind the shoulder, never beside it; angles: (3,) degrees, for 06.4.
    """
    rng = np.random.default_rng([6, variant])
    shoulder, elbow, wrist = limb(robot, *ARM)
    upper, lower = np.linalg.norm(elbow - shoulder), np.linalg.norm(wrist - elbow)
    outer, inner, at_rest = upper + lower, abs(upper - lower), np.linalg.norm(wrist - shoulder)
    distances = [
        0.6 * outer,
        (at_rest + outer) / 2,
        1.15 * outer,
        outer + 0.02,
        0.5 * inner,
        inner + 0.3 * (outer - inner),
        2 * outer,
        0.25 * inner,
    ]
    ways = rng.normal(size=(8, 3)) * [0.5, 0.6, 0.3] + [0.3, -0.6, 0.8]  # mostly ahead of the robot, to its left and below the shoulder
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    targets = shoulder + np.array(distances)[:, None] * ways
    posed = stance(robot, np.random.default_rng([6, 3, variant]))
    return {
        "stance": posed,
        "arm": standing(robot, posed, ARM),
        "leg": standing(robot, posed, LEG),
        "targets": rng.permutation(targets).round(9),
        "flip_pole": np.array([shoulder[0], *(shoulder[1:] + outer * rng.uniform([-1.2, -1.1], [-0.8, -0.7])).round(3)]),
        "angles": np.array([rng.integers(70, 86), rng.integers(25, 41), rng.integers(6, 13)], float),
    }


CHAPTER = Chapter(
    id="06",
    slug="two-bones",
    title="Two bones and a target",
    minutes=150,
    idea="write the two-bone solver, place a pole that moves nothing, say where it flips",
    checkpoints=(
        chapter_06_reach.CHECKPOINT,
        replace(chapter_06_solver.CHECKPOINT, show=show_solver),
        chapter_06_poles.CHECKPOINT,
        chapter_06_flips.CHECKPOINT,
        replace(chapter_06_swivel.CHECKPOINT, show=show_swivel),
    ),
    given=given,
    recall=(
        (
            "Tally faces you. Where does its left arm point to?",
            ("to +X, on your right", "to -X, on your left", "to +Z, towards you"),
            0,
            "A character faces +Z and has +Y up. In a right-handed frame its left is then +X, and that is on the right of "
            "whoever looks at its face.",
        ),
        (
            "A limb has a bend angle of 0. What does it look like?",
            ("folded flat", "straight", "bent by a right angle"),
            1,
            "The bend angle is how far the lower bone is turned from the upper one's direction: 0 is straight. The angle "
            "inside the triangle is 180 degrees minus it.",
        ),
        (
            "A joint is snapped onto its fold. Why does a nearly straight arm still need a few degrees of bend at rest?",
            (
                "so that the arm gets longer",
                "so that the model's bend plane, and its side, can be told",
                "so that the weights add up to one",
            ),
            1,
            "Three points on a line lie in every plane through it. A little bend picks one plane and one side.",
        ),
    ),
    wrap_up=(
        (
            "You move a pole point along its half-plane, twice as far from the arm. What happens to the elbow?",
            ("it bends further", "nothing", "it flips"),
            1,
            "The solver uses the direction only. A pole point further out damps slips: the same millimetre of it swings the elbow less.",
        ),
        (
            "The target is out of reach, too near. What does a solver return?",
            ("nan, there is no triangle", "the folded limb, pointing at the target", "the rest pose"),
            1,
            "The distance is brought into the reach; the limb folds, the wrist stops at the inner reach, and a gap is left.",
        ),
        (
            "Seen from the shoulder, a target is 5 degrees off the pole's direction. It moves by 1 degree, square to the plane of the two. "
            "About how far does the elbow swivel?",
            ("1 degree", "5 degrees", "11 degrees"),
            2,
            "The gain is cot 5 degrees = 11.4. On the line itself it has no limit: the elbow flips. That is why a pole point is "
            "kept away from where targets go.",
        ),
    ),
)
