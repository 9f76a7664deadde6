"""Chapter 05: right answers of any kind earn full marks, wrong turns cost their own claims, and the facts told are facts."""

import ast
import re
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from transforms3d.reflections import rfnorm2aff

from rigkit import mirror, rotation, symmetry
from rigkit.course import context as contexts
from rigkit.course.chapters import chapter_05_side as side_05
from rigkit.course.chapters import chapter_05_signs as signs_05
from rigkit.course.chapters.chapter_04_frames import joint_frames
from rigkit.course.chapters.chapter_05_matched import matched, matrix_of
from rigkit.course.chapters.chapter_05_mirror import mirrored
from rigkit.course.chapters.chapter_05_names import kind, swap_side
from rigkit.course.chapters.chapter_05_plane import farthest
from rigkit.course.chapters.chapter_05_planes import YZ, move_off, reflection, some_turn, turn_off
from rigkit.course.collect import collect
from rigkit.course.judge import judge, tried_text
from rigkit.course.panel import panel
from rigkit.mirror import Plane
from tests.course.boxes import boxes, promised
from tests.course.tried import Tried, likely, missed

TRIED = Tried("05")
CHAPTER, TEXT, CHECKPOINT = TRIED.chapter, TRIED.text, TRIED.checkpoint
context, judged, cases_of, cells = TRIED.context, TRIED.answered, TRIED.cases_of, TRIED.cells


# ---- the text ----------------------------------------------------------------------------------------------------


def test_the_text_promises_the_points_that_are_given():
    assert boxes(CHAPTER) == promised(CHAPTER)
    assert sum(one.points for one in CHAPTER.checkpoints) == 41  # the title card says so


def test_the_minutes_of_the_ideas_are_told():
    assert [int(n) for n in re.findall(r"^\*(\d+) minutes", TEXT, re.MULTILINE)] == [32, 35 + 12, 48]


def test_no_name_of_a_cell_can_stand_in_for_a_line_forgotten_in_a_function():
    assert TRIED.worked_functions() == ["knee_over", "mirrored", "channel_signs", "matched", "swap_side", "other_leg", "flip"]


def test_six_scenes_and_each_sets_its_own_view():
    sources = [ast.unparse(tree) for tree in cells()]
    scenes = [source for source in sources if "viewer.show()" in source]
    assert len(scenes) == 6
    shoulders = next(source for source in sources if "def both_shoulders" in source)
    for scene in scenes:
        whole = scene + shoulders if "both_shoulders(" in scene else scene
        assert all(f"viewer.{call}(" in whole for call in ("clear", "look", "focus", "see_through", "caption")), scene


@pytest.mark.parametrize("name", CHECKPOINT)
def test_a_panel_is_never_cut(name):
    checkpoint = CHECKPOINT[name]
    for variant, seed in ((0, None), (41, b"one")):
        for mistake in checkpoint.mistakes:
            result = judged(name, mistake.answer if checkpoint.kind == "function" else mistake.answer(context(variant)), variant, seed)
            assert "..." not in panel(result, can_show=True).text, f"{mistake.name}\n{panel(result, can_show=True).text}"


@pytest.mark.parametrize("name", [name for name, one in CHECKPOINT.items() if one.kind == "function"])
def test_what_was_tried_fits_its_line_whatever_the_seed(name):
    for seed in range(20):
        for case in CHECKPOINT[name].cases(np.random.default_rng(seed), context(seed % 5)):
            assert len(tried_text(case)) <= 105, tried_text(case)


@pytest.mark.parametrize("name", ("05.3", "05.6", "05.7"))
def test_no_panel_of_a_value_gives_the_answer_away(name):
    """What was expected is told in words: no sign, place or turn that a learner has to find."""
    for mistake in CHECKPOINT[name].mistakes:
        for claim in judged(name, mistake.answer(context(0))).claims:
            assert not re.search(r"-?\d+\.\d{2,}", claim.expected), claim.expected


# ---- what is handed out --------------------------------------------------------------------------------------------


def test_the_robot_of_the_notebook_does_not_tell_its_right_side():
    robot = CHAPTER.model(context(7).robot)
    for table in (robot.landmarks, robot.hinges, robot.loops):
        assert not any(name.startswith("right_") for name in table) and any(name.startswith("left_") for name in table)
    assert robot.skeleton is context(7).robot.skeleton


