"""Tally: what the curriculum asks of the robot, measured on the model for the variants 0 to 99.

Whatever is measured here is measured by code of this file or of SciPy, so that
the package's own maths is not its own witness; where it is used, it is held to that.
"""

import numpy as np
import pytest
from scipy.spatial import ConvexHull

import rigkit as rk
from rigkit import robot as robots

VARIANTS = range(100)
SOME = (0, 1, 7, 42, 99)
JOINTS_OF_CHAPTER_ONE = ("shoulder", "elbow", "wrist", "gripper", "hip", "knee", "ankle", "ball", "toe_end")
UNEVEN = ("elbow", "knee", "ankle", "ball")
SLEEVES = {"elbow": "left_elbow_sleeve", "knee": "left_knee_sleeve", "ball": "left_ball_sleeve"}
COLLARS = {"wrist": "left_wrist_collar", "ankle": "left_ankle_collar"}
MIRROR = np.array([-1.0, 1.0, 1.0])


@pytest.fixture(scope="module")
def all_variants():
    return [rk.tally(variant) for variant in VARIANTS]


@pytest.fixture(scope="module", params=SOME)
def some(request):
    return rk.tally(request.param)


@pytest.fixture(scope="module")
def tally():
    return rk.tally()


# ---- outside measures -----------------------------------------------------------------------------------------


def centre_by_green(points):
    """Area centre of a flat loop (N, 3): on the plane of its two largest singular vectors, by Green's theorem.

    Source: Bourke, "Calculating the area and centroid of a polygon" (1988) (memory).
    """
    mean = points.mean(axis=0)
    plane = np.linalg.svd(points - mean)[2][:2]
    x, y = ((points - mean) @ plane.T).T
    u, v = np.roll(x, -1), np.roll(y, -1)
    cross = x * v - u * y
    return mean + np.array([((x + u) * cross).sum(), ((y + v) * cross).sum()]) / (3 * cross.sum()) @ plane


def bend_by_cosine(a, b, c):
    """Degrees between two bones, from the law of cosines on the three distances (Euclid, Elements II.12-13)."""
    ab, bc, ac = np.linalg.norm(b - a), np.linalg.norm(c - b), np.linalg.norm(c - a)
    return 180 - np.degrees(np.arccos((ab**2 + bc**2 - ac**2) / (2 * ab * bc)))


def off_the_line(a, b, c):
    """The vector from the line a c to b."""
    line = (c - a) / np.linalg.norm(c - a)
    return (b - a) - ((b - a) @ line) * line


def chain(character, side, *names):
    return [character.landmarks[f"{side}_{name}"] for name in names]


def directed_edges(mesh):
    for face in mesh.faces.tolist():
        corners = [v for v in face if v >= 0]
        yield from zip(corners, corners[1:] + corners[:1])


def volume(mesh):
    """Signed volume by the divergence theorem: positive where faces look outward."""
    a, b, c = (mesh.vertices[mesh.triangles[:, i]] for i in range(3))
    return float(np.einsum("ti,ti->t", a, np.cross(b, c)).sum() / 6)


def pieces(mesh):
    """The connected pieces of a mesh, each a mesh."""
    label = np.arange(len(mesh.vertices))
    edges = np.array(list(directed_edges(mesh)))
    while True:
        low = np.minimum(label[edges[:, 0]], label[edges[:, 1]])
        before = label.copy()
        np.minimum.at(label, edges[:, 0], low)
        np.minimum.at(label, edges[:, 1], low)
        if (label == before).all():
            break
    for number in np.unique(label):
        yield rk.Mesh(mesh.vertices, mesh.faces[label[mesh.faces[:, 0]] == number])


def widths(mesh):
    """The closed loops of a mesh with the area of each, on its own plane."""
    loops = [mesh.vertices[loop] for loop in rk.mesh.loops(mesh)]
    return loops, np.array([np.prod(np.linalg.svd(p - p.mean(axis=0))[1][:2]) for p in loops])


# ---- stance and size ------------------------------------------------------------------------------------------


def test_every_variant_is_about_1_2_m_tall_and_stands_on_the_floor(all_variants):
    for character in all_variants:
        points = np.concatenate([part.mesh.vertices for part in character.parts])
        assert np.isfinite(points).all()
        assert points[:, 1].min() == 0.0, character.name
        assert 1.12 <= points[:, 1].max() <= 1.26, character.name


