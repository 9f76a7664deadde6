"""Chapter 04: right answers of any kind earn full marks, wrong turns cost their own claims, and the facts told are facts."""

import ast
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar
from scipy.spatial.transform import Rotation

from rigkit import bend as bends
from rigkit import placement
from rigkit.course import context as contexts
from rigkit.course.chapters import chapter_04_prebend as prebend_04
from rigkit.course.chapters import chapter_04_touch as touch_04
from rigkit.course.chapters.chapter_04_bend import bend
from rigkit.course.chapters.chapter_04_flatten import flatten, still, wobbles
from rigkit.course.chapters.chapter_04_frames import joint_frames
from rigkit.course.chapters.chapter_04_vectors import bend_normal, between, square, unit
from rigkit.course.collect import collect
from rigkit.course.judge import judge, tried_text
from rigkit.course.panel import panel
from rigkit.rotation import to_matrix
from rigkit.view import Viewer
from tests.course.boxes import boxes, promised
from tests.course.tried import Tried, likely, missed

TRIED = Tried("04")
CHAPTER, TEXT, CHECKPOINT = TRIED.chapter, TRIED.text, TRIED.checkpoint
context, judged, cases_of, cells = TRIED.context, TRIED.answered, TRIED.cases_of, TRIED.cells


# ---- the text ----------------------------------------------------------------------------------------------------


def test_the_text_promises_the_points_that_are_given():
    assert boxes(CHAPTER) == promised(CHAPTER)
    assert sum(one.points for one in CHAPTER.checkpoints) == 34  # the title card says so


def test_the_minutes_of_the_ideas_are_told():
    assert [int(n) for n in re.findall(r"^\*(\d+) minutes", TEXT, re.MULTILINE)] == [40, 30 + 25, 40]


def test_no_name_of_a_cell_can_stand_in_for_a_line_forgotten_in_a_function():
    assert TRIED.worked_functions() == ["leg_bend", "bend", "flatten", "joint_frames", "turn_until"]


def test_every_scene_sets_its_own_view():
    scenes = [ast.unparse(tree) for tree in cells() if "viewer.clear()" in ast.unparse(tree)]
    assert len(scenes) == 6
    for scene in scenes:
        assert all(f"viewer.{call}(" in scene for call in ("look", "focus", "see_through", "show", "caption")), scene


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
            assert len(tried_text(case)) <= 80, tried_text(case)


# ---- what is handed out --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("variant", range(0, 100, 9))
def test_the_practice_limb_hangs_beside_tally_and_leaves_it_as_it_was(variant):
    known = context(variant)
    whole = CHAPTER.model(known.robot)
    assert whole.skeleton.names[: len(known.robot.skeleton.names)] == known.robot.skeleton.names
    assert np.array_equal(whole.skeleton.forward().positions[: len(known.robot.skeleton.names)], known.robot.skeleton.forward().positions)
    a, b, c = known.given["practice"]
    assert np.linalg.norm(np.cross(b - a, c - b)) < 1e-12 and b[2] > 0.5 and b[0] < -0.5
    last = [f"centre_practice_{name}_joint" for name in ("shoulder", "elbow", "wrist")]
    assert np.allclose([whole.skeleton.forward().positions[whole.skeleton.index(name)] for name in last], known.given["practice"])
    own = np.linalg.norm(known.robot.landmarks["left_elbow"] - known.robot.landmarks["left_shoulder"])
    assert np.linalg.norm(b - a) == pytest.approx(own)


@pytest.mark.parametrize("variant", range(0, 100, 9))
def test_the_folds_tell_the_hinges_and_the_bend_tells_their_signs(variant):
    known = context(variant)
    marks = known.robot.landmarks
    for root, mid, end in (("left_shoulder", "left_elbow", "left_wrist"), ("left_hip", "left_knee", "left_ankle")):
        hinge = placement.fold_hinge(known.given["folds"][mid])
        assert (
            np.degrees(between(hinge * np.sign(hinge @ bend_normal(marks[root], marks[mid], marks[end])), known.robot.hinges[mid])) < 1e-3
        )