@pytest.mark.parametrize("variant", range(0, 100, 3))
def test_one_centre_joint_is_farther_off_than_the_pins_and_the_others_are_nearer(variant):
    """So neither "all that are near" nor "x = 0" is right by chance."""
    known = context(variant).given
    plane = Plane(known["plane_point"], known["plane_normal"])
    off = {name: abs((p - plane.point) @ plane.normal) for name, p in known["placed"].items()}
    pins = [off["left_pin_joint"], off["right_pin_joint"]]
    centre = sorted(d for name, d in off.items() if name.startswith("centre"))
    assert pins[0] == pytest.approx(pins[1])
    assert centre[0] > 0.001 and centre[-2] < 0.0027 < pins[0] < centre[-1] - 5e-4
    assert 15 < np.degrees(np.arccos(plane.normal[0])) < 40 and abs(plane.point @ plane.normal) > 0.1


@pytest.mark.parametrize("variant", range(0, 100, 7))
def test_the_pair_is_a_pair_with_neither_name_and_the_package_reads_its_signs(variant):
    known = context(variant)
    left, right = (rotation.from_matrix(known.given["pair"][side]) for side in ("left", "right"))
    turns, moves = mirror.channel_signs(left, right, Plane())
    assert moves == pytest.approx(signs_05.own_signs(known)) and turns == pytest.approx(-moves)
    assert moves[0] == 1 and sorted(moves[1:]) == [-1, 1]


# ---- 05.1 ----------------------------------------------------------------------------------------------------------


def by_package(points, frames, plane_point, plane_normal):
    plane = Plane(plane_point, plane_normal)
    return mirror.points(points, plane), rotation.to_matrix(mirror.matched(rotation.from_matrix(frames), plane))


def by_affine(points, frames, plane_point, plane_normal):
    """Another right way: transforms3d's reflection, and y turned round."""
    whole = rfnorm2aff(plane_normal, plane_point)
    return points @ whole[:3, :3].T + whole[:3, 3], whole[:3, :3] @ frames @ np.diag([1, -1, 1])


def one_by_one(points, frames, plane_point, plane_normal):
    """Another right way: a loop; the third axis is made from the images of the other two."""
    plane = Plane(plane_point, plane_normal)
    made = []
    for frame in frames:
        x, y, _ = mirror.directions(frame.T, plane)
        made.append(np.column_stack([x, y, np.cross(x, y)]).tolist())
    return [mirror.points(p, plane).tolist() for p in points], made


@pytest.mark.source("transforms3d")
@pytest.mark.parametrize("variant", (0, 41))
@pytest.mark.parametrize("seed", (None, b"one"))
@pytest.mark.parametrize("answer", (by_package, by_affine, one_by_one))
def test_every_right_mirror_earns_full_marks(answer, seed, variant):
    # transforms3d.reflections.rfnorm2aff: the affine reflection of a plane's normal and point
    result = judged("05.1", answer, variant, seed)
    assert result.earned == 7, panel(result).text


@given(seed=st.integers(0, 10**6))
@settings(max_examples=40, deadline=None)
def test_the_worked_mirror_twice_is_the_start_and_reflections_have_determinant_minus_one(seed):
    rng = np.random.default_rng(seed)
    points, frames, q, n = rng.normal(size=(3, 3)), np.array([some_turn(rng) for _ in range(3)]), rng.normal(size=3), rng.normal(size=3)
    back = mirrored(*mirrored(points, frames, q, n), q, n)
    assert back[0] == pytest.approx(points, abs=1e-9) and back[1] == pytest.approx(frames, abs=1e-9)
    assert np.linalg.det(reflection(n) @ frames) == pytest.approx(-1)


def test_a_mirror_between_the_two_sides_is_told_as_no_turn_only():
    assert missed(judged("05.1", lambda p, f, q, n: (mirrored(p, f, q, n)[0], -mirrored(p, f, q, n)[1]))) == {"turn"}


def test_a_frame_too_few_is_told():
    result = judged("05.1", lambda p, f, q, n: (mirrored(p, f, q, n)[0], mirrored(p, f, q, n)[1][:-1]))
    assert result.earned == 0 and "frames" in panel(result).text


def test_wrong_places_are_told_whichever_axes_were_turned_round():
    def x_round(points, frames, q, n):
        there, other = mirrored(points, frames, q, n)
        return there, other @ np.diag([1.0, -1, -1])

    for wrong, told in (
        (lambda p, f, q, n: x_round(p, f, np.zeros(3), n), "left out"),
        (lambda p, f, q, n: ((p + x_round(p, f, q, n)[0]) / 2, x_round(p, f, q, n)[1]), "onto the plane"),
        (lambda p, f, q, n: (p - 2 * np.outer((p - q) @ n, n), x_round(p, f, q, n)[1]), "at length 1"),
    ):
        assert told in "".join(likely(judged("05.1", wrong, 7, b"one"))), told


# ---- 05.2 ----------------------------------------------------------------------------------------------------------


def matched_by_package(frames, normal):
    return rotation.to_matrix(mirror.matched(rotation.from_matrix(frames), Plane(normal=normal)))


