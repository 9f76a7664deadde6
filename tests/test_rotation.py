"""Rotations: the laws they keep, SciPy and transforms3d on the same input, and what their errors say."""

import numpy as np
import pytest
import transforms3d
from hypothesis import given
from scipy.spatial.transform import Rotation, Slerp

from rigkit import arithmetic, rotation
from tests.strategies import apart, directions, numbers, random_turns, turns, vectors

RNG = np.random.default_rng(20)
Q, P = random_turns(RNG, 300), random_turns(RNG, 300)
V = RNG.normal(size=(300, 3))
TIGHT = 1e-12


# ---------------------------------------------------------------- laws


@given(turns(), turns(), turns())
def test_the_product_is_associative(p, q, r):
    left = rotation.multiply(rotation.multiply(p, q), r)
    assert np.allclose(left, rotation.multiply(p, rotation.multiply(q, r)), atol=TIGHT)


@given(turns())
def test_a_turn_and_its_inverse_cancel(q):
    assert apart(rotation.multiply(q, rotation.invert(q)), rotation.IDENTITY) < TIGHT


@given(turns(), turns(), vectors())
def test_turning_twice_is_turning_by_the_product(p, q, v):
    assert np.allclose(rotation.rotate(p, rotation.rotate(q, v)), rotation.rotate(rotation.multiply(p, q), v), atol=1e-11)


@given(turns(), vectors(), vectors())
def test_turning_keeps_lengths_and_angles(q, a, b):
    assert np.isclose(np.dot(rotation.rotate(q, a), rotation.rotate(q, b)), np.dot(a, b), atol=1e-11)


@given(turns(), vectors())
def test_minus_q_is_the_same_turn(q, v):
    assert np.array_equal(rotation.rotate(-q, v), rotation.rotate(q, v))
    assert np.array_equal(rotation.to_matrix(-q), rotation.to_matrix(q))
    assert rotation.angle(q, -q) < TIGHT


@given(turns())
def test_matrix_and_back_is_the_same_turn(q):
    assert apart(rotation.from_matrix(rotation.to_matrix(q)), q) < 1e-11


@given(turns())
def test_axis_and_angle_and_back_is_the_same_turn(q):
    axis, angle = rotation.to_axis_angle(q)
    assert np.isclose(np.linalg.norm(axis), 1) and 0 <= angle <= np.pi + TIGHT
    assert apart(rotation.from_axis_angle(axis, angle), q) < TIGHT


@given(turns())
def test_rotation_vector_and_back_is_the_same_turn(q):
    assert apart(rotation.from_vector(rotation.to_vector(q)), q) < TIGHT


@given(turns(), turns(), numbers(0, 1))
def test_slerp_keeps_its_speed_and_the_shorter_way(p, q, t):
    whole = rotation.angle(p, q)
    assert np.isclose(rotation.angle(p, rotation.slerp(p, q, t)), t * whole, atol=1e-10)
    assert np.isclose(rotation.angle(q, rotation.slerp(p, q, t)), (1 - t) * whole, atol=1e-10)


@given(turns(), turns(), numbers(0, 1))
def test_slerp_does_not_see_the_sign(p, q, t):
    if rotation.angle(p, q) < 3.1:  # a half turn apart, the signs choose the way
        assert apart(rotation.slerp(p, -q, t), rotation.slerp(p, q, t)) < 1e-10


@given(turns(), directions())
def test_swing_times_twist_gives_the_turn_back(q, axis):
    swing, twist = rotation.swing_twist(q, axis)
    assert np.allclose(rotation.multiply(swing, twist), q, atol=TIGHT)
    assert np.allclose(rotation.rotate(twist, axis), axis, atol=TIGHT)
    assert swing[3] >= 0


@given(turns(), directions())
def test_the_axis_of_the_swing_is_square_to_the_twist_axis(q, axis):
    swing, twist = rotation.swing_twist(q, axis)
    if rotation.angle(swing, rotation.IDENTITY) < 3.14:  # at a half turn every twist would do
        assert abs(np.dot(swing[:3], axis)) < 1e-9


