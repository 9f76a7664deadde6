"""Checkpoint 09.4: from turned joints to a target and a pole, and back; what that loses has a name.

Three turned joints hold nine numbers, a target and a pole seven: three for the place of the end, three for its turn, one for
the side. The two that are missing are twists of the upper and of the lower bone about themselves. Source of the count:
Tolani, Goswami & Badler, Graphical Models 62 (2000) 353-388.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_06_solver import two_bones
from rigkit.course.chapters.chapter_09_frames import BOOK, CLOSE, angle, between, frame, is_turn, spun
from rigkit.course.chapters.chapter_09_show import fresh, held, see
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.words import told_length

GOAL, NORMAL, STANDS, LOST = "idea 2, step 5", "idea 2, step 4", "idea 2, step 6", "idea 2, step 7"
NAMES = ("shoulder", "elbow", "wrist")
WITHIN = 0.01  # degrees
OFF_LINE = 0.1  # metres: how far at least the pole is from the line
LENGTHS = (0.31, 0.26)


def posed(lengths, shoulder, elbow, wrist, root=(0.2, 1.0, 0.0)):
    """Frames (3, 4, 4) of a limb: shoulder, a turn in the world; elbow and wrist, turns seen from their parents; (3, 3) each."""
    first = frame(shoulder, root)
    second = first @ frame(elbow, [lengths[0], 0, 0])
    return np.array([first, second, second @ frame(wrist, [lengths[1], 0, 0])])


def hinged(degrees):
    """An elbow turned about its hinge alone."""
    return spun([0, 0, 1], degrees)


def is_hinged(case):
    """Whether the elbow is turned about its hinge alone, forward."""
    return case.about.startswith("hinge")


def loses(case):
    """Whether something is lost."""
    return not is_hinged(case)


def right_of(case):
    """The worked answer."""
    return matched_limb(np.asarray(case.inputs["frames"], float))


def goal_holds(case, answer, context):
    """Our own solver, with this target and pole, puts elbow and wrist where they are."""
    frames = np.asarray(case.inputs["frames"], float)
    root, mid, end = frames[:, :3, 3]
    target, pole = answer[0], answer[1]
    new_mid, _ = two_bones(root, mid, end, target, pole)
    line = (end - root) / np.linalg.norm(end - root)
    out = pole - root - ((pole - root) @ line) * line
    away, off = float(np.linalg.norm(out)), float(np.linalg.norm(target - end))
    expected = "the solver with this target and pole leaves elbow and wrist where they are"
    if off > CLOSE:
        return Measure(False, "the target is the wrist's place", f"{told_length(off)} off   (tolerance 1e-6 m)", 10 + off)
    off = float(np.linalg.norm(new_mid - mid))
    if off > CLOSE:
        return Measure(False, expected, f"the elbow is {told_length(off)} off   (tolerance 1e-6 m)", 1 + off)
    if away < OFF_LINE:
        told = f"{told_length(round(away, 7))} from it   (tolerance 100 mm)"
        return Measure(False, "a pole 100 mm or more from the line shoulder to wrist", told, OFF_LINE - away)
    if np.linalg.norm(np.cross(frames[0, :3, 0], frames[1, :3, 0])) > 1e-6:
        return Measure(True, expected)
    wrong = angle(right_of(case)[1] - mid, out)
    told = f"its pole is {wrong:.3g} degrees off that side   (tolerance 0.01)"
    return Measure(wrong <= WITHIN, "straight: the pole on the side to which the shoulder's hinge bends the elbow", told, wrong / 1000)


def stands_right(case, answer, context):
    """Right-handed, x along the bones, z the normal, the wrist as it was."""
    right, worst = right_of(case)[2], (0.0, 0)
    for k in range(3):
        worst = max(worst, (max(float(np.abs(answer[2][k] - right[k]).max()), is_turn(answer[2][k])), k))
    off, k = worst
    rule = "as it was turned" if k == 2 else "x along its bone, z the normal of the bend plane"
    if is_turn(answer[2][k]) > CLOSE:
        return Measure(False, f"{NAMES[k]}: a right-handed turn", f"determinant {np.linalg.det(answer[2][k]):.3g}", off)
    told = f"{between(answer[2][k], right[k]):.3g} degrees off   (tolerance 1e-6)"
    return Measure(off <= CLOSE, f"{NAMES[k]}: {rule}", told, off)


def pose_kept(case, answer, context):
    """Turned about the hinge alone: nothing changes, nothing is lost."""
    frames = np.asarray(case.inputs["frames"], float)
    off = [float(np.abs(answer[2][k] - frames[k, :3, :3]).max()) for k in range(3)]
    k = int(np.argmax(off))
    if off[k] > CLOSE:
        told = f"{NAMES[k]} turned by {between(answer[2][k], frames[k, :3, :3]):.3g} degrees   (tolerance 1e-6)"
        return Measure(False, "an elbow turned about its hinge only: every joint stands as before", told, 1 + off[k])
    most = float(np.abs(answer[3]).max())
    return Measure(
        most <= WITHIN, "an elbow turned about its hinge only: nothing is lost", f"{most:.3g} degrees   (tolerance 0.01)", most / 1000
    )


def loss_named(case, answer, context):
    """Both twists in degrees."""
    right = right_of(case)[3]
    off = np.abs(answer[3] - right)
    k = int(off.argmax())
    told = f"{answer[3][k]:.4g}   (tolerance 0.01)"
    return Measure(off[k] <= WITHIN, f"lost of the {('upper', 'lower')[k]} bone: a twist of {right[k]:.2f} degrees", told, float(off[k]))


def cases(rng, context):
    """Elbows turned about the hinge alone, also straight and by half a degree; off it, twisted, and bent backwards; Tally's and others."""
    at = context.robot.landmarks
    arm = tuple(float(np.linalg.norm(at[f"left_{b}"] - at[f"left_{a}"])) for a, b in (("shoulder", "elbow"), ("elbow", "wrist")))

    def some(most=120):
        return spun(rng.normal(size=3), rng.uniform(20, most))

    x, y = [1, 0, 0], [0, 1, 0]
    rows = (
        ("hinge only, 60 degrees, round lengths", posed((0.3, 0.25), np.eye(3), hinged(60), np.eye(3))),
        ("hinge only, Tally's arm", posed(arm, some(), hinged(rng.uniform(30, 95)), some())),
        ("hinge only, nearly straight, half a degree", posed(arm, some(), hinged(0.5), some())),
        ("hinge only, straight", posed(LENGTHS, some(), np.eye(3), some())),
        ("hinge only, bent by 140 degrees", posed(LENGTHS, some(), hinged(140), some())),
        ("the elbow twisted as well", posed(arm, some(), hinged(70) @ spun(x, rng.uniform(20, 60)), some())),
        ("the elbow bent sideways as well", posed(arm, some(), spun(y, rng.uniform(15, 40)) @ hinged(50), some())),
        ("bent backwards by 25 degrees", posed(LENGTHS, some(), hinged(-25), some())),
        ("any elbow", posed(LENGTHS, some(), some(100), some())),
    )
    return [Case(about, {"frames": frames}, tell=("-",)) for about, frames in rows]


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def matched_limb(frames):
    """The worked answer."""
    root, mid, end = frames[:, :3, 3]
    upper, lower = frames[0, :3, 0], frames[1, :3, 0]
    normal = np.cross(upper, lower)
    size = np.linalg.norm(normal)
    normal = normal / size if size > 1e-9 else frames[0, :3, 2]
    line = (end - root) / np.linalg.norm(end - root)
    pole = mid + 0.3 * np.cross(line, normal)
    stands = np.array([np.column_stack([x, np.cross(normal, x), normal]) for x in (upper, lower)] + [frames[2, :3, :3]])
    lost = [np.degrees(np.arctan2(np.linalg.norm(np.cross(frames[k, :3, 2], normal)), frames[k, :3, 2] @ normal)) for k in (0, 1)]
    return end, pole, stands, np.array(lost)