def test_both_feet_stand_flat_and_nothing_else_touches_the_floor(some):
    on_floor = {part.name for part in some.parts if (part.mesh.vertices[:, 1] == 0.0).any()}
    assert on_floor == {"left_heel_block", "right_heel_block", "left_toe_cap", "right_toe_cap"}
    for name in on_floor:
        assert (some.part(name).mesh.vertices[:, 1] == 0.0).sum() >= 6


def test_the_robot_faces_forward_with_its_left_at_plus_x(some):
    marks = some.landmarks
    for side, sign in (("left", 1), ("right", -1)):
        assert np.sign(marks[f"{side}_shoulder"][0]) == sign
        assert marks[f"{side}_sole_toe"][2] > marks[f"{side}_heel"][2]
    lens = some.part("left_eye_lens").mesh.vertices
    assert lens[:, 2].min() > some.part("head_window").mesh.vertices[:, 2].max()


def test_elbows_and_knees_are_bent_a_few_degrees_to_the_right_side(all_variants):
    for character in all_variants:
        for side in ("left", "right"):
            arm, leg = chain(character, side, "shoulder", "elbow", "wrist"), chain(character, side, "hip", "knee", "ankle")
            assert 6 <= bend_by_cosine(*arm) <= 10
            assert 5 <= bend_by_cosine(*leg) <= 8
            behind, front = off_the_line(*arm), off_the_line(*leg)
            assert behind[2] < -0.9 * np.linalg.norm(behind)
            assert front[2] > 0.9 * np.linalg.norm(front)


def test_bones_have_the_lengths_of_the_table(all_variants):
    for variant, character in zip(VARIANTS, all_variants):
        m = robots.measures(variant)
        for first, second, name in (
            ("shoulder", "elbow", "upper_arm"), ("elbow", "wrist", "forearm"), ("wrist", "gripper", "hand"),
            ("hip", "knee", "thigh"), ("knee", "ankle", "shin"),
        ):
            a, b = chain(character, "left", first, second)
            assert abs(np.linalg.norm(b - a) - m[name]) < 1e-12
        assert abs(character.landmarks["left_shoulder"][0] * 2 - m["shoulder_width"]) < 1e-12
        assert abs(character.landmarks["left_ankle"][1] - m["ankle_height"]) < 1e-12


# ---- symmetry -------------------------------------------------------------------------------------------------


def test_the_right_side_is_the_left_one_mirrored_bit_for_bit(all_variants):
    for character in all_variants:
        names = {part.name for part in character.parts}
        for part in character.parts:
            if part.name.startswith("left_"):
                other = character.part(part.name.replace("left_", "right_", 1))
                assert np.array_equal(other.mesh.vertices, part.mesh.vertices * MIRROR)
                assert np.array_equal(other.weights, part.weights)
                assert [j.replace("left_", "right_", 1) for j in part.joints] == list(other.joints)
        assert sum(n.startswith("left_") for n in names) == sum(n.startswith("right_") for n in names)


def test_what_lies_across_the_middle_is_symmetric_bit_for_bit(all_variants):
    for character in all_variants:
        for part in character.parts:
            if not part.name.startswith(("left_", "right_")):
                points = {tuple(p) for p in (part.mesh.vertices + 0.0).tolist()}
                assert points == {tuple(p) for p in (part.mesh.vertices * MIRROR + 0.0).tolist()}, part.name


def test_landmarks_and_hinges_of_the_right_side_are_mirrored(some):
    for name, point in some.landmarks.items():
        if name.startswith("left_"):
            assert np.array_equal(some.landmarks[name.replace("left_", "right_", 1)], point * MIRROR)
    for name, axis in some.hinges.items():
        if name.startswith("left_"):  # an axis of turning: its mirror image points the other way
            assert np.array_equal(some.hinges[name.replace("left_", "right_", 1)], -axis * MIRROR)


# ---- meshes ---------------------------------------------------------------------------------------------------


def test_triangles_and_joints_are_within_the_budget(all_variants):
    for character in all_variants:
        assert 8_000 <= sum(len(part.mesh.triangles) for part in character.parts) <= 20_000, character.name
        assert 40 <= len(character.skeleton.names) <= 55


def test_every_part_is_closed_and_every_edge_is_walked_once_each_way(some):
    for part in some.parts:
        edges = list(directed_edges(part.mesh))
        assert len(set(edges)) == len(edges), part.name
        assert set(edges) == {(b, a) for a, b in edges}, part.name


