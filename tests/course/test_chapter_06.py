"""Chapter 06: right answers of any kind earn full marks, each mistake costs its own claim, and the facts told are facts."""

import ast
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigkit import limb as limbs
from rigkit.course import context as contexts
from rigkit.course.chapters import chapter_06_limbs as limbs_06
from rigkit.course.chapters.chapter_06_limbs import ARM, LEG, facts, limb, square, unit
from rigkit.course.chapters.chapter_06_show import stops_of
from rigkit.course.chapters.chapter_06_solver import some_square, two_bones
from rigkit.course.collect import collect
from rigkit.course.judge import judge, tried_text
from rigkit.course.panel import panel
from rigkit.view import Viewer
from tests.course.boxes import boxes, promised
from tests.course.tried import Tried, missed, stored

TRIED = Tried("06")
CHAPTER, TEXT, CHECKPOINT = TRIED.chapter, TRIED.text, TRIED.checkpoint
context, judged, cells = TRIED.context, TRIED.judged, TRIED.cells


def arm(variant=0, marks=ARM):
    return limb(context(variant).robot, *marks)


def test_the_text_promises_the_points_that_are_given():
    assert boxes(CHAPTER) == promised(CHAPTER)
    assert sum(one.points for one in CHAPTER.checkpoints) == 26  # the title card says so


@pytest.mark.parametrize("name", CHECKPOINT)
def test_a_panel_is_never_cut(name):
    """What was tried, what came and why fit their lines, for every planned mistake: only numpy's own messages may end in dots."""
    checkpoint = CHECKPOINT[name]
    for variant, seed in ((0, None), (41, b"one")):
        for mistake in checkpoint.mistakes:
            answer = {next(iter(checkpoint.names)): mistake.answer} if checkpoint.kind == "function" else mistake.answer(context(variant))
            result = judged(name, answer, variant, seed)
            if "stopped with an error" not in {claim.outcome for claim in result.claims}:
                assert "..." not in panel(result, can_show=True).text, f"{mistake.name}\n{panel(result, can_show=True).text}"
            for claim in result.claims if name == "06.2" else ():  # six claims: a line each is all there is room for
                own = {"look": claim.got, "stopped with an error": ""}.get(claim.outcome, f"{claim.outcome}: {claim.got}")
                assert max(map(len, (claim.tried, claim.expected, own, claim.likely, claim.look_at))) <= 80, claim


def test_what_was_tried_fits_its_line_whatever_the_seed():
    for seed in range(50):
        for case in CHECKPOINT["06.2"].cases(np.random.default_rng(seed), context(seed % 5)):
            assert len(tried_text(case)) <= 80, tried_text(case)


def test_no_name_of_a_cell_can_stand_in_for_a_line_forgotten_in_a_function():
    """A function sees its notebook's names: a worked function's own names must be no cell's."""
    trees = cells("worked")
    outside = stored([one for tree in trees for one in tree.body if not isinstance(one, ast.FunctionDef)])
    for function in (one for tree in trees for one in tree.body if isinstance(one, ast.FunctionDef)):
        inside = stored([function])
        assert not inside & outside, (function.name, inside & outside)


def test_every_scene_sets_its_own_view():
    """Run again, a cell brings its picture back: whatever clears the scene also says from where to look."""
    scenes = [ast.unparse(tree) for tree in cells() if "viewer.clear()" in ast.unparse(tree)]
    assert len(scenes) == 5
    for scene in scenes:
        assert all(f"viewer.{call}(" in scene for call in ("look", "focus", "see_through", "show", "caption")), scene


# ---- 06.1 ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("variant", range(10))
def test_the_eight_targets_are_of_every_kind(variant):
    shoulder, elbow, wrist = arm(variant)
    a, b = np.linalg.norm(elbow - shoulder), np.linalg.norm(wrist - elbow)
    distances = np.linalg.norm(context(variant).given["targets"] - shoulder, axis=1)
    stance = np.linalg.norm(wrist - shoulder)
    # reach shell abs(a-b) <= r <= a+b: Lynch & Park, Modern Robotics, ch. 6 (memory)
    assert (distances > a + b).sum() == 3 and (distances < abs(a - b)).sum() == 2
    assert ((distances > stance) & (distances < a + b)).sum() == 1
    assert np.abs(np.subtract.outer(distances, [a + b, abs(a - b)])).min() > 1e-5  # ten times the tolerance