@pytest.mark.parametrize("variant", range(100))
def test_the_straight_leg_is_turned_away_from_every_axis_and_the_hose_away_from_every_plane(variant):
    known = context(variant)
    leg, hinge = known.given["straight_leg"], known.given["straight_leg_hinge"]
    assert np.linalg.norm(np.cross(leg[1] - leg[0], leg[2] - leg[1])) < 1e-12 and abs(hinge @ (leg[2] - leg[0])) < 1e-12
    forward = unit(np.cross(leg[2] - leg[0], hinge))
    assert forward[2] > 0.5 and np.degrees(np.arccos(forward[2])) > 15
    normal = bends.plane_normal(known.given["hose"])
    assert np.abs(normal).max() < 0.97
    assert 0.002 < np.sqrt(np.mean(bends.off_plane(known.given["hose"]) ** 2)) < 0.006


# ---- 04.1 ----------------------------------------------------------------------------------------------------------


def by_package(a, b, c):
    try:
        return bends.angle(a, b, c), bends.normal(a, b, c)
    except ValueError:
        return bends.angle(a, b, c), np.zeros(3)


def by_scipy(a, b, c):
    """Another right way: the turn that lines the bones up, by SciPy."""
    u, v = unit(b - a), unit(c - b)
    axis = np.cross(u, v)
    if np.linalg.norm(axis) < 1e-9:
        return (0.0 if u @ v > 0 else np.pi), np.zeros(3)
    found = Rotation.align_vectors([v, axis], [u, axis])[0].as_rotvec()
    return np.linalg.norm(found), found / np.linalg.norm(found)


def by_cosine(a, b, c):
    """Another right way: the law of cosines, and arccos kept in its range; good to 1e-6 rad from a bend of 1e-3 rad up."""
    x, y, d = np.linalg.norm(b - a), np.linalg.norm(c - b), np.linalg.norm(c - a)
    axis = np.cross((b - a) / x, (c - b) / y)
    angle = np.pi - np.arccos(np.clip((x * x + y * y - d * d) / (2 * x * y), -1, 1))
    return angle, axis / np.linalg.norm(axis) if np.linalg.norm(axis) > 1e-9 else 0 * axis


@pytest.mark.parametrize("variant", (0, 41))
@pytest.mark.parametrize("seed", (None, b"one", b"two"))
@pytest.mark.parametrize("answer", (by_package, by_scipy))
def test_every_right_bend_earns_full_marks(answer, seed, variant):
    result = judged("04.1", answer, variant, seed)
    assert result.earned == 7, panel(result).text


def test_the_law_of_cosines_loses_its_digits_only_where_the_limb_is_straight_or_nearly():
    told = judged("04.1", by_cosine)
    assert {"plane", "side", "unit"}.isdisjoint(missed(told))


@pytest.mark.source("Euclid")
@pytest.mark.parametrize(
    "upper, lower, far, inner", [(3, 4, 5, 90), (5, 8, 7, 60), (3, 5, 7, 120), (1, 1, np.sqrt(2), 90), (1, 1, np.sqrt(3), 120)]
)
def test_the_bend_angle_is_the_outer_angle_of_euclid(upper, lower, far, inner):
    # Euclid, Elements II.12-13: the inner angles of these triangles
    along = (upper**2 + far**2 - lower**2) / (2 * far)
    mid = np.array([along, np.sqrt(upper**2 - along**2), 0])
    angle, normal = bend(np.zeros(3), mid, np.array([far, 0, 0.0]))
    assert np.degrees(angle) == pytest.approx(180 - inner) and normal == pytest.approx([0, 0, -1])


def test_the_cases_hold_every_kind_whatever_the_seed():
    for seed in range(10):
        found = cases_of("04.1", seed % 3, b"%d" % seed)
        assert len(found) == 14  # as the text says
        angles = [by_package(*case.inputs.values())[0] for case in found]
        assert sum(a == 0 or a < 1e-12 for a in angles) == 2 and sum(abs(a - np.pi) < 1e-12 for a in angles) == 1
        assert sum(np.pi / 2 + 0.2 < a < np.pi - 1e-6 for a in angles) >= 2


