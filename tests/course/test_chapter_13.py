"""Chapter 13: any of the three ways earns full marks, wrong turns cost their own claims, and the facts told are facts."""

import ast

import numpy as np
import pytest
from scipy.optimize import lsq_linear
from scipy.spatial.transform import Rotation

from rigkit import chain, rotation
from rigkit._chain_state import State
from rigkit.course.chapters import chapter_13_chains as chains
from rigkit.course.chapters.chapter_13_limit import keep_limit
from rigkit.course.chapters.chapter_13_reach import never_bends, reach_for, start
from rigkit.course.judge import tried_text
from rigkit.course.panel import panel
from tests.course.tried import Tried, missed

TRIED = Tried("13")
CHAPTER, TEXT, CHECKPOINT = TRIED.chapter, TRIED.text, TRIED.checkpoint
context, answered, cells = TRIED.context, TRIED.answered, TRIED.cells
VARIANTS = (0, 7, 41, 99)


# ---- the text ----------------------------------------------------------------------------------------------------


def test_no_name_of_a_cell_can_stand_in_for_a_line_forgotten_in_a_function():
    assert TRIED.worked_functions() == ["placed", "reach_for", "measured", "keep_limit"]


def test_every_scene_sets_its_own_view():
    scenes = [ast.unparse(tree) for tree in cells() if "viewer.clear()" in ast.unparse(tree)]
    assert len(scenes) == 3
    for scene in scenes:
        assert all(f"viewer.{call}(" in scene for call in ("see_from", "see_through", "show", "caption")), scene


def test_a_panel_is_never_cut_and_a_case_fits_its_line():
    known = context(41)
    for name, checkpoint in CHECKPOINT.items():
        for mistake in checkpoint.mistakes:
            told = panel(answered(name, mistake.answer if checkpoint.kind == "function" else mistake.answer(known), 41), can_show=True).text
            assert "..." not in told, f"{mistake.name}\n{told}"
        if checkpoint.kind == "function":
            assert all(len(tried_text(case)) <= 90 for case in checkpoint.cases(np.random.default_rng(3), known))


# ---- other right answers -----------------------------------------------------------------------------------------


def by_sweeps(points, target, steps):
    """Cyclic coordinate descent, by SciPy's turns."""
    p = start(points, target)
    for _ in range(steps):
        for i in range(len(p) - 2, -1, -1):
            tip, aim = p[-1] - p[i], target - p[i]
            if np.linalg.norm(tip) > 1e-9 and np.linalg.norm(aim) > 1e-9:
                p[i + 1 :] = p[i] + Rotation.from_quat(rotation.between(tip, aim)).apply(p[i + 1 :] - p[i])
    return p


def by_damped_steps(points, target, steps):
    """Damped least squares as the text tells it: no shorter stride, a damping of 0.3 of the length."""
    p, long = start(points, target), chains.lengths(points).sum()
    for _ in range(steps):
        jacobian = np.hstack([np.cross(np.eye(3), p[-1] - joint).T for joint in p[:-1]])
        turns = jacobian.T @ np.linalg.solve(jacobian @ jacobian.T + (0.3 * long) ** 2 * np.eye(3), target - p[-1])
        for i, turn in enumerate(turns.reshape(-1, 3)):
            p[i + 1 :] = p[i] + Rotation.from_rotvec(turn).apply(p[i + 1 :] - p[i])
    return p


def by_the_package(points, target, steps):
    """The package's own, which goes on where plain passes grow slow."""
    return chain.fabrik(points, target, steps=steps).points


@pytest.mark.source("SciPy")
@pytest.mark.parametrize("answer", [by_sweeps, by_damped_steps, by_the_package])
def test_each_of_the_three_ways_earns_full_marks(answer):
    # SciPy Rotation.apply turns the links of the first two
    for variant, seed in ((0, None), (7, b"one"), (41, b"two")):
        result = answered("13.1", answer, variant, seed)
        assert result.earned == 7, panel(result).text


def each_link_held(points, limit):
    """Another right way: each link keeps its direction as far as it may, and nothing is carried."""
    ways = np.diff(points, axis=0)
    for i in range(1, len(ways)):
        before, after = ways[i - 1] / np.linalg.norm(ways[i - 1]), ways[i]
        aside = after - (after @ before) * before
        size = np.linalg.norm(aside)
        if np.arctan2(size, after @ before) > limit:
            aside = aside / size if size > 1e-9 else rotation.perpendicular(before)
            ways[i] = np.linalg.norm(after) * (np.cos(limit) * before + np.sin(limit) * aside)
    return points[0] + np.vstack([np.zeros(3), np.cumsum(ways, axis=0)])


def test_what_lies_beyond_a_limit_may_be_carried_or_not():
    for variant, seed in ((0, None), (7, b"one"), (41, b"two")):
        result = answered("13.3", each_link_held, variant, seed)
        assert result.earned == 6, panel(result).text


# ---- the facts ---------------------------------------------------------------------------------------------------


def test_the_worked_limit_is_the_cone_of_the_package():
    for name, inputs in ((case.about, case.inputs) for case in TRIED.cases_of("13.3", 7, b"cone")):
        if "folded" in name:
            continue
        points, limit = inputs["points"], inputs["limit"]
        coned = State(points[None], chains.lengths(points)[None], np.full(len(points) - 2, limit)).coned().points[0]
        assert keep_limit(points, limit) == pytest.approx(coned, abs=1e-9), name