def test_every_piece_of_every_part_looks_outward(some):
    for part in some.parts:
        for piece in pieces(part.mesh):
            assert volume(piece) > 1e-9, part.name


def test_no_face_has_lost_its_area_and_no_vertex_is_unused(some):
    for part in some.parts:
        assert np.linalg.norm(rk.mesh.face_vectors(part.mesh), axis=1).min() > 1e-9, part.name
        assert set(part.mesh.faces[part.mesh.faces >= 0].tolist()) == set(range(len(part.mesh.vertices))), part.name


# ---- loops ----------------------------------------------------------------------------------------------------


def test_every_joint_of_chapter_one_is_the_area_centre_of_its_loop(all_variants):
    for character in all_variants:
        for side in ("left", "right"):
            for joint in JOINTS_OF_CHAPTER_ONE:
                name = f"{side}_{joint}"
                loop = character.loop(name)
                assert np.linalg.norm(centre_by_green(loop) - character.landmarks[name]) < 1e-9, (character.name, name)
                assert np.linalg.norm(rk.placement.area_centre(loop) - character.landmarks[name]) < 1e-9


def test_known_loops_are_loops_that_the_topology_gives(some):
    found = {}
    for name, (part, numbers) in some.loops.items():
        if part not in found:
            found[part] = {frozenset(loop.tolist()) for loop in rk.mesh.loops(some.part(part).mesh)}
        assert frozenset(numbers.tolist()) in found[part], name
    assert {f"{side}_{joint}" for side in ("left", "right") for joint in JOINTS_OF_CHAPTER_ONE} <= set(some.loops)


def test_a_plain_mean_misses_the_uneven_folds_by_more_than_5_mm(all_variants):
    for character in all_variants:
        for joint in UNEVEN:
            loop = character.loop(f"left_{joint}")
            assert np.linalg.norm(loop.mean(axis=0) - character.landmarks[f"left_{joint}"]) > 5e-3, (character.name, joint)


def test_the_fold_is_the_narrowest_loop_of_its_sleeve_or_collar_by_a_clear_step(all_variants):
    for character in all_variants:
        for joint, part in (SLEEVES | COLLARS).items():
            loops, areas = widths(character.part(part).mesh)
            order = np.argsort(areas)
            assert np.linalg.norm(centre_by_green(loops[order[0]]) - character.landmarks[f"left_{joint}"]) < 1e-9
            assert np.sqrt(areas[order[1]] / areas[order[0]]) > 1.05, (character.name, part)


def test_drums_and_the_gripper_plate_are_widest_at_their_joint(all_variants):
    for character in all_variants:
        for joint, part in (("shoulder", "shoulder_drum"), ("hip", "hip_drum"), ("gripper", "gripper_plate")):
            loops, areas = widths(character.part(f"left_{part}").mesh)
            assert np.linalg.norm(centre_by_green(loops[int(np.argmax(areas))]) - character.landmarks[f"left_{joint}"]) < 1e-9


def test_the_toe_end_is_the_last_loop_of_the_toe_cap(some):
    mesh = some.part("left_toe_cap").mesh
    assert np.linalg.norm(centre_by_green(mesh.vertices[rk.mesh.loops(mesh)[-1]]) - some.landmarks["left_toe_end"]) < 1e-9


def test_neighbouring_folds_stand_one_pitch_apart_along_the_bone(all_variants):
    for variant, character in zip(VARIANTS, all_variants):
        m = robots.measures(variant)
        for joint, part in SLEEVES.items():
            loops, _ = widths(character.part(part).mesh)
            centres = np.array([centre_by_green(loop) for loop in loops])
            fold = int(np.linalg.norm(centres - character.landmarks[f"left_{joint}"], axis=1).argmin())
            assert 12e-3 <= m[f"{joint}_pitch"] <= 18e-3
            for other in (fold - 4, fold + 4):
                assert abs(np.linalg.norm(centres[other] - centres[fold]) - m[f"{joint}_pitch"]) < 1e-9
            crest, valley = (np.linalg.norm(loops[k] - centres[k], axis=1).mean() for k in (fold + 2, fold))
            assert crest > 1.2 * valley


def test_the_flat_of_a_fold_shows_the_hinge(all_variants):
    for character in all_variants:
        for joint in UNEVEN:
            for side in ("left", "right"):
                loop, hinge = character.loop(f"{side}_{joint}"), character.hinges[f"{side}_{joint}"]
                steps = np.roll(loop, -1, axis=0) - loop
                along = np.abs(steps @ hinge) > (1 - 1e-12) * np.linalg.norm(steps, axis=1)
                assert along.sum() == 2, "the flat is two edges"
                assert abs(abs(rk.placement.fold_hinge(loop) @ hinge) - 1) < 1e-12