def test_the_package_s_own_is_closed():
    for name, answer in (("04.1", by_package), ("04.3", bends.flatten), ("04.4", lambda p, h: to_matrix(bends.frames(p, h)))):
        checkpoint = CHECKPOINT[name]
        cases = contexts.cases(checkpoint, context(0))
        result = judge(checkpoint, collect(checkpoint, dict.fromkeys(checkpoint.names, answer), cases), context(0), cases)
        assert result.earned == 0 and {claim.outcome for claim in result.claims} == {"closed book"}, name


@pytest.mark.parametrize("variant", range(0, 100, 9))
def test_by_eye_the_normal_is_off_as_the_text_predicts(variant):
    """The prediction 04.c, for every variant's arm: joints 5 mm off, the worst tenth of the normals off by 20 degrees and more."""
    marks = context(variant).robot.landmarks
    arm = np.array([marks[f"left_{name}"] for name in ("shoulder", "elbow", "wrist")])
    ways = np.random.default_rng(4).normal(size=(400, 3, 3))
    placed = arm + 0.005 * ways / np.linalg.norm(ways, axis=2, keepdims=True)
    off = np.degrees(np.arccos(np.clip(bends.normal(placed[:, 0], placed[:, 1], placed[:, 2]) @ bends.normal(*arm), -1, 1)))
    assert np.quantile(off, 0.9) > 19.5
    height = np.linalg.norm(square(arm[1] - arm[0], unit(arm[2] - arm[0])))
    assert 1.7 < height / 0.005 < 3.5


# ---- 04.2 ----------------------------------------------------------------------------------------------------------


@given(degrees=st.floats(2.05, 5.95), along=st.floats(-0.02, 0.02), variant=st.sampled_from([0, 7, 41]))
@settings(max_examples=40, deadline=None)
def test_any_pre_bend_that_goes_back_earns_full_marks(degrees, along, variant):
    """How far, and whether the elbow slides along the line as well, is the learner's choice; the price is that of their own elbow."""
    straight, hinge = prebend_04.practice(context(variant))
    got = bends.prebend(
        straight[0],
        straight[1] + along * unit(straight[2] - straight[0]),
        straight[2],
        prebend_04.back(straight, hinge),
        np.radians(degrees),
    )
    pre_bent = np.array([straight[0], got, straight[2]])
    turn = Rotation.from_rotvec(
        np.pi / 2 * hinge
    ).as_matrix()  # the shell's own fold, carried by the wrong pivot: the gap itself, no formula
    gap = np.linalg.norm(got + turn @ (straight[1] - got) - straight[1])
    result = judged("04.2", {"pre_bent": pre_bent, "gap_at_90": gap}, variant)
    assert result.earned == 5, panel(result).text


def test_the_first_order_rule_of_the_text_gives_what_it_asks_for():
    straight, _ = prebend_04.practice(context(0))
    x, y = np.linalg.norm(np.diff(straight, axis=0), axis=1)
    h = np.radians(4) * x * y / (x + y)
    assert np.degrees(np.arctan(h / x) + np.arctan(h / y)) == pytest.approx(4, abs=0.01)
    assert prebend_04.rise(straight, 4) == pytest.approx(h, rel=2e-3)


@pytest.mark.parametrize("step, told", [((0.3, 0, 0.01), "side"), ((0, 0, 0.0055), "forward")])
def test_the_way_the_elbow_went_is_told_by_measure(step, told):
    straight, _ = prebend_04.practice(context(7))
    result = judged("04.2", {"pre_bent": straight + np.outer([0, 1, 0], step), "gap_at_90": 0.0}, 7)
    assert "way" in missed(result) and any(told in words for words in likely(result)), panel(result).text


# ---- 04.3 ----------------------------------------------------------------------------------------------------------


