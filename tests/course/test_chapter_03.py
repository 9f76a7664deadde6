"""Chapter 03: right answers of any kind earn full marks, each mistake costs its own claim, and the facts told are facts."""

import ast

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

import rigkit as rk
from rigkit.course.chapters import chapter_03_elbow as elbow_03
from rigkit.course.chapters import chapter_03_turns as turns_03
from rigkit.course.chapters.chapter_03_apart import turn_apart
from rigkit.course.chapters.chapter_03_axis import turn_point
from rigkit.course.chapters.chapter_03_matrix import matrix_of
from rigkit.course.chapters.chapter_03_order import two_turns
from rigkit.course.chapters.chapter_03_twist import swing_twist
from rigkit.course.collect import collect
from rigkit.course.judge import tried_text
from rigkit.course.panel import panel
from tests.course.boxes import boxes, promised
from tests.course.tried import Tried, missed, stored

TRIED = Tried("03")
CHAPTER, TEXT, CHECKPOINT = TRIED.chapter, TRIED.text, TRIED.checkpoint
context, judged, cells = TRIED.context, TRIED.judged, TRIED.cells
VECTORS = st.lists(st.floats(-2, 2), min_size=3, max_size=3).map(np.array)
ANGLES = st.floats(-7, 7)


def unit(v):
    return v / np.linalg.norm(v)


AXES = VECTORS.filter(lambda v: np.linalg.norm(v) > 0.1).map(unit)


# ---- the text --------------------------------------------------------------------------------------------------


def test_the_text_promises_the_points_that_are_given():
    assert boxes(CHAPTER) == promised(CHAPTER)
    assert sum(one.points for one in CHAPTER.checkpoints) == 36 and CHECKPOINT["03.7"].points == 4  # the title card says so
    assert [one.id for one in CHAPTER.checkpoints if not one.core] == ["03.7"]


@pytest.mark.parametrize("name", CHECKPOINT)
def test_a_panel_is_never_cut(name):
    checkpoint = CHECKPOINT[name]
    for variant, seed in ((0, None), (41, b"one")):
        for mistake in checkpoint.mistakes:
            answer = {next(iter(checkpoint.names)): mistake.answer} if checkpoint.kind == "function" else mistake.answer(context(variant))
            told = panel(judged(name, answer, variant, seed), can_show=True).text
            assert "..." not in told, f"{mistake.name}\n{told}"


@pytest.mark.parametrize("name", [name for name, one in CHECKPOINT.items() if one.kind == "function"])
def test_what_was_tried_fits_two_lines_whatever_the_seed(name):
    for seed in range(50):
        for case in CHECKPOINT[name].cases(np.random.default_rng(seed), context(seed % 5)):
            assert len(tried_text(case)) <= 150, tried_text(case)


def test_no_name_of_a_cell_can_stand_in_for_a_line_forgotten_in_a_function():
    """A function sees its notebook's names: a worked function's own names must be no cell's."""
    trees = cells("worked")
    outside = stored([one for tree in trees for one in tree.body if not isinstance(one, ast.FunctionDef)])
    for function in (one for tree in trees for one in tree.body if isinstance(one, ast.FunctionDef)):
        inside = stored([function])
        assert not inside & outside, (function.name, inside & outside)


def test_every_scene_sets_its_own_view_and_there_are_six():
    shows = [ast.unparse(tree) for tree in cells("learner") if "viewer.show()" in ast.unparse(tree)]
    assert len(shows) == 6
    scenes = [source for tree in cells("learner") for source in [ast.unparse(tree)] if "viewer.clear()" in source]
    for scene in scenes:
        assert all(f"viewer.{call}(" in scene for call in ("look", "focus", "see_through", "caption")), scene


# ---- the chapter's own mathematics, against SciPy -----------------------------------------------------------------


@pytest.mark.source("SciPy")
@given(VECTORS, VECTORS, AXES, ANGLES, st.floats(0.01, 5))
def test_a_turned_point_is_scipys(point, pivot, axis, angle, length):
    right = pivot + Rotation.from_rotvec(angle * axis).apply(point - pivot)
    assert turn_point(point, pivot, length * axis, angle) == pytest.approx(right, abs=1e-9)