def other_side(frames):
    """The pole in front."""
    end, pole, stands, lost = matched_limb(frames)
    return end, 2 * frames[1, :3, 3] - pole, stands, lost


def pole_on_elbow(frames):
    """The elbow for a pole."""
    end, _, stands, lost = matched_limb(frames)
    return end, frames[1, :3, 3].copy(), stands, lost


def pole_along_y(frames):
    """The pole along the elbow's own y."""
    end, _, stands, lost = matched_limb(frames)
    return end, frames[1, :3, 3] - 0.3 * frames[1, :3, 1], stands, lost


def normal_turned(frames):
    """The cross product the other way round."""
    root, mid, end = frames[:, :3, 3]
    upper, lower = frames[0, :3, 0], frames[1, :3, 0]
    normal = np.cross(lower, upper)
    size = np.linalg.norm(normal)
    normal = normal / size if size > 1e-9 else frames[0, :3, 2]
    line = (end - root) / np.linalg.norm(end - root)
    pole = mid + 0.3 * np.cross(line, np.cross(upper, lower) / size if size > 1e-9 else normal)
    stands = np.array([np.column_stack([x, np.cross(normal, x), normal]) for x in (upper, lower)] + [frames[2, :3, :3]])
    lost = [np.degrees(np.arctan2(np.linalg.norm(np.cross(frames[k, :3, 2], normal)), frames[k, :3, 2] @ normal)) for k in (0, 1)]
    return end, pole, stands, np.array(lost)


