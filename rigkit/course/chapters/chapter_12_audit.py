"""Checkpoints 12.1 and 12.5: the learner's own rig under the whole audit, then the same builder on a robot it has never seen.

Every rule of the audit, by its default limits, belongs to one claim. What no rig can be made of fails them all, and says why.
"""

import numpy as np

from rigkit import bend
from rigkit.audit import RULES
from rigkit.course.chapters.chapter_12_pieces import (
    CLOSED,
    PIECES,
    build,
    degrees_given,
    elbow_of_mine,
    feet_on_the_body,
    frames_copied,
    heel_under_the_ankle,
    hose_in_the_world,
    markers_turned,
    outlines_small,
    plain_means,
    range_from_straight,
    report,
    scaled_by_height,
    walked,
)
from rigkit.course.chapters.chapter_12_show import show_other, show_pieces
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.robot import assembly, tally

GROUPS = {
    "places": ("joint_centre", "prebend", "bend_side", "planarity", "zero_bone"),
    "frames": ("bone_axis", "chain_axis", "hinge_bend", "hinge_chain", "frame_handed", "joint_scale"),
    "sides": ("hinge_sides", "mirror_frame", "mirror_place", "counterpart", "near_plane", "plane_place", "name_side"),
    "controls": tuple(rule for rule in RULES if rule.startswith(("control_", "marker_"))) + ("channel_count", "hinge_range", "hinge_open"),
}
GROUPS["drives"] = tuple(rule for rule in RULES if not any(rule in rules for rules in GROUPS.values()))
RANGE = 0.5  # degrees
BUILDER, JOINTS, FRAMES, MIRROR, HANDLES, WHO = (
    "idea 1, the builder",
    "idea 1, joints",
    "idea 1, frames",
    "idea 1, the other side",
    "idea 1, handles",
    "idea 1, who follows whom",
)


def clear(found, rules, what="in the audit"):
    """The Measure of a Report, or of a text for no report: none of these rules has an open finding."""
    expected = f"no open finding {what}, of {len(rules)} rules"
    if isinstance(found, str):
        return Measure(False, "a rig can be put together from the pieces", f"it can't: {found.split('; expected')[0]}"[:150], 99.0)
    open_ones = [one for one in found if one.rule in rules]
    lost = [row for row in found.not_examined if row[0] in rules]
    if not open_ones and not lost:
        return Measure(True, expected, "none")
    if not open_ones:
        return Measure(False, "every rule finds what it has to look at", f"{lost[0][0]}, {lost[0][1]}: {lost[0][2]}"[:150], len(lost))
    count = f"{len(open_ones)} findings, the first: " if open_ones[1:] else ""
    return Measure(False, expected, f"{count}{open_ones[0].what}"[:150], len(open_ones))


def audited(group):
    """The claim of 12.1 about one group of rules."""
    return lambda case, answer, context: clear(report(context.robot, answer["pieces"]), GROUPS[group])


def controls_sound(case, answer, context):
    """The rules about controls, and hinges that go from straight to where the shells are still free."""
    found = audited("controls")(case, answer, context)
    if not found.ok:
        return found
    worst = (0.0, "")
    for part, (above, below) in {"elbow": ("shoulder", "wrist"), "knee": ("hip", "ankle")}.items():
        rest = bend.angle(*(answer["pieces"]["joints"][f"left_{name}"] for name in (above, part, below)))
        most = context.given["model"]["most_bend"][part]
        for word, end, wanted in zip(("low", "high"), answer["pieces"]["ranges"][part], (0.0, most)):
            off = abs(float(np.degrees(rest + end - wanted)))
            got = (
                f"{part}: its {word} end is bent by {np.degrees(rest + end):.2f} degrees from straight, asked for {np.degrees(wanted):.2f}"
            )
            worst = max(worst, (off, got))
    return Measure(worst[0] <= RANGE, "elbow and knee go from straight to most_bend", worst[1] or "they do", worst[0])


# ---- 12.5 ---------------------------------------------------------------------------------------------------------


def stranger_of(case):
    """The robot of a case of 12.5."""
    return tally(int(case.about.split()[-1]))


def other_audited(case, answer, context):
    """Nothing is open on the other robot."""
    return clear(report(stranger_of(case), answer), tuple(RULES), f"on {case.about}")


def other_joints(case, answer, context):
    """Joints are on the other robot's folds, not on one's own."""
    robot = stranger_of(case)
    off = {name: float(np.linalg.norm(at - robot.landmarks[name])) for name, at in answer["joints"].items()}
    name = max(off, key=off.get)
    got = f"{name} is {1000 * off[name]:.2f} mm off its fold on {case.about}"
    return Measure(off[name] <= 1e-4, "every joint on the centre of that robot's own fold", got, off[name])


def other_walks(case, answer, context):
    """Its walk passes."""
    return passes(walked(stranger_of(case), answer), f"{case.about} walks: ")


def passes(found, what=""):
    """The Measure of a walk, or of a text for none: every rule of the animator's test."""
    if isinstance(found, str):
        return Measure(False, "a walk can be made", f"none: {found}"[:150], 99.0)
    bad = [one for one in found[1] if not one.good]
    if not bad:
        return Measure(True, what + "all rules of the animator's test", "none is broken")
    return Measure(False, f"{what}all rules of the animator's test", "; ".join(map(told, bad[:2])), len(bad))


