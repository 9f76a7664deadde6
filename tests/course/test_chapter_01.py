"""Chapter 01: its answers against textbooks and SciPy, right answers of every kind, and what the text promises.

That each planned mistake is told, and that the worked answers hold for every
variant, is tested for all chapters in test_all_checkpoints.py.
"""

import re
from functools import cache

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

import rigkit as rk
from rigkit import files
from rigkit.course import chapters
from rigkit.course import context as contexts
from rigkit.course.chapters import chapter_01_delivered as arrival
from rigkit.course.chapters import chapter_01_fold as folds
from rigkit.course.chapters import chapter_01_hinge as hinge
from rigkit.course.chapters import chapter_01_joints as joints
from rigkit.course.chapters import chapter_01_loops as loops
from rigkit.course.chapters import chapter_01_motion as motion
from rigkit.course.chapters import chapter_01_places as places
from rigkit.course.collect import collect
from rigkit.course.judge import judge
from rigkit.course.panel import panel
from rigkit.view import Viewer
from rigkit.view.collide import clearance

CHAPTER = chapters.get("01")
CHECKPOINTS = {one.id: one for one in CHAPTER.checkpoints}
TEXT = files.shared("workbooks", "text", "01-where-joints-go.md").read_text(encoding="utf-8")
VARIANTS = (0, 7, 41, 99)


@cache
def context(variant=0):
    return contexts.context(CHAPTER, variant)


def judged(name, answer, variant=0):
    checkpoint, known = CHECKPOINTS[name], context(variant)
    cases = contexts.cases(checkpoint, known)
    namespace = {next(iter(checkpoint.names)): answer} if checkpoint.kind == "function" else answer
    return judge(checkpoint, collect(checkpoint, namespace, cases), known, cases, strict=True)


def full(name, answer, variant=0):
    result = judged(name, answer, variant)
    assert result.earned == result.points, panel(result).text


def earned(name, answer, variant=0):
    return {claim.id for claim in judged(name, answer, variant).claims if claim.outcome == "ok"}


# ---- the maths, from outside


@pytest.mark.source("Beyer")
def test_the_centre_of_a_dense_d_is_that_of_a_circular_segment():
    # Centroid of a circular segment of angle a: 4 R sin^3(a/2) / (3 (a - sin a)) from the centre;
    # Beyer, CRC Standard Mathematical Tables, mensuration of plane figures (memory).
    radius, cut = 0.03, 0.3
    a = 2 * np.pi - 2 * np.arccos(cut)
    right = -4 * radius * np.sin(a / 2) ** 3 / (3 * (a - np.sin(a)))
    corners = loops.d_corners(radius, cut, 4000)
    centre = loops.loop_centre(np.column_stack([corners, np.zeros(len(corners))]))
    assert centre == pytest.approx([right, 0, 0], abs=1e-7)


@pytest.mark.source("Beer & Johnston")
def test_the_centre_of_an_l_is_the_lever_between_its_two_bars():
    # Composite areas: 40 x 10 at (20, 5) and 10 x 30 at (5, 25), so (20*400 + 5*300) / 700 and (5*400 + 25*300) / 700;
    # the method of Beer & Johnston, Vector Mechanics for Engineers: Statics, centroids of composite areas (memory).
    bars = np.array([[0, 0, 0], [40, 0, 0], [40, 10, 0], [10, 10, 0], [10, 40, 0], [0, 40, 0.0]])
    assert loops.loop_centre(bars) == pytest.approx([9500 / 700, 9500 / 700, 0])


def test_a_plain_mean_of_crowded_points_is_millimetres_off():
    cases = {case.about: case.inputs["points"] for case in contexts.cases(CHECKPOINTS["01.2"], context())}
    loop = cases["a D-shaped loop, points crowded on one half"]
    assert np.linalg.norm(loop.mean(axis=0) - loops.loop_centre(loop)) > 5e-3


@pytest.mark.source("SciPy")
@pytest.mark.parametrize("variant", VARIANTS)
def test_every_point_of_a_shell_is_off_by_the_chord(variant):
    given = context(variant).given["slip"]  # turned by SciPy's Rotation
    turn = Rotation.from_rotvec(given["hinge"] * np.radians(given["bend_degrees"]))
    points = np.random.default_rng(1).normal(size=(50, 3))
    off = turn.apply(points - given["offset"]) + given["offset"] - turn.apply(points)
    assert np.linalg.norm(off, axis=1) == pytest.approx(hinge.right(given)["gap"], abs=1e-12)


