"""Binding: rest comes back, rigid motion commutes, twists lose what the law says, dual quaternions with the right signs, weights."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import RigidTransform, Rotation

import rigkit as rk
from rigkit import binding, rotation, skinning
from tests.strategies import apart, random_turns, skeletons, turns, vectors

RNG = np.random.default_rng(11)
BLENDS = {
    "linear, readable": binding.linear_blend,
    "dual quaternion, readable": binding.dual_quaternion,
    "linear, bound": lambda v, j, w, r, t: skinning.bind(v, j, w).linear_blend(r, t),
    "dual quaternion, bound": lambda v, j, w, r, t: skinning.bind(v, j, w).dual_quaternion(r, t),
}
EVERY_BLEND = pytest.mark.parametrize("blend", BLENDS.values(), ids=BLENDS)


def bound(rng, count=60, joints=5, most=3):
    """A random mesh: vertices, joints and weights."""
    weights = rng.uniform(0.01, 1, (count, most))
    places = np.array([rng.permutation(joints)[:most] for _ in range(count)])
    return rng.normal(size=(count, 3)), places, weights / weights.sum(axis=1, keepdims=True)


def transforms(rng, *shape):
    return random_turns(rng, *shape), rng.normal(size=(*shape, 3))


MESH = bound(RNG)


# ---------------------------------------------------------------- both blends


@given(skeletons(), st.integers(0, 2**32 - 1))
def test_bind_and_return_leaves_the_rest_untouched(skeleton, seed):
    count = len(skeleton)
    mesh = bound(np.random.default_rng(seed), 20, count, min(3, count))
    rest = binding.skinning_transforms(skeleton)
    for blend in BLENDS.values():
        assert np.allclose(blend(*mesh, *rest), mesh[0], atol=1e-12)


@EVERY_BLEND
def test_one_joint_carries_its_part_rigidly(blend):
    r, t = transforms(RNG, 4)
    vertices = RNG.normal(size=(10, 3))
    moved = blend(vertices, *binding.rigid_weights(10, 2), r, t)
    assert np.allclose(moved, rotation.rotate(r[2], vertices) + t[2], atol=1e-13)


@EVERY_BLEND
def test_a_rigid_motion_of_all_joints_moves_the_whole_mesh_alike(blend):
    r, t = transforms(RNG, 5)
    q, v = random_turns(RNG), RNG.normal(size=3)
    after = blend(*MESH, rotation.multiply(q, r), rotation.rotate(q, t) + v)
    assert np.allclose(after, rotation.rotate(q, blend(*MESH, r, t)) + v, atol=1e-11)


@EVERY_BLEND
def test_the_sign_of_a_quaternion_is_not_seen(blend):
    r, t = transforms(RNG, 5)
    signs = np.array([1, -1, 1, -1, -1])[:, None]
    assert np.allclose(blend(*MESH, r * signs, t), blend(*MESH, r, t), atol=1e-12)


@EVERY_BLEND
def test_a_batch_of_poses_equals_a_loop(blend):
    r, t = transforms(RNG, 2, 3, 5)
    batch = blend(*MESH, r, t)
    assert batch.shape == (2, 3, 60, 3)
    for i, j in np.ndindex(2, 3):
        assert np.allclose(batch[i, j], blend(*MESH, r[i, j], t[i, j]), atol=1e-13)


@EVERY_BLEND
def test_the_order_of_vertices_does_not_matter(blend):
    r, t = transforms(RNG, 5)
    order = RNG.permutation(60)
    assert np.allclose(blend(*(part[order] for part in MESH), r, t), blend(*MESH, r, t)[order], atol=1e-13)


@EVERY_BLEND
def test_a_mesh_without_vertices_is_no_error(blend):
    assert blend(np.zeros((0, 3)), np.zeros((0, 2), int), np.zeros((0, 2)), *transforms(RNG, 3)).shape == (0, 3)


@pytest.mark.parametrize("way", ["linear_blend", "dual_quaternion"])
@pytest.mark.parametrize("seed", range(5))
def test_the_bound_mesh_equals_the_readable_form(way, seed):
    rng = np.random.default_rng(seed)
    mesh, pose = bound(rng, 500, 12, 4), transforms(rng, 12)
    readable = getattr(binding, way)(*mesh, *pose)
    assert np.allclose(getattr(skinning.bind(*mesh), way)(*pose), readable, atol=1e-12)


def test_a_joint_named_twice_in_a_row_counts_with_both_weights():
    pose = transforms(RNG, 3)
    twice = [[1, 2, 1]], [[0.25, 0.5, 0.25]]
    once = [[1, 2]], [[0.5, 0.5]]
    for way in ("linear_blend", "dual_quaternion"):
        assert np.allclose(getattr(skinning.bind([[1, 2, 3]], *once), way)(*pose), getattr(binding, way)([[1, 2, 3]], *once, *pose))
    assert np.allclose(binding.linear_blend([[1, 2, 3]], *twice, *pose), binding.linear_blend([[1, 2, 3]], *once, *pose))
    assert np.allclose(skinning.bind([[1, 2, 3]], *twice).linear_blend(*pose), binding.linear_blend([[1, 2, 3]], *once, *pose))


def test_linear_blend_is_the_weighted_mean_of_the_moved_points():
    r, t = transforms(RNG, 5)
    vertices, joints, weights = MESH
    each = np.einsum("vkij,vj->vki", rotation.to_matrix(r)[joints], vertices) + t[joints]
    assert np.allclose(binding.linear_blend(*MESH, r, t), np.average(each, axis=1, weights=np.broadcast_to(weights[..., None], each.shape)))


# ---------------------------------------------------------------- skinning transforms


@given(skeletons(), st.integers(0, 2**32 - 1))
def test_skinning_transforms_are_the_pose_times_the_inverse_bind(skeleton, seed):
    r = random_turns(np.random.default_rng(seed), len(skeleton))
    turn, move = binding.skinning_transforms(skeleton, r)
    expected = skeleton.forward(r).matrices @ np.linalg.inv(skeleton.rest_world.matrices)
    assert np.allclose(rotation.to_matrix(turn), expected[:, :3, :3], atol=1e-12)
    assert np.allclose(move, expected[:, :3, 3], atol=1e-10)


def test_a_part_on_a_joint_keeps_its_place_in_that_joint():
    arm = rk.Skeleton(["upper", "fore"], [-1, 0], [[0, 1, 0], [0.3, 0, 0]])
    bent = np.array([rotation.IDENTITY, rotation.from_axis_angle([0, 0, 1], np.pi / 2)])
    moved = binding.linear_blend([[0.5, 1, 0]], [[1]], [[1]], *binding.skinning_transforms(arm, bent))
    assert np.allclose(moved, [[0.3, 1.2, 0]])  # by hand: 0.2 beyond the elbow at (0.3, 1, 0), now straight up


# ---------------------------------------------------------------- dual quaternions


@pytest.mark.parametrize("degrees", [0, 60, 120, 170, 179, 190, 240, 300])
def test_half_and_half_is_half_the_twist_the_shorter_way(degrees):
    # a sum that does not care for signs blends 170 and 190 degrees to nothing; the shorter way of 190 is -170
    twist = rotation.from_axis_angle([0, 0, 1], np.radians([0, degrees]))
    x, y, z = binding.dual_quaternion([[1, 0, 0.5]], [[0, 1]], [[0.5, 0.5]], twist, np.zeros((2, 3)))[0]
    half = np.radians(degrees if degrees < 180 else degrees - 360) / 2
    assert np.allclose([x, y, z], [np.cos(half), np.sin(half), 0.5], atol=1e-12)


@given(turns(), turns(), vectors(), vectors(), vectors())
def test_dual_quaternions_keep_distances_within_equal_weights(p, q, s, t, v):
    points = np.array([v, [0.1, 0.2, 0.3], [-1, 0, 2]])
    moved = binding.dual_quaternion(points, [[0, 1]] * 3, [[0.6, 0.4]] * 3, [p, q], [s, t])
    assert np.allclose(np.linalg.norm(moved[1:] - moved[0], axis=1), np.linalg.norm(points[1:] - points[0], axis=1), atol=1e-9)


def test_signs_follow_the_main_joint_not_the_first():
    # two joints a bit over a half turn apart, and a third between: with the main joint last, signs are taken from it
    angles = np.radians([-100, 100, 10])
    twist = rotation.from_axis_angle([0, 0, 1], angles)
    moved = binding.dual_quaternion([[1, 0, 0]], [[0, 1, 2]], [[0.2, 0.2, 0.6]], twist, np.zeros((3, 3)))[0]
    # 0.2 each of -55 and 45 half-degrees either side of the main one: the mean leans a little below 10 degrees
    mean = np.angle(0.2 * np.exp(1j * angles[0] / 2) + 0.2 * np.exp(1j * angles[1] / 2) + 0.6 * np.exp(1j * angles[2] / 2))
    assert np.allclose(moved, [np.cos(2 * mean), np.sin(2 * mean), 0], atol=1e-12)


@pytest.mark.source("SciPy")
def test_dual_quaternions_as_in_scipy():
    r, t = transforms(RNG, 50)
    theirs = RigidTransform.from_components(t, Rotation.from_quat(r)).as_dual_quat(scalar_first=False)
    ours = np.concatenate(binding.dual_quaternions(r, t), axis=1)
    theirs *= np.sign(np.einsum("ij,ij->i", ours[:, :4], theirs[:, :4]))[:, None]  # both signs are the same motion
    assert np.allclose(ours, theirs, atol=1e-13)


@pytest.mark.source("SciPy")
def test_a_blend_of_nearby_motions_as_scipy_moves_points():
    turn, move = rotation.from_vector(RNG.uniform(-1, 1, (5, 3))), RNG.normal(size=(5, 3))  # signs all on one side
    vertices, joints, weights = MESH
    pairs = RigidTransform.from_components(move, Rotation.from_quat(turn)).as_dual_quat()
    blended = RigidTransform.from_dual_quat(np.einsum("vk,vki->vi", weights, pairs[joints]))
    assert np.allclose(binding.dual_quaternion(*MESH, turn, move), blended.apply(vertices), atol=1e-12)


# ---------------------------------------------------------------- weights


@given(st.lists(st.floats(-1, 2), min_size=1, max_size=30), st.integers(2, 5))
def test_sleeve_weights_add_up_to_one_over_two_joints_at_most(along, count):
    weights = binding.sleeve_weights(along, np.linspace(0, 1, count))
    assert np.allclose(weights.sum(axis=1), 1) and (weights >= 0).all() and ((weights > 0).sum(axis=1) <= 2).all()


def test_sleeve_weights_go_over_steadily_and_leave_their_stations_level():
    along = np.linspace(-0.1, 0.5, 601)
    weights = binding.sleeve_weights(along, [0.0, 0.15, 0.4])
    first, last = weights[:, 0], weights[:, -1]
    assert (np.diff(first) <= 1e-15).all() and (np.diff(last) >= -1e-15).all()
    assert np.allclose(binding.sleeve_weights([0, 0.15, 0.4], [0, 0.15, 0.4]), np.eye(3))
    assert np.abs(np.diff(weights[:, 0])[99:101] / np.diff(along)[99:101]).max() < 0.2  # slope near the station, where it starts from zero


def test_the_strongest_weights_are_kept_and_add_up_to_one():
    weights = RNG.uniform(0, 1, (50, 9))
    joints, kept = binding.strongest(weights)
    assert joints.shape == (50, 4) and np.allclose(kept.sum(axis=1), 1)
    assert np.allclose(np.sort(joints, axis=1), np.sort(np.argsort(weights, axis=1)[:, -4:], axis=1))
    few_joints, few = binding.strongest([[0.5, 0.5, 0, 0, 0]])
    assert few_joints[0].tolist() == [0, 1, 0, 0] and few[0].tolist() == [0.5, 0.5, 0, 0]


# ---------------------------------------------------------------- twist


@pytest.mark.source("Kavan et al.")
@pytest.mark.parametrize("weight", [0.0, 0.1, 0.25, 0.5, 0.8, 1.0])
@pytest.mark.parametrize("angle", np.radians([0, 30, 90, 150, 180]))
def test_a_linear_blend_of_a_twist_has_the_radius_of_the_law(angle, weight):
    twist = rotation.from_axis_angle([0, 0, 1], [0, angle])
    moved = binding.linear_blend([[1, 0, 0]], [[0, 1]], [[1 - weight, weight]], twist, np.zeros((2, 3)))
    assert np.linalg.norm(moved) == pytest.approx(binding.twist_radius(angle, weight), abs=1e-8)


@given(turns(), st.lists(st.floats(0.1, 1), min_size=1, max_size=6))
def test_a_spread_twist_adds_up_to_the_twist(q, shares):
    axis = np.array([0.0, 0.6, 0.8])
    spread = binding.spread_twist(q, axis, np.array(shares) / sum(shares))
    whole = rotation.IDENTITY
    for turn in spread:
        whole = rotation.multiply(whole, turn)
    assert apart(whole, rotation.swing_twist(q, axis)[1]) < 1e-9


# ---------------------------------------------------------------- errors


V, J, W = np.zeros((3, 3)), np.zeros((3, 2), int), np.full((3, 2), 0.5)
R, T = np.tile(rotation.IDENTITY, (4, 1)), np.zeros((4, 3))


@EVERY_BLEND
@pytest.mark.parametrize(
    "change, text",
    [
        ({"v": V[None]}, r"vertices has shape \(1, 3, 3\); expected \(V, 3\): one mesh at a time"),
        ({"j": J[:2]}, r"joints \(2, 2\) and weights \(3, 2\) do not fit; expected \(3, K\) for both, a row a vertex"),
        ({"j": J.astype(float)}, "joints holds float64 numbers; expected integers, the places of joints in the skeleton"),
        ({"w": W * [[1], [1.2], [1]]}, r"weights\[1\] is \[0.6 0.6\]; expected weights of 0 or more that add up to 1: divide the row"),
        ({"w": W + [[0, 0], [0, 0], [1, -1]]}, r"weights\[2\] is \[ 1.5 -0.5\]; expected weights of 0 or more"),
        ({"t": T[:3]}, r"rotations \(4, 4\) and translations \(3, 3\) do not fit; expected \(..., J, 4\) and \(..., J, 3\)"),
        ({"r": R[0], "t": T[0]}, r"rotations \(4,\) and translations \(3,\) do not fit"),
        ({"r": 2 * R}, r"rotations at row \(0,\) has length 2"),
        ({"v": V + np.nan}, r"vertices at row \(0,\) is \[nan nan nan\]; expected finite numbers"),
    ],
)
def test_arguments_that_do_not_fit_are_told(blend, change, text):
    given = {"v": V, "j": J, "w": W, "r": R, "t": T} | change
    with pytest.raises(ValueError, match=text):
        blend(*given.values())


@pytest.mark.parametrize(
    "call, text",
    [
        (lambda: binding.linear_blend(V, J + [[0, 0], [0, 4], [0, 0]], W, R, T), r"joints\[1\] is \[0, 4\]; expected numbers from 0 to 3"),
        (lambda: binding.dual_quaternion(V, J - 1, W, R, T), r"joints\[0\] is \[-1, -1\]; expected numbers from 0 to 3"),
        (lambda: skinning.bind(V, J - 1, W), "joints holds -1; expected 0 or more, the places of joints in the skeleton"),
        (
            lambda: skinning.bind(V, J + 4, W).linear_blend(R, T),
            r"rotations has shape \(4, 4\); expected at least 5 joints: the mesh is bound to joint 4",
        ),
        (lambda: binding.sleeve_weights([0, 1], [0, 0]), r"stations is \[0. 0.\]; expected two or more rising numbers"),
        (lambda: binding.sleeve_weights([0, 1], [0]), "expected two or more rising numbers"),
        (lambda: binding.strongest([[0.5, 0.5], [0, 0]]), r"weights\[1\] are all 0; expected some weight for every vertex"),
        (lambda: binding.strongest([[0.5, 0.5]], most=0), "most is 0; expected 1 or more joints a vertex"),
        (lambda: binding.rigid_weights(-1, 0), "count is -1; expected 0 or more vertices"),
        (lambda: binding.strongest([[0.5, -0.5]]), r"weights has shape \(1, 2\), least -0.5; expected \(V, J\), none below 0"),
        (
            lambda: binding.spread_twist(rotation.IDENTITY, [1, 0, 0], [0.5, 0.4]),
            r"shares is \[0.5 0.4\]; expected numbers that add up to 1",
        ),
    ],
)
def test_errors_say_what_came_and_what_was_expected(call, text):
    with pytest.raises(ValueError, match=text):
        call()