@given(directions(), directions())
def test_between_takes_one_direction_to_the_other_by_their_angle(a, b):
    q = rotation.between(a, b)
    assert np.allclose(rotation.rotate(q, a), b, atol=TIGHT)
    assert np.isclose(rotation.angle(q, rotation.IDENTITY), 2 * np.arctan2(np.linalg.norm(a - b), np.linalg.norm(a + b)), atol=1e-11)


@pytest.mark.parametrize("lean", [0.0, 1e-16, 1e-13, 1e-11, 1e-9, 1e-8, 1e-6, 1e-3])
def test_between_is_exact_near_opposite_directions(lean):
    a = V / np.linalg.norm(V, axis=1, keepdims=True)
    b = -a + lean * rotation.perpendicular(a)
    b /= np.linalg.norm(b, axis=1, keepdims=True)
    assert np.abs(rotation.rotate(rotation.between(a, b), a) - b).max() < 1e-14


@given(vectors().filter(lambda v: np.linalg.norm(v) > 1e-6))
def test_perpendicular_is_square_and_of_unit_length(v):
    side = rotation.perpendicular(v)
    assert abs(np.dot(side, v)) < 1e-14 * np.linalg.norm(v) + 1e-300
    assert np.isclose(np.linalg.norm(side), 1)


def test_tiny_angles_keep_their_digits():
    for tiny in (1e-5, 1e-8, 1e-12, 1e-15):
        q = rotation.from_axis_angle([1, 2, 3], tiny)
        assert rotation.angle(q, rotation.IDENTITY) == pytest.approx(tiny, rel=1e-9, abs=1e-16)
        assert rotation.to_axis_angle(q)[1] == pytest.approx(tiny, rel=1e-9)


def test_the_identity_has_the_axis_x_and_no_angle():
    axis, angle = rotation.to_axis_angle(rotation.IDENTITY)
    assert axis.tolist() == [1, 0, 0] and angle == 0
    assert rotation.to_vector(rotation.IDENTITY).tolist() == [0, 0, 0]


def test_a_reversed_axis_leaves_the_twist_at_the_identity():
    swing, twist = rotation.swing_twist(rotation.from_axis_angle([0, 1, 0], np.pi), [1, 0, 0])
    assert apart(twist, rotation.IDENTITY) < 1e-9
    assert apart(swing, rotation.from_axis_angle([0, 1, 0], np.pi)) < 1e-9


@pytest.mark.parametrize("angle", np.radians([-179, -90, -1, 0, 1, 90, 179]))
def test_twist_angle_reads_a_twist_under_a_swing(angle):
    swing = rotation.from_axis_angle([0, 1, 0], 1.1)
    q = rotation.multiply(swing, rotation.from_axis_angle([1, 0, 0], angle))
    assert rotation.twist_angle(q, [1, 0, 0]) == pytest.approx(angle, abs=1e-12)
    assert rotation.twist_angle(-q, [1, 0, 0]) == pytest.approx(angle, abs=1e-12)


def test_align_brings_a_walk_of_quaternions_to_one_side():
    walk = rotation.from_axis_angle([0, 0, 1], np.linspace(0, 4 * np.pi, 50))
    flips = walk * np.where(np.arange(50) % 3 == 0, -1, 1)[:, None]
    assert (np.einsum("ij,ij->i", rotation.align(flips, walk), walk) > 0).all()
    assert apart(rotation.align(flips, walk), walk) < TIGHT


def test_blend_of_two_equal_shares_is_the_middle_of_the_shorter_way():
    middle = rotation.blend(np.stack([P, -Q], axis=1), [0.5, 0.5])
    assert apart(middle, rotation.slerp(P, Q, 0.5)) < 1e-8


# ---------------------------------------------------------------- one item or a batch


