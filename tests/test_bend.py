"""Bend angle and normal: exact at both ends, right-handed, and what a straight limb is told."""

import numpy as np
import pytest
from hypothesis import assume, given
from transforms3d.euler import euler2mat

from rigkit import bend, rotation
from tests.strategies import directions, numbers, turns, vectors


@pytest.mark.parametrize("angle", [0, 1e-12, 1e-8, 1e-4, 0.5, np.pi / 2, 3, np.pi - 1e-8, np.pi - 1e-12, np.pi])
def test_the_angle_keeps_its_digits_from_straight_to_folded(angle):
    c = [1 + 2 * np.cos(angle), 2 * np.sin(angle), 0]
    assert bend.angle([0, 0, 0], [1, 0, 0], c) == pytest.approx(angle, abs=1e-15, rel=1e-9)


@pytest.mark.parametrize("sides, inner", [((3, 4, 5), 90), ((5, 8, 7), 60), ((3, 5, 7), 120), ((1, 1, 2**0.5), 90), ((1, 1, 3**0.5), 120)])
def test_the_bend_is_what_the_inner_angle_lacks_to_180(sides, inner):
    # Euclid, Elements II.12-13: the inner angle of a triangle with these sides, opposite the last one
    a, b, reach = sides
    x = (a * a + reach * reach - b * b) / (2 * reach)
    middle = [x, np.sqrt(a * a - x * x), 0]
    assert np.degrees(bend.angle([0, 0, 0], middle, [reach, 0, 0])) == pytest.approx(180 - inner, abs=1e-9)


@given(vectors(), directions(), directions(), numbers(0.1, 3), numbers(0.1, 3))
def test_turning_the_first_bone_about_the_normal_by_the_angle_lines_it_up(a, u, v, first, second):
    assume(np.linalg.norm(np.cross(u, v)) > 1e-3)
    b = a + first * u
    c = b + second * v
    turned = rotation.rotate(rotation.from_axis_angle(bend.normal(a, b, c), bend.angle(a, b, c)), u)
    assert np.allclose(turned, v, atol=1e-9)


@given(turns(), vectors(), numbers(0.05, 3.0))
def test_a_rigid_motion_turns_the_normal_and_keeps_the_angle(q, move, angle):
    limb = np.array([[0, 0, 0], [1, 0, 0], [1 + np.cos(angle), np.sin(angle), 0]])
    moved = rotation.rotate(q, limb) + move
    assert bend.angle(*moved) == pytest.approx(angle, abs=1e-9)
    assert np.allclose(bend.normal(*moved), rotation.rotate(q, [0, 0, 1]), atol=1e-9)


def test_an_arm_turned_by_another_library_has_the_normal_it_gives():
    m = euler2mat(0.3, -0.8, 1.9)
    limb = np.array([[0, 0, 0], [0.3, 0, 0], [0.5, -0.2, 0]]) @ m.T
    assert np.allclose(bend.normal(*limb), -m[:, 2], atol=1e-12)


def test_a_batch_equals_a_loop():
    a, b, c = np.random.default_rng(3).normal(size=(3, 40, 3))
    assert np.allclose(bend.angle(a, b, c), [bend.angle(*row) for row in zip(a, b, c, strict=True)], atol=1e-15)
    assert np.allclose(bend.normal(a, b, c), [bend.normal(*row) for row in zip(a, b, c, strict=True)], atol=1e-15)
    assert bend.angle(a[:0], b[:0], c[:0]).shape == (0,)


def test_limbs_of_any_size_are_measured_alike():
    for size in (1e-9, 1e-3, 1e6):
        assert bend.angle([0, 0, 0], [size, 0, 0], [size, size, 0]) == pytest.approx(np.pi / 2)
        assert np.allclose(bend.normal([0, 0, 0], [size, 0, 0], [size, size, 0]), [0, 0, 1])


STRAIGHT = [0, 0, 0], [1, 0, 0], [3, 0, 0]


@pytest.mark.parametrize(
    "call, text",
    [
        (lambda: bend.normal(*STRAIGHT), "a, b, c lie on one line; expected a bent limb: bend it a little, or give the hinge axis instead"),
        (lambda: bend.normal([0, 0, 0], [1, 0, 0], [0.5, 0, 0]), "a, b, c lie on one line"),
        (lambda: bend.normal([[0, 0, 0]] * 2, [[1, 0, 0]] * 2, [[1, 1, 0], [2, 0, 0]]), r"a, b, c at row \(1,\) lie on one line"),
        (lambda: bend.angle([0, 0, 0], [0, 0, 0], [1, 0, 0]), "a and b are the same point; expected a bone with a length"),
        (lambda: bend.angle([0, 0, 0], [[1, 0, 0], [2, 0, 0]], [2, 0, 0]), r"b and c at row \(1,\) are the same point"),
        (lambda: bend.angle([0, 0], [1, 0, 0], [2, 0, 0]), r"a has shape \(2,\); expected \(..., 3\)"),
        (lambda: bend.angle(np.zeros((2, 3)), np.ones((3, 3)), [2, 0, 0]), r"batch shapes do not fit together: a \(2,\), b \(3,\), c \(\)"),
    ],
)
def test_errors_say_what_came_and_what_was_expected(call, text):
    with pytest.raises(ValueError, match=text):
        call()