@pytest.mark.source("SciPy")
def test_a_shell_on_two_joints_shrinks_by_the_cosine_of_half_the_turn():
    # Linear blend of a turn, half and half: radius cos(t/2); Kavan, Collins, Zara, O'Sullivan, ACM TOG 27(4):105 (2008).
    ring = np.array([[np.cos(a), np.sin(a), 0.0] for a in np.linspace(0, 2 * np.pi, 12, endpoint=False)])
    for degrees in (60, 90, 120):
        turn = Rotation.from_euler("z", degrees, degrees=True).as_matrix()
        pose = {"one": (np.eye(3), np.zeros(3)), "two": (turn, np.zeros(3))}
        radius = np.linalg.norm(motion.carried(ring, ("one", "two"), pose), axis=1)
        assert radius == pytest.approx(np.cos(np.radians(degrees) / 2))
        assert motion.change_of_shape(ring, motion.carried(ring, ("two",), pose)) < 1e-12


# ---- what is handed out


@pytest.mark.parametrize("variant", VARIANTS)
def test_the_delivered_model_comes_home(variant):
    known = context(variant)
    turn, shift = arrival.placing(variant)
    assert np.linalg.det(turn) == pytest.approx(1)
    for part in known.robot.parts:
        assert (known.given["delivered"][part.name] - shift) @ turn * arrival.UNIT == pytest.approx(part.mesh.vertices, abs=1e-9)


def test_no_true_joint_is_handed_out():
    known = context()
    model = CHAPTER.model(known.robot)
    assert not model.landmarks and not model.hinges and not model.loops
    assert not np.any(model.skeleton.rest_translations)
    assert len({part.joints for part in model.parts if part.kind == "hard"}) == 1
    vectors = [value for value in known.given.values() if np.shape(value) == (3,)]
    vectors += [value for group in ("hinges", "slip") for value in known.given[group].values() if np.shape(value) == (3,)]
    for point in known.robot.landmarks.values():
        assert all(np.linalg.norm(np.asarray(vector) - point) > 5e-3 for vector in vectors)


@pytest.mark.parametrize("variant", VARIANTS)
def test_the_loops_hold_every_joint(variant):
    known = context(variant)
    for joint, (part, which) in places.PLACES.items():
        areas = sorted(folds.vector_area(loop) for loop in known.given["loops"][part])
        assert np.linalg.norm(loops.loop_centre(places.pick(known.given["loops"][part], which)) - known.robot.landmarks[joint]) < 1e-9
        if which == "narrowest":
            assert areas[1] > 1.05 * areas[0]
        if which == "widest":
            assert areas[-1] > 1.001 * areas[-2]


# ---- right answers of other kinds


def test_any_point_and_any_length_give_the_plane():
    good = arrival.worked(context())
    along = np.cross(good["plane_normal"], [0, 0, 1])
    full(
        "01.1", {**good, "plane_point": (good["plane_point"] + 40 * along + [0, 0, -3]).tolist(), "plane_normal": -7 * good["plane_normal"]}
    )


def test_a_plane_a_millimetre_beside_is_not_the_plane():
    good = arrival.worked(context())
    assert earned("01.1", {**good, "plane_point": good["plane_point"] + 0.1 * good["plane_normal"]}) == {"unit", "height", "facing"}


def test_a_centre_found_another_way_is_as_good():
    def by_plane(points):
        """Flatten on the plane of the two widest directions, then the shoelace formula."""
        points = np.asarray(points)
        start = points.mean(axis=0)
        axes = np.linalg.svd(points - start)[2][:2]
        x, y = ((points - start) @ axes.T).T
        cross = x * np.roll(y, -1) - np.roll(x, -1) * y
        return (start + np.array([np.sum((v + np.roll(v, -1)) * cross) for v in (x, y)]) / (3 * cross.sum()) @ axes).tolist()

    full("01.2", by_plane)


