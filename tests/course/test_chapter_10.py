"""Chapter 10: right answers of any kind earn full marks, wrong turns cost their own claims, and the facts told are facts."""

import ast

import numpy as np
import pytest
from scipy.optimize import brentq

from rigkit import limb
from rigkit.course.chapters.chapter_10_girth import thinned
from rigkit.course.chapters.chapter_10_last import half_left, last_answer
from rigkit.course.chapters.chapter_10_limbs import bend, bones, rate, rest, shortest_soft, slowed, turn
from rigkit.course.chapters.chapter_10_price import held, price, shift_of, turn_of
from rigkit.course.chapters.chapter_10_stretch import stretched
from rigkit.course.judge import tried_text
from rigkit.course.panel import panel
from tests.course.tried import Tried, likely, missed

TRIED = Tried("10")
CHAPTER, TEXT, CHECKPOINT = TRIED.chapter, TRIED.text, TRIED.checkpoint
context, answered, cells = TRIED.context, TRIED.answered, TRIED.cells
VARIANTS = (0, 7, 41, 99)


# ---- the text ----------------------------------------------------------------------------------------------------


def test_no_name_of_a_cell_can_stand_in_for_a_line_forgotten_in_a_function():
    assert TRIED.worked_functions() == ["limb_turn", "soft_reach", "stretched", "thinned"]


def test_every_scene_sets_its_own_view():
    scenes = [ast.unparse(tree) for tree in cells() if "viewer.clear()" in ast.unparse(tree)]
    assert len(scenes) == 4
    for scene in scenes:
        assert all(f"viewer.{call}(" in scene for call in ("look", "focus", "see_through", "show", "caption")), scene


def test_a_panel_is_never_cut_and_a_case_fits_its_line():
    for name, checkpoint in CHECKPOINT.items():
        for mistake in checkpoint.mistakes:
            known = context(41)
            told = panel(answered(name, mistake.answer if checkpoint.kind == "function" else mistake.answer(known), 41), can_show=True).text
            assert "..." not in told, f"{mistake.name}\n{told}"
        for seed in range(10 if checkpoint.kind == "function" else 0):
            assert all(len(tried_text(case)) <= 80 for case in checkpoint.cases(np.random.default_rng(seed), context(seed % 2)))


def test_what_the_panel_can_prove_of_a_number_it_says():
    """Units, signs, and what the number is instead."""
    last, cost = (CHECKPOINT[name].worked(context(7)) for name in ("10.1", "10.5"))
    soft = cost["soft"] + 1e-5  # within the tolerance, and no planned mistake's to the last digit
    cost = {"soft": soft, "home_shift": shift_of(context(7), soft), "home_turn": turn_of(context(7), soft)}
    arm = sum(bones(rest(context(7).robot)))
    rest_bend = bend(*bones(rest(context(7).robot)), np.linalg.norm(rest(context(7).robot)[2] - rest(context(7).robot)[0]))
    for name, right, key, wrong, told in (
        ("10.1", last, "half_left", 10 * last["half_left"] * arm, "millimetres"),
        ("10.5", cost, "home_turn", -cost["home_turn"], "above 0"),
        ("10.5", cost, "home_turn", cost["home_turn"] + rest_bend, "bent already"),
        ("10.5", cost, "home_shift", arm - held(context(7), soft), "to full reach"),
        ("10.5", cost, "soft", cost["soft"] / np.degrees(0.001) ** 2, "radians a metre"),
    ):
        assert told in "".join(likely(answered(name, {**right, key: wrong}, 7))), (key, told)


# ---- the facts ---------------------------------------------------------------------------------------------------


def test_the_last_percent_turns_an_elbow_by_sixteen_degrees_and_half_of_it_in_the_last_quarter():
    for variant in VARIANTS:
        arm = bones(rest(context(variant).robot))
        assert turn(*arm, 0.99, 1) == pytest.approx(16.2, abs=0.1)
        assert turn(*arm, 0.99, 1) > 9.5 * turn(*arm, 0.70, 0.71)
        assert half_left(*arm) == pytest.approx(0.25, abs=0.002)
        known = limb.solve(*rest(context(variant).robot), rest(context(variant).robot)[0] + [0, 0, 0.99 * sum(arm)], [0, 9, 0])
        upper, lower = known.mid - rest(context(variant).robot)[0], known.end - known.mid
        solver = np.degrees(np.arccos(upper @ lower / np.linalg.norm(upper) / np.linalg.norm(lower)))
        assert solver == pytest.approx(last_answer()(context(variant))["arm_last"], abs=1e-5)  # arccos tells a bend of 0 to 2e-6 degrees


