"""Placing joints: area centres, lengths, the fold and its hinge, and what a hinge that is off costs."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import rigkit as rk
from rigkit import placement, rotation

angles = st.floats(-3, 3)


def d_shape(radius=0.03, flat=0.35, around=24, crowd=0.0):
    """A loop in the z = 0 plane, counter-clockwise: a circle cut off by a flat at y = -flat * radius, crowded to one side."""
    low = -np.arcsin(flat)
    t = np.linspace(0, 1, around - 3)
    turn = low + (np.pi - 2 * low) * (t + crowd * np.sin(2 * np.pi * t) / (2 * np.pi))
    arc = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    inside = arc[-1] + (arc[0] - arc[-1]) * np.array([0.2, 0.3, 0.75])[:, None]
    return radius * np.pad(np.vstack([arc, inside]), ((0, 0), (0, 1)))


def half_planes(loop):
    """The area centre of a loop in z = 0 by cutting it into many thin strips: a sum that shares nothing with the package."""
    from matplotlib.path import Path

    low, high = loop[:, :2].min(axis=0), loop[:, :2].max(axis=0)
    steps = 1200
    x, y = (low[i] + (high[i] - low[i]) * (np.arange(steps) + 0.5) / steps for i in (0, 1))
    grid = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    return grid[Path(loop[:, :2]).contains_points(grid)].mean(axis=0)


motions = st.tuples(st.tuples(angles, angles, angles), angles, st.tuples(angles, angles, angles)).filter(
    lambda m: np.linalg.norm(m[0]) > 0.1
)


def carry(motion, points):
    axis, angle, move = motion
    return rotation.rotate(rotation.from_axis_angle(axis, angle), points) + np.array(move)


# ---- area centre ----------------------------------------------------------------------------------------------------


# Source: the count of a fine grid of cells inside the outline (matplotlib.path), no formula.
@pytest.mark.source("matplotlib")
@pytest.mark.parametrize(
    "loop",
    [
        d_shape(1.0, crowd=0.8),
        d_shape(1.0, 0.8, crowd=-0.9),
        np.array([[0, 0, 0], [4, 0, 0], [4, 1, 0], [1, 1, 0], [1, 3, 0], [0, 3, 0.0]]),
    ],
)
def test_the_area_centre_is_the_mean_of_the_cells_inside(loop):
    np.testing.assert_allclose(placement.area_centre(loop)[:2], half_planes(loop), atol=2e-3)


def test_the_plain_mean_of_an_uneven_loop_is_pulled_aside_and_the_area_centre_is_not():
    even, uneven = d_shape(around=4000), d_shape(around=24, crowd=0.9)
    right = placement.area_centre(even)
    assert np.linalg.norm(uneven.mean(axis=0) - right) > 0.005
    assert np.linalg.norm(placement.area_centre(uneven) - right) < 0.0012  # what is left is the coarse outline itself


@given(st.lists(st.floats(0.02, 0.98), min_size=1, max_size=20), st.integers(0, 5))
def test_points_added_on_an_edge_change_nothing(shares, edge):
    loop = np.array([[0, 0, 0], [4, 0, 0], [4, 1, 0], [1, 1, 0], [1, 3, 0], [0, 3, 0.0]])
    a, b = loop[edge], loop[(edge + 1) % len(loop)]
    added = a + np.sort(shares)[:, None] * (b - a)
    more = np.insert(loop, edge + 1, added, axis=0)
    for measure in (placement.area_centre, placement.loop_area, placement.loop_length, placement.normal):
        np.testing.assert_allclose(measure(more), measure(loop), atol=1e-12)


@given(motions, st.floats(-0.9, 0.9), st.integers(0, 23), st.booleans())
def test_it_moves_with_the_loop_and_any_start_and_direction_give_the_same(motion, crowd, start, backward):
    loop = d_shape(1.0, crowd=crowd)
    turned = np.roll(loop[::-1] if backward else loop, start, axis=0)
    np.testing.assert_allclose(placement.area_centre(carry(motion, turned)), carry(motion, placement.area_centre(loop)), atol=1e-12)
    np.testing.assert_allclose(placement.loop_area(carry(motion, turned)), placement.loop_area(loop), atol=1e-12)


def test_a_loop_that_is_not_quite_flat_is_measured_on_its_mean_plane():
    loop = d_shape(1.0, crowd=0.5)
    rough = loop + np.array([0, 0, 1]) * (1e-3 * np.cos(5 * np.arctan2(loop[:, 1], loop[:, 0])))[:, None]
    np.testing.assert_allclose(placement.area_centre(rough), placement.area_centre(loop), atol=1e-3)
    assert abs(placement.normal(rough)[2]) > 1 - 1e-5


def test_a_batch_equals_one_by_one():
    rng = np.random.default_rng(0)
    loops = d_shape(1.0, crowd=0.4) * rng.uniform(0.5, 2, (4, 5, 1, 3)) + rng.normal(size=(4, 5, 1, 3))
    for measure in (placement.area_centre, placement.loop_area, placement.loop_length, placement.normal):
        many = measure(loops)
        for i, j in np.ndindex(4, 5):
            np.testing.assert_allclose(many[i, j], measure(loops[i, j]), atol=1e-12)


def test_a_loop_far_from_the_origin_keeps_its_digits():
    loop = d_shape(0.03, crowd=0.7)
    np.testing.assert_allclose(placement.area_centre(loop + 1000.0) - 1000.0, placement.area_centre(loop), atol=1e-12)


# ---- fold, chain ----------------------------------------------------------------------------------------------------


def test_the_fold_is_told_by_area_where_length_would_choose_another():
    """The narrow section is pleated: the longest way around, the least area."""
    turn = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    circle = np.stack([np.cos(turn), np.sin(turn), 0 * turn], axis=1)
    pleated = circle * (0.8 + 0.15 * (-1.0) ** np.arange(48))[:, None]
    loops = [circle, pleated, 1.1 * circle]
    assert placement.narrowest_loop(loops) == 1
    assert placement.loop_length(pleated) > placement.loop_length(circle)


def test_loops_of_different_counts_and_the_first_of_equals():
    assert placement.narrowest_loop([d_shape(2.0, around=30), d_shape(1.0), d_shape(1.0), d_shape(3.0, around=10)]) == 1


def test_a_chain_goes_through_the_area_centres():
    loops = [d_shape(0.03, around=n) + [0, 0, n] for n in (12, 20, 31)]
    np.testing.assert_allclose(placement.chain_from_loops(loops), [placement.area_centre(loop) for loop in loops])


@given(motions, st.floats(-0.9, 0.9), st.floats(0.2, 0.8), st.integers(0, 30), st.integers(12, 64))
def test_the_hinge_runs_along_the_flat_however_the_loop_lies_and_starts(motion, crowd, flat, start, around):
    loop = np.roll(d_shape(0.03, flat, around, crowd), start, axis=0)
    hinge = placement.fold_hinge(carry(motion, loop))
    expected = carry(motion, np.array([1.0, 0, 0])) - carry(motion, np.zeros(3))
    np.testing.assert_allclose(hinge, expected, atol=1e-9)


def test_turned_the_other_way_round_the_hinge_points_the_other_way():
    np.testing.assert_allclose(placement.fold_hinge(d_shape()[::-1]), [-1, 0, 0], atol=1e-12)


def test_a_positive_turn_about_the_hinge_brings_the_tip_to_the_flat_side():
    """The loop turns right-handed about the bone +z, its flat looks to -y."""
    tip = rotation.rotate(rotation.from_axis_angle(placement.fold_hinge(d_shape()), 0.5), [0, 0, 1])
    assert tip[1] < 0


def test_the_hinges_of_tally_are_those_of_its_folds():
    robot = rk.tally(1)
    for name, sign in (("left_elbow", 1), ("left_knee", 1)):
        part = robot.part(f"{name}_sleeve").mesh
        loops = [part.vertices[loop] for loop in rk.mesh.loops(part)]
        hinge = placement.fold_hinge(loops[placement.narrowest_loop(loops)])
        np.testing.assert_allclose(np.abs(hinge @ robot.hinges[name]), sign, atol=1e-6)


def test_a_flat_with_noise_of_a_tenth_of_a_millimetre_gives_the_hinge_within_a_degree():
    rng = np.random.default_rng(4)
    for _ in range(20):
        loop = d_shape(0.03, 0.5, 30) + rng.normal(size=(30, 3)) * 1e-4
        assert np.degrees(np.arccos(np.clip(placement.fold_hinge(loop)[0], -1, 1))) < 1.0


# ---- a hinge that is off --------------------------------------------------------------------------------------------


# Source: two turns about parallel axes a distance h apart differ by a move; measured here with rotation matrices.
@pytest.mark.source("theorem")
@pytest.mark.parametrize("degrees", [0, 10, 60, 90, 150])
def test_the_gap_of_a_hinge_that_is_off_is_the_distance_between_the_two_turns(degrees):
    t, h = np.radians(degrees), np.array([0.003, -0.004, 0.0])
    turn = np.array([[np.cos(t), -np.sin(t), 0], [np.sin(t), np.cos(t), 0], [0, 0, 1]])
    for point in np.random.default_rng(0).normal(size=(5, 3)):
        right, wrong = turn @ point, turn @ (point - h) + h
        assert placement.hinge_gap(np.linalg.norm(h), t) == pytest.approx(np.linalg.norm(wrong - right), abs=1e-15)


def test_the_plain_centre_is_the_mean_of_the_points():
    loops = np.random.default_rng(5).normal(size=(4, 7, 3))
    np.testing.assert_allclose(placement.plain_centre(loops), np.stack([loop.sum(axis=0) / 7 for loop in loops]), atol=1e-12)


def test_the_gap_of_many():
    np.testing.assert_allclose(placement.hinge_gap([0.01, 0.02], np.pi), [0.02, 0.04])


# ---- errors ---------------------------------------------------------------------------------------------------------

LINE = [[0, 0, 0], [1, 0, 0], [2, 0, 0]]


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: placement.area_centre([[0, 0, 0], [1, 0, 0]]),
            r"points has shape \(2, 3\); expected \(..., N, 3\) with N of 3 or more: a loop goes around something",
        ),
        (lambda: placement.area_centre([0, 0, 0]), r"points has shape \(3,\); expected \(..., N, 3\)"),
        (lambda: placement.area_centre([[0, 0], [1, 0], [1, 1]]), r"points has shape \(3, 2\); expected \(..., 3\)"),
        (lambda: placement.area_centre(LINE), "points enclose no area; expected a loop around something: do they lie on one line"),
        (lambda: placement.normal([d_shape()[:3], LINE]), r"points at row \(1,\) enclose no area"),
        (lambda: placement.area_centre(np.zeros((4, 3))), "points enclose no area"),
        (lambda: placement.loop_area([[0, 0, 0], [1, 0, np.inf], [2, 0, 0]]), r"points at row \(1,\) is .*inf.*; expected finite numbers"),
        (lambda: placement.narrowest_loop([]), "no loop came; expected a list of one or more loops"),
        (lambda: placement.chain_from_loops([]), "no loop came; expected a list of one or more loops"),
        (
            lambda: placement.fold_hinge([d_shape(), d_shape()]),
            r"points has shape \(2, 24, 3\); expected one loop \(N, 3\): take a batch loop by loop",
        ),
        (
            lambda: placement.fold_hinge([[0, 0, 0], [2, 0, 0], [2, 1, 0], [0, 1, 0]]),
            "the longest flat sides measure 2000.0 and 2000.0 mm; expected one clearly longer",
        ),
        (lambda: placement.hinge_gap([1, 2], [1, 2, 3]), r"batch shapes do not fit together: h \(2,\), t \(3,\)"),
        (lambda: placement.hinge_gap(np.nan, 1), "h is nan; expected finite numbers"),
    ],
)
def test_bad_input_is_told_in_words(call, text):
    with pytest.raises(ValueError, match=text):
        call()


def test_a_round_loop_has_no_hinge():
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    with pytest.raises(ValueError, match="a round loop has no hinge, take the D-shaped fold"):
        placement.fold_hinge(np.stack([np.cos(turn), np.sin(turn), 0 * turn], axis=1))
