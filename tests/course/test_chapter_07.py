"""Chapter 07: right answers of any kind earn full marks, wrong turns cost their own claims, and the facts told are facts."""

import ast
import re
from itertools import permutations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from transforms3d.axangles import axangle2aff

from rigkit import foot, frame
from rigkit.course.chapters import chapter_07_contact as contact_07
from rigkit.course.chapters import chapter_07_order as order_07
from rigkit.course.chapters.chapter_07_roll import shares
from rigkit.course.chapters.chapter_07_sole import Foot, foot_of, rigid, stood
from rigkit.course.chapters.chapter_07_swivel import swivelled
from rigkit.course.chapters.chapter_07_tilt import tilted
from rigkit.course.judge import tried_text
from rigkit.course.panel import panel
from tests.course.boxes import boxes, promised
from tests.course.tried import Tried, likely, missed

TRIED = Tried("07")
CHAPTER, TEXT, CHECKPOINT = TRIED.chapter, TRIED.text, TRIED.checkpoint
context, judged, cases_of, cells = TRIED.context, TRIED.answered, TRIED.cases_of, TRIED.cells


# ---- the text ----------------------------------------------------------------------------------------------------


def test_the_text_promises_the_points_that_are_given():
    assert boxes(CHAPTER) == promised(CHAPTER)
    assert sum(one.points for one in CHAPTER.checkpoints) == int(re.search(r"\| Points \| (\d+),", TEXT)[1])


def test_the_minutes_of_the_ideas_are_told():
    assert [int(n) for n in re.findall(r"^\*(\d+) minutes", TEXT, re.MULTILINE)] == [30, 25, 25 + 15 + 15 + 17]


def test_no_name_of_a_cell_can_stand_in_for_a_line_forgotten_in_a_function():
    assert TRIED.worked_functions() == ["own_frame", "pivots_of", "tilt_then_swivel", "shares", "tilted", "swivelled", "carried"]


def test_every_scene_sets_its_own_view():
    scenes = [ast.unparse(tree) for tree in cells() if "viewer.clear()" in ast.unparse(tree)]
    assert len(scenes) == 4
    for scene in scenes:
        assert all(f"viewer.{call}(" in scene for call in ("look", "focus", "see_through", "show", "caption")), scene


@pytest.mark.parametrize("name", CHECKPOINT)
def test_a_panel_is_never_cut_and_fits_its_lines_whatever_the_seed(name):
    checkpoint = CHECKPOINT[name]
    for mistake in checkpoint.mistakes:
        for variant, seed in ((0, None), (41, b"one")):
            result = judged(name, mistake.answer if checkpoint.kind == "function" else mistake.answer(context(variant)), variant, seed)
            assert "..." not in panel(result, can_show=True).text, f"{mistake.name}\n{panel(result, can_show=True).text}"
    for seed in range(10 if checkpoint.kind == "function" else 0):
        assert all(len(tried_text(case)) <= 80 for case in checkpoint.cases(np.random.default_rng(seed), context(seed % 2)))


# ---- what is handed out --------------------------------------------------------------------------------------------


def test_the_robot_comes_without_the_marks_on_its_soles():
    handed = CHAPTER.model(context(0).robot).landmarks
    assert not [name for name in handed if "heel" in name or "sole" in name]
    assert set(context(0).robot.landmarks) - set(handed) == {
        f"{s}_{n}" for s in ("left", "right") for n in ("heel", "sole_toe", "sole_inner", "sole_outer")
    }


@pytest.mark.parametrize("variant", range(0, 100, 11))
def test_the_sole_comes_in_rows_of_five_and_the_shell_bulges_out_behind_it(variant):
    """The text draws its outline so, and says that the whole shell is no sole."""
    for side in ("left", "right"):
        one, shell = foot_of(context(variant).robot, side), context(variant).given["shells"][side]
        rows = one.sole.reshape(-1, 5, 3)
        assert np.ptp(rows[:, :, 2], axis=1).max() < 2e-4 and (np.diff(rows[:, :, 0] * one.out, axis=1) != 0).all()
        assert (np.abs(rows[:, [0, 4], 0]) >= np.abs(rows[:, :, 0]).max(axis=1)[:, None] - 2e-4).all()
        assert one.own(shell)[:, 2].min() < one.sole[:, 2].min() - 0.005