def test_the_package_leaves_the_same_gaps():
    shoulder, elbow, wrist = arm(3)
    targets = context(3).given["targets"]
    s = limbs.solve(shoulder, elbow, wrist, targets, elbow + [0, 0, -0.3])
    outer, inner = (
        float(np.linalg.norm(elbow - shoulder) + np.linalg.norm(wrist - elbow)),
        float(abs(np.linalg.norm(elbow - shoulder) - np.linalg.norm(wrist - elbow))),
    )
    answer = {"outer_reach": outer, "inner_reach": inner, "reachable": s.reached, "gaps": s.gap}
    assert judged("06.1", answer, 3).earned == 3


# ---- 06.2 ------------------------------------------------------------------------------------------------------


def packages_own(root, mid, end, target, pole):
    s = limbs.solve(root, mid, end, target, pole)
    return s.mid, s.end


def by_turning(root, mid, end, target, pole):
    """Another right way: the bones turned about the plane's normal by angles; other choices in the special cases."""
    a, b = np.linalg.norm(mid - root), np.linalg.norm(end - mid)
    way = unit(target - root)
    way = np.array([1.0, 0, 0]) if way is None else way
    d = min(max(np.linalg.norm(target - root), abs(a - b)), a + b)
    normal = unit(np.cross(way, pole - root))
    normal = some_square(way) if normal is None else normal
    at_root = math.acos(np.clip((a * a + d * d - b * b) / (2 * a * d), -1, 1)) if d > 1e-9 else math.pi / 2
    inner = math.acos(np.clip((a * a + b * b - d * d) / (2 * a * b), -1, 1))
    ahead = np.cos(at_root) * way + np.sin(at_root) * np.cross(normal, way)
    bend = math.pi - inner
    elbow = root + a * ahead
    return elbow, elbow + b * (np.cos(bend) * ahead - np.sin(bend) * np.cross(normal, ahead))


@pytest.mark.parametrize("variant", (0, 41))
@pytest.mark.parametrize("seed", (None, b"one", b"two", b"three"))
@pytest.mark.parametrize("answer", (packages_own, by_turning))
def test_every_right_solver_earns_full_marks(answer, seed, variant):
    result = judged("06.2", {"two_bones": answer}, variant, seed)
    assert result.earned == 9, missed(result)


@pytest.mark.source("Euclid", "Tolani et al.")
@pytest.mark.parametrize(
    "bones, distance, along, off",
    [
        # Euclid, Elements II.12-13; Tolani, Goswami & Badler, Graphical Models 62 (2000) 353-388
        ((3, 4), 5, 1.8, 2.4),
        ((1, 1), 1, 0.5, 0.8660254),
    ],
)
def test_the_worked_elbow_lies_on_the_elbow_circle(bones, distance, along, off):
    root, mid, end = np.zeros(3), np.array([bones[0], 0, 0.0]), np.array([sum(bones), 0, 0.0])
    elbow, wrist = two_bones(root, mid, end, np.array([0, distance, 0.0]), np.array([7.0, 1, 0]))
    assert elbow == pytest.approx([off, along, 0], abs=1e-7) and wrist == pytest.approx([0, distance, 0])


def test_the_cases_hold_every_special_one_whatever_the_seed():
    for seed in range(20):
        found = [facts(case) for case in limbs_06.cases(np.random.default_rng(seed), context(seed % 5))]
        assert sum(one.ordinary for one in found) >= 7
        assert any(one.out_of_reach and one.distance > one.upper + one.lower for one in found)
        assert any(one.out_of_reach and one.upper < one.lower for one in found) and any(
            one.out_of_reach and one.upper > one.lower for one in found
        )
        assert sum(one.special for one in found) == 6 and sum(one.direction is None for one in found) == 2
        assert sum(one.direction is not None and one.side is None for one in found) == 2 and sum(one.straight_rest for one in found) == 1


def test_a_stop_in_a_special_case_costs_that_claim_only():
    def stops(root, mid, end, target, pole):
        known = facts(limbs_06.case("", (root, mid, end), target, pole))
        if known.special:
            raise ValueError("math domain error")
        return two_bones(root, mid, end, target, pole)

    result = judged("06.2", {"two_bones": stops})
    assert missed(result) == {"special"} and result.earned == 8


def first_attempt(root, mid, end, target, pole):
    """The worked step's lines as they stand, with a `unit` that gives None."""
    upper, lower = np.linalg.norm(mid - root), np.linalg.norm(end - mid)
    direction = unit(target - root)
    distance = np.clip(np.linalg.norm(target - root), abs(upper - lower), upper + lower)
    side = unit(square(pole - root, direction))
    along = (upper**2 - lower**2 + distance**2) / (2 * distance)
    return root + along * direction + np.sqrt(upper**2 - along**2) * side, root + distance * direction