@pytest.mark.parametrize(
    "width",
    [
        lambda loop: np.linalg.norm(np.roll(loop, -1, axis=0) - loop, axis=1).sum(),
        lambda loop: np.linalg.norm(loop - loops.loop_centre(loop), axis=1).max(),
        lambda loop: max(np.linalg.norm(loop - point, axis=1).max() for point in loop),
    ],
    ids=["length around", "farthest from the centre", "widest across"],
)
def test_any_honest_width_finds_the_fold(width):
    full("01.3", lambda found: int(np.argmin([width(loop) for loop in found])))


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_size_along_one_axis_is_no_width(axis):
    for variant in VARIANTS:
        assert "upright" not in earned("01.3", lambda found: int(np.argmin([np.ptp(loop[:, axis]) for loop in found])), variant)


@pytest.mark.parametrize("seed", [None, b"one", b"another", b"a third"])
@pytest.mark.parametrize("n", [(1.0, 0, 0), (0, 1.0, 0), (0, 0, 1.0)])
def test_a_normal_that_is_fixed_does_not_do_for_every_loop(n, seed):
    def centre(points):
        a, b, c = points[0], points[1:-1], points[2:]
        areas = np.cross(b - a, c - a) @ np.array(n) / 2
        return areas @ ((a + b + c) / 3) / areas.sum()

    checkpoint, known = CHECKPOINTS["01.2"], context()
    cases = contexts.cases(checkpoint, known, seed)
    assert judge(checkpoint, collect(checkpoint, {"loop_centre": centre}, cases), known, cases, strict=True).earned < 5


@pytest.mark.parametrize(("name", "chain"), [("01.4", places.ARM), ("01.5", places.LEG)])
def test_joints_pasted_from_the_picture_are_snapped(name, chain):
    good = joints.worked(chain)(context())
    full(name, {joint: tuple(round(float(c), 5) for c in place) for joint, place in good.items()})


@pytest.mark.parametrize(("name", "chain"), [("01.4", places.ARM), ("01.5", places.LEG)])
def test_joints_placed_by_eye_lose_only_the_last_point(name, chain):
    good = joints.worked(chain)(context())
    assert earned(name, {joint: place + [0.002, -0.002, 0.003] for joint, place in good.items()}) == set(chain)


def test_one_joint_in_a_list_is_one_joint():
    good = motion.worked(context())["carried_by"]
    full("01.7", {"carried_by": {part: list(names) for part, names in good.items()}})
    full("01.7", {"carried_by": {part: names[0] for part, names in good.items()}})


# ---- what a panel tells


@pytest.mark.parametrize(("shift", "towards"), [(0.012, "shoulder"), (-0.012, "wrist")])
def test_a_joint_twelve_millimetres_along_the_bone_is_told_the_way(shift, towards):
    known = context()
    good, marks = joints.worked(places.ARM)(known), known.robot.landmarks
    other = marks["left_wrist"] if shift > 0 else marks["left_shoulder"]
    bone = other - marks["left_elbow"]
    moved = {**good, "left_elbow": good["left_elbow"] + abs(shift) * bone / np.linalg.norm(bone)}
    claim = next(one for one in judged("01.4", moved).claims if one.id == "left_elbow")
    told = re.match(rf"12\.0 mm off: go (\d+\.\d) mm towards the {towards}", claim.got)
    assert told and 11.8 <= float(told[1]) <= 12.0, claim.got
    assert "the fold is the narrower loop" in claim.likely


def test_a_joint_on_the_skin_is_told_that_it_is_on_the_surface():
    known = context()
    good = joints.worked(places.ARM)(known)
    skin = places.pick(known.given["loops"]["left_elbow_sleeve"], "narrowest")[5] + 0.001
    claim = next(one for one in judged("01.4", {**good, "left_elbow": skin}).claims if one.id == "left_elbow")
    assert "on the surface" in claim.likely


def test_two_joints_in_each_others_places_are_told_so():
    good = joints.worked(places.ARM)(context())
    result = judged("01.4", {**good, "left_elbow": good["left_wrist"], "left_wrist": good["left_elbow"]})
    likely = {claim.id: claim.likely for claim in result.claims}
    assert likely["left_elbow"] == "this is where the wrist is" and likely["left_wrist"] == "this is where the elbow is"


def told(name, claim, answer):
    return next(one for one in judged(name, answer).claims if one.id == claim)


def test_only_what_is_in_millimetres_is_said_to_be():
    good = hinge.right(context().given["slip"])
    claim = told("01.6", "gap", {**good, "gap": 1000 * good["gap"]})
    assert "all" not in claim.likely and "this one is in millimetres" in claim.likely