@pytest.mark.parametrize("variant", range(0, 100, 11))
def test_the_step_lands_on_the_heel_and_leaves_over_the_toe(variant):
    steps, over = context(variant).given["steps"], context(variant).given["turn_over"]
    roll, tilt, swivel = steps.T
    assert len(steps) == 11 and roll[0] < 0 and roll[-1] > over and over in roll and 0 < roll[7] < over
    assert tilt.max() > 5 and tilt.min() < -5 and not (tilt * roll).any() and (swivel == swivel[0]).all() and swivel[0] > 3


# ---- 07.1 ----------------------------------------------------------------------------------------------------------


def by_package(known):
    """Another right answer: the package's pivots, also where the model is rounded."""
    found = {}
    for side in ("left", "right"):
        at = {name: known.robot.landmarks[f"{side}_{name}"] for name in ("ankle", "ball")}
        own = foot.own_frame(at["ankle"], at["ball"])
        p = foot.pivots(foot.sole(frame.to_local(own, known.given["shells"][side])), frame.to_local(own, at["ball"]), side)
        found[f"{side}_pivots"] = {name: getattr(p, name) for name in ("heel", "ball", "toe", "inner", "outer")}
    return found


def by_vertices(known):
    """Another one: whichever vertex is farthest, at a corner of the sole; lists, and one name too many."""
    found = {}
    for side in ("left", "right"):
        one = foot_of(known.robot, side)
        ends = {
            "heel": one.sole[:, 2].argmin(),
            "toe": one.sole[:, 2].argmax(),
            "inner": (one.out * one.sole[:, 0]).argmin(),
            "outer": (one.out * one.sole[:, 0]).argmax(),
        }
        found[f"{side}_pivots"] = {
            "ball": one.pivots["ball"].tolist(),
            "ankle": [0, 0, 0],
            **{name: one.sole[k].tolist() for name, k in ends.items()},
        }
    return found


@pytest.mark.parametrize("variant", (0, 7, 41))
@pytest.mark.parametrize("answer", (by_package, by_vertices))
def test_every_right_pivot_earns_full_marks(answer, variant):
    assert judged("07.1", answer(context(variant)), variant).earned == 5


def test_the_marks_of_the_table_of_dimensions_agree():
    """The robot's own marks come from its table of measures, ours from the mesh; along its edge a pivot may be anywhere."""
    for side in ("left", "right"):
        one, marks = foot_of(context(0).robot, side), context(0).robot.landmarks
        for name, mark, axis in (("heel", "heel", 2), ("toe", "sole_toe", 2), ("inner", "sole_inner", 0), ("outer", "sole_outer", 0)):
            assert one.own(marks[f"{side}_{mark}"])[[1, axis]] == pytest.approx(one.pivots[name][[1, axis]], abs=1e-9)


def test_a_pivot_that_is_left_out_and_one_too_far_in_are_told():
    known = context(0)
    answer = by_package(known)
    del answer["right_pivots"]["outer"]
    answer["left_pivots"]["toe"] = answer["left_pivots"]["toe"] - [0, 0, 0.01]
    result = judged("07.1", answer)
    told = {claim.id: claim.got for claim in result.claims}
    assert missed(result) == {"ends", "right"} and "no 'outer'" in told["right"]
    assert "10 mm short of the edge" in told["ends"] and "3.42 mm under" in told["ends"]  # 10 sin(20 degrees)


def test_a_ball_on_the_floor_is_told_wherever_the_edges_are():
    found = CHECKPOINT["07.1"].worked(context(7))
    moved = {side: {name: at + [0, 0, 0.02 * (name in ("inner", "outer"))] for name, at in one.items()} for side, one in found.items()}
    moved["left_pivots"]["ball"] = moved["left_pivots"]["ball"] * [1, 0, 1]
    result = judged("07.1", moved, 7)
    assert missed(result) == {"ball"} and "under the ball joint" in "".join(likely(result))