def nothing_changes(frames):
    """The joints as they were."""
    end, pole, _, _ = matched_limb(frames)
    return end, pole, frames[:, :3, :3].copy(), np.zeros(2)


def straight_is_nan(frames):
    """0 / 0 for a straight limb."""
    root, mid, end = frames[:, :3, 3]
    upper, lower = frames[0, :3, 0], frames[1, :3, 0]
    normal = np.cross(upper, lower) / np.linalg.norm(np.cross(upper, lower))
    line = (end - root) / np.linalg.norm(end - root)
    stands = np.array([np.column_stack([x, np.cross(normal, x), normal]) for x in (upper, lower)] + [frames[2, :3, :3]])
    lost = [np.degrees(np.arccos(np.clip(frames[k, :3, 2] @ normal, -1, 1))) for k in (0, 1)]
    return end, mid + 0.3 * np.cross(line, normal), stands, np.array(lost)


def in_radians(frames):
    """Twists in radians."""
    end, pole, stands, lost = matched_limb(frames)
    return end, pole, stands, np.radians(lost)


def wrist_forgotten(frames):
    """The wrist goes on along the forearm."""
    end, pole, stands, lost = matched_limb(frames)
    return end, pole, stands[[0, 1, 1]], lost


def only_upper(frames):
    """The lower bone's twist counted from the upper one."""
    end, pole, stands, lost = matched_limb(frames)
    return end, pole, stands, np.array([lost[0], abs(lost[1] - lost[0])])


def upper_hinge(frames):
    """The shoulder's own z in place of the bend plane's normal."""
    end, pole, *_ = matched_limb(frames)
    z = frames[0, :3, 2]
    twist = np.degrees(np.arctan2(np.linalg.norm(np.cross(z, frames[1, :3, 2])), z @ frames[1, :3, 2]))
    turned = np.array([np.column_stack([x, np.cross(z, x), z]) for x in (frames[0, :3, 0], frames[1, :3, 0])] + [frames[2, :3, :3]])
    return end, pole, turned, np.array([0.0, twist])


