"""The two-bone limb: lengths, sides, limits, errors; the fast forms against the clear one."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

import rigkit as rk
from rigkit import _limb_axes, _limb_turns, limb

ROOT, MID, END = np.array([0.1, 1.0, 0.0]), np.array([0.35, 0.98, -0.03]), np.array([0.6, 1.0, 0.02])  # a bent arm, invented
UPPER, LOWER = np.linalg.norm(MID - ROOT), np.linalg.norm(END - MID)
STRAIGHT = np.array([[0.0, 0, 0], [0.3, 0, 0], [0.5, 0, 0]])
coordinates = st.floats(-2, 2).map(lambda x: round(x, 6))
vectors = arrays(np.float64, 3, elements=coordinates)
limbs = st.tuples(vectors, vectors, vectors).filter(lambda p: np.linalg.norm(p[1] - p[0]) > 0.01 and np.linalg.norm(p[2] - p[1]) > 0.01)


def solved(points, target, pole, **options):
    return limb.solve(*points, target, pole, **options)


def lengths(points, solution):
    root = points[0]
    return np.array([np.linalg.norm(solution.mid - root, axis=-1), np.linalg.norm(solution.end - solution.mid, axis=-1)])


def clear(*arguments, soft=0.0, stretch_limit=1.0):
    shape, given_ = limb._checked(*arguments, soft, stretch_limit)
    return limb._solve(shape, *given_)


@given(limbs, vectors, vectors)
def test_bone_lengths_are_kept_wherever_target_and_pole_are(points, target, pole):
    s = solved(points, target, pole)
    expected = [np.linalg.norm(points[1] - points[0]), np.linalg.norm(points[2] - points[1])]
    np.testing.assert_allclose(lengths(points, s), expected, rtol=0, atol=1e-12)


@given(limbs, vectors, vectors)
def test_the_end_is_on_the_target_exactly_where_it_is_in_the_shell(points, target, pole):
    s = solved(points, target, pole)
    upper, lower = np.linalg.norm(points[1] - points[0]), np.linalg.norm(points[2] - points[1])
    distance = np.linalg.norm(target - points[0])
    inner, outer = limb.reach(upper, lower)
    off = max(distance - outer, inner - distance, 0.0)
    assert s.gap == pytest.approx(off, abs=1e-12)
    assert s.gap == pytest.approx(np.linalg.norm(s.end - target), abs=1e-11)
    if abs(off - 1e-9 * outer) > 1e-12:
        assert s.reached == (off < 1e-9 * outer)


@given(limbs, vectors, vectors)
def test_the_middle_joint_lies_on_the_side_of_the_pole(points, target, pole):
    s = solved(points, target, pole)
    line = s.end - points[0]
    size = np.linalg.norm(line)
    if size < 1e-6:
        return
    u = line / size
    off, towards = (v - u * (v @ u) for v in (s.mid - points[0], pole - points[0]))
    if np.linalg.norm(towards) > 1e-6 and np.linalg.norm(off) > 1e-6:
        np.testing.assert_allclose(off / np.linalg.norm(off), towards / np.linalg.norm(towards), atol=1e-6)


@given(limbs, vectors, vectors, st.tuples(vectors, st.floats(-3, 3), vectors))
def test_a_rigid_motion_of_everything_moves_the_answer_along(points, target, pole, motion):
    axis, angle, move = motion
    if np.linalg.norm(axis) < 0.1 or angle_to_pole(points[0], target, pole) < 1e-3 or np.linalg.norm(target - points[0]) < 1e-3:
        return
    turn = rk.rotation.from_axis_angle(axis, angle)
    there = lambda p: rk.rotation.rotate(turn, p) + move  # noqa: E731
    here, moved = solved(points, target, pole), solved([there(p) for p in points], there(target), there(pole))
    reach = limb.reach(*lengths(points, here))
    near_edge = min(abs(np.linalg.norm(target - points[0]) - r) for r in reach) < 1e-6
    np.testing.assert_allclose(moved.mid, there(here.mid), atol=1e-5 if near_edge else 1e-9)
    np.testing.assert_allclose(moved.end, there(here.end), atol=1e-9)


@given(st.floats(0.01, 100), vectors, vectors, st.floats(0, 0.2), st.floats(1, 1.5))
def test_a_scaled_rig_gives_the_scaled_answer_and_the_same_stretch(scale, target, pole, soft, limit):
    """A rig scaled as a whole scales its rest points, so its size is never taken for stretch."""
    if angle_to_pole(ROOT, target, pole) < 1e-3:
        return
    one = limb.solve(ROOT, MID, END, target, pole, soft=soft, stretch_limit=limit)
    big = limb.solve(scale * ROOT, scale * MID, scale * END, scale * target, scale * pole, soft=scale * soft, stretch_limit=limit)
    assert big.stretch == pytest.approx(one.stretch, rel=1e-12)
    np.testing.assert_allclose(big.mid, scale * one.mid, atol=1e-6 * scale)
    np.testing.assert_allclose(big.end, scale * one.end, atol=1e-12 * scale)


@given(limbs, st.floats(0.05, 3))
def test_solving_at_the_rest_end_with_a_pole_point_leaves_the_rest_pose(points, distance):
    """What is left of the bend is what rounding of the coordinates leaves of it: about 1e-15 m over its sine."""
    root, mid, end = points
    upper = np.linalg.norm(mid - root)
    height = np.linalg.norm(np.cross(end - root, mid - root)) / max(np.linalg.norm(end - root), 1e-300)
    if np.linalg.norm(end - root) < 1e-3 or height < 1e-3 * upper:
        return
    s = limb.solve(root, mid, end, end, limb.pole_point(root, mid, end, distance))
    np.testing.assert_allclose(s.mid, mid, atol=1e-9)
    np.testing.assert_allclose(s.end, end, atol=1e-12)
    assert s.reached and s.stretch == 1.0


@pytest.mark.parametrize("options", [{}, {"soft": 0.05}, {"stretch_limit": 1.2}, {"soft": 0.1, "stretch_limit": 1.1}, {"soft": 0.5}])
def test_one_by_one_in_blocks_and_the_clear_form_are_equal(options):
    rng = np.random.default_rng(3)
    target, pole = ROOT + rng.normal(size=(20_000, 3)) * 0.3, ROOT + rng.normal(size=(20_000, 3))
    target[5], pole[6], pole[7], pole[8] = ROOT, ROOT, 2 * target[7] - ROOT, target[8] + 1e-6
    blocks, book = limb.solve(ROOT, MID, END, target, pole, **options), clear(ROOT, MID, END, target, pole, **options)
    for name in ("mid", "end", "stretch", "gap"):
        np.testing.assert_allclose(getattr(blocks, name), getattr(book, name), rtol=1e-12, atol=2e-13, err_msg=name)
    np.testing.assert_array_equal(blocks.reached, book.reached)
    for i in range(300):
        one = limb.solve(ROOT, MID, END, target[i], pole[i], **options)
        for name in ("mid", "end", "stretch", "gap", "reached"):
            np.testing.assert_allclose(getattr(one, name), getattr(book, name)[i], rtol=1e-12, atol=2e-13, err_msg=name)


def test_the_plain_forms_are_really_taken():
    """So that the equality above compares different code."""
    assert limb._limb_fast.one(ROOT, MID, END, END, [0.3, 1, -1], 0.0, 1.0) is not None
    assert limb._limb_fast.one(ROOT, MID, END, END, [0.3, 1, -1], 0.05, 1.2) is not None
    assert limb._limb_fast.one(ROOT, MID, END, ROOT, [0.3, 1, -1], 0.0, 1.0) is None
    assert limb._limb_fast.one([ROOT], MID, END, END, [0.3, 1, -1], 0.0, 1.0) is None


def test_every_argument_can_be_a_batch():
    rng = np.random.default_rng(4)
    sizes = {"root": (4, 1), "mid": (1,), "end": (3,), "target": (5, 4, 1), "pole": ()}
    points = {name: rng.normal(size=(*size, 3)) for name, size in sizes.items()}
    s = limb.solve(**points, soft=np.full((5, 1, 1), 0.01), stretch_limit=[1.0, 1.1, 1.2])
    assert s.mid.shape == s.end.shape == (5, 4, 3, 3) and s.gap.shape == s.stretch.shape == s.reached.shape == (5, 4, 3)
    for i, j, k in np.ndindex(5, 4, 3):
        one = limb.solve(
            points["root"][j, 0],
            points["mid"][0],
            points["end"][k],
            points["target"][i, j, 0],
            points["pole"],
            soft=0.01,
            stretch_limit=[1.0, 1.1, 1.2][k],
        )
        np.testing.assert_allclose(s.mid[i, j, k], one.mid, atol=1e-12)
        assert s.gap[i, j, k] == pytest.approx(one.gap, abs=1e-12)


def test_a_batch_of_rest_limbs_in_blocks_equals_the_clear_form():
    rng = np.random.default_rng(5)
    rest, target, pole = rng.normal(size=(3, 9000, 3)), rng.normal(size=(9000, 3)), rng.normal(size=(9000, 3))
    soft = 0.1 * np.linalg.norm(rest[1] - rest[0], axis=1)
    blocks, book = limb.solve(*rest, target, pole, soft=soft), clear(*rest, target, pole, soft=soft)
    np.testing.assert_allclose(blocks.mid, book.mid, atol=1e-11)
    np.testing.assert_allclose(blocks.end, book.end, atol=1e-12)


def test_an_empty_batch_gives_empty_arrays():
    s = limb.solve(ROOT, MID, END, np.zeros((0, 3)), [0, 0, -1])
    assert s.mid.shape == (0, 3) and s.reached.shape == (0,)


def test_one_limb_gives_plain_numbers_both_ways():
    for target in (END, ROOT):
        s = limb.solve(ROOT, MID, END, target, [0, 0, -1])
        assert type(s.gap) is float and type(s.stretch) is float and type(s.reached) is bool


def test_inputs_stay_as_they_were():
    given_ = [np.array(p) for p in (ROOT, MID, END, END + 0.01, MID - 1)]
    before = [p.copy() for p in given_]
    limb.solve(*given_)
    limb.solve(*given_[:3], np.tile(given_[3], (100, 1)), given_[4])
    for a, b in zip(given_, before):
        np.testing.assert_array_equal(a, b)


# ---- limits -------------------------------------------------------------------------------------------------------


def test_too_far_the_limb_is_straight_towards_the_target():
    s = solved(STRAIGHT, [0, 2, 0], [0, 0, 1])
    np.testing.assert_allclose(s.mid, [0, 0.3, 0], atol=1e-15)
    np.testing.assert_allclose(s.end, [0, 0.5, 0], atol=1e-15)
    assert s.gap == pytest.approx(1.5) and not s.reached


def test_too_near_the_limb_folds_along_the_line():
    s = solved(STRAIGHT, [0, 0.04, 0], [0, 0, 1])
    np.testing.assert_allclose(s.mid, [0, 0.3, 0], atol=1e-15)
    np.testing.assert_allclose(s.end, [0, 0.1, 0], atol=1e-15)
    assert s.gap == pytest.approx(0.06) and not s.reached


def test_a_target_on_the_root_takes_the_rest_line():
    unequal = solved(STRAIGHT, [0, 0, 0], [0, 0, 1])
    np.testing.assert_allclose([unequal.mid, unequal.end], [[0.3, 0, 0], [0.1, 0, 0]], atol=1e-15)
    assert unequal.gap == pytest.approx(0.1) and not unequal.reached
    equal = limb.solve([0, 0, 0], [0.3, 0, 0], [0.6, 0, 0], [0, 0, 0], [0, 0, 1])
    np.testing.assert_allclose([equal.mid, equal.end], [[0, 0, 0.3], [0, 0, 0]], atol=1e-15)
    assert equal.gap == 0 and equal.reached


def test_a_pole_on_the_line_keeps_the_rest_hinge():
    target = np.array([0.3, 1.2, 0.1])
    hinge = np.cross(MID - ROOT, END - MID)
    s = limb.solve(ROOT, MID, END, target, 3 * target - 2 * ROOT)
    new = np.cross(s.mid - ROOT, s.end - s.mid)
    assert hinge @ new > 0 and s.reached
    across = np.cross(target - ROOT, np.cross(target - ROOT, hinge))  # the part of the rest hinge square to the line
    np.testing.assert_allclose(np.cross(new, across), 0, atol=1e-12)
    at_rest = limb.solve(ROOT, MID, END, END, ROOT)
    np.testing.assert_allclose(at_rest.mid, MID, atol=1e-12)


def test_a_pole_on_the_line_along_the_rest_hinge_keeps_the_rest_side():
    rest = np.array([[0.0, 0, 0], [0.3, 0.1, 0], [0.6, 0, 0]])
    s = solved(rest, [0, 0, 0.5], [0, 0, 4])
    assert s.mid[1] > 0.1 and s.mid[0] == pytest.approx(0) and s.reached


def test_a_straight_limb_with_a_pole_on_the_line_bends_to_the_side_told():
    s = solved(STRAIGHT, [0.4, 0, 0], [1, 0, 0])
    assert s.mid[1] > 0.1 and s.mid[2] == pytest.approx(0) and s.reached


def test_a_folded_rest_limb_solves():
    rest = np.array([[0.0, 0, 0], [0.3, 0, 0], [0.0, 0, 0]])
    for target, pole in (([0, 0, 0.2], [0, 0, 1]), ([0, 0, 0], [0, 0, 0]), ([0.1, 0.2, 0.3], [1, 0, 0])):
        s = solved(rest, target, pole)
        assert s.reached and np.isfinite(s.mid).all()
        np.testing.assert_allclose(lengths(rest, s), 0.3, atol=1e-12)


def test_nothing_is_ever_nan():
    rest = np.array(
        [[[0.0, 0, 0], [0.3, 0, 0], [0.6, 0, 0]], [[0, 0, 0], [0.3, 0, 0], [0, 0, 0]], [[0, 0, 0], [0.3, 0.001, 0], [0.5, 0, 0]]]
    )
    spots = np.array(
        [
            [0, 0, 0],
            [0.6, 0, 0],
            [0.3, 0, 0],
            [-0.6, 0, 0],
            [1e-13, 0, 0],
            [1e-300, 0, 0],
            [0, 0.6, 0],
            [0.5, 0, 1e-9],
            [1e9, 0, 0],
            [0.6 + 1e-16, 0, 0],
        ]
    )
    for points in rest:
        for options in ({}, {"soft": 0.1}, {"soft": 0.5}, {"stretch_limit": 2.0}, {"soft": 0.1, "stretch_limit": 1.5}):
            s = limb.solve(*points, spots[:, None], spots[None], **options)
            assert np.isfinite(s.mid).all() and np.isfinite(s.end).all() and np.isfinite(s.gap).all()
            kept = lengths(points, s) / s.stretch
            np.testing.assert_allclose(kept[0], np.linalg.norm(points[1] - points[0]), atol=1e-12)
            np.testing.assert_allclose(kept[1], np.linalg.norm(points[2] - points[1]), atol=1e-12)


@pytest.mark.parametrize("left", [1e-3, 1e-6, 1e-9, 1e-12])
def test_near_full_reach_the_elbow_is_as_right_as_float64_lets(left):
    """Against the same sum in 50 digits (Python's decimal): within 1e-9 m while the rounding of d, about 1e-16 m, allows it."""
    from decimal import Decimal, getcontext

    getcontext().prec = 50
    a, b = 0.25, 0.5
    target = np.array([a + b - left, 0.0, 0.0])
    s = limb.solve([0, 0, 0], [a, 0, 0], [a + b, 0, 0], target, [0, 1, 0])
    d = Decimal(float(target[0]))
    along = (Decimal(a) ** 2 - Decimal(b) ** 2 + d * d) / (2 * d)
    off = (Decimal(a) ** 2 - along**2).sqrt()
    np.testing.assert_allclose(s.mid, [float(along), float(off), 0], rtol=0, atol=1e-9)
    np.testing.assert_allclose(s.mid[1], float(off), rtol=1e-3)


def test_the_elbow_moves_without_a_jump_as_the_target_goes_through_full_reach():
    d = np.linspace(0.4, 0.6, 20_001)
    s = solved(STRAIGHT, np.stack([d, 0 * d, 0 * d], axis=1), [0, 1, 0])
    step = np.linalg.norm(np.diff(s.mid, axis=0), axis=1)
    assert step.max() < 2 * np.sqrt(
        2 * 0.12 * 1e-5
    )  # off is about sqrt(2 k left), k = a b / (a + b) = 0.12 m: a square root, steep but continuous


# ---- soft, stretch ------------------------------------------------------------------------------------------------


@given(st.floats(0.001, 5), st.floats(0.0, 1.0), st.floats(0, 12))
def test_a_soft_distance_grows_and_never_passes_the_reach(reach, share, distance):
    soft = share * reach
    held = limb.soft_distance(distance, reach, soft)
    assert held <= reach and held <= distance + 1e-15
    assert limb.soft_distance(distance + 0.01, reach, soft) >= held
    if distance <= reach - soft:
        assert held == distance


def test_value_and_slope_are_continuous_where_slowing_begins():
    h = 1e-6
    d = 0.4 + np.array([-2, -1, 0, 1, 2]) * h
    held = limb.soft_distance(d, 0.5, 0.1)
    slopes = np.diff(held) / h
    np.testing.assert_allclose(slopes, 1, atol=5e-5)


def test_soft_holds_the_end_back_and_says_so():
    s = solved(STRAIGHT, [0.5, 0, 0], [0, 1, 0], soft=0.1)
    assert s.gap == pytest.approx(0.1 * np.exp(-1)) and not s.reached and s.stretch == 1.0


def test_stretch_takes_the_end_to_the_target_up_to_its_limit():
    s = solved(STRAIGHT, [0.6, 0, 0], [0, 1, 0], stretch_limit=1.5)
    assert s.stretch == pytest.approx(1.2) and s.reached
    np.testing.assert_allclose([s.mid, s.end], [[0.36, 0, 0], [0.6, 0, 0]], atol=1e-15)
    s = solved(STRAIGHT, [2, 0, 0], [0, 1, 0], stretch_limit=1.5)
    assert s.stretch == pytest.approx(1.5) and s.gap == pytest.approx(2 - 0.75) and not s.reached


def test_stretch_never_shortens():
    d = np.linspace(0, 1, 1001)
    s = solved(STRAIGHT, np.stack([d, 0 * d, 0 * d], axis=1), [0, 1, 0], stretch_limit=3.0)
    assert (s.stretch >= 1).all() and (s.stretch[d <= 0.5] == 1).all()


def test_soft_and_stretch_together_reach_the_target_and_keep_the_elbow_bent():
    """Stretch makes up for what soft holds back, so the end stays on the target, and the slope of the stretch has no step."""
    d = np.linspace(0.3, 0.7, 4001)
    s = solved(STRAIGHT, np.stack([d, 0 * d, 0 * d], axis=1), [0, 1, 0], soft=0.1, stretch_limit=3.0)
    assert s.reached.all()
    assert (s.mid[:, 1] > 0).all()
    slope = np.diff(s.stretch) / np.diff(d)
    assert np.abs(np.diff(slope)).max() < 0.01


# ---- a range for the hinge ---------------------------------------------------------------------------------------------


@given(limbs, vectors, vectors, st.floats(0, np.pi), st.floats(0, np.pi))
def test_the_hinge_stays_in_its_range_and_the_end_comes_as_near_as_it_lets(points, target, pole, a, b):
    low, high = sorted((a, b))
    upper, lower = np.linalg.norm(points[1] - points[0]), np.linalg.norm(points[2] - points[1])
    s = solved(points, target, pole, bends=(low, high))
    np.testing.assert_allclose(lengths(points, s), [upper, lower], rtol=0, atol=1e-12)
    bend = rk.bend.angle(points[0], s.mid, s.end)
    assert low - 1e-6 <= bend <= high + 1e-6  # near straight an angle is the root of a rounding error
    outer, inner = (limb.reach(upper, lower, x)[0] for x in (low, high))
    distance = np.linalg.norm(target - points[0])
    assert s.gap == pytest.approx(max(distance - outer, inner - distance, 0.0), abs=1e-9)
    assert s.gap == pytest.approx(np.linalg.norm(s.end - target), abs=1e-9)


@given(limbs, vectors, vectors)
def test_the_whole_range_of_a_hinge_changes_nothing(points, target, pole):
    free, ranged = solved(points, target, pole, soft=0.01), solved(points, target, pole, soft=0.01, bends=(0.0, np.pi))
    np.testing.assert_allclose(ranged.mid, free.mid, atol=1e-12)
    np.testing.assert_allclose([ranged.gap, ranged.stretch], [free.gap, free.stretch], atol=1e-12)


def test_a_range_goes_with_soft_and_stretch_and_with_batches():
    """A hinge of 30 to 90 degrees on bones of 3 and 4: from 5 to 6.766 by the law of cosines."""
    arm, bends = ([0, 0, 0], [3, 0, 0], [3, 4, 0]), np.radians([30, 90])
    targets = np.array([[1, 0, 0], [5, 0, 0], [6, 0, 0], [9, 0, 0]])
    s = limb.solve(*arm, targets, [0, 9, 0], bends=bends)
    outer = np.sqrt(25 + 24 * np.cos(np.radians(30)))
    np.testing.assert_allclose(np.linalg.norm(s.end, axis=-1), [5, 5, 6, outer], atol=1e-12)
    np.testing.assert_allclose(s.reached, [False, True, True, False])
    grown = limb.solve(*arm, targets, [0, 9, 0], stretch_limit=2.0, bends=bends)
    np.testing.assert_allclose(grown.stretch, [1, 1, 1, 9 / outer], atol=1e-12)
    np.testing.assert_allclose(rk.bend.angle(arm[0], grown.mid, grown.end), s_bend(arm, s), atol=1e-9)
    slow = limb.solve(*arm, targets, [0, 9, 0], soft=1.0, bends=bends)
    assert outer - 1 < np.linalg.norm(slow.end[3]) < outer
    many = limb.solve(*arm, np.tile(targets, (50, 1)), [0, 9, 0], bends=bends)
    np.testing.assert_allclose(many.mid.reshape(50, 4, 3), np.broadcast_to(s.mid, (50, 4, 3)), atol=1e-12)


def s_bend(arm, solution):
    return rk.bend.angle(arm[0], solution.mid, solution.end)


def test_a_pole_point_of_a_straight_limb_lies_on_the_side_it_is_given():
    p = limb.pole_point(*STRAIGHT, 0.5, side=[0.3, 0, -2])
    np.testing.assert_allclose(p, STRAIGHT[1] + [0, 0, -0.5], atol=1e-12)
    bent = limb.pole_point(ROOT, MID, END, 0.4, side=[0, 1, 0])
    np.testing.assert_allclose(bent, limb.pole_point(ROOT, MID, END, 0.4), atol=1e-12)


@pytest.mark.parametrize("call", [limb.reach, limb.soft_distance, limb.elbow_circle])
def test_numbers_that_do_not_fit_together_are_told_by_name(call):
    with pytest.raises(ValueError, match=r"batch shapes do not fit together: .*\(2,\).*\(3,\)"):
        call([3.0, 4.0], [4.0, 5.0], [1.0, 2.0, 3.0])


# ---- pole, swivel, reach --------------------------------------------------------------------------------------------


def angle_to_pole(root, target, pole):
    a, b = np.asarray(target) - root, np.asarray(pole) - root
    size = np.linalg.norm(a) * np.linalg.norm(b)
    return 0.0 if size == 0 else np.arcsin(min(1.0, np.linalg.norm(np.cross(a, b)) / size))


def test_a_pole_point_lies_in_the_bend_plane_square_to_the_line_on_the_side_of_the_bend():
    p = limb.pole_point(ROOT, MID, END, 0.4)
    normal = np.cross(MID - ROOT, END - MID)
    assert (p - MID) @ normal == pytest.approx(0, abs=1e-15)
    assert (p - MID) @ (END - ROOT) == pytest.approx(0, abs=1e-15)
    assert np.linalg.norm(p - MID) == pytest.approx(0.4)
    middle = ROOT + (END - ROOT) * ((MID - ROOT) @ (END - ROOT)) / ((END - ROOT) @ (END - ROOT))
    assert (p - MID) @ (MID - middle) > 0


def test_pole_points_of_a_batch_equal_those_one_by_one():
    rng = np.random.default_rng(6)
    points, distance = rng.normal(size=(3, 50, 3)), rng.uniform(0.1, 1, 50)
    many = limb.pole_point(*points, distance)
    for i in range(50):
        np.testing.assert_allclose(many[i], limb.pole_point(*points[:, i], distance[i]), atol=1e-12)


@given(limbs, st.floats(-3.1, 3.1), arrays(np.float64, 3, elements=coordinates))
def test_swivel_there_and_back(points, angle, reference):
    root, _, end = points
    upper, lower = np.linalg.norm(points[1] - root), np.linalg.norm(end - points[1])
    line = end - root
    if np.linalg.norm(line) < 1e-3 or np.linalg.norm(np.cross(line, reference)) < 1e-3 * np.linalg.norm(line):
        return
    mid = limb.mid_from_swivel(root, end, upper, lower, angle, reference)
    assert np.linalg.norm(mid - root) == pytest.approx(upper, abs=1e-10)
    assert np.linalg.norm(mid - end) == pytest.approx(lower, abs=1e-10)
    if np.linalg.norm(np.cross(line, mid - root)) > 1e-3 * np.linalg.norm(line):
        assert limb.swivel_angle(root, mid, end, reference) == pytest.approx(angle, abs=1e-9)


def test_the_swivel_angle_turns_right_handed_about_the_line():
    """About +x, +y goes to +z."""
    assert limb.swivel_angle([0, 0, 0], [1, 1, 0], [2, 0, 0], [0, 1, 0]) == pytest.approx(0)
    assert limb.swivel_angle([0, 0, 0], [1, 0, 1], [2, 0, 0], [0.3, 1, 0]) == pytest.approx(np.pi / 2)
    assert limb.swivel_angle([0, 0, 0], [1, 0, -1], [2, 0, 0], [0, 1, 0]) == pytest.approx(-np.pi / 2)


def test_the_elbow_of_the_solver_has_the_swivel_angle_of_the_pole():
    target, pole = np.array([0.4, 0.9, 0.2]), np.array([0.3, 0.5, -0.6])
    s = limb.solve(ROOT, MID, END, target, pole)
    angle = limb.swivel_angle(ROOT, pole, target, [0, 1, 0])
    np.testing.assert_allclose(limb.mid_from_swivel(ROOT, target, UPPER, LOWER, angle, [0, 1, 0]), s.mid, atol=1e-12)


def test_reach_with_and_without_a_hinge_limit():
    assert [float(x) for x in limb.reach(0.3, 0.2)] == pytest.approx([0.1, 0.5])
    inner, outer = limb.reach(0.3, 0.2, np.radians([0, 60, 180]))
    np.testing.assert_allclose(inner, [0.5, np.sqrt(0.09 + 0.04 + 0.06), 0.1])
    np.testing.assert_allclose(outer, 0.5)


# ---- turns, flip line -----------------------------------------------------------------------------------------------


@given(limbs, vectors, vectors, st.sampled_from([1.0, 1.3]))
def test_the_turns_carry_the_rest_bones_to_the_solved_ones(points, target, pole, limit):
    root, mid, end = points
    s = solved(points, target, pole, stretch_limit=limit)
    upper, lower = limb.rotations(root, mid, end, s, pole)
    np.testing.assert_allclose(rk.rotation.rotate(upper, mid - root) * s.stretch, s.mid - root, atol=1e-9)
    np.testing.assert_allclose(rk.rotation.rotate(lower, end - mid) * s.stretch, s.end - s.mid, atol=1e-9)


@given(limbs, vectors, vectors)
def test_between_the_two_turns_lies_only_a_turn_about_the_hinge(points, target, pole):
    """So the limb twists with its bend plane and a hinge joint at the elbow is all it needs."""
    root, mid, end = points
    hinge = np.cross(mid - root, end - mid)
    size = np.linalg.norm(hinge)
    if size < 1e-3:
        return
    s = solved(points, target, pole)
    upper, lower = limb.rotations(root, mid, end, s, pole)
    local = rk.rotation.multiply(rk.rotation.invert(upper), lower)
    np.testing.assert_allclose(np.cross(local[:3], hinge / size), 0, atol=1e-9)


def test_at_rest_the_turns_are_none():
    pole = limb.pole_point(ROOT, MID, END, 0.3)
    for turn in limb.rotations(ROOT, MID, END, limb.solve(ROOT, MID, END, END, pole), pole):
        assert rk.rotation.angle(turn, [0, 0, 0, 1]) < 1e-9


def test_a_straight_limb_turns_about_the_hinge_it_is_given():
    s = solved(STRAIGHT, [0.4, 0, 0], [0.2, 1, 0])
    upper, lower = limb.rotations(*STRAIGHT, s, [0.2, 1, 0], hinge=[0, 0, -1])
    np.testing.assert_allclose(rk.rotation.rotate(upper, [0, 0, -1]), [0, 0, -1], atol=1e-12)
    upper, lower = limb.rotations(*STRAIGHT, s, [0.2, 1, 0], hinge=[0, 1, 0])
    np.testing.assert_allclose(rk.rotation.rotate(upper, [0, 1, 0]), [0, 0, -1], atol=1e-12)
    np.testing.assert_allclose(rk.rotation.rotate(lower, [0, 1, 0]), [0, 0, -1], atol=1e-12)


def test_turns_of_a_batch_equal_those_one_by_one():
    rng = np.random.default_rng(8)
    target, pole = ROOT + rng.normal(size=(40, 3)) * 0.3, rng.normal(size=(40, 3))
    s = limb.solve(ROOT, MID, END, target, pole)
    many = limb.rotations(ROOT, MID, END, s, pole)
    for i in range(40):
        one = limb.rotations(ROOT, MID, END, limb.solve(ROOT, MID, END, target[i], pole[i]), pole[i])
        for a, b in zip(one, many):
            assert rk.rotation.angle(a, b[i]) < 1e-9


@given(limbs, vectors, vectors, st.sampled_from([1.0, 1.3]), st.integers(0, 2**32 - 1))
def test_turns_on_plain_floats_and_in_blocks_equal_the_readable_form(points, target, pole, limit, seed):
    """Among the many: targets on the root and far off, poles on the line."""
    root, mid, end = points
    rng = np.random.default_rng(seed)
    targets, poles = target + rng.normal(size=(limb.FEW, 3)), pole + rng.normal(size=(limb.FEW, 3))
    targets[0], targets[1], poles[2], poles[3] = root, root + 1e3, targets[2], 2 * root - targets[3]
    s = limb.solve(root, mid, end, targets, poles, stretch_limit=limit)
    read = limb._turns(root, mid, end, *_limb_axes.rest_axes(root, mid, end), s.mid, s.end, poles)
    for many, clear in zip(limb.rotations(root, mid, end, s, poles), read):
        assert rk.rotation.angle(many, clear).max() < 1e-9
    one = _limb_turns.one(root, mid, end, s.mid[4], s.end[4], poles[4])
    for turn, clear in zip(one or (), read):
        assert rk.rotation.angle(np.array(turn), clear[4]) < 1e-9


def test_turns_of_many_straight_limbs_turn_about_the_hinge_they_are_given():
    rng = np.random.default_rng(12)
    targets, poles = rng.normal(size=(100, 3)) * 0.2, rng.normal(size=(100, 3))
    s = limb.solve(*STRAIGHT, targets, poles)
    axes = _limb_axes.rest_axes(*STRAIGHT, hinge=np.array([0, 1.0, 0]))
    for many, clear in zip(limb.rotations(*STRAIGHT, s, poles, hinge=[0, 1, 0]), limb._turns(*STRAIGHT, *axes, s.mid, s.end, poles)):
        assert rk.rotation.angle(many, clear).max() < 1e-9


def test_the_fast_forms_of_the_turns_are_really_taken():
    s = limb.solve(ROOT, MID, END, END, MID + 1)
    assert _limb_turns.one(ROOT, MID, END, s.mid, s.end, MID + 1) is not None
    assert _limb_turns.one(*STRAIGHT, s.mid, s.end, MID + 1) is None


@pytest.mark.parametrize(
    "place,wrong", [(0, [0, 0]), (1, [0, 1, 0, 2]), (2, "end"), (1, ROOT), (2, MID), (2, MID + 1e-14), (3, [np.nan, 0, 0])]
)
def test_the_turns_of_one_limb_are_checked_on_plain_floats_too(place, wrong):
    s, given = limb.solve(ROOT, MID, END, END, MID + 1), [ROOT, MID, END, MID + 1]
    given[place] = wrong
    with pytest.raises(ValueError):
        limb.rotations(*given[:3], s, given[3])


def test_the_flip_line_is_where_target_root_and_pole_stand_in_line():
    distance, way = limb.flip_line([0, 1, 0], [-0.3, 1.1, 0.2], [1, 1, 0])
    assert distance == pytest.approx(np.hypot(0.1, 0.2))
    on_it = np.array([-0.3, 1.1, 0.2]) + distance * way
    assert angle_to_pole(np.array([0, 1, 0]), on_it, [1, 1, 0]) == pytest.approx(0, abs=1e-12)
    assert limb.flip_line([0, 0, 0], [2, 0, 0], [1, 0, 0])[0] == 0


@pytest.mark.parametrize("degrees", [90, 60, 30, 10, 3, 120, 170])
def test_the_swivel_gain_is_how_fast_the_elbow_really_turns(degrees):
    """Measured: carry the target a little sideways, carry the elbow along without swivel, compare with where it goes."""
    angle, step = np.radians(degrees), 1e-6
    pole = np.array([0.0, 1.0, 0.0])

    def elbow(around):
        target = 0.4 * np.array([np.sin(angle) * np.cos(around), np.cos(angle), np.sin(angle) * np.sin(around)])
        return target, solved(STRAIGHT, target, pole).mid

    (before, first), (after, second) = elbow(0.0), elbow(step / np.sin(angle))
    carried = rk.rotation.rotate(rk.rotation.between(before, after), first)
    turned = limb.swivel_angle([0, 0, 0], second, after, carried)
    assert limb.swivel_gain([0, 0, 0], before, pole) == pytest.approx(abs(turned) / step * np.sign(90 - degrees), abs=2e-4, rel=1e-4)


@pytest.mark.parametrize("kept", [(1.0, 1.0), (4.0, 0.5), (2.0, np.sqrt(0.5))])
def test_girth_keeps_the_volume(kept):
    stretch, expected = kept
    assert limb.girth(stretch) == pytest.approx(expected) and stretch * limb.girth(stretch) ** 2 == pytest.approx(1)


# ---- errors ---------------------------------------------------------------------------------------------------------

Z = np.zeros(3)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: limb.solve([0, 0], MID, END, END, Z), r"root has shape \(2,\); expected \(..., 3\): give one item or a batch of them"),
        (lambda: limb.solve(ROOT, MID, END, [0, np.nan, 0], Z), "target is .*nan.*; expected finite numbers"),
        (lambda: limb.solve(ROOT, MID, END, END, [[0, 0, 0], [np.inf, 0, 0]]), r"pole at row \(1,\) is .*inf.*; expected finite numbers"),
        (lambda: limb.solve(ROOT, MID, END, "far", Z), r"target is 'far'; expected numbers of shape \(..., 3\)"),
        (
            lambda: limb.solve(ROOT, ROOT, END, END, Z),
            r"the upper bone \(root to mid\) has length 0; expected two bones: move the joints apart",
        ),
        (lambda: limb.solve(ROOT, [MID, END], END, END, Z), r"the lower bone \(mid to end\) at row \(1,\) has length 0"),
        (lambda: limb.solve(ROOT, ROOT, ROOT, END, Z), r"the upper bone \(root to mid\) has length 0"),
        (lambda: limb.solve(ROOT, MID, END, END, Z, soft=-0.1), "soft is -0.1; expected 0 to .* metres, no more than the limb is long"),
        (lambda: limb.solve(ROOT, MID, END, END, Z, soft=5.0), "soft is 5; expected 0 to 0.5.* metres, no more than the limb is long"),
        (lambda: limb.solve(ROOT, MID, END, END, Z, soft=np.nan), "soft is nan"),
        (lambda: limb.solve(ROOT, MID, END, END, Z, stretch_limit=0.9), "stretch_limit is 0.9; expected 1 or more times the limb's length"),
        (lambda: limb.solve(ROOT, MID, END, END, Z, stretch_limit=[1, 0.5]), r"stretch_limit at row \(1,\) is 0.5; expected 1 or more"),
        (
            lambda: limb.solve(np.zeros((2, 3)), MID, END, np.ones((3, 3)), Z),
            r"batch shapes do not fit together: root \(2,\).*target \(3,\)",
        ),
        (
            lambda: limb.pole_point(*STRAIGHT, 1.0),
            "the limb is straight; expected a bend that shows a side: move its middle joint off the line first",
        ),
        (
            lambda: limb.pole_point(ROOT, MID, ROOT, 1.0),
            "root and end lie in one place; expected a line between them: unfold the limb first",
        ),
        (lambda: limb.pole_point(ROOT, MID, END, [1.0, 0.0]), r"distance at row \(1,\) is 0; expected metres above 0"),
        (
            lambda: limb.swivel_angle(*STRAIGHT, [0, 1, 0]),
            "the limb is straight; expected a bend: a middle joint on the line has no swivel angle",
        ),
        (
            lambda: limb.swivel_angle(ROOT, MID, ROOT, [0, 1, 0]),
            "end lies on root; expected a point away from it: a direction needs two places",
        ),
        (
            lambda: limb.swivel_angle(ROOT, MID, END, END - ROOT),
            "reference lies along the line from root to end; expected a direction across it",
        ),
        (
            lambda: limb.mid_from_swivel(Z, [2, 0, 0], 0.5, 0.5, 0, [0, 1, 0]),
            "root and end are 2 m apart; expected 0 to 1 m for these bones",
        ),
        (
            lambda: limb.rotations(*STRAIGHT, solved(STRAIGHT, END, Z + 1), Z + 1, hinge=[1, 0, 0]),
            "hinge lies along the limb; expected a direction across it",
        ),
        (lambda: limb.solve(ROOT, MID, END, END, Z, bends=(1, 0.5)), r"bends is \[1. *0.5\]; expected the least and the greatest of one"),
        (lambda: limb.solve(ROOT, MID, END, END, Z, bends=1.0), r"bends has shape \(\); expected \(..., 2\)"),
        (lambda: limb.pole_point(*STRAIGHT, 1.0, side=[2, 0, 0]), "side lies along the limb; expected a direction across it"),
        (lambda: limb.flip_line(Z, END, Z), "pole lies on root; expected a point away from it"),
        (lambda: limb.swivel_gain(Z, [[1, 0, 0], Z], END), r"target at row \(1,\) lies on root"),
        (lambda: limb.girth(0), "stretch is 0; expected a number above 0: 1 is the length at rest"),
        (lambda: limb.elbow_circle(1, -1, 1), "lower is -1; expected 0 or more metres"),
        (lambda: limb.soft_distance(1, 1, 2), "soft is 2; expected 0 to 1 metres, no more than the reach"),
        (lambda: limb.reach(-1, 2), "upper is -1; expected 0 or more metres"),
        (lambda: limb.reach(1, 2, hinge_limit=4), "hinge_limit is 4; expected 0 to 3.14159 radians of bend"),
    ],
)
def test_bad_input_is_told_in_words(call, text):
    with pytest.raises(ValueError, match=text):
        call()