def test_a_facing_divided_too_early_is_told_the_order():
    good = arrival.worked(context())
    claim = told("01.1", "facing", {**good, "facing": 0.47 * good["facing"]})
    assert "0.47" in claim.got and "take the up out first" in claim.likely


def test_a_facing_that_rises_is_told_which_number_is_up():
    good = arrival.worked(context())
    rising = good["facing"] + [0, 0, 0.3]
    assert "up is the file's third number" in told("01.1", "facing", {**good, "facing": rising / np.linalg.norm(rising)}).likely


def test_any_point_of_the_plane_in_metres_is_told_to_be_in_metres():
    good = arrival.worked(context())
    along = np.cross(good["plane_normal"], [0, 0, 1])
    point = (good["plane_point"] + 30 * along) / 100
    assert "in metres" in told("01.1", "plane", {**good, "plane_point": point}).likely
    assert "in metres" not in told("01.1", "plane", {**good, "plane_point": point + 0.01 * good["plane_normal"]}).likely


def test_an_ankle_on_the_floor_is_told_so_wherever_the_other_joints_are():
    good = joints.worked(places.LEG)(context())
    answer = {**good, "left_hip": good["left_hip"] + 0.003, "left_ankle": good["left_ankle"] * [1, 0, 1] + [0.004, 0.001, -0.01]}
    assert "on the floor" in told("01.5", "left_ankle", answer).likely


def test_a_gripper_at_its_narrowest_loop_is_told_so_wherever_the_other_joints_are():
    known = context()
    good = joints.worked(places.ARM)(known)
    narrow = loops.loop_centre(places.pick(known.given["loops"]["left_gripper_plate"], "narrowest"))
    answer = {**good, "left_elbow": good["left_elbow"] + 0.02, "left_gripper": narrow + 5e-6}
    assert "turns in its seat, at its widest" in told("01.4", "left_gripper", answer).likely


@pytest.mark.parametrize("trouble", ["broadcasting", "no return", "nan"])
def test_a_function_that_stops_is_sent_to_where_the_function_is_written(trouble):
    def centre(points):
        if trouble == "broadcasting":
            return np.zeros(22) * np.zeros((21, 3))
        return None if trouble == "no return" else np.full(3, np.nan)

    assert told("01.2", "round", centre).look_at in ("step 2d", "step 2e")
    assert "look at   step 2e" in panel(judged("01.2", centre)).text


def test_large_lengths_are_written_in_full():
    too_large = 11850 / (arrival.right(context())["height"] / 0.01)
    assert "11 850 m tall" in told("01.1", "unit", {**arrival.worked(context()), "metres_per_unit": too_large}).got


@pytest.mark.parametrize("name", [name for name, one in CHECKPOINTS.items() if one.show and one.kind != "function"])
def test_places_are_drawn_one_alone_and_none(name):
    """That a whole answer can be drawn is tested for all chapters in test_all_checkpoints.py."""
    checkpoint, known = CHECKPOINTS[name], context()
    viewer = Viewer(CHAPTER.model(known.robot))
    given = checkpoint.worked(known)
    for shown in (given, dict(list(given.items())[:1]), {}):
        checkpoint.show(viewer, shown, known)
        assert viewer.text().startswith("Your joints")
    viewer.close()


def test_show_takes_away_what_an_earlier_step_has_left():
    known = context()
    viewer = Viewer(CHAPTER.model(known.robot))
    viewer.table([("elbow", "10.5 mm off")])
    viewer.place(["left_shoulder"], {"a loop": known.given["loops"]["left_shoulder_drum"][0]})
    CHECKPOINTS["01.4"].show(viewer, CHECKPOINTS["01.4"].worked(known), known)
    assert "not placed yet" not in viewer.text() and "10.5 mm" not in viewer.text()
    viewer.close()


# ---- what the text promises