def test_the_flat_lies_in_front_of_the_elbow_behind_the_knee_and_on_the_sole(some):
    for joint, way in (("elbow", (0, 0, 1)), ("knee", (0, 0, -1)), ("ball", (0, -1, 0))):
        loop, hinge = some.loop(f"left_{joint}"), some.hinges[f"left_{joint}"]
        steps = np.roll(loop, -1, axis=0) - loop
        flat = int(np.argmax(np.abs(steps @ hinge) / np.linalg.norm(steps, axis=1)))
        assert (loop[flat] - some.landmarks[f"left_{joint}"]) @ np.array(way) > 0.01


# ---- hinges and skeleton --------------------------------------------------------------------------------------


def test_hinges_are_square_to_both_bones_and_bend_them_further(all_variants):
    for character in all_variants:
        for side in ("left", "right"):
            for names in (("shoulder", "elbow", "wrist"), ("hip", "knee", "ankle")):
                a, b, c = chain(character, side, *names)
                hinge = character.hinges[f"{side}_{names[1]}"]
                normal = np.cross(b - a, c - b)
                assert np.linalg.norm(normal / np.linalg.norm(normal) - hinge) < 1e-9
                assert abs(np.linalg.norm(hinge) - 1) < 1e-12


def test_joints_stand_on_their_landmarks(all_variants):
    for character in all_variants:
        world = character.skeleton.forward()
        for name, point in zip(character.skeleton.names, world.positions):
            landmark = name.removesuffix("_joint").removeprefix("centre_")
            assert np.linalg.norm(point - character.landmarks[landmark]) < 1e-12, name


def test_limb_frames_have_x_along_the_bone_and_z_on_the_hinge(some):
    skeleton = some.skeleton
    turns = rk.rotation.to_matrix(skeleton.forward().rotations)
    bones = (
        ("shoulder", "elbow"), ("elbow", "wrist"), ("wrist", "gripper"),
        ("hip", "knee"), ("knee", "ankle"), ("ankle", "ball"), ("ball", "toe_end"),
        ("finger_01_base", "finger_01_middle"), ("finger_02_middle", "finger_02_tip"),
    )
    for first, second in bones:
        for side, sign in (("left", 1), ("right", -1)):
            frame = turns[skeleton.index(f"{side}_{first}_joint")]
            a, b = chain(some, side, first, second)
            assert np.linalg.norm(frame[:, 0] - sign * (b - a) / np.linalg.norm(b - a)) < 1e-9
            assert np.linalg.norm(frame[:, 2] - some.hinges[f"{side}_{first}"]) < 1e-9
            assert abs(np.linalg.det(frame) - 1) < 1e-12


def test_neighbours_along_a_limb_keep_their_hinge_on_one_side(some):
    for side in ("left", "right"):
        for limb in (("shoulder", "elbow", "wrist", "gripper"), ("hip", "knee", "ankle", "ball", "toe_end")):
            axes = [some.hinges[f"{side}_{name}"] for name in limb]
            assert all(a @ b > 0.9 for a, b in zip(axes, axes[1:]))


def test_equal_turns_of_both_arms_give_mirror_images(some):
    """The frames are matched: R' = -M R with M the reflection over x = 0, a rotation again (algebra: two factors of determinant -1)."""
    skeleton = some.skeleton
    turns = rk.rotation.to_matrix(skeleton.forward().rotations)
    for name in skeleton.names:
        if name.startswith("left_") and not name.startswith("left_eye"):
            left, right = turns[skeleton.index(name)], turns[skeleton.index(name.replace("left_", "right_", 1))]
            assert np.abs(right + MIRROR[:, None] * left).max() < 1e-12
    pose = skeleton.rest_rotations.copy()
    turn = rk.rotation.from_axis_angle([0.2, -0.3, 1.0], 0.8)
    for side in ("left", "right"):
        i = skeleton.index(f"{side}_elbow_joint")
        pose[i] = rk.rotation.multiply(pose[i], turn)
    world = skeleton.forward(pose).positions
    left, right = (world[skeleton.index(f"{side}_finger_02_middle_joint")] for side in ("left", "right"))
    assert np.linalg.norm(left * MIRROR - right) < 1e-12
    assert np.linalg.norm(left - some.landmarks["left_finger_02_middle"]) > 0.05