@pytest.mark.parametrize("variant", range(10))
def test_a_first_attempt_that_copies_the_worked_step_is_told_of_rounding(variant):
    claim = next(one for one in judged("06.2", {"two_bones": first_attempt}, variant).claims if one.id == "unreachable")
    assert claim.outcome == "not a number" and "the elbow is nan, the wrist is (" in claim.got and "a hair below 0" in claim.likely


@pytest.mark.parametrize("at_the_root", (0.0, 0.1, None))
def test_equal_bones_on_the_root_may_fold_to_any_side_but_not_to_nan(at_the_root):
    def answer(root, mid, end, target, pole):
        a, b, d = np.linalg.norm(mid - root), np.linalg.norm(end - mid), np.linalg.norm(target - root)
        if d > 0 or a != b:
            return two_bones(root, mid, end, target, pole)
        along = at_the_root if at_the_root is not None else (a * a + d * d - b * b) / (2 * d)
        return root + np.array([along, 0, np.sqrt(a * a - along * along)]), root.copy()

    result = judged("06.2", {"two_bones": answer})
    assert missed(result) == ({"special"} if at_the_root is None else set())
    assert at_the_root is not None or "0 / 0" in result.claims[-1].likely


@pytest.mark.parametrize("share", (0.9999, 0.995))
def test_any_margin_before_full_reach_is_told_by_its_size(share):
    def answer(root, mid, end, target, pole):
        limit = share * (np.linalg.norm(mid - root) + np.linalg.norm(end - mid))
        far = np.linalg.norm(target - root)
        return two_bones(root, mid, end, root + min(1.0, limit / max(far, 1e-9)) * (target - root), pole)

    claim = next(one for one in judged("06.2", {"two_bones": answer}).claims if one.id == "unreachable")
    assert "there is a margin" in claim.likely and "mm short" in claim.likely


def test_a_nan_out_of_reach_costs_that_claim_only():
    def nans(root, mid, end, target, pole):
        known = facts(limbs_06.case("", (root, mid, end), target, pole))
        return (np.full(3, np.nan),) * 2 if known.out_of_reach else two_bones(root, mid, end, target, pole)

    result = judged("06.2", {"two_bones": nans})
    assert missed(result) == {"unreachable"} and next(c.outcome for c in result.claims if c.id == "unreachable") == "not a number"


def test_the_packages_solver_is_closed():
    checkpoint, known = CHECKPOINT["06.2"], context(0)
    cases = contexts.cases(checkpoint, known)
    result = judge(checkpoint, collect(checkpoint, {"two_bones": packages_own}, cases), known, cases)
    assert result.earned == 0 and {claim.outcome for claim in result.claims} == {"closed book"}


# ---- 06.3 ------------------------------------------------------------------------------------------------------


def posed(marks, variant=0):
    return tuple(context(variant).given["arm" if marks is ARM else "leg"])


@pytest.mark.parametrize("variant", range(0, 100, 7))
def test_the_stance_keeps_the_bones_and_bends_at_an_angle_to_every_axis(variant):
    for marks in (ARM, LEG):
        root, mid, end = posed(marks, variant)
        assert limbs_06.bones((root, mid, end)) == pytest.approx(limbs_06.bones(arm(variant, marks)), abs=1e-9)
        line = unit(end - root)
        out = unit(square(mid - root, line))
        for axis in (*np.eye(3), *-np.eye(3)):
            assert np.degrees(np.arccos(out @ unit(square(axis, line)))) > 10


@pytest.mark.parametrize("variant", range(10))
def test_steps_along_an_axis_and_poles_of_the_rest_pose_earn_nothing_for_staying(variant):
    for step in (*np.eye(3), *-np.eye(3)):
        for of in (posed, lambda marks, variant: arm(variant, marks)):
            answer = {"arm_pole": of(ARM, variant)[1] + 0.3 * step, "leg_pole": of(LEG, variant)[1] + 0.3 * step}
            assert {"arm", "leg"} <= missed(judged("06.3", answer, variant))


