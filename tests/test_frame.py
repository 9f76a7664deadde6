"""Rigid frames: composed, inverted, there and back, SciPy on the same input, and frames from a bone and its hinge."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.spatial.transform import RigidTransform, Rotation

from rigkit import frame, rotation
from tests.strategies import apart, directions, random_turns, turns, vectors

RNG = np.random.default_rng(7)
A = random_turns(RNG, 50), RNG.normal(size=(50, 3))
B = random_turns(RNG, 50), RNG.normal(size=(50, 3))
P = RNG.normal(size=(50, 3))


def frames():
    return st.tuples(turns(), vectors())


def scipy(pair):
    return RigidTransform.from_components(pair[1], Rotation.from_quat(pair[0]))


@given(frames(), frames(), vectors())
def test_a_composed_frame_takes_points_as_the_two_in_a_row(a, b, p):
    assert np.allclose(frame.to_world(frame.compose(a, b), p), frame.to_world(a, frame.to_world(b, p)), atol=1e-11)


@given(frames())
def test_a_frame_and_its_inverse_cancel(a):
    turn, origin = frame.compose(a, frame.invert(a))
    assert apart(turn, rotation.IDENTITY) < 1e-12 and np.allclose(origin, 0, atol=1e-12)


@given(frames(), vectors())
def test_to_the_frame_and_back_is_the_same_point(a, p):
    assert np.allclose(frame.to_world(a, frame.to_local(a, p)), p, atol=1e-12)
    assert np.allclose(frame.to_local(a, p), frame.to_world(frame.invert(a), p), atol=1e-12)


@pytest.mark.source("SciPy")
def test_frames_as_rigid_transforms_of_scipy():
    assert np.allclose(frame.to_matrix(frame.compose(A, B)), (scipy(A) * scipy(B)).as_matrix(), atol=1e-13)
    assert np.allclose(frame.to_matrix(frame.invert(A)), scipy(A).inv().as_matrix(), atol=1e-13)
    assert np.allclose(frame.to_world(A, P), scipy(A).apply(P), atol=1e-13)
    assert np.allclose(frame.to_local(A, P), scipy(A).inv().apply(P), atol=1e-13)


def test_matrix_and_back_is_the_same_frame():
    turn, origin = frame.from_matrix(frame.to_matrix(A))
    assert apart(turn, A[0]) < 1e-12 and np.array_equal(origin, A[1])


def test_one_frame_takes_many_points():
    one = A[0][0], A[1][0]
    assert np.allclose(frame.to_world(one, P), P @ rotation.to_matrix(one[0]).T + one[1], atol=1e-14)


@given(directions(), directions())
def test_a_bone_frame_has_x_along_the_bone_and_z_on_the_hinge(bone, hinge):
    assume(np.linalg.norm(np.cross(bone, hinge)) > 1e-3)
    m = rotation.to_matrix(frame.from_bone(0.3 * bone, hinge))
    assert np.allclose(m[:, 0], bone, atol=1e-12)
    assert abs(m[:, 1] @ hinge) < 1e-12 and m[:, 2] @ hinge > 0
    assert np.isclose(np.linalg.det(m), 1)


def test_bending_about_z_swings_the_bone_towards_y():
    # the frame's promise for a limb: a positive turn about the hinge carries x towards y (right-hand rule)
    q = frame.from_bone([1, 0, 0], [0, 0, 1])
    bent = rotation.multiply(q, rotation.from_axis_angle([0, 0, 1], 0.5))
    assert np.allclose(rotation.rotate(bent, [1, 0, 0]), [np.cos(0.5), np.sin(0.5), 0])


def test_a_bone_frame_near_parallel_is_still_exact():
    bone, hinge = np.array([1.0, 2, 3]), np.array([1.0, 2, 3 + 1e-6])
    m = rotation.to_matrix(frame.from_bone(bone, hinge))
    assert np.allclose(m.T @ m, np.eye(3), atol=1e-14) and np.allclose(m[:, 0], bone / np.linalg.norm(bone), atol=1e-14)


def test_axes_make_the_frame_with_those_columns():
    m = rotation.to_matrix(A[0])
    assert apart(frame.from_axes(m[..., 0], m[..., 1], m[..., 2]), A[0]) < 1e-12


@pytest.mark.parametrize(
    "call, text",
    [
        (lambda: frame.compose(A, 3), r"b is 3; expected a pair \(rotation \(..., 4\), position \(..., 3\)\)"),
        (lambda: frame.invert(([0, 0, 1], [0, 0, 0])), r"frame\[0\] has shape \(3,\); expected \(..., 4\)"),
        (lambda: frame.to_world(A, [1, 2]), r"points has shape \(2,\); expected \(..., 3\)"),
        (lambda: frame.invert((A[0][:2], A[1][:3])), r"batch shapes do not fit together: rotation \(2,\), position \(3,\)"),
        (lambda: frame.to_world(A, P[:3]), r"batch shapes do not fit together: frame \(50,\), points \(3,\)"),
        (lambda: frame.compose(A, (B[0][:2], B[1][:2])), r"batch shapes do not fit together: a \(50,\), b \(2,\)"),
        (lambda: frame.from_matrix(np.eye(4).T + np.eye(4, k=-3)), r"m has the last row \[1.0, 0.0, 0.0, 1.0\]; expected 0, 0, 0, 1"),
        (lambda: frame.from_matrix(np.diag([2.0, 2, 2, 1])), "m is no rotation"),
        (lambda: frame.from_bone([0, 0, 0], [1, 0, 0]), "axis has length 0"),
        (
            lambda: frame.from_bone([[0, 1, 0]] * 2, [[1, 0, 0], [0, 2, 0]]),
            r"hinge at row \(1,\) runs along the bone; expected a hinge axis across it",
        ),
        (lambda: frame.from_axes([1, 0, 0], [0, 1, 0], [0, 0, -1]), "is a reflection: its determinant is -1"),
    ],
)
def test_errors_say_what_came_and_what_was_expected(call, text):
    with pytest.raises(ValueError, match=text):
        call()