def by_half_turn(frames, normal):
    """Another right way: -M is half a turn about the normal."""
    return Rotation.from_rotvec(np.pi * normal).as_matrix() @ frames


@pytest.mark.parametrize("variant", (0, 41))
@pytest.mark.parametrize("seed", (None, b"one"))
@pytest.mark.parametrize("answer", (matched_by_package, by_half_turn))
def test_every_right_matched_frame_earns_full_marks(answer, seed, variant):
    result = judged("05.2", answer, variant, seed)
    assert result.earned == 5, panel(result).text


def test_parallel_given_for_matched_is_off_in_two_channels():
    frame = some_turn(np.random.default_rng(3))
    other = YZ @ frame @ np.diag([-1, 1, 1])
    assert np.degrees([turn_off(frame, other, YZ, k, 1) for k in range(3)]) == pytest.approx([0, 60, 60], abs=1e-6)


@pytest.mark.source("SciPy")
def test_matrices_of_quaternions_are_scipy_s():
    # SciPy Rotation
    q = np.random.default_rng(1).normal(size=4)
    q /= np.linalg.norm(q)
    assert matrix_of(q) == pytest.approx(Rotation.from_quat(q).as_matrix())


# ---- 05.3 and 05.4 -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("signs", list(product((1, -1), repeat=3)))
def test_the_rule_of_the_text_holds_for_every_choice_of_signs(signs):
    """Moves take S, turns take -S where the frame is a turn, S where it is left-handed; tried with turns and moves in the world."""
    frame = some_turn(np.random.default_rng(5))
    other, hand = YZ @ frame @ np.diag(signs), np.prod(signs)
    for k in range(3):
        assert move_off(frame, other, YZ, k, signs[k]) < 1e-9
        assert turn_off(frame, other, YZ, k, hand * signs[k]) < 1e-7
        assert turn_off(frame, other, YZ, k, -hand * signs[k]) == pytest.approx(np.radians(60))


def test_no_choice_is_a_turn_and_keeps_every_sign():
    """The prediction of the eight rows."""
    good = [s for s in product((1, -1), repeat=3) if np.prod(s) == -1]
    assert len(good) == 4 and (1, 1, 1) not in good
    assert [s for s in good if all(-x == 1 for x in s)] == [(-1, -1, -1)]


def test_signs_may_come_as_lists_and_one_wrong_sign_costs_its_own_claim():
    known = context(7)
    right = {name: [int(s) for s in value] for name, value in CHECKPOINT["05.3"].worked(known).items()}
    assert judged("05.3", right, 7).earned == 6
    result = judged("05.3", {**right, "parallel_moves": [1, 1, 1]}, 7)
    assert missed(result) == {"parallel"} and "a move along x" in panel(result).text


def test_a_matched_frame_of_the_middle_is_another_frame_and_a_parallel_one_is_itself():
    here = np.array([0, 0, 0, 1.0])
    assert rotation.angle(mirror.parallel(here, Plane()), here) < 1e-12
    assert np.degrees(rotation.angle(mirror.matched(here, Plane()), here)) == pytest.approx(180)


# ---- 05.5 ----------------------------------------------------------------------------------------------------------


def by_pattern(name, taken):
    """Another right way: a regular expression for whole words."""
    found = set(re.findall(r"(?:^|(?<=_))(left|right)(?=_|$)", name))
    if len(found) == 2:
        return None
    swapped = re.sub(r"(?:^|(?<=_))(left|right)(?=_|$)", lambda m: {"left": "right", "right": "left"}[m[1]], name)
    return name if not found else None if swapped in taken else swapped


def names_by_package(name, taken):
    try:
        swapped = mirror.names(name)
    except ValueError:
        return None
    return None if swapped != name and swapped in taken else swapped


@pytest.mark.parametrize("seed", (None, b"one", b"two"))
@pytest.mark.parametrize("answer", (by_pattern, names_by_package))
def test_every_right_name_earns_full_marks(answer, seed):
    result = judged("05.5", answer, 0, seed)
    assert result.earned == 6, panel(result).text


def test_the_cases_hold_every_kind_whatever_the_seed():
    for seed in range(10):
        found = [kind(case) for case in cases_of("05.5", seed % 3, b"%d" % seed)]
        assert [found.count(one) for one in ("swap", "whole", "stay", "refuse")] == [6, 4, 2, 3]


def test_swapped_twice_is_the_start_for_every_joint_of_tally():
    for name in context(0).robot.skeleton.names:
        assert swap_side(swap_side(name, []), []) == name == mirror.names(mirror.names(name))