def told(one):
    """A measure of a walk in words; where it is worst is told where it is too much."""
    scale, unit = {"m": (1000.0, "mm"), "rad": (np.degrees(1), "degrees")}.get(
        one.unit, (np.degrees(1), one.unit.replace("rad", "degrees"))
    )
    value, limit = scale * one.value, scale * one.limit
    words = (
        f"{one.rule} {value:.0f} {unit}, at most {limit:.0f}"
        if limit > 10
        else f"{one.rule} {value:.3f} {unit}, at most {limit if limit > 5e-4 else 0:.1g}"
    )
    return words if one.good else f"{words}, {one.where}"


def cases(rng, context):
    """One robot of other measures: its elbow and its knee are farther than a centimetre from one's own and from the printed robot's."""
    known = [tally(0).landmarks, context.robot.landmarks]
    for number in rng.permutation(np.arange(1, 100)).tolist():
        robot = tally(number)
        near = min(np.linalg.norm(robot.landmarks[name] - one[name]) for one in known for name in ("left_elbow", "left_knee"))
        if number != context.variant and near > 0.010:
            return [Case(f"Tally, variant {number}", {"model": assembly.material(robot)}, tell=("_",))]
    raise ValueError("no robot differs enough; expected a table of dimensions with ranges")


def pieces_by(builder):
    """The answer of 12.1 by a builder."""
    return lambda context: {"pieces": builder(context.given["model"])}


COPIED = "the right side has the left side's frames: take the matched ones, -M times each"
MEANS = "joints stand on the plain mean of their loops' points: take the area centre (01.2)"
DEGREES = "ranges are in degrees; code takes radians"
STRAIGHT = "ranges are counted from straight; a control turns its joint from rest: take the bend at rest off"
TURNED = "a right marker is the left one turned half round: it stands in front of the elbow; mirror it over x = 0"
SMALL = "outlines are all 2 cm in radius: they are inside their shells, where nobody can pick them"
HEEL = "a heel pivot is under the ankle: it belongs at the sole's rearmost line, or the foot sinks as it rolls"
WORLD = "the hose follows nothing that the whole carries, so it stays behind"
MISTAKES_1 = (
    Mistake("plain means", pieces_by(plain_means), MEANS, ("places",), JOINTS),
    Mistake("frames copied", pieces_by(frames_copied), COPIED, ("sides",), MIRROR),
    Mistake("degrees", pieces_by(degrees_given), DEGREES, ("controls",), HANDLES),
    Mistake("from straight", pieces_by(range_from_straight), STRAIGHT, ("controls",), HANDLES),
    Mistake("markers turned", pieces_by(markers_turned), TURNED, ("controls",), MIRROR),
    Mistake("small outlines", pieces_by(outlines_small), SMALL, ("controls",), HANDLES),
    Mistake("heel under the ankle", pieces_by(heel_under_the_ankle), HEEL, ("drives",), HANDLES),
    Mistake("hose in the world", pieces_by(hose_in_the_world), WORLD, ("drives",), WHO),
)
AUDIT = Checkpoint(
    id="12.1",
    title="No open finding",
    kind="value",
    names={"pieces": PIECES},
    claims=(
        Claim("places", "joints: on their folds, bent the right way, in one plane", 2, audited("places"), look_at=JOINTS),
        Claim("frames", "frames: along the bone, one hinge for a chain", 2, audited("frames"), look_at=FRAMES),
        Claim("sides", "sides: the right side is the mirror image of the left", 2, audited("sides"), look_at=MIRROR),
        Claim("controls", "controls: seen, picked, on their joints, hinges in range; markers on the bend plane", 2, controls_sound, "0.5 degrees", look_at=HANDLES),
        Claim("drives", "the rest: feet roll on the floor, everything is carried once, home is the rest pose", 2, audited("drives"), look_at=WHO),
    ),
    worked=pieces_by(build),
    hint='audit(pieces) prints every finding: what, where, and what to do. Mend the first, build again.\n'
    "Each of the seven pieces has a worked line or a faded one in idea 1; start from those.\n"
    'pieces = build(model), with model = chapter.given["model"]; the right side comes last, by both(...).',
    mistakes=MISTAKES_1,
    closed=CLOSED,
    show=show_pieces,
    seconds=10.0,
)  # fmt: skip

MISTAKES_5 = (
    Mistake("the printed elbow", elbow_of_mine, "the left elbow is a number of the printed robot: take it from model", ("joints", "audit"), BUILDER),
    Mistake("scaled by height", scaled_by_height, "a knee goes not by the figure's height: legs differ; take it from model", ("joints", "audit"), BUILDER),
    Mistake("plain means", plain_means, MEANS, ("joints", "audit"), JOINTS),
    Mistake("frames copied", frames_copied, COPIED, ("audit",), MIRROR),
    Mistake("feet on the body", feet_on_the_body, "the feet follow the body: they are dragged along, and slide", ("walk",), WHO),
)  # fmt: skip
OTHER = Checkpoint(
    id="12.5",
    title="Another robot, the same code",
    kind="function",
    names={"build": PIECES},
    claims=(
        Claim("joints", "its joints are on that robot's own folds", 1, other_joints, "0.1 mm", look_at=BUILDER, settable=True),
        Claim("audit", "its audit has no open finding", 2, other_audited, look_at=BUILDER),
        Claim("walk", "its walk passes the animator's test", 2, other_walks, look_at="the quay, the test"),
    ),
    worked=build,
    hint="What in build is true of your own robot only? Look for numbers with three digits, and for names of cells outside it.\n"
    "Every place must come out of model; only names, signs and the marker's distance may be written down.",
    mistakes=MISTAKES_5,
    cases=cases,
    closed=CLOSED,
    show=show_other,
    seconds=10.0,
)  # fmt: skip