@pytest.mark.source("SciPy")
@given(VECTORS, AXES, ANGLES, AXES, ANGLES)
def test_two_turns_are_scipys_products(point, first, a, second, b):
    one, two = Rotation.from_rotvec(a * first), Rotation.from_rotvec(b * second)
    moving, fixed = two_turns(point, first, a, second, b)
    assert moving == pytest.approx((one * two).apply(point), abs=1e-9)
    assert fixed == pytest.approx((two * one).apply(point), abs=1e-9)


@pytest.mark.source("SciPy")
@given(AXES, ANGLES)
def test_a_matrix_is_scipys(axis, angle):
    q = turns_03.quaternion(axis, angle)
    assert matrix_of(q) == pytest.approx(Rotation.from_quat(q).as_matrix(), abs=1e-12)
    assert matrix_of(-q) == pytest.approx(matrix_of(q), abs=1e-12)


@pytest.mark.source("SciPy")
@given(AXES, ANGLES, AXES, ANGLES)
def test_a_product_and_an_angle_between_are_scipys(a, angle, b, other):
    p, q = turns_03.quaternion(a, angle), turns_03.quaternion(b, other)
    both = Rotation.from_quat(p) * Rotation.from_quat(q)
    assert Rotation.from_quat(turns_03.product(p, q)).approx_equal(both, 1e-9)
    right = (Rotation.from_quat(p).inv() * Rotation.from_quat(q)).magnitude()
    assert turn_apart(p, q) == pytest.approx(right, abs=1e-7) and turn_apart(p, -q) == pytest.approx(right, abs=1e-7)


@given(AXES, ANGLES, AXES)
def test_swing_and_twist_make_the_turn(a, angle, axis):
    q = turns_03.quaternion(a, angle)
    swing, twist = swing_twist(q, axis)
    assert (Rotation.from_quat(swing) * Rotation.from_quat(twist)).approx_equal(Rotation.from_quat(q), 1e-8)
    assert np.cross(twist[:3], axis) == pytest.approx([0, 0, 0], abs=1e-12) and abs(swing[:3] @ axis) < 1e-7


@pytest.mark.source("Lynch & Park")
def test_the_two_sets_of_angles_in_the_text_are_one_turn():
    # Lynch & Park, Modern Robotics, appendix B (memory): ZYX (50, 90, 20) and (70, 90, 40)
    one, two = (rk.rotation.from_euler("ZYX", np.radians(angles)) for angles in ([50, 90, 20], [70, 90, 40]))
    assert rk.rotation.angle(one, two) < 1e-9


# ---- 03.1 to 03.3: unexpected right answers ------------------------------------------------------------------------


def test_a_point_may_be_turned_by_a_frame_of_its_own():
    """Along the axis, towards the point, and square to both: no formula of Rodrigues'."""

    def by_frame(point, pivot, axis, angle):
        z = axis / np.linalg.norm(axis)
        v = point - pivot
        out = v - (v @ z) * z
        if np.linalg.norm(out) < 1e-12:
            return point.copy()
        radius, x = np.linalg.norm(out), out / np.linalg.norm(out)
        return pivot + (v @ z) * z + radius * (np.cos(angle) * x + np.sin(angle) * np.cross(z, x))

    assert judged("03.1", {"turn_point": by_frame}).earned == 5


def test_two_turns_may_come_from_matrices():
    def matrix(axis, angle):
        k = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
        return np.eye(3) + np.sin(angle) * k + (1 - np.cos(angle)) * k @ k

    def by_matrices(point, first_axis, first_angle, second_axis, second_angle):
        a, b = matrix(first_axis, first_angle), matrix(second_axis, second_angle)
        return [a @ b @ point, b @ a @ point]

    assert judged("03.2", {"two_turns": by_matrices}).earned == 5


def test_a_matrix_may_be_written_out_in_nine_entries():
    def entries(q):
        x, y, z, w = q
        return [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]

    assert judged("03.3", {"matrix_of": entries}).earned == 6


