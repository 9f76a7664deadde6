"""Chapter 06, two bones and a target: reach, the solver, the pole point, where it flips, the swivel angle.

The functions are judged in chapter_06_solver and chapter_06_swivel; the values
asked for the learner's own variant are here. Every value is measured for what it
does (how far a bone turns, how far a point is off a line), so any right one passes.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np

from rigkit import limb as limbs
from rigkit.course import forms
from rigkit.course.chapters import chapter_06_solver, chapter_06_swivel
from rigkit.course.chapters.chapter_06_show import ARM, LEG, show_flips, show_poles, show_reach, show_solver, show_swivel
from rigkit.course.chapters.chapter_06_solver import LIMB, limb, square, unit
from rigkit.course.checkpoint import Chapter, Checkpoint, Claim, Measure, Mistake
from rigkit.words import millimetres

TURN = 0.1  # degrees a bone may turn when the solver is switched on
SLIP = 1.0  # degrees the elbow may swing for a slip of 1 mm of the pole point
BY_HAND = 0.005  # metres: a target placed by hand
GAIN = 0.02  # swivel gain, a plain ratio


# ---- what the notebook is handed -------------------------------------------------------------------------------

def given(robot, variant):
    """Eight targets (8, 3) for 06.1; a pole point (3,) and three angles (3,) in degrees for 06.4; all for this variant."""
    rng = np.random.default_rng([6, variant])
    shoulder, elbow, wrist = limb(robot, *ARM)
    upper, lower = np.linalg.norm(elbow - shoulder), np.linalg.norm(wrist - elbow)
    outer, inner, stance = upper + lower, abs(upper - lower), np.linalg.norm(wrist - shoulder)
    distances = [0.6 * outer, (stance + outer) / 2, 1.15 * outer, outer + 0.02, 0.5 * inner, inner + 0.3 * (outer - inner), 2 * outer, 0.25 * inner]
    ways = rng.normal(size=(8, 3)) * [0.5, 0.6, 0.3] + [0.3, -0.6, 0.8]  # mostly ahead of the robot, to its left and below the shoulder
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    targets = shoulder + np.array(distances)[:, None] * ways
    return {
        "targets": rng.permutation(targets).round(9),
        "flip_pole": (shoulder + outer * np.array([rng.uniform(0.2, 0.5), rng.uniform(-1.2, -0.8), rng.uniform(-1.1, -0.7)])).round(3),
        "angles": np.array([rng.integers(70, 86), rng.integers(25, 41), rng.integers(6, 13)], float),
    }


def reach_of(context):
    """The left arm's bones and reach, and the targets' distances from the shoulder."""
    shoulder, elbow, wrist = limb(context.robot, *ARM)
    upper, lower = float(np.linalg.norm(elbow - shoulder)), float(np.linalg.norm(wrist - elbow))
    return SimpleNamespace(
        shoulder=shoulder, upper=upper, lower=lower, outer=upper + lower, inner=abs(upper - lower), stance=float(np.linalg.norm(wrist - shoulder)),
        distances=np.linalg.norm(np.asarray(context.given["targets"]) - shoulder, axis=1),
    )


# ---- 06.1 which targets can be reached -------------------------------------------------------------------------

def radii(case, answer, context):
    """Outer and inner reach are the sum and the difference of the bone lengths."""
    arm = reach_of(context)
    off = max(abs(answer["outer_reach"] - arm.outer), abs(answer["inner_reach"] - arm.inner))
    return Measure(off <= 1e-6, "the wrist's largest and smallest distance from the shoulder",
                   f"outer {answer['outer_reach']:.6f} m, {millimetres(abs(answer['outer_reach'] - arm.outer), 3)} off; "
                   f"inner {answer['inner_reach']:.6f} m, {millimetres(abs(answer['inner_reach'] - arm.inner), 3)} off   (tolerance 1e-6 m)", off)


def which_reached(case, answer, context):
    """Each of the eight targets is rightly called in reach or not."""
    arm, said = reach_of(context), answer["reachable"]
    if len(said) != len(arm.distances):
        return Measure(False, f"{len(arm.distances)} answers, in the order of the targets", f"{len(said)} answers", float("inf"))
    right = (arm.distances >= arm.inner) & (arm.distances <= arm.outer)
    wrong = [i for i in range(len(said)) if said[i] != bool(right[i])]
    about = f"targets[{wrong[0]}], {arm.distances[wrong[0]]:.4f} m from the shoulder, is called {said[wrong[0]]}" if wrong else ""
    return Measure(not wrong, "True for each target between inner and outer reach, else False", f"{len(wrong)} of {len(said)} wrong: {about}", len(wrong))


def gaps_left(case, answer, context):
    """The distance from wrist to target that is left for each target."""
    arm = reach_of(context)
    right = np.abs(arm.distances - np.clip(arm.distances, arm.inner, arm.outer))
    off = np.abs(answer["gaps"] - right)
    i = int(off.argmax())
    return Measure(off.max() <= 1e-6, "for each target, how far the wrist stays away from it at best",
                   f"gaps[{i}] = {answer['gaps'][i]:.6f} m for a target {arm.distances[i]:.4f} m from the shoulder   "
                   f"({millimetres(off[i], 3)} off; tolerance 1e-6 m)", float(off.max()))


def reach_answer(*, outer=lambda a: a.outer, inner=lambda a: a.inner, distances=lambda a, c: a.distances, gap=None):
    """Return the answer of 06.1 as a function of the context; the defaults are right, every other choice is one planned mistake."""
    def answer(context):
        arm = reach_of(context)
        far, near, d = outer(arm), inner(arm), distances(arm, context)
        gaps = np.maximum(0, np.maximum(d - far, near - d)) if gap is None else gap(d, far, near)
        return {"outer_reach": far, "inner_reach": near, "reachable": [bool(near <= x <= far) for x in d], "gaps": gaps}
    return answer


def from_the_origin(arm, context):
    """Distances of the targets from the world's origin."""
    return np.linalg.norm(context.given["targets"], axis=1)