def test_the_bend_near_full_reach_goes_with_the_root_of_what_is_left():
    """Equal bones: bend = sqrt(8 m), from cos x = 1 - x^2 / 2."""
    for m in (1e-2, 1e-3, 1e-4):
        assert np.radians(bend(0.5, 0.5, 1 - m)) == pytest.approx(np.sqrt(8 * m), rel=2 * m)


def test_soft_reach_bounds_how_fast_the_elbow_turns_and_is_fastest_where_the_zone_begins():
    """About sqrt(2 / (s L)) radians a metre for equal bones; without soft there is no bound."""
    a = b = 0.17
    reach = a + b
    for soft in (0.002, 0.005, 0.02):
        targets = np.linspace(reach - 3 * soft, reach + 5 * soft, 20001)
        held = slowed(targets, reach, soft)
        bends = np.arccos((held**2 - a * a - b * b) / (2 * a * b))
        speed = -np.gradient(bends, targets)
        assert targets[speed.argmax()] == pytest.approx(reach - soft, abs=soft / 100)
        assert speed.max() == pytest.approx(np.sqrt(2 / (soft * reach)), rel=0.05)
        assert np.degrees(speed.max()) / 1000 == pytest.approx(rate(a, b, soft), rel=1e-3)
    assert rate(a, b, 1e-8) > 1000


@pytest.mark.source("Mechanical Engineers' Handbook")
def test_the_soft_distance_is_the_package_s_and_that_of_a_first_order_lag():
    # first-order response, table: after 1, 2, 3 time constants .632, .865, .950 have gone by
    assert (slowed(8 + 2 * np.array([1.0, 2, 3]), 10, 2) - 8) / 2 == pytest.approx([0.632, 0.865, 0.950], abs=5e-4)
    for soft in (0.0, 0.01, 2.0):
        far = np.linspace(0, 14, 300)
        assert slowed(far, 10, soft) == pytest.approx(limb.soft_distance(far, 10.0, soft), abs=1e-12)


def test_stretch_does_not_take_the_snap_away_and_with_soft_the_hand_stays_on_its_target():
    root, mid, end = rest(context(0).robot)
    way, reach = (end - root) / np.linalg.norm(end - root), sum(bones((root, mid, end)))
    pole = mid + [0, 0, -0.3]

    def elbow(distance, **how):
        found = limb.solve(root, mid, end, root + distance * way, pole, **how)
        return found.mid

    for distance in np.linspace(0.9, 1.0, 20) * reach:
        assert elbow(distance, stretch_limit=1.25) == pytest.approx(elbow(distance), abs=1e-12)
    both = limb.solve(root, mid, end, root + (reach - 0.001) * way, pole, soft=0.02, stretch_limit=1.25)
    assert both.reached and both.stretch == pytest.approx((reach - 0.001) / slowed(reach - 0.001, reach, 0.02))


# ---- right answers of another kind -------------------------------------------------------------------------------


def by_tanh(distances, reach, soft):
    """A curve with slope 1 at the start that comes near sooner."""
    start = reach - soft
    return (
        np.minimum(distances, reach)
        if soft == 0
        else np.where(distances <= start, distances, start + soft * np.tanh((distances - start) / soft))
    )


def by_parabola(distances, reach, soft):
    """One that gets to the reach, without a kink, two zones on; a list."""
    found = []
    for d in distances:
        beyond = min(max(d - (reach - soft), 0.0), 2 * soft)
        found.append(min(d, reach) if soft == 0 else min(d, reach - soft) + (beyond - beyond**2 / (4 * soft)))
    return found


def by_fraction(distances, reach, soft):
    """One that comes near slowly, without a case for 0."""
    beyond = np.maximum(distances - (reach - soft), 0)
    return np.minimum(distances, reach - soft) + soft * beyond / np.maximum(soft + beyond, 1e-300)


def by_package(distances, reach, soft):
    return limb.soft_distance(distances, reach, soft)