@pytest.mark.source("SciPy")
@pytest.mark.parametrize("variant", VARIANTS)
def test_shells_collide_about_the_middle_and_the_skin_and_not_about_the_fold(variant):
    """Step 2b and 2g: bent by 85 degrees."""
    known = context(variant)
    sleeve = known.given["loops"]["left_elbow_sleeve"]
    assert len(sleeve) == 21 and folds.find_fold(sleeve) != 10
    upper, fore = (known.robot.part(name).mesh for name in ("left_upper_arm_tube", "left_forearm_tube"))
    turn = Rotation.from_rotvec(known.robot.hinges["left_elbow"] * np.radians(85))

    def gap(pivot):
        return clearance((upper.vertices, upper.triangles), (pivot + turn.apply(fore.vertices - pivot), fore.triangles))[0]

    middle, skin = sleeve[10].mean(axis=0), sleeve[10][sleeve[10][:, 2].argmin()]
    assert gap(known.robot.landmarks["left_elbow"]) > 2e-3 and gap(sleeve[0].mean(axis=0)) > 2e-3
    assert gap(skin) < gap(middle) < -2e-3


@pytest.mark.parametrize("variant", VARIANTS)
def test_the_fold_bends_farthest_before_shells_meet(variant):
    """Steps 2b and 2g: the skin, the plain mean and the centre of the middle loop, and the fold, in this order."""
    known = context(variant)
    sleeve = known.given["loops"]["left_elbow_sleeve"]
    viewer, meet = Viewer(CHAPTER.model(known.robot)), []
    fold = known.robot.landmarks["left_elbow"]
    with pytest.raises(ValueError, match="call viewer.bend_at"):
        viewer.meeting()
    for pivot in (sleeve[10][sleeve[10][:, 2].argmin()], sleeve[10].mean(axis=0), loops.loop_centre(sleeve[10]), fold):
        viewer.bend_at(pivot, known.robot.hinges["left_elbow"], ["left_upper_arm_tube"], ["left_forearm_tube"], "left_elbow_sleeve")
        meet.append(viewer.meeting())
    viewer.close()
    assert meet[0] + 5 < meet[1] < 85 < meet[2] < meet[3], meet


@pytest.mark.source("SciPy")
@pytest.mark.parametrize("middle", ["rough_middle", "loop_centre"])
def test_the_sleeve_is_hurt_least_about_its_fold(middle):
    """Step 2b measured as the text does, with the text's own lines, and step 2g with the area centre."""
    source = re.search(r"def rough_middle\(loop\):\n(?:    .+\n)+", TEXT)[0] + re.search(r"def strain\(pivot.+:\n(?:    .+\n)+", TEXT)[0]
    for variant in range(0, 100, 5):
        robot = rk.tally(variant)
        part = robot.part("left_elbow_sleeve")
        rings, share = np.array(rk.mesh.loops(part.mesh)), part.weights[:, 1:]

        def turned(points, pivot, degrees, hinge=robot.hinges["left_elbow"]):
            return pivot + Rotation.from_rotvec(hinge * np.radians(degrees)).apply(points - pivot)

        def edges_along(points, rings=rings):
            return np.linalg.norm(np.diff(points[rings], axis=0), axis=2)

        names = {"np": np, "part": part, "share": share, "turned": turned, "edges_along": edges_along, "loop_centre": loops.loop_centre}
        exec(source, names)
        sleeve = [part.mesh.vertices[ring] for ring in rings]
        harm = np.array([names["strain"](names[middle](loop)) for loop in sleeve])
        fold = folds.find_fold(sleeve)
        assert int(np.argmin(harm)) == fold and harm[fold] < 0.99 * np.delete(harm, fold).min()
        assert harm[10] > 1.02 * harm[fold] and harm[0] > 2 * harm[fold]
        assert names["strain"](sleeve[10].mean(axis=0)) < harm[fold]  # the plain mean spares the sleeve, as step 2g says


def test_the_text_states_each_checkpoint_with_its_points():
    for checkpoint in CHAPTER.checkpoints:
        stated = re.search(rf"> \*\*Checkpoint {checkpoint.id} · (.+?)\*\* · (\d+) points", TEXT)
        assert stated, checkpoint.id
        assert (stated[1], int(stated[2])) == (checkpoint.title, checkpoint.points)
        assert all(f"`{name}`" in TEXT or f"`{name}(" in TEXT for name in checkpoint.names)


def test_every_pointer_leads_to_a_step():
    steps = set(re.findall(r"^## Step (\d\w)", TEXT, re.MULTILINE))
    pointers = [one.look_at for checkpoint in CHAPTER.checkpoints for one in (*checkpoint.claims, *checkpoint.mistakes)]
    pointers += [question[3] for question in CHAPTER.wrap_up]
    named = {step for pointer in pointers for step in re.findall(r"[Ss]tep (\d\w)", pointer)}
    assert named and named <= steps