REACH = Checkpoint(
    id="06.1", title="Which targets can be reached", kind="value",
    names={"outer_reach": forms.number(), "inner_reach": forms.number(), "reachable": forms.listing(forms.boolean()), "gaps": forms.array(8)},
    claims=(
        Claim("radii", "outer and inner reach of the left wrist", 1, radii, "1e-6 m", ("outer_reach", "inner_reach"), "idea 1"),
        Claim("reachable", "each of the eight targets is rightly called in reach or not", 1, which_reached, "", ("reachable",), "idea 1"),
        Claim("gaps", "the gap that is left to each target", 1, gaps_left, "1e-6 m", ("gaps",), "idea 1"),
    ),
    worked=reach_answer(),
    mistakes=(
        Mistake("no inner reach", reach_answer(inner=lambda a: 0.0), "the inner reach is left out: bones of different length can't fold to nothing",
                ("radii", "reachable", "gaps"), "idea 1"),
        Mistake("reach of the stance", reach_answer(outer=lambda a: a.stance), "shoulder to wrist was measured in the stance, where the elbow is still bent; add the two bones",
                ("radii", "reachable", "gaps"), "idea 1"),
        Mistake("from the origin", reach_answer(distances=from_the_origin), "the targets' distances were taken from the world's origin, not from the shoulder",
                ("reachable", "gaps"), "idea 1"),
        Mistake("near gaps missing", reach_answer(gap=lambda d, far, near: np.maximum(0, d - far)), "a target nearer than the inner reach leaves a gap too: inner reach minus distance",
                ("gaps",), "idea 1"),
        Mistake("signed gaps", reach_answer(gap=lambda d, far, near: d - np.clip(d, near, far)), "a gap is a distance, so never below 0; for near targets it came out negative",
                ("gaps",), "idea 1"),
        Mistake("millimetres", lambda c: {k: v if k == "reachable" else v * 1000 for k, v in reach_answer()(c).items()}, "these are millimetres; lengths here are in metres",
                ("radii", "gaps"), "the convention strip"),
    ),
    hint="Measure both bones with np.linalg.norm. Straight, they add up; folded, the shorter is taken off the longer. "
         "np.clip(distance, inner_reach, outer_reach) is where the wrist stops on its way to each target.",
    closed=LIMB, show=show_reach,
)


# ---- 06.3 a pole point that moves nothing ----------------------------------------------------------------------

