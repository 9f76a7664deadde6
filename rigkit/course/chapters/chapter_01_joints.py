"""Checkpoints 01.4 and 01.5: the joints of the left arm and the left leg, each at the centre of the loop it turns in."""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_01_fold import vector_area
from rigkit.course.chapters.chapter_01_loops import loop_centre
from rigkit.course.chapters.chapter_01_places import ARM, FREE, LEG, ON_THE_FLOOR, PLACES, SNAPPED, cause, pick, told, words
from rigkit.course.checkpoint import Checkpoint, Claim, Measure, Mistake

# --- measures ---------------------------------------------------------------------------------------------------------


def measure_place(joint, chain):
    """A measure of one joint against its true place, told as the way to go."""

    def measure(case, answer, context):
        got, right = answer[joint], context.robot.landmarks[joint]
        gap = float(np.linalg.norm(got - right))
        ok = gap <= FREE
        part, which = PLACES[joint]
        return Measure(
            ok,
            f"the centre of the {which} loop of {part}",
            told(joint, chain, got, context),
            gap,
            "" if ok else cause(joint, chain, got, context),
        )

    return measure


def measure_snapped(case, answer, context):
    """All joints of the chain on their loops' centres; told by the farthest."""
    gaps = {joint: float(np.linalg.norm(answer[joint] - context.robot.landmarks[joint])) for joint in answer}
    worst = max(gaps, key=gaps.get)
    far = f"{gaps[worst] * 1000:.2f} mm" if gaps[worst] < 1 else f"{gaps[worst]:.1f} m"
    return Measure(gaps[worst] <= SNAPPED, "each joint on its loop's area centre", f"the {words(worst)} is {far} off", gaps[worst])


# --- worked answers and mistakes --------------------------------------------------------------------------------------


def centres(context, chain, of=loop_centre):
    """The worked answer: for each joint `of` the loop it turns in."""
    return {joint: of(pick(context.given["loops"][PLACES[joint][0]], PLACES[joint][1])) for joint in chain}


def worked(chain):
    """The worked answer of a chain, a function of the Context."""
    return lambda context: centres(context, chain)


def but(chain, **changes):
    """A planned mistake: the worked answer, some joints changed by functions of (answer, context)."""

    def answer(context):
        good = centres(context, chain)
        return {**good, **{joint: change(good, context) for joint, change in changes.items()}}

    return answer


def every(chain, change):
    """A planned mistake that changes every joint's place by the same function."""
    return lambda context: {joint: change(place) for joint, place in centres(context, chain).items()}


def loop_beside(joint, step):
    """The centre of the loop `step` loops after the right one along the part."""

    def place(good, context):
        loops = context.given["loops"][PLACES[joint][0]]
        k = int(np.argmin([vector_area(loop) for loop in loops]))
        return loop_centre(loops[k + step])

    return place


def on_the_surface(joint):
    """The loop's point that lies farthest to the front."""

    def place(good, context):
        loop = pick(context.given["loops"][PLACES[joint][0]], PLACES[joint][1])
        return loop[int(np.argmax(loop[:, 2]))]

    return place


def end_loop(joint):
    """The centre of the part's last loop: its end, not its fold."""
    return lambda good, context: loop_centre(context.given["loops"][PLACES[joint][0]][-1])


def middle(joint, one, two):
    """Half-way between two other joints."""
    return lambda good, context: (good[one] + good[two]) / 2


def flat(place):
    """Placed in the front view: what it does not show, z, is left at zero."""
    return place * [1, 1, 0]


def side_view(context):
    """Placed in the side view: what it does not show, x, stays what it was for the shoulder, placed first."""
    good = centres(context, ARM)
    return {joint: np.array([good["left_shoulder"][0], place[1], place[2]]) for joint, place in good.items()}