def by_search(points):
    """Another right way: turn the plane about the line until the sum of squares is least."""
    line = unit(points[-1] - points[0])
    off = points - points[0]
    if np.linalg.norm(np.cross(off, line)) < 1e-12:
        return points.copy()
    u = unit(square(np.eye(3)[np.argmin(np.abs(line))], line))

    def normal(t):
        return np.cos(t) * u + np.sin(t) * np.cross(line, u)

    grid = np.linspace(0, np.pi, 181)
    start = min(grid, key=lambda t: ((off @ normal(t)) ** 2).sum())
    best = minimize_scalar(lambda t: ((off @ normal(t)) ** 2).sum(), bracket=(start - 0.02, start, start + 0.02), tol=1e-12).x
    return points - np.outer(off @ normal(best), normal(best))


def by_angle(points):
    """Another right way: the main direction of a plane's scatter in closed form, half an arctan2."""
    line = unit(points[-1] - points[0])
    u = unit(square(np.eye(3)[np.argmin(np.abs(line))], line))
    v = np.cross(line, u)
    p, q = (points - points[0]) @ u, (points - points[0]) @ v
    t = np.arctan2(2 * p @ q, p @ p - q @ q) / 2
    normal = np.cross(line, np.cos(t) * u + np.sin(t) * v)
    return points - np.outer((points - points[0]) @ normal, normal)


@pytest.mark.parametrize("variant", (0, 41))
@pytest.mark.parametrize("seed", (None, b"one", b"two"))
@pytest.mark.parametrize("answer", (by_angle, by_search, lambda p: p.copy() if len(p) < 4 else flatten(p)))
def test_every_right_flat_chain_earns_full_marks(answer, seed, variant):
    result = judged("04.3", answer, variant, seed)
    assert result.earned == 6, panel(result).text


def test_the_chains_tell_the_best_plane_from_the_others():
    """Everywhere the best plane is clear, and a free best plane is off by more than the tolerance."""
    for seed in range(10):
        found = cases_of("04.3", seed % 3, b"%d" % seed)
        assert sum(map(wobbles, found)) == 8 and sum(map(still, found)) == 4
        for case in filter(wobbles, found):
            points = case.inputs["points"]
            line = unit(points[-1] - points[0])
            spread = np.linalg.svd(points - points[0] - np.outer((points - points[0]) @ line, line))[1]
            assert spread[0] > 1.5 * spread[1] > 1e-3 and spread[2] < 1e-12 * spread[0] + 1e-12


def test_a_nearly_straight_chain_s_free_plane_is_degrees_off():
    """The text says so. Free: the best plane through the mean, turned until it holds both ends."""
    off = []
    for seed in range(20):
        points = next(c.inputs["points"] for c in cases_of("04.3", 0, b"%d" % seed) if c.about == "nearly straight")
        line = unit(points[-1] - points[0])
        free = unit(square(np.linalg.svd(points - points.mean(axis=0))[2][2], line))
        off.append(np.degrees(np.arccos(min(1, abs(free @ bends.plane_normal(points))))))
    assert np.median(off) > 1


# ---- 04.4 ----------------------------------------------------------------------------------------------------------


def by_quaternions(points, hinge):
    return to_matrix(bends.frames(points, hinge))


def by_crosses(points, hinge):
    """Another right way: y first, square to hinge and bone, then z; backwards along the chain, with lists."""
    found = []
    for k in reversed(range(len(points) - 1)):
        x = unit(points[k + 1] - points[k])
        y = unit(np.cross(hinge, x))
        found.insert(0, np.stack([x, y, np.cross(x, y)], axis=1).tolist())
    return [*found, found[-1]]


@pytest.mark.parametrize("variant", (0, 41))
@pytest.mark.parametrize("seed", (None, b"one", b"two"))
@pytest.mark.parametrize("answer", (by_quaternions, by_crosses))
def test_every_right_frame_earns_full_marks(answer, seed, variant):
    result = judged("04.4", answer, variant, seed)
    assert result.earned == 6, panel(result).text