# ---- binding --------------------------------------------------------------------------------------------------


def test_hard_parts_follow_one_joint(tally):
    for part in tally.parts:
        assert (len(part.joints) == 1 and (part.weights == 1).all()) == (part.kind == "hard"), part.name


def test_sleeve_weights_rise_smoothly_from_joint_to_joint_the_same_around_a_loop(all_variants):
    for character in all_variants:
        for part in SLEEVES.values():
            sleeve = character.part(part)
            assert len(sleeve.joints) == 2
            assert np.abs(sleeve.weights.sum(axis=1) - 1).max() < 1e-12
            rows = [sleeve.weights[loop][:, 1] for loop in rk.mesh.loops(sleeve.mesh)]
            assert all(np.ptp(row) == 0 for row in rows)
            ramp = np.array([row[0] for row in rows])
            assert ramp[0] == 0 and ramp[-1] == 1 and (np.diff(ramp) > 0).all()
            fold = int(np.argmin(np.abs(ramp - 0.5)))
            assert ramp[fold] == 0.5 and 0 < fold < len(ramp) - 1
            assert np.diff(ramp).max() < 0.3


def test_the_hose_has_a_joint_a_rib_and_shares_its_folds(tally):
    hose = tally.part("hose")
    assert len(hose.joints) == 12
    rows = np.array([hose.weights[loop][0] for loop in rk.mesh.loops(hose.mesh)])
    carried = rows @ np.arange(12)
    assert (np.diff(carried) >= 0).all() and carried[0] == 0 and carried[-1] == 11
    assert set(np.unique(rows)) == {0.0, 0.5, 1.0}


# ---- room to bend ---------------------------------------------------------------------------------------------


def inside(points, part):
    """Which points lie inside the convex hull of a part (Qhull's half-spaces; only those inside its box are asked)."""
    corners = part.mesh.vertices
    found = np.all((points >= corners.min(axis=0)) & (points <= corners.max(axis=0)), axis=1)
    if found.any():
        sides = ConvexHull(corners).equations
        found[found] = np.all(points[found] @ sides[:, :3].T + sides[:, 3] <= 0, axis=1)
    return found


def turned_about(points, centre, axis, angle):
    """Rodrigues' formula."""
    p = points - centre
    return centre + p * np.cos(angle) + np.cross(axis, p) * np.sin(angle) + np.outer(p @ axis, axis) * (1 - np.cos(angle))


@pytest.mark.source("SciPy")
@pytest.mark.parametrize("joint,still,moving", [("elbow", "upper_arm_tube", "forearm_tube"), ("knee", "thigh_tube", "shin_tube")])
def test_elbow_and_knee_have_room_for_60_degrees_and_touch_before_130(some, joint, still, moving):
    part, centre, axis = some.part(f"left_{still}"), some.landmarks[f"left_{joint}"], some.hinges[f"left_{joint}"]
    points = some.part(f"left_{moving}").mesh.vertices
    assert not inside(turned_about(points, centre, axis, np.radians(60)), part).any()
    assert inside(turned_about(points, centre, axis, np.radians(130)), part).any()


@pytest.mark.source("SciPy")
def test_parts_that_move_apart_do_not_stand_inside_each_other(all_variants):
    apart = [
        ("left_upper_arm_tube", "left_forearm_tube"), ("left_upper_arm_tube", "body_drum"), ("left_shoulder_drum", "body_drum"),
        ("left_forearm_tube", "left_thigh_tube"), ("left_forearm_tube", "left_hip_drum"), ("left_forearm_tube", "body_drum"),
        ("left_thigh_tube", "left_shin_tube"), ("left_thigh_tube", "right_thigh_tube"), ("left_thigh_tube", "body_drum"),
        ("left_hip_drum", "body_drum"), ("left_hip_drum", "body_skirt"), ("left_gripper_plate", "left_thigh_tube"),
        ("left_heel_block", "right_heel_block"), ("left_toe_cap", "right_toe_cap"), ("left_heel_block", "left_toe_cap"),
        ("left_heel_block", "left_shin_tube"), ("head_lantern", "body_drum"), ("hose_coupling", "left_thigh_tube"),
    ]
    for character in all_variants[::5]:
        for a, b in apart:
            one, two = character.part(a), character.part(b)
            clash = inside(one.mesh.vertices, two).any() or inside(two.mesh.vertices, one).any()
            assert not clash, (character.name, a, b)