ONE_AND_MANY = {
    "multiply": (rotation.multiply, P, Q),
    "invert": (rotation.invert, Q),
    "rotate": (rotation.rotate, Q, V),
    "normalise": (rotation.normalise, 3 * Q),
    "align": (rotation.align, P, Q),
    "angle": (rotation.angle, P, Q),
    "from_axis_angle": (rotation.from_axis_angle, V, V[:, 0]),
    "to_axis_angle": (lambda q: np.concatenate([rotation.to_axis_angle(q)[0], rotation.to_axis_angle(q)[1][..., None]], axis=-1), Q),
    "from_vector": (rotation.from_vector, V),
    "to_vector": (rotation.to_vector, Q),
    "to_matrix": (rotation.to_matrix, Q),
    "from_matrix": (rotation.from_matrix, rotation.to_matrix(Q)),
    "slerp": (rotation.slerp, P, Q, V[:, 0]),
    "between": (rotation.between, V, P[:, :3]),
    "swing_twist": (lambda q, v: np.stack(rotation.swing_twist(q, v)[::-1], axis=-2), Q, V),
    "twist_angle": (rotation.twist_angle, Q, V),
    "perpendicular": (rotation.perpendicular, V),
    "blend": (rotation.blend, np.stack([P, Q], axis=1), np.abs(V[:, :2])),
}


@pytest.mark.parametrize("name", ONE_AND_MANY)
def test_a_batch_equals_a_loop(name):
    call, *inputs = ONE_AND_MANY[name]
    loop = np.array([call(*row) for row in zip(*inputs, strict=True)])
    assert np.allclose(call(*inputs), loop, atol=1e-14, rtol=0)


@pytest.mark.parametrize("name", ONE_AND_MANY)
def test_two_leading_axes_and_an_empty_batch_work(name):
    call, *inputs = ONE_AND_MANY[name]
    flat = call(*inputs)
    grid = call(*(value.reshape(20, 15, *value.shape[1:]) for value in inputs))
    assert np.allclose(grid, flat.reshape(20, 15, *flat.shape[1:]), atol=1e-14, rtol=0)
    assert call(*(value[:0] for value in inputs)).shape == flat[:0].shape


@pytest.mark.parametrize("name", ONE_AND_MANY)
def test_arguments_are_left_as_they_were(name):
    call, *inputs = ONE_AND_MANY[name]
    copies = [value.copy() for value in inputs]
    result = call(*copies)
    assert all(np.array_equal(copy, value) for copy, value in zip(copies, inputs, strict=True))
    assert not any(np.shares_memory(result, copy) for copy in copies)


def test_one_turn_works_on_many_vectors():
    assert np.allclose(rotation.rotate(Q[0], V), V @ rotation.to_matrix(Q[0]).T, atol=1e-14)


def test_float32_quaternions_of_a_file_are_taken():
    assert apart(rotation.multiply(Q.astype(np.float32), rotation.IDENTITY), Q) < 1e-6


# ---------------------------------------------------------------- SciPy and transforms3d on the same input


@pytest.mark.source("SciPy")
def test_products_turns_and_inverses_as_in_scipy():
    p, q = Rotation.from_quat(P), Rotation.from_quat(Q)
    assert apart(rotation.multiply(P, Q), (p * q).as_quat()) < TIGHT
    assert apart(rotation.invert(Q), q.inv().as_quat()) < TIGHT
    assert np.allclose(rotation.rotate(Q, V), q.apply(V), atol=1e-14)
    assert np.allclose(rotation.angle(P, Q), (p.inv() * q).magnitude(), atol=1e-12)


@pytest.mark.source("SciPy", "transforms3d")
def test_matrices_as_in_scipy_and_transforms3d():
    assert np.allclose(rotation.to_matrix(Q), Rotation.from_quat(Q).as_matrix(), atol=1e-14)
    assert apart(rotation.from_matrix(Rotation.from_quat(Q).as_matrix()), Q) < TIGHT
    wxyz = [transforms3d.quaternions.quat2mat([q[3], *q[:3]]) for q in Q]
    assert np.allclose(rotation.to_matrix(Q), wxyz, atol=1e-14)