def show_places(chain):
    """Draw the learner's joints over the faint right ones."""

    def show(viewer, answer, context):
        viewer.clear()
        viewer.see_through(True)
        expected = [context.robot.landmarks[joint] for joint in chain]
        viewer.faint(expected, parents=list(range(-1, len(chain) - 1)))
        names = [joint for joint in chain if joint in answer]
        viewer.joints({joint: answer[joint] for joint in names} or None)
        viewer.caption("Your joints, and faint where they belong")
        viewer.table([(words(joint), told(joint, chain, answer[joint], context)) for joint in names])
        viewer.focus(np.mean(expected, axis=0), 0.75)

    return show


def claims(chain, look_at):
    """One claim a joint, and one for all of them snapped."""
    return (
        *(
            Claim(
                joint,
                f"the {words(joint)} is in its place",
                1,
                measure_place(joint, chain),
                "5 mm",
                (joint,),
                "step 2f" if PLACES[joint][0].endswith("sleeve") else look_at,
                settable=True,
            )
            for joint in chain
        ),
        Claim("snapped", f"all {len(chain)} are on their loops' centres", 1, measure_snapped, "0.1 mm", (), look_at, settable=True),
    )


ON_A_RIB = "the centre of a rib next to it: the fold is the narrower loop"
ARM_JOINTS = Checkpoint(
    id="01.4",
    title="The joints of the left arm",
    kind="value",
    names={joint: forms.point() for joint in ARM},
    claims=claims(ARM, "step 2g"),
    worked=worked(ARM),
    closed=("placement.area_centre", "placement.chain_from_loops"),
    hint="What folds, folds at its narrowest loop (sleeve, collar: find_fold). What turns in a seat, turns in its widest (drum, plate). "
    "Put loop_centre around the loop, then all are snapped. Placed by hand: look from the front and from the side.",
    show=show_places(ARM),
    mistakes=(
        Mistake("on a rib", but(ARM, left_elbow=loop_beside("left_elbow", 2)), ON_A_RIB, ("left_elbow", "snapped"), "step 2f"),
        Mistake(
            "a pitch too low",
            but(ARM, left_elbow=loop_beside("left_elbow", 4)),
            "the next valley, one pitch off: a valley, but not the narrowest",
            ("left_elbow", "snapped"),
            "step 2f",
        ),
        Mistake(
            "a pitch too high",
            but(ARM, left_elbow=loop_beside("left_elbow", -4)),
            "the valley before it, one pitch off: a valley, but not the narrowest",
            ("left_elbow", "snapped"),
            "step 2f",
        ),
        Mistake(
            "on the surface",
            but(ARM, left_elbow=on_the_surface("left_elbow")),
            "a point on the sleeve: off by the radius; a pivot lies inside",
            ("left_elbow", "snapped"),
            "step 2b",
        ),
        Mistake(
            "side view only",
            side_view,
            "placed in the side view only: x was never set and stayed at the shoulder's; look from the front too",
            (*ARM[1:], "snapped"),
            "step 2g",
        ),
        Mistake(
            "front view only",
            every(ARM, flat),
            "placed in the front view only: z was never set and stayed at 0; look from the side too",
            ("snapped",),
            "step 2g",
        ),
        Mistake(
            "right arm",
            every(ARM, lambda p: p * [-1, 1, 1]),
            "this is the right arm; the robot's left is at +x, on your right when it faces you",
            (*ARM, "snapped"),
            "the convention strip",
        ),
        Mistake(
            "plain means",
            lambda context: centres(context, ARM, lambda loop: loop.mean(axis=0)),
            "plain means of the points: crowded points pull them off the middle",
            ("left_elbow", "snapped"),
            "step 2c",
        ),
        Mistake(
            "narrowest everywhere",
            but(ARM, left_shoulder=lambda g, c: loop_centre(pick(c.given["loops"]["left_shoulder_drum"], "narrowest"))),
            "the narrowest loop of the drum: a drum turns in its seat, at its widest",
            ("left_shoulder", "snapped"),
            "step 2g",
        ),
        Mistake(
            "gripper at its narrowest",
            but(ARM, left_gripper=lambda g, c: loop_centre(pick(c.given["loops"]["left_gripper_plate"], "narrowest"))),
            "the narrowest loop of the plate: a plate turns in its seat, at its widest",
            ("left_gripper", "snapped"),
            "step 2g",
        ),
        Mistake(
            "half-way",
            but(ARM, left_elbow=middle("left_elbow", "left_shoulder", "left_wrist")),
            "half-way from shoulder to wrist: the bones need not be equal, and the arm is bent",
            ("left_elbow", "snapped"),
            "step 2f",
        ),
        Mistake(
            "end of the collar",
            but(ARM, left_wrist=end_loop("left_wrist")),
            "the end of the collar, not its narrowest loop",
            ("left_wrist", "snapped"),
            "step 2g",
        ),
        Mistake(
            "centimetres",
            every(ARM, lambda p: 100 * p),
            "these are centimetres: the robot is handed out in metres",
            (*ARM, "snapped"),
            "step 1g",
        ),
    ),
)