@pytest.mark.source("SciPy")
def test_the_worked_frames_are_turns_to_scipy_and_a_bend_is_a_turn_about_z():
    # SciPy Rotation: from_matrix with assume_valid=False would bend a matrix that is no turn; equal before and after means it is one
    known = context(0)
    points = np.array([known.robot.landmarks[f"left_{name}"] for name in ("shoulder", "elbow", "wrist")])
    frames = joint_frames(points, known.robot.hinges["left_elbow"])
    assert Rotation.from_matrix(frames).as_matrix() == pytest.approx(frames, abs=1e-12)
    bent = (Rotation.from_matrix(frames[0]).inv() * Rotation.from_matrix(frames[1])).as_rotvec()
    assert bent[:2] == pytest.approx([0, 0], abs=1e-4) and np.degrees(bent[2]) == pytest.approx(8.0, abs=1e-3)


def test_a_frame_too_few_is_told():
    result = judged("04.4", lambda points, hinge: joint_frames(points, hinge)[:-1])
    assert result.earned == 0 and all("that of its parent" in words for words in likely(result))


@pytest.mark.parametrize("name", ("04.2", "04.6"))
def test_no_panel_of_a_value_gives_the_number_away(name):
    """What was expected is told in words: a learner who reads the panel still has to find it."""
    known, checkpoint = context(0), CHECKPOINT[name]
    right = [value for value in checkpoint.worked(known).values() if np.ndim(value) == 0]
    for mistake in checkpoint.mistakes:
        told = [claim.expected for claim in judged(name, mistake.answer(known)).claims]
        assert not any(f"{value:.3g}" in words for value in right for words in told)


def test_own_hinges_of_the_hose_flip_once():
    """The prediction 04.e."""
    marks = context(0).robot.landmarks
    bones = np.diff([marks[f"hose_{k:02}"] for k in range(1, 13)], axis=0)
    axes = np.cross(bones[:-1], bones[1:])
    assert (np.einsum("ni,ni->n", axes[:-1], axes[1:]) < 0).sum() == 1


# ---- 04.5 ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(6))
def test_a_learner_s_own_leg_earns_full_marks(seed):
    """Joints up to 0.1 mm off, as chapter 01 accepts; the hinge from the fold."""
    known = context(41)
    aside = np.random.default_rng(seed).normal(size=(3, 3))
    points = np.array([known.robot.landmarks[name] for name in ("left_hip", "left_knee", "left_ankle")])
    points = points + 1e-4 * aside / np.linalg.norm(aside, axis=1, keepdims=True)
    hinge = placement.fold_hinge(known.given["folds"]["left_knee"])
    hinge = hinge if hinge @ bend(*points)[1] > 0 else -hinge
    straight, fold = known.given["straight_leg"], known.given["straight_leg_hinge"]
    bent = bends.prebend(*straight, np.cross(straight[2] - straight[0], fold), np.radians(3))
    result = judged(
        "04.5", {"knee_hinge": hinge, "leg_frames": joint_frames(points, hinge), "bent_leg": np.array([straight[0], bent, straight[2]])}, 41
    )
    assert result.earned == 6, panel(result).text


def test_the_rule_sends_elbows_back_and_knees_forward():
    robot = context(0).robot
    for root, mid, end, way in (("shoulder", "elbow", "wrist", -1), ("hip", "knee", "ankle", 1)):
        a, b, c = (robot.landmarks[f"left_{name}"] for name in (root, mid, end))
        to = unit(np.cross(c - a, robot.hinges[f"left_{mid}"]))
        assert to[2] * way > 0.9 and to == pytest.approx(unit(square(b - a, unit(c - a))), abs=1e-6)


def test_a_knee_along_the_world_s_z_and_an_h_from_degrees_are_told():
    known = CHECKPOINT["04.5"].worked(context(7))
    straight = np.asarray(context(7).given["straight_leg"])
    size = np.linalg.norm(known["bent_leg"][1] - straight[1])
    for step, told in (([0, 0, 0.9 * size], "world's Z; this limb"), ((known["bent_leg"][1] - straight[1]) * np.degrees(1), "np.radians")):
        bent = straight + np.outer([0, 1, 0], step)
        assert told in "".join(likely(judged("04.5", {**known, "bent_leg": bent}, 7))), told