@pytest.mark.parametrize("function", [rk.arithmetic.matrix, lambda q: np.reshape(rk.arithmetic.matrix_rows(q), (3, 3)), rk.rotation.to_matrix])
def test_the_package_s_own_matrix_is_closed(function):
    checkpoint = CHECKPOINT["03.3"]
    record = collect(checkpoint, {"matrix_of": function}, TRIED.cases_of("03.3"))
    assert {call.outcome for call in record.calls} == {"closed book"}


def test_a_matrix_of_zeros_and_a_reflection_are_no_rotation():
    assert "rotation" in missed(judged("03.3", {"matrix_of": lambda q: np.zeros((3, 3))}))
    assert "rotation" in missed(judged("03.3", {"matrix_of": lambda q: -matrix_of(q)}))


@pytest.mark.parametrize("seed", range(20))
def test_no_case_of_the_matrix_hides_a_mistake(seed):
    for case in CHECKPOINT["03.3"].cases(np.random.default_rng(seed), None):
        q = case.inputs["q"]
        if case.about in ("an oblique turn", "the same turn as -q"):
            right = matrix_of(q)
            assert np.abs(right - right.T).max() > 0.1 and np.abs(matrix_of(q[[1, 2, 3, 0]]) - right).max() > 0.1


# ---- 03.4 -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("variant", range(0, 100, 7))
def test_no_wrong_way_through_the_frame_is_right_by_chance(variant):
    known = context(variant)
    right = CHECKPOINT["03.4"].worked(known)
    for mistake in CHECKPOINT["03.4"].mistakes:
        wrong = mistake.answer(known)
        assert max(np.linalg.norm(wrong[name] - right[name]) for name in right) > 0.01, mistake.name


@pytest.mark.parametrize("variant", (0, 33, 66, 99))
def test_the_package_sees_the_same_from_the_forearm(variant):
    known = context(variant)
    frames = []
    for pose in ("stance", "later_stance"):
        world, row = known.robot.skeleton.forward(known.given[pose]), known.robot.skeleton.index("left_elbow_joint")
        frames.append((world.rotations[row], world.positions[row]))
    answer = {
        "lamp_in_forearm": rk.frame.to_local(frames[0], known.given["lamp"]),
        "knob_in_world": rk.frame.to_world(frames[0], known.given["knob"]),
        "sticker_later": rk.frame.to_world(frames[1], rk.frame.to_local(frames[0], known.given["sticker"])),
    }
    assert judged("03.4", answer, variant).earned == 5


@pytest.mark.parametrize("variant", range(0, 100, 11))
def test_the_two_stances_stand_free_of_the_floor_and_of_the_body(variant):
    """The hand is up in the air and out to the left in both: nothing is hidden."""
    known = context(variant)
    for pose in ("stance", "later_stance"):
        world, skeleton = known.robot.skeleton.forward(known.given[pose]), known.robot.skeleton
        hand, hips = world.positions[skeleton.index("left_gripper_joint")], world.positions[skeleton.index("left_shoulder_joint")]
        assert hand[1] > 0.45 and np.linalg.norm(hand - hips) > 0.1 and np.linalg.norm(hand[[0, 2]]) > 0.2


# ---- 03.5 -------------------------------------------------------------------------------------------------------


@pytest.mark.source("SciPy")
@pytest.mark.filterwarnings("ignore:Gimbal lock detected")
@pytest.mark.parametrize("variant", range(0, 100, 9))
def test_the_best_order_is_plain_to_see_and_scipy_agrees(variant):
    turns = elbow_03.turns_of(context(variant))
    worst = {order: np.abs(Rotation.from_quat(turns).as_euler(order, degrees=True)[:, 1]).max() for order in elbow_03.ORDERS}
    assert worst == pytest.approx({order: elbow_03.largest_middle(order, turns) for order in elbow_03.ORDERS}, abs=1e-6)
    best, second = sorted(worst, key=worst.get)[:2]
    assert best == "ZYX" and worst[second] - worst[best] > 30
    assert all(worst[order] > 80 for order in ("XZY", "YZX"))  # the hinge in the middle comes to 90, up to the steps of the grid


