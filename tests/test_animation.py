"""Animations of joints: sampled as the open standard says, played by a character."""

import numpy as np
import pytest
from scipy.interpolate import CubicHermiteSpline

import rigkit as rk
from rigkit.animation import Animation
from rigkit.motion import Keys

SKELETON = rk.Skeleton(["root", "tip"], [-1, 0], [[0, 1, 0], [1, 0, 0]])
QUARTER = [0, 0, np.sqrt(0.5), np.sqrt(0.5)]


def played(tracks, times, **more):
    return rk.Character("thing", SKELETON, (), animations=(Animation("one", tracks),), **more).animate("one", times)


@pytest.mark.source("glTF 2.0")
def test_values_replace_those_of_rest_and_the_rest_stays():
    world = played({("root", "rotation"): Keys([0, 2], [[0, 0, 0, 1], QUARTER])}, [0, 2, 9])
    np.testing.assert_allclose(world.positions[:, 1], [[1, 1, 0], [0, 2, 0], [0, 2, 0]], atol=1e-12)
    assert (world.positions[:, 0] == [0, 1, 0]).all()


@pytest.mark.source("glTF 2.0")
def test_scale_reaches_what_hangs_below():
    world = played({("root", "scale"): Keys([0, 1], [[1, 1, 1], [3, 1, 1]])}, 0.5)
    np.testing.assert_allclose(world.positions[1], [2, 1, 0])


def test_scales_of_rest_hold_where_an_animation_says_none():
    world = played({("tip", "translation"): Keys([0], [[2, 0, 0]])}, 0.0, scales=[[0.5, 1, 1], [1, 1, 1]])
    np.testing.assert_allclose(world.positions[1], [1, 1, 0])


# glTF 2.0, Appendix C, "Cubic Spline Interpolation": v(t) with the tangents of both ends times the span; SciPy's Hermite spline
@pytest.mark.source("glTF 2.0", "SciPy")
def test_turns_with_given_tangents_are_interpolated_as_they_came():
    rng = np.random.default_rng(0)
    values = rk.rotation.normalise(rng.normal(size=(4, 4)))
    assert (np.einsum("ki,ki->k", values[1:], values[:-1]) < 0).any()  # signs that another kind of track would flip
    ins, outs, times = rng.normal(size=(4, 4)), rng.normal(size=(4, 4)), np.array([0, 0.5, 2, 3])
    keys = Keys(times, values, "smooth", ins, outs)
    for k in range(3):
        spline = CubicHermiteSpline(times[k : k + 2], values[k : k + 2], np.array([outs[k], ins[k + 1]]))
        at = np.linspace(times[k], times[k + 1], 7)
        expected = spline(at) / np.linalg.norm(spline(at), axis=1, keepdims=True)
        np.testing.assert_allclose(keys.at(at), expected, atol=1e-12)


@pytest.mark.parametrize("tracks,told", [
    ({("root", "size"): Keys([0], [[1, 1, 1]])}, "'size'.*expected Keys of"),
    ({("root", "rotation"): Keys([0], [[1, 1, 1]])}, "rotation \\(K, 4\\)"),
    ({("toe", "rotation"): Keys([0], [QUARTER])}, "no joint is called 'toe'"),
])
def test_an_unsound_animation_is_refused(tracks, told):
    with pytest.raises(ValueError, match=told):
        played(tracks, 0.0)


def test_an_unknown_animation_is_told_with_those_there_are():
    with pytest.raises(ValueError, match="no animation is called 'run'; thing has: none"):
        rk.Character("thing", SKELETON, ()).animation("run")
    with pytest.raises(ValueError, match="two animations called 'one'"):
        rk.Character("thing", SKELETON, (), animations=(Animation("one", {}),) * 2)


def test_scales_of_another_shape_are_refused():
    with pytest.raises(ValueError, match=r"expected \(2, 3\)"):
        rk.Character("thing", SKELETON, (), scales=[[1, 1, 1]])