@pytest.mark.source("SciPy")
def test_from_matrix_is_exact_where_the_trace_is_small():
    turns = rotation.from_axis_angle(V, np.pi - np.geomspace(1e-15, 1e-3, 300))
    assert apart(rotation.from_matrix(Rotation.from_quat(turns).as_matrix()), turns) < 1e-14


@pytest.mark.source("SciPy")
def test_rotation_vectors_as_in_scipy():
    assert np.allclose(rotation.to_vector(Q), Rotation.from_quat(Q).as_rotvec(), atol=1e-13)
    assert apart(rotation.from_vector(V), Rotation.from_rotvec(V).as_quat()) < TIGHT
    assert apart(rotation.from_vector(1e-9 * V), Rotation.from_rotvec(1e-9 * V).as_quat()) < 1e-16


@pytest.mark.source("transforms3d")
def test_axis_and_angle_as_in_transforms3d():
    theirs = [transforms3d.quaternions.axangle2quat(v, 0.7) for v in V]
    assert apart(rotation.from_axis_angle(V, 0.7), np.roll(theirs, -1, axis=1)) < TIGHT


@pytest.mark.source("SciPy")
def test_slerp_as_in_scipy():
    for p, q in zip(P[:20], Q[:20], strict=True):
        t = np.linspace(0, 1, 7)
        assert apart(rotation.slerp(p, q, t), Slerp([0, 1], Rotation.from_quat([p, q]))(t).as_quat()) < 1e-12


@pytest.mark.source("SciPy")
def test_blend_is_the_weighted_mean_of_scipy():
    many = random_turns(RNG, 30, 5)
    weights = RNG.uniform(0.1, 1, (30, 5))
    theirs = [Rotation.from_quat(q).mean(weights=w).as_quat() for q, w in zip(many, weights, strict=True)]
    assert apart(rotation.blend(many, weights), theirs) < 1e-8


# ---------------------------------------------------------------- errors


HALF = [0.0, 0.0, 0.0, 0.5]
REFLECTION = np.diag([1.0, 1.0, -1.0])


@pytest.mark.parametrize(
    "call, text",
    [
        (lambda: rotation.multiply([0, 0, 1], Q), r"p has shape \(3,\); expected \(..., 4\): give one item or a batch of them"),
        (
            lambda: rotation.multiply(Q[:2], Q[:3]),
            r"batch shapes do not fit together: p \(2,\), q \(3,\); expected equal leading axes, or 1",
        ),
        (lambda: rotation.rotate([Q[0], HALF], V[:2]), r"q at row \(1,\) has length 0.5; expected 1 within 0.001"),
        (lambda: rotation.rotate(Q[0], [0, np.nan, 0]), r"v is \[ 0. nan 0.\]; expected finite numbers"),
        (lambda: rotation.normalise([[0, 0, 0, 1], [0, 0, 0, 0]]), r"q at row \(1,\) has length 0; expected a quaternion that is not zero"),
        (lambda: rotation.from_axis_angle([0, 0, 0], 1), "axis has length 0; expected a direction: give a vector that is not zero"),
        (lambda: rotation.between([1, 0, 0], [[1, 0, 0], [0, 0, 0]]), r"b at row \(1,\) has length 0"),
        (
            lambda: rotation.from_matrix(2 * np.eye(3)),
            r"m is no rotation: M\^T M differs from the identity by 3; .* take scale and shear out first",
        ),
        (
            lambda: rotation.from_matrix([np.eye(3), REFLECTION]),
            r"m at row \(1,\) is a reflection: its determinant is -1; expected 1: turn one axis round",
        ),
        (lambda: rotation.from_matrix(np.eye(4)), r"m has shape \(4, 4\); expected \(..., 3, 3\)"),
        (lambda: rotation.blend(Q[:3], [1, 1]), r"weights has shape \(2,\) for rotations \(3, 4\); expected \(..., K\) for \(..., K, 4\)"),
        (lambda: rotation.blend(Q[:2], [1, -2]), "weights are negative or add up to zero"),
        (lambda: rotation.blend(Q[:2], [0, 0]), "weights are negative or add up to zero"),
        (lambda: rotation.swing_twist(Q, [0, 0, 0]), "axis has length 0"),
        (lambda: rotation.slerp(Q[0], Q[1], np.inf), "t is inf; expected finite numbers"),
        (lambda: rotation.to_matrix("turn"), r"q is 'turn'; expected numbers of shape \(..., 4\)"),
    ],
)
def test_errors_say_what_came_and_what_was_expected(call, text):
    with pytest.raises(ValueError, match=text):
        call()