LEG_JOINTS = Checkpoint(
    id="01.5",
    title="The joints of the left leg",
    kind="value",
    names={joint: forms.point() for joint in LEG},
    claims=claims(LEG, "step 2h"),
    worked=worked(LEG),
    closed=("placement.area_centre", "placement.chain_from_loops"),
    hint="The same three rules: narrowest for sleeve and collar, widest for the drum. "
    "The toe end is the last loop of the toe cap, its front.",
    show=show_places(LEG),
    mistakes=(
        Mistake(
            "ankle on the sole",
            but(LEG, left_ankle=lambda g, c: g["left_ankle"] * [1, 0, 1]),
            ON_THE_FLOOR["left_ankle"],
            ("left_ankle", "snapped"),
            "step 2h",
        ),
        Mistake(
            "ball on the floor",
            but(LEG, left_ball=lambda g, c: g["left_ball"] * [1, 0, 1]),
            ON_THE_FLOOR["left_ball"],
            ("left_ball", "snapped"),
            "step 2h",
        ),
        Mistake("on a rib", but(LEG, left_knee=loop_beside("left_knee", -2)), ON_A_RIB, ("left_knee", "snapped"), "step 2f"),
        Mistake(
            "a pitch too low",
            but(LEG, left_knee=loop_beside("left_knee", 4)),
            "the next valley, one pitch off: a valley, but not the narrowest",
            ("left_knee", "snapped"),
            "step 2f",
        ),
        Mistake(
            "kneecap",
            but(LEG, left_knee=on_the_surface("left_knee")),
            "the front of the knee: off by the radius; a pivot lies inside",
            ("left_knee", "snapped"),
            "step 2b",
        ),
        Mistake(
            "hip outside",
            but(LEG, left_hip=end_loop("left_hip")),
            "the outer face of the drum, not its widest loop",
            ("left_hip", "snapped"),
            "step 2h",
        ),
        Mistake(
            "toe cap's start",
            but(LEG, left_toe_end=lambda g, c: loop_centre(c.given["loops"]["left_toe_cap"][0])),
            "the first loop of the toe cap, beside the ball; the chain ends at its last",
            ("left_toe_end", "snapped"),
            "step 2h",
        ),
        Mistake(
            "one view only",
            every(LEG, flat),
            "placed in the front view only: z was never set and stayed at 0; look from the side too",
            ("left_ball", "left_toe_end", "snapped"),
            "step 2g",
        ),
        Mistake(
            "right leg",
            every(LEG, lambda p: p * [-1, 1, 1]),
            "this is the right leg; the robot's left is at +x, on your right when it faces you",
            (*LEG, "snapped"),
            "the convention strip",
        ),
        Mistake(
            "plain means",
            lambda context: centres(context, LEG, lambda loop: loop.mean(axis=0)),
            "plain means of the points: crowded points pull them off the middle",
            ("left_knee", "snapped"),
            "step 2c",
        ),
        Mistake(
            "half-way",
            but(LEG, left_knee=middle("left_knee", "left_hip", "left_ankle")),
            "half-way from hip to ankle: the bones need not be equal, and the leg is bent",
            ("left_knee", "snapped"),
            "step 2f",
        ),
    ),
)