# ---- 04.6 ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("variant", (0, 7, 41, 99))
def test_whoever_reads_the_slider_earns_full_marks(variant):
    """The last whole degree before the tint, or the first with it; and the last with 5 mm in the table."""
    robot = context(variant).robot
    viewer = Viewer(robot)
    found = {}
    for limb, (root, mid, end, fixed, moving) in touch_04.LIMBS.items():
        viewer.bend_at(robot.landmarks[mid], robot.hinges[mid], fixed, moving)
        start, gaps = 75, []
        while not gaps or gaps[-1] > -1e-4:
            viewer.bend(start + len(gaps))
            gaps.append(viewer._panel.gap)
        at_rest = np.degrees(bends.angle(*(robot.landmarks[name] for name in (root, mid, end))))
        found[f"{limb}_touch"] = [at_rest + start + len(gaps) - 2, at_rest + start + len(gaps) - 1]
        found[f"{limb}_limit"] = at_rest + start + max(k for k, gap in enumerate(gaps) if gap >= 0.005)
    viewer.close()
    for which in (0, 1):
        result = judged("04.6", {name: value if np.ndim(value) == 0 else value[which] for name, value in found.items()}, variant)
        assert result.earned == 4, panel(result).text


@pytest.mark.parametrize("variant", range(0, 100, 11))
def test_a_limit_by_degrees_is_told_from_one_by_millimetres_in_at_least_one_limb(variant):
    robot = context(variant).robot
    assert max(touch_04.touch(robot, limb) - touch_04.limit(robot, limb) - 5 for limb in touch_04.LIMBS) > touch_04.NEAR


@pytest.mark.parametrize("limb", touch_04.LIMBS)
def test_at_the_limit_the_shells_are_5_mm_apart_and_at_the_touch_they_meet(limb):
    """Measured by points strewn over both shells, not by the search."""
    robot = context(0).robot
    joint, (fixed, moving) = touch_04.LIMBS[limb][1], (robot.part(name).mesh for name in touch_04.LIMBS[limb][3:])
    share = np.random.default_rng(1).dirichlet(np.ones(3), 40)

    def strewn(mesh):
        near = mesh.vertices[mesh.triangles]
        near = near[np.linalg.norm(near.mean(axis=1) - robot.landmarks[joint], axis=1) < 0.08]
        return np.einsum("ks,nsi->nki", share, near).reshape(-1, 3)

    from scipy.spatial import cKDTree

    still_points, turned_points = cKDTree(strewn(fixed)), strewn(moving) - robot.landmarks[joint]
    for clearance, apart in ((0.0, 0.0), (0.005, 0.005)):
        turn = Rotation.from_rotvec(np.radians(touch_04.turn_to_touch(robot, limb, clearance)) * robot.hinges[joint])
        gap = still_points.query(turn.apply(turned_points) + robot.landmarks[joint])[0].min()
        assert apart - 1e-4 < gap < apart + 2e-3


def test_the_turn_from_rest_is_told_apart_even_when_it_was_read_off_by_a_degree():
    robot = context(7).robot
    at_rest = {limb: touch_04.rest_bend(robot, limb) for limb in touch_04.LIMBS}
    answer = {
        f"{limb}_{name}": of(robot, limb) - at_rest[limb] + 0.7
        for limb in at_rest
        for name, of in (("touch", touch_04.touch), ("limit", touch_04.limit))
    }
    result = judged("04.6", answer, 7)
    assert result.earned == 0 and all("turn from rest" in words for words in likely(result))


def test_a_limit_at_the_touch_and_one_five_degrees_before_it_are_told():
    known = CHECKPOINT["04.6"].worked(context(7))
    for less, told in ((0.4, "the shells touch"), (5.4, "5 degrees were taken off")):
        early = {"arm_limit": known["arm_touch"] - less, "leg_limit": known["leg_touch"] - less}
        assert told in "".join(likely(judged("04.6", {**known, **early}, 7))), told