# ---- 07.2 ----------------------------------------------------------------------------------------------------------


def test_the_orders_that_pass_are_those_with_the_swivel_outermost_and_the_ball_inside_toe_and_edges():
    known = context(7)
    for order in permutations(order_07.ORDER):
        result = {claim.id: claim.outcome == "ok" for claim in judged("07.2", {**order_07.answer()(known), "order": list(order)}, 7).claims}
        sound = order[0] == "swivel" and order.index("ball") > max(order.index("toe"), order.index("edges"))
        assert (result["floor"] and result["together"]) == sound, order


@pytest.mark.source("transforms3d")
def test_the_stack_agrees_with_a_product_of_turns_about_points():
    # transforms3d.axangles.axangle2aff(axis, angle, point): turns about lines, multiplied outermost first
    one = foot_of(context(41).robot, "right")
    heel, ball, toe, tilt, swivel = 0.0, 0.5, 0.3, 0.2, 0.4
    rows = [
        ("ball", (0, 1, 0), -swivel),
        ("outer", (0, 0, 1), tilt),
        ("heel", (1, 0, 0), heel),
        ("toe", (1, 0, 0), toe),
        ("ball", (1, 0, 0), ball),
    ]
    product = np.eye(4)
    for k, (name, axis, angle) in enumerate(rows):
        product = product @ axangle2aff(axis, angle, one.pivots[name])
        if k == 3:
            toes = product
    expected = np.where(one.behind[:, None], one.sole @ product[:3, :3].T + product[:3, 3], one.sole @ toes[:3, :3].T + toes[:3, 3])
    assert stood(one, one.sole, one.behind, order_07.ORDER, (heel, ball, toe), tilt, swivel) == pytest.approx(expected, abs=1e-12)


def test_the_stack_agrees_with_the_package():
    one = foot_of(context(7).robot, "left")
    p = foot.Pivots(*(one.pivots[name] for name in ("heel", "ball", "toe", "inner", "outer")), one.out)
    for roll, tilt, swivel in ((-0.4, 0.1, 0.3), (0.3, -0.2, -0.4), (1.0, 0.2, 0.2)):
        expected = foot.carried(one.sole, p, foot.stack(p, roll=roll, tilt=tilt, swivel=swivel))
        assert stood(one, one.sole, one.behind, order_07.ORDER, shares(roll, foot.TURN_OVER), tilt, swivel) == pytest.approx(
            expected, abs=1e-12
        )


def test_the_depth_read_off_the_table_is_near_enough():
    """Two digits behind the point of a millimetre."""
    known = context(0)
    right = order_07.answer()(known)
    assert judged("07.2", {**right, "depth_inside": round(right["depth_inside"], 2)}).earned == 5


# ---- 07.3 ----------------------------------------------------------------------------------------------------------


def by_cases(roll, turn_over):
    """Another right way."""
    if roll < 0:
        return [roll, 0, 0]
    if roll > turn_over:
        return [0, turn_over, roll - turn_over]
    return np.array([0, roll, 0])


def by_clip(roll, turn_over):
    """Another one, by differences."""
    forward = np.clip(roll, 0, None)
    ball = np.clip(forward, 0, turn_over)
    return roll - forward, ball, forward - ball


@pytest.mark.parametrize("seed", (None, b"one", b"two"))
@pytest.mark.parametrize("answer", (by_cases, by_clip, shares))
def test_every_right_share_earns_full_marks(answer, seed):
    assert judged("07.3", answer, 41, seed).earned == 5


def heel_at(one, *angles):
    return stood(one, one.pivots["heel"][None], np.array([True]), order_07.ORDER, np.radians(angles))[0, 1]