def test_the_model_itself_stands_as_the_points_say():
    known = context(3)
    positions = known.robot.skeleton.forward(known.given["stance"]).positions
    for name, marks in (("arm", ARM), ("leg", LEG)):
        rows = [known.robot.skeleton.index(f"{mark}_joint") for mark in marks]
        assert positions[rows] == pytest.approx(known.given[name], abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(st.floats(-1.0, 2.0), st.floats(0.06, 3.0), st.floats(-1.0, 2.0), st.floats(0.06, 3.0))
def test_any_point_of_the_half_plane_is_right(arm_along, arm_out, leg_along, leg_out):
    answer = {}
    for name, marks, along, out in (("arm_pole", ARM, arm_along, arm_out), ("leg_pole", LEG, leg_along, leg_out)):
        root, mid, end = posed(marks)
        line = unit(end - root)
        answer[name] = root + along * (end - root) + out * unit(square(mid - root, line))
    assert judged("06.3", answer).earned == 5


@pytest.mark.parametrize("out, holds", ((0.0572, False), (0.0574, True)))
def test_a_slip_of_a_millimetre_swings_by_a_degree_at_57_millimetres(out, holds):
    answer = {}
    for name, marks in (("arm_pole", ARM), ("leg_pole", LEG)):
        root, mid, end = posed(marks)
        line = unit(end - root)
        answer[name] = root + 0.2 * line + out * unit(square(mid - root, line))
    assert ("steady" not in missed(judged("06.3", answer))) is holds
    root, mid, end = posed(ARM)
    side = np.cross(unit(end - root), unit(mid - root))
    slipped = limbs.solve(root, mid, end, end, answer["arm_pole"] + 0.001 * unit(side))
    swing = abs(limbs.swivel_angle(root, slipped.mid, end, mid - root))
    assert bool(np.degrees(swing) < 1) is holds


def test_a_pole_point_off_the_plane_is_told_by_its_angle():
    root, mid, end = posed(ARM)
    line, out = unit(end - root), unit(square(mid - root, unit(end - root)))
    off = root + 0.2 * (np.cos(0.6) * out + np.sin(0.6) * np.cross(line, out))
    result = judged("06.3", {"arm_pole": off})
    claim = next(one for one in result.claims if one.id == "arm")
    assert f"{np.degrees(0.6):.1f} degrees" in claim.likely
    assert next(one for one in result.claims if one.id == "leg").outcome == "name missing"


# ---- 06.4 ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("degrees", (80.0, 45.0, 30.0, 10.0, 5.0))
def test_the_swivel_gain_is_the_cotangent(degrees):
    """Measured with the package's solver: the target turned by a little, the elbow's turn about the carried-along limb."""
    root, mid, end = np.zeros(3), np.array([0.2, 0, 0]), np.array([0.2, 0.15, 0])
    phi, delta = np.radians(degrees), 1e-6
    way = np.array([np.cos(phi), np.sin(phi), 0])
    turned = np.cos(delta) * way + np.sin(delta) * np.array([0, 0, 1.0])
    sides = [limbs.solve(root, mid, end, 0.3 * w, [1.0, 0, 0]).mid for w in (way, turned)]
    sides = [unit(square(elbow, w)) for elbow, w in zip(sides, (way, turned))]
    # the smallest turn from `way` to `turned` is about the elbow's side itself, so it leaves that side where it is
    assert np.arccos(min(1.0, sides[0] @ sides[1])) / delta == pytest.approx(1 / np.tan(phi), rel=1e-3)


@pytest.mark.parametrize("name", ("flip_front", "flip_back"))
def test_the_elbow_flips_on_the_line_asked_for(name):
    known = context(7)
    root, mid, end = arm(7)
    target, pole = CHECKPOINT["06.4"].worked(known)[name], known.given["flip_pole"]
    step = 1e-4 * some_square(unit(target - root))
    before, after = (limbs.solve(root, mid, end, target + sign * step, pole).mid for sign in (-1, 1))
    away = (before - root) - (after - root)
    off = np.linalg.norm(square(before - root, unit(target - root)))
    assert np.linalg.norm(away) == pytest.approx(2 * off, rel=1e-3)


@pytest.mark.parametrize("variant", range(10))
def test_the_line_of_flips_lies_in_the_side_views_drag_plane(variant):
    """A handle is dragged in the plane through it that faces the eye: in the side view, the plane of the shoulder's x."""
    pole = context(variant).given["flip_pole"]
    assert pole[0] == arm(variant)[0][0]
    viewer = Viewer(context(variant).robot)
    viewer.look("side")
    assert viewer.eye.parallel and viewer.eye.back == pytest.approx([1, 0, 0])
    viewer.close()


# ---- 06.5 ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", (None, b"one", b"two"))
def test_the_packages_swivel_angle_earns_full_marks(seed):
    def swivel(root, mid, end, reference, angle):
        a, b = np.linalg.norm(mid - root), np.linalg.norm(end - mid)
        straight = np.linalg.norm(np.cross(mid - root, end - root)) < 1e-12
        return 0.0 if straight else float(limbs.swivel_angle(root, mid, end, reference)), mid if straight else limbs.mid_from_swivel(
            root, end, a, b, angle, reference
        )

    result = judged("06.5", {"swivel": swivel}, 12, seed)
    assert result.earned == 5, missed(result)


def test_a_full_turn_more_makes_no_difference():
    worked = CHECKPOINT["06.5"].worked

    def swivel(*inputs):
        now, elbow = worked(*inputs)
        return now + 2 * math.pi, elbow

    assert judged("06.5", {"swivel": swivel}).earned == 5


# ---- drawing ---------------------------------------------------------------------------------------------------


def test_the_rings_of_the_reach_stand_where_the_package_puts_the_wrist():
    shoulder, elbow, wrist = arm(5)
    targets = context(5).given["targets"]
    wrists = limbs.solve(shoulder, elbow, wrist, targets, [0, 0, -1]).end
    assert stops_of(shoulder, elbow, wrist, targets) == pytest.approx(wrists, abs=1e-9)


@pytest.mark.parametrize("name", ("06.1", "06.3", "06.4"))
def test_values_are_drawn_whole_or_in_part(name, monkeypatch):
    monkeypatch.setenv("RIGKIT_OUTPUT", "text")
    known = context(0)
    answer = CHECKPOINT[name].worked(known)
    viewer = Viewer(known.robot)
    CHECKPOINT[name].show(viewer, answer, known)
    whole = viewer.text()
    assert name in whole
    first = next(iter(answer))
    CHECKPOINT[name].show(viewer, {first: answer[first]}, known)
    assert viewer.text() != whole and name in viewer.text()
    viewer.close()


# ---- wrong turns that a newcomer took ------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", (None, b"one", b"two", b"three"))
def test_no_reference_hides_that_it_was_not_brought_to_length_1(seed):
    bent = [one for one in contexts.cases(CHECKPOINT["06.5"], context(0), seed) if "straight" not in one.about and "3-4-5" not in one.about]
    for one in bent:
        along = unit(one.inputs["end"] - one.inputs["root"])
        for v in (one.inputs["reference"], square(one.inputs["reference"], along)):
            assert abs(np.linalg.norm(v) - 1) > 0.1


def first_swivel(root, mid, end, reference, angle):
    """The lines of the chapter's worked step, with the reference only made square to the line: a first try of a newcomer."""
    n = unit(end - root)
    u = square(reference, n)
    v = np.cross(n, u)
    seen = mid - root - ((mid - root) @ n) * n
    return np.arctan2(seen @ v, seen @ u), mid - seen + np.linalg.norm(seen) * (np.cos(angle) * u + np.sin(angle) * v)


def test_a_reference_that_keeps_its_length_is_told_and_costs_lengths_and_staying():
    result = judged("06.5", {"swivel": first_swivel})
    assert missed(result) == {"lengths", "stays"}
    assert "brought to length 1" in next(one for one in result.claims if one.id == "lengths").likely


def test_flips_that_have_changed_places_are_told_so():
    shoulder, pole = arm()[0], np.asarray(context(0).given["flip_pole"])
    way = unit(pole - shoulder)
    result = judged("06.4", {"flip_front": shoulder - 0.2 * way, "flip_back": shoulder + 0.2 * way})
    told = {one.id: one.likely for one in result.claims}
    assert "would do for flip_back" in told["front"] and "would do for flip_front" in told["back"]


def test_a_step_along_the_line_of_flips_without_the_shoulder_is_told_at_any_length():
    shoulder, pole = arm()[0], np.asarray(context(0).given["flip_pole"])
    result = judged("06.4", {"flip_front": 0.13 * unit(pole - shoulder), "flip_back": -0.11 * unit(pole - shoulder)})
    assert all("shoulder was not added" in one.likely for one in result.claims if one.id in ("front", "back"))


def test_the_arms_bones_in_the_formula_are_told():
    upper, lower = limbs_06.bones(arm())

    def with_the_arms_bones(root, mid, end, target, pole):
        own = limbs_06.bones((root, mid, end))
        direction = unit(target - root)
        direction = np.array([0, -1.0, 0]) if direction is None else direction
        distance = np.clip(np.linalg.norm(target - root), abs(own[0] - own[1]), own.sum())
        side = unit(square(pole - root, direction))
        side = some_square(direction) if side is None else side
        along = (upper**2 + distance**2 - lower**2) / (2 * distance) if distance > 1e-9 else 0.0
        return root + along * direction + np.sqrt(max(own[0] ** 2 - along**2, 0)) * side, root + distance * direction

    result = judged("06.2", {"two_bones": with_the_arms_bones})
    assert "arm_upper" in next(one for one in result.claims if one.id == "lengths").likely
    assert "reach" not in missed(result)