def test_the_same_order_about_fixed_axes_is_right_as_well():
    known = context(0)
    right = CHECKPOINT["03.5"].worked(known)
    assert judged("03.5", {**right, "order": "xyz"}).earned == 4
    assert missed(judged("03.5", {**right, "order": "zyx"})) == {"order", "middle"}


@pytest.mark.parametrize("order", ["Zyx", "ZYZ", "ZY", "", 7, None])
def test_what_is_no_order_of_three_letters_is_told(order):
    result = judged("03.5", {**CHECKPOINT["03.5"].worked(context(0)), "order": order})
    assert {claim.outcome for claim in result.claims if claim.id == "order"} == {"wrong kind"}


def test_a_wrong_order_costs_the_order_alone():
    turns = elbow_03.turns_of(context(0))
    assert missed(judged("03.5", {"order": "XZY", "largest_middle": elbow_03.largest_middle("XZY", turns), "reason": "a"})) == {"order"}


# ---- 03.6 and 03.7: unexpected right answers, q or -q ------------------------------------------------------------------


@pytest.mark.parametrize("signs", [(-1, 1), (1, -1), (-1, -1)])
def test_swing_and_twist_may_come_with_either_sign(signs):
    def flipped(q, axis):
        swing, twist = swing_twist(q, axis)
        return signs[0] * swing, signs[1] * twist

    assert judged("03.6", {"swing_twist": flipped}).earned == 7


def test_the_swing_may_be_found_first():
    """The shortest turn that carries the axis to where q carries it; then the twist is what is left."""

    def swing_first(q, axis):
        goes = rk.rotation.rotate(q, axis)
        swing = rk.rotation.between(axis, goes)
        return swing, rk.rotation.multiply(rk.rotation.invert(swing), q)

    assert judged("03.6", {"swing_twist": swing_first}).earned == 7


def test_any_twist_will_do_for_a_swing_of_half_a_turn():
    def other_twist(q, axis):
        swing, twist = swing_twist(q, axis)
        if np.hypot(q[:3] @ axis, q[3]) < 1e-9:
            more = turns_03.quaternion(axis, 0.7)
            return turns_03.product(q, turns_03.inverse(more)), more
        return swing, twist

    assert judged("03.6", {"swing_twist": other_twist}).earned == 7


def test_q_itself_is_no_answer():
    assert missed(judged("03.6", {"swing_twist": lambda q, axis: (q, np.array([0, 0, 0, 1.0]))})) == {"swing"}
    assert missed(judged("03.6", {"swing_twist": lambda q, axis: (np.array([0, 0, 0, 1.0]), q)})) == {"twist", "swing", "half"}


def test_the_angle_between_may_come_from_a_difference_and_a_sum():
    def by_lengths(p, q):
        a, b = np.linalg.norm(p - q), np.linalg.norm(p + q)
        return 4 * np.arctan2(min(a, b), max(a, b))

    assert judged("03.7", {"turn_apart": by_lengths}).earned == 4


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**32), st.integers(0, 4))
def test_worked_functions_earn_all_on_any_cases(seed, variant):
    for name, one in CHECKPOINT.items():
        if one.kind == "function":
            assert judged(name, {next(iter(one.names)): one.worked}, variant, str(seed).encode()).earned == one.points


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.floats(allow_nan=True, allow_infinity=True), min_size=8, max_size=8),
    st.sampled_from(["03.1", "03.2", "03.3", "03.6", "03.7"]),
)
def test_random_numbers_earn_next_to_nothing_and_never_crash_a_check(numbers, name):
    shapes = {
        "03.1": lambda n: n[:3],
        "03.2": lambda n: (n[:3], n[3:6]),
        "03.3": lambda n: [n[:3], n[3:6], n[5:8]],
        "03.6": lambda n: (n[:4], n[4:]),
        "03.7": lambda n: n[0],
    }
    result = judged(name, {next(iter(CHECKPOINT[name].names)): lambda *inputs: shapes[name](numbers)})
    assert result.earned <= 2 and len(panel(result).text.splitlines()) < 15