@pytest.mark.parametrize("variant", (0, 7, 41))
def test_what_the_text_says_of_fading_balls_is_so(variant):
    """Kept: the heel goes on rising. No toe: it sinks back to the floor. Toe takes the rest: it rises, but its angle stays."""
    one = foot_of(context(variant).robot, "left")
    kept = [heel_at(one, 0, min(roll, 30), max(roll - 30, 0)) for roll in range(91)]
    assert (np.diff(kept) > 0).all()
    alone = [heel_at(one, 0, 60 - roll, 0) for roll in range(30, 61)]
    assert (np.diff(alone) < 0).all() and alone[-1] == pytest.approx(0, abs=1e-12)
    assert [30 - (roll - 30) + (roll - 30) for roll in (40, 50, 60)] == [30, 30, 30]


def test_the_panel_tells_what_the_foot_does():
    told = {
        claim.id: claim.got
        for claim in judged("07.3", lambda roll, over: (-min(roll, 0.0), min(max(roll, 0.0), over), max(roll - over, 0.0))).claims
    }
    assert "under the floor" in told["back"]
    told = {
        claim.id: claim.got
        for claim in judged("07.3", lambda roll, over: (min(roll, 0.0), max(0.0, min(roll, 2 * over - roll)), 0.0)).claims
    }
    assert "lower than at" in told["past"]


# ---- 07.4 and 07.5 -------------------------------------------------------------------------------------------------


def tilt_by_scipy(points, inner, outer, side, angle):
    """Another right way; the edge's height is the sole's."""
    edge = outer if angle > 0 else inner
    return Rotation.from_euler("z", (-1 if side == "left" else 1) * angle).apply(points - edge) + edge


def tilt_by_hand(points, inner, outer, side, angle):
    """Sine and cosine, outward measured from inner to outer."""
    edge = outer if angle > 0 else inner
    turn = -np.sign((outer - inner)[0]) * angle
    x, y = (points - edge)[:, 0], (points - edge)[:, 1]
    return np.column_stack(
        [edge[0] + np.cos(turn) * x - np.sin(turn) * y, edge[1] + np.sin(turn) * x + np.cos(turn) * y, points[:, 2]]
    ).tolist()


def swivel_by_scipy(points, pivots, angles, side):
    """Another right way: outermost first, the pivots carried along."""
    found, carried = points, np.array(pivots)
    for k, angle in enumerate(angles):
        turn = Rotation.from_euler("y", (1 if side == "left" else -1) * angle)
        at = carried[k].copy()
        found, carried = turn.apply(found - at) + at, turn.apply(carried - at) + at
    return found


@pytest.mark.source("SciPy")
@pytest.mark.parametrize("seed", (None, b"one"))
@pytest.mark.parametrize("name, answer", [("07.4", tilt_by_scipy), ("07.4", tilt_by_hand), ("07.5", swivel_by_scipy)])
def test_every_right_tilt_and_swivel_earns_full_marks(name, answer, seed):
    # SciPy Rotation.from_euler, also about axes that move along
    assert judged(name, answer, 41, seed).earned == 5


@pytest.mark.parametrize("name, right", [("07.4", tilted), ("07.5", swivelled)])
def test_a_function_that_changes_its_input_or_loses_points_is_told(name, right):
    def in_place(points, *more):
        points[:] = right(points, *more)
        return points

    assert {claim.outcome for claim in judged(name, in_place).claims} == {"changed its input"}
    result = judged(name, lambda points, *more: right(points, *more)[1:])
    assert result.earned == 0 and any("points" in claim.got for claim in result.claims)


def test_a_mirrored_foot_tilts_and_swivels_as_a_mirror_image():
    known, mirrored = context(0), np.array([-1, 1, 1])
    left, right = (foot_of(known.robot, side) for side in ("left", "right"))
    for angle in (0.3, -0.2):
        there = tilted(left.sole * mirrored, left.pivots["inner"] * mirrored, left.pivots["outer"] * mirrored, "right", angle)
        assert tilted(left.sole, left.pivots["inner"], left.pivots["outer"], "left", angle) * mirrored == pytest.approx(there, abs=1e-12)
    assert right.pivots["outer"][0] == pytest.approx(-left.pivots["outer"][0])