@pytest.mark.parametrize("variant", VARIANTS)
def test_damped_steps_bend_the_hose_most_evenly_sweeps_least_and_passes_are_fewest(variant):
    answer = CHECKPOINT["13.2"].worked(context(variant))
    sweep, one_pass, damped = answer["evenness"]
    assert damped + 1 < one_pass < sweep - 5
    assert answer["steps"][1] < min(answer["steps"][0], answer["steps"][2]) and max(answer["steps"]) < chains.STEPS
    assert answer["sharpest"][0] > 90 > answer["sharpest"][2]


@pytest.mark.parametrize("variant", VARIANTS)
def test_a_sweep_curls_the_half_near_the_tip(variant):
    bends = chains.bends(context(variant).given["trails"][0][-1])
    assert bends[6:].mean() > 1.5 * bends[:5].mean()


def test_no_pass_and_no_sweep_takes_the_tip_further_from_its_target():
    rng = np.random.default_rng(13)
    for _ in range(20):
        points = chains.random_chain(rng, 6, 2.0)
        target = points[0] + rng.normal(size=3) * 0.2
        for step in (chains.fabrik_pass, chains.sweep):
            gaps = [np.linalg.norm(one[-1] - target) for one in (points, step(points, target), step(step(points, target), target))]
            assert gaps == sorted(gaps, reverse=True), step.__name__


def test_a_chain_in_one_line_with_its_target_does_not_bend_by_itself():
    straight, target = np.outer(0.1 * np.arange(5), [0, -1.0, 0]), np.array([0, -0.2, 0])
    for step in (chains.fabrik_pass, chains.sweep, chains.damped_step):
        assert np.abs(chains.trail(step, straight, target)[:, :, [0, 2]]).max() < 1e-12
    assert np.abs(never_bends(straight, target, 60)[:, [0, 2]]).max() < 1e-12
    assert np.linalg.norm(reach_for(straight, target, 60)[-1] - target) < 1e-3


@pytest.mark.source("SciPy")
def test_a_damped_step_is_the_least_of_what_is_weighed():
    # scipy.optimize.lsq_linear minimises |A w - b|^2; A stacks J and l I, b the error and zeros (Buss 2004, damped least squares)
    rng = np.random.default_rng(5)
    points = chains.random_chain(rng, 6)
    error, long = rng.normal(size=3) * 0.01, chains.lengths(points).sum()
    jacobian = np.hstack([chains.across(points[-1] - joint) for joint in points[:-1]])
    wanted = lsq_linear(np.vstack([jacobian, 0.3 * long * np.eye(18)]), np.append(error, np.zeros(18)), tol=1e-14).x
    stepped = points.copy()
    for i, turn in enumerate(wanted.reshape(-1, 3)):
        stepped[i + 1 :] = stepped[i] + Rotation.from_rotvec(turn).apply(stepped[i + 1 :] - stepped[i])
    assert chains.damped_step(points, points[-1] + error) == pytest.approx(stepped, abs=1e-9)


@pytest.mark.source("SciPy")
def test_turns_are_those_of_scipy():
    # SciPy Rotation.from_rotvec
    rng = np.random.default_rng(1)
    for a, b in rng.normal(size=(20, 2, 3)):
        assert chains.matrix(a) == pytest.approx(Rotation.from_rotvec(a).as_matrix(), abs=1e-12)
        assert chains.matrix(chains.swing(a, b)) @ a / np.linalg.norm(a) == pytest.approx(b / np.linalg.norm(b), abs=1e-12)
        assert chains.matrix(chains.swing(a, -a)) @ a == pytest.approx(-a, abs=1e-9)


def test_a_limit_kept_only_at_the_end_throws_the_tip_off_and_one_kept_in_each_step_does_not():
    for variant in VARIANTS:
        known = context(variant).given
        late = keep_limit(known["trails"][0][-1], np.radians(known["limit"]))
        assert np.linalg.norm(late[-1] - known["target"]) > 0.02
        assert chain.fabrik(known["hose"], known["target"], cone=np.radians(known["limit"])).reached


# ---- wrong turns of other kinds ----------------------------------------------------------------------------------


def test_a_chain_that_stays_where_it_is_misses_every_place_it_should_come_to():
    assert missed(answered("13.1", lambda points, target, steps: points.copy())) == {"reach", "line", "joint", "far"}


def test_a_tip_put_on_its_target_alone_changes_a_length():
    assert "lengths" in missed(answered("13.1", lambda points, target, steps: np.vstack([points[:-1], target])))


def test_another_number_of_points_is_told():
    assert (
        "12 points" in panel(answered("13.3", lambda points, limit: points[:-1])).text
        or "points, as they came" in panel(answered("13.3", lambda points, limit: points[:-1])).text
    )


def test_a_limit_kept_by_making_all_straight_is_seen():
    def straight(points, limit):
        way = (points[1] - points[0]) / np.linalg.norm(points[1] - points[0])
        return points[0] + np.outer(np.append(0, np.cumsum(chains.lengths(points))), way)

    assert missed(answered("13.3", straight)) == {"within", "edge"}
