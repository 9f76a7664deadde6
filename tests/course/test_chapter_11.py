"""Chapter 11: right answers of any kind earn full marks, wrong turns cost their own claims, and the facts told are facts."""

import ast

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from rigkit import binding
from rigkit.course.chapters.chapter_11_dual import mixed
from rigkit.course.chapters.chapter_11_return import returned
from rigkit.course.chapters.chapter_11_sleeve import blended, radius_left, twisted_poses
from rigkit.course.chapters.chapter_11_twist import fewest, spread
from rigkit.course.chapters.chapter_11_weights import sleeve_weights
from rigkit.course.judge import tried_text
from rigkit.course.panel import panel
from tests.course.tried import Tried, likely, missed, stored

TRIED = Tried("11")
CHAPTER, TEXT, CHECKPOINT = TRIED.chapter, TRIED.text, TRIED.checkpoint
context, answered, cells = TRIED.context, TRIED.answered, TRIED.cells


# ---- the text ----------------------------------------------------------------------------------------------------


def test_no_name_of_a_cell_can_stand_in_for_a_line_forgotten_in_a_function():
    functions = [one for tree in cells("worked") for one in tree.body if isinstance(one, ast.FunctionDef)]
    answers = [one for one in functions if one.name in ("gone_over", "sleeve_weights", "carry", "linear_blend", "sign_for", "dual_blend")]
    outside = stored([one for tree in cells("worked") for one in tree.body if not isinstance(one, ast.FunctionDef)])
    assert len(answers) == 6
    for function in answers:
        own = stored([function]) - {one.arg for one in function.args.args}
        assert not own & outside, (function.name, own & outside)


def test_every_scene_sets_its_own_view():
    scenes = [ast.unparse(tree) for tree in cells() if "viewer.clear()" in ast.unparse(tree)]
    assert len(scenes) == 3
    for scene in scenes:
        assert all(f"viewer.{call}(" in scene for call in ("look", "focus", "see_through", "show", "caption")), scene


def test_a_panel_is_never_cut_and_a_case_fits_its_line():
    for name, checkpoint in CHECKPOINT.items():
        known = context(41)
        for mistake in checkpoint.mistakes:
            told = panel(answered(name, mistake.answer if checkpoint.kind == "function" else mistake.answer(known), 41), can_show=True).text
            assert "..." not in told, f"{mistake.name}\n{told}"
        if checkpoint.kind == "function":
            assert all(len(tried_text(case)) <= 80 for seed in range(5) for case in checkpoint.cases(np.random.default_rng(seed), known))


# ---- other right answers -----------------------------------------------------------------------------------------


def even_share(along, loop, stations):
    """Another right way: straight lines between the stations."""
    place = (np.bincount(loop, along) / np.bincount(loop))[loop]
    return np.array([np.interp(place, stations, row) for row in np.eye(len(stations))]).T


def package_weights(along, loop, stations):
    """The package's."""
    return binding.sleeve_weights((np.bincount(loop, along) / np.bincount(loop))[loop], stations)


@pytest.mark.parametrize("answer", (even_share, package_weights))
def test_any_sound_share_earns_full_marks(answer):
    assert answered("11.1", answer, 7, b"one").earned == 5


def package_linear(vertices, weights, binds, poses):
    """The package's, by quaternions."""
    carry = poses @ np.linalg.inv(binds)
    return binding.linear_blend(vertices, every(weights), weights, Rotation.from_matrix(carry[:, :3, :3]).as_quat(), carry[:, :3, 3])


def package_dual(vertices, weights, turns, moves):
    """The package's."""
    return binding.dual_quaternion(vertices, every(weights), weights, turns, moves)


def every(weights):
    """All joints, for each vertex."""
    return np.tile(np.arange(weights.shape[1]), (len(weights), 1))


@pytest.mark.source("SciPy")
@pytest.mark.parametrize("name, answer", [("11.2", package_linear), ("11.4", package_dual)])
def test_the_package_s_blends_earn_full_marks(name, answer):
    # SciPy Rotation.from_matrix takes the blend's turns to quaternions
    checkpoint = CHECKPOINT[name]
    assert answered(name, answer, 41, b"two").earned == checkpoint.points


def test_bind_and_return_is_measured_by_the_learner_s_own_weights():
    known = context(7).given
    own = even_share(known["along"], known["loop"], known["stations"])
    assert answered("11.6", returned(weights=lambda share: own)(context(7)), 7).earned == 4
    torn = returned(weights=lambda share: sleeve_weights(known["along"], np.arange(len(share)), known["stations"]))(context(7))
    assert missed(answered("11.6", torn, 7)) == {"bound"}


def test_joints_between_the_ends_must_carry_something():
    ends = next(one.answer for one in CHECKPOINT["11.1"].mistakes if one.name == "ends only")
    assert missed(answered("11.1", ends, 7)) == {"steady"}


def test_numpy_s_ceil_is_a_whole_number_and_a_percentage_is_told_to_be_one():
    right = spread()(context(7))
    assert answered("11.5", {**right, "joints": np.ceil(right["joints"])}, 7).earned == 3
    result = answered("11.5", {**right, "kept": 100 * right["kept"]}, 7)
    assert missed(result) == {"kept"} and "percent" in "".join(likely(result))


# ---- the facts ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("degrees, left", [(60, 0.8660254), (90, 0.70710678), (120, 0.5), (180, 0)])
def test_a_twist_half_and_half_leaves_the_cosine_of_its_half(degrees, left):
    # Kavan, Collins, Zara, O'Sullivan, ACM TOG 27(4):105 (2008)
    assert radius_left(degrees) == pytest.approx(left, abs=1e-7)
    known = context(0).given
    bind = known["binds"][1]
    points = bind[:3, 3] + 0.02 * np.outer(np.ones(2), bind[:3, 1]) * [[1], [-1]]
    got = blended(points, np.full((2, 2), 0.5), known["binds"], twisted_poses(known["binds"], degrees))
    assert np.linalg.norm(got - bind[:3, 3], axis=1) == pytest.approx([0.02 * left] * 2, abs=1e-9)


def test_dual_quaternions_keep_the_radius_and_170_and_190_do_not_cancel():
    turns = Rotation.from_rotvec(np.radians([[170, 0, 0], [190, 0, 0]])).as_quat()
    turns[1] *= -np.sign(turns[1, 3])  # w below 0, as cos 95 degrees is
    points = np.array([[0.1, 1.0, 0], [0.2, 0, 1.0]])
    got = mixed(points, np.array([[0.6, 0.4], [0.4, 0.6]]), turns, np.zeros((2, 3)))
    assert np.hypot(got[:, 1], got[:, 2]) == pytest.approx([1, 1], abs=1e-12)


def test_what_is_missing_of_a_sum_pulls_to_the_origin():
    known = context(0).given
    share = 0.9 * sleeve_weights(known["along"], known["loop"], known["stations"])
    pulled = np.linalg.norm(blended(known["vertices"], share, known["binds"], known["binds"]) - known["vertices"], axis=1)
    assert pulled == pytest.approx(0.1 * np.linalg.norm(known["vertices"], axis=1), abs=1e-12)


def test_the_fewest_joints_keep_enough_and_one_fewer_does_not():
    for variant in range(40):
        known = context(variant).given
        count = fewest(known["twist"], known["keep"])
        assert radius_left(known["twist"] / count) >= known["keep"] > radius_left(known["twist"] / (count - 1))
        assert spread()(context(variant))["joints"] == count > 1