# ---- 07.6 ----------------------------------------------------------------------------------------------------------


def test_the_package_s_foot_walks_the_step():
    """Another right answer: rk.foot, in the world."""
    known = context(7)
    one, rows, over = contact_07.played(known)
    own = foot.own_frame(known.robot.landmarks["right_ankle"], known.robot.landmarks["right_ball"])
    p = foot.pivots(one.sole, one.pivots["ball"], "right")
    soles, ankles = [], []
    for roll, tilt, swivel in rows:
        stack = foot.stack(p, roll=roll, tilt=tilt, swivel=swivel, turn_over=over)
        soles.append(frame.to_world(own, foot.carried(one.sole, p, stack)))
        ankles.append(foot.joints(own, (np.array([0, 0, 0, 1.0]), one.ankle), (np.array([0, 0, 0, 1.0]), p.ball), stack)[0][1])
    assert judged("07.6", {"soles": np.array(soles), "ankles": np.array(ankles)}, 7).earned == 8


def test_pivots_that_just_pass_still_earn_full_marks():
    """07.1 lets a pivot be 0.1 mm off; the ankle is measured against the learner's own soles."""
    aside = {name: step for name, step in zip(("heel", "ball", "toe", "inner", "outer"), 5e-5 * np.eye(3)[[2, 1, 2, 0, 0]])}
    found = contact_07.answer(pivots=lambda one: {name: point + aside[name] for name, point in one.pivots.items()})(context(0))
    assert judged("07.6", found).earned == 8


def test_a_foot_at_rest_in_every_frame_is_no_step():
    known = context(0)
    one, rows, _ = contact_07.played(known)
    still = {"soles": np.tile(one.world(one.sole), (len(rows), 1, 1)), "ankles": np.tile(one.world(one.ankle), (len(rows), 1))}
    assert missed(judged("07.6", still)) == {"turned"}


def test_a_foot_that_slides_and_one_that_hovers_are_told():
    good = contact_07.answer()(context(0))
    sliding = {name: value + np.linspace(0, 0.01, 11).reshape(-1, *[1] * (value.ndim - 1)) * [0, 0, 1.0] for name, value in good.items()}
    assert missed(judged("07.6", sliding)) == {"slide"}
    hovering = {name: value + [0, 0.002, 0] for name, value in good.items()}
    result = judged("07.6", hovering)
    assert missed(result) == {"floor", "slide"} and "2 mm above the floor" in next(c.got for c in result.claims if c.id == "floor")
    mirrored = {name: value * [-1, 1, 1] for name, value in good.items()}
    assert "shape" in missed(judged("07.6", mirrored)) or "turned" in missed(judged("07.6", mirrored))


def test_frames_too_few_are_told_by_their_shape():
    good = contact_07.answer()(context(0))
    result = judged("07.6", {"soles": good["soles"][:5], "ankles": good["ankles"]})
    assert result.earned == 0 and all("shape (5, 40, 3)" in claim.got for claim in result.claims if claim.id != "ankle")
    assert not likely(result) - {""}


def test_the_turn_that_carries_points_is_found_again():
    points = np.random.default_rng(3).normal(size=(9, 3))
    turn = Rotation.from_rotvec([0.3, -0.5, 0.9])
    found, move = rigid(points, turn.apply(points) + [1, 2, 3])
    assert found == pytest.approx(turn.as_matrix(), abs=1e-12) and move == pytest.approx([1, 2, 3], abs=1e-12)


def test_a_foot_goes_to_its_own_frame_and_back():
    one: Foot = foot_of(context(0).robot, "right")
    points = np.array([[0.1, 0.2, 0.3], [0, 0, 1.0]])
    assert one.world(one.own(points)) == pytest.approx(points, abs=1e-12)
    assert one.own(context(0).robot.landmarks["right_ankle"]) == pytest.approx(one.ankle)