MISTAKES = (
    Mistake("other side", other_side, "the pole is on the other side: the elbow jumps through the line. From the line out to the elbow, and on", ("goal",), GOAL),
    Mistake("pole on the elbow", pole_on_elbow, "the pole is the elbow itself: on the right side, but a nearly straight arm has it on the line", ("goal",), GOAL),
    Mistake("along y", pole_along_y, "the pole was put along the elbow's own y, which turns with the forearm: it leaves the bend plane when the elbow is twisted", ("goal",), GOAL),
    Mistake("normal turned", normal_turned, "the normal is turned round, so both bones roll half round: upper bone cross lower bone", ("stands", "kept"), NORMAL),
    Mistake("nothing changes", nothing_changes, "these are the joints as they were: the solver knows only the bend plane, so both bones' z is its normal", ("stands", "lost"), STANDS),
    Mistake("straight", straight_is_nan, "a straight limb has no bend plane: 0 / 0. Take the shoulder's own z there", ("kept",), NORMAL),
    Mistake("radians", in_radians, "what is lost is told in radians: degrees were asked for", ("lost",), LOST),
    Mistake("wrist forgotten", wrist_forgotten, "the wrist's own turn is lost: a target holds it, so it stays", ("stands", "kept"), STANDS),
    Mistake("one from the other", only_upper, "the lower bone's twist was counted from the upper one's: each is the angle from its own z to the normal", ("lost",), LOST),
    Mistake("the shoulder's hinge", upper_hinge, "the shoulder's own z was taken for the normal: only the places of the three joints show the bend plane", ("stands", "lost"), NORMAL),
)  # fmt: skip


def show_match(viewer, shown, context):
    """The told case: the limb, the pole, and the joints' axes as the solver turns them; grey, each bone's z as it was turned."""
    frames = np.asarray(shown.case.inputs["frames"], float)
    _, pole, stands, lost = shown.value
    places, pole = frames[:, :3, 3], held(pole)
    fresh(viewer, f"09.4, {shown.case.about}: your pole, and the joints as you say the solver turns them; grey, their z before.")
    viewer.joints(places, ["left_shoulder", "left_elbow", "left_wrist"])
    viewer.frames(places, stands)
    before = {f"_{k}": np.array([places[k], places[k] + 0.12 * frames[k, :3, 2]]) for k in (0, 1)}
    viewer.lines({**before, "pole": np.array([places[1], pole])}, "#9AA3AA")
    viewer.table([("lost of the upper bone", f"{lost[0]:.2f} degrees"), ("lost of the lower bone", f"{lost[1]:.2f} degrees")])
    see(viewer, places, pole)


CHECKPOINT = Checkpoint(
    id="09.4",
    title="From turned joints to a target, and back",
    kind="function",
    names={"matched_limb": forms.several(forms.point(), forms.point(), forms.array(3, 3, 3), forms.array(2))},
    claims=(
        Claim("goal", "target and pole leave elbow and wrist where they are", 2, goal_holds, "1e-6 m", look_at=GOAL),
        Claim("stands", "the joints as the solver turns them", 1, stands_right, "1e-6", look_at=STANDS, applies=loses),
        Claim("kept", "turned about the hinge alone: the pose is kept", 2, pose_kept, "1e-6", look_at=NORMAL, applies=is_hinged),
        Claim("lost", "what is lost is named: the twist of either bone", 2, loss_named, "0.01 degrees", look_at=LOST, applies=loses),
    ),
    worked=matched_limb,
    hint="The normal: np.cross(x of the shoulder, x of the elbow), at length 1; where that has no length, the shoulder's z.\n"
    "The target is the wrist's place. The pole: from the elbow on, 0.3 m along np.cross(line, normal); line goes from shoulder to wrist.\n"
    "stands: x of each bone as it is, z the normal, y = np.cross(z, x); the wrist as it was. lost: the angle from each bone's z to the normal.",
    mistakes=MISTAKES,
    cases=cases,
    closed=(*BOOK, "limb"),
    show=show_match,
)