# ---------------------------------------------------------------- large batches


@pytest.mark.parametrize("name", ["multiply", "rotate", "to_matrix", "from_matrix", "between", "swing_twist"])
def test_a_batch_of_more_than_one_block_equals_its_parts(name):
    """But for the last digit: a large batch is worked out by a faster form, which adds up in another order."""
    call, *inputs = ONE_AND_MANY[name]
    many = 2 * arithmetic.BLOCK // 300 + 1
    large = call(*(np.concatenate([value] * many) for value in inputs))
    assert len(large) > 2 * arithmetic.BLOCK
    assert np.allclose(large, np.concatenate([call(*inputs)] * many), rtol=0, atol=4e-15)


@given(turns(), turns())
def test_the_product_of_many_by_complex_numbers_equals_the_readable_form(p, q):
    many = [np.tile(x, (arithmetic.BLOCK + 1, 1)) / np.linalg.norm(x) for x in (p, q)]
    found = arithmetic.unit_product(*many)
    assert np.allclose(found, arithmetic.product(*many), rtol=0, atol=1e-15)


@given(turns())
def test_the_turn_of_many_matrices_equals_the_readable_form(q):
    rows = rotation.to_matrix(q).reshape(9, 1)
    assert np.allclose(arithmetic.turn_rows(rows), rotation._largest_row(rows), rtol=0, atol=1e-15)


def test_the_turn_of_many_matrices_breaks_ties_as_the_readable_form_does():
    """The 24 turns of a cube: several components are the largest at once."""
    quarters = [rotation.from_euler("XYZ", np.radians([a, b, c])) for a in range(0, 360, 90) for b in range(0, 360, 90) for c in (0, 90)]
    rows = rotation.to_matrix(quarters).round().reshape(-1, 9).T
    assert np.allclose(arithmetic.turn_rows(rows), rotation._largest_row(rows), rtol=0, atol=1e-15)


@pytest.mark.parametrize("call", [rotation.to_matrix, lambda q: rotation.multiply(q, q), lambda q: rotation.rotate(q, [1, 2, 3])])
def test_a_large_batch_is_checked_as_a_small_one_is(call):
    large = np.tile([0.0, 0.0, 0.6, 0.8], (arithmetic.BLOCK + 2, 1))
    large[-1] *= 1.0005
    assert np.allclose(call(large)[-1], call(large[0]), atol=1e-15)
    for wrong, text in ((1.1, "has length"), (np.nan, "expected finite")):
        large[-1, 3] = wrong
        with pytest.raises(ValueError, match=rf"at row \({arithmetic.BLOCK + 1},\) .*{text}"):
            call(large)


def test_a_large_batch_of_matrices_is_checked_as_a_small_one_is():
    large = np.tile(np.eye(3), (arithmetic.BLOCK + 2, 1, 1))
    for wrong, text in ((1.1, "no rotation"), (-1.0, "reflection"), (np.inf, "expected finite")):
        large[-1, 2, 2] = wrong
        with pytest.raises(ValueError, match=rf"m at row \({arithmetic.BLOCK + 1},\) .*{text}"):
            rotation.from_matrix(large)


def test_one_item_against_a_large_batch():
    large = np.concatenate([Q] * 30)
    assert np.array_equal(rotation.multiply(P[0], large)[-300:], rotation.multiply(P[0], Q))
    assert np.array_equal(rotation.multiply(P[:1], large)[-300:], rotation.multiply(P[0], Q))
    assert np.array_equal(rotation.to_euler("XYZ", large)[-300:], rotation.to_euler("XYZ", Q))