def test_every_smooth_curve_earns_full_marks():
    for curve in (by_tanh, by_parabola, by_fraction, by_package):
        for seed in (None, b"one"):
            result = answered("10.2", curve, 41, seed)
            assert result.earned == 6, f"{curve.__name__}\n{panel(result).text}"


def test_a_curve_that_slows_with_too_steep_a_start_or_stops_short_is_no_soft_distance():
    quick = answered("10.2", lambda d, reach, soft: np.minimum(d, reach - soft), 0)
    assert {"kink", "near", "zero"} - missed(quick) == {"zero"} and "slope 1, then 0" in next(c.got for c in quick.claims if c.id == "kink")
    few = answered("10.2", lambda d, reach, soft: d[:3], 0)
    assert few.earned == 0 and not likely(few) - {""}


def test_the_package_grows_as_the_answer_says():
    for variant in VARIANTS:
        points = rest(context(variant).robot)
        for share in (0.5, 1.0, 1.1, 1.9):
            target = points[0] + share * sum(bones(points)) * np.array([0, 0, 1.0])
            grown = limb.solve(*points, target, points[1] + [0, 0.5, 0], stretch_limit=1.4)
            stretch, upper, lower = stretched(float(np.linalg.norm(target - points[0])), *bones(points), 1.4, 1.0)
            assert grown.stretch == pytest.approx(stretch)
            assert np.linalg.norm(grown.mid - points[0]) == pytest.approx(upper) and np.linalg.norm(grown.end - grown.mid) == pytest.approx(
                lower
            )


def by_matrix(points, start, along, stretch):
    """Another way to thin: one symmetric matrix."""
    thin = limb.girth(stretch)
    return start + (points - start) @ (thin * np.eye(3) + (stretch - thin) * np.outer(along, along))


def test_a_shell_thinned_another_way_earns_full_marks_and_keeps_the_volume_of_its_mesh():
    assert answered("10.4", by_matrix, 7).earned == 5
    mesh = context(0).robot.part("left_upper_arm_tube").mesh
    root, mid, _ = rest(context(0).robot)
    along = (mid - root) / np.linalg.norm(mid - root)

    def volume(vertices):  # of a closed shell, by tetrahedra over its triangles (divergence theorem)
        a, b, c = (vertices[mesh.triangles[:, k]] - vertices.mean(axis=0) for k in range(3))
        return np.einsum("ij,ij->", a, np.cross(b, c)) / 6

    for stretch in (0.7, 1.5, 4.0):
        assert volume(thinned(mesh.vertices, root, along, stretch)) == pytest.approx(volume(mesh.vertices), rel=1e-9)


def test_the_formula_for_equal_bones_and_a_search_by_numbers_both_earn_full_marks():
    for variant in (*range(0, 100, 9), 99):
        known = context(variant)
        a, b = bones(rest(known.robot))
        near = lambda a, b, now, limit: 2 / (np.radians(1000 * limit) ** 2 * (a + b))
        assert answered("10.5", price(soft=near)(known), variant).earned == 4
    exact = brentq(lambda soft: rate(a, b, soft) - known.given["fastest"], 1e-4, 0.05)
    assert shortest_soft(a, b, known.given["fastest"]) == pytest.approx(exact, abs=1e-9)


def test_what_is_told_of_home_holds_for_every_variant():
    """A bend of 6 to 10 degrees leaves less than 2 mm of the reach, and a soft zone of 20 mm moves the hand by several."""
    for variant in range(0, 100, 9):
        points = rest(context(variant).robot)
        now, reach = np.linalg.norm(points[2] - points[0]), sum(bones(points))
        assert 0 < reach - now < 0.002
        assert 0.004 < now - slowed(now, reach, 0.02) < 0.01
        assert np.array_equal(slowed(now, reach, 0.0), now)


def test_a_price_told_for_another_soft_is_measured_against_the_learner_s_own():
    known = context(7)
    longer = price(soft=lambda a, b, now, limit: 0.02)(known)
    assert missed(answered("10.5", longer, 7)) == {"soft"}
    assert "longer than it has to be" in answered("10.5", longer, 7).claims[0].got
    nothing = {"soft": 0.0, "home_shift": 0.0, "home_turn": 0.0}
    assert answered("10.5", nothing, 7).earned == 0