# ---- variants and the table -----------------------------------------------------------------------------------


def test_variant_0_is_the_table():
    assert dict(robots.measures(0)) == {name: row["value"] for name, row in robots.table().items()}


def test_every_row_of_the_table_says_its_unit_and_why():
    for name, row in robots.table().items():
        assert row["unit"] and row["why"], name
        assert ("low" in row) == ("high" in row)
        if "low" in row:
            assert row["low"] <= row["value"] <= row["high"] and row["low"] < row["high"], name


def test_variants_stay_in_the_table_s_ranges_and_use_them():
    drawn = {name: [robots.measures(v)[name] for v in range(1, 100)] for name in robots.table()}
    for name, row in robots.table().items():
        low, high = row.get("low", row["value"]), row.get("high", row["value"])
        assert min(drawn[name]) >= low and max(drawn[name]) <= high, name
        assert np.ptp(drawn[name]) >= 0.8 * (high - low), name


def test_a_variant_is_the_same_every_time_and_no_two_are_alike(all_variants):
    again = robots._tally.__wrapped__(7)
    assert all(np.array_equal(again.landmarks[name], point) for name, point in all_variants[7].landmarks.items())
    assert len({tuple(c.landmarks["left_wrist"]) for c in all_variants}) == 100


@pytest.mark.parametrize("variant", [-1, 1.5, 2.0, "3", None, True, float("nan")])
@pytest.mark.parametrize("build", [rk.tally, robots.practice_limb, robots.measures])
def test_what_is_no_variant_is_refused(build, variant):
    with pytest.raises(ValueError, match="whole number from 0 up"):
        build(variant)


def test_a_variant_may_come_as_numpy_integer():
    assert rk.tally(np.int64(3)) is rk.tally(3)


def test_arrays_can_not_be_written_to(tally):
    part, (_, loop) = tally.parts[0], tally.loops["left_elbow"]
    for array in (tally.landmarks["left_elbow"], tally.hinges["left_elbow"], part.weights, part.mesh.vertices, loop):
        with pytest.raises(ValueError):
            array[0] = 0
    with pytest.raises(TypeError):
        tally.landmarks["left_elbow"] = np.zeros(3)


# ---- practice limb --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("variant", SOME)
def test_the_practice_limb_is_straight_and_as_long_as_the_arm(variant):
    limb, m = robots.practice_limb(variant), robots.measures(variant)
    points = [limb.landmarks[f"practice_{name}"] for name in ("shoulder", "elbow", "wrist")]
    assert all(point[0] == point[2] == 0 for point in points)
    assert points[0][1] > points[1][1] > points[2][1]
    assert abs(np.linalg.norm(points[1] - points[0]) - m["upper_arm"]) < 1e-12
    assert abs(np.linalg.norm(points[2] - points[1]) - m["forearm"]) < 1e-12
    for name, point in limb.landmarks.items():
        assert np.linalg.norm(centre_by_green(limb.loop(name)) - point) < 1e-9
    assert np.abs(limb.skeleton.forward().positions - points).max() < 1e-12
    assert abs(abs(rk.placement.fold_hinge(limb.loop("practice_elbow")) @ limb.hinges["practice_elbow"]) - 1) < 1e-12
    for part in limb.parts:
        assert volume(part.mesh) > 0


# ---- the data file --------------------------------------------------------------------------------------------


def test_the_list_of_landmarks_is_in_step(capsys):
    assert robots.main(["--check"]) == 0
    assert "in step" in capsys.readouterr().out


def test_a_list_that_is_out_of_step_is_told_and_can_be_written_anew(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(robots.files, "shared", lambda *parts: tmp_path)
    path = tmp_path / "tally_landmarks.csv"
    assert robots.main(["--check"]) == 1
    path.write_text(robots.landmarks_text().replace("0,left_elbow,0.", "0,left_elbow,1."))
    assert robots.main(["--check"]) == 1
    assert "--write" in capsys.readouterr().out
    assert robots.main(["--write"]) == 0
    assert robots.main(["--check"]) == 0


def test_the_list_holds_the_true_joints(tally):
    rows = [line.split(",") for line in robots.landmarks_text().splitlines()[1:]]
    listed = {name: np.array([float(c) for c in xyz]) for variant, name, *xyz in rows if variant == "0"}
    assert listed.keys() == tally.landmarks.keys()
    assert all(np.abs(listed[name] - point).max() <= 0.51e-9 for name, point in tally.landmarks.items())
