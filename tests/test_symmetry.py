"""Symmetry: the plane found again, partners as a search over all pairs finds them, what is off reported with its distance."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial import cKDTree

import rigkit as rk
from rigkit import mirror, rotation, symmetry
from tests.strategies import planes, vectors

RNG = np.random.default_rng(6)


def cloud(rng, plane, count=60):
    """Points in symmetric pairs, shuffled: a long shape, so that its main axes are told apart."""
    side = rng.normal(size=(count, 3)) * [0.3, 1.0, 0.5] + [0.4, 0, 0]
    basis = rotation.between([1, 0, 0], plane.normal)
    left = rotation.rotate(basis, side) + plane.point
    return rng.permutation(np.vstack([left, mirror.points(left, plane)]))


@given(planes(), st.integers(0, 2**32 - 1))
def test_the_plane_of_a_symmetric_set_is_found_again(plane, seed):
    found = symmetry.best_plane(cloud(np.random.default_rng(seed), plane))
    assert abs(found.normal @ plane.normal) == pytest.approx(1, abs=1e-9)
    assert (found.point - plane.point) @ plane.normal == pytest.approx(0, abs=1e-9)


def test_a_part_that_is_one_sided_does_not_hide_the_plane():
    plane = mirror.Plane()
    points = np.vstack([cloud(RNG, plane, 200), [[0.5, 1.0, 0.2], [0.52, 1.0, 0.2]]])
    found = symmetry.best_plane(points, tolerance=0.05)
    assert np.degrees(np.arccos(abs(found.normal @ plane.normal))) < 1
    lone = symmetry.partners(points, plane).partner < 0
    assert lone.sum() == 2 and lone[-2:].all()


@pytest.mark.source("SciPy")
@given(st.integers(0, 2**32 - 1), st.sampled_from([1e-3, 0.05, 0.3]))
def test_partners_as_the_nearest_neighbours_of_scipy(seed, tolerance):
    rng = np.random.default_rng(seed)
    points, plane = rng.uniform(-1, 1, (80, 3)), mirror.Plane(rng.normal(size=3) * 0.1, rng.normal(size=3))
    found = symmetry.partners(points, plane, tolerance)
    distance, nearest = cKDTree(points).query(mirror.points(points, plane), distance_upper_bound=tolerance)
    assert np.array_equal(found.partner >= 0, np.isfinite(distance))
    assert np.array_equal(found.partner[found.partner >= 0], nearest[np.isfinite(distance)])
    assert np.allclose(found.distance[found.partner >= 0], distance[np.isfinite(distance)])


def test_partners_of_many_points_with_a_tiny_tolerance():
    points = cloud(RNG, mirror.Plane(), 5000) * 100
    found = symmetry.partners(points, mirror.Plane(), 1e-9)
    assert found.share == 1 and np.array_equal(found.partner[found.partner], np.arange(10000))


@given(planes())
def test_the_plane_of_pairs_mirrors_one_side_into_the_other(plane):
    left = np.random.default_rng(1).normal(size=(9, 3)) + 3 * plane.normal
    found = symmetry.plane_of_pairs(left, mirror.points(left, plane), plane.normal)
    assert np.allclose(found.normal, plane.normal, atol=1e-9)
    assert np.allclose(mirror.points(left, found), mirror.points(left, plane), atol=1e-9)


def test_uneven_errors_move_the_plane_of_pairs_by_their_mean():
    left = np.array([[1.0, 0, 0], [1, 1, 0], [1, 0, 1], [1, 1, 1]])
    found = symmetry.plane_of_pairs(left, left * [-1, 1, 1] + [0.004, 0, 0])
    assert found.point[0] == pytest.approx(0.002) and np.allclose(found.normal, [1, 0, 0])


@given(planes(), vectors(shape=(10, 3)))
def test_snapping_moves_only_what_is_near(plane, points):
    snapped = symmetry.snap(points, plane, 0.5)
    height = (points - plane.point) @ plane.normal
    near = np.abs(height) < 0.5
    assert np.array_equal(snapped[~near], points[~near])
    assert np.allclose((snapped[near] - plane.point) @ plane.normal, 0, atol=1e-12)
    assert np.allclose(np.linalg.norm(snapped - points, axis=1)[near], np.abs(height[near]), atol=1e-12)


def test_asymmetry_is_told_joint_by_joint():
    s = rk.Skeleton(
        ["body", "left_arm", "right_arm", "left_hook"], [-1, 0, 0, 0], [[0.002, 1, 0], [0.198, 0, 0], [-0.202, 0, 0.003], [0.1, 0, 0]]
    )
    found = symmetry.asymmetry(s, mirror.Plane())
    assert found == pytest.approx({"body": 0.004, "left_arm": 0.003, "right_arm": 0.003, "left_hook": np.inf})


def test_the_parts_of_tally_are_symmetric_and_one_that_is_moved_is_told():
    shapes = {part.name: part.mesh.vertices for part in rk.tally().parts}
    off = symmetry.shape_asymmetry(shapes, mirror.Plane())
    # the hose hangs down the middle but its coupling is round about its own axis: what is sided is mirrored bit for bit
    assert max(value for name, value in off.items() if name.startswith(("left_", "right_", "body_drum", "head_"))) < 1e-9
    moved = {**shapes, "left_shin_tube": shapes["left_shin_tube"] + [0.002, 0, 0]}
    told = symmetry.shape_asymmetry(moved, mirror.Plane())
    assert {name for name in told if told[name] - off[name] > 1e-6} == {"left_shin_tube", "right_shin_tube"}
    assert 1e-4 < told["left_shin_tube"] <= 0.002 + 1e-9
    lone = {name: points for name, points in shapes.items() if name != "right_toe_cap"}
    assert symmetry.shape_asymmetry(lone, mirror.Plane())["left_toe_cap"] == np.inf


def test_names_by_another_rule():
    """A rule as in a file of someone else: the side is the last letter."""
    swap = {"l": "r", "r": "l"}
    rule = lambda name: name[:-1] + swap.get(name[-1], name[-1]) if name[-2] == "." else name  # noqa: E731
    arm = rk.Skeleton(["spine", "arm.l"], [-1, 0], [[0, 1, 0], [0.2, 0.1, 0]])
    both = rk.mirror.complete(arm, mirror.Plane(), rename=rule)
    assert both.names == ("spine", "arm.l", "arm.r") and symmetry.asymmetry(both, mirror.Plane(), rename=rule) == dict.fromkeys(both.names, 0.0)
    assert rk.mirror.skeleton(arm, mirror.Plane(), rename=rule).names == ("spine", "arm.r")
    raised = both.rest_rotations.copy()
    raised[1] = [0, 0, 0.6, 0.8]
    flipped, _ = rk.mirror.pose(both, mirror.Plane(), raised, rename=rule)
    again, _ = rk.mirror.pose(both, mirror.Plane(), flipped, rename=rule)
    np.testing.assert_allclose(np.abs(again), np.abs(raised), atol=1e-12)
    assert rk.rotation.angle(flipped[2], both.rest_rotations[2]) > 1


def test_mirrored_weights_pose_the_mirror_image():
    # a symmetric mesh with one-sided weights: mirrored weights under the mirrored pose give the mirror image
    plane = mirror.Plane()
    both = mirror.complete(rk.Skeleton(["body", "left_arm"], [-1, 0], [[0, 0, 0], [0.3, 0, 0]]), plane)
    points = cloud(np.random.default_rng(8), plane, 20)
    weights = np.random.default_rng(9).dirichlet([1, 1, 1], len(points))
    partner, other = symmetry.partners(points, plane).partner, mirror.counterparts(both.names)
    joints = np.tile(np.arange(3), (len(points), 1))
    turns = rotation.from_vector(np.random.default_rng(10).normal(size=(3, 3)))
    moved = rk.binding.linear_blend(points, joints, weights, *rk.binding.skinning_transforms(both, turns))
    flipped = rk.binding.skinning_transforms(both, *mirror.pose(both, plane, turns))
    image = rk.binding.linear_blend(points, joints, symmetry.weights(weights, partner, other), *flipped)
    assert np.allclose(image, mirror.points(moved, plane)[partner], atol=1e-12)


@pytest.mark.parametrize(
    "call, text",
    [
        (
            lambda: symmetry.best_plane(RNG.normal(size=(50, 3))),
            r"the best plane gives .* of 50 points a partner within 0.001 m; expected half or more",
        ),
        (lambda: symmetry.best_plane(np.zeros((0, 3))), r"points has shape \(0, 3\); expected \(N, 3\), one point or more"),
        (lambda: symmetry.best_plane([1, 2, 3]), r"points has shape \(3,\); expected \(N, 3\)"),
        (lambda: symmetry.partners([[0, 0, 0]], mirror.Plane(), 0), "tolerance is 0; expected metres above 0"),
        (lambda: symmetry.snap([0, 0, 0], mirror.Plane(), -1), "within is -1; expected metres above 0"),
        (
            lambda: symmetry.plane_of_pairs([[1, 0, 0]], [[1, 0, 0]]),
            "every point is its own partner; expected pairs on two sides of a plane",
        ),
        (lambda: symmetry.plane_of_pairs([[1, 0, 0]], [[1, 0, 0]] * 2), r"left \(1, 3\) and right \(2, 3\) do not fit"),
        (lambda: symmetry.weights([[1.0]], [-1], [0]), r"partner\[0\] is missing; expected one for each"),
        (lambda: symmetry.weights([[1.0]], [0, 0], [0]), r"weights has shape \(1, 1\); expected \(2, 1\)"),
    ],
)
def test_errors_say_what_came_and_what_was_expected(call, text):
    with pytest.raises(ValueError, match=text):
        call()
