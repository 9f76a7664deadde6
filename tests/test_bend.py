"""Bend angle and normal: exact at both ends, right-handed, and what a straight limb is told."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from transforms3d.euler import euler2mat

from rigkit import bend, rotation
from tests.strategies import directions, numbers, turns, vectors


@pytest.mark.parametrize("angle", [0, 1e-12, 1e-8, 1e-4, 0.5, np.pi / 2, 3, np.pi - 1e-8, np.pi - 1e-12, np.pi])
def test_the_angle_keeps_its_digits_from_straight_to_folded(angle):
    c = [1 + 2 * np.cos(angle), 2 * np.sin(angle), 0]
    assert bend.angle([0, 0, 0], [1, 0, 0], c) == pytest.approx(angle, abs=1e-15, rel=1e-9)


@pytest.mark.source("Euclid")
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


@pytest.mark.source("transforms3d")
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


# ---------------------------------------------------------------- pre-bend


@given(vectors(), directions(), directions(), numbers(0.1, 0.9), numbers(0.2, 3), numbers(0.001, 3.1))
def test_a_prebend_has_the_angle_asked_for_and_keeps_the_ends_apart(a, line, towards, share, whole, angle):
    assume(np.linalg.norm(np.cross(line, towards)) > 1e-2)
    c, b = a + whole * line, a + share * whole * line
    moved = bend.prebend(a, b, c, towards, angle)
    assert bend.angle(a, moved, c) == pytest.approx(angle, abs=1e-9)
    assert abs(np.dot(moved - b, line)) < 1e-9 * max(1, np.linalg.norm(moved - b))
    assert np.dot(moved - b, towards) > 0


def test_two_degrees_at_the_elbow_of_a_straight_arm_by_hand():
    # isosceles: half the bend on either side, so the height is half the length times tan(1 degree)
    moved = bend.prebend([0, 0, 0], [0.3, 0, 0], [0.6, 0, 0], [0, 0, -1], np.radians(2))
    assert np.allclose(moved, [0.3, 0, -0.3 * np.tan(np.radians(1))], atol=1e-15)


def test_prebend_of_a_batch_equals_a_loop():
    rng = np.random.default_rng(8)
    a, c, towards = rng.normal(size=(3, 20, 3))
    b, angle = 0.6 * a + 0.4 * c, rng.uniform(0.1, 1, 20)
    loop = [bend.prebend(*row) for row in zip(a, b, c, towards, angle, strict=True)]
    assert np.allclose(bend.prebend(a, b, c, towards, angle), loop, atol=1e-14)


# ---------------------------------------------------------------- chains


def wobbly(rng, q, count=7, wobble=0.01, height=0.3):
    """An arc in a known plane (normal: z, turned by q), its inner points pushed off it; the ends stay."""
    t = np.linspace(0, 1, count)
    points = np.stack([t, height * np.sin(np.pi * t), wobble * rng.normal(size=count) * (t * (1 - t) > 0)], axis=-1)
    return rotation.rotate(q, points)


@given(turns())
def test_a_flat_chain_has_the_normal_of_its_plane_and_stays(q):
    points = wobbly(np.random.default_rng(1), q, wobble=0)
    assert np.allclose(bend.plane_normal(points), rotation.rotate(q, [0, 0, -1]), atol=1e-9)
    assert np.allclose(bend.flatten(points), points, atol=1e-9) and np.allclose(bend.off_plane(points), 0, atol=1e-9)


@given(turns(), st.integers(0, 2**32 - 1))
def test_flattening_keeps_both_ends_and_lands_on_one_plane(q, seed):
    points = wobbly(np.random.default_rng(seed), q)
    flat = bend.flatten(points)
    assert np.allclose(flat[[0, -1]], points[[0, -1]], atol=1e-12)
    assert np.linalg.svd(flat - flat[0])[1][2] < 1e-12
    assert np.allclose(bend.flatten(flat), flat, atol=1e-12)


@pytest.mark.parametrize("height", [0.3, 0.02])
def test_no_plane_through_both_ends_fits_better(height):
    points = wobbly(np.random.default_rng(3), rotation.from_axis_angle([1, 2, 3], 0.7), height=height)
    least = np.square(bend.off_plane(points)).sum()
    line = points[-1] - points[0]
    for turn in np.radians(np.arange(1, 180)):
        other = rotation.rotate(rotation.from_axis_angle(line, turn), bend.plane_normal(points))
        assert np.square((points - points[0]) @ other).sum() >= least - 1e-15


def test_the_best_plane_of_all_is_degrees_off_when_the_chain_is_nearly_straight():
    # the plane that is free to leave the ends fits better, and that is the mistake: recomputed here
    points = wobbly(np.random.default_rng(2), rotation.IDENTITY, wobble=0.01, height=0.01)
    free = np.linalg.svd(points - points.mean(axis=0))[2][2]
    assert np.degrees(np.arccos(abs(free @ bend.plane_normal(points)))) > 2


@given(turns(), st.integers(0, 2**32 - 1))
def test_joint_frames_run_along_the_bones_with_one_hinge(q, seed):
    points = bend.flatten(wobbly(np.random.default_rng(seed), q))
    hinge = bend.plane_normal(points)
    turns = bend.frames(points, hinge)
    m = rotation.to_matrix(turns)
    bones = np.diff(points, axis=0)
    assert np.allclose(m[:-1, :, 0], bones / np.linalg.norm(bones, axis=1, keepdims=True), atol=1e-9)
    assert np.allclose(m[:, :, 2], hinge, atol=1e-9) and np.allclose(turns[-1], turns[-2])
    assert bend.hinge_turns(turns).max() < 1e-8


def test_a_hinge_that_flips_in_the_middle_shows():
    points = wobbly(np.random.default_rng(2), rotation.IDENTITY, wobble=0)
    turns = bend.frames(points, [0, 0, 1])
    turns[3] = rotation.multiply(turns[3], [1, 0, 0, 0])
    assert np.allclose(np.degrees(bend.hinge_turns(turns)), [0, 0, 180, 180, 0, 0], atol=1e-6)


def test_a_batch_of_chains_equals_a_loop():
    rng = np.random.default_rng(9)
    chains = np.stack([wobbly(rng, rotation.from_vector(rng.normal(size=3))) for _ in range(6)])
    hinges = bend.plane_normal(chains)
    assert np.allclose(bend.flatten(chains), [bend.flatten(chain) for chain in chains], atol=1e-13)
    assert np.allclose(bend.frames(chains, hinges), [bend.frames(*row) for row in zip(chains, hinges, strict=True)], atol=1e-13)
    assert bend.hinge_turns(bend.frames(chains, hinges)).shape == (6, 6)


@pytest.mark.parametrize(
    "call, text",
    [
        (lambda: bend.prebend([0, 0, 0], [1, 0, 0], [2, 0, 0], [1, 0, 0], 0.1), "direction across the limb has length 0"),
        (
            lambda: bend.prebend([0, 0, 0], [3, 0, 0], [2, 0, 0], [0, 1, 0], 0.1),
            "b does not stand between a and c; expected its foot on the line within the limb",
        ),
        (
            lambda: bend.prebend([0, 0, 0], [1, 0, 0], [2, 0, 0], [0, 1, 0], 5),
            "angle is 5; expected radians between 0 and pi: 5 degrees are 0.0873",
        ),
        (lambda: bend.prebend([0, 0, 0], [1, 0, 0], [0, 0, 0], [0, 1, 0], 0.1), "a and c are the same point"),
        (
            lambda: bend.plane_normal([[0, 0, 0], [1, 0, 0], [2, 0, 0]]),
            "points lie on one line; expected a bent chain: bend it a little, or give a hinge axis",
        ),
        (lambda: bend.flatten([[0, 0, 0], [1, 1, 0], [0, 0, 0]]), "the first point and the last are the same point"),
        (
            lambda: bend.flatten([[0, 0, 0], [1, 1, 0]]),
            r"points has shape \(2, 3\); expected \(..., n, 3\) with n of 3 or more: the joints of a chain",
        ),
        (
            lambda: bend.plane_normal([[0, 0, 0], [1, 1, 0], [1, 0, 1], [1, -1, 0], [1, 0, -1], [2, 0, 0]]),
            "points bend all ways alike; expected one plane that fits better than others",
        ),
        (lambda: bend.frames([[0, 0, 0], [1, 0, 0]], [1, 0, 0]), r"hinge at row \(0,\) runs along the bone"),
        (lambda: bend.frames([[0, 0, 0]], [1, 0, 0]), "with n of 2 or more"),
        (lambda: bend.hinge_turns([0, 0, 0, 1]), r"rotations has shape \(4,\); expected \(..., n, 4\): a chain of joints"),
    ],
)
def test_errors_about_chains_say_what_was_expected(call, text):
    with pytest.raises(ValueError, match=text):
        call()