def turn_when_on(rest, pole):
    """The largest turn of a bone, in degrees, when the solver is switched on with the target on the end itself."""
    root, mid, end = rest
    s = limbs.solve(root, mid, end, end, pole)
    pairs = ((mid - root, s.mid - root), (end - mid, s.end - s.mid))
    return max(float(np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b))) for a, b in pairs)


def off_the_line(rest, point):
    """The distance of a point from the line through root and end, metres."""
    return float(np.linalg.norm(square(point - rest[0], unit(rest[2] - rest[0]))))


def off_the_plane(rest, point):
    """The angle, in degrees, between the pole point's side and the bend's side of the root-end line."""
    side = unit(square(point - rest[0], unit(rest[2] - rest[0])))
    return float(np.degrees(np.arccos(np.clip(side @ bend_side(*rest), -1, 1))))


def unmoved(name, landmarks):
    """The claim's measure for one pole point and one limb."""
    def measure(case, answer, context):
        rest = limb(context.robot, *landmarks)
        off = off_the_line(rest, answer[name])
        if off < 0.001:
            return Measure(False, f"{name} at least 1 mm off the line from {landmarks[0]} to {landmarks[2]}", f"{millimetres(off, 3)} off it: it picks no side",
                           180.0, "the pole point lies on the line from root to end, where it picks no side")
        turn = turn_when_on(rest, answer[name])
        return Measure(turn < TURN, f"no bone turns by more than {TURN} degrees when the solver is switched on", f"a bone turns by {turn:.3f} degrees", turn,
                       f"seen along the line, the pole point is {off_the_plane(rest, answer[name]):.1f} degrees away from the bend's side")
    return measure


def steady(case, answer, context):
    """Both pole points are so far from their lines that a slip of 1 mm swings the elbow by less than a degree."""
    swings = {name: float(np.degrees(np.arctan2(0.001, off_the_line(limb(context.robot, *marks), answer[name])))) for name, marks in (("arm_pole", ARM), ("leg_pole", LEG))}
    name = max(swings, key=swings.get)
    off = off_the_line(limb(context.robot, *(ARM if name == "arm_pole" else LEG)), answer[name])
    return Measure(swings[name] < SLIP, f"less than {SLIP:g} degree of swing for a slip of 1 mm of the pole point",
                   f"{swings[name]:.2f} degrees: {name} is only {millimetres(off)} off its line", swings[name])


def poles(place):
    """Return the answer of 06.3 as a function of the context, from place(root, mid, end) -> pole point."""
    return lambda context: {"arm_pole": place(*limb(context.robot, *ARM)), "leg_pole": place(*limb(context.robot, *LEG))}


def bend_side(root, mid, end):
    """The unit vector from the root-end line to the middle joint."""
    return unit(square(mid - root, unit(end - root)))


POLES = Checkpoint(
    id="06.3", title="A pole point that moves nothing", kind="value",
    names={"arm_pole": forms.point(), "leg_pole": forms.point()},
    claims=(
        Claim("arm", "switched on, the left arm stays as it is", 2, unmoved("arm_pole", ARM), "0.1 degree", ("arm_pole",), "idea 3, the half-plane"),
        Claim("leg", "switched on, the left leg stays as it is", 2, unmoved("leg_pole", LEG), "0.1 degree", ("leg_pole",), "idea 3, the half-plane"),
        Claim("steady", "a slip of 1 mm of either pole point swings its joint by less than 1 degree", 1, steady, "1 degree", (), "idea 3, the half-plane"),
    ),
    worked=poles(lambda root, mid, end: mid + 0.3 * bend_side(root, mid, end)),
    mistakes=(
        Mistake("off the plane", poles(lambda root, mid, end: mid + 0.3 * bend_side(root, mid, end) + 0.1 * np.cross(unit(end - root), bend_side(root, mid, end))),
                "the pole point lies off the bend plane, so the limb swings round to it", ("arm", "leg"), "idea 3, the half-plane"),
        Mistake("other side", poles(lambda root, mid, end: mid - 0.3 * bend_side(root, mid, end)),
                "the pole point is on the far side of the line: the limb turns over by 180 degrees", ("arm", "leg"), "idea 3, the half-plane"),
        Mistake("a direction", poles(lambda root, mid, end: 0.3 * bend_side(root, mid, end)),
                "this is a direction from the elbow, not a point: the elbow's own position was not added", ("arm", "leg"), "idea 3, the half-plane"),
        Mistake("beside the elbow", poles(lambda root, mid, end: mid + np.array([0.3, 0, 0])),
                "the pole point is to the side of the joint, square to the bend plane", ("arm", "leg"), "idea 3, the half-plane"),
        Mistake("the joint itself", poles(lambda root, mid, end: mid),
                "the joint itself is in the half-plane, but so near the line that a small slip swings the limb far", ("steady",), "idea 3, the half-plane"),
        Mistake("towards the wrist", poles(lambda root, mid, end: end + 0.3 * unit(end - root)),
                "the pole point lies on the line from root to end, where it picks no side", ("arm", "leg", "steady"), "idea 3, the half-plane"),
    ),
    hint="Take the vector from the shoulder to the elbow. Take its part along the shoulder-wrist line off it. What is left points to the bend's side: "
         "go from the elbow a good way along it. Then the same for hip, knee and ankle.",
    closed=LIMB, show=show_poles,
)


