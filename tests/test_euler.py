"""All twenty-four orders of three angles, both ways, against SciPy and transforms3d, and at gimbal lock."""

import warnings
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from transforms3d.euler import euler2mat, mat2euler

from rigkit import rotation
from tests.strategies import apart, random_turns, turns, vectors

INTRINSIC = ["".join(o) for o in product("XYZ", repeat=3) if o[0] != o[1] != o[2]]
ORDERS = INTRINSIC + [order.lower() for order in INTRINSIC]
RNG = np.random.default_rng(24)
ANGLES = RNG.uniform(-np.pi, np.pi, (100, 3))
TURNS = random_turns(RNG, 100)


def repeats(order):
    return order[0] == order[2]


def locked(order, count=40):
    """Angles with the middle one at either end of its range."""
    angles = RNG.uniform(-3, 3, (count, 3))
    angles[:, 1] = np.resize([0, np.pi] if repeats(order) else [-np.pi / 2, np.pi / 2], count)
    return angles


def test_there_are_twenty_four_orders():
    assert len(set(ORDERS)) == 24


@pytest.mark.source("SciPy")
@pytest.mark.parametrize("order", ORDERS)
def test_from_euler_as_in_scipy(order):
    assert apart(rotation.from_euler(order, ANGLES), Rotation.from_euler(order, ANGLES).as_quat()) < 1e-14


@pytest.mark.source("SciPy")
@pytest.mark.parametrize("order", ORDERS)
def test_to_euler_as_in_scipy(order):
    assert np.allclose(rotation.to_euler(order, TURNS), Rotation.from_quat(TURNS).as_euler(order), atol=1e-10)


@pytest.mark.source("transforms3d")
@pytest.mark.parametrize("order", ORDERS)
def test_both_ways_as_in_transforms3d(order):
    # transforms3d writes 's' for static (extrinsic) and 'r' for rotating (intrinsic) axes
    axes = ("s" if order.islower() else "r") + order.lower()
    for angles in ANGLES[:20]:
        theirs = euler2mat(*angles, axes)
        assert np.allclose(rotation.to_matrix(rotation.from_euler(order, angles)), theirs, atol=1e-14)
        back = rotation.to_euler(order, rotation.from_matrix(theirs))
        assert np.allclose(euler2mat(*back, axes), euler2mat(*mat2euler(theirs, axes), axes), atol=1e-12)


@pytest.mark.parametrize("order", ORDERS)
def test_three_single_turns_make_the_same_turn(order):
    about = {"x": [1, 0, 0], "y": [0, 1, 0], "z": [0, 0, 1]}
    a, b, c = (rotation.from_axis_angle(about[letter], ANGLES[:, i]) for i, letter in enumerate(order.lower()))
    one_by_one = rotation.multiply(rotation.multiply(a, b), c) if order.isupper() else rotation.multiply(c, rotation.multiply(b, a))
    assert apart(rotation.from_euler(order, ANGLES), one_by_one) < 1e-14


@given(st.sampled_from(INTRINSIC), vectors())
def test_moving_axes_are_fixed_axes_backwards(order, angles):
    assert apart(rotation.from_euler(order, angles), rotation.from_euler(order[::-1].lower(), angles[::-1])) < 1e-14


@given(st.sampled_from(ORDERS), turns())
def test_angles_and_back_are_the_same_turn(order, q):
    angles = rotation.to_euler(order, q)
    low, high = (0, np.pi) if repeats(order) else (-np.pi / 2, np.pi / 2)
    assert low - 1e-12 <= angles[1] <= high + 1e-12 and (np.abs(angles) <= np.pi + 1e-12).all()
    assert apart(rotation.from_euler(order, angles), q) < 5e-9
    assert np.allclose(rotation.to_euler(order, -q), angles, atol=1e-12) or rotation.gimbal(order, q) < 1e-6 or np.abs(angles).max() > 3.14


@pytest.mark.source("SciPy")
@pytest.mark.parametrize("order", ORDERS)
def test_locked_turns_have_a_last_angle_of_zero_as_in_scipy(order):
    q = rotation.from_euler(order, locked(order))
    angles = rotation.to_euler(order, q)
    assert (angles[:, 2] == 0).all()
    assert apart(rotation.from_euler(order, angles), q) < 1e-9
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # SciPy warns of the lock that is asked for here
        theirs = Rotation.from_quat(q).as_euler(order)
    assert np.allclose(np.exp(1j * angles), np.exp(1j * theirs), atol=1e-7)


@pytest.mark.parametrize("order", ORDERS)
def test_gimbal_tells_the_distance_to_the_lock(order):
    assert (rotation.gimbal(order, rotation.from_euler(order, locked(order))) < 1e-9).all()
    middle = ANGLES[:, 1]
    expected = np.arcsin(np.abs(np.sin(middle))) if repeats(order) else np.arcsin(np.abs(np.cos(middle)))
    assert np.allclose(rotation.gimbal(order, rotation.from_euler(order, ANGLES)), expected, atol=1e-12)


def test_near_the_lock_a_small_turn_needs_large_angles():
    near = rotation.from_euler("XYZ", [0, np.pi / 2 - 1e-4, 0])
    nudged = rotation.multiply(rotation.from_axis_angle([0, 0, 1], 1e-4), near)
    assert rotation.angle(near, nudged) < 1.1e-4
    assert np.abs(rotation.to_euler("XYZ", nudged) - rotation.to_euler("XYZ", near)).max() > np.radians(40)


@pytest.mark.parametrize("order", ["XYZ", "zxz", "ZYX"])
def test_a_batch_equals_a_loop(order):
    assert np.allclose(rotation.from_euler(order, ANGLES), [rotation.from_euler(order, a) for a in ANGLES], atol=0)
    assert np.allclose(rotation.to_euler(order, TURNS), [rotation.to_euler(order, q) for q in TURNS], atol=0)
    assert rotation.to_euler(order, TURNS.reshape(5, 20, 4)).shape == (5, 20, 3)
    assert rotation.from_euler(order, ANGLES[:0]).shape == (0, 4)


@pytest.mark.parametrize("order", ["XXY", "XYY", "xyZ", "XY", "ABC", "", 3, None, "XYZX"])
def test_an_order_that_is_none_is_told(order):
    text = r"order is .*; expected three of X, Y, Z \(moving axes\) or x, y, z \(fixed axes\), no letter twice in a row"
    with pytest.raises(ValueError, match=text):
        rotation.from_euler(order, [0, 0, 0])
    with pytest.raises(ValueError, match="no letter twice in a row"):
        rotation.to_euler(order, [0, 0, 0, 1])


def test_angles_of_the_wrong_shape_are_told():
    with pytest.raises(ValueError, match=r"angles has shape \(2,\); expected \(..., 3\)"):
        rotation.from_euler("XYZ", [1, 2])