# ---- 05.6 ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("variant", (0, 7, 41))
def test_the_package_s_snap_of_the_centre_joints_earns_full_marks(variant):
    known = context(variant)
    plane = Plane(known.given["plane_point"], known.given["plane_normal"])
    moved = {name: symmetry.snap(p, plane, 0.02) if name.startswith("centre") else p for name, p in known.given["placed"].items()}
    apart = max(np.linalg.norm(p - mirror.points(p, plane)) for name, p in known.given["placed"].items() if name.startswith("centre"))
    result = judged("05.6", {"on_plane": moved, "farthest": apart}, variant)
    assert result.earned == 5, panel(result).text
    assert farthest(known) == pytest.approx(apart)


def test_names_that_are_not_there_are_told():
    known = context(0)
    right = CHECKPOINT["05.6"].worked(known)
    some = {name: p for name, p in right["on_plane"].items() if name != "centre_head_joint"}
    assert "centre_head_joint is missing" in panel(judged("05.6", {**right, "on_plane": some})).text


# ---- 05.7 ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("variant", (0, 41))
def test_the_flipped_pose_is_the_package_s(variant):
    known = context(variant)
    skeleton, start = known.robot.skeleton, known.given["pose"]
    wanted, moves = mirror.pose(skeleton, Plane(), side_05.local(skeleton, start))
    got = side_05.local(skeleton, CHECKPOINT["05.7"].worked(known)["flipped"])
    assert rotation.angle(wanted, got) == pytest.approx(0, abs=1e-6)
    there, here = skeleton.forward(got).positions, skeleton.forward(side_05.local(skeleton, start)).positions
    other = mirror.counterparts(skeleton.names)
    assert there == pytest.approx(here[other] * [-1, 1, 1], abs=1e-6)
    assert moves == pytest.approx(skeleton.rest_translations, abs=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_a_learner_s_own_joints_and_quaternions_of_either_sign_earn_full_marks(seed):
    """Joints up to 0.1 mm off, as chapter 01 accepts; frames from them; -q for q here and there."""
    known, rng = context(41), np.random.default_rng(seed)
    right = CHECKPOINT["05.7"].worked(known)
    joints, frames = {}, {}
    for limb, hinge in ((side_05.ARM, "left_elbow"), (side_05.LEG, "left_knee")):
        aside = rng.normal(size=(len(limb), 3))
        points = np.array([known.robot.landmarks[f"left_{name}"] for name in limb]) + 1e-4 * aside / np.linalg.norm(
            aside, axis=1, keepdims=True
        )
        names = [f"right_{name}" for name in limb]
        joints |= dict(zip(names, points @ YZ))
        frames |= dict(zip(names, matched(joint_frames(points, known.robot.hinges[hinge]), np.array([1.0, 0, 0]))))
    flipped = {name: q * rng.choice([-1, 1]) for name, q in right["flipped"].items()}
    result = judged("05.7", {"right_joints": joints, "right_frames": frames, "flipped": flipped, "flipped_back": right["flipped_back"]}, 41)
    assert result.earned == 8, panel(result).text


@pytest.mark.parametrize("variant", range(0, 100, 9))
def test_tally_s_own_right_side_is_the_worked_one(variant):
    known = context(variant)
    right = CHECKPOINT["05.7"].worked(known)
    for name, place in right["right_joints"].items():
        assert place == pytest.approx(known.robot.landmarks[name], abs=1e-12)
    row = known.robot.skeleton.index("right_elbow_joint")
    own = rotation.to_matrix(known.robot.skeleton.rest_world.rotations[row])
    assert right["right_frames"]["right_elbow"] == pytest.approx(own, abs=1e-9)


def test_a_name_forgotten_in_a_pose_is_told():
    right = CHECKPOINT["05.7"].worked(context(0))
    some = {name: q for name, q in right["flipped"].items() if name != "left_knee_joint"}
    result = judged("05.7", {**right, "flipped": some})
    assert "left_knee_joint is missing" in panel(result).text


def test_left_names_on_right_joints_are_told_by_measure():
    known = context(0)
    right = CHECKPOINT["05.7"].worked(known)
    wrong = {name.replace("right", "left"): p for name, p in right["right_joints"].items()}
    assert "the names still say left" in " ".join(likely(judged("05.7", {**right, "right_joints": wrong})))


# ---- closed book ---------------------------------------------------------------------------------------------------


def test_the_package_s_own_is_closed():
    for name, answer in (("05.1", by_package), ("05.2", matched_by_package), ("05.5", names_by_package)):
        checkpoint = CHECKPOINT[name]
        cases = contexts.cases(checkpoint, context(0))
        result = judge(checkpoint, collect(checkpoint, dict.fromkeys(checkpoint.names, answer), cases), context(0), cases)
        assert result.earned == 0 and {claim.outcome for claim in result.claims} == {"closed book"}, name