# ---- 06.4 where it flips ---------------------------------------------------------------------------------------

def on_flip_line(name, sign):
    """The claim's measure for one target: on the line through shoulder and pole point, on one side, in reach."""
    def measure(case, answer, context):
        arm, target = reach_of(context), answer[name]
        way = sign * unit(np.asarray(context.given["flip_pole"]) - arm.shoulder)
        along, distance = float((target - arm.shoulder) @ way), float(np.linalg.norm(target - arm.shoulder))
        off = float(np.linalg.norm(target - arm.shoulder - max(along, 0.0) * way))
        side = "towards" if sign > 0 else "away from"
        wanted = f"{name} in reach, on the line through shoulder and pole point, {side} the pole point"
        if not arm.inner <= distance <= arm.outer:
            return Measure(False, wanted, f"{distance:.4f} m from the shoulder; reach is {arm.inner:.4f} to {arm.outer:.4f} m", off)
        return Measure(off <= BY_HAND, wanted, f"{millimetres(off)} off that half of the line   (tolerance 5 mm)", off)
    return measure


def gains_right(case, answer, context):
    """The swivel gain at the three angles handed out."""
    angles = np.asarray(context.given["angles"], float)
    off = np.abs(answer["gains"] - 1 / np.tan(np.radians(angles)))
    i = int(off.argmax())
    return Measure(off.max() <= GAIN, f"degrees of swivel for one degree of the target, at {angles[0]:g}, {angles[1]:g} and {angles[2]:g} degrees from the pole's direction",
                   f"gains[{i}] = {answer['gains'][i]:.4f} at {angles[i]:g} degrees   ({off[i]:.4f} off; tolerance {GAIN})", float(off.max()))


def flips(*, front=lambda arm, pole: arm.shoulder + 0.7 * arm.outer * unit(pole - arm.shoulder),
          back=lambda arm, pole: arm.shoulder - 0.7 * arm.outer * unit(pole - arm.shoulder), gain=lambda radians: 1 / np.tan(radians)):
    """Return the answer of 06.4 as a function of the context; the defaults are right, every other choice is one planned mistake."""
    def answer(context):
        arm, pole = reach_of(context), np.asarray(context.given["flip_pole"], float)
        return {"flip_front": front(arm, pole), "flip_back": back(arm, pole), "gains": gain(np.radians(context.given["angles"]))}
    return answer


def beside_the_line(arm, pole):
    """A direction square to the pole's."""
    way = unit(pole - arm.shoulder)
    return unit(np.cross(way, [1.0, 0, 0]))


FLIPS = Checkpoint(
    id="06.4", title="Where it flips", kind="value",
    names={"flip_front": forms.point(), "flip_back": forms.point(), "gains": forms.array(3)},
    claims=(
        Claim("front", "flip_front: the elbow flips there, in reach, on the pole's side of the shoulder", 1, on_flip_line("flip_front", 1.0), "5 mm",
              ("flip_front",), "idea 3, where it flips"),
        Claim("back", "flip_back: the same, on the other side of the shoulder", 1, on_flip_line("flip_back", -1.0), "5 mm", ("flip_back",), "idea 3, where it flips"),
        Claim("gain", "the swivel gain at three angles", 2, gains_right, "0.02", ("gains",), "idea 3, where it flips"),
    ),
    worked=flips(),
    mistakes=(
        Mistake("the pole point itself", flips(front=lambda arm, pole: pole), "the pole point is on the line, but out of the arm's reach: go along the line, not all the way",
                ("front",), "idea 3, where it flips"),
        Mistake("square to the line", flips(front=lambda arm, pole: arm.shoulder + 0.7 * arm.outer * beside_the_line(arm, pole),
                back=lambda arm, pole: arm.shoulder - 0.7 * arm.outer * beside_the_line(arm, pole)), "square to the pole's direction the gain is 0: that is where it is steadiest",
                ("front", "back"), "idea 3, where it flips"),
        Mistake("shoulder not added", flips(front=lambda arm, pole: 0.7 * arm.outer * unit(pole - arm.shoulder), back=lambda arm, pole: -0.7 * arm.outer * unit(pole - arm.shoulder)),
                "this is a step from the shoulder, not a point: the shoulder was not added", ("front", "back"), "idea 3, where it flips"),
        Mistake("same side twice", flips(back=lambda arm, pole: arm.shoulder + 0.5 * arm.outer * unit(pole - arm.shoulder)),
                "both targets are on the pole's side; the line goes on behind the shoulder", ("back",), "idea 3, where it flips"),
        Mistake("tan for cot", flips(gain=np.tan), "tan grows where the gain shrinks: the gain is its inverse, cot = 1 / tan", ("gain",), "idea 3, where it flips"),
        Mistake("1 / sin", flips(gain=lambda radians: 1 / np.sin(radians)), "1 / sin never falls to 0; square to the pole's direction the gain is 0", ("gain",), "idea 3, where it flips"),
        Mistake("degrees into tan", flips(gain=lambda radians: 1 / np.tan(np.degrees(radians))), "np.tan takes radians; it was given degrees", ("gain",), "the convention strip"),
    ),
    hint="A side needs a plane: root, target and pole point must not be on one line. For the gains, measure: turn the target by a tenth of a degree and see how far "
         "the elbow swivels, or use the formula just above the task.",
    closed=LIMB, show=show_flips,
)


# ---- the chapter -----------------------------------------------------------------------------------------------

CHAPTER = Chapter(
    id="06", slug="two-bones", title="Two bones and a target", minutes=110,
    idea="write the two-bone solver, place a pole that moves nothing, say where it flips",
    checkpoints=(REACH, replace(chapter_06_solver.CHECKPOINT, show=show_solver), POLES, FLIPS, replace(chapter_06_swivel.CHECKPOINT, show=show_swivel)),
    given=given,
    recall=(
        ("Tally faces you. Where does its left arm point to?", ("to +X, on your right", "to -X, on your left", "to +Z, towards you"), 0,
         "A character faces +Z and has +Y up. In a right-handed frame its left is then +X, and that is on the right of whoever looks at its face."),
        ("A limb has a bend angle of 0. What does it look like?", ("folded flat", "straight", "bent by a right angle"), 1,
         "The bend angle is how far the lower bone is turned from the upper one's direction: 0 is straight. The angle inside the triangle is 180 degrees minus it."),
        ("A joint is snapped onto its fold. Why does a nearly straight arm still need a few degrees of bend at rest?",
         ("so that the arm gets longer", "so that the model's bend plane, and its side, can be told", "so that the weights add up to one"), 1,
         "Three points on a line lie in every plane through it. A little bend picks one plane and one side."),
    ),
    wrap_up=(
        ("You move a pole point along its half-plane, twice as far from the arm. What happens to the elbow?", ("it bends further", "nothing", "it flips"), 1,
         "The solver uses the direction only. A pole point further out damps slips: the same millimetre of it swings the elbow less."),
        ("The target is out of reach, too near. What does a solver return?", ("nan, there is no triangle", "the folded limb, pointing at the target", "the rest pose"), 1,
         "The distance is brought into the reach; the limb folds, the wrist stops at the inner reach, and a gap is left."),
        ("A target passes the shoulder-pole line at 5 degrees from it. Moving on by 1 degree, about how far does the elbow swivel?",
         ("1 degree", "5 degrees", "11 degrees"), 2, "The gain is cot 5 = 11.4. On the line itself it has no limit: the elbow flips. That is why a pole point is kept away from where targets go."),
    ),
)
